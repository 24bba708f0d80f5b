"""Reducing a bench: from raw counts to spectral irradiances, transmittances and figures."""

from __future__ import annotations

import json
import logging
import secrets
from collections.abc import Sequence
from os import PathLike
from typing import cast

import numpy as np
import xarray as xr

from spectralbench import ageing, reduction
from spectralbench.ageing.two_stage import FEWEST
from spectralbench.benches.bond_line import absorbances
from spectralbench.benches.budget import Budget, in_precision
from spectralbench.benches.folder import array_of, blamed, manifest_of, open_bench
from spectralbench.benches.frames import Frames, Light, best_estimates, drawn, saturated
from spectralbench.benches.memory import within_memory
from spectralbench.benches.passing import passed
from spectralbench.benches.placing import misplaced, placed
from spectralbench.benches.quantities import KeyedError
from spectralbench.benches.reconciling import reconciled
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.signals import corrected_signals
from spectralbench.benches.spots import spots
from spectralbench.benches.stacking import estimate, stacked, window
from spectralbench.benches.steps import Steps
from spectralbench.benches.uncalibrated import SHORTER, Range, Reason, cautions_of, marked, range_of
from spectralbench.corrections import (
    clear_signal,
    interpolate,
    irradiance_from_signal,
    lamp_irradiance,
    responsivity_from_lamp,
    signal_from_counts,
)
from spectralbench.corrections.pixel_faults import in_words
from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.readers.gaps import missing


def reduce_bench(
    bench: xr.DataTree | str | PathLike[str], draws: int = 0, seed: int | None = None
) -> xr.DataTree:
    """Reduce a bench: every raw frame to a spectrum, and every spectrum to its figures.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `open_bench`, or the folder itself.
    draws : int
        Draws of the Monte Carlo method; with 0, best estimates without intervals.
    seed : int, optional
        Seed of the draws: the same seed gives the same draws, bit for bit. Without it, one is
        made up, and kept in the provenance.

    Returns
    -------
    xarray.DataTree
        ``/sources`` with ``spectral_irradiance`` (source, wavelength) [W m-2 nm-1], its
        ``scatter`` over the scans, and figures (source), all where it was measured, and with a working
        distance ``working_share`` (source), the irradiance there against it; ``/parts`` with
        ``transmittance`` (part, wavelength) [1], ``bonded_transmittance``, the same with the back face
        of the last one wetted by the adhesive, ``quoted`` at the usual wavelengths and ``drift``
        (part); ``/adhesive`` with ``absorbance`` (initiator, wavelength) and ``reciprocity`` [1];
        ``/instrument`` with ``responsivity``; ``/ageing/…`` with the fit of each log;
        ``/radiometer/…`` with the readings as they are, corrected for the source where the head is
        known, and how they agree with the spectrometer. Pixels that were saturated are NaN, and so is
        every figure that depends on one; so is the end of a spectrum whose light goes on where the
        standard lamp does not calibrate (``attrs["cautions"]`` of ``/sources`` says which). With draws,
        every array that an uncertainty reaches has the dimension ``draw``; `spectralbench.summarize` says
        what they amount to.

    Raises
    ------
    BenchError
        If the files do not fit together: a dark is missing, a sample lies outside its references.
    RangeError
        If draws are asked of a bench that is reduced already, or fewer than 0 of them.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> sources = reduce_bench(demo)["sources"]
    >>> round(float(sources["centre_wavelength"].sel(source="LED 405")), 1)
    404.8
    """
    tree = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
    if is_reduced(tree):
        if draws:
            if "adjusted" in tree.attrs:
                raise RangeError(
                    "this bench is reduced and taken otherwise already: reduce it with draws, then adjust it"
                )
            raise RangeError("this bench is reduced already: open it again to reduce it with draws")
        return tree
    if draws < 0:
        raise RangeError(f"draws are 0 or more, not {draws}")
    manifest = manifest_of(tree)
    _log.info("reducing %s and %s", _count(manifest.source, "source"), _count(manifest.part, "part"))
    frames = best_estimates(tree, manifest)
    return reduced_with(tree, manifest, frames, Steps(Budget(manifest, draws, seed_of(seed))))


def is_reduced(tree: xr.DataTree) -> bool:
    """Whether a bench was reduced.

    Examples
    --------
    >>> is_reduced(open_bench(demo)), is_reduced(reduced)
    (False, True)
    """
    return "sources" in tree.children


def seed_of(seed: int | None) -> int:
    """A seed that can be written down, whether one was given or not.

    Raises
    ------
    RangeError
        If it is negative.

    Examples
    --------
    >>> seed_of(7)
    7
    """
    if seed is not None and seed < 0:
        raise RangeError(f"a seed is a whole number of at least 0, not {seed}")
    return secrets.randbits(32) if seed is None else seed


def reduced_with(tree: xr.DataTree, manifest: Manifest, frames: Frames, steps: Steps) -> xr.DataTree:
    """Reduce an opened bench with the draws of a budget; see `reduce_bench`.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    frames : Frames
        Its frames.
    steps : Steps
        The budget of its inputs, and what is known of the steps already.

    Returns
    -------
    xarray.DataTree
        As `reduce_bench` gives it.

    Examples
    --------
    >>> tree = open_bench(demo)
    >>> manifest = manifest_of(tree)
    >>> steps = Steps(Budget(manifest, draws=20, seed=1))
    >>> reduced_with(tree, manifest, best_estimates(tree, manifest), steps)["sources"].sizes["draw"]
    20
    """
    budget, lit = steps.budget, list(frames.lights.values())
    within_memory(budget.draws, lit[0].counts.sizes["wavelength"], len(lit))
    with blamed(tree, "instrument", "corrections that fit the frames"):
        signals = steps("signals", lambda: corrected_signals(frames, drawn(frames, budget), manifest))
    responsivity = steps(
        "responsivity", lambda: _responsivity(tree, manifest, frames, signals, budget), "signals"
    )
    grid = responsivity.coords["wavelength"]
    nodes = {
        "/instrument": responsivity.to_dataset(),
        "/sources": steps(
            "sources",
            lambda: _sources(tree, manifest, frames, signals, responsivity, budget),
            *("signals", "responsivity"),
        ).assign(steps("spots", lambda: spots(tree, manifest))),
        "/parts": steps("parts", lambda: passed(tree, manifest, signals, grid, budget), "signals"),
        "/adhesive": steps("adhesive", lambda: absorbances(tree, manifest, grid, budget)),
    }
    if (share := steps("placing", lambda: placed(tree, manifest, budget))) is not None:
        nodes["/sources"]["working_share"] = share
    nodes |= steps("ageing", lambda: _ageing(tree, manifest, budget))
    if budget.only is None:  # a cause alone is drawn for the figures of the sources
        nodes |= reconciled(tree, manifest, nodes["/sources"], budget)
    result = xr.DataTree.from_dict(nodes, name="reduced bench")
    settings = {"draws": budget.draws, "seed": budget.seed if budget.draws else None}
    provenance = json.loads(tree.attrs["provenance"]) | {"settings": settings}
    result.attrs = tree.attrs | {"provenance": json.dumps(provenance)}
    return result


def _ageing(tree: xr.DataTree, manifest: Manifest, budget: Budget) -> dict[str, xr.Dataset]:
    """The fit of each log of output against hours."""
    nodes = {}
    for number, log in enumerate(manifest.ageing, 1):
        node = f"/ageing/{log.source}"
        with blamed(tree, f"ageing.{number}.file", "a log of hours and output"):
            fit = _drawn_fit(_fitted(array_of(tree, node, "relative_output")), log.source, budget)
        nodes[node] = fit.assign(half=ageing.hours_until(fit, 0.5))
    return nodes


def _count(items: Sequence[object], name: str) -> str:
    return f"{len(items)} {name}{'s' * (len(items) != 1)}"


_log = logging.getLogger(__name__)
_LAMP = "/standard_lamp/frame"
_FEWEST_PIXELS = 3
_UNCERTAINTY = "spectral_irradiance_standard_uncertainty"  # as the reader calls it


def _responsivity(
    tree: xr.DataTree, manifest: Manifest, frames: Frames, signals: dict[str, xr.DataArray], budget: Budget
) -> xr.DataArray:
    """Responsivity over the wavelengths that frame and certificate share, where it is valid."""
    node, lamp = _LAMP, manifest.standard_lamp
    frame = frames.lights[node]
    certificate = array_of(tree, "/standard_lamp/certificate", "spectral_irradiance")
    grid, known = frame.counts.coords["wavelength"], certificate.coords["wavelength"]
    usable = _usable(tree, manifest, frame, known)
    with blamed(tree, "standard_lamp.certificate", "a certificate for where the lamp lights the detector"):
        if usable.sum() < _FEWEST_PIXELS:
            raise RangeError(f"values for {float(known[0]):g}–{float(known[-1]):g} nm")
        shared = window(signals[node], grid[usable.values])
        both = cast(xr.DataTree, tree["/standard_lamp/certificate"]).to_dataset()
        expected = lamp_irradiance(
            budget.curve("lamp irradiance", lamp.name, certificate, both.get(_UNCERTAINTY)),
            shared.coords["wavelength"].values,
            distance=budget.scalar("lamp distance", "now", lamp.distance),
            certified_distance=budget.scalar("lamp distance", "certified", lamp.certified_distance),
        )
    calibrated = _range(tree, manifest, shared, known)
    _require_data_sheet_wavelength(tree, manifest, grid, calibrated)
    first, last, *_ = calibrated
    kept = f"kept {first:.1f}–{last:.1f} nm, where the lamp is certified and clear of its scatter"
    responsivity = responsivity_from_lamp(noted(shared, kept), expected).transpose(..., "wavelength")
    return in_precision(responsivity.drop_vars("integration_time"))


def _usable(tree: xr.DataTree, manifest: Manifest, frame: Light, known: xr.DataArray) -> xr.DataArray:
    """Where the standard lamp is certified and stands clear; refused where it is saturated instead."""
    grid, hit = frame.counts.coords["wavelength"], saturated(tree, manifest, _LAMP)
    with blamed(tree, "standard_lamp.frame", "a frame in which the lamp lights the detector"):
        try:
            clear = clear_signal(frame.counts, frame.scatter)
        except RangeError:
            if not hit.any():
                raise
            clear = xr.zeros_like(hit)
        usable: xr.DataArray = clear & (grid >= known[0]) & (grid <= known[-1])
        if usable.sum() < _FEWEST_PIXELS and hit.any():
            raise KeyedError(
                f"{in_words(grid.values, hit.values)} of {manifest.standard_lamp.frame.file} saturated, and "
                "no others that count",
                "standard_lamp.frame",
                f"a frame of the lamp below saturation: {SHORTER}",
            )
    return usable


def _range(tree: xr.DataTree, manifest: Manifest, calibrated: xr.DataArray, known: xr.DataArray) -> Range:
    """What the standard lamp of a bench calibrates, and for what it is certified."""
    return range_of(calibrated, known, saturated(tree, manifest, _LAMP), manifest.standard_lamp.frame.file)


def _require_data_sheet_wavelength(
    tree: xr.DataTree, manifest: Manifest, pixels: xr.DataArray, lamp: Range
) -> None:
    """Refuse a lamp that does not calibrate the data sheet's wavelength, though there are pixels for it."""
    asked = manifest.requirement.data_sheet_wavelength
    if asked is None or not float(pixels[0]) <= asked.value <= float(pixels[-1]):
        return
    if not lamp.first <= asked.value <= lamp.last:
        certified = lamp.certified[0] <= asked.value <= lamp.certified[1]
        key = "standard_lamp.frame" if certified else "standard_lamp.certificate"
        why, remedy = lamp.why_not(asked.value)
        with blamed(tree, key, f"a lamp that calibrates it: {remedy}"):
            raise RangeError(f"{asked.value:g} nm, the data sheet's wavelength, without calibration: {why}")


def _sources(
    tree: xr.DataTree,
    manifest: Manifest,
    frames: Frames,
    signals: dict[str, xr.DataArray],
    responsivity: xr.DataArray,
    budget: Budget,
) -> xr.Dataset:
    """Spectral irradiance of each source, its scatter, and the figures that people quote."""
    spectra: list[xr.DataArray] = []
    scatters: list[xr.DataArray] = []
    calibrations: dict[tuple[object, ...], tuple[xr.DataArray, xr.DataArray]] = {}  # by attenuator
    calibrated = responsivity.coords["wavelength"]
    certified = array_of(tree, "/standard_lamp/certificate", "spectral_irradiance").coords["wavelength"]
    lamp, outside = _range(tree, manifest, responsivity, certified), dict[str, Reason]()
    for number, source in enumerate(manifest.source, 1):
        node = f"/source/{source.name}/frame"
        same = (source.attenuator, *(line.name for line in budget.lines_on("attenuator", source.name)))
        if same not in calibrations:
            with blamed(tree, f"source.{number}.attenuator", "a curve over all calibrated wavelengths"):
                behind = _attenuated(tree, source, responsivity, budget)
            calibrations[same] = behind, estimate(behind)
        calibration, best = calibrations[same]
        spread = signal_from_counts(frames.lights[node].scatter.sel(wavelength=calibrated))
        scatters.append(irradiance_from_signal(spread, best))
        light = irradiance_from_signal(window(signals[node], calibrated), calibration)
        light, reason = marked(light, signals[node], frames.lights[node], lamp)
        if reason is not None:
            outside[source.name] = reason
        off = misplaced(source, source.distance, source.name, budget)
        spectra.append(budget.curve("spectral irradiance", source.name, light, scale=off))
    names = [source.name for source in manifest.source]
    spectrum, scatter = stacked(spectra, names, "source"), stacked(scatters, names, "source")
    scatter.attrs["long_name"] = "standard uncertainty of the mean of the scans, from their scatter alone"
    low, high = (edge.value for edge in manifest.requirement.band)
    with blamed(tree, "requirement.band", "a band within the calibrated wavelengths"):
        in_band = reduction.band_irradiance(spectrum, low, high)
    shape = {} if budget.only else reduction.figures(spectrum)  # of which a cause alone says nothing
    result = xr.Dataset(
        {**shape, "spectral_irradiance": spectrum, "scatter": scatter, "band_irradiance": in_band}
    )
    for name, units in (("distance", "mm"), ("spot", "mm"), ("electrical_power", "W"), ("hours", "h")):
        values = [getattr(source, name) for source in manifest.source]
        numbers = [np.nan if value is None else value.value for value in values]
        result = result.assign_coords({name: ("source", numbers, {"units": units})})
    stated = [
        np.nan
        if source.stated_end_output is None
        else budget.scalar("end of life", source.name, source.stated_end_output)
        for source in manifest.source
    ]
    along = xr.DataArray(names, dims="source", name="source")
    result["stated_end_output"] = xr.concat(xr.broadcast(*map(xr.DataArray, stated)), along)
    result["stated_end_output"].attrs = {"units": "1", "long_name": "output at the end of life, as stated"}
    filters = [source.filter or "none" for source in manifest.source]
    kinds = [str(source.kind) for source in manifest.source]
    result = result.assign_coords(kind=("source", kinds), filter=("source", filters))
    if outside:
        words = {name: reason.words for name, reason in outside.items()}
        result["spectral_irradiance"].attrs["uncalibrated"] = json.dumps(words, ensure_ascii=False)
    if cautions := [*frames.cautions, *cautions_of(outside), *_bridged(tree, manifest, certified)]:
        result.attrs["cautions"] = json.dumps(cautions, ensure_ascii=False)
    return result


def _bridged(tree: xr.DataTree, manifest: Manifest, certified: xr.DataArray) -> list[str]:
    """Gaps in the lamp's certificate and in the curves of attenuators."""
    curves = {manifest.standard_lamp.certificate: certified}
    for source in manifest.source:
        if source.attenuator is not None:
            curve = array_of(tree, f"/source/{source.name}/attenuator", "transmittance")
            curves[source.attenuator] = curve.coords["wavelength"]
    return [f"{file}: {text}" for file, grid in curves.items() for text in missing(grid)]


def _attenuated(
    tree: xr.DataTree, source: Source, responsivity: xr.DataArray, budget: Budget
) -> xr.DataArray:
    """The responsivity behind the attenuator of a source, if it has one."""
    if source.attenuator is None:
        return responsivity
    curve = array_of(tree, f"/source/{source.name}/attenuator", "transmittance")
    if not np.isfinite(curve.values).all():
        raise RangeError("a curve with values that are not valid")
    curve = budget.curve("attenuator", source.name, curve, thing=source.attenuator)
    passed = interpolate(curve, responsivity.coords["wavelength"])
    behind = (responsivity * passed).transpose(..., "wavelength")
    return in_precision(behind).assign_attrs(responsivity.attrs)


def _fitted(output: xr.DataArray) -> xr.Dataset:
    """The fit of a log: in two stages where it is long enough to show them, otherwise in one."""
    hours = output.coords["hours"]
    if np.unique(hours.values).size >= FEWEST:
        found = ageing.fit_two_stage(hours, output)
        if found["better"] == 2:
            return found
    return ageing.fit_ageing(hours, output)


def _drawn_fit(fit: xr.Dataset, source: str, budget: Budget) -> xr.Dataset:
    """The fit of a log, with the draws that its residuals give."""
    stream = budget.stream("end of life", source)
    return fit if stream is None else ageing.drawn(fit, budget.draws, stream)
