"""The order of a table along its axis: which way it runs, what repeats, where another table begins."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.column_names import axis_index, names_in, starts_row
from spectralbench.readers.dialect import NUMBER, Dialect, blank, row_fields
from spectralbench.readers.evidence import TABLE
from spectralbench.readers.layout import Layout
from spectralbench.readers.table import Table

_LISTED = 50  # faults of order that are listed
_SHOWN = 10  # further tables that a message names
_LIGHT = (100.0, 20_000.0)  # nm


class Order(NamedTuple):
    """Which way an axis runs, and what is wrong with it."""

    descending: bool
    faults: list[Fault]


def beginnings(lines: Sequence[str], layout: Layout) -> list[int]:
    """Lines, from 1, at which further tables begin: a second heading, or rows of another width.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    layout : Layout
        How its first table is laid out.

    Returns
    -------
    list of int
        Empty if there is one table.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> lines = ["wavelength;counts", "365;1", "366;2", "wavelength;counts", "365;3", "366;4"]
    >>> beginnings(lines, lay_out(lines, "example.csv"))
    [4]
    """
    found: list[int] = []
    dialect, column = layout.dialect, layout.column
    was_blank, rows, width = False, 0, dialect.columns
    for i in range(layout.first, len(lines)):
        if blank(lines[i]):
            was_blank = True
            continue
        if starts_row(lines[i], dialect, column):
            count = len(row_fields(lines[i], dialect.delimiter)[0])
            alike = i + 1 < len(lines) and len(row_fields(lines[i + 1], dialect.delimiter)[0]) == count
            other = was_blank and rows > 1 and alike and not width <= count <= width + dialect.padding
            if other and starts_row(lines[i + 1], dialect, column):
                found.append(i + 1)
                width = count
            rows += 1
        elif rows and ":" not in lines[i] and "=" not in lines[i]:
            cells = names_in(lines[i], dialect)
            if len(cells) > 1 and axis_index(cells) is not None:
                found.append(i + 1)
                rows, width = 0, len(cells)
        was_blank = False
    return found


def several_tables(first: int, further: Sequence[int], count: int) -> Fault:
    """The fault of a file that holds several tables.

    Examples
    --------
    >>> several_tables(2, [12, 30], 3).found
    '3 tables, which begin in lines 2, 12 and 30'
    """
    begin = [str(line) for line in (first, *further[:_SHOWN])]
    last = begin.pop() if len(begin) == count else f"{count - len(begin)} more"
    found = f"{count} tables, which begin in lines {', '.join(begin)} and {last}"
    return Fault(found, "one table", "Save each as a file of its own", further[0])


def across(lines: Sequence[str], layout: Layout, table: Table) -> list[Fault]:
    """The fault of a table whose rows are spectra, with the wavelengths in one row above or among them.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> from spectralbench.readers.table import parse
    >>> lines = ["400,401,402,403", "0.1,0.2,0.3,0.4"]
    >>> layout = lay_out(lines, "example.csv")
    >>> across(lines, layout, parse(lines, layout))[0].found
    'a table that runs across ("400,401,402,403")'
    """
    count, columns = table.values.shape
    if not count or columns < 4:
        return []
    row = next(iter(layout.rows))
    above = next((i for i in range(row - 1, -1, -1) if not blank(lines[i])), None)
    places = [] if above is None else [(above, 1), (above, 0)]
    along = table.values[:, layout.column]
    steps = np.diff(along)
    is_axis = bool((along >= _LIGHT[0]).all() and ((steps > 0).all() or (steps < 0).all()))
    if layout.heading is None and count < columns:
        places += [(row, 1), (row, 0)]
    elif is_axis:  # a matrix, of which the numbers above are labels
        places = []
    for i, skipped in places:
        cells = row_fields(lines[i], layout.dialect.delimiter)[0][skipped:]
        if len(cells) + skipped == columns and _are_wavelengths(cells, layout.dialect):
            found = f"a table that runs across ({quote(lines[i].strip())})"
            advice = (
                "Turn the table: one row for each wavelength; if it is so, choose axis=wavelength on reading"
            )
            return [Fault(found, TABLE, advice, i + 1)]
    return []


def _are_wavelengths(cells: Sequence[str], dialect: Dialect) -> bool:
    """Whether the cells of a row run over the nanometres of light, in steps that are nearly alike."""
    if len(cells) < 3 or not all(map(NUMBER[dialect.decimal].fullmatch, cells)):
        return False
    steps = np.diff([float(cell.replace(",", ".")) for cell in cells])
    inside = all(_LIGHT[0] <= float(cell.replace(",", ".")) <= _LIGHT[1] for cell in cells)
    return inside and steps.min() * steps.max() > 0 and max(abs(steps)) <= 3 * min(abs(steps))


def without_repeats(table: Table, column: int) -> tuple[Table, list[str]]:
    """The table without rows that say exactly what an earlier one says.

    Parameters
    ----------
    table : Table
        The cells of the file.
    column : int
        Index of the axis.

    Returns
    -------
    tuple of Table and list of str
        The table, and a warning if rows were left out.

    Examples
    --------
    >>> table = Table(np.array([[365.0, 1.0], [366.0, 2.0], [366.0, 2.0]]), {}, {}, range(2, 5), [])
    >>> without_repeats(table, 0)[1]
    ['rows that say the same as an earlier one were left out: line 4 (as line 3)']
    """
    along = table.values[:, column]
    steps = np.diff(along)
    if (steps > 0).all() or (steps < 0).all():
        return table, []
    if table.faults or np.unique(along).size == along.size:
        return table, []
    against = steps > 0 if (steps < 0).sum() > (steps > 0).sum() else steps < 0
    if _again(along, against).size or _turn(against) is not None:
        return table, []  # another table, or the way back, though it may say the same
    _, first, counts = np.unique(along, return_inverse=True, return_counts=True)
    seen: dict[tuple[object, ...], int] = {}
    kept = np.ones(along.size, bool)
    told: list[str] = []
    for i in map(int, np.flatnonzero(counts[first] > 1)):
        times = (column[i].tobytes() for column in table.times.values())
        row = (table.values[i].tobytes(), *times, *(column[i] for column in table.texts.values()))
        if seen.setdefault(row, i) != i:
            kept[i] = False
            if len(told) < _LISTED:
                told.append(f"line {table.lines[i]} (as line {table.lines[seen[row]]})")
    more = along.size - int(kept.sum()) - len(told)
    if not told:
        return table, []
    told += [f"and {more} more"] * (more > 0)
    at = np.flatnonzero(kept).tolist()
    return (
        Table(
            table.values[kept],
            {j: times[kept] for j, times in table.times.items()},
            {j: [texts[i] for i in at] for j, texts in table.texts.items()},
            [table.lines[i] for i in at],
            table.faults,
        ),
        [f"rows that say the same as an earlier one were left out: {', '.join(told)}"],
    )


def order(
    values: NDArray[np.float64] | NDArray[np.datetime64],
    shown: NDArray[np.float64] | NDArray[np.datetime64],
    lines: Sequence[int],
    kind: str,
    column: int,
) -> Order:
    """Which way an axis runs; what repeats or breaks the order is a fault.

    Parameters
    ----------
    values : numpy.ndarray (rows,)
        The axis in its own unit.
    shown : numpy.ndarray (rows,)
        The same as it stands in the file.
    lines : sequence of int
        The line of each row.
    kind : str
        Name of the axis.
    column : int
        Its column, from 1.

    Returns
    -------
    Order
        Descending if most steps are.

    Examples
    --------
    >>> axis = np.array([365.0, 367.0, 366.0])
    >>> str(order(axis, axis, [1, 2, 3], "wavelength", 1).faults[0].found)
    '366 after 367 (line 2)'
    """
    present = np.flatnonzero(~np.isnat(values) if values.dtype.kind == "M" else np.isfinite(values))
    ordered = values[present]
    with np.errstate(over="ignore"):
        signs = np.sign(np.diff(ordered).astype(float))
    descending = bool((signs < 0).sum() > (signs > 0).sum())
    against = signs > 0 if descending else signs < 0
    repeated = kind == "wavelength" and (signs == 0).any()  # readings may share a time
    if not against.any() and not repeated:
        return Order(descending, [])
    at = (np.arange(lines.start, lines.stop) if isinstance(lines, range) else np.asarray(lines))[present]
    again = _again(ordered, against)
    if again.size:
        begin = at[again[:_SHOWN]].tolist()
        return Order(descending, [several_tables(int(at[0]), begin, again.size + 1)])
    turn = _turn(against)
    if turn is not None:
        advice = "Save the ways there and back as files of their own"
        if kind == "position":
            advice = f"Add a column of time, or s{advice[1:]}"
        way = "down" if descending != (turn == int(np.flatnonzero(against)[0])) else "up"
        found = f"{kind} that turns round in line {at[turn]} and runs {way} again"
        return Order(descending, [Fault(found, f"{kind} in one direction", advice, int(at[turn]), column)])
    faults: list[Fault] = []
    if kind == "wavelength":
        faults += _seen_again(ordered, at, column)
    shown = shown[present]
    way = "descending" if descending else "ascending"
    for i in np.flatnonzero(against)[:_LISTED].tolist():
        if kind == "wavelength" and ordered[i + 1] in ordered[: i + 1]:
            continue  # said above
        after, before = (
            f"{x:.12g}" if values.dtype.kind == "f" else str(x) for x in (shown[i + 1], shown[i])
        )
        found = f"{after} after {before} (line {at[i]})"
        advice = "Sort the rows, or put the parts of the file into files of their own"
        expected = f"{kind} in one order, {way} as in the other rows"
        faults.append(Fault(found, expected, advice, int(at[i + 1]), column))
    return Order(descending, faults)


def _seen_again(ordered: NDArray[np.generic], at: NDArray[np.intp], column: int) -> list[Fault]:
    faults: list[Fault] = []
    seen: dict[float, int] = {}
    for value, line in zip(map(float, ordered), map(int, at), strict=True):
        if len(faults) == _LISTED:
            break
        if value in seen:
            found = f"the wavelength {value:g} nm a second time; it stands in line {seen[value]} already"
            advice = "Save the file anew with one row for each wavelength; scans go side by side, as columns"
            faults.append(Fault(found, "each wavelength once", advice, line, column))
        seen.setdefault(value, line)
    return faults


def _again(ordered: NDArray[np.generic], against: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Indices at which the axis starts again from its beginning; none if its order is merely broken."""
    starts = np.flatnonzero(against) + 1
    if not starts.size:
        return starts
    shortest = np.diff(starts, prepend=0, append=ordered.size).min()
    same = (ordered[starts] == ordered[0]).all()
    return starts if shortest >= (2 if same else 3) else starts[:0]


def _turn(against: NDArray[np.bool_]) -> int | None:
    """Index of the row at which an axis turns round for several rows; None if its order is merely broken."""
    changes = np.flatnonzero(np.diff(against)) + 1
    if not changes.size or changes.size > 50:
        return None
    lengths = np.diff([0, *changes.tolist(), against.size])
    return int(changes[0]) if lengths.min() >= 2 else None
