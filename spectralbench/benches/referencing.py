"""A part against its references: what the lamp did between them, and what nobody can know of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench import optics
from spectralbench.benches.budget import PRECISION, Budget
from spectralbench.benches.frames import saturated
from spectralbench.benches.lines import Lines
from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.schema import Frame, Manifest
from spectralbench.benches.stacking import estimate, window
from spectralbench.corrections.pixel_faults import in_words
from spectralbench.errors import BenchError, Fault, RangeError

CAUSE = "reference drift"
"""What this cause of uncertainty is called."""

DRIFTED = 0.05
"""Difference between neighbouring references from which a caution is due (common practice, no source)."""

APART = 4.0
"""Hours between neighbouring references from which a caution is due (common practice, no source)."""


class Series(NamedTuple):
    """A sample and its references, as the manifest names them."""

    name: str  # of the part
    key: str  # in the manifest
    node: str  # in the tree
    sample: Frame
    references: Sequence[Frame]


class Against(NamedTuple):
    """What a part lets pass, against its references."""

    light: xr.DataArray
    drift: float
    cautions: list[str]


def against(
    tree: xr.DataTree,
    manifest: Manifest,
    series: Series,
    signals: dict[str, xr.DataArray],
    calibrated: xr.DataArray,
    budget: Budget,
) -> Against:
    """A sample against its references, at its own moment.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    series : Series
        The sample and its references.
    signals : dict of xarray.DataArray ([draw,] wavelength)
        Signals [s-1] by node.
    calibrated : xarray.DataArray (wavelength,)
        Wavelengths of the pixels that count [nm].
    budget : Budget
        Draws of where the lamp stood between two references.

    Returns
    -------
    Against
        Transmittance ([draw,] wavelength) [1], how far the references drifted, and a sentence for
        whatever interpolation between them may hide.

    Raises
    ------
    BenchError
        If sample or references do not say when they were taken, the sample lies outside of them, or a
        reference is saturated throughout or holds no light.

    Notes
    -----
    Of a steady drift the interpolated reference is true. Otherwise it lies anywhere between its two
    neighbours (JCGM 100:2008, 4.3.7): half-way between them a rectangular distribution from one to the
    other; nearer to one of them, a beta distribution between the same limits of which interpolation is the
    mean, and which leaves nothing open at the moment of a reference. All wavelengths share a draw.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> from spectralbench.benches.frames import best_estimates, drawn
    >>> from spectralbench.benches.signals import corrected_signals
    >>> tree, manifest = open_bench(demo), manifest_of(open_bench(demo))
    >>> budget, frames = Budget(manifest), best_estimates(tree, manifest)
    >>> signals = corrected_signals(frames, drawn(frames, budget), manifest)
    >>> grid = xr.DataArray(signals["/part/cover/sample"].wavelength[400:900])
    >>> part = manifest.part[0]
    >>> series = Series("cover", "part.1", "/part/cover", part.sample, part.references)
    >>> found = against(tree, manifest, series, signals, grid, budget)
    >>> found.light.sizes["wavelength"], round(found.drift, 3), found.cautions
    (500, 0.035, [])
    """
    sample, *taken = (
        window(signals[f"{series.node}/{name}"], calibrated).drop_vars("integration_time")
        for name in ("sample", *(f"reference_{i}" for i in range(1, len(series.references) + 1)))
    )
    best = [estimate(reference) for reference in taken]
    _refuse_saturated(tree, manifest, series, best)
    try:
        drifted = drift(best)
    except RangeError as error:
        faults = [
            _fault(tree, series, f"references.{number}", str(error), "references with light in them")
            for number, reference in enumerate(best, 1)
            if not _levels([reference])[0] > 0
        ]
        raise _blaming(tree, faults) from error
    cautions = _unlit(tree, manifest, series, [estimate(sample), *best])
    if len(taken) == 1:
        return Against(optics.transmittance(sample, taken[0]), drifted, cautions)
    _refuse_out_of_time(tree, series, sample, taken)
    bracket = xr.concat(taken, "time", coords="different", compat="equals", combine_attrs="drop_conflicts")
    light = optics.transmittance(sample, bracket)
    first, second, share = _around(sample, taken)
    cautions += _of_interpolation(series, taken, best, first, second)
    before, after = _levels([best[first], best[second]])
    stream = None
    if 0 < share < 1 and before != after:
        stream = budget.stream(CAUSE, f"{series.name}{series.key.partition('regular')[1]}")
    if stream is not None:
        stood = stream.beta(2 * share, 2 * (1 - share), budget.draws)  # rectangular, if half-way
        level = before + (after - before) * xr.DataArray(stood, dims="draw")
        interpolated = before + (after - before) * share
        light = (light.astype(PRECISION) * (interpolated / level).astype(PRECISION)).assign_attrs(light.attrs)
    return Against(light, drifted, cautions)


def drift(references: Sequence[ArrayLike]) -> float:
    """How far the brightest reference of a part lies above the darkest, over all pixels valid in each.

    Parameters
    ----------
    references : sequence of array-like (wavelength,)
        Signals of two or more references [s-1]; of one, nothing is known.

    Returns
    -------
    float
        Difference of their totals, against the darkest [1].

    Raises
    ------
    RangeError
        If a reference holds no light.

    Examples
    --------
    >>> round(drift([[1.0, 2.0], [1.5, 1.8]]), 9)
    0.1
    """
    totals = _levels(references)
    if not (totals > 0).all():
        raise RangeError("a reference without light")
    return float(totals.max() / totals.min() - 1) if totals.size > 1 else np.nan


def _levels(references: Sequence[ArrayLike]) -> np.ndarray:
    """Totals of several references over all pixels that are valid in each."""
    frames = np.stack([np.asarray(frame, dtype=float) for frame in references])
    return np.asarray(frames[:, ~np.isnan(frames).any(axis=0)].sum(axis=1))


def _around(sample: xr.DataArray, taken: list[xr.DataArray]) -> tuple[int, int, float]:
    """Which references lie around a sample in time, and how far between them it lies [1]."""
    times = np.array([frame.coords["time"].values for frame in taken])
    order = np.argsort(times, kind="stable")
    moment = sample.coords["time"].values
    place = min(int(np.searchsorted(times[order], moment, side="right")), times.size - 1)
    first, second = int(order[max(place - 1, 0)]), int(order[place])
    span = times[second] - times[first]
    return first, second, float((moment - times[first]) / span) if span else 0.0


def _of_interpolation(
    series: Series, taken: list[xr.DataArray], best: list[xr.DataArray], first: int, second: int
) -> list[str]:
    """What interpolation between two references may hide: a drift that was not steady, a long wait."""
    said = []
    change = drift([best[first], best[second]])
    if change > DRIFTED:
        said.append(
            f"{_of(series)}: the lamp drifted by {100 * change:.2g} % between its references. What is "
            "interpolated between them stands for the truth only if it drifted steadily: measure again, with "
            "references closer in time to the sample and a lamp that has warmed up"
        )
    times = [taken[i].coords["time"].values for i in (first, second)]
    hours = abs((times[1] - times[0]) / np.timedelta64(1, "h")) if times[0].dtype.kind == "M" else 0.0
    if hours > APART:
        stated = " and ".join(
            f"{series.references[i].file} at {_to_the_second(time)}"
            for i, time in zip((first, second), times, strict=True)
        )
        said.append(
            f"{_of(series)}: its references lie {hours:.3g} h apart, {stated}. What the lamp did between "
            "them is not known: correct a time that is wrong, or measure again with references closer in "
            "time to the sample"
        )
    return said


def _of(series: Series) -> str:
    return f"{series.name}, straight on" if series.key.endswith("regular") else series.name


def _to_the_second(moment: np.ndarray) -> str:
    return str(moment.astype("datetime64[s]") if moment.dtype.kind == "M" else moment)


def _frames(series: Series) -> list[tuple[str, str, Frame]]:
    """Key, node and file of the sample and of every reference."""
    references = [(f"references.{i}", f"reference_{i}", one) for i, one in enumerate(series.references, 1)]
    return [("sample", "sample", series.sample), *references]


def _fault(tree: xr.DataTree, series: Series, key: str, found: str, expected: str, advice: str = "") -> Fault:
    """What is wrong with one file of a part."""
    file = next(frame.file for name, _, frame in _frames(series) if name == key)
    key = f"{series.key}.{key}"
    return Fault(found, expected, advice).within(file, key, Lines(tree.attrs["manifest"])(key))


def _blaming(tree: xr.DataTree, faults: list[Fault]) -> BenchError:
    return BenchError(Path(tree.attrs["folder"]) / MANIFEST, faults)


def _refuse_saturated(
    tree: xr.DataTree, manifest: Manifest, series: Series, best: list[xr.DataArray]
) -> None:
    """Refuse references of which saturation leaves no pixel."""
    faults = []
    for (key, node, _), reference in zip(_frames(series)[1:], best, strict=True):
        if not reference.notnull().any() and (where := _saturated_at(tree, manifest, series, node)):
            found = f"{where} saturated, and no other valid"
            faults.append(_fault(tree, series, key, found, "a reference below saturation", _SHORTER))
    if faults:
        raise _blaming(tree, faults)


def _saturated_at(tree: xr.DataTree, manifest: Manifest, series: Series, node: str) -> str:
    hit = saturated(tree, manifest, f"{series.node}/{node}")
    return in_words(hit.coords["wavelength"].values, hit.values)


_SHORTER = "Take it again with a shorter integration time, and the sample like it."


def _unlit(tree: xr.DataTree, manifest: Manifest, series: Series, best: list[xr.DataArray]) -> list[str]:
    """Where saturated frames leave a transmittance unknown."""
    said = []
    for (_, node, frame), light in zip(_frames(series), best, strict=True):
        if light.isnull().any() and (where := _saturated_at(tree, manifest, series, node)):
            said.append(
                f"{_of(series)}: {where} of {frame.file} saturated, so that what it lets through there is "
                "not known: take it again with a shorter integration time"
            )
    return said


def _refuse_out_of_time(
    tree: xr.DataTree, series: Series, sample: xr.DataArray, taken: list[xr.DataArray]
) -> None:
    """Refuse frames that do not say when they were taken, and a sample outside of its references."""
    expected = "when it was taken, for it is held against several references by their times"
    faults = [
        _fault(tree, series, key, "no time", expected, _TIME)
        for (key, _, _), frame in zip(_frames(series), [sample, *taken], strict=True)
        if "time" not in frame.coords
    ]
    if faults:
        raise _blaming(tree, faults)
    moment = sample.coords["time"].values
    times = sorted(frame.coords["time"].values for frame in taken)
    if not times[0] <= moment <= times[-1]:
        at, first, last = map(_to_the_second, (moment, times[0], times[-1]))
        found = f"a sample taken at {at}, outside its references from {first} to {last}"
        expected = "a sample between its references in time"
        advice = (
            "Take one reference before and one after it; a wrong time is corrected in a copy of the file."
        )
        raise _blaming(tree, [_fault(tree, series, "sample", found, expected, advice)])


_TIME = 'Save it with its time, or name a copy that begins with "# time: 2026-03-02T10:15:00".'
