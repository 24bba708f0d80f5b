"""Every frame of a bench: marked, averaged, without its dark, and with the draws of its noise."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.benches.budget import PRECISION, Budget
from spectralbench.benches.folder import Role, array_of, roles_of
from spectralbench.benches.lines import Lines
from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.mismatches import in_manifest
from spectralbench.benches.schema import Manifest
from spectralbench.benches.steadiness import flat, unsteady
from spectralbench.corrections import (
    NoiseModel,
    average_scans,
    dark_at,
    dark_weights,
    fit_noise,
    flicker,
    leave_out,
    mask_saturated,
    running_median,
    sensor_temperature,
    subtract_dark,
    uncertainty_of_mean,
)
from spectralbench.corrections.temperature import SAME_TEMPERATURE
from spectralbench.errors import BenchError, Fault, RangeError, quote
from spectralbench.units import Measured

_CONTRADICTED = 3.0  # times the scatter of the darks; no few scans are so quiet by chance
_BESIDE = 3  # pixels judged together, so that no hot one counts as light
_LIT = 0.02  # of the full scale, above the median of all pixels: no dark does that
_BELOW_DARK = 0.002  # of the full scale: counts by which no noise and no drift go below the dark


class Light(NamedTuple):
    """A frame without saturated pixels and without the dark, and what is uncertain about it."""

    counts: xr.DataArray
    scatter: xr.DataArray  # standard uncertainty of the mean of the scans, from these alone
    noise: xr.DataArray  # the same from what is known of the detector
    flicker: float  # relative standard uncertainty that all pixels have in common


class Dark(NamedTuple):
    """An averaged dark frame and its noise."""

    counts: xr.DataArray
    noise: xr.DataArray


class Frames(NamedTuple):
    """All frames of a bench, by their node in the tree."""

    lights: dict[str, Light]
    darks: dict[str, Dark]
    noise: NoiseModel | None  # of one scan
    cautions: tuple[str, ...] = ()  # of frames that can be used, and should not be trusted


def best_estimates(tree: xr.DataTree, manifest: Manifest) -> Frames:
    """Mark, average and darken every frame of a bench.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.

    Returns
    -------
    Frames
        Best estimates, and how uncertain they are.

    Raises
    ------
    BenchError
        With the faults of all frames: no dark that fits, saturated darks, less than dark.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> best_estimates(tree, manifest_of(tree)).lights["/part/cover/sample"].counts.dims
    ('wavelength',)
    """
    instrument = manifest.instrument
    full_scale, level = instrument.full_scale.value, instrument.saturation.value
    faults: list[Fault] = []
    line_of = Lines(tree.attrs["manifest"])

    def blame(role: Role, error: RangeError) -> None:
        fault = Fault(str(error), "a frame and a dark that fit each other")
        faults.append(fault.within(role.file, role.key, line_of(role.key)))

    scans: dict[Role, xr.DataArray] = {}
    for role in (role for role in roles_of(manifest) if role.frame is not None):
        try:
            valid = mask_saturated(counts_of(tree, role), full_scale, level)
            if _is_dark(role) and valid.isnull().any():
                raise RangeError("saturated pixels: was the shutter open?")
            scans[role] = valid
        except RangeError as error:
            blame(role, error)
    faults += _without_temperature(scans, line_of)
    model = noise_model(manifest, list(scans.values()))
    faults += _noisier_than_seen(manifest, model, scans, line_of)
    darks = {
        role.node: Dark(average_scans(taken)[0], uncertainty_of_mean(taken, model))
        for role, taken in scans.items()
        if _is_dark(role)
    }
    found = functools.cache(
        lambda time, kelvin: dark_at([dark.counts for dark in darks.values()], time, kelvin)
    )
    lights, below, cautions = {}, list[_Below](), list[str]()
    for role, taken in scans.items():
        if _is_dark(role):
            continue
        try:
            mean, scatter = average_scans(taken)
            time, kelvin = float(taken.coords["integration_time"]), sensor_temperature(taken)
            dark = found(time, kelvin)
            light = subtract_dark(mean, dark)
            behind = tuple(_weights(darks, time, kelvin))
            below += _below_dark(role, light, scatter, full_scale, behind)
            noise, share = uncertainty_of_mean(taken, model), flicker(taken, dark, model)
            lights[role.node] = Light(light, scatter, noise, share)
            cautions += unsteady(role.file, taken, dark, model)
            cautions += flat(role.file, taken, model, level * full_scale)
        except RangeError as error:
            blame(role, error)
    faults += _blaming_darks(below, scans, full_scale, line_of)
    if faults:
        raise BenchError(Path(tree.attrs["folder"]) / MANIFEST, faults)
    return Frames(lights, darks, model, tuple(cautions))


def counts_of(tree: xr.DataTree, role: Role) -> xr.DataArray:
    """The scans of a frame that are not left out.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    role : Role
        The frame.

    Returns
    -------
    xarray.DataArray ([spectrum,] wavelength)
        Raw counts [1].

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> counts_of(tree, next(iter(roles_of(manifest_of(tree))))).sizes["wavelength"]
    2048
    """
    counts = array_of(tree, role.node, "counts")
    if role.frame is None or not role.frame.left_out:
        return counts
    return leave_out(counts, role.frame.left_out, role.frame.because)


def saturated(tree: xr.DataTree, manifest: Manifest, node: str) -> xr.DataArray:
    """Which pixels of a frame are saturated in any scan that counts.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    node : str
        The frame's place in the tree.

    Returns
    -------
    xarray.DataArray (wavelength,)
        True for those; a neighbour that one spoils is not counted.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> bool(saturated(tree, manifest_of(tree), "/standard_lamp/frame").any())
    False
    """
    role = next(role for role in roles_of(manifest) if role.node == node)
    hit = counts_of(tree, role) >= manifest.instrument.saturation.value * manifest.instrument.full_scale.value
    return hit.any([name for name in hit.dims if name != "wavelength"])


def _is_dark(role: Role) -> bool:
    return role.node.startswith("/dark/")


def drawn(frames: Frames, budget: Budget) -> dict[str, xr.DataArray]:
    """Draw every frame: a wavelength scale that is off, flicker, its own noise and that of its dark.

    Parameters
    ----------
    frames : Frames
        From `best_estimates`.
    budget : Budget
        Where the draws come from.

    Returns
    -------
    dict
        Counts ([draw,] wavelength) [1] by node. Frames that share a dark share its errors.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> manifest = manifest_of(tree)
    >>> drawn(best_estimates(tree, manifest), Budget(manifest, 20))["/part/cover/sample"].dims
    ('draw', 'wavelength')
    """
    noise = {node: budget.noise(node, dark.noise) for node, dark in frames.darks.items()}

    @functools.cache
    def error_of_dark(time: float, kelvin: float | None) -> xr.DataArray | float:
        weights = _weights(frames.darks, time, kelvin)
        return sum((weight * noise[node] for node, weight in weights.items()), 0.0)

    result = {}
    for node, light in frames.lights.items():
        kelvin, time = sensor_temperature(light.counts), float(light.counts.coords["integration_time"])
        steady = budget.scalar("flicker", node, Measured(1.0, light.flicker))
        errors = (budget.noise(node, light.noise), error_of_dark(time, kelvin))
        frame = budget.shifted(light.counts)
        if isinstance(steady, xr.DataArray):
            frame = steady.astype(PRECISION) * frame.astype(PRECISION)
        frame = _summed(frame, *errors)
        result[node] = frame.transpose(..., "wavelength").assign_attrs(light.counts.attrs)
    return result


def _summed(frame: xr.DataArray, noise: xr.DataArray | float, of_dark: xr.DataArray | float) -> xr.DataArray:
    """A frame with its noise and without that of its dark; in place, as new memory costs more than sums."""
    if isinstance(noise, float):
        return frame - of_dark
    noise -= of_dark
    noise += frame.astype(PRECISION)
    return noise


def _weights(darks: dict[str, Dark], time: float, kelvin: float | None) -> dict[str, float]:
    """What each dark counts in that of an integration time and a temperature, by its node."""
    near = [node for node, dark in darks.items() if _as_warm(dark.counts, kelvin)]
    near = near or list(darks)  # then the dark was modelled from all
    times = [float(darks[node].counts.coords["integration_time"]) for node in near]
    weights = zip(near, dark_weights(np.array(times), time), strict=True)
    return {node: float(weight) for node, weight in weights if weight}


def _as_warm(dark: xr.DataArray, kelvin: float | None) -> bool:
    """Whether a dark was taken at a temperature of the sensor, or nobody speaks of temperatures."""
    own = sensor_temperature(dark)
    return kelvin is None or own is None or abs(own - kelvin) <= SAME_TEMPERATURE


def noise_model(manifest: Manifest, scans: list[xr.DataArray]) -> NoiseModel | None:
    """The noise of the detector: as the manifest states it, or else from all repeated scans.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of its instrument.
    scans : list of xarray.DataArray (spectrum, wavelength)
        All frames [1].

    Returns
    -------
    NoiseModel or None
        None if nothing is stated and no frame has two scans.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> noise_model(manifest_of(open_bench(demo)), []) is None
    True
    """
    read, electrons = manifest.instrument.read_noise, manifest.instrument.electrons_per_count
    if read is None or electrons is None:
        return fit_noise(scans)
    offset = min((float(frame.median()) for frame in scans), default=0.0)  # which has no shot noise
    return NoiseModel(read.value**2 - offset / electrons.value, 1 / electrons.value)


def _without_temperature(scans: dict[Role, xr.DataArray], line_of: Lines) -> list[Fault]:
    """Darks that do not say how warm the sensor was, where a frame of light does."""
    warm = [role for role, taken in scans.items() if "temperature" in taken.coords and not _is_dark(role)]
    if not warm:
        return []
    found, expected = "no temperature of the sensor", f"one, as in {warm[0].file}, or none in any frame"
    return [
        Fault(found, expected, in_manifest(role, 'temperature = "10 °C"')).within(
            role.file, role.key, line_of(role.key)
        )
        for role, taken in scans.items()
        if _is_dark(role) and "temperature" not in taken.coords
    ]


def _noisier_than_seen(
    manifest: Manifest, model: NoiseModel | None, scans: dict[Role, xr.DataArray], line_of: Lines
) -> list[Fault]:
    """A stated read noise that repeated scans of the dark contradict."""
    stated = manifest.instrument.read_noise
    darks = [taken for role, taken in scans.items() if _is_dark(role) and taken.sizes.get("spectrum", 1) > 1]
    seen = fit_noise(darks) if stated is not None and darks else None
    if stated is None or seen is None or model is None:
        return []
    level = float(np.median([dark.median() for dark in darks]))
    noisy, quiet = (float(np.sqrt(noise.variance(np.array(level)))) for noise in (model, seen))
    if noisy <= _CONTRADICTED * quiet:
        return []
    key = "instrument.read_noise"
    advice = "It is in counts, of one scan."
    expected = f"what the scans of the dark show, {quiet:.2g} counts, or nothing"
    return [Fault(quote(f"{stated.value:g}"), expected, advice, line_of(key), None, key)]


class _Below(NamedTuple):
    """A frame that is clearly darker than its dark."""

    role: Role
    counts: float  # by how many
    at: float  # nm
    darks: tuple[str, ...]  # nodes


def _below_dark(
    role: Role, light: xr.DataArray, scatter: xr.DataArray, full_scale: float, darks: tuple[str, ...]
) -> list[_Below]:
    """Whether a frame is clearly darker than its dark: then the dark had light in it."""
    level, noise = running_median(light.values), running_median(scatter.values)
    if not (level < -np.fmax(10 * noise, _BELOW_DARK * full_scale)).any():
        return []
    at = float(light.coords["wavelength"][int(np.nanargmin(level))])
    return [_Below(role, float(-np.nanmin(level)), at, darks)]


def _blaming_darks(
    below: list[_Below], scans: dict[Role, xr.DataArray], full_scale: float, line_of: Lines
) -> list[Fault]:
    """Blame a dark that has light in it, once for all frames that it spoils; otherwise each of these."""
    faults, spoilt = [], dict[Role, list[_Below]]()
    roles = {role.node: role for role in scans}
    for one in below:
        behind = [roles[node] for node in one.darks]
        lit = [dark for dark in behind if _is_lit(scans[dark], full_scale)]
        for dark in lit:
            spoilt.setdefault(dark, []).append(one)
        if not lit:
            files = " and ".join(dark.file for dark in behind)
            found = f"{one.counts:.0f} counts less than in the dark, {files}, near {one.at:.0f} nm"
            fault = Fault(found, "a frame and a dark that fit each other", _WHICH)
            faults.append(fault.within(one.role.file, one.role.key, line_of(one.role.key)))
    for dark, each in spoilt.items():
        most = max(each, key=lambda one: one.counts)
        others = [one.role.file for one in each if one is not most]
        found = f"{most.counts:.0f} counts more than {most.role.file}, near {most.at:.0f} nm"
        found += f", and more than {', '.join(others)}" if others else ""
        unlit = [one.role for one in each if not _is_lit(scans[one.role], full_scale)]
        advice = "Was the shutter open?"
        if len(unlit) == 1:
            advice = f"{unlit[0].file} ({unlit[0].key}) shows hardly any light: the two look swapped."
        fault = Fault(found, "a dark without light", advice)
        faults.append(fault.within(dark.file, dark.key, line_of(dark.key)))
    return faults


_WHICH = "Was there light in the dark, or was the dark taken off the frame already?"


def _is_lit(taken: xr.DataArray, full_scale: float) -> bool:
    """Whether there is light in a frame: pixels, no single hot ones, far above the most."""
    level = running_median(average_scans(taken)[0].values, _BESIDE)
    return bool(np.nanmax(level) - np.nanmedian(level) > _LIT * full_scale)
