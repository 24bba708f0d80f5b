"""What each column of a table is for: the axis, a coordinate beside it, values, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.choices import Choices
from spectralbench.readers.headings import axis, heading, normal
from spectralbench.readers.kinds import ROW_NUMBERS, left_out, limit_name, text_name
from spectralbench.readers.layout import Layout
from spectralbench.readers.table import Table

LOGS = ("time", "hours", "position")  # axes of radiometer readings and ageing logs
_KEPT = ("wavelength", "time", "hours", "position", "spectrum")  # names that no column of text may take


class Roles(NamedTuple):
    """The columns of a table by what they are for; all by index."""

    kind: str  # of the axis; empty if nothing names it
    column: int  # of the axis
    clock: int | None  # times of day that belong to the dates of the axis
    beside: dict[str, int]  # further columns along the axis, by the name of their coordinate
    texts: dict[str, int]  # columns of text, by the name of their coordinate
    pairs: tuple[int, ...]  # further columns of wavelengths, each before its values
    values: tuple[int, ...]
    decisions: list[str]
    warnings: list[str]
    faults: list[Fault]


def roles(layout: Layout, table: Table, choices: Choices) -> Roles:
    """Say what each column is for, by its heading and its cells.

    Parameters
    ----------
    layout : Layout
        How the file is laid out.
    table : Table
        Its cells.
    choices : Choices
        What the caller says of it.

    Returns
    -------
    Roles
        Every column has one, or is left out with a reason among the decisions.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> from spectralbench.readers.table import parse
    >>> lines = ["pixel,wavelength [nm],counts", "0,365,5", "1,366,6"]
    >>> layout = lay_out(lines, "example.csv")
    >>> found = roles(layout, parse(lines, layout), Choices())
    >>> found.kind, found.column, found.values, found.decisions
    ('wavelength', 1, (2,), ['column 1 "pixel": left out, it numbers the rows'])
    """
    names = layout.names or ("",) * layout.dialect.columns
    named = [axis(name)[0] for name in names]
    column, line = layout.column, _line(layout)
    kind = choices.axis or named[column]
    found = Roles(kind, column, None, {}, {}, (), (), [], [], [])
    if kind == "time":
        column, clock = _times(layout, named, column, fixed=choices.axis_column is not None)
        found = found._replace(column=column, clock=clock)
    elif not kind and layout.kinds[column] in "dc":
        found = found._replace(kind="time", clock=column + 1 if _clock_follows(layout, column) else None)
    kind = found.kind or "wavelength"
    pairs = _pairs(named, column) if kind == "wavelength" else ()
    taken = {found.column, found.clock, *pairs}
    values = []
    for j, name in enumerate(names):
        if j in taken:
            continue
        called = f"column {j + 1} {quote(name)}" if name else f"column {j + 1}"
        why = left_out(name)
        text = text_name(name) if layout.kinds[j] == "t" else ""
        if layout.kinds[j] == "t":
            if text == "channel" and kind == "wavelength" and all(t.isdigit() for t in table.texts[j]):
                found.decisions.append(f"{called}: left out, it numbers the rows")
                continue
            text = text or normal(name).replace(" ", "_") or f"column_{j + 1}"
            if text in found.texts or text in _KEPT:
                advice = "Give each column of text a name of its own"
                found.faults.append(Fault(quote(name), f"a name other than {text}", advice, line, j + 1))
            found.texts[text] = j
            found.decisions.append(f"{called}: text, kept as coordinate {text}")
        elif layout.kinds[j] in "dc" or named[j] in LOGS:
            _beside(
                found, j, named[j] or "time", layout.kinds[j], called, kind, axis(heading_of(layout, j))[1]
            )
        elif limit := limit_name(name):
            found.beside[limit] = j
            found.decisions.append(f"{called}: {limit}, by its name")
        elif not name and j < column and _numbers_rows(table.values[:, j], ROW_NUMBERS, by_one=True):
            found.decisions.append(f"{called}: left out, {ROW_NUMBERS}")
        elif why and layout.dialect.columns > 2 and _numbers_rows(table.values[:, j], why):
            found.decisions.append(f"{called}: left out, {why}")
        elif named[j] == "wavelength" and (kind != "wavelength" or choices.axis_column is not None):
            found.decisions.append(f"{called}: left out, the axis is column {found.column + 1}")
        elif named[j] == "wavelength":
            advice = "Keep one column of wavelengths, or one before each column of values"
            found.faults.append(Fault(quote(name), "values", advice, line, j + 1))
        else:
            values.append(j)
    if pairs and not found.faults:
        numbers = ", ".join(str(j + 1) for j in pairs)
        found.decisions.append(f"column {numbers}: the wavelengths again, before each column of values")
    if not values and not found.faults:
        shown = ", ".join(quote(name) for name in names)
        found.faults.append(
            Fault(f"no column of values ({shown})", "one or more", "Save the values with it", line)
        )
    return found._replace(pairs=pairs, values=tuple(values))


def _line(layout: Layout) -> int | None:
    return None if layout.heading is None else layout.heading + 1


def _times(layout: Layout, named: Sequence[str], column: int, *, fixed: bool) -> tuple[int, int | None]:
    """The column of an axis of time, and that of the time of day beside dates: dates come first."""
    dates = [j for j, kind in enumerate(layout.kinds) if kind == "d"]
    clocks = [j for j, kind in enumerate(layout.kinds) if kind == "c" and j != column]
    if dates and not fixed:
        clocks = [j for j, kind in enumerate(layout.kinds) if kind == "c"]
        column = dates[0]
    return column, clocks[0] if layout.kinds[column] == "d" and clocks else None


def _numbers_rows(values: NDArray[np.float64], why: str, *, by_one: bool = False) -> bool:
    """Whether a column that is named like a numbering is one: whole numbers in one order."""
    steps = np.diff(values)
    if by_one:
        return values.size > 2 and values[0] in (0, 1) and bool((steps == 1).all())
    return why != ROW_NUMBERS or bool(
        (values == values.round()).all() and ((steps > 0).all() or (steps < 0).all())
    )


def _clock_follows(layout: Layout, column: int) -> bool:
    return layout.kinds[column : column + 2] == "dc"


def _pairs(named: Sequence[str], column: int) -> tuple[int, ...]:
    """The further wavelengths of a table that repeats wavelength and value side by side."""
    alternate = len(named) > 2 and len(named) % 2 == 0 and column == 0
    if alternate and all(kind == "wavelength" for kind in named[::2]) and not any(named[1::2]):
        return tuple(range(2, len(named), 2))
    return ()


def _beside(
    found: Roles, j: int, name: str, kind: str, called: str, axis_kind: str, units: str | None
) -> None:
    """A column of time, hours or position that is not the axis."""
    if name == axis_kind or name in found.beside:
        found.decisions.append(f"{called}: left out, {name} is told by another column")
    elif kind == "c":
        found.warnings.append(f"{called} was left out: a time of day without a date")
    elif kind != "d" and units is None and name != "hours":
        found.warnings.append(f"{called} was left out: its unit is not stated")
    else:
        found.beside[name] = j
        found.decisions.append(f"{called}: coordinate {name} along {axis_kind}")


def heading_of(layout: Layout, j: int) -> str:
    """The name of a column with the unit from a row of units, as one heading.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> heading_of(lay_out(["wavelength;counts", "nm;1", "365;1", "366;2"], "example.csv"), 0)
    'wavelength [nm]'
    """
    name = layout.names[j] if layout.names else ""
    units = layout.units[j] if layout.units else ""
    if units and axis(name)[1] is None and heading(name).units is None:
        return f"{name} [{units}]"
    return name
