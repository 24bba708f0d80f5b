"""Repeated scans: their mean, and their scatter."""

from __future__ import annotations

import numpy as np
import xarray as xr

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

    Examples
    --------
    >>> mean, scatter = average_scans(xr.DataArray([[1.0], [3.0]], dims=("spectrum", "wavelength"),
    ...                               coords={"wavelength": [365.0]}))
    >>> mean.item(), scatter.item()
    (2.0, 1.0)
    """
    if "spectrum" not in scans.dims:
        return scans, xr.full_like(scans, np.nan, dtype=float)
    count = scans.sizes["spectrum"]
    values = scans.transpose("spectrum", ...)
    mean = values[0].drop_vars("spectrum", errors="ignore").copy(data=values.values.mean(axis=0))
    spread = values.values.std(axis=0, ddof=1) / np.sqrt(count) if count > 1 else np.full(mean.shape, np.nan)
    return noted(mean, f"averaged {count} scans"), mean.copy(data=spread)
