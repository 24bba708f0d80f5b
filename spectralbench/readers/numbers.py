"""The numbers of rows that are all alike: the fast way, which leaves every doubt to the careful one."""

from __future__ import annotations

import struct
import threading
from itertools import chain

import numpy as np
import orjson
import simdjson
from numpy.typing import NDArray

from spectralbench.readers.dialect import Dialect

_OF_NUMBERS = b"0123456789+-eE. "
_BEGINNING = 400  # bytes that show how long the numbers are
_LONG = 24  # bytes of a number from which it may have 19 digits, for which simdjson takes ten times as long
_SMALL = 2**20  # bytes of text up to which the memory of a parser is kept for the next file


class _Kept(threading.local):
    """A parser for each thread; getting its memory anew takes longer than parsing."""

    def __init__(self) -> None:
        self.parser = simdjson.Parser()


_kept = _Kept()


def regular(data: bytes, dialect: Dialect) -> NDArray[np.float64] | None:
    r"""Parse rows in one go.

    But for their signs between the numbers, such rows are what JSON calls an array, for which
    there are parsers faster than any loop. What JSON does not allow (``+1``, ``.5``, ``007``)
    goes number by number.

    Parameters
    ----------
    data : bytes
        Rows of a table, with line feeds between them and none at the end.
    dialect : Dialect
        How they are written.

    Returns
    -------
    numpy.ndarray (rows, columns) or None
        None if any row is not exactly as expected.

    Examples
    --------
    >>> regular(b"365,12\n366,1e3", Dialect(",", ".", 2, 0)).tolist()
    [[365.0, 12.0], [366.0, 1000.0]]
    >>> regular(b"365,12\n366,overload", Dialect(",", ".", 2, 0))
    """
    delimiter, decimal, columns, padding = dialect
    if delimiter == decimal or not data:
        return None
    if decimal == ",":
        if b"." in data:
            return None
        data = data.replace(b",", b".")
    between = delimiter.encode()
    if columns == 2 and not padding and (pairs := _pairs(data, between)) is not None:
        return pairs
    if delimiter == " ":
        data = _squeezed(data)
    if not _in_rows(data, between, columns + padding):
        return None
    rows = (data + b"\n").replace(between * padding + b"\n", b"\n")[:-1] if padding else data
    if not padding or _in_rows(rows, between, columns):
        values = from_json(b"[%b]" % rows.replace(b"\n", b",").replace(between, b","))
        if values is not None:
            return values.reshape(-1, columns)
    return _one_by_one(data, dialect)


def _in_rows(data: bytes, between: bytes, columns: int) -> bool:
    """Whether nothing but numbers stands between the signs of rows that all have so many columns."""
    left = data.translate(None, _OF_NUMBERS.replace(between, b""))
    row = between * (columns - 1) + b"\n"
    return left == (row * (left.count(b"\n") + 1))[:-1]


def from_json(data: bytes | memoryview) -> NDArray[np.float64] | None:
    """The numbers of an array in JSON.

    Parameters
    ----------
    data : bytes or memoryview
        The array, in its brackets.

    Returns
    -------
    numpy.ndarray (numbers,) or None
        None if anything is not written as JSON writes a number.

    Examples
    --------
    >>> from_json(b"[365,1e3]").tolist(), from_json(b"[365,+1]")
    ([365.0, 1000.0], None)
    """
    if max(map(len, bytes(data[1:_BEGINNING]).split(b","))) >= _LONG:
        return _of_many_digits(data)
    parser = _kept.parser if len(data) < _SMALL else simdjson.Parser()
    try:
        array = parser.parse(data)
        return np.frombuffer(array.as_buffer(of_type="d"))  # type: ignore[union-attr]
    except (ValueError, TypeError, RuntimeError):
        return None


def _squeezed(data: bytes) -> bytes:
    """Rows between whose numbers stands one blank, where any number of blanks and tabs means the same."""
    data = data.replace(b"\t", b" ")
    while b"  " in data:
        data = data.replace(b"  ", b" ")
    return data.replace(b"\n ", b"\n").replace(b" \n", b"\n").strip(b" ")


def _of_many_digits(data: bytes | memoryview) -> NDArray[np.float64] | None:
    text = bytes(data)
    if b"t" in text or b"f" in text:  # true and false, which would pass for numbers
        return None
    try:
        numbers = orjson.loads(text)
        return np.frombuffer(struct.pack(f"{len(numbers)}d", *numbers))
    except (ValueError, TypeError, struct.error):
        return None


def _pairs(data: bytes, between: bytes) -> NDArray[np.float64] | None:
    """Parse rows of two numbers, the commonest table, in fewer passes over the text than others need."""
    if b"[" in data or any(sign in data and sign != between for sign in (b",", b"\t")):
        return None  # what JSON would take as well
    signs = np.frombuffer(data, np.uint8)
    ends, inner = signs == ord("\n"), signs == ord(between)
    if between == b" ":  # of several blanks the first one counts, and none at the beginning of a row
        inner[1:] &= ~(inner | ends)[:-1]
        inner[0] = False
    if not _take_turns(inner, ends):
        return None
    array = np.empty(len(data) + 2, np.uint8)
    array[0], array[-1] = ord("["), ord("]")
    np.maximum(signs, ends * np.uint8(ord(",")), out=array[1:-1])
    if between != b",":
        array[1:-1] += inner * np.uint8((ord(",") - ord(between)) % 256)
    values = from_json(array.data)
    return None if values is None else values.reshape(-1, 2)


def _take_turns(first: NDArray[np.bool_], second: NDArray[np.bool_]) -> bool:
    """Whether two signs take turns in a text, the first one at its beginning and at its end.

    As bits of two long numbers, the second with one more bit at the end, their difference is a run of
    ones from each first sign up to the second sign behind it; so its edges are all signs, and they
    are so in no other order, since no two sums of different signs of the same bits are alike.
    """
    starts, stops = (
        int.from_bytes(np.packbits(sign, bitorder="little"), "little") for sign in (first, second)
    )
    stops |= 1 << len(second)
    runs = stops - starts
    return runs ^ (runs << 1) == starts | stops


def _one_by_one(data: bytes, dialect: Dialect) -> NDArray[np.float64] | None:
    """The numbers of rows that have all their columns, as Python reads them."""
    delimiter, _, columns, _ = dialect
    cells = [row.split(delimiter.encode()) for row in data.split(b"\n")]
    if any(cell.strip() for row in cells for cell in row[columns:]):
        return None
    try:
        values = np.fromiter(map(float, chain.from_iterable(row[:columns] for row in cells)), float)
    except ValueError:
        return None
    return values.reshape(-1, columns) if np.isfinite(values).all() else None
