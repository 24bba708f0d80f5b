"""Stray light inside a spectrometer: a matrix from its line-spread functions, and one product with it."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]

_LEAST = 1e-300  # a weight that counts only where there is no other


@declares("1", line_spread="*")
def stray_light_matrix(line_spread: xr.DataArray, in_band: int) -> xr.DataArray:
    """Build the matrix that takes stray light out of a signal.

    Parameters
    ----------
    line_spread : xarray.DataArray (..., excitation, wavelength)
        Line-spread functions: the signal [any unit] of every pixel under one narrow line
        each, without the dark. The coordinate ``excitation`` is the wavelength of the line [nm].
    in_band : int
        Pixels on either side of a line that count as the line itself.

    Returns
    -------
    xarray.DataArray (..., wavelength, excitation)
        Correction matrix [1] for `correct_stray_light`, with the grid of the pixels along both
        dimensions.

    Raises
    ------
    RangeError
        If a value is not finite, a line does not lie on the grid or has its maximum elsewhere,
        or a line has no more light in band than beside it; if `in_band` is negative, not whole, or
        so wide that the band of a line in the middle covers the detector.
    GridError
        If the lines have no excitation, or the same twice.

    Notes
    -----
    Zong, Brown, Johnson, Lykke and Ohno, Appl. Opt. 45 (2006) 1111: each line-spread function
    is divided by its sum in band, its part in band is set to 0, and it becomes a column of the
    matrix D; the correction is the inverse of I + D. Columns between two lines are
    interpolated along the diagonal: as functions of the distance from the line in pixels,
    straight over the pixel of the line. Where a distance was measured with one of the two
    lines only, that one counts alone; where with neither, the last value measured is held,
    and the history says for which share of the matrix.

    Examples
    --------
    >>> grid = [364.0, 365.0, 366.0]
    >>> lines = xr.DataArray([[1.0, 0.0, 0.002], [0.001, 1.0, 0.001], [0.002, 0.0, 1.0]],
    ...                      {"excitation": grid, "wavelength": grid}, ("excitation", "wavelength"))
    >>> matrix = stray_light_matrix(lines, in_band=0)
    >>> np.round(np.linalg.inv(matrix.values) - np.eye(3), 12).tolist()
    [[0.0, 0.001, 0.002], [0.0, 0.0, 0.0], [0.002, 0.001, 0.0]]
    """
    if "excitation" not in line_spread.coords or not {"excitation", "wavelength"} <= set(line_spread.dims):
        raise GridError(
            "line-spread functions have dimensions excitation and wavelength, with their values [nm]"
        )
    lines = line_spread.transpose(..., "excitation", "wavelength").sortby("excitation")
    grid, excitation = (lines.coords[n].values.astype(float) for n in ("wavelength", "excitation"))
    if excitation.size == 0 or (np.diff(excitation) == 0).any() or not np.isfinite(excitation).all():
        raise GridError("line-spread functions have one finite excitation each, and none of them twice")
    if excitation[0] < grid[0] or excitation[-1] > grid[-1]:
        raise RangeError(
            f"the lines lie at {excitation[0]:g}–{excitation[-1]:g} nm, "
            f"the pixels at {grid[0]:g}–{grid[-1]:g} nm"
        )
    if in_band < 0:
        raise RangeError(f"in band are 0 or more pixels on either side of a line, not {in_band}")
    if 2 * in_band + 1 >= grid.size:
        raise RangeError(
            f"{in_band} pixels in band on either side of a line leave none of {grid.size} beside it, and "
            "stray light is what falls there: state how wide a line is, no more"
        )
    places = np.interp(excitation, grid, np.arange(grid.size))
    shares = _shares(lines.values.astype(float), places, excitation, in_band)
    matrix = np.empty((*shares.shape[:-2], grid.size, grid.size))
    held = 0.0
    for index in np.ndindex(shares.shape[:-2]):
        spread, held = _distribution(shares[index], places, in_band)
        matrix[index] = np.linalg.inv(spread + np.eye(grid.size))
    names = lines.dims[:-2]
    result = xr.DataArray(
        matrix,
        {**{n: lines.coords[n] for n in names if n in lines.coords}, "wavelength": grid, "excitation": grid},
        (*names, "wavelength", "excitation"),
        attrs={"long_name": "stray-light correction"},
    )
    for name in ("wavelength", "excitation"):
        result.coords[name].attrs["units"] = "nm"
    beyond = f", {held:.1%} of it held at the last value measured" if held else ""
    return noted(
        result,
        f"stray-light matrix from {excitation.size} lines at {excitation[0]:g}–{excitation[-1]:g} nm, "
        f"in band {in_band} pixels on either side{beyond}",
    )


def _shares(values: Vector, places: Vector, excitation: Vector, in_band: int) -> Vector:
    """Line-spread functions over their sums in band; a line that is none is refused."""
    if not np.isfinite(values).all():
        raise RangeError(
            "a line-spread function has values that are not finite: merge exposures, so that neither the "
            "line is saturated nor its wings are lost"
        )
    inside = np.abs(np.arange(values.shape[-1]) - places[:, None]) < in_band + 0.5
    in_line = np.where(inside, values, 0.0).sum(axis=-1)
    highest = np.argmax(values, axis=-1)
    off = (np.abs(highest - places) > in_band + 0.5) | (in_line <= 0)
    beside = np.where(inside, 0.0, np.abs(values)).sum(axis=-1)
    for wrong, said in (
        (off, f"has its maximum more than {in_band} pixels away: check its excitation"),
        (
            beside >= in_line,
            "has as much light beside its band as in it: widen in_band, or subtract the dark",
        ),
    ):
        if wrong.any():
            which = int(np.argmax(wrong.reshape(-1, excitation.size).any(axis=0)))
            raise RangeError(f"the line at {excitation[which]:g} nm {said}")
    return np.asarray(values / in_line[..., None])


def _distribution(shares: Vector, places: Vector, in_band: int) -> tuple[Vector, float]:
    """The matrix D (pixel, column), and which share of it no line has measured."""
    pixels = np.arange(shares.shape[-1])
    above = np.clip(np.searchsorted(places, pixels), 0, places.size - 1)
    below = np.maximum(above - 1, 0)
    spread = np.empty((pixels.size, pixels.size))
    unmeasured = 0
    for column in pixels:
        a, b = int(below[column]), int(above[column])
        way = np.clip((column - places[a]) / (places[b] - places[a]), 0, 1) if a != b else 0.0
        sums, weight, plain = np.zeros(pixels.size), np.zeros(pixels.size), np.zeros(pixels.size)
        for line, share in ((a, 1 - way), (b, way)):
            at = places[line] + pixels - column
            found = np.interp(at, pixels, shares[line])
            counts = ((at >= 0) & (at <= pixels[-1])) * max(share, _LEAST)
            sums, weight, plain = sums + counts * found, weight + counts, plain + share * found
        known = weight > 0
        spread[:, column] = np.where(known, sums / np.where(known, weight, 1.0), plain)
        unmeasured += int((~known).sum())
    spread[np.abs(pixels[:, None] - pixels) <= in_band] = 0.0
    return spread, unmeasured / pixels.size**2


@declares(signal="*", matrix="1")
def correct_stray_light(
    signal: xr.DataArray, matrix: xr.DataArray, limit: float | None = None, tolerance: float = 0.01
) -> xr.DataArray:
    """Take stray light out of a signal.

    Parameters
    ----------
    signal : xarray.DataArray (..., wavelength)
        Signal [s-1], or counts [1], linear and without the dark.
    matrix : xarray.DataArray (..., wavelength, excitation)
        Correction matrix [1] from `stray_light_matrix`, on the same grid.
    limit : float, optional
        The most that a pixel that is not valid can have received, in the unit of the signal.
    tolerance : float
        With a limit: which share of a pixel's result may hang on pixels that are not valid [1].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The signal without stray light, in the unit given.

    Raises
    ------
    RangeError
        If limit or tolerance is not above 0.
    GridError, UnitsError
        If the grids differ, or the signal has already been divided by the responsivity.

    Notes
    -----
    One matrix product, after Zong et al., Appl. Opt. 45 (2006) 1111. Every pixel depends on
    every other: a pixel that is not valid (NaN) throws an unknown amount of light on all, and
    without a limit the whole spectrum becomes NaN. With a limit, whatever the pixel may have
    received up to it is taken away from the others where that leaves less light, and nothing
    is added: no light is left that is not there. Results that hang on it by more than the
    tolerance become NaN, and so does the pixel itself.

    The same correction belongs on the signal of the standard lamp.

    Examples
    --------
    >>> grid = [364.0, 365.0, 366.0]
    >>> lines = xr.DataArray(np.eye(3) + 0.001 * (1 - np.eye(3)),
    ...                      {"excitation": grid, "wavelength": grid}, ("excitation", "wavelength"))
    >>> measured = xr.DataArray([2.0, 1000.0, 2.0], {"wavelength": grid}, "wavelength")
    >>> correct_stray_light(measured, stray_light_matrix(lines, in_band=0)).values.round(2).tolist()
    [1.0, 1000.0, 1.0]
    """
    unit = str(signal.attrs.get("units", "s-1"))
    if unit not in ("1", "s-1"):
        raise UnitsError(
            f"stray light is taken out of counts or of a signal [s-1], not of values in {quote(unit)}: "
            "correct it before the responsivity is applied"
        )
    if not {"wavelength", "excitation"} <= set(matrix.dims) or not np.array_equal(
        matrix["wavelength"].values, matrix["excitation"].values
    ):
        raise GridError("a stray-light matrix has the same grid along wavelength and along excitation")
    if (limit is not None and not limit > 0) or not tolerance > 0:
        raise RangeError(f"a limit and a tolerance are above 0, not {limit} and {tolerance}")
    pixels = signal.rename(wavelength="excitation").drop_vars("excitation")
    plain = matrix.drop_vars([n for n in matrix.coords if n == "excitation" or n not in matrix.dims])
    result = xr.apply_ufunc(
        _product,
        pixels,
        plain,
        input_core_dims=[["excitation"], ["wavelength", "excitation"]],
        output_core_dims=[["wavelength"]],
        kwargs={"limit": limit, "tolerance": tolerance},
    )
    result = result.assign_coords(wavelength=signal.coords["wavelength"]).transpose(*signal.dims, ...)
    invalid = int(signal.isnull().sum())
    said = ""
    if invalid:
        said = f"; {invalid} of {signal.size} values were not valid, and so is every one that " + (
            "depends on them" if limit is None else f"may hang on them by {tolerance:.1%}, at {limit:g} each"
        )
    origin = matrix.attrs.get("history", "a matrix that says nothing of itself")
    return noted(
        result.rename(signal.name).assign_attrs(signal.attrs),
        f"corrected for stray light ({origin}){said}",
    )


def _product(values: Any, matrix: Any, limit: float | None, tolerance: float) -> Any:
    """Matrix (..., wavelength, excitation) times values (..., excitation)."""
    invalid = np.isnan(values)
    if limit is None or not invalid.any():
        with np.errstate(invalid="ignore"):  # NaN is the answer
            return _times(matrix, values)
    columns = np.flatnonzero(invalid.any(axis=tuple(range(invalid.ndim - 1))))
    cast = matrix[..., columns]
    most = np.where(invalid[..., columns], limit, 0.0)
    corrected = _times(matrix, np.where(invalid, 0.0, values)) + _times(np.minimum(cast, 0), most)
    unknown = _times(np.abs(cast), most)
    return np.where(invalid | (unknown > tolerance * np.abs(corrected)), np.nan, corrected)


def _times(matrix: Any, values: Any) -> Any:
    return values @ matrix.T if matrix.ndim == 2 else (matrix @ values[..., None])[..., 0]
