"""The axis of a beam at the door: positions and distances in mm, ascending."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError, UnitsError
from spectralbench.units import convert

Vector = NDArray[np.float64]

_DECIMALS = 9  # of a converted length [mm]


def millimetres(lengths: xr.DataArray, name: str) -> Vector:
    """Lengths of a coordinate in mm.

    Parameters
    ----------
    lengths : xarray.DataArray (n,)
        The coordinate, with its unit.
    name : str
        What messages call it.

    Returns
    -------
    numpy.ndarray (n,)
        Lengths [mm].

    Raises
    ------
    UnitsError
        If there is no unit, or one that is no length.
    GridError
        If a length is no finite number.

    Examples
    --------
    >>> millimetres(xr.DataArray([0.012], dims="position", attrs={"units": "m"}), "position").tolist()
    [12.0]
    """
    units = lengths.attrs.get("units")
    if not units:
        raise UnitsError(
            f"the coordinate {name} carries no unit, and metres are no millimetres: "
            f'write array["{name}"].attrs["units"] = "mm", or what it is in'
        )
    if lengths.dtype.kind not in "fiu" or not np.isfinite(lengths.values).all():
        raise GridError(f"the coordinate {name} holds values that are no finite numbers")
    values = lengths.values.astype(float)
    if units == "mm":
        return np.asarray(values)
    try:
        return np.asarray(np.round(convert(values, str(units), "mm"), _DECIMALS))
    except UnitsError as error:
        raise UnitsError(f"the coordinate {name}: {error}") from error


def along(array: xr.DataArray, dimension: str, fewest: int = 1) -> tuple[xr.DataArray, Vector]:
    """An array with one dimension last and ascending, and the coordinate along it.

    Parameters
    ----------
    array : xarray.DataArray (..., dimension)
        Any array.
    dimension : str
        ``"position"`` or ``"distance"``.
    fewest : int
        How many points it takes.

    Returns
    -------
    xarray.DataArray (..., dimension)
        The same values as floats, without coordinates along the dimension.
    numpy.ndarray (dimension,)
        The coordinate, ascending [mm].

    Raises
    ------
    GridError
        If the dimension or its coordinate is missing, has too few points, or is not in order.
    UnitsError
        If the coordinate has no unit, or one that is no length.

    Examples
    --------
    >>> scan = xr.DataArray([1.0, 2.0], {"position": ("position", [1, 0], {"units": "cm"})}, "position")
    >>> along(scan, "position")[1].tolist()
    [0.0, 10.0]
    """
    if dimension not in array.dims:
        advice = "; beam_profile() makes one from a scan along time" if dimension == "position" else ""
        raise GridError(f"a dimension {dimension} is needed; there is {array.dims}{advice}")
    if dimension not in array.coords:
        raise GridError(f"the dimension {dimension} has no coordinate: give it values with a unit")
    grid = millimetres(array.coords[dimension], dimension)
    if grid.size < fewest:
        raise GridError(f"{fewest} values along {dimension} or more are needed, not {grid.size}")
    last = array.transpose(..., dimension).astype(float)
    last = last.drop_vars([name for name, c in last.coords.items() if dimension in c.dims])
    steps = np.diff(grid)
    if (steps < 0).all():
        grid, last = grid[::-1], last.isel({dimension: slice(None, None, -1)})
    elif not (steps > 0).all():
        where = int(np.argmax(steps <= 0)) + 1
        raise GridError(
            f"the coordinate {dimension} is out of order: {grid[where - 1]:g} mm is followed by "
            f"{grid[where]:g} mm (each may stand only once)"
        )
    return last, grid


def said(lengths: Any) -> str:
    """Lengths as a message or a history quotes them.

    Parameters
    ----------
    lengths : float or numpy.ndarray (...)
        Lengths [mm].

    Returns
    -------
    str
        One length, or the shortest and the longest.

    Examples
    --------
    >>> said(np.array([10.0, 25.0])), said(10.0)
    ('10–25 mm', '10 mm')
    """
    known = np.asarray(lengths, dtype=float)
    known = known[~np.isnan(known)]
    if known.size == 0:
        return "an unknown distance"
    low, high = f"{known.min():g}", f"{known.max():g}"
    return f"{low} mm" if low == high else f"{low}–{high} mm"
