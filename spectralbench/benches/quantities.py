"""Quantities, names and files as ``bench.toml`` writes them, and the table that holds them."""

from __future__ import annotations

from datetime import date
from pathlib import PurePosixPath
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from spectralbench.errors import RangeError, UnitsError
from spectralbench.units import Measured, measured


class KeyedError(RangeError):
    """A fault of one key of the manifest, found by looking at more than that key.

    Parameters
    ----------
    message : str
        What was expected, in a table that is checked; otherwise what was found.
    key : str
        The key: inside its table, or as a dotted path.
    expected : str
        What should stand there, where the message does not say so.
    """

    def __init__(self, message: str, key: str = "", expected: str = "") -> None:
        self.key, self.expected = key, expected
        super().__init__(message)


def quantity(
    units: str, *, least: float | None = None, above: float | None = None, most: float | None = None
) -> Any:
    """A value with a unit that converts to `units`, perhaps with limits.

    Examples
    --------
    >>> from pydantic import TypeAdapter
    >>> TypeAdapter(Annotated[Measured, quantity("mm")]).validate_python("2 cm ± 1 mm")
    Measured(value=20.0, standard_uncertainty=1.0)
    """
    unit = "" if units == "1" else units
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
            in_percent = ", which is 100 %" if (unit, most) == ("", 1.0) else ""
            raise ValueError(f"a value of at most {most:g} {unit}".rstrip() + in_percent)
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


def _day(text: str) -> str:
    try:
        date.fromisoformat(text)
    except ValueError as error:
        raise ValueError('a date such as "2025-11-03"') from error
    return text


# Limits that no bench passes; they catch a slip of the unit, and keep arithmetic far from its own limits.
Millimetres = Annotated[Measured, quantity("mm", least=1e-4, most=1e5)]
Nanometres = Annotated[Measured, quantity("nm", above=0, most=1e5)]
Seconds = Annotated[Measured, quantity("s", least=1e-9, most=1e6)]
Hours = Annotated[Measured, quantity("h", least=0, most=1e6)]
HoursOfUse = Annotated[Measured, quantity("h", above=0, most=1e6)]
Watts = Annotated[Measured, quantity("W", least=0, most=1e9)]
Milligrams = Annotated[Measured, quantity("mg", least=0, most=1e6)]
Kelvins = Annotated[Measured, quantity("K", above=0, most=1e4)]
Irradiance = Annotated[Measured, quantity("W m-2", least=1e-9, most=1e12)]
RadiantExposure = Annotated[Measured, quantity("J m-2", least=1e-9, most=1e15)]
Concentration = Annotated[Measured, quantity("mol/L", least=0, most=1e3)]
Counts = Annotated[Measured, quantity("1", above=0, most=1e9)]
Share = Annotated[Measured, quantity("1", above=0, most=1)]
Index = Annotated[Measured, quantity("1", least=1, most=10)]
Price = Annotated[float, Field(ge=0, le=1e9, strict=True)]
Name = Annotated[str, AfterValidator(_name)]
File = Annotated[str, AfterValidator(_inside)]
Band = Annotated[list[Nanometres], Field(min_length=2, max_length=2), AfterValidator(_band)]
Day = Annotated[str, AfterValidator(_day)]


class Table(BaseModel):
    """A table of the manifest: unknown keys are faults, for they are mostly typing errors."""

    model_config = ConfigDict(extra="forbid", frozen=True)
