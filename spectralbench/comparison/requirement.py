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
    minimum_match : float, optional
        Least share of the light at the bond line that initiators use [1].
    minimum_life : float, optional
        Hours that a source has to go on from today [h].
    maximum_power, maximum_mercury : float, optional
        Electrical power while it is on [W]; mercury in one lamp [mg].
    bond_width : float, optional
        Width of the bond that the spot has to cover [mm].
    oxygen_threshold : float, optional
        Irradiance at the data sheet's wavelength that oxygen uses up: below it nothing sets [W m-2].
    speed : float, optional
        Speed of a part that travels under the light [mm s-1].
    passes : int
        How often it travels there.
    """

    low: float
    high: float
    minimum_irradiance: float
    dose: float
    data_sheet_wavelength: float | None = None
    maximum_time: float | None = None
    maximum_irradiance: float | None = None
    maximum_temperature: float | None = None
    minimum_match: float | None = None
    minimum_life: float | None = None
    maximum_power: float | None = None
    maximum_mercury: float | None = None
    bond_width: float | None = None
    oxygen_threshold: float | None = None
    speed: float | None = None
    passes: int = 1
