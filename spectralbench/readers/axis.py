"""The first column of a table: wavelength, time or hours, in the package's own unit."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.readers.headings import axis, clean, normal, split_units
from spectralbench.readers.table import Table
from spectralbench.units import convert

OWN_UNITS = {"wavelength": "nm", "time": "s", "hours": "h"}
_NOT_AXES = ("pixel", "pixels", "px", "index", "no", "no.", "number", "channel", "wavenumber", "energy")
_LIMITS = {
    "wavelength": (0.0, 1e6),
    "time": (-1e12, 1e12),
    "hours": (-1e9, 1e9),
}  # beyond is no light, or no log
_REPEATS = 50  # faults of order that are listed


class Axis(NamedTuple):
    """The axis of a table, before it is sorted."""

    name: str
    values: NDArray[np.float64] | NDArray[np.datetime64]  # (rows,)
    descending: bool
    decision: str
    warnings: list[str]
    history: list[str]
    faults: list[Fault]


def read_axis(table: Table, name: str, units: str | None, line: int | None) -> Axis:
    """Read the first column.

    Parameters
    ----------
    table : Table
        The numbers of the file.
    name : str
        Heading of the column; empty if it has none.
    units : str, optional
        Unit from a row of units.
    line : int, optional
        Line of the heading.

    Returns
    -------
    Axis
        Values [nm, s or h] in the order of the file, and what is wrong with them.

    Examples
    --------
    >>> table = Table(np.array([[0.365, 1.0], [0.405, 2.0]]), None, range(2, 4), [])
    >>> read_axis(table, "wavelength [µm]", None, 1).values.tolist()
    [365.0, 405.0]
    """
    kind, stated = axis(name)
    stated = units if stated is None else stated
    warnings: list[str] = []
    history: list[str] = []
    faults: list[Fault] = []
    if table.dates is not None:
        if kind not in ("time", ""):
            found = f"dates in the column {quote(name)}"
            faults.append(Fault(found, "numbers", "Name the column time", line, 1))
        decision = "time: dates and times after ISO 8601 in column 1"
        values: NDArray[np.float64] | NDArray[np.datetime64] = table.dates
        descending = _order(table, values, "time", faults)
        return Axis("time", values, descending, decision, warnings, history, faults)
    if not kind:
        kind = "wavelength"
        if normal(split_units(name)[0]) in _NOT_AXES:
            advice = "Put the wavelength into the first column, in nm, µm or Å"
            faults.append(Fault(quote(name), "wavelength, time or hours in column 1", advice, line, 1))
        elif name:
            warnings.append(f"column 1 is named {quote(name)} and was taken as wavelength")
        else:
            warnings.append("no header row names the columns: column 1 was taken as wavelength")
    raw = table.values[:, 0]
    if stated is None:
        stated, how = _unstated(kind, raw, line, faults)
        if kind == "wavelength":
            warnings.append(f"the unit of the wavelength is not stated: {how}")
    else:
        how = f"unit {quote(stated)} from the header"
    own = OWN_UNITS[kind]
    values = raw
    if clean(stated) != own:
        try:
            with np.errstate(over="ignore", invalid="ignore"):  # what is too large is refused below
                converted: NDArray[np.float64] = np.asarray(convert(raw, clean(stated), own))
                # Nine places make 0.3655 µm and 365.5 nm one grid: conversion may differ in the last bit.
                values = converted.round(9) if kind == "wavelength" else converted
            history.append(f"converted the {kind} from {stated} to {own}")
        except UnitsError as error:
            choice = "nm, µm or Å" if kind == "wavelength" else "s, min or h"
            faults.append(Fault(f"the unit {quote(stated)}", f"a unit such as {choice}", f"{error}", line, 1))
    if not faults:
        faults += _outside(table, np.asarray(values, float), kind)
    descending = _order(table, values, kind, faults)
    return Axis(kind, values, descending, f"{kind}: column 1, {how}", warnings, history, faults)


def _unstated(kind: str, raw: NDArray[np.float64], line: int | None, faults: list[Fault]) -> tuple[str, str]:
    if kind == "hours":
        return "h", "hours"
    if kind == "time":
        found = "times in numbers without a unit"
        faults.append(Fault(found, "their unit", "Name the column such as time [s], [min] or [h]", line, 1))
        return "s", ""
    low, high = np.nanmin(raw, initial=np.inf), np.nanmax(raw, initial=0.0)
    units = "µm" if high <= 20 else "Å" if low >= 1800 and high > 4000 else "nm"
    return units, f"taken as {units}, because it runs from {low:g} to {high:g}"


def _outside(table: Table, values: NDArray[np.float64], kind: str) -> list[Fault]:
    own, (low, high) = OWN_UNITS[kind], _LIMITS[kind]
    inside = (values > low) & (values <= high)
    outside = np.flatnonzero(~inside & ~np.isnan(table.values[:, 0]))[:_REPEATS].tolist()
    advice = "Check the unit of the first column"
    expected = f"one above {low:g} and up to {high:g} {own}"
    return [Fault(f"{kind} {values[i]:g} {own}", expected, advice, table.lines[i], 1) for i in outside]


def _order(
    table: Table, values: NDArray[np.float64] | NDArray[np.datetime64], kind: str, faults: list[Fault]
) -> bool:
    """Whether the axis runs downwards; what repeats or breaks the order is added to the faults."""
    present = np.flatnonzero(np.isfinite(table.values[:, 0]) & np.isfinite(values))
    ordered = values[present]
    with np.errstate(over="ignore"):
        signs = np.sign(np.diff(ordered).astype(float))
    descending = bool((signs < 0).sum() > (signs > 0).sum())
    wrong = signs <= 0 if not descending else signs >= 0
    if kind != "wavelength":  # readings may share a time
        wrong &= signs != 0
    if not wrong.any():
        return descending
    lines = [table.lines[i] for i in present.tolist()]
    shown = table.values[present, 0] if table.dates is None else values[present]
    if kind == "wavelength":
        seen: dict[float, int] = {}
        for value, line in zip(ordered.tolist(), lines, strict=True):
            if value in seen and len(faults) < _REPEATS:
                found = f"the wavelength {value:g} nm a second time; it stands in line {seen[value]} already"
                advice = "Delete one of the two rows, or put scans side by side, as columns"
                faults.append(Fault(found, "each wavelength once", advice, line, 1))
            seen.setdefault(value, line)
    way = "descending" if descending else "ascending"
    for i in np.flatnonzero(wrong & (signs != 0))[:_REPEATS].tolist():
        if kind == "wavelength" and ordered[i + 1] in ordered[: i + 1]:
            continue  # said above
        after, before = (f"{at:.12g}" if table.dates is None else str(at) for at in (shown[i + 1], shown[i]))
        found = f"{after} after {before} (line {lines[i]})"
        advice = "Sort the rows, or put the parts of the file into files of their own"
        faults.append(
            Fault(found, f"{kind} in one order, {way} as in the other rows", advice, lines[i + 1], 1)
        )
    return descending
