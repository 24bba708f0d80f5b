"""A straight line through points by least squares, and what their scatter leaves open of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError

_ROUNDING = 1e-14  # of the highest value, over the length of the line


class Line(NamedTuple):
    """A line y = level + slope (x - centre) by least squares.

    Level and slope are independent of each other, and over their errors each has a
    t-distribution with so many degrees of freedom (JCGM 101:2008, 6.4.9).
    """

    slope: xr.DataArray
    level: xr.DataArray
    centre: xr.DataArray
    slope_error: xr.DataArray
    level_error: xr.DataArray
    freedom: int
    residual: xr.DataArray

    @property
    def start(self) -> xr.DataArray:
        """Value at x = 0."""
        return self.level - self.slope * self.centre


def line_through(x: xr.DataArray, y: xr.DataArray, along: str) -> Line:
    """Fit a line by least squares.

    Parameters
    ----------
    x, y : xarray.DataArray (..., n)
        The points.
    along : str
        The dimension of the points.

    Returns
    -------
    Line
        The line, with its standard errors.

    Notes
    -----
    Ordinary least squares; all scatter is taken to be in y and alike for all points. A point that
    is NaN makes its line NaN. A slope that is nothing but rounding is 0.

    Examples
    --------
    >>> x, y = (xr.DataArray(v, dims="trial") for v in ([0.0, 1.0, 2.0], [1.0, 3.0, 5.0]))
    >>> line_through(x, y, "trial").slope.item()
    2.0
    """
    x, y = x.drop_attrs(deep=False), y.drop_attrs(deep=False)
    centre, level = x.mean(along, skipna=False), y.mean(along, skipna=False)
    centred = x - centre
    spread = (centred**2).sum(along, skipna=False)
    slope = (centred * y).sum(along, skipna=False) / spread
    rounding = _ROUNDING * abs(y).max(along) / np.sqrt(spread)
    slope = slope.where(~(abs(slope) <= rounding), 0.0)
    residual = y - level - slope * centred
    freedom = x.sizes[along] - 2
    scatter = (residual**2).sum(along, skipna=False) / freedom
    return Line(
        slope,
        level,
        centre,
        xr.DataArray(np.sqrt(scatter / spread)),
        xr.DataArray(np.sqrt(scatter / x.sizes[along])),
        freedom,
        residual,
    )


def drawn(
    line: Line, draws: int, random: np.random.Generator, low: float = -np.inf, high: float = np.inf
) -> Line:
    """Draw a line from what its residuals leave open.

    Parameters
    ----------
    line : Line
        From `line_through`.
    draws : int
        How many.
    random : numpy.random.Generator
        Where they come from.
    low, high : float
        Limits of slopes that are possible; no other is drawn.

    Returns
    -------
    Line
        The line, with slope and level (draw, ...).

    Raises
    ------
    RangeError
        If the points carry draws already, and not as many.

    Notes
    -----
    Quantiles of the t-distribution (JCGM 101:2008, 6.4.9), those of the slope cut off at its
    limits.

    Examples
    --------
    >>> x, y = (xr.DataArray(v, dims="trial") for v in ([0.0, 1.0, 2.0], [1.0, 3.1, 5.0]))
    >>> drawn(line_through(x, y, "trial"), 500, np.random.default_rng(1)).slope.sizes
    Frozen({'draw': 500})
    """
    from scipy.special import stdtr, stdtrit

    if line.slope.sizes.get("draw", draws) != draws:
        raise RangeError(
            f"the points carry {line.slope.sizes['draw']} draws already: ask for as many, not {draws}"
        )
    dims = ["draw", *(name for name in line.slope.dims if name != "draw")]
    shape = [draws, *(line.slope.sizes[name] for name in dims[1:])]
    shares = [xr.DataArray(random.random(shape), dims=dims) for _ in range(2)]
    with np.errstate(divide="ignore"):  # without scatter there is one line
        ends = [stdtr(line.freedom, (end - line.slope) / line.slope_error) for end in (low, high)]
    within = ends[0] + (ends[1] - ends[0]) * shares[0]
    slope = line.slope + line.slope_error * xr.apply_ufunc(stdtrit, line.freedom, within)
    level = line.level + line.level_error * xr.apply_ufunc(stdtrit, line.freedom, shares[1])
    return line._replace(slope=slope.transpose(*dims), level=level.transpose(*dims))
