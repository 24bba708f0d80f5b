"""What a comparison amounts to: what to test first, and what a reader should not take for measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from spectralbench.comparison.criteria import OF_LATER
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import (
    MET,
    NOT_KNOWN,
    NOT_MET,
    Said,
    by_source,
    in_words,
    percent,
    said_of,
)

_AROUND = "for shorter, and longer as far as limits allow"
_NEAR = 8.0  # nm; a source that peaks so near to the data sheet's wavelength is the one it means


def advice(result: xr.Dataset, requirement: Requirement) -> str:
    """What to test first, and why, in a few sentences."""
    names = [str(name) for name in result.coords["source"].values]
    order = [int(i) for i in np.argsort(result["place"].values)]
    missed = {i: _named(result, i, NOT_MET) for i in order}
    failed = {i: [name for name in missed[i] if name not in OF_LATER] for i in order}
    travels = "fastest_speed" in result
    said = said_of(result["fastest_speed" if travels else "exposure_time"])
    worth = worth_a_trial(result)
    open_ones = [i for i in order if not failed[i] and i not in worth]
    sentences = []
    if worth:
        best = worth[0]
        exposure = _exposure(said[best], travels)
        around = (
            "slower and faster than that" if travels else "for shorter, and longer as far as limits allow"
        )
        reason = _reason(result, best, "travel" if travels else "irradiance")
        sentences.append(f"Test first: {names[best]} {exposure}, and {around}: {reason}.")
        if unknown := _named(result, best, NOT_KNOWN):
            sentences.append(f"Watch in the trial what is not known yet: {', '.join(unknown)}.")
        if len(worth) > 1:
            others = [f"{names[i]} {_exposure(said[i], travels)}" for i in worth[1:]]
            sentences.append(f"Then: {'; '.join(others)}.")
            if "share_ahead" in result:
                sentences.append(_ahead(result, names, best, worth[1]))
        sentences += [sentence for i in worth if (sentence := _later(result, names, i))]
    else:
        sentences.append("No source is worth a trial as it stands.")
    if open_ones:
        sentences.append(f"Measure again before a trial: {'; '.join(names[i] for i in open_ones)}.")
    for i in order:
        if failed[i]:
            alone = len(missed[i]) == 1  # else what mends one leaves the others
            change = str(result["change"].sel(criterion=failed[i][0]).values[i]) if alone else ""
            change = f" Nearest change: {change}." if change else ""
            reason = _reason(result, i, failed[i][0])
            sentences.append(f"{names[i]} fails {', '.join(missed[i])}: {reason}.{change}")
    if named := requirement.data_sheet_wavelength:
        near = np.abs(by_source(result["peak_wavelength"]) - named) <= _NEAR
        kept = np.where(near, by_source(result["kept_share"]), np.nan)
        if np.isfinite(kept).any() and not near[order[0]]:
            most = int(np.nanargmax(kept))
            sentences.append(
                f"The data sheet speaks of {named:g} nm, but the part stops {in_words(kept[most], '1')} "
                f"of the light of {names[most]}."
            )
    return "\n".join(sentences)


def worth_a_trial(result: xr.Dataset) -> list[int]:
    """Rows of the sources that fail nothing today and need no other measurement first, best first."""
    said = said_of(result["fastest_speed" if "fastest_speed" in result else "exposure_time"])
    return [
        int(i)
        for i in np.argsort(result["place"].values)
        if set(_named(result, i, NOT_MET)) <= {*OF_LATER}
        and _has_an_end(said[i])
        and not _is_spoilt(result, i)
    ]


def _reason(result: xr.Dataset, row: int, criterion: str) -> str:
    return str(result["reason"].sel(criterion=criterion).values[row])


def _has_an_end(exposure: Said) -> bool:
    """Whether an exposure, or the speed of a part that travels, is known, and ends in all draws but a few."""
    ends = (exposure.value, exposure.high) if np.isfinite(exposure.low) else (exposure.value,)
    return bool(np.isfinite(ends).all())


def _is_spoilt(result: xr.Dataset, row: int) -> bool:
    """Whether pixels that are not valid leave a criterion of one source open."""
    reasons = [_reason(result, row, name) for name in _named(result, row, NOT_KNOWN)]
    return any(reason.startswith("pixels at ") for reason in reasons)


def _ahead(result: xr.Dataset, names: list[str], best: int, second: int) -> str:
    """Which of two needs the shorter exposure, and how surely."""
    share = float(result["share_ahead"].values[best, second])
    if share >= 0.5:
        return (
            f"{names[best]} needs a shorter exposure than {names[second]} in {percent(share)} of the draws."
        )
    behind = percent(float(result["share_ahead"].values[second, best]))
    return (
        f"{names[second]} needs a shorter exposure in {behind} of the draws; it stands behind {names[best]} "
        "for its other criteria."
    )


def _later(result: xr.Dataset, names: list[str], row: int) -> str:
    """What a source that does the job today does not do for as long as it should."""
    missed = [name for name in _named(result, row, NOT_MET) if name in OF_LATER]
    if not missed:
        return ""
    if passed := str(result["end_of_life_passed"].values[row]) if "end of life" in missed else "":
        return f"{names[row]}: {passed} before a trial."
    changes = [str(result["change"].sel(criterion=name).values[row]) for name in missed]
    change = next(filter(None, changes), "")
    return f"{names[row]} does it today, and not for long enough ({', '.join(missed)})" + (
        f": {change}." if change else "."
    )


def _exposure(said: Said, travels: bool) -> str:
    """An exposure, or the speed of a part that travels, with its interval, if it has one."""
    value = in_words(said.value, "mm s-1" if travels else "s", said.low, said.high)
    return f"at {value}" if travels else f"for {value}"


def _named(result: xr.Dataset, row: int, verdict: str) -> list[str]:
    """Criteria that have a verdict for one source."""
    hit = result["verdict"].values[row] == verdict
    return [str(name) for name in result.coords["criterion"].values[hit]]


def not_measured(result: xr.Dataset, gaps: Sequence[str]) -> list[str]:
    """What a reader should not take for measured."""
    names = result.coords["source"].values
    items = []
    for criterion in result.coords["criterion"].values:
        open_for = [str(name) for name in names[result["verdict"].sel(criterion=criterion) == NOT_KNOWN]]
        if open_for:
            everyone = len(open_for) == len(names)
            items.append(f"{criterion}: not known for {'any source' if everyone else '; '.join(open_for)}")
    items += _lives(result)
    if "share_met" not in result:
        items.append(
            "intervals: these figures carry none, so two sources that differ by a few per cent are equal; "
            "ask for draws"
        )
    elif gaps:
        items.append(
            f"no uncertainty is stated for: {', '.join(gaps)}; the intervals leave it out, and are too narrow"
        )
    if "band_irradiance_in_air" not in result:
        items.append(
            "reflections between part and adhesive: the transmittance was measured in air, and a bonded face "
            "passes a few per cent more; the refractive indices of both would say how much"
        )
    return items


def _lives(result: xr.Dataset) -> list[str]:
    """Of which sources the end is judged, though nobody measured as far."""
    asked = [name for name in OF_LATER if name in result.coords["criterion"].values]
    if not asked or "end_of_life_basis" not in result:
        return []
    judged = result["verdict"].sel(criterion=asked).isin([MET, NOT_MET]).any("criterion")
    told = result.isel(source=(judged & ~result["end_of_life_measured"]).values)
    names: dict[str, list[str]] = {}
    for name, basis in zip(told["source"].values, told["end_of_life_basis"].values, strict=True):
        names.setdefault(str(basis), []).append(str(name))
    return [f"the output of {'; '.join(of)} at its end: {basis}" for basis, of in names.items()]
