"""The rows next to the one that names the columns: units, the rest of the names, labels."""

from __future__ import annotations

from collections.abc import Sequence

from spectralbench.model import QUANTITIES
from spectralbench.readers.column_names import RULE, ColumnNames, names_in, starts_row, unsigned
from spectralbench.readers.dialect import NUMBER, Dialect, blank, fields
from spectralbench.readers.headings import axis, clean, heading, is_unit, measures, normal
from spectralbench.readers.vocabulary import LABELLING, UNIT_WORDS

_MOST_ROWS = 4  # of a heading


def further_rows(
    lines: Sequence[str], found: ColumnNames, dialect: Dialect, column: int, end: int
) -> ColumnNames:
    """Take up the rows next to the one with the names: units, the rest of the names, labels.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    found : ColumnNames
        The row with the names, as many as the table has columns.
    dialect : Dialect
        How the rows are written.
    column : int
        Index of the axis.
    end : int
        Index of the first whole row: below it there is no heading.

    Returns
    -------
    ColumnNames
        With the names completed.

    Examples
    --------
    >>> lines = ["wavelength;counts;counts", "nm;;", ";lamp;dark", "365;2;1"]
    >>> names = ColumnNames(0, ("wavelength", "counts", "counts"), rows=(0,))
    >>> further_rows(lines, names, Dialect(";", ".", 3, 0), 0, 3)[2:5]
    (('nm', '', ''), ('', 'lamp', 'dark'), (0, 1, 2))
    """
    if found.heading is None:
        return found
    names, units, labels = list(found.names), [""] * dialect.columns, [""] * dialect.columns
    rows = [found.heading]
    for i in range(found.heading + 1, min(end, found.heading + 50)):
        if blank(lines[i]):
            continue
        if len(rows) > _MOST_ROWS or starts_row(lines[i], dialect, column):
            break
        if RULE.fullmatch(lines[i]):
            rows.append(i)
            continue
        cells = _beside(lines[i], dialect)
        if cells is None or not _belongs(cells, names, dialect, column):
            break
        rows.append(i)
        for j, cell in enumerate(cells):
            bare = cell.strip("[]() ")
            if j == column and normal(cell) in (*LABELLING, *UNIT_WORDS):
                continue
            bracketed = cell[:1] in ("[", "(") and cell[-1] in "])"
            if cell and (bracketed or _is_unit_of(bare, names[j], cells[column])):
                units[j] = bare
            elif cell and _goes_on(names[j], cell):
                names[j] = f"{names[j]} {cell}".strip()
            elif cell and normal(cells[column]) not in ("", *LABELLING) and not units[j]:
                units[j] = bare  # stands where units stand, and is none
            elif cell:
                labels[j] = cell
    above = next((i for i in range(found.heading - 1, -1, -1) if not blank(lines[i])), None)
    if above is not None and not any(labels):
        cells = _beside(lines[above], dialect)
        if cells is not None and _labels_above(cells, names, dialect, column):
            rows.insert(0, above)
            last = ""
            for j, cell in enumerate(cells):
                last = cell or last  # a cell that spans several columns stands in the first of them
                labels[j] = last if j != column or axis(names[j])[0] == "wavelength" else ""
            labels[column] = ""
    return found._replace(
        names=tuple(names),
        units=tuple(units) if any(units) else (),
        labels=tuple(labels) if any(labels) else (),
        rows=tuple(rows),
    )


def _beside(line: str, dialect: Dialect) -> list[str] | None:
    """The cells of a further row of the heading, empty ones kept; None if it has others than the table."""
    text = unsigned(line) if dialect.delimiter == " " or line.lstrip()[:1] in "#%!'*$/" else line
    cells = fields(text, dialect.delimiter)
    while len(cells) > dialect.columns and not cells[-1]:
        cells.pop()
    if len(cells) != dialect.columns:
        named = names_in(line, dialect)
        return list(named) if len(named) == dialect.columns else None
    return cells


def _belongs(cells: Sequence[str], names: Sequence[str], dialect: Dialect, column: int) -> bool:
    """Whether a row below the names goes on with them, rather than being a faulty row of the table."""
    where = cells[column]
    number = NUMBER[dialect.decimal].fullmatch
    if normal(where) in (*LABELLING, *UNIT_WORDS):
        return True
    if any(number(cell) for cell in cells if cell not in ("1", "")):
        return False
    if where and not is_unit(where.strip("[]() ")) and not _goes_on(names[column], where):
        return False
    return bool(where) or (any(cells) and "1" not in cells)


def _is_unit_of(cell: str, name: str, where: str) -> bool:
    """Whether a cell below a name is its unit, rather than a label that looks like one (A, B, C)."""
    if not is_unit(cell):
        return False
    told = heading(f"{name} [{cell}]")
    if where and normal(where) not in LABELLING:
        return True  # a unit stands below the axis too
    if heading(name).units is not None or not told.quantity or not measures(cell, told.quantity):
        return False
    return QUANTITIES[told.quantity].units != "1" or clean(cell) in ("1", "%")


def _goes_on(name: str, cell: str) -> bool:
    """Whether a cell is the rest of the name above it."""
    whole = heading(f"{name} {cell}")
    return (whole.units is not None and heading(name).units is None) or (
        not heading(name).quantity and not axis(name)[0]
    )


def _labels_above(cells: Sequence[str], names: Sequence[str], dialect: Dialect, column: int) -> bool:
    where = cells[column]
    others = [cell for i, cell in enumerate(cells) if i != column]
    if not any(others) or any(":" in cell or "=" in cell for cell in cells):
        return False
    pairs = dialect.columns > 2 and all(axis(name)[0] == "wavelength" for name in names[::2])
    if pairs:
        count = sum(map(bool, cells))
        return count == len(cells) // 2 and (all(cells[::2]) or all(cells[1::2]))
    if not where:
        return not any(NUMBER[dialect.decimal].fullmatch(cell) for cell in others)
    return normal(where) in LABELLING and dialect.columns > 2 and all(others)
