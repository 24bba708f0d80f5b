"""Where a file of text is no longer what it was: by a short number for each line, kept beside its hash."""

from __future__ import annotations

import base64
import hashlib
import re
import zlib
from collections.abc import Iterator
from itertools import zip_longest
from typing import NamedTuple

_LONGEST = 200_000  # lines; beyond that the numbers weigh more than they tell
_FURTHEST = 65_535  # steps of the last digit that a number is tried back: a whole scale of 16 bits
_WIDEST, _WORK = 4_000, 2**28  # bytes of a line, and hashed in trying: a file in one line would take hours
_DIGITS = re.compile(rb"(?<![0-9])[0-9]{1,9}(?![0-9])")


class Place(NamedTuple):
    """Where a file differs first, in how many lines, what stands there, and the number that stood there."""

    line: int
    lines: int
    now: str
    column: int | None = None
    before: str = ""


def fingerprints(data: bytes) -> str:
    r"""Two bytes for each line of a text.

    Parameters
    ----------
    data : bytes
        A file.

    Returns
    -------
    str
        The last 16 bits of the CRC-32 of each line, as base 64; empty if it is no text of bytes.

    Examples
    --------
    >>> fingerprints(b"385,12345\n390,12001\n")
    'MzPrIg=='
    """
    lines = data.splitlines(keepends=True)
    if b"\0" in data or len(lines) > _LONGEST:
        return ""
    return base64.b64encode(b"".join(map(_short, lines))).decode()


def first_difference(data: bytes, before: str, digest: str) -> Place | None:
    r"""Where a file differs first from what it was.

    Parameters
    ----------
    data : bytes
        The file as it is.
    before : str
        From `fingerprints`, of the file as it was.
    digest : str
        SHA-256 of the file as it was.

    Returns
    -------
    Place or None
        None if the lines do not tell. If one number of one line is all that changed, and another one in its
        place gives the SHA-256 again, then that is what stood there: by proof, not by guess.

    Examples
    --------
    >>> text = b"385,12345\n390,12001\n"
    >>> changed = text.replace(b"12001", b"12002")
    >>> first_difference(changed, fingerprints(text), hashlib.sha256(text).hexdigest())
    Place(line=2, lines=1, now='12002', column=2, before='12001')
    """
    try:
        kept = base64.b64decode(before, validate=True)
    except ValueError:
        return None
    if not kept or len(kept) % 2 or b"\0" in data:
        return None
    lines = data.splitlines(keepends=True)
    then = [kept[i : i + 2] for i in range(0, len(kept), 2)]
    odd = [i for i, (one, other) in enumerate(zip_longest(then, map(_short, lines))) if one != other]
    if not odd:
        return None
    first = odd[0]
    here = lines[first] if first < len(lines) else b""
    place = Place(first + 1, len(odd), here.decode("utf-8", "replace").strip())
    if len(odd) > 1 or len(lines) != len(then):
        return place
    so_far, tail = hashlib.sha256(b"".join(lines[:first])), b"".join(lines[first + 1 :])
    for line, at in _tried(here, then[first]):
        whole = so_far.copy()
        whole.update(line + tail)
        if whole.hexdigest() == digest:
            column, now = _field(here, at)
            return place._replace(now=now, column=column, before=_field(line, at)[1])
    return place


def _tried(line: bytes, wanted: bytes) -> Iterator[tuple[bytes, int]]:
    """The line with other digits in one place, nearest first, if it has that fingerprint; and the place."""
    if len(line) > _WIDEST:
        return
    runs = [
        (match.start(), match[0], zlib.crc32(line[: match.start()]), line[match.end() :])
        for match in _DIGITS.finditer(line)
    ]
    each = sum(2 * (len(rest) + 60) for *_, rest in runs)  # 60 for what one try costs besides
    for step in range(1, min(_FURTHEST, _WORK // max(each, 1)) + 1):
        for start, digits, begun, rest in runs:
            fixed = digits.startswith(b"0") or line[:start].endswith(b".")
            for whole in (int(digits) - step, int(digits) + step):
                other = b"%0*d" % (len(digits) if fixed else 0, whole)
                if whole < 0 or (fixed and len(other) > len(digits)):
                    continue
                if (zlib.crc32(other + rest, begun) & 0xFFFF).to_bytes(2, "big") == wanted:
                    yield line[:start] + other + rest, start


def _field(line: bytes, at: int) -> tuple[int, str]:
    """Number and text of the column in which a place of a line lies."""
    delimiter = next((sign for sign in (b"\t", b";") if sign in line), b",")
    if delimiter not in line or (delimiter == b"," and b", " not in line and len(line.split()) > 1):
        words = list(re.finditer(rb"\S+", line))  # between blanks, and a comma is a decimal sign
        column = next(i for i, word in enumerate(words) if word.end() > at)
        return column + 1, words[column][0].decode("utf-8", "replace")
    column = line[:at].count(delimiter)
    return column + 1, line.split(delimiter)[column].decode("utf-8", "replace").strip()


def _short(line: bytes) -> bytes:
    return (zlib.crc32(line) & 0xFFFF).to_bytes(2, "big")
