"""How a file of text is laid out: its dialect, the heading of its columns, its first row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from spectralbench.errors import quote
from spectralbench.readers.content import refusal
from spectralbench.readers.dialect import DATE, NUMBER, Dialect, blank, choose, comma_twice, row_fields
from spectralbench.readers.headings import axis, is_unit, normal

_SIGNS = re.compile(r"(?:\s|[#;!*$]|//|--|%(?!\s?[TR]\b)|'(?!.*'))*")  # that open a line of a header
_COMMENT = re.compile(r"\s*(?:#(?!#)|%|!|//)")  # inside a table, where #### is an overload
_DIGITS = frozenset("0123456789")
_WITH_BRACKETS = re.compile(r'(?:"[^"]*"|\[[^\]]*\]|\([^)]*\)|\s+(?=[\[(])|\S)+')
_MOST_LINES, _MOST_COLUMNS = 10_000, 10_000  # beyond them it is something else than a table of spectra
_LONGEST, _LONGEST_LOOSE = 100_000, 1_000  # characters of a heading; a longer line is none
_TABLE = "a table of numbers: wavelength (or time, or hours) and one or more columns of values"


class Layout(NamedTuple):
    """Where the table of a file stands, and how it is written."""

    dialect: Dialect
    heading: int | None  # index of the line that names the columns
    names: tuple[str, ...]
    unit_row: int | None  # index of a second line of heading, which holds units alone
    units: tuple[str, ...]
    first: int  # index of the line at which the table begins
    rows: tuple[int, ...] | range  # indices of the lines that are rows
    comma_twice: bool


def lay_out(lines: Sequence[str], path: str, *, thorough: bool = False) -> Layout:
    """Find out how a file is laid out.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    path : str
        The file, for messages.
    thorough : bool
        Whether to look at many lines before the delimiter is chosen, instead of a sample.

    Returns
    -------
    Layout
        What was decided.

    Raises
    ------
    ReadError
        If there is no table, or more than one way to read it.

    Examples
    --------
    >>> lay_out(["wavelength;counts", "365,5;12", "366,5;13"], "example.csv").names
    ('wavelength', 'counts')
    """
    dialect = choose(lines, thorough=thorough)
    if dialect is None:
        found = f"text without a row of numbers (it begins with {quote(next(filter(str.strip, lines), ''))})"
        raise refusal(path, found, _TABLE, "Is this the right file, and was the measurement saved with it?")
    whole = _first_row(lines, dialect)
    if dialect.columns < 2:
        found = f"one column only ({quote(lines[whole].strip())})"
        raise refusal(path, found, _TABLE, "Put wavelength and value into one row", whole + 1)
    header = [i for i in range(whole) if not blank(lines[i]) and not _starts_row(lines[i], dialect)]
    if len(header) > _MOST_LINES or dialect.columns > _MOST_COLUMNS:
        found = f"{len(header)} lines of header and {dialect.columns} columns"
        expected = f"at most {_MOST_LINES} lines of header and {_MOST_COLUMNS} columns"
        raise refusal(path, found, expected, "Is this a table of spectra? Then split it into several files")
    heading, names = _heading(lines, header, dialect)
    first = _begin(lines, dialect, heading, names[0] if names else "", whole)
    twice = False
    if dialect[:2] == (",", ".") and not dialect.padding and len(names) != dialect.columns:
        answer = comma_twice([lines[i] for i in _rows(lines, first)], dialect.columns, len(names))
        if answer is None:
            raise refusal(
                path,
                f"{quote(lines[first])}, in which the comma may be delimiter, or delimiter and decimal sign",
                "one way to read it",
                f"Name the {dialect.columns} (or {dialect.columns // 2}) columns in a header row,"
                " or save the file with semicolons between the columns",
                first + 1,
            )
        if answer:
            twice, dialect = True, Dialect(";", ",", dialect.columns // 2, 0)
    if dialect.columns < len(names) <= dialect.columns + dialect.padding:
        names = names[: dialect.columns]  # the others name columns that are empty from top to bottom
    if heading is not None and len(names) != dialect.columns:
        if dialect.delimiter != " ":
            raise refusal(
                path,
                f"{len(names)} column names above rows of {dialect.columns} fields",
                "as many names as columns",
                "Name every column"
                + ("; if the comma is the decimal sign, save with semicolons" * (dialect.delimiter == ",")),
                heading + 1,
            )
        names = (_WITH_BRACKETS.findall(unsigned(lines[heading]))[0], *[""] * (dialect.columns - 1))
    unit_row, units = _unit_row(lines, dialect, heading, first)
    if unit_row is not None:
        first = unit_row + 1
    return Layout(dialect, heading, names, unit_row, units, first, _rows(lines, first), twice)


def _starts_row(line: str, dialect: Dialect) -> bool:
    parts, _ = row_fields(line, dialect.delimiter)
    return bool(parts) and bool(NUMBER[dialect.decimal].fullmatch(parts[0]) or DATE.fullmatch(parts[0]))


def _first_row(lines: Sequence[str], dialect: Dialect) -> int:
    """Index of the first row that is whole, or else of the first that has all fields."""
    number = NUMBER[dialect.decimal].fullmatch
    lenient = len(lines)
    for i, line in enumerate(lines):
        parts, _ = row_fields(line, dialect.delimiter)
        if len(parts) != dialect.columns or not (number(parts[0]) or DATE.fullmatch(parts[0])):
            continue
        if all(number(part) for part in parts[1:]):
            return i
        lenient = min(i, lenient)
    return lenient


def _heading(
    lines: Sequence[str], header: Sequence[int], dialect: Dialect
) -> tuple[int | None, tuple[str, ...]]:
    """The line that names the columns: the last that begins with an axis, or else the last of all."""
    found: int | None = None
    last: int | None = None
    names: tuple[str, ...] = ()
    for i in header:
        if len(lines[i]) > _LONGEST:
            continue
        cells = _names(lines[i], dialect)
        # A row of units may begin with nm as well, but it belongs to the heading just above it.
        below = found is not None and found == last
        if _is_heading(cells, dialect) and axis(cells[0])[0] and not (below and normal(cells[0]) == "nm"):
            found, names = i, cells
        last = i
    if found is None and last is not None and dialect.delimiter != " ":  # prose has blanks as well
        cells = tuple(row_fields(unsigned(lines[last]), dialect.delimiter)[0])
        if _is_heading(cells, dialect) and len(cells) == dialect.columns:
            return last, cells
    return found, names


def _is_heading(cells: Sequence[str], dialect: Dialect) -> bool:
    """Whether these could be names of columns: no values, and neither key nor value."""
    if len(cells) < 2 or not cells[0]:
        return False
    return not any(":" in cell or "=" in cell or _is_value(cell, dialect) for cell in cells)


def _is_value(cell: str, dialect: Dialect) -> bool:
    return bool(NUMBER[dialect.decimal].fullmatch(cell) or DATE.fullmatch(cell))


def unsigned(line: str) -> str:
    """A line of a header without the sign that opens it.

    Examples
    --------
    >>> unsigned("# lamp: mercury")
    'lamp: mercury'
    """
    match = _SIGNS.match(line)
    return line[match.end() :] if match else line


def sign(line: str) -> str:
    """The sign that opens a line of a header; empty if there is none.

    Examples
    --------
    >>> sign("# lamp: mercury")
    '#'
    """
    return line[: len(line) - len(unsigned(line))].strip()


def _names(line: str, dialect: Dialect) -> tuple[str, ...]:
    """The names in a heading, which may be separated in another way than the numbers are."""
    text = unsigned(line)
    first, _ = row_fields(text, dialect.delimiter)
    if len(first) == dialect.columns or len(text) > _LONGEST_LOOSE:
        return tuple(first)
    if dialect.delimiter == " " or sign(line):
        ways = [_WITH_BRACKETS.findall(text), re.split(r"\t|\s\s+", text.strip())]
        ways += [row_fields(text, other)[0] for other in "\t;,"]
        ways += [text.split(None, 1)] * (dialect.columns == 2)
        for way in ways:
            if len(way) == dialect.columns:
                return tuple(part.strip('" ') for part in way)
    return tuple(first)


def _begin(lines: Sequence[str], dialect: Dialect, heading: int | None, name: str, whole: int) -> int:
    """Index of the first row, whole or not: a faulty row must not pass for header."""
    if heading is not None and axis(name)[0]:
        return heading + 1
    begin = whole
    for i in range(whole - 1, -1, -1):
        if _starts_row(lines[i], dialect):
            begin = i
        elif not blank(lines[i]):
            break
    return begin


def _unit_row(
    lines: Sequence[str], dialect: Dialect, heading: int | None, first: int
) -> tuple[int | None, tuple[str, ...]]:
    if heading is None:
        return None, ()
    row = next((i for i in range(heading + 1, len(lines)) if not blank(lines[i])), None)
    if row is None or _starts_row(lines[row], dialect):
        return None, ()
    units = tuple(cell.strip("[]() ") for cell in _names(lines[row], dialect))
    if len(units) == dialect.columns and is_unit(units[0]):
        return row, units
    return None, ()


def _rows(lines: Sequence[str], first: int) -> tuple[int, ...] | range:
    """Indices of the rows from the first one on: what is neither blank nor a comment."""
    rows = [
        i
        for i, line in enumerate(lines[first:], first)
        if line[:1] in _DIGITS or not (blank(line) or _COMMENT.match(line))
    ]
    if rows and rows[-1] - rows[0] + 1 == len(rows):
        return range(rows[0], rows[-1] + 1)
    return tuple(rows)
