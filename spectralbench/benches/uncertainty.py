"""Lines of the uncertainty budget in ``bench.toml``: one cause each, what it falls on, how large it is."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from spectralbench.benches.quantities import Name, Table
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
    "refractive index": "± of the indices of part and adhesive",
    "end of life": "fit of the log, or ± of the stated output",
}
"""Causes that are in a budget without a line of their own, and where they come from."""


def _correlation(text: str) -> str:
    if text not in ("none", "full"):
        try:
            length = measured(text, "nm").value
        except UnitsError as error:
            raise ValueError('"none", "full" or a length such as "20 nm"') from error
        if not length > 0:
            raise ValueError("a length above 0 nm")
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
        "wavelength",
    ]
    size: Annotated[str | float, BeforeValidator(_size)]
    relative: bool | None = None
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    correlation: Annotated[str, AfterValidator(_correlation)] = "full"
    shared: bool = False
    of: Annotated[list[Name], Field(min_length=1)] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Uncertainty:
        if self.size != FROM_FILE:
            self.measured()  # raises
        elif self.input != "lamp irradiance":
            raise ValueError("a size, for only the lamp's certificate may hold its uncertainties")
        elif self.relative:
            raise ValueError("no relative = true beside it: the column has the unit of the values")
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
        if wanted != "1" and not isinstance(self.size, str):
            raise ValueError(f'a size with its unit, such as "{example}"')
        try:
            size = measured(self.size, wanted).value
        except UnitsError as error:
            raise ValueError(f'a size such as "{example}" ({error})') from error
        if not 0 < size < (1 if self.is_relative else np.inf):
            raise ValueError(f'a size above 0{" and below 100 %" * self.is_relative}, such as "{example}"')
        return size
