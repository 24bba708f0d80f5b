"""How a file of text is laid out: its dialect, the heading of its columns, its first row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from spectralbench.errors import quote
from spectralbench.readers.choices import Choices
from spectralbench.readers.column_names import (
    ColumnNames,
    axis_index,
    column_names,
    further_rows,
    loose_names,
    may_name_an_axis,
    starts_row,
)
from spectralbench.readers.content import refusal
from spectralbench.readers.dialect import (
    DELIMITERS,
    NUMBER,
    Dialect,
    Evidence,
    blank,
    choose,
    comma_twice,
    dated,
    row_fields,
)
from spectralbench.readers.kinds import column_kinds, may_be_text

_COMMENT = re.compile(r"\s*(?:#(?!#)|%|!|//)")  # inside a table, where #### is an overload
_FOOTER = re.compile(r"\s*(?:>{2,}|<{2,}|={3,}|-{3,}|\*{3,}|~{3,}|_{3,})[^\d]*")
_LOOKED_AT = 200  # lines, and characters of a line
_DIGITS = frozenset("0123456789")
_MOST_LINES, _MOST_COLUMNS = 20_000, 10_000  # beyond them it is something else than a table of spectra
_TABLE = "a table of numbers: wavelength (or time, or hours) and one or more columns of values"


_FREE = Choices()


class Layout(NamedTuple):
    """Where the table of a file stands, and how it is written."""

    dialect: Dialect
    heading: int | None  # index of the line that names the columns
    names: tuple[str, ...]
    units: tuple[str, ...]  # of a row of their own
    labels: tuple[str, ...]  # of a row of their own
    heading_rows: tuple[int, ...]  # indices of all lines of the heading
    column: int  # index of the axis
    kinds: str  # of the columns, a letter each: number, date, clock or text
    first: int  # index of the line at which the table begins
    rows: tuple[int, ...] | range  # indices of the lines that are rows
    left_out: tuple[int, ...]  # indices of comments between them
    footer: tuple[int, ...]  # indices of lines behind them
    comma_twice: bool
    how: dict[str, str]  # what speaks for each decision


def lay_out(lines: Sequence[str], path: str, *, choices: Choices = _FREE, thorough: bool = False) -> Layout:
    """Find out how a file is laid out.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    path : str
        The file, for messages.
    choices : Choices
        What the caller says of it.
    thorough : bool
        Whether to look at many lines before the delimiter is chosen, instead of a sample.

    Returns
    -------
    Layout
        What was decided.

    Raises
    ------
    ReadError
        If there is no table, or more than one way to read it, or not the one that was chosen.

    Examples
    --------
    >>> lay_out(["wavelength;counts", "365,5;12", "366,5;13"], "example.csv").names
    ('wavelength', 'counts')
    """
    start = _start(lines, path, choices)
    evidence, column = _evidence(lines, path, choices, start, thorough)
    dialect = evidence.dialect
    whole = start if choices.first_row is not None else _first_row(lines, dialect, column, start)
    if dialect.columns < 2:
        found = f"one column only ({quote(lines[whole].strip())})"
        raise refusal(path, found, _TABLE, "Put wavelength and value into one row", whole + 1)
    header = [
        i
        for i in range(whole)
        if lines[i][:1] == "#" or not (blank(lines[i]) or starts_row(lines[i], dialect, column))
    ]
    if len(header) > _MOST_LINES or dialect.columns > _MOST_COLUMNS:
        found = f"{len(header)} lines of header and {dialect.columns} columns"
        expected = f"at most {_MOST_LINES} lines of header and {_MOST_COLUMNS} columns"
        raise refusal(path, found, expected, "Is this a table of spectra? Then split it into several files")
    names = column_names(lines, header, dialect, choices.heading)
    first = _begin(lines, dialect, names, column, whole, choices)
    rows, left_out, footer = _rows(lines, first, dialect)
    twice = False
    if dialect[:2] == (",", ".") and not dialect.padding and choices.decimal != ".":
        twice = _comma_twice(lines, path, rows, dialect, names, choices)
        if twice:
            dialect = Dialect(";", ",", dialect.columns // 2, 0)
    dialect, names = _fitted(lines, path, rows, dialect, names)
    if choices.axis_column is None and (named := axis_index(names.names, choices.axis)) is not None:
        column = named
    if choices.heading is None or choices.first_row is None:
        names = further_rows(lines, names, dialect, column, whole)
    if choices.first_row is None and names.rows and names.rows[-1] >= first:
        first = names.rows[-1] + 1
        rows, left_out, footer = _rows(lines, first, dialect)
    kinds = column_kinds([lines[i] for i in _spread(rows)], names.names, dialect, column) if not twice else ""
    how = _how(evidence, names, choices, twice)
    return Layout(
        dialect,
        *names[:4],
        names.rows,
        column,
        kinds or "n" * dialect.columns,
        first,
        rows,
        left_out,
        footer,
        twice,
        how,
    )


def _start(lines: Sequence[str], path: str, choices: Choices) -> int:
    """Index of the first line that may be a row."""
    for name, line in (("heading", choices.heading), ("first_row", choices.first_row)):
        if line is not None and line > len(lines):
            found = f"{len(lines)} lines"
            raise refusal(path, found, f"a line {line}, the {name} as chosen", "Choose a line that there is")
    if choices.heading and blank(lines[choices.heading - 1]):
        found = f"{quote(lines[choices.heading - 1])}, an empty line"
        raise refusal(path, found, "names of columns, as chosen", "Choose another heading", choices.heading)
    if choices.first_row is not None:
        if choices.heading is not None and choices.heading >= choices.first_row:
            found = f"first_row {choices.first_row} and heading {choices.heading}"
            raise refusal(path, found, "a heading above the first row", "Choose other lines", choices.heading)
        return choices.first_row - 1
    return choices.heading or 0


def _evidence(
    lines: Sequence[str], path: str, choices: Choices, start: int, thorough: bool
) -> tuple[Evidence, int]:
    """The dialect, and the column in which its rows hold a number or a date."""
    looked_at = lines[start:] if start else lines
    column = 0 if choices.axis_column is None else choices.axis_column - 1
    delimiter, decimal = choices.delimiter, choices.decimal
    if (delimiter, decimal) == (",", ","):
        decimal = None
    evidence = choose(looked_at, thorough=thorough, column=column, delimiter=delimiter, decimal=decimal)
    poor = evidence is None or evidence.dialect.columns < 2 or 2 * evidence.rows < evidence.looked_at
    if poor and choices.axis_column is None:
        for sign, at in _headed(lines):
            if delimiter not in (None, sign):
                continue
            other = choose(looked_at, thorough=thorough, column=at, delimiter=sign, decimal=decimal)
            if other is None or other.dialect.columns < 2:
                continue
            if evidence is None or evidence.dialect.columns < 2 or other.rows > 2 * evidence.rows:
                evidence, column = other, at
    if decimal == "," and delimiter is None and (evidence is None or evidence.dialect.columns < 2):
        other = choose(looked_at, thorough=thorough, column=column, delimiter=",", decimal=".")
        evidence = other or evidence
    if evidence is None:
        raise _no_rows(lines, path, choices, start)
    if choices.first_row is not None and not starts_row(lines[start], evidence.dialect, column):
        raise refusal(
            path,
            quote(lines[start].strip()),
            "the first row of the table, as chosen",
            "Choose another first_row",
            start + 1,
        )
    if (choices.delimiter or choices.axis_column) and evidence.dialect.columns <= max(column, 1):
        raise _no_rows(lines, path, choices, start)
    if (choices.delimiter or choices.decimal) and not evidence.whole:
        free = choose(looked_at, thorough=thorough, column=column)
        if free is not None and free.whole:
            raise _no_rows(lines, path, choices, start)
    return evidence, column


def _no_rows(lines: Sequence[str], path: str, choices: Choices, start: int) -> Exception:
    asked = [
        *([f"{_name(choices.delimiter)} between the columns"] if choices.delimiter else []),
        *([f"a decimal {'comma' if choices.decimal == ',' else 'point'}"] if choices.decimal else []),
        *([f"a number in column {choices.axis_column}"] if choices.axis_column else []),
        *([f"a table from line {choices.first_row} on"] if choices.first_row else []),
    ]
    if not asked:
        begins = next(filter(str.strip, lines), "")
        if _turned(lines):
            found = f"a table that runs across ({quote(begins)})"
            return refusal(path, found, _TABLE, "Turn the table: one row for each wavelength", 1)
        found = f"text without a row of numbers (it begins with {quote(begins)})"
        return refusal(path, found, _TABLE, "Is this the right file, and was the measurement saved with it?")
    usual = choose(lines[start:])
    at = start if usual is None else _first_row(lines, usual.dialect, 0, start)
    at = min(at, len(lines) - 1)
    expected = f"rows with {' and '.join(asked)}, as chosen"
    return refusal(path, quote(lines[at].strip()), expected, "Choose what the file has, or nothing", at + 1)


def _turned(lines: Sequence[str]) -> bool:
    """Whether rows begin with a name and go on with numbers alone."""
    for line in lines[:_LOOKED_AT]:
        for delimiter in DELIMITERS:
            parts = row_fields(line[:_LOOKED_AT], delimiter)[0]
            if len(parts) > 4 and all(NUMBER["."].fullmatch(part) for part in parts[1:4]):
                return not NUMBER["."].fullmatch(parts[0])
    return False


def _name(delimiter: str) -> str:
    return {"blanks": "blanks"}.get(DELIMITERS[delimiter], f"a {DELIMITERS[delimiter]}")


def _headed(lines: Sequence[str]) -> list[tuple[str, int]]:
    """Delimiters by which a line names an axis above a row that holds a number or a date there."""
    found: list[tuple[str, int]] = []
    for i, line in enumerate(lines[:_MOST_LINES]):
        if not may_name_an_axis(line):
            continue
        for delimiter in DELIMITERS:
            if delimiter not in line.strip() or delimiter in [sign for sign, _ in found]:
                continue
            cells = loose_names(line) if delimiter == " " else row_fields(line, delimiter)[0]
            at = axis_index(cells) if 1 < len(cells) < _MOST_COLUMNS else None
            if at is None or ":" in cells[at] or "=" in cells[at]:
                continue
            for below in lines[i + 1 : i + 5]:
                parts = row_fields(below, delimiter)[0]
                if len(parts) > at and (
                    dated(parts[at]) or any(NUMBER[sign].fullmatch(parts[at]) for sign in ".,")
                ):
                    found.append((delimiter, at))
                    break
    return found


def _first_row(lines: Sequence[str], dialect: Dialect, column: int, start: int) -> int:
    """Index of the first row that is whole, or else of the first that has all fields."""
    number = NUMBER[dialect.decimal].fullmatch
    lenient = len(lines)
    for i in range(start, len(lines)):
        if lines[i][:1] == "#":
            continue
        parts, _ = row_fields(lines[i], dialect.delimiter)
        if len(parts) != dialect.columns or not (number(parts[column]) or dated(parts[column])):
            continue
        if all(number(part) for j, part in enumerate(parts) if j != column):
            return i
        lenient = min(i, lenient)
        if column or i > lenient + 1000:  # beside texts no row is whole
            break
    return lenient


def _begin(
    lines: Sequence[str], dialect: Dialect, names: ColumnNames, column: int, whole: int, choices: Choices
) -> int:
    """Index of the first row, whole or not: a faulty row must not pass for header."""
    if choices.first_row is not None:
        return choices.first_row - 1
    if names.heading is not None and (choices.heading or axis_index(names.names) is not None):
        return names.heading + 1
    begin = whole
    for i in range(whole - 1, -1, -1):
        if starts_row(lines[i], dialect, column):
            begin = i
        elif not blank(lines[i]):
            break
    return begin


def _comma_twice(
    lines: Sequence[str],
    path: str,
    rows: Sequence[int],
    dialect: Dialect,
    names: ColumnNames,
    choices: Choices,
) -> bool:
    count = len(names.names)
    if count == dialect.columns and choices.decimal is None:
        return False
    chosen = choices.decimal == ","
    answer = comma_twice([lines[i] for i in rows], dialect.columns, dialect.columns // 2 if chosen else count)
    if answer is None:
        raise refusal(
            path,
            f"{quote(lines[rows[0]])}, in which the comma may be delimiter, or delimiter and decimal sign",
            "one way to read it",
            f"Name the {dialect.columns} (or {dialect.columns // 2}) columns in a header row,"
            " save the file with semicolons between the columns, or choose the decimal sign on reading",
            rows[0] + 1,
        )
    if chosen and not answer:
        found = quote(lines[rows[0]])
        expected = "pairs of whole numbers, the comma being the decimal sign as well, as chosen"
        raise refusal(path, found, expected, "Choose what the file has, or nothing", rows[0] + 1)
    return answer


def _fitted(
    lines: Sequence[str], path: str, rows: Sequence[int], dialect: Dialect, names: ColumnNames
) -> tuple[Dialect, ColumnNames]:
    """As many names as columns; columns of text that are mostly empty count as columns."""
    further = names.names[dialect.columns :]
    if further and dialect.delimiter != " " and all(map(may_be_text, further)):
        widest = max((len(row_fields(lines[i], dialect.delimiter)[0]) for i in rows), default=0)
        columns = min(max(widest, dialect.columns), len(names.names))
        if columns > dialect.columns or not dialect.padding:
            columns = len(names.names) if not dialect.padding else columns
            padding = max(0, dialect.columns + dialect.padding - columns)
            dialect = dialect._replace(columns=columns, padding=padding)
    if dialect.columns < len(names.names) <= dialect.columns + dialect.padding:
        names = names._replace(
            names=names.names[: dialect.columns]
        )  # the others are empty from top to bottom
    if names.heading is None or len(names.names) == dialect.columns:
        return dialect, names
    if dialect.delimiter != " ":
        raise refusal(
            path,
            f"{len(names.names)} column names above rows of {dialect.columns} fields",
            "as many names as columns",
            "Name every column"
            + ("; if the comma is the decimal sign, save with semicolons" * (dialect.delimiter == ",")),
            names.heading + 1,
        )
    one = loose_names(lines[names.heading])[0]
    return dialect, names._replace(names=(one, *[""] * (dialect.columns - 1)))


def _rows(
    lines: Sequence[str], first: int, dialect: Dialect
) -> tuple[tuple[int, ...] | range, tuple[int, ...], tuple[int, ...]]:
    """Indices of the rows from the first one on, of comments between them and of lines behind them."""
    end = len(lines)
    footer: list[int] = []
    while end > first:
        line = lines[end - 1]
        if _FOOTER.fullmatch(line) and len(row_fields(line, dialect.delimiter)[0]) < dialect.columns:
            footer.insert(0, end - 1)
        elif not blank(line):
            break
        end -= 1
    signs = {line[:1] for line in lines[first:end]}
    if signs <= _DIGITS:
        return range(first, end), (), tuple(footer)
    rows: list[int] = []
    comments: list[int] = []
    for i in range(first, end):
        if lines[i][:1] in _DIGITS or not (blank(lines[i]) or _COMMENT.match(lines[i])):
            rows.append(i)
        elif not blank(lines[i]):
            comments.append(i)
    if rows and rows[-1] - rows[0] + 1 == len(rows):
        return range(rows[0], rows[-1] + 1), tuple(comments), tuple(footer)
    return tuple(rows), tuple(comments), tuple(footer)


def _spread(rows: Sequence[int]) -> list[int]:
    """The first rows, and some from all over the table."""
    return [*rows[:3], *rows[3 :: max(1, len(rows) // 16)]]


def _how(evidence: Evidence, names: ColumnNames, choices: Choices, twice: bool) -> dict[str, str]:
    (delimiter, decimal, columns, _), rows, _, signed, looked_at = evidence
    separator = "comma, which is the decimal sign as well" if twice else DELIMITERS[delimiter]
    count = f"{rows} of {looked_at} lines looked at"
    between = f"{columns} fields in {count}"
    sign = f"in {signed} of {rows} rows looked at" if signed else f"none in {rows} rows looked at"
    if twice:
        between, sign = "pairs of whole numbers in all rows", "in all rows"
    point = "comma" if decimal == "," or twice else "point"
    named = [str(i + 1) for i in names.rows]
    at = f"line{'s' * (len(named) > 1)} {', '.join(named)}" if named else "none"
    return {
        "delimiter": f"{separator} ({'as chosen' if choices.delimiter else between})",
        "decimal sign": f"{point} ({'as chosen' if choices.decimal else sign})",
        "column names": f"{at} ({names.how})",
        "first row": ", as chosen" if choices.first_row else "",
    }
