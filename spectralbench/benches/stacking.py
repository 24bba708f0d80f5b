"""Several arrays as one, many draws as one, a stretch of one array."""

from __future__ import annotations

import numpy as np
import xarray as xr


def stacked(arrays: list[xr.DataArray], names: list[str], dimension: str) -> xr.DataArray:
    """Arrays of one grid along a new dimension, with the history of each.

    Examples
    --------
    >>> stacked([xr.DataArray(1.0), xr.DataArray(2.0)], ["A", "B"], "source").source.values.tolist()
    ['A', 'B']
    """
    along = xr.DataArray(names, dims=dimension, name=dimension)
    plain = [array.drop_vars(["time", "integration_time"], errors="ignore") for array in arrays]
    result = xr.concat(plain, along, join="exact", combine_attrs="drop_conflicts")
    lines = [
        f"{name}: {line}"
        for name, array in zip(names, arrays, strict=True)
        for line in array.attrs.get("history", "").splitlines()
    ]
    return result.assign_attrs(history="\n".join(lines))


def estimate(drawn: xr.DataArray) -> xr.DataArray:
    """What an array without draws would be, nearly: the mean of its draws.

    Examples
    --------
    >>> estimate(xr.DataArray([1.0, 2.0], dims="draw")).item()
    1.5
    """
    return drawn.mean("draw", keep_attrs=True) if "draw" in drawn.dims else drawn


def window(array: xr.DataArray, wavelengths: xr.DataArray) -> xr.DataArray:
    """The stretch of an array between two of its own wavelengths, without a copy.

    Examples
    --------
    >>> light = xr.DataArray([1.0, 2.0, 3.0], {"wavelength": [364.0, 365.0, 366.0]}, "wavelength")
    >>> window(light, light.wavelength[1:]).values.tolist()
    [2.0, 3.0]
    """
    first, last = np.searchsorted(array.coords["wavelength"].values, wavelengths.values[[0, -1]])
    return array.isel(wavelength=slice(int(first), int(last) + 1))
