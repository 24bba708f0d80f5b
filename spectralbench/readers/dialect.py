"""How the rows of a table are written: delimiter, decimal sign, number of columns."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np

from spectralbench.errors import Fault, quote

NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eEdD][+-]?\d+)?", re.ASCII),
    ",": re.compile(r"[+-]?(?:\d+(?:,\d+)?|,\d+)(?:[eEdD][+-]?\d+)?", re.ASCII),
}
DATE = re.compile(
    r"(\d{4}-\d\d-\d\d)(?:[T ](\d\d:\d\d(?::\d\d)?)(?:[.,](\d{1,9}))?)?\s*(Z|[+-]\d\d:?\d\d)?", re.ASCII
)
CLOCK = re.compile(r"(\d\d):(\d\d)(?::(\d\d)(?:[.,](\d{1,9}))?)?", re.ASCII)
_LOCAL_DATE = re.compile(  # as people write dates: seen, so that they can be refused by name
    r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}\.?(?:[ T,]+\d{1,2}[:.]\d\d(?:[:.]\d\d)?(?:[.,]\d+)?)?(?: ?[ap]\.?m\.?)?"
    r"|\d{1,2}:\d\d(?::\d\d)?(?:[.,]\d+)?(?: ?[ap]\.?m\.?)?",
    re.ASCII | re.IGNORECASE,
)
DELIMITERS = {"\t": "tab", ";": "semicolon", ",": "comma", " ": "blanks"}
_DIALECTS = tuple((delimiter, decimal) for delimiter in DELIMITERS for decimal in ".,")
_QUOTED = re.compile(r'"([^"]*)"|([^\s"]+)')
_NO_THOUSANDS = {
    sign: re.compile(
        rf"(?<!\d)0\d*\{sign}|\d{{4}}\{sign}|\{sign}(?!\d\d\d(?!\d))|(?<!\d)\{sign}|[eEdD]", re.ASCII
    )
    for sign in ".,"
}
_COMMENT = re.compile(r"\s*[#%!]")
_BROKEN = 5  # lines over which a cell in quotes may break
_BLOCKS, _BLOCK = 8, 10  # lines looked at before a dialect is chosen
_MANY = 4_000  # lines looked at when that choice did not hold


class Dialect(NamedTuple):
    """How the rows of a table are written."""

    delimiter: str
    decimal: str
    columns: int
    padding: int  # empty fields at the end of every row


class Evidence(NamedTuple):
    """A dialect, and what speaks for it among the lines looked at."""

    dialect: Dialect
    rows: int  # lines that are rows of its shape
    whole: int  # those of them with a number in every field
    signed: int  # those of them in which the decimal sign occurs
    looked_at: int  # lines that are neither blank nor comments


def blank(line: str) -> bool:
    """Tell whether a line holds nothing but blanks and delimiters.

    Examples
    --------
    >>> blank(" ;;"), blank("365;")
    (True, False)
    """
    return not line.strip(' \t\f\v\xa0,;"')


def fields(line: str, delimiter: str) -> list[str]:
    """The fields of a line, without quotes and outer blanks.

    Examples
    --------
    >>> fields('"365,5"; 12', ";")
    ['365,5', '12']
    """
    if delimiter == " ":
        if '"' not in line:
            return line.split()
        return [quoted or bare for quoted, bare in _QUOTED.findall(line)]
    if '"' not in line:
        return [part.strip() for part in line.split(delimiter)]
    try:
        return [part.strip() for part in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))]
    except csv.Error:  # a cell longer than any that makes sense
        return [line]


def row_fields(line: str, delimiter: str) -> tuple[list[str], int]:
    """The fields of a row without the empty ones at its end, and the number of those.

    Examples
    --------
    >>> row_fields("365;12;;", ";")
    (['365', '12'], 2)
    """
    parts = fields(line, delimiter)
    padding = 0
    while parts and not parts[-1]:
        parts.pop()
        padding += 1
    return parts, padding


def dated(cell: str) -> bool:
    """Tell whether a cell holds a date or a time of day, in whatever habit.

    Examples
    --------
    >>> dated("2026-03-02T10:30"), dated("02.03.2026"), dated("10:30:05"), dated("365.5")
    (True, True, True, False)
    """
    return bool(DATE.fullmatch(cell) or _LOCAL_DATE.fullmatch(cell))


def choose(
    lines: Sequence[str],
    *,
    thorough: bool = False,
    column: int = 0,
    delimiter: str | None = None,
    decimal: str | None = None,
) -> Evidence | None:
    """Choose the dialect in which most rows are whole: a number in every field.

    Parameters
    ----------
    lines : sequence of str
        The lines of a file, header included.
    thorough : bool
        Whether to look at many lines instead of a sample.
    column : int
        Index of the column in which a row holds a number or a date.
    delimiter, decimal : str, optional
        The only one to be considered.

    Returns
    -------
    Evidence or None
        None if no line has a number there. One column if no line has more.

    Examples
    --------
    >>> choose(["wavelength;counts", "365,5;12", "366,5;13"]).dialect
    Dialect(delimiter=';', decimal=',', columns=2, padding=0)
    """
    looked_at = _sample(lines, _MANY if thorough else _BLOCKS * _BLOCK)
    looked_at = [line for line in looked_at if line[:1] != "#"] or looked_at
    commas = any("," in line for line in looked_at)
    best, best_score = None, (False, 0.0)
    for sign, point in _DIALECTS:
        if delimiter not in (None, sign) or decimal not in (None, point):
            continue
        if point == "," and decimal is None and not commas:
            continue
        used = looked_at if sign == " " else [line for line in looked_at if sign in line]
        if not used or (sign == point and not any('"' in line for line in used)):
            continue  # one sign can only be both where quotes tell the two apart
        if best_score[0] and sum(_parted(line, sign) for line in used) <= best_score[1]:
            continue  # too few lines have more than one field by it to do better
        rows, headings, counts = _shapes(looked_at, sign, point, column)
        if not rows:
            continue
        shape = max(rows, key=lambda shape: (rows[shape], headings[shape], shape))
        score = (shape[0] > 1, rows[shape])
        if score > best_score:  # on a tie the earlier one stays: the stricter delimiter, the point
            best_score = score
            best = Evidence(Dialect(sign, point, *shape), *counts[shape], len(looked_at))
    return best


def _parted(line: str, delimiter: str) -> bool:
    """Whether a line may have more than one field."""
    return len(line.split(None, 1)) > 1 or '"' in line if delimiter == " " else delimiter in line


def _sample(lines: Sequence[str], size: int) -> list[str]:
    if len(lines) <= 2 * size:
        return [line for line in lines if not blank(line)]
    block = size // _BLOCKS
    starts = np.linspace(0, len(lines) - block, _BLOCKS).astype(int).tolist()
    return [line for start in starts for line in lines[start : start + block] if not blank(line)]


def _shapes(
    lines: Sequence[str], delimiter: str, decimal: str, column: int
) -> tuple[
    dict[tuple[int, int], float], Counter[tuple[int, int]], dict[tuple[int, int], tuple[int, int, int]]
]:
    """How much speaks for each number of columns and of empty fields behind them."""
    rows: dict[tuple[int, int], float] = {}
    headings: Counter[tuple[int, int]] = Counter()
    counts: dict[tuple[int, int], tuple[int, int, int]] = {}
    number = NUMBER[decimal].fullmatch
    for line in lines:
        parts, padding = row_fields(line, delimiter)
        shape = len(parts), padding
        if len(parts) <= column or not (number(parts[column]) or dated(parts[column])):
            headings[shape] += 1
            continue
        numbers = [part for part in parts if number(part)]
        good = len(numbers) + (parts[column] not in numbers)
        rows[shape] = rows.get(shape, 0.0) + (good / len(parts)) ** 2
        count, whole, signed = counts.get(shape, (0, 0, 0))
        whole += good == len(parts)
        signed += any(decimal in part for part in numbers)
        counts[shape] = (count + 1, whole, signed)
    return rows, headings, counts


def unbroken(lines: list[str]) -> list[str]:
    """Lines in which a cell in quotes no longer breaks: its parts stand in the last of its lines.

    Examples
    --------
    >>> unbroken(['"wavelength', '[nm]";counts', "365;1"])
    ['', '"wavelength [nm]";counts', '365;1']
    """
    result = list(lines)
    i = 0
    while i < len(result):
        if result[i].count('"') % 2 and not _COMMENT.match(result[i]):
            for k in range(i + 1, min(i + 1 + _BROKEN, len(result))):
                if result[k].count('"') % 2:
                    result[k] = " ".join(part.strip() for part in result[i : k + 1])
                    result[i:k] = [""] * (k - i)
                    i = k
                    break
        i += 1
    return result


def thousands(
    lines: Sequence[str],
    rows: Sequence[int],
    dialect: Dialect,
    columns: Sequence[int],
    axis: int,
    counts: Collection[int] = (),
) -> list[Fault]:
    """The fault of a table in which one sign may separate thousands or be the decimal sign.

    Numbers below a thousand without the sign, beside others that all have three figures behind
    it, are how thousands are written; so are counts that all have three figures behind it.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    rows : sequence of int
        Indices of the rows of the table.
    dialect : Dialect
        How they are written.
    columns : sequence of int
        Indices of the columns of values.
    axis : int
        Index of the axis; where it has decimals, the sign is no separator.
    counts : collection of int
        Indices of those columns that hold counts, which are whole numbers.

    Returns
    -------
    list of Fault
        One, or none.

    Examples
    --------
    >>> lines = ["365;998", "366;1,203", "367;12,204"]
    >>> thousands(lines, range(3), Dialect(";", ",", 2, 0), [1], 0)[0].found
    '"1,203" beside "998", in which the comma may separate thousands'
    """
    sign = dialect.decimal
    between = _NO_THOUSANDS[sign].search
    signed: dict[int, tuple[str, int]] = {}
    plain: dict[int, str] = {}
    for i in rows:
        if sign not in lines[i] and len(plain) == len(columns):
            continue
        cells = fields(lines[i], dialect.delimiter)
        if any(sign in cell and between(cell) for cell in cells) or sign in cells[axis]:
            return []
        for j in (j for j in columns if j < len(cells)):
            cell = cells[j].lstrip("+-")
            if sign in cell:
                signed.setdefault(j, (cell, i + 1))
            elif len(cell) > 3:
                return []
            elif len(cell) > 1:
                plain.setdefault(j, cell)
    quoted = dialect.delimiter == sign  # a program that put quotes round 1,203 means thousands
    for j, (cell, line) in signed.items():
        if j in plain or quoted or j in counts:
            name = "comma" if sign == "," else "point"
            beside = f" beside {quote(plain[j])}" if j in plain else " beside whole numbers" * quoted
            found = f"{quote(cell)}{beside}, in which the {name} may separate thousands"
            advice = (
                "Write numbers without separators between thousands, or choose the decimal sign on reading"
            )
            return [Fault(found, "a number that can be read in one way", advice, line, j + 1)]
    return []


def comma_twice(rows: Sequence[str], columns: int, named: int) -> bool | None:
    """Tell whether the comma of comma-separated whole numbers is the decimal sign as well.

    Parameters
    ----------
    rows : sequence of str
        All rows of the table.
    columns : int
        Fields in each row.
    named : int
        Columns named by the heading, other than `columns`; 0 if there is none.

    Returns
    -------
    bool or None
        None if both ways of reading make sense.

    Examples
    --------
    >>> comma_twice(["400,0,12,5", "400,5,13,5", "401,0,14,0"], 4, 0)
    True
    """
    if columns % 2 or columns < 4:
        return False
    pair = re.compile(r" *[+-]?\d+ *, *\d+ *", re.ASCII)
    pairs = re.compile(rf"{pair.pattern}(?:,{pair.pattern})*", re.ASCII)
    if not all(pairs.fullmatch(row) for row in rows):
        return False
    if named == columns // 2:
        return True
    whole = np.array([float(row.split(",", 1)[0]) for row in rows])
    joined = np.array([float(".".join(row.replace(" ", "").split(",", 2)[:2])) for row in rows])
    if not _one_way(joined):
        return False
    if not _one_way(whole):
        return True
    steps, joined_steps = np.diff(whole), np.diff(joined)
    return None if np.ptp(joined_steps) <= np.ptp(steps) + 1e-9 else False


def pairs_joined(row: str) -> str:
    """A row in which the comma serves twice, with semicolons as delimiters.

    Examples
    --------
    >>> pairs_joined("400,5,12,0")
    '400,5;12,0'
    """
    parts = row.split(",")
    return ";".join(",".join(parts[i : i + 2]).replace(" ", "") for i in range(0, len(parts), 2))


def _one_way(values: np.ndarray) -> bool:
    steps = np.diff(values)
    return bool(steps.size) and bool((steps > 0).all() or (steps < 0).all())
