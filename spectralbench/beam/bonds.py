"""How light falls on a bond: how evenly, and what share of it."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.beam.areas import area, edges, left_out, round_weights, weights
from spectralbench.beam.axes import along, said
from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]
Length = xr.DataArray | float | str


@declares(profile="*", low="mm", high="mm")
def uniformity(profile: xr.DataArray, low: Length, high: Length) -> xr.Dataset:
    """How evenly a bond is lit.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance or another reading [any unit] without background, with a coordinate
        ``position`` that carries its unit.
    low, high : float, str or xarray.DataArray (...)
        Where the bond begins and ends [mm].

    Returns
    -------
    xarray.Dataset
        ``lowest``, ``mean`` and ``highest`` (...) over the bond, in the unit given;
        ``lowest_by_mean`` and ``lowest_by_highest`` (...) [1]. A value that is NaN makes NaN
        the bonds that it has a part in.

    Raises
    ------
    RangeError
        If the limits are not in order, or the scan does not cover the bond.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit.

    Notes
    -----
    Lowest by mean is the uniformity of EN 12464-1, there of illuminance; lowest by highest is in
    use beside it. Both along the line of the scan: a bond is an area, and is lit no more evenly
    than its least even line. The profile is straight between its positions.

    Examples
    --------
    >>> at = {"position": ("position", [-2.0, -1.0, 0.0, 1.0, 2.0], {"units": "mm"})}
    >>> beam = xr.DataArray([0.0, 40.0, 100.0, 40.0, 0.0], at, "position", attrs={"units": "W m-2"})
    >>> found = uniformity(beam, -1.0, 1.0)
    >>> found["lowest"].item(), round(found["lowest_by_mean"].item(), 4)
    (40.0, 0.5714)
    """
    last, grid = along(profile, "position", 2)
    start, stop = _limits(low, high)
    outside = (start < grid[0]) | (stop > grid[-1])
    if outside.any():
        raise RangeError(
            f"the scan covers {grid[0]:g} to {grid[-1]:g} mm and not the whole bond, from "
            f"{float(start.min()):g} to {float(stop.max()):g} mm: scan farther; nothing is extrapolated"
        )
    lowest, mean, highest = xr.apply_ufunc(
        lambda start, stop, values: _extremes(grid, values, start, stop),
        start,
        stop,
        last,
        input_core_dims=[[], [], ["position"]],
        output_core_dims=[[], [], []],
        join="exact",
    )
    units = {"units": profile.attrs["units"]} if "units" in profile.attrs else {}
    found = {"lowest": lowest, "mean": mean, "highest": highest}
    for name, array in found.items():
        array.attrs = {**units, "long_name": f"{name} value on the bond"}
    for name in ("mean", "highest"):
        array = (lowest / found[name].where(found[name] > 0)).drop_attrs(deep=False)
        found[f"lowest_by_{name}"] = array.assign_attrs(units="1", long_name=f"lowest by {name} on the bond")
    return xr.Dataset({name: array.rename(name) for name, array in found.items()})


@declares("1", profile="*", low="mm", high="mm")
def share_on_strip(profile: xr.DataArray, low: Length, high: Length) -> xr.DataArray:
    """Share of a line of light that falls on a strip across it.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance or another reading [any unit] without background, with a coordinate
        ``position`` that carries its unit; along the light the beam is taken to be even.
    low, high : float, str or xarray.DataArray (...)
        Where the strip begins and ends [mm].

    Returns
    -------
    xarray.DataArray (...)
        Share [1] of the light that the scan has seen. If it ends where the light has not fallen
        to 1 % of its highest value, ``attrs["comment"]`` says how much may be missing.

    Raises
    ------
    RangeError
        If the limits are not in order, or the scan covers nothing of the strip.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit.

    Notes
    -----
    The profile is straight between its positions.

    Examples
    --------
    >>> at = {"position": ("position", [0.0, 1.0, 2.0], {"units": "mm"})}
    >>> share_on_strip(xr.DataArray([0.0, 8.0, 0.0], at, "position"), 0.5, 1.5).item()
    0.75
    """
    last, grid = along(profile, "position", 2)
    start, stop = _limits(low, high)
    if ((stop <= grid[0]) | (start >= grid[-1])).any():
        raise RangeError(
            f"the scan covers {grid[0]:g} to {grid[-1]:g} mm and nothing of a strip from "
            f"{float(start.max()):g} to {float(stop.min()):g} mm: scan there"
        )
    result: xr.DataArray = xr.apply_ufunc(
        lambda start, stop, values: _quotient(
            area(values, weights(grid, start, stop)), area(values, weights(grid))
        ),
        start,
        stop,
        last,
        input_core_dims=[[], [], ["position"]],
        join="exact",
    )
    where = f"{float(start.min()):g} to {float(stop.max()):g} mm"
    return _share(result, profile, left_out(last, grid), f"share on a strip from {where}")


@declares("1", profile="*", diameter="mm", centre="mm")
def share_on_disc(profile: xr.DataArray, diameter: Length, centre: Length | None = None) -> xr.DataArray:
    """Share of a round beam that falls on a round bond in its middle.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        A scan through the centre of the beam: irradiance or another reading [any unit] without
        background, with a coordinate ``position`` that carries its unit.
    diameter : float, str or xarray.DataArray (...)
        Diameter of the bond [mm].
    centre : float, str or xarray.DataArray (...), optional
        Where beam and bond have their middle [mm]; by default half-way between the positions of
        half maximum. A scan of one half of the beam needs it.

    Returns
    -------
    xarray.DataArray (...)
        Share [1] of the light that the scan has seen. If it ends where the light has not fallen
        to 1 % of its highest value, ``attrs["comment"]`` says how much may be missing.

    Raises
    ------
    RangeError
        If a diameter is not above 0, or a centre lies outside the scan.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit.

    Notes
    -----
    Every ring weighs with its radius, so what is faint and far out counts much: take the
    background off first. Both halves of the scan count alike. A beam that is not round, or a
    scan beside its centre, gives a wrong share without a sign of it: scan a second line across.

    Examples
    --------
    >>> at = {"position": ("position", [-2.0, 0.0, 2.0], {"units": "mm"})}
    >>> round(share_on_disc(xr.DataArray([0.0, 9.0, 0.0], at, "position"), "2 mm").item(), 9)  # a cone
    0.5
    """
    last, grid = along(profile, "position", 3)
    if centre is None:
        left, right = edges(grid, last.values, 0.5)
        middle = last.isel(position=0, drop=True).copy(data=(left + right) / 2)
    else:
        middle = _length(centre)
        if ((middle < grid[0]) | (middle > grid[-1])).any():
            raise RangeError(f"the centre {said(middle.values)} lies outside the scan, {said(grid)}")
    across = _length(diameter)
    if (across <= 0).any():
        raise RangeError(f"a diameter is above 0 mm, not {float(across.min()):g} mm")
    result: xr.DataArray = xr.apply_ufunc(
        lambda across, middle, values: _quotient(
            area(values, round_weights(grid, middle, across / 2)), area(values, round_weights(grid, middle))
        ),
        across,
        middle,
        last,
        input_core_dims=[[], [], ["position"]],
        join="exact",
    )
    how = "half-way between its half-maximum positions" if centre is None else f"at {said(middle.values)}"
    step = f"share on a disc {said(across.values)} across, of a round beam with its centre {how}"
    return _share(result, profile, left_out(last, grid, middle), step)


def _length(value: Length) -> xr.DataArray:
    return (value if isinstance(value, xr.DataArray) else xr.DataArray(float(value))).astype(float)


def _limits(low: Length, high: Length) -> tuple[xr.DataArray, xr.DataArray]:
    start, stop = _length(low), _length(high)
    if not ((start < stop) | start.isnull() | stop.isnull()).all():
        raise RangeError(
            f"a bond runs from a lower to a higher position, not {float(start.max()):g} to "
            f"{float(stop.min()):g} mm"
        )
    return start, stop


def _quotient(part: Vector, whole: Vector) -> Vector:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(whole > 0, part / whole, np.nan))


def _share(result: xr.DataArray, profile: xr.DataArray, comment: str, step: str) -> xr.DataArray:
    result = result.rename("share").drop_attrs(deep=False).assign_attrs(long_name="share of the light")
    if comment:
        result.attrs["comment"] = comment
    return noted(result, step, profile)


def _extremes(grid: Vector, values: Vector, start: Vector, stop: Vector) -> tuple[Vector, Vector, Vector]:
    """Lowest, mean and highest value (...) of profiles (..., position) between limits (...)."""
    amounts = weights(grid, start, stop)
    mean = area(values, amounts) / (stop - start)
    first, last = (area(values, _hats(grid, np.asarray(end))) for end in (start, stop))
    inside = (grid >= start[..., None]) & (grid <= stop[..., None])
    lowest = np.minimum(np.minimum(first, last), np.where(inside, values, np.inf).min(axis=-1))
    highest = np.maximum(np.maximum(first, last), np.where(inside, values, -np.inf).max(axis=-1))
    unknown = np.isnan(mean)
    return np.where(unknown, np.nan, lowest), mean, np.where(unknown, np.nan, highest)


def _hats(grid: Vector, at: Vector) -> Vector:
    """Weights (..., position) that give the value of a profile at positions (...)."""
    steps = np.diff(grid)
    way = (at[..., None] - grid[:-1]) / steps
    found = np.zeros((*at.shape, grid.size))
    found[..., :-1] += np.where((way >= 0) & (way < 1), 1 - way, 0.0)
    found[..., 1:] += np.where((way >= 0) & (way < 1), way, 0.0)
    found[..., -1] += at == grid[-1]
    return found
