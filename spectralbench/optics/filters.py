"""Layers, filters and mirrors in the beam: what multiplies a spectrum."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.model import spectrum as curve
from spectralbench.optics.surfaces import Spectral
from spectralbench.units import ascending, declares

_ROUNDING = 1e-9  # relative; a grid of repeated steps ends a hair beside its round numbers


@declares("W m-2 nm-1", spectrum="W m-2 nm-1", layers="1")
def through(spectrum: xr.DataArray, *layers: Spectral) -> xr.DataArray:
    """Spectral irradiance after the light has passed layers.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance in front of the first layer [W m-2 nm-1].
    *layers : xarray.DataArray (..., wavelength) or float
        Transmittance of each layer [1], on the same grid.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Spectral irradiance behind the last layer [W m-2 nm-1]. Reflections between one
        layer and the next are not counted; `stack` counts them. ``attrs["comment"]`` repeats
        what those of spectrum and layers say.

    Raises
    ------
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    A measured curve of a filter, or what a dichroic mirror passes (or reflects) at the angle at
    which it stands in the beam, is a layer like any other.

    Examples
    --------
    >>> light = xr.DataArray([2.0], {"wavelength": [365.0]}, "wavelength")
    >>> through(light, 0.5, 0.5).item()
    0.5
    """
    result = spectrum
    for layer in layers:
        result = result * layer
    given = [array.attrs for array in (spectrum, *layers) if isinstance(array, xr.DataArray)]
    said = dict.fromkeys(attrs["comment"] for attrs in given if attrs.get("comment"))
    result = result.rename("spectral_irradiance").assign_attrs(long_name="spectral irradiance")
    if said:
        result.attrs["comment"] = "; ".join(said)
    return noted(result, f"passed through {len(layers)} layers", spectrum)


@declares("1", wavelength="nm", low="nm", high="nm", passing="1", blocking="1")
def ideal_filter(
    wavelength: ArrayLike,
    low: float | str | None = None,
    high: float | str | None = None,
    passing: float | str = 1.0,
    blocking: float | str = 0.0,
) -> xr.DataArray:
    """Transmittance of a filter with ideal edges, on a grid.

    Parameters
    ----------
    wavelength : array_like (wavelength,)
        Where it is wanted [nm].
    low, high : float or str, optional
        Edges [nm]: with `low` alone it passes what is longer, with `high` alone what is
        shorter, with both what lies between.
    passing, blocking : float or str
        Transmittance inside and outside the edges [1].

    Returns
    -------
    xarray.DataArray (wavelength,)
        Transmittance [1].

    Raises
    ------
    RangeError
        If there is no edge, the edges are not in order, or a transmittance lies outside 0–1.
    GridError
        If the wavelengths are not in order.

    Notes
    -----
    No real filter is like this: it asks what the best one could do. A sample on an edge
    passes. Behind the filter a spectrum is straight between its samples, as everywhere, so an
    edge acts half a step beyond the last sample that passes, wherever in that step it was put.
    Where that matters, take a finer grid, or a band with these limits, which cuts exactly.

    Examples
    --------
    >>> ideal_filter([365.0, 385.0, 405.0], low="385 nm", passing=0.9).values.tolist()
    [0.0, 0.9, 0.9]
    """
    if low is None and high is None:
        raise RangeError("an ideal filter has an edge: say low, high or both [nm]")
    first, last = (-np.inf if low is None else float(low)), (np.inf if high is None else float(high))
    if not first < last:
        raise RangeError(
            f"a filter passes from a shorter to a longer wavelength, not {first:g} to {last:g} nm"
        )
    inside, outside = float(passing), float(blocking)
    if not (0 <= inside <= 1 and 0 <= outside <= 1):
        raise RangeError(
            f"a transmittance lies in 0–1, not at {inside:g} (passing) and {outside:g} (blocking)"
        )
    grid = np.asarray(wavelength, dtype=float)
    rounding = _ROUNDING * np.abs(grid)
    values = np.where((grid >= first - rounding) & (grid <= last + rounding), inside, outside)
    edges = " and ".join(f"{edge:g} nm" for edge in (first, last) if np.isfinite(edge))
    return noted(
        ascending(curve(values, grid, "transmittance"), "the filter"), f"ideal filter, edges {edges}"
    )


def taken(spectrum: xr.DataArray, share: xr.DataArray) -> xr.DataArray:
    """The share of a spectrum that something takes.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1].
    share : xarray.DataArray (..., wavelength)
        Share on the same grid [1].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Their product; 0 where the share is, even if the spectrum is not valid there.

    Examples
    --------
    >>> dark = xr.DataArray([np.nan, 2.0], {"wavelength": [364.0, 365.0]}, "wavelength")
    >>> taken(dark, xr.DataArray([0.0, 0.5], {"wavelength": [364.0, 365.0]}, "wavelength")).values.tolist()
    [0.0, 1.0]
    """
    product: xr.DataArray = spectrum * share.astype(spectrum.dtype)
    return product.where(share != 0, 0.0) if product.isnull().any() else product
