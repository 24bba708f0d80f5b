"""What a fit says of hours to come, and how far beyond its log that is."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.units import declares

FARTHEST = 6.0
"""Times the last hour of a log beyond which nobody should trust it (common practice, no source)."""


def _stages(fit: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Early rate, late rate [h-1] and the hour between them [h]; one stage is the late one from 0 on."""
    if "rate" in fit:
        return fit["rate"], fit["rate"], xr.DataArray(0.0)
    return fit["early_rate"], fit["late_rate"], fit["early_until"]


@declares(hours="h")
def output_at(fit: xr.Dataset, hours: xr.DataArray | float | str) -> xr.DataArray:
    """Output that a fit gives for an hour of use.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`.
    hours : xarray.DataArray (...), float or str
        Hours of use [h].

    Returns
    -------
    xarray.DataArray (...)
        Output, in the unit that was fitted. An attribute ``comment`` says so if the hours lie
        beyond the log.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(output_at(fit, "3000 h")), 9)
    0.729
    """
    at = xr.DataArray(hours)
    with np.errstate(over="ignore"):  # a draw of a short log may grow without end
        result: xr.DataArray = fit["initial"] * np.exp(-_loss(fit, at))
    result = result.rename("output").drop_attrs(deep=False).assign_attrs(long_name="output")
    return result.assign_attrs(beyond_the_log(fit, at))


@declares("1", hours="h", hours_today="h")
def output_left(
    fit: xr.Dataset, hours: xr.DataArray | float | str, hours_today: xr.DataArray | float | str
) -> xr.DataArray:
    """Output that a fit gives for an hour of use, as a share of that of today.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`.
    hours, hours_today : xarray.DataArray (...), float or str
        Hours of use, then and today [h].

    Returns
    -------
    xarray.DataArray (...)
        Share [1]. An attribute ``comment`` says so if the hours lie beyond the log.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(output_left(fit, "3000 h", "1000 h")), 9)
    0.81
    """
    at, today = xr.DataArray(hours), xr.DataArray(hours_today)
    with np.errstate(over="ignore"):
        left = xr.DataArray(np.exp(_loss(fit, today) - _loss(fit, at)))
    left = left.rename("output").drop_attrs(deep=False).assign_attrs(long_name="output against that of today")
    return left.assign_attrs(beyond_the_log(fit, at))


@declares(fraction="1")
def hours_until(fit: xr.Dataset, fraction: xr.DataArray | float | str) -> xr.DataArray:
    """Hours until the output has fallen to a fraction.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`, of an output relative to that of a new source.
    fraction : xarray.DataArray (...), float or str
        Fraction of the new source's output [1]. With the fraction that a requirement needs,
        required over available when new, these are the hours at which regulation ends.

    Returns
    -------
    xarray.DataArray (...)
        Hours of use [h]; infinite if the fit does not fall so far, 0 if it starts below. An
        attribute ``comment`` says so if they lie beyond the log.

    Raises
    ------
    RangeError
        If the fraction is not positive.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(hours_until(fit, 0.7)), 1)
    3385.3
    """
    share = xr.DataArray(fraction)
    if not (share > 0).all():
        wrong = share.values[~(share.values > 0)][0]
        raise RangeError(f"a fraction of the output is above 0, not {wrong:g}")
    spare = xr.DataArray(np.log(fit["initial"]) - np.log(share))
    hours = _until_lost(fit, spare).where(spare > 0, 0.0).rename("hours")
    said = f"{float(share):.0%}" if share.size == 1 else "a fraction"
    hours = hours.drop_attrs(deep=False).assign_attrs(
        units="h", long_name=f"hours until {said} of the output"
    )
    return hours.assign_attrs(beyond_the_log(fit, hours))


@declares("h", required="W m-2", full_output_today="W m-2", hours_today="h")
def hours_held(
    fit: xr.Dataset,
    required: xr.DataArray | float | str,
    full_output_today: xr.DataArray | float | str,
    hours_today: xr.DataArray | float | str,
) -> xr.DataArray:
    """Hours from today until full setting no longer gives what is required.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`, with draws or without.
    required : xarray.DataArray (...), float or str
        Irradiance that is required [W m-2].
    full_output_today : xarray.DataArray (...), float or str
        Irradiance there at full setting, measured today [W m-2]; noise may carry it below 0.
    hours_today : xarray.DataArray (...), float or str
        Hours of use today [h].

    Returns
    -------
    xarray.DataArray (...)
        Hours [h]; infinite if the fit never falls so far, 0 if full setting is too little today,
        NaN where an irradiance is not known. An attribute ``comment`` says so if they end beyond
        the log.

    Raises
    ------
    RangeError
        If nothing is required.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(hours_held(fit, "2 W/cm2", "2.5 W/cm2", "1000 h")), 1)
    2117.9
    """
    needed, full, today = (xr.DataArray(given) for given in (required, full_output_today, hours_today))
    if (needed <= 0).any():
        raise RangeError(f"the irradiance required is above 0, not {float(needed.min()):g} W m-2")
    with np.errstate(divide="ignore"):  # without light no setting is enough
        spare = xr.DataArray(np.log(full.clip(min=0) / needed))
    hours = _until_lost(fit, spare, today).where(~(spare < 0), 0.0).rename("hours")
    hours = hours.drop_attrs(deep=False).assign_attrs(long_name="hours until full setting no longer suffices")
    return hours.assign_attrs(beyond_the_log(fit, today + hours))


def _loss(fit: xr.Dataset, hours: xr.DataArray) -> xr.DataArray:
    """By how much the logarithm of the output has fallen at an hour of use."""
    early, late, until = _stages(fit)
    before = xr.DataArray(np.minimum(hours, until))
    return early * before + late * (hours - before)


def _until_lost(fit: xr.Dataset, spare: xr.DataArray, today: xr.DataArray | float = 0.0) -> xr.DataArray:
    """Hours from today until the logarithm has fallen by what it can spare; infinite if it never does."""
    early, late, until = _stages(fit)
    rest = (until - today).clip(min=0)
    hours = spare / early.where(early > 0)
    hours = hours.where(hours < rest, rest + (spare - early * rest) / late.where(late > 0))
    return hours.fillna(np.inf).where(spare.notnull())


@declares("1", hours="h")
def extrapolation(fit: xr.Dataset, hours: xr.DataArray | float | str) -> xr.DataArray:
    """How far an hour lies beyond the log.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`.
    hours : xarray.DataArray (...), float or str
        Hours of use [h].

    Returns
    -------
    xarray.DataArray (...)
        The hours, divided by the last hour of the log [1]. Up to 1, the log covers them; beyond
        6, nobody should trust them (common practice, no source).

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> float(extrapolation(fit, "5000 h"))
    2.5
    """
    times = xr.DataArray(hours) / fit["longest"]
    return (
        times.rename("extrapolation")
        .drop_attrs(deep=False)
        .assign_attrs(long_name="times the last hour of the log")
    )


def beyond_the_log(fit: xr.Dataset, hours: xr.DataArray) -> dict[str, str]:
    """Say as an attribute ``comment`` that hours lie beyond the log; of draws, the middle counts.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`.
    hours : xarray.DataArray (...)
        Hours of use [h].

    Returns
    -------
    dict of str to str
        Empty if they do not.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> beyond_the_log(fit, xr.DataArray(5000.0))
    {'comment': 'extrapolated to 2.5 times the last hour of the log, 2000 h'}
    """
    times = hours / fit["longest"]
    if "draw" in times.dims:
        times = times.median("draw")
    farthest = times.values[np.isfinite(times.values)].max(initial=0.0)
    if farthest <= 1:
        return {}
    text = f"extrapolated to {farthest:.3g} times the last hour of the log, {float(fit['longest']):g} h"
    if farthest > FARTHEST:
        text += f": beyond {FARTHEST:g} times, take it for a guess"
    return {"comment": text}
