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
_LONGEST = 400  # digits of an abscissa
_REACH = 2.0**62  # differences add up to less, or integers would wrap round

_BLANK, _FEED, _MISSING, _DIGIT, _SQUEEZED, _DIFFERENCE, _REPEAT, _SIGN = range(8)
_NEGATIVE = 128
_MEANING = bytearray(256)  # of each character: its digit, 16 times its kind, and whether it is negative
for _letters, _kind, _first in (
    ("0123456789", _DIGIT, 0),
    ("@ABCDEFGHI", _SQUEEZED, 0),
    ("abcdefghi", _SQUEEZED, 1),
    ("%JKLMNOPQR", _DIFFERENCE, 0),
    ("jklmnopqr", _DIFFERENCE, 1),
    ("STUVWXYZs", _REPEAT, 1),
    *(("\n", _FEED, 0), ("?", _MISSING, 0), (".", _DIGIT, 0), ("+", _SIGN, 0), ("-", _SIGN, 0)),
):
    for _digit, _letter in enumerate(_letters, _first):
        _negative = _letter == "-" or (_letter.islower() and _letter != "s")
        _MEANING[ord(_letter)] = _digit + 16 * _kind + _NEGATIVE * _negative
_EXPONENTS = (b"E+", b"E-", b"e+", b"e-")
CHECKPOINT = re.compile(rb"^ *([+-]?(?:\d+\.?\d*|\.\d+)(?:[Ee][+-]\d{1,2}(?!\d))?)", re.MULTILINE)
LETTERS = bytes(i for i in range(256) if _MEANING[i]) + b" "

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
    """The numbers of some rows, and the line feeds between them."""

    starts: NDArray[np.int64]  # at a letter or sign, or at a digit behind a blank
    lengths: NDArray[np.int64]
    kinds: NDArray[np.uint8]
    values: NDArray[np.int64 | np.float64]
    feeds: NDArray[np.int64]
    first: NDArray[np.int64]  # (rows,) the number with which each row begins: its abscissa
    counts: NDArray[np.int64]  # (rows,)
    rows: NDArray[np.int64]  # (rows,) where the rows stand, empty ones counted too

    def place(self, at: int, line: int) -> tuple[int, int]:
        """The line in which a number stands, and which number of its row it is."""
        row = int(np.searchsorted(self.first, at, side="right")) - 1
        return line + int(self.rows[row]), at - int(self.first[row]) + 1

    def text(self, at: int, data: bytes) -> bytes:
        """A number as it is written."""
        return data[self.starts[at] :][: self.lengths[at]]


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
            place = _numbers(data[: data.index(sign) + 1])
            found_text = f"{quote(sign.decode())} among packed digits"
            advice = "It may be an exponent or a 5 with a number behind it: write the numbers in one form"
            expected = "numbers without exponents"
            faults.append(Fault(found_text, expected, advice, *place.place(len(place.starts) - 1, line)))
            return None
    found = _numbers(data)
    if not len(found.rows):
        return None
    bad = _faults(found, data)
    if bad:
        faults += [Fault(*texts, *found.place(at, line)) for at, texts in bad]
        return None
    values, kinds = found.values, found.kinds
    abscissas = values[found.first].astype(float)
    for row in np.flatnonzero(found.lengths[found.first] > _DIGITS).tolist():
        abscissas[row] = float(found.text(int(found.first[row]), data))
    is_ordinate = kinds != _REPEAT
    is_ordinate[found.first] = is_ordinate[found.feeds] = False
    per_row = found.counts - 1
    repeats = np.flatnonzero(kinds == _REPEAT)
    if len(repeats):
        counts = is_ordinate.astype(np.int64)
        counts[repeats - 1] = values[repeats]
        total = int(counts.sum())
        if total > most:
            largest = int(repeats[np.argmax(values[repeats])])
            found_text = f"{total} ordinates, {int(values[largest])} of them by one count"
            advice = "A count of repeats is wrong, or the table is too dull to be a measurement"
            expected = f"at most {most} in a table of this length"
            faults.append(Fault(found_text, expected, advice, *found.place(largest, line)))
            return None
        values, kinds = np.repeat(values, counts), np.repeat(kinds, counts)
        per_row = np.add.reduceat(counts, found.first)
    else:
        values, kinds = values[is_ordinate], kinds[is_ordinate]
    absolute = np.flatnonzero(kinds != _DIFFERENCE)
    if len(absolute) < len(values):
        reach = float(max(values.max(), -values.min())) * len(values)
        if reach > _REACH:
            advice = "Check the digits"
            faults.append(Fault(f"differences that may add up to {reach:.3g}", "smaller ones", advice, line))
            return None
        begun = values[absolute]
        np.cumsum(values, out=values)
        values -= np.repeat(values[absolute] - begun, np.diff(absolute, append=len(values)))
    numbers = values.astype(float)
    if b"?" in data:
        numbers[kinds == _MISSING] = np.nan
    differences = kinds[np.cumsum(per_row) - 1] == _DIFFERENCE
    return Unpacked(found.rows, abscissas, per_row, numbers, differences)


def _without_exponent(match: re.Match[bytes]) -> bytes:
    return format(Decimal(match[1].decode()), "f").encode()


def _numbers(data: bytes) -> _Numbers:
    meaning = np.frombuffer(data.translate(_MEANING), np.uint8)
    goes_on = (meaning >> 4) == _DIGIT  # with the number of the character before
    goes_on[1:] &= (meaning[:-1] & 127) >= 16 * _DIGIT
    goes_on[:1] = False
    starts = np.flatnonzero(~goes_on)
    last = np.append(starts, len(data))[1:] - 1
    begins = meaning[starts]
    if b" " in data:
        kept = begins != _BLANK
        starts, last, begins = starts[kept], last[kept], begins[kept]
    values = _joined(meaning & np.uint8(15), goes_on)[last].astype(np.int64)
    values *= (begins.view(np.int8) >> 7) | 1  # by -1 if it is negative
    kinds = (begins >> np.uint8(4)) & np.uint8(7)
    feeds = np.flatnonzero(kinds == _FEED)
    counts = np.diff(feeds, prepend=-1, append=len(kinds)) - 1
    rows = np.flatnonzero(counts)
    first = np.append(0, feeds + 1)[rows]
    lengths = last - starts + 1
    scaled = _scaled(values, starts, last, data) if b"." in data else values
    return _Numbers(starts, lengths, kinds, scaled, feeds, first, counts[rows], rows)


def _joined(digits: NDArray[np.uint8], goes_on: NDArray[np.bool_]) -> NDArray[np.unsignedinteger]:
    """What the digits up to each character amount to, of numbers with up to sixteen.

    Each is joined to the one before, then each pair, each four and each eight, in the smallest
    integers that hold them.
    """
    values: NDArray[np.unsignedinteger] = digits
    for reach, kind in ((1, np.uint8), (2, np.uint16), (4, np.uint32), (8, np.uint64)):
        if not goes_on.any():
            break
        values = values.astype(kind)
        values[reach:] += values[:-reach] * kind(10**reach) * goes_on[reach:]
        goes_on[reach:] &= goes_on[:-reach].copy()
    return values


def _scaled(
    values: NDArray[np.int64], starts: NDArray[np.int64], last: NDArray[np.int64], data: bytes
) -> NDArray[np.float64]:
    """Numbers of which some have a decimal point, which was read as a digit 0."""
    points = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("."))
    owner = np.searchsorted(starts, points, side="right") - 1
    power = 10 ** np.minimum(last[owner] - points, _DIGITS)
    size = np.abs(values[owner])
    whole = np.sign(values[owner]) * (size // (10 * power) * power + size % power)
    # A whole number below 2**53 by a power of ten is rounded as the decimal number itself.
    scaled = values.astype(float)
    scaled[owner] = whole / power
    return scaled


def _faults(found: _Numbers, data: bytes) -> list[tuple[int, tuple[str, str, str]]]:
    """What is no number, and what has no number before it that it could refer to."""
    first, lengths, kinds = found.first, found.lengths, found.kinds
    leading, alone = kinds[first], found.counts == 1
    second = first[~alone] + 1
    behind = kinds[second]
    long = lengths > _DIGITS
    long[first] = False
    sign, repeat, difference = kinds == _SIGN, kinds == _REPEAT, kinds == _DIFFERENCE
    signs, repeats = np.flatnonzero(sign), np.flatnonzero(repeat)
    to_missing = difference[1:] & (kinds[:-1] == _MISSING)
    checks = (
        (
            first[(leading != _DIGIT) & (leading != _SIGN)],
            *("a row that begins with its abscissa", "Write it as a plain number"),
        ),
        (first[alone], *_LONELY),
        (second[(behind == _DIFFERENCE) | (behind == _REPEAT)], *_FIRST),
        (signs[lengths[signs] == 1], "a digit behind the sign", "Complete the number"),
        (np.flatnonzero(long), f"at most {_DIGITS} digits", "Was the line damaged?"),
        (first[lengths[first] > _LONGEST], "a shorter abscissa", "Was the line damaged?"),
        (repeats[lengths[repeats] > _COUNT_DIGITS], "a smaller count", "Check the count"),
        (np.flatnonzero(repeat[1:] & repeat[:-1]) + 1, "one count", "Delete one of the two counts"),
        (np.flatnonzero(to_missing) + 1, *_TO_MISSING),
        (_bad_points(found, data), "a number with one decimal point", "Repair the number"),
    )
    return [
        (at, (quote(found.text(at, data).decode()), expected, advice))
        for bad, expected, advice in checks
        for at in bad[:LISTED].tolist()
    ]


def _bad_points(found: _Numbers, data: bytes) -> NDArray[np.int64]:
    """Numbers with several decimal points or nothing else, and counts with one."""
    if b"." not in data:
        return np.zeros(0, np.int64)
    points = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("."))
    at = np.searchsorted(found.starts, points, side="right") - 1
    lengths, kinds = found.lengths[at], found.kinds[at]
    bad = ((lengths == 1) & (kinds == _DIGIT)) | ((lengths == 2) & (kinds == _SIGN)) | (kinds == _REPEAT)
    bad[1:] |= at[1:] == at[:-1]
    return np.unique(at[bad])
