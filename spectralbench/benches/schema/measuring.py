"""The tables of what was measured with: spectrometer, lamp, radiometers."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from spectralbench.benches.quantities import (
    Band,
    Counts,
    Day,
    File,
    Kelvins,
    KeyedError,
    Millimetres,
    Name,
    Nanometres,
    Seconds,
    Share,
    Table,
    quantity,
)
from spectralbench.units import Measured


class Frame(Table):
    """One raw file of scans. Written as a file name where the file itself says the rest."""

    file: File
    integration_time: Seconds | None = None
    temperature: Kelvins | None = None
    left_out: tuple[Annotated[int, Field(ge=1, strict=True)], ...] = ()
    because: Annotated[str, Field(max_length=200)] = ""

    @model_validator(mode="before")
    @classmethod
    def _from_name(cls, value: object) -> object:
        return {"file": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _with_a_reason(self) -> Frame:
        if self.left_out and not self.because.strip():
            raise KeyedError('because beside it: what was seen, such as "the shutter stuck"', "left_out")
        if self.because and not self.left_out:
            raise KeyedError("left_out beside it: the scans that are left out, counted from 1", "because")
        return self


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
