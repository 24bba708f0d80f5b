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


def looks_saturated(counts: xr.DataArray) -> str:
    """Say whether raw counts stand at the top of a converter, where its full scale is not known.

    Parameters
    ----------
    counts : xarray.DataArray (..., wavelength)
        Raw counts [1].

    Returns
    -------
    str
        A sentence if the highest count is the largest number of a converter of 8 to 24 bits;
        otherwise empty.

    Examples
    --------
    >>> looks_saturated(xr.DataArray([12.0, 4095.0], {"wavelength": [364.0, 366.0]}, "wavelength"))
    '1 count stands at 4095, the top of a 12-bit converter, at 366.0 nm: the frame looks saturated'
    """
    highest = float(counts.max())
    if not np.isfinite(highest):
        return ""
    bits = int(highest + 1).bit_length() - 1
    if highest != 2**bits - 1 or not 8 <= bits <= 24:
        return ""
    at_top = counts == highest
    count = int(at_top.sum())
    where = at_top.any([d for d in at_top.dims if d != "wavelength"])
    at = counts.coords["wavelength"].values[np.flatnonzero(where)]
    place = f"{at[0]:.1f} nm" if at.size == 1 else f"{at[0]:.1f}–{at[-1]:.1f} nm"
    top = f"{highest:.0f}, the top of {'an' if bits in (8, 11, 18) else 'a'} {bits}-bit converter, at {place}"
    return f"{count} {'count stands' if count == 1 else 'counts stand'} at {top}: the frame looks saturated"
