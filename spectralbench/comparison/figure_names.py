"""What the figures of a comparison are called, and their units."""

from __future__ import annotations

from typing import NamedTuple


class Figure(NamedTuple):
    """How a figure is called."""

    units: str
    label: str  # short, for a table
    long_name: str


FIGURES = {
    "peak_wavelength": Figure("nm", "peak of the source", "peak wavelength of the source"),
    "spot_size": Figure("mm", "spot", "width of the spot at half of its highest irradiance"),
    "least_lit": Figure(
        "1",
        "least lit place",
        "irradiance at the least lit place of the bond, against that in the middle",
    ),
    "share_on_bond": Figure(
        "1", "falls on the bond", "share of the light that falls on the bond, as if it were round"
    ),
    "irradiance_at_part": Figure("W m-2", "at the part", "irradiance at the part"),
    "irradiance_at_bond": Figure("W m-2", "through the part", "irradiance through the part"),
    "kept_share": Figure("1", "stopped by the part", "share of the light that does not pass the part"),
    "band_irradiance": Figure(
        "W m-2", "in the required band", "irradiance in the required band at the bond line"
    ),
    "band_irradiance_in_air": Figure(
        "W m-2",
        "in the band, dry face",
        "irradiance in the required band behind a part whose back face is dry",
    ),
    "band_irradiance_regular": Figure(
        "W m-2",
        "straight on only",
        "irradiance in the required band at the bond line, without the light that parts scatter",
    ),
    "absorbed_photons": Figure(
        "umol m-2 s-1", "photons absorbed", "photons absorbed by the initiators in the bond line"
    ),
    "back_by_front": Figure(
        "1", "back against front", "photons absorbed at the back of the bond line, against those at its front"
    ),
    "photons_at_back": Figure(
        "umol m-3 s-1", "photons at the back", "photons absorbed at the back of the bond line, by volume"
    ),
    "spectrum_match": Figure("1", "used", "share of the light at the bond line that initiators use"),
    "unused_irradiance": Figure("W m-2", "unused light", "light at the bond line that no initiator uses"),
    "lost_irradiance": Figure(
        "W m-2", "resin and pigment", "light that resin and pigment take in the bond line"
    ),
    "dose_time": Figure("s", "time for the dose", "time to reach the dose in the required band"),
    "photon_time": Figure("s", "time for the photons", "time to absorb the photons of the data sheet's dose"),
    "exposure_time": Figure("s", "exposure", "exposure: the longer of the two times"),
    "fastest_speed": Figure("mm s-1", "fastest travel", "highest speed that still gives the exposure"),
    "needed_irradiance": Figure(
        "W m-2",
        "in band, needed",
        "irradiance in the required band that gives irradiance, photons and exposure as required",
    ),
    "setting_today": Figure("1", "setting today", "setting that does the job today, in steps of 1 %"),
    "end_of_life_output": Figure("1", "left at end of life", "output at the end of life against today"),
    "end_of_life_irradiance": Figure(
        "W m-2", "in band, end of life", "irradiance in the required band at the end of life, at full setting"
    ),
    "end_of_life_exposure": Figure(
        "s", "exposure, end of life", "exposure at the end of life, at full setting"
    ),
    "setting_at_end": Figure(
        "1", "setting, end of life", "setting that does the job at the end of life, in steps of 1 %"
    ),
    "hours_left": Figure(
        "h",
        "hours left",
        "hours until full setting no longer does the job, or the source is replaced",
    ),
    "peak_temperature": Figure(
        "K", "highest temperature", "highest temperature of part and bond line at the end of one exposure"
    ),
    "permitted_time": Figure(
        "s", "bare eye or skin", "time in which the direct beam reaches a day's limit for bare eyes or skin"
    ),
    "electrical_energy": Figure("J", "electrical energy", "electrical energy for one exposure"),
    "electrical_power": Figure("W", "running power", "electrical power while it is on"),
    "mercury": Figure("mg", "mercury", "mercury in one lamp"),
    "hours_of_new": Figure(
        "h", "a new one lasts", "hours for which a new one does the job, at most until it is replaced"
    ),
    "hours_on": Figure("h", "on in a year", "hours that it is on in a year"),
    "energy_per_year": Figure("kWh", "energy in a year", "electrical energy in a year"),
    "lamps_per_year": Figure("year-1", "changes in a year", "changes of the lamp in a year, in the long run"),
    "next_change": Figure("year", "next change", "time until the next change of the lamp"),
    "mercury_per_year": Figure("mg", "mercury in a year", "mercury in the lamps of a year"),
    "cost_per_year": Figure("1", "cost in a year", "cost of a year: energy, lamps and their disposal"),
}
"""Figures of a comparison by source, in the order in which the light goes."""
