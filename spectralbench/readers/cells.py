"""The cells of a table, one by one: slow, and exact about what is wrong with them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.dialect import CLOCK, DATE, NUMBER, Dialect, fields
from spectralbench.readers.kinds import GAP, THOUSANDS

INVALID = "invalid"  # in a cell: a sample that was found not valid, such as a saturated pixel
_FAULTS = 500  # a file with more is no table
_EARLIEST, _LATEST = "1678", "2262"  # years that nanoseconds in 64 bits can hold
_D_TO_E = str.maketrans("dD", "eE")
_BARE_EXPONENT = re.compile(r"[+-]?\d*[.,]?\d+[+-]\d{2,3}", re.ASCII)
_WITH_UNIT = re.compile(r"([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(%|[^\W\d_].*|°.*)")


class Cells(NamedTuple):
    """What the cells hold, column by column, and their faults."""

    values: NDArray[np.float64]  # (rows, columns)
    times: dict[int, NDArray[np.datetime64] | NDArray[np.timedelta64]]
    texts: dict[int, list[str]]
    faults: list[Fault]


def carefully(rows: Sequence[str], lines: Sequence[int], dialect: Dialect, kinds: str, column: int) -> Cells:
    """Read rows cell by cell.

    Parameters
    ----------
    rows : sequence of str
        The rows of a table.
    lines : sequence of int
        Their lines in the file, from 1.
    dialect : Dialect
        How they are written.
    kinds : str
        Kind of each column, a letter each: number, date, clock or text.
    column : int
        Index of the axis, in which nothing may be invalid.

    Returns
    -------
    Cells
        NaN, no time or no text where a fault stands.

    Examples
    --------
    >>> cells = carefully(["365;x"], [7], Dialect(";", ".", 2, 0), "nn", 0)
    >>> str(cells.faults[0])[:46]
    'line 7, column 2: found "x"; expected a number'
    """
    columns = dialect.columns
    values = np.full((len(rows), columns), np.nan)
    faults: list[Fault] = []
    times: dict[int, NDArray[np.datetime64] | NDArray[np.timedelta64]] = {}
    for j, kind in enumerate(kinds):
        if kind in "dc":
            times[j] = np.full(len(rows), "NaT", "datetime64[ns]" if kind == "d" else "timedelta64[ns]")
    texts = {j: [""] * len(rows) for j, kind in enumerate(kinds) if kind == "t"}
    least = len(kinds.rstrip("t"))  # texts at the end of a row may be missing
    zoned: bool | None = None  # whether the dates of this file carry an offset from UTC
    for i, (row, line) in enumerate(zip(rows, lines, strict=True)):
        parts = fields(row, dialect.delimiter)
        while len(parts) > columns and not parts[-1]:
            parts.pop()
        if least <= len(parts) < columns:
            parts += [""] * (columns - len(parts))
        if len(parts) != columns:
            faults.append(_ragged(row, parts, line, dialect, last=i == len(rows) - 1))
        else:
            for j, (part, kind) in enumerate(zip(parts, kinds, strict=True)):
                if kind == "t":
                    texts[j][i] = part
                elif kind == "d":
                    date = moment(part)
                    offset = DATE.fullmatch(part)
                    has_zone = bool(offset and offset[4])
                    zoned = has_zone if zoned is None else zoned
                    if date is None or has_zone != zoned:
                        faults.append(_not_a_date(part, line, j + 1))
                    else:
                        times[j][i] = date
                elif kind == "c":
                    clock = time_of_day(part)
                    if clock is None:
                        faults.append(_not_a_date(part, line, j + 1))
                    else:
                        times[j][i] = clock
                elif part != INVALID or j == column:
                    number = _number(part, dialect.decimal)
                    if number is None:
                        faults.append(_not_a_number(part, line, j + 1, dialect))
                    else:
                        values[i, j] = number
        if len(faults) >= _FAULTS:
            advice = "Most likely this is no table of numbers, or it is laid out in a way not known here"
            faults.append(Fault("faults in every part of the file", "a table of numbers", advice, line))
            break
    return Cells(values, times, texts, faults)


def _number(text: str, decimal: str) -> float | None:
    if not NUMBER[decimal].fullmatch(text):
        return None
    value = float(text.replace(",", ".").translate(_D_TO_E))
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
        advice = "If it is a remark, begin it with # in a copy of the file"
        return Fault(quote(row.strip()), f"a row of {dialect.columns} numbers", advice, line)
    count = f"{len(parts)} field{'s' * (len(parts) != 1)} ({quote(row.strip())})"
    if last and len(parts) < dialect.columns:
        return Fault(count, expected, "The file seems to be cut off here: save it again", line)
    advice = "Save the file anew: a row with too few or too many fields does not say which one is which"
    if dialect.delimiter == "," and len(parts) > dialect.columns:
        advice += "; where the comma is the decimal sign, save with semicolons between the columns"
    return Fault(count, expected, advice, line)


def time_of_day(text: str) -> np.timedelta64 | None:
    """The time since midnight; None if the text is no time of day after ISO 8601.

    Examples
    --------
    >>> float(time_of_day("10:30:00.5") / np.timedelta64(1, "s"))
    37800.5
    """
    match = CLOCK.fullmatch(text)
    if match is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in match.groups()[:3])
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    whole = np.timedelta64((hours * 60 + minutes) * 60 + seconds, "s").astype("timedelta64[ns]")
    rest = np.timedelta64(int((match[4] or "0").ljust(9, "0")), "ns")
    return np.timedelta64(whole + rest, "ns")


_MARK = "write invalid there in a copy of the file, and leave the row where it is"


def _not_a_date(text: str, line: int, column: int) -> Fault:
    advice = "Write it after ISO 8601, and give all rows an offset from UTC or none"
    return Fault(quote(text), "a date and time such as 2026-03-02T10:30:00", advice, line, column)


def _not_a_number(text: str, line: int, column: int, dialect: Dialect) -> Fault:
    found, expected, advice = quote(text), "a number", ""
    other = NUMBER["." if dialect.decimal == "," else ","]
    if not text:
        found, advice = "an empty field", f"A gap is never filled silently: save the file anew, or {_MARK}"
    elif NUMBER[dialect.decimal].fullmatch(text):
        expected, advice = "a number below 1e308", "Check the exponent"
    elif GAP.fullmatch(text):
        advice = f"A value is missing here: measure again (with less light, if it is an overload), or {_MARK}"
    elif other.fullmatch(text):
        sign = {".": "point", ",": "comma"}
        expected = f"a number with a decimal {sign[dialect.decimal]}, as in the other rows"
        advice = "Use one decimal sign throughout, and no separators between thousands"
    elif THOUSANDS.fullmatch(text):
        advice = "Write the number without separators between thousands"
    elif _BARE_EXPONENT.fullmatch(text):
        expected = "a number, with the letter E before its exponent"
        advice = f"Write the exponent with its letter: {_exponent(text)}"
    elif text.startswith("\u2212"):
        advice = "Write the minus sign as the hyphen of the keyboard"
    elif match := _WITH_UNIT.fullmatch(text):
        advice = f"Write the unit {quote(match[2])} once, in the heading, and numbers alone in the rows"
    else:
        advice = f"Save the file anew; if the sample is known not to be valid, {_MARK}"
    return Fault(found, expected, advice, line, column)


def _exponent(text: str) -> str:
    at = max(text.rfind("+"), text.rfind("-"))
    return f"{text[:at]}E{text[at:]}"
