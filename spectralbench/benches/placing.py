"""Sources where they will stand in use, which is not always where they were measured."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.beam import irradiance_at
from spectralbench.benches.budget import Budget, along_beam
from spectralbench.benches.folder import blamed
from spectralbench.benches.schema import Manifest, Source
from spectralbench.errors import RangeError
from spectralbench.units import Measured


def points_of(source: Source) -> xr.DataArray | None:
    """Irradiance against distance, as it was measured for a source.

    Parameters
    ----------
    source : Source
        A source of the manifest.

    Returns
    -------
    xarray.DataArray (distance,) or None
        Irradiance [W m-2] by distance [mm], nearest first; None if none was stated.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> points_of(read_manifest(demo)[0].source[-1]).distance.values.tolist()
    [8.0, 12.0, 20.0, 30.0]
    """
    if not source.beam:
        return None
    ordered = sorted(source.beam, key=lambda point: point.distance.value)
    along = [point.distance.value for point in ordered]
    return xr.DataArray(
        [point.irradiance.value for point in ordered],
        {"distance": ("distance", along, {"units": "mm"})},
        "distance",
        attrs={"units": "W m-2"},
    )


def misplaced(source: Source, stood: Measured, key: str, budget: Budget) -> xr.DataArray | float:
    """What the ± of a distance from a source makes of the irradiance that was measured there.

    Parameters
    ----------
    source : Source
        The source.
    stood : Measured
        Distance of the instrument from it, and its standard uncertainty [mm].
    key : str
        Whose draws of the distance they are.
    budget : Budget
        Draws of the distances.

    Returns
    -------
    xarray.DataArray (draw,) or float
        Irradiance at the distance stated, against that at the distance drawn [1].

    Notes
    -----
    A power of the distance: that of the source's own beam between twice the standard uncertainty
    nearer and farther, so that it does not jump at a point that was measured. What of that lies
    beyond the points goes on as between the nearest two of them. Where no beam was measured, or the
    distance lies beyond it, the inverse square law.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> manifest = read_manifest(demo)[0]
    >>> budget, led = Budget(manifest, draws=1000, seed=1), manifest.source[-1]
    >>> round(float(misplaced(led, led.distance, led.name, budget).std()), 3)  # and 2.5 % of the distance
    0.026
    """
    away = budget.scalar("distance", key, stood) / stood.value
    if not isinstance(away, xr.DataArray):
        return 1.0
    points = points_of(source) if along_beam(source, stood.value) else None
    if points is None:
        return away**2
    ends = stood.value + 2 * stood.standard_uncertainty * xr.DataArray([-1.0, 1.0], dims="end")
    near, far = irradiance_at(points, ends, beyond="slope").values
    return away ** float(np.log(near / far) / np.log(ends[1] / ends[0]))


def placed(tree: xr.DataTree, manifest: Manifest, budget: Budget) -> xr.DataArray | None:
    """Irradiance where each source will stand, against where it was measured.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    budget : Budget
        Draws of the distances.

    Returns
    -------
    xarray.DataArray (source, [draw]) or None
        Ratio [1], 1 for a source without a working distance; None if no source has one.

    Raises
    ------
    BenchError
        If a distance lies beyond those that were measured: nothing is extrapolated.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> placed(tree, manifest_of(tree), Budget(manifest_of(tree))) is None
    True
    """
    if all(source.working_distance is None for source in manifest.source):
        return None
    shares = []
    for number, source in enumerate(manifest.source, 1):
        points = points_of(source)
        if source.working_distance is None or points is None:
            shares.append(xr.DataArray(1.0))
            continue
        there = budget.scalar("working distance", source.name, source.working_distance)
        expected = "distances within those at which the beam was measured"
        with blamed(tree, f"source.{number}.working_distance", expected):
            share = irradiance_at(points, _inside(there, points)) / irradiance_at(
                points, _inside(source.distance.value, points)
            )
        shares.append(share.drop_attrs(deep=False))
    along = xr.DataArray([source.name for source in manifest.source], dims="source", name="source")
    result = xr.concat(xr.broadcast(*shares), along)
    return result.assign_attrs(units="1", long_name="irradiance in use against where it was measured")


def _inside(distance: xr.DataArray | float, points: xr.DataArray) -> xr.DataArray | float:
    """A distance, or its draws, within those at which a beam was measured; nothing is extrapolated."""
    nearest, farthest = points.coords["distance"].values[[0, -1]]
    low, high = float(xr.DataArray(distance).min()), float(xr.DataArray(distance).max())
    if low < nearest or high > farthest:
        reach = f"{low:g} mm" if low == high else f"{low:.3g} to {high:.3g} mm, with its ±"
        raise RangeError(f"{reach}, and a beam measured at {nearest:g} to {farthest:g} mm")
    return distance


def stands_at(source: Source) -> float:
    """Where a source stands in use [mm].

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> stands_at(read_manifest(demo)[0].source[0])
    18.0
    """
    return (source.working_distance or source.distance).value
