"""One slab: from the inside to the outside, back, and with adhesive behind it."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.model import noted
from spectralbench.optics.surfaces import (
    Spectral,
    normal_reflectance,
    require_indices,
    require_shares,
    require_tilt,
    shares,
)
from spectralbench.units import declares


@declares("1", internal="1", index="1", before="1", after="1", tilt="deg")
def slab_transmittance(
    internal: Spectral,
    index: Spectral,
    before: Spectral = 1.0,
    after: Spectral = 1.0,
    tilt: float | str | xr.DataArray = 0.0,
) -> xr.DataArray:
    """Transmittance of a slab with its two surfaces.

    Parameters
    ----------
    internal : xarray.DataArray (...) or float
        Internal transmittance at normal incidence [1]: what the bulk passes from surface to
        surface.
    index : xarray.DataArray (...) or float
        Refractive index of the slab [1].
    before, after : xarray.DataArray (...) or float
        Refractive index of what lies in front and behind [1]; air by default.
    tilt : xarray.DataArray (...), float or str
        Angle between the light and the normal, in the medium before [deg].

    Returns
    -------
    xarray.DataArray (...)
        Transmittance [1], all inner reflections included.

    Raises
    ------
    RangeError
        If an index is not positive, the internal transmittance lies outside 0–1, or a tilt
        outside 0–90°.
    GridError
        If arrays on different wavelength grids are mixed.

    Notes
    -----
    Fresnel reflection at each surface (Born & Wolf, Principles of Optics, 7th ed., 1.5) and
    the geometric series of reflections between the two. A slab is a `stack` of one layer.

    Examples
    --------
    >>> round(float(slab_transmittance(1.0, 1.5)), 10)  # 12/13
    0.9230769231
    """
    require_shares(internal)
    require_indices(index, before, after)
    require_tilt(tilt)  # type: ignore[arg-type]
    result: xr.DataArray = xr.apply_ufunc(
        lambda bulk, inside, front, back, angle: shares([bulk], [front, inside, back], angle)[0],
        *(xr.DataArray(value) for value in (internal, index, before, after, tilt)),
        join="exact",
        keep_attrs=False,
    )
    return result.rename("transmittance").assign_attrs(long_name="transmittance of a slab")


@declares("1", transmittance="1", index="1", before="1", after="1")
def internal_transmittance(
    transmittance: Spectral, index: Spectral, before: Spectral = 1.0, after: Spectral = 1.0
) -> xr.DataArray:
    """Internal transmittance behind a measured one: the inverse of `slab_transmittance`.

    Parameters
    ----------
    transmittance : xarray.DataArray (...) or float
        Measured transmittance of the slab [1].
    index : xarray.DataArray (...) or float
        Refractive index of the slab [1].
    before, after : xarray.DataArray (...) or float
        Refractive index of what lay in front and behind when it was measured [1].

    Returns
    -------
    xarray.DataArray (...)
        Internal transmittance [1]. It may pass 1 by the noise of the measurement.

    Raises
    ------
    RangeError
        If an index is not positive.
    GridError
        If arrays on different wavelength grids are mixed.

    Notes
    -----
    For light along the normal only: behind a tilted one, the two polarisations mix, and
    nothing as short turns back.

    Examples
    --------
    >>> round(float(internal_transmittance(12 / 13, 1.5)), 12)
    1.0
    """
    require_indices(index, before, after)
    measured = xr.DataArray(transmittance)
    front, back = (
        normal_reflectance(*media).astype(measured.dtype) for media in ((before, index), (index, after))
    )
    passed = (1 - front) * (1 - back)
    result: xr.DataArray = 2 * measured / (passed + np.sqrt(passed**2 + 4 * measured**2 * front * back))
    return result.rename("internal_transmittance").assign_attrs(long_name="internal transmittance")


@declares("1", transmittance="1", index="1", adhesive_index="1", before="1")
def wetted(
    transmittance: Spectral, index: Spectral, adhesive_index: Spectral, before: Spectral = 1.0
) -> xr.DataArray:
    """What a part measured in air passes into adhesive that wets its back face.

    Parameters
    ----------
    transmittance : xarray.DataArray (...) or float
        Transmittance with its surfaces [1], measured in air on both sides.
    index : xarray.DataArray (...) or float
        Refractive index of the part [1].
    adhesive_index : xarray.DataArray (...) or float
        Refractive index of the adhesive [1].
    before : xarray.DataArray (...) or float
        Refractive index of what lies in front of the part in use [1]; air by default.

    Returns
    -------
    xarray.DataArray (...)
        Transmittance into the adhesive [1]. ``attrs["comment"]`` says if an internal
        transmittance above 1 was limited.

    Raises
    ------
    RangeError
        If an index is not positive.
    GridError
        If arrays on different wavelength grids are mixed.

    Notes
    -----
    The part's internal transmittance, put between other media: in air its back face reflects
    4 to 6 % that the adhesive receives, so a bench in air understates the light by about
    that much. No part makes light: an internal transmittance that noise, or an index that is
    too high, carries above 1 counts as 1. In draws, the mean of a perfectly clear part then
    lies lower by 0.4 of its noise.

    Examples
    --------
    >>> in_air = slab_transmittance(0.9, 1.585)
    >>> round(float(in_air), 4), round(float(wetted(in_air, 1.585, 1.5)), 4)
    (0.8119, 0.8533)
    """
    require_indices(index, adhesive_index, before)
    bulk, comment = limited(internal_transmittance(transmittance, index))
    front, back = (
        normal_reflectance(*media).astype(bulk.dtype) for media in ((before, index), (index, adhesive_index))
    )
    result: xr.DataArray = (1 - front) * (1 - back) * bulk / (1 - front * back * bulk**2)
    result = result.rename("transmittance")
    result.attrs = {"long_name": "transmittance into adhesive", **({"comment": comment} if comment else {})}
    return noted(result, "wetted the back face with adhesive", xr.DataArray(transmittance))


def limited(internal: xr.DataArray) -> tuple[xr.DataArray, str]:
    """Limit an internal transmittance to 1, and say so.

    Parameters
    ----------
    internal : xarray.DataArray (...)
        Internal transmittance [1].

    Returns
    -------
    limited : xarray.DataArray (...)
        The same, nowhere above 1.
    comment : str
        Empty if nothing had to be limited; otherwise a sentence for a person.

    Examples
    --------
    >>> limited(xr.DataArray([0.9, 1.01]))[1][:66]
    'an internal transmittance that passes 1 by up to 0.01 was limited '
    """
    highest = np.fmax.reduce(internal.values, axis=None, initial=0.0)
    if not highest > 1 + 1e-6:  # less is rounding, in single precision too
        return internal.clip(max=1), ""
    return internal.clip(max=1), (
        f"an internal transmittance that passes 1 by up to {highest - 1:.2g} was limited to 1: more than "
        "noise explains means a refractive index that is too high, or a lamp that drifted"
    )
