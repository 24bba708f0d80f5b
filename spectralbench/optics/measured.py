"""What a bench measures of a part: transmittance, and the absorbance that follows."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import xarray as xr

from spectralbench.corrections import average_scans, subtract_dark
from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares


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
    factor: xr.DataArray | float = 1.0
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
        taken, first_taken, last_taken = map(_to_the_second, (moment, times[0], times[-1]))
        raise RangeError(
            f"the sample was taken at {taken}, outside its references from {first_taken} to {last_taken}: "
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


def _to_the_second(moment: Any) -> str:
    return str(moment.astype("datetime64[s]") if moment.dtype.kind == "M" else moment)


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
