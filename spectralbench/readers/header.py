"""What a file says above its table: keys and values, and the two of them that every reader needs."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import COORDINATES
from spectralbench.readers.cells import moment
from spectralbench.readers.column_names import unsigned
from spectralbench.readers.dialect import row_fields
from spectralbench.readers.headings import clean, is_unit, normal, split_units
from spectralbench.readers.layout import Layout
from spectralbench.units import measured

INTEGRATION_TIME: tuple[str, ...] = (
    *("integration time", "integrationtime", "integrationszeit", "temps d'intégration"),
    *("tiempo de integración", "tempo di integrazione", "tempo de integração"),
    *("integratietijd", "czas całkowania", "integrationstid", "int. time", "int time", "durée d'intégration"),
)
EXPOSURE: tuple[str, ...] = (  # an integration time if it is in a unit of time, and nothing else states one
    *("exposure time", "exposure", "integration", "belichtungszeit", "belichtung", "temps d'exposition"),
    *("temps de pose", "exposition", "intégration", "tiempo de exposición", "exposición", "integración"),
    *("tempo di esposizione", "esposizione", "integrazione", "tempo de exposição", "exposição", "integração"),
    *("belichtingstijd", "belichting", "integratie", "czas ekspozycji", "czas naświetlania", "ekspozycja"),
    *("całkowanie", "exponeringstid", "exponering"),
)
TIME = ("time", "date", "datetime", "date time", "timestamp")
_KEY = re.compile(r"[^\W\d_][^:=\t;,\"]{0,59}")
_DIGITS = re.compile(r"[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?", re.ASCII)
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d*)?", re.ASCII)  # may be thousands
_CLOCK = re.compile(r"\d\d:\d\d(?::\d\d(?:\.\d+)?)?", re.ASCII)


class Entry(NamedTuple):
    """One key with its value, and the line where they stand."""

    line: int
    key: str
    value: str


def entries(lines: Sequence[str], layout: Layout) -> list[Entry]:
    """The keys and values above a table, in the order of the file.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    layout : Layout
        Where the table begins.

    Returns
    -------
    list of Entry
        Lines of ``key: value``, ``key = value``, or key and value with a delimiter between.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> lines = ["# integration time: 20 ms", "wavelength,counts", "365,5", "366,6"]
    >>> entries(lines, lay_out(lines, "example.csv"))
    [Entry(line=1, key='integration time', value='20 ms')]
    """
    named = set(layout.heading_rows)
    above = enumerate(lines[: layout.first])
    found = (entry(i, line, layout.dialect.delimiter) for i, line in above if i not in named)
    return [one for one in found if one]


def entry(index: int, line: str, delimiter: str) -> Entry | None:
    """The key and the value of one line, if it is written so.

    Examples
    --------
    >>> entry(0, "# lamp: LED 405", ",")
    Entry(line=1, key='lamp', value='LED 405')
    >>> entry(0, "wavelength", ",")
    """
    if line.lstrip().startswith('"'):  # a program put the line into quotes
        line = delimiter.join(row_fields(line, delimiter)[0])
    text = unsigned(line).strip()
    padding = " \t" if delimiter == " " else f" \t{delimiter}"
    separators = sorted((text.find(sign), sign) for sign in ":=\t" if sign in text)
    if delimiter in ",;" and delimiter in text:
        separators.append((text.find(delimiter), delimiter))
    for at, _ in separators:
        key, value = text[:at].strip(), text[at + 1 :].strip().rstrip(padding)
        if _KEY.fullmatch(key):
            return Entry(index + 1, key, value)
    return None


def integration_time(
    found: Sequence[Entry], decimal: str, along: str = "wavelength"
) -> tuple[float | None, list[Fault]]:
    """The integration time [s] that a header states, or the faults of that statement.

    An exposure is one above a spectrum; above a log, it is how long something was lit.

    Examples
    --------
    >>> integration_time([Entry(1, "integration time", "0.02 s")], ".")
    (0.02, [])
    >>> integration_time([Entry(1, "Exposure (ms)", "20"), Entry(2, "exposure", "3 J/cm2")], ".")
    (0.02, [])
    """
    faults: list[Fault] = []
    times: list[tuple[float, int, str]] = []
    named = [(*entry, *split_units(entry.key)) for entry in found]
    clear = [entry for entry in named if normal(entry[3]) in INTEGRATION_TIME]
    exposures = [entry for entry in named if along == "wavelength" and normal(entry[3]) in EXPOSURE]
    for line, key, text, _, units in clear or exposures:
        value, fault = _stated_time(text, units, decimal)
        if fault is not None and not clear and not (fault.found and units and _seconds(units) > 0):
            continue  # a dose, or a word that says nothing of time
        if fault is not None:
            found_ = fault.found or quote(text)
            expected = fault.expected or f"a positive time with its unit for {quote(key)}"
            faults.append(Fault(found_, expected, fault.advice, line))
        else:
            times.append((value, line, text))
    for value, line, text in times[1:]:
        first, line_of_first, before = times[0]
        if not math.isclose(value, first, rel_tol=1e-9):
            shown = f"the integration time {quote(text)}, and {quote(before)} in line {line_of_first}"
            advice = "Keep the one that holds for this table; save scans of other times as files of their own"
            faults.append(Fault(shown, "one integration time for all scans of a file", advice, line))
    return times[0][0] if times else None, faults


def times_seen(header: Mapping[str, str]) -> list[str]:
    """What a header states in a unit of time, whatever it calls it.

    Parameters
    ----------
    header : mapping of str to str
        Keys and values, as a dataset keeps them in ``attrs["header"]``.

    Returns
    -------
    list of str
        Key and value of each, as the file writes them.

    Examples
    --------
    >>> times_seen({"Dwell (ms)": "20", "gate": "5 ms", "slit (µm)": "25", "time": "10:30"})
    ['Dwell (ms): 20', 'gate: 5 ms']
    """
    seen = []
    for key, text in header.items():
        name, units = split_units(key)
        number = _DIGITS.match(text)
        own = text[number.end() :].split() if number else []
        told = units if units is not None else own[0] if own else ""
        if _seconds(told) > 0 or normal(name) in EXPOSURE:
            seen.append(f"{key}: {text}")
    return seen


@functools.lru_cache(maxsize=1024)
def _stated_time(text: str, units: str | None, decimal: str) -> tuple[float, Fault | None]:
    """A time [s] that stands behind a key with or without a unit, or what is wrong with it."""
    number, _, own = text.partition(" ")
    if match := _DIGITS.match(text):
        number, own = match[0], text[match.end() :].strip()
    other, names = ("." if decimal == "," else ","), {".": "point", ",": "comma"}
    if other in number and (decimal == "." or _GROUPED.fullmatch(number)):
        sure = f"the {names[other]} in {quote(text)}, in a file with a decimal {names[decimal]}"
        advice = f"Write the time with a decimal {names[decimal]} and without separators between thousands"
        return 0.0, Fault(sure, "a number that can be read in one way", advice)
    if units is not None and own and is_unit(own) and _seconds(own) != _seconds(units):
        found = f"{quote(text)} behind a key that states the unit {quote(units)}"
        return 0.0, Fault(found, "one unit", "Write the unit once, the one that holds")
    plain = number.replace(",", ".") if decimal == "," else number
    unit = own or units
    try:
        value = measured(f"{plain} {clean(unit)}" if unit is not None else plain, "s").value
    except UnitsError:
        value = 0.0
    if value > 0:
        return value, None
    advice = 'Save the file anew with the unit, such as "integration time: 20 ms"; a unit is never guessed'
    return value, Fault("", "", advice)


def _seconds(units: str) -> float:
    try:
        return measured(f"1 {clean(units)}", "s").value
    except UnitsError:
        return math.nan  # which differs from all others


def tells_time(key: str) -> bool:
    """Whether a key may tell when something was measured, or for how long.

    Examples
    --------
    >>> tells_time("Exposure (ms)"), tells_time("date"), tells_time("lamp")
    (True, True, False)
    """
    return normal(key) in TIME or normal(split_units(key)[0]) in (*INTEGRATION_TIME, *EXPOSURE)


def time(found: Sequence[Entry]) -> tuple[np.datetime64 | None, list[str]]:
    """The time of the measurement that a header states, and what a person should know about it.

    Examples
    --------
    >>> str(time([Entry(1, "time", "2026-03-02T10:30:00")])[0])
    '2026-03-02T10:30:00.000000000'
    """
    texts = {normal(entry.key): entry.value for entry in found if normal(entry.key) in TIME}
    stated = list(texts.values())
    if _CLOCK.fullmatch(texts.get("time", "")) and "date" in texts:
        stated = [f"{texts['date']}T{texts['time']}"]
    moments = [at for at in map(moment, stated) if at is not None]
    if moments:
        return moments[0], []
    return None, [
        f"the time {quote(text)} is not written after ISO 8601 (2026-03-02T10:30:00) and stays text"
        for text in stated
    ]


def stated(integration_time: float | None, time: np.datetime64 | None) -> dict[str, Any]:
    """Coordinates for what a header states of all spectra in its file.

    Examples
    --------
    >>> list(stated(0.02, None)), stated(None, None)
    (['integration_time'], {})
    """
    scalars: dict[str, Any] = {}
    if integration_time is not None:
        scalars["integration_time"] = ((), integration_time, COORDINATES["integration_time"]._asdict())
    if time is not None:
        scalars["time"] = time
    return scalars
