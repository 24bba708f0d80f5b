"""Light through matter: transmittance, absorbance, slabs and stacks.

A slab is incoherent: reflections inside add as energies, not as waves. That holds for every
part thicker than a few hundredths of a millimetre under an ordinary lamp.
"""

from __future__ import annotations

from typing import cast

import numpy as np
import xarray as xr

from spectralbench.corrections import average_scans, subtract_dark
from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares

Spectral = xr.DataArray | float


@declares("1", sample="*", reference="*", dark="*")
def transmittance(
    sample: xr.DataArray, reference: xr.DataArray, dark: xr.DataArray | None = None
) -> xr.DataArray:
    """Transmittance of a part, from frames with and without it.

    Parameters
    ----------
    sample : xarray.DataArray (..., wavelength)
        Counts [1] or signal [s-1] with the part in the beam.
    reference : xarray.DataArray ([time,] [spectrum,] wavelength)
        The same without the part. With a dimension ``time`` and a coordinate ``time`` on
        the sample, the reference is interpolated to the moment of the sample; scans are
        averaged.
    dark : xarray.DataArray ([spectrum,] wavelength), optional
        Dark frame, subtracted from both.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Transmittance [1]; NaN where the reference has no signal. Counts taken with different
        integration times are brought to the same.

    Raises
    ------
    RangeError
        If the moment of the sample lies outside the references, or an integration time is
        known for one frame only, or the dark was taken with another one.
    GridError, UnitsError
        If grids or units differ.

    Examples
    --------
    >>> grid = {"wavelength": [365.0]}
    >>> full = xr.DataArray([1000.0], grid, "wavelength")
    >>> transmittance(xr.DataArray([500.0], grid, "wavelength"), full).item()
    0.5
    """
    reference, _ = average_scans(reference)
    if "time" in reference.dims:
        reference = _reference_at(reference, sample)
    elif "time" in reference.coords:
        reference = reference.drop_vars("time")
    if dark is not None:
        sample, reference = subtract_dark(sample, dark), subtract_dark(reference, dark)
    units = [str(a.attrs.get("units", "1")) for a in (sample, reference)]
    if units[0] != units[1]:
        raise UnitsError(f"the sample is in {quote(units[0])} and the reference in {quote(units[1])}")
    times = [a.coords.get("integration_time") for a in (sample, reference)]
    factor: Spectral = 1.0
    if units[0] == "1":
        if (times[0] is None) != (times[1] is None):
            raise RangeError("only one of sample and reference says its integration time")
        if times[0] is not None:
            factor = cast(xr.DataArray, times[1]).values / times[0]
    plain = reference.drop_vars("integration_time", errors="ignore")
    lit = plain > 0
    result = (sample / (plain if lit.all() else plain.where(lit)) * factor).rename("transmittance")
    result.attrs = {"long_name": "transmittance"}
    history = "\n".join(filter(None, (sample.attrs.get("history"), reference.attrs.get("history"))))
    result.attrs["history"] = f"{history}\ndivided by the reference".lstrip("\n")
    return result


def _reference_at(reference: xr.DataArray, sample: xr.DataArray) -> xr.DataArray:
    """The reference at the moment of the sample, on straight lines between those taken."""
    if "time" not in sample.coords or "time" not in reference.coords:
        raise RangeError("several references need a coordinate time, and so does the sample")
    ordered = reference.sortby("time")
    moment, times = sample.coords["time"].values, ordered.coords["time"].values
    if not times[0] <= moment <= times[-1]:
        raise RangeError(
            f"the sample was taken at {moment}, outside its references from {times[0]} to {times[-1]}: "
            "take one reference before and one after it"
        )
    after = min(int(np.searchsorted(times, moment, side="right")), times.size - 1)
    before = max(after - 1, 0)
    span = times[after] - times[before]
    share = float((moment - times[before]) / span) if span else 0.0
    first, second = ordered.isel(time=before, drop=True), ordered.isel(time=after, drop=True)
    result = first + (second - first) * share
    result.attrs.update(reference.attrs)
    return noted(result, f"interpolated {times.size} references in time, {share:.0%} of the way between two")


@declares("1", transmittance="1")
def absorbance(transmittance: xr.DataArray) -> xr.DataArray:
    """Decadic absorbance.

    Parameters
    ----------
    transmittance : xarray.DataArray (...)
        Transmittance [1].

    Returns
    -------
    xarray.DataArray (...)
        Absorbance [1]; infinite where nothing passes, NaN where the transmittance is negative.

    Raises
    ------
    UnitsError
        If the unit is not that of a ratio.

    Notes
    -----
    The negative decadic logarithm of the transmittance (IUPAC Gold Book, A00028).

    Examples
    --------
    >>> round(float(absorbance(xr.DataArray(0.5))), 10)
    0.3010299957
    """
    values = xr.DataArray(transmittance)
    with np.errstate(divide="ignore", invalid="ignore"):
        result = xr.DataArray(0.0 - np.log10(values))
    result = result.rename("absorbance").assign_attrs(long_name="decadic absorbance")
    return noted(result, "absorbance from transmittance", values)


@declares("1", internal="1", index="1", before="1", after="1")
def slab_transmittance(
    internal: Spectral, index: Spectral, before: Spectral = 1.0, after: Spectral = 1.0
) -> xr.DataArray:
    """Transmittance of a slab with its two surfaces, at normal incidence.

    Parameters
    ----------
    internal : xarray.DataArray (...) or float
        Internal transmittance [1]: what the bulk passes from surface to surface.
    index : xarray.DataArray (...) or float
        Refractive index of the slab [1].
    before, after : xarray.DataArray (...) or float
        Refractive index of what lies in front and behind [1]; air by default.

    Returns
    -------
    xarray.DataArray (...)
        Transmittance [1], all inner reflections included.

    Raises
    ------
    RangeError
        If an index is not positive, or the internal transmittance lies outside 0–1.
    GridError
        If arrays on different wavelength grids are mixed.

    Notes
    -----
    Fresnel reflection at each surface (Born & Wolf, Principles of Optics, 7th ed., 1.5.3) and
    the geometric series of reflections between the two.

    Examples
    --------
    >>> round(float(slab_transmittance(1.0, 1.5)), 10)  # 12/13
    0.9230769231
    """
    bulk = xr.DataArray(internal)
    if not ((bulk >= 0) & (bulk <= 1) | bulk.isnull()).all():
        raise RangeError(f"an internal transmittance lies in 0–1, not at {_worst(bulk):g}")
    front, back = _reflectance(before, index), _reflectance(index, after)
    result: xr.DataArray = (1 - front) * (1 - back) * bulk / (1 - front * back * bulk**2)
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

    Examples
    --------
    >>> round(float(internal_transmittance(12 / 13, 1.5)), 12)
    1.0
    """
    measured = xr.DataArray(transmittance)
    front, back = _reflectance(before, index), _reflectance(index, after)
    passed = (1 - front) * (1 - back)
    result: xr.DataArray = 2 * measured / (passed + np.sqrt(passed**2 + 4 * measured**2 * front * back))
    return result.rename("internal_transmittance").assign_attrs(long_name="internal transmittance")


@declares("1", internal="1", thickness="mm", new_thickness="mm")
def scale_thickness(
    internal: Spectral, thickness: float | str | xr.DataArray, new_thickness: float | str | xr.DataArray
) -> xr.DataArray:
    """Internal transmittance of the same material in another thickness.

    Parameters
    ----------
    internal : xarray.DataArray (...) or float
        Internal transmittance [1], never the transmittance with its surfaces.
    thickness, new_thickness : float, str or xarray.DataArray (...)
        The thickness it belongs to, and the one that is wanted [mm].

    Returns
    -------
    xarray.DataArray (...)
        Internal transmittance [1].

    Raises
    ------
    RangeError
        If a thickness is not positive (the new one may be 0), or the transmittance negative.

    Notes
    -----
    Lambert's law: the logarithm grows with the thickness (IUPAC Gold Book, B00626).

    Examples
    --------
    >>> round(float(scale_thickness(0.9, "3 mm", "1 mm")), 7)
    0.9654894
    """
    bulk, old, new = xr.DataArray(internal), xr.DataArray(thickness), xr.DataArray(new_thickness)
    if not ((old > 0).all() and (new >= 0).all()):
        raise RangeError(
            f"a thickness is more than 0 mm (the new one may be 0), not {float(old.min()):g} "
            f"and {float(new.min()):g} mm"
        )
    if (bulk < 0).any():
        raise RangeError(f"an internal transmittance is not negative; this one reaches {float(bulk.min()):g}")
    result: xr.DataArray = bulk ** (new / old)
    return result.rename("internal_transmittance").assign_attrs(long_name="internal transmittance")


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
        layer and the next are not counted.

    Raises
    ------
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Examples
    --------
    >>> light = xr.DataArray([2.0], {"wavelength": [365.0]}, "wavelength")
    >>> through(light, 0.5, 0.5).item()
    0.5
    """
    result = spectrum
    for layer in layers:
        result = result * layer
    result = result.rename("spectral_irradiance").assign_attrs(long_name="spectral irradiance")
    return noted(result, f"passed through {len(layers)} layers", spectrum)


def _reflectance(index: Spectral, other: Spectral) -> xr.DataArray:
    """Fresnel reflectance of one surface, at normal incidence [1]."""
    first, second = xr.DataArray(index), xr.DataArray(other)
    if not ((first > 0).all() and (second > 0).all()):
        worst = min(float(first.min()), float(second.min()))
        raise RangeError(f"a refractive index is above 0, not {worst:g}")
    return ((first - second) / (first + second)) ** 2


def _worst(values: xr.DataArray) -> float:
    """The value that lies farthest outside 0–1."""
    flat = values.values.ravel()
    return float(flat[np.nanargmax(np.abs(flat - 0.5))])
