"""Where a figure crosses its limit as one control is turned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.benches.adjusting import with_adjustments
from spectralbench.benches.adjustments import bench_values
from spectralbench.benches.at_bond import light_at_bond, requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.layers import stack_of
from spectralbench.benches.reaches import fixed_distance, fixed_hours, last_hour, reach
from spectralbench.comparison import criteria_of, heating
from spectralbench.draws import summarize
from spectralbench.errors import RangeError, quote

CRITERIA = ("irradiance", "photons", "time", "temperature")
"""Criteria that are looked at along a control: those of today whose limit is the same for all sources."""


class Crossing(NamedTuple):
    """One place at which a source begins or ceases to meet a criterion."""

    source: str
    at: float
    rising: bool


def follow(
    tree: xr.DataTree, criterion: str, control: str, steps: Sequence[float], part: str = ""
) -> xr.Dataset:
    """One figure of every source along one control.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench, perhaps adjusted and with draws.
    criterion : str
        One of `CRITERIA`.
    control : {"thickness", "distance", "hours", "level"}
        What is turned, of all sources or of one part.
    steps : sequence of float
        Ascending values of the control, in its unit.
    part : str
        Of a thickness, whose.

    Returns
    -------
    xarray.Dataset (source, step)
        ``value``, with draws also ``low`` and ``high`` of the 95 % interval; NaN where the bench says
        nothing of a source. ``limit`` and ``at_most`` say what the criterion asks for.

    Raises
    ------
    RangeError
        If there is no such criterion on this bench, or it does not answer for the control.

    Examples
    --------
    >>> found = follow(reduced, "irradiance", "level", [0.5, 1.0])
    >>> one = found.value.sel(source="LED 405")
    >>> round(float(one[0] / one[1]), 9), float(found.limit)
    (0.5, 600.0)
    """
    found = _followed(tree, criterion, control, steps, part)
    closer = sorted({one.at for one in crossings(found)} - set(steps))
    if not closer:
        return found
    more = _followed(tree, criterion, control, closer, part)  # where it crosses, once more
    return xr.concat([found, more], "step", data_vars="minimal").sortby("step")


def _followed(
    tree: xr.DataTree, criterion: str, control: str, steps: Sequence[float], part: str
) -> xr.Dataset:
    """One figure of every source at some steps of a control."""
    manifest = manifest_of(tree)
    turned = _who(tree, control, steps, part)
    each, judged = [], None
    for i, step in enumerate(steps):
        names = [name for name, inside in turned.items() if inside[i]]
        changed = with_adjustments(tree, {control: dict.fromkeys(names, float(step))} if names else {})
        figures = _figures(changed, warm=criterion == "temperature")
        judged = next(
            (one for one in criteria_of(figures, requirement_of(manifest)) if one.name == criterion), None
        )
        if criterion not in CRITERIA or judged is None or judged.figure not in figures:
            raise RangeError(f"there is no criterion {quote(criterion)} to follow on this bench")
        figure = figures[judged.figure].reset_coords(drop=True)
        if control != "thickness":
            known = [name in names for name in figure.coords["source"].values]
            figure = figure.where(xr.DataArray(known, dims="source"))
        each.append(figure.drop_attrs(deep=False).assign_attrs(units=figures[judged.figure].attrs["units"]))
    assert judged is not None
    along = xr.DataArray(np.asarray(steps, dtype=float), dims="step", name="step")
    whole = xr.concat(each, along)
    found = summarize(whole) if "draw" in whole.dims else xr.Dataset({"value": whole})
    found = found.transpose("source", "step")
    limit = judged.limits(figures)
    same = limit.size > 0 and np.allclose(limit, limit[0])
    return found.assign(limit=float(limit[0]) if same else np.nan, at_most=judged.at_most).assign_attrs(
        units=whole.attrs["units"], figure=judged.figure, control=control
    )


def _figures(tree: xr.DataTree, *, warm: bool) -> xr.Dataset:
    """The figures of today on which criteria are followed, and no more: they are worked out at every step."""
    manifest = manifest_of(tree)
    figures, stack = light_at_bond(tree, manifest), stack_of(manifest)
    return figures if stack is None or not warm else heating(figures, stack)


def _who(tree: xr.DataTree, control: str, steps: Sequence[float], part: str) -> dict[str, np.ndarray]:
    """Which of the sources, or which part, has each step of a control."""
    manifest, at = manifest_of(tree), np.asarray(steps, dtype=float)
    everywhere = np.ones(at.size, bool)
    if control == "thickness":
        return {part: everywhere}
    found: dict[str, np.ndarray] = {}
    for source in manifest.source:
        inside = everywhere
        if control == "distance":
            nearest, farthest = reach(source)
            inside = (at >= nearest) & (at <= farthest) & (not fixed_distance(source))
        if control == "hours":
            inside = everywhere & (not fixed_hours(tree, source))
            inside = at <= last_hour(tree, source) if inside.any() else inside
        found[source.name] = inside
    return found


def crossings(followed: xr.Dataset) -> list[Crossing]:
    """Where figures cross their limit: on the logarithm of the figure, straight from step to step.

    Light goes with a level, and nearly with a power of the distance, so that there the logarithm of the
    control counts; through thickness and over hours it fades by exponentials.

    Parameters
    ----------
    followed : xarray.Dataset (source, step)
        From `follow`.

    Returns
    -------
    list of Crossing
        In the order of the sources, then of the steps.

    Examples
    --------
    >>> steps = xr.DataArray([1.0, 2.0, 3.0], dims="step")
    >>> light = xr.DataArray([[800.0, 400.0, 200.0]], {"source": ["LED"], "step": steps}, ("source", "step"))
    >>> crossings(xr.Dataset({"value": light, "limit": 400.0 * 2**0.5, "at_most": False}))
    [Crossing(source='LED', at=1.5, rising=False)]
    """
    limit = float(followed["limit"])
    found: list[Crossing] = []
    steps = followed.coords["step"].values
    powers = followed.attrs.get("control") in ("level", "distance")
    places = np.log(steps) if powers else steps
    for name in followed.coords["source"].values:
        values = followed["value"].sel(source=name).values
        usable = np.isfinite(values) & (values > 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            above = np.log(values / limit)
        for i in range(values.size - 1):
            if usable[i] and usable[i + 1] and (above[i] < 0) != (above[i + 1] < 0):
                share = above[i] / (above[i] - above[i + 1])
                at = places[i] + share * (places[i + 1] - places[i])
                at = np.exp(at) if powers else at
                found.append(Crossing(str(name), float(round(at, 12)), bool(above[i] < 0)))
    return found


def steps_of(tree: xr.DataTree, control: str, part: str = "", count: int = 13) -> list[float]:
    """Steps over all that a bench can answer for.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    control : {"thickness", "distance", "hours", "level"}
        What is to be turned.
    part : str
        Of a thickness, whose.
    count : int
        How many steps.

    Returns
    -------
    list of float
        Ascending, in the unit of the control; empty if nothing can be turned.

    Examples
    --------
    >>> steps_of(reduced, "distance", count=3)
    [8.0, 19.0, 30.0]
    """
    if control != "hours":
        low, high = span_of(tree, control, part)
        return [] if not low < high else np.linspace(low, high, count).tolist()
    ends = {end for _, end in _spans(tree, control) if end > 0}  # an arc ends long before an LED
    each = max(count // max(len(ends), 1), 5)
    return sorted({float(step) for end in ends for step in np.linspace(0.0, end, each)})


def span_of(tree: xr.DataTree, control: str, name: str = "") -> tuple[float, float]:
    """From where to where a control can be turned.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    control : {"thickness", "distance", "hours", "level"}
        What is to be turned.
    name : str
        Of which part or source; of all sources, if none is named.

    Returns
    -------
    tuple of float
        Lowest and highest value, in the unit of the control; twice 0 if nothing can be turned.

    Examples
    --------
    >>> span_of(reduced, "thickness", "cover"), span_of(reduced, "hours", "arc")
    ((0.2, 6.0), (0.0, 3000.0))
    """
    if control == "thickness":
        here = bench_values(manifest_of(tree, as_it_is=True))["thickness"].get(name) or 0.0
        return 0.1 * here, 3 * here
    ends = _spans(tree, control, name)
    if not ends:
        return (0.0, 0.0)
    return min(low for low, _ in ends), max(high for _, high in ends)


def _spans(tree: xr.DataTree, control: str, name: str = "") -> list[tuple[float, float]]:
    """From where to where a control of each source can be turned, if it can."""
    sources = [one for one in manifest_of(tree).source if not name or one.name == name]
    if control == "distance":
        return [reach(one) for one in sources if not fixed_distance(one)]
    if control == "hours":
        return [(0.0, last_hour(tree, one)) for one in sources if not fixed_hours(tree, one)]
    return [(0.01, 1.0)] * len(sources)
