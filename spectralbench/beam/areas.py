"""Areas under a profile that is straight between its positions, and what its ends leave out."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench import weightings

Vector = NDArray[np.float64]

_FALLEN = 0.01  # of the highest value; a scan that ends higher leaves out light that counts
_GAUSS = ((1 - 3**-0.5) / 2, (1 + 3**-0.5) / 2)  # two points are exact up to the third power


def weights(grid: Vector, low: ArrayLike = -np.inf, high: ArrayLike = np.inf, power: int = 0) -> Vector:
    """Weights for the area under a profile between two limits, or for its moments about 0.

    Parameters
    ----------
    grid : numpy.ndarray (position,)
        Ascending positions [mm].
    low, high : array_like (...)
        Limits [mm]; what lies outside the grid counts nothing.
    power : int
        Power of the position by which the profile is multiplied, up to 2.

    Returns
    -------
    numpy.ndarray (..., position)
        Weights [mm to one power more]; the integral is exact for straight lines.

    Examples
    --------
    >>> weights(np.array([0.0, 2.0]), 0.0, 1.0).tolist()
    [0.75, 0.25]
    """
    start = np.clip(np.asarray(low, dtype=float)[..., None], grid[:-1], grid[1:])
    stop = np.maximum(np.clip(np.asarray(high, dtype=float)[..., None], grid[:-1], grid[1:]), start)
    found = np.zeros((*stop.shape[:-1], grid.size))
    for node in _GAUSS:
        at = start + (stop - start) * node
        share = (at - grid[:-1]) / np.diff(grid)
        amount = (stop - start) / 2 * at**power
        found[..., :-1] += amount * (1 - share)
        found[..., 1:] += amount * share
    return found


def round_weights(grid: Vector, centre: ArrayLike, radius: ArrayLike = np.inf) -> Vector:
    """Weights for the power of a round beam within a radius, from a scan through its centre.

    Parameters
    ----------
    grid : numpy.ndarray (position,)
        Ascending positions [mm].
    centre, radius : array_like (...)
        Centre of the beam and radius [mm].

    Returns
    -------
    numpy.ndarray (..., position)
        Weights [mm2]: the integral of the distance from the centre, over both halves.

    Examples
    --------
    >>> round_weights(np.array([-1.0, 0.0, 1.0]), 0.0).sum().item()
    1.0
    """
    middle = np.asarray(centre, dtype=float)
    low, high = middle - radius, middle + radius
    outer = weights(grid, middle, high, 1) - middle[..., None] * weights(grid, middle, high)
    inner = middle[..., None] * weights(grid, low, middle) - weights(grid, low, middle, 1)
    return np.asarray(inner + outer)


def area(values: Vector, amounts: Vector) -> Any:
    """Apply weights to profiles.

    Parameters
    ----------
    values : numpy.ndarray (..., position)
        Profiles.
    amounts : numpy.ndarray (..., position)
        Weights; NaN for limits that are not known.

    Returns
    -------
    numpy.ndarray (...)
        Sums; NaN if, and only if, a value with a weight is NaN, or its weight.

    Examples
    --------
    >>> area(np.array([[1.0, 2.0, np.nan]]), np.array([0.5, 0.5, 0.0])).tolist()
    [1.5]
    """
    if amounts.ndim == 1 and np.isfinite(amounts).all():
        return weightings.apply(values, amounts)
    return (np.where(amounts != 0, values, 0.0) * amounts).sum(axis=-1)


def edges(grid: Vector, values: Vector, share: float) -> tuple[Vector, Vector]:
    """The outermost positions at which profiles stand at a share of their highest value.

    Parameters
    ----------
    grid : numpy.ndarray (position,)
        Ascending positions [mm].
    values : numpy.ndarray (..., position)
        Profiles.
    share : float
        Share of the highest value [1].

    Returns
    -------
    tuple of numpy.ndarray (...)
        Left and right edge [mm]; NaN where the profile does not fall so far on that side, has
        no light, or a value that is NaN.

    Examples
    --------
    >>> [x.item() for x in edges(np.array([0.0, 1.0, 2.0]), np.array([0.0, 4.0, 1.0]), 0.5)]
    [0.5, 1.6666666666666665]
    """
    highest = values.max(axis=-1)
    level = np.where(highest > 0, share * highest, np.nan)[..., None]
    inside = values >= level
    first = np.argmax(inside, axis=-1)[..., None]
    last = grid.size - 1 - np.argmax(inside[..., ::-1], axis=-1)[..., None]
    found = []
    for index, outside in ((first, first - 1), (last, last + 1)):
        other = np.clip(outside, 0, grid.size - 1)
        above, below = (np.take_along_axis(values, i, axis=-1) for i in (index, other))
        with np.errstate(invalid="ignore", divide="ignore"):
            edge = grid[index] + (grid[other] - grid[index]) * (above - level) / (above - below)
        found.append(np.where(other == outside, edge, np.nan)[..., 0])
    return found[0], found[1]


def left_out(profile: xr.DataArray, grid: Vector, centre: xr.DataArray | None = None) -> str:
    """Say how much light may lie beyond the ends of a scan.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Profiles; draws and wavelengths are looked at in their mean.
    grid : numpy.ndarray (position,)
        Ascending positions [mm].
    centre : xarray.DataArray (...), optional
        Centre of a round beam [mm], through which the scan goes, or at which it begins.

    Returns
    -------
    str
        Empty if the ends stand at 1 % of the highest value or lower; otherwise a sentence.

    Notes
    -----
    Beyond an end the light is taken to go on falling exponentially, as fast as it falls from
    half of its highest value to that end. A profile that falls ever faster on the logarithm, as
    a Gaussian does, has less there.

    Examples
    --------
    >>> ramp = xr.DataArray([0.0, 16.0, 8.0, 4.0, 2.0], dims="position")
    >>> left_out(ramp, np.arange(5.0))
    'the scan ends at 12.5 % of its highest value, not at 1 % or less: about 9.95 % more light may lie beyond'
    """
    mean = _mean(profile)
    middle = _mean(centre) if centre is not None else xr.DataArray(np.nan)
    mean, middle = xr.broadcast(mean, middle, exclude=["position"])
    rows = mean.transpose(..., "position").values.reshape(-1, grid.size)
    usable = np.isfinite(rows).all(axis=-1) & (rows.max(axis=-1) > 0)
    if not usable.any():
        return ""
    rows, about = rows[usable], middle.values.reshape(-1)[usable]
    highest = rows.max(axis=-1)
    total = area(rows, weights(grid) if centre is None else round_weights(grid, about))
    beyond, worst = np.zeros(highest.size), 0.0
    for end, step, edge in zip((0, -1), np.diff(grid)[[0, -1]], edges(grid, rows, 0.5), strict=True):
        value, out = rows[:, end], np.abs(grid[end] - about)
        high = (value > _FALLEN * highest) & ~(out < step)  # half a round beam begins at its centre
        if not high.any():
            continue
        worst = max(worst, float((value / highest)[high].max()))
        with np.errstate(invalid="ignore", divide="ignore"):
            length = np.abs(grid[end] - edge) / np.log(highest / 2 / value)
            tail = value * (length if centre is None else length * out + length**2)
        beyond += np.where(high, tail, 0.0)
    if worst == 0:
        return ""
    said = f"the scan ends at {worst * 100:.3g} % of its highest value, not at 1 % or less: "
    share = float((beyond / total).max())
    if not np.isfinite(share):
        return said + "nobody knows how much light lies beyond"
    return said + f"about {share * 100:.3g} % more light may lie beyond"


def _mean(array: xr.DataArray) -> xr.DataArray:
    return array.mean([name for name in ("draw", "wavelength") if name in array.dims], skipna=False)
