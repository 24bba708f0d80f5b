"""Packing a bench into one file, for somebody who makes its figures again elsewhere."""

from __future__ import annotations

import hashlib
import json
import logging
import os
import shlex
import stat
import tempfile
import time
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from os import PathLike, fsdecode
from pathlib import Path

import xarray as xr

from spectralbench.archives import load, save
from spectralbench.benches.comparing import compare
from spectralbench.benches.folder import open_bench
from spectralbench.benches.reproduction.packing_list import (
    LIST,
    PackingList,
    key_figures,
    listed,
    platform_here,
    versions_here,
)
from spectralbench.benches.reproduction.saved_results import (
    RESULTS,
    Saved,
    Unreadable,
    archives_in,
    saved_results,
)
from spectralbench.benches.reproduction.zip_members import LARGEST, MOST, clash, look_at, name_fault
from spectralbench.errors import BenchError, Fault, RangeError, ReadError, printable, quote

_log = logging.getLogger(__name__)
_SHOWN = 12  # files that are told one by one
_NO_TIME = (1980, 1, 1, 0, 0, 0)  # the first that a zip can state


@dataclass(frozen=True, repr=False)
class Pack:
    """A pack that was written; open, copy and send it by its path. A notebook shows it in words.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    size : int
        Its bytes.
    files : tuple of str
        What is in it, by its place in the bench.
    left_out : tuple of str
        What lies in the folder and is not in it; hidden files are not told.
    made : str
        What was made for this pack, because the folder had no comparison; in words, empty if it had.
    """

    path: Path
    size: int
    files: tuple[str, ...]
    left_out: tuple[str, ...]
    made: str = ""

    @property
    def said(self) -> tuple[str, ...]:
        """What is in it and what is not, in words."""
        lines = [f"packed {len(self.files)} files into {self.path} ({self.size / 1e6:.1f} MB)"]
        if self.made:
            lines.append(f"made for it, as none was saved: {self.made}")
        if self.left_out:
            more = f" and {len(self.left_out) - _SHOWN} more" if len(self.left_out) > _SHOWN else ""
            shown = ", ".join(self.left_out[:_SHOWN])
            lines.append(f"left out, for the bench does not use them: {shown}{more}")
        return tuple(map(printable, lines))

    def __repr__(self) -> str:
        return "\n".join(self.said)

    def __fspath__(self) -> str:
        return str(self.path)


def pack(
    folder: str | PathLike[str],
    to: str | PathLike[str] | None = None,
    also: Iterable[str] = (),
    draws: int = 1000,
    seed: int = 1,
) -> Pack:
    """Pack a bench into one file that `verify` and `unpack` take.

    Parameters
    ----------
    folder : str or path
        The bench folder. Nothing in it is changed.
    to : str or path, optional
        A name that ends in ``.zip``. Without it, the name of the folder, beside the folder. A pack that is
        there is replaced once the new one is complete.
    also : iterable of str
        Further files inside the folder, as seen from it or from here: notes, a notebook, a report.
    draws, seed : int
        Of the comparison that is made for the pack if there is none in the folder ``results`` [1].

    Returns
    -------
    Pack
        What is in it, what was left out, what was made for it.

    Raises
    ------
    BenchError
        If the bench does not open; if a saved result cannot be read, or was made from other files than
        those that are there; if a file is a link that leads out of the folder, or has a name that some
        system cannot write; if the place cannot be written, or holds something that is no pack.
    RangeError
        If the name does not end in ``.zip``.

    Notes
    -----
    Packed are the manifest, the raw files that it names, as they are to the byte, and the saved results, and
    nothing else that was not asked for: a customer's part is nobody else's business. ``pack.json`` lists size
    and SHA-256 of each file, versions, platform, and the figures of each comparison as numbers, and names no
    person and no computer. It states when it was packed; apart from that, the same folder gives the same
    bytes, and with the variable ``SOURCE_DATE_EPOCH`` (reproducible-builds.org, 2017) the time is the one
    that it states.

    A pack shows what changed by accident. It is not signed: who changes a file and its hash alike is found
    only if figures move.

    Examples
    --------
    >>> made = pack(demo, Path(tempfile.mkdtemp()) / "demo.zip", draws=0)
    >>> len(made.files), made.files[0], made.left_out
    (30, 'bench.toml', ())
    """
    place = Path(folder)
    target = _target(place, to)
    more = {name: _bytes(place, name) for name in _asked_for(place, also)}
    tree = open_bench(place)
    recorded = json.loads(tree.attrs["provenance"])["files"]
    archives = list(archives_in(place))
    saved = saved_results(place, archives) if archives else []
    _refuse_others(place, saved, recorded)
    contents = {name: _bytes(place, name) for name in sorted(recorded)}
    for name, digest in recorded.items():
        if hashlib.sha256(contents[name]).hexdigest() != digest:
            found = f"{quote(name)}, which changed while it was packed"
            raise BenchError(place, [Fault(found, "files that stay as they are", "Pack it again.")])
    contents |= {name: _bytes(place, name) for name in _of_results(place, saved)}
    of_kind = [one for one in saved if isinstance(one, Saved) and one.kind == "comparison"]
    comparisons: dict[str, xr.Dataset] = {one.name: load(one.path) for one in of_kind}
    results, made = list(dict.fromkeys(one.name for one in saved)), ""
    if not comparisons:
        name = _free_name(contents)
        contents[name], comparisons[name] = _compared(tree, draws, seed)
        results.append(name)
        drawn = f"{draws} draws, seed {seed}" if draws else "no draws"
        made = f"{name}, a comparison with {drawn}"
    contents |= more
    _refuse_names(place, list(contents), sum(map(len, contents.values())))
    packing = PackingList(
        str(tree.attrs["title"]),
        _moment(),
        versions_here(),
        platform_here(),
        tuple(results),
        {name: key_figures(result) for name, result in comparisons.items()},
        tuple(listed(name, data) for name, data in contents.items()),
    )
    _write(target, {LIST: packing.to_json().encode(), **contents})
    left_out = tuple(name for name in _inside(place, target) if name not in contents and name != LIST)
    return Pack(target, target.stat().st_size, tuple(contents), left_out, made)


def _target(folder: Path, to: str | PathLike[str] | None) -> Path:
    """Where the pack goes, refused before anything is computed."""
    if to is None:
        whole = folder if folder.name not in ("", "..") else folder.resolve()
        target = whole.parent / f"{whole.name or 'bench'}.zip"
    else:
        target = Path(fsdecode(to))
    if target.suffix.lower() != ".zip":
        raise RangeError(f"{quote(target.name)} does not end in .zip, as the name of a pack does")
    if "\0" in str(target) or not target.parent.is_dir():
        raise BenchError(target, [Fault("no such folder", "a folder that is there", "Make it first.")])
    if target.is_symlink() or target.exists():
        try:
            packed = not target.is_symlink() and LIST in look_at(target)
        except ReadError:
            packed = False
        if not packed:
            found = "something of that name that is no pack"
            raise BenchError(target, [Fault(found, "a free name, or a pack to replace", "Name another.")])
    return target


def _bytes(folder: Path, name: str) -> bytes:
    """A file of a bench, which has to lie in its folder, all links followed."""
    path = folder / name
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        if inside and stat.S_ISREG(path.stat().st_mode):
            return path.read_bytes()
    except (OSError, RuntimeError, ValueError) as error:
        found = f"{quote(name)}: {getattr(error, 'strerror', None) or error}"
        raise BenchError(folder, [Fault(found, "files that can be read")]) from error
    found = f"{quote(name)}, " + ("which is no ordinary file" if inside else "which leads out of the folder")
    raise BenchError(folder, [Fault(found, "files inside the bench folder", "Copy the file into it.")])


def _refuse_others(folder: Path, saved: list[Saved | Unreadable], recorded: dict[str, str]) -> None:
    """Refuse saved results that cannot be read, or are not of the files that are there."""
    faults = []
    for one in saved:
        if isinstance(one, Unreadable):
            faults.append(replace(one.fault, file=printable(one.name)))
            continue
        then = one.provenance["files"]
        odd = sorted(name for name in {**then, **recorded} if then.get(name) != recorded.get(name))
        if odd:
            more = f" and {len(odd) - 1} file{'s' * (len(odd) > 2)} more" if len(odd) > 1 else ""
            found = f"{printable(one.name)}, which was made from another {quote(odd[0])}{more}"
            bench, file = (shlex.quote(str(path)) for path in (folder, folder / one.name))
            advice = f"Save over it (spectralbench compare {bench} --save {file}), or move it away"
            faults.append(Fault(found, "results of the files that are there", advice))
    if faults:
        raise BenchError(folder, faults)


def _of_results(folder: Path, saved: list[Saved | Unreadable]) -> Iterator[str]:
    """The files of saved results; a Zarr folder has many."""
    for one in saved:
        path = folder / one.name
        if path.is_dir():
            yield from sorted(
                file.relative_to(folder).as_posix() for file in path.rglob("*") if not file.is_dir()
            )
        else:
            yield one.name


def _free_name(contents: Iterable[str]) -> str:
    names = (f"{RESULTS}/comparison{'' if i == 1 else f'_{i}'}.nc" for i in range(1, MOST))
    return next(name for name in names if name not in contents)


def _compared(tree: xr.DataTree, draws: int, seed: int) -> tuple[bytes, xr.Dataset]:
    _log.info("comparing, for there is no saved comparison")
    result = compare(tree, draws, seed)
    with tempfile.TemporaryDirectory(prefix="spectralbench-") as beside:
        save(result, path := Path(beside) / "comparison.nc")
        return path.read_bytes(), result


def _asked_for(folder: Path, also: Iterable[str]) -> Iterator[str]:
    for name in [also] if isinstance(also, str) else also:
        path = Path(fsdecode(name))
        if not (folder / path).exists() and path.exists():
            path = path.absolute()
        if path.is_relative_to(folder.absolute()):
            path = path.relative_to(folder.absolute())
        if path.as_posix().casefold() == LIST:
            raise BenchError(folder, [Fault(quote(path), "files that the pack does not write itself")])
        yield path.as_posix()


def _refuse_names(folder: Path, names: list[str], size: int) -> None:
    """Refuse what another system could not unpack."""
    faults = [
        Fault(f"the name {quote(name)}, which {fault}", "a name that every system can write", "Rename it.")
        for name in names
        if (fault := name_fault(name))
    ]
    if two := clash(names):
        found = f"the names {quote(two[0])} and {quote(two[1])}, which are one on some systems"
        faults.append(Fault(found, "names apart", "Rename one of them."))
    if size > LARGEST or len(names) >= MOST:
        found = f"{len(names)} files of {size / 2**30:.1f} GiB"
        expected = f"fewer than {MOST} files of at most {LARGEST / 2**30:.0f} GiB"
        faults.append(
            Fault(found, expected, f"Take results out of {RESULTS}/, or save them with fewer draws.")
        )
    if faults:
        raise BenchError(folder, faults)


def _moment() -> str:
    stated = os.environ.get("SOURCE_DATE_EPOCH", "")
    seconds = int(stated) if stated.isdecimal() and len(stated) < 12 else int(time.time())
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(seconds))


def _write(target: Path, contents: dict[str, bytes]) -> None:
    """Write into a folder beside the target, look at it as a stranger would, then rename."""
    try:
        with tempfile.TemporaryDirectory(
            prefix=f".{target.name}.", suffix=".part", dir=target.parent
        ) as beside:
            new = Path(beside, target.name)
            with new.open("xb") as file:
                with zipfile.ZipFile(
                    file, "w", zipfile.ZIP_DEFLATED, allowZip64=False, compresslevel=9
                ) as packed:
                    for name, data in contents.items():
                        entry = zipfile.ZipInfo(name, _NO_TIME)
                        entry.create_system = 3  # on every system the same bytes
                        entry.external_attr = (stat.S_IFREG | 0o644) << 16
                        entry.compress_type = zipfile.ZIP_DEFLATED
                        packed.writestr(entry, data)
                file.flush()
                os.fsync(file.fileno())
            look_at(new)
            new.replace(target)
    except OSError as error:
        found = error.strerror or str(error)
        raise BenchError(target, [Fault(found, "a place that can be written")]) from error


def _inside(folder: Path, target: Path) -> Iterator[str]:
    """Files of a folder that are not hidden, but for the pack itself."""
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = Path(place, name)
            if not name.startswith(".") and not (path.exists() and path.samefile(target)):
                yield path.relative_to(folder).as_posix()
