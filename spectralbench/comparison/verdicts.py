"""Verdicts: each criterion met, not met or not known, with the figure that decides, in words."""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np
import xarray as xr

from spectralbench.comparison.cautions import CAUTIONS
from spectralbench.comparison.requirement import Requirement
from spectralbench.units import for_people

MET, NOT_MET, NOT_KNOWN = "met", "not met", "not known"

RULE = (
    "First the sources that fail the fewest criteria, among them those with the fewest criteria not known, "
    "then the shortest exposure. No blended score."
)

_SUPERSCRIPTS = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_NEAR = 8.0  # nm; a source that peaks so near to the data sheet's wavelength is the one it means


@dataclass(frozen=True)
class _Criterion:
    """One line of the comparison: a figure against a limit."""

    name: str
    figure: str
    what: str
    limit: float = np.nan
    at_most: bool = False
    limit_is: str = "required"
    missing: str = "not measured"


def judge(figures: xr.Dataset, requirement: Requirement) -> xr.Dataset:
    """Hold figures against a requirement, and put the sources in order.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`. A further dimension, such as ``draw``, is
        judged by its mean.
    requirement : Requirement
        What the light has to do.

    Returns
    -------
    xarray.Dataset
        The figures with ``verdict`` and ``reason`` (source, criterion) as text and ``place``
        (source), 1 for what to test first. ``attrs``: ``rule`` of the order, ``advice`` in
        words, a sentence a line, ``not_measured`` and ``cautions`` (JSON lists).

    Examples
    --------
    >>> from spectralbench.comparison.figures import figures_at_bond_line
    >>> grid = {"wavelength": [364.0, 365.0, 366.0]}
    >>> light = xr.DataArray([[10.0] * 3], {"source": ["near 365"], **grid}, ("source", "wavelength"))
    >>> one = xr.DataArray([[0.5] * 3], grid, ("part", "wavelength"))
    >>> needed = Requirement(364, 366, minimum_irradiance=8.0, dose=20.0)
    >>> result = judge(figures_at_bond_line(light, one, one.rename(part="initiator"), needed), needed)
    >>> result.reason.sel(source="near 365", criterion="irradiance").item()
    '1 mW/cm² in 364–366 nm at the bond line, 1.25 times the 0.8 mW/cm² required'
    """
    criteria = _criteria(figures, requirement)
    names = [str(name) for name in figures.coords["source"].values]
    verdicts = np.empty((len(names), len(criteria)), dtype=object)
    reasons = verdicts.copy()
    in_band = _by_source(figures["band_irradiance"])
    bases = figures["end_of_life_basis"].values
    for column, criterion in enumerate(criteria):
        values = _by_source(figures[criterion.figure])
        for row, value in enumerate(values):
            invalid = str(figures["invalid"].values[row])
            if criterion.figure == "end_of_life_irradiance" and np.isfinite(in_band[row]):
                invalid = ""  # what is missing is the ageing
            units = figures[criterion.figure].attrs["units"]
            verdict, reason = _judged(criterion, value, units, invalid)
            if comment := figures[criterion.figure].attrs.get("comment"):
                reason = f"{reason} ({comment})"
            if criterion.figure == "end_of_life_irradiance" and verdict != NOT_KNOWN and bases[row]:
                reason = f"{reason} ({bases[row]})"
            verdicts[row, column], reasons[row, column] = verdict, reason
    result = figures.assign_coords(criterion=[criterion.name for criterion in criteria])
    result["verdict"] = (("source", "criterion"), verdicts.astype(str))
    result["reason"] = (("source", "criterion"), reasons.astype(str))
    result["place"] = ("source", _places(verdicts, _by_source(figures["exposure_time"])))
    result.attrs["rule"] = RULE
    result.attrs["advice"] = _advice(result, requirement)
    result.attrs["not_measured"] = json.dumps(_not_measured(result), ensure_ascii=False)
    result.attrs["cautions"] = json.dumps(CAUTIONS, ensure_ascii=False)
    return result


def _criteria(figures: xr.Dataset, requirement: Requirement) -> list[_Criterion]:
    band = f"in {requirement.low:g}–{requirement.high:g} nm"
    least = requirement.minimum_irradiance
    if requirement.data_sheet_wavelength is None:
        unknown_photons = "the requirement names no data sheet wavelength to compare with"
    else:
        unknown_photons = "the initiators absorb nothing at the data sheet's wavelength"
    criteria = [
        _Criterion("irradiance", "band_irradiance", f"{band} at the bond line", least),
        _Criterion(
            "photons",
            "absorbed_photons",
            "absorbed by the initiators",
            float(figures["required_photons"]),
            limit_is="that the data sheet's own condition gives",
            missing=unknown_photons,
        ),
        _Criterion(
            "end of life",
            "end_of_life_irradiance",
            f"{band} at the end of life",
            least,
            missing="it takes the hours of today and at the end, which is yet to come, "
            "and an ageing log or a stated output",
        ),
    ]
    if requirement.maximum_time is not None:
        criteria.append(
            _Criterion("time", "exposure_time", "of exposure", requirement.maximum_time, True, "allowed")
        )
    if requirement.maximum_irradiance is not None:
        limit = requirement.maximum_irradiance
        criteria.append(
            _Criterion("upper limit", "irradiance_at_bond", "at the bond line", limit, True, "allowed")
        )
    if requirement.maximum_temperature is not None:
        limit_celsius = requirement.maximum_temperature - 273.15
        criteria.append(
            _Criterion(
                "temperature",
                "unused_irradiance",
                "turns to heat without being used by an initiator",
                missing=f"the limit is {limit_celsius:.0f} °C and no temperature was measured: "
                "put a thermocouple into the trial",
            )
        )
    return criteria


def _judged(criterion: _Criterion, value: float, units: str, invalid: str) -> tuple[str, str]:
    """Verdict and reason of one source under one criterion."""
    if np.isnan(value):
        if invalid and not np.isnan(criterion.limit):
            return NOT_KNOWN, (
                f"pixels at {invalid}, which are not valid, belong to this figure: measure again, with a "
                "shorter integration time if they were saturated"
            )
        return NOT_KNOWN, criterion.missing
    if np.isinf(value):
        return (NOT_MET if criterion.at_most else MET), "nothing usable arrives at the bond line"
    figure = f"{in_words(value, units)} {criterion.what}"
    if np.isnan(criterion.limit):
        return NOT_KNOWN, f"{figure}; {criterion.missing}"
    ratio = value / criterion.limit
    times = f"{_three_digits(ratio)} times" if ratio >= 1 else f"{_three_digits(100 * ratio)} % of"
    against = f"{times} the {in_words(criterion.limit, units)} {criterion.limit_is}"
    met = ratio <= 1 if criterion.at_most else ratio >= 1
    return (MET if met else NOT_MET), f"{figure}, {against}"


def in_words(value: float, units: str) -> str:
    """A figure as a table prints it: three digits, in the unit that people use.

    Parameters
    ----------
    value : float
        In the package's own unit.
    units : str
        That unit.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> in_words(1234.5, "W m-2"), in_words(0.5, "1"), in_words(float("nan"), "s")
    ('123 mW/cm²', '50 %', 'not known')
    """
    if np.isnan(value):
        return NOT_KNOWN
    if np.isinf(value):
        return "never"
    label, factor = for_people(units)
    if units == "1":
        label, factor = "%", 100.0
    return f"{_three_digits(value * factor)} {label}".strip()


def _three_digits(number: float) -> str:
    """A number to three digits, and to the whole number above 100; powers of ten where it is far out."""
    if number == 0:
        return "0"
    if not 1e-3 <= abs(number) < 1e6:
        mantissa, exponent = f"{number:.2e}".split("e")
        return f"{mantissa}×10{str(int(exponent)).translate(_SUPERSCRIPTS)}"
    text = f"{number:.{max(0, 2 - int(np.floor(np.log10(abs(number)))))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _by_source(figure: xr.DataArray) -> np.ndarray:
    """One number for each source; the mean over every other dimension."""
    return np.asarray(figure.mean([d for d in figure.dims if d != "source"]).values, dtype=float)


def _places(verdicts: np.ndarray, exposures: np.ndarray) -> list[int]:
    """The place of each source under `RULE`."""
    keys = [
        (list(row).count(NOT_MET), list(row).count(NOT_KNOWN), np.inf if np.isnan(time) else time)
        for row, time in zip(verdicts, exposures, strict=True)
    ]
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return [order.index(i) + 1 for i in range(len(keys))]


def _advice(result: xr.Dataset, requirement: Requirement) -> str:
    """What to test first, and why, in a few sentences."""
    names = [str(name) for name in result.coords["source"].values]
    order = [int(i) for i in np.argsort(result["place"].values)]
    failed = {i: _named(result, i, NOT_MET) for i in order}
    exposures = _by_source(result["exposure_time"])
    open_ones = [i for i in order if not failed[i] and np.isnan(exposures[i])]
    worth = [i for i in order if not failed[i] and i not in open_ones]
    sentences = []
    if worth:
        best = worth[0]
        exposure = in_words(float(exposures[best]), "s")
        reason = str(result["reason"].values[best, 0])
        sentences.append(f"Test first: {names[best]}, for {exposure} and on both sides of it ({reason}).")
        if unknown := _named(result, best, NOT_KNOWN):
            sentences.append(f"Watch in the trial what is not known yet: {', '.join(unknown)}.")
        if len(worth) > 1:
            others = [f"{names[i]} ({in_words(float(exposures[i]), 's')})" for i in worth[1:]]
            sentences.append(f"Then: {'; '.join(others)}.")
    elif not open_ones:
        sentences.append("No source is worth a trial as it stands.")
    if open_ones:
        sentences.append(f"Measure again before a trial: {'; '.join(names[i] for i in open_ones)}.")
    for i in order:
        if failed[i]:
            column = list(result.coords["criterion"].values).index(failed[i][0])
            reason = str(result["reason"].values[i, column])
            sentences.append(f"{names[i]} fails {', '.join(failed[i])} ({reason}).")
    if named := requirement.data_sheet_wavelength:
        near = np.abs(_by_source(result["peak_wavelength"]) - named) <= _NEAR
        kept = np.where(near, _by_source(result["kept_share"]), np.nan)
        if np.isfinite(kept).any() and not near[order[0]]:
            most = int(np.nanargmax(kept))
            sentences.append(
                f"The data sheet speaks of {named:g} nm, but the part keeps {in_words(kept[most], '1')} "
                f"of the light of {names[most]}."
            )
    return "\n".join(sentences)


def _named(result: xr.Dataset, row: int, verdict: str) -> list[str]:
    """Criteria that have a verdict for one source."""
    hit = result["verdict"].values[row] == verdict
    return [str(name) for name in result.coords["criterion"].values[hit]]


def _not_measured(result: xr.Dataset) -> list[str]:
    """What a reader should not take for measured."""
    names = result.coords["source"].values
    items = []
    for criterion in result.coords["criterion"].values:
        open_for = [str(names[i]) for i in range(len(names)) if criterion in _named(result, i, NOT_KNOWN)]
        if open_for:
            everyone = len(open_for) == len(names)
            items.append(f"{criterion}: not known for {'any source' if everyone else '; '.join(open_for)}")
    items += [
        "intervals: the figures carry none yet, so two sources that differ by a few per cent are equal, and "
        "figures over all wavelengths add up the noise of pixels without light",
        "haze, and reflections between part and adhesive: the transmittance was measured in air, and a "
        "bonded face passes a few per cent more",
    ]
    return items
