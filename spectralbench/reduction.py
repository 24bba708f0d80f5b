"""From a spectrum to the figures that people quote: bands, peak, centroid, width.

Every function takes any number of spectra: all dimensions but ``wavelength`` stay. A sample
that is NaN (a saturated pixel, for example) makes each figure NaN that depends on it, and no
other.
"""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench import curves, weightings
from spectralbench.errors import GridError
from spectralbench.shapes import peak_and_crossings
from spectralbench.units import declares, in_unit, measured
from spectralbench.weightings import Curve

_BLOCK = 64  # spectra worked on at a time: they stay in the processor's cache


@declares("W m-2", spectrum="W m-2 nm-1", low="nm", high="nm")
def band_irradiance(spectrum: xr.DataArray, low: float | str, high: float | str) -> xr.DataArray:
    """Irradiance in a band, with exact edges.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1].
    low, high : float or str
        Limits of the band [nm].

    Returns
    -------
    xarray.DataArray (...)
        Irradiance [W m-2]. If the spectrum covers only part of the band, ``attrs["comment"]``
        says which part was counted.

    Raises
    ------
    RangeError
        If the limits are not in order, or the spectrum covers nothing of the band.
    GridError, UnitsError
        If the spectrum has a disordered grid, or a unit of another kind.

    Notes
    -----
    CIE S 017 names UV-A 315–400, UV-B 280–315 and UV-C 100–280 nm. Between samples the
    spectrum is taken as a straight line; over whole cells this is the trapezoidal rule.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> float(band_irradiance(flat, 315, 400))
    85.0
    """
    return _weighed(spectrum, float(low), float(high), None, "irradiance")


@declares("umol m-2 s-1", spectrum="W m-2 nm-1", low="nm", high="nm")
def photon_irradiance(spectrum: xr.DataArray, low: float | str, high: float | str) -> xr.DataArray:
    """Photons that arrive in a band, by area and time.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1].
    low, high : float or str
        Limits of the band [nm].

    Returns
    -------
    xarray.DataArray (...)
        Photon irradiance [µmol m-2 s-1].

    Raises
    ------
    RangeError
        If the limits are not in order, or the spectrum covers nothing of the band.
    GridError, UnitsError
        If the spectrum has a disordered grid, or a unit of another kind.

    Notes
    -----
    The integral of spectral irradiance times wavelength, over Avogadro's number, Planck's
    constant and the speed of light (SI Brochure, 9th edition, 2019: all three are exact).

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [364.5, 365.5]}, "wavelength")
    >>> round(float(photon_irradiance(flat, 364.5, 365.5)), 6)
    3.051162
    """
    return _weighed(spectrum, float(low), float(high), weightings.PHOTONS, "photon irradiance")


@declares("W m-2", spectrum="W m-2 nm-1")
def weighted_irradiance(spectrum: xr.DataArray, weighting: xr.DataArray | str) -> xr.DataArray:
    """Irradiance weighted with a curve.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1].
    weighting : xarray.DataArray (wavelength,) or str
        A curve [1] on a grid of its own, zero outside its range; straight between its points
        unless ``attrs["interpolation"]`` is ``"logarithmic"``. Or the name of a reference
        curve, such as ``"actinic"``, ``"blue_light"`` or ``"erythema"``.

    Returns
    -------
    xarray.DataArray (...)
        Weighted irradiance [W m-2].

    Raises
    ------
    RangeError
        If there is no reference curve of that name, or the spectrum covers nothing of the curve.
    GridError, UnitsError
        If a grid is disordered, or the spectrum has a unit of another kind.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> ramp = xr.DataArray([0.0, 1.0], {"wavelength": [300.0, 400.0]}, "wavelength")
    >>> round(float(weighted_irradiance(flat, ramp)), 9)
    50.0
    """
    curve = curves.load(weighting) if isinstance(weighting, str) else in_unit(weighting, "1", "weighting")
    return _weighed(spectrum, -np.inf, np.inf, Curve.of(curve), "weighted irradiance")


@declares("nm", spectrum="*")
def peak_wavelength(spectrum: xr.DataArray) -> xr.DataArray:
    """Wavelength of the highest value, by a parabola through it and its neighbours.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectral quantity.

    Returns
    -------
    xarray.DataArray (...)
        Peak wavelength [nm]; at an end of the grid the end itself.

    Raises
    ------
    GridError
        If the grid is disordered or has fewer than three wavelengths.

    Examples
    --------
    >>> a = xr.DataArray([0.0, 3.0, 4.0, 3.0], {"wavelength": [1.0, 2, 3, 4]}, "wavelength")
    >>> float(peak_wavelength(a))
    3.0
    """
    return _shape(spectrum)[0]


@declares("nm", spectrum="*", low="nm", high="nm")
def centroid_wavelength(spectrum: xr.DataArray, low: float | str, high: float | str) -> xr.DataArray:
    """Centre of gravity of a spectrum over stated limits.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectral quantity.
    low, high : float or str
        Limits [nm]. They belong to the figure: background far from a peak moves it more than
        noise does.

    Returns
    -------
    xarray.DataArray (...)
        Centroid wavelength [nm]; NaN where the spectrum integrates to nothing.

    Raises
    ------
    RangeError
        If the limits are not in order, or the spectrum covers nothing between them.
    GridError
        If the grid is disordered.

    Notes
    -----
    The integral of wavelength times spectrum over that of the spectrum (CIE 127:2007).

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> round(float(centroid_wavelength(flat, 350, 400)), 9)
    375.0
    """
    low, high, grid = float(low), float(high), _grid(spectrum)
    total, moment = weightings.integrate(spectrum, weightings.moments(grid, low, high))
    result: xr.DataArray = moment / total.where(total != 0)
    result.attrs = {"long_name": f"centroid wavelength over {low:g}–{high:g} nm"}
    if comment := weightings.covered(grid, low, high):
        result.attrs["comment"] = comment
    return result


@declares("nm", spectrum="*")
def centre_wavelength(spectrum: xr.DataArray) -> xr.DataArray:
    """Middle between the two wavelengths of half maximum.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectral quantity.

    Returns
    -------
    xarray.DataArray (...)
        Centre wavelength [nm]; NaN where the spectrum does not fall to half on both sides.

    Raises
    ------
    GridError
        If the grid is disordered or has fewer than three wavelengths.

    Examples
    --------
    >>> a = xr.DataArray([0.0, 4.0, 0.0], {"wavelength": [1.0, 2.0, 4.0]}, "wavelength")
    >>> float(centre_wavelength(a))
    2.25
    """
    return _shape(spectrum)[1]


@declares("nm", spectrum="*")
def fwhm(spectrum: xr.DataArray) -> xr.DataArray:
    """Full width at half maximum.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectral quantity.

    Returns
    -------
    xarray.DataArray (...)
        Width [nm]; NaN where the spectrum does not fall to half on both sides.

    Raises
    ------
    GridError
        If the grid is disordered or has fewer than three wavelengths.

    Notes
    -----
    Half of the highest sample; the crossings nearest the peak on either side, by straight
    lines between samples (half-intensity bandwidth, CIE 127:2007).

    Examples
    --------
    >>> a = xr.DataArray([0.0, 4.0, 0.0], {"wavelength": [1.0, 2.0, 4.0]}, "wavelength")
    >>> float(fwhm(a))
    1.5
    """
    return _shape(spectrum)[2]


def figures(
    spectrum: xr.DataArray, low: float | str | None = None, high: float | str | None = None
) -> xr.Dataset:
    """All figures that describe a spectrum, over its whole grid or in a band.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectral quantity.
    low, high : float or str, optional
        Limits of the band [nm]; the ends of the grid, if left out.

    Returns
    -------
    xarray.Dataset
        ``peak_wavelength``, ``centre_wavelength``, ``fwhm`` (of the samples within) and
        ``centroid_wavelength`` (...) [nm]; for a spectral irradiance also ``irradiance`` (...)
        [W m-2], for anything else in a band its ``mean`` (...), in its own unit.

    Raises
    ------
    GridError
        If the grid is disordered, or fewer than three wavelengths lie within.
    RangeError
        If the band is empty or lies outside the grid.

    Examples
    --------
    >>> a = xr.DataArray([0.0, 4.0, 0.0, 2.0], {"wavelength": [1.0, 2.0, 3.0, 4.0]}, "wavelength")
    >>> {name: float(figure) for name, figure in figures(a, 1.0, 3.0).items()}
    {'peak_wavelength': 2.0, 'centre_wavelength': 2.0, 'fwhm': 1.0, 'centroid_wavelength': 2.0, 'mean': 2.0}
    """
    spectrum = in_unit(spectrum, "*", "spectrum")
    grid = _grid(spectrum)
    first = float(grid[0]) if low is None else measured(low, "nm").value
    last = float(grid[-1]) if high is None else measured(high, "nm").value
    centroid = centroid_wavelength(spectrum, first, last)  # which refuses what is no band
    inside = (grid >= first) & (grid <= last)
    peak, centre, width = _shape(spectrum if inside.all() else spectrum.isel(wavelength=inside))
    result = {
        "peak_wavelength": peak,
        "centre_wavelength": centre,
        "fwhm": width,
        "centroid_wavelength": centroid,
    }
    if spectrum.attrs.get("units") == "W m-2 nm-1":
        result["irradiance"] = band_irradiance(spectrum, first, last)
    elif low is not None or high is not None:
        within = max(first, float(grid[0])), min(last, float(grid[-1]))
        mean = _weighed(spectrum, *within, None, "mean") / (within[1] - within[0])
        result["mean"] = mean.assign_attrs(units=spectrum.attrs.get("units", "1"), long_name="mean")
    return xr.Dataset(result)


def _grid(spectrum: xr.DataArray) -> NDArray[np.float64]:
    if "wavelength" not in spectrum.dims:
        raise GridError(f"a spectrum has the dimension wavelength; this one has {spectrum.dims}")
    return np.asarray(spectrum.coords["wavelength"].values, dtype=float)


def _weighed(
    spectrum: xr.DataArray, low: float, high: float, curve: Curve | None, long_name: str
) -> xr.DataArray:
    grid = _grid(spectrum)
    result = weightings.integrate(spectrum, weightings.weights(grid, low, high, curve))
    if np.isfinite(low):
        long_name = f"{long_name} in {low:g}–{high:g} nm"
    elif curve is not None:
        low, high = curve.wavelength[0], curve.wavelength[-1]
    result.attrs["long_name"] = long_name
    if comment := weightings.covered(grid, low, high):
        result.attrs["comment"] = comment
    return result


def _shape(spectrum: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Peak, centre between the half-maximum crossings, and their distance, each (...) [nm]."""
    grid = _grid(spectrum)
    if grid.size < 3:
        raise GridError(f"a peak needs at least 3 wavelengths; this spectrum has {grid.size}")
    last = spectrum.transpose(..., "wavelength")
    kept = last.isel(wavelength=0, drop=True)
    rows = last.data.reshape(-1, grid.size)
    figures = np.empty((3, rows.shape[0]))
    for start in range(0, rows.shape[0], _BLOCK):
        block = np.asarray(rows[start : start + _BLOCK], dtype=float)
        with np.errstate(invalid="ignore"):  # a row that is not finite has no known figure
            figures[:, start : start + _BLOCK] = peak_and_crossings(grid, block)
    peak, left, right = figures
    found = {
        "peak wavelength": peak,
        "centre wavelength at half maximum": (left + right) / 2,
        "full width at half maximum": right - left,
    }
    arrays = []
    for long_name, figure in found.items():
        array = kept.copy(data=figure.reshape(kept.shape))
        array.name, array.attrs = None, {"units": "nm", "long_name": long_name}
        arrays.append(array)
    return arrays[0], arrays[1], arrays[2]
