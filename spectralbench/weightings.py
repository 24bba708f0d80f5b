"""Everything that turns a spectrum into a number is a weighting.

A band, a hazard function, a radiometer's response, counting photons: each becomes a vector of
weights on the wavelength grid, and one matrix product applies any number of them to any
number of spectra.

A spectrum is taken as straight lines between its samples, and so is a weighting curve (or as
straight lines of its logarithm, if the curve says so). Their product is taken as straight
between all points of both, and the band cuts it wherever its limits fall. So bands add up
exactly, a band edge inside a cell, or a band narrower than one, costs nothing in accuracy; a
curve that is finer than the spectrum is seen in full; and over the spectrum's own samples the
result is the textbook sum, to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.constants import MICROMOLES_PER_JOULE_NANOMETRE
from spectralbench.errors import GridError, RangeError, quote
from spectralbench.units import ascending

Vector = NDArray[np.float64]

_ROWS = 64  # spectra that are converted at a time: they stay in the processor's cache
_LONGEST_WAVELENGTH = 1e7  # nm; where the straight line of photon counting ends


@dataclass(frozen=True)
class Curve:
    """A weighting curve; zero outside its own range.

    Parameters
    ----------
    wavelength : numpy.ndarray (n,)
        Ascending wavelengths [nm].
    values : numpy.ndarray (n,)
        Values there.
    logarithmic : bool
        Whether the logarithm runs straight between points, rather than the value. Where one
        of two neighbours is not positive, the value does.
    """

    wavelength: Vector
    values: Vector
    logarithmic: bool = False

    @classmethod
    def of(cls, array: xr.DataArray) -> Curve:
        """Take a curve from an array with a wavelength dimension.

        Parameters
        ----------
        array : xarray.DataArray (wavelength,)
            The curve; ``attrs["interpolation"]`` may say ``"logarithmic"``.

        Returns
        -------
        Curve
            The curve.

        Raises
        ------
        GridError
            If the array has other dimensions, values that are not finite, or a disordered grid.
        RangeError
            If the rule of interpolation is neither linear nor logarithmic.

        Examples
        --------
        >>> Curve.of(xr.DataArray([0.0, 1.0], {"wavelength": [300, 400]}, "wavelength"))(350.0)
        array(0.5)
        """
        array = ascending(array, "weighting")
        if array.dims != ("wavelength",):
            raise GridError(f"a weighting has the one dimension wavelength, not {array.dims}")
        rule = array.attrs.get("interpolation", "linear")
        if rule not in ("linear", "logarithmic"):
            raise RangeError(f"an interpolation is linear or logarithmic, not {quote(rule)}")
        values = np.asarray(array.values, dtype=float)
        if not np.isfinite(values).all():
            raise GridError("a weighting has only finite values; fill or cut its gaps first")
        grid = np.asarray(array.coords["wavelength"].values, dtype=float)
        return cls(grid, values, rule == "logarithmic")

    @property
    def nodes(self) -> Vector:
        """Where a spectrum has to be looked at for the curve's sake (m,) [nm].

        Its own points; where it bends between them, every nanometre as well.
        """
        if not self.logarithmic:
            return self.wavelength
        first, last = np.ceil(self.wavelength[0]), self.wavelength[-1]
        return np.union1d(self.wavelength, np.arange(first, last, max(1.0, (last - first) / 1e4)))

    def __call__(self, wavelength: Any) -> Vector:
        """Values of the curve at wavelengths (...) [nm]."""
        at = np.asarray(wavelength, dtype=float)
        straight = np.interp(at, self.wavelength, self.values, left=0.0, right=0.0)
        if not self.logarithmic:
            return np.asarray(straight)
        with np.errstate(divide="ignore", invalid="ignore"):
            curved = np.exp(np.interp(at, self.wavelength, np.log(self.values)))
        inside = (at >= self.wavelength[0]) & (at <= self.wavelength[-1])
        usable = inside & np.isfinite(curved) & (curved > 0)
        return np.asarray(np.where(usable, curved, straight))


PHOTONS = Curve(
    np.array([0.0, _LONGEST_WAVELENGTH]),
    np.array([0.0, _LONGEST_WAVELENGTH * MICROMOLES_PER_JOULE_NANOMETRE]),
)
"""Photon counting [µmol J-1]: a straight line through zero."""


def weights(
    grid: Vector,
    low: float = -np.inf,
    high: float = np.inf,
    curve: Curve | None = None,
) -> Vector:
    """Weights on a grid for one weighting.

    Parameters
    ----------
    grid : numpy.ndarray (wavelength,)
        Ascending wavelengths [nm].
    low, high : float
        Limits of the band [nm].
    curve : Curve, optional
        What to weigh with inside the limits; without it, 1.

    Returns
    -------
    numpy.ndarray (wavelength,)
        Weights [nm, times the unit of the curve], such that their product with a spectrum is
        the integral of spectrum times weighting.

    Raises
    ------
    RangeError
        If the limits are not in order, or the grid covers nothing of the band or the curve.

    Examples
    --------
    >>> weights(np.array([300.0, 310.0, 320.0]), 305.0, 320.0).tolist()
    [1.25, 8.75, 5.0]
    """
    start, stop = _within(grid, low, high)
    if curve is None:
        return _areas(grid, start, stop)
    first, last = max(grid[0], curve.wavelength[0]), min(grid[-1], curve.wavelength[-1])
    start, stop = max(start, first), min(stop, last)
    if not start < stop:
        raise RangeError(
            f"the weighting covers {curve.wavelength[0]:g}–{curve.wavelength[-1]:g} nm, and nothing of that "
            f"lies in the spectrum, which covers {grid[0]:g}–{grid[-1]:g} nm, and in the band"
        )
    nodes = np.union1d(grid, curve.nodes)
    nodes = nodes[(nodes >= first) & (nodes <= last)]
    return _spread(_areas(nodes, start, stop) * curve(nodes), nodes, grid)


def moments(grid: Vector, low: float, high: float) -> Vector:
    """Weights for the area under a spectrum between two limits, and for its first moment.

    Parameters
    ----------
    grid : numpy.ndarray (wavelength,)
        Ascending wavelengths [nm].
    low, high : float
        Limits of the band [nm].

    Returns
    -------
    numpy.ndarray (wavelength, 2)
        Weights [nm] and [nm2]. The moment takes the limits as points of their own, so that
        the centroid of a positive spectrum lies between them however coarse the grid is.

    Raises
    ------
    RangeError
        If the limits are not in order, or the grid covers nothing of the band.

    Examples
    --------
    >>> moments(np.array([300.0, 310.0]), 300.0, 310.0).tolist()
    [[5.0, 1500.0], [5.0, 1550.0]]
    """
    points, amounts = _trapezoid(grid, *_within(grid, low, high))
    return np.stack([_spread(amounts, points, grid), _spread(amounts * points, points, grid)], axis=1)


def _within(grid: Vector, low: float, high: float) -> tuple[float, float]:
    """The part of a band that a grid covers."""
    if not low < high:
        raise RangeError(f"a band runs from a shorter to a longer wavelength, not {low:g} to {high:g} nm")
    if grid.size < 2:
        raise GridError(f"a band needs a spectrum of at least 2 wavelengths, not {grid.size}")
    start, stop = max(low, grid[0]), min(high, grid[-1])
    if not start < stop:
        raise RangeError(
            f"the band {low:g}–{high:g} nm lies outside the spectrum, which covers "
            f"{grid[0]:g}–{grid[-1]:g} nm"
        )
    return start, stop


def _trapezoid(nodes: Vector, start: float, stop: float) -> tuple[Vector, Vector]:
    """Points of the trapezoidal rule between two limits, and the width that each stands for."""
    inner = nodes[(nodes > start) & (nodes < stop)]
    points = np.concatenate(([start], inner, [stop]))
    steps = np.diff(points)
    return points, (np.append(steps, 0.0) + np.insert(steps, 0, 0.0)) / 2


def _areas(nodes: Vector, start: float, stop: float) -> Vector:
    """Weights (node,) whose product with values is the area under straight lines between them."""
    points, amounts = _trapezoid(nodes, start, stop)
    return _spread(amounts, points, nodes)


def _spread(amounts: Vector, points: Vector, grid: Vector) -> Vector:
    """Share amounts (point,) between the two neighbours of each point on the grid."""
    cell = np.clip(np.searchsorted(grid, points, side="right") - 1, 0, grid.size - 2)
    share = (points - grid[cell]) / (grid[cell + 1] - grid[cell])
    below = np.bincount(cell, amounts * (1 - share), grid.size)
    return np.asarray(below + np.bincount(cell + 1, amounts * share, grid.size), dtype=float)


def apply(spectra: NDArray[Any], vectors: Vector) -> Vector:
    """Apply weights to spectra: one matrix product.

    Parameters
    ----------
    spectra : numpy.ndarray (..., wavelength)
        Any number of spectra. NaN marks a sample that is not valid.
    vectors : numpy.ndarray (wavelength,) or (wavelength, weighting)
        Weights from `weights`.

    Returns
    -------
    numpy.ndarray (...) or (..., weighting)
        Weighted sums. A sum is NaN if, and only if, a sample with a weight is NaN: a bad
        sample outside a band does no harm to the band.

    Examples
    --------
    >>> apply(np.array([[1.0, 1.0, np.nan]]), np.array([5.0, 5.0, 0.0])).tolist()
    [10.0]
    """
    matrix = vectors if vectors.ndim == 2 else vectors[:, None]
    used = np.flatnonzero((matrix != 0).any(axis=1))
    if used.size == 0:
        sums = np.zeros((*spectra.shape[:-1], matrix.shape[1]))
        return sums if vectors.ndim == 2 else sums[..., 0]
    window = slice(int(used[0]), int(used[-1]) + 1)
    seen, matrix = spectra[..., window], matrix[window]
    with np.errstate(invalid="ignore"):  # a sample that is not finite is looked at below
        if seen.dtype != float:  # piece by piece, so that no second copy of all spectra is made
            rows = seen.reshape(-1, seen.shape[-1])
            sums = np.empty((len(rows), matrix.shape[1]))
            for i in range(0, len(rows), _ROWS):
                sums[i : i + _ROWS] = rows[i : i + _ROWS].astype(float) @ matrix
            sums = sums.reshape(*seen.shape[:-1], matrix.shape[1])
        elif vectors.ndim == 1:  # a matrix-vector product reads the spectra once
            sums = np.asarray(seen @ matrix[:, 0], dtype=float)[..., None]
        else:
            sums = np.asarray(seen @ matrix, dtype=float)
    bad = ~np.isfinite(sums).all(axis=-1)
    if bad.any():
        rows = np.asarray(seen[bad], dtype=float)
        for k in range(matrix.shape[1]):
            weighted = matrix[:, k] != 0
            sums[bad, k] = rows[:, weighted] @ matrix[weighted, k]
    return sums if vectors.ndim == 2 else sums[..., 0]


def integrate(spectrum: xr.DataArray, vectors: Vector) -> xr.DataArray:
    """Apply weights to a labelled array and keep every other dimension.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        The spectra, on an ascending grid.
    vectors : numpy.ndarray (wavelength,) or (wavelength, weighting)
        Weights from `weights`.

    Returns
    -------
    xarray.DataArray (...) or (weighting, ...)
        Weighted sums, without units; the caller stamps them.

    Examples
    --------
    >>> e = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 310.0]}, "wavelength")
    >>> float(integrate(e, weights(e.wavelength.values)))
    10.0
    """
    last = spectrum.transpose(..., "wavelength")
    kept = last.isel(wavelength=0, drop=True)
    sums = apply(last.data, vectors)
    if vectors.ndim == 1:
        result = kept.copy(data=sums)
    else:
        result = kept.expand_dims(weighting=vectors.shape[1]).copy(data=np.moveaxis(sums, -1, 0))
    result.name = None
    result.attrs = {}
    return result


def covered(grid: Vector, low: float, high: float) -> str:
    """Say which part of a band a grid covers.

    Parameters
    ----------
    grid : numpy.ndarray (wavelength,)
        Ascending wavelengths [nm].
    low, high : float
        Limits of the band [nm].

    Returns
    -------
    str
        Empty if the whole band is covered; otherwise a sentence for a person.

    Examples
    --------
    >>> covered(np.array([380.0, 780.0]), 315.0, 400.0)
    'measured only over 380–400 nm of the band 315–400 nm'
    """
    low, high = (low if low > -np.inf else grid[0]), (high if high < np.inf else grid[-1])
    rounding = 1e-9 * high
    if grid[0] <= low + rounding and high - rounding <= grid[-1]:
        return ""
    if high <= grid[0] or low >= grid[-1]:
        return f"nothing was measured of the band {low:g}–{high:g} nm"
    return (
        f"measured only over {max(low, grid[0]):g}–{min(high, grid[-1]):g} nm of the band {low:g}–{high:g} nm"
    )
