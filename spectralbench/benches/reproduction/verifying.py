"""Verifying saved results: whether the raw files, as they are now, still give the same figures."""

from __future__ import annotations

import json
import logging
import shutil
import tempfile
from dataclasses import replace
from functools import cache, partial
from os import PathLike, fsdecode
from pathlib import Path
from typing import Any

import xarray as xr

from spectralbench.archives import load
from spectralbench.benches.adjusting import with_adjustments
from spectralbench.benches.adjustments import kept
from spectralbench.benches.comparing import compare, reduced_and_compared
from spectralbench.benches.folder import open_bench
from spectralbench.benches.manifest import MANIFEST, read_manifest
from spectralbench.benches.reducing import reduce_bench
from spectralbench.benches.reproduction.causes import causes_of, worth_telling_apart
from spectralbench.benches.reproduction.changed_files import files_changed, places_changed, settings_changed
from spectralbench.benches.reproduction.differences import Result, agreement
from spectralbench.benches.reproduction.pack_state import state_of
from spectralbench.benches.reproduction.packing_list import PackingList, versions_here
from spectralbench.benches.reproduction.saved_results import Paths, Saved, Unreadable, saved_results
from spectralbench.benches.reproduction.unpacking import opened_pack
from spectralbench.benches.reproduction.verification import (
    DIFFERS,
    NOT_MADE,
    NOT_READ,
    SAME,
    SAME_BITS,
    Verification,
    Verified,
    in_words,
)
from spectralbench.benches.reproduction.wording import reworded
from spectralbench.errors import BenchError, Fault, RangeError, SpectralBenchError, printable, quote

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
        The bench folder, or a pack of one: a pack is unpacked into a temporary folder, and held against
        its list first.
    results : str, path or iterable of these, optional
        Archives of `reduce_bench` or `compare`, from `save`. Without it, every archive (``.nc`` or
        ``.zarr``) that stands in the folder ``results`` of the bench, or that the pack lists; of a pack,
        by their names in it.
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
    ReadError
        If the file is no pack, is damaged, or could do harm (see `unpack`).
    RangeError
        If the tolerance lies outside 0–1.

    Notes
    -----
    Each result is made again with its own draws and seed, which its provenance keeps. A difference is never
    an error: the report names the raw files, keys of the manifest and versions that are not what they were,
    and so is an archive that cannot be read. Texts that another version words otherwise are named, and fail
    nothing.

    Why figures moved is told as far as it can be: a single cause is one; where the manifest and something
    else changed, the result is made once more with the manifest as it was. A raw file and a version that
    both changed cannot be told apart. Of a bench that was packed, the line that changed first is named, and
    a single number in it with what it was: another number in its place gives the SHA-256 again.

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
    if place.name != MANIFEST and (
        place.is_file() or (place.suffix.lower() == ".zip" and not place.is_dir())
    ):
        return _pack_verified(place, results, tolerance)
    if not (place / MANIFEST).is_file():
        read_manifest(place)  # says what is wrong
    return _bench_verified(place, saved_results(place, results), tolerance, {})


def _pack_verified(path: Path, results: Paths | None, tolerance: float) -> Verification:
    """The bench in a pack, verified where it was unpacked and told by the name of the pack."""
    with opened_pack(path) as (folder, packing):
        names = packing.results if results is None else _among(path, packing, results)
        saved = saved_results(folder, [folder / name for name in names])
        whole = [one for one in saved if isinstance(one, Saved)]
        state = state_of(path.name, folder, packing, whole)
        found = _bench_verified(folder, saved, tolerance, packing.versions)
        told = [
            replace(one, said=tuple(text.replace(str(folder), str(path)) for text in one.said))
            for one in found.results
        ]
        return replace(found, folder=str(path), results=tuple(told), pack=state)


def _among(path: Path, packing: PackingList, results: Paths) -> list[str]:
    """Saved results of a pack that were asked for."""
    asked = [results] if isinstance(results, str | PathLike) else results
    names = [Path(fsdecode(name)).as_posix() for name in asked]
    odd = [name for name in names if name not in packing.results]
    if odd or not names:
        found = f"no saved result {quote(odd[0])} in it" if odd else "no saved result named"
        raise BenchError(path, [Fault(found, "one of " + ", ".join(map(printable, packing.results)))])
    return names


def _bench_verified(
    place: Path, saved: list[Saved | Unreadable], tolerance: float, packed: dict[str, str]
) -> Verification:
    closed, tree = "", None
    try:
        tree = open_bench(place)
    except BenchError as error:
        closed = str(error)
    now = {} if tree is None else json.loads(tree.attrs["provenance"])

    @cache  # results are often of the same files
    def changed(recorded: tuple[tuple[str, str], ...]) -> tuple[dict[str, str], dict[str, str]]:
        files = files_changed(place, dict(recorded), now.get("files"))
        return files, places_changed(place, dict(recorded), files)

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
        as_it_was = cache(partial(_with_the_manifest_then, place, alike))
        for one in alike:
            files, places = changed(tuple(one.provenance["files"].items()))
            entry = Verified(
                one.name,
                one.kind,
                NOT_MADE,
                files=files,
                manifest=settings_changed(place, one.manifest) if MANIFEST in files else {},
                versions=_versions_changed(one, now, packed),
                places=places,
                provenance=one.provenance,
            )
            if one.kind in made:
                entry = _held(entry, result := load(one.path), made[one.kind], tolerance)
                remaining = None
                if worth_telling_apart(entry):
                    remaining = _remaining(result, as_it_was(one.manifest).get(one.kind), tolerance)
                entry = replace(entry, causes=tuple(causes_of(entry, remaining)))
            entries[one.name] = replace(entry, said=tuple(in_words(entry, one.title, failed, tolerance)))
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


def _versions_changed(
    one: Saved, now: dict[str, Any], packed: dict[str, str]
) -> dict[str, tuple[str | None, str]]:
    before = {**packed, **one.provenance["versions"]}
    here = {**(versions_here(keeping=False) if packed else {}), **now.get("versions", {})}
    return {
        name: (before.get(name), version) for name, version in here.items() if before.get(name) != version
    }


def _with_the_manifest_then(folder: Path, saved: list[Saved], manifest: str) -> dict[str, Result]:
    """By kind, the results of a manifest with only that put back, in a copy; none if it cannot be made."""
    try:
        with tempfile.TemporaryDirectory(prefix="spectralbench-") as place:
            copy = Path(place)
            (copy / MANIFEST).write_text(manifest, encoding="utf-8", newline="")
            for name in sorted(set(read_manifest(copy)[0].files().values())):
                if (folder / name).resolve().is_relative_to(folder.resolve()):
                    (copy / name).parent.mkdir(parents=True, exist_ok=True)
                    shutil.copyfile(folder / name, copy / name)
            return _made_again(open_bench(copy), [one for one in saved if one.manifest == manifest])
    except (SpectralBenchError, OSError, ValueError):
        return {}


def _remaining(saved: Result, then: Result | None, tolerance: float) -> set[tuple[str, str]] | str:
    """Figures that still differ with the manifest as it was; or why they are not known."""
    if then is None:
        return "it cannot be made again"
    return {(each.figure, each.of) for each in agreement(saved, then, tolerance).differences}


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
