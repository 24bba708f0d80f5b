"""What ``bench.toml`` may say, as a schema.

Every quantity is written with its unit, and may carry a standard uncertainty:
``distance = "500 mm ± 0.5 mm"``. The role of a file is the table that names it.
"""

from __future__ import annotations

from datetime import date
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    model_validator,
)

from spectralbench.errors import UnitsError
from spectralbench.units import Measured, measured


def _quantity(
    units: str, *, least: float | None = None, above: float | None = None, most: float | None = None
) -> Any:
    """A value with a unit that converts to `units`, perhaps with limits."""
    unit = units.replace("1", "")
    example = "a number" if units == "1" else f'a number with a unit, such as "2 {units}"'

    def read(value: object) -> Measured:
        plain = isinstance(value, int | float) and not isinstance(value, bool) and units == "1"
        if not (plain or isinstance(value, str)):
            raise ValueError(example)
        try:
            result = measured(value, units)
        except UnitsError as error:
            raise ValueError(f"{example} ({error})") from error
        if least is not None and least > 0 >= result.value:
            raise ValueError(f"a value above 0 {unit}".rstrip())
        if least is not None and not result.value >= least:
            raise ValueError(f"a value of at least {least:g} {unit}".rstrip())
        if above is not None and not result.value > above:
            raise ValueError(f"a value above {above:g} {unit}".rstrip())
        if most is not None and not result.value <= most:
            raise ValueError(f"a value of at most {most:g} {unit}".rstrip())
        return result

    return BeforeValidator(read)


def _inside(name: str) -> str:
    path = PurePosixPath(name)
    if not name.isprintable() or "\\" in name or path.is_absolute() or ".." in path.parts or not path.name:
        raise ValueError("the path of a file inside the bench folder, with / between folders")
    return str(path)


def _name(name: str) -> str:
    if not name.isprintable() or "/" in name or name.strip(". ") == "" or len(name) > 60:
        raise ValueError("a name of 1 to 60 characters without /")
    return name.strip()


def _band(edges: list[Measured]) -> list[Measured]:
    if not edges[0].value < edges[1].value:
        raise ValueError("a band that runs from a shorter to a longer wavelength")
    return edges


def _correlation(text: str) -> str:
    if text not in ("none", "full"):
        try:
            length = measured(text, "nm").value
        except UnitsError as error:
            raise ValueError('"none", "full" or a length such as "20 nm"') from error
        if not length > 0:
            raise ValueError("a length above 0 nm")
    return text


def _day(text: str) -> str:
    try:
        date.fromisoformat(text)
    except ValueError as error:
        raise ValueError('a date such as "2025-11-03"') from error
    return text


FROM_FILE = "from file"  # as the size of an uncertainty: the column beside the values

# Limits that no bench passes; they catch a slip of the unit, and keep arithmetic far from its own limits.
Millimetres = Annotated[Measured, _quantity("mm", least=1e-6, most=1e5)]
Nanometres = Annotated[Measured, _quantity("nm", above=0, most=1e5)]
Seconds = Annotated[Measured, _quantity("s", least=1e-9, most=1e6)]
Hours = Annotated[Measured, _quantity("h", least=0, most=1e6)]
Watts = Annotated[Measured, _quantity("W", least=0, most=1e9)]
Kelvins = Annotated[Measured, _quantity("K", above=0, most=1e4)]
Irradiance = Annotated[Measured, _quantity("W m-2", least=1e-9, most=1e12)]
RadiantExposure = Annotated[Measured, _quantity("J m-2", least=1e-9, most=1e15)]
Concentration = Annotated[Measured, _quantity("mol/L", least=0, most=1e3)]
Counts = Annotated[Measured, _quantity("1", above=0, most=1e9)]
Share = Annotated[Measured, _quantity("1", above=0, most=1)]
Index = Annotated[Measured, _quantity("1", least=1, most=10)]
Name = Annotated[str, AfterValidator(_name)]
File = Annotated[str, AfterValidator(_inside)]
Band = Annotated[list[Nanometres], Field(min_length=2, max_length=2), AfterValidator(_band)]
Day = Annotated[str, AfterValidator(_day)]


class _Table(BaseModel):
    """A table of the manifest: unknown keys are faults, for they are mostly typing errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Frame(_Table):
    """One raw file of scans. Written as a file name where the file itself says the rest."""

    file: File
    integration_time: Seconds | None = None
    temperature: Kelvins | None = None

    @model_validator(mode="before")
    @classmethod
    def _from_name(cls, value: object) -> object:
        return {"file": value} if isinstance(value, str) else value


class Dark(_Table):
    """A dark frame: the same instrument with its shutter closed."""

    frame: Frame


class Instrument(_Table):
    """The spectrometer."""

    name: Name
    full_scale: Annotated[Measured, _quantity("1", least=1, most=1e12)]
    pixels: Annotated[int, Field(ge=3, le=1_000_000, strict=True)]
    bandwidth: Nanometres
    integration_times: Annotated[list[Seconds], Field(min_length=1)]
    saturation: Share = Measured(0.95)
    read_noise: Counts | None = None
    electrons_per_count: Counts | None = None
    linearity: Annotated[list[float], Field(min_length=1, max_length=10)] | None = None
    bandpass: Literal["triangle", "gaussian", "rectangle"] | None = None
    in_band: Annotated[int, Field(ge=0, le=10_000, strict=True)] | None = None

    @model_validator(mode="after")
    def _both_or_none(self) -> Instrument:
        if (self.read_noise is None) != (self.electrons_per_count is None):
            raise ValueError("read_noise and electrons_per_count together, or neither of them")
        return self


class LineSpread(_Table):
    """A frame of one narrow line, which shows where the instrument scatters its light."""

    wavelength: Nanometres
    frame: Frame


class StandardLamp(_Table):
    """The lamp that calibrates the instrument, and its certificate."""

    name: Name
    frame: Frame
    certificate: File
    certified_distance: Millimetres
    distance: Millimetres


class Source(_Table):
    """A light source, measured where the part will be."""

    name: Name
    kind: Literal["arc", "LED", "other"]
    frame: Frame
    distance: Millimetres
    spot: Millimetres | None = None
    filter: str = ""
    attenuator: File | None = None
    electrical_power: Watts | None = None
    hours: Hours | None = None
    end_of_life: Hours | None = None
    stated_end_output: Share | None = None


class Part(_Table):
    """A part that the light passes, measured against the same beam without it."""

    name: Name
    material: str
    thickness: Millimetres
    index: Index | None = None
    sample: Frame
    references: Annotated[list[Frame], Field(min_length=1)]


class Initiator(_Table):
    """An initiator of the adhesive."""

    name: Name
    curve: File
    concentration: Concentration


class Adhesive(_Table):
    """The adhesive in its bond line."""

    name: Name
    bond_line: Millimetres
    initiator: Annotated[list[Initiator], Field(min_length=1)]
    maximum_irradiance: Irradiance | None = None


class Requirement(_Table):
    """What the light has to do at the bond line."""

    band: Band
    minimum_irradiance: Irradiance
    dose: RadiantExposure
    data_sheet_wavelength: Nanometres | None = None
    maximum_time: Seconds | None = None
    maximum_temperature: Kelvins | None = None


class Radiometer(_Table):
    """A log of readings of a broadband radiometer, and what the certificate says of its head."""

    name: Name
    file: File
    band: str
    source: Name | None = None
    distance: Millimetres | None = None
    response: File | None = None
    limits: Band | None = None
    shape: Literal["flat", "gaussian"] | None = None
    calibration_source: File | None = None
    calibration_target: Band | None = None
    calibration_uncertainty: Share | None = None
    calibrated: Day | None = None

    @model_validator(mode="after")
    def _one_response(self) -> Radiometer:
        if self.response is not None and self.limits is not None:
            raise ValueError("response or limits, not both: a measured curve needs no limits")
        if (self.limits is None) != (self.shape is None):
            raise ValueError('limits and shape together, such as shape = "flat", or neither of them')
        return self


class Ageing(_Table):
    """A log of the output of a source against its hours of use."""

    source: Name
    file: File


INPUTS = {
    "lamp irradiance": "W m-2 nm-1",
    "attenuator": "1",
    "spectral irradiance": "W m-2 nm-1",
    "transmittance": "1",
    "absorption coefficient": "L mol-1 cm-1",
    "wavelength": "nm",
}
"""What an uncertainty may belong to, beside the quantities that carry one themselves, and its unit."""


OF_THEMSELVES = {
    "noise": "scatter of the scans",
    "flicker": "what all pixels of a scan have in common",
    "lamp distance": "± of the standard lamp's distances",
    "distance": "± of each source's distance, by the inverse square law",
    "concentration": "± of each initiator's concentration",
    "bond line": "± of the bond line",
    "end of life": "fit of the log, or ± of the stated output",
}
"""Causes that are in a budget without a line of their own, and where they come from."""


class Uncertainty(_Table):
    """A line of the uncertainty budget: one cause, what it falls on, how large it is."""

    name: Name
    input: Literal[
        "lamp irradiance",
        "attenuator",
        "spectral irradiance",
        "transmittance",
        "absorption coefficient",
        "wavelength",
    ]
    size: str | float
    relative: bool | None = None
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    correlation: Annotated[str, AfterValidator(_correlation)] = "full"
    shared: bool = False
    of: Annotated[list[Name], Field(min_length=1)] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Uncertainty:
        if self.size != FROM_FILE:
            self.measured()  # raises
        return self

    @property
    def is_relative(self) -> bool:
        """Whether the size is a share of the value."""
        if self.relative is not None:
            return self.relative
        return INPUTS[self.input] != "1" and str(self.size).strip().endswith("%")

    def measured(self) -> float:
        """The standard uncertainty [1 if relative, otherwise the unit of the input].

        Raises
        ------
        ValueError
            If it cannot be told; with what was expected.

        Examples
        --------
        >>> Uncertainty(name="lamp", input="lamp irradiance", size="1.2 %").measured()
        0.012
        """
        units = INPUTS[self.input]
        if units == "1" and self.relative is None:
            raise ValueError(
                f"relative = true or relative = false beside it, for {self.size} of a "
                f"{self.input} may mean a share of it or points"
            )
        wanted = "1" if self.is_relative else units
        example = "1.2 %" if wanted == "1" else f"0.2 {wanted}"
        try:
            size = measured(self.size, wanted).value
        except UnitsError as error:
            raise ValueError(f'a size such as "{example}" ({error})') from error
        if not 0 < size < (1 if self.is_relative else np.inf):
            raise ValueError(f'a size above 0{" and below 100 %" * self.is_relative}, such as "{example}"')
        return size


class Manifest(_Table):
    """A whole bench."""

    title: str
    note: str = ""
    instrument: Instrument
    dark: Annotated[list[Dark], Field(min_length=1)]
    standard_lamp: StandardLamp
    source: Annotated[list[Source], Field(min_length=1)]
    part: Annotated[list[Part], Field(min_length=1)]
    adhesive: Adhesive
    requirement: Requirement
    line_spread: list[LineSpread] = []
    radiometer: list[Radiometer] = []
    ageing: list[Ageing] = []
    uncertainty: list[Uncertainty] = []

    def files(self) -> dict[str, str]:
        """Every file by its place in the manifest, as ``key → file``.

        Returns
        -------
        dict
            Dotted keys, such as ``source.2.frame``, and file names.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> read_manifest(demo)[0].files()["part.1.sample"]
        'raw/cover.csv'
        """
        return dict(_files(self, ""))


_NAMES_OF_FILES = ("file", "certificate", "attenuator", "curve", "response", "calibration_source")


def _files(value: object, key: str) -> list[tuple[str, str]]:
    if isinstance(value, Frame):
        return [(key, value.file)]
    if isinstance(value, BaseModel):
        found = []
        for name in type(value).model_fields:
            inner = getattr(value, name)
            place = f"{key}.{name}".lstrip(".")
            if name in _NAMES_OF_FILES and inner is not None:
                found.append((place, inner))
            else:
                found += _files(inner, place)
        return found
    if isinstance(value, list):
        return [pair for number, item in enumerate(value, 1) for pair in _files(item, f"{key}.{number}")]
    return []
