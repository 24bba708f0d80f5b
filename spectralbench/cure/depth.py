"""Light by depth: where in the bond line photons are absorbed, from the front to the back."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench import weightings
from spectralbench.cure.absorption import LN10, absorbed_photons, counted, require_absorbances
from spectralbench.cure.ranges import require_not_negative, require_positive
from spectralbench.errors import RangeError
from spectralbench.model import COORDINATES
from spectralbench.optics import taken
from spectralbench.units import declares

_ROUNDING = 1e-9  # a depth of "100 um" lies within a bond line of 1e-4 m


@declares("umol m-3 s-1", spectrum="W m-2 nm-1", absorbance="1", thickness="m", depths="m", initiator="1")
def absorbed_profile(
    spectrum: xr.DataArray,
    absorbance: xr.DataArray,
    thickness: xr.DataArray | float | str,
    depths: xr.DataArray | ArrayLike,
    initiator: xr.DataArray | None = None,
) -> xr.DataArray:
    """Photons absorbed by volume and time, at depths below the front of a bond line.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance at the front of the bond line [W m-2 nm-1].
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line on the same grid [1].
    thickness : xarray.DataArray (...), float or str
        Thickness of the bond line [m].
    depths : array_like (depth,) or xarray.DataArray (depth,)
        Depths below the front [m].
    initiator : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of one initiator in it [1]; then only its photons are counted.

    Returns
    -------
    xarray.DataArray (depth, ...)
        Photons absorbed [µmol m-3 s-1]. Where the bond line of a draw ends before a depth, NaN.

    Raises
    ------
    RangeError
        If an absorbance or a depth is negative, the thickness is not above 0, a depth lies
        behind every bond line, or the initiator's absorbance exceeds the whole.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    Beer-Lambert law (IUPAC Gold Book, B00626): with the Napierian absorption coefficients
    α = ln 10 · A/d of the whole and αᵢ of the initiator, ∫ αᵢ E exp(−αz) dλ, counted in photons.
    Light comes once, from the front and straight: what the back face throws back, and what a
    pigment scatters, is left out; both would lift the back. Absorbers are evenly mixed and do
    not bleach (`bleaching_by_depth`). Integrated over the thickness it is `absorbed_photons`.

    Examples
    --------
    >>> grid = {"wavelength": [364.5, 365.5]}
    >>> light = xr.DataArray([1000.0, 1000.0], grid, "wavelength")
    >>> film = xr.DataArray([1.0, 1.0], grid, "wavelength")
    >>> absorbed_profile(light, film, "100 um", [0.0, 5e-5, 1e-4]).values.round(-3).tolist()
    [70256000.0, 22217000.0, 7026000.0]
    """
    length, below = xr.DataArray(thickness), along_depth(depths)
    at = below.values
    require_absorbances(absorbance, initiator)
    require_positive("thickness", length, "m")
    if (at > float(length.max()) * (1 + _ROUNDING)).any():
        raise RangeError(
            f"a depth of {at.max():g} m lies behind the bond line, which is {float(length.max()):g} m thick"
        )
    whole = LN10 * absorbance / length
    part = whole if initiator is None else LN10 * initiator / length
    if part.dims == whole.dims == ("wavelength",):  # one film for all spectra: one matrix product
        grid = np.asarray(spectrum.coords["wavelength"].values, dtype=float)
        kernels = part.values[:, None] * np.exp(-np.outer(whole.values, at))
        weights = weightings.weights(grid, curve=weightings.PHOTONS)[:, None] * kernels
        result = weightings.integrate(spectrum, weights).rename(weighting="depth")
    else:
        layers = [counted(taken(spectrum, part * np.exp(-whole * z))) for z in at]
        values = np.stack([layer.values for layer in layers])
        result = layers[0].expand_dims(depth=at.size).copy(data=values)
    result = result.assign_coords(depth=below["depth"])
    if length.ndim:
        result = result.where(result["depth"] <= length * (1 + _ROUNDING)).transpose("depth", ...)
    return result.rename("absorbed_profile").assign_attrs(long_name="photons absorbed by volume and time")


def along_depth(depths: xr.DataArray | ArrayLike) -> xr.DataArray:
    """Depths as an array along themselves.

    Parameters
    ----------
    depths : array_like (depth,) or xarray.DataArray (depth,)
        Depths below the front [m].

    Returns
    -------
    xarray.DataArray (depth,)
        The same, with the coordinate ``depth`` [m].

    Raises
    ------
    RangeError
        If one is negative, or they stand along several dimensions.

    Examples
    --------
    >>> along_depth([0.0, 1e-4]).depth.units
    'm'
    """
    at = np.atleast_1d(np.asarray(depths, dtype=float))
    if at.ndim != 1:
        raise RangeError(f"depths stand along one dimension, not along {at.ndim}")
    require_not_negative("a depth", at, "m")
    return xr.DataArray(at, {"depth": ("depth", at, COORDINATES["depth"]._asdict())}, "depth")


@declares(spectrum="W m-2 nm-1", absorbance="1", thickness="m", initiator="1")
def front_and_back(
    spectrum: xr.DataArray,
    absorbance: xr.DataArray,
    thickness: xr.DataArray | float | str,
    initiator: xr.DataArray | None = None,
) -> xr.Dataset:
    """Photons absorbed by volume and time at the front and at the back of a bond line.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance at the front of the bond line [W m-2 nm-1].
    absorbance : xarray.DataArray (..., wavelength)
        Decadic absorbance of the whole bond line on the same grid [1].
    thickness : xarray.DataArray (...), float or str
        Thickness of the bond line [m].
    initiator : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of one initiator in it [1]; then only its photons are counted.

    Returns
    -------
    xarray.Dataset (...)
        ``front``, ``average`` and ``back`` [µmol m-3 s-1]; ``back_by_front`` and ``average_by_front``
        [1], which are 0 where nothing is absorbed at all.

    Raises
    ------
    RangeError
        If an absorbance is negative, the thickness is not above 0, or the initiator's
        absorbance exceeds the whole.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    See `absorbed_profile` for the law and what it leaves out. For one wavelength the front
    takes 10^A times what the back takes, and of all absorbances A = 1/ln 10 = 0.434 gives the
    back the most: more initiator than that starves it.

    Examples
    --------
    >>> grid = {"wavelength": [364.5, 365.5]}
    >>> light = xr.DataArray([1000.0, 1000.0], grid, "wavelength")
    >>> film = xr.DataArray([1.0, 1.0], grid, "wavelength")
    >>> faces = front_and_back(light, film, "100 um")
    >>> round(float(faces.back_by_front), 9), round(float(faces.average_by_front), 6)
    (0.1, 0.390865)
    """
    length = xr.DataArray(thickness)
    require_absorbances(absorbance, initiator)
    require_positive("thickness", length, "m")
    part = LN10 * (absorbance if initiator is None else initiator) / length
    front = counted(taken(spectrum, part))
    back = counted(taken(spectrum, part * 10.0**-absorbance))
    average = absorbed_photons(spectrum, absorbance, initiator) / length
    some = front.where(front != 0, 1.0)  # nothing by nothing is nothing
    result = xr.Dataset(
        {
            "front": front,
            "average": average,
            "back": back,
            "back_by_front": back / some,
            "average_by_front": average / some,
        }
    )
    for name, array in result.items():
        shares = str(name).endswith("by_front")
        array.attrs = {
            "units": "1" if shares else "umol m-3 s-1",
            "long_name": f"photons absorbed by volume and time: {str(name).replace('_', ' ')}",
        }
    return result
