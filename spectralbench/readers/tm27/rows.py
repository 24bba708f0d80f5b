"""The rows of a TM-27 file: wavelengths and values, checked, each once and in order."""

from __future__ import annotations

import math
from array import array
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.dialect import NUMBER
from spectralbench.readers.tm27 import fields
from spectralbench.readers.tm27.document import Tag

_LISTED = 50  # faults
_LARGEST = 1e6  # nm; beyond is no light
_LONGEST = 60  # characters of a number


def number(text: str) -> float:
    """The finite number that a text is; not a number if it is none.

    Parameters
    ----------
    text : str
        Digits, a decimal point and an exponent.

    Returns
    -------
    float
        The number.

    Examples
    --------
    >>> number("4.5e2"), number("1e999"), number("4,5")
    (450.0, nan, nan)
    """
    if len(text) > _LONGEST or not NUMBER["."].fullmatch(text):
        return math.nan
    value = float(text)
    return value if math.isfinite(value) else math.nan


class _Table(NamedTuple):
    """The rows as arrays of one length."""

    wavelength: NDArray[np.float64]
    values: NDArray[np.float64]
    lines: NDArray[np.int64]
    columns: NDArray[np.int64]

    def place(self, row: int) -> tuple[int, int]:
        return int(self.lines[row]), int(self.columns[row])


class Rows:
    """Rows as they come, and what is wrong with them.

    Parameters
    ----------
    faults : list of Fault
        Faults are added here.
    warnings : list of str
        And here what a person should know.

    Examples
    --------
    >>> rows = Rows([], [])
    >>> for at in ("405", "365"):
    ...     rows.take(Tag("SpectralData", "", {"wavelength": at}, 2, 1, 1), "0.5")
    >>> rows.spectrum()[0].tolist()
    [365.0, 405.0]
    """

    def __init__(self, faults: list[Fault], warnings: list[str]) -> None:
        self.faults, self.warnings = faults, warnings
        self._wavelengths, self._values = array("d"), array("d")
        self._lines, self._columns = array("q"), array("q")
        self._told = False

    def take(self, tag: Tag, text: str) -> None:
        """Take in one row.

        Parameters
        ----------
        tag : Tag
            The element, with the wavelength as its attribute.
        text : str
            The value in it.
        """
        stated = tag.attributes.get(fields.WAVELENGTH)
        wavelength = math.nan
        if stated is None:
            advice = 'A row is written as <SpectralData wavelength="400.0">0.034</SpectralData>'
            self._fault(f"a {fields.ROW} without a wavelength", "the attribute wavelength", advice, tag)
        else:
            wavelength = self._number(stated, "a wavelength in nm, such as 400.0", tag)
            if not math.isnan(wavelength) and not 0 < wavelength <= _LARGEST:
                expected = f"one above 0 and up to {_LARGEST:g} nm"
                self._fault(f"wavelength {wavelength:g} nm", expected, "The format counts in nm", tag)
                wavelength = math.nan
        self._wavelengths.append(wavelength)
        self._values.append(self._number(text, "a number, such as 0.034", tag))
        self._lines.append(tag.line)
        self._columns.append(tag.column)
        if len(tag.attributes) > 1 and not self._told:
            self._told = True
            self.warnings.append(f"further attributes of {fields.ROW} were left out (line {tag.line})")

    def _number(self, text: str, expected: str, tag: Tag) -> float:
        text = text.strip()
        value = number(text)
        if math.isnan(value):
            advice = "A value is missing here: save the spectrum as plain text, with invalid in its place"
            if "," in text:
                advice = "Write the decimal sign as a point, and nothing between thousands"
            elif any(character.isdigit() for character in text[:_LONGEST]):
                advice = "Write it with digits, a decimal point and an exponent such as 1e-5"
            self._fault(quote(text[:_LONGEST]) if text else "nothing", expected, advice, tag)
        return value

    def spectrum(self) -> tuple[NDArray[np.float64], NDArray[np.float64], list[str]]:
        """Bring the rows into order.

        Returns
        -------
        tuple of numpy.ndarray, numpy.ndarray and list of str
            Wavelengths [nm] ascending, values, and what was done to bring them there.
        """
        wavelength, values = np.array(self._wavelengths, float), np.array(self._values, float)
        lines, columns = np.array(self._lines, np.int64), np.array(self._columns, np.int64)
        whole = np.flatnonzero(np.isfinite(wavelength) & np.isfinite(values))
        table = _Table(wavelength[whole], values[whole], lines[whole], columns[whole])
        steps: list[str] = []
        kept = self._once_each(table, steps)
        table = _Table(table.wavelength[kept], table.values[kept], table.lines[kept], table.columns[kept])
        if table.wavelength.size < 2 and not self.faults:
            found = f"{table.wavelength.size} row{'s' * (table.wavelength.size != 1)} of {fields.ROW}"
            self.faults.append(Fault(found, "two rows or more", "Was the measurement saved whole?"))
        descending = self._order(table)
        wavelength, values = table.wavelength, table.values
        if descending:
            steps.append("sorted by ascending wavelength")
            wavelength, values = wavelength[::-1].copy(), values[::-1].copy()
        if wavelength.size and wavelength[-1] <= 20:
            self.warnings.append(f"the wavelengths end at {wavelength[-1]:g} nm: are they in µm?")
        return wavelength, values, steps

    def _once_each(self, table: _Table, steps: list[str]) -> NDArray[np.bool_]:
        """Which rows to keep: one of each that are the same; those that contradict are faults."""
        kept = np.ones(table.wavelength.size, dtype=bool)
        order = np.argsort(table.wavelength, kind="stable")
        repeats = np.flatnonzero(np.diff(table.wavelength[order]) == 0)
        kept[order[repeats + 1]] = False
        unlike = table.values[order[repeats]] != table.values[order[repeats + 1]]
        for i in repeats[unlike][:_LISTED].tolist():
            first, again = order[i], order[i + 1]
            found = (
                f"{table.wavelength[again]:.12g} nm a second time, with {table.values[again]:.12g}; "
                f"in line {table.lines[first]} it is {table.values[first]:.12g}"
            )
            advice = "Save the file anew: nothing here says which of the two holds"
            self._fault(found, "each wavelength once", advice, table.place(again))
        if repeats.size and not self.faults:
            many = repeats.size != 1
            note = f"{repeats.size} row{'s' * many} that repeat{'s' * (not many)} another exactly"
            self.warnings.append(
                f"{note} {'were' if many else 'was'} left out (line {table.lines[~kept].min()})"
            )
            steps.append(f"left out {note}")
        return kept

    def _order(self, table: _Table) -> bool:
        """Whether the wavelengths run downwards; what breaks the order is a fault."""
        upwards = np.diff(table.wavelength) > 0
        descending = bool(upwards.sum() * 2 < upwards.size)
        way = "descending" if descending else "ascending"
        for i in np.flatnonzero(upwards == descending)[:_LISTED].tolist():
            before, after = table.wavelength[i : i + 2]
            found = f"{after:.12g} nm after {before:.12g} nm (line {table.lines[i]})"
            expected = f"wavelengths in one order, {way} as in the other rows"
            self._fault(found, expected, "Sort the rows", table.place(i + 1))
        return descending

    def _fault(self, found: str, expected: str, advice: str, at: Tag | tuple[int, int]) -> None:
        line, column = (at.line, at.column) if isinstance(at, Tag) else at
        if len(self.faults) < _LISTED:
            self.faults.append(Fault(found, expected, advice, line, column))
