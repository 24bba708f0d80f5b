"""The axis of a table: wavelength, time, hours or position, in the package's own unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import COORDINATES
from spectralbench.readers import header
from spectralbench.readers.choices import Choices
from spectralbench.readers.headings import axis, clean, normal
from spectralbench.readers.kinds import left_out
from spectralbench.readers.layout import Layout
from spectralbench.readers.order import order
from spectralbench.readers.other_scales import advice as advice_for
from spectralbench.readers.other_scales import against
from spectralbench.readers.roles import Roles, heading_of
from spectralbench.readers.table import Table
from spectralbench.readers.vocabulary import X_AXIS
from spectralbench.units import convert

Values = NDArray[np.float64] | NDArray[np.datetime64]

OWN_UNITS = {name: COORDINATES[name].units for name in ("wavelength", "time", "hours", "position")}
_EXAMPLES = {
    "wavelength": "nm, µm or Å",
    "time": "s, min or h",
    "hours": "h or min",
    "position": "mm, cm or m",
}
LIMITS = {
    "wavelength": (0.0, 1e6),
    "time": (-1e12, 1e12),
    "hours": (-1e9, 1e9),
    "position": (-1e6, 1e6),
}  # beyond is no light, no log and no beam
_VACUUM = re.compile("va[ck]uu?[mo]", re.IGNORECASE)
_AMOUNT = re.compile(r"\s*[-+]?\d[\d.,]*\s+\D")  # a number with its unit
_LIKELY = (100.0, 20_000.0)  # nm; beyond, the unit is more likely wrong than the light is such
_LISTED = 50  # faults of one kind that are listed


class Axis(NamedTuple):
    """The axis of a table, before it is sorted."""

    name: str
    values: Values  # (rows,)
    descending: bool
    decision: str
    warnings: list[str]
    history: list[str]
    faults: list[Fault]


def read_axis(
    table: Table, layout: Layout, found: Roles, choices: Choices, date: np.datetime64 | None = None
) -> Axis:
    """Read the column of the axis.

    Parameters
    ----------
    table : Table
        The cells of the file.
    layout : Layout
        How the file is laid out.
    found : Roles
        What each column is for.
    choices : Choices
        What the caller says of the file.
    date : numpy.datetime64, optional
        The day that the header states, for rows that tell the time of day alone.

    Returns
    -------
    Axis
        Values [nm, s, h or m], or dates, in the order of the file, and what is wrong with them.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> from spectralbench.readers.roles import roles
    >>> from spectralbench.readers.table import parse
    >>> lines = ["wavelength [µm],counts", "0.365,1", "0.405,2"]
    >>> layout = lay_out(lines, "example.csv")
    >>> table = parse(lines, layout)
    >>> read_axis(table, layout, roles(layout, table, Choices()), Choices()).values.tolist()
    [365.0, 405.0]
    """
    if found.column in table.times:
        return _dates(table, layout, found, date)
    j, line = found.column, None if layout.heading is None else layout.heading + 1
    name = layout.names[j] if layout.names else ""
    warnings: list[str] = []
    history: list[str] = []
    faults: list[Fault] = []
    kind = found.kind
    raw = table.values[:, j]
    column = f"column {j + 1}"
    chosen = choices.axis or choices.axis_column
    told = "as chosen" if chosen else "by its heading"
    if not kind:
        kind = "wavelength"
        told = told if chosen else "as no heading says otherwise"
        speaks_against = "" if choices.axis_units else against(heading_of(layout, j))
        if speaks_against or left_out(name):
            advice = speaks_against or advice_for("number")
            expected = f"wavelength, time, hours or position in {column}"
            faults.append(Fault(quote(heading_of(layout, j)), expected, advice, line, j + 1))
        elif _counts_rows(raw):
            found_ = f"{raw[0]:g}, {raw[1]:g}, {raw[2]:g} … in {column}, which numbers the rows"
            advice = "Name the columns, or choose the axis_column on reading"
            faults.append(Fault(found_, "wavelengths", advice, table.lines[0], j + 1))
        elif name:
            warnings.append(f"{column} is named {quote(name)} and was taken as wavelength")
        else:
            warnings.append(f"no header row names the columns: {column} was taken as wavelength")
    elif choices.axis and name and axis(name)[0] != kind:
        warnings.append(f"{column} is named {quote(name)} and was read as {kind}")
    stated, known = axis(heading_of(layout, j))[1], True
    if choices.axis_units is not None:
        stated, how = choices.axis_units, f"unit {quote(choices.axis_units)} as chosen"
    elif stated is None:
        known = False
        stated, how = _unstated(kind, raw, line, j + 1, faults)
        if kind == "wavelength":
            warnings.append(f"the unit of the wavelength is not stated: {how}")
    else:
        how = f"unit {quote(stated)} from the header"
    values, fault = in_own_unit(raw, kind, stated, line, j + 1)
    if kind == "wavelength":
        warnings += _unlikely(values, name, stated if known else "")
    if fault is not None and not faults:
        advice = against(f"[{stated}]") if kind == "wavelength" else ""
        faults.append(replace(fault, advice=advice) if advice else fault)
    elif fault is None and clean(stated) != OWN_UNITS[kind]:
        history.append(f"converted the {kind} from {stated} to {OWN_UNITS[kind]}")
    if not faults:
        faults += _outside(table, values, kind, j)
    run = order(values, raw, table.lines, kind, j + 1)
    faults += run.faults
    return Axis(kind, values, run.descending, f"{kind}: {column} ({told}), {how}", warnings, history, faults)


def _dates(table: Table, layout: Layout, found: Roles, date: np.datetime64 | None) -> Axis:
    """An axis of dates, of dates and times of day side by side, or of times of day on one date."""
    j, line = found.column, None if layout.heading is None else layout.heading + 1
    faults: list[Fault] = []
    name = layout.names[j] if layout.names else ""
    if found.kind != "time":
        shown = f"dates in the column {quote(name)}"
        faults.append(Fault(shown, "numbers", "Name the column time", line, j + 1))
    times = table.times[j]
    decision = f"time: dates and times after ISO 8601 in column {j + 1}"
    if times.dtype.kind == "m":
        decision = f"time: times of day in column {j + 1}, on the date that the header states"
        if date is None:
            shown = f"times of day without a date in column {j + 1}"
            advice = 'Write the date into a column of its own, or into the header as "date: 2026-03-02"; '
            advice += "write elapsed time as a number, such as time [s]"
            faults.append(
                Fault(shown, "dates and times", advice, table.lines[0] if table.lines else None, j + 1)
            )
            date = np.datetime64("1970-01-01", "ns")
        back = np.flatnonzero(np.diff(times) < np.timedelta64(0))[:1].tolist()
        for i in back:
            shown = f"a time of day before that in line {table.lines[i]}"
            advice = "Write the date into a column of its own: a day may have passed"
            faults.append(Fault(shown, "times that run on", advice, table.lines[i + 1], j + 1))
        moments: NDArray[np.datetime64] = date.astype("datetime64[D]").astype("datetime64[ns]") + times
    elif found.clock is not None:
        decision = f"time: dates in column {j + 1} and times of day in column {found.clock + 1}"
        moments = np.add(times, table.times[found.clock])
    else:
        moments = np.asarray(times, "datetime64[ns]")
    run = order(moments, moments, table.lines, "time", j + 1)
    return Axis("time", moments, run.descending, decision, [], [], [*faults, *run.faults])


def in_own_unit(
    raw: NDArray[np.float64], kind: str, stated: str, line: int | None, column: int
) -> tuple[NDArray[np.float64], Fault | None]:
    """An axis or a coordinate in the package's own unit, or the fault of its unit.

    Examples
    --------
    >>> values, fault = in_own_unit(np.array([0.3655]), "wavelength", "µm", 1, 1)
    >>> values.tolist(), fault
    ([365.5], None)
    """
    own = COORDINATES[kind].units
    if clean(stated) == own:
        return raw, None
    try:
        with np.errstate(over="ignore", invalid="ignore"):  # what is too large is refused by the limits
            converted: NDArray[np.float64] = np.asarray(convert(raw, clean(stated), own))
            # Nine places make 0.3655 µm and 365.5 nm one grid: conversion may differ in the last bit.
            return (converted.round(9) if own == "nm" else converted), None
    except UnitsError as error:
        expected = f"a unit such as {_EXAMPLES.get(kind, own)}"
        return raw, Fault(f"the unit {quote(stated)}", expected, f"{error}", line, column)


def _unlikely(values: NDArray[np.float64], name: str, stated: str) -> list[str]:
    """What a person should know of wavelengths that are read as they stand."""
    warnings = []
    if _VACUUM.search(name):
        warnings.append(
            f"{quote(name)} is kept as it stands; the package takes wavelengths in air,"
            " which are 0.03 % shorter"
        )
    low, high = np.nanmin(values, initial=np.inf), np.nanmax(values, initial=0.0)
    if clean(stated) == "nm" and (0 < low < _LIKELY[0] or high > _LIKELY[1]):
        warnings.append(
            f"the wavelength runs from {low:g} to {high:g} nm: check its unit, which is stated as {stated}"
        )
    return warnings


def stated_against(entries: Sequence[header.Entry]) -> list[Fault]:
    """The fault of a header that says of the axis what speaks against wavelengths.

    Examples
    --------
    >>> [fault.found for fault in stated_against([header.Entry(3, "x unit", "1/cm")])]
    ['"1/cm" as x unit']
    >>> stated_against([header.Entry(3, "x unit", "nm"), header.Entry(4, "energy", "5 mJ")])
    []
    """
    return [
        Fault(f"{quote(entry.value)} as {entry.key}", "wavelengths", advice, entry.line)
        for entry in entries
        if normal(entry.key) in X_AXIS and not _AMOUNT.match(entry.value) and (advice := against(entry.value))
    ]


def _counts_rows(raw: NDArray[np.float64]) -> bool:
    """Whether a column counts 1, 2, 3 or 0, 1, 2, and so on."""
    return raw.size > 2 and raw[0] in (0, 1) and bool((np.diff(raw) == 1).all())


def _unstated(
    kind: str, raw: NDArray[np.float64], line: int | None, column: int, faults: list[Fault]
) -> tuple[str, str]:
    if kind == "hours":
        return "h", "hours"
    if kind in ("time", "position"):
        found = f"{'times' if kind == 'time' else 'positions'} in numbers without a unit"
        name = "time [s], [min] or [h]" if kind == "time" else "position [mm]"
        faults.append(Fault(found, "their unit", f"Name the column such as {name}", line, column))
        return OWN_UNITS[kind], ""
    low, high = np.nanmin(raw, initial=np.inf), np.nanmax(raw, initial=0.0)
    ranges = {
        "m": low >= 1e-7 and high <= 2e-5,
        "µm": low >= 0.1 and high <= 20,
        "Å": low >= 1800 and high > 4000,
        "nm": low >= _LIKELY[0],
    }
    for units, fits in ranges.items():
        if fits:
            return units, f"taken as {units}, because it runs from {low:g} to {high:g}"
    found = f"wavelengths from {low:g} to {high:g} without a unit"
    advice = "Name the column such as wavelength [nm] or [µm], or choose the axis_units on reading"
    faults.append(Fault(found, "their unit", advice, line, column))
    return OWN_UNITS[kind], ""


def _outside(table: Table, values: NDArray[np.float64], kind: str, j: int) -> list[Fault]:
    own, (low, high) = OWN_UNITS[kind], LIMITS[kind]
    inside = (values > low) & (values <= high)
    outside = np.flatnonzero(~inside & ~np.isnan(table.values[:, j]))[:_LISTED].tolist()
    advice = f"Check the unit of column {j + 1}"
    expected = f"one above {low:g} and up to {high:g} {own}"
    return [Fault(f"{kind} {values[i]:g} {own}", expected, advice, table.lines[i], j + 1) for i in outside]
