"""From one wavelength grid to another: by a rule with a name, and never beyond the ends."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.errors import GridError, RangeError, quote
from spectralbench.model import COORDINATES, noted
from spectralbench.units import declares

Vector = NDArray[np.float64]

_RULES = {
    "linear": "straight lines",
    "logarithmic": "straight lines of the logarithm, of the value where it is not positive",
    "cubic": "cubic spline, not-a-knot",
    "sprague": "Sprague's polynomials of the fifth degree, CIE 167:2005",
}
_ROUNDING = 1e-9  # nm; a limit that was converted from another unit still is that limit
_EVEN = 1e-6  # how far steps of an even grid may differ, relatively

# Sprague's polynomial on six samples: weights for each power of the way between the middle two.
_SPRAGUE = (
    np.array(
        [
            [0, 0, 24, 0, 0, 0],
            [2, -16, 0, 16, -2, 0],
            [-1, 16, -30, 16, -1, 0],
            [-9, 39, -70, 66, -33, 7],
            [13, -64, 126, -124, 61, -12],
            [-5, 25, -50, 50, -25, 5],
        ]
    )
    / 24
)
# Two samples before the first one, from the first six; mirrored, they follow the last.
_BEFORE = np.array([[884, -1960, 3033, -2648, 1080, -180], [508, -540, 488, -367, 144, -24]]) / 209


@declares(spectrum="*", wavelength="nm", own_grid=("wavelength",))
def interpolate(spectrum: xr.DataArray, wavelength: ArrayLike, rule: str = "linear") -> xr.DataArray:
    """Interpolate a spectrum to another wavelength grid.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectra [any unit].
    wavelength : array_like (wavelength,)
        Where values are wanted, ascending [nm].
    rule : str
        ``"linear"``, ``"logarithmic"`` (what falls over decades), ``"cubic"`` (a smooth curve)
        or ``"sprague"`` (a smooth curve on an even grid).

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Values there, in the unit given. A sample that is NaN makes NaN what lies between it
        and its neighbours, and with Sprague's rule all that its polynomials reach; splines
        run through each stretch between such samples by itself, and through none of fewer
        than four.

    Raises
    ------
    RangeError
        If a wavelength lies outside the spectrum, or there is no such rule.
    GridError
        If the wavelengths are not ascending, there are too few samples for the rule, or an
        even grid is needed and there is none.

    Notes
    -----
    Sprague's rule after CIE 167:2005, with its samples beyond the ends. A cubic spline or a
    polynomial may swing below zero beside a line, straight lines do not. No rule sees a line
    that falls between the samples, and a coarser grid loses lines: reduce to bands first.

    Examples
    --------
    >>> spectrum = xr.DataArray([1.0, 100.0], {"wavelength": [300.0, 310.0]}, "wavelength")
    >>> interpolate(spectrum, [305.0]).item()
    50.5
    >>> round(interpolate(spectrum, [305.0], "logarithmic").item(), 9)
    10.0
    """
    if rule not in _RULES:
        raise RangeError(f"there is no rule {quote(rule)}; there are {', '.join(_RULES)}")
    if "wavelength" not in spectrum.dims:
        raise GridError(f"a spectrum has a dimension wavelength; there is {spectrum.dims}")
    grid = spectrum.coords["wavelength"].values.astype(float)
    at = np.atleast_1d(np.asarray(wavelength, dtype=float))
    if at.ndim != 1 or at.size == 0 or not np.isfinite(at).all() or (np.diff(at) <= 0).any():
        raise GridError("the wavelengths wanted are finite and ascending, one or more")
    if at[0] < grid[0] - _ROUNDING or at[-1] > grid[-1] + _ROUNDING:
        raise RangeError(
            f"the spectrum covers {grid[0]:g}–{grid[-1]:g} nm, not {at[0]:g}–{at[-1]:g} nm: "
            "nothing is extrapolated"
        )
    fewest = {"cubic": 4, "sprague": 6}.get(rule, 2)
    if grid.size < fewest:
        raise GridError(f"the rule {rule} needs {fewest} samples or more; there are {grid.size}")
    last = spectrum.transpose(..., "wavelength")
    values, inside = last.values.astype(float), np.clip(at, grid[0], grid[-1])
    if rule == "cubic":
        found = _spline(values, grid, inside)
    elif rule == "sprague":
        found = _sprague(values, grid, inside)
    else:
        found = _straight(values, grid, inside, rule == "logarithmic")
    sample = np.searchsorted(grid, inside)
    exact = grid[sample] == inside  # a sample stands for itself, whatever is beside it
    found[..., exact] = values[..., sample[exact]]
    kept = {name: c for name, c in last.coords.items() if "wavelength" not in c.dims}
    along = xr.Variable("wavelength", at, COORDINATES["wavelength"]._asdict())
    result = xr.DataArray(
        found, {**kept, "wavelength": along}, last.dims, spectrum.name, spectrum.attrs
    ).transpose(*spectrum.dims)
    return noted(
        result,
        f"interpolated from {grid.size} samples to {at.size} at {at[0]:g}–{at[-1]:g} nm by the rule {rule} "
        f"({_RULES[rule]})",
    )


def _cells(grid: Vector, at: Vector) -> tuple[NDArray[np.intp], Vector]:
    """The sample below each wavelength, and the share of the way to the next."""
    cell = np.clip(np.searchsorted(grid, at, side="right") - 1, 0, grid.size - 2)
    return cell, (at - grid[cell]) / (grid[cell + 1] - grid[cell])


def _straight(values: Any, grid: Vector, at: Vector, logarithmic: bool) -> Any:
    cell, way = _cells(grid, at)
    below, above = values.take(cell, axis=-1), values.take(cell + 1, axis=-1)
    between = below + (above - below) * way
    if logarithmic:
        with np.errstate(invalid="ignore", divide="ignore"):
            curved = np.exp(np.log(below) * (1 - way) + np.log(above) * way)
            between = np.where((below > 0) & (above > 0), curved, between)
    return between


def _spline(values: Any, grid: Vector, at: Vector) -> Any:
    from scipy.interpolate import CubicSpline

    rows = values.reshape(-1, grid.size)
    found = np.full((rows.shape[0], at.size), np.nan)
    finite = np.isfinite(rows)
    if finite.all():
        return CubicSpline(grid, values, axis=-1)(at)
    patterns, which = finite[:1], np.zeros(rows.shape[0], dtype=int)
    if (finite != finite[0]).any():
        patterns, which = np.unique(finite, axis=0, return_inverse=True)
    for number, valid in enumerate(patterns):
        own = np.flatnonzero(which.ravel() == number)
        edges = np.flatnonzero(np.diff(np.concatenate(([False], valid, [False])).astype(int)))
        for first, stop in edges.reshape(-1, 2):
            wanted = np.flatnonzero((at >= grid[first]) & (at <= grid[stop - 1]))
            if stop - first >= 4 and wanted.size:
                spline = CubicSpline(grid[first:stop], rows[own, first:stop], axis=1)
                found[np.ix_(own, wanted)] = spline(at[wanted])
    return found.reshape(*values.shape[:-1], at.size)


def _sprague(values: Any, grid: Vector, at: Vector) -> Any:
    steps = np.diff(grid)
    if not np.allclose(steps, steps.mean(), rtol=_EVEN, atol=0):
        raise GridError(
            f"Sprague's rule needs an even grid; the steps run from {steps.min():g} to {steps.max():g} nm. "
            "Use the rule cubic"
        )
    before = values[..., :6] @ _BEFORE.T
    after = values[..., -1:-7:-1] @ _BEFORE.T
    longer = np.concatenate([before, values, after[..., ::-1]], axis=-1)
    cell, way = _cells(grid, at)
    powers = way[:, None] ** np.arange(6) @ _SPRAGUE
    return sum(powers[:, k] * longer[..., cell + k] for k in range(6))
