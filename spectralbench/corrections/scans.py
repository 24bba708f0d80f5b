"""Repeated scans: their mean, and their scatter."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, quote
from spectralbench.model import noted
from spectralbench.units import declares


@declares(scans="*")
def average_scans(scans: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Average repeated scans and keep how far they scatter.

    Parameters
    ----------
    scans : xarray.DataArray (..., spectrum, wavelength)
        Repeated scans of one thing; without the dimension ``spectrum``, one scan.

    Returns
    -------
    mean : xarray.DataArray (..., wavelength)
        The mean, in the unit of `scans`; NaN where any scan is NaN.
    scatter : xarray.DataArray (..., wavelength)
        Standard uncertainty of the mean from the scatter alone (JCGM 100:2008, 4.2.3), in the
        same unit; NaN for a single scan, which says nothing about it.

    Raises
    ------
    GridError
        If the grid is disordered.
    RangeError
        If the scans have different integration times.

    Examples
    --------
    >>> mean, scatter = average_scans(xr.DataArray([[1.0], [3.0]], dims=("spectrum", "wavelength"),
    ...                               coords={"wavelength": [365.0]}))
    >>> mean.item(), scatter.item()
    (2.0, 1.0)
    """
    if "spectrum" not in scans.dims:
        unknown = np.broadcast_to(np.nan, scans.shape)  # takes no memory, however many draws there are
        return scans, scans.copy(data=unknown)
    if "integration_time" in scans.coords and scans.coords["integration_time"].dims:
        times = scans.coords["integration_time"]
        if not np.allclose(times, times[0], rtol=1e-6, atol=0):
            raise RangeError("scans of different integration times cannot be averaged; take them apart first")
        scans = scans.assign_coords(integration_time=times[0].drop_vars("spectrum", errors="ignore"))
    count = scans.sizes["spectrum"]
    values = scans.transpose("spectrum", ...)
    mean = values[0].drop_vars("spectrum", errors="ignore").copy(data=values.values.mean(axis=0))
    spread = values.values.std(axis=0, ddof=1) / np.sqrt(count) if count > 1 else np.full(mean.shape, np.nan)
    return noted(mean, f"averaged {count} scans"), mean.copy(data=spread)


@declares(scans="*")
def leave_out(scans: xr.DataArray, numbers: Iterable[int] | int, because: str) -> xr.DataArray:
    """Leave scans out of a frame, and write down which and why; the raw file stays as it is.

    Parameters
    ----------
    scans : xarray.DataArray (..., spectrum, wavelength)
        Repeated scans of one thing.
    numbers : int or iterable of int
        Which, counted from 1 in the order of the file.
    because : str
        Why: what somebody saw who was there. That a scan lies far from the others is no reason by itself.

    Returns
    -------
    xarray.DataArray (..., spectrum, wavelength)
        The others, in the unit of `scans`; their history says which were left out, and why.

    Raises
    ------
    RangeError
        If there is no such scan, none would be left, or no reason is given.

    Notes
    -----
    A series that is shortened by looking at its values scatters less than its instrument does, so that an
    uncertainty from what is left is too small. Leave out what has a cause, whatever its value.

    Examples
    --------
    >>> scans = xr.DataArray([[1.0], [9.0], [1.2]], dims=("spectrum", "wavelength"),
    ...                      coords={"wavelength": [365.0]}, attrs={"units": "1"})
    >>> kept = leave_out(scans, [2], because="the shutter stuck")
    >>> kept.values.ravel().tolist(), kept.attrs["history"]
    ([1.0, 1.2], 'left out scan 2 of 3: the shutter stuck')
    """
    if "spectrum" not in scans.dims:
        raise RangeError("there is one scan in this frame, and none would be left")
    given = [numbers] if isinstance(numbers, int) else list(numbers)
    for number in given:
        if isinstance(number, bool) or not isinstance(number, int | np.integer):
            raise RangeError(f"a scan is named by its whole number, counted from 1, not {number!r}")
    count, chosen = scans.sizes["spectrum"], sorted({int(number) for number in given})
    unknown = [number for number in chosen if not 1 <= number <= count]
    if unknown:
        raise RangeError(f"there is no scan {unknown[0]} in this frame: they count from 1 to {count}")
    if len(chosen) == count:
        raise RangeError(f"all {count} scans of this frame are left out; measure it again")
    reason = " ".join(because.split())
    if chosen and not reason:
        raise RangeError(
            f"scan {chosen[0]} is left out without a reason: write what was seen, not {quote(because)}"
        )
    kept = scans.isel(spectrum=[i for i in range(count) if i + 1 not in chosen])
    if not chosen:
        return kept
    which = f"scan{'s' * (len(chosen) > 1)} {', '.join(map(str, chosen))}"
    return noted(kept, f"left out {which} of {count}: {reason}")
