"""What the cells of each column are: numbers, dates, times of day or text."""

from __future__ import annotations

import re
from collections.abc import Sequence

from spectralbench.readers.dialect import CLOCK, NUMBER, Dialect, dated, fields
from spectralbench.readers.headings import axis, heading, normal, split_units
from spectralbench.readers.vocabulary import BAND_LIMITS, NUMBERING, OTHER_SCALES, TEXTS

GAP = re.compile(
    r"[+-]?(?:\d\.#)?(?:s?q?nan|inf|infinity|ind|n/?a|n\.a\.|null|none|missing|invalid|"
    r"(?:over|ovr|ovld|ovfl|sat)\w*|o\.?l\.?|err(?:or)?|[#*?.-]+|[-–—]+)",
    re.IGNORECASE,
)
THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[., '’\u00a0\u2009\u202f]\d{3})+(?:[.,]\d*)?")
_TEXT_OF = {word: name for name, words in TEXTS.items() for word in words}
_LIMIT_OF = {word: name for name, words in BAND_LIMITS.items() for word in words}
ROW_NUMBERS = "it numbers the rows"
_ALSO_DATES = ("data",)  # Italian, Polish and Portuguese for a date; in English it may be anything


def column_kinds(rows: Sequence[str], names: Sequence[str], dialect: Dialect, column: int) -> str:
    """The kind of each column, a letter each: ``n`` number, ``d`` date, ``c`` time of day, ``t`` text.

    Parameters
    ----------
    rows : sequence of str
        Some rows of the table.
    names : sequence of str
        Names of the columns; empty if there are none.
    dialect : Dialect
        How the rows are written.
    column : int
        Index of the axis.

    Returns
    -------
    str
        As many letters as columns.

    Examples
    --------
    >>> column_kinds(["A;2026-03-02;1", "B;2026-03-03;OVER"], ["channel", "time", "irradiance [W m-2]"],
    ...     Dialect(";", ".", 3, 0), 1)
    'tdn'
    """
    number = NUMBER[dialect.decimal].fullmatch
    cells = [fields(row, dialect.delimiter) for row in rows]
    kinds = []
    for j in range(dialect.columns):
        name = names[j] if names else ""
        here = [parts[j] for parts in cells if j < len(parts) and parts[j]]
        numbers = any(number(cell) for cell in here)
        dates = [cell for cell in here if dated(cell)]
        time = axis(name)[0] == "time" or normal(name) in _ALSO_DATES or not name or j == column
        if dates and not numbers and time:
            kinds.append("c" if all(CLOCK.fullmatch(cell) for cell in dates) else "d")
        elif (text_name(name) and j != column) or (
            j != column
            and here
            and not numbers
            and (may_be_text(name) or (not name and j < column))
            and not any(GAP.fullmatch(cell) or THOUSANDS.fullmatch(cell) for cell in here)
        ):
            kinds.append("t")
        else:
            kinds.append("n")
    return "".join(kinds)


def text_name(name: str) -> str:
    """The coordinate of text that a heading names; empty if it is none.

    Examples
    --------
    >>> text_name("Kanal"), text_name("counts")
    ('channel', '')
    """
    bare, units = split_units(name)
    found = _TEXT_OF.get(normal(bare), "")
    return found if units is None or found == "band" else ""


def limit_name(name: str) -> str:
    """Which limit of a band a heading names; empty if none.

    Examples
    --------
    >>> limit_name("band low [nm]")
    'band_low'
    """
    return _LIMIT_OF.get(normal(split_units(name)[0]), "")


def may_be_text(name: str) -> bool:
    """Tell whether a column of that name could hold text: it has a name, and it measures nothing.

    Examples
    --------
    >>> may_be_text("remark"), may_be_text("counts"), may_be_text("supply [V]")
    (True, False, False)
    """
    told = heading(name)
    return bool(name) and not (any((told.quantity, told.units, *told[4:])) or axis(name)[0])


def left_out(name: str) -> str:
    """Why a column of numbers of that name holds no values; empty if it may.

    Examples
    --------
    >>> left_out("pixel"), left_out("counts")
    ('it numbers the rows', '')
    """
    bare = normal(split_units(name)[0])
    if heading(name).quantity or not bare:
        return ""
    if bare in NUMBERING:
        return ROW_NUMBERS
    return "it is another scale of the axis" if bare in OTHER_SCALES else ""
