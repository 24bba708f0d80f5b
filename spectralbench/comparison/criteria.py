"""What a practitioner weighs, one criterion after the other: a figure, and the limit it is held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from spectralbench.comparison.remarks import (
    at_the_end,
    by_initiator,
    hottest,
    needed_for,
    shares_on_bond,
    where_lit,
)
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import Said, by_source, in_words, said_of


@dataclass(frozen=True)
class Criterion:
    """One line of the comparison: a figure against a limit.

    Parameters
    ----------
    name, figure : str
        What it is called, and the figure that it looks at.
    what : str
        What the figure is, behind its number.
    limit : float or xarray.DataArray ([source], [draw])
        In the figure's unit; NaN for one that is not known.
    at_most : bool
        Whether the figure has to stay below.
    limit_is : str
        What the limit is, behind its number.
    missing : str
        What is said where the figure or the limit is not known.
    remarks : sequence of str
        On each source's figure.
    shown : bool
        Whether nothing was required: then the figure stands there for those who weigh it.
    doubtful : bool
        Whether missing the limit leaves the matter open: the figure is a lower one of two.
    by_pixels : bool
        Whether the figure is not known where pixels are not valid.
    rests_on : sequence of str
        Figures of what has to arrive: where more of it may arrive than is known, a miss is none.
    """

    name: str
    figure: str
    what: str
    limit: float | xr.DataArray = np.nan
    at_most: bool = False
    limit_is: str = "required"
    missing: str = "not measured"
    remarks: Sequence[str] = ()
    shown: bool = False
    doubtful: bool = False
    by_pixels: bool = True
    rests_on: Sequence[str] = ()

    def limits(self, figures: xr.Dataset) -> np.ndarray:
        """The limit of each source: the mean over the draws, or their median if some are infinite."""
        limit = xr.broadcast(xr.DataArray(self.limit), figures.coords["source"])[0]
        mean = by_source(limit)
        return np.where(np.isinf(mean), limit.median(set(limit.dims) - {"source"}), mean)

    def drawn_limits(self, figures: xr.Dataset) -> list[Said]:
        """The limit of each source with its interval, if it is drawn."""
        return said_of(xr.broadcast(xr.DataArray(self.limit), figures.coords["source"])[0])


def criteria_of(figures: xr.Dataset, requirement: Requirement) -> list[Criterion]:
    """The criteria of a comparison: first what was required, then what else is to be weighed.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, as for `spectralbench.comparison.judge`.
    requirement : Requirement
        What the light has to do.

    Returns
    -------
    list of Criterion
        Those whose figure is there; what was required of a figure that is missing is not known.

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 365.0, 366.0]}
    >>> from spectralbench.comparison.figures import figures_at_bond_line
    >>> light = xr.DataArray([[10.0] * 3], {"source": ["near 365"], **grid}, ("source", "wavelength"))
    >>> one = xr.DataArray([[0.5] * 3], grid, ("part", "wavelength"))
    >>> needed = Requirement(364, 366, minimum_irradiance=8.0, dose=20.0, maximum_time=3.0)
    >>> found = figures_at_bond_line(light, one, one.rename(part="initiator"), needed)
    >>> [criterion.name for criterion in criteria_of(found, needed) if not criterion.shown]
    ['irradiance', 'photons', 'time']
    """
    every = [*_light(figures, requirement), *_exposure(figures, requirement), *_source(figures, requirement)]
    return sorted(every, key=lambda criterion: criterion.shown)  # which keeps the order of each kind


_ARRIVING = ("band_irradiance", "absorbed_photons", "photons_at_back")

OF_LATER = ("end of life", "life")
"""Criteria on the end of a source; all others are of today."""


def _light(figures: xr.Dataset, requirement: Requirement) -> list[Criterion]:
    """What arrives, and what can use it."""
    band = f"in {requirement.low:g}–{requirement.high:g} nm"
    least, required = requirement.minimum_irradiance, figures["required_photons"]
    if requirement.data_sheet_wavelength is None:
        unknown_photons = "the requirement names no data sheet wavelength to compare with"
    else:
        unknown_photons = "the initiators absorb nothing at the data sheet's wavelength"
    criteria = [
        Criterion(
            "irradiance",
            "band_irradiance",
            f"{band} at the bond line",
            least,
            remarks=where_lit(figures),
            rests_on=_ARRIVING[:1],
        ),
        Criterion(
            "photons",
            "absorbed_photons",
            "absorbed by the initiators",
            required,
            limit_is="that the data sheet's own condition gives",
            missing=unknown_photons,
            remarks=by_initiator(figures),
            rests_on=_ARRIVING[1:2],
        ),
    ]
    if "photons_at_back" in figures:
        taken = figures["required_at_back"]
        criteria.append(
            Criterion(
                "oxygen",
                "photons_at_back",
                "absorbed at the back of the bond line",
                taken,
                limit_is="that oxygen uses up, as was seen at the data sheet's wavelength",
                missing=unknown_photons,
                rests_on=_ARRIVING[2:],
            )
        )
    if "band_irradiance_regular" in figures:
        criteria.append(
            Criterion(
                "scattered light",
                "band_irradiance_regular",
                f"{band} at the bond line, if nothing that the part scatters gets there",
                least,
                doubtful=True,
            )
        )
    criteria.append(
        _weighed(
            "spectrum match",
            "spectrum_match",
            "of the light at the bond line is used by initiators",
            requirement.minimum_match,
            by_pixels=True,
        )
    )
    criteria.append(
        _weighed(
            "peak irradiance", "irradiance_at_part", "at the part, in the middle of the spot", by_pixels=True
        )
    )
    if "spot_size" in figures:
        criteria.append(
            _weighed(
                "spot",
                "spot_size",
                "wide at half of its highest irradiance",
                requirement.bond_width if requirement.speed is None else None,  # a scan along the travel
                limit_is="of the bond",
                missing="no scan across the beam where it stands, and no spot is stated",
                remarks=shares_on_bond(figures),
            )
        )
    return criteria


def _exposure(figures: xr.Dataset, requirement: Requirement) -> list[Criterion]:
    """How long it takes, and what it heats."""
    criteria = []
    if requirement.maximum_time is not None and requirement.speed is None:  # a part that travels has no time
        criteria.append(
            Criterion(
                "time",
                "exposure_time",
                "of exposure",
                requirement.maximum_time,
                True,
                "allowed",
                rests_on=_ARRIVING,
            )
        )
    if requirement.speed is not None and "fastest_speed" in figures:
        times = f" in {requirement.passes} passes" if requirement.passes > 1 else ""
        criteria.append(
            Criterion(
                "travel",
                "fastest_speed",
                f"at most{times}",
                requirement.speed,
                missing="a part that travels takes a scan along its way (profile)",
                rests_on=_ARRIVING,
            )
        )
    if requirement.maximum_irradiance is not None:
        limit = requirement.maximum_irradiance
        criteria.append(
            Criterion(
                "upper limit",
                "irradiance_at_bond",
                "at the bond line, in the middle of the spot",
                limit,
                True,
                "allowed",
            )
        )
    if requirement.maximum_temperature is not None:
        criteria.append(_temperature(figures, requirement.maximum_temperature))
    elif "peak_temperature" in figures:
        criteria.append(
            _weighed("temperature", "peak_temperature", "at the end of one exposure", by_pixels=True)
        )
    return criteria


def _source(figures: xr.Dataset, requirement: Requirement) -> list[Criterion]:
    """How long the source lasts, and what it takes to run it."""
    criteria = []
    if "end_of_life_irradiance" in figures:
        criteria.append(
            Criterion(
                "end of life",
                "end_of_life_irradiance",
                f"in {requirement.low:g}–{requirement.high:g} nm at the end of life",
                figures["needed_irradiance"],
                limit_is=needed_for(figures, requirement),
                remarks=at_the_end(figures),
                rests_on=_ARRIVING,
            )
        )
    if "hours_left" in figures:
        criteria.append(
            _weighed(
                "life",
                "hours_left",
                "until full setting no longer suffices, or it is replaced",
                requirement.minimum_life,
                remarks=figures["hours_left_basis"].values.tolist(),
                by_pixels=True,
                rests_on=_ARRIVING,
            )
        )
    for name, figure, what, limit, missing in (
        (
            "running power",
            "electrical_power",
            "while it is on",
            requirement.maximum_power,
            "it is not stated",
        ),
        ("mercury", "mercury", "in one lamp", requirement.maximum_mercury, "it is not stated"),
        (
            "running cost",
            "cost_per_year",
            "in a year for energy, lamps and their disposal",
            None,
            "not known",
        ),
    ):
        if figure in figures:
            why = name == "running cost" and "cost_missing" in figures
            remarks = figures["cost_missing"].values.tolist() if why else ()
            criteria.append(
                _weighed(name, figure, what, limit, at_most=True, missing=missing, remarks=remarks)
            )
    return criteria


def _weighed(
    name: str,
    figure: str,
    what: str,
    limit: float | None = None,
    *,
    at_most: bool = False,
    limit_is: str = "",
    missing: str = "not known",
    remarks: Sequence[str] = (),
    by_pixels: bool = False,
    rests_on: Sequence[str] = (),
) -> Criterion:
    """A criterion that decides if a limit was stated, and is shown if none was."""
    said = limit_is or ("allowed" if at_most else "required")
    return Criterion(
        name,
        figure,
        what,
        np.nan if limit is None else limit,
        at_most,
        said,
        missing,
        remarks=remarks,
        shown=limit is None,
        by_pixels=by_pixels,
        rests_on=rests_on,
    )


def _temperature(figures: xr.Dataset, limit: float) -> Criterion:
    if "peak_temperature" in figures:
        return Criterion(
            "temperature",
            "peak_temperature",
            "at the end of one exposure",
            limit,
            at_most=True,
            limit_is="allowed",
            missing="the exposure is not known, or has no end",
            remarks=hottest(figures),
        )
    return Criterion(
        "temperature",
        "unused_irradiance",
        "turns to heat without being used by an initiator",
        missing=f"the limit is {in_words(limit, 'K')} and no temperature was measured: put a thermocouple "
        "into the trial, or state what part, adhesive and backing are made of",
    )
