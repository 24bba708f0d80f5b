"""What radiometers read, corrected and held against the spectrometer, or refused with a reason."""

from __future__ import annotations

from typing import cast

import numpy as np
import xarray as xr

from spectralbench import reduction
from spectralbench.benches.budget import Budget
from spectralbench.benches.folder import HEAD_CURVES, blamed
from spectralbench.benches.placing import misplaced
from spectralbench.benches.schema import Manifest, Radiometer, Source
from spectralbench.comparison import NOT_KNOWN
from spectralbench.draws import FEWEST
from spectralbench.errors import RangeError
from spectralbench.radiometer import Head, Reading, corrected_reading, mismatch_factor, reconcile
from spectralbench.radiometer.readings import read_before
from spectralbench.units import Measured

_NOT_COMPARABLE = "not comparable"


def reconciled(
    tree: xr.DataTree, manifest: Manifest, sources: xr.Dataset, budget: Budget
) -> dict[str, xr.Dataset]:
    """Correct the readings of each radiometer, and hold them against the spectrometer.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    sources : xarray.Dataset
        ``spectral_irradiance`` ([draw,] source, wavelength) [W m-2 nm-1].
    budget : Budget
        Draws. What only a radiometer depends on is no cause of it: the figures of the sources
        do not rest on a radiometer.

    Returns
    -------
    dict
        By node, the readings as they are with ``mean_irradiance`` and its
        ``mean_standard_uncertainty`` [W m-2], and ``verdict`` in words. If the reading can be
        corrected also ``mismatch_factor`` [1]; ``corrected_irradiance`` and
        ``spectrometer_irradiance`` in the target band [W m-2]; and what `reconcile` finds. If
        it cannot, the verdict says why.

    Raises
    ------
    BenchError
        If response or calibration source is no curve that a head or a lamp can have.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> manifest = manifest_of(tree)
    >>> nodes = reconciled(tree, manifest, reduced["sources"].to_dataset(), Budget(manifest))
    >>> str(nodes["/radiometer/2"].verdict.values).partition(":")[0]
    'not comparable'
    """
    own = Budget(manifest, budget.draws, budget.seed, budget.only)
    nodes = {}
    for number, log in enumerate(manifest.radiometer, 1):
        node = f"/radiometer/{number}"
        data = cast(xr.DataTree, tree[node]).to_dataset()
        data = data.assign(_mean(data["irradiance"]))
        source = next((source for source in manifest.source if source.name == log.source), None)
        curves, missing = _curves(tree, number, log), _missing(log, source, data)
        if source is not None and not missing:
            try:
                spectrum = sources["spectral_irradiance"].sel(source=source.name).reset_coords(drop=True)
                data = data.assign(_compared(log, source, data, curves, spectrum, own))
            except RangeError as error:  # of light that the head does not see, or the target does not count
                missing = [str(error)]
        if missing:
            data["verdict"] = _said(f"{_NOT_COMPARABLE}: {'; '.join(missing)}")
        target = [f"{edge.value:g}" for edge in log.calibration_target or []]
        data.attrs |= {"name": log.name, "source": log.source or "", "target": "–".join(target)}
        nodes[node] = data
    return nodes


def _missing(log: Radiometer, source: Source | None, data: xr.Dataset) -> list[str]:
    """Why readings cannot be held against the spectrometer, with the keys that would help."""
    missing = []
    if log.response is None and log.limits is None:
        missing.append("there is no response curve of its head (response, or limits with a shape)")
    if log.calibration_source is None:
        missing.append("there is no spectrum of what it was calibrated with (calibration_source)")
    if log.calibration_target is None:
        missing.append("nothing says of which band it should show the irradiance (calibration_target)")
    if source is None:
        missing.append("nothing says which source it looked at (source)")
    elif log.distance is not None and log.distance.value != source.distance.value:
        missing.append(
            f"it stood at {log.distance.value:g} mm and the spectrometer at {source.distance.value:g} mm, "
            "and no model of the beam carries light from one to the other"
        )
    if early := read_before(log.calibrated or _day(data), data["irradiance"]):
        missing.append(early)
    if data["irradiance"].dims != ("time",):
        missing.append("its log has several channels, and a response belongs to one: make a log of each")
    return missing


def _day(data: xr.Dataset) -> str:
    """The day of its calibration that a log states itself."""
    stated = data.coords.get("calibration_date")
    return "" if stated is None else str(stated.values)[: len("2025-11-03")]


def _mean(readings: xr.DataArray) -> dict[str, xr.DataArray]:
    """Mean of a log, and its standard uncertainty as far as the scatter shows it: 0 for one reading."""
    count = readings.sizes["time"]
    mean = readings.mean("time", skipna=False)
    scatter = readings.std("time", ddof=1, skipna=False) / np.sqrt(count) if count > 1 else 0 * mean
    found = {
        "mean_irradiance": (mean, "mean of the readings"),
        "mean_standard_uncertainty": (scatter, "standard uncertainty of the mean, from the scatter alone"),
    }
    return {
        name: array.reset_coords(drop=True).assign_attrs(units="W m-2", long_name=long_name)
        for name, (array, long_name) in found.items()
    }


def _curves(tree: xr.DataTree, number: int, log: Radiometer) -> dict[str, xr.DataArray]:
    """Response and calibration source, as far as they are known."""
    curves = {}
    for key, *names in HEAD_CURVES:
        if getattr(log, key) is None:
            continue
        data = cast(xr.DataTree, tree[f"/radiometer/{number}/{key}"]).to_dataset(inherit=False)
        curve = next(data[name] for name in names if name in data)
        expected = "a curve that is nowhere negative, and somewhere above 0"
        with blamed(tree, f"radiometer.{number}.{key}", expected):
            if not np.isfinite(curve.values).all():
                raise RangeError("a curve with values that are not valid")
            if not ((curve >= 0).all() and curve.any()):
                raise RangeError(f"a curve from {float(curve.min()):g} to {float(curve.max()):g}")
        curves[key] = curve
    return curves


def _compared(
    log: Radiometer,
    source: Source,
    data: xr.Dataset,
    curves: dict[str, xr.DataArray],
    spectrum: xr.DataArray,
    budget: Budget,
) -> dict[str, xr.DataArray]:
    """The corrected reading, and how it agrees with the spectrometer in the same band."""
    head = _head(log, curves, budget)
    mean, scatter = (float(data[name]) for name in ("mean_irradiance", "mean_standard_uncertainty"))
    read = budget.scalar("radiometer readings", log.file, Measured(mean, scatter))
    stood = log.distance or source.distance
    off = misplaced(source, stood, f"radiometer\n{log.file}", budget)
    reading = xr.DataArray(read * off, attrs={"units": "W m-2"})
    corrected = corrected_reading(Reading(reading, head, source.name, spectrum))
    curve = cast(xr.DataArray, head.curve)  # `_missing` found none missing
    factor = mismatch_factor(curve, curves["calibration_source"], spectrum, head.target)
    expected = reduction.band_irradiance(spectrum, *(edge.value for edge in log.calibration_target or []))
    drawn = ["draw" in array.dims for array in (corrected, expected)]
    remarks = [
        corrected.attrs.get("comment", ""),
        f"{'stated' if log.distance else 'taken'} to stand where the spectrometer stood, {stood.value:g} mm "
        "from the source, and placed there on its own",
        "the interval takes its response curve, and the spectrum of its calibration, as exact" * any(drawn),
        "" if log.calibration_uncertainty else "no uncertainty of its calibration is stated, and none counts",
    ]
    corrected.attrs["comment"] = "; ".join(filter(None, remarks))
    result = {
        "mismatch_factor": factor,
        "corrected_irradiance": corrected,
        "spectrometer_irradiance": expected,
    }
    if budget.draws >= FEWEST and any(drawn):
        said = reconcile(corrected, expected, *(None if has else 0.0 for has in drawn))
        return result | {str(name): array for name, array in said.data_vars.items()}
    apart, share = corrected - expected, corrected / expected.where(expected > 0)
    result["difference"] = _plainly(apart, "W m-2", "radiometer less spectrometer")
    result["ratio"] = _plainly(share, "1", "radiometer over spectrometer")
    advice = f"ask for {FEWEST} draws or more" if budget.draws < FEWEST else "none is stated"
    result["verdict"] = _said(f"{NOT_KNOWN} without uncertainties; {advice}")
    return result


def _head(log: Radiometer, curves: dict[str, xr.DataArray], budget: Budget) -> Head:
    """The head, with the draws of its calibration: all logs of one head share them."""
    target, limits = (
        None if edges is None else (edges[0].value, edges[1].value)
        for edges in (log.calibration_target, log.limits)
    )
    relative = 0.0 if log.calibration_uncertainty is None else log.calibration_uncertainty.value
    return Head(
        log.name,
        log.calibrated or "",
        response=curves.get("response"),
        band=limits,
        shape=log.shape or "",
        label=log.band,
        calibration=curves["calibration_source"],
        target=target,
        standard_uncertainty=relative,
        gain=budget.scalar(
            "radiometer calibration", f"{log.name}\n{log.calibrated}", Measured(1.0, relative)
        ),
    )


def _plainly(array: xr.DataArray, units: str, long_name: str) -> xr.DataArray:
    """The best estimate of an array that has few draws or none."""
    return array.mean().rename(None).drop_attrs(deep=False).assign_attrs(units=units, long_name=long_name)


def _said(verdict: str) -> xr.DataArray:
    return xr.DataArray(verdict, attrs={"long_name": "do the two agree"})
