"""A part that travels through a line of light: exposure, speed, and time above a threshold."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.beam.areas import area, left_out, weights
from spectralbench.beam.axes import along
from spectralbench.beam.heads import EXPOSURES, irradiance_like
from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]


@declares(profile="*", speed="mm s-1")
def travelling_exposure(
    profile: xr.DataArray, speed: xr.DataArray | float | str, passes: int = 1
) -> xr.DataArray:
    """Radiant exposure of a part that travels through a beam.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance along the direction of travel, at the height of the bond [W m-2], spectral
        irradiance [W m-2 nm-1] or photon irradiance [umol m-2 s-1], without background, with a
        coordinate ``position`` that carries its unit.
    speed : float, str or xarray.DataArray (...)
        Speed [mm s-1].
    passes : int
        How often the part goes through.

    Returns
    -------
    xarray.DataArray (...)
        Radiant exposure [J m-2, J m-2 nm-1 or umol m-2]. If the scan ends where the light has not
        fallen to 1 % of its highest value, ``attrs["comment"]`` says how much may be missing.

    Raises
    ------
    RangeError
        If a speed is not above 0, or there is not one pass or more.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit, or the profile is no irradiance.

    Notes
    -----
    The integral of irradiance over position, by speed. Equal exposure is not equal cure: a
    higher irradiance for a shorter time may cure less or more, and below some irradiance oxygen
    may hold the cure back altogether (`time_above`).

    Examples
    --------
    >>> at = {"position": ("position", [0.0, 10.0, 20.0], {"units": "mm"})}
    >>> line = xr.DataArray([0.0, 400.0, 0.0], at, "position", attrs={"units": "mW/cm^2"})
    >>> travelling_exposure(line, "1.2 m/min").item()  # 4000 W m-2 · 20 mm / 2, at 20 mm/s
    2000.0
    """
    profile = irradiance_like(profile, "profile")
    velocity, times = _speed(speed), _passes(passes)
    over, comment = _across(profile)
    result: xr.DataArray = times / velocity * over
    result = result.rename(None).drop_attrs(deep=False)
    result.attrs.update(units=EXPOSURES[profile.attrs["units"]], long_name="exposure of a travelling part")
    result.attrs |= comment
    return noted(result, f"{times} passes through the beam at {_range(velocity)} mm/s", profile)


@declares("mm s-1", profile="W m-2", exposure="J m-2")
def speed_for_exposure(
    profile: xr.DataArray, exposure: xr.DataArray | float | str, passes: int = 1
) -> xr.DataArray:
    """Highest speed that still gives a radiant exposure: the inverse of `travelling_exposure`.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance along the direction of travel, at the height of the bond [W m-2], without
        background, with a coordinate ``position`` that carries its unit.
    exposure : float, str or xarray.DataArray (...)
        Radiant exposure wanted, over all passes [J m-2].
    passes : int
        How often the part goes through.

    Returns
    -------
    xarray.DataArray (...)
        Speed [mm s-1]; ``attrs["comment"]`` as in `travelling_exposure`. The light that a scan
        leaves out would only allow a higher speed.

    Raises
    ------
    RangeError
        If an exposure is not above 0, or there is not one pass or more.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit, or the profile is no irradiance.

    Examples
    --------
    >>> at = {"position": ("position", [0.0, 10.0, 20.0], {"units": "mm"})}
    >>> line = xr.DataArray([0.0, 400.0, 0.0], at, "position", attrs={"units": "mW/cm^2"})
    >>> speed_for_exposure(line, "0.4 J/cm^2", passes=2).item()
    20.0
    """
    times, wanted = _passes(passes), xr.DataArray(exposure)
    if (wanted <= 0).any():
        raise RangeError(f"an exposure wanted is above 0 J m-2, not {float(wanted.min()):g} J m-2")
    over, comment = _across(profile)
    result: xr.DataArray = times / wanted * over
    result = (
        result.rename("speed").drop_attrs(deep=False).assign_attrs(long_name="highest speed for the exposure")
    )
    result.attrs |= comment
    return noted(result, f"speed for {_range(wanted)} J m-2 over {times} passes", profile)


@declares("s", profile="W m-2", threshold="W m-2", speed="mm s-1")
def time_above(
    profile: xr.DataArray,
    threshold: xr.DataArray | float | str,
    speed: xr.DataArray | float | str,
    passes: int = 1,
) -> xr.DataArray:
    """Time for which a travelling part sees an irradiance or more.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance along the direction of travel, at the height of the bond [W m-2], without
        background, with a coordinate ``position`` that carries its unit.
    threshold : float, str or xarray.DataArray (...)
        The irradiance [W m-2]; such as one below which oxygen is known, from trials, to hold the
        cure back.
    speed : float, str or xarray.DataArray (...)
        Speed [mm s-1].
    passes : int
        How often the part goes through; the times of all passes are added.

    Returns
    -------
    xarray.DataArray (...)
        Time [s]; 0 where the profile stays below. NaN where a value of the profile is.

    Raises
    ------
    RangeError
        If a threshold is negative, a speed is not above 0, or there is not one pass or more.
    GridError, UnitsError
        If the positions are missing, unordered or without a unit, or the profile is no irradiance.

    Notes
    -----
    The profile is straight between its positions.

    Examples
    --------
    >>> at = {"position": ("position", [0.0, 10.0, 20.0], {"units": "mm"})}
    >>> line = xr.DataArray([0.0, 400.0, 0.0], at, "position", attrs={"units": "mW/cm^2"})
    >>> time_above(line, "100 mW/cm^2", speed=10.0).item()
    1.5
    """
    velocity, times, level = _speed(speed), _passes(passes), xr.DataArray(threshold)
    if (level < 0).any():
        raise RangeError(f"a threshold is not negative; this one is {float(level.min()):g} W m-2")
    last, grid = along(profile, "position", 2)
    length: xr.DataArray = xr.apply_ufunc(
        lambda level, values: _length_above(level, values, grid),
        level,
        last,
        input_core_dims=[[], ["position"]],
        join="exact",
    )
    result: xr.DataArray = times / velocity * length
    result = result.rename("time").drop_attrs(deep=False).assign_attrs(long_name="time above the threshold")
    step = f"time above {_range(level)} W m-2 in {times} passes at {_range(velocity)} mm/s"
    return noted(result, step, profile)


def _across(profile: xr.DataArray) -> tuple[xr.DataArray, dict[str, str]]:
    """The integral of a profile (...) over its positions [unit times mm], and a comment on its ends."""
    last, grid = along(profile, "position", 2)
    over = last.isel(position=0, drop=True).copy(data=area(last.values, weights(grid)))
    comment = left_out(last, grid)
    return over, {"comment": comment} if comment else {}


def _length_above(level: Vector, values: Vector, grid: Vector) -> Vector:
    """Length (...) over which profiles (..., position) stand at a level (...) or above [mm]."""
    above = values - np.asarray(level)[..., None]
    high = np.maximum(above[..., :-1], above[..., 1:])
    low = np.minimum(above[..., :-1], above[..., 1:])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(low >= 0, 1.0, np.where(high < 0, 0.0, high / (high - low)))
    return np.asarray((share * np.diff(grid)).sum(axis=-1))


def _speed(speed: xr.DataArray | float | str) -> xr.DataArray:
    velocity = xr.DataArray(speed)
    if (velocity <= 0).any():
        raise RangeError(f"a speed is above 0 mm s-1, not {float(velocity.min()):g} mm s-1")
    return velocity


def _passes(passes: int) -> int:
    if passes < 1:
        raise RangeError(f"a part passes a whole number of times, once or more, not {passes} times")
    return passes


def _range(array: xr.DataArray) -> str:
    low, high = f"{float(array.min()):g}", f"{float(array.max()):g}"
    return low if low == high else f"{low}–{high}"
