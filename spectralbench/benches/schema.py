"""What ``bench.toml`` may say, as a schema.

Every quantity is written with its unit, and may carry a standard uncertainty:
``distance = "500 mm ± 0.5 mm"``. The role of a file is the table that names it.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, model_validator

from spectralbench.benches.quantities import (
    Band,
    Concentration,
    Counts,
    Day,
    File,
    Hours,
    Index,
    Irradiance,
    Kelvins,
    KeyedError,
    Millimetres,
    Name,
    Nanometres,
    RadiantExposure,
    Seconds,
    Share,
    Table,
    Watts,
    quantity,
)
from spectralbench.benches.uncertainty import Uncertainty
from spectralbench.curves.files import find
from spectralbench.units import Measured


class Frame(Table):
    """One raw file of scans. Written as a file name where the file itself says the rest."""

    file: File
    integration_time: Seconds | None = None
    temperature: Kelvins | None = None

    @model_validator(mode="before")
    @classmethod
    def _from_name(cls, value: object) -> object:
        return {"file": value} if isinstance(value, str) else value


class Dark(Table):
    """A dark frame: the same instrument with its shutter closed."""

    frame: Frame


class Instrument(Table):
    """The spectrometer."""

    name: Name
    full_scale: Annotated[Measured, quantity("1", least=1, most=1e12)]
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
            given = "electrons_per_count" if self.read_noise is None else "read_noise"
            raise KeyedError("read_noise and electrons_per_count together, or neither of them", given)
        return self


class LineSpread(Table):
    """A frame of one narrow line, which shows where the instrument scatters its light."""

    wavelength: Nanometres
    frame: Frame


class StandardLamp(Table):
    """The lamp that calibrates the instrument, and its certificate."""

    name: Name
    frame: Frame
    certificate: File
    certified_distance: Millimetres
    distance: Millimetres


class BeamPoint(Table):
    """Irradiance at one distance from a source, by the same instrument as at the others."""

    distance: Millimetres
    irradiance: Irradiance


class Source(Table):
    """A light source, measured where the part will be."""

    name: Name
    kind: Literal["arc", "LED", "other"]
    frame: Frame
    exposures: list[Frame] = Field(default_factory=list)
    distance: Millimetres
    spot: Millimetres | None = None
    setting: Share = Measured(1.0)
    beam: Annotated[list[BeamPoint], Field(min_length=2)] | None = None
    working_distance: Millimetres | None = None
    filter: str = ""
    attenuator: File | None = None
    electrical_power: Watts | None = None
    hours: Hours | None = None
    end_of_life: Hours | None = None
    stated_end_output: Share | None = None

    @model_validator(mode="after")
    def _beam_for_a_distance(self) -> Source:
        if self.working_distance is not None and self.beam is None:
            raise KeyedError(
                "beam beside working_distance: irradiance at two distances or more", "working_distance"
            )
        distances = [point.distance.value for point in self.beam or []]
        if len(set(distances)) < len(distances):
            raise KeyedError("a beam with each distance once", "beam")
        return self


class Thermal(Table):
    """What heat meets: a material of the reference table by its name, or its three properties."""

    material: Name | None = None
    conductivity: Annotated[Measured, quantity("W m-1 K-1", least=1e-3, most=1e4)] | None = None
    density: Annotated[Measured, quantity("kg m-3", least=1, most=1e5)] | None = None
    heat_capacity: Annotated[Measured, quantity("J kg-1 K-1", least=1, most=1e5)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _from_name(cls, value: object) -> object:
        return {"material": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _name_or_properties(self) -> Thermal:
        stated = [self.conductivity, self.density, self.heat_capacity]
        if (self.material is None) != all(stated) or (self.material is not None and any(stated)):
            raise ValueError("the name of a material, or its conductivity, density and heat_capacity")
        if self.material is not None:
            known = list(map(str, find("tables", "thermal").columns["material"]))
            if self.material not in known:
                raise KeyedError(
                    f"one of {', '.join(known)}, or the three properties of another one", "material"
                )
        return self


class Part(Table):
    """A part that the light passes, measured against the same beam without it."""

    name: Name
    material: str
    thickness: Millimetres
    index: Index | None = None
    thermal: Thermal | None = None
    sample: Frame
    references: Annotated[list[Frame], Field(min_length=1)]


class Initiator(Table):
    """An initiator of the adhesive."""

    name: Name
    curve: File | None = None
    reference: str | None = None
    concentration: Concentration

    @model_validator(mode="after")
    def _one_of_both(self) -> Initiator:
        expected = "either curve, a file, or reference, the name of a curve that comes with us"
        if self.curve is not None and self.reference is not None:
            raise KeyedError(expected, "reference")
        if self.curve is None and self.reference is None:
            raise ValueError(expected)
        return self


class Adhesive(Table):
    """The adhesive in its bond line."""

    name: Name
    bond_line: Millimetres
    index: Index | None = None
    thermal: Thermal | None = None
    reciprocity: Annotated[Measured, quantity("1", above=0, most=1.5)] = Measured(1.0)
    reaction_heat: Annotated[Measured, quantity("J kg-1", least=0, most=1e7)] | None = None
    initiator: Annotated[list[Initiator], Field(min_length=1)]
    maximum_irradiance: Irradiance | None = None


class Backing(Table):
    """What the bond line holds the part to; it takes the light that passes the bond line."""

    name: Name
    thickness: Millimetres
    thermal: Thermal


class Heat(Table):
    """Where the heat goes: needed, with the thermal properties of part and adhesive, for a temperature."""

    ambient: Kelvins
    loss: Annotated[Measured, quantity("W m-2 K-1", least=0, most=1e6)] = Measured(0.0)
    backing: Backing | None = None


class Safety(Table):
    """Where people may meet the beam."""

    distance: Millimetres


class Requirement(Table):
    """What the light has to do at the bond line."""

    band: Band
    minimum_irradiance: Irradiance
    dose: RadiantExposure
    data_sheet_wavelength: Nanometres | None = None
    maximum_time: Seconds | None = None
    maximum_temperature: Kelvins | None = None


class Radiometer(Table):
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
            raise KeyedError("response or limits, not both: a measured curve needs no limits", "limits")
        if (self.limits is None) != (self.shape is None):
            given = "shape" if self.limits is None else "limits"
            raise KeyedError('limits and shape together, such as shape = "flat", or neither of them', given)
        return self


class Ageing(Table):
    """A log of the output of a source against its hours of use."""

    source: Name
    file: File


class Manifest(Table):
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
    heat: Heat | None = None
    safety: Safety | None = None
    line_spread: list[LineSpread] = Field(default_factory=list)
    radiometer: list[Radiometer] = Field(default_factory=list)
    ageing: list[Ageing] = Field(default_factory=list)
    uncertainty: list[Uncertainty] = Field(default_factory=list)

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
