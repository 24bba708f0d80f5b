"""Files on the disk: read once, as bytes, and written as a whole."""

from __future__ import annotations

import codecs
import hashlib
import os
import stat
import zlib
from os import PathLike, fsdecode
from pathlib import Path
from typing import NamedTuple

from spectralbench.errors import BenchError, Fault, RangeError, ReadError, quote

GZIP = b"\x1f\x8b"
ENCODINGS = {  # by the mark with which a file in one of them may begin
    codecs.BOM_UTF8: "utf-8",
    codecs.BOM_UTF32_LE: "utf-32",  # begins like the mark of UTF-16, so it comes first
    codecs.BOM_UTF32_BE: "utf-32",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}
MARKS = tuple(ENCODINGS)
_LARGEST = 512 * 2**20  # bytes
_GROWTH, _SMALL = 64, 2**20  # text shrinks to an eighth; what grows more than this on opening is a trap
_PACKED, _DAMAGED = "text compressed with gzip", "gzip data that are damaged"
_AGAIN = "Copy the file again from where it was made"
_END = b"\x1a\0"  # old systems fill the last block of a file with them


class Stored(NamedTuple):
    """A file as it stands on the disk, and the hash of its bytes."""

    path: str
    name: str
    sha256: str
    data: bytes  # without compression


def stored(path: str | PathLike[str]) -> Stored:
    """Read the bytes of a file, once.

    Parameters
    ----------
    path : str or path-like
        A regular file, which may be compressed with gzip.

    Returns
    -------
    Stored
        Its bytes without compression, and the hash of the bytes as they stand in the file.

    Raises
    ------
    ReadError
        If there is no such file, or if it cannot be unpacked.
    RangeError
        If the path is none.

    Examples
    --------
    >>> stored("reference_curves/actinic.csv").name
    'actinic.csv'
    """
    if not isinstance(path, str | bytes | PathLike):
        several = ". Several files are for read_many" if isinstance(path, list | tuple | set) else ""
        found = f"{quote(path)} ({type(path).__name__})"
        raise RangeError(f"{found} is no path; expected the name of one file{several}")
    where = fsdecode(path)
    packed = _bytes(where)
    data = _unpacked(path, packed) if packed.startswith(GZIP) else packed
    if not data.startswith(MARKS):  # UTF-16 may end in a zero of its own
        data = data.rstrip(_END) or data
    name = os.path.basename(where)  # noqa: PTH119
    return Stored(where, name, hashlib.sha256(packed).hexdigest(), data)


def first_bytes(path: str, most: int) -> bytes:
    """The first bytes of a file, unpacked where it is compressed.

    Examples
    --------
    >>> first_bytes("reference_curves/actinic.csv", 2)
    b'# '
    """
    data = _bytes(path, most)
    if not data.startswith(GZIP):
        return data
    try:
        return zlib.decompressobj(wbits=zlib.MAX_WBITS | 16).decompress(data, most)
    except zlib.error as error:
        raise refusal(path, _DAMAGED, _PACKED, _AGAIN) from error


def write_whole(path: Path, text: str) -> None:
    """Write a text beside its place, then rename it: at no time is there half a file.

    Parameters
    ----------
    path : pathlib.Path
        The file; one that is there already is replaced as a whole.
    text : str
        What goes into it, as UTF-8.

    Raises
    ------
    BenchError
        If the folder is not there, the name is that of something else than a file, or the place
        cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "frame.csv"
    >>> write_whole(path, "365,1")
    >>> [file.name for file in path.parent.iterdir()]
    ['frame.csv']
    """
    data = text.encode()
    try:
        if path.exists() and not path.is_file():  # a device is replaced as easily as a file
            found = f"{_kind(path.stat().st_mode)} of that name"
            advice = "Add the name of a file" if path.is_dir() else "Choose another name"
            raise BenchError(path, [Fault(found, "a free name, or a file to replace", advice)])
        if not path.parent.is_dir():
            found = f"no folder {quote(path.parent, 200)}"
            raise BenchError(path, [Fault(found, "a folder that is there", "Make it first")])
        beside = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            with beside.open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
    except BenchError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        found = getattr(error, "strerror", None) or str(error)
        expected, advice = "a place that can be written", "Check the name, the permissions and the room"
        raise BenchError(path, [Fault(found, expected, advice)]) from error


def refusal(
    path: str | PathLike[str], found: str, expected: str, advice: str = "", line: int | None = None
) -> ReadError:
    """An error with a single fault, most often one of the file as a whole."""
    return ReadError(fsdecode(path), [Fault(found, expected, advice, line)])


def _bytes(path: str, most: int = _LARGEST) -> bytes:
    expected = "a file that can be read"
    try:
        status = os.stat(path)  # noqa: PTH116 - a Path for every file of a series takes longer
        if not stat.S_ISREG(status.st_mode):  # asked before opening: a pipe would wait for ever
            raise refusal(path, _kind(status.st_mode), "a file", "Name the data file itself")
        if status.st_size > _LARGEST == most:
            size = f"{status.st_size / 2**20:.0f} MB"
            raise refusal(path, size, f"at most {_LARGEST // 2**20} MB", "Split it into several files")
        return _first(path, min(most, status.st_size + 1))
    except ReadError:
        raise
    except FileNotFoundError:
        raise refusal(path, "no such file", expected, "Check the name and the folder") from None
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or str(error)
        raise refusal(path, reason, expected, "Check its name and permissions") from error


def _first(path: str, most: int) -> bytes:
    """The first bytes of a file; a file object would take longer than reading does."""
    file = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    parts = []
    try:
        while most > 0 and (part := os.read(file, most)):
            parts.append(part)
            most -= len(part)
    finally:
        os.close(file)
    return b"".join(parts)


def _unpacked(path: str | PathLike[str], stored: bytes) -> bytes:
    """The bytes behind gzip, one member after the other; never more than text could have been."""
    limit = min(_LARGEST, max(_SMALL, _GROWTH * len(stored)))
    parts: list[bytes] = []
    left, size = stored, 0
    while left.startswith(GZIP):
        member = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16)
        try:
            parts.append(member.decompress(left, limit - size + 1))
        except zlib.error as error:
            raise refusal(path, _DAMAGED, _PACKED, _AGAIN) from error
        size += len(parts[-1])
        if size > limit:
            found = f"gzip data that unpack to more than {limit / 2**20:.0f} MB"
            raise refusal(path, found, _PACKED, "Unpack it yourself, and look whether it is a measurement")
        if not member.eof:
            found = "gzip data that are cut off"
            raise refusal(path, found, _PACKED, _AGAIN)
        left = member.unused_data.lstrip(b"\0")
    if left:
        found = "further bytes behind gzip data"
        raise refusal(path, found, _PACKED, _AGAIN)
    return b"".join(parts)


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    if stat.S_ISFIFO(mode):
        return "a named pipe"
    return "a socket" if stat.S_ISSOCK(mode) else "a device"
