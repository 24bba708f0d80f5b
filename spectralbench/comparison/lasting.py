"""How long a source lasts: its output over the hours, and the setting that holds a requirement."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.ageing import hours_held, output_left, setting_for
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import SURE


class Course(NamedTuple):
    """What is known of a source's output over its hours."""

    fit: xr.Dataset | None = None  # output against that of a new source
    now: float = np.nan  # hours of use, today
    end: float = np.nan  # when it is replaced
    basis: str = ""  # what the fit rests on, in words
    setting: float = 1.0  # in force when the source was measured


def lasting(figures: xr.Dataset, courses: Mapping[str, Course]) -> xr.Dataset:
    """Add to the figures what is left of each source at the end of its life.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws.
    courses : mapping of str to Course
        By the name of the source, as far as something is known.

    Returns
    -------
    xarray.Dataset
        The figures with ``end_of_life_output`` [1] against today and ``end_of_life_irradiance``
        [W m-2] at full setting; NaN where not known. ``end_of_life_basis`` (source) says what they
        rest on.

    Notes
    -----
    Output is held by feedback: as the source ages its setting rises, so that the end is judged at
    full setting.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset({"band_irradiance": ("source", [810.0])}, {"source": ["arc"]})
    >>> found = lasting(light, {"arc": Course(fit, now=2000, end=4000)})
    >>> round(found.end_of_life_irradiance.item(), 6)
    656.1
    """
    names, known = known_courses(figures, courses)
    left = _labelled([_left(course) for course in known], names, "end_of_life_output")
    at_end = full_irradiance(figures, known) * left
    at_end.attrs = FIGURES["end_of_life_irradiance"]._asdict()
    told = [course.basis if course.fit is None or _ends(course) else _over(course) for course in known]
    basis = xr.DataArray(told, dims="source")
    found = {"end_of_life_output": left, "end_of_life_irradiance": at_end, "end_of_life_basis": basis}
    return figures.assign(found)


def regulated(figures: xr.Dataset, requirement: Requirement, courses: Mapping[str, Course]) -> xr.Dataset:
    """Add to the figures at which setting each source holds the requirement, and for how long.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `lasting`.
    requirement : Requirement
        What the light has to do.
    courses : mapping of str to Course
        As for `lasting`.

    Returns
    -------
    xarray.Dataset
        The figures with ``setting_today`` and ``setting_at_end`` [1], the smallest settings in
        steps of 1 % that hold the irradiance in 95 % of the draws, infinite if none does, and
        ``hours_left`` [h] until full setting no longer suffices, at most until the source is
        replaced; NaN where not known.

    Notes
    -----
    The irradiance goes with the setting in proportion.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset({"band_irradiance": ("source", [810.0])}, {"source": ["arc"]})
    >>> courses = {"arc": Course(fit, now=2000, end=5000)}
    >>> needed = Requirement(320, 430, minimum_irradiance=656.1, dose=1.0)
    >>> found = regulated(lasting(light, courses), needed, courses)
    >>> round(found.hours_left.item(), 6), found.setting_today.item(), found.setting_at_end.item()
    (2000.0, 0.81, inf)
    """
    names, known = known_courses(figures, courses)
    required, full = requirement.minimum_irradiance, full_irradiance(figures, known)
    at_end = figures["end_of_life_irradiance"].drop_attrs()
    hours = [_hours_left(required, full.isel(source=i, drop=True), course) for i, course in enumerate(known)]
    found = {
        "setting_today": _sure(setting_for(required, full)),
        "setting_at_end": _sure(setting_for(required, at_end)),
        "hours_left": _labelled(hours, names, "hours_left"),
    }
    return figures.assign(
        {name: array.drop_attrs().assign_attrs(FIGURES[name]._asdict()) for name, array in found.items()}
    )


def known_courses(figures: xr.Dataset, courses: Mapping[str, Course]) -> tuple[list[str], list[Course]]:
    """Names of the sources, and the course of each; one of which nothing is known where there is none.

    Examples
    --------
    >>> known_courses(xr.Dataset(coords={"source": ["arc"]}), {})[0]
    ['arc']
    """
    names = [str(name) for name in figures.coords["source"].values]
    return names, [courses.get(name, Course()) for name in names]


def full_irradiance(figures: xr.Dataset, known: list[Course]) -> xr.DataArray:
    """Irradiance in the band at full setting; noise of a dark band may lie below 0, and counts as none.

    Examples
    --------
    >>> light = xr.Dataset({"band_irradiance": ("source", [810.0, -1.0])})
    >>> full_irradiance(light, [Course(setting=0.5), Course()]).values.tolist()
    [1620.0, 0.0]
    """
    settings = xr.DataArray([course.setting for course in known], dims="source")
    full = (figures["band_irradiance"].drop_attrs() / settings).clip(min=0)
    return full.assign_attrs(units="W m-2")


def _ends(course: Course) -> bool:
    """Whether the output of a source is known from today to its end."""
    return course.fit is not None and course.now <= course.end


def _over(course: Course) -> str:
    return f"its end of life, {course.end:g} h, has passed: replace it"


def _left(course: Course) -> xr.DataArray:
    """Output at the end against that of today [1]."""
    if course.fit is None or not _ends(course):
        return xr.DataArray(np.nan)
    return output_left(course.fit, course.end, course.now).clip(max=1)  # a rise is not drawn on


def _hours_left(required: float, full: xr.DataArray, course: Course) -> xr.DataArray:
    """Hours until full setting no longer suffices, at most until the source is replaced [h]."""
    if course.fit is None:
        return xr.DataArray(np.nan)
    if not _ends(course):
        return xr.zeros_like(full).where(full.notnull())
    return hours_held(course.fit, required, full, course.now).clip(max=course.end - course.now)


def _labelled(each: list[xr.DataArray], names: list[str], name: str) -> xr.DataArray:
    """One array by source."""
    plain = [one.reset_coords(drop=True).drop_attrs() for one in each]
    result = xr.concat(xr.broadcast(*plain), xr.DataArray(names, dims="source", name="source"))
    return result.assign_attrs(FIGURES[name]._asdict())


def _sure(setting: xr.DataArray) -> xr.DataArray:
    """The setting that suffices in 95 % of the draws: one that a knob has, not a mean of several."""
    if "draw" not in setting.dims:
        return setting
    return setting.quantile(SURE, "draw", method="higher", skipna=False).drop_vars("quantile")
