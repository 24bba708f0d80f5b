"""Several heads on one part: irradiance at a moment, and radiant exposure in the end."""

from __future__ import annotations

import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares, in_unit, same_kind

EXPOSURES = {"W m-2": "J m-2", "W m-2 nm-1": "J m-2 nm-1", "umol m-2 s-1": "umol m-2"}
"""Unit of what an irradiance of each kind adds up to over time."""


def irradiance_like(array: xr.DataArray, name: str) -> xr.DataArray:
    """Bring an irradiance of any kind to the package's own unit.

    Parameters
    ----------
    array : xarray.DataArray (...)
        Irradiance, spectral irradiance or photon irradiance; one without a unit is spectral if
        it has wavelengths.
    name : str
        What messages call it.

    Returns
    -------
    xarray.DataArray (...)
        The array in W m-2, W m-2 nm-1 or umol m-2 s-1.

    Raises
    ------
    UnitsError
        If its unit is of another kind.

    Examples
    --------
    >>> irradiance_like(xr.DataArray(12.0, attrs={"units": "mW/cm^2"}), "profile").item()
    120.0
    """
    given = str(array.attrs.get("units") or ("W m-2 nm-1" if "wavelength" in array.dims else "W m-2"))
    if given in EXPOSURES:
        return array.assign_attrs(units=given)
    for units in EXPOSURES:
        if same_kind(given, units):
            return in_unit(array, units, name)
    raise UnitsError(f"{name} is in {quote(given)}; expected an irradiance, such as {', '.join(EXPOSURES)}")


@declares(spectra="*", levels="1")
def irradiance_together(
    spectra: xr.DataArray, levels: xr.DataArray | float | str = 1.0, across: str = "source"
) -> xr.DataArray:
    """Irradiance of several heads that light one part at the same moment.

    Parameters
    ----------
    spectra : xarray.DataArray (..., source, wavelength)
        Irradiance of each head alone on the part, at full level: spectral [W m-2 nm-1], or of a
        band [W m-2], or photons [umol m-2 s-1].
    levels : float, str or xarray.DataArray (source, ...)
        Level of each head, 0–1 [1]; 0 for one that is off at that moment.
    across : str
        The dimension of the heads.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The sum over the heads, in the unit of its kind. It is NaN where a head that is on is; a
        head at level 0 adds nothing, known or not.

    Raises
    ------
    RangeError
        If a level lies outside 0–1.
    GridError, UnitsError
        If there is no such dimension, arrays do not fit, or a unit is of another kind.

    Notes
    -----
    Light adds. That the spectrum stays the same at every level is taken for granted; an LED that
    runs cooler shifts by a nanometre or so (common practice, no source), so measure at the level
    that is used.

    Examples
    --------
    >>> heads = {"source": ["left", "right"], "wavelength": [365.0]}
    >>> light = xr.DataArray([[2.0], [4.0]], heads, ("source", "wavelength"))
    >>> irradiance_together(light, xr.DataArray([1.0, 0.25], dims="source")).values.tolist()
    [3.0]
    """
    spectra = _of_heads(spectra, across)
    result = _sum(spectra, _levels(levels), across)
    result = result.rename(spectra.name).assign_attrs(spectra.attrs)
    return noted(result, f"{spectra.sizes[across]} heads together, each at its level", spectra)


@declares(spectra="*", times="s", levels="1")
def exposure_together(
    spectra: xr.DataArray,
    times: xr.DataArray | float | str,
    levels: xr.DataArray | float | str = 1.0,
    across: str = "source",
) -> xr.DataArray:
    """Radiant exposure that several heads leave on one part.

    Parameters
    ----------
    spectra : xarray.DataArray (..., source, wavelength)
        Irradiance of each head alone on the part, at full level: spectral [W m-2 nm-1], or of a
        band [W m-2], or photons [umol m-2 s-1].
    times : float, str or xarray.DataArray (source, ...)
        How long each head is on [s].
    levels : float, str or xarray.DataArray (source, ...)
        Level of each head, 0–1 [1].
    across : str
        The dimension of the heads.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The sum over the heads of level, irradiance and time [J m-2 nm-1, J m-2 or umol m-2],
        whether they shine together or one after the other. It is NaN where a head that is on is.

    Raises
    ------
    RangeError
        If a level lies outside 0–1, or a time is negative.
    GridError, UnitsError
        If there is no such dimension, arrays do not fit, or a unit is of another kind.

    Notes
    -----
    Equal exposure is not equal cure: the order and the overlap matter to it, and not to this sum.

    Examples
    --------
    >>> heads = {"source": ["left", "right"], "wavelength": [365.0]}
    >>> light = xr.DataArray([[2.0], [4.0]], heads, ("source", "wavelength"))
    >>> exposure_together(light, xr.DataArray([10.0, 5.0], dims="source"), "50 %").values.tolist()
    [20.0]
    """
    spectra = _of_heads(spectra, across)
    seconds = xr.DataArray(times)
    if (seconds < 0).any():
        raise RangeError(f"a head is on for 0 s or longer, not {float(seconds.min()):g} s")
    result = _sum(spectra, _levels(levels) * seconds, across)
    result = result.rename(None).drop_attrs(deep=False)
    result.attrs.update(units=EXPOSURES[spectra.attrs["units"]], long_name="radiant exposure")
    return noted(result, f"{spectra.sizes[across]} heads, each with its level and time, added up", spectra)


def _of_heads(spectra: xr.DataArray, across: str) -> xr.DataArray:
    if across not in spectra.dims:
        raise GridError(f"several heads stand along a dimension {across}; there is {spectra.dims}")
    return irradiance_like(spectra, "spectra")


def _levels(levels: xr.DataArray | float | str) -> xr.DataArray:
    found = xr.DataArray(levels).drop_attrs(deep=False)
    wrong = found.values[(found.values < 0) | (found.values > 1)]
    if wrong.size:
        raise RangeError(f"a level lies in 0–1, not at {wrong.flat[0]:g}")
    return found


def _sum(spectra: xr.DataArray, amounts: xr.DataArray, across: str) -> xr.DataArray:
    """The sum over heads; one of amount 0 adds nothing, even where it is not known."""
    product: xr.DataArray = (spectra * amounts).where(amounts != 0, 0.0)
    return product.sum(across, skipna=False)
