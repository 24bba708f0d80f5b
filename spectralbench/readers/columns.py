"""The value columns of a table: what they hold, in the package's own units."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.choices import Choices
from spectralbench.readers.headings import Heading, clean, heading, is_unit
from spectralbench.units import convert

UNLABELLED = "unlabelled"
UNCERTAINTY = "_standard_uncertainty"  # behind the name of a quantity
_FRACTIONS = ("transmittance", "reflectance", "relative_output")
_LARGEST_FRACTION = 2.0  # noise may pass 1, but hardly 2
_DOUBTFUL_FRACTION = 1.05  # beyond, it may as well be per cent of what passes hardly anything
_SMALLEST_PERCENTAGE = 1.2  # a column of per cent that stays below holds parts, most likely
_FACTOR = re.compile(r"(?:^|[\s(])[x×*·/]\s*10(?:0+|\s*\^?\s*[-+]?\d+)?\)?$")
_RAISED = {"log10": "its decadic logarithm", "log": "its logarithm", "ln": "its natural logarithm"}


class Columns(NamedTuple):
    """The value columns by quantity."""

    values: dict[str, NDArray[np.float64]]  # quantity to (spectrum, rows)
    units: dict[str, str]
    labels: dict[str, list[str]]
    decisions: list[str]
    warnings: list[str]
    history: list[str]
    faults: list[Fault]


class _Column(NamedTuple):
    """A column on its way."""

    values: NDArray[np.float64]
    name: str
    given: str | None  # unit in the file
    called: str
    number: int
    line: int | None
    raised: bool  # from a logarithm


def read_columns(
    values: NDArray[np.float64], headings: Mapping[int, Heading], choices: Choices, line: int | None
) -> Columns:
    """Sort the value columns by quantity and convert them.

    Parameters
    ----------
    values : numpy.ndarray (rows, columns)
        All columns of the table.
    headings : mapping of int to Heading
        What the file says of each value column, by its index.
    choices : Choices
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
    >>> read_columns(table, {1: heading("T [%]")}, Choices(), 1).values["transmittance"].tolist()
    [[0.915, 0.92]]
    """
    result = Columns({}, {}, {}, [], [], [], [])
    quantity, units = choices.quantity, choices.units
    plain = [head for head in headings.values() if not head.uncertainty]
    overrides = quantity is not None and quantity not in [head.quantity for head in plain]
    alike = len({(head.quantity, head.units) for head in plain}) == 1
    by_name: dict[str, list[NDArray[np.float64]]] = {}
    before: _Column | None = None
    for j, head in headings.items():
        called = f"column {j + 1} {quote(head.text)}" if head.text else f"column {j + 1}"
        if head.uncertainty:
            part = _uncertainty(values[:, j], head, before, called, j + 1, line, result)
        else:
            name = quantity if overrides and quantity is not None else head.quantity
            if overrides and (head.quantity or head.changed):
                result.warnings.append(
                    f"column {j + 1} is named {quote(head.text)} and was read as {quantity}"
                )
            given = units if units is not None and quantity in (None, name) else head.units
            name = name or (heading(f"[{units}]").quantity if units else "")
            before = part = _raised(
                _Column(values[:, j], name, given, called, j + 1, line, False), head, choices, result
            )
        if part is None:
            continue
        if _FACTOR.search(head.label):
            advice = "Save the numbers without a factor"
            result.faults.append(
                Fault(f"a factor in {quote(head.text)}", "a name and a unit", advice, line, j + 1)
            )
        column, own = _converted(part, quantity, head, result)
        name = part.name
        if not name:
            told = [known for known in by_name if known.startswith(UNLABELLED)]
            name = UNLABELLED if alike or not told else f"{UNLABELLED}_{len(told) + 1}"
        by_name.setdefault(name, []).append(column)
        result.units[name] = own
        result.labels.setdefault(name, []).append(head.label)
        scale = f", from {_RAISED[_scale(head, choices)]}" if part.raised else ""
        if choices.scale is not None and not head.uncertainty:
            scale = f"{scale or ', on a linear scale'}, as chosen"
        chosen = " as chosen" if part.given == units and units is not None else ""
        shown = part.given if part.given else own
        result.decisions.append(f"{called}: {name}, unit {quote(shown)}{chosen}{scale}")
    result.values.update({name: np.stack(columns) for name, columns in by_name.items()})
    return result


def _scale(head: Heading, choices: Choices) -> str:
    if choices.scale is not None:
        return "log10" if choices.scale == "log10" else ""
    return head.scale


def _raised(column: _Column, head: Heading, choices: Choices, result: Columns) -> _Column:
    """The thing itself, where the column holds its logarithm."""
    scale = _scale(head, choices)
    if not scale:
        return column
    if scale not in _RAISED:
        found, expected = quote(head.text), "the quantity itself, or its logarithm"
        advice = "Say what the decibels refer to, and save the quantity itself"
        if scale == "minus":
            advice = "Save the quantity itself, or its logarithm without a minus sign"
        result.faults.append(Fault(found, expected, advice, column.line, column.number))
        return column
    if scale == "log":
        result.warnings.append(f"{column.called} does not say the base of its logarithm: taken as 10")
    with np.errstate(over="ignore"):  # refused below
        values = np.exp(column.values) if scale == "ln" else 10.0**column.values
    if np.isinf(values).any():
        found = f"a logarithm of {np.nanmax(column.values):g} in {column.called}"
        result.faults.append(
            Fault(found, "at most that of 1e308", "Is this a logarithm?", column.line, column.number)
        )
    base = "e" if scale == "ln" else "10"
    result.history.append(f"raised {base} to the power of {column.called}")
    return column._replace(values=values, raised=True)


def _uncertainty(
    values: NDArray[np.float64],
    head: Heading,
    before: _Column | None,
    called: str,
    number: int,
    line: int | None,
    result: Columns,
) -> _Column | None:
    """A column of standard uncertainties, in the unit of what it belongs to; None if that is not clear."""
    name = head.quantity or ("" if before is None else before.name)
    given = head.units if head.units is not None or before is None else before.given
    why = ""
    if head.uncertainty == "unclear":
        why = "it does not say whether it is a standard uncertainty; if it is, name it such as u(irradiance)"
    elif not name or before is None:
        why = "it does not say of what it is the uncertainty; name it such as u(irradiance)"
    elif before.raised:
        why = "it stands beside a logarithm"
    elif clean(given or "") == "%" and clean(before.given or "") == "%":
        why = "per cent of the value and per cent of the scale cannot be told apart"
    if why:
        result.warnings.append(f"{called} was left out: {why}")
        result.decisions.append(f"{called}: left out, an uncertainty that is not clear")
        return None
    if head.uncertainty == "deviation":
        result.warnings.append(f"{called} was taken as the standard uncertainty of {name}")
    if before is not None and clean(given or "") == "%":
        values, given = np.abs(before.values) * values / 100, before.given
    return _Column(values, name + UNCERTAINTY, given, called, number, line, False)


def _converted(
    column: _Column, asked: str | None, head: Heading, result: Columns
) -> tuple[NDArray[np.float64], str]:
    """A column in the own unit of its quantity, and that unit."""
    values, name, given, _, number, line, _ = column
    called = quote(head.text) if head.text else f"column {number}"
    if not name and head.changed:
        result.warnings.append(
            f"{called} is kept as {UNLABELLED}, because of {quote(head.changed)}:"
            " if it is one of the known quantities all the same, name the quantity on reading"
        )
    elif not name:
        result.warnings.append(f"the file does not say what {called} holds: it is kept as {UNLABELLED}")
    if not name:
        if given is None or clean(given) == "1" or not is_unit(given):
            return values, "1"
        return (values / 100, "1") if clean(given) == "%" else (values, clean(given))
    quantity = name.removesuffix(UNCERTAINTY)
    own = QUANTITIES[quantity].units
    readable = name.replace("_", " ")
    largest = np.nanmax(np.abs(values), initial=0.0) if name in _FRACTIONS else 0.0
    if given is None:
        if own != "1" and asked != name:
            advice = f"Write {readable} [{own}] in the header row, or give the unit on reading"
            result.faults.append(
                Fault(f"{called} without a unit", f"the unit of {readable}", advice, line, number)
            )
        elif own != "1":
            result.warnings.append(f"the unit of {called} is not stated: taken as {own}")
        elif largest > _LARGEST_FRACTION:
            found = f"{readable} up to {np.nanmax(values):g} without a unit"
            advice = f"Write {readable} [%] or {readable} [1] in the header row, or give the unit on reading"
            result.faults.append(Fault(found, "a unit: parts or percent", advice, line, number))
        elif largest > _DOUBTFUL_FRACTION:
            result.warnings.append(
                f"{called} goes up to {largest:g} without a unit, and was taken as parts: if that is per "
                "cent, read it with the unit %"
            )
        return values, own
    if clean(given) == "%" and name in _FRACTIONS and 0 < largest <= _SMALLEST_PERCENTAGE:
        result.warnings.append(
            f"{called} never passes {largest:g} %: if it holds parts, read it with the unit 1"
        )
    if clean(given) == own:
        if largest > _LARGEST_FRACTION:
            result.warnings.append(
                f"{called} goes up to {largest:g}: if that is per cent, read it with the unit %"
            )
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
