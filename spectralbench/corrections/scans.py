"""Repeated scans: their mean, and their scatter."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
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
