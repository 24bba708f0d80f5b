"""Saturated pixels: marked on raw counts, scan by scan, before anything is averaged."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.units import declares


@declares(counts="1", full_scale="1", level="1")
def mask_saturated(
    counts: xr.DataArray,
    full_scale: float | str,
    level: float | str = 0.95,
    neighbours: int = 1,
) -> xr.DataArray:
    """Mark saturated pixels as not valid.

    A detector near its full scale is no longer linear, and charge spills into the pixels
    beside. Such a value is not clipped or mended: it becomes NaN, and so does every figure
    that depends on it.

    Parameters
    ----------
    counts : xarray.DataArray (..., wavelength)
        Raw counts [1], dark included.
    full_scale : float or str
        Highest count that the converter can give [1].
    level : float or str
        Share of the full scale from which a pixel counts as saturated [1].
    neighbours : int
        Pixels on either side that a saturated one spoils.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Counts [1]; NaN where saturated. Its history says how many pixels, and where.

    Raises
    ------
    RangeError
        If full scale or level are not positive, or a count is above the full scale.

    Examples
    --------
    >>> raw = xr.DataArray([10.0, 990.0, 20.0, 5.0], {"wavelength": [1, 2, 3, 4]}, "wavelength")
    >>> mask_saturated(raw, 1000).values.tolist()
    [nan, nan, nan, 5.0]
    """
    full_scale, level = float(full_scale), float(level)
    if not (full_scale > 0 and 0 < level <= 1 and neighbours >= 0):
        raise RangeError(
            f"a full scale above 0, a level in 0–1 and 0 or more neighbours are needed, not "
            f"{full_scale:g}, {level:g} and {neighbours}"
        )
    last = counts.transpose(..., "wavelength")
    values = last.values
    highest = values.max(initial=-np.inf)
    if highest > full_scale:
        raise RangeError(f"a count of {highest:g} is above the full scale of {full_scale:g}")
    saturated = values >= level * full_scale
    if not saturated.any():
        return counts
    spoilt = saturated.copy()
    for shift in range(1, neighbours + 1):
        spoilt[..., shift:] |= saturated[..., :-shift]
        spoilt[..., :-shift] |= saturated[..., shift:]
    result = last.copy(data=np.where(spoilt, np.nan, values)).transpose(*counts.dims)
    where = counts.coords["wavelength"].values[np.flatnonzero(spoilt.any(axis=tuple(range(spoilt.ndim - 1))))]
    return noted(
        result,
        f"marked {where.size} saturated pixels between {where[0]:.1f} and {where[-1]:.1f} nm as not valid "
        f"(from {level:.0%} of {full_scale:g} counts, with {neighbours} neighbours)",
    )
