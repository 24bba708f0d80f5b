"""A TM-27 file as a dataset: its header kept, its rows in order, never on another grid."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import Fault, ReadError, UnitsError, quote
from spectralbench.model import COORDINATES, QUANTITIES
from spectralbench.readers.choices import Choices
from spectralbench.readers.columns import UNLABELLED
from spectralbench.readers.content import Content
from spectralbench.readers.description import described
from spectralbench.readers.headings import clean, heading, is_unit
from spectralbench.readers.tm27 import fields
from spectralbench.readers.tm27.document import Tag, decoded, walk
from spectralbench.readers.tm27.rows import Rows, number
from spectralbench.units import convert

FORMAT = "IES TM-27"
_LISTED = 50  # faults, warnings, or fields that are none of TM-27
_SHOWN = 80  # characters of what is quoted; the rest is cut before it costs anything
_WIDEST = 1e6  # nm
_LARGEST_FRACTION = 2.0  # noise may pass 1, but hardly 2


def read_tm27(content: Content, choices: Choices) -> xr.Dataset:
    """Read a spectrum in the XML format of the Illuminating Engineering Society.

    Parameters
    ----------
    content : Content
        The file as it was loaded.
    choices : Choices
        What the caller says of the file.

    Returns
    -------
    xarray.Dataset (wavelength,)
        One variable on the grid of the file, which need not be even; wavelengths [nm] ascending.
        A quantity for which the package has no name is kept as ``unlabelled``. A bandwidth that
        the file states is the attribute ``bandwidth`` [nm] of the variable.

    Raises
    ------
    ReadError
        With all faults of the file: what was found, where, what was expected, what to do.

    Notes
    -----
    IES TM-27-14 and ANSI/IES TM-27-20, IES Standard Format for the Electronic Transfer of Spectral
    Data; fields and words after the reader of colour-science 0.4.7. A file states no unit. Nobody
    publishes openly which one an irradiance has: W m-2 nm-1 is taken (from memory of the standard),
    with a warning.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> dataset = read_tm27(load("tests/samples/tm27_led.spdx"), Choices())
    >>> dataset.spectral_irradiance.units, dataset.spectral_irradiance.bandwidth
    ('W m-2 nm-1', 2.5)
    """
    file = _File(content.path)
    try:
        walk(decoded(content, choices.encoding), content.path, file.start, file.end)
    except ReadError as error:
        raise ReadError(content.path, [*file.faults, *error.faults]) from error
    wavelength, values, steps = file.rows.spectrum()
    if missing := [name for name in fields.REQUIRED if not file.fields.get(name)]:
        file.warnings.append(f"the file does not say what TM-27 requires: {', '.join(missing)}")
    stated = file.fields.get("SpectralQuantity", "")
    name, units, values = _quantity(values, stated, choices, file, steps)
    if file.faults:
        raise ReadError(content.path, sorted(file.faults, key=lambda fault: fault.line or 0))
    long_name = QUANTITIES[name].long_name if name in QUANTITIES else stated
    attributes: dict[str, Any] = {"units": units, "long_name": long_name, **file.bandwidth()}
    file.check_words()
    along = ("wavelength", wavelength, COORDINATES["wavelength"]._asdict())
    dataset = xr.Dataset({name: ("wavelength", values, attributes)}, {"wavelength": along})
    decisions = [
        f"encoding: {content.encoding if choices.encoding is None else choices.encoding}",
        f"layout: root {file.root}, version {file.version or 'not stated'}",
        f"wavelength: attribute of {fields.ROW}, unit nm; {wavelength.size} rows, {_spacing(wavelength)}",
        f"SpectralQuantity {quote(stated)}: {name}, unit {quote(choices.units or units)}",
    ]
    return described(
        dataset,
        content,
        layout=FORMAT,
        header=file.fields,
        decisions=decisions,
        warnings=file.warnings,
        steps=steps,
    )


class _File:
    """What was found in a file so far."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.root = self.version = ""
        self.namespace = ""
        self.sections: dict[str, int] = {}  # name to line
        self.section = ""
        self.fields: dict[str, str] = {}
        self.places: dict[str, int] = {}  # field to line
        self.faults: list[Fault] = []
        self.warnings: list[str] = []
        self.rows = Rows(self.faults, self.warnings)

    def start(self, tag: Tag) -> None:
        """Take in the start of an element."""
        if tag.depth == 0:
            self._take_root(tag)
        elif tag.depth == 1:
            self.section = tag.name if tag.namespace == self.namespace else ""
            if self.section not in ("Header", "SpectralDistribution"):
                self.section = ""
                self._leave_out(tag)
            elif self.section in self.sections:
                found = f"a second {tag.name}; the first stands in line {self.sections[tag.name]}"
                advice = "Put each spectrum into a file of its own"
                self._fault(Fault(found, "one spectrum in a file", advice, tag.line, tag.column))
            else:
                self.sections[tag.name] = tag.line
        elif tag.depth > 2 and self.section:
            self._leave_out(tag)

    def end(self, tag: Tag, text: str) -> None:
        """Take in the end of an element, and the text in it."""
        if tag.depth != 2:
            if text.strip() and (tag.depth < 2 or self.section):
                shown = quote(text.strip()[:_SHOWN])
                self._warn(f"the text {shown} outside of any field was left out (line {tag.line})")
        elif self.section and tag.namespace != self.namespace:
            self._leave_out(tag)
        elif self.section == "SpectralDistribution" and tag.name == fields.ROW:
            self.rows.take(tag, text)
        elif self.section:
            self._take_field(tag, text.strip())

    def _take_root(self, tag: Tag) -> None:
        self.root, self.namespace = tag.name, tag.namespace
        self.version = tag.attributes.get("version", "")
        if not (tag.name.startswith("IESTM27") and tag.name[7:].isdecimal()):
            advice = "Other XML is not read. Export the spectrum as text (for example CSV)"
            fault = Fault(f"XML with the root {quote(tag.name)}", f"the root {fields.ROOT}", advice, tag.line)
            raise ReadError(self.path, [fault])
        if tag.name != fields.ROOT or self.version not in ("", fields.VERSION):
            self._warn(
                f"{tag.name} of version {quote(self.version)} was read as {fields.ROOT} of version 1.0"
            )
        if tag.namespace not in fields.NAMESPACES:
            self._warn(f"the namespace {quote(tag.namespace)} is not that of TM-27")

    def _take_field(self, tag: Tag, text: str) -> None:
        known = fields.HEADER if self.section == "Header" else fields.DISTRIBUTION
        if tag.name in self.places:
            found = f"a second {tag.name}; the first stands in line {self.places[tag.name]}"
            self._fault(Fault(found, "each field once", "Delete one of the two", tag.line, tag.column))
            return
        if tag.name not in known:
            elsewhere = tag.name in fields.HEADER + fields.DISTRIBUTION or self.section != "Header"
            if elsewhere or len(self.places) >= _LISTED:
                self._leave_out(tag)
                return
            self._warn(
                f"the field {quote(tag.name)} is none of TM-27: it is kept in the header (line {tag.line})"
            )
        self.places[tag.name] = tag.line
        if text != fields.ABSENT:
            self.fields[tag.name] = text

    def bandwidth(self) -> dict[str, float]:
        """The bandwidth [nm] as an attribute, where the file states one that makes sense."""
        stated = self.fields.get("BandwidthFWHM", "")
        if 0 < number(stated) < _WIDEST:
            return {"bandwidth": number(stated)}
        if stated:
            self._warn(f"the bandwidth {quote(stated)} is no number of nm above 0: it stays text")
        return {}

    def check_words(self) -> None:
        """Warn of words that are none of those that the format has."""
        for name, words in fields.WORDS.items():
            stated = self.fields.get(name, "")
            if stated and stated.casefold() not in map(str.casefold, words):
                self._warn(f"{name} {quote(stated)} is none of {', '.join(words)}")
        for quantity, name in {
            "reflectance": "ReflectionGeometry",
            "transmittance": "TransmissionGeometry",
        }.items():
            if self.fields.get("SpectralQuantity", "").casefold() == quantity and not self.fields.get(name):
                self._warn(f"the file does not say with which geometry the {quantity} was measured")

    def _leave_out(self, tag: Tag) -> None:
        if len(self.warnings) <= _LISTED:
            self._warn(f"the element {quote(tag.name)} is none of TM-27: it was left out (line {tag.line})")

    def _warn(self, text: str) -> None:
        if len(self.warnings) < _LISTED:
            self.warnings.append(text)
        elif len(self.warnings) == _LISTED:
            self.warnings.append("there is more to say of this file than is listed here")

    def _fault(self, fault: Fault) -> None:
        if len(self.faults) < _LISTED:
            self.faults.append(fault)


def _quantity(
    values: NDArray[np.float64], stated: str, choices: Choices, file: _File, steps: list[str]
) -> tuple[str, str, NDArray[np.float64]]:
    """Name, unit and values in the package's own unit; the caller's word stands above the file's."""
    told = fields.QUANTITIES.get(stated.casefold(), "")
    name, given, line = choices.quantity or told, choices.units, file.places.get("SpectralQuantity")
    if choices.quantity and stated and told != choices.quantity:
        file.warnings.append(f"the file holds {quote(stated)} and was read as {choices.quantity}")
    if not name and given and stated.casefold() in ("", "other"):
        name = heading(f"[{given}]").quantity
    if not name:
        called = (
            f"{quote(stated)} is no quantity of this package"
            if stated
            else "the file does not say what it holds"
        )
        file.warnings.append(f"{called}: it is kept as {UNLABELLED}, and its unit is not known")
        if given is None or clean(given) == "1" or not is_unit(given):
            return UNLABELLED, "1", values
        file.warnings[-1] = f"{called}: it is kept as {UNLABELLED}"
        return (UNLABELLED, "1", values / 100) if clean(given) == "%" else (UNLABELLED, clean(given), values)
    own, readable = QUANTITIES[name].units, name.replace("_", " ")
    if given is None:
        if own != "1":
            file.warnings.append(f"TM-27 states no unit: {readable} was taken as {own}")
        elif name in ("transmittance", "reflectance") and np.nanmax(values, initial=0) > _LARGEST_FRACTION:
            found = f"{readable} up to {np.nanmax(values):g}"
            file.faults.append(
                Fault(found, "parts, not percent", 'Give the unit on reading: units="%"', line)
            )
        return name, own, values
    if clean(given) == own:
        return name, own, values
    try:
        with np.errstate(over="ignore"):  # refused below
            converted = np.asarray(convert(values, clean(given), own))
    except UnitsError as error:
        expected = f"a unit such as {quote(own)}"
        file.faults.append(Fault(f"the unit {quote(given)} for {readable}", expected, f"{error}", line))
        return name, own, values
    if np.isinf(converted).any():
        file.faults.append(
            Fault(f"{readable} beyond 1e308 {own}", "a smaller number", "Check the unit", line)
        )
    steps.append(f"converted {readable} from {given} to {own}")
    return name, own, converted


def _spacing(wavelength: NDArray[np.float64]) -> str:
    gaps = np.diff(wavelength)
    if np.allclose(gaps, gaps[0], rtol=1e-6, atol=0):
        return f"every {gaps[0]:.6g} nm"
    return f"{gaps.min():.6g} to {gaps.max():.6g} nm apart, kept as they are"
