"""Verdicts: each criterion met, not met or not known, with the figure that decides, in words."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr

from spectralbench.comparison.advice import advice, not_measured
from spectralbench.comparison.cautions import CAUTIONS
from spectralbench.comparison.changes import (
    OTHER_MEANS,
    Means,
    less_light,
    more_light,
    sure_factor,
    weaker_and_longer,
)
from spectralbench.comparison.criteria import OF_LATER, Criterion, criteria_of
from spectralbench.comparison.heating import Stack
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import (
    MET,
    NO_LIMIT,
    NOT_KNOWN,
    NOT_MET,
    SURE,
    Said,
    by_source,
    in_words,
    interval_in_words,
    percent,
    said_of,
    three_digits,
)

RULE = (
    "First the sources that fail the fewest criteria today, among them those of which the fewest are not "
    "known, then those with the fewest of life and its end that are not met or not known, then the shortest "
    "exposure. No blended score."
)
RULE_OF_DRAWS = (
    "A criterion is met if at least 95 % of the draws meet it, and not met if at most 5 % do; between, it is "
    "not known (a guarded decision, JCGM 106:2012)."
)


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
        1 for what to test first. ``judged_by``, ``what`` and ``at_most`` (criterion) say what each criterion
        looks at, ``limit`` (source, criterion) what it holds that against, in the figure's unit. With draws,
        ``share_met`` (source, criterion) is the share of them that meets a criterion [1], and
        ``share_ahead`` (source, other) that in which a source has the shorter exposure [1].
        ``attrs``: ``rule`` of the order, ``advice`` in words, a sentence a line, ``not_measured`` and
        ``cautions`` (JSON lists).

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
    criteria = criteria_of(figures, requirement)
    names = [str(name) for name in figures.coords["source"].values]
    verdicts = np.empty((len(names), len(criteria)), dtype=object)
    reasons, shares = verdicts.copy(), np.full(verdicts.shape, np.nan)
    bounded = np.zeros(verdicts.shape, dtype=bool)
    limits = np.transpose([criterion.limits(figures) for criterion in criteria])
    drawn_limits = [criterion.drawn_limits(figures) for criterion in criteria]
    outside, at_least = (
        json.loads(figures["invalid"].attrs.get(name, "{}")) for name in ("uncalibrated", "at_least")
    )
    decides = by_source(figures["needed_irradiance" if "needed_irradiance" in figures else "band_irradiance"])
    for column, criterion in enumerate(criteria):
        said = said_of(figures[criterion.figure])
        met = _share_met(figures[criterion.figure], criterion)
        for row, value in enumerate(said):
            invalid = str(figures["invalid"].values[row])
            if criterion.name in OF_LATER and not np.isnan(decides[row]):
                invalid = ""  # what is missing is the ageing
            units = figures[criterion.figure].attrs["units"]
            limit = drawn_limits[column][row]._replace(value=limits[row, column])
            verdict, reason = _judged(
                criterion, limit, value, met[row], units, invalid, outside.get(names[row])
            )
            more = not {*criterion.rests_on}.isdisjoint(at_least.get(names[row], {}).get("figures", ()))
            if criterion.name == "life":  # no light makes it longer than until it is replaced
                more = more and not figures["hours_to_end"].values[row] < limits[row, column]
            if verdict == NOT_MET and more:
                verdict, bounded[row, column] = NOT_KNOWN, True
                reason = f"{reason}; more may arrive: {at_least[names[row]]['what']} is not in it"
            if comment := figures[criterion.figure].attrs.get("comment"):
                reason = f"{reason} ({comment})"
            if remark := criterion.remarks[row] if criterion.remarks else "":
                known = not np.isnan(value.value)
                pixels = invalid and criterion.by_pixels
                reason = f"{reason} ({remark})" if known else reason if pixels else remark
            if criterion.name == "end of life" and (passed := figures["end_of_life_passed"].values[row]):
                verdict, reason = NOT_MET, str(passed)
            verdicts[row, column], reasons[row, column] = verdict, reason
            shares[row, column] = np.nan if np.isnan(limits[row, column]) else met[row]
    result = figures.assign_coords(criterion=[criterion.name for criterion in criteria])
    for name, of in (("judged_by", "figure"), ("what", "what"), ("at_most", "at_most")):
        result[name] = ("criterion", [getattr(criterion, of) for criterion in criteria], _SAID[name])
    both = ("source", "criterion")
    result["limit"] = (both, limits, _SAID["limit"])
    result["verdict"] = (both, verdicts.astype(str), _SAID["verdict"])
    result["reason"] = (both, reasons.astype(str), _SAID["reason"])
    changes = [
        _changes(
            result.isel(source=[row]),
            criteria,
            verdicts[row],
            limits[row],
            (means or {}).get(name, Means()),
            stack,
        )
        for row, name in enumerate(names)
    ]
    told = np.array(changes, dtype=str).reshape(verdicts.shape)
    result["change"] = (both, np.where(bounded, "", told), _SAID["change"])
    places = _places(verdicts, criteria, by_source(figures["exposure_time"]))
    result["place"] = ("source", places, _SAID["place"])
    drawn = "draw" in figures["exposure_time"].dims
    if drawn:
        result["share_met"] = (both, shares, {"units": "1", "long_name": "share of draws"})
        result["share_ahead"] = _share_ahead(figures["exposure_time"])
    result.attrs["rule"] = f"{RULE} {RULE_OF_DRAWS}" if drawn else RULE
    result.attrs["advice"] = advice(result, requirement)
    result.attrs["not_measured"] = json.dumps(not_measured(result, gaps), ensure_ascii=False)
    result.attrs["cautions"] = json.dumps(CAUTIONS, ensure_ascii=False)
    return result


_UPPER = "upper limit"
_SAID = {
    name: {"long_name": words}
    for name, words in {
        "judged_by": "name of the figure that a criterion looks at",
        "what": "what that figure is",
        "at_most": "whether the figure has to stay below the limit",
        "limit": "what is required, in the unit of the figure; NaN where nothing is",
        "verdict": "met, not met, not known, or no limit",
        "reason": "the figure that decides, in words",
        "change": "nearest change that would meet it",
        "place": "1 for what to test first",
    }.items()
}


def _changes(
    figures: xr.Dataset,
    criteria: list[Criterion],
    verdicts: np.ndarray,
    limits: np.ndarray,
    means: Means,
    stack: Stack | None,
) -> list[str]:
    """For one source, what would meet each criterion that is not met; empty where nobody can say."""
    found = []
    most = min(
        (
            sure_factor(figures, other.name, other.limit) or np.inf
            for other in criteria
            if other.name == _UPPER
        ),
        default=np.inf,
    )
    for criterion, verdict, limit in zip(criteria, verdicts, limits, strict=True):
        text = ""
        missed = verdict != MET and not np.isnan(limit)
        if missed and not np.isnan(by_source(figures[criterion.figure])[0]):
            if criterion.name == "temperature" and stack is not None:
                speeds = [of for other, of in zip(criteria, limits, strict=True) if other.name == "travel"]
                text = weaker_and_longer(figures, stack, limit, *speeds)
            elif criterion.name in OTHER_MEANS:
                text = OTHER_MEANS[criterion.name](figures, limit)
            if not text and (factor := sure_factor(figures, criterion.name, criterion.limit)) is not None:
                text = less_light(factor, means) if factor < 1 else more_light(factor, means)
                if most < factor < np.inf:
                    text = (
                        f"none by more light: it takes {three_digits(factor)} times of it, and the upper "
                        f"limit allows {three_digits(most)} times"
                    )
        found.append(text)
    return found


def _judged(
    criterion: Criterion,
    limit: Said,
    said: Said,
    share: float,
    units: str,
    invalid: str,
    outside: str | None = None,
) -> tuple[str, str]:
    """Verdict and reason of one source under one criterion."""
    value = said.value
    by_pixels = invalid and criterion.by_pixels
    why = "measure again, with a shorter integration time if they were saturated"
    if outside:
        why = f"the spectrum goes on where the standard lamp does not calibrate ({outside})"
    pixels = f"pixels at {invalid}, which are not valid, belong to this figure: {why}"
    of_each = isinstance(criterion.limit, xr.DataArray) and "source" in criterion.limit.dims
    if np.isnan(value):
        known = criterion.shown or of_each or not np.isnan(limit.value)
        return (
            NO_LIMIT if criterion.shown else NOT_KNOWN,
            pixels if by_pixels and known else criterion.missing,
        )
    if criterion.shown:
        return NO_LIMIT, f"{in_words(value, units, said.low, said.high)} {criterion.what}"
    if np.isinf(value) and not np.isfinite(said.low):
        return (NOT_MET if criterion.at_most else MET), "nothing usable arrives at the bond line"
    figure = f"{in_words(value, units, said.low, said.high)} {criterion.what}"
    if np.isnan(limit.value):
        return NOT_KNOWN, f"{figure}; {pixels if by_pixels and of_each else criterion.missing}"
    ratio = value / limit.value if limit.value else np.inf
    if np.isinf(ratio) or units == "K":  # in some draws, so that it is no mean; and no zero to count from
        times = "against"
    else:
        times = f"{three_digits(ratio)} times" if ratio >= 1 else f"{three_digits(100 * ratio)} % of"
    against = f"{times} the {in_words(limit.value, units, limit.low, limit.high)} {criterion.limit_is}"
    if np.isinf(limit.value):
        against = f"and no light of it that is allowed gives all that is {criterion.limit_is}"
    if criterion.doubtful and share <= 1 - SURE:
        return NOT_KNOWN, f"{figure}, {against}: what arrives lies between this and the irradiance above"
    if np.isnan(said.low):
        return (MET if share == 1 else NOT_MET), f"{figure}, {against}"
    own = ", each with its own limit" if interval_in_words(limit.low, limit.high, units) else ""
    draws = f"{figure}, {against}; met in {percent(share)} of the draws{own}"
    if 1 - SURE < share < SURE:
        return NOT_KNOWN, f"{draws}: too close to call"
    return (MET if share >= SURE else NOT_MET), draws


def _share_met(figure: xr.DataArray, criterion: Criterion) -> np.ndarray:
    """Share of the draws of each source that keep to the limit; without draws, 0 or 1."""
    limit = xr.DataArray(criterion.limit)
    kept = figure <= limit if criterion.at_most else figure >= limit
    return by_source(kept.where(figure.notnull()))


def _share_ahead(exposure: xr.DataArray) -> xr.DataArray:
    """Share of the draws in which each source has a shorter exposure than each other one."""
    shorter = exposure < exposure.rename(source="other")
    known = exposure.notnull() & exposure.rename(source="other").notnull()
    share = shorter.where(known).mean("draw", skipna=False).transpose("source", "other")
    return share.assign_attrs(units="1", long_name="share of draws with the shorter exposure")


def _places(verdicts: np.ndarray, criteria: list[Criterion], exposures: np.ndarray) -> list[int]:
    """The place of each source under `RULE`."""
    later = np.array([criterion.name in OF_LATER for criterion in criteria])
    keys = []
    for row, time in zip(verdicts, exposures, strict=True):
        today, then = list(row[~later]), list(row[later])
        missed = then.count(NOT_MET) + then.count(NOT_KNOWN)
        keys.append(
            (today.count(NOT_MET), today.count(NOT_KNOWN), missed, np.inf if np.isnan(time) else time)
        )
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return [order.index(i) + 1 for i in range(len(keys))]
