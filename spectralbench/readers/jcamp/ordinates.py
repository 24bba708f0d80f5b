"""The rows of a table of ordinates: plain numbers, and the packed forms PAC, SQZ, DIF and DUP."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.packed import CHECKPOINT, LETTERS, LISTED, unpack
from spectralbench.readers.jcamp.plain import (
    PLAIN,
    has_words,
    illegal,
    is_packed,
    parse,
    portions,
    table_bytes,
)

_FREE = 100_000  # ordinates that a table may hold however short it is; beyond, one for each byte


class Rows(NamedTuple):
    """Rows of a table, each with the numbers behind its abscissa."""

    lines: NDArray[np.int64]  # (rows,) where they stand in the file
    checkpoints: NDArray[np.float64]  # (rows,) the abscissa that begins each row
    counts: NDArray[np.int64]  # (rows,) ordinates of each row
    values: NDArray[np.float64]  # all ordinates
    differences: NDArray[np.bool_]  # (rows,) whether the last ordinate of the row is a difference


def rows(text: str, line: int, faults: list[Fault]) -> Rows | None:
    r"""Decode a table ``(X++(Y..Y))``.

    Parameters
    ----------
    text : str
        The table without comments.
    line : int
        Where it begins in the file.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    Rows or None
        None if it cannot be decoded.

    Notes
    -----
    Forms of IUPAC (McDonald and Wilks, Appl. Spectrosc. 42:151, 1988): AFFN are plain numbers;
    PAC has signs between them; SQZ merges sign and first digit into a letter; DIF does so with the
    difference to the ordinate before; DUP counts how often an ordinate or a difference stands,
    itself included.

    Examples
    --------
    >>> rows("400A000J000JU%T", 1, []).values.tolist()
    [1000.0, 2000.0, 2001.0, 2002.0, 2003.0, 2003.0, 2003.0]
    """
    data, letters = table_bytes(text) or (b"", b"#")
    packed = is_packed(data, letters)
    if letters.translate(None, LETTERS) or (packed and has_words(data)):
        faults += illegal(text, line, LETTERS)
        return None
    most = _FREE + len(data)
    parts: list[Rows] = []
    begin, before = line, len(faults)
    for portion in portions(data, line, faults):
        part = _packed(portion, begin, most, faults) if packed else _plain(portion, begin, faults)
        begin += portion.count(b"\n")
        if part is not None:
            parts.append(part)
            most -= len(part.values)
        if len(faults) - before >= LISTED:
            break
    if len(faults) > before or not parts:
        return None
    if len(parts) == 1:
        return parts[0]
    return Rows(
        np.concatenate([part.lines for part in parts]),
        np.concatenate([part.checkpoints for part in parts]),
        np.concatenate([part.counts for part in parts]),
        np.concatenate([part.values for part in parts]),
        np.concatenate([part.differences for part in parts]),
    )


def numbers(text: str, line: int, faults: list[Fault]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    r"""Read a table of plain numbers, however they are grouped.

    Parameters
    ----------
    text : str
        The table without comments.
    line : int
        Where it begins in the file.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    tuple of numpy.ndarray (numbers,) and numpy.ndarray (lines,)
        All numbers, and how many stand in each line of the text.

    Examples
    --------
    >>> numbers("400, 1.5; 401, ?\n402 1.7", 1, [])[0].tolist()
    [400.0, 1.5, 401.0, nan, 402.0, 1.7]
    """
    data, letters = table_bytes(text) or (b"", b"#")
    if letters.translate(None, PLAIN):
        faults += illegal(text, line, PLAIN)
        return np.zeros(0), np.zeros(0, np.int64)
    values, counts = [], []
    begin, before = line, len(faults)
    for portion in portions(data, line, faults):
        parsed, per_row = parse(portion, begin, faults)
        values.append(parsed)
        counts.append(per_row[:-1] if portion.endswith(b"\n") else per_row)
        begin += len(counts[-1])
        if len(faults) - before >= LISTED:
            break
    if not values:
        return np.zeros(0), np.zeros(0, np.int64)
    return np.concatenate(values), np.concatenate(counts)


def checkpoints(text: str, at: list[int]) -> list[str]:
    r"""The abscissas of some rows as they are written.

    Parameters
    ----------
    text : str
        The table without comments.
    at : list of int
        The rows, by the line of the text from 0.

    Returns
    -------
    list of str
        Empty where the row begins with none.

    Examples
    --------
    >>> checkpoints("400A12\n402 13 14", [1])
    ['402']
    """
    if not at:
        return []
    data, _ = table_bytes(text) or (b"", b"")
    begins = np.append(0, np.flatnonzero(np.frombuffer(data, np.uint8) == ord("\n")) + 1)
    matches = [CHECKPOINT.match(data, begins[i]) for i in at]
    return ["" if match is None else match[1].decode() for match in matches]


def _plain(data: bytes, line: int, faults: list[Fault]) -> Rows | None:
    """Rows of plain numbers."""
    before = len(faults)
    values, lengths = parse(data, line, faults)
    at = np.flatnonzero(lengths)
    if not len(at) or len(faults) > before:
        return None
    counts, lines = lengths[at], at + line
    begins = np.cumsum(counts) - counts
    is_ordinate = np.ones(len(values), np.bool_)
    is_ordinate[begins] = False
    abscissas = values[begins]
    for i in np.flatnonzero((counts == 1) | np.isnan(abscissas))[:LISTED].tolist():
        faults.append(_lonely(data, int(at[i]), line))
    return Rows(lines, abscissas, counts - 1, values[is_ordinate], np.zeros(len(at), np.bool_))


def _lonely(data: bytes, at: int, line: int) -> Fault:
    text = data.split(b"\n", at + 1)[at].strip().decode()
    advice = "Was the file cut off here? Save it again, or complete the row"
    return Fault(quote(text), "an abscissa, and ordinates behind it", advice, line + at, 1)


def _packed(data: bytes, line: int, most: int, faults: list[Fault]) -> Rows | None:
    """Rows of packed digits, whose abscissas are plain numbers."""
    found = unpack(data, most, line, faults)
    if found is None:
        return None
    return Rows(found.rows + line, found.abscissas, found.counts, found.values, found.differences)
