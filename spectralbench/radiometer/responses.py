"""Responses of broadband heads, which may have draws, and what they should be: targets."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from spectralbench import weightings
from spectralbench.errors import GridError, RangeError, quote
from spectralbench.units import in_unit, measured
from spectralbench.weightings import Curve, Vector

Band = tuple[float | str, float | str]
Target = Band | xr.DataArray | None

_DECIMALS = 9  # of a limit [nm]: 0.315 µm is 315 nm, not 315.00000000000006


def band_limits(band: Band) -> tuple[float, float]:
    """Limits of a band, in order.

    Parameters
    ----------
    band : tuple of two floats or str
        Lower and upper limit [nm].

    Returns
    -------
    tuple of two floats
        The limits [nm].

    Raises
    ------
    RangeError
        If they are not two, or not in order.

    Examples
    --------
    >>> band_limits(("315 nm", 400))
    (315.0, 400.0)
    """
    if np.size(band) != 2 or any(limit is None for limit in band):
        raise RangeError(
            f'a band is two limits, such as (315, 400) or ("315 nm", "400 nm"); not {quote(band)}'
        )
    low, high = (round(measured(limit, "nm").value, _DECIMALS) for limit in band)
    if not low < high:
        raise RangeError(f"a band runs from a shorter to a longer wavelength, not {low:g} to {high:g} nm")
    return low, high


def target_curve(target: Band | xr.DataArray) -> Curve:
    """A target as a curve.

    Parameters
    ----------
    target : tuple of two floats or str, or xarray.DataArray (wavelength,)
        Limits of a band [nm], inside which it is 1, or a curve [any unit].

    Returns
    -------
    Curve
        The curve, zero outside its range.

    Raises
    ------
    RangeError
        If the limits are not in order.
    GridError
        If the curve has other dimensions, a disordered grid, or values that are not finite.

    Examples
    --------
    >>> target_curve((315, 400))([314.0, 315.0, 400.0]).tolist()
    [0.0, 1.0, 1.0]
    """
    if isinstance(target, xr.DataArray):
        return Curve.of(in_unit(target, "*", "target"))
    return Curve(np.array(band_limits(target)), np.ones(2))


def described(target: Target) -> str:
    """Say what a target counts.

    Parameters
    ----------
    target : tuple, xarray.DataArray or None
        A band, a curve, or all light.

    Returns
    -------
    str
        The words.

    Examples
    --------
    >>> described(("315 nm", 400))
    '315–400 nm'
    """
    if target is None:
        return "1 everywhere"
    grid = target_curve(target).wavelength
    limits = f"{grid[0]:g}–{grid[-1]:g} nm"
    return f"a curve over {limits}" if isinstance(target, xr.DataArray) else limits


def targeted(spectrum: xr.DataArray, target: Target) -> xr.DataArray:
    """What a target counts of a spectrum.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Any spectrum, ascending.
    target : tuple, xarray.DataArray or None
        A band, a curve, or all light over the range of the spectrum.

    Returns
    -------
    xarray.DataArray (...)
        Integral of spectrum times target; ``attrs["comment"]`` says if the spectrum covers
        the target in part only.

    Raises
    ------
    RangeError
        If the spectrum covers nothing of the target.
    GridError
        If the spectrum has no wavelengths.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> float(targeted(flat, (315, 400))), float(targeted(flat, None))
    (85.0, 200.0)
    """
    grid = _grid(spectrum)
    if target is None:
        return weightings.integrate(spectrum, weightings.weights(grid))
    curve = target_curve(target)
    result = weightings.integrate(spectrum, weightings.weights(grid, curve=curve))
    if comment := weightings.covered(grid, float(curve.wavelength[0]), float(curve.wavelength[-1])):
        result.attrs["comment"] = comment
    return result


def _grid(spectrum: xr.DataArray) -> Vector:
    if "wavelength" not in spectrum.dims:
        raise GridError(f"a spectrum has the dimension wavelength; this one has {spectrum.dims}")
    return np.asarray(spectrum.coords["wavelength"].values, dtype=float)


def first_curve(response: xr.DataArray) -> Curve:
    """One of the curves that a response with draws holds.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        A response, ascending.

    Returns
    -------
    Curve
        The first of its curves; all have its grid and its rule of interpolation.

    Raises
    ------
    GridError
        If a value is not finite.

    Examples
    --------
    >>> drawn = xr.DataArray([[1.0], [2.0]], {"wavelength": [365.0]}, ("draw", "wavelength"))
    >>> first_curve(drawn).values.tolist()
    [1.0]
    """
    if not np.isfinite(response.values).all():
        raise GridError("a response has only finite values; fill or cut its gaps first")
    return Curve.of(response.isel({d: 0 for d in response.dims if d != "wavelength"}, drop=True))


def on_points(response: xr.DataArray, figure: Callable[[Curve], Vector], points: Vector) -> xr.DataArray:
    """What a function makes of each of the curves of a response.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        A response, ascending.
    figure : callable
        From a curve to values at the points.
    points : numpy.ndarray (n,)
        Wavelengths [nm].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The values, along the points.

    Raises
    ------
    GridError
        If a value of the response is not finite.

    Examples
    --------
    >>> ramp = xr.DataArray([0.0, 1.0], {"wavelength": [300.0, 400.0]}, "wavelength")
    >>> on_points(ramp, lambda curve: curve(350.0), np.array([350.0])).item()
    0.5
    """
    first, last = first_curve(response), response.transpose(..., "wavelength")
    rows = np.asarray(last.values, dtype=float).reshape(-1, last.sizes["wavelength"])
    values = [figure(Curve(first.wavelength, row, first.logarithmic)) for row in rows]
    kept = last.isel(wavelength=0, drop=True)
    return xr.DataArray(
        np.reshape(values, (*kept.shape, points.size)), {**kept.coords, "wavelength": points}, last.dims
    )


def response_signal(
    response: xr.DataArray, spectrum: xr.DataArray, low: float = -np.inf, high: float = np.inf
) -> xr.DataArray:
    """Signal of a head, without its scale: the integral of response times spectrum.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        A response on a grid of its own, ascending.
    spectrum : xarray.DataArray (..., wavelength)
        Spectra, ascending. NaN marks a sample that is not valid.
    low, high : float
        Limits of what counts [nm].

    Returns
    -------
    xarray.DataArray (...)
        The signal: 0 where response and spectrum have nothing in common, NaN where a sample
        that counts is not valid.

    Raises
    ------
    GridError
        If a value of the response is not finite, or the spectrum has no wavelengths.

    Examples
    --------
    >>> flat = xr.DataArray([2.0, 2.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> float(response_signal(flat, flat, 400)), float(response_signal(flat, flat, 600))
    (400.0, 0.0)
    """
    grid, curve = _grid(spectrum), first_curve(response)
    start, stop = max(low, grid[0], curve.wavelength[0]), min(high, grid[-1], curve.wavelength[-1])
    if start < stop:
        vectors = on_points(response, lambda one: weightings.weights(grid, start, stop, one), grid)
    else:
        vectors = on_points(response, lambda one: np.zeros_like(grid), grid)
    if vectors.ndim == 1:
        return weightings.integrate(spectrum, vectors.values)
    used = np.flatnonzero((vectors != 0).any([d for d in vectors.dims if d != "wavelength"]))
    seen, vectors = spectrum.isel(wavelength=used), vectors.isel(wavelength=used)
    result: xr.DataArray = (seen * vectors).where(vectors != 0, 0.0).sum("wavelength", skipna=False)
    result.name, result.attrs = None, {}
    return result
