"""What several files hold, as one dataset along ``spectrum``."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError, RangeError, printable
from spectralbench.readers.rows import Rows

Said = TypeVar("Said")
Item = TypeVar("Item", bound=Hashable)

_NAMED = 10  # odd files that a message names


class Part(NamedTuple):
    """What one file holds, and what it says of itself."""

    path: str
    name: str  # of the file, without its folder
    values: dict[str, NDArray[Any]]  # quantity to (axis,) or (spectrum, axis); empty if they stand in rows
    scalars: dict[str, Any]  # coordinates that are single numbers, times or texts
    like: xr.Dataset  # a dataset with the same axis, variables and units: its own, or that of another file
    sha256: str
    layout: str
    header: dict[str, str]
    decisions: list[str]
    warnings: list[str]
    steps: list[str]


def part_of(path: str, dataset: xr.Dataset) -> Part:
    """A file that was read, as a part of a stack.

    Examples
    --------
    >>> from spectralbench.readers import read
    >>> part_of("actinic.csv", read("reference_curves/actinic.csv")).layout
    'spectralbench plain text'
    """
    attrs = dataset.attrs
    return Part(
        path,
        attrs["source"],
        {str(name): array.values for name, array in dataset.data_vars.items()},
        {str(name): array.values[()] for name, array in dataset.coords.items() if array.ndim == 0},
        dataset,
        attrs["sha256"],
        attrs["format"],
        json.loads(attrs["header"]),
        json.loads(attrs["decisions"]),
        json.loads(attrs["warnings"]),
        attrs["history"].split("\n")[1:],
    )


def stacked(parts: Sequence[Part], rows: Rows | None = None) -> xr.Dataset:
    """Stack files along ``spectrum``.

    Parameters
    ----------
    parts : sequence of Part
        One for each file, in order.
    rows : Rows, optional
        Where the numbers of those parts stand that have none.

    Returns
    -------
    xarray.Dataset (spectrum, axis)
        As described for `spectralbench.read_many`.

    Raises
    ------
    GridError
        If a file has another axis than most files have.
    RangeError
        If a file holds something else than most files hold.

    Examples
    --------
    >>> from spectralbench.readers import read
    >>> part = part_of("actinic.csv", read("reference_curves/actinic.csv"))
    >>> stacked([part, part._replace(path="again.csv", name="again.csv")]).spectrum.values.tolist()
    ['actinic', 'again']
    """
    _same_kind(parts)
    axis = _same_axis(parts)
    first = parts[0].like
    sizes = {which: _count(like) for which, like in _likes(parts).items()}
    counts = [sizes[id(part.like)] for part in parts]
    variables = {}
    for name, array in first.data_vars.items():
        attributes = {key: value for key, value in array.attrs.items() if key != "history"}
        variables[str(name)] = (("spectrum", axis), _numbers(str(name), parts, rows), attributes)
    coordinates: dict[str, Any] = {
        str(name): (array.dims, array.values, array.attrs)
        for name, array in first.coords.items()
        if array.dims == (axis,)
    }
    coordinates["spectrum"] = ("spectrum", _labels(parts))
    coordinates["file"] = ("spectrum", np.repeat([part.path for part in parts], counts))
    coordinates["sha256"] = ("spectrum", np.repeat([part.sha256 for part in parts], counts))
    for name in dict.fromkeys(name for part in parts for name in part.scalars):
        attributes = next((dict(p.like.coords[name].attrs) for p in parts if name in p.like.coords), {})
        values = [part.scalars.get(name) for part in parts]
        coordinates[name] = ("spectrum", np.repeat(_filled(values), counts), attributes)
    return _described(xr.Dataset(variables, coordinates), parts)


def _numbers(name: str, parts: Sequence[Part], rows: Rows | None) -> NDArray[Any]:
    """The values of all files (spectrum, axis)."""
    if rows is not None and not any(part.values for part in parts):
        return rows.own
    each = (part.values[name] if part.values or rows is None else rows.at(i) for i, part in enumerate(parts))
    return np.concatenate([np.atleast_2d(values) for values in each])


def _same_kind(parts: Sequence[Part]) -> None:
    """Refuse files that hold other quantities than most files do, or hold them in another unit."""
    told = {which: _kind(like) for which, like in _likes(parts).items()}
    kinds = [told[id(part.like)] for part in parts]
    usual = _commonest(kinds)
    odd = [(part.path, kind) for part, kind in zip(parts, kinds, strict=True) if kind != usual]
    if odd:
        found = "; ".join(f"{_named(path)} holds {kind}" for path, kind in odd[:_NAMED])
        raise RangeError(
            f"{len(odd)} of {len(parts)} files hold something else than {usual}: {found}."
            " Read them apart, or say with quantity and units what the values are"
        )


def _kind(like: xr.Dataset) -> str:
    """What a file holds, in words."""
    held = (f"{name} [{array.attrs.get('units')}]" for name, array in sorted(like.data_vars.items()))
    return f"{' and '.join(held)} along {_axis(like)}"


def _same_axis(parts: Sequence[Part]) -> str:
    """Name of the axis, once it and all that stands along it are the same in all files to the last digit."""
    axis = _axis(parts[0].like)
    own = {
        which: {str(name): array.values for name, array in like.coords.items() if array.dims == (axis,)}
        for which, like in _likes(parts).items()
    }
    keys = {
        which: tuple((name, _hashable(along[name])) for name in sorted(along)) for which, along in own.items()
    }
    found = [keys[id(part.like)] for part in parts]
    usual = _commonest(found)
    odd = [part for part, key in zip(parts, found, strict=True) if key != usual]
    if not odd:
        return axis
    good = own[id(parts[found.index(usual)].like)]
    told = "; ".join(
        f"{_named(part.path)} {_difference(own[id(part.like)], good, axis)}" for part in odd[:_NAMED]
    )
    more = f"; and {len(odd) - _NAMED} more" if len(odd) > _NAMED else ""
    raise GridError(
        f"{len(odd)} of {len(parts)} files have another {axis} grid than the others: {told}{more}."
        " Take them out or read them apart; nothing is interpolated in silence"
    )


def _difference(along: dict[str, NDArray[Any]], good: dict[str, NDArray[Any]], axis: str) -> str:
    """Where a file first leaves the others."""
    if len(along[axis]) != len(good[axis]):
        own, others = (f"{len(g)} values from {g[0]} to {g[-1]}" for g in (along[axis], good[axis]))
        return f"has {own}, the others {others}"
    for name in (axis, *along):
        if name not in good:
            return f"has {name} along it"
        if (differ := np.flatnonzero(along[name] != good[name])).size:
            at = int(differ[0])
            called = "" if name == axis else f"{name} "
            return f"has {called}{along[name][at]} in place {at + 1}, where the others have {good[name][at]}"
    return f"lacks {' and '.join(name for name in good if name not in along)} along it"


def _named(path: str) -> str:
    """A path in a message, never cut: its end tells the most."""
    return f'"{printable(path)}"'


def _hashable(values: NDArray[Any]) -> Hashable:
    """Values to compare; numbers as bytes, whose hash is found once however many files share them."""
    return values.tobytes() if values.dtype.kind == "f" else tuple(values.tolist())


def _commonest(items: Sequence[Hashable]) -> Any:
    return Counter(items).most_common(1)[0][0]


def _likes(parts: Sequence[Part]) -> dict[int, xr.Dataset]:
    """The datasets of all files by identity: files written alike share one."""
    return {id(part.like): part.like for part in parts}


def _axis(like: xr.Dataset) -> str:
    return str(next(iter(like.data_vars.values())).dims[-1])


def _count(like: xr.Dataset) -> int:
    """The spectra of a file."""
    return max(1 if array.ndim < 2 else len(array) for array in like.data_vars.values())


def _labels(parts: Sequence[Part]) -> list[str]:
    """The name of each file without its ending, and that of the spectrum where there are several."""
    own = [part.name.removesuffix(".gz") for part in parts]
    names = [name.rpartition(".")[0] or name for name in own]
    if len(set(names)) < len(names):
        names = [part.path for part in parts]
    inside = {which: _own_labels(like) for which, like in _likes(parts).items()}
    return [
        f"{name} {label}" if label else name
        for name, part in zip(names, parts, strict=True)
        for label in inside[id(part.like)]
    ]


def _own_labels(like: xr.Dataset) -> list[str]:
    """The labels of scans or channels inside a file; one without words if there is but one."""
    shape = next(array.dims for array in like.data_vars.values())
    return [str(label) for label in like.coords[shape[0]].values.tolist()] if len(shape) > 1 else [""]


def _filled(values: Sequence[Any]) -> NDArray[Any]:
    """Single values of all files as an array, with a gap where a file states none."""
    present = np.asarray([value for value in values if value is not None])
    gap: Any = {"M": np.datetime64("NaT", "ns"), "U": ""}.get(present.dtype.kind, np.nan)
    filled = np.array([gap if value is None else value for value in values])
    return filled.astype("datetime64[ns]") if present.dtype.kind == "M" else filled


def _described(dataset: xr.Dataset, parts: Sequence[Part]) -> xr.Dataset:
    """What all files say is kept once; what only some say is kept by file."""
    entries = _told([part.header for part in parts], dict.items)
    common = {key: value for (key, value), count in entries.items() if count == len(parts)}
    own = {
        part.path: {key: value for key, value in part.header.items() if key not in common}
        for part in parts
        if part.header != common
    }
    warnings = _told([part.warnings for part in parts], dict.fromkeys)
    decisions = _told([part.decisions for part in parts], dict.fromkeys)
    steps = _told([part.steps for part in parts], dict.fromkeys)
    history = "\n".join(
        [f"read from {len(parts)} file{'s' * (len(parts) != 1)}", *_counted(steps, len(parts))]
    )
    for array in dataset.data_vars.values():
        array.attrs["history"] = history
    dataset.attrs = {
        "format": ", ".join(dict.fromkeys(part.layout for part in parts)),
        "source": f"{len(parts)} files",
        "header": json.dumps(common, ensure_ascii=False),
        "headers": json.dumps(own, ensure_ascii=False),
        "warnings": json.dumps([*_odd(parts), *_counted(warnings, len(parts))], ensure_ascii=False),
        "decisions": json.dumps(_counted(decisions, len(parts)), ensure_ascii=False),
        "history": history,
    }
    return dataset


def _told(said: Sequence[Said], items: Callable[[Said], Iterable[Item]]) -> dict[Item, int]:
    """How many files say each of several things; files written alike share what they say."""
    times = Counter(map(id, said))
    counts: dict[Item, int] = {}
    for one in {id(one): one for one in said}.values():
        for item in items(one):
            counts[item] = counts.get(item, 0) + times[id(one)]
    return counts


def _odd(parts: Sequence[Part]) -> list[str]:
    """What is odd about the files as a whole: a statement that some lack, a file that comes twice."""
    told = []
    for name in dict.fromkeys(name for part in parts for name in part.scalars):
        without = [part.path for part in parts if name not in part.scalars]
        if without:
            told.append(
                f"{len(without)} of {len(parts)} files state no {name.replace('_', ' ')}: {_listed(without)}"
            )
    first: dict[str, str] = {}
    for part in parts:
        if part.sha256 in first:
            told.append(f"{_named(part.path)} holds the same bytes as {_named(first[part.sha256])}")
        first.setdefault(part.sha256, part.path)
    return told


def _listed(paths: Sequence[str]) -> str:
    more = f" and {len(paths) - _NAMED} more" if len(paths) > _NAMED else ""
    return ", ".join(map(_named, paths[:_NAMED])) + more


def _counted(texts: dict[str, int], files: int) -> list[str]:
    return [
        text if count == files else f"{text} (in {count} of {files} files)" for text, count in texts.items()
    ]
