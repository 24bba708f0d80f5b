"""What a comparison amounts to: what to test first, and what a reader should not take for measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from spectralbench.comparison.criteria import that_count
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import NOT_KNOWN, NOT_MET, Said, by_source, in_words, percent, said_of

_NEAR = 8.0  # nm; a source that peaks so near to the data sheet's wavelength is the one it means


def advice(result: xr.Dataset, requirement: Requirement) -> str:
    """What to test first, and why, in a few sentences."""
    names = [str(name) for name in result.coords["source"].values]
    order = [int(i) for i in np.argsort(result["place"].values)]
    failed = {i: _named(result, i, NOT_MET) for i in order}
    travels = "fastest_speed" in result
    said = said_of(result["fastest_speed" if travels else "exposure_time"])
    exposures = [value for value, _, _ in said]
    open_ones = [i for i in order if not failed[i] and np.isnan(exposures[i])]
    worth = [i for i in order if not failed[i] and i not in open_ones]
    sentences = []
    if worth:
        best = worth[0]
        exposure = _exposure(said[best], travels)
        reason = str(result["reason"].values[best, 0])
        sentences.append(f"Test first: {names[best]}, {exposure} and on both sides of it: {reason}.")
        if unknown := _named(result, best, NOT_KNOWN):
            sentences.append(f"Watch in the trial what is not known yet: {', '.join(unknown)}.")
        if len(worth) > 1:
            others = [f"{names[i]}, {_exposure(said[i], travels)}" for i in worth[1:]]
            sentences.append(f"Then: {'; '.join(others)}.")
            if "share_ahead" in result:
                share = percent(float(result["share_ahead"].values[best, worth[1]]))
                sentences.append(
                    f"{names[best]} needs a shorter exposure than {names[worth[1]]} in {share} of the draws."
                )
    elif not open_ones:
        sentences.append("No source is worth a trial as it stands.")
    if open_ones:
        sentences.append(f"Measure again before a trial: {'; '.join(names[i] for i in open_ones)}.")
    for i in order:
        if failed[i]:
            column = list(result.coords["criterion"].values).index(failed[i][0])
            reason = str(result["reason"].values[i, column])
            change = str(result["change"].values[i, column]) if len(failed[i]) == 1 else ""
            change = f" Nearest change: {change}." if change else ""
            sentences.append(f"{names[i]} fails {', '.join(failed[i])}: {reason}.{change}")
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


def _exposure(said: Said, travels: bool) -> str:
    """An exposure, or the speed of a part that travels, with its interval, if it has one."""
    value = in_words(said.value, "mm s-1" if travels else "s", said.low, said.high)
    return f"at {value}" if travels else f"for {value}"


def _named(result: xr.Dataset, row: int, verdict: str) -> list[str]:
    """Criteria that have a verdict for one source, and count."""
    names, verdicts = result.coords["criterion"].values.tolist(), result["verdict"].values[row].tolist()
    counted = that_count(dict(zip(names, verdicts, strict=True)))
    return [name for name, found in counted.items() if found == verdict]


def not_measured(result: xr.Dataset, gaps: Sequence[str]) -> list[str]:
    """What a reader should not take for measured."""
    names = result.coords["source"].values
    items = []
    for criterion in result.coords["criterion"].values:
        open_for = [str(name) for name in names[result["verdict"].sel(criterion=criterion) == NOT_KNOWN]]
        if open_for:
            everyone = len(open_for) == len(names)
            items.append(f"{criterion}: not known for {'any source' if everyone else '; '.join(open_for)}")
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
