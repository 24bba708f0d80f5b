"""Files written like one that was read before: what was found out there holds here as well.

A series of frames differs in its counts, and in a line or two of the header. Such a file takes
a tenth of the time, and gives the same as reading it by itself; any other is left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.readers import header
from spectralbench.readers.choices import Choices
from spectralbench.readers.columns import read_columns
from spectralbench.readers.content import Content, as_utf8
from spectralbench.readers.delimited import Parts, doubtful
from spectralbench.readers.description import joined
from spectralbench.readers.dialect import Dialect
from spectralbench.readers.headings import normal
from spectralbench.readers.last_number import cut_short, is_shorter
from spectralbench.readers.numbers import regular
from spectralbench.readers.on_disk import Stored
from spectralbench.readers.plain_text import is_key_and_value
from spectralbench.readers.stack import Part, part_of

_WITHOUT_LIMITS = ("counts", "signal", "spectral_irradiance", "irradiance", "responsivity", "absorbance")
_BETWEEN = set(",;\t")
_BLANKS = dict.fromkeys(map(ord, "\t\xa0\u202f"), " ")
_DIGITS = str.maketrans("", "", "0123456789.")
_OF_VALUES = ("quantity", "unit", "units")  # keys of a header that say what the columns hold


class Pattern(NamedTuple):
    """A file that was read, as far as others may be like it."""

    parts: Parts
    like: Part
    head: list[str]  # lines above the table
    free: dict[int, int]  # index of a line whose value may differ, to its place in what was found
    timed: list[int]  # places of those that tell a time
    grid: NDArray[np.float64]  # wavelengths as they stand in the file
    remarks: list[str]  # on the time in its header
    begin: bytes  # all that stands above the table
    kept: str  # the quantity, if its numbers are kept as they stand, whatever they are
    columns: slice | tuple[int, ...]  # of the values


def pattern_of(parts: Parts, dataset: xr.Dataset, content: Content) -> Pattern | None:
    """What other files may be like; None if the file is not of the simplest kind.

    Parameters
    ----------
    parts : Parts
        What was found in the file.
    dataset : xarray.Dataset
        What came of it.
    content : Content
        The file.

    Returns
    -------
    Pattern or None
        None unless it is a table of wavelengths and values, from its heading to the end.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> from spectralbench.readers.delimited import put_together, take_apart
    >>> content = load("reference_curves/actinic.csv")
    >>> parts = take_apart(content, Choices())
    >>> pattern_of(parts, put_together(parts, content), content).grid[:2].tolist()
    [200.0, 205.0]
    """
    layout, roles = parts.layout, parts.roles
    simple = (
        parts.axis.name == "wavelength"
        and set(layout.kinds) == {"n"}
        and isinstance(layout.rows, range)
        and len(layout.rows) == len(parts.table.lines)  # no row was left out
        and not (layout.left_out or layout.footer or layout.comma_twice or roles.pairs or roles.beside)
        and layout.rows.start == layout.first
        and not content.guessed
        and '"' not in content.text
        and all(map(_printable, parts.lines[: layout.first]))
        and not np.isnan(parts.table.values).any()
        and not cut_short(parts.lines, layout)
    )
    if not simple:
        return None
    grid = parts.table.values[:, roles.column]
    return Pattern(
        parts,
        part_of(content.path, dataset),
        list(parts.lines[: layout.first]),
        {e.line - 1: i for i, e in enumerate(parts.found) if normal(e.key) not in _OF_VALUES},
        [i for i, e in enumerate(parts.found) if header.tells_time(e.key)],
        grid,
        header.time(parts.found)[1],
        "".join(f"{line}\n" for line in parts.lines[: layout.first]).encode(errors="replace"),
        _kept(parts),
        _side_by_side(roles.values),
    )


def _kept(parts: Parts) -> str:
    """The quantity of a file that needs no conversion and has no limits; empty if there are more."""
    columns, roles = parts.columns, parts.roles
    if len(columns.values) > 1 or columns.history or columns.faults:
        return ""
    ((name, values),) = columns.values.items()
    kept = name in _WITHOUT_LIMITS and np.array_equal(values, parts.table.values[:, roles.values].T)
    return name if kept else ""


def _side_by_side(columns: tuple[int, ...]) -> slice | tuple[int, ...]:
    """Columns as a slice, if they are one: taking others out copies them."""
    first, last = columns[0], columns[-1]
    return slice(first, last + 1) if columns == tuple(range(first, last + 1)) else columns


def read_alike(file: Stored, pattern: Pattern, choices: Choices) -> Part | None:
    """Read a file that is written like another one.

    Parameters
    ----------
    file : Stored
        The file.
    pattern : Pattern
        The other one.
    choices : Choices
        What the caller says of both.

    Returns
    -------
    Part or None
        None if it is not like it in every respect; then it may still be a good file.

    Examples
    --------
    >>> from spectralbench.readers.content import as_text
    >>> from spectralbench.readers.delimited import put_together, take_apart
    >>> from spectralbench.readers.on_disk import stored
    >>> content = as_text(file := stored("reference_curves/actinic.csv"))
    >>> parts = take_apart(content, Choices())
    >>> pattern = pattern_of(parts, put_together(parts, content), content)
    >>> read_alike(file, pattern, Choices()).path
    'reference_curves/actinic.csv'
    """
    layout, roles = pattern.parts.layout, pattern.parts.roles
    data = as_utf8(file, choices.encoding)
    found = pattern.parts.found
    begin = len(pattern.begin)
    if not data.startswith(pattern.begin):
        begin = _end_of(data, layout.first)
        found = _found_in(data[:begin].decode(errors="replace").split("\n")[:-1], pattern)
        if not found:
            return None
    body = data[begin:].rstrip(b"\n")
    if not _divided_alike(body, layout.dialect) or (
        len(body) + begin == len(data) and _ends_early(body, layout.dialect)
    ):
        return None
    table = regular(body, layout.dialect)
    if table is None or not np.array_equal(table[:, roles.column], pattern.grid):
        return None
    if _may_be_thousands(body, layout.dialect, roles.column):
        rows = body.decode().split("\n")
        if doubtful(rows, range(len(rows)), layout, pattern.parts.headings, choices):
            return None
    told = pattern.parts.columns
    step = slice(None, None, -1 if pattern.parts.axis.descending else 1)
    values: dict[str, NDArray[Any]]
    if pattern.kept:
        values = {pattern.kept: table[step, pattern.columns].T}
    else:
        line = None if layout.heading is None else layout.heading + 1
        told = read_columns(table, pattern.parts.headings, choices, line)
        values = {name: array[:, step] for name, array in told.values.items()}
    if told.faults or told.warnings != pattern.parts.columns.warnings:
        return None
    part = pattern.like._replace(path=file.path, name=file.name, sha256=file.sha256, values=values)
    return part if found is pattern.parts.found else _with_head(part, found, pattern)


def _with_head(part: Part, found: Sequence[header.Entry], pattern: Pattern) -> Part | None:
    """The same file with what its own header states."""
    scalars = part.scalars
    if any(found[i] != pattern.parts.found[i] for i in pattern.timed):
        decimal, along = pattern.parts.layout.dialect.decimal, pattern.parts.axis.name
        integration_time, faults = header.integration_time(found, decimal, along)
        time, remarks = header.time(found)
        if faults or remarks != pattern.remarks:
            return None
        told = header.stated(integration_time, time)
        scalars = {name: one[1] if isinstance(one, tuple) else one for name, one in told.items()}
    return part._replace(scalars=scalars, header=joined((entry.key, entry.value) for entry in found))


def _end_of(data: bytes, lines: int) -> int:
    """Where the first lines end."""
    at = 0
    for _ in range(lines):
        at = data.find(b"\n", at) + 1
        if not at:
            break
    return at


def _found_in(lines: list[str], pattern: Pattern) -> list[header.Entry]:
    """What stands above the table; nothing if it differs in more than values of the header."""
    found = list(pattern.parts.found)
    if len(lines) != len(pattern.head):
        return []
    for i, (line, other) in enumerate(zip(lines, pattern.head, strict=True)):
        if line != other:
            place = pattern.free.get(i)
            entry = header.entry(i, line, pattern.parts.layout.dialect.delimiter)
            if place is None or entry is None or entry.key != found[place].key:
                return []
            if not _as_usual(line, other, entry.key):
                return []
            found[place] = entry
    return found


def _as_usual(line: str, other: str, key: str) -> bool:
    """Whether nothing in a line makes another layout of the file: a quotation mark, what is no letter.

    A comma or another sign between fields makes it a row or a heading, by what else stands there.
    """
    end = other.find(key) + len(key)
    if line[:end] != other[:end] or not _printable(line) or is_key_and_value(line) != is_key_and_value(other):
        return False
    return not _BETWEEN & set(line + other) or line.translate(_DIGITS) == other.translate(_DIGITS)


def _printable(line: str) -> bool:
    """Whether a line holds letters, signs and blanks, but no quotation mark and no letter that was lost."""
    return line.translate(_BLANKS).isprintable() and '"' not in line and "\ufffd" not in line


def _divided_alike(body: bytes, dialect: Dialect) -> bool:
    """Whether nothing in the rows speaks for another sign between fields, or another decimal sign."""
    if dialect.delimiter == " " and b"\t" in body:
        return False
    return dialect.decimal == "." or b"," in body


def _ends_early(body: bytes, dialect: Dialect) -> bool:
    """Whether the last number is shorter than the one above it, as one is that was cut off."""
    *_, above, last = (b"\n" + body).rsplit(b"\n", 2)
    between = None if dialect.delimiter == " " else dialect.delimiter
    cells = [row.decode(errors="replace").split(between) for row in (above, last)]
    return all(cells) and is_shorter(cells[1][-1].strip(), cells[0][-1].strip(), dialect.decimal)


def _may_be_thousands(body: bytes, dialect: Dialect, axis: int) -> bool:
    """Whether the decimal sign could separate thousands; not if the axis has it from the first row on."""
    sign = dialect.decimal.encode()
    if sign not in body:
        return False
    between = None if dialect.delimiter == " " else dialect.delimiter.encode()
    return sign not in body[: body.find(b"\n")].split(between)[axis]
