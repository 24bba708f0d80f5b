"""Names and titles of pictures, broken where they would not fit."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from spectralbench.pictures.drawing import WIDE, inches

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

_NAME = 26  # letters of a name in one line
_TICKS = 7  # letters that the numbers of an axis take
_SAMPLE, _GAP = 8, 3  # letters that a line of a legend takes in front of its name, and between columns
_TITLE = 20  # letters that a line of a title has at least


def legend(ax: Axes, title: str, entries: Sequence[tuple[Artist, str]], beside: int = _TICKS) -> None:
    """Put title and names above the axes, where they cover nothing.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Where to.
    title : str
        What the axes show.
    entries : sequence of (artist, str)
        What is drawn, and what it is called.
    beside : int
        Letters of the labels at the left.

    Examples
    --------
    >>> from spectralbench.pictures.drawing import drawing
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
        title=in_width(ax, title, beside),
        title_fontproperties={"weight": "bold", "size": 11},
        alignment="left",
        loc="lower left",
        bbox_to_anchor=(0, 1),
        ncols=_columns(names, _beside(ax)),
    )
    for text, name in zip(made.get_texts(), names, strict=True):
        text.set_text(name)  # given as a label, a name with _ in front would be left out


def in_width(ax: Axes, text: str, beside: int = _TICKS) -> str:
    """Break a text into lines that fit into a picture, or into its column of several.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Above or below which it will stand.
    text : str
        Any text.
    beside : int
        Letters of the labels at the left.

    Returns
    -------
    str
        The text with line breaks.

    Examples
    --------
    >>> from spectralbench.pictures.drawing import drawing
    >>> with drawing(2.0, width=85) as figure:
    ...     in_width(figure.subplots(), "depth below the front of the bond line").splitlines()
    ['depth below the front of', 'the bond line']
    """
    return textwrap.fill(text, max(_TITLE, round(0.8 * (_beside(ax) + _TICKS - beside))))


def _beside(ax: Axes) -> int:
    """Letters that fit into the column of some axes."""
    grid = ax.get_gridspec()
    return _letters(ax.figure.bbox.width / ax.figure.dpi / (grid.ncols if grid else 1))


def legend_lines(names: Sequence[str], width: float | str = WIDE) -> int:
    """Count the lines of text that a legend needs.

    Parameters
    ----------
    names : sequence of str
        What is drawn.
    width : float or str
        Width of the picture [mm].

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
    return -(-len(wrapped) // _columns(wrapped, _letters(inches(width)))) * deepest


def in_lines(name: str, letters: int = _NAME) -> str:
    """Break a name into lines that fit beside a picture.

    Parameters
    ----------
    name : str
        Any name.
    letters : int
        Of a line.

    Returns
    -------
    str
        The name with line breaks.

    Examples
    --------
    >>> in_lines("an LED with a lens and a light guide").splitlines()
    ['an LED with a lens and a', 'light guide']
    """
    return textwrap.fill(name, letters)


def _letters(width: float) -> int:
    """Letters that fit into so many inches beside the labels of an axis, roughly."""
    return max(1, round(12 * width - _TICKS))


def _columns(names: Sequence[str], letters: int) -> int:
    longest = max((len(line) for name in names for line in name.split("\n")), default=0)
    return max(1, (letters + _GAP) // (longest + _SAMPLE + _GAP))
