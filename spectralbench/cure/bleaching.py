"""Bleaching: an initiator that light uses up lets the light through, and a front moves in."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.cure.absorption import LN10
from spectralbench.cure.depth import along_depth
from spectralbench.cure.ranges import require_not_negative
from spectralbench.errors import RangeError
from spectralbench.units import declares


@declares(optical_depth="1", photon_dose="1")
def photobleaching(
    optical_depth: xr.DataArray | ArrayLike, photon_dose: xr.DataArray | ArrayLike
) -> xr.Dataset:
    """Initiator and light that are left, where only the initiator absorbs and bleaches.

    Parameters
    ----------
    optical_depth : array_like (...) or xarray.DataArray (...)
        Napierian absorbance of the fresh initiator from the front to the depth in question [1]:
        ln 10 times the decadic one.
    photon_dose : array_like (...) or xarray.DataArray (...)
        Photons that came to the front so far, times quantum yield and Napierian molar
        absorption coefficient [1]: at 1, the front keeps 1/e of its initiator.

    Returns
    -------
    xarray.Dataset (...)
        ``initiator_left`` and ``light_left``, as shares of what was there and of what comes to
        the front [1]. Their product is the local rate, relative to the first one at the front.

    Raises
    ------
    RangeError
        If one of them is negative, or is a table whose dimensions have no names.

    Notes
    -----
    G. Terrones and A. J. Pearlstein, Macromolecules 34 (2001) 3195, after Wegscheider: with
    optical depth γ and dose β, c/c₀ = 1/(1 + e^−γ (e^β − 1)) and I/I₀ = e^β/(e^β + e^γ − 1).
    One wavelength; products are transparent; nothing diffuses; neither resin nor pigment
    absorbs. The front moves in at the same speed whatever the absorption coefficient.

    Examples
    --------
    >>> left = photobleaching(1.0, 5.0)
    >>> round(float(left.initiator_left), 6), round(float(left.light_left), 6)
    (0.018106, 0.988555)
    """
    require_not_negative("optical depth", optical_depth)
    require_not_negative("photon dose", photon_dose)
    depth = optical_depth if isinstance(optical_depth, xr.DataArray) else _along(optical_depth, "depth")
    dose = photon_dose if isinstance(photon_dose, xr.DataArray) else _along(photon_dose, "time")
    result = xr.Dataset({"initiator_left": _left(depth, dose), "light_left": _left(dose, depth)})
    result["initiator_left"].attrs = {"units": "1", "long_name": "share of the initiator that is left"}
    result["light_left"].attrs = {"units": "1", "long_name": "share of the light that arrives"}
    return result


def _along(values: ArrayLike, dimension: str) -> xr.DataArray:
    array = np.asarray(values, dtype=float)
    if array.ndim > 1:
        raise RangeError(f"a {dimension} stands along one dimension, not along {array.ndim}: name them")
    return xr.DataArray(array, dims=(dimension,)[: array.ndim])


def _left(spared: xr.DataArray, spent: xr.DataArray) -> xr.DataArray:
    """1/(1 + e^−a (e^b − 1)), written so that neither overflows: both answers are this one."""
    with np.errstate(over="ignore"):  # one by infinity is 0, as it should be
        return xr.DataArray(1 / (np.exp(spent - spared) - np.expm1(-spared)))


@declares(
    photons="umol m-2 s-1",
    time="s",
    quantum_yield="1",
    coefficient="L mol-1 cm-1",
    concentration="mol/L",
    depths="m",
)
def bleaching_by_depth(
    photons: xr.DataArray | float | str,
    time: xr.DataArray | float | str,
    quantum_yield: xr.DataArray | float | str,
    coefficient: xr.DataArray | float | str,
    concentration: xr.DataArray | float | str,
    depths: xr.DataArray | ArrayLike,
) -> xr.Dataset:
    """Initiator and light that are left at depths of a bond line, after a time of light.

    Parameters
    ----------
    photons : xarray.DataArray (...), float or str
        Photon irradiance at the front of the bond line [µmol m-2 s-1], of one wavelength.
    time : xarray.DataArray (...), float or str
        How long [s].
    quantum_yield : xarray.DataArray (...), float or str
        Initiator molecules lost by photon absorbed [1].
    coefficient : xarray.DataArray (...), float or str
        Decadic molar absorption coefficient of the initiator at that wavelength [L mol-1 cm-1].
    concentration : xarray.DataArray (...), float or str
        Concentration at the start [mol/L].
    depths : array_like (depth,) or xarray.DataArray (depth,)
        Depths below the front [m].

    Returns
    -------
    xarray.Dataset (depth, ...)
        ``initiator_left`` and ``light_left`` [1], from `photobleaching`; ``optical_depth`` and
        ``photon_dose`` [1]; ``front_speed`` [m s-1], at which the front moves in once it is
        well inside an opaque bond line, and infinite without an initiator.

    Raises
    ------
    RangeError
        If one of them is negative.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    See `photobleaching`, also for its limits. The front moves at Φ I₀/c₀.

    Examples
    --------
    >>> left = bleaching_by_depth(3051.16, "60 s", 0.5, 300.0, "20 mmol/L", [0.0, 1e-4])
    >>> left.initiator_left.values.round(4).tolist(), left.light_left.values.round(4).tolist()
    ([0.0018, 0.0021], [1.0, 0.9997])
    """
    given = {
        "photons": (photons, "umol m-2 s-1"),
        "time": (time, "s"),
        "quantum yield": (quantum_yield, ""),
        "coefficient": (coefficient, "L mol-1 cm-1"),
        "concentration": (concentration, "mol/L"),
    }
    for name, (value, units) in given.items():
        require_not_negative(name, value, units)
    flow, lasting, share, strength, amount = (
        xr.DataArray(x).drop_attrs(deep=False)
        for x in (photons, time, quantum_yield, coefficient, concentration)
    )
    cross_section = LN10 * 0.1 * strength  # L mol-1 cm-1 is 0.1 m2 mol-1
    per_volume = 1e3 * amount  # mol m-3
    optical_depth = along_depth(depths).drop_attrs(deep=False) * cross_section * per_volume
    photon_dose = share * cross_section * flow * 1e-6 * lasting
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = (share * flow * 1e-6 / per_volume).where(per_volume != 0, np.inf)
    result = photobleaching(optical_depth, photon_dose).assign(
        optical_depth=optical_depth, photon_dose=photon_dose, front_speed=speed
    )
    result["optical_depth"].attrs = {"units": "1", "long_name": "Napierian absorbance down to the depth"}
    result["photon_dose"].attrs = {"units": "1", "long_name": "photons by those that bleach the front to 1/e"}
    result["front_speed"].attrs = {"units": "m s-1", "long_name": "speed of the bleaching front"}
    return result.transpose("depth", ...)
