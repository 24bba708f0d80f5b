"""How pictures are drawn: colours, dashes, style, legends above the axes, SVG and PNG.

matplotlib is imported late and leaves no setting behind.
"""

from __future__ import annotations

import io
import re
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = {
    "ink": ("#1d2430", "#e6e9ef"),
    "grid": ("#dfe2e8", "#343b47"),
    "band": ("#f1ead3", "#3a3423"),
    "limit": ("#5b5140", "#dcd3bb"),
    "source-1": ("#6276ff", "#8976ff"),
    "source-2": ("#768900", "#ebc400"),
    "source-3": ("#14624e", "#3bb1b1"),
    "source-4": ("#c46289", "#ff2789"),
    "source-5": ("#4e009d", "#c4ffc4"),
    "source-6": ("#3b0000", "#768900"),
}
"""Colours of the pictures by name, on a light page and on a dark one.

Those of the sources lie far apart for normal, red-, green- and blue-weak colour vision.
"""

LIGHT = {name: light for name, (light, _) in COLOURS.items()}
"""Those of a light page, in which pictures are drawn; a page may put the others in their place."""

SOURCES = [colour for name, colour in LIGHT.items() if name.startswith("source")]
"""Colours of sources, in turn."""

DASHES: list[Any] = ["-", (0, (6, 1.5)), (0, (2, 1)), (0, (7, 1.5, 2, 1.5)), (0, (4, 1, 1, 1, 1, 1))]
"""Dash patterns, in turn; one fewer than colours, so that a pair comes back late."""

_WIDTHS = {False: 9.2, True: 4.4}  # inches, for a page and for a telephone
_NAME = 26  # letters of a name in one line
_LETTERS = {False: 104, True: 46}  # letters that fit into so much, roughly
_STYLE = {
    "axes.edgecolor": LIGHT["ink"],
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.labelcolor": LIGHT["ink"],
    "axes.linewidth": 0.7,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "figure.facecolor": "none",
    "font.family": "sans-serif",
    "font.size": 10,
    "grid.color": LIGHT["grid"],
    "grid.linewidth": 0.6,
    "legend.borderaxespad": 0.2,
    "legend.frameon": False,
    "legend.handlelength": 3.2,
    "lines.linewidth": 1.5,
    "svg.fonttype": "none",
    "svg.hashsalt": "spectralbench",
    "text.color": LIGHT["ink"],
    "text.parse_math": False,
    "xtick.color": LIGHT["ink"],
    "ytick.color": LIGHT["ink"],
}


@contextmanager
def drawing(height: float, *, narrow: bool = False) -> Iterator[Figure]:
    """Give a figure in our own style, whatever the user's settings are; they are back afterwards.

    Parameters
    ----------
    height : float
        Height of the figure [inch].
    narrow : bool
        For a narrow page.

    Yields
    ------
    matplotlib.figure.Figure
        An empty figure, to be drawn and written inside the ``with`` block.

    Examples
    --------
    >>> with drawing(2.0) as figure:
    ...     float(figure.get_figheight())
    2.0
    """
    from matplotlib import style
    from matplotlib.figure import Figure

    with style.context(["default", _STYLE]), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # who shows an SVG has its own
        yield Figure(figsize=(_WIDTHS[narrow], height), layout="constrained")


def legend(ax: Axes, title: str, entries: Sequence[tuple[Artist, str]], *, narrow: bool = False) -> None:
    """Put title and names above the axes, where they cover nothing.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Where to.
    title : str
        What the axes show.
    entries : sequence of (artist, str)
        What is drawn, and what it is called.
    narrow : bool
        For a narrow page.

    Examples
    --------
    >>> with drawing(2.0) as figure:
    ...     (line,) = figure.subplots().plot([1, 2])
    ...     legend(figure.axes[0], "Light", [(line, "LED 405")])
    ...     figure.axes[0].get_legend().get_title().get_text()
    'Light'
    """
    names = [in_lines(name) for _, name in entries]
    made = ax.legend(
        [artist for artist, _ in entries],
        ["name"] * len(names),
        title=title,
        title_fontproperties={"weight": "bold", "size": 11},
        alignment="left",
        loc="lower left",
        bbox_to_anchor=(0, 1),
        ncols=_columns(names, narrow),
    )
    for text, name in zip(made.get_texts(), names, strict=True):
        text.set_text(name)  # given as a label, a name with _ in front would be left out


def legend_lines(names: Sequence[str], *, narrow: bool = False) -> int:
    """Count the lines of text that a legend needs.

    Parameters
    ----------
    names : sequence of str
        What is drawn.
    narrow : bool
        For a narrow page.

    Returns
    -------
    int
        The number of lines, without the title.

    Examples
    --------
    >>> legend_lines(["arc", "LED 365", "LED 405"]), legend_lines(["a lamp with a name that is long"] * 4)
    (1, 4)
    """
    wrapped = [in_lines(name) for name in names]
    deepest = max((name.count("\n") + 1 for name in wrapped), default=0)
    return -(-len(wrapped) // _columns(wrapped, narrow)) * deepest


def in_lines(name: str) -> str:
    """Break a name into lines that fit beside a picture.

    Parameters
    ----------
    name : str
        Any name.

    Returns
    -------
    str
        The name with line breaks.

    Examples
    --------
    >>> in_lines("an LED with a lens and a light guide").splitlines()
    ['an LED with a lens and a', 'light guide']
    """
    return textwrap.fill(name, _NAME)


def _columns(names: Sequence[str], narrow: bool) -> int:
    longest = max((len(line) for name in names for line in name.split("\n")), default=0)
    return max(1, _LETTERS[narrow] // (longest + 8))


def as_svg(figure: Figure, name: str, title: str, text: str) -> str:
    """Write a figure as SVG that may stand in a page.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From `drawing`, still inside its block.
    name : str
        Put before every id, so that a page may hold several pictures.
    title, text : str
        What the picture is, and what it shows, for those who do not see it.

    Returns
    -------
    str
        The element ``svg``, the same for the same figure.

    Examples
    --------
    >>> with drawing(2.0) as figure:
    ...     as_svg(figure, "empty", "Nothing", "Nothing at all.")[:56]
    '<svg role="img" aria-labelledby="empty-title empty-text"'
    """
    buffer = io.BytesIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    figure.savefig(buffer, format="svg", metadata=nothing)
    svg = buffer.getvalue().decode()
    svg = svg[svg.index("<svg") :]  # a page has its own prologue
    svg = re.sub(
        r"<defs>\s*<style.*?</style>\s*</defs>", "", svg, count=1, flags=re.DOTALL
    )  # of the whole page
    svg = re.sub(r"<[^>]*>", lambda tag: _plainer(tag[0], name), svg)
    told = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-text">{escape(text)}</desc>'
    opening = f'<svg role="img" aria-labelledby="{name}-title {name}-text" style="stroke-linejoin: round"'
    return re.sub(r"<svg([^>]*)>", lambda tag: f"{opening}{tag[1]}>{told}", svg, count=1)


def as_png(figure: Figure) -> bytes:
    """Write a figure as PNG on white.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From `drawing`, still inside its block.

    Returns
    -------
    bytes
        The picture, the same for the same figure.

    Examples
    --------
    >>> with drawing(2.0) as figure:
    ...     as_png(figure)[1:4]
    b'PNG'
    """
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=150, facecolor="white", metadata={"Software": None})
    return buffer.getvalue()


def _plainer(tag: str, name: str) -> str:
    """A tag with ids of its own, and paths to a tenth of a point."""
    tag = re.sub(r'( id="|url\(#|href="#)', rf"\g<1>{name}-", tag)
    return re.sub(r' d="[^"]*"', lambda path: re.sub(r"\d+\.\d+", _shorter, path[0]), tag)


def _shorter(number: re.Match[str]) -> str:
    return f"{float(number[0]):.1f}".rstrip("0").rstrip(".")
