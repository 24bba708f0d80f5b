"""Commas in a table: the standard parts numbers by them, some programs write decimals with them."""

from __future__ import annotations

import re
from typing import NamedTuple

from spectralbench.errors import Fault, quote

_BETWEEN = re.compile(r",?[\s;\0\x1a]+|,$|(?<=[\d?])(?=[+-])")
_CELL = re.compile(r"[+-]?(?:\d+,\d+|\d+\.?\d*|\.\d+)(?:[Ee][+-]?\d{1,4})?|\?", re.ASCII)
_INSIDE = re.compile(r"[\w@%],\d", re.ASCII)
_EXPECTED = "numbers with a decimal point"
_ADVICE = (
    "In this layout a comma parts two numbers. If it is meant as a decimal sign, save the file with a "
    "decimal point; if it parts two numbers, put a blank in its place"
)


class Decimals(NamedTuple):
    """A table as it would be if its commas were decimal signs."""

    points: int
    fault: Fault  # at the first of them


def with_header(body: str, line: int, header: str) -> Fault | None:
    r"""The first comma inside a table whose header has a decimal comma; None if there is none.

    Parameters
    ----------
    body : str
        The table without comments.
    line : int
        Where it begins in the file.
    header : str
        The record with a decimal comma.

    Returns
    -------
    Fault or None
        A comma with a blank behind it parts numbers, whatever the header has.

    Examples
    --------
    >>> with_header("400 1,5", 12, '##FIRSTX= "400,0"').found
    '"1,5" in a table whose header has a decimal comma (##FIRSTX= "400,0")'
    >>> with_header("400, 1, 5", 12, '##FIRSTX= "400,0"')
    """
    match = _INSIDE.search(body)
    if match is None:
        return None
    begin = body.rfind("\n", 0, match.start()) + 1
    cells = _cells(body[begin:].split("\n", 1)[0])
    column = next((i for i, cell in enumerate(cells, 1) if _INSIDE.search(cell)), 1)
    found = f"{quote(cells[column - 1])} in a table whose header has a decimal comma ({header})"
    number = line + body.count("\n", 0, begin)
    return Fault(found, _EXPECTED, f"{_ADVICE} and write the header with a point", number, column)


def decimals(body: str, line: int, *, pairs: bool) -> Decimals | None:
    r"""The table if its commas are decimal signs; None where they cannot be.

    Parameters
    ----------
    body : str
        The table without comments.
    line : int
        Where it begins in the file.
    pairs : bool
        Whether each ordinate has an abscissa.

    Returns
    -------
    Decimals or None
        Of a table in which blanks part numbers of which each has one comma at most.

    Notes
    -----
    ``400,10 401,20`` is two pairs by the standard, and one with decimal commas: which of them holds,
    only the number of points and the order of the abscissas can tell.

    Examples
    --------
    >>> decimals("400,0 1,5 2,5\n402,0 3,5", 12, pairs=False).points
    3
    >>> decimals("400,10,20", 12, pairs=False), decimals("400, 10, 20", 12, pairs=False)
    (None, None)
    """
    points = 0
    fault = None
    rows = body.rstrip().split("\n")
    for number, row in enumerate(rows, line):
        cells = _cells(row)
        if not cells:
            continue
        odd = len(cells) < 2 or (pairs and len(cells) % 2)
        if odd or not all(_CELL.fullmatch(cell) for cell in cells):
            if fault is not None and number == line + len(rows) - 1:  # as if cut off
                break
            return None
        points += len(cells) // 2 if pairs else len(cells) - 1
        if fault is None and "," in row:
            for column, cell in enumerate(cells, 1):
                if "," in cell:
                    fault = Fault(f"a comma inside {quote(cell)}", _EXPECTED, _ADVICE, number, column)
                    break
    return None if fault is None else Decimals(points, fault)


def _cells(row: str) -> list[str]:
    return [cell for cell in _BETWEEN.split(row) if cell]
