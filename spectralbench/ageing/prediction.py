"""What a fit says of hours to come, and how far beyond its log that is."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.units import declares

FARTHEST = 6.0
"""Times the last hour of a log beyond which nobody should trust it (common practice, no source)."""


def _stages(fit: xr.Dataset) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Early rate, late rate [h-1] and the hour between them [h]; one stage lasts for ever."""
    if "rate" in fit:
        return fit["rate"], fit["rate"], xr.DataArray(np.inf)
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
    early, late, until = _stages(fit)
    at = xr.DataArray(hours)
    with np.errstate(over="ignore"):  # a draw of a short log may grow without end
        if "rate" in fit:
            result: xr.DataArray = fit["initial"] * np.exp(-early * at)
        else:
            before = xr.DataArray(np.minimum(at, until))
            result = fit["initial"] * np.exp(-early * before - late * (at - before))
    result = result.rename("output").drop_attrs().assign_attrs(long_name="output")
    return result.assign_attrs(beyond_the_log(fit, at))


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
    early, late, until = _stages(fit)
    needed = xr.DataArray(np.log(fit["initial"] / share))
    hours = needed / early.where(early > 0)
    if "rate" not in fit:
        afterwards = until + (needed - early * until) / late.where(late > 0)
        hours = hours.where(hours <= until, afterwards)
    hours = hours.clip(min=0).fillna(np.inf).where(fit["initial"] > share, 0.0).rename("hours")
    said = f"{float(share):.0%}" if share.size == 1 else "a fraction"
    hours = hours.drop_attrs().assign_attrs(units="h", long_name=f"hours until {said} of the output")
    return hours.assign_attrs(beyond_the_log(fit, hours))


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
    return times.rename("extrapolation").drop_attrs().assign_attrs(long_name="times the last hour of the log")


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
