"""Curves over wavelength: their look, their gaps, the band of their draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.pictures.drawing import DASHES, SOURCES
from spectralbench.pictures.legends import legend
from spectralbench.pictures.scales import logarithmic

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

_FILLED = 0.002  # of a curve's highest value; below that, a filling would not be seen
_FADED = 0.16
_DECADES = 6  # that a logarithmic axis shows at most

INTERVAL = "band: 95 % interval"
"""What the band around a curve is called."""


class Curve(NamedTuple):
    """One curve: a name, points, how it looks, and the ends of its interval where it has one."""

    name: str
    grid: NDArray[np.float64]
    values: NDArray[np.float64]
    style: Mapping[str, Any]
    low: NDArray[np.float64] | None = None
    high: NDArray[np.float64] | None = None


def look(place: int) -> dict[str, Any]:
    """Colour and dashes of what stands at a place.

    Parameters
    ----------
    place : int
        Counts from 0.

    Returns
    -------
    dict
        For a line of matplotlib.

    Examples
    --------
    >>> look(0)["linestyle"], look(0)["color"] == look(len(SOURCES))["color"]
    ('-', True)
    """
    return {"color": SOURCES[place % len(SOURCES)], "linestyle": DASHES[place % len(DASHES)]}


GAP = "gap: not valid"


def curves(
    ax: Axes,
    rows: Sequence[Curve],
    title: str,
    *,
    fill: bool = False,
    crowd: str = "",
) -> None:
    """Draw curves, with a mark where one has a gap, and their names above.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Where to.
    rows : sequence of Curve
        What is drawn.
    title : str
        What the axes show.
    fill : bool
        Fill the area below each curve.
    crowd : str
        One name for all of them, where they are too many to have names.

    Examples
    --------
    >>> from spectralbench.pictures.drawing import drawing
    >>> with drawing(2.0) as figure:
    ...     row = Curve("LED", np.array([365.0, 366.0]), np.array([1.0, np.nan]), look(0))
    ...     curves(figure.subplots(), [row], "Light")
    ...     [text.get_text() for text in figure.axes[0].get_legend().get_texts()]
    ['LED', 'gap: not valid']
    """
    entries: list[tuple[Artist, str]] = []
    marks: list[Artist] = []
    bands: list[Artist] = []
    for row in rows:
        (line,) = ax.plot(row.grid, row.values, zorder=3, **row.style)
        entries.append((line, row.name))
        colour = row.style["color"]
        if row.low is not None and row.high is not None:
            shade = {"color": colour, "alpha": 2 * _FADED, "linewidth": 0, "zorder": 2.5}
            bands.append(ax.fill_between(row.grid, row.low, row.high, **shade))
        if fill:
            seen = row.values > _FILLED * np.nanmax([0, *row.values])
            ax.fill_between(row.grid, row.values, where=seen, color=colour, alpha=_FADED, linewidth=0)
        for start, end in () if crowd else gaps(row.values):
            height = np.nanmax([0, *row.values[max(start - 1, 0) : end + 1]])
            marks += ax.plot(row.grid[(start + end) // 2], height, "x", color=colour, mew=2, zorder=4)
    if crowd:
        entries = [(entries[0][0], crowd)]
    entries += [(band, INTERVAL) for band in bands[:1]] + [(mark, GAP) for mark in marks[:1]]
    legend(ax, title, entries)


def gaps(row: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Stretches without a valid sample.

    Parameters
    ----------
    row : numpy.ndarray (wavelength,)
        Values, NaN where they are not valid.

    Returns
    -------
    list of tuple of int
        From the first sample to one past the last.

    Examples
    --------
    >>> gaps(np.array([np.nan, 1.0, np.nan, np.nan]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(np.isnan(row), prepend=False, append=False))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def from_lowest(ax: Axes, rows: Sequence[Curve], log: bool, room: float = 1.06) -> None:
    """Let the upright axis begin at 0, or make it logarithmic, as far down as something was measured.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Whose axis it is.
    rows : sequence of Curve
        What is drawn there.
    log : bool
        Logarithmic.
    room : float
        Times the highest value that the axis reaches.

    Examples
    --------
    >>> from spectralbench.pictures.drawing import drawing
    >>> with drawing(2.0) as figure:
    ...     row = Curve("LED", np.array([365.0, 366.0]), np.array([10.0, 1e-12]), look(0))
    ...     from_lowest(figure.subplots(), [row], log=True)
    ...     [f"{float(end):.2g}" for end in figure.axes[0].get_ylim()]
    ['8.3e-06', '27']
    """
    values = np.concatenate([np.empty(0), *(row.values for row in rows)])
    positive = values[np.isfinite(values) & (values > 0)]
    if not log or not positive.size:
        ax.set_ylim(0, room * positive.max(initial=0.0) or None)
        return
    lowest = max(positive.min(), positive.max() / 10**_DECADES)
    logarithmic(ax, "y", lowest / 1.2, 1.2 * positive.max() * (positive.max() / lowest) ** (room - 1))
