"""Unpacking a bench that somebody packed, with every file held against its hash."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from os import PathLike, fsdecode
from pathlib import Path

from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.reproduction.packing_list import LIST, PackingList, read_list
from spectralbench.benches.reproduction.zip_members import refusal, write_members
from spectralbench.errors import BenchError, Fault, ReadError, printable

_FOLDER = "bench"  # within a temporary folder: what is in a pack never stands beside anything else


def unpack(path: str | PathLike[str], folder: str | PathLike[str] | None = None) -> Path:
    """Unpack a bench into a new or empty folder, or nothing of a pack that is not as it was packed.

    Parameters
    ----------
    path : str or path
        From `pack`.
    folder : str or path, optional
        Where to; made if it does not exist. By default the name of the pack, in the folder that one is in.

    Returns
    -------
    pathlib.Path
        The folder: a bench like any other, with the list ``pack.json`` in it.

    Raises
    ------
    ReadError
        If the file is no pack, is damaged, could do harm, or holds anything else than its list says.
    BenchError
        If the folder is not empty or cannot be written.

    Notes
    -----
    A pack may come from anybody. Names that lead out of the folder or are one on some systems, links,
    devices, encrypted or overlapping members, and members that are larger than they say are refused before or
    while they are unpacked beside the folder, which is there only once all of it is right.

    Examples
    --------
    >>> from spectralbench.benches.reproduction.packing import pack
    >>> folder = Path(tempfile.mkdtemp())
    >>> made = pack(demo, folder / "demo.zip", draws=0)
    >>> sorted(path.name for path in unpack(made, folder / "bench").iterdir())
    ['bench.toml', 'pack.json', 'raw', 'results']
    """
    target = Path(Path(fsdecode(path)).stem if folder is None else fsdecode(folder))
    try:
        taken = target.is_symlink() or (target.exists() and (not target.is_dir() or any(target.iterdir())))
        if taken:
            expected = "a new or an empty folder"
            raise BenchError(target, [Fault("something there already", expected, "Name a new folder.")])
        if target.exists() and target.samefile("."):
            expected = "another folder than the one that you are in"
            raise BenchError(
                target, [Fault("the folder of this very process", expected, "Name a new folder.")]
            )
        if not target.parent.is_dir():
            raise BenchError(target, [Fault("no such folder", "a folder that is there", "Make it first.")])
        with opened_pack(path, target.absolute().parent) as (unpacked, packing):
            if states := unlike(unpacked, packing):
                raise ReadError(fsdecode(path), list(_faults(states)))
            if target.exists():
                target.rmdir()
            unpacked.rename(target)
    except (ReadError, BenchError):
        raise
    except (OSError, ValueError) as error:  # a name with a null byte is a ValueError
        found = getattr(error, "strerror", None) or str(error)
        raise BenchError(target, [Fault(found, "a folder that can be written", "Name another.")]) from error
    return target


def _faults(states: dict[str, str]) -> Iterator[Fault]:
    advice = "Get the pack again. What moves by it, spectralbench verify tells."
    for name, state in states.items():
        yield Fault(f"a file that {state}", "the files that were packed", advice, file=printable(name))


@contextmanager
def opened_pack(path: str | PathLike[str], beside: Path | None = None) -> Iterator[tuple[Path, PackingList]]:
    """A pack, unpacked into a temporary folder that goes away with it.

    Parameters
    ----------
    path : str or path
        From `pack`.
    beside : pathlib.Path, optional
        Folder to make the temporary one in, instead of that of the system.

    Yields
    ------
    folder : pathlib.Path
        With all files of the pack.
    packing : PackingList
        What the pack says of itself.

    Raises
    ------
    ReadError
        If the file is no pack, is damaged, or could do harm.

    Examples
    --------
    >>> with opened_pack("nowhere.zip"):
    ...     pass
    Traceback (most recent call last):
    spectralbench.errors.ReadError: nowhere.zip cannot be read: found no such file; expected a plain zip, ...
    """
    prefix = ".spectralbench-" if beside else "spectralbench-"
    with tempfile.TemporaryDirectory(prefix=prefix, dir=beside) as place:
        (folder := Path(place, _FOLDER)).mkdir()
        try:
            names = write_members(path, folder)
        except OSError as error:
            found = f"{error.strerror or type(error).__name__} while it was unpacked"
            expected = f"a place to unpack it, in {'the folder beside' if beside else 'the temporary folder'}"
            raise refusal(path, found, expected, "Make room there, or take another.") from error
        for name in (LIST, MANIFEST):
            if name not in names:
                advice = "If it was zipped by hand, zip what is in the folder, not the folder."
                raise refusal(path, f"a zip without {name}", "a pack from spectralbench pack", advice)
        yield folder, read_list(fsdecode(path), (folder / LIST).read_bytes())


def unlike(folder: Path, packing: PackingList) -> dict[str, str]:
    """Files of an unpacked pack that are not as its list says.

    Parameters
    ----------
    folder : pathlib.Path
        From `opened_pack`.
    packing : PackingList
        Its list.

    Returns
    -------
    dict
        By name: ``"has changed"``, ``"is missing"`` or ``"is not listed"``.

    Examples
    --------
    >>> from spectralbench.benches.reproduction.packing_list import listed
    >>> unlike(Path("/nowhere"), PackingList("", "", {}, "", (), {}, (listed("a.csv", b""),)))
    {'a.csv': 'is missing'}
    """
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {LIST}
    states = {}
    for one in packing.files:
        if one.name not in there:
            states[one.name] = "is missing"
        elif _digest(folder / one.name) != one.sha256:
            states[one.name] = "has changed"
    return states | dict.fromkeys(sorted(there - {one.name for one in packing.files}), "is not listed")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
