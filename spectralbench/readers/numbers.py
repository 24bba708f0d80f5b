"""The numbers of rows that are all alike: the fast way, which leaves every doubt to the careful one."""

from __future__ import annotations

import threading
from itertools import chain

import numpy as np
import simdjson
from numpy.typing import NDArray

from spectralbench.readers.dialect import Dialect

_OF_NUMBERS = b"0123456789+-eE. "
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
    if delimiter == decimal:
        return None
    if decimal == ",":
        if b"." in data:
            return None
        data = data.replace(b",", b".")
    between = delimiter.encode()
    left = data.translate(None, _OF_NUMBERS.replace(between, b""))
    row = between * (columns - 1 + padding) + b"\n"
    if left == (row * (left.count(b"\n") + 1))[:-1]:
        if padding:
            data = (data + b"\n").replace(row[columns - 1 :], b"\n")[:-1]
        data = data.replace(b"\n", b",")
        values = from_json(data if delimiter == "," else data.replace(between, b","))
        if values is not None and values.size % columns == 0:
            return values.reshape(-1, columns)
    elif delimiter != " " or left.translate(None, b" \t\n"):
        return None
    return _one_by_one(data, dialect)


def from_json(data: bytes) -> NDArray[np.float64] | None:
    """Numbers with commas between them, if JSON would write each of them so.

    Parameters
    ----------
    data : bytes
        The numbers.

    Returns
    -------
    numpy.ndarray (numbers,) or None
        None if anything else is among them.

    Examples
    --------
    >>> from_json(b"365,1e3").tolist(), from_json(b"365,+1")
    ([365.0, 1000.0], None)
    """
    parser = _kept.parser if len(data) < _SMALL else simdjson.Parser()
    try:
        array = parser.parse(b"[" + data + b"]")
        return np.frombuffer(array.as_buffer(of_type="d"))  # type: ignore[union-attr]
    except (ValueError, TypeError, RuntimeError):
        return None


def _one_by_one(data: bytes, dialect: Dialect) -> NDArray[np.float64] | None:
    delimiter, _, columns, padding = dialect
    between = None if delimiter == " " else delimiter.encode()
    cells = [row.split(between) for row in data.split(b"\n")]
    if any(len(row) != columns + padding for row in cells):
        return None
    if padding:
        if any(cell.strip() for row in cells for cell in row[columns:]):
            return None
        cells = [row[:columns] for row in cells]
    try:
        values = np.fromiter(map(float, chain.from_iterable(cells)), float)
    except ValueError:
        return None
    return values.reshape(-1, columns) if np.isfinite(values).all() else None
