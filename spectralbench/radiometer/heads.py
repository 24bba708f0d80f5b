"""The detector heads of radiometers, as their certificates describe them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, quote
from spectralbench.radiometer.responses import Band, Target, band_limits
from spectralbench.units import measured

SHAPES = {
    "flat": "1 between the limits of the band, 0 outside",
    "gaussian": "a bell that stands at half its height at the limits of the band",
}
"""Shapes of a response of which only the limits are stated."""


@dataclass(frozen=True, eq=False)
class Head:
    """What a certificate says of the detector head of a radiometer.

    Parameters
    ----------
    name : str
        What tells the head from every other, such as its serial number.
    calibrated : str
        Date of its calibration.
    response : xarray.DataArray (..., wavelength), optional
        Spectral response [any unit].
    band : tuple of two floats or str, optional
        Limits of its band [nm], where there is no response.
    shape : str
        What the response is between and beyond these limits: one of `SHAPES`. Limits without
        a shape correct nothing.
    label : str
        What is printed on the head. It stays text: the same label means other limits on
        another head.
    calibration : xarray.DataArray (..., wavelength), optional
        Spectrum of the source that it was calibrated with [spectral irradiance, or relative].
    target : tuple of two floats or str, or xarray.DataArray (wavelength,), optional
        What its reading states: the irradiance in a band [nm], or weighted with a curve.
        Without it, all the light of the source.
    standard_uncertainty : float or str
        Relative standard uncertainty of its calibration [1].
    gain : float or xarray.DataArray (draw,)
        Draws of the calibration [1], as ``draw(1.0, 0.025)``: all readings of the head share
        them.

    Raises
    ------
    RangeError
        If the name is empty, the limits are not in order, the shape is none, or the standard
        uncertainty lies outside 0–1.

    Examples
    --------
    >>> Head("A-0113", "2025-11-03", band=(320, 390), shape="flat").curve.values.tolist()
    [1.0, 1.0]
    """

    name: str
    calibrated: str = ""
    response: xr.DataArray | None = None
    band: Band | None = None
    shape: str = ""
    label: str = ""
    calibration: xr.DataArray | None = None
    target: Target = None
    standard_uncertainty: float | str = 0.0
    gain: xr.DataArray | float = 1.0

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise RangeError("a head has a name that tells it from every other, such as its serial number")
        if self.band is not None:
            band_limits(self.band)
        if self.shape not in ("", *SHAPES):
            raise RangeError(f"the shape of a response is {' or '.join(SHAPES)}, not {quote(self.shape)}")
        if not 0 <= measured(self.standard_uncertainty, "1").value <= 1:
            raise RangeError(
                'a relative standard uncertainty lies between 0 and 1, such as 0.03 or "3 %"; '
                f"{self.standard_uncertainty} does not"
            )

    def __str__(self) -> str:
        date = f" (calibrated {self.calibrated})" if self.calibrated else ""
        return f"head {quote(self.name)}{date}"

    @property
    def curve(self) -> xr.DataArray | None:
        """The response, or what limits and shape stand for; None if nothing is known (..., wavelength)."""
        if self.response is not None or self.band is None or not self.shape:
            return self.response
        low, high = band_limits(self.band)
        if self.shape == "flat":
            return xr.DataArray([1.0, 1.0], {"wavelength": [low, high]}, "wavelength")
        away = np.linspace(-2.0, 2.0, 401)  # in widths; at 2 it has fallen to 2**-16
        grid = (low + high) / 2 + away * (high - low)
        return xr.DataArray(2.0 ** -((2 * away) ** 2), {"wavelength": grid}, "wavelength")

    def same_as(self, other: Head) -> bool:
        """Whether two descriptions are of one head in one state of calibration.

        Parameters
        ----------
        other : Head
            The other one.

        Returns
        -------
        bool
            True if name and date of calibration are the same.

        Examples
        --------
        >>> Head("A-0113", "2025-11-03").same_as(Head("A-0113", "2024-10-30"))
        False
        """
        return (self.name, self.calibrated) == (other.name, other.calibrated)
