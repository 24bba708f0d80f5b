"""What is in a zip, read so that one from a stranger does no harm.

Everything is checked in the directory of the zip before anything is written, and counted again while
it is written. A pack is small and plain; whatever a plain zip does not need is refused.
"""

from __future__ import annotations

import copy
import errno
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from os import PathLike, fsdecode
from pathlib import Path

from spectralbench.errors import Fault, ReadError, quote

LARGEST = 2 * 2**30
"""Bytes of a zip, and of all in it: twenty reductions with 1,000 draws, at 85 MB each (measured)."""

MOST = 10_000
"""Files in a zip: a bench has tens of them, a Zarr folder hundreds."""

ROOM, GROWTH = 64 * 2**20, 100
"""Bytes that any zip may unpack to, and as many times its own size: tables of counts shrink to a third,
one of nothing but the same number to a hundredth, and a bomb to a thousandth."""

LONGEST, DEEPEST = 200, 20
"""Bytes of a name, and folders in one: every system can write these."""

_END, _END_SIZE, _DIRECTORY = b"PK\x05\x06", 22, 46
_LOCATOR, _LOCATOR_SIZE = b"PK\x06\x07", 20
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_PIECE = 2**20
_DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, ValueError, NotImplementedError)
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_NOT_IN_NAMES = '\\:*?"<>|'  # each a path, a drive or a stream on some system
_DEVICES = {"con", "prn", "aux", "nul"} | {f"{name}{i}" for name in ("com", "lpt") for i in range(10)}
_PLAIN = "a plain zip, as spectralbench pack writes it"
_LEAVE = "Do not open it with another program; ask whoever sent it for a pack made anew."
_AGAIN = "Get it again from where it was made."


def refusal(path: str | PathLike[str], found: str, expected: str = _PLAIN, advice: str = _LEAVE) -> ReadError:
    """An error that refuses a zip.

    Parameters
    ----------
    path : str or path
        The zip.
    found, expected, advice : str
        As in a `Fault`.

    Returns
    -------
    ReadError
        To be raised.

    Examples
    --------
    >>> str(refusal("a.zip", "a link", "a file", "Pack it anew."))
    'a.zip cannot be read: found a link; expected a file. Pack it anew.'
    """
    return ReadError(fsdecode(path), [Fault(found, expected, advice)])


def name_fault(name: str) -> str:
    """What makes a name unfit for a file in a pack, on any system.

    Parameters
    ----------
    name : str
        Folders and file, with ``/`` between them.

    Returns
    -------
    str
        In words; empty if nothing does.

    Examples
    --------
    >>> name_fault("raw/led.csv"), name_fault("../led.csv")
    ('', 'leads out of its folder')
    """
    parts = name.split("/")
    if "\0" in name:
        return "holds a null character"
    if name.startswith("/"):
        return "begins at the root of a disk"
    if ".." in parts:
        return "leads out of its folder"
    if signs := [sign for sign in _NOT_IN_NAMES if sign in name]:
        return f"holds {signs[0]}, which is no part of a name on every system"
    if not name.isprintable():
        return "holds a sign that cannot be printed"
    if any(part in ("", ".") for part in parts):
        return "has an empty part"
    if any(part[-1] in ". " for part in parts):
        return "has a part that ends in a dot or a blank, which some systems drop"
    if any(part.split(".")[0].strip().casefold() in _DEVICES for part in parts):
        return "is that of a device on some systems"
    if len(name.encode("utf-8", "replace")) > LONGEST or len(parts) > DEEPEST:
        return f"is longer than {LONGEST} bytes or deeper than {DEEPEST} folders"
    return ""


def clash(names: list[str]) -> tuple[str, str] | None:
    """Two names that are one on a system that tells neither case nor forms of a letter apart.

    Parameters
    ----------
    names : list of str
        Of files, with their folders.

    Returns
    -------
    tuple of str or None
        The first two; also where one is the folder of the other, or their folders are spelled in two ways.

    Examples
    --------
    >>> clash(["raw/a.csv", "raw/A.csv"]), clash(["raw/a.csv", "raw/b.csv"])
    (('raw/a.csv', 'raw/A.csv'), None)
    """
    files: dict[str, str] = {}
    folders: dict[str, tuple[str, str]] = {}  # by what a system may take it for: its spelling, a file in it
    for name in names:
        if (key := _folded(name)) in files:
            return files[key], name
        files[key] = name
        parts = name.split("/")
        for count in range(1, len(parts)):
            spelled = "/".join(parts[:count])
            before = folders.setdefault(_folded(spelled), (spelled, name))
            if before[0] != spelled:
                return before[1], name
    return next(((files[key], one[1]) for key, one in folders.items() if key in files), None)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def look_at(path: str | PathLike[str]) -> list[str]:
    """The files of a zip, once its directory has been looked at; nothing is unpacked.

    Parameters
    ----------
    path : str or path
        The zip.

    Returns
    -------
    list of str
        The files, in the order of the zip.

    Raises
    ------
    ReadError
        If there is no such file, if it is no plain zip, is damaged, is too large, or has names, links or
        members that could do harm.

    Examples
    --------
    >>> look_at("nowhere.zip")
    Traceback (most recent call last):
    spectralbench.errors.ReadError: nowhere.zip cannot be read: found no such file; expected a plain zip, ...
    """
    with _opened(path) as (_, infos):
        return [info.filename for info in infos]


def write_members(path: str | PathLike[str], folder: Path) -> list[str]:
    """Write the files of a zip into a folder of our own, or nothing of a zip that `look_at` refuses.

    Parameters
    ----------
    path : str or path
        The zip.
    folder : pathlib.Path
        New and empty; what it holds after an error is for the caller to throw away.

    Returns
    -------
    list of str
        The files, in the order of the zip. A zip within is a file like any other and stays closed.

    Raises
    ------
    ReadError
        As `look_at`, and if what is in a file is not what its entry says.

    Examples
    --------
    >>> import tempfile
    >>> with zipfile.ZipFile(place := Path(tempfile.mkdtemp()) / "a.zip", "w") as made:
    ...     made.writestr("raw/led.csv", "385,12345")
    >>> write_members(place, place.with_name("a")), place.with_name("a").joinpath("raw/led.csv").read_text()
    (['raw/led.csv'], '385,12345')
    """
    with _opened(path) as (opened, infos):
        for info in infos:
            _write(path, opened, info, folder)
        return [info.filename for info in infos]


@contextmanager
def _opened(path: str | PathLike[str]) -> Iterator[tuple[zipfile.ZipFile, list[zipfile.ZipInfo]]]:
    """A zip whose directory has been looked at; whatever is wrong with it is one kind of error."""
    place = Path(fsdecode(path))
    try:
        _look_at_end(path, place)
        with zipfile.ZipFile(place) as opened:
            yield opened, list(_looked_at(path, opened, place.stat().st_size))
    except ReadError:
        raise
    except OSError as error:
        if error.errno != errno.EINVAL:  # what the library does with a place before the beginning
            raise
        raise refusal(path, f"a damaged zip: {error.strerror}", advice=_AGAIN) from error
    except _DAMAGED as error:
        why = f": {error}" if str(error) else ""
        raise refusal(path, f"a damaged zip{why}", advice=_AGAIN) from error


def _look_at_end(path: str | PathLike[str], place: Path) -> None:
    """Refuse by the last bytes what would take much memory to open."""
    try:
        state = place.stat()
        if not stat.S_ISREG(state.st_mode):  # asked before opening: a pipe would wait for ever
            raise refusal(path, "no ordinary file", advice="Name the file itself.")
        if state.st_size > LARGEST:
            raise refusal(path, f"{state.st_size} bytes", f"at most {LARGEST}")
        with place.open("rb") as file:
            first = file.read(4)
            file.seek(max(0, state.st_size - _END_SIZE - _LOCATOR_SIZE))
            tail = file.read()
    except FileNotFoundError:
        raise refusal(path, "no such file", advice="Check the name and the folder.") from None
    except ReadError:
        raise
    except (OSError, ValueError) as error:  # a name with a null byte is a ValueError
        found = getattr(error, "strerror", None) or str(error)
        raise refusal(path, found, advice="Check its name and permissions.") from error
    end = tail[-_END_SIZE:]
    if first not in (b"PK\x03\x04", _END):
        raise refusal(path, "a file that does not begin as a zip", advice="Name a pack, or a bench folder.")
    if len(end) < _END_SIZE or end[:4] != _END or end[-2:] != b"\0\0":
        found = "no end of a zip where it should be: it was cut short, or something was added behind it"
        raise refusal(path, found, advice=_AGAIN)
    disk, _, _, count, directory, _, _ = struct.unpack("<4H2LH", end[4:])
    if tail[:-_END_SIZE][-_LOCATOR_SIZE:][:4] == _LOCATOR or disk:
        raise refusal(path, "a zip of the form for very large files, or in several parts")
    if count > MOST or directory > MOST * (_DIRECTORY + 2 * LONGEST):
        raise refusal(path, f"{count} files and a directory of {directory} bytes", f"at most {MOST} files")


def _looked_at(path: str | PathLike[str], opened: zipfile.ZipFile, size: int) -> Iterator[zipfile.ZipInfo]:
    """Every file of a zip, once nothing in its directory is refused; empty folders are passed over."""
    infos = opened.infolist()
    if len(infos) > MOST:
        raise refusal(path, f"{len(infos)} files", f"at most {MOST} files")
    for info in infos:
        name = info.orig_filename  # the library's own cuts it at a null character
        folder = name.endswith("/")
        if fault := name_fault(name.removesuffix("/")):
            raise refusal(path, f"the name {quote(name)}, which {fault}")
        if info.filename != name:  # newer Pythons take a second one from the entry's further fields
            raise refusal(path, f"{quote(name)}, which has a second name: {quote(info.filename)}")
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFDIR if folder else stat.S_IFREG):
            raise refusal(path, f"{quote(name)}, a link or a device", "ordinary files only")
        if info.flag_bits & _ENCRYPTED:
            raise refusal(path, f"{quote(name)}, which is encrypted", advice="Ask for it without a password.")
        if info.compress_type not in _METHODS:
            found = f"{quote(name)}, compressed by method {info.compress_type}"
            raise refusal(path, found, "files stored or deflated", "Zip it anew in the common way.")
        if folder and info.file_size:
            raise refusal(path, f"the folder {quote(name)} with bytes of its own")
    files = [info for info in infos if not info.orig_filename.endswith("/")]
    if two := clash([info.filename for info in files]):
        one, other = map(quote, two)
        raise refusal(path, f"the names {one} and {other}, which are one on some systems", "names apart")
    if sum(info.compress_size for info in infos) > size:
        raise refusal(path, "files that overlap in the zip")
    total, allowed = sum(info.file_size for info in files), min(LARGEST, ROOM + GROWTH * size)
    if total > allowed:
        found = f"{total} bytes in a zip of {size}"
        raise refusal(path, found, f"at most {allowed}: {ROOM // 2**20} MiB and {GROWTH} times its size")
    yield from files


def _write(path: str | PathLike[str], opened: zipfile.ZipFile, info: zipfile.ZipInfo, folder: Path) -> None:
    """Write one file, and no more of it than its entry says."""
    target = folder.joinpath(*info.filename.split("/"))
    target.parent.mkdir(parents=True, exist_ok=True)
    longer = copy.copy(info)
    longer.file_size += 1  # else the library would stop in silence at what the entry says
    left = info.file_size
    try:
        with opened.open(longer) as member, target.open("xb") as file:
            while piece := member.read(min(_PIECE, left + 1)):
                left -= len(piece)
                if left < 0:
                    raise refusal(path, f"{quote(info.filename)}, which is longer than its entry says")
                file.write(piece)
    except zipfile.BadZipFile as error:
        found = f"{quote(info.filename)}, which is not what its entry says: {error}"
        raise refusal(path, found, advice=_AGAIN) from error
    if left:
        raise refusal(path, f"{quote(info.filename)}, which is shorter than its entry says", advice=_AGAIN)
