"""How far the controls of a bench can be turned, and why some cannot: nothing is extrapolated."""

from __future__ import annotations

import xarray as xr

from spectralbench import ageing
from spectralbench.benches.adjustments import Adjustments, bench_values
from spectralbench.benches.at_bond import course_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.placing import points_of, stands_at
from spectralbench.benches.schema import Manifest, Part, Source
from spectralbench.errors import RangeError

THINNEST, THICKEST = 10.0, 10.0
"""How many times thinner or thicker than measured a part may be taken to be: a choice of our own."""


def refuse_unknown(tree: xr.DataTree, manifest: Manifest, changes: Adjustments) -> None:
    """Refuse what this bench says nothing of."""
    for part in manifest.part:
        wanted = changes.get("thickness", {}).get(part.name)
        if wanted is not None and (reason := fixed_thickness(part)):
            raise RangeError(reason)
        here = part.thickness.value
        if wanted is not None and not here / THINNEST <= wanted <= here * THICKEST:
            raise RangeError(
                f"{part.name} was measured {here:g} mm thick, from which {here / THINNEST:g} to "
                f"{here * THICKEST:g} mm can be told, not {wanted:g} mm: measure one of about that thickness"
            )
    for source in manifest.source:
        if source.name in changes.get("hours", {}):
            if reason := fixed_hours(tree, source):
                raise RangeError(reason)
            wanted = changes["hours"][source.name]
            reason = beyond_hours(tree, source, wanted)
            if reason and wanted != bench_values(manifest_of(tree, as_it_is=True))["hours"][source.name]:
                raise RangeError(reason)
        if source.name in changes.get("distance", {}):
            if reason := fixed_distance(source):
                raise RangeError(reason)
            ends = reach(source)
            away = changes["distance"][source.name]
            if not ends[0] <= away <= ends[1]:
                raise RangeError(
                    f"the beam of {source.name} was measured from {ends[0]:g} to {ends[1]:g} mm, "
                    f"not at {away:g} mm: nothing is extrapolated"
                )


def fixed_thickness(part: Part) -> str:
    """Why a part has no other thickness, or nothing.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> fixed_thickness(read_manifest(demo)[0].part[0])
    ''
    """
    if part.index is not None:
        return ""
    return f"another thickness of {part.name} takes its refractive index: write index = … into its table"


def fixed_distance(source: Source) -> str:
    """Why a source has no other distance, or nothing.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> fixed_distance(read_manifest(demo)[0].source[0])
    'another distance of arc takes its beam: write the irradiance at two distances or more into its table'
    """
    if source.beam:
        return ""
    return (
        f"another distance of {source.name} takes its beam: write the irradiance at two distances or more "
        "into its table"
    )


def fixed_hours(tree: xr.DataTree, source: Source) -> str:
    """Why a source has no other hours, or nothing.

    Examples
    --------
    >>> fixed_hours(reduced, manifest_of(reduced).source[0])
    ''
    """
    course = course_of(tree, source)
    return "" if course.fit is not None else f"no other hours of {source.name} follow: {course.basis}"


def last_hour(tree: xr.DataTree, source: Source) -> float:
    """The last hour of use of a source of which a bench says anything [h].

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    source : Source
        One of its sources, of which a course is known.

    Returns
    -------
    float
        The end of its life, or `spectralbench.ageing.FARTHEST` times the last hour of its log, if that
        comes first [h].

    Examples
    --------
    >>> last_hour(reduced, manifest_of(reduced).source[0])  # a log of 900 h, and the end of its life
    3000.0
    """
    course = course_of(tree, source)
    assert course.fit is not None
    return min(course.end, ageing.FARTHEST * float(course.fit["longest"]))


def beyond_hours(tree: xr.DataTree, source: Source, hours: float) -> str:
    """Why nothing is said of a source after so many hours of use, or nothing.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    source : Source
        One of its sources, of which a course is known.
    hours : float
        Hours of use [h].

    Returns
    -------
    str
        The words; empty if something is said.

    Examples
    --------
    >>> beyond_hours(reduced, manifest_of(reduced).source[0], 3500.0)
    'arc is replaced after 3000 h (end_of_life): up to 3000 h of use can be told, not 3500 h'
    """
    last = last_hour(tree, source)
    if hours <= last:
        return ""
    course = course_of(tree, source)
    told = f"up to {last:g} h of use can be told, not {hours:g} h"
    if last == course.end:
        return f"{source.name} is replaced after {last:g} h (end_of_life): {told}"
    assert course.fit is not None
    logged = f"the log of {source.name} ends at {float(course.fit['longest']):g} h"
    return f"{logged}: {told}, for beyond {ageing.FARTHEST:g} times it says nothing"


def reach(source: Source) -> tuple[float, float]:
    """Nearest and farthest distance at which the beam of a source was measured [mm].

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> reach(read_manifest(demo)[0].source[-1])
    (8.0, 30.0)
    """
    points = points_of(source)
    if points is None:
        return stands_at(source), stands_at(source)
    along = points.coords["distance"].values
    return float(along[0]), float(along[-1])
