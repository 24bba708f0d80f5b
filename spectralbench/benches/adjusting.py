"""A bench as it would be: other thicknesses, distances, hours, levels, another time."""

from __future__ import annotations

import json
from os import PathLike

import numpy as np
import xarray as xr

from spectralbench import ageing
from spectralbench.beam import irradiance_at
from spectralbench.benches.adjustments import Adjustments, Values, adjusted, adjustments, kept
from spectralbench.benches.at_bond import course_of
from spectralbench.benches.budget import Budget
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.passing import in_use
from spectralbench.benches.placing import points_of
from spectralbench.benches.reaches import refuse_unknown
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.spots import IN_PLACE, scanned_in_place


def adjust(
    bench: xr.DataTree | str | PathLike[str],
    thickness: Values = None,
    distance: Values = None,
    hours: Values = None,
    level: Values = None,
    time: float | str | None = None,
) -> xr.DataTree:
    """Take a bench to be other than it is, to see what that would do.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `open_bench`, `reduce_bench` or `adjust`, or the folder itself.
    thickness : mapping, float or str, optional
        Of parts [mm], by their names or one for all; it takes their refractive indices.
    distance : mapping, float or str, optional
        From sources to the part [mm], within the distances at which their beams were measured.
    hours : mapping, float or str, optional
        Hours of use [h], of sources with a log or a stated output at their end: up to that end, and up to
        6 times the last hour of a log (`spectralbench.ageing.FARTHEST`).
    level : mapping, float or str, optional
        Setting of sources [1], above 0 up to 1, such as ``"40 %"``; light goes with it in proportion, and
        the electrical power of an LED.
    time : float or str, optional
        How long an exposure may be [s]; 0 for as long as it takes.

    Returns
    -------
    xarray.DataTree
        The reduced bench as it would be, for `compare` and everything else that takes one; what is
        measured stays as it was. ``attrs["adjusted"]`` (JSON) and the provenance say what is otherwise.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced.
    RangeError
        If a name is not of this bench, or a value is none that the bench can answer for: a part without
        a refractive index, a distance beyond the measured beam, hours beyond its log or its end or of a
        source that nothing is known of, a level above 100 %.
    UnitsError
        If a value has a unit of another kind.

    Notes
    -----
    What a scan across the spot says holds where it was taken: of a source that is moved away, only how
    evenly it lights the bond is kept, as a guess.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> from spectralbench.benches import compare
    >>> half = compare(adjust(demo, level={"LED 405": "50 %"}))
    >>> ratio = half.band_irradiance / compare(demo).band_irradiance
    >>> round(ratio.sel(source="LED 405").item(), 9), ratio.sel(source="arc").item()
    (0.5, 1.0)
    """
    tree = reduce_bench(bench)
    manifest = manifest_of(tree)
    given = {"thickness": thickness, "distance": distance, "hours": hours, "level": level, "time": time}
    return with_adjustments(tree, adjustments(manifest, given))


def with_adjustments(tree: xr.DataTree, changes: Adjustments) -> xr.DataTree:
    """Take a reduced bench to be otherwise; see `adjust`.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    changes : dict
        From `spectralbench.benches.adjustments.adjustments`.

    Returns
    -------
    xarray.DataTree
        The bench as it would be.

    Raises
    ------
    RangeError
        If the bench does not answer for a value.

    Examples
    --------
    >>> with_adjustments(reduced, {}) is reduced
    True
    """
    if not changes:
        return tree
    manifest = manifest_of(tree)
    refuse_unknown(tree, manifest, changes)
    after = adjusted(manifest, changes)
    result = tree.copy()
    result["sources"] = xr.DataTree(_sources(tree, manifest, after, changes))
    if "thickness" in changes:
        result["parts"] = xr.DataTree(_parts(tree, after))
    before = kept(tree.attrs.get("adjusted"))  # what is set back stays in the list, and is not told
    together = {
        control: before.get(control, {}) | changes.get(control, {}) for control in {**before, **changes}
    }
    provenance = json.loads(tree.attrs["provenance"])
    provenance["settings"] = provenance.get("settings", {}) | {"adjusted": together}
    result.attrs = tree.attrs | {
        "adjusted": json.dumps(together, ensure_ascii=False),
        "provenance": json.dumps(provenance),
    }
    return result


def by_distance(source: Source, distance: xr.DataArray | float) -> xr.DataArray:
    """Irradiance of a source at other distances, against that where it was measured.

    Parameters
    ----------
    source : Source
        A source whose beam was measured.
    distance : xarray.DataArray (...) or float
        Within its reach [mm].

    Returns
    -------
    xarray.DataArray (...)
        Share [1].

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> by_distance(read_manifest(demo)[0].source[-1], 12.0).item()
    1.0
    """
    points = points_of(source)
    assert points is not None
    share = irradiance_at(points, distance) / irradiance_at(points, source.distance.value)
    return share.drop_attrs(deep=False)


def by_hours(tree: xr.DataTree, source: Source, hours: xr.DataArray | float) -> xr.DataArray:
    """Output of a source after other hours of use, against that of today.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    source : Source
        One of its sources, of which a course is known.
    hours : xarray.DataArray (...) or float
        Hours of use [h].

    Returns
    -------
    xarray.DataArray (...)
        Share [1], with the draws of the fit.

    Examples
    --------
    >>> led = manifest_of(reduced).source[-1]
    >>> round(by_hours(reduced, led, 20000.0).item(), 3)
    0.509
    """
    course = course_of(tree, source)
    assert course.fit is not None
    return ageing.output_left(course.fit, hours, course.now).reset_coords(drop=True).drop_attrs(deep=False)


def _sources(tree: xr.DataTree, before: Manifest, after: Manifest, changes: Adjustments) -> xr.Dataset:
    """The sources after other hours and at other levels, and where they would stand."""
    sources = tree["sources"].to_dataset()
    shares = []
    for old, new in zip(before.source, after.source, strict=True):
        share = xr.DataArray(new.setting.value / old.setting.value)
        if old.name in changes.get("hours", {}) and new.hours is not None:
            share = share * by_hours(tree, old, new.hours.value)
        shares.append(share)
    along = sources.coords["source"].reset_coords(drop=True)
    share = xr.concat(xr.broadcast(*shares), along)
    if bool((share != 1).any()):
        for name, array in sources.data_vars.items():
            if array.attrs.get("units", "").startswith("W m-2"):
                scaled = array * share.astype(array.dtype)
                ordered = scaled.transpose("source", ..., "wavelength", missing_dims="ignore")
                sources[name] = ordered.assign_attrs(array.attrs)
    if "distance" in changes:
        sources["working_share"] = _placed(sources, after, changes)
        sources = _unscanned(sources, before, after)
    hours = [np.nan if source.hours is None else source.hours.value for source in after.source]
    return sources.assign_coords(hours=("source", hours, sources.coords["hours"].attrs))


def _unscanned(sources: xr.Dataset, before: Manifest, after: Manifest) -> xr.Dataset:
    """The sources without what a scan across the spot said where they stood before."""
    moved = [
        scanned_in_place(old) and not scanned_in_place(new)
        for old, new in zip(before.source, after.source, strict=True)
    ]
    still = xr.DataArray([not one for one in moved], dims="source")
    return sources.assign({name: sources[name].where(still) for name in IN_PLACE})


def _placed(sources: xr.Dataset, after: Manifest, changes: Adjustments) -> xr.DataArray:
    """Irradiance where each source would stand, against where it was measured."""
    now = sources.get("working_share", xr.ones_like(sources["spot_size"]).reset_coords(drop=True))
    each = [
        by_distance(source, changes["distance"][source.name])
        if source.name in changes["distance"]
        else now.sel(source=source.name, drop=True)
        for source in after.source
    ]
    plain = [one.reset_coords(drop=True).drop_attrs(deep=False) for one in each]
    placed = xr.concat(xr.broadcast(*plain), sources.coords["source"].reset_coords(drop=True))
    return placed.assign_attrs(units="1", long_name="irradiance in use against where it was measured")


def _parts(tree: xr.DataTree, after: Manifest) -> xr.Dataset:
    """The parts in other thicknesses, with the draws that the bench was reduced with."""
    parts = tree["parts"].to_dataset()
    settings = json.loads(tree.attrs["provenance"]).get("settings", {})
    budget = Budget(after, settings.get("draws") or 0, settings.get("seed") or 0)
    measured = parts.get("measured_transmittance", parts["transmittance"])
    regular = parts.get("measured_regular_transmittance", measured)
    lights = [measured.isel(part=i, drop=True) for i in range(len(after.part))]
    regulars = [
        lights[i] if part.regular is None else regular.isel(part=i, drop=True)
        for i, part in enumerate(after.part)
    ]
    return in_use(tree, after, lights, regulars, budget).assign(drift=parts["drift"])
