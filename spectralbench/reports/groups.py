"""In which groups the figures of a comparison are shown, so that no table is too broad."""

from __future__ import annotations

from spectralbench.comparison import NOT_KNOWN
from spectralbench.reports.figures import Record

GROUPS = {
    "Light, in the order in which it goes": (
        "peak_wavelength",
        "irradiance_at_part",
        "irradiance_at_bond",
        "kept_share",
        "band_irradiance",
        "band_irradiance_in_air",
        "band_irradiance_regular",
    ),
    "The spot": ("spot_size", "least_lit", "share_on_bond"),
    "In the bond line": (
        "absorbed_photons",
        "photons_at_back",
        "back_by_front",
        "spectrum_match",
        "unused_irradiance",
        "lost_irradiance",
    ),
    "One exposure": (
        "dose_time",
        "photon_time",
        "exposure_time",
        "fastest_speed",
        "peak_temperature",
        "permitted_time",
        "electrical_power",
        "electrical_energy",
    ),
    "Over the hours of use": (
        "needed_irradiance",
        "setting_today",
        "end_of_life_output",
        "end_of_life_irradiance",
        "end_of_life_exposure",
        "setting_at_end",
        "hours_left",
        "hours_of_new",
    ),
    "Running for a year": (
        "hours_on",
        "energy_per_year",
        "lamps_per_year",
        "next_change",
        "mercury",
        "mercury_per_year",
        "cost_per_year",
    ),
}
"""Figures by group."""


def grouped(record: Record, *, judged: bool) -> dict[str, list[str]]:
    """The figures that are shown, by group.

    Parameters
    ----------
    record : dict
        From `spectralbench.reports.records.of_comparison`.
    judged : bool
        Whether to show those that stand beside a criterion, too.

    Returns
    -------
    dict
        By title, without figures that are not known of any source, and without empty groups.

    Examples
    --------
    >>> figures = {"mercury": {"text": "0 mg"}, "hours_on": {"text": "9 h"}, "spot_size": {"text": NOT_KNOWN}}
    >>> record = {"sources": [{"figures": figures}], "criteria": {"mercury": {"figure": "mercury"}}}
    >>> grouped(record, judged=False)
    {'Running for a year': ['hours_on']}
    """
    beside = {criterion["figure"] for criterion in record["criteria"].values() if not judged}
    shown = {
        title: [key for key in keys if key not in beside and is_known(record, key)]
        for title, keys in GROUPS.items()
    }
    return {title: keys for title, keys in shown.items() if keys}


def is_known(record: Record, key: str) -> bool:
    """Whether a figure is known of any source.

    Parameters
    ----------
    record : dict
        From `spectralbench.reports.records.of_comparison`.
    key : str
        Name of the figure.

    Returns
    -------
    bool
        Whether it is; one that has no end is known.

    Examples
    --------
    >>> is_known({"sources": [{"figures": {"dose_time": {"text": "never"}}}]}, "dose_time")
    True
    """
    texts = [source["figures"].get(key, {}).get("text", NOT_KNOWN) for source in record["sources"]]
    return any(text != NOT_KNOWN for text in texts)
