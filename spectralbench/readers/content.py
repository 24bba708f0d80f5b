"""The content of a file: its bytes, read once, and the text that they stand for; and back."""

from __future__ import annotations

import codecs
import hashlib
import os
import re
import stat
import zlib
from os import PathLike, fsdecode
from pathlib import Path
from typing import NamedTuple

from spectralbench.errors import BenchError, Fault, RangeError, ReadError, quote

_LARGEST = 512 * 2**20  # bytes
_BEGINNING = 2**18  # bytes
_HEAD = 2**13  # bytes that show whether a file is text
_GZIP = b"\x1f\x8b"
_GROWTH, _SMALL = 64, 2**20  # text shrinks to an eighth; what grows more than this on opening is a trap
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # begins like the mark of UTF-16, so it comes first
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_UNICODE = tuple(mark for mark, _ in _MARKS)
_MAGIC = (
    (b"PK\x03\x04", "a ZIP archive, such as a spreadsheet workbook"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a compound document, such as an old spreadsheet workbook"),
    (_GZIP, "data compressed with gzip twice"),
    (b"\xfd7zXZ\x00", "data compressed with xz"),
    (b"\x89PNG\r\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"%PDF-", "a PDF document"),
    (b"\x89HDF\r\n", "an HDF5 container, such as netCDF 4"),
    (b"CDF\x01", "a netCDF file"),
    (b"CDF\x02", "a netCDF file"),
    (b"SQLite format 3\x00", "a database"),
)
_WEB_PAGE = re.compile(
    r"\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html)\b", re.IGNORECASE | re.DOTALL
)
_END = b"\x1a\0"  # old systems fill the last block of a file with them
_CONTROL = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1a\x1b")) + b"\x7f"
_TEXT = "text: columns of numbers, and a header where there is one"
_EXPORT = "Export the measurement as text (for example CSV) and read that file"


class Stored(NamedTuple):
    """A file as it stands on the disk, and the hash of its bytes."""

    path: str
    name: str
    sha256: str
    data: bytes  # without compression


class Content(NamedTuple):
    """A file as read: hash of its bytes, its text, and how the text was found."""

    path: str
    name: str
    sha256: str
    data: bytes  # without compression
    text: str
    encoding: str
    guessed: bool


def load(path: str | PathLike[str], encoding: str | None = None) -> Content:
    """Read a file once, and turn its bytes into text.

    Parameters
    ----------
    path : str or path-like
        A regular file of text, which may be compressed with gzip.
    encoding : str, optional
        How letters are written, where the file is in none of Unicode's ways and a guess fails.

    Returns
    -------
    Content
        Text with line feeds only, and the hash of the bytes as they stand in the file.

    Raises
    ------
    ReadError
        If there is no such file, or if it is no text.
    RangeError
        If the path is none.

    Examples
    --------
    >>> load("reference_curves/actinic.csv").encoding
    'UTF-8'
    """
    return as_text(stored(path), encoding)


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
    data = _unpacked(path, packed) if packed.startswith(_GZIP) else packed
    if not data.startswith(_UNICODE):  # UTF-16 may end in a zero of its own
        data = data.rstrip(_END) or data
    name = os.path.basename(where)  # noqa: PTH119
    return Stored(where, name, hashlib.sha256(packed).hexdigest(), data)


def as_text(file: Stored, encoding: str | None = None) -> Content:
    """Turn the bytes of a file into text.

    Parameters
    ----------
    file : Stored
        The file.
    encoding : str, optional
        As for `load`.

    Returns
    -------
    Content
        As from `load`.

    Raises
    ------
    ReadError
        If it is no text.

    Examples
    --------
    >>> as_text(Stored("a.csv", "a.csv", "", b"365,1")).encoding
    'UTF-8'
    """
    path, data = file.path, file.data
    text, found, guessed = _text(path, data) if encoding is None else _decoded(path, data, encoding)
    _refuse_web_page(path, text)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Content(*file, text, found, guessed)


def as_utf8(file: Stored, encoding: str | None = None) -> bytes:
    r"""The text of a file as UTF-8 with line feeds only, as it stands where that is so already.

    Parameters
    ----------
    file : Stored
        The file. Bytes without a mark of their encoding are not looked at: they may be no text.
    encoding : str, optional
        As for `load`.

    Returns
    -------
    bytes
        Nothing if the encoding had to be guessed, as far as that is looked at.

    Raises
    ------
    ReadError
        If it is no text, as far as that is looked at.

    Examples
    --------
    >>> as_utf8(Stored("a.csv", "a.csv", "", b"365,1\r\n"))
    b'365,1\n'
    """
    if encoding is None and not file.data.startswith(_UNICODE) and b"\r" not in file.data:
        return file.data
    content = as_text(file, encoding)
    return b"" if content.guessed else content.text.encode(errors="replace")


def beginning(path: str | PathLike[str]) -> Content | None:
    """The first lines of a file, to tell what it is.

    Parameters
    ----------
    path : str or path-like
        Anything that may be the name of a file.

    Returns
    -------
    Content or None
        Whole lines from the beginning; None if this is no file of text, or cannot be read.

    Examples
    --------
    >>> beginning("reference_curves/actinic.csv").text.startswith("#")
    True
    >>> beginning("no such file")
    """
    try:
        where = fsdecode(path)
        data = _bytes(where, _BEGINNING)
        if data.startswith(_GZIP):
            data = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16).decompress(data, _BEGINNING)
        if len(data) == _BEGINNING:
            data = data[: data.rfind(b"\n") + 1]
        text, encoding, guessed = _text(path, data)
        _refuse_web_page(path, text)
    except (ReadError, zlib.error):
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Content(where, Path(where).name, "", data, text, encoding, guessed)


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
    expected = "text compressed with gzip"
    parts: list[bytes] = []
    left, size = stored, 0
    while left.startswith(_GZIP):
        member = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16)
        try:
            parts.append(member.decompress(left, limit - size + 1))
        except zlib.error as error:
            found = "gzip data that are damaged"
            raise refusal(path, found, expected, "Copy the file again from where it was made") from error
        size += len(parts[-1])
        if size > limit:
            found = f"gzip data that unpack to more than {limit / 2**20:.0f} MB"
            raise refusal(path, found, expected, "Unpack it yourself, and look whether it is a measurement")
        if not member.eof:
            found = "gzip data that are cut off"
            raise refusal(path, found, expected, "Copy the file again from where it was made")
        left = member.unused_data.lstrip(b"\0")
    if left:
        found = "further bytes behind gzip data"
        raise refusal(path, found, expected, "Copy the file again from where it was made")
    return b"".join(parts)


def _refuse_web_page(path: str | PathLike[str], text: str) -> None:
    if _WEB_PAGE.match(text[:_HEAD]):
        advice = "Download the file itself; a page that only shows it, or asks to sign in, was saved instead"
        raise refusal(path, "a web page (HTML)", _TEXT, advice)


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    if stat.S_ISFIFO(mode):
        return "a named pipe"
    return "a socket" if stat.S_ISSOCK(mode) else "a device"


def _decoded(path: str | PathLike[str], data: bytes, encoding: str) -> tuple[str, str, bool]:
    """The text in an encoding that the caller chose."""
    try:
        text = data.decode(encoding).removeprefix("\ufeff")
    except (UnicodeDecodeError, LookupError) as error:
        at = f" (at byte {error.start})" if isinstance(error, UnicodeDecodeError) else ""
        found = f"bytes that are no {encoding}{at}"
        raise refusal(path, found, _TEXT, "Choose another encoding, or none") from error
    if not text.strip():
        raise refusal(path, "an empty file", _TEXT, "Was the measurement saved?")
    if "\0" in text:
        raise refusal(path, "binary data (characters with the code zero)", _TEXT, _EXPORT)
    return text, f"{encoding}, as chosen", False


def _text(path: str | PathLike[str], data: bytes) -> tuple[str, str, bool]:
    """The text, the name of its encoding, and whether that was a guess."""
    if not data or data.isspace():
        raise refusal(path, "an empty file", _TEXT, "Was the measurement saved?")
    if kinds := [kind for magic, kind in _MAGIC if data.startswith(magic)]:
        raise refusal(path, kinds[0], _TEXT, _EXPORT)
    if data.startswith(_UNICODE):
        return _marked(path, data)
    if b"\0" in data:
        even, odd = data[0:4000:2], data[1:4000:2]
        if max(even.count(0), odd.count(0)) > 0.8 * len(even):
            found = "what seems to be UTF-16 without a byte order mark"
            raise refusal(path, found, _TEXT, "Save the file again, as UTF-8")
        raise refusal(path, "binary data (bytes of value zero)", _TEXT, _EXPORT)
    head = data[:_HEAD]
    control = len(head) - len(head.translate(None, _CONTROL))
    if control > 0.02 * len(head):
        raise refusal(path, f"binary data ({control} control characters)", _TEXT, _EXPORT)
    try:
        return data.decode("utf-8"), "UTF-8", False
    except UnicodeDecodeError:
        high = len(head) - len(head.translate(None, bytes(range(128, 256))))
        if high > 0.3 * len(head):
            raise refusal(path, "binary data (bytes of no known encoding)", _TEXT, _EXPORT) from None
        return data.decode("latin-1"), "Latin-1", True


def _marked(path: str | PathLike[str], data: bytes) -> tuple[str, str, bool]:
    """The text behind a byte order mark."""
    codec = next(codec for mark, codec in _MARKS if data.startswith(mark))
    try:
        text = data.decode("utf-8-sig" if codec == "utf-8" else codec)
    except UnicodeDecodeError as error:
        found = f"bytes that are no {codec.upper()} (at byte {error.start}), though the file begins as such"
        raise refusal(path, found, _TEXT, "Save the file again, as UTF-8") from error
    if "\0" in text:
        raise refusal(path, "binary data (characters with the code zero)", _TEXT, _EXPORT)
    if not text.strip():
        raise refusal(path, "an empty file", _TEXT, "Was the measurement saved?")
    return text, f"{codec.upper()} with a byte order mark", False
