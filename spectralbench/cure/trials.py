"""Trials of one's own: two series that belong together."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError


def paired(first: Any, second: Any, names: tuple[str, str]) -> tuple[xr.DataArray, xr.DataArray, str]:
    """Bring two series of trials together.

    Parameters
    ----------
    first, second : array_like (n,) or xarray.DataArray (..., n)
        The series; `first` may have draws, and no other dimension beside the trials. The last
        dimension counts, or that of `first`.
    names : tuple of str
        What messages call them.

    Returns
    -------
    tuple of xarray.DataArray, xarray.DataArray and str
        Both, and the dimension along which the trials stand.

    Raises
    ------
    RangeError
        If their lengths differ, a value is not a number above 0, or fewer than three of `first`
        differ.

    Examples
    --------
    >>> paired([1.0, 2.0, 4.0], [8.0, 4.0, 2.0], ("irradiance", "time"))[2]
    'trial'
    """
    labelled = (str(d) for x in (first, second) if isinstance(x, xr.DataArray) for d in x.dims[::-1])
    along = next((name for name in labelled if name != "draw"), "trial")
    both = []
    for name, values in zip(names, (first, second), strict=True):
        array = values if isinstance(values, xr.DataArray) else np.asarray(values, dtype=float)
        if not isinstance(array, xr.DataArray):
            if array.ndim != 1:
                raise RangeError(f"{name} stands along one dimension, not along {array.ndim}")
            array = xr.DataArray(array, dims=along)
        wrong = array.values[~(np.isfinite(array.values) & (array.values > 0))]
        if wrong.size:
            raise RangeError(f"every {name} in a trial is a number above 0, not {wrong[0]:g}")
        both.append(array)
    x, y = both
    if x.sizes.get(along) != y.sizes.get(along):
        raise RangeError(f"{names[0]} and {names[1]} have different lengths: {x.shape} and {y.shape}")
    different = np.unique(x.isel(draw=0).values if "draw" in x.dims else x.values).size
    if different < 3:
        raise RangeError(f"a fit needs 3 different values of {names[0]} or more, not {different}")
    return x, y, along
