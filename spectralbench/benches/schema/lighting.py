"""The tables of the candidates: sources, their beams, their ageing."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from spectralbench.benches.quantities import (
    File,
    Hours,
    HoursOfUse,
    Irradiance,
    KeyedError,
    Milligrams,
    Millimetres,
    Name,
    Price,
    Share,
    Table,
    Watts,
)
from spectralbench.benches.schema.measuring import Frame
from spectralbench.units import Measured


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
    profile: File | None = None
    profile_distance: Millimetres | None = None
    beam: Annotated[list[BeamPoint], Field(min_length=2)] | None = None
    working_distance: Millimetres | None = None
    filter: str = ""
    attenuator: File | None = None
    electrical_power: Watts | None = None
    hours: Hours | None = None
    end_of_life: HoursOfUse | None = None
    stated_end_output: Share | None = None
    stated_at: HoursOfUse | None = None
    mercury: Milligrams | None = None
    lamp_price: Price | None = None
    disposal_price: Price = 0.0

    @model_validator(mode="after")
    def _beam_for_a_distance(self) -> Source:
        if self.working_distance is not None and self.beam is None:
            raise KeyedError(
                "beam beside working_distance: irradiance at two distances or more", "working_distance"
            )
        if self.stated_end_output is not None and self.end_of_life is None:
            raise KeyedError("end_of_life beside it: the hours at which it is replaced", "stated_end_output")
        if self.stated_at is not None and self.stated_end_output is None:
            raise KeyedError("stated_end_output beside it: what is left at those hours", "stated_at")
        if self.profile_distance is not None and self.profile is None:
            raise KeyedError("profile beside it: the scan that was taken there", "profile_distance")
        if self.kind == "LED" and self.mercury is not None and self.mercury.value > 0:
            raise KeyedError("0 mg, or another kind: an LED holds no mercury", "mercury")
        distances = [point.distance.value for point in self.beam or []]
        if len(set(distances)) < len(distances):
            raise KeyedError("a beam with each distance once", "beam")
        return self


class Head(Table):
    """One of several sources that shine on the part at once."""

    source: Name
    setting: Share = Measured(1.0)


class Together(Table):
    """A candidate made of several sources that shine on the part at once, each at its setting."""

    name: Name
    heads: Annotated[list[Head], Field(min_length=2)]


class Ageing(Table):
    """A log of the output of a source against its hours of use."""

    source: Name
    file: File
