"""Saved results of a bench, and what they say of themselves."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from os import PathLike, fsdecode
from pathlib import Path
from typing import Any, NamedTuple

import xarray as xr

from spectralbench.archives import load
from spectralbench.benches.adjustments import UNITS
from spectralbench.draws import FEWEST
from spectralbench.errors import BenchError, Fault, ReadError

RESULTS = "results"
"""Folder inside a bench in which saved results are looked for."""

_SAVE = f"Save one: spectralbench compare BENCH --save BENCH/{RESULTS}/comparison.nc"

_LARGEST_SEED = 2**128  # a longer one is no seed that anybody gave

Paths = str | PathLike[str] | Iterable[str | PathLike[str]]


class Saved(NamedTuple):
    """What an archive says of itself: how its result was made, and from what."""

    path: Path
    name: str
    kind: str
    draws: int
    seed: int | None
    adjusted: str
    has_shares: bool
    manifest: str
    title: str
    provenance: dict[str, Any]


class Unreadable(NamedTuple):
    """An archive of which nothing can be told, and why."""

    name: str
    fault: Fault


def saved_results(folder: Path, results: Paths | None = None) -> list[Saved | Unreadable]:
    """Saved results of a bench.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.
    results : str, path or iterable of these, optional
        Archives; without it, all in the folder `RESULTS` of the bench.

    Returns
    -------
    list of Saved or Unreadable
        What each says of itself, or what is wrong with it; the figures stay where they are.

    Raises
    ------
    BenchError
        If there is none.

    Examples
    --------
    >>> saved_results(demo)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    spectralbench.errors.BenchError: ... found no archive in its folder results; expected a saved result. ...
    """
    if results is None:
        paths = list(archives_in(folder))
    elif isinstance(results, str | PathLike):
        paths = [Path(fsdecode(results))]
    else:
        paths = [Path(fsdecode(path)) for path in results]
    if not paths:
        found = f"no archive in its folder {RESULTS}" if results is None else "no archive named"
        raise BenchError(folder, [Fault(found, "a saved result", _SAVE)])
    return [_told(path, _name(folder, path)) for path in dict.fromkeys(paths)]


def archives_in(folder: Path) -> Iterator[Path]:
    """Archives that stand in the folder `RESULTS` of a bench.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.

    Yields
    ------
    pathlib.Path
        Each, by its name.

    Examples
    --------
    >>> list(archives_in(demo))
    []
    """
    place = folder / RESULTS
    inside = place.iterdir() if place.is_dir() else ()
    yield from sorted(path for path in inside if path.suffix.lower() in (".nc", ".zarr"))


def _told(path: Path, name: str) -> Saved | Unreadable:
    try:
        return _described(path, name, load(path))
    except ReadError as error:
        return Unreadable(name, error.faults[0])


def _name(folder: Path, path: Path) -> str:
    """What to call an archive: inside the bench, by its place there."""
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except (OSError, RuntimeError, ValueError):
        return str(path)


def _described(path: Path, name: str, result: Any) -> Saved:
    kind = None
    if isinstance(result, xr.DataTree) and "sources" in result.children:
        kind = "reduction"
    elif isinstance(result, xr.Dataset) and "verdict" in result:
        kind = "comparison"
    try:
        provenance = json.loads(result.attrs["provenance"])
        files, versions, settings = (provenance[key] for key in ("files", "versions", "settings"))
        texts = [*files, *files.values(), *versions, *versions.values()]
        draws, seed = settings["draws"], settings["seed"]
        whole = all(isinstance(text, str) for text in texts) and type(draws) is int
        whole = whole and (type(seed) is int if draws else seed is None)
        adjusted = settings.get("adjusted", {})
        whole = whole and set(adjusted) <= set(UNITS) and (seed is None or abs(seed) < _LARGEST_SEED)
        whole = whole and all(
            type(value) in (int, float) for values in adjusted.values() for value in values.values()
        )
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        whole = False
    if kind is None or not whole:
        found = "an archive without the provenance of a reduction or comparison"
        raise ReadError(path, [Fault(found, "a saved result of a bench", _SAVE)])
    nodes = result.subtree if isinstance(result, xr.DataTree) else [result]
    held = max(int(node.sizes.get("draw", 0)) for node in nodes)
    if held not in (0, draws):
        found, expected = f"{draws} draws in the provenance", f"{held}, as in the figures"
        raise ReadError(path, [Fault(found, expected, "Copy the archive again from where it was made.")])
    return Saved(
        path,
        name,
        kind,
        held or min(draws, FEWEST),
        seed,
        json.dumps(adjusted),
        "variance_share" in result,
        str(result.attrs.get("manifest", "")),
        str(result.attrs.get("title", "")),
        provenance,
    )
