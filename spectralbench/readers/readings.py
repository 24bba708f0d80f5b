"""What belongs to the readings of a log: head, channel, band, response curve, date of calibration."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import COORDINATES
from spectralbench.readers.axis import in_own_unit
from spectralbench.readers.cells import moment
from spectralbench.readers.header import Entry
from spectralbench.readers.headings import axis, clean, normal, split_units
from spectralbench.readers.kinds import limit_name, text_name
from spectralbench.readers.layout import Layout
from spectralbench.readers.roles import LOGS, Roles, heading_of
from spectralbench.readers.table import Table
from spectralbench.readers.vocabulary import CALIBRATION_DATE, RESPONSE_CURVE
from spectralbench.units import convert, measured

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_LIMITS = re.compile(
    rf"{_NUMBER}\s*(nm|µm|um)?\s*(?:[-–—−]|\.{{2,3}}|…|to|bis|à|a|tot|till|do)\s*{_NUMBER}\s*(nm|µm|um)?"
)


class Readings(NamedTuple):
    """Coordinates of a log, beside its axis."""

    scalars: dict[str, Any]  # by name: dimensions, values, attributes
    along: dict[str, NDArray[Any]]  # by name, in the order of the file
    decisions: list[str]
    warnings: list[str]
    faults: list[Fault]


def band_limits(text: str, units: str | None = None) -> tuple[float, float] | None:
    """The limits [nm] of a band; None if the text is a mere label, which is never trusted.

    Parameters
    ----------
    text : str
        Such as ``"320-390 nm"`` or ``"320 to 390 nm"``.
    units : str, optional
        The unit, where it stands somewhere else.

    Returns
    -------
    tuple of float, or None
        Lower and upper limit.

    Examples
    --------
    >>> band_limits("(320 – 390 nm)"), band_limits("near"), band_limits("320-390")
    ((320.0, 390.0), None, None)
    """
    match = _LIMITS.fullmatch(text.strip("()[] "))
    if match is None:
        return None
    low, first, high, last = match.groups()
    stated = last or first or (clean(units) if units else None)
    if stated not in ("nm", "µm", "um"):
        return None
    limits = [float(convert(float(part.replace(",", ".")), stated, "nm")) for part in (low, high)]
    limits = [round(limit, 9) for limit in limits]
    return (limits[0], limits[1]) if 0 < limits[0] < limits[1] else None


def readings(found: Sequence[Entry], layout: Layout, table: Table, columns: Roles, kind: str) -> Readings:
    """Collect what header and columns say beside the values.

    Parameters
    ----------
    found : sequence of Entry
        Keys and values of the header.
    layout : Layout
        How the file is laid out.
    table : Table
        Its cells.
    columns : Roles
        What each column is for.
    kind : str
        Name of the axis; only logs take coordinates from the header.

    Returns
    -------
    Readings
        Coordinates, and what a person should know about them.

    Examples
    --------
    >>> from spectralbench.readers.choices import Choices
    >>> from spectralbench.readers.header import entries
    >>> from spectralbench.readers.layout import lay_out
    >>> from spectralbench.readers.roles import roles
    >>> from spectralbench.readers.table import parse
    >>> lines = ["# head: A", "# band: 320-390 nm", "time [s],irradiance [W m-2]", "0,1", "1,2"]
    >>> layout = lay_out(lines, "example.csv")
    >>> table = parse(lines, layout)
    >>> told = readings(entries(lines, layout), layout, table, roles(layout, table, Choices()), "time")
    >>> told.scalars["head"], told.scalars["band_low"][1]
    (((), 'A'), 320.0)
    """
    result = Readings({}, {}, [], [], [])
    for name, j in columns.beside.items():
        _beside(name, j, layout, table, result)
    for name, j in columns.texts.items():
        texts = table.texts[j]
        if name == "band":
            _bands(texts, split_units(layout.names[j])[1], result)
        else:
            result.along[name] = np.array(texts, str)
    if kind in LOGS:
        for entry in found:
            _stated(entry, result)
    return result


def _beside(name: str, j: int, layout: Layout, table: Table, result: Readings) -> None:
    """A column of time, hours, position or limits."""
    if j in table.times:
        result.along[name] = table.times[j]
        return
    line = None if layout.heading is None else layout.heading + 1
    heading = heading_of(layout, j)
    units = axis(heading)[1] or split_units(heading)[1] or ("h" if name == "hours" else None)
    if units is None:
        advice = f"Name the column {name.replace('_', ' ')} [nm]"
        result.faults.append(Fault(f"{quote(heading)} without a unit", "its unit", advice, line, j + 1))
        return
    values, fault = in_own_unit(table.values[:, j], name, units, line, j + 1)
    result.along[name] = values
    if fault is not None:
        result.faults.append(fault)


def _bands(texts: Sequence[str], units: str | None, result: Readings) -> None:
    """A column of bands: limits where it states limits, and labels where it does not."""
    limits = [band_limits(text, units) for text in texts]
    if any(limits):
        for name, side in (("band_low", 0), ("band_high", 1)):
            result.along[name] = np.array([np.nan if pair is None else pair[side] for pair in limits])
    labels = sorted({text for text, pair in zip(texts, limits, strict=True) if pair is None and text})
    if labels:
        result.along["band"] = np.array(
            ["" if pair else text for text, pair in zip(texts, limits, strict=True)], str
        )
        result.warnings.append(_untrusted(", ".join(map(quote, labels[:5]))))


def _untrusted(label: str) -> str:
    return f"the band is labelled {label} without limits: the label stays text, and is not trusted"


def _stated(entry: Entry, result: Readings) -> None:
    """One line of the header."""
    key, units = split_units(entry.key)
    key, value = normal(key), entry.value
    name = text_name(key)
    if limit := limit_name(key):
        try:
            side = measured(value if units is None else f"{value} {clean(units)}", "nm").value
        except UnitsError as error:
            expected = f"a wavelength for {quote(entry.key)}"
            result.faults.append(Fault(quote(value), expected, f"{error}", entry.line))
            return
        _scalar(limit, side, entry, result)
    elif name == "band":
        limits = band_limits(value, units)
        if limits is None:
            _scalar("band", value, entry, result)
            result.warnings.append(_untrusted(quote(value)))
        else:
            _scalar("band_low", limits[0], entry, result)
            _scalar("band_high", limits[1], entry, result)
    elif name in ("head", "channel"):
        _scalar(name, value, entry, result)
    elif key in RESPONSE_CURVE:
        _scalar("response_curve", value, entry, result)
    elif key in CALIBRATION_DATE:
        date = moment(value)
        if date is None:
            result.warnings.append(
                f"the calibration date {quote(value)} is not written after ISO 8601 (2026-03-02)"
                " and stays text"
            )
        _scalar("calibration_date", value if date is None else date, entry, result)


def _scalar(name: str, value: Any, entry: Entry, result: Readings) -> None:
    if name in result.along:
        result.warnings.append(
            f"line {entry.line} states {quote(entry.key)}, and so does a column, which counts"
        )
        return
    if name in result.scalars and result.scalars[name][1] != value:
        result.warnings.append(f"line {entry.line} states {quote(entry.key)} again, as {quote(entry.value)}")
        return
    attributes = COORDINATES[name]._asdict() if name in COORDINATES else None
    result.scalars[name] = ((), value) if attributes is None else ((), value, attributes)
    result.decisions.append(f"{name.replace('_', ' ')}: line {entry.line}")
