"""What ``bench.toml`` may say, as a schema.

Every quantity is written with its unit, and may carry a standard uncertainty:
``distance = "500 mm ± 0.5 mm"``. The role of a file is the table that names it.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Annotated, Any, Literal

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
Share = Annotated[Measured, _quantity("1", above=0, most=1)]
Index = Annotated[Measured, _quantity("1", least=1, most=10)]
Name = Annotated[str, AfterValidator(_name)]
File = Annotated[str, AfterValidator(_inside)]


class _Table(BaseModel):
    """A table of the manifest: unknown keys are faults, for they are mostly typing errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Frame(_Table):
    """One raw file of scans. Written as a file name where the file itself says the rest."""

    file: File
    integration_time: Seconds | None = None

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

    band: Annotated[list[Nanometres], Field(min_length=2, max_length=2), AfterValidator(_band)]
    minimum_irradiance: Irradiance
    dose: RadiantExposure
    data_sheet_wavelength: Nanometres | None = None
    maximum_time: Seconds | None = None
    maximum_temperature: Kelvins | None = None


class Radiometer(_Table):
    """A log of readings of a broadband radiometer."""

    name: Name
    file: File
    band: str
    source: Name | None = None


class Ageing(_Table):
    """A log of the output of a source against its hours of use."""

    source: Name
    file: File


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
    radiometer: list[Radiometer] = []
    ageing: list[Ageing] = []

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


def _files(value: object, key: str) -> list[tuple[str, str]]:
    if isinstance(value, Frame):
        return [(key, value.file)]
    if isinstance(value, BaseModel):
        found = []
        for name in type(value).model_fields:
            inner = getattr(value, name)
            place = f"{key}.{name}".lstrip(".")
            if name in ("file", "certificate", "attenuator", "curve") and inner is not None:
                found.append((place, inner))
            else:
                found += _files(inner, place)
        return found
    if isinstance(value, list):
        return [pair for number, item in enumerate(value, 1) for pair in _files(item, f"{key}.{number}")]
    return []
