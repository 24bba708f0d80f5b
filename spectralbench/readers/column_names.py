"""The rows above a table that name its columns: names, units and labels, in one row or in several."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from spectralbench.readers.dialect import NUMBER, Dialect, blank, dated, row_fields
from spectralbench.readers.headings import axis, normal, split_units
from spectralbench.readers.other_scales import scale_of, scale_of_unit
from spectralbench.readers.vocabulary import AXES, NUMBERED, X_AXIS

AXIS_ORDER = ("wavelength", "hours", "time", "position")  # which of several axes counts
_SIGNS = re.compile(r"(?:\s|[#;!*$]|//|--|%(?!\s?[TR]\b)|'(?!.*')){0,99}")  # that open a line of a header
_WITH_BRACKETS = re.compile(r'(?:"[^"]*"|\[[^\]]*\]|\([^)]*\)|\s+(?=[\[(])|\S)+')
_LONGEST, _LONGEST_LOOSE = 100_000, 1_000  # characters of a heading; a longer line is none
_WORD = re.compile(r"[^\W_]+")
_KEYED = re.compile(r"[:=]")
_BEGINNING = re.compile(r"[^\[(:=]{1,60}(?:\[[^\]]*\]|\([^)]*\))")  # a name with its unit in brackets
_BRACKETED = re.compile(r"\[[^\]]*\]|\([^)]*\)")
_FIRST_WORDS = frozenset(_WORD.findall(alias)[0] for aliases in AXES.values() for alias in aliases)
_FEW = 3  # words that name a column, rather than begin a sentence
_BANDS = (200.0, 1600.0)  # nm; numbers that may name a band
RULE = re.compile(r"[\s;,|+]*+(?:[-=_*~]{3,}+[\s;,|+]*+)+")


class ColumnNames(NamedTuple):
    """What the rows above a table call its columns."""

    heading: int | None = None  # index of the line with the names
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()  # of a row of their own
    labels: tuple[str, ...] = ()  # of a row that sets columns of one name apart
    rows: tuple[int, ...] = ()  # indices of all these lines
    how: str = "no line names the columns"


def starts_row(line: str, dialect: Dialect, column: int = 0) -> bool:
    """Tell whether a line holds a number or a date where the axis stands.

    Examples
    --------
    >>> starts_row("A;10;0,5", Dialect(";", ",", 3, 0), 1)
    True
    """
    parts, _ = row_fields(line, dialect.delimiter)
    if len(parts) <= column:
        return False
    return bool(NUMBER[dialect.decimal].fullmatch(parts[column])) or dated(parts[column])


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


def column_names(
    lines: Sequence[str], header: Sequence[int], dialect: Dialect, chosen: int | None = None
) -> ColumnNames:
    """Find the line that names the columns: the last one with an axis in it, or else the last of all.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    header : sequence of int
        Indices of the lines above the first whole row that are neither blank nor rows.
    dialect : Dialect
        How the rows are written.
    chosen : int, optional
        The line that the caller names, from 1; 0 if there is none.

    Returns
    -------
    ColumnNames
        As many names as the line has, which may be other than the columns of the table.

    Examples
    --------
    >>> column_names(["wavelength;counts", "365;1"], [0], Dialect(";", ".", 2, 0)).names
    ('wavelength', 'counts')
    """
    if chosen == 0:
        return ColumnNames(how="none, as chosen")
    if chosen is not None:
        names = names_in(lines[chosen - 1], dialect)
        return ColumnNames(chosen - 1, names, rows=(chosen - 1,), how="as chosen")
    for at in range(len(header) - 1, -1, -1):
        cells = _candidate(lines[header[at]], dialect)
        if not cells and at == len(header) - 1 and not _named_above(lines, header[:at], dialect):
            cells = _with_numbers(lines, header[at], dialect)
        where = axis_index(cells)
        if where is None or (
            where and not dialect.columns <= len(cells) <= dialect.columns + dialect.padding + 1
        ):
            continue
        found = header[at]
        if normal(cells[where]) == "nm" and at:  # a row of units begins with nm as well
            above = _candidate(lines[header[at - 1]], dialect)
            if axis_index(above) is not None:
                found, cells = header[at - 1], above
        return ColumnNames(found, cells, rows=(found,), how="it names an axis")
    for last in [i for i in reversed(header) if not RULE.fullmatch(lines[i])][:1]:
        if len(lines[last]) <= _LONGEST and (cells := _last_resort(lines[last], dialect)):
            return ColumnNames(last, cells, rows=(last,), how="the last line before the table")
    return ColumnNames()


def _last_resort(line: str, dialect: Dialect) -> tuple[str, ...]:
    """The cells of the last line before a table that names no axis, if they could be names of columns.

    Prose has blanks as well, and a key stands beside its value: between blanks and with other cells than
    the table, the first cell has to name another scale in few words, or a cell its unit in brackets.
    """
    text = unsigned(line)
    cells = tuple(row_fields(text, dialect.delimiter)[0])
    by_blanks = dialect.delimiter == " "
    if _KEYED.search(_BRACKETED.sub("", text)):
        return ()
    if by_blanks or len(cells) != dialect.columns:
        alone = cells and not any(cells[1:]) and dialect.delimiter in text
        if alone and not by_blanks and scale_of(cells[0]) and _is_short(cells[0]):
            return (cells[0], *[""] * (dialect.columns - 1))  # a row of units, such as "cm-1,"
        match = _BEGINNING.match(text)
        if match and scale_of_unit(split_units(match[0])[1] or "") not in ("", "position"):
            return (match[0], *[""] * (dialect.columns - 1))
        cells, by_blanks = names_in(line, dialect), True
    if len(cells) != dialect.columns:
        return ()
    scale = scale_of(cells[0])
    if by_blanks and not all(map(_is_short, cells)):
        return ()
    if (
        by_blanks
        and scale == "difference"
        and not _BRACKETED.search(cells[0])
        and "raman" not in cells[0].lower()
    ):
        return ()
    if scale and normal(cells[0]).split()[0] not in NUMBERED:
        labelled = len(cells) > 2 or scale == "wavenumber"  # else a key with its value
        return cells if labelled or not _holds_value(cells, dialect) else ()
    bracketed = any(cell[-1:] in ("]", ")") for cell in cells)
    return cells if _could_be_names(cells, dialect) and (bracketed or not by_blanks) else ()


def _is_short(cell: str) -> bool:
    """Whether a text has as few words as a name, rather than a sentence."""
    return len(normal(split_units(cell)[0]).split()) <= _FEW


def axis_index(names: Sequence[str], chosen: str | None = None) -> int | None:
    """Index of the column that is the axis of a table; None if no name says so.

    A log may hold several axes: hours stand above time, and time above position, unless one of
    them is chosen.

    Examples
    --------
    >>> axis_index(["pixel", "wavelength [nm]", "counts"]), axis_index(["x", "y"])
    (1, None)
    """
    kinds = [axis(name)[0] for name in names]
    return next((kinds.index(kind) for kind in (chosen, *AXIS_ORDER) if kind in kinds), None)


def may_name_an_axis(line: str) -> bool:
    """Tell cheaply whether a line could be a heading with an axis in it.

    Examples
    --------
    >>> may_name_an_axis("pixel;wavelength_nm"), may_name_an_axis("lamp: a"), may_name_an_axis("a note")
    (True, False, False)
    """
    if len(line) > _LONGEST:
        return False
    return not _FIRST_WORDS.isdisjoint(_WORD.findall(line.casefold()))


def _candidate(line: str, dialect: Dialect) -> tuple[str, ...]:
    """The cells of a line that may be a heading; none if it cannot be one."""
    if not may_name_an_axis(line):
        return ()
    if _KEYED.search(line):
        return _names_with_keys(unsigned(line), dialect)
    cells = names_in(line, dialect)
    is_key = len(cells) == 2 and normal(cells[0]) in X_AXIS
    return cells if _could_be_names(cells, dialect) and not is_key else ()


def _names_with_keys(text: str, dialect: Dialect) -> tuple[str, ...]:
    """The cells of a heading with a colon or an equals sign in it, such as ``U (k=2)``.

    It has as many fields as the rows, and the one that names the axis stands for itself: otherwise
    it is a key with its value.
    """
    ways = [row_fields(text, sign)[0] for sign in dict.fromkeys((dialect.delimiter, *"\t;,")) if sign != " "]
    if len(text) <= _LONGEST_LOOSE:
        ways.append(re.split(r"\t|\s\s+", text.strip()))
    if len(text) <= _LONGEST_LOOSE and not _KEYED.search(_BRACKETED.sub("", text)):
        ways.append(_WITH_BRACKETS.findall(text))
    for cells in ways:
        where = axis_index(cells) if len(cells) == dialect.columns > 1 else None
        if where is not None and not _KEYED.search(cells[where]):
            alone = any(cell[:1] in (":", "=") or cell[-1:] in (":", "=") for cell in cells)
            return () if alone or _holds_value(cells, dialect) else tuple(cells)
    return ()


def _could_be_names(cells: Sequence[str], dialect: Dialect) -> bool:
    """Whether these could be names of columns: no values, and neither key nor value."""
    if len(cells) < 2 or not (cells[0] or len(cells) > 2):
        return False
    return not any(map(_KEYED.search, cells)) and not _holds_value(cells, dialect)


def _with_numbers(lines: Sequence[str], index: int, dialect: Dialect) -> tuple[str, ...]:
    """The cells of a line right above the table that names an axis, and other columns by numbers.

    A word and a number may as well be a key with its value, such as ``wavelength,405``; and numbers beside
    a time belong to the columns of spectra, such as ``time [s],0,10``, unless they can name bands.
    """
    cells = tuple(row_fields(unsigned(lines[index]), dialect.delimiter)[0])
    where = axis_index(cells) if len(cells) == dialect.columns else None
    if where is None or not _holds_value(cells, dialect):
        return ()
    kind, units = axis(cells[where])
    below = next((line for line in lines[index + 1 : index + 50] if not blank(line)), "")
    first = row_fields(below, dialect.delimiter)[0]
    if kind == "wavelength":
        named = (len(cells) > 2 or units is not None) and len(first) > where and not dated(first[where])
        return cells if named else ()
    number = NUMBER[dialect.decimal].fullmatch
    others = [cell for i, cell in enumerate(cells) if i != where]
    bands = [float(cell.replace(",", ".")) for cell in others if number(cell)]
    named = len(bands) == len(others) > 1 and bands == sorted(set(bands))
    return cells if named and _BANDS[0] <= bands[0] and bands[-1] <= _BANDS[1] else ()


def _named_above(lines: Sequence[str], header: Sequence[int], dialect: Dialect) -> bool:
    """Whether another line names an axis, by words alone."""
    return any(axis_index(_candidate(lines[i], dialect)) is not None for i in header)


def _holds_value(cells: Sequence[str], dialect: Dialect) -> bool:
    number = NUMBER[dialect.decimal].fullmatch
    return any(number(cell) or dated(cell) for cell in cells)


def names_in(line: str, dialect: Dialect) -> tuple[str, ...]:
    """The names in a heading, which may be separated in another way than the numbers are.

    Examples
    --------
    >>> names_in("# wavelength [nm], counts [1]", Dialect(" ", ".", 2, 0))
    ('wavelength [nm]', 'counts [1]')
    """
    text = unsigned(line) if line.lstrip()[:1] != dialect.delimiter else line
    first, _ = row_fields(text, dialect.delimiter)
    if len(first) == dialect.columns or len(text) > _LONGEST_LOOSE:
        return tuple(first)
    if dialect.delimiter == " " or sign(line):
        loose = _WITH_BRACKETS.findall(text)
        ways = [row_fields(text, ",")[0]] if any(cell.endswith(",") for cell in loose) else [loose]
        ways += [loose, re.split(r"\t|\s\s+", text.strip())]
        ways += [row_fields(text, other)[0] for other in "\t;,"]
        ways += [text.split(None, 1)] * (dialect.columns == 2)
        for way in ways:
            if len(way) == dialect.columns:
                return tuple(part.strip('" ') for part in way)
    return tuple(first)


def loose_names(line: str) -> list[str]:
    """The names in a heading that is written with blanks, brackets kept whole.

    Examples
    --------
    >>> loose_names("# time [s] UV A meter")
    ['time [s]', 'UV', 'A', 'meter']
    """
    return _WITH_BRACKETS.findall(unsigned(line))
