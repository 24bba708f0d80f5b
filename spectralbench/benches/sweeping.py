"""What if: the light of every source at the bond line over thickness, distance, hours and time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from os import PathLike

import numpy as np
import xarray as xr

from spectralbench.benches.adjusting import by_distance, by_hours
from spectralbench.benches.at_bond import apart, light_at_bond, requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.passing import FLOOR, bonded
from spectralbench.benches.placing import stands_at
from spectralbench.benches.reaches import beyond_hours, fixed_hours, fixed_thickness, last_hour, reach
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.schema import Manifest
from spectralbench.comparison import exposure_times
from spectralbench.errors import RangeError, quote
from spectralbench.units import measured

Steps = Sequence[float | str] | None

_UNITS = {"thickness": "mm", "distance": "mm", "hours": "h", "time": "s"}
_SAID = {
    "thickness": "thickness of the last part",
    "distance": "distance from the source",
    "hours": "hours of use",
    "time": "exposure",
}


def sweep(
    bench: xr.DataTree | str | PathLike[str],
    thickness: Steps = None,
    distance: Steps = None,
    hours: Steps = None,
    time: Steps = None,
    floor: float | str = FLOOR,
) -> xr.Dataset:
    """Look at every source over other thicknesses, distances, hours of use and exposures.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `open_bench` or `reduce_bench`, or the folder itself; one that is reduced with draws
        gives figures with draws.
    thickness : sequence of float or str, optional
        Of the last part [mm], which needs its refractive index.
    distance : sequence of float or str, optional
        From the source to the part [mm]; a source without a measured beam, and one whose beam was
        not measured there, is not known.
    hours : sequence of float or str, optional
        Hours of use [h]; a source without a log or a stated output is not known, nor is one beyond its
        end of life or 6 times the last hour of its log (`spectralbench.ageing.FARTHEST`).
    time : sequence of float or str, optional
        Exposure [s].
    floor : float or str
        What the bench reads as transmittance where nothing passes [1]; below it no other thickness
        is predicted; the light there does not count, and a source for which it may matter is not known.

    Returns
    -------
    xarray.Dataset (source, [thickness,] [distance,] [hours,] [draw])
        ``band_irradiance`` [W m-2] at the bond line at the setting of the measurement,
        ``absorbed_photons`` [µmol m-2 s-1] and ``exposure_time`` [s], as in `compare`; with `time`
        also ``radiant_exposure`` (..., time) [J m-2] in the band and ``enough`` (..., time), whether the
        exposure reaches what is required: with draws, the share of them [1]. A figure of which the bench
        requires something keeps that as ``attrs["limit"]``, in its own unit. ``attrs["comment"]`` of the
        whole says where no other thickness could be predicted, of which sources hours say nothing and why,
        and that a spot scanned at one distance counts at all; the provenance is that of the bench.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced.
    RangeError
        If nothing is to be swept, steps are named for one source or part, a step is not above 0 (hours may
        be 0), or a thickness is asked of a part whose refractive index is not stated.
    UnitsError
        If a step has a unit of another kind.

    Notes
    -----
    Only the thickness goes through the spectra again; distance and hours change all wavelengths
    alike, so that the cube is a product of what each of them does.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> cube = sweep(demo, thickness=["1 mm", "2 mm", "3 mm"], time=["3 s", "6 s"])
    >>> cube.enough.sel(source="LED 405", time=6).values.tolist()
    [1.0, 1.0, 1.0]
    >>> bool((cube.band_irradiance.diff("thickness").sel(source="LED 405") < 0).all())
    True
    """
    steps = {
        name: _steps(name, given)
        for name, given in (
            ("thickness", thickness),
            ("distance", distance),
            ("hours", hours),
            ("time", time),
        )
        if given is not None
    }
    if not steps:
        raise RangeError(f"nothing to sweep: give one of {', '.join(_UNITS)}")
    tree = reduce_bench(bench)
    manifest = manifest_of(tree)
    light = _light(tree, manifest, steps.get("thickness"), measured(floor, "1").value)
    light = light.sel(source=[source.name for source in manifest.source])  # heads together have no course
    factor: xr.DataArray | float = 1.0
    if "distance" in steps:
        factor = factor * _by_distance(manifest, steps["distance"])
    comments = [light.attrs["comment"]] if light.attrs.get("comment") else []
    if "hours" in steps:
        share, reasons = _by_hours(tree, manifest, steps["hours"])
        factor, comments = factor * share, comments + reasons
    needed = requirement_of(manifest)
    in_band, photons = light["band_irradiance"] * factor, light["absorbed_photons"] * factor
    found = {"band_irradiance": (in_band, "W m-2", "irradiance in the required band at the bond line")}
    found["absorbed_photons"] = (photons, "umol m-2 s-1", "photons absorbed by the initiators")
    photons = photons.assign_attrs(units="umol m-2 s-1")
    *_, exposure = exposure_times(in_band, photons, light["required_photons"], needed, light["reciprocity"])
    exposure = exposure.where(in_band.notnull() & photons.notnull())
    found["exposure_time"] = (exposure, "s", "exposure: the longer of the times for dose and photons")
    if "time" in steps:
        lasting = steps["time"]
        enough = (exposure <= lasting).where(exposure.notnull())
        enough = enough.mean("draw", skipna=False) if "draw" in enough.dims else enough
        found["radiant_exposure"] = (in_band * lasting, "J m-2", "radiant exposure in the required band")
        found["enough"] = (enough, "1", "share of the draws in which the exposure is long enough")
    order = ("source", *steps, "draw")
    arrays = {
        name: array.transpose(*order, missing_dims="ignore")
        .drop_attrs(deep=False)
        .assign_attrs(units=units, long_name=long_name)
        for name, (array, units, long_name) in found.items()
    }
    limits = {"band_irradiance": needed.minimum_irradiance, "exposure_time": needed.maximum_time}
    for name, limit in limits.items():
        if limit is not None:
            arrays[name].attrs["limit"] = limit
    if "distance" in steps and any(source.profile is not None for source in manifest.source):
        comments.append("the spot of each source is taken at every distance as it was scanned at one")
    kept = {name: tree.attrs[name] for name in ("title", "manifest", "provenance")}
    return xr.Dataset(arrays, attrs={"comment": "; ".join(comments)} | kept)


def _steps(name: str, given: Sequence[float | str]) -> xr.DataArray:
    """Steps of one dimension, in its unit."""
    units = _UNITS[name]
    if isinstance(given, Mapping):
        of = "the last part" if name == "thickness" else "all sources, of which .sel(source=…) gives one"
        raise RangeError(
            f"the {_SAID[name]} is one list of steps for {of}, such as {name}=[…]; values by name, as in "
            f"{quote(given)}, are what adjust takes"
        )
    values = [measured(step, units).value for step in ([given] if np.ndim(given) == 0 else given)]
    if not values:
        raise RangeError(f"the {_SAID[name]} has one step or more, not none")
    least = min(values)
    if not (least > 0 or (name == "hours" and least == 0)):
        lowest = "0 h or more" if name == "hours" else f"above 0 {units}"
        raise RangeError(f"the {_SAID[name]} is {lowest} in every step, not {least:g} {units}")
    attributes = {"units": units, "long_name": _SAID[name]}
    return xr.DataArray(values, {name: (name, values, attributes)}, name)


def _light(tree: xr.DataTree, manifest: Manifest, thickness: xr.DataArray | None, floor: float) -> xr.Dataset:
    """Band irradiance and absorbed photons of each source, for each thickness of the last part."""
    parts = tree["parts"].to_dataset()
    dry, as_bonded = parts["transmittance"], parts.get("bonded_transmittance", parts["transmittance"])
    if thickness is None:
        return light_at_bond(tree, manifest)
    part = manifest.part[-1]
    if reason := fixed_thickness(part):
        raise RangeError(reason)
    last = parts.get("measured_transmittance", dry).isel(part=-1, drop=True)
    others = [as_bonded.isel(part=i, drop=True) for i in range(len(manifest.part) - 1)]
    each: list[xr.Dataset] = []
    comments: dict[str, None] = {}
    for wanted in thickness.values:

        def light(most: float, wanted: float = float(wanted)) -> tuple[xr.Dataset, list[str]]:
            passed, cautions = bonded(last, manifest, len(others), wanted, floor, most)
            return light_at_bond(tree, manifest, xr.concat([*others, passed], "part")), cautions

        found, cautions = light(0.0)
        if cautions:
            unsure = apart(found, light(1.0)[0])
            found = found.assign({name: found[name].where(~is_apart) for name, is_apart in unsure.items()})
            names = found["source"].values[np.any([one.values for one in unsure.values()], axis=0)]
            cautions += [f"not known with {wanted:g} mm: {'; '.join(names)}"] if names.size else []
        comments |= dict.fromkeys(cautions)
        each.append(found)
    changing = [one[["band_irradiance", "absorbed_photons"]] for one in each]
    result = xr.concat(changing, thickness.coords["thickness"], coords="minimal", compat="override")
    result.attrs["comment"] = "; ".join(comments)
    return result.assign({name: each[0][name] for name in ("required_photons", "reciprocity")})


def _by_distance(manifest: Manifest, distance: xr.DataArray) -> xr.DataArray:
    """What each distance does to the light of each source; NaN where nobody measured."""
    shares = []
    for source in manifest.source:
        share = xr.full_like(distance, np.nan)
        if source.beam:
            nearest, farthest = reach(source)
            inside = ((distance >= nearest) & (distance <= farthest)).values
            here = by_distance(source, stands_at(source))
            share[inside] = (by_distance(source, distance[inside]) / here).values
        shares.append(share.drop_attrs(deep=False))
    return xr.concat(shares, _named(manifest))


def _by_hours(tree: xr.DataTree, manifest: Manifest, hours: xr.DataArray) -> tuple[xr.DataArray, list[str]]:
    """What hours of use leave of the light that each source has today, and why nothing is said of some."""
    shares, reasons = [], []
    for source in manifest.source:
        if reason := fixed_hours(tree, source):
            shares.append(xr.full_like(hours, np.nan).drop_attrs(deep=False))
        else:
            told = hours <= last_hour(tree, source)
            shares.append(by_hours(tree, source, hours).where(told))
            reason = beyond_hours(tree, source, float(hours.max()))
        reasons += [reason] if reason else []
    return xr.concat(xr.broadcast(*shares), _named(manifest)), reasons


def _named(manifest: Manifest) -> xr.DataArray:
    return xr.DataArray([source.name for source in manifest.source], dims="source", name="source")
