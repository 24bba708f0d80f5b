"""The level over the hours to come: setting, irradiance, margin, energy."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.ageing.headroom import STEP, setting_for
from spectralbench.ageing.prediction import beyond_the_log, extrapolation, hours_held, output_left
from spectralbench.errors import RangeError
from spectralbench.model import COORDINATES
from spectralbench.units import declares

_MOST = 10_000  # hours of a plan; more is a slip of units


@declares(
    required="W m-2",
    full_output_today="W m-2",
    hours_today="h",
    until="h",
    every="h",
    step="1",
    electrical_power="W",
)
def level_plan(
    fit: xr.Dataset,
    required: xr.DataArray | float | str,
    full_output_today: xr.DataArray | float | str,
    hours_today: float | str,
    until: float | str,
    every: float | str = 100.0,
    step: float | str = STEP,
    electrical_power: xr.DataArray | float | str | None = None,
    power_follows_setting: bool = True,
) -> xr.Dataset:
    """Plan the setting that holds a required irradiance while the source ages.

    Parameters
    ----------
    fit : xarray.Dataset
        Ageing of the source, from `fit_ageing` or `fit_two_stage`, with draws or without.
    required : xarray.DataArray (...), float or str
        Irradiance that is required [W m-2].
    full_output_today : xarray.DataArray (...), float or str
        Irradiance there at full output, measured today [W m-2].
    hours_today : float or str
        Hours of use today [h].
    until : float or str
        Last hour of use of the plan [h].
    every : float or str
        Hours from one line of the plan to the next [h].
    step : float or str
        Step of the setting [1].
    electrical_power : xarray.DataArray (...), float or str, optional
        Electrical power at full setting [W].
    power_follows_setting : bool
        Whether the power is proportional to the setting, as with LEDs; that of an arc behind a
        shutter or an iris is the same at every setting (common practice, no source).

    Returns
    -------
    xarray.Dataset
        Along ``hours`` [h]: ``full_output`` (..., hours) [W m-2]; ``setting`` (..., hours) [1],
        infinite where none is enough; ``irradiance`` (..., hours) [W m-2] at that setting or else
        at 100 %; ``margin`` (..., hours) [1], of it over what is required, negative where that is
        not reached; ``extrapolation`` (hours) [1]. ``regulation_ends`` (...) [h]: hours of use at
        which 100 % no longer gives enough. With `electrical_power`, also ``power`` (..., hours) [W] and
        ``energy`` (..., hours) [J] used since today, while the source is on.

    Raises
    ------
    RangeError
        If the plan does not run forwards, is too long, or nothing is required or available.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> plan = level_plan(fit, "2 W/cm2", "2.5 W/cm2", "1000 h", "4000 h", every="1000 h")
    >>> plan["setting"].values.tolist(), round(float(plan["regulation_ends"]))
    ([0.8, 0.89, 0.99, inf], 3118)
    """
    today, end, stride = float(hours_today), float(until), float(every)
    if not (0 <= today < end and stride > 0 and (end - today) / stride <= _MOST):
        raise RangeError(
            f"a plan runs from the hours of today to later ones, in at most {_MOST} strides; "
            f"not from {today:g} h to {end:g} h every {stride:g} h"
        )
    needed, full_today = xr.DataArray(required), xr.DataArray(full_output_today)
    for name, array in (("required", needed), ("at full output", full_today)):
        if (array <= 0).any():
            raise RangeError(f"the irradiance {name} is above 0, not {float(array.min()):g} W m-2")
    lines = np.append(np.arange(today, end - 1e-9 * stride, stride), end)
    hours = xr.DataArray(lines, {"hours": ("hours", lines, COORDINATES["hours"]._asdict())}, "hours")
    full = full_today * output_left(fit, hours, today).drop_attrs(deep=False)
    setting = setting_for(needed, full, step)
    used = setting.clip(max=1)
    irradiance = used * full
    ends = today + hours_held(fit, needed, full_today, today)
    variables = {
        "full_output": (full, "W m-2", "irradiance at full output"),
        "setting": (setting, "1", "smallest setting that gives what is required"),
        "irradiance": (irradiance, "W m-2", "irradiance at that setting"),
        "margin": (irradiance / needed - 1, "1", "irradiance beyond what is required"),
        "extrapolation": (extrapolation(fit, hours), "1", "times the last hour of the log"),
        "regulation_ends": (ends, "h", "hours of use at which 100 % no longer gives enough"),
    }
    if electrical_power is not None:
        power = xr.DataArray(electrical_power) * (used if power_follows_setting else xr.ones_like(used))
        seconds = xr.DataArray(np.diff(lines, prepend=today) * 3600.0, dims="hours")
        strides = (power + power.shift(hours=1, fill_value=0.0)) / 2 * seconds
        variables["power"] = (power, "W", "electrical power at that setting")
        variables["energy"] = (strides.cumsum("hours"), "J", "electrical energy since today")
    plan = {
        name: array.rename(name).drop_attrs(deep=False).assign_attrs(units=units, long_name=words)
        for name, (array, units, words) in variables.items()
    }
    plan["full_output"].attrs |= beyond_the_log(fit, hours)
    plan["regulation_ends"].attrs |= beyond_the_log(fit, ends)
    return xr.Dataset(plan)
