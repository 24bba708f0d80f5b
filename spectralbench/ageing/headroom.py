"""Headroom: how much more light there is than is asked for, and at which setting it is right.

Output is set in steps of 1 % and held there by feedback (common practice, no source): the setting
follows the loss until 100 % no longer gives what is asked for.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.units import declares

STEP = 0.01
"""Of the setting (common practice, no source)."""

_ROUNDING = 1e-9  # of a step


@declares("1", required="W m-2", full_output="W m-2", step="1")
def setting_for(
    required: xr.DataArray | float | str,
    full_output: xr.DataArray | float | str,
    step: float | str = STEP,
) -> xr.DataArray:
    """Smallest setting that gives what is required.

    Parameters
    ----------
    required : xarray.DataArray (...), float or str
        Irradiance that is required [W m-2].
    full_output : xarray.DataArray (...), float or str
        Irradiance there at full output [W m-2], to which the setting is proportional.
    step : float or str
        Step of the setting [1], of which a whole number makes 100 %.

    Returns
    -------
    xarray.DataArray (...)
        Setting [1], rounded up to a step; infinite where no setting gives enough, so that an
        interval of draws still says what it can.

    Raises
    ------
    RangeError
        If an irradiance is negative, or the steps do not end at 100 %.

    Examples
    --------
    >>> round(float(setting_for("1 W/cm2", "3 W/cm2")), 9)
    0.34
    """
    steps = _steps(float(step))
    share = _share(required, full_output)
    count = xr.DataArray(np.ceil(share * steps - _ROUNDING))
    setting = (count / steps).where(~(count > steps), np.inf)
    return setting.rename("setting").drop_attrs(deep=False).assign_attrs(long_name="setting")


@declares("1", required="W m-2", available="W m-2")
def headroom(required: xr.DataArray | float | str, available: xr.DataArray | float | str) -> xr.DataArray:
    """Light that is available beyond what is required, as a share of the latter.

    Parameters
    ----------
    required : xarray.DataArray (...), float or str
        Irradiance that is required [W m-2].
    available : xarray.DataArray (...), float or str
        Irradiance there at full output [W m-2].

    Returns
    -------
    xarray.DataArray (...)
        Headroom [1]: 0 if there is just enough, negative if there is less.

    Raises
    ------
    RangeError
        If an irradiance is negative, or nothing is required.

    Examples
    --------
    >>> round(float(headroom("1 W/cm2", "1.5 W/cm2")), 9)
    0.5
    """
    needed = xr.DataArray(required)
    if (needed == 0).any():
        raise RangeError("headroom over a required irradiance of 0 says nothing: give one above 0")
    _share(required, available)
    result: xr.DataArray = xr.DataArray(available) / needed - 1
    return result.rename("headroom").drop_attrs(deep=False).assign_attrs(long_name="headroom")


def _share(required: xr.DataArray | float | str, full_output: xr.DataArray | float | str) -> xr.DataArray:
    """What is required as a share of what there is; infinite of nothing."""
    needed, full = xr.DataArray(required), xr.DataArray(full_output)
    for name, array in (("required", needed), ("available", full)):
        if (array < 0).any():
            raise RangeError(
                f"an irradiance {name} is not negative; this one is {float(array.min()):g} W m-2"
            )
    with np.errstate(divide="ignore", invalid="ignore"):
        share: xr.DataArray = needed / full
    return share.where((needed != 0) | full.isnull(), 0.0)  # nothing is required: nothing is enough


def _steps(step: float) -> int:
    """How many steps make 100 %."""
    steps = round(1 / step) if step > 0 else 0
    if not (0 < step <= 1 and abs(steps * step - 1) < _ROUNDING):
        raise RangeError(f"a whole number of steps makes 100 %, and {step:g} is no such step")
    return steps
