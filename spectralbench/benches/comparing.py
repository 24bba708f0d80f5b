"""Comparing the sources of a bench at the bond line."""

from __future__ import annotations

import json
from contextlib import nullcontext
from os import PathLike

import numpy as np
import xarray as xr

from spectralbench.benches.adjustments import in_short, in_words, kept
from spectralbench.benches.at_bond import (
    courses_of,
    least_lit,
    light_at_bond,
    light_in_use,
    requirement_of,
)
from spectralbench.benches.budget import Budget
from spectralbench.benches.bystanders import permitted_time
from spectralbench.benches.contributions import variance_shares
from spectralbench.benches.doubts import doubts
from spectralbench.benches.folder import manifest_of, open_bench
from spectralbench.benches.frames import best_estimates
from spectralbench.benches.keeping import keepings
from spectralbench.benches.layers import cautions_of, stack_of
from spectralbench.benches.open_questions import (
    added,
    collected,
    dark_backs,
    left_out,
    placeholders,
    reciprocity_taken,
    set_aside,
    unscanned,
)
from spectralbench.benches.placing import points_of, stands_at
from spectralbench.benches.plus_minus import unused
from spectralbench.benches.reducing import is_reduced, reduce_bench, reduced_with, seed_of
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.steps import Steps
from spectralbench.benches.together import of_candidates
from spectralbench.comparison import (
    FIGURES,
    Means,
    Requirement,
    by_depth,
    heating,
    judge,
    lasting,
    needed_light,
    regulated,
    running,
)
from spectralbench.draws import FEWEST
from spectralbench.errors import RangeError


def compare(
    bench: xr.DataTree | str | PathLike[str],
    draws: int = 0,
    seed: int | None = None,
    contributions: bool = False,
) -> xr.Dataset:
    """Compare the sources of a bench at the bond line.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `open_bench` or `reduce_bench`, or the folder itself. One that is reduced already
        keeps the draws that it has.
    draws : int
        Draws of the Monte Carlo method; with 0, figures without intervals.
    seed : int, optional
        Seed of the draws; without it, one is made up and kept in the provenance.
    contributions : bool
        Whether to find out what each cause contributes, from an opened bench or a folder. It takes
        the reduction once more for each cause.

    Returns
    -------
    xarray.Dataset
        By ``source``: figures with units, ``verdict`` and ``reason`` (source, criterion) as
        text, and ``place`` (source), 1 for what to test first. With draws, the figures have the
        dimension ``draw``, ``share_met`` and ``share_ahead`` say in how many of them a criterion
        is met and a source is ahead, and with `contributions` ``variance_share`` (figure, source,
        cause) [1] says what each cause contributes to the variance of a figure. ``attrs`` keep the
        rule of the order, the advice, what was not measured, the cautions and the provenance.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced, or the requirement's band or the data sheet's
        wavelength lies outside the spectra.
    RangeError
        If draws are asked of a bench that is reduced already, or fewer than 20 of them; or contributions
        without draws.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> result = compare(demo)
    >>> result.sortby("place").source.values.tolist()
    ['LED 405', 'LED 385', 'arc, filtered', 'arc', 'LED 365']
    >>> result.verdict.sel(source="LED 365", criterion="irradiance").item()
    'not met'
    """
    if contributions and (draws == 0 or (isinstance(bench, xr.DataTree) and is_reduced(bench))):
        raise RangeError(
            f"what each cause contributes takes draws of a bench that is not reduced yet: give the opened "
            f"bench or its folder, and {FEWEST} draws or more"
        )
    return reduced_and_compared(bench, draws, seed, contributions)[1]


def reduced_and_compared(
    bench: xr.DataTree | str | PathLike[str],
    draws: int = 0,
    seed: int | None = None,
    contributions: bool = True,
) -> tuple[xr.DataTree, xr.Dataset]:
    """Reduce and compare in one go, for those who want to see both.

    Parameters
    ----------
    bench, draws, seed, contributions
        As for `compare`.

    Returns
    -------
    tree : xarray.DataTree
        As `reduce_bench` gives it.
    result : xarray.Dataset
        As `compare` gives it.

    Examples
    --------
    >>> tree, result = reduced_and_compared(reduced)
    >>> tree is reduced, result.sizes["source"]
    (True, 5)
    """
    opened = bench if isinstance(bench, xr.DataTree) else None
    if draws < FEWEST and draws != 0 and not (opened is not None and is_reduced(opened)):
        raise RangeError(f"a comparison takes 0 or at least {FEWEST} draws, not {draws}")
    tree = open_bench(bench) if opened is None else opened
    if is_reduced(tree) or draws == 0:
        found = reduce_bench(tree, draws, seed)
        return found, _compared(found, manifest_of(found))
    manifest = manifest_of(tree)
    frames, budget = best_estimates(tree, manifest), Budget(manifest, draws, seed_of(seed))
    with variance_shares(tree, manifest, frames, budget) if contributions else nullcontext() as shares:
        found = reduced_with(tree, manifest, frames, Steps(budget))
        result = _compared(found, manifest)
        share = shares() if shares is not None else None
    return found, result if share is None else result.assign(variance_share=share)


def _compared(tree: xr.DataTree, manifest: Manifest) -> xr.Dataset:
    """Compare the sources of a reduced bench."""
    needed, stack, courses = requirement_of(manifest), stack_of(manifest), courses_of(tree, manifest)
    figures = light_at_bond(tree, manifest, whole=True)
    figures = figures.assign(_spots(tree, manifest, needed, figures)).assign(_depths(tree, manifest))
    figures = lasting(needed_light(figures, needed), courses)
    figures = running(regulated(figures, courses), courses, keepings(manifest))
    figures["permitted_time"] = permitted_time(tree, manifest, light_in_use(tree, manifest))
    if stack is not None:
        figures = heating(figures, stack)
    means = {source.name: _means(source) for source in manifest.source}
    result = judge(figures, needed, Budget(manifest).gaps, means, stack)
    result = result.drop_vars(["grouped_irradiance", "face", "optical_depth"])  # which only heat asks for
    as_it_is, changes = manifest_of(tree, as_it_is=True), kept(tree.attrs.get("adjusted"))
    invented = placeholders(str(tree.attrs["manifest"]))
    advice = result.attrs["advice"]
    if invented:
        advice = f"If they were true: {advice[0].lower()}{advice[1:]}"
    said = [*invented, in_short(as_it_is, changes), *doubts(tree, result), advice]
    result.attrs["advice"] = "\n".join(filter(None, said))
    cautions = [
        *in_words(as_it_is, changes),
        *invented,
        *json.loads(tree["sources"].attrs.get("cautions", "[]")),
        *json.loads(tree["adhesive"].attrs["cautions"]),
        *json.loads(tree["parts"].attrs["cautions"]),
        *([] if stack is None else cautions_of(stack)),
        *json.loads(result.attrs["not_measured"]),
        *collected(manifest),
        *unscanned(manifest),
        *added(manifest),
        *set_aside(manifest),
        *left_out(manifest),
        *dark_backs(result["back_by_front"]),
        *reciprocity_taken(manifest, result["photon_time"].attrs.get("comment", "")),
        *(unused(manifest) if "share_met" in result else []),
    ]
    result.attrs["not_measured"] = json.dumps(cautions, ensure_ascii=False)
    result.attrs |= {name: tree.attrs[name] for name in ("title", "manifest", "provenance")}
    return result


def _spots(
    tree: xr.DataTree, manifest: Manifest, needed: Requirement, figures: xr.Dataset
) -> dict[str, xr.DataArray]:
    """The spot of each source, as far as anything is known; of a part that travels, time and speed there."""
    sources = tree["sources"].to_dataset()
    shown = {"spot_size": of_candidates(sources["spot_size"], manifest, np.min)}
    shown["least_lit"] = least_lit(tree, manifest)
    shown["share_on_bond"] = _of_one(sources["share_on_bond"], manifest)
    travelling = {}
    if needed.speed is not None:
        times = {
            f"lit_time{of}": needed.passes * _of_one(sources[f"lit_length{of}"], manifest) / needed.speed
            for of in ("", "_of_photons")
        }
        times = {name: array.reset_coords(drop=True) for name, array in times.items()}
        travelling = {name: array.assign_attrs(units="s") for name, array in times.items()}
        fast = times["lit_time"] / figures["dose_time"]
        if figures["photon_time"].notnull().any():
            slow = times["lit_time_of_photons"] / figures["photon_time"]
            fast = xr.DataArray(np.minimum(*xr.broadcast(fast, slow)))
        shown["fastest_speed"] = needed.speed * fast
        shown["electrical_energy"] = figures["electrical_power"] * times["lit_time"]
    asked = {"fastest_speed"} | ({"spot_size"} if needed.bond_width is not None else set())
    return travelling | {
        name: array.drop_attrs(deep=False).reset_coords(drop=True).assign_attrs(FIGURES[name]._asdict())
        for name, array in shown.items()
        if array.notnull().any() or name in asked
    }


def _of_one(lengths: xr.DataArray, manifest: Manifest) -> xr.DataArray:
    """What a scan says of one source alone: nobody scanned the light of several heads together."""
    return of_candidates(lengths, manifest, lambda each: np.nan).drop_attrs(deep=False)


def _depths(tree: xr.DataTree, manifest: Manifest) -> xr.Dataset:
    """Where in the bond line the light is absorbed, at the least lit place of the bond."""
    parts, adhesive = tree["parts"].to_dataset(), tree["adhesive"].to_dataset()
    found = by_depth(
        light_in_use(tree, manifest),
        parts.get("bonded_transmittance", parts["transmittance"]),
        adhesive["absorbance"],
        manifest.adhesive.bond_line.value / 1e3,
        adhesive.get("background"),
    )
    profile = found["absorbed_by_depth"]
    here = (profile * least_lit(tree, manifest).drop_attrs(deep=False).fillna(1.0)).transpose(*profile.dims)
    return found.assign(absorbed_by_depth=here.assign_attrs(profile.attrs))


def _means(source: Source) -> Means:
    """What can be changed about a source."""
    return Means(stands_at(source), source.setting.value, points_of(source))
