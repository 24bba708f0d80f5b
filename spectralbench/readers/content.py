"""The text that the bytes of a file stand for."""

from __future__ import annotations

import re
from os import PathLike, fsdecode
from pathlib import Path
from typing import NamedTuple

from spectralbench.errors import ReadError
from spectralbench.readers.on_disk import ENCODINGS, GZIP, MARKS, Stored, first_bytes, refusal, stored

_BEGINNING = 2**18  # bytes
_HEAD = 2**13  # bytes that show whether a file is text
_MAGIC = (
    (b"PK\x03\x04", "a ZIP archive, such as a spreadsheet workbook"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a compound document, such as an old spreadsheet workbook"),
    (GZIP, "data compressed with gzip twice"),
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
_CONTROL = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1a\x1b")) + b"\x7f"
_TEXT = "text: columns of numbers, and a header where there is one"
_EXPORT = "Export the measurement as text (for example CSV) and read that file"


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
    if encoding is None and not file.data.startswith(MARKS) and b"\r" not in file.data:
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
        data = first_bytes(where, _BEGINNING)
        if len(data) == _BEGINNING:
            data = data[: data.rfind(b"\n") + 1]
        text, encoding, guessed = _text(path, data)
        _refuse_web_page(path, text)
    except ReadError:
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Content(where, Path(where).name, "", data, text, encoding, guessed)


def _refuse_web_page(path: str | PathLike[str], text: str) -> None:
    if _WEB_PAGE.match(text[:_HEAD]):
        advice = "Download the file itself; a page that only shows it, or asks to sign in, was saved instead"
        raise refusal(path, "a web page (HTML)", _TEXT, advice)


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
    if data.startswith(MARKS):
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
    codec = next(codec for mark, codec in ENCODINGS.items() if data.startswith(mark))
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
