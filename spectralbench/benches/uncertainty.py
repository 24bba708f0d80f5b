"""Lines of the uncertainty budget in ``bench.toml``: one cause each, what it falls on, how large it is."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from spectralbench.benches.quantities import KeyedError, Name, Table
from spectralbench.errors import UnitsError
from spectralbench.units import measured

FROM_FILE = "from file"
"""As the size of an uncertainty: the column beside the values."""

INPUTS = {
    "lamp irradiance": "W m-2 nm-1",
    "attenuator": "1",
    "spectral irradiance": "W m-2 nm-1",
    "transmittance": "1",
    "absorption coefficient": "L mol-1 cm-1",
    "absorbance": "1",
    "wavelength": "nm",
}
"""What an uncertainty may belong to, beside the quantities that carry one themselves, and its unit."""


OF_THEMSELVES = {
    "noise": "scatter of the scans",
    "flicker": "what all pixels of a scan have in common",
    "lamp distance": "± of the standard lamp's distances",
    "distance": "± of each source's distance",
    "working distance": "± of each source's working distance, along its beam",
    "concentration": "± of each initiator's concentration",
    "bond line": "± of the bond line",
    "layer": "± of the layer in which each absorber was measured",
    "thickness": "± of the thickness of each part that was measured",
    "working thickness": "± of the thickness of each part in use",
    "below the floor": "what passes in another thickness where the measured one passed next to nothing",
    "reciprocity": "± of the adhesive's reciprocity exponent",
    "reference drift": "where the lamp of a part stood between two references",
    "refractive index": "± of the indices of part and adhesive",
    "end of life": "fit of the log, or ± of the stated output",
}
"""Causes that are in a budget without a line of their own, and where they come from."""

REACH = {"normal": 4.0, "rectangular": 3.0**0.5, "triangular": 6.0**0.5, "arcsine": 2.0**0.5}
"""Standard uncertainties that a distribution reaches from its middle; a normal one in nearly all draws."""

MOST_OFF = 5.0
"""Nanometres; a scale that is further off is calibrated, not budgeted (common practice, no source)."""


def _correlation(text: str) -> str:
    if text not in ("none", "full"):
        try:
            length, spread = measured(text, "nm")
        except UnitsError as error:
            raise ValueError('"none", "full" or a length such as "20 nm"') from error
        if not length > 0 or spread:
            raise ValueError("a length above 0 nm, without a ±")
    return text


def _size(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError('a text such as "1.2 %", or a number')
    return value


class Uncertainty(Table):
    """A line of the uncertainty budget: one cause, what it falls on, how large it is."""

    name: Name
    input: Literal[
        "lamp irradiance",
        "attenuator",
        "spectral irradiance",
        "transmittance",
        "absorption coefficient",
        "absorbance",
        "wavelength",
    ]
    size: Annotated[str | float, BeforeValidator(_size)]
    relative: Annotated[bool, Field(strict=True)] | None = None
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    correlation: Annotated[str, AfterValidator(_correlation)] = "full"
    shared: Annotated[bool, Field(strict=True)] = False
    of: Annotated[list[Name], Field(min_length=1)] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Uncertainty:
        if self.input == "wavelength" and self.relative:
            raise KeyedError("no relative = true: a scale is off by a length", "relative")
        if self.size != FROM_FILE:
            self.measured()  # raises
        elif self.input != "lamp irradiance":
            raise KeyedError("a size, for only the lamp's certificate may hold its uncertainties", "size")
        elif self.relative:
            raise KeyedError(
                "no relative = true beside a size from the file: its column has the unit of the values",
                "relative",
            )
        return self

    @property
    def is_relative(self) -> bool:
        """Whether the size is a share of the value."""
        if self.relative is not None:
            return self.relative
        return INPUTS[self.input] not in ("1", "nm") and str(self.size).strip().endswith("%")

    def measured(self) -> float:
        """The standard uncertainty [1 if relative, otherwise the unit of the input].

        Raises
        ------
        KeyedError
            If it cannot be told, or makes no sense; with what was expected.

        Examples
        --------
        >>> Uncertainty(name="lamp", input="lamp irradiance", size="1.2 %").measured()
        0.012
        """
        units = INPUTS[self.input]
        if units == "1" and self.relative is None:
            raise KeyedError(
                f"relative = true or relative = false beside the size, for {self.size} of "
                f"{'an' if self.input[0] == 'a' else 'a'} {self.input} may mean a share of it or points",
                "size",
            )
        wanted = "1" if self.is_relative else units
        example = "1.2 %" if wanted == "1" else f"0.2 {wanted}"
        if wanted != "1" and not isinstance(self.size, str):
            raise KeyedError(f'a size with its unit, such as "{example}"', "size")
        try:
            size, spread = measured(self.size, wanted)
        except UnitsError as error:
            raise KeyedError(f'a size such as "{example}" ({error})', "size") from error
        if spread:
            raise KeyedError(f'a size such as "{example}": an uncertainty has none of its own', "size")
        if not size > 0:
            raise KeyedError(f'a size above 0, such as "{example}"', "size")
        most = self._most()
        if size > most:
            raise KeyedError(self._too_large(most), "size")
        return size

    def _most(self) -> float:
        """The largest size that makes sense."""
        if INPUTS[self.input] == "nm":
            return MOST_OFF
        return 1 / REACH[self.distribution] if self.is_relative or INPUTS[self.input] == "1" else float("inf")

    def _too_large(self, most: float) -> str:
        if self.input == "wavelength":
            return f"at most {most:g} nm: a scale that is further off is calibrated before it is used"
        reach = REACH[self.distribution]
        shown = f"{most:.0%}".replace("%", " %") if self.is_relative else f"{most:.2g} in points"
        return (
            f"at most {shown}: a {self.distribution} distribution reaches {reach:.2g} sizes far, and would "
            "come below 0; a size is a standard uncertainty, and of a tolerance ±a it is a/√3"
        )
