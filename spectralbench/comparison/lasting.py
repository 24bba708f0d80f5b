"""How long a source lasts: its output over the hours, and the setting that holds a requirement."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.ageing import hours_until, output_at, setting_for
from spectralbench.comparison.figures import FIGURES
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import SURE


class Course(NamedTuple):
    """What is known of a source's output over its hours."""

    fit: xr.Dataset | None = None  # output against that of a new source
    now: float = np.nan  # hours of use, today
    end: float = np.nan  # when it is replaced
    basis: str = ""  # what the fit rests on, in words
    setting: float = 1.0  # in force when the source was measured


def lasting(figures: xr.Dataset, requirement: Requirement, courses: Mapping[str, Course]) -> xr.Dataset:
    """Add to the figures how long each source holds the requirement, and at which setting.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws.
    requirement : Requirement
        What the light has to do.
    courses : mapping of str to Course
        By the name of the source, as far as something is known.

    Returns
    -------
    xarray.Dataset
        The figures with ``setting_today`` and ``setting_at_end`` [1], the smallest settings in
        steps of 1 % that hold the irradiance in 95 % of the draws, infinite if none does;
        ``end_of_life_output`` [1] against today, ``end_of_life_irradiance`` [W m-2] at full setting,
        ``hours_left`` [h] until full setting no longer suffices, at most until it is replaced; NaN
        where not known. ``end_of_life_basis`` (source) says what they rest on.

    Notes
    -----
    The irradiance goes with the setting in proportion, and output is held by feedback: as the
    source ages, its setting rises, and the regulation ends at 100 %.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset({"band_irradiance": ("source", [810.0])}, {"source": ["arc"]})
    >>> needed = Requirement(320, 430, minimum_irradiance=656.1, dose=1.0)
    >>> found = lasting(light, needed, {"arc": Course(fit, now=2000, end=4000)})
    >>> round(found.hours_left.item(), 6), found.setting_today.item(), found.setting_at_end.item()
    (2000.0, 0.81, 1.0)
    """
    names = [str(name) for name in figures.coords["source"].values]
    known = [courses.get(name, Course()) for name in names]
    required = requirement.minimum_irradiance
    each = [
        _of_one(figures["band_irradiance"].isel(source=i, drop=True).drop_attrs(), required, course)
        for i, course in enumerate(known)
    ]
    along = xr.DataArray(names, dims="source", name="source")
    found = {name: xr.concat(xr.broadcast(*(one[name] for one in each)), along) for name in each[0]}
    for name, array in found.items():
        units, label, long_name = FIGURES[name]
        array.attrs = {"units": units, "label": label, "long_name": long_name}
    basis = xr.DataArray([course.basis for course in known], dims="source")
    return figures.assign({**found, "end_of_life_basis": basis})


def _of_one(in_band: xr.DataArray, required: float, course: Course) -> dict[str, xr.DataArray]:
    full = (in_band / course.setting).clip(min=0)  # noise of a dark band lies below
    today = _sure(setting_for(required, full))
    unknown = xr.full_like(full, np.nan)
    found = {"setting_today": today}
    later = ("end_of_life_output", "end_of_life_irradiance", "setting_at_end", "hours_left")
    if course.fit is None or not course.now <= course.end:
        return found | dict.fromkeys(later, unknown)
    now = output_at(course.fit, course.now)
    left = output_at(course.fit, course.end) / now
    at_end = full * left
    needed = now * required / full.where(full > 0)  # of a new source's output
    with np.errstate(divide="ignore"):  # without light no output is enough
        until = hours_until(course.fit, needed.fillna(np.inf)) - course.now
    hours = until.clip(min=0, max=course.end - course.now).where(full.notnull())
    values = (left, at_end, _sure(setting_for(required, at_end.drop_attrs())), hours)
    return found | dict(zip(later, values, strict=True))


def _sure(setting: xr.DataArray) -> xr.DataArray:
    """The setting that suffices in 95 % of the draws: one that a knob has, not a mean of several."""
    if "draw" not in setting.dims:
        return setting
    return setting.quantile(SURE, "draw", method="higher", skipna=False).drop_vars("quantile")
