"""A scan through a beam: its profile in order of position, its centre and its size."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.beam.areas import area, edges, left_out, weights
from spectralbench.beam.axes import along, millimetres
from spectralbench.errors import GridError
from spectralbench.model import COORDINATES, noted
from spectralbench.units import declares


@declares(scan="*")
def beam_profile(scan: xr.DataArray) -> xr.DataArray:
    """Put a scan that was recorded along time in order of position.

    Parameters
    ----------
    scan : xarray.DataArray (..., time)
        Readings [any unit] along any one dimension, with a coordinate ``position`` along it that
        carries its unit, as `read` gives it for a scan there and back.

    Returns
    -------
    xarray.DataArray (..., position)
        The profile, in ascending order; readings at one position are averaged, and the history
        says how far they differed.

    Raises
    ------
    GridError, UnitsError
        If there is no such coordinate, or it has no unit, or one that is no length.

    Examples
    --------
    >>> at = {"position": ("time", [0.0, 1.0, 0.0], {"units": "mm"})}
    >>> there_and_back = xr.DataArray([90.0, 200.0, 110.0], at, "time")
    >>> beam_profile(there_and_back).values.tolist()
    [100.0, 200.0]
    """
    position = scan.coords.get("position")
    if position is None or position.ndim != 1:
        raise GridError("a scan through a beam has a coordinate position along one dimension")
    (dimension,) = position.dims
    at = millimetres(position, "position")
    order = np.argsort(at, kind="stable")
    grid, first, count = np.unique(at[order], return_index=True, return_counts=True)
    last = scan.transpose(..., dimension)
    kept = last.isel({dimension: 0}, drop=True)
    values = last.values.astype(float)[..., order]
    means = np.add.reduceat(values, first, axis=-1) / count
    apart = np.maximum.reduceat(values, first, axis=-1) - np.minimum.reduceat(values, first, axis=-1)
    units, long_name = COORDINATES["position"]
    result = xr.DataArray(
        means,
        {**kept.coords, "position": ("position", grid / 1e3, {"units": units, "long_name": long_name})},
        (*kept.dims, "position"),
        name=scan.name,
        attrs=scan.attrs,
    )
    said = f"{at.size} readings put in order of {grid.size} positions"
    if at.size > grid.size:
        share = np.nanmax(apart) / np.nanmax(means) if np.isfinite(means).any() else np.nan
        said += f"; those at one position averaged, up to {share * 100:.2g} % of the highest apart"
    return noted(result, said)


@declares(profile="*")
def spot(profile: xr.DataArray) -> xr.Dataset:
    """Centre and size of a beam, from a scan through it.

    Parameters
    ----------
    profile : xarray.DataArray (..., position)
        Irradiance or another reading [any unit] without background, with a coordinate
        ``position`` that carries its unit.

    Returns
    -------
    xarray.Dataset
        ``highest`` (...), the highest value, in the unit given; ``size`` and ``size_at_tenth``
        (...) [mm], full widths at half and at a tenth of it; ``centre`` (...) [mm], the middle
        between the half-maximum positions; ``centroid`` (...) [mm], the centre of gravity of the
        whole scan. A size and its centre are NaN where the profile does not fall so far on both
        sides, and all are where a value is NaN. What the ends of the scan leave out is said in
        the comment of ``centroid``.

    Raises
    ------
    GridError, UnitsError
        If the positions are fewer than three, missing, unordered or without a unit.

    Notes
    -----
    The widths end at the outermost crossings, by straight lines between samples, so a beam that
    is darker in its middle is as wide as it is. The centroid is the first moment, as in
    ISO 11146-1; background far from the beam pulls on it, and leaves the centre alone.

    Examples
    --------
    >>> at = {"position": ("position", [-2.0, -1.0, 0.0, 1.0, 2.0], {"units": "mm"})}
    >>> found = spot(xr.DataArray([0.0, 40.0, 100.0, 40.0, 0.0], at, "position"))
    >>> round(found["size"].item(), 4), found["size_at_tenth"].item(), found["centre"].item()
    (1.6667, 3.5, 0.0)
    """
    last, grid = along(profile, "position", 3)
    values = last.values
    half, tenth = edges(grid, values, 0.5), edges(grid, values, 0.1)
    total = area(values, weights(grid))
    moment = area(values, weights(grid, power=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        centroid = np.where(total > 0, moment / total, np.nan)
    length = {"units": "mm"}
    kept = last.isel(position=0, drop=True).dims
    units = {"units": profile.attrs["units"]} if "units" in profile.attrs else {}
    comment = left_out(last, grid)
    missing = {"comment": comment} if comment else {}
    gravity = {**length, "long_name": "centre of gravity of the scan", **missing}
    tenth_size = {**length, "long_name": "full width at a tenth of the maximum"}
    return xr.Dataset(
        {
            "highest": (kept, values.max(axis=-1), {**units, "long_name": "highest value"}),
            "size": (kept, half[1] - half[0], {**length, "long_name": "full width at half maximum"}),
            "size_at_tenth": (kept, tenth[1] - tenth[0], tenth_size),
            "centre": (kept, (half[0] + half[1]) / 2, {**length, "long_name": "middle at half maximum"}),
            "centroid": (kept, centroid, gravity),
        },
        last.coords,
    )
