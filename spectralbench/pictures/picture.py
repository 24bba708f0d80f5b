"""A figure of matplotlib that keeps our style, says what it shows, and shows itself in a notebook.

Only what draws imports this module, and late, because it imports matplotlib.
"""

from __future__ import annotations

from typing import Any

from matplotlib.backend_bases import RendererBase
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from spectralbench.pictures.drawing import as_png, own_style

_PIXELS = 96  # of a browser, to the inch


class Picture(Figure):
    """A figure that pyplot knows nothing of.

    matplotlib takes part of its settings when it draws, and a notebook shows a figure only if pyplot
    made it. Both are put right here, and nowhere else.

    Attributes
    ----------
    heading, words : str
        What the picture is, and what it shows, for those who do not see it.

    Examples
    --------
    >>> picture = Picture(figsize=(2.0, 1.0))
    >>> shown, about = picture._repr_mimebundle_()
    >>> list(shown), about["image/png"]["width"]
    (['image/png'], 192)
    """

    heading = ""
    words = ""

    def draw(self, renderer: RendererBase) -> None:
        """Draw in our own style.

        Before it writes a file, matplotlib draws the whole picture once for nothing but its layout, which
        takes a quarter of the time: there, only the layout is made.

        Parameters
        ----------
        renderer : matplotlib.backend_bases.RendererBase
            Of the file or window.
        """
        engine = self.get_layout_engine()
        with own_style():
            if self.axes and isinstance(engine, ConstrainedLayoutEngine) and self.canvas.is_saving():
                engine.execute(self)
            else:
                super().draw(renderer)

    def savefig(self, *arguments: Any, **options: Any) -> None:
        """Save as matplotlib does, in our own style.

        Parameters
        ----------
        *arguments, **options
            Those of `matplotlib.figure.Figure.savefig`: the file, ``format``, ``dpi``, ...
        """
        with own_style():
            super().savefig(*arguments, **options)

    def _repr_mimebundle_(
        self, include: object = None, exclude: object = None
    ) -> tuple[dict[str, bytes], dict[str, dict[str, Any]]]:
        """The picture for a notebook, on white, with its words instead of it."""
        width, height = (round(_PIXELS * float(inches)) for inches in self.get_size_inches())
        about = {"width": width, "height": height, "alt": f"{self.heading}. {self.words}"}
        return {"image/png": as_png(self)}, {"image/png": about}
