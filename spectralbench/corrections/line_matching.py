"""Which found line is which reference line."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.errors import GridError, RangeError
from spectralbench.model import COORDINATES
from spectralbench.units import convert, declares

Vector = NDArray[np.float64]

_JUMP, _FAR = 3.0, 0.1  # cost, in matches, of a jump by one tolerance and of lying that far off


@declares(positions="1", approximate_scale="nm", tolerance="nm")
def match_lines(
    positions: ArrayLike | xr.DataArray,
    approximate_scale: ArrayLike | xr.DataArray,
    reference_lines: xr.Dataset | xr.DataArray | ArrayLike,
    tolerance: float | str,
) -> xr.Dataset:
    """Match lines that were found to lines that are known, by an approximate scale.

    Parameters
    ----------
    positions : array_like (line,) or xarray.DataArray (..., line)
        Where lines were found [pixel]; with further dimensions, matched by their means.
    approximate_scale : array_like (pixel,) or xarray.DataArray (pixel,)
        Wavelength of each pixel [nm], good to the tolerance; it may rise or fall.
    reference_lines : xarray.Dataset (wavelength,) or array_like (wavelength,)
        Known lines, such as `curves.lines` and `curves.effective_lines` give, or their
        wavelengths [nm].
    tolerance : float or str
        How far the approximate scale may be off [nm].

    Returns
    -------
    xarray.Dataset (line,)
        For each match, in the order of wavelength: ``position`` (..., line) [pixel], ``wavelength``
        of the reference [nm], ``offset`` from the approximate scale [nm], and what else the
        reference says of the line, such as ``uncertainty``. ``attrs["comment"]`` says what was left
        out and why.

    Raises
    ------
    RangeError
        If nothing matches, a position lies outside the scale, the scale turns round, or the
        tolerance is not positive.
    GridError
        If an argument has other dimensions.
    UnitsError
        If the reference lines are in a unit that is no length.

    Notes
    -----
    Of all matches that keep the order of both lists and use each line once, the one is taken that
    matches the most lines, with a cost for offsets that jump from one line to the next (dynamic
    programming, as in the alignment of sequences: Needleman and Wunsch, J. Mol. Biol. 48 (1970)
    443). The scale's error is smooth, so a line of something else does not fit in, and one beside
    two others is told from them by its neighbours.

    Examples
    --------
    >>> matched = match_lines([10.0, 50.0, 80.0], np.linspace(400, 500, 101), [411.0, 481.0, 300.0], 2.0)
    >>> matched["wavelength"].values.tolist(), matched.attrs["comment"]
    ([411.0, 481.0], 'left out: the line at pixel 50.00 (about 450.0 nm): no reference line within 2 nm')
    """
    within = float(tolerance)
    if not within > 0:
        raise RangeError(f"a tolerance is longer than 0 nm, not {within:g} nm")
    place = positions if isinstance(positions, xr.DataArray) else xr.DataArray(np.asarray(positions, float))
    place = place.rename({"dim_0": "line"}) if "dim_0" in place.dims else place
    if "line" not in place.dims:
        raise GridError("positions are one row of numbers, or an array with the dimension line")
    others = [name for name in place.dims if name != "line"]
    found = place.mean(others).values
    about = _on_the_scale(found, approximate_scale)
    known, facts = _reference(reference_lines)
    order, rank = np.argsort(about), np.argsort(known)
    pairs = _best_chain(about[order], known[rank], within)
    if not pairs:
        raise RangeError(
            f"no line matches a reference line within {within:g} nm: the lines stand at about "
            f"{', '.join(f'{value:.1f}' for value in about[order][:6])} nm. Are the approximate scale "
            "and the lamp the right ones?"
        )
    own, theirs = (np.array(side, dtype=int) for side in zip(*pairs, strict=True))
    own, theirs = order[own], rank[theirs]
    clean = facts.pop("clean").values[theirs] if "clean" in facts else np.ones(own.size, dtype=bool)
    blends, own, theirs = theirs[~clean], own[clean], theirs[clean]
    result = xr.Dataset({"position": place.isel(line=own).assign_attrs(units="1").reset_coords(drop=True)})
    result["wavelength"] = ("line", known[theirs], COORDINATES["wavelength"]._asdict())
    result["offset"] = ("line", known[theirs] - about[own], {"units": "nm"})
    for name, fact in facts.items():
        result[name] = ("line", fact.values[theirs], fact.attrs)
    left_out = _left_out(found, about, known, own, theirs, blends, within)
    if left_out:
        result.attrs["comment"] = "left out: " + "; ".join(left_out)
    return result.assign_attrs(
        history=f"matched {own.size} of {found.size} lines to reference lines within {within:g} nm"
    )


def _on_the_scale(found: Vector, approximate_scale: ArrayLike | xr.DataArray) -> Vector:
    """Approximate wavelengths (line,) [nm] of positions (line,)."""
    scale = np.asarray(approximate_scale, dtype=float)
    if scale.ndim != 1 or scale.size < 2:
        raise GridError(f"an approximate scale is one row of wavelengths, not {scale.ndim} dimensions")
    steps = np.diff(scale)
    if not ((steps > 0).all() or (steps < 0).all()):
        raise RangeError("an approximate scale rises or falls from pixel to pixel; this one turns round")
    pixel = np.arange(scale.size, dtype=float)
    if isinstance(approximate_scale, xr.DataArray) and "pixel" in approximate_scale.coords:
        pixel = approximate_scale.coords["pixel"].values.astype(float)
    outside = found[~((found >= pixel[0]) & (found <= pixel[-1]))]
    if outside.size:
        raise RangeError(
            f"the position {outside[0]:g} lies outside the approximate scale, "
            f"pixels {pixel[0]:g}–{pixel[-1]:g}"
        )
    return np.asarray(np.interp(found, pixel, scale))


def _reference(lines: xr.Dataset | xr.DataArray | ArrayLike) -> tuple[Vector, dict[str, xr.DataArray]]:
    """Wavelengths (wavelength,) [nm] of reference lines, and what else is known of each."""
    if isinstance(lines, xr.Dataset):
        facts = {str(name): lines[name] for name in lines.data_vars if lines[name].dims == ("wavelength",)}
        lines = lines["wavelength"]
    else:
        facts = {}
    values = np.asarray(lines, dtype=float)
    if isinstance(lines, xr.DataArray):
        values = convert(values, str(lines.attrs.get("units") or "nm"), "nm")
    if values.ndim != 1:
        raise GridError(f"reference lines are one row of wavelengths, not {values.ndim} dimensions")
    return values, facts


def _best_chain(about: Vector, known: Vector, within: float) -> list[tuple[int, int]]:
    """The best order-keeping pairs of ascending approximate and known wavelengths, as indices."""
    offset = known - about[:, None]
    i, j = np.nonzero(np.abs(offset) <= within)
    if i.size == 0:
        return []
    off = offset[i, j] / within
    score, before = np.empty(i.size), np.full(i.size, -1)
    for p in range(i.size):
        score[p] = 1 - _FAR * abs(off[p])
        earlier = np.flatnonzero((i[:p] < i[p]) & (j[:p] < j[p]))
        if earlier.size:
            chained = score[earlier] - _JUMP * np.abs(off[earlier] - off[p])
            best = int(chained.argmax())
            if chained[best] > 0:
                score[p] += chained[best]
                before[p] = earlier[best]
    pairs, p = [], int(score.argmax())
    while p >= 0:
        pairs.append((int(i[p]), int(j[p])))
        p = int(before[p])
    return pairs[::-1]


def _left_out(
    found: Vector,
    about: Vector,
    known: Vector,
    own: NDArray[np.int64],
    theirs: NDArray[np.int64],
    blends: NDArray[np.int64],
    within: float,
) -> list[str]:
    """Why lines on either side have no partner."""
    said = []
    for number in np.setdiff1d(np.arange(found.size), own):
        near = known[np.abs(known - about[number]) <= within]
        closest = near[np.abs(near - about[number]).argmin()] if near.size else None
        if closest in known[blends]:
            continue  # said below
        why = (
            f"no reference line within {within:g} nm"
            if closest is None
            else f"{closest:.10g} nm is taken, or out of step with the lines beside"
        )
        said.append(f"the line at pixel {found[number]:.2f} (about {about[number]:.1f} nm): {why}")
    for number in blends:
        said.append(f"the reference line {known[number]:.10g} nm: a blend too wide to be placed")
    for number in np.setdiff1d(np.arange(known.size), np.union1d(theirs, blends)):
        if about.min() - within <= known[number] <= about.max() + within:
            said.append(f"the reference line {known[number]:.10g} nm: not found, or taken for none")
    return said
