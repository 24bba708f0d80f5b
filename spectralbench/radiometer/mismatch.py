"""Spectral mismatch: what a broadband head makes of a source that it was not calibrated with."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr

from spectralbench import weightings
from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.radiometer.responses import (
    Band,
    Target,
    band_limits,
    described,
    first_curve,
    on_points,
    response_signal,
    target_curve,
    targeted,
)
from spectralbench.units import declares, same_kind

_LARGE = 2.0  # from this factor on, either way, the edge of a response decides; common practice, no source
_NOTABLE = 0.01  # of a signal
_GRIDS = ("response", "calibration", "measured")


@declares("1", own_grid=_GRIDS, response="*", calibration="*", measured="*")
def mismatch_factor(
    response: xr.DataArray, calibration: xr.DataArray, measured: xr.DataArray, target: Target = None
) -> xr.DataArray:
    """Factor that corrects the reading of a head for the spectrum of the source.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        Spectral response of the head on a grid of its own [any unit]; zero outside its range,
        straight between its points unless ``attrs["interpolation"]`` is ``"logarithmic"``.
    calibration : xarray.DataArray (..., wavelength)
        Spectrum of the source that the head was calibrated with, on a grid of its own
        [spectral irradiance, or relative].
    measured : xarray.DataArray (..., wavelength)
        Spectrum of the source that was read, on a grid of its own [as `calibration`].
    target : tuple of two floats or str, or xarray.DataArray (wavelength,), optional
        What the reading should count: a band between two limits [nm], or a curve. Without it,
        1 everywhere: all the light of each spectrum, over the whole range of that spectrum.

    Returns
    -------
    xarray.DataArray (...)
        Factor F [1]: reading times F is what the head should have shown. ``attrs["comment"]``
        says so if F is far from 1, or if a curve ends too early.

    Raises
    ------
    RangeError
        If the head gives no signal of one of the sources, the calibration source gives nothing
        that the target counts, or a spectrum covers nothing of it.
    GridError, UnitsError
        If a grid is disordered, a curve is not finite, dimensions do not fit together, or the
        two spectra measure different things.

    Notes
    -----
    With the spectra E_C of calibration and E_Z of measurement, the response s and the target
    t, F = (∫E_Z t · ∫E_C s) / (∫E_C t · ∫E_Z s): the spectral mismatch correction of CIE
    220:2016, the reciprocal of the factor in IEC 60904-7. The scales of all four cancel. Draws
    of the response stand above and below, and cancel as far as they are common.

    Examples
    --------
    >>> response = xr.DataArray([1.0, 0.5], {"wavelength": [350.0, 450.0]}, "wavelength")
    >>> def line(at):
    ...     return xr.DataArray([0.0, 1.0, 0.0], {"wavelength": [at - 1, at, at + 1]}, "wavelength")
    >>> round(float(mismatch_factor(response, line(365.0), line(405.0))), 6)
    1.275862
    """
    return factor_between(response, calibration, measured, target, target)


@declares("1", own_grid=_GRIDS, response="*", calibration="*", measured="*")
def factor_between(
    response: xr.DataArray, calibration: xr.DataArray, measured: xr.DataArray, stated: Target, wanted: Target
) -> xr.DataArray:
    """Factor from a reading in terms of one target to what another one counts.

    Parameters
    ----------
    response, calibration, measured : xarray.DataArray (..., wavelength)
        As for `mismatch_factor`.
    stated, wanted : tuple, xarray.DataArray or None
        The target that the calibration states, and the one that is wanted.

    Returns
    -------
    xarray.DataArray (...)
        Factor [1].

    Raises
    ------
    RangeError, GridError, UnitsError
        As from `mismatch_factor`.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> float(factor_between(flat, flat, flat, None, (300, 400)))
    0.5
    """
    units = [str(a.attrs.get("units") or "1") for a in (calibration, measured)]
    if "1" not in units and not same_kind(*units):
        raise UnitsError(
            f"the calibration spectrum is in {quote(units[0])} and the measured one in {quote(units[1])}: "
            "both are spectral irradiance, or relative"
        )
    sources = {"calibration": calibration, "measured": measured}
    signals = {name: _signal(response, spectrum, name) for name, spectrum in sources.items()}
    before, after = targeted(calibration, stated), targeted(measured, wanted)
    if (before <= 0).any():
        raise RangeError(
            f"the calibration source gives nothing that the target, {described(stated)}, counts: "
            "check the target, and the spectrum of the certificate"
        )
    result = (after * signals["calibration"]) / (before * signals["measured"])
    remarks = [
        f"{name} source: {counted.attrs['comment']}"
        for name, counted in zip(sources, (before, after), strict=True)
        if "comment" in counted.attrs
    ]
    for name, spectrum in sources.items():
        remarks += _open_ends(response, "the response", spectrum, signals[name], name)
        remarks += _open_ends(spectrum, f"the spectrum of the {name} source", response, signals[name], name)
    remarks += _far_from_1(result)
    result.attrs = {"long_name": "spectral mismatch correction factor"}
    if remarks:
        result.attrs["comment"] = "; ".join(remarks)
    step = f"spectral mismatch of a head calibrated for {described(stated)}"
    return noted(
        result.rename("mismatch_factor"), step + ("" if wanted is stated else f", to {described(wanted)}")
    )


@declares("1", own_grid=("response", "calibration"), response="*", calibration="*")
def spectral_match_index(
    response: xr.DataArray, calibration: xr.DataArray, target: Band | xr.DataArray
) -> xr.DataArray:
    """How far the response of a head is from what it should be: f1′.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        Spectral response of the head on a grid of its own [any unit], zero outside its range.
    calibration : xarray.DataArray (..., wavelength)
        Spectrum of the source that the head was calibrated with [any unit].
    target : tuple of two floats or str, or xarray.DataArray (wavelength,)
        Limits of a band [nm], in which the response should be flat, or a curve.

    Returns
    -------
    xarray.DataArray (...)
        Index f1′ [1]; 0 if, and only if, the response is proportional to the target.

    Raises
    ------
    RangeError
        If the head gives no signal of the calibration source, that covers nothing of the
        target, or the target is nowhere above 0.
    GridError
        If a grid is disordered, or a curve is not finite.

    Notes
    -----
    f1′ = ∫|s* − t| / ∫t over all wavelengths that response or target cover; s* is the response
    scaled so that it reads the calibration source as the target counts it (ISO/CIE 19476:2014
    for photometers, CIE 220:2016 for ultraviolet heads). The difference is taken as straight
    between the points of both.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 400.0]}, "wavelength")
    >>> float(spectral_match_index(flat, flat, (300, 400)))
    0.0
    """
    curve, wanted = first_curve(response), target_curve(target)
    scale = targeted(calibration, target) / _signal(response, calibration, "calibration")
    nodes = np.union1d(curve.nodes, wanted.nodes)
    ends = np.unique([curve.wavelength[[0, -1]], wanted.wavelength[[0, -1]]])
    apart: Any = 0.0
    area = 0.0
    for start, stop in pairwise(ends):  # at an end a curve may jump to zero
        points = np.union1d(nodes[(nodes > start) & (nodes < stop)], [start, stop])
        widths = xr.DataArray(weightings.weights(points), {"wavelength": points}, "wavelength")
        seen = on_points(response, lambda one, at=points: one(at), points)  # type: ignore[misc]
        aim = xr.DataArray(wanted(points), {"wavelength": points}, "wavelength")
        middle = (start + stop) / 2
        if not curve.wavelength[0] < middle < curve.wavelength[-1]:
            seen = xr.zeros_like(seen)
        if not wanted.wavelength[0] < middle < wanted.wavelength[-1]:
            aim = xr.zeros_like(aim)
        apart = apart + (abs(scale * seen - aim) * widths).sum("wavelength", skipna=False)
        area += float((aim * widths).sum())
    if not area > 0:
        raise RangeError(f"the target, {described(target)}, is nowhere above 0")
    result: xr.DataArray = (apart / area).rename("spectral_match_index")
    result.attrs = {"long_name": "spectral match index f1′"}
    return noted(result, f"spectral match with {described(target)}")


@declares("1", own_grid=("response", "spectrum"), response="*", spectrum="*", low="nm", high="nm")
def out_of_band_share(
    response: xr.DataArray, spectrum: xr.DataArray, low: float | str, high: float | str
) -> xr.DataArray:
    """Share of a head's signal that comes from outside a band.

    Parameters
    ----------
    response : xarray.DataArray (..., wavelength)
        Spectral response of the head on a grid of its own [any unit], zero outside its range.
    spectrum : xarray.DataArray (..., wavelength)
        Spectrum of the source [any unit].
    low, high : float or str
        Limits of the band [nm].

    Returns
    -------
    xarray.DataArray (...)
        Share of the signal [1].

    Raises
    ------
    RangeError
        If the limits are not in order, or the head gives no signal of the source.
    GridError
        If a grid is disordered, or the response is not finite.

    Examples
    --------
    >>> flat = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 500.0]}, "wavelength")
    >>> float(out_of_band_share(flat, flat, 315, 400))
    0.575
    """
    low, high = band_limits((low, high))
    whole = _signal(response, spectrum, "measured")
    outside = response_signal(response, spectrum, high=low) + response_signal(response, spectrum, low=high)
    result: xr.DataArray = (outside / whole).rename("out_of_band_share")
    result.attrs = {"long_name": f"share of the signal from outside {low:g}–{high:g} nm"}
    return result


def _signal(response: xr.DataArray, spectrum: xr.DataArray, name: str) -> xr.DataArray:
    """Signal of a head, which has to be above 0."""
    signal = response_signal(response, spectrum)
    if (signal <= 0).any():
        seen, sent = (
            f"{a.wavelength.values[0]:g}–{a.wavelength.values[-1]:g} nm" for a in (response, spectrum)
        )
        raise RangeError(
            f"the head gives no signal of the {name} source: its response covers {seen}, the spectrum "
            f"{sent}, and their product is not above 0. No factor corrects for light that a head does not "
            "see: use a head with a response there, or a spectrometer"
        )
    return signal


def _open_ends(
    ending: xr.DataArray, what: str, other: xr.DataArray, signal: xr.DataArray, name: str
) -> list[str]:
    """Remarks on a curve that ends above zero where the other one goes on."""
    grid, remarks = other.coords["wavelength"].values.astype(float), []
    for index in (0, -1):
        end = ending.isel(wavelength=index)
        at = float(end.coords["wavelength"])
        low, high = (-np.inf, at) if index == 0 else (at, np.inf)
        if not max(low, grid[0]) < min(high, grid[-1]):
            continue
        beyond = weightings.integrate(abs(other), weightings.weights(grid, low, high))
        missed = abs(end.drop_vars("wavelength") * beyond / signal)
        share = float(missed.mean([d for d in missed.dims if d == "draw"]).max())
        if share > _NOTABLE:
            remarks.append(
                f"{what} ends at {at:g} nm above zero; if it went on so, the signal of the {name} source "
                f"would grow by {share:.0%}"
            )
    return remarks


def _far_from_1(factor: xr.DataArray) -> list[str]:
    """A remark on a factor that hangs on the edge of a response."""
    means = factor.mean([d for d in factor.dims if d == "draw"])
    least, most = float(means.min()), float(means.max())
    if most > _LARGE:
        shows = f"the head shows only 1/{most:.3g} of the measured source"
    elif 0 < least < 1 / _LARGE:
        shows = f"the head shows {1 / least:.3g} times the measured source"
    else:
        return []
    return [
        f"{shows}: such a factor hangs on the edge of the response curve. Calibrate the head with a source "
        "like the measured one, or trust the spectrometer"
    ]
