"""Inhibition by oxygen: light that is spent before anything can set."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.cure.ranges import require_not_negative, require_positive
from spectralbench.units import declares


@declares("s", oxygen="mol/L", rate="umol m-3 s-1", radicals_per_photon="1", radicals_per_oxygen="1")
def inhibition_time(
    oxygen: xr.DataArray | float | str,
    rate: xr.DataArray | float | str,
    radicals_per_photon: xr.DataArray | float | str,
    radicals_per_oxygen: xr.DataArray | float | str = 1.0,
) -> xr.DataArray:
    """Time that light needs to use up the dissolved oxygen of a closed bond line.

    Parameters
    ----------
    oxygen : xarray.DataArray (...), float or str
        Oxygen dissolved in the adhesive [mol/L]. There is no default: it has to be known.
    rate : xarray.DataArray (...), float or str
        Photons absorbed by the initiator [µmol m-3 s-1], as from `absorbed_profile`.
    radicals_per_photon : xarray.DataArray (...), float or str
        Radicals started by photon absorbed [1].
    radicals_per_oxygen : xarray.DataArray (...), float or str
        Radicals that one molecule of oxygen takes away [1]; that it is 1 is common practice,
        no source.

    Returns
    -------
    xarray.DataArray (...)
        Time [s]; infinite where nothing is absorbed, 0 without oxygen.

    Raises
    ------
    RangeError
        If an argument is negative.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    Oxygen by the rate at which radicals start (derived: every radical meets oxygen first, as
    long as there is any). Oxygen that comes in from an open edge or through a part is left out;
    where it comes in as fast as radicals start, no time is enough: see `wasted`.

    Examples
    --------
    >>> round(float(inhibition_time("1 mmol/L", 4.0e6, 0.5)), 9)
    0.5
    """
    amount, light, started, taken = (
        xr.DataArray(x) for x in (oxygen, rate, radicals_per_photon, radicals_per_oxygen)
    )
    require_not_negative("oxygen", amount, "mol/L")
    require_not_negative("rate", light, "umol m-3 s-1")
    require_not_negative("radicals per photon", started)
    require_not_negative("radicals per oxygen", taken)
    needed = 1e9 * amount * taken  # µmol m-3
    with np.errstate(divide="ignore", invalid="ignore"):
        time = (needed / (light * started)).where(needed != 0, 0.0)
    time = time.rename(None).drop_attrs(deep=False)
    return time.assign_attrs(long_name="time until the dissolved oxygen is used up")


@declares("1", rate="umol m-3 s-1", threshold="umol m-3 s-1")
def wasted(rate: xr.DataArray | float | str, threshold: xr.DataArray | float | str) -> xr.DataArray:
    """Mark where, or when, light is spent on oxygen alone.

    Parameters
    ----------
    rate : xarray.DataArray (...), float or str
        Photons absorbed [µmol m-3 s-1], along depth, time or anything else.
    threshold : xarray.DataArray (...), float or str
        Rate below which nothing sets in the user's own test, however long it lasts
        [µmol m-3 s-1]. There is no default: it depends on how oxygen gets in.

    Returns
    -------
    xarray.DataArray (...)
        1 where the rate is below the threshold, 0 elsewhere [1]; NaN where the rate is not
        known. Its mean over draws is the share of them that says so.

    Raises
    ------
    RangeError
        If rate or threshold are negative.
    UnitsError
        If a unit is of another kind.

    Examples
    --------
    >>> wasted(xr.DataArray([5e6, 2e6, 5e5], dims="depth"), 1e6).values.tolist()
    [0.0, 0.0, 1.0]
    """
    light, least = xr.DataArray(rate), xr.DataArray(threshold)
    require_not_negative("rate", light, "umol m-3 s-1")
    require_not_negative("threshold", least, "umol m-3 s-1")
    known = light.notnull() & least.notnull()
    marked = (light < least).astype(float).where(known).rename(None).drop_attrs(deep=False)
    return marked.assign_attrs(long_name="whether light is spent on oxygen alone")


@declares("W m-2", irradiance="W m-2", rate="umol m-3 s-1", threshold="umol m-3 s-1")
def threshold_irradiance(
    irradiance: xr.DataArray | float | str,
    rate: xr.DataArray | float | str,
    threshold: xr.DataArray | float | str,
) -> xr.DataArray:
    """Irradiance of a source below which its light is spent on oxygen alone.

    Parameters
    ----------
    irradiance : xarray.DataArray (...), float or str
        Irradiance of the source at the bond line [W m-2].
    rate : xarray.DataArray (...), float or str
        Photons that are absorbed under it [µmol m-3 s-1], such as those at the back.
    threshold : xarray.DataArray (...), float or str
        Rate below which nothing sets in the user's own test [µmol m-3 s-1].

    Returns
    -------
    xarray.DataArray (...)
        Irradiance [W m-2] at which the rate reaches the threshold; infinite where nothing is
        absorbed.

    Raises
    ------
    RangeError
        If irradiance or rate are negative, or the threshold is not above 0.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    The rate is proportional to the irradiance, as long as the spectrum stays the same and
    nothing bleaches.

    Examples
    --------
    >>> float(threshold_irradiance("100 mW/cm^2", 4e6, 1e6))
    250.0
    """
    light, absorbed, least = (xr.DataArray(x) for x in (irradiance, rate, threshold))
    require_not_negative("irradiance", light, "W m-2")
    require_not_negative("rate", absorbed, "umol m-3 s-1")
    require_positive("threshold", least, "umol m-3 s-1")
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = (light * least / absorbed).where(absorbed != 0, np.inf)
    needed = needed.rename(None).drop_attrs(deep=False)
    return needed.assign_attrs(long_name="irradiance below which light is spent on oxygen alone")
