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
    loose_names,
    starts_row,
)
from spectralbench.readers.dialect import (
    DELIMITERS,
    Dialect,
    Evidence,
    blank,
    comma_twice,
    row_fields,
)
from spectralbench.readers.evidence import MOST_COLUMNS, MOST_LINES, TABLE, evidence_for, first_row
from spectralbench.readers.heading_rows import further_rows
from spectralbench.readers.kinds import column_kinds, may_be_text
from spectralbench.readers.on_disk import refusal

_COMMENT = re.compile(r"\s*(?:#(?!#)|%|!|//)")  # inside a table, where #### is an overload
_FOOTER = re.compile(r"\s*(?:>{2,}|<{2,}|={3,}|-{3,}|\*{3,}|~{3,}|_{3,})[^\d]*")
_DIGITS = frozenset("0123456789")


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
    evidence, column = evidence_for(lines, path, choices, start, thorough)
    dialect = evidence.dialect
    whole = start if choices.first_row is not None else first_row(lines, dialect, column, start)
    if dialect.columns < 2:
        found = f"one column only ({quote(lines[whole].strip())})"
        raise refusal(path, found, TABLE, "Put wavelength and value into one row", whole + 1)
    header = [
        i
        for i in range(whole)
        if lines[i][:1] == "#" or not (blank(lines[i]) or starts_row(lines[i], dialect, column))
    ]
    if len(header) > MOST_LINES or dialect.columns > MOST_COLUMNS:
        found = f"{len(header)} lines of header and {dialect.columns} columns"
        expected = f"at most {MOST_LINES} lines of header and {MOST_COLUMNS} columns"
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
