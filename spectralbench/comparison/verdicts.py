"""Verdicts: each criterion met, not met or not known, with the figure that decides, in words."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from spectralbench.comparison.advice import advice, not_measured
from spectralbench.comparison.cautions import CAUTIONS
from spectralbench.comparison.changes import (
    Means,
    less_light,
    light_needed,
    more_light,
    warmest,
    weaker_and_longer,
)
from spectralbench.comparison.heating import Stack
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import (
    MET,
    NOT_KNOWN,
    NOT_MET,
    SURE,
    Said,
    by_source,
    in_words,
    percent,
    said_of,
    three_digits,
)

RULE = (
    "First the sources that fail the fewest criteria, among them those with the fewest criteria not known, "
    "then the shortest exposure. No blended score."
)
RULE_OF_DRAWS = (
    "A criterion is met if at least 95 % of the draws meet it, and not met if at most 5 % do; between, it is "
    "not known (a guarded decision, JCGM 106:2012)."
)


_NOTICED = 1e-3  # share of the photons from which an initiator is worth a number


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
    drawn: xr.DataArray | None = None  # the limit, if it has draws
    remarks: Sequence[str] = ()  # on each source's figure


def judge(
    figures: xr.Dataset,
    requirement: Requirement,
    gaps: Sequence[str] = (),
    means: Mapping[str, Means] | None = None,
    stack: Stack | None = None,
) -> xr.Dataset:
    """Hold figures against a requirement, and put the sources in order.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws, and with what `lasting` and
        `heating` add to them; a criterion of a figure that is not there is left out.
    requirement : Requirement
        What the light has to do.
    gaps : sequence of str
        Inputs for which no uncertainty was stated.
    means : mapping of str to Means, optional
        By the name of a source, what can be changed about it.
    stack : Stack, optional
        What the light warms.

    Returns
    -------
    xarray.Dataset
        The figures with ``verdict``, ``reason`` and ``change`` (source, criterion) as text, the last
        one the nearest change that would meet a criterion that is not met, and ``place`` (source),
        1 for what to test first. With draws, ``share_met`` (source, criterion) is the
        share of them that meets a criterion [1], and ``share_ahead`` (source, other) that in
        which a source has the shorter exposure [1]. ``attrs``: ``rule`` of the order,
        ``advice`` in words, a sentence a line, ``not_measured`` and ``cautions`` (JSON lists).

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
    reasons, shares = verdicts.copy(), np.full(verdicts.shape, np.nan)
    in_band = by_source(figures["band_irradiance"])
    for column, criterion in enumerate(criteria):
        said = said_of(figures[criterion.figure])
        met = _share_met(figures[criterion.figure], criterion)
        for row, value in enumerate(said):
            invalid = str(figures["invalid"].values[row])
            if criterion.figure == "end_of_life_irradiance" and np.isfinite(in_band[row]):
                invalid = ""  # what is missing is the ageing
            units = figures[criterion.figure].attrs["units"]
            verdict, reason = _judged(criterion, value, met[row], units, invalid)
            if comment := figures[criterion.figure].attrs.get("comment"):
                reason = f"{reason} ({comment})"
            if criterion.remarks and np.isfinite(value.value) and criterion.remarks[row]:
                reason = f"{reason} ({criterion.remarks[row]})"
            verdicts[row, column], reasons[row, column] = verdict, reason
            shares[row, column] = np.nan if np.isnan(criterion.limit) else met[row]
    result = figures.assign_coords(criterion=[criterion.name for criterion in criteria])
    result["verdict"] = (("source", "criterion"), verdicts.astype(str))
    result["reason"] = (("source", "criterion"), reasons.astype(str))
    changes = [
        _changes(result.isel(source=[row]), criteria, verdicts[row], (means or {}).get(name, Means()), stack)
        for row, name in enumerate(names)
    ]
    result["change"] = (("source", "criterion"), np.array(changes, dtype=str).reshape(verdicts.shape))
    result["place"] = ("source", _places(verdicts, by_source(figures["exposure_time"])))
    drawn = "draw" in figures["exposure_time"].dims
    if drawn:
        result["share_met"] = (("source", "criterion"), shares, {"units": "1", "long_name": "share of draws"})
        result["share_ahead"] = _share_ahead(figures["exposure_time"])
    result.attrs["rule"] = f"{RULE} {RULE_OF_DRAWS}" if drawn else RULE
    result.attrs["advice"] = advice(result, requirement)
    result.attrs["not_measured"] = json.dumps(not_measured(result, gaps), ensure_ascii=False)
    result.attrs["cautions"] = json.dumps(CAUTIONS, ensure_ascii=False)
    return result


def _criteria(figures: xr.Dataset, requirement: Requirement) -> list[_Criterion]:
    band = f"in {requirement.low:g}–{requirement.high:g} nm"
    least, required = requirement.minimum_irradiance, figures["required_photons"]
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
            float(required.mean()),
            drawn=required if "draw" in required.dims else None,
            limit_is="that the data sheet's own condition gives",
            missing=unknown_photons,
            remarks=_by_initiator(figures),
        ),
    ]
    if "end_of_life_irradiance" in figures:
        criteria.append(
            _Criterion(
                "end of life",
                "end_of_life_irradiance",
                f"{band} at the end of life",
                least,
                missing="it takes the hours of today and at the end, which is yet to come, "
                "and an ageing log or a stated output",
                remarks=figures["end_of_life_basis"].values.tolist(),
            )
        )
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
        criteria.append(_temperature(figures, requirement.maximum_temperature))
    return criteria


def _by_initiator(figures: xr.Dataset) -> list[str]:
    """Which initiator takes the photons of each source, if there are several."""
    photons = figures["photons_by_initiator"]
    photons = photons.mean([name for name in photons.dims if name not in ("source", "initiator")])
    shares = (photons / photons.sum("initiator")).transpose("source", "initiator").values
    if shares.shape[1] < 2:
        return [""] * len(shares)
    names = [str(name) for name in photons.coords["initiator"].values]
    return [
        ", ".join(
            f"{name} takes {in_words(share, '1') if share >= _NOTICED else 'next to none'}"
            for name, share in zip(names, row, strict=True)
        )
        if np.isfinite(row).all()
        else ""
        for row in shares
    ]


def _temperature(figures: xr.Dataset, limit: float) -> _Criterion:
    if "peak_temperature" in figures:
        return _Criterion(
            "temperature",
            "peak_temperature",
            "at the end of one exposure",
            limit,
            at_most=True,
            limit_is="allowed",
            missing="the exposure is not known, or has no end",
            remarks=[
                f"hottest in {layer}; computed, not measured" for layer in figures["hottest"].values.tolist()
            ],
        )
    return _Criterion(
        "temperature",
        "unused_irradiance",
        "turns to heat without being used by an initiator",
        missing=f"the limit is {in_words(limit, 'K')} and no temperature was measured: put a thermocouple "
        "into the trial, or state what part, adhesive and backing are made of",
    )


def _changes(
    figures: xr.Dataset, criteria: list[_Criterion], verdicts: np.ndarray, means: Means, stack: Stack | None
) -> list[str]:
    """For one source, what would meet each criterion that is not met; empty where nobody can say."""
    found = []
    for criterion, verdict in zip(criteria, verdicts, strict=True):
        text = ""
        limit = criterion.limit if criterion.drawn is None else criterion.drawn
        known = np.isfinite(criterion.limit) and not np.isnan(by_source(figures[criterion.figure])[0])
        if verdict != MET and known:
            if criterion.name == "temperature" and stack is not None:
                exposure = float(by_source(figures["exposure_time"])[0])
                text = weaker_and_longer(
                    lambda share: warmest(figures, stack, share), criterion.limit, exposure
                )
            elif (factor := light_needed(figures, criterion.name, limit)) is not None:
                wanted = float(factor.item())
                text = less_light(wanted, means) if wanted < 1 else more_light(wanted, means)
        found.append(text)
    return found


def _judged(criterion: _Criterion, said: Said, share: float, units: str, invalid: str) -> tuple[str, str]:
    """Verdict and reason of one source under one criterion."""
    value = said.value
    if np.isnan(value):
        if invalid and not np.isnan(criterion.limit):
            return NOT_KNOWN, (
                f"pixels at {invalid}, which are not valid, belong to this figure: measure again, with a "
                "shorter integration time if they were saturated"
            )
        return NOT_KNOWN, criterion.missing
    if np.isinf(value) and not np.isfinite(said.low):
        return (NOT_MET if criterion.at_most else MET), "nothing usable arrives at the bond line"
    figure = f"{in_words(value, units, said.low, said.high)} {criterion.what}"
    if np.isnan(criterion.limit):
        return NOT_KNOWN, f"{figure}; {criterion.missing}"
    ratio = value / criterion.limit
    if np.isinf(ratio) or units == "K":  # in some draws, so that it is no mean; and no zero to count from
        times = "against"
    else:
        times = f"{three_digits(ratio)} times" if ratio >= 1 else f"{three_digits(100 * ratio)} % of"
    against = f"{times} the {in_words(criterion.limit, units)} {criterion.limit_is}"
    if np.isnan(said.low):
        return (MET if share == 1 else NOT_MET), f"{figure}, {against}"
    draws = f"{figure}, {against}; met in {percent(share)} of the draws"
    if 1 - SURE < share < SURE:
        return NOT_KNOWN, f"{draws}: too close to call"
    return (MET if share >= SURE else NOT_MET), draws


def _share_met(figure: xr.DataArray, criterion: _Criterion) -> np.ndarray:
    """Share of the draws of each source that keep to the limit; without draws, 0 or 1."""
    limit = criterion.limit if criterion.drawn is None else criterion.drawn
    kept = figure <= limit if criterion.at_most else figure >= limit
    return by_source(kept.where(figure.notnull()))


def _share_ahead(exposure: xr.DataArray) -> xr.DataArray:
    """Share of the draws in which each source has a shorter exposure than each other one."""
    shorter = exposure < exposure.rename(source="other")
    known = exposure.notnull() & exposure.rename(source="other").notnull()
    share = shorter.where(known).mean("draw", skipna=False).transpose("source", "other")
    return share.assign_attrs(units="1", long_name="share of draws with the shorter exposure")


def _places(verdicts: np.ndarray, exposures: np.ndarray) -> list[int]:
    """The place of each source under `RULE`."""
    keys = [
        (list(row).count(NOT_MET), list(row).count(NOT_KNOWN), np.inf if np.isnan(time) else time)
        for row, time in zip(verdicts, exposures, strict=True)
    ]
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return [order.index(i) + 1 for i in range(len(keys))]
