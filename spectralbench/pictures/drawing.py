"""How pictures are drawn: colours, dashes, signs, style, SVG and PNG.

This is the one place for all of that. matplotlib is imported late and leaves no setting behind.
"""

from __future__ import annotations

import io
import re
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from typing import TYPE_CHECKING, Any

from spectralbench.comparison import MET, NO_LIMIT, NOT_KNOWN, NOT_MET
from spectralbench.errors import RangeError
from spectralbench.units import measured

if TYPE_CHECKING:
    from spectralbench.pictures.picture import Picture

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

MARKS = {MET: "✓", NOT_MET: "✗", NOT_KNOWN: "?", NO_LIMIT: "–"}
"""Signs of verdicts, so that none is told by its colour alone."""

WIDE, NARROW = 234.0, 112.0
"""Widths of a picture for a page and for a telephone [mm]."""

PNG_DPI = 150
"""Pixels of a PNG to the inch."""

_LEAST, _MOST = 60.0, 600.0  # mm
_INCH = 25.4  # mm
_STYLE = {
    "axes.edgecolor": LIGHT["ink"],
    "axes.facecolor": "none",
    "axes.grid": True,
    "axes.labelcolor": LIGHT["ink"],
    "axes.linewidth": 0.7,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "figure.facecolor": "white",
    "font.family": "sans-serif",
    "font.size": 10,
    "grid.color": LIGHT["grid"],
    "grid.linewidth": 0.6,
    "legend.borderaxespad": 0.2,
    "legend.frameon": False,
    "legend.handlelength": 3.2,
    "lines.linewidth": 1.5,
    "savefig.dpi": 200,
    "svg.fonttype": "none",
    "svg.hashsalt": "spectralbench",
    "text.color": LIGHT["ink"],
    "text.parse_math": False,
    "xtick.color": LIGHT["ink"],
    "ytick.color": LIGHT["ink"],
}


@contextmanager
def own_style() -> Iterator[None]:
    """Draw in our own style, whatever the user's settings are; they are back afterwards.

    Examples
    --------
    >>> import matplotlib
    >>> with own_style():
    ...     matplotlib.rcParams["svg.fonttype"]
    'none'
    """
    from matplotlib import rcParams, style

    # What the user says of PDF and PostScript stays: matplotlib reads it while it draws and again at the end.
    files: dict[str, Any] = {key: rcParams[key] for key in rcParams if key.startswith(("pdf.", "ps."))}
    with style.context(["default", _STYLE, files]), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # who shows an SVG has its own
        yield


@contextmanager
def drawing(height: float, width: float | str = WIDE) -> Iterator[Picture]:
    """Give an empty picture, to be filled inside the ``with`` block.

    Parameters
    ----------
    height : float
        Height of the picture [inch].
    width : float or str
        Its width [mm].

    Yields
    ------
    Picture
        A figure of matplotlib that shows itself in a notebook, and that pyplot knows nothing of.

    Raises
    ------
    RangeError
        If the width is below 60 mm or above 600 mm.
    UnitsError
        If the width is no length.

    Examples
    --------
    >>> with drawing(2.0, width="85 mm") as figure:
    ...     [round(float(inches), 2) for inches in figure.get_size_inches()]
    [3.35, 2.0]
    """
    from spectralbench.pictures.picture import Picture

    with own_style():
        yield Picture(figsize=(inches(width), height), layout="constrained")


def inches(width: float | str) -> float:
    """Read the width of a picture.

    Parameters
    ----------
    width : float or str
        Width [mm].

    Returns
    -------
    float
        The width [inch].

    Raises
    ------
    RangeError
        If the width is below 60 mm or above 600 mm.
    UnitsError
        If the width is no length.

    Examples
    --------
    >>> inches("12.7 cm")
    5.0
    """
    wide = measured(width, "mm").value
    if not _LEAST <= wide <= _MOST:
        raise RangeError(f"a picture is {_LEAST:g} mm to {_MOST:g} mm wide, not {wide:g} mm")
    return wide / _INCH


def is_narrow(width: float | str) -> bool:
    """Whether panels stand below each other instead of side by side.

    Parameters
    ----------
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    bool
        Whether it is closer to a telephone's than to a page's.

    Examples
    --------
    >>> is_narrow("85 mm"), is_narrow(WIDE)
    (True, False)
    """
    return inches(width) * _INCH < (WIDE + NARROW) / 2


def as_svg(picture: Picture, name: str) -> str:
    """Write a picture as SVG that may stand in a page: without a ground, with its words as text.

    Parameters
    ----------
    picture : Picture
        From `drawing`, or from one of the functions of `spectralbench.pictures`.
    name : str
        Put before every id, so that a page may hold several pictures.

    Returns
    -------
    str
        The element ``svg``, the same for the same figure.

    Examples
    --------
    >>> with drawing(2.0) as figure:
    ...     as_svg(figure, "empty")[:56]
    '<svg role="img" aria-labelledby="empty-title empty-text"'
    """
    buffer = io.BytesIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    picture.savefig(buffer, format="svg", facecolor="none", metadata=nothing)
    svg = buffer.getvalue().decode()
    svg = svg[svg.index("<svg") :]  # a page has its own prologue
    svg = re.sub(
        r"<defs>\s*<style.*?</style>\s*</defs>", "", svg, count=1, flags=re.DOTALL
    )  # of the whole page
    met: Counter[str] = Counter()
    svg = re.sub(r"<[^>]*>", lambda tag: _plainer(tag[0], name, met), svg)
    told = f'<title id="{name}-title">{escape(picture.heading)}</title>'
    told += f'<desc id="{name}-text">{escape(picture.words)}</desc>'
    opening = f'<svg role="img" aria-labelledby="{name}-title {name}-text" style="stroke-linejoin: round"'
    return re.sub(r"<svg([^>]*)>", lambda tag: f"{opening}{tag[1]}>{told}", svg, count=1)


def as_png(picture: Picture) -> bytes:
    """Write a picture as PNG on white.

    Parameters
    ----------
    picture : Picture
        From `drawing`, or from one of the functions of `spectralbench.pictures`.

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
    picture.savefig(buffer, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return buffer.getvalue()


def _plainer(tag: str, name: str, met: Counter[str]) -> str:
    """A tag with ids of its own, also where several panels hold a limit, and paths to a tenth of a point."""
    tag = re.sub(r'(url\(#|href="#)', rf"\g<1>{name}-", tag)
    tag = re.sub(r' id="([^"]*)"', lambda found: f' id="{name}-{_unlike(found[1], met)}"', tag)
    return re.sub(r' d="[^"]*"', lambda path: re.sub(r"\d+\.\d+", _shorter, path[0]), tag)


def _unlike(identity: str, met: Counter[str]) -> str:
    """An id with its number from the second time on."""
    met[identity] += 1
    return f"{identity}-{met[identity]}" if met[identity] > 1 else identity


def _shorter(number: re.Match[str]) -> str:
    return f"{float(number[0]):.1f}".rstrip("0").rstrip(".")
