"""How long the direct beam of each source may meet bare eyes or skin in a day."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.beam import irradiance_at
from spectralbench.benches.folder import blamed
from spectralbench.benches.placing import points_of, stands_at
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.stacking import estimate
from spectralbench.benches.together import of_candidates
from spectralbench.comparison import FIGURES
from spectralbench.safety import WORKING_DAY, at_distance, exposure_limits


def permitted_time(tree: xr.DataTree, manifest: Manifest, spectrum: xr.DataArray) -> xr.DataArray:
    """Time in which each source reaches a day's limit, at the part or at a stated distance.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    manifest : Manifest
        Its manifest.
    spectrum : xarray.DataArray (source, ..., wavelength)
        Spectral irradiance at the part [W m-2 nm-1].

    Returns
    -------
    xarray.DataArray (source,)
        Time [s], from the means of the draws; ``attrs["longest"]``, a working day, stands for as much
        or more. ``attrs["comment"]`` says what it leaves open.

    Raises
    ------
    BenchError
        If the stated distance is closer than where a source stands.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> light = reduced["sources"]["spectral_irradiance"]
    >>> bool((permitted_time(reduced, manifest_of(reduced), light).dropna("source") < 2).all())
    True
    """
    light, words = estimate(spectrum), [_NOISE]
    label = f"{FIGURES['permitted_time'].label} at the part"
    if manifest.safety is not None:
        away = manifest.safety.distance.value
        words.append("a beam may be stronger there than computed, and the time shorter")
        label = f"{FIGURES['permitted_time'].label} at {away:g} mm"
        where = {"source": [source.name for source in manifest.source]}
        reached = [_reached(source, away) for source in manifest.source]
        near = xr.DataArray([distance for distance, _ in reached], where)
        fallen = xr.DataArray([share for _, share in reached], where)
        widths = [_width(source) for source in manifest.source]
        light = (light * of_candidates(fallen, manifest, np.max)).assign_attrs(light.attrs)
        near = of_candidates(near, manifest, np.max)
        wide = of_candidates(xr.DataArray(widths, where), manifest, np.max)
        with blamed(tree, "safety.distance", "a distance behind the parts"):
            light = at_distance(light, near, away, wide)
        del light.attrs["comment"]  # which is said in short
    limits = exposure_limits(light)
    found = limits["permitted_time"].drop_attrs(deep=False).assign_attrs(FIGURES["permitted_time"]._asdict())
    found.attrs |= {"label": label, "longest": WORKING_DAY}
    return found.assign_attrs(comment="; ".join([*words, limits.attrs["comment"]]))


_NOISE = "where a source is dark, noise of its pixels may add a little or take it"


def _reached(source: Source, away: float) -> tuple[float, float]:
    """How far towards a distance a beam was measured [mm], and what is left of its light there [1].

    A beam that was not measured as near as the source stands is taken not to fall before.
    """
    here, points = stands_at(source), points_of(source)
    if points is None:
        return here, 1.0
    nearest, farthest = map(float, points.coords["distance"].values[[0, -1]])
    there = min(away, farthest)
    if there <= here:
        return here, 1.0
    behind, before = (irradiance_at(points, max(distance, nearest)) for distance in (there, here))
    return there, float(behind / before)


def _width(source: Source) -> float:
    """Diameter of the disc whose light thins out like that of a source, from its last distance on [mm].

    What arrives farther away grows with the width of the disc, so the larger of two widths is the safe
    one: that of the spot, and that of the disc that fits the two farthest points of the beam. A spot
    alone is wide enough for light that spreads from its exit, not for light that lenses gather.
    """
    spot, points = 0.0 if source.spot is None else source.spot.value, points_of(source)
    if points is None:
        return spot
    near, far = points.coords["distance"].values[-2:] ** 2
    ratio = float(points[-2] / points[-1])
    if ratio <= 1:  # it does not fall yet, and nobody knows where it begins to
        return np.inf
    return max(spot, 2 * float(np.sqrt(max(0.0, far - ratio * near) / (ratio - 1))))
