"""How much light the job takes: under each criterion that goes with the light, and under all of them."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.requirement import Requirement

_IN_PROPORTION = {
    "irradiance": "band_irradiance",
    "photons": "absorbed_photons",
    "end of life": "end_of_life_irradiance",
    "oxygen": "photons_at_back",
    "scattered light": "band_irradiance_regular",
    "upper limit": "irradiance_at_bond",
}
"""The figure of each criterion that goes with the light in proportion."""


def times_the_light(
    figures: xr.Dataset, name: str, limit: xr.DataArray | float = np.nan
) -> xr.DataArray | None:
    """How many times today's light just keeps to a criterion, draw by draw.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, perhaps with draws.
    name : str
        The criterion.
    limit : float or xarray.DataArray ([source], [draw])
        Its limit, in the unit of its figure; of "travel" the figures say themselves how long a part
        is in the light (``lit_time``).

    Returns
    -------
    xarray.DataArray (source, [draw]) or None
        Factor [1], infinite where there is no light to begin with; None for a criterion that does not
        go with the light.

    Examples
    --------
    >>> light = xr.Dataset({"band_irradiance": ("source", [50.0, 0.0])})
    >>> times_the_light(light, "irradiance", 75.0).values.tolist()
    [1.5, inf]
    """
    if name in _IN_PROPORTION:
        figure = figures[_IN_PROPORTION[name]]
        return (limit / figure.where(figure > 0)).where(~(figure <= 0), np.inf)
    if name == "time":
        return _in_time(figures, limit, limit)
    if name == "travel" and "lit_time" in figures:
        return _in_time(figures, figures["lit_time"], figures["lit_time_of_photons"])
    return None


def _in_time(
    figures: xr.Dataset, for_dose: xr.DataArray | float, for_photons: xr.DataArray | float
) -> xr.DataArray:
    """What dose and photons take within their times; the latter by the reciprocity exponent."""
    factor = figures["dose_time"] / for_dose
    if not figures["photon_time"].notnull().any():
        return factor
    slow = (figures["photon_time"] / for_photons) ** (1 / figures["reciprocity"])
    return xr.DataArray(np.maximum(*xr.broadcast(factor, slow)))


def exposure_with(figures: xr.Dataset, share: xr.DataArray | float) -> xr.DataArray:
    """How long the job takes with a share of today's light.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws.
    share : float or xarray.DataArray (source, [draw])
        Share of the light [1].

    Returns
    -------
    xarray.DataArray (source, [draw])
        The longer of the times [s]: the dose goes in proportion, photons by the reciprocity exponent.

    Examples
    --------
    >>> times = {"dose_time": ("source", [4.0]), "photon_time": ("source", [6.0]), "reciprocity": 0.5}
    >>> exposure_with(xr.Dataset(times), 0.25).item()
    16.0
    """
    dose = figures["dose_time"] / share
    if not figures["photon_time"].notnull().any():
        return dose
    photons = figures["photon_time"] / share ** figures["reciprocity"]
    return xr.DataArray(np.maximum(*xr.broadcast(dose, photons)))


def needed_light(figures: xr.Dataset, requirement: Requirement) -> xr.Dataset:
    """Add to the figures the irradiance that does the whole job.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws.
    requirement : Requirement
        What the light has to do.

    Returns
    -------
    xarray.Dataset
        The figures with ``needed_irradiance`` [W m-2] in the band, of each source the least that gives
        irradiance, photons and, where a time is allowed, dose and photons within it; infinite where none
        of its light counts, or so much of it is more than the adhesive may see.

    Notes
    -----
    A source that is regulated down, or ages, loses irradiance and photons in the same proportion, and
    its exposure grows: what it has to hold is more than the irradiance on a data sheet.

    Examples
    --------
    >>> light = xr.Dataset(
    ...     {"band_irradiance": ("source", [900.0]), "absorbed_photons": ("source", [50.0]),
    ...      "required_photons": 20.0, "dose_time": ("source", [5.0]), "photon_time": ("source", [4.0]),
    ...      "reciprocity": 1.0}
    ... )
    >>> wanted = Requirement(320, 430, minimum_irradiance=300.0, dose=4500.0, maximum_time=10.0)
    >>> needed_light(light, wanted).needed_irradiance.item()
    450.0
    """
    limits: dict[str, xr.DataArray | float] = {"irradiance": requirement.minimum_irradiance}
    if figures["required_photons"].notnull().any():
        limits["photons"] = figures["required_photons"]
    if "photons_at_back" in figures and figures["required_at_back"].notnull().any():
        limits["oxygen"] = figures["required_at_back"]
    if requirement.speed is not None:
        limits["travel"] = requirement.speed
    elif requirement.maximum_time is not None:
        limits["time"] = requirement.maximum_time
    factor = xr.DataArray(0.0)
    for name, limit in limits.items():
        found = times_the_light(figures, name, limit)
        if found is not None:
            factor = xr.DataArray(np.maximum(*xr.broadcast(factor, found)))
    if requirement.maximum_irradiance is not None:
        allowed = requirement.maximum_irradiance / figures["irradiance_at_bond"].clip(min=0)
        factor = factor.where(~(factor > allowed), np.inf)
    in_band = figures["band_irradiance"].drop_attrs(deep=False)
    irradiance = (in_band * factor).where((in_band > 0) | in_band.isnull(), np.inf)
    return figures.assign(needed_irradiance=irradiance.assign_attrs(FIGURES["needed_irradiance"]._asdict()))
