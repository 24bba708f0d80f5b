"""Holding a result against one made anew, figure by figure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.benches.reproduction.amounts import amount, more, number, spreads
from spectralbench.comparison import FIGURES
from spectralbench.errors import printable

Vector = NDArray[np.float64]
Result = xr.Dataset | xr.DataTree

_NUMBERS = "biuf"  # kinds of types
_ROUNDED = 1e-12  # of the mean: a spread below is that of rounding
_ITEMS = ("source", "part", "initiator")  # what a figure belongs to


@dataclass(frozen=True)
class Difference:
    """One figure that is no longer what was saved.

    Parameters
    ----------
    figure : str
        Its name, in a reduction with the node before it: ``sources/fwhm``.
    of : str
        The source, part or initiator that it belongs to; empty if to none.
    where : str
        In a figure of many values, which of them differs most.
    saved, now : float, str or None
        Both values, means of their draws, in the package's own unit; None where not known or infinite.
    units : str
        That unit.
    saved_uncertainty, uncertainty_now : float or None
        Standard uncertainties of both, in that unit; None without draws.
    relative : float or None
        Largest difference of single values, relative to the saved value or to the figure's largest median
        over the draws, whichever is larger; None where something is known only on one side, or the saved
        figure is 0.
    standard_uncertainties : float or None
        Difference of the means in standard uncertainties of the saved one; None without draws.
    text : str
        All this in words.
    """

    figure: str
    of: str
    where: str = ""
    saved: float | str | None = None
    now: float | str | None = None
    units: str = ""
    saved_uncertainty: float | None = None
    uncertainty_now: float | None = None
    relative: float | None = None
    standard_uncertainties: float | None = None
    text: str = ""


class Agreement(NamedTuple):
    """How many figures were held against each other, how many are the same to the bit, which differ."""

    figures: int
    same_bits: int
    differences: tuple[Difference, ...]


class _Pair(NamedTuple):
    """One figure of one item, as saved and as made now; None where there is none."""

    figure: str
    of: str
    saved: xr.DataArray | None
    now: xr.DataArray | None


def agreement(saved: Result, now: Result, tolerance: float) -> Agreement:
    """Hold every figure of a saved result against the same one made now.

    Parameters
    ----------
    saved, now : xarray.Dataset or xarray.DataTree
        Both from `compare`, or both from `reduce_bench`.
    tolerance : float
        Two numbers agree if they differ by at most this share of the saved one, or of the largest median
        over the draws that the figure has at any wavelength, whichever is larger. So a few draws far out
        hide no change of the others. A verdict agrees only if it is the same; other texts are held against
        each other by `spectralbench.benches.reproduction.wording.reworded`.

    Returns
    -------
    Agreement
        A figure that only the new result has is left out, but not a source that only it has.

    Examples
    --------
    >>> saved = xr.Dataset({"exposure_time": ("source", [5.0], {"units": "s"})}, {"source": ["LED 405"]})
    >>> found = agreement(saved, saved + 0.5, 1e-9)
    >>> found.figures, [difference.text for difference in found.differences]
    (1, ['LED 405, exposure: 5 s → 5.5 s (0.5 s or 10 % more)'])
    """
    found: list[Difference] = []
    figures = same_bits = 0
    for pair in _pairs(saved, now):
        differences, same = _held(pair, tolerance)
        figures += 1
        same_bits += same
        found += differences
    found.sort(key=_rank)
    return Agreement(figures, same_bits, tuple(found))


def _rank(one: Difference) -> tuple[int, float]:
    """First what a reader acts on, then what is there on one side only, then the largest change."""
    if one.figure in ("verdict", "place"):
        return 0, 0.0
    if one.saved is None and one.now is None and one.units:
        return 3, 0.0  # not known, then and now; only single draws differ
    size = one.standard_uncertainties if one.standard_uncertainties is not None else one.relative
    if size is None:
        return 1, 0.0
    if one.saved_uncertainty and one.uncertainty_now is not None:
        size = max(size, abs(one.uncertainty_now / one.saved_uncertainty - 1))
    return 2, -size


def _pairs(saved: Result, now: Result) -> Iterator[_Pair]:
    """Every figure of every item."""
    nodes: list[tuple[str, Result, Result | None]] = [("", saved, now)]
    if isinstance(saved, xr.DataTree) and isinstance(now, xr.DataTree):
        made = dict(now.subtree_with_keys)
        nodes = [(f"{path}/", node, made.get(path)) for path, node in saved.subtree_with_keys]
    for prefix, node, other in nodes:
        for name, array in figures_of(node).items():
            if array.dtype.kind not in _NUMBERS and name != "verdict":
                continue
            present = figures_of(other).get(name) if other is not None else None
            along = next((item for item in _ITEMS if item in array.dims and item in array.coords), None)
            if along is None or present is None or along not in present.dims:
                yield _Pair(f"{prefix}{name}", "", array, present)
                continue
            then, new = _by_item(array, along), _by_item(present, along)
            for of in {**then, **new}:
                yield _Pair(f"{prefix}{name}", of, then.get(of), new.get(of))


def figures_of(node: Result) -> dict[str, xr.DataArray]:
    """Variables of a node, and coordinates that are no grid: distances, hours, what a source is.

    Parameters
    ----------
    node : xarray.Dataset or xarray.DataTree
        A result or a node of one.

    Returns
    -------
    dict
        Arrays by name.

    Examples
    --------
    >>> list(figures_of(xr.Dataset({"irradiance": ("source", [1.0])}, {"hours": ("source", [5.0])})))
    ['irradiance', 'hours']
    """
    beside = {name: array for name, array in node.coords.items() if name not in node.dims}
    return {str(name): array for name, array in (*node.data_vars.items(), *beside.items())}


def _by_item(array: xr.DataArray, along: str) -> dict[str, xr.DataArray]:
    names = array.coords[along].values
    return {str(name): array.isel({along: i}, drop=True) for i, name in enumerate(names)}


def _held(pair: _Pair, tolerance: float) -> tuple[list[Difference], bool]:
    """What differs in one figure, and whether it is the same to the bit."""
    saved, now = pair.saved, pair.now
    if saved is None or now is None:
        return [_difference(pair, "not in the saved result" if saved is None else "no longer made")], False
    if saved.dtype.kind not in _NUMBERS:
        found = _verdicts(pair, saved, now)
        return found, not found
    if unlike := _unlike(saved, now):
        return [_difference(pair, unlike)], False
    one, other = (array.transpose("draw", ..., missing_dims="ignore") for array in (saved, now))
    other = other.transpose(*(name for name in one.dims if name in other.dims), ...)
    if one.dims == other.dims and one.values.tobytes() == other.values.tobytes():
        return [], True
    found = _numbers(pair, one, other, tolerance)
    return found, False


def _numbers(pair: _Pair, saved: xr.DataArray, now: xr.DataArray, tolerance: float) -> list[Difference]:
    """What differs in a figure of numbers; draws come first, if there are any."""
    one, other = (np.asarray(array.values, dtype=float) for array in (saved, now))
    drawn = ["draw" in array.dims for array in (saved, now)]
    with np.errstate(invalid="ignore"):  # infinite draws have no mean and no spread
        mean, new = (
            np.asarray(values.mean(axis=0) if has else values)
            for values, has in zip((one, other), drawn, strict=True)
        )
        spread, present_spread = (
            np.asarray(values.std(axis=0, ddof=1)) if has and len(values) > 1 else np.full(mean.shape, np.nan)
            for values, has in zip((one, other), drawn, strict=True)
        )
    alike = saved.dims == now.dims
    relative = _relative(one, other, drawn[0]) if alike else _relative(mean, new)
    if alike and relative <= tolerance:
        return []
    place = _furthest(mean, new)
    if alike and drawn[0] and _relative(mean, new) <= tolerance:
        place = _furthest(spread, present_spread)
    before, after = float(mean[place]), float(new[place])
    uncertainty, uncertainty_now = float(spread[place]), float(present_spread[place])
    drawn_apart = np.isfinite(uncertainty) and uncertainty > _ROUNDED * abs(before)
    shift = abs(after - before) / uncertainty if drawn_apart else np.nan
    units = str(saved.attrs.get("units", ""))
    unknown = bool(np.isnan(before) and np.isnan(after))
    same = unknown or before == after or bool(abs(after - before) <= tolerance * abs(before))
    wider = spreads(pair.figure, (before, uncertainty), (after, uncertainty_now), units)
    remarks = [
        "" if same else more(pair.figure, before, after, units),
        f"{amount(shift)} times its standard uncertainty" if shift > 0 and not same else "",
        f"its standard uncertainty {wider}" if wider else "",
        _single(relative) if alike and same and not wider else "",
        "" if alike else "draws in only one of them",
    ]
    then, present = (number(pair.figure, value, units, saved.dtype.kind) for value in (before, after))
    for digits in range(4, 11):
        if then != present or same:
            break
        then, present = (
            number(pair.figure, value, units, saved.dtype.kind, digits) for value in (before, after)
        )
    change = f"{then} as before" if same and alike else f"{then} → {present}"
    remark = "; ".join(filter(None, remarks))
    where = _where(saved.isel(draw=0) if drawn[0] else saved, place)
    said = _difference(pair, change + f" ({remark})" * bool(remark), where)
    return [
        replace(
            said,
            saved=_plain(before),
            now=_plain(after),
            units=units,
            saved_uncertainty=_plain(uncertainty),
            uncertainty_now=_plain(uncertainty_now),
            relative=_plain(relative),
            standard_uncertainties=_plain(shift),
        )
    ]


def _difference(pair: _Pair, change: str, where: str = "") -> Difference:
    name = FIGURES[pair.figure].label if pair.figure in FIGURES else pair.figure.replace("_", " ")
    named = ", ".join(printable(part) for part in (pair.of, name.replace("/", ", "), where) if part)
    return Difference(pair.figure, pair.of, where, text=f"{named}: {change}")


def _verdicts(pair: _Pair, saved: xr.DataArray, now: xr.DataArray) -> list[Difference]:
    then, present = _by_criterion(saved), _by_criterion(now)
    found = []
    for criterion in {**then, **present}:
        before, after = then.get(criterion), present.get(criterion)
        if before != after:
            said = _difference(pair, f"{before or 'none'} → {after or 'none'}", criterion)
            found.append(replace(said, saved=before, now=after))
    return found


def _by_criterion(verdict: xr.DataArray) -> dict[str, str]:
    if "criterion" not in verdict.dims:
        return {"": printable(str(verdict.values))}
    return dict(zip(map(str, verdict["criterion"].values), map(str, verdict.values), strict=True))


def _unlike(saved: xr.DataArray, now: xr.DataArray) -> str:
    """Why two arrays cannot be held against each other value by value; draws may be missing in one."""
    before, after = (str(array.attrs.get("units", "")) for array in (saved, now))
    if before != after:
        return f"in {before or 'no unit'} then, in {after or 'no unit'} now"
    then, present = dict(saved.sizes), dict(now.sizes)
    if "draw" not in then or "draw" not in present:
        for sizes in (then, present):
            sizes.pop("draw", None)
    if then != present:
        return f"{_shape(saved)} then, {_shape(now)} now"
    for name in then:
        if not np.array_equal(saved[name].values, now[name].values):
            return f"on another grid of {name}"
    return ""


def _shape(array: xr.DataArray) -> str:
    return " × ".join(f"{size} along {name}" for name, size in array.sizes.items()) or "1 value"


def _relative(one: Vector, other: Vector, drawn: bool = False) -> float:
    """Largest difference as a share of what was saved; infinite if one side is not known.

    Where a saved value is small, the difference is a share of the largest median over the draws.
    """
    same = (one == other) | (np.isnan(one) & np.isnan(other))
    if same.all():
        return 0.0
    finite = np.where(np.isfinite(one), np.abs(one), 0.0)
    typical = np.median(finite, axis=0) if drawn else finite
    against = np.maximum(finite, typical.max())[~same]
    apart = np.abs(one[~same] - other[~same])
    if not np.isfinite(apart).all() or (against == 0).any():
        return float(np.inf)
    return float((apart / against).max())


def _furthest(one: Vector, other: Vector) -> tuple[int, ...]:
    """Where two arrays differ most; something known only on one side differs most of all."""
    with np.errstate(invalid="ignore"):
        apart = np.abs(one - other)
    same = (one == other) | (np.isnan(one) & np.isnan(other))
    ranked = np.where(same, -1.0, np.where(np.isnan(apart), np.inf, apart))
    return tuple(int(i) for i in np.unravel_index(int(np.argmax(ranked)), ranked.shape))


def _where(array: xr.DataArray, place: tuple[int, ...]) -> str:
    parts = []
    for name, i in zip(array.dims, place, strict=True):
        along = array[name]  # counts from 0 where there is no coordinate
        value = along.values[i]
        text = f"{value:g}" if along.dtype.kind in "iuf" else str(value)
        parts.append(f"{text} {along.attrs.get('units', '')}".strip())
    return ", ".join(parts)


def _single(relative: float) -> str:
    """What to say where nothing differs but draws, and neither their mean nor their spread."""
    if not np.isfinite(relative):
        return "single draws are known only in one of them"
    return f"single draws differ by up to {100 * relative:.2g} %"


def _plain(value: float) -> float | None:
    return value if np.isfinite(value) else None
