"""Light in the bond line: how much of it is absorbed, and by which absorber."""

from __future__ import annotations

import math

import numpy as np
import xarray as xr

from spectralbench import weightings
from spectralbench.errors import RangeError
from spectralbench.optics import taken
from spectralbench.units import declares

LN10 = math.log(10.0)
"""Napierian by decadic absorbance; a plain number, so that single precision stays single."""


@declares("1", coefficient="L mol-1 cm-1", concentration="mol/L", thickness="cm")
def initiator_absorbance(
    coefficient: xr.DataArray,
    concentration: xr.DataArray | float | str,
    thickness: xr.DataArray | float | str,
) -> xr.DataArray:
    """Decadic absorbance of an initiator in a bond line.

    Parameters
    ----------
    coefficient : xarray.DataArray (..., wavelength)
        Decadic molar absorption coefficient [L mol-1 cm-1].
    concentration : xarray.DataArray (...), float or str
        Concentration [mol/L].
    thickness : xarray.DataArray (...), float or str
        Thickness of the bond line [cm].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Absorbance [1].

    Raises
    ------
    RangeError
        If coefficient, concentration or thickness are negative.

    Notes
    -----
    Beer-Lambert law (IUPAC Gold Book, B00626).

    Examples
    --------
    >>> epsilon = xr.DataArray([300.0], {"wavelength": [365.0]}, "wavelength")
    >>> round(initiator_absorbance(epsilon, "0.02 mol/L", "100 um").item(), 12)
    0.06
    """
    amount, length = xr.DataArray(concentration), xr.DataArray(thickness)
    least = float(amount.min()), float(length.min())
    if min(least) < 0:
        raise RangeError(f"concentration and thickness are not negative: {least[0]:g} mol/L, {least[1]:g} cm")
    if (coefficient < 0).any():
        raise RangeError(
            f"an absorption coefficient is not negative; this one reaches {float(coefficient.min()):g}"
        )
    content = (amount * length).astype(coefficient.dtype)
    result: xr.DataArray = (content * coefficient).transpose(..., "wavelength")
    return result.rename("absorbance").assign_attrs(long_name="decadic absorbance of the initiator")


@declares("1", absorbance="1", initiator="1")
def absorbed_share(absorbance: xr.DataArray, initiator: xr.DataArray | None = None) -> xr.DataArray:
    """Share of the light that a bond line absorbs, or that one absorber in it takes.

    Parameters
    ----------
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line [1].
    initiator : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of one absorber in it [1]: absorbers share the light by their
        absorbances.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Share [1].

    Raises
    ------
    RangeError
        If an absorbance is negative, or that of the initiator exceeds the whole.

    Examples
    --------
    >>> a = xr.DataArray([0.06], {"wavelength": [365.0]}, "wavelength")
    >>> round(absorbed_share(a).item(), 10)
    0.12903641
    """
    require_absorbances(absorbance, initiator)
    share = xr.DataArray(-np.expm1(-LN10 * absorbance))  # 1 − 10^−A, exact for the thinnest film too
    if initiator is not None:
        share = share * (initiator / absorbance.where(absorbance > 0, 1.0))
    said = "share of the light that is absorbed"
    return share.rename("absorbed_share").drop_attrs(deep=False).assign_attrs(long_name=said)


def require_absorbances(absorbance: xr.DataArray, initiator: xr.DataArray | None = None) -> None:
    """Refuse an absorbance below 0, or one of an initiator that exceeds the whole.

    Parameters
    ----------
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line [1].
    initiator : xarray.DataArray (..., wavelength), optional
        That of one absorber in it [1].

    Raises
    ------
    RangeError
        If it is so.

    Examples
    --------
    >>> require_absorbances(xr.DataArray([0.06], {"wavelength": [365.0]}, "wavelength"))
    """
    if (absorbance < 0).any():
        raise RangeError(f"an absorbance is not negative; this one reaches {float(absorbance.min()):g}")
    if initiator is not None and ((initiator < 0).any() or (initiator > absorbance * (1 + 1e-12)).any()):
        raise RangeError("the absorbance of an initiator lies between 0 and that of the whole bond line")


@declares("W m-2 nm-1", spectrum="W m-2 nm-1", absorbance="1", initiator="1")
def absorbed_light(
    spectrum: xr.DataArray, absorbance: xr.DataArray, initiator: xr.DataArray | None = None
) -> xr.DataArray:
    """Light absorbed in the bond line, wavelength by wavelength.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance at the bond line [W m-2 nm-1].
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line on the same grid [1].
    initiator : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of one initiator in it [1]; then only its light is counted.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Absorbed spectral irradiance [W m-2 nm-1]. Where nothing is absorbed it is 0, even if
        the spectrum is not valid there.

    Raises
    ------
    RangeError
        If an absorbance is negative, or that of the initiator exceeds the whole.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Examples
    --------
    >>> grid = {"wavelength": [365.0]}
    >>> light, film = xr.DataArray([2.0], grid, "wavelength"), xr.DataArray([1.0], grid, "wavelength")
    >>> round(absorbed_light(light, film).item(), 9)
    1.8
    """
    result = taken(spectrum, absorbed_share(absorbance, initiator))
    return result.rename("absorbed_light").assign_attrs(long_name="absorbed spectral irradiance")


@declares("umol m-2 s-1", spectrum="W m-2 nm-1", absorbance="1", initiator="1")
def absorbed_photons(
    spectrum: xr.DataArray, absorbance: xr.DataArray, initiator: xr.DataArray | None = None
) -> xr.DataArray:
    """Photons absorbed in the bond line, by area and time.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance at the bond line [W m-2 nm-1].
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line on the same grid [1].
    initiator : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of one initiator in it [1]; then only its photons are counted.

    Returns
    -------
    xarray.DataArray (...)
        Absorbed photon irradiance [µmol m-2 s-1].

    Raises
    ------
    RangeError
        If an absorbance is negative, or that of the initiator exceeds the whole.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    Photons times the absorbed share, integrated: the photon absorption efficiency of
    Neumann et al., J. Dent. 33 (2005) 525, in absolute terms.

    Examples
    --------
    >>> grid = {"wavelength": [364.5, 365.5]}
    >>> light = xr.DataArray([1000.0, 1000.0], grid, "wavelength")
    >>> film = xr.DataArray([0.06, 0.06], grid, "wavelength")
    >>> round(float(absorbed_photons(light, film)), 3)
    393.711
    """
    result = counted(absorbed_light(spectrum, absorbance, initiator))
    return result.assign_attrs(long_name="absorbed photon irradiance")


def counted(light: xr.DataArray) -> xr.DataArray:
    """Count the photons of light over all its wavelengths.

    Parameters
    ----------
    light : xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1], or what was absorbed of it.

    Returns
    -------
    xarray.DataArray (...)
        Photons [µmol m-2 s-1], without units; the caller stamps them.

    Examples
    --------
    >>> grid = {"wavelength": [364.5, 365.5]}
    >>> round(float(counted(xr.DataArray([1.0, 1.0], grid, "wavelength"))), 6)
    3.051162
    """
    grid = np.asarray(light.coords["wavelength"].values, dtype=float)
    return weightings.integrate(light, weightings.weights(grid, curve=weightings.PHOTONS))
