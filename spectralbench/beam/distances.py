"""Irradiance along the axis of a beam: at a distance, and the distance for an irradiance."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.beam.axes import along, said
from spectralbench.errors import GridError, RangeError, quote
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]

_BEYOND = {"inverse_square": "by the inverse square", "slope": "on the straight line through the nearest two"}
_ROUNDING = 1e-9  # of the logarithm of a distance that was converted from another unit


@declares(irradiance="*", distance="mm")
def irradiance_at(
    irradiance: xr.DataArray, distance: xr.DataArray | float | str, beyond: str | None = None
) -> xr.DataArray:
    """Irradiance at a working distance, from what was measured at others.

    Parameters
    ----------
    irradiance : xarray.DataArray (..., distance)
        Irradiance, spectral irradiance or a reading [any unit], with a coordinate ``distance``
        that carries its unit.
    distance : float, str or xarray.DataArray (...)
        Where it is wanted [mm].
    beyond : str, optional
        What to do beyond the distances measured: ``"inverse_square"`` goes on from the nearest
        of them with the square of the distance, ``"slope"`` on the straight line between the
        nearest two. Without it nothing is extrapolated.

    Returns
    -------
    xarray.DataArray (...)
        Irradiance there, in the unit given. What lies beyond the distances measured says so in
        ``attrs["comment"]`` and in the history. A value that is NaN makes NaN what lies between
        it and its neighbours.

    Raises
    ------
    RangeError
        If a distance is not above 0 or lies beyond those measured, or `beyond` is none of the two.
    GridError, UnitsError
        If the distances measured are missing, unordered, not positive or without a unit.

    Notes
    -----
    Straight lines in the logarithms of both, so the inverse square law, and any other power, is
    met exactly. Where irradiance is not positive, the value itself runs straight over the
    logarithm of the distance, and no slope goes beyond.

    A flat, diffuse round source of radius R gives on its axis an irradiance as R²/(R² + d²)
    (closed form). That curve bends by no more than 1 in the logarithms, so where each distance
    measured is q times the one before, the result is at most (ln q)²/8 too low, and never too
    high: 0.6 % for q = 1.25, 1.5 % for √2, 6 % for 2. The inverse square holds from about 5
    times the largest size of the source on (common practice, no source); nearer, it gives more
    light than there is.

    Examples
    --------
    >>> at = {"distance": ("distance", [10.0, 20.0, 40.0], {"units": "mm"})}
    >>> measured = xr.DataArray([8000.0, 2000.0, 500.0], at, "distance", attrs={"units": "W m-2"})
    >>> round(irradiance_at(measured, "25 mm").item(), 9)
    1280.0
    >>> far = irradiance_at(measured, "8 cm", beyond="inverse_square")
    >>> round(far.item(), 9), far.attrs["comment"]
    (125.0, 'beyond the distances measured, 10–40 mm, by the inverse square: up to 2 times the farthest')
    """
    last, points = _measured(irradiance, beyond)
    at = _positive(distance, "a distance", "mm")
    several = {"distance": "wanted"} if "distance" in at.dims else {}
    comment = _beyond(at.values, points, beyond)
    result: xr.DataArray = xr.apply_ufunc(
        lambda at, values: _between(np.log(at), values, np.log(points), beyond),
        at.rename(several),
        last,
        input_core_dims=[[], ["distance"]],
        join="exact",
    )
    result = (
        result.rename({new: old for old, new in several.items()})
        .rename(irradiance.name)
        .assign_attrs(irradiance.attrs)
    )
    if comment:
        result.attrs["comment"] = comment
    step = f"taken at {said(at.values)}, on straight lines of the logarithms between {points.size} distances"
    return noted(result, f"{step} of {said(points)}" + (f"; {comment}" if comment else ""))


@declares("mm", irradiance="W m-2", wanted="W m-2")
def distance_for(
    irradiance: xr.DataArray, wanted: xr.DataArray | float | str, beyond: str | None = None
) -> xr.DataArray:
    """Largest distance that still gives an irradiance: the inverse of `irradiance_at`.

    Parameters
    ----------
    irradiance : xarray.DataArray (..., distance)
        Irradiance measured [W m-2], with a coordinate ``distance`` that carries its unit.
    wanted : float, str or xarray.DataArray (...)
        Irradiance wanted [W m-2].
    beyond : str, optional
        As in `irradiance_at`.

    Returns
    -------
    xarray.DataArray (...)
        Distance [mm]. Without `beyond` it is infinite where the farthest distance measured still
        gives more (nobody knows how much farther), and NaN where no distance measured gives
        enough (a nearer one might). ``attrs["comment"]`` counts both, and says so where the
        irradiance rises with distance: then nearer is not always more.

    Raises
    ------
    RangeError
        If the irradiance wanted is not above 0, or `beyond` is none of the two.
    GridError, UnitsError
        If the distances measured are missing, unordered, not positive or without a unit.

    Notes
    -----
    The answer depends on all distances from it on: a NaN there makes it NaN, one nearer does not.

    Examples
    --------
    >>> at = {"distance": ("distance", [10.0, 20.0, 40.0], {"units": "mm"})}
    >>> measured = xr.DataArray([8000.0, 2000.0, 500.0], at, "distance", attrs={"units": "W m-2"})
    >>> round(distance_for(measured, "128 mW/cm^2").item(), 9)
    25.0
    """
    last, points = _measured(irradiance, beyond)
    level = _positive(wanted, "an irradiance wanted", "W m-2")
    result: xr.DataArray = xr.apply_ufunc(
        lambda level, values: _farthest(level, values, points, beyond),
        level,
        last,
        input_core_dims=[[], ["distance"]],
        join="exact",
    )
    found = result.values
    result = result.rename("distance").drop_attrs(deep=False).assign_attrs(long_name="largest distance")
    comments = []
    if beyond is None and (far := int(np.isinf(found).sum())):
        comments.append(f"{far} of {found.size} still have more at {points[-1]:g} mm, the farthest measured")
    if np.isnan(found).any():
        comments.append(f"{np.isnan(found).sum()} of {found.size} are not known to have enough anywhere")
    outside = (found < points[0] * (1 - _ROUNDING)) | (found > points[-1] * (1 + _ROUNDING))
    if beyond is not None and outside.any():
        comments.append(f"beyond the distances measured, {said(points)}, {_BEYOND[beyond]}")
    rising = (np.diff(last.values, axis=-1) > 0).any(axis=tuple(range(last.ndim - 1)))
    if rising.any():
        first = int(rising.argmax())
        comments.append(
            f"irradiance rises from {points[first]:g} to {points[first + 1]:g} mm: nearer is not always more"
        )
    if comments:
        result.attrs["comment"] = "; ".join(comments)
    return result


def _measured(irradiance: xr.DataArray, beyond: str | None) -> tuple[xr.DataArray, Vector]:
    """Irradiance (..., distance) and its distances [mm], fit for a rule."""
    if beyond is not None and beyond not in _BEYOND:
        raise RangeError(f"beyond is {' or '.join(_BEYOND)}, or left out; not {quote(beyond)}")
    last, points = along(irradiance, "distance", 2 if beyond == "slope" else 1)
    if not points[0] > 0:
        raise GridError(f"distances are measured above 0 mm, not at {points[0]:g} mm")
    return last, points


def _positive(value: xr.DataArray | float | str, name: str, units: str) -> xr.DataArray:
    """Finite values above 0, or NaN."""
    array = (value if isinstance(value, xr.DataArray) else xr.DataArray(float(value))).astype(float)
    array = array.drop_attrs(deep=False)
    wrong = array.values[~((array > 0) & np.isfinite(array) | array.isnull()).values]
    if wrong.size:
        raise RangeError(f"{name} is a number above 0 {units}, not {wrong[0]:g} {units}")
    return array


def _beyond(at: Vector, points: Vector, beyond: str | None) -> str:
    """Say how far beyond the points measured some distances lie; empty if none does."""
    near, far = np.nanmin(at, initial=points[0]), np.nanmax(at, initial=points[-1])
    outside = [
        (points[0] / near, f"{near / points[0]:.3g} times the nearest"),
        (far / points[-1], f"{far / points[-1]:.3g} times the farthest"),
    ]
    how_far = " and ".join(words for ratio, words in outside if np.log(ratio) > _ROUNDING)
    if how_far and beyond is None:
        raise RangeError(
            f"the distance {said(at)} lies beyond those measured, {said(points)}: measure there, or say by "
            f'which rule to go on, beyond="inverse_square" or "slope"'
        )
    if not how_far or beyond is None:
        return ""
    return f"beyond the distances measured, {said(points)}, {_BEYOND[beyond]}: up to {how_far}"


def _taken(values: Vector, index: NDArray[np.intp]) -> Vector:
    """Values (..., n) at one index (...) each, broadcast."""
    index = index.reshape((1,) * (values.ndim - 1 - index.ndim) + index.shape)
    values = values.reshape((1,) * (index.ndim + 1 - values.ndim) + values.shape)
    return np.take_along_axis(values, index[..., None], axis=-1)[..., 0]


def _between(at: Vector, values: Vector, nodes: Vector, beyond: str | None) -> Vector:
    """Values (...) at logarithms of distances (...), from those (..., n) at nodes (n,)."""
    inside = at if beyond == "slope" else np.clip(at, nodes[0], nodes[-1])
    after = np.minimum(np.maximum(np.searchsorted(nodes, inside, side="right"), 1), nodes.size - 1)
    before = np.maximum(after - 1, 0)
    way = (inside - nodes[before]) / np.where(after > before, nodes[after] - nodes[before], 1.0)
    low, high = _taken(values, before), _taken(values, after)
    positive = (low > 0) & (high > 0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = np.where(positive, low * (high / low) ** way, low + (high - low) * way)
    found = np.where(positive | (way >= 0) & (way <= 1), found, np.nan)
    found = np.where(way == 0, low, np.where(way == 1, high, found))
    return np.asarray(found * np.exp(2 * (inside - at)) if beyond == "inverse_square" else found)


def _farthest(level: Vector, values: Vector, points: Vector, beyond: str | None) -> Vector:
    """Largest distances (...) at which values (..., n) at points (n,) still reach levels (...)."""
    size, nodes = points.size, np.log(points)
    reached = ~(values < level[..., None])  # what is not known might reach it
    before = size - 1 - np.argmax(reached[..., ::-1], axis=-1)
    nowhere, farther = ~reached.any(axis=-1), reached[..., -1]
    after = np.minimum(before + 1, size - 1)
    if beyond == "slope":
        before = np.where(nowhere, 0, np.minimum(before, size - 2))
        after = before + 1
    low, high = _taken(values, before), _taken(values, after)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        curved = np.log(low / level) / np.log(low / high)
        way = np.where((low > 0) & (high > 0), curved, (low - level) / (low - high))
        found = np.exp(nodes[before] + way * (nodes[after] - nodes[before]))
        if beyond == "slope":
            falling = (low > high) & (high > 0)
            endless = np.where(farther & (low <= high) & ~np.isnan(level), np.inf, np.nan)
            return np.asarray(np.where((nowhere | farther) & ~falling, endless, found))
        end = np.where(farther, values[..., -1], values[..., 0])
        square = np.where(farther, points[-1], points[0]) * np.sqrt(end / level)
    if beyond == "inverse_square":
        return np.asarray(np.where(nowhere | farther, square, found))
    farthest = np.where(end > level, np.inf, np.where(end == level, points[-1], np.nan))
    return np.asarray(np.where(nowhere, np.nan, np.where(farther, farthest, found)))
