"""Reducing a bench: from raw counts to spectral irradiances, transmittances and figures."""

from __future__ import annotations

import json
import logging
from collections.abc import Sequence
from os import PathLike
from pathlib import Path
from typing import NamedTuple, cast

import numpy as np
import xarray as xr

from spectralbench import ageing, cure, optics, reduction
from spectralbench.benches.folder import array_of, blamed, manifest_of, open_bench, roles_of
from spectralbench.benches.lines import Lines
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
    running_median,
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
    >>> round(float(sources["centre_wavelength"].sel(source="LED 405")), 1)
    404.8
    """
    if draws != 0:
        raise RangeError(f"this version reduces without draws: draws=0, not {draws}")
    tree = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
    if "sources" in tree.children:
        return tree  # reduced already
    manifest = manifest_of(tree)
    _log.info("reducing %s and %s", _count(manifest.source, "source"), _count(manifest.part, "part"))
    frames = _reduced_frames(tree, manifest)
    responsivity = _responsivity(tree, manifest, frames)
    calibrated = responsivity.coords["wavelength"]
    nodes = {
        "/instrument": responsivity.to_dataset(),
        "/sources": _sources(tree, manifest, frames, responsivity),
        "/parts": _parts(tree, manifest, frames, calibrated),
        "/adhesive": _adhesive(tree, manifest, calibrated),
    }
    for number, log in enumerate(manifest.ageing, 1):
        data = tree[f"/ageing/{log.source}"]
        with blamed(tree, f"ageing.{number}.file", "a log of hours and output"):
            fit = ageing.fit_ageing(data["hours"], data["relative_output"])
        nodes[f"/ageing/{log.source}"] = fit.assign(half=ageing.hours_until(fit, 0.5))
    for number in range(1, len(manifest.radiometer) + 1):
        nodes[f"/radiometer/{number}"] = cast(xr.DataTree, tree[f"/radiometer/{number}"]).to_dataset()
    result = xr.DataTree.from_dict(nodes, name="reduced bench")
    provenance = json.loads(tree.attrs["provenance"]) | {"settings": {"draws": draws, "seed": seed}}
    result.attrs = tree.attrs | {"provenance": json.dumps(provenance)}
    return result


def _count(items: Sequence[object], name: str) -> str:
    return f"{len(items)} {name}{'s' * (len(items) != 1)}"


_log = logging.getLogger(__name__)
_LIFTED = 1.05  # median transmittance that neither noise nor drift explains
_BELOW_DARK = 0.002  # of the full scale: counts by which no noise and no drift go below the dark
_QUOTED = [365.0, 385.0, 405.0, 436.0]  # nm; where people quote the transmittance of a part


class _Reduced(NamedTuple):
    """A frame without saturated pixels and without the dark, and how its scans scatter."""

    counts: xr.DataArray
    scatter: xr.DataArray


def _reduced_frames(tree: xr.DataTree, manifest: Manifest) -> dict[str, _Reduced]:
    """Every frame but the darks: marked, averaged, dark subtracted; by its node in the tree."""
    instrument = manifest.instrument
    full_scale, level = instrument.full_scale.value, instrument.saturation.value
    result, faults, darks = {}, [], []
    line_of = Lines(tree.attrs["manifest"])
    for role in roles_of(manifest):
        if role.frame is None:
            continue
        counts = array_of(tree, role.node, "counts")
        try:
            valid = mask_saturated(counts, full_scale, level)
            if role.node.startswith("/dark/"):
                if valid.isnull().any():
                    raise RangeError("saturated pixels: was the shutter open?")
                darks.append(counts)
                continue
            mean, scatter = average_scans(valid)
            dark = dark_at(darks, float(counts.coords["integration_time"]))
            light = subtract_dark(mean, dark)
            _refuse_below_dark(light, scatter, full_scale)
            result[role.node] = _Reduced(light, scatter)
        except RangeError as error:
            fault = Fault(str(error), "a frame and a dark that fit each other")
            faults.append(fault.within(role.file, role.key, line_of(role.key)))
    if faults:
        raise BenchError(Path(tree.attrs["folder"]) / MANIFEST, faults)
    return result


def _refuse_below_dark(light: xr.DataArray, scatter: xr.DataArray, full_scale: float) -> None:
    """Refuse a frame that is clearly darker than its dark: then the dark had light in it."""
    level, noise = running_median(light.values), running_median(scatter.values)
    below = level < -np.fmax(10 * noise, _BELOW_DARK * full_scale)
    if below.any():
        at = float(light.coords["wavelength"][int(np.nanargmin(level))])
        raise RangeError(f"{-np.nanmin(level):.0f} counts less than in the dark, near {at:.0f} nm")


def _responsivity(tree: xr.DataTree, manifest: Manifest, frames: dict[str, _Reduced]) -> xr.DataArray:
    """Responsivity over the wavelengths that frame and certificate share, where it is valid."""
    lamp, frame = manifest.standard_lamp, frames["/standard_lamp/frame"]
    certificate = array_of(tree, "/standard_lamp/certificate", "spectral_irradiance")
    grid, known = frame.counts.coords["wavelength"], certificate.coords["wavelength"]
    with blamed(tree, "standard_lamp.frame", "a frame in which the lamp lights the detector"):
        usable = clear_signal(frame.counts, frame.scatter)
    usable = usable & (grid >= known[0]) & (grid <= known[-1])
    with blamed(tree, "standard_lamp.certificate", "a certificate for where the lamp lights the detector"):
        if usable.sum() < 3:
            raise RangeError(f"values for {float(known[0]):g}–{float(known[-1]):g} nm")
        shared = signal_from_counts(frame.counts).isel(wavelength=usable.values)
        expected = lamp_irradiance(
            certificate,
            shared.coords["wavelength"].values,
            distance=lamp.distance.value,
            certified_distance=lamp.certified_distance.value,
        )
    first, last = (float(shared.coords["wavelength"][i]) for i in (0, -1))
    kept = f"kept {first:.1f}–{last:.1f} nm, where the lamp is certified and clear of its scatter"
    return responsivity_from_lamp(noted(shared, kept), expected)


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
            with blamed(tree, f"source.{number}.attenuator", "a curve over all calibrated wavelengths"):
                if passed.isnull().any():
                    ends = curve.coords["wavelength"].values[[0, -1]]
                    raise RangeError(f"a curve over {ends[0]:g}–{ends[1]:g} nm, or one that is not valid")
            calibration = (responsivity * passed).assign_attrs(responsivity.attrs)
        for array, into in ((frame.counts, spectra), (frame.scatter, scatters)):
            signal = signal_from_counts(array.sel(wavelength=responsivity.coords["wavelength"]))
            into.append(irradiance_from_signal(signal, calibration))
    names = [source.name for source in manifest.source]
    spectrum, scatter = _stacked(spectra, names, "source"), _stacked(scatters, names, "source")
    scatter.attrs["long_name"] = "standard uncertainty of the mean of the scans, from their scatter alone"
    low, high = (edge.value for edge in manifest.requirement.band)
    with blamed(tree, "requirement.band", "a band within the calibrated wavelengths"):
        in_band = reduction.band_irradiance(spectrum, low, high)
    result = reduction.figures(spectrum).assign(
        spectral_irradiance=spectrum, scatter=scatter, band_irradiance=in_band
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
        sample, *taken = (
            signal_from_counts(frames[f"{node}/{name}"].counts).drop_vars("integration_time")
            for name in ("sample", *(f"reference_{i}" for i in range(1, len(part.references) + 1)))
        )
        with blamed(tree, f"part.{number}", "references with light in them, before and after the sample"):
            passed = optics.transmittance(sample, _bracket(taken) if len(taken) > 1 else taken[0])
            drifts.append(_drift(taken))
            spectra.append(passed.sel(wavelength=calibrated))
            _refuse_lifted_light(spectra[-1])
    transmittance = _stacked(spectra, [part.name for part in manifest.part], "part")
    at = [w for w in _QUOTED if calibrated[0] <= w <= calibrated[-1]]
    quoted = xr.DataArray(
        [np.interp(at, calibrated, row) for row in transmittance.values],
        {"quoted_wavelength": ("quoted_wavelength", at, {"units": "nm"})},
        ("part", "quoted_wavelength"),
        attrs={"units": "1", "long_name": "transmittance at wavelengths that people quote"},
    )
    drift = xr.DataArray(drifts, dims="part", attrs={"units": "1", "long_name": "drift between references"})
    return xr.Dataset({"transmittance": transmittance, "quoted": quoted, "drift": drift})


def _refuse_lifted_light(passed: xr.DataArray) -> None:
    """Refuse a part that passes clearly more than arrives: sample and reference were swapped."""
    level = float(passed.median())
    if level > _LIFTED:
        raise RangeError(f"a transmittance of {level:.0%} over half of the wavelengths: swapped files?")


def _bracket(references: list[xr.DataArray]) -> xr.DataArray:
    """References in one array along time."""
    if any("time" not in frame.coords for frame in references):
        raise RangeError(
            'a reference that does not say when it was taken: write "# time: 2026-03-02T10:15:00" into it'
        )
    return xr.concat(references, "time", coords="different", compat="equals", combine_attrs="drop_conflicts")


def _drift(references: list[xr.DataArray]) -> float:
    """How far the brightest reference lies above the darkest, summed over all valid pixels [1]."""
    frames = np.stack([frame.values for frame in references])
    totals = frames[:, ~np.isnan(frames).any(axis=0)].sum(axis=1)
    if not (totals > 0).all():
        raise RangeError("a reference without light")
    return float(totals.max() / totals.min() - 1) if totals.size > 1 else np.nan


def _adhesive(tree: xr.DataTree, manifest: Manifest, calibrated: xr.DataArray) -> xr.Dataset:
    """Absorbance of each initiator in the bond line; zero outside the range of its curve."""
    adhesive, spectra = manifest.adhesive, []
    bond_line = adhesive.bond_line.value / 10  # mm to cm
    grid = calibrated.values
    needed = [edge.value for edge in manifest.requirement.band]
    if manifest.requirement.data_sheet_wavelength is not None:
        needed.append(manifest.requirement.data_sheet_wavelength.value)
    for number, initiator in enumerate(adhesive.initiator, 1):
        measured = array_of(tree, f"/adhesive/{initiator.name}", "molar_absorption_coefficient")
        with blamed(
            tree,
            f"adhesive.initiator.{number}.curve",
            "a curve over band and data sheet wavelength, nowhere negative",
        ):
            curve = Curve.of(measured)
            for wavelength in needed:
                if not curve.wavelength[0] <= wavelength <= curve.wavelength[-1]:
                    ends = f"{curve.wavelength[0]:g}–{curve.wavelength[-1]:g} nm"
                    raise RangeError(
                        f"a curve over {ends}, without {wavelength:g} nm; what is not known is not 0"
                    )
            coefficient = spectrum_of(curve(grid), grid, "molar_absorption_coefficient")
            film = cure.initiator_absorbance(coefficient, initiator.concentration.value, bond_line)
        spectra.append(film)
    names = [initiator.name for initiator in adhesive.initiator]
    return _stacked(spectra, names, "initiator").to_dataset(name="absorbance")


def _stacked(arrays: list[xr.DataArray], names: list[str], dimension: str) -> xr.DataArray:
    """Arrays of one grid along a new dimension, with the history of each."""
    along = xr.DataArray(names, dims=dimension, name=dimension)
    plain = [array.drop_vars("time", errors="ignore") for array in arrays]
    result = xr.concat(plain, along, join="exact", combine_attrs="drop_conflicts")
    lines = [
        f"{name}: {line}"
        for name, array in zip(names, arrays, strict=True)
        for line in array.attrs.get("history", "").splitlines()
    ]
    return result.assign_attrs(history="\n".join(lines))


def _on_grid(curve: xr.DataArray, like: xr.DataArray) -> xr.DataArray:
    """A transmittance curve on another grid: straight lines between its points, NaN outside."""
    known, wanted = curve.coords["wavelength"].values, like.coords["wavelength"].values
    return like.copy(data=np.interp(wanted, known, curve.values, left=np.nan, right=np.nan))
