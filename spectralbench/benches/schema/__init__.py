"""What ``bench.toml`` may say, as a schema.

Every quantity is written with its unit, and may carry a standard uncertainty:
``distance = "500 mm ± 0.5 mm"``. The role of a file is the table that names it.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, Field

from spectralbench.benches.quantities import Table
from spectralbench.benches.schema.bonding import (
    Absorber,
    Adhesive,
    Backing,
    Heat,
    Initiator,
    Part,
    Regular,
    Requirement,
    Running,
    Safety,
    Thermal,
)
from spectralbench.benches.schema.lighting import Ageing, BeamPoint, Head, Source, Together
from spectralbench.benches.schema.measuring import (
    Dark,
    Frame,
    Instrument,
    LineSpread,
    Radiometer,
    StandardLamp,
)
from spectralbench.benches.uncertainty import Uncertainty

__all__ = [
    "Absorber",
    "Adhesive",
    "Ageing",
    "Backing",
    "BeamPoint",
    "Dark",
    "Frame",
    "Head",
    "Heat",
    "Initiator",
    "Instrument",
    "LineSpread",
    "Manifest",
    "Part",
    "Radiometer",
    "Regular",
    "Requirement",
    "Running",
    "Safety",
    "Source",
    "StandardLamp",
    "Thermal",
    "Together",
]


class Manifest(Table):
    """A whole bench."""

    title: str
    note: str = ""
    instrument: Instrument
    dark: Annotated[list[Dark], Field(min_length=1)]
    standard_lamp: StandardLamp
    source: Annotated[list[Source], Field(min_length=1)]
    together: list[Together] = Field(default_factory=list)
    part: Annotated[list[Part], Field(min_length=1)]
    adhesive: Adhesive
    requirement: Requirement
    heat: Heat | None = None
    safety: Safety | None = None
    running: Running | None = None
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


_NAMES_OF_FILES = ("file", "certificate", "attenuator", "curve", "profile", "response", "calibration_source")


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
