"""Reducing a bench: from raw counts to spectral irradiances, transmittances and figures."""

from __future__ import annotations

import json
import logging
from os import PathLike
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench import ageing, cure, optics, reduction
from spectralbench.benches.folder import array_of, manifest_of, open_bench, roles_of
from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.schema import Manifest
from spectralbench.corrections import (
    average_scans,
    clear_signal,
    dark_at,
    irradiance_from_signal,
    lamp_irradiance,
    mask_saturated,
    responsivity_from_lamp,
    signal_from_counts,
    subtract_dark,
)
from spectralbench.errors import BenchError, Fault, RangeError
from spectralbench.model import noted
from spectralbench.model import spectrum as spectrum_of
from spectralbench.weightings import Curve


def reduce_bench(
    bench: xr.DataTree | str | PathLike[str], draws: int = 0, seed: int | None = None
) -> xr.DataTree:
    """Reduce a bench: every raw frame to a spectrum, and every spectrum to its figures.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `open_bench`, or the folder itself.
    draws : int
        Draws of the Monte Carlo method. This version takes only 0: figures without intervals.
    seed : int, optional
        Seed of the draws.

    Returns
    -------
    xarray.DataTree
        ``/sources`` with ``spectral_irradiance`` (source, wavelength) [W m-2 nm-1], its
        ``scatter`` over the scans, and figures (source); ``/parts`` with ``transmittance``
        (part, wavelength) [1], ``quoted`` at the usual wavelengths and ``drift`` (part);
        ``/adhesive`` with ``absorbance`` (initiator, wavelength) [1]; ``/instrument`` with
        ``responsivity``; ``/ageing/…`` with the fit of each log; ``/radiometer/…`` with the
        readings as they are. Pixels that were saturated are NaN, and so is every figure that
        depends on one.

    Raises
    ------
    BenchError
        If the files do not fit together: a dark is missing, a sample lies outside its references.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> sources = reduce_bench(demo)["sources"]
    >>> round(float(sources["peak_wavelength"].sel(source="LED 405")), 1)
    404.6
    """
    if draws != 0:
        raise RangeError(f"this version reduces without draws: draws=0, not {draws}")
    tree = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
    manifest = manifest_of(tree)
    _log.info("reducing %d sources and %d parts", len(manifest.source), len(manifest.part))
    frames = _reduced_frames(tree, manifest)
    responsivity = _responsivity(tree, manifest, frames)
    calibrated = responsivity.coords["wavelength"]
    sources = _sources(tree, manifest, frames, responsivity)
    nodes = {
        "/instrument": responsivity.to_dataset(),
        "/sources": sources,
        "/parts": _parts(tree, manifest, frames, calibrated),
        "/adhesive": _adhesive(tree, manifest, calibrated),
    }
    if "ageing" in tree.children:
        for name, log in tree["ageing"].children.items():
            fit = ageing.fit_ageing(log["hours"], log["relative_output"])
            nodes[f"/ageing/{name}"] = fit.assign(half=ageing.hours_until(fit, 0.5))
    if "radiometer" in tree.children:
        for name, log in tree["radiometer"].children.items():
            nodes[f"/radiometer/{name}"] = log.to_dataset()
    result = xr.DataTree.from_dict(nodes, name="reduced bench")
    provenance = json.loads(tree.attrs["provenance"]) | {"settings": {"draws": draws, "seed": seed}}
    result.attrs = tree.attrs | {"provenance": json.dumps(provenance)}
    return result


_log = logging.getLogger(__name__)
_QUOTED = [365.0, 385.0, 405.0, 436.0]  # nm; where people quote the transmittance of a part


class _Reduced(NamedTuple):
    """A frame without saturated pixels and without the dark, and how its scans scatter."""

    counts: xr.DataArray
    scatter: xr.DataArray


def _reduced_frames(tree: xr.DataTree, manifest: Manifest) -> dict[str, _Reduced]:
    """Every frame but the darks: marked, averaged, dark subtracted; by its node in the tree."""
    instrument = manifest.instrument
    darks = [node.to_dataset()["counts"] for node in tree["dark"].children.values()]
    result, faults = {}, []
    for role in roles_of(manifest):
        if role.frame is None or role.node.startswith("/dark/"):
            continue
        counts = array_of(tree, role.node, "counts")
        try:
            valid = mask_saturated(counts, instrument.full_scale.value, instrument.saturation.value)
            mean, scatter = average_scans(valid)
            dark = dark_at(darks, float(counts.coords["integration_time"]))
            result[role.node] = _Reduced(subtract_dark(mean, dark), scatter)
        except RangeError as error:
            faults.append(Fault(str(error), "a frame that the darks fit", key=role.key))
    if faults:
        raise BenchError(f"{tree.attrs['folder']}/{MANIFEST}", faults)
    return result


def _responsivity(tree: xr.DataTree, manifest: Manifest, frames: dict[str, _Reduced]) -> xr.DataArray:
    """Responsivity over the wavelengths that frame and certificate share, where it is valid."""
    lamp, frame = manifest.standard_lamp, frames["/standard_lamp/frame"]
    certificate = array_of(tree, "/standard_lamp/certificate", "spectral_irradiance")
    grid, known = frame.counts.coords["wavelength"], certificate.coords["wavelength"]
    try:
        usable = clear_signal(frame.counts, frame.scatter)
    except RangeError as error:
        raise _fault(tree, "standard_lamp.frame", str(error), "a lamp that lights the detector") from error
    usable = usable & (grid >= known[0]) & (grid <= known[-1])
    if usable.sum() < 3:
        found = f"a certificate for {float(known[0]):g}–{float(known[-1]):g} nm"
        raise _fault(tree, "standard_lamp.certificate", found, "one for where the lamp lights the detector")
    shared = signal_from_counts(frame.counts).isel(wavelength=usable.values)
    first, last = (float(shared.coords["wavelength"][i]) for i in (0, -1))
    shared = noted(
        shared, f"kept {first:.1f}–{last:.1f} nm, where the lamp is certified and clear of its scatter"
    )
    expected = lamp_irradiance(
        certificate,
        shared.coords["wavelength"].values,
        distance=lamp.distance.value,
        certified_distance=lamp.certified_distance.value,
    )
    return responsivity_from_lamp(shared, expected)


def _sources(
    tree: xr.DataTree, manifest: Manifest, frames: dict[str, _Reduced], responsivity: xr.DataArray
) -> xr.Dataset:
    """Spectral irradiance of each source, its scatter, and the figures that people quote."""
    spectra: list[xr.DataArray] = []
    scatters: list[xr.DataArray] = []
    for number, source in enumerate(manifest.source, 1):
        frame = frames[f"/source/{source.name}/frame"]
        calibration = responsivity
        if source.attenuator:
            curve = array_of(tree, f"/source/{source.name}/attenuator", "transmittance")
            passed = _on_grid(curve, responsivity)
            if passed.isnull().any():
                found = f"a curve over {float(curve.wavelength[0]):g}–{float(curve.wavelength[-1]):g} nm"
                raise _fault(
                    tree, f"source.{number}.attenuator", found, "one over all calibrated wavelengths"
                )
            calibration = responsivity * passed
            calibration.attrs["units"] = responsivity.attrs["units"]
        for array, into in ((frame.counts, spectra), (frame.scatter, scatters)):
            signal = signal_from_counts(array.sel(wavelength=responsivity.coords["wavelength"]))
            into.append(irradiance_from_signal(signal, calibration))
    names = [source.name for source in manifest.source]
    spectrum, scatter = _stacked(spectra, names, "source"), _stacked(scatters, names, "source")
    scatter.attrs["long_name"] = "standard uncertainty of the mean of the scans, from their scatter alone"
    low, high = (edge.value for edge in manifest.requirement.band)
    result = reduction.figures(spectrum).assign(
        spectral_irradiance=spectrum,
        scatter=scatter,
        band_irradiance=reduction.band_irradiance(spectrum, low, high),
    )
    for name, units in (("distance", "mm"), ("spot", "mm"), ("electrical_power", "W"), ("hours", "h")):
        values = [getattr(source, name) for source in manifest.source]
        numbers = [np.nan if value is None else value.value for value in values]
        result = result.assign_coords({name: ("source", numbers, {"units": units})})
    filters = [source.filter or "none" for source in manifest.source]
    kinds = [str(source.kind) for source in manifest.source]
    return result.assign_coords(kind=("source", kinds), filter=("source", filters))


def _parts(
    tree: xr.DataTree, manifest: Manifest, frames: dict[str, _Reduced], calibrated: xr.DataArray
) -> xr.Dataset:
    """Transmittance of each part, and how far its reference drifted."""
    spectra, drifts = [], []
    for number, part in enumerate(manifest.part, 1):
        node = f"/part/{part.name}"
        sample = frames[f"{node}/sample"].counts
        taken = [frames[f"{node}/reference_{i}"].counts for i in range(1, len(part.references) + 1)]
        try:
            reference = _bracket(taken) if len(taken) > 1 else taken[0]
            passed = optics.transmittance(sample, reference)
        except RangeError as error:
            expected = "references before and after the sample"
            raise _fault(tree, f"part.{number}", str(error), expected) from error
        spectra.append(
            passed.sel(wavelength=calibrated).drop_vars(("time", "integration_time"), errors="ignore")
        )
        totals = [float(signal_from_counts(frame).sum()) for frame in taken]
        drifts.append(max(totals) / min(totals) - 1 if len(totals) > 1 else np.nan)
    transmittance = _stacked(spectra, [part.name for part in manifest.part], "part")
    drift = xr.DataArray(drifts, dims="part", attrs={"units": "1", "long_name": "drift between references"})
    at = xr.DataArray(_QUOTED, dims="quoted_wavelength", attrs={"units": "nm"})
    at = at[(at >= calibrated[0]).values & (at <= calibrated[-1]).values]
    quoted = transmittance.interp(wavelength=at).drop_vars("wavelength")
    quoted = quoted.assign_coords(quoted_wavelength=at).assign_attrs(units="1")
    return xr.Dataset({"transmittance": transmittance, "quoted": quoted, "drift": drift})


def _bracket(references: list[xr.DataArray]) -> xr.DataArray:
    """References in one array along time."""
    if any("time" not in frame.coords for frame in references):
        raise RangeError(
            'a reference does not say when it was taken: write "# time: 2026-03-02T10:15:00" into it'
        )
    return xr.concat(references, "time", coords="different", compat="equals", combine_attrs="drop_conflicts")


def _adhesive(tree: xr.DataTree, manifest: Manifest, calibrated: xr.DataArray) -> xr.Dataset:
    """Absorbance of each initiator in the bond line; zero outside the range of its curve."""
    adhesive, spectra = manifest.adhesive, []
    bond_line = adhesive.bond_line.value / 10  # mm to cm
    grid = calibrated.values
    for initiator in adhesive.initiator:
        curve = Curve.of(array_of(tree, f"/adhesive/{initiator.name}", "molar_absorption_coefficient"))
        coefficient = spectrum_of(curve(grid), grid, "molar_absorption_coefficient")
        spectra.append(cure.initiator_absorbance(coefficient, initiator.concentration.value, bond_line))
    names = [initiator.name for initiator in adhesive.initiator]
    return _stacked(spectra, names, "initiator").to_dataset(name="absorbance")


def _stacked(arrays: list[xr.DataArray], names: list[str], dimension: str) -> xr.DataArray:
    """Arrays of one grid along a new dimension; notes that differ between them are dropped."""
    along = xr.DataArray(names, dims=dimension, name=dimension)
    plain = [array.drop_vars("time", errors="ignore") for array in arrays]
    return xr.concat(plain, along, join="exact", combine_attrs="drop_conflicts")


def _on_grid(curve: xr.DataArray, like: xr.DataArray) -> xr.DataArray:
    """A transmittance curve on another grid: straight lines between its points, NaN outside."""
    known, wanted = curve.coords["wavelength"].values, like.coords["wavelength"].values
    return like.copy(data=np.interp(wanted, known, curve.values, left=np.nan, right=np.nan))


def _fault(tree: xr.DataTree, key: str, found: str, expected: str) -> BenchError:
    """One fault that only shows while reducing."""
    return BenchError(f"{tree.attrs['folder']}/{MANIFEST}", [Fault(found, expected, key=key)])
