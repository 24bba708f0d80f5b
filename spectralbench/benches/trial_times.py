"""Times to try out: about the exposure, and never beyond what the bench allows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from spectralbench.benches.at_bond import light_at_bond, requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.layers import stack_of
from spectralbench.benches.open_questions import placeholders
from spectralbench.comparison import Requirement, Stack, heating, in_words
from spectralbench.comparison.advice import worth_a_trial
from spectralbench.comparison.words import SURE, by_source, said_of

FACTORS = (1.0, 0.75, 0.5, 1.5, 2.0)
"""Times as shares of the exposure [1], in the order of the trials: itself, shorter, longer."""


def trial_times(tree: xr.DataTree, result: xr.Dataset) -> xr.Dataset:
    """Times to try out with each source that is worth a trial.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.reduce_bench`.
    result : xarray.Dataset
        From `spectralbench.compare` of it.

    Returns
    -------
    xarray.Dataset (source, factor)
        ``time`` [s], the exposure times each of `FACTORS`, NaN where it is left out; ``temperature`` [K],
        the highest at the end of just that time, with draws the upper end of its 95 % interval, NaN where
        it is not known; ``left_out``, why there is no such trial, or empty. Sources stand in the order of
        the advice, and none that it does not call worth a trial. ``attrs["comment"]`` says what there is to
        say of all.

    Notes
    -----
    A time is left out beyond ``maximum_time``, and where fewer than 95 % of the draws stay within
    ``maximum_temperature``. One longer than the exposure is also left out where either limit is not stated
    or the temperature is not known. A reaction is taken to go on as fast for as long as the light is on,
    which errs to the warm side.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> found = trial_times(reduced, compare(reduced)).sel(source="arc, filtered")
    >>> found.time.round(1).values.tolist()
    [25.6, 19.2, 12.8, nan, nan]
    >>> found.left_out.sel(factor=2).item()
    '51.2 s is beyond the maximum_time of bench.toml, 30 s'
    """
    manifest = manifest_of(tree)
    needed, worth, comment = requirement_of(manifest), worth_a_trial(result), _COMPUTED
    if invented := placeholders(str(tree.attrs["manifest"])):
        worth, comment = [], invented[0]
    elif not worth:
        comment = "No source is worth a trial as it stands."
    elif "fastest_speed" in result:
        worth, comment = [], "A part that travels is tried out by its speed: begin at the one in the advice."
    exposure = result["exposure_time"].isel(source=worth)
    time = xr.DataArray([said.value for said in said_of(exposure)], {"source": exposure.source.values})
    time = time * xr.DataArray(list(FACTORS), {"factor": list(FACTORS)})
    warm = within = xr.full_like(time, np.nan)
    if worth and (stack := stack_of(manifest)):
        figures = light_at_bond(tree, manifest, whole=True).isel(source=worth)
        warm, within = _warmth(figures, time, stack, needed.maximum_temperature)
    left_out = _left_out(time, warm, within, needed)
    return xr.Dataset(
        {
            "time": time.where(left_out == "").assign_attrs(units="s", long_name="time to try out"),
            "temperature": warm.assign_attrs(units="K", long_name="highest temperature at its end, at most"),
            "left_out": left_out.assign_attrs(long_name="why there is no such trial"),
        },
        attrs={"comment": comment},
    )


_COMPUTED = (
    "Temperatures are computed, for a stack that was cool before and was lit for just that time; a computed "
    "margin is no proof, so measure the part. Heat that the spectrometer did not see is not in them, such as "
    "the infrared of an arc."
)


def _warmth(
    figures: xr.Dataset, time: xr.DataArray, stack: Stack, limit: float | None
) -> tuple[xr.DataArray, xr.DataArray]:
    """How warm it gets at most at the end of each time [K], and the share of the draws within the limit."""
    warm, within = xr.full_like(time, np.nan), xr.full_like(time, np.nan)
    for column, factor in enumerate(FACTORS):
        lasting = xr.zeros_like(figures["exposure_time"]) + time.isel(factor=column, drop=True)
        going_on = replace(stack, reaction_heat=stack.reaction_heat * max(factor, 1.0))
        found = heating(figures.assign(exposure_time=lasting), going_on)["peak_temperature"]
        warm[:, column] = [said.value if np.isnan(said.low) else said.high for said in said_of(found)]
        within[:, column] = by_source(found <= (np.inf if limit is None else limit))
    return warm, within


def _left_out(
    time: xr.DataArray, warm: xr.DataArray, within: xr.DataArray, needed: Requirement
) -> xr.DataArray:
    """Why a time is none to try out, in words; empty where it is one."""
    longest, hottest = needed.maximum_time, needed.maximum_temperature
    reasons = np.full(time.shape, "", dtype=object)
    for place in np.ndindex(time.shape):
        seconds, kelvins = float(time.values[place]), float(warm.values[place])
        longer = FACTORS[place[1]] > 1
        if longest is not None and seconds > longest:
            why = f"is beyond the maximum_time of bench.toml, {in_words(longest, 's')}"
        elif hottest is not None and not np.isnan(kelvins) and within.values[place] < SURE:
            limit = f"the maximum_temperature of bench.toml is {in_words(hottest, 'K')}"
            why = f"makes it up to {in_words(kelvins, 'K')} warm, and {limit}"
        elif longer and (longest is None or hottest is None):
            missing = "maximum_time" if longest is None else "maximum_temperature"
            why = f"is longer than the exposure, and bench.toml states no {missing}"
        elif longer and np.isnan(kelvins):
            why = "is longer than the exposure, and how warm it gets is not known"
        else:
            continue
        reasons[place] = f"{in_words(seconds, 's')} {why}"
    return time.copy(data=reasons.astype(str))
