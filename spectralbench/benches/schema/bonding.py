"""The tables of what is bonded: parts, adhesive, what it has to reach, where the heat goes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from spectralbench.benches.quantities import (
    Band,
    Concentration,
    File,
    Hours,
    Index,
    Irradiance,
    Kelvins,
    KeyedError,
    Milligrams,
    Millimetres,
    Name,
    Nanometres,
    Price,
    RadiantExposure,
    Seconds,
    Share,
    Table,
    Watts,
    quantity,
)
from spectralbench.benches.schema.measuring import Frame
from spectralbench.curves.files import find
from spectralbench.units import Measured


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


class Regular(Table):
    """A part measured once more: what goes straight on, with the detector far behind and no sphere."""

    sample: Frame
    references: Annotated[list[Frame], Field(min_length=1)]


class Part(Table):
    """A part that the light passes, measured against the same beam without it."""

    name: Name
    material: str
    thickness: Millimetres
    index: Index | None = None
    thermal: Thermal | None = None
    sample: Frame
    references: Annotated[list[Frame], Field(min_length=1)]
    collected: Literal["total", "regular"] | None = None
    regular: Regular | None = None
    working_thickness: Millimetres | None = None
    floor: Share | None = None

    @model_validator(mode="after")
    def _fits(self) -> Part:
        if self.regular is not None and self.collected != "total":
            raise KeyedError(
                'collected = "total" beside it: the sphere collected the other sample', "regular"
            )
        if self.working_thickness is not None and self.index is None:
            raise KeyedError("index beside it: surfaces stay, whatever the thickness", "working_thickness")
        if self.floor is not None and self.working_thickness is None:
            raise KeyedError("working_thickness beside it: the floor limits what is predicted", "floor")
        return self


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


class Absorber(Table):
    """What takes light in the adhesive and starts nothing, resin or pigment: measured as a layer."""

    name: Name
    curve: File
    layer: Millimetres
    in_data_sheet: Annotated[bool, Field(strict=True)] | None = None


class Adhesive(Table):
    """The adhesive in its bond line."""

    name: Name
    bond_line: Millimetres
    bond_width: Millimetres | None = None
    index: Index | None = None
    thermal: Thermal | None = None
    reciprocity: Annotated[Measured, quantity("1", above=0, most=1.5)] = Measured(1.0)
    reaction_heat: Annotated[Measured, quantity("J kg-1", least=0, most=1e7)] | None = None
    initiator: Annotated[list[Initiator], Field(min_length=1)]
    absorber: list[Absorber] = Field(default_factory=list)
    oxygen_threshold: Irradiance | None = None
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
    minimum_match: Share | None = None
    minimum_life: Hours | None = None
    maximum_power: Watts | None = None
    maximum_mercury: Milligrams | None = None
    speed: Annotated[Measured, quantity("mm s-1", least=1e-3, most=1e5)] | None = None
    passes: Annotated[int, Field(ge=1, le=1000, strict=True)] = 1

    @model_validator(mode="after")
    def _passes_of_a_travel(self) -> Requirement:
        if self.passes > 1 and self.speed is None:
            raise KeyedError("speed beside it: only a part that travels passes several times", "passes")
        return self


class Running(Table):
    """What running a source takes in a year; every price is the user's own."""

    hours_per_year: Annotated[Measured, quantity("h", above=0, most=8784)]
    exposures_per_year: Annotated[Measured, quantity("1", above=0, most=1e9)] | None = None
    energy_price: Price
    currency: Annotated[str, Field(min_length=1, max_length=10)]
