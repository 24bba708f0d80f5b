"""Holding the texts of a result against those made anew: advice, reasons, cautions, histories."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import xarray as xr

from spectralbench.benches.reproduction.differences import Difference, Result, figures_of
from spectralbench.errors import printable, quote

_APART = ("provenance", "folder")  # held against the bench in another way
_FIRST = ("advice", "reason", "rule", "not_measured", "cautions", "comment")  # what a reader acts on
_BEFORE, _LENGTH = 24, 72  # letters of an excerpt before the first that differs, and in all
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_HASH = re.compile(r" \(sha256 [^)]*\)")


def reworded(saved: Result, now: Result, tolerance: float = 0.0) -> tuple[Difference, ...]:
    """Hold every text of a saved result against the same one made now.

    Parameters
    ----------
    saved, now : xarray.Dataset or xarray.DataTree
        Both from `compare`, or both from `reduce_bench`.
    tolerance : float
        Relative difference up to which figures agree [1]; then numbers in a text may differ by so much
        and by one in their last digit. With 0, a text agrees only if it is the same.

    Returns
    -------
    tuple of Difference
        What a reader acts on first. ``saved`` and ``now`` hold the whole texts.

    Examples
    --------
    >>> saved = xr.Dataset(attrs={"advice": "Test first: arc."})
    >>> [one.text for one in reworded(saved, saved.assign_attrs(advice="Test first: LED 405."))]
    ['advice: "Test first: arc." → "Test first: LED 405."']
    """
    then, present = dict(_texts(saved)), dict(_texts(now))
    found = []
    for key in {**then, **present}:
        before, after = (
            None if texts.get(key) is None else _HASH.sub("", texts[key]) for texts in (then, present)
        )
        if before == after or (tolerance and _nearly(before, after, tolerance)):
            continue
        figure, of, where = key
        named = ", ".join(
            printable(part).replace("_", " ") for part in (of, figure.replace("/", ", "), where) if part
        )
        shown = " → ".join(_excerpts(before, after))
        found.append(Difference(figure, of, where, then.get(key), present.get(key), text=f"{named}: {shown}"))
    return tuple(sorted(found, key=_rank))


def _rank(one: Difference) -> int:
    names = {one.figure.rpartition("/")[2], one.where}
    return next((i for i, name in enumerate(_FIRST) if name in names), len(_FIRST))


def _texts(result: Result) -> Iterator[tuple[tuple[str, str, str], str]]:
    """Every text with its key: the name with its node before it, what it belongs to, where it stands."""
    nodes = result.subtree_with_keys if isinstance(result, xr.DataTree) else [("", result)]
    for path, node in nodes:
        prefix = f"{path}/" if path not in ("", ".") else ""
        for name, text in node.attrs.items():
            if isinstance(text, str) and name not in _APART:
                yield (f"{prefix}{name}", "", ""), text
        for name, array in figures_of(node).items():
            for attribute, text in array.attrs.items():
                if isinstance(text, str) and attribute != "units":
                    yield (f"{prefix}{name}", "", attribute), text
            if array.dtype.kind in "UO" and name != "verdict":
                for place in np.ndindex(array.shape):
                    names = [str(array[d].values[i]) for d, i in zip(array.dims, place, strict=True)]
                    yield (
                        (f"{prefix}{name}", ", ".join(names[:1]), ", ".join(names[1:])),
                        str(array.values[place]),
                    )


def _nearly(then: str | None, now: str | None, tolerance: float) -> bool:
    """Whether two texts differ only in numbers, and those only a little."""
    if then is None or now is None or _NUMBER.sub("0", then) != _NUMBER.sub("0", now):
        return False
    for one, other in zip(_NUMBER.findall(then), _NUMBER.findall(now), strict=True):
        last = max(10.0 ** -len(number.partition(".")[2]) for number in (one, other))
        largest = max(float(one), float(other))
        if abs(float(one) - float(other)) > tolerance * largest + 1.01 * last:
            return False
    return True


def _excerpts(then: str | None, now: str | None) -> list[str]:
    """Both texts from shortly before the place where they part."""
    if then is None or now is None:
        return ["nothing" if text is None else quote(text, _LENGTH) for text in (then, now)]
    apart = next(
        (i for i, (a, b) in enumerate(zip(then, now, strict=False)) if a != b), min(len(then), len(now))
    )
    begin = max(0, apart - _BEFORE)
    return [quote("…" * (begin > 0) + text[begin:], _LENGTH) for text in (then, now)]
