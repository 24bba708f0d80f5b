"""The time of a measurement, where a block states it without ambiguity."""

from __future__ import annotations

import re

import numpy as np

from spectralbench.errors import quote
from spectralbench.readers.jcamp.blocks import Block
from spectralbench.readers.table import moment

_DAY = re.compile(
    r"(\d{4})[/-]\s?(\d{1,2})[/-]\s?(\d{1,2})(?:[ T]+(\d{1,2}:\d\d(?::\d\d(?:[.,]\d{1,9})?)?))?"
    r"\s*([+-]\d\d:?\d\d|Z)?",
    re.ASCII,
)
_CLOCK = re.compile(r"\d{1,2}:\d\d(?::\d\d(?:[.,]\d{1,9})?)?", re.ASCII)


def measured_at(block: Block) -> tuple[np.datetime64 | None, list[str]]:
    """The time that a block states, and what a person should know about it.

    Parameters
    ----------
    block : Block
        With LONGDATE, or DATE and TIME.

    Returns
    -------
    tuple of numpy.datetime64 or None and list of str
        The time, in UTC where an offset is given; none where only a reader of the file could tell
        day, month and century apart, or where there is no date.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.records import Record
    >>> block = Block(1)
    >>> block.add(Record("LONGDATE", "LONGDATE", 2, "2026/03/02 10:30:00.5 +0100"))
    >>> str(measured_at(block)[0])
    '2026-03-02T09:30:00.500000000'
    """
    day = block.value("LONGDATE") or block.value("DATE")
    clock = block.value("TIME")
    if not day:
        return None, []
    match = _DAY.fullmatch(day)
    at = None
    if match and (match[4] or not clock or _CLOCK.fullmatch(clock)):
        time = (match[4] or clock or "00:00").replace(",", ".").rjust(5, "0")
        time = time if time[2] == ":" else f"0{time}"
        at = moment(f"{match[1]}-{match[2]:0>2}-{match[3]:0>2}T{time}{match[5] or ''}")
    if at is not None:
        return at, []
    shown = f"{day} {clock}".strip()
    return None, [f"the date {quote(shown)} is not written as YYYY/MM/DD hh:mm:ss and stays text"]
