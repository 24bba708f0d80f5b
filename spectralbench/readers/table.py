"""The table of a file as numbers, dates and texts, or the faults that stand in the way."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault
from spectralbench.readers.cells import INVALID, Cells, carefully, moment
from spectralbench.readers.dialect import Dialect, fields, pairs_joined
from spectralbench.readers.layout import Layout
from spectralbench.readers.numbers import regular

__all__ = ["INVALID", "Table", "moment", "parse"]

_CHUNK = 2**15  # rows parsed at a time: keeps the texts of the cells from filling the memory
_FEW = 2**11  # rows taken apart at a time
_OFFSET = frozenset("Z+-")
_D_EXPONENT = re.compile(r"(?<=[\d.])[dD](?=[+-]?\d)")


class Table(NamedTuple):
    """The cells of a table; NaN where a fault stands, or the word ``invalid``, and where is no number."""

    values: NDArray[np.float64]  # (rows, columns)
    times: dict[int, NDArray[np.datetime64] | NDArray[np.timedelta64]]  # of columns of dates, or of day times
    texts: dict[int, list[str]]  # of columns of text
    lines: Sequence[int]  # line of each row, from 1
    faults: list[Fault]


def parse(lines: Sequence[str], layout: Layout) -> Table:
    """Turn the rows of a file into numbers.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    layout : Layout
        Where the rows are, and how they are written.

    Returns
    -------
    Table
        The numbers, and all faults that were met.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> lines = ["365 12", "366 1e3"]
    >>> parse(lines, lay_out(lines, "example.txt")).values.tolist()
    [[365.0, 12.0], [366.0, 1000.0]]
    """
    rows = [lines[i] for i in layout.rows]
    if layout.comma_twice:
        rows = [pairs_joined(row) for row in rows]
    at = range(layout.rows.start + 1, layout.rows.stop + 1) if isinstance(layout.rows, range) else None
    numbers: Sequence[int] = at if at is not None else [i + 1 for i in layout.rows]
    if set(layout.kinds) == {"n"}:
        values = _at_once(rows, layout.dialect)
        if values is None and rows and _D_EXPONENT.search(rows[len(rows) // 2]):
            values = _at_once([_D_EXPONENT.sub("E", row) for row in rows], layout.dialect)
        if values is not None:
            return Table(values, {}, {}, numbers, [])
    else:
        cells = _by_column(rows, layout)
        if cells is not None:
            return Table(cells.values, cells.times, cells.texts, numbers, [])
    cells = carefully(rows, numbers, layout.dialect, layout.kinds, layout.column)
    return Table(cells.values, cells.times, cells.texts, numbers, cells.faults)


def _at_once(rows: Sequence[str], dialect: Dialect) -> NDArray[np.float64] | None:
    """All numbers in one go, or None if any row is not exactly as expected."""
    parts = []
    for start in range(0, len(rows), _CHUNK):
        part = regular("\n".join(rows[start : start + _CHUNK]).encode(errors="replace"), dialect)
        if part is None:
            return None
        parts.append(part)
    return np.concatenate(parts) if parts else np.empty((0, dialect.columns))


def _by_column(rows: Sequence[str], layout: Layout) -> Cells | None:
    """The columns of a table with texts or dates in it, or None if any cell is not as expected."""
    dialect, kinds = layout.dialect, layout.kinds
    if "c" in kinds:
        return None
    width = dialect.columns + dialect.padding
    at = [j for j, kind in enumerate(kinds) if kind == "n"]
    between = "\t" if dialect.delimiter in (" ", dialect.decimal) else dialect.delimiter
    plain = Dialect(between, dialect.decimal, len(at), 0)
    values = np.full((len(rows), dialect.columns), np.nan)
    times: dict[int, NDArray[np.datetime64] | NDArray[np.timedelta64]] = {
        j: np.full(len(rows), "NaT", "datetime64[ns]") for j, kind in enumerate(kinds) if kind == "d"
    }
    texts: dict[int, list[str]] = {j: [] for j, kind in enumerate(kinds) if kind == "t"}
    known: dict[str, str] = {}  # one text for all cells that say the same
    for start in range(0, len(rows), _FEW):
        cells = [fields(row, dialect.delimiter) for row in rows[start : start + _FEW]]
        if any(len(row) != width or any(row[dialect.columns :]) for row in cells):
            return None
        here = slice(start, start + len(cells))
        if at:
            numbers = _at_once([between.join([row[j] for j in at]) for row in cells], plain)
            if numbers is None:
                return None
            values[here, at] = numbers
        for j in times:
            column = [row[j] for row in cells]
            if any(not _OFFSET.isdisjoint(cell[10:]) for cell in column):
                return None  # with an offset from UTC
            found = [moment(cell) for cell in column]
            if None in found:
                return None
            times[j][here] = np.array(found, "datetime64[ns]")
        for j, column in texts.items():
            column += [known.setdefault(row[j], row[j]) for row in cells]
    return Cells(values, times, texts, [])
