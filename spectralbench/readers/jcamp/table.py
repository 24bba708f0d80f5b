"""The table of a block: abscissas and ordinates, each checked against what the file says of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp import commas
from spectralbench.readers.jcamp.ordinates import Rows, checkpoints, numbers, rows
from spectralbench.readers.jcamp.packed import LISTED
from spectralbench.readers.jcamp.records import Record, without_comments
from spectralbench.readers.jcamp.stated import Stated, number

_REGULAR, _PAIRS = "X++(Y..Y", "XY..XY"
_FEW = 3  # steps: so far may ##LASTX= lie beyond a table that has its end
_MANY = 10  # rows that cannot all be wrong in the same way by chance
_CUT_OFF = "Was the file cut off, or is a row lost or doubled? Save it again"
_CORRECT = "correct ##LASTX= if the table is whole"


class _Course(NamedTuple):
    """Rows at which the abscissas leave their course, and whether all do so after the first row."""

    wrong: NDArray[np.int64]
    early: bool


class Table(NamedTuple):
    """Abscissas and ordinates in the order of the file, factors applied."""

    x: NDArray[np.float64]  # (points,)
    y: NDArray[np.float64]  # (points,)
    lines: NDArray[np.int64] | None  # (points,) of a table of pairs
    regular: bool


def read_table(
    record: Record, told: Stated, *, ended: bool, faults: list[Fault], warnings: list[str]
) -> Table | None:
    r"""Read the table of a block.

    Parameters
    ----------
    record : Record
        The record that holds the table.
    told : Stated
        What the header says of it.
    ended : bool
        Whether the end of the block is there.
    faults : list of Fault
        What is wrong is added here.
    warnings : list of str
        What a person should know is added here.

    Returns
    -------
    Table or None
        None if there is nothing to go on with.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.blocks import Block
    >>> from spectralbench.readers.jcamp.stated import stated
    >>> record = Record("XYPOINTS", "XYPOINTS", 5, "(XY..XY)", "400, 0.5\n402, 0.6\n")
    >>> read_table(record, stated(Block(1), [], []), ended=True, faults=[], warnings=[]).y.tolist()
    [0.5, 0.6]
    """
    squeezed = "".join(record.value.split()).upper()
    kind = next((kind for kind in (_REGULAR, _PAIRS) if squeezed.lstrip("(").startswith(kind)), None)
    rest = "" if kind is None else squeezed.lstrip("(").removeprefix(kind).lstrip(")").lstrip(",")
    if kind is None or rest not in ("", "XYDATA", "XYPOINTS", "PROFILE", "PEAKS", "PEAKTABLE"):
        widths = squeezed.lstrip("(").startswith("XYW")
        advice = "Save the spectrum in one of these forms"
        if widths:
            advice = (
                "Tables of peaks with widths are not read: save the peaks without widths, or the spectrum"
            )
        expected = "(X++(Y..Y)) or (XY..XY)"
        faults.append(Fault(f"the form {quote(record.value)}", expected, advice, record.line))
        return None
    body = without_comments(record.body)
    comma = commas.with_header(body, record.line + 1, told.comma) if told.comma else None
    if comma is not None:
        faults.append(comma)
        return None
    before = len(faults)
    if kind == _REGULAR:
        table = _regular(body, record.line + 1, told, faults, warnings)
    else:
        table = _pairs(body, record, told, faults, warnings, ended=ended)
    if "," in body and _are_decimals(body, record, told, faults, before, pairs=kind == _PAIRS):
        return None
    return table


def _are_decimals(
    body: str, record: Record, told: Stated, faults: list[Fault], before: int, *, pairs: bool
) -> bool:
    """Whether commas in a table are decimal signs, or may be: one fault instead of all others then."""
    count = len(faults) - before
    if not count and (pairs or told.points is not None):
        return False  # what is in order, or agrees with the number of points, was read as it is meant
    other = commas.decimals(body, record.line + 1, pairs=pairs)
    if other is None or told.points not in (None, other.points):
        return False
    if pairs and told.points is None and count < min(LISTED, other.points // 2):
        return False  # of pairs parted by commas alone, a few are out of order
    faults[before:] = [other.fault]
    return True


def _regular(body: str, line: int, told: Stated, faults: list[Fault], warnings: list[str]) -> Table | None:
    before = len(faults)
    found = rows(body, line, faults)
    if found is None:
        if len(faults) == before:
            faults.append(Fault("no rows of numbers", "a table", _CUT_OFF, line - 1))
        return None
    begins = np.cumsum(found.counts) - found.counts
    values = found.values
    if found.differences[:-1].any():
        repeated = np.append(False, found.differences[:-1])
        again = begins[repeated]
        one, other = values[again], values[again - 1]
        wrong = np.flatnonzero(np.abs(one - other) > 1e-12 * np.abs(other))
        if wrong.tolist() == [len(again) - 1] and again[-1] == len(values) - 1 and values[-1] == 0:
            warnings.append(
                f"the last row (line {found.lines[-1]}) repeats 0 and not {values[-2]:.15g}: left out, "
                "so that nothing checks the row before it"
            )
            wrong = wrong[:0]
        for i in wrong[:LISTED].tolist():
            row = int(np.flatnonzero(repeated)[i])
            expected = f"{other[i]:.15g} again, the last ordinate of line {found.lines[row - 1]}"
            advice = "One of the two rows is damaged: save the file again"
            text = f"the ordinate {one[i]:.15g} at the beginning of the row"
            faults.append(Fault(text, expected, advice, int(found.lines[row]), 2))  # behind its abscissa
        values = np.delete(values, again)
        found = found._replace(values=values)
        begins = begins - np.cumsum(repeated)  # the place of the first ordinate of each row
    _count(len(values), told, faults)
    if len(values) < 2:
        faults.append(Fault("1 ordinate", "two or more", _CUT_OFF, line - 1))
        return None
    ends = _ends(found, begins, len(values), body, line, told, faults, warnings)
    if ends is None or len(faults) > before:
        return None
    with np.errstate(over="ignore"):  # refused later
        values *= told.y_factor  # in place: of a long table, each copy counts
        return Table(np.linspace(*ends, len(values)), values, None, True)


def _count(count: int, told: Stated, faults: list[Fault]) -> None:
    if told.points is not None and told.points != count:
        found = f"{count} point{'s' * (count != 1)} where ##NPOINTS= says {told.points}"
        faults.append(Fault(found, f"{told.points} points", _CUT_OFF, told.points_line))


def _ends(
    found: Rows,
    begins: NDArray[np.int64],
    count: int,
    body: str,
    line: int,
    told: Stated,
    faults: list[Fault],
    warnings: list[str],
) -> tuple[float, float] | None:
    """The first and the last abscissa, once the one that begins each row agrees with them."""
    abscissas = found.checkpoints * told.x_factor
    points = max(count if told.points is None else told.points, 2)
    first = float(abscissas[0]) if told.first_x is None else told.first_x.value
    if told.first_x is None:
        warnings.append(f"##FIRSTX= is not stated: taken as {first:.12g} from the first row")
    if told.last_x is not None:
        last = told.last_x.value
    elif "DELTAX" in told.others:
        last = first + told.others["DELTAX"].value * (points - 1)
        warnings.append(f"##LASTX= is not stated: taken as {last:.12g} from ##DELTAX= and the points")
    elif len(begins) > 1:
        last = first + float((abscissas[-1] - abscissas[0]) / begins[-1]) * (points - 1)
        warnings.append(f"##LASTX= is not stated: taken as {last:.12g} from the abscissas of the rows")
    else:
        advice = "Add ##LASTX= to the header"
        faults.append(Fault("no ##LASTX= and a single row", "the last abscissa", advice, int(found.lines[0])))
        return None
    if first == last or not np.isfinite(last - first):
        text = f"abscissas from {first:.12g} to {last:.12g}"
        faults.append(Fault(text, "a range", "Correct ##FIRSTX= and ##LASTX=", int(found.lines[0])))
        return None

    def digits(at: NDArray[np.int64]) -> float:
        written = checkpoints(body, (found.lines[at] - line).tolist())
        units = [number(text) for text in written]
        return 0.5000001 * abs(told.x_factor / step) * max((unit.unit for unit in units if unit), default=0.0)

    step = (last - first) / (points - 1)
    whole = told.points == count
    checked = whole and bool(found.differences[:-1].all())  # each row repeats an ordinate: none is lost
    wrong, early = _course((abscissas - first) / step - begins, digits, checked=checked)
    if len(wrong) and wrong[0] == 0 and told.first_x is not None and last != abscissas[0]:
        other = float(abscissas[0])
        if not len(_course((abscissas - other) / (last - other) * (points - 1) - begins, digits).wrong):
            text = f"##FIRSTX= says {first:.12g}, the first row {other:.12g}"
            warnings.append(f"{text}: the rows count, with which ##LASTX= agrees")
            return other, last
    if len(wrong) and told.last_x is not None and told.points == count and "DELTAX" in told.others:
        other = first + told.others["DELTAX"].value * (points - 1)
        apart = (abscissas - first) / (other - first) * (points - 1) - begins if other != first else abscissas
        if other != first and not len(_course(apart, digits).wrong):
            text = f"##LASTX= says {last:.12g}, ##FIRSTX=, ##DELTAX= and ##NPOINTS= {other:.12g}"
            warnings.append(f"{text}: the latter count, with which the rows agree")
            return first, other
    if len(wrong) and wrong[0] > 0 and told.last_x is not None and told.points in (None, count):
        own = _steps(abscissas, begins)
        for step in own:
            course = _course((abscissas - first) / step - begins, digits)
            if not len(course.wrong):
                text = f"the last abscissa {first + step * (count - 1):.12g}, in steps of {step:.6g}"
                advice = "Correct ##LASTX=, or the abscissas" if whole else f"{_CUT_OFF}, or {_CORRECT}"
                faults.append(Fault(text, f"##LASTX= {last:.12g}", advice, int(found.lines[-1]), 1))
                return None
        if own and told.points is None:  # the step of most rows shows where one is lost
            wrong = course.wrong
        else:
            step = (last - first) / (points - 1)
    wrong = wrong[:LISTED]
    texts = checkpoints(body, (found.lines[wrong] - line).tolist())
    for i, text in zip(wrong.tolist(), texts, strict=True):
        scaled = "" if told.x_factor == 1 else f", which is {abscissas[i]:.12g}"
        expected = (
            f"about {(first + begins[i] * step) / told.x_factor:.12g} at point {begins[i] + 1} "
            f"(##FIRSTX= {first:.12g}, step {step:.6g})"
        )
        faults.append(Fault(f"the abscissa {text}{scaled}", expected, _CUT_OFF, int(found.lines[i]), 1))
    if early:
        warnings.append(
            f"from line {found.lines[1]} on, the abscissas of the rows lie up to one step ({abs(step):.6g}) "
            "beside the course that ##FIRSTX= and ##LASTX= set. That course counts; which of the two is "
            "right is not known"
        )
    return first, last


def _steps(abscissas: NDArray[np.float64], begins: NDArray[np.int64]) -> list[float]:
    """The step from the first row to the last, and that of most rows; none of two rows or fewer."""
    if len(begins) < 3:
        return []
    with np.errstate(over="ignore", invalid="ignore"):
        each = np.diff(abscissas) / np.diff(begins)
    steps = (float(abscissas[-1] - abscissas[0]) / float(begins[-1]), float(np.median(each)))
    return [step for step in steps if step and np.isfinite(step)]


def _course(
    apart: NDArray[np.float64], digits: Callable[[NDArray[np.int64]], float], *, checked: bool = False
) -> _Course:
    """Find the rows at which the abscissas leave their course.

    Parameters
    ----------
    apart : numpy.ndarray (rows,)
        How far each row lies from its course, in steps.
    digits : callable
        Half of the last digit of the abscissas of some rows, in steps.
    checked : bool
        Whether the ordinates and their number show that nothing is lost or doubled.

    Returns
    -------
    _Course
        Rows that jump by more than half a step and by more than their digits allow, or drift by
        more than a step. Many files from one collection lie one step beside their course in all
        rows but the first: nothing can be lost there, which makes it no fault. Of few rows it is
        known where the ordinates are checked, and each abscissa is that of the next point.
    """
    off = np.flatnonzero(np.abs(apart) > 0.5)
    if not len(off):
        return _Course(off, False)
    allowed = digits(off[:LISTED])
    off = off[np.abs(apart[off]) > max(allowed, 0.5)]
    before = np.where(off > 0, apart[off - 1], 0.0)
    jumps = off[np.abs(apart[off] - before) > max(allowed, 0.5)]
    far = off[np.abs(apart[off]) > 1 + allowed]
    habit = len(apart) >= _MANY or (checked and len(apart) > 1 and apart[1:].min() > 0.5)
    if not len(far) and jumps.tolist() == [1] and habit:
        return _Course(far, True)
    return _Course(jumps if len(jumps) else far[:1], False)


def _pairs(
    body: str, record: Record, told: Stated, faults: list[Fault], warnings: list[str], *, ended: bool
) -> Table | None:
    line = record.line + 1
    before = len(faults)
    values, counts = numbers(body, line, faults)
    for i in np.flatnonzero(counts % 2)[:LISTED].tolist():
        found = f"{counts[i]} number{'s' * (int(counts[i]) != 1)} in the row"
        advice = "Complete the pair. If the comma is the decimal sign, save with a point"
        faults.append(Fault(found, "pairs of abscissa and ordinate", advice, line + i))
    if len(faults) > before:
        return None
    if not len(values):
        faults.append(Fault("no pairs of numbers", "a table", _CUT_OFF, record.line))
        return None
    _count(len(values) // 2, told, faults)
    with np.errstate(over="ignore"):  # refused later
        x, y = values[::2] * told.x_factor, values[1::2] * told.y_factor
    lines = np.repeat(np.arange(line, line + len(counts)), counts // 2)
    peaks = record.label == "PEAKTABLE"
    if peaks:
        warnings.append("this is a table of peaks: between them nothing is known, so no integral holds")
        order = np.argsort(x, kind="stable")
        x, y, lines = x[order], y[order], lines[order]
    else:
        _cut_off(x, told, int(lines[-1]), faults, warnings, ended=ended)
    kept = _in_order(x, y, lines, faults, warnings, peaks=peaks)
    if len(faults) > before:
        return None
    if len(kept) < (1 if peaks else 2):
        faults.append(Fault("1 point", "two or more", _CUT_OFF, record.line))
        return None
    return Table(x[kept], y[kept], lines[kept], False)


def _cut_off(
    x: NDArray[np.float64],
    told: Stated,
    line: int,
    faults: list[Fault],
    warnings: list[str],
    *,
    ended: bool,
) -> None:
    """See whether a table without its number of points is whole."""
    if told.points is not None or not np.isfinite(x).all():
        return
    if told.last_x is None:
        if not ended:
            warnings.append("neither ##NPOINTS= nor ##LASTX= nor ##END= says whether the table is whole")
        return
    missing = told.last_x.value - x[-1]
    allowed = told.last_x.unit
    if ended:
        steps = np.abs(np.diff(x))
        allowed += _FEW * float(np.median(steps)) if len(steps) else np.inf
        missing *= np.sign(x[-1] - x[0])  # beyond the table, as it goes
    else:
        missing = abs(missing)
    if missing > allowed:
        found = f"the last abscissa {x[-1]:.12g}{'' if ended else ', and no ##END='}"
        advice = f"{_CUT_OFF}, or {_CORRECT}" if ended else _CUT_OFF
        faults.append(Fault(found, f"##LASTX= {told.last_x.value:.12g}", advice, line))


_EACH = "Save the file anew, with an abscissa for each ordinate"
_ONCE = "Save the file anew: nothing here says which of the two holds"


def _in_order(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    lines: NDArray[np.int64],
    faults: list[Fault],
    warnings: list[str],
    *,
    peaks: bool,
) -> NDArray[np.int64]:
    """The pairs that are kept: each abscissa once, all in one order."""

    def place(i: int, of: int = 0) -> tuple[int, int | None]:
        """The line, and which number of it; that is not known once peaks were sorted."""
        return int(lines[i]), None if peaks else 2 * (i - int(np.searchsorted(lines, lines[i]))) + 1 + of

    for i in np.flatnonzero(~np.isfinite(x))[:LISTED].tolist():
        faults.append(Fault(f"the abscissa {x[i]}", "a number", _EACH, *place(i)))
    steps = np.diff(x)
    same = steps == 0
    alike = same & ((y[1:] == y[:-1]) | (np.isnan(y[1:]) & np.isnan(y[:-1])))
    for i in np.flatnonzero(same & ~alike)[:LISTED].tolist():
        found = f"{y[i + 1]:.12g} at {x[i + 1]:.12g}, where line {lines[i]} has {y[i]:.12g}"
        faults.append(Fault(found, "one ordinate", _ONCE, *place(i + 1, 1)))
    if count := int(alike.sum()):
        first = int(lines[1:][alike][0])
        stand = "pair stands" if count == 1 else "pairs stand"
        warnings.append(f"{count} {stand} twice, word for word (first in line {first}): kept once")
    falling = bool((steps < 0).sum() > (steps > 0).sum())
    for i in np.flatnonzero(steps > 0 if falling else steps < 0)[:LISTED].tolist():
        found = f"{x[i + 1]:.12g} after {x[i]:.12g} (line {lines[i]})"
        way = "descending" if falling else "ascending"
        expected = f"abscissas in one order, {way} as in the other pairs"
        faults.append(Fault(found, expected, "Sort the pairs, or repair the number", *place(i + 1)))
    return np.flatnonzero(~np.append(False, alike))
