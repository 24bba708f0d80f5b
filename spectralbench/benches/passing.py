"""What the parts of a bench let pass, as they will be used: their thickness, and what touches them."""

from __future__ import annotations

import json

import numpy as np
import xarray as xr

from spectralbench import optics
from spectralbench.benches.budget import Budget, in_precision
from spectralbench.benches.folder import blamed
from spectralbench.benches.referencing import Series, against
from spectralbench.benches.schema import Manifest, Part
from spectralbench.benches.stacking import estimate, stacked
from spectralbench.corrections import interpolate
from spectralbench.errors import RangeError

FLOOR = 0.005
"""What a bench reads as transmittance where nothing passes, if nobody says better: common practice."""

_LIFTED = 1.05  # median transmittance that neither noise nor drift explains
_QUOTED = [365.0, 385.0, 405.0, 436.0]  # nm; where people quote the transmittance of a part


def passed(
    tree: xr.DataTree,
    manifest: Manifest,
    signals: dict[str, xr.DataArray],
    calibrated: xr.DataArray,
    budget: Budget,
) -> xr.Dataset:
    """What each part lets pass, and how far its reference drifted.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    signals : dict of xarray.DataArray ([draw,] wavelength)
        Signals [s-1] by node, from `spectralbench.benches.signals.corrected_signals`.
    calibrated : xarray.DataArray (wavelength,)
        Wavelengths of the pixels that count [nm].
    budget : Budget
        Draws of transmittances, thicknesses and refractive indices.

    Returns
    -------
    xarray.Dataset
        By ``part``: ``transmittance`` ([draw,] wavelength) [1] of the thickness in use;
        ``bonded_transmittance``, the same with the back face of the last one wetted by the adhesive;
        ``measured_transmittance``, that of the thickness measured, if any part is used in another one;
        ``regular_transmittance``, what goes straight on into adhesive, and
        ``measured_regular_transmittance``, if any part was measured both ways; ``quoted`` at the usual
        wavelengths and ``drift``.
        ``attrs["cautions"]`` (JSON) says where no other thickness could be predicted, and what references
        leave open.

    Raises
    ------
    BenchError
        If sample and references do not fit together, or regular light exceeds the total.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> from spectralbench.benches.frames import best_estimates, drawn
    >>> from spectralbench.benches.signals import corrected_signals
    >>> tree, manifest = open_bench(demo), manifest_of(open_bench(demo))
    >>> budget, frames = Budget(manifest), best_estimates(tree, manifest)
    >>> signals = corrected_signals(frames, drawn(frames, budget), manifest)
    >>> grid = xr.DataArray(signals["/part/cover/sample"].wavelength[400:900])
    >>> passed(tree, manifest, signals, grid, budget).transmittance.sizes["wavelength"]
    500
    """
    lights, regulars, drifts, cautions = [], [], [], []
    for number, part in enumerate(manifest.part, 1):
        key, node = f"part.{number}", f"/part/{part.name}"
        with blamed(tree, key, "a sample that passes no more than its references"):
            series = Series(part.name, key, node, part.sample, part.references)
            measured, drift, said = against(tree, manifest, series, signals, calibrated, budget)
            _refuse_lifted_light(measured)
            light = budget.curve("transmittance", part.name, measured).transpose(..., "wavelength")
            regular = light
            if part.regular is not None:
                key, node, taken = f"{key}.regular", f"{node}/regular", part.regular
                series = Series(part.name, key, node, taken.sample, taken.references)
                alone, _, more = against(tree, manifest, series, signals, calibrated, budget)
                said += more
                with blamed(tree, key, "no more than the sphere collected"):
                    optics.transmittance_limits(estimate(measured), estimate(alone), _BY_NOISE)
                regular = budget.curve("transmittance", part.name, alone).transpose(..., "wavelength")
        lights.append(light)
        regulars.append(regular)
        drifts.append(drift)
        cautions += said
    result = in_use(tree, manifest, lights, regulars, budget)
    result.attrs["cautions"] = json.dumps(cautions + json.loads(result.attrs["cautions"]), ensure_ascii=False)
    result["drift"] = ("part", drifts, {"units": "1", "long_name": "drift between references"})
    return result


def in_use(
    tree: xr.DataTree,
    manifest: Manifest,
    lights: list[xr.DataArray],
    regulars: list[xr.DataArray],
    budget: Budget,
) -> xr.Dataset:
    """Parts as they will be used, from parts as they were measured.

    Parameters
    ----------
    tree : xarray.DataTree
        The bench, whose manifest is blamed for what cannot be predicted.
    manifest : Manifest
        Its manifest.
    lights, regulars : list of xarray.DataArray ([draw,] wavelength)
        Transmittance of each part as measured [1], and that for light that goes straight on; the same
        array where it was not measured apart.
    budget : Budget
        Draws of thicknesses and refractive indices.

    Returns
    -------
    xarray.Dataset
        As `passed` gives it, without ``drift``. Without draws, ``highest_transmittance`` is what may pass at
        most where nothing follows for another thickness.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> light = [reduced["parts/transmittance"].isel(part=0, drop=True)]
    >>> manifest = manifest_of(reduced)
    >>> found = in_use(reduced, manifest, light, light, Budget(manifest))
    >>> "bonded_transmittance" in found, "measured_transmittance" in found
    (True, False)
    """
    names = [part.name for part in manifest.part]
    spectra, straight, cautions = [], [], []
    highest: dict[int, xr.DataArray] = {}  # of parts of which some is not known
    for number, (part, light, regular) in enumerate(zip(manifest.part, lights, regulars, strict=True), 1):
        with blamed(tree, f"part.{number}.working_thickness", "a thickness that can be predicted"):
            used, caution = _as_used(light, part, budget)
            spectra.append(used)
            if caution and not budget.draws and part.working_thickness is not None:
                most, _ = bonded(light, manifest, number - 1, part.working_thickness.value, most=1.0)
                highest[number - 1] = in_precision(most).transpose(..., "wavelength")
            straight.append(used if regular is light else _as_used(regular, part, budget)[0])
        cautions += caution
    transmittance = stacked(spectra, names, "part")
    result = xr.Dataset(
        {"transmittance": transmittance, "quoted": _quoted(transmittance)},
        attrs={"cautions": json.dumps(cautions, ensure_ascii=False)},
    )
    if any(part.working_thickness is not None for part in manifest.part):
        result["measured_transmittance"] = stacked(lights, names, "part")
    wetted = _wetted(spectra[-1], manifest, budget)
    in_place = spectra if wetted is None else [*spectra[:-1], wetted]
    if wetted is not None:
        result["bonded_transmittance"] = stacked(in_place, names, "part")
    if highest:
        most_of_all = [highest.get(i, light) for i, light in enumerate(in_place)]
        result["highest_transmittance"] = stacked(most_of_all, names, "part")
    if any(part.regular is not None for part in manifest.part):
        result["measured_regular_transmittance"] = stacked(regulars, names, "part")
        last = _wetted(straight[-1], manifest, budget)
        straight = [*straight[:-1], straight[-1] if last is None else last]
        result["regular_transmittance"] = stacked(straight, names, "part")
    return result


_BY_NOISE = 0.02  # by which noise may carry the regular transmittance above the total one


def at_thickness(
    light: xr.DataArray,
    part: Part,
    wanted: xr.DataArray | float,
    measured: xr.DataArray | float | None = None,
    floor: float | None = None,
    most: xr.DataArray | float = 0.0,
) -> tuple[xr.DataArray, list[str]]:
    """What a part lets pass in another thickness; where nothing follows from the measured one, nothing.

    Parameters
    ----------
    light : xarray.DataArray (..., wavelength)
        Transmittance as measured [1].
    part : Part
        The part, of which the refractive index is stated.
    wanted : xarray.DataArray (draw,) or float
        The thickness in use [mm].
    measured : xarray.DataArray (draw,) or float, optional
        The thickness that was measured [mm]; that of the part, if left out.
    floor : float, optional
        What the bench reads where nothing passes [1]; that of the part or `FLOOR`, if left out.
    most : xarray.DataArray (draw,) or float
        Where nothing follows, the share [1] of all that may pass there: of what a part just at the
        floor would let pass in the other thickness.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Transmittance [1].
    list of str
        One sentence if some of it could not be predicted.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> light = xr.DataArray([0.001, 0.9], {"wavelength": [365.0, 405.0]}, "wavelength")
    >>> thin, cautions = at_thickness(light, read_manifest(demo)[0].part[0], 1.0)
    >>> thin.values.round(3).tolist(), cautions[0][:26]
    ([0.0, 0.908], 'cover in another thickness')
    """
    assert part.index is not None  # the schema asks for it
    thickness = part.thickness.value if measured is None else measured
    if np.array_equal(np.asarray(wanted), np.asarray(thickness)):
        return light, []
    least = _floor(part) if floor is None else floor
    thin = optics.predict_thickness(light, part.index.value, thickness, wanted, least)
    comment = thin.attrs.get("comment")
    lost = thin.isnull() & light.notnull()
    if not lost.any():
        return thin, [f"{part.name} in another thickness: {comment}"] if comment else []
    inside = optics.internal_transmittance(least, part.index.value)
    at_most = optics.slab_transmittance(optics.scale_thickness(inside, thickness, wanted), part.index.value)
    seen = light.clip(min=0.0)  # what was read there passes at most, with the noise in it
    at_most = at_most.where(xr.DataArray(wanted <= thickness), np.minimum(at_most, seen))
    thin = thin.where(~lost, most * at_most.drop_attrs(deep=False)).assign_attrs(thin.attrs)
    highest = float(at_most.where(lost).max())
    counts = f"counts as passing between nothing and {100 * highest:.2g} %" if np.any(most) else _NOTHING
    return thin, [f"{part.name} in another thickness: {comment}; what is not valid {counts}"]


_NOTHING = "counts as passing nothing"


def bonded(
    light: xr.DataArray,
    manifest: Manifest,
    number: int,
    wanted: float,
    floor: float | None = None,
    most: float = 0.0,
) -> tuple[xr.DataArray, list[str]]:
    """What one part passes in another thickness as it is bonded, without draws of thickness and index.

    Parameters
    ----------
    light : xarray.DataArray (..., wavelength)
        Its transmittance as measured [1].
    manifest : Manifest
        The manifest of the bench.
    number : int
        Its place among the parts, from 0; the adhesive wets the back face of the last one.
    wanted : float
        The thickness in use [mm].
    floor : float, optional
        What the bench reads where nothing passes [1]; that of the part or `FLOOR`, if left out.
    most : float
        As for `at_thickness`.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Transmittance [1].
    list of str
        One sentence if some of it could not be predicted.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> light = reduced["parts/transmittance"].isel(part=0, drop=True)
    >>> thin, _ = bonded(light, manifest_of(reduced), 0, 1.0)
    >>> bool((thin.sel(wavelength=slice(370, 500)) > light.sel(wavelength=slice(370, 500))).all())
    True
    """
    part, adhesive = manifest.part[number], manifest.adhesive.index
    passes, cautions = at_thickness(light, part, wanted, floor=floor, most=most)
    if number == len(manifest.part) - 1 and adhesive is not None and part.index is not None:
        passes = optics.wetted(passes, part.index.value, adhesive.value)
    return passes, cautions


def unknown(light: xr.DataArray, part: Part) -> xr.DataArray:
    """Where nothing follows for the thickness in use from the one that was measured.

    Parameters
    ----------
    light : xarray.DataArray ([draw,] wavelength)
        Transmittance as measured [1].
    part : Part
        The part.

    Returns
    -------
    xarray.DataArray (wavelength,)
        True at the floor and below it, if the two thicknesses differ.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> part = read_manifest(demo)[0].part[0]
    >>> thin = part.model_copy(update={"working_thickness": part.thickness._replace(value=1.0)})
    >>> light = xr.DataArray([0.001, 0.9], dims="wavelength")
    >>> unknown(light, part).values.tolist(), unknown(light, thin).values.tolist()
    ([False, False], [True, False])
    """
    wanted = part.working_thickness
    other = wanted is not None and wanted.value != part.thickness.value
    return (estimate(light) <= _floor(part)) & other


def _floor(part: Part) -> float:
    """What a bench reads as transmittance where nothing passes the part [1]."""
    return FLOOR if part.floor is None else part.floor.value


def _as_used(light: xr.DataArray, part: Part, budget: Budget) -> tuple[xr.DataArray, list[str]]:
    """A part in the thickness in use, which is most often the one that was measured."""
    if part.working_thickness is None:
        return light, []
    measured = budget.scalar("thickness", part.name, part.thickness)
    wanted = budget.scalar("working thickness", part.name, part.working_thickness)
    used, cautions = at_thickness(light, part, wanted, measured)
    if cautions and (random := budget.stream("below the floor", part.name)) is not None:
        most = xr.DataArray(random.random(budget.draws), dims="draw")
        used, cautions = at_thickness(light, part, wanted, measured, most=most)
    return in_precision(used).transpose(..., "wavelength"), cautions


def _quoted(transmittance: xr.DataArray) -> xr.DataArray:
    """Transmittance at the wavelengths that people quote, as far as they are calibrated."""
    first, last = (float(transmittance.coords["wavelength"][i]) for i in (0, -1))
    at = [wavelength for wavelength in _QUOTED if first <= wavelength <= last]
    quoted = interpolate(transmittance, at) if at else transmittance.isel(wavelength=slice(0))
    quoted = quoted.rename(wavelength="quoted_wavelength")
    quoted.attrs = {"units": "1", "long_name": "transmittance at wavelengths that people quote"}
    return quoted


def _wetted(light: xr.DataArray, manifest: Manifest, budget: Budget) -> xr.DataArray | None:
    """What the last part passes into adhesive that wets its back face, if both indices are known."""
    part, adhesive = manifest.part[-1], manifest.adhesive
    if part.index is None or adhesive.index is None:
        return None
    index = budget.scalar("refractive index", part.name, part.index)
    behind = budget.scalar("refractive index", adhesive.name, adhesive.index)
    return in_precision(optics.wetted(light, index, behind)).transpose(..., "wavelength")


def _refuse_lifted_light(passed: xr.DataArray) -> None:
    """Refuse a part that passes clearly more than arrives: sample and reference were swapped."""
    level = float(estimate(passed).median())
    if level > _LIFTED:
        raise RangeError(f"a transmittance of {level:.0%} over half of the wavelengths: swapped files?")
