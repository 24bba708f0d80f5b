"""Packed digits: SQZ, DIF and DUP, decoded in bulk."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote

LISTED = 20  # faults of one kind in one table
_DIGITS = 15  # what a double holds exactly
_COUNT_DIGITS = 9
_POINT = (ord(".") - 48) % 256
_LONGEST = 400  # digits of an abscissa
_REACH = 2.0**62  # differences add up to less, or integers would wrap round

_BLANK, _FEED, _DIGIT, _SQUEEZED, _DIFFERENCE, _REPEAT, _SIGN, _MISSING = range(8)
_KIND = np.zeros(256, np.uint8)
_LEADING = np.zeros(256, np.int64)  # the digit that a letter stands for
_NEGATIVE = np.zeros(256, np.bool_)
for _letters, _kind, _first in (
    ("0123456789", _DIGIT, 0),
    ("@ABCDEFGHI", _SQUEEZED, 0),
    ("abcdefghi", _SQUEEZED, 1),
    ("%JKLMNOPQR", _DIFFERENCE, 0),
    ("jklmnopqr", _DIFFERENCE, 1),
    ("STUVWXYZs", _REPEAT, 1),
):
    for _digit, _letter in enumerate(_letters, _first):
        _KIND[ord(_letter)] = _kind
        _LEADING[ord(_letter)] = _digit
        _NEGATIVE[ord(_letter)] = _letter.islower() and _letter != "s"
for _letter, _kind in (("\n", _FEED), (".", _DIGIT), ("+", _SIGN), ("-", _SIGN), ("?", _MISSING)):
    _KIND[ord(_letter)] = _kind
_NEGATIVE[ord("-")] = True
_TABLE = _KIND.tobytes()
_EXPONENTS = (b"E+", b"E-", b"e+", b"e-")
CHECKPOINT = re.compile(rb"^ *([+-]?(?:\d+\.?\d*|\.\d+)(?:[Ee][+-]\d{1,2}(?!\d))?)", re.MULTILINE)
LETTERS = bytes(i for i in range(256) if _KIND[i] != _BLANK) + b" "


_LONELY = ("an abscissa, and ordinates behind it", "Was the file cut off here? Save it again")
_FIRST = ("an ordinate at the beginning of the row", "A difference or count needs one before it in its row")
_TO_MISSING = ("an ordinate in full behind a missing one", "A difference to a missing ordinate is not known")


class Unpacked(NamedTuple):
    """Rows of packed digits."""

    rows: NDArray[np.int64]  # (rows,) the lines that are not empty, from 0
    abscissas: NDArray[np.float64]  # (rows,)
    counts: NDArray[np.int64]  # (rows,) ordinates of each row
    values: NDArray[np.float64]  # (ordinates,)
    differences: NDArray[np.bool_]  # (rows,) whether the last ordinate of a row is a difference


class _Numbers(NamedTuple):
    """Where numbers begin: at a letter or sign, or at a digit behind a blank."""

    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    kinds: NDArray[np.uint8]
    first: NDArray[np.int64]  # (rows,) the number with which each row begins: its abscissa
    rows: NDArray[np.int64]  # (rows,) where the rows stand, empty ones counted too

    def row(self, at: int) -> int:
        """The row in which a number stands."""
        return int(self.rows[np.searchsorted(self.first, at, side="right") - 1])

    def text(self, at: int, data: bytes) -> bytes:
        """A number as it is written."""
        return data[self.starts[at] : self.ends[at]]


def unpack(data: bytes, most: int, line: int, faults: list[Fault]) -> Unpacked | None:
    r"""Decode rows of packed digits, each behind its abscissa in plain digits.

    Parameters
    ----------
    data : bytes
        The rows, with line feeds between them.
    most : int
        How many ordinates they may hold.
    line : int
        Where the first row stands in the file.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    Unpacked or None
        None if there are faults, or no rows.

    Examples
    --------
    >>> unpack(b"400A000J000JU%T\n407 50U", 100, 1, []).values.tolist()
    [1000.0, 2000.0, 2001.0, 2002.0, 2003.0, 2003.0, 2003.0, 50.0, 50.0, 50.0]
    """
    if (b"+" in data or b"-" in data) and any(sign in data for sign in _EXPONENTS):
        data = CHECKPOINT.sub(_without_exponent, data)
        sign = next((sign for sign in _EXPONENTS if sign in data), b"")
        if sign:
            number = line + data.count(b"\n", 0, data.index(sign))
            found_text = f"{quote(sign.decode())} among packed digits"
            advice = "It may be an exponent or a 5 with a number behind it: write the numbers in one form"
            faults.append(Fault(found_text, "numbers without exponents", advice, number))
            return None
    signs = np.frombuffer(data, np.uint8)
    found = _numbers(signs, np.frombuffer(data.translate(_TABLE), np.uint8))
    if not len(found.starts):
        return None
    bad = _faults(found, data, line)
    if bad:
        faults += bad
        return None
    values, kinds = _values(found, signs), found.kinds
    abscissas = values[found.first].astype(float)
    for row in np.flatnonzero((found.ends - found.starts)[found.first] > _DIGITS).tolist():
        abscissas[row] = float(found.text(int(found.first[row]), data))
    counts = np.ones(len(values), np.int64)
    counts[found.first] = 0
    repeats = np.flatnonzero(kinds == _REPEAT)
    if len(repeats):
        counts[repeats - 1] = values[repeats]
        counts[repeats] = 0
        total = int(counts.sum())
        if total > most:
            largest = int(repeats[np.argmax(values[repeats])])
            found_text = f"{total} ordinates, {int(values[largest])} of them by one count"
            advice = "A count of repeats is wrong, or the table is too dull to be a measurement"
            expected = f"at most {most} in a table of this length"
            faults.append(Fault(found_text, expected, advice, line + found.row(largest)))
            return None
        values, kinds = np.repeat(values, counts), np.repeat(kinds, counts)
    else:
        ordinates = counts > 0
        values, kinds = values[ordinates], kinds[ordinates]
    per_row = np.add.reduceat(counts, found.first)
    absolute = np.flatnonzero(kinds != _DIFFERENCE)
    if len(absolute) < len(values):
        reach = float(max(values.max(), -values.min())) * len(values)
        if reach > _REACH:
            advice = "Check the digits"
            faults.append(Fault(f"differences that may add up to {reach:.3g}", "smaller ones", advice, line))
            return None
        sums = np.cumsum(values)
        offsets = sums[absolute] - values[absolute]
        values = sums - np.repeat(offsets, np.diff(absolute, append=len(values)))
    numbers = values.astype(float)
    if b"?" in data:
        numbers[kinds == _MISSING] = np.nan
    differences = kinds[np.cumsum(per_row) - 1] == _DIFFERENCE
    return Unpacked(found.rows, abscissas, per_row, numbers, differences)


def _without_exponent(match: re.Match[bytes]) -> bytes:
    return format(Decimal(match[1].decode()), "f").encode()


def _numbers(signs: NDArray[np.uint8], kinds: NDArray[np.uint8]) -> _Numbers:
    digit, blank = kinds == _DIGIT, kinds <= _FEED
    begins = kinds >= _SQUEEZED
    begins[1:] |= digit[1:] & (blank | (kinds == _MISSING))[:-1]
    begins[:1] |= digit[:1]
    edges = np.flatnonzero(begins | blank)
    is_start = begins[edges]
    starts = edges[is_start]
    ends = np.append(edges[1:], len(kinds))[is_start]
    upto = np.searchsorted(starts, np.flatnonzero(kinds == _FEED))
    per_row = np.diff(upto, prepend=0, append=len(starts))
    rows = np.flatnonzero(per_row)
    return _Numbers(starts, ends, kinds[starts], (np.cumsum(per_row) - per_row)[rows], rows)


def _values(found: _Numbers, signs: NDArray[np.uint8]) -> NDArray[np.int64 | np.float64]:
    """The numbers as they are written, letters being digits with a sign."""
    leading = signs[found.starts]
    values = _LEADING[leading]
    lengths = found.ends - found.starts
    digits, points = signs - np.uint8(48), np.flatnonzero(signs == ord("."))
    left = np.flatnonzero((lengths > 1) & (lengths <= _DIGITS))
    numbers, at, ends = values[left], found.starts[left] + 1, found.ends[left]
    while len(left):  # one digit more of each number that has one
        here = digits[at]
        longer = numbers * 10 + here
        numbers = np.where(here == _POINT, numbers, longer) if len(points) else longer
        at += 1
        done = at == ends
        if done.any():
            values[left[done]] = numbers[done]
            more = ~done
            left, numbers, at, ends = left[more], numbers[more], at[more], ends[more]
    values = np.where(_NEGATIVE[leading], -values, values)
    if not len(points):
        return values
    owner = np.searchsorted(found.starts, points, side="right") - 1
    # A whole number below 2**53 by a power of ten is rounded as the decimal number itself.
    scaled = values.astype(float)
    scaled[owner] /= 10.0 ** (found.ends[owner] - points - 1)
    return scaled


def _faults(found: _Numbers, data: bytes, line: int) -> list[Fault]:
    """What is no number, and what has no number before it that it could refer to."""
    kinds, lengths = found.kinds, found.ends - found.starts
    leading = np.zeros(len(kinds), np.bool_)
    leading[found.first] = True
    before = np.full(len(kinds), _BLANK, np.uint8)
    before[1:] = kinds[:-1]
    before[leading] = _BLANK
    second = np.append(False, leading[:-1])
    difference, repeat = kinds == _DIFFERENCE, kinds == _REPEAT
    refers = difference | repeat
    plain = (kinds == _DIGIT) | (kinds == _SIGN)
    checks = (
        (leading & ~plain, "a row that begins with its abscissa", "Write it as a plain number"),
        (leading & np.append(leading[1:], True), *_LONELY),
        (second & ~leading & refers, *_FIRST),
        ((kinds == _SIGN) & (lengths == 1), "a digit behind the sign", "Complete the number"),
        (~leading & (lengths > _DIGITS), f"at most {_DIGITS} digits", "Was the line damaged?"),
        (leading & (lengths > _LONGEST), "a shorter abscissa", "Was the line damaged?"),
        (repeat & (lengths > _COUNT_DIGITS), "a smaller count", "Check the count"),
        (repeat & (before == _REPEAT), "one count", "Delete one of the two counts"),
        (difference & (before == _MISSING), *_TO_MISSING),
        (_bad_points(found, data), "a number with one decimal point", "Repair the number"),
    )
    faults = []
    for bad, expected, advice in checks:
        for i in np.flatnonzero(bad)[:LISTED].tolist():
            faults.append(Fault(quote(found.text(i, data).decode()), expected, advice, line + found.row(i)))
    return faults


def _bad_points(found: _Numbers, data: bytes) -> NDArray[np.bool_]:
    """Numbers with several decimal points or nothing else, and counts with one."""
    bad = np.zeros(len(found.starts), np.bool_)
    points = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("."))
    if len(points):
        at = np.searchsorted(found.starts, points, side="right") - 1
        bad[at[1:][at[1:] == at[:-1]]] = True
        lengths, kinds = (found.ends - found.starts)[at], found.kinds[at]
        bad[at] |= ((lengths == 1) & (kinds == _DIGIT)) | ((lengths == 2) & (kinds == _SIGN))
        bad[at] |= kinds == _REPEAT
    return bad
