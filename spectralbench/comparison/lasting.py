"""How long a source lasts: its output over the hours, and the setting that holds a requirement."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.ageing import FARTHEST, hours_held, output_left, setting_for
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.needed import exposure_with
from spectralbench.comparison.words import SURE


class Course(NamedTuple):
    """What is known of a source's output over its hours."""

    fit: xr.Dataset | None = None  # output against that of a new source
    now: float = np.nan  # hours of use, today
    end: float = np.nan  # when it is replaced
    basis: str = ""  # what the fit rests on, in words
    setting: float = 1.0  # in force when the source was measured
    heads: tuple[Course, ...] = ()  # of sources that shine together; the setting is that of the highest


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
        The figures with ``end_of_life_output`` [1] against today, and ``end_of_life_irradiance``
        [W m-2] and ``end_of_life_exposure`` [s], both at full setting; NaN where not known.
        ``end_of_life_basis`` (source) says what they rest on, ``end_of_life_measured`` (source) whether
        a log goes as far, ``end_of_life_passed`` (source) whether it should have been replaced, in words,
        and ``hours_to_end`` (source) when it is [h].

    Notes
    -----
    Output is held by feedback: as the source ages its setting rises, so that the end is judged at
    full setting. Of sources that shine together, all are taken to be at their ends, and to have lost as
    much as that which has lost most. A log does not say what happens beyond 6 times its last hour
    (`spectralbench.ageing.FARTHEST`).

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset(
    ...     {"band_irradiance": ("source", [810.0]), "dose_time": ("source", [5.0]),
    ...      "photon_time": ("source", [8.1]), "reciprocity": 1.0},
    ...     {"source": ["arc"]},
    ... )
    >>> found = lasting(light, {"arc": Course(fit, now=2000, end=4000)})
    >>> round(found.end_of_life_irradiance.item(), 6), round(found.end_of_life_exposure.item(), 6)
    (656.1, 10.0)
    """
    names, known = known_courses(figures, courses)
    left = _labelled([_left(course) for course in known], names, "end_of_life_output")
    settings = xr.DataArray([course.setting for course in known], dims="source")
    raised = left.drop_attrs(deep=False) / settings  # against the light of today, at today's setting
    found = {
        "end_of_life_output": left,
        "end_of_life_irradiance": full_irradiance(figures, known) * left,
        "end_of_life_exposure": exposure_with(figures, raised),
    }
    found = {
        name: array.drop_attrs(deep=False).assign_attrs(FIGURES[name]._asdict())
        for name, array in found.items()
    }
    found["end_of_life_basis"] = xr.DataArray([_basis(course) for course in known], dims="source")
    found["end_of_life_measured"] = xr.DataArray([_is_measured(course) for course in known], dims="source")
    found["end_of_life_passed"] = xr.DataArray([_passed(course) for course in known], dims="source")
    said = {"units": "h", "long_name": "hours until it is replaced"}
    found["hours_to_end"] = xr.DataArray([_to_end(course) for course in known], dims="source", attrs=said)
    return figures.assign(found)


def regulated(figures: xr.Dataset, courses: Mapping[str, Course]) -> xr.Dataset:
    """Add to the figures at which setting each source does the job, and for how long.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `lasting`, with the ``needed_irradiance`` of `needed_light`.
    courses : mapping of str to Course
        As for `lasting`.

    Returns
    -------
    xarray.Dataset
        The figures with ``setting_today`` and ``setting_at_end`` [1], the smallest settings in
        steps of 1 % that give what is needed in 95 % of the draws, infinite if none does, and
        ``hours_left`` [h] until full setting no longer suffices, at most until the source is
        replaced or as far as its log says anything; NaN where not known. ``hours_left_basis``
        (source) says what they rest on.

    Notes
    -----
    The light goes with the setting in proportion.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> light = xr.Dataset(
    ...     {"band_irradiance": ("source", [810.0]), "needed_irradiance": ("source", [656.1]),
    ...      "end_of_life_irradiance": ("source", [590.49])},
    ...     {"source": ["arc"]},
    ... )
    >>> found = regulated(light, {"arc": Course(fit, now=2000, end=5000)})
    >>> round(found.hours_left.item(), 6), found.setting_today.item(), found.setting_at_end.item()
    (2000.0, 0.81, inf)
    """
    names, known = known_courses(figures, courses)
    required, full = figures["needed_irradiance"], full_irradiance(figures, known)
    at_end = figures["end_of_life_irradiance"].drop_attrs(deep=False)
    hours = [
        _hours_left(required.isel(source=i, drop=True), full.isel(source=i, drop=True), course)
        for i, course in enumerate(known)
    ]
    found = {
        "setting_today": _sure(setting_for(required, full)),
        "setting_at_end": _sure(setting_for(required, at_end)),
        "hours_left": _labelled(hours, names, "hours_left"),
    }
    found = {
        name: array.drop_attrs(deep=False).assign_attrs(FIGURES[name]._asdict())
        for name, array in found.items()
    }
    bases = [_basis_of_hours(course) for course in known]
    return figures.assign(found).assign(hours_left_basis=("source", bases))


def _basis_of_hours(course: Course) -> str:
    """What the hours left rest on, in words."""
    if course.heads and all(_is_known(head) for head in course.heads):
        return "at least, each head as weak as the one that loses most"
    if course.fit is not None and _ends(course) and not _is_known(course):
        return f"at least: {_basis(course)}"
    return _basis(course)


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
    full = (figures["band_irradiance"].drop_attrs(deep=False) / settings).clip(min=0)
    return full.assign_attrs(units="W m-2")


def _ends(course: Course) -> bool:
    """Whether the output of a source is known from today to its end."""
    return course.fit is not None and course.now <= course.end


def _is_known(course: Course) -> bool:
    """Whether anything is said of the end of a source."""
    return _ends(course) and course.end <= _trusted(course)


def _passed(course: Course) -> str:
    """That a source, or one of several heads, has passed the hours at which it is replaced; empty if not."""
    if course.heads:
        over = [f"{head.end:g} h" for head in course.heads if head.now > head.end]
        return f"the end of life of a head, {' and '.join(over)}, has passed: replace it" if over else ""
    return f"its end of life, {course.end:g} h, has passed: replace it" if course.now > course.end else ""


def _to_end(course: Course) -> float:
    """Hours until a source, or the first of several heads, is replaced; NaN if nobody says when."""
    if course.heads:
        return min(map(_to_end, course.heads))
    return max(course.end - course.now, 0.0)


def _is_measured(course: Course) -> bool:
    """Whether a log goes as far as the end of a source; of several heads, that of each."""
    if course.heads:
        return all(_is_measured(head) for head in course.heads)
    return course.fit is not None and course.end <= float(course.fit["longest"]) < np.inf


_UNKNOWN = "nothing is stated of its output over its hours"


def _trusted(course: Course) -> float:
    """The last hour of use of which anything is said [h]."""
    assert course.fit is not None
    return FARTHEST * float(course.fit["longest"])


def _basis(course: Course) -> str:
    """What is known of the end of a source rests on, in words; or why nothing is."""
    if course.heads and all(_is_known(head) for head in course.heads):
        return "all heads at their ends, each as weak as the one that loses most"
    if course.fit is None:
        return course.basis or _UNKNOWN
    if passed := _passed(course):
        return passed
    if course.end > _trusted(course):
        return f"{course.basis}: beyond {FARTHEST:g} times, {_trusted(course):g} h, it says nothing"
    return course.basis


def _left(course: Course) -> xr.DataArray:
    """Output at the end against that of today [1]; of several heads, that of the weakest."""
    if course.heads:
        each = [_left(head) for head in course.heads]
        return xr.concat(xr.broadcast(*each), "head").min("head", skipna=False)
    if course.fit is None or not _is_known(course):
        return xr.DataArray(np.nan)
    left = output_left(course.fit, course.end, course.now).clip(max=1)  # a rise is not drawn on
    return left.reset_coords(drop=True).drop_attrs(deep=False)


def _hours_left(required: xr.DataArray, full: xr.DataArray, course: Course) -> xr.DataArray:
    """Hours until full setting no longer suffices, at most until the source is replaced [h].

    Heads that shine together last at least until the first of them has lost what all may lose.
    """
    if course.heads:
        each = [_hours_left(required, full, head) for head in course.heads]
        return xr.concat(xr.broadcast(*each), "head").min("head", skipna=False)
    if course.fit is None:
        return xr.DataArray(np.nan)
    if not _ends(course):
        return xr.zeros_like(full).where(full.notnull())
    longest = max(min(course.end, _trusted(course)) - course.now, 0.0)
    return hours_held(course.fit, required, full, course.now).clip(max=longest)


def _labelled(each: list[xr.DataArray], names: list[str], name: str) -> xr.DataArray:
    """One array by source."""
    plain = [one.reset_coords(drop=True).drop_attrs(deep=False) for one in each]
    result = xr.concat(xr.broadcast(*plain), xr.DataArray(names, dims="source", name="source"))
    return result.assign_attrs(FIGURES[name]._asdict())


def _sure(setting: xr.DataArray) -> xr.DataArray:
    """The setting that suffices in 95 % of the draws: one that a knob has, not a mean of several."""
    if "draw" not in setting.dims:
        return setting
    return setting.quantile(SURE, "draw", method="higher", skipna=False).drop_vars("quantile")
