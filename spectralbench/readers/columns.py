"""The value columns of a table: what they hold, in the package's own units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.headings import Heading, axis, clean, heading, is_unit
from spectralbench.units import convert

UNLABELLED = "unlabelled"
_FRACTIONS = ("transmittance", "reflectance")
_LARGEST_FRACTION = 2.0  # noise may pass 1, but hardly 2


class Columns(NamedTuple):
    """The value columns by quantity."""

    values: dict[str, NDArray[np.float64]]  # quantity to (spectrum, rows)
    units: dict[str, str]
    labels: dict[str, list[str]]
    decisions: list[str]
    warnings: list[str]
    history: list[str]
    faults: list[Fault]


def read_columns(
    values: NDArray[np.float64],
    headings: Sequence[Heading],
    quantity: str | None,
    units: str | None,
    line: int | None,
) -> Columns:
    """Sort the value columns by quantity and convert them.

    Parameters
    ----------
    values : numpy.ndarray (rows, columns)
        All columns of the table; the first is the axis.
    headings : sequence of Heading
        What the file says of each column but the first.
    quantity, units : str, optional
        What the caller says of them, which stands above the file.
    line : int, optional
        Line of the heading, for messages.

    Returns
    -------
    Columns
        Values by quantity, and what is wrong with them.

    Examples
    --------
    >>> table = np.array([[365.0, 91.5], [366.0, 92.0]])
    >>> read_columns(table, [heading("T [%]")], None, None, 1).values["transmittance"].tolist()
    [[0.915, 0.92]]
    """
    result = Columns({}, {}, {}, [], [], [], [])
    overrides = quantity is not None and quantity not in [head.quantity for head in headings]
    alike = len({(head.quantity, head.units) for head in headings}) == 1
    by_name: dict[str, list[NDArray[np.float64]]] = {}
    for number, head in enumerate(headings, 2):
        if axis(head.text)[0] == "wavelength":
            advice = "Put the wavelength into column 1 and nowhere else"
            result.faults.append(Fault(quote(head.text), "values", advice, line, number))
            continue
        name = quantity if overrides and quantity is not None else head.quantity
        if overrides and head.quantity:
            result.warnings.append(f"column {number} is named {quote(head.text)} and was read as {quantity}")
        given = units if units is not None and quantity in (None, name) else head.units
        name = name or (heading(f"[{units}]").quantity if units else "")
        column, own = _converted(values[:, number - 1], name, given, number, line, quantity, head, result)
        if not name:
            name = UNLABELLED if alike or UNLABELLED not in by_name else f"{UNLABELLED}_{number}"
        by_name.setdefault(name, []).append(column)
        result.units[name] = own
        result.labels.setdefault(name, []).append(head.label)
        called = f" {quote(head.text)}" if head.text else ""
        result.decisions.append(f"column {number}{called}: {name}, unit {quote(given if given else own)}")
    result.values.update({name: np.stack(columns) for name, columns in by_name.items()})
    return result


def _converted(
    values: NDArray[np.float64],
    name: str,
    given: str | None,
    number: int,
    line: int | None,
    asked: str | None,
    head: Heading,
    result: Columns,
) -> tuple[NDArray[np.float64], str]:
    """A column in the own unit of its quantity, and that unit."""
    called = quote(head.text) if head.text else f"column {number}"
    if not name:
        result.warnings.append(f"the file does not say what {called} holds: it is kept as {UNLABELLED}")
        if given is None or clean(given) == "1" or not is_unit(given):
            return values, "1"
        return (values / 100, "1") if clean(given) == "%" else (values, clean(given))
    own = QUANTITIES[name].units
    readable = name.replace("_", " ")
    if given is None:
        if own != "1" and asked != name:
            advice = f"Write {readable} [{own}] in the header row, or give the unit on reading"
            result.faults.append(
                Fault(f"{called} without a unit", f"the unit of {readable}", advice, line, number)
            )
        elif own != "1":
            result.warnings.append(f"the unit of {called} is not stated: taken as {own}")
        elif name in _FRACTIONS and np.nanmax(np.abs(values), initial=0.0) > _LARGEST_FRACTION:
            found = f"{readable} up to {np.nanmax(values):g} without a unit"
            advice = f"Write {readable} [%] or {readable} [1] in the header row, or give the unit on reading"
            result.faults.append(Fault(found, "a unit: parts or percent", advice, line, number))
        return values, own
    if clean(given) == own:
        return values, own
    try:
        with np.errstate(over="ignore"):  # refused below
            converted = np.asarray(convert(values, clean(given), own))
    except UnitsError as error:
        advice = f"{error}. Write the unit in square brackets behind the name"
        found = f"the unit {quote(given)} for {readable}"
        result.faults.append(Fault(found, f"a unit such as {quote(own)}", advice, line, number))
        return values, own
    if np.isinf(converted).any():
        found = f"{readable} beyond 1e308 {own}"
        result.faults.append(Fault(found, "a smaller number", "Check the unit", line, number))
    if f"converted {readable} from {given} to {own}" not in result.history:
        result.history.append(f"converted {readable} from {given} to {own}")
    return converted, own
