"""What speaks for a way of writing rows: which signs part them, and where their axis stands."""

from __future__ import annotations

from collections.abc import Sequence

from spectralbench.errors import quote
from spectralbench.readers.choices import Choices
from spectralbench.readers.column_names import axis_index, loose_names, may_name_an_axis, starts_row
from spectralbench.readers.dialect import DELIMITERS, NUMBER, Dialect, Evidence, choose, dated, row_fields
from spectralbench.readers.on_disk import refusal

TABLE = "a table of numbers: wavelength (or time, or hours) and one or more columns of values"
MOST_LINES, MOST_COLUMNS = 20_000, 10_000  # beyond them it is something else than a table of spectra
_LOOKED_AT = 200  # lines, and characters of a line


def evidence_for(
    lines: Sequence[str], path: str, choices: Choices, start: int, thorough: bool
) -> tuple[Evidence, int]:
    """Weigh in which way the rows of a file are written, and where their axis stands.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    path : str
        The file, for messages.
    choices : Choices
        What the caller says of it.
    start : int
        Index of the first line that may be a row.
    thorough : bool
        Whether to look at many lines, instead of a sample.

    Returns
    -------
    tuple of Evidence and int
        The dialect and what speaks for it; the column in which its rows hold a number or a date.

    Raises
    ------
    ReadError
        If there is no such row, or none as chosen.

    Examples
    --------
    >>> evidence_for(["sample;wavelength", "a;365", "b;366"], "example.csv", Choices(), 0, False)[1]
    1
    """
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


def first_row(lines: Sequence[str], dialect: Dialect, column: int, start: int) -> int:
    """Index of the first row that is whole, or else of the first that has all fields.

    Examples
    --------
    >>> first_row(["wavelength;counts", "365;x", "366;2"], Dialect(";", ".", 2, 0), 0, 0)
    2
    """
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
            return refusal(path, found, TABLE, "Turn the table: one row for each wavelength", 1)
        found = f"text without a row of numbers (it begins with {quote(begins)})"
        return refusal(path, found, TABLE, "Is this the right file, and was the measurement saved with it?")
    usual = choose(lines[start:])
    at = start if usual is None else first_row(lines, usual.dialect, 0, start)
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
    for i, line in enumerate(lines[:MOST_LINES]):
        if not may_name_an_axis(line):
            continue
        for delimiter in DELIMITERS:
            if delimiter not in line.strip() or delimiter in [sign for sign, _ in found]:
                continue
            cells = loose_names(line) if delimiter == " " else row_fields(line, delimiter)[0]
            at = axis_index(cells) if 1 < len(cells) < MOST_COLUMNS else None
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
