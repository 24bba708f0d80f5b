"""Comparing the sources of a bench at the bond line."""

from __future__ import annotations

import json
from os import PathLike
from typing import cast

import numpy as np
import xarray as xr

from spectralbench.benches.budget import Budget, causes
from spectralbench.benches.bystanders import permitted_time
from spectralbench.benches.folder import array_of, blamed, manifest_of, open_bench
from spectralbench.benches.frames import Frames, best_estimates
from spectralbench.benches.layers import cautions_of, stack_of
from spectralbench.benches.placing import points_of, stands_at
from spectralbench.benches.plus_minus import unused
from spectralbench.benches.reducing import is_reduced, reduce_bench, reduced_with, seed_of
from spectralbench.benches.schema import Manifest, Source
from spectralbench.comparison import (
    Course,
    Means,
    Requirement,
    back_by_front,
    figures_at_bond_line,
    heating,
    judge,
    lasting,
    regulated,
)
from spectralbench.draws import FEWEST
from spectralbench.errors import RangeError
from spectralbench.readers.cores import shared_out

BUDGETED = (
    "irradiance_at_part",
    "kept_share",
    "band_irradiance",
    "absorbed_photons",
    "exposure_time",
    "end_of_life_irradiance",
)
"""Figures of which a comparison says where their uncertainty comes from."""

_DRAWS_OF_ONE = 200  # of one cause alone: enough for a share of the variance to a few per cent


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
        If draws are asked of a bench that is reduced already, or fewer than 20 of them.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> result = compare(demo)
    >>> result.sortby("place").source.values.tolist()
    ['LED 405', 'LED 385', 'arc, filtered', 'arc', 'LED 365']
    >>> result.verdict.sel(source="LED 365", criterion="irradiance").item()
    'not met'
    """
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
    found = reduced_with(tree, manifest, frames, budget)
    if not (contributions and budget.met):
        return found, _compared(found, manifest)
    shares = _variance_shares(tree, manifest, frames, budget)
    return found, _compared(found, manifest).assign(variance_share=shares)


def _compared(tree: xr.DataTree, manifest: Manifest) -> xr.Dataset:
    """Compare the sources of a reduced bench."""
    stack = stack_of(manifest)
    means = {source.name: _means(source) for source in manifest.source}
    parts = tree["parts"].to_dataset()
    dry, bonded = parts["transmittance"], parts.get("bonded_transmittance")
    courses, light = _courses(tree, manifest), light_in_use(tree)
    figures = regulated(
        lasting(light_at_bond(tree, manifest, dry, bonded), courses), requirement_of(manifest), courses
    )
    film = array_of(tree, "/adhesive", "absorbance")
    figures["back_by_front"] = back_by_front(light, dry if bonded is None else bonded, film)
    figures["permitted_time"] = permitted_time(tree, manifest, light)
    if stack is not None:
        figures = heating(figures, stack)
    result = judge(figures, requirement_of(manifest), Budget(manifest).gaps, means, stack)
    cautions = json.loads(tree["adhesive"].attrs["cautions"])
    if stack is not None:
        cautions += cautions_of(stack)
    if "share_met" in result:
        cautions += unused(manifest)
    cautions += json.loads(result.attrs["not_measured"])
    result.attrs["not_measured"] = json.dumps(cautions, ensure_ascii=False)
    result.attrs |= {name: tree.attrs[name] for name in ("title", "manifest", "provenance")}
    return result


def light_in_use(tree: xr.DataTree) -> xr.DataArray:
    """The light of each source at the part, where the source will stand.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.

    Returns
    -------
    xarray.DataArray (source, ..., wavelength)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> light_in_use(reduced).dims
    ('source', 'wavelength')
    """
    sources = tree["sources"].to_dataset()
    spectrum = sources["spectral_irradiance"]
    if "working_share" not in sources:
        return spectrum
    share = sources["working_share"].astype(spectrum.dtype)
    return (spectrum * share).transpose("source", ..., "wavelength").assign_attrs(spectrum.attrs)


def light_at_bond(
    tree: xr.DataTree, manifest: Manifest, transmittance: xr.DataArray, bonded: xr.DataArray | None = None
) -> xr.Dataset:
    """What reaches the bond line through parts, and what it does there.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    manifest : Manifest
        Its manifest.
    transmittance, bonded : xarray.DataArray (part, ..., wavelength)
        As for `spectralbench.comparison.figures_at_bond_line` [1].

    Returns
    -------
    xarray.Dataset
        As `spectralbench.comparison.figures_at_bond_line` gives it.

    Examples
    --------
    >>> dry = reduced["parts"].to_dataset()["transmittance"]
    >>> round(float(light_at_bond(reduced, manifest_of(reduced), dry).kept_share.sel(source="LED 365")), 2)
    0.97
    """
    with blamed(tree, "requirement.data_sheet_wavelength", "a wavelength that the spectra cover"):
        return figures_at_bond_line(
            light_in_use(tree),
            transmittance,
            array_of(tree, "/adhesive", "absorbance"),
            requirement_of(manifest),
            bonded=bonded,
            electrical_power=array_of(tree, "/sources", "electrical_power").drop_vars("electrical_power"),
            exponent=array_of(tree, "/adhesive", "reciprocity"),
        )


def _variance_shares(tree: xr.DataTree, manifest: Manifest, frames: Frames, budget: Budget) -> xr.DataArray:
    """What each cause alone does to the variance of the figures, as a share of all of them.

    One cause is drawn while all others keep their best estimate (JCGM 101:2008, annex B).
    """

    def variances(cause: str) -> xr.DataArray:
        alone = Budget(manifest, min(budget.draws, _DRAWS_OF_ONE), budget.seed, only=cause)
        found = reduced_with(tree, manifest, frames, alone)
        parts = found["parts"].to_dataset()
        passed = parts.get("bonded_transmittance", parts["transmittance"])
        figures = lasting(light_at_bond(found, manifest, passed), _courses(found, manifest))
        each = [
            _variance(figures[name]) if "draw" in figures[name].dims else xr.zeros_like(figures[name], float)
            for name in BUDGETED
        ]
        return xr.concat(each, xr.DataArray(list(BUDGETED), dims="figure", name="figure"))

    found = shared_out(variances, list(budget.met), lambda done: None, pays=3)
    variance = xr.concat(found, xr.DataArray(list(budget.met), dims="cause", name="cause"))
    total = variance.sum("cause", skipna=False)
    result = (variance / total.where(total > 0)).transpose("figure", "source", "cause")
    origin = [causes(manifest)[cause] for cause in budget.met]
    result = result.rename("variance_share").assign_coords(origin=("cause", origin))
    return result.drop_attrs().assign_attrs(units="1", long_name="share of the variance")


def _variance(figure: xr.DataArray) -> xr.DataArray:
    """Variance over the draws; NaN where some are infinite."""
    with np.errstate(invalid="ignore"):
        return figure.var("draw")


def requirement_of(manifest: Manifest) -> Requirement:
    """The requirement of a bench, as plain values.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench.

    Returns
    -------
    Requirement
        In the package's own units.

    Examples
    --------
    >>> needed = requirement_of(manifest_of(reduced))
    >>> needed.low, needed.high, needed.minimum_irradiance
    (320.0, 430.0, 600.0)
    """
    needed, limit = manifest.requirement, manifest.adhesive.maximum_irradiance
    low, high = needed.band

    def plain(value: tuple[float, float] | None) -> float | None:
        return None if value is None else value[0]

    return Requirement(
        low.value,
        high.value,
        needed.minimum_irradiance.value,
        needed.dose.value,
        plain(needed.data_sheet_wavelength),
        plain(needed.maximum_time),
        plain(limit),
        plain(needed.maximum_temperature),
    )


def _means(source: Source) -> Means:
    """What can be changed about a source."""
    return Means(stands_at(source), source.setting.value, points_of(source))


def _courses(tree: xr.DataTree, manifest: Manifest) -> dict[str, Course]:
    """Each source over its hours."""
    return {source.name: course_of(tree, source) for source in manifest.source}


def course_of(tree: xr.DataTree, source: Source) -> Course:
    """A source over its hours: from the log if there is one, otherwise from what its maker states.

    A stated output is one of a new source; it is taken to fall exponentially, so that what is
    left depends on the hours already used.

    Examples
    --------
    >>> course_of(reduced, manifest_of(reduced).source[0]).basis
    'from a log that ends at 900 h, extrapolated to 3000 h'
    """
    setting = source.setting.value
    if source.hours is None or source.end_of_life is None:
        return Course(setting=setting)
    now, end = source.hours.value, source.end_of_life.value
    if "ageing" in tree.children and source.name in tree["ageing"].children:
        fit = cast(xr.DataTree, tree[f"/ageing/{source.name}"]).to_dataset()
        longest = float(fit["longest"])
        basis = f"from a log that ends at {longest:g} h" + (f", extrapolated to {end:g} h" * (end > longest))
        return Course(fit, now, end, basis, setting)
    if source.stated_end_output is None or end <= 0:
        return Course(setting=setting)
    stated = array_of(tree, "/sources", "stated_end_output").sel(source=source.name).reset_coords(drop=True)
    fit = xr.Dataset({"initial": 1.0, "rate": -np.log(stated) / end, "longest": np.inf})
    return Course(fit, now, end, "as its maker states, not measured", setting)
