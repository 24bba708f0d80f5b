"""Comparing the sources of a bench at the bond line."""

from __future__ import annotations

from os import PathLike
from typing import cast

import numpy as np
import xarray as xr

from spectralbench import ageing
from spectralbench.benches.folder import array_of, blamed, manifest_of
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.schema import Manifest, Source
from spectralbench.comparison import Requirement, figures_at_bond_line, judge


def compare(bench: xr.DataTree | str | PathLike[str]) -> xr.Dataset:
    """Compare the sources of a bench at the bond line.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `reduce_bench` or `open_bench`, or the folder itself.

    Returns
    -------
    xarray.Dataset
        By ``source``: figures with units, ``verdict`` and ``reason`` (source, criterion) as
        text, and ``place`` (source), 1 for what to test first. ``attrs`` keep the rule of the
        order, the advice, what was not measured, the cautions and the provenance.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced, or the requirement's band or the data sheet's
        wavelength lies outside the spectra.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> result = compare(demo)
    >>> result.sortby("place").source.values.tolist()
    ['LED 405', 'LED 385', 'arc', 'arc, filtered', 'LED 365']
    >>> result.verdict.sel(source="LED 365", criterion="irradiance").item()
    'not met'
    """
    tree = reduce_bench(bench)
    manifest, needed = manifest_of(tree), requirement_of(manifest_of(tree))
    sources = tree["sources"].to_dataset()
    with blamed(tree, "requirement.data_sheet_wavelength", "a wavelength that the spectra cover"):
        figures = figures_at_bond_line(
            sources["spectral_irradiance"],
            array_of(tree, "/parts", "transmittance"),
            array_of(tree, "/adhesive", "absorbance"),
            needed,
            end_of_life=_end_of_life(tree, manifest),
            electrical_power=sources["electrical_power"].drop_vars("electrical_power"),
        )
    result = judge(figures, needed)
    result.attrs |= {name: tree.attrs[name] for name in ("title", "manifest", "provenance")}
    return result


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


def _end_of_life(tree: xr.DataTree, manifest: Manifest) -> xr.DataArray:
    """Output at the end of life against that of today, source by source [1], and what it rests on."""
    shares, bases = zip(*(_remaining(tree, source) for source in manifest.source), strict=True)
    names = [source.name for source in manifest.source]
    return xr.DataArray(
        list(shares), {"source": names, "basis": ("source", list(bases))}, "source", attrs={"units": "1"}
    )


def _remaining(tree: xr.DataTree, source: Source) -> tuple[float, str]:
    """From the log if there is one, otherwise from what the maker states; NaN if neither helps.

    A stated output is one of a new source. For a source in use it is taken to fall
    exponentially, so that what is left depends on the hours already used.
    """
    if source.hours is None or source.end_of_life is None:
        return np.nan, ""
    now, end = source.hours.value, source.end_of_life.value
    if now > end:
        return np.nan, ""
    if "ageing" in tree.children and source.name in tree["ageing"].children:
        fit = cast(xr.DataTree, tree[f"/ageing/{source.name}"]).to_dataset()
        longest = float(fit["longest"])
        basis = f"from a log that ends at {longest:g} h" + (f", extrapolated to {end:g} h" * (end > longest))
        return float(ageing.output_at(fit, end) / ageing.output_at(fit, now)), basis
    if source.stated_end_output is None or end <= 0:
        return np.nan, ""
    left = source.stated_end_output.value ** (1 - now / end)
    return float(left), "as its maker states, not measured"
