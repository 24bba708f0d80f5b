"""What it takes to run each source for a year: hours, lamps, energy, mercury, money."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.ageing import FARTHEST, hours_held, output_left, relamp_plan, running_cost
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.lasting import Course, full_irradiance, known_courses
from spectralbench.comparison.words import percent


class Keeping(NamedTuple):
    """What a source takes to be kept running, as far as it is stated; prices are the user's own."""

    burns_on: bool = False  # between exposures too, as an arc does
    end_of_life: float = np.nan  # when it is replaced at the latest [h]
    hours_per_year: float = np.nan  # that the bench is manned
    exposures_per_year: float = np.nan
    energy_price: float = np.nan  # of a kilowatt-hour
    lamp_price: float = np.nan
    disposal_price: float = 0.0
    mercury: float = np.nan  # in one lamp [mg]
    currency: str = ""


def running(
    figures: xr.Dataset,
    courses: Mapping[str, Course],
    keepings: Mapping[str, Keeping],
) -> xr.Dataset:
    """Add to the figures what it takes to run each source.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `spectralbench.comparison.regulated`.
    courses : mapping of str to Course
        By the name of the source, as for `spectralbench.comparison.lasting`.
    keepings : mapping of str to Keeping
        By the name of the source.

    Returns
    -------
    xarray.Dataset
        The figures with ``mercury`` [mg] of one lamp and ``hours_of_new`` [h], the hours for which
        a new one does the job, at most until it is replaced; where hours of a year are stated,
        with ``hours_on`` [h], ``energy_per_year`` [kWh], ``lamps_per_year`` [1/year], ``next_change``
        [year], ``mercury_per_year`` [mg] and ``cost_per_year`` in the currency. NaN where not known;
        ``cost_missing`` (source) says why, of the cost.

    Notes
    -----
    A source that burns on is on for all hours of the year that are stated. Another one is on while it
    exposes, if a number of exposures is stated, and otherwise all the time: a source that needs longer
    exposures then uses more energy and lasts for fewer years. What would take more hours than those
    stated cannot be done, and is not known.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset(
    ...     {"band_irradiance": ("source", [810.0]), "needed_irradiance": ("source", [600.0]),
    ...      "exposure_time": ("source", [5.0]), "hours_left": ("source", [1000.0]),
    ...      "electrical_power": ("source", [250.0])},
    ...     {"source": ["arc"]},
    ... )
    >>> prices = {"energy_price": 0.25, "lamp_price": 400.0, "mercury": 20.0, "currency": "EUR"}
    >>> keeping = Keeping(True, 3000.0, hours_per_year=2000.0, **prices)
    >>> found = running(light, {"arc": Course(fit, 2000.0, 3000.0)}, {"arc": keeping})
    >>> found.energy_per_year.item(), found.lamps_per_year.item().__round__(3), found.next_change.item()
    (500.0, 0.667, 0.5)
    """
    names, known = known_courses(figures, courses)
    kept = [keepings.get(name, Keeping()) for name in names]
    along = xr.DataArray(names, dims="source", name="source")

    def stated(name: str) -> xr.DataArray:
        return xr.DataArray([float(getattr(one, name)) for one in kept], {"source": names}, "source")

    full, needed = full_irradiance(figures, known), figures["needed_irradiance"]
    lasts = [
        _hours_of_new(needed.isel(source=i, drop=True), full.isel(source=i, drop=True), course)
        for i, course in enumerate(known)
    ]
    found = {"mercury": stated("mercury"), "hours_of_new": xr.concat(xr.broadcast(*lasts), along)}
    if any(np.isfinite(one.hours_per_year) for one in kept):
        found |= _in_a_year(figures, stated, found["hours_of_new"])
    for name, array in found.items():
        found[name] = array.drop_attrs(deep=False).assign_attrs(FIGURES[name]._asdict())
    if "cost_per_year" not in found:
        return figures.assign(found)
    found["cost_per_year"].attrs["units"] = next((one.currency for one in kept if one.currency), "?")
    missing = [
        _missing(one, figures.isel(source=i), found["hours_on"][i], found["hours_of_new"][i])
        for i, one in enumerate(kept)
    ]
    return figures.assign(found).assign(cost_missing=("source", missing))


def _missing(keeping: Keeping, figures: xr.Dataset, on: xr.DataArray, lasts: xr.DataArray) -> str:
    """What keeps the cost of one source from being known, in words; empty if nothing does."""
    if np.isnan(keeping.hours_per_year):
        return "what heads that shine together cost is not worked out: see them alone"
    without = {
        "electrical_power": bool(figures["electrical_power"].isnull().any()),
        "lamp_price": bool(np.isnan(keeping.lamp_price)),
        "end_of_life": bool((lasts.isnull() & np.isnan(keeping.end_of_life)).any()),
    }
    if names := [name for name, is_missing in without.items() if is_missing]:
        return f"it takes {', '.join(names)}, not stated"
    if share := float((lasts <= 0).mean()):
        never = "" if share == 1 else f" in {percent(share)} of the draws"
        return f"a new one does not do the job either{never}"
    if figures["lit_time" if "lit_time" in figures else "exposure_time"].isnull().any():
        return "its exposure is not known"
    if on.isnull().any():
        return f"its exposures take more than the {keeping.hours_per_year:g} h that the bench is manned"
    return ""


def _hours_of_new(required: xr.DataArray, full: xr.DataArray, course: Course) -> xr.DataArray:
    """Hours for which a new source like this one does the job at full setting [h]."""
    if course.fit is None:
        return xr.DataArray(np.nan)
    new = (full / output_left(course.fit, course.now, 0.0)).assign_attrs(full.attrs)
    held = hours_held(course.fit, required, new, 0.0).clip(max=course.end).reset_coords(drop=True)
    return held.where(held <= FARTHEST * float(course.fit["longest"])).drop_attrs(deep=False)


def _in_a_year(
    figures: xr.Dataset, stated: Callable[[str], xr.DataArray], hours_of_new: xr.DataArray
) -> dict[str, xr.DataArray]:
    """What a year takes of each source."""
    lit = figures["lit_time" if "lit_time" in figures else "exposure_time"].drop_attrs(deep=False)
    exposing = stated("exposures_per_year") * lit / _SECONDS
    always = (stated("burns_on") == 1) | stated("exposures_per_year").isnull()
    on = stated("hours_per_year").where(always, exposing)
    on = on.where(on <= stated("hours_per_year"))  # more than the bench is manned: one source is not enough
    lamp_hours = hours_of_new.fillna(stated("end_of_life"))
    lamp_hours = lamp_hours.where(lamp_hours > 0)  # where a new one does not give enough
    power = figures["electrical_power"].drop_attrs(deep=False)
    prices = (stated("energy_price"), stated("lamp_price"))
    cost = running_cost(power, on, *prices, lamp_hours, stated("disposal_price"), mercury=stated("mercury"))
    plan = relamp_plan(figures["hours_left"].drop_attrs(deep=False), lamp_hours, on, _AHEAD)
    return {
        "hours_on": on,
        "energy_per_year": cost["energy"] / _KILOWATT_HOUR,
        "lamps_per_year": plan["changes_per_year"],
        "next_change": plan["next_change"].where(lamp_hours.notnull()),
        "mercury_per_year": cost["mercury"],
        "cost_per_year": cost["total"],
    }


_SECONDS = 3600.0  # in an hour
_KILOWATT_HOUR = 3.6e6  # J
_AHEAD = "10 years"  # which the time until the next change does not depend on
