"""A straight line through trials, and what their scatter leaves open of it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from spectralbench.draws import Seed
from spectralbench.errors import RangeError


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


def paired(first: Any, second: Any, names: tuple[str, str]) -> tuple[xr.DataArray, xr.DataArray, str]:
    """Bring two series of trials together.

    Parameters
    ----------
    first, second : array_like (n,) or xarray.DataArray (..., n)
        The series; `first` may have draws, and no other dimension beside the trials. The last
        dimension counts, or that of `first`.
    names : tuple of str
        What messages call them.

    Returns
    -------
    tuple of xarray.DataArray, xarray.DataArray and str
        Both, and the dimension along which the trials stand.

    Raises
    ------
    RangeError
        If their lengths differ, a value is not a number above 0, or fewer than three of `first`
        differ.

    Examples
    --------
    >>> paired([1.0, 2.0, 4.0], [8.0, 4.0, 2.0], ("irradiance", "time"))[2]
    'trial'
    """
    labelled = (str(d) for x in (first, second) if isinstance(x, xr.DataArray) for d in x.dims[::-1])
    along = next((name for name in labelled if name != "draw"), "trial")
    both = []
    for name, values in zip(names, (first, second), strict=True):
        array = values if isinstance(values, xr.DataArray) else np.asarray(values, dtype=float)
        if not isinstance(array, xr.DataArray):
            if array.ndim != 1:
                raise RangeError(f"{name} stands along one dimension, not along {array.ndim}")
            array = xr.DataArray(array, dims=along)
        wrong = array.values[~(np.isfinite(array.values) & (array.values > 0))]
        if wrong.size:
            raise RangeError(f"every {name} in a trial is a number above 0, not {wrong[0]:g}")
        both.append(array)
    x, y = both
    if x.sizes.get(along) != y.sizes.get(along):
        raise RangeError(f"{names[0]} and {names[1]} have different lengths: {x.shape} and {y.shape}")
    different = np.unique(x.isel(draw=0).values if "draw" in x.dims else x.values).size
    if different < 3:
        raise RangeError(f"a fit needs 3 different values of {names[0]} or more, not {different}")
    return x, y, along


def line_through(x: xr.DataArray, y: xr.DataArray, along: str) -> Line:
    """Fit a line by least squares.

    Parameters
    ----------
    x, y : xarray.DataArray (..., n)
        The points, as from `paired`.
    along : str
        The dimension of the points.

    Returns
    -------
    Line
        The line, with its standard errors.

    Notes
    -----
    Ordinary least squares; all scatter is taken to be in y and alike for all points.

    Examples
    --------
    >>> x, y = (xr.DataArray(v, dims="trial") for v in ([0.0, 1.0, 2.0], [1.0, 3.0, 5.0]))
    >>> line_through(x, y, "trial").slope.item()
    2.0
    """
    centre, level = x.mean(along), y.mean(along)
    centred = x - centre
    spread = (centred**2).sum(along)
    slope = (centred * y).sum(along) / spread
    residual = y - level - slope * centred
    freedom = x.sizes[along] - 2
    scatter = (residual**2).sum(along) / freedom
    return Line(
        slope,
        level,
        centre,
        xr.DataArray(np.sqrt(scatter / spread)),
        xr.DataArray(np.sqrt(scatter / x.sizes[along])),
        freedom,
        residual,
    )


def drawn(line: Line, draws: int, seed: Seed = None, low: float = -np.inf, high: float = np.inf) -> Line:
    """Draw a line from what its residuals leave open.

    Parameters
    ----------
    line : Line
        From `line_through`.
    draws : int
        How many.
    seed : int, sequence of int or numpy.random.Generator, optional
        The same seed gives the same draws.
    low, high : float
        Limits of slopes that are possible; no other is drawn.

    Returns
    -------
    Line
        The line, with slope and level (draw, ...).

    Raises
    ------
    RangeError
        If the trials carry draws already, and not as many.

    Notes
    -----
    Quantiles of the t-distribution (JCGM 101:2008, 6.4.9), those of the slope cut off at its
    limits.

    Examples
    --------
    >>> x, y = (xr.DataArray(v, dims="trial") for v in ([0.0, 1.0, 2.0], [1.0, 3.1, 5.0]))
    >>> drawn(line_through(x, y, "trial"), 500, seed=1).slope.sizes
    Frozen({'draw': 500})
    """
    from scipy.special import stdtr, stdtrit

    if line.slope.sizes.get("draw", draws) != draws:
        raise RangeError(
            f"the trials carry {line.slope.sizes['draw']} draws already: ask for as many, not {draws}"
        )
    random = np.random.default_rng(seed)
    dims = ["draw", *(name for name in line.slope.dims if name != "draw")]
    shape = [draws, *(line.slope.sizes[name] for name in dims[1:])]
    shares = [xr.DataArray(random.random(shape), dims=dims) for _ in range(2)]
    with np.errstate(divide="ignore"):  # without scatter there is one line
        ends = [stdtr(line.freedom, (end - line.slope) / line.slope_error) for end in (low, high)]
    within = ends[0] + (ends[1] - ends[0]) * shares[0]
    slope = line.slope + line.slope_error * xr.apply_ufunc(stdtrit, line.freedom, within)
    level = line.level + line.level_error * xr.apply_ufunc(stdtrit, line.freedom, shares[1])
    return line._replace(slope=slope.transpose(*dims), level=level.transpose(*dims))
