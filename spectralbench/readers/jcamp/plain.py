"""Plain numbers (AFFN, PAC), parsed in bulk."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.packed import LISTED
from spectralbench.readers.numbers import from_json

PLAIN = b"0123456789+-.?eE \n"
NUMBER = re.compile(rb"[+-]?(?:\d+\.?\d*|\.\d+)(?:[Ee][+-]?\d{1,4})?")
_LONGEST = 2**17  # bytes of a row
_OF_NUMBERS = b"0123456789+-.? \n"
_LETTERS = b"@ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrs%"
_PORTION = 2**16  # bytes that are parsed at a time
_SEPARATORS = bytes.maketrans(b",;\t\v\f\r\x1a\0", b"        ")
_WITHOUT_PLUS = bytes.maketrans(b"+", b" ")
_COMMAS = bytes.maketrans(b" \n", b",,")
_SPREAD_EXPONENT = re.compile(rb"(?<=[\d.][Ee]) (?=[+-])")
_WORDS = (b"nan", b"inf", b"over", b"null", b"none", b"n/a", b"err")
_WORD = re.compile(rb"(?i)(?<![^ \n])[+-]?(?:nan|inf|infinity|over\w*|null|none|n/a|err\w*)(?![^ \n])")


def parse(data: bytes, line: int, faults: list[Fault]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    r"""Parse rows of plain numbers.

    Parameters
    ----------
    data : bytes
        The rows, with blanks or signs between the numbers.
    line : int
        Where the first one stands in the file.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    tuple of numpy.ndarray (numbers,) and numpy.ndarray (rows,)
        All numbers, not a number where one is marked as missing; and how many each row has.

    Examples
    --------
    >>> numbers, counts = parse(b"400+1.5-2\n402 ?", 1, [])
    >>> numbers.tolist(), counts.tolist()
    ([400.0, 1.5, -2.0, 402.0, nan], [3, 2])
    """
    if b"+" in data or b"?" in data or _is_run_together(data):
        data = _spread(data)
    signs = np.frombuffer(data, np.uint8)
    blank = signs <= 32
    begins = ~blank
    begins[1:] &= blank[:-1]
    starts = np.flatnonzero(begins)
    edges = np.searchsorted(starts, np.flatnonzero(signs == 10))
    counts = np.diff(edges, prepend=0, append=len(starts))
    inner = data.strip()
    joined = inner.translate(_COMMAS)
    if len(inner) - (len(data) - np.count_nonzero(blank)) != len(starts) - 1:
        while b",," in joined:  # several blanks between two
            joined = joined.replace(b",,", b",")
    values = from_json(b"[%b]" % joined)
    return (_one_by_one(data, len(starts), line, faults) if values is None else values), counts


def _is_run_together(data: bytes) -> bool:
    """Whether numbers have but a minus between them."""
    if b"-" not in data:
        return False
    signs = np.frombuffer(data, np.uint8)
    before = signs[:-1]
    return bool(((signs[1:] == ord("-")) & (before > 32) & (before | 32 != ord("e"))).any())


def _spread(data: bytes) -> bytes:
    """Put blanks between numbers that only their signs part, as in PAC."""
    data = data.replace(b"?", b" ? ")
    if b"+" not in data and b"-" not in data:
        return data
    exponents = b"E" in data or b"e" in data
    data = data.replace(b"+", b" +") if exponents or _has_bare_sign(data) else data.translate(_WITHOUT_PLUS)
    data = data.replace(b"-", b" -")
    return _SPREAD_EXPONENT.sub(b"", data) if exponents else data


def _has_bare_sign(data: bytes) -> bool:
    """Whether a plus has no number behind it, or stands behind a minus: it is to be kept for a fault."""
    signs = np.frombuffer(data, np.uint8)
    plus, here, behind = ord("+"), signs[:-1], signs[1:]
    return bool((((here == plus) & (behind < ord("."))) | ((here == ord("-")) & (behind == plus))).any())


def _one_by_one(data: bytes, count: int, line: int, faults: list[Fault]) -> NDArray[np.float64]:
    cells = data.split()
    try:
        values = np.fromiter((np.nan if cell == b"?" else float(cell) for cell in cells), float, count)
    except ValueError:
        values = np.full(count, np.inf)
    if np.isinf(values).any():
        bad = (
            (number, column, cell)
            for number, row in enumerate(data.split(b"\n"), line)
            for column, cell in enumerate(row.split(), 1)
            if cell != b"?" and not (NUMBER.fullmatch(cell) and abs(float(cell)) < np.inf)
        )
        for number, column, cell in islice(bad, LISTED):
            advice = "Repair the number; a missing ordinate is written as ?"
            faults.append(Fault(quote(cell.decode()), "a number below 1e308", advice, number, column))
    return values


def is_packed(data: bytes, letters: bytes) -> bool:
    """Tell packed digits from plain numbers, where the letter E may stand for an exponent.

    Parameters
    ----------
    data : bytes
        The table.
    letters : bytes
        What of it is neither digit nor sign nor blank.

    Examples
    --------
    >>> is_packed(b"400 1.5E3", b"E"), is_packed(b"400 E12E13", b"EE"), is_packed(b"400 B12", b"B")
    (False, True, True)
    """
    if not letters:
        return False
    if letters.translate(None, b"Ee"):
        return True
    spread = _spread(data[: data.rfind(b"\n", 0, _PORTION) + 1 or _PORTION])
    if all(len(row.split(None, 1)) < 2 for row in spread.split(b"\n")):
        return True  # 400E512 is an abscissa with one ordinate, as nothing else is one
    return not all(NUMBER.fullmatch(cell) or cell == b"?" for cell in spread.split())


def table_bytes(text: str) -> tuple[bytes, bytes] | None:
    r"""The bytes of a table, and those of them that are no part of plain numbers.

    Examples
    --------
    >>> table_bytes("400, 1;\tA2")
    (b'400  1  A2', b'A')

    Returns
    -------
    tuple of bytes and bytes, or None
        With blanks and line feeds alone between numbers; None if it is not ASCII.
    """
    if not text.isascii():
        return None
    data = text.encode("ascii")
    left = data.translate(None, _OF_NUMBERS)
    if left.translate(None, _LETTERS):
        data = data.translate(_SEPARATORS)
        left = data.translate(None, _OF_NUMBERS)
    return data, left


def has_words(data: bytes) -> bool:
    """Whether words stand where numbers should, such as those of programs for what is no number.

    Their letters might be taken for packed digits.

    Examples
    --------
    >>> has_words(b"400 12 NaN 13"), has_words(b"400A12NaNJ")
    (True, False)
    """
    if b" " not in data:
        return False
    lowered = data.lower()
    return any(word in lowered for word in _WORDS) and _WORD.search(data) is not None


def illegal(text: str, line: int, allowed: bytes) -> list[Fault]:
    """The first places of a table where no number can be.

    Examples
    --------
    >>> illegal("400 1 2 #", 7, PLAIN)[0].found
    '"#"'
    """
    faults: list[Fault] = []
    good = set((allowed + b",;\t\v\f\r\x1a\0").decode())
    for number, row in enumerate(text.split("\n"), line):
        both = table_bytes(row)
        cells = re.split(r"[\s,;]+", row.strip(" \t"))
        cell = next((cell for cell in cells if not good.issuperset(cell)), "")
        if not cell and both is not None and (match := _WORD.search(both[0])):
            cell = match[0].decode()
        if cell:
            advice = "Repair or delete what does not belong there; a missing ordinate is written as ?"
            faults.append(
                Fault(quote(cell), "numbers, plain or packed", advice, number, _column(cells, cell))
            )
            if len(faults) == LISTED:
                break
    return faults


def _column(cells: list[str], cell: str) -> int | None:
    """Which number of its row a cell is; not known behind packed digits."""
    before = cells[: cells.index(cell)] if cell in cells else [""]
    plain = all(other == "?" or NUMBER.fullmatch(other.encode()) for other in before)
    return len(before) + 1 if plain else None


def portions(data: bytes, line: int, faults: list[Fault]) -> Iterator[bytes]:
    """A table in pieces of whole rows, so that little memory is held beside its numbers.

    Parameters
    ----------
    data : bytes
        The table.
    line : int
        Where it begins in the file.
    faults : list of Fault
        A row beyond all measure is added here, and ends the pieces.

    Yields
    ------
    bytes
        Some rows.

    Examples
    --------
    >>> list(portions(b"400 1", 1, []))
    [b'400 1']
    """
    begin = 0
    while begin < len(data) or not begin:
        end = len(data)
        if end - begin > _PORTION:
            end = data.rfind(b"\n", begin, begin + _PORTION) + 1 or data.find(b"\n", begin) + 1 or end
        if end - begin > _LONGEST:
            number = line + data.count(b"\n", 0, begin)
            found = f"a row of {end - begin} characters"
            advice = "Break the row: the standard has 80 characters in a line"
            faults.append(Fault(found, f"at most {_LONGEST}", advice, number))
            return
        yield data[begin:end] if end - begin < len(data) else data
        begin = max(end, 1)
