"""When lamps are changed, and how often."""

from __future__ import annotations

import datetime
from typing import Any, cast

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, quote
from spectralbench.units import declares

HOURS_OF_A_YEAR = 8784.0
"""Of a leap year [h]; nothing runs longer."""

_DAYS_OF_A_YEAR = 365.25
_ROUNDING = 1e-9  # of a lamp

Date = str | datetime.date | np.datetime64


@declares(hours_left="h", hours_of_new="h", hours_per_year="h", horizon="year")
def relamp_plan(
    hours_left: xr.DataArray | float | str,
    hours_of_new: xr.DataArray | float | str,
    hours_per_year: xr.DataArray | float | str,
    horizon: float | str,
    today: Date | None = None,
) -> xr.Dataset:
    """Plan the changes of a lamp over a number of years.

    Parameters
    ----------
    hours_left : xarray.DataArray (...), float or str
        Hours of use from today until the requirement is no longer met [h], such as `hours_held`
        gives them. May be infinite.
    hours_of_new : xarray.DataArray (...), float or str
        Hours that a new lamp meets it [h], such as `hours_until` gives them. May be infinite.
    hours_per_year : xarray.DataArray (...), float or str
        Hours that the lamp is on in a year [h].
    horizon : float or str
        How far the plan looks [year].
    today : str, datetime.date or numpy.datetime64, optional
        The date from which it counts; without it, the plan has no date.

    Returns
    -------
    xarray.Dataset
        ``next_change`` (...) [year] from today, infinite for never; ``changes`` (...) [1] up to the
        horizon, whole numbers; ``changes_per_year`` (...) [1] in the long run; with `today`,
        ``next_date`` (...), rounded down to a day, and none (NaT) beyond the horizon. Draws stay draws.

    Raises
    ------
    RangeError
        If hours are negative, a year has too many of them, a new lamp does not last, the horizon is
        not positive or finite, or `today` is no date.

    Notes
    -----
    Each lamp is taken to age like the one that was measured; how much lamps differ is not known
    from the log of one.

    Examples
    --------
    >>> plan = relamp_plan("500 h", "3000 h", "2000 h", "5 years", today="2026-01-01")
    >>> float(plan["changes"]), str(plan["next_date"].values)[:10]
    (4.0, '2026-04-02')
    """
    left, new, yearly = (xr.DataArray(value) for value in (hours_left, hours_of_new, hours_per_year))
    years = float(horizon)
    if not 0 < years < np.inf:
        raise RangeError(f"a plan looks ahead by more than 0 years, and not for ever; not by {years:g}")
    if (left < 0).any():
        raise RangeError(
            f"hours that are left are at least 0, not {float(left.min()):g} h: if the requirement is not met "
            "today, none are"
        )
    if (new <= 0).any():
        raise RangeError(
            f"a new lamp meets the requirement for more than 0 h, not {float(new.min()):g} h: no change of "
            "lamps helps otherwise"
        )
    yearly = checked_hours(yearly)
    ahead = yearly * years - left
    more = xr.DataArray(np.floor(ahead / new + _ROUNDING)).clip(min=0)
    changes = (1 + more).where(ahead >= 0, 0.0).where(ahead.notnull())
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = xr.DataArray(left / yearly).where(left > 0, 0.0).where(left.notnull())
    variables = {
        "next_change": (wait, "year", "time until the next change"),
        "changes": (changes, "1", "changes up to the horizon"),
        "changes_per_year": (yearly / new, "1", "changes in a year, in the long run"),
    }
    plan = xr.Dataset(
        {
            name: array.rename(name).drop_attrs(deep=False).assign_attrs(units=units, long_name=words)
            for name, (array, units, words) in variables.items()
        },
        attrs={"horizon": f"{years:g} years", "comment": "every lamp is taken to age like the one measured"},
    )
    return plan if today is None else plan.assign(next_date=_date(wait, years, today))


def checked_hours(hours_per_year: xr.DataArray) -> xr.DataArray:
    """Refuse a year that has negative hours, or more than there are.

    Parameters
    ----------
    hours_per_year : xarray.DataArray (...)
        Hours in a year [h].

    Returns
    -------
    xarray.DataArray (...)
        The same.

    Raises
    ------
    RangeError
        If one is negative or above 8,784.

    Examples
    --------
    >>> float(checked_hours(xr.DataArray(2000.0)))
    2000.0
    """
    wrong = hours_per_year.values[((hours_per_year < 0) | (hours_per_year > HOURS_OF_A_YEAR)).values]
    if wrong.size:
        raise RangeError(f"a year has 0 to {HOURS_OF_A_YEAR:g} hours of use, not {wrong[0]:g}")
    return hours_per_year


def _date(wait: xr.DataArray, years: float, today: Date) -> xr.DataArray:
    """The day on which a time from today ends; none beyond the horizon."""
    try:
        start = np.datetime64(cast(Any, today), "D")
    except (TypeError, ValueError):
        start = np.datetime64("NaT", "D")
    if np.isnat(start):
        raise RangeError(f"today is a date such as 2026-01-31, not {quote(today)}")
    near = wait <= years
    days = np.floor(wait.where(near, 0.0).values * _DAYS_OF_A_YEAR + _ROUNDING).astype("timedelta64[D]")
    dates = np.where(near.values, start + days, np.datetime64("NaT", "D")).astype("datetime64[s]")
    date = wait.copy(data=dates).rename("next_date").drop_attrs(deep=False)
    return date.assign_attrs(long_name="date of the next change")
