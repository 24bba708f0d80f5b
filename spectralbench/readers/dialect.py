"""How the rows of a table are written: delimiter, decimal sign, number of columns."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII),
    ",": re.compile(r"[+-]?(?:\d+(?:,\d+)?|,\d+)(?:[eE][+-]?\d+)?", re.ASCII),
}
DATE = re.compile(
    r"(\d{4}-\d\d-\d\d)(?:[T ](\d\d:\d\d(?::\d\d)?)(?:[.,](\d{1,9}))?)?\s*(Z|[+-]\d\d:?\d\d)?", re.ASCII
)
DELIMITERS = {"\t": "tab", ";": "semicolon", ",": "comma", " ": "blanks"}
_DIALECTS = tuple((delimiter, decimal) for delimiter in DELIMITERS for decimal in ".,")
_QUOTED = re.compile(r'"([^"]*)"|([^\s"]+)')
_BLOCKS, _BLOCK = 8, 10  # lines looked at before a dialect is chosen
_MANY = 20_000  # lines looked at when that choice did not hold


class Dialect(NamedTuple):
    """How the rows of a table are written."""

    delimiter: str
    decimal: str
    columns: int
    padding: int  # empty fields at the end of every row


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
    parts: list[list[str]] = [[]]
    inside = False
    for piece in re.split(f'("|{delimiter})', line):
        if piece == '"':
            inside = not inside
        elif piece == delimiter and not inside:
            parts.append([])
        else:
            parts[-1].append(piece)
    return ["".join(part).strip() for part in parts]


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


def choose(lines: Sequence[str], *, thorough: bool = False) -> Dialect | None:
    """Choose the dialect in which most rows are whole: a number in every field.

    Parameters
    ----------
    lines : sequence of str
        The lines of a file, header included.
    thorough : bool
        Whether to look at many lines instead of a sample.

    Returns
    -------
    Dialect or None
        None if no line begins with a number. One column if no line has more.

    Examples
    --------
    >>> choose(["wavelength;counts", "365,5;12", "366,5;13"])
    Dialect(delimiter=';', decimal=',', columns=2, padding=0)
    """
    looked_at = _sample(lines, _MANY if thorough else _BLOCKS * _BLOCK)
    best, best_score = None, (False, 0.0)
    for delimiter, decimal in _DIALECTS:
        used = looked_at if delimiter == " " else [line for line in looked_at if delimiter in line]
        if not used or (delimiter == decimal and not any('"' in line for line in used)):
            continue  # one sign can only be both where quotes tell the two apart
        rows, headings = _shapes(looked_at, delimiter, decimal)
        if not rows:
            continue
        shape = max(rows, key=lambda shape: (rows[shape], headings[shape], shape))
        score = (shape[0] > 1, rows[shape])
        if score > best_score:  # on a tie the earlier one stays: the stricter delimiter, the point
            best, best_score = Dialect(delimiter, decimal, *shape), score
    return best


def _sample(lines: Sequence[str], size: int) -> list[str]:
    if len(lines) <= 2 * size:
        return [line for line in lines if not blank(line)]
    block = size // _BLOCKS
    starts = np.linspace(0, len(lines) - block, _BLOCKS).astype(int).tolist()
    return [line for start in starts for line in lines[start : start + block] if not blank(line)]


def _shapes(
    lines: Sequence[str], delimiter: str, decimal: str
) -> tuple[Counter[tuple[int, int]], Counter[tuple[int, int]]]:
    """How much speaks for each number of columns and of empty fields behind them."""
    rows: Counter[tuple[int, int]] = Counter()
    headings: Counter[tuple[int, int]] = Counter()
    number = NUMBER[decimal].fullmatch
    for line in lines:
        parts, padding = row_fields(line, delimiter)
        shape = len(parts), padding
        if not parts or not (number(parts[0]) or DATE.fullmatch(parts[0])):
            headings[shape] += 1
            continue
        good = 1 + sum(1 for part in parts[1:] if number(part))
        rows[shape] += (good / len(parts)) ** 2  # type: ignore[assignment]  # weights, no counts
    return rows, headings


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
