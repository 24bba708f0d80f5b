"""The numbers that the header of a block states of its table."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.blocks import Block

_NUMBER = re.compile(r"([+-]?(?:\d+([.,]\d*)?|([.,]\d+))(?:[Ee]([+-]?\d{1,4}))?)(?:\s.*)?", re.DOTALL)
_ROUNDED = 1e-3  # of a step, or of the largest ordinate: what programs lose on writing it


class Number(NamedTuple):
    """A number as stated, and the value of its last digit."""

    value: float
    unit: float
    line: int


class Stated(NamedTuple):
    """What the header says of the table; None where it says nothing."""

    first_x: Number | None
    last_x: Number | None
    points: int | None
    points_line: int | None
    x_factor: float
    y_factor: float
    others: dict[str, Number]  # DELTAX, FIRSTY and the extremes
    comma: str = ""  # the first record with a decimal comma


def number(text: str, line: int = 0) -> Number | None:
    """Read a number of a header, with a decimal point or comma; None if it is none.

    Examples
    --------
    >>> number("-9.64E-1")
    Number(value=-0.964, unit=0.001, line=0)
    >>> number("about 5")
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        return None
    value = float(match[1].replace(",", "."))
    decimals = len(match[2] or match[3] or ".") - 1
    power = int(match[4] or 0) - decimals
    if not np.isfinite(value) or power > 307:
        return None
    return Number(value, 10.0**power, line)


def stated(block: Block, faults: list[Fault], warnings: list[str]) -> Stated:
    """Read the numbers of a header.

    Parameters
    ----------
    block : Block
        The block with the table.
    faults : list of Fault
        Numbers that cannot be read, where the table depends on them, are added here.
    warnings : list of str
        What a person should know is added here.

    Returns
    -------
    Stated
        The numbers.

    Examples
    --------
    >>> stated(Block(1), [], []).x_factor
    1.0
    """
    found: dict[str, Number | None] = {}
    comma = ""
    for label in ("FIRSTX", "LASTX", "NPOINTS", "XFACTOR", "YFACTOR"):
        text = block.value(label)
        found[label] = number(text, block.fields[label].line) if text else None
        if text and found[label] is None:
            record = block.fields[label]
            advice = "Correct the number in the header"
            faults.append(Fault(f"##{record.name}= {quote(text)}", "a number", advice, record.line))
        elif _has_comma(text):
            warnings.append(f"##{label}= {quote(text)} was read with a decimal comma")
            comma = comma or _record(block, label)
    factors = [_factor(found[label], label, faults, warnings) for label in ("XFACTOR", "YFACTOR")]
    points = found["NPOINTS"]
    if points is not None and not (0 <= points.value < 2**53 and points.value.is_integer()):
        text = f"##NPOINTS= {quote(block.value('NPOINTS'))}"
        faults.append(Fault(text, "a whole number of points", "Correct the number", points.line))
        points = None
    others = {}
    for label in ("DELTAX", "FIRSTY", "MAXX", "MINX", "MAXY", "MINY"):
        text = block.value(label)
        other = number(text)
        if other is not None:
            others[label] = other
            comma = comma or (_record(block, label) if _has_comma(text) else "")
        elif text:
            warnings.append(
                f"##{label}= {quote(text)} is no number that can be read: nothing was checked by it"
            )
    return Stated(
        found["FIRSTX"],
        found["LASTX"],
        None if points is None else int(points.value),
        None if points is None else points.line,
        factors[0],
        factors[1],
        others,
        comma,
    )


def _has_comma(text: str) -> bool:
    match = _NUMBER.fullmatch(text.strip()) if "," in text else None
    return match is not None and "," in match[1].rstrip(",")  # "400, in air" has none


def _record(block: Block, label: str) -> str:
    return f"##{block.fields[label].name}= {quote(block.value(label))} in line {block.fields[label].line}"


def _factor(factor: Number | None, label: str, faults: list[Fault], warnings: list[str]) -> float:
    if factor is None:
        warnings.append(f"##{label}= is not stated: taken as 1")
        return 1.0
    if factor.value == 0:
        faults.append(Fault(f"##{label}= 0", "a factor other than 0", "Correct the number", factor.line))
        return 1.0
    return factor.value


def disagreements(
    told: Stated, x: NDArray[np.float64], y: NDArray[np.float64], *, regular: bool
) -> list[str]:
    """What the header states otherwise than the table shows it.

    Parameters
    ----------
    told : Stated
        The header.
    x, y : numpy.ndarray (points,)
        The table in the order of the file, factors applied.
    regular : bool
        Whether the abscissas have one step.

    Returns
    -------
    list of str
        A warning for each number.

    Examples
    --------
    >>> told = stated(Block(1), [], [])._replace(others={"MAXY": Number(0.6, 0.01, 7)})
    >>> disagreements(told, np.array([1.0, 2.0]), np.array([0.5, 0.5]), regular=True)
    ['##MAXY= says 0.6, the table 0.5: the table counts']
    """
    shown: dict[str, float] = {}
    valid = y[~np.isnan(y)] if np.isnan(y).any() else y
    shown["FIRSTX"], shown["LASTX"] = float(x[0]), float(x[-1])
    shown["MAXX"], shown["MINX"] = max(shown.values()), min(shown.values())
    if len(valid):
        shown["FIRSTY"] = float(y[0])
        shown["MAXY"], shown["MINY"] = float(valid.max()), float(valid.min())
    largest = float(np.abs(valid).max()) if len(valid) else 0.0
    step = (shown["LASTX"] - shown["FIRSTX"]) / max(len(x) - 1, 1)
    if regular:
        shown["DELTAX"] = step
    numbers = dict(told.others)
    if not regular:
        shown["MAXX"], shown["MINX"] = float(x.max()), float(x.min())
        numbers |= {k: n for k, n in (("FIRSTX", told.first_x), ("LASTX", told.last_x)) if n is not None}
    texts = []
    for label, given in numbers.items():
        value = shown.get(label)
        if value is None or np.isnan(value):
            continue
        scale = largest if label.endswith("Y") else abs(step)
        if abs(given.value - value) >= max(given.unit * (1 - 1e-9), _ROUNDED * scale):
            texts.append(f"##{label}= says {given.value:.12g}, the table {value:.12g}: the table counts")
    return texts
