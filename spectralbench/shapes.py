"""The shape of a line: its peak by a local parabola, its half-maximum crossings by straight lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def peak_and_crossings(grid: NDArray[np.float64], rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Find the peak and the wavelengths of half maximum of many spectra.

    Parameters
    ----------
    grid : numpy.ndarray (wavelength,)
        Ascending wavelengths [nm].
    rows : numpy.ndarray (row, wavelength)
        Spectra [any unit]; at least three wavelengths.

    Returns
    -------
    numpy.ndarray (3, row)
        Peak, left and right crossing [nm]; NaN where the row has none, or is not finite.

    Examples
    --------
    >>> peak_and_crossings(np.array([1.0, 2.0, 4.0]), np.array([[0.0, 4.0, 0.0]]))[:, 0].tolist()[1:]
    [1.5, 3.0]
    """
    count, size = rows.shape
    every = np.arange(count)
    top = rows.argmax(axis=1)  # NaN counts as the highest: such a row has no known peak
    maximum = rows[every, top]
    half = maximum[:, None] / 2

    inner = np.clip(top, 1, size - 2)
    x0, x1, x2 = grid[inner - 1], grid[inner], grid[inner + 1]
    y0, y1, y2 = rows[every, inner - 1], rows[every, inner], rows[every, inner + 1]
    left_slope, right_slope = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = right_slope - left_slope
    with np.errstate(divide="ignore", invalid="ignore"):
        vertex = (x0 + x1) / 2 - left_slope * (x2 - x0) / (2 * bend)
    curved = (top == inner) & (bend < 0)
    peak = np.where(curved, np.clip(vertex, x0, x2), grid[top])

    below = rows <= half
    steps = np.arange(size)
    low, high = below & (steps < top[:, None]), below & (steps > top[:, None])
    before, after = size - 1 - low[:, ::-1].argmax(axis=1), high.argmax(axis=1)  # the nearest ones
    left = _crossing(grid, rows, half[:, 0], before, before + 1, low[every, before])
    right = _crossing(grid, rows, half[:, 0], after, after - 1, high[every, after])
    unknown = ~np.isfinite(maximum) | (maximum <= 0)
    return np.where(unknown, np.nan, np.stack([peak, left, right]))


def _crossing(
    grid: NDArray[np.float64],
    rows: NDArray[np.float64],
    level: NDArray[np.float64],
    outside: NDArray[np.intp],
    inside: NDArray[np.intp],
    found: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Where the straight line from the sample `outside` to `inside` meets the level [nm]."""
    every = np.arange(rows.shape[0])
    low, high = np.where(found, outside, 0), np.where(found, inside, 1)
    y_low, y_high = rows[every, low], rows[every, high]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(y_high != y_low, (level - y_low) / (y_high - y_low), 0.0)
        crossing = grid[low] + share * (grid[high] - grid[low])
    return np.where(found, crossing, np.nan)
