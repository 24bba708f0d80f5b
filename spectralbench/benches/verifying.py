"""Verifying saved results: whether the raw files, as they are now, still give the same figures."""

from __future__ import annotations

import hashlib
import json
import logging
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from os import PathLike
from pathlib import Path
from typing import Any

import xarray as xr

from spectralbench.archives import load
from spectralbench.benches.adjusting import with_adjustments
from spectralbench.benches.adjustments import kept
from spectralbench.benches.comparing import compare, reduced_and_compared
from spectralbench.benches.differences import Result, agreement
from spectralbench.benches.folder import open_bench
from spectralbench.benches.manifest import MANIFEST, read_manifest
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.saved_results import Paths, Saved, Unreadable, saved_results
from spectralbench.benches.verification import (
    DIFFERS,
    NOT_MADE,
    NOT_READ,
    SAME,
    SAME_BITS,
    Verification,
    Verified,
    in_words,
)
from spectralbench.benches.wording import reworded
from spectralbench.errors import BenchError, RangeError, SpectralBenchError, printable, quote

_log = logging.getLogger(__name__)


def verify(
    folder: str | PathLike[str],
    results: Paths | None = None,
    tolerance: float = 1e-9,
) -> Verification:
    """Make saved results again from the raw files, and say whether they agree.

    Parameters
    ----------
    folder : str or path
        The bench folder.
    results : str, path or iterable of these, optional
        Archives of `reduce_bench` or `compare`, from `save`. Without it, every archive (``.nc`` or
        ``.zarr``) that stands in the folder ``results`` of the bench.
    tolerance : float
        Relative difference up to which figures agree [1]: of a saved value, or of the largest median over
        the draws that the figure has at any wavelength, whichever is larger. Another processor or another
        version of a library may change the last digit.

    Returns
    -------
    Verification
        ``ok``, true if all results can be read, all figures and texts agree and all files are as recorded;
        for each result what differs, in words (``str``), as attributes, and as JSON (``to_json``).

    Raises
    ------
    BenchError
        If the folder is no bench, or there is no saved result.
    RangeError
        If the tolerance lies outside 0–1.

    Notes
    -----
    Each result is made again with its own draws and seed, which its provenance keeps. A difference is never
    an error: the report names the raw files, keys of the manifest and versions that are not what they were,
    and so is an archive that cannot be read. Texts that another version words otherwise are named, and fail
    nothing.

    Examples
    --------
    >>> import shutil, tempfile
    >>> from spectralbench.archives import save
    >>> bench = shutil.copytree(demo, Path(tempfile.mkdtemp()) / "bench")
    >>> (bench / "results").mkdir()
    >>> save(compare(bench), bench / "results" / "comparison.nc")
    >>> print(verify(bench))  # doctest: +ELLIPSIS
    ✓ results/comparison.nc, a comparison without draws: all ... figures are the same, bit for bit.
    """
    if not 0 <= tolerance < 1:
        raise RangeError(f"a tolerance lies between 0 and 1, not at {tolerance:g}")
    place = Path(folder)
    if not (place / MANIFEST).is_file():
        read_manifest(place)  # says what is wrong
    saved = saved_results(place, results)
    closed, tree = "", None
    try:
        tree = open_bench(place)
    except BenchError as error:
        closed = str(error)
    entries = {one.name: _unread(one) for one in saved if isinstance(one, Unreadable)}
    whole = [one for one in saved if isinstance(one, Saved)]
    for setting in dict.fromkeys((one.draws, one.seed, one.adjusted) for one in whole):
        alike = [one for one in whole if (one.draws, one.seed, one.adjusted) == setting]
        made: dict[str, Result] = {}
        failed = closed
        if tree is not None:
            _log.info("making %s again", ", ".join(one.name for one in alike))
            try:
                made = _made_again(tree, alike)
            except SpectralBenchError as error:
                failed = str(error)
        for one in alike:
            entries[one.name] = _verified(place, one, tree, made.get(one.kind), failed, tolerance)
    return Verification(str(place), tolerance, tuple(entries[one.name] for one in saved))


def _unread(one: Unreadable) -> Verified:
    entry = Verified(one.name, status=NOT_READ)
    return replace(entry, said=tuple(in_words(entry, "", str(one.fault), 0.0)))


def _made_again(tree: xr.DataTree, saved: list[Saved]) -> dict[str, Result]:
    """Results of one setting, by kind, each made the way in which it was made."""
    draws, seed = saved[0].draws, saved[0].seed
    if any(one.has_shares for one in saved):
        both = reduced_and_compared(tree, draws, seed)
        return {"reduction": both[0], "comparison": both[1]}
    made = with_adjustments(reduce_bench(tree, draws, seed), kept(saved[0].adjusted))
    if all(one.kind == "reduction" for one in saved):
        return {"reduction": made}
    return {"reduction": made, "comparison": compare(made)}


def _verified(
    folder: Path, one: Saved, tree: xr.DataTree | None, made: Result | None, failed: str, tolerance: float
) -> Verified:
    now = {} if tree is None else json.loads(tree.attrs["provenance"])
    files = _files(folder, one.provenance["files"], now.get("files"))
    manifest = _settings_changed(folder, one.manifest) if MANIFEST in files else {}
    before = one.provenance["versions"]
    versions = {
        name: (before.get(name), version)
        for name, version in now.get("versions", {}).items()
        if before.get(name) != version
    }
    entry = Verified(
        one.name,
        one.kind,
        NOT_MADE,
        files=files,
        manifest=manifest,
        versions=versions,
        provenance=one.provenance,
    )
    if made is not None:
        entry = _held(entry, load(one.path), made, tolerance)
    return replace(entry, said=tuple(in_words(entry, one.title, failed, tolerance)))


def _held(entry: Verified, saved: Result, made: Result, tolerance: float) -> Verified:
    """Figures and texts against those made now; where a file has changed, the texts follow from that."""
    found = agreement(saved, made, tolerance)
    same = found.same_bits == found.figures
    texts = reworded(saved, made, 0.0 if same else tolerance)
    if MANIFEST in entry.files:  # told key by key
        texts = tuple(one for one in texts if one.figure != "manifest")
    if found.differences or (texts and not entry.files and "spectralbench" not in entry.versions):
        status = DIFFERS
    else:
        status = SAME_BITS if same else SAME
    return replace(
        entry,
        status=status,
        figures=found.figures,
        same_bits=found.same_bits,
        differences=found.differences,
        texts=texts,
    )


def _files(folder: Path, recorded: dict[str, str], now: dict[str, str] | None) -> dict[str, str]:
    """Files that are not as recorded."""
    states = {}
    for name, digest in recorded.items():
        current = (now or {}).get(name) or _digest(folder, name)
        if current is None:
            states[name] = "missing"
        elif current != digest:
            states[name] = "changed"
        elif now is not None and name not in now:
            states[name] = "not used"
    return states | {name: "new" for name in now or {} if name not in recorded}


def _digest(folder: Path, name: str) -> str | None:
    """SHA-256 of a file inside the folder; the name comes from an archive and may say anything."""
    try:
        path = (folder / name).resolve()
        if not (path.is_relative_to(folder.resolve()) and path.is_file()):
            return None
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except (OSError, ValueError, RuntimeError):
        return None


def _settings_changed(folder: Path, before: str) -> dict[str, tuple[str | None, str | None]]:
    """What the manifest said and says, where that is not the same."""
    try:
        now = (folder / MANIFEST).read_bytes().decode("utf-8-sig")
        then, present = (dict(_keys(tomllib.loads(text), "")) for text in (before, now))
    except (OSError, ValueError, RecursionError):
        return {}
    return {
        key: (then.get(key), present.get(key))
        for key in {**then, **present}
        if then.get(key) != present.get(key)
    }


def _keys(value: Any, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _keys(inner, f"{key}.{name}".lstrip("."))
    elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for number, item in enumerate(value, 1):
            yield from _keys(item, f"{key}.{number}")
    else:
        yield key, quote(value, 60) if isinstance(value, str) else printable(str(value))
