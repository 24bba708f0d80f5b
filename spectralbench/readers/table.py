"""The table of a file as numbers, or the faults that stand in the way."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.dialect import DATE, NUMBER, Dialect, fields, pairs_joined
from spectralbench.readers.layout import Layout
from spectralbench.readers.numbers import regular

INVALID = "invalid"  # in a cell: a sample that was found not valid, such as a saturated pixel
_CHUNK = 2**15  # rows parsed at a time: keeps the texts of the cells from filling the memory
_FAULTS = 500  # a file with more is no table
_GAP = re.compile(
    r"[+-]?(?:\d\.#)?(?:s?q?nan|inf|infinity|ind|n/?a|n\.a\.|null|none|missing|"
    r"(?:over|ovr|ovld|ovfl|sat)\w*|err(?:or)?|[#*?.-]+|[-–—]+)",
    re.IGNORECASE,
)
_EARLIEST, _LATEST = "1678", "2262"  # years that nanoseconds in 64 bits can hold


class Table(NamedTuple):
    """The numbers of a table, row by row; NaN where a fault stands, or the word ``invalid``."""

    values: NDArray[np.float64]  # (rows, columns)
    dates: NDArray[np.datetime64] | None  # (rows,), where the first column holds dates
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
    values = _at_once(rows, layout.dialect)
    at = range(layout.rows.start + 1, layout.rows.stop + 1) if isinstance(layout.rows, range) else None
    numbers: Sequence[int] = at if at is not None else [i + 1 for i in layout.rows]
    if values is not None:
        return Table(values, None, numbers, [])
    return _cell_by_cell(rows, numbers, layout.dialect)


def _at_once(rows: Sequence[str], dialect: Dialect) -> NDArray[np.float64] | None:
    """All numbers in one go, or None if any row is not exactly as expected."""
    parts = []
    for start in range(0, len(rows), _CHUNK):
        part = regular("\n".join(rows[start : start + _CHUNK]), dialect)
        if part is None:
            return None
        parts.append(part)
    return np.concatenate(parts) if parts else np.empty((0, dialect.columns))


def _cell_by_cell(rows: Sequence[str], lines: Sequence[int], dialect: Dialect) -> Table:
    columns = dialect.columns
    values = np.full((len(rows), columns), np.nan)
    faults: list[Fault] = []
    dated = bool(rows) and any(DATE.fullmatch(fields(row, dialect.delimiter)[0]) for row in rows[:3])
    dates = np.full(len(rows), np.datetime64("NaT", "ns")) if dated else None
    zoned: bool | None = None  # whether the dates of this file carry an offset from UTC
    for i, (row, line) in enumerate(zip(rows, lines, strict=True)):
        parts = fields(row, dialect.delimiter)
        for _ in range(dialect.padding):
            if len(parts) > columns and not parts[-1]:
                parts.pop()
        if len(parts) != columns:
            faults.append(_ragged(row, parts, line, dialect, last=i == len(rows) - 1))
        else:
            for j, part in enumerate(parts):
                if j == 0 and dates is not None:
                    date = moment(part)
                    offset = DATE.fullmatch(part)
                    has_zone = bool(offset and offset[4])
                    zoned = has_zone if zoned is None else zoned
                    if date is None or has_zone != zoned:
                        faults.append(_not_a_date(part, line))
                    else:
                        dates[i], values[i, 0] = date, 0.0
                    continue
                if part == INVALID and j > 0:
                    continue
                number = _number(part, dialect.decimal)
                if number is None:
                    faults.append(_not_a_number(part, line, j + 1, dialect))
                else:
                    values[i, j] = number
        if len(faults) >= _FAULTS:
            advice = "Most likely this is no table of numbers, or it is laid out in a way not known here"
            faults.append(Fault("faults in every part of the file", "a table of numbers", advice, line))
            break
    return Table(values, dates, lines, faults)


def _number(text: str, decimal: str) -> float | None:
    if not NUMBER[decimal].fullmatch(text):
        return None
    value = float(text.replace(",", "."))
    return value if math.isfinite(value) else None


def moment(text: str) -> np.datetime64 | None:
    """A date and time after ISO 8601, in UTC where an offset is given; None if it is none.

    Examples
    --------
    >>> str(moment("2026-03-02 10:30+01:00"))
    '2026-03-02T09:30:00.000000000'
    """
    match = DATE.fullmatch(text.strip())
    if match is None or not _EARLIEST <= text.strip()[:4] < _LATEST:
        return None
    day, clock, fraction, zone = match.groups()
    try:
        at = np.datetime64(f"{day}T{clock or '00:00'}", "ns")
    except ValueError:
        return None
    if fraction:
        at += np.timedelta64(int(fraction.ljust(9, "0")), "ns")
    if zone and zone != "Z":
        digits = zone[1:].replace(":", "")
        offset = np.timedelta64(int(digits[:2]) * 60 + int(digits[2:]), "m")
        at = at - offset if zone[0] == "+" else at + offset
    return at


def _ragged(row: str, parts: list[str], line: int, dialect: Dialect, *, last: bool) -> Fault:
    expected = f"{dialect.columns} fields, as in the other rows"
    if parts and not any(_number(part, dialect.decimal) is not None for part in parts):
        advice = "Delete the line, or begin it with #"
        return Fault(quote(row.strip()), f"a row of {dialect.columns} numbers", advice, line)
    count = f"{len(parts)} field{'s' * (len(parts) != 1)} ({quote(row.strip())})"
    if last and len(parts) < dialect.columns:
        return Fault(count, expected, "The file seems to be cut off here: save it again", line)
    advice = "Complete the row or delete it"
    if dialect.delimiter == "," and len(parts) > dialect.columns:
        advice += "; where the comma is the decimal sign, save with semicolons between the columns"
    return Fault(count, expected, advice, line)


def _not_a_date(text: str, line: int) -> Fault:
    advice = "Write it after ISO 8601, and give all rows an offset from UTC or none"
    return Fault(quote(text), "a date and time such as 2026-03-02T10:30:00", advice, line, 1)


def _not_a_number(text: str, line: int, column: int, dialect: Dialect) -> Fault:
    found, expected, advice = quote(text), "a number", ""
    other = NUMBER["." if dialect.decimal == "," else ","]
    if not text:
        found, advice = "an empty field", "Fill it in or delete the row: a gap is never filled silently"
    elif NUMBER[dialect.decimal].fullmatch(text):
        expected, advice = "a number below 1e308", "Check the exponent"
    elif _GAP.fullmatch(text):
        advice = (
            "A value is missing here: measure again (with less light, if it is an overload) or delete the row"
        )
    elif other.fullmatch(text):
        sign = {".": "point", ",": "comma"}
        expected = f"a number with a decimal {sign[dialect.decimal]}, as in the other rows"
        advice = "Use one decimal sign throughout"
    elif re.fullmatch(r"[+-]?\d{1,3}(?:[., '\u00a0\u202f]\d{3})+(?:[.,]\d*)?", text):
        advice = "Write the number without separators between thousands"
    return Fault(found, expected, advice, line, column)
