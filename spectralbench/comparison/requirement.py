"""What the light has to do at the bond line."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Requirement:
    """What the light has to do at the bond line.

    Parameters
    ----------
    low, high : float
        Limits of the band in which irradiance and dose count [nm].
    minimum_irradiance : float
        Irradiance in the band [W m-2].
    dose : float
        Radiant exposure in the band [J m-2].
    data_sheet_wavelength : float, optional
        The one wavelength for which the adhesive's data sheet states irradiance and dose [nm].
    maximum_time : float, optional
        Longest exposure that the line allows [s].
    maximum_irradiance : float, optional
        Irradiance that the adhesive should not see [W m-2].
    maximum_temperature : float, optional
        Highest temperature of part and adhesive [K].
    """

    low: float
    high: float
    minimum_irradiance: float
    dose: float
    data_sheet_wavelength: float | None = None
    maximum_time: float | None = None
    maximum_irradiance: float | None = None
    maximum_temperature: float | None = None
