"""Noise of a detector: how far counts scatter from scan to scan, as a function of their level."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import RangeError
from spectralbench.units import declares

Vector = NDArray[np.float64]

_ROUNDS = 8  # of weighted least squares; the weights settle after three or four
_RARE = 4.75  # normal deviates; a variance so far out comes by chance once in a million pixels


class NoiseModel(NamedTuple):
    """Variance of one scan as a straight line over the counts: a read noise and shot noise."""

    constant: float  # counts²; what is left at 0 counts
    slope: float  # counts² per count: the counts that one electron makes
    pixels: int = 0  # that the model was fitted to; 0 if it was stated

    def variance(self, counts: Vector) -> Vector:
        """Variance of one scan at a level of counts (...) [1].

        Examples
        --------
        >>> NoiseModel(100.0, 0.5).variance(np.array([0.0, 1000.0])).tolist()
        [100.0, 600.0]
        """
        return np.asarray(np.maximum(self.constant + self.slope * counts, 1 / 12))  # quantisation


def fit_noise(frames: Sequence[xr.DataArray]) -> NoiseModel | None:
    """Fit a noise model to repeated scans.

    Parameters
    ----------
    frames : sequence of xarray.DataArray (spectrum, wavelength)
        Raw counts [1] of steady light or none, several scans of each; NaN where saturated.

    Returns
    -------
    NoiseModel or None
        None if no frame has two scans.

    Raises
    ------
    RangeError
        If no pixel of the repeated scans is valid.

    Notes
    -----
    The mean-variance method (Janesick, Photon Transfer, SPIE 2007, chapter 5): the variance of a
    pixel over the scans rises in a straight line with its counts. What all pixels of a scan
    have in common, the flicker of the source, is taken off first. Sample variances scatter in
    proportion to themselves, so the line is fitted with weights from the line itself.

    Examples
    --------
    >>> random = np.random.default_rng(1)
    >>> level = np.linspace(100.0, 30_000.0, 500)
    >>> scans = level + random.standard_normal((20, 500)) * np.sqrt(100 + 0.5 * level)
    >>> model = fit_noise([xr.DataArray(scans, dims=("spectrum", "wavelength"))])
    >>> round(model.slope, 1)
    0.5
    """
    levels, variances, freedoms = [], [], []
    for frame in frames:
        if frame.sizes.get("spectrum", 1) < 2:
            continue
        scans = frame.transpose("spectrum", ...).values
        mean, variance = scans.mean(axis=0), own_variance(scans)
        valid = np.isfinite(variance)
        levels.append(mean[valid])
        variances.append(variance[valid])
        freedoms.append(np.full(int(valid.sum()), len(scans) - 1.0))
    if not levels:
        return None
    level, variance, freedom = map(np.concatenate, (levels, variances, freedoms))
    if level.size < 2:
        raise RangeError("no pixel of the repeated scans is valid: take them with a shorter integration time")
    constant, slope = _first_guess(level, variance)
    for _ in range(_ROUNDS):
        expected = np.maximum(constant + slope * level, 1 / 12)
        usual = variance < _highest(freedom) * expected
        weight = np.where(usual, freedom / expected**2, 0.0)
        centre = np.average(level, weights=weight)
        width = np.average((level - centre) ** 2, weights=weight)
        rise = np.average((level - centre) * variance, weights=weight)
        slope = max(0.0, float(rise / width)) if width > 0 else 0.0
        constant = float(np.average(variance, weights=weight) - slope * centre)
    return NoiseModel(constant, slope, int(level.size))


@declares(scans="1")
def uncertainty_of_mean(scans: xr.DataArray, model: NoiseModel | None) -> xr.DataArray:
    """Standard uncertainty of the mean of scans, pixel by pixel, without the flicker.

    Parameters
    ----------
    scans : xarray.DataArray ([spectrum,] wavelength)
        Raw counts [1]; NaN where saturated.
    model : NoiseModel or None
        The noise of the detector. Without it, only the scatter of the scans is left.

    Returns
    -------
    xarray.DataArray (wavelength,)
        Standard uncertainty [1]: from the model, but for pixels that scatter far more, such as
        hot ones, which keep their own; 0 where neither is known.

    Examples
    --------
    >>> scans = xr.DataArray([[99.0], [101.0]], {"wavelength": [365.0]}, ("spectrum", "wavelength"))
    >>> uncertainty_of_mean(scans, NoiseModel(0.0, 0.02)).item()
    1.0
    """
    along = scans if "spectrum" in scans.dims else scans.expand_dims("spectrum")
    values = along.transpose("spectrum", ...).values
    count = len(values)
    own = own_variance(values) if count > 1 else np.zeros(values.shape[1:])
    if model is not None:
        expected = model.variance(values.mean(axis=0))
        own = np.where(own > _highest(np.array(count - 1.0)) * expected, own, expected)
    like = along.isel(spectrum=0, drop=True)
    return like.copy(data=np.sqrt(own / count)).drop_attrs(deep=False)


@declares(scans="1", dark="1")
def flicker(scans: xr.DataArray, dark: xr.DataArray, model: NoiseModel | None = None) -> float:
    """How far a source flickers, as a share of its light.

    Parameters
    ----------
    scans : xarray.DataArray ([spectrum,] wavelength)
        Raw counts [1]; NaN where saturated.
    dark : xarray.DataArray (wavelength,)
        Their dark [1].
    model : NoiseModel, optional
        The noise of the detector; what it explains is no flicker.

    Returns
    -------
    float
        Relative standard uncertainty of the mean that all pixels have in common [1]; 0 for a
        single scan, which says nothing about it.

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 366.0]}
    >>> scans = xr.DataArray([[90.0, 180.0], [110.0, 220.0]], grid, ("spectrum", "wavelength"))
    >>> round(flicker(scans, xr.DataArray([0.0, 0.0], grid, "wavelength")), 9)
    0.1
    """
    if scans.sizes.get("spectrum", 1) < 2:
        return 0.0
    values = scans.transpose("spectrum", "wavelength").values
    light = np.nan_to_num(values.mean(axis=0) - dark.values)
    if not (light**2).sum() > 0:
        return 0.0
    strength = np.nan_to_num(values - values.mean(axis=0)) @ light / (light**2).sum()
    variance = float(strength.var(ddof=1))
    if model is not None:
        noise = np.nan_to_num(model.variance(values.mean(axis=0)))
        variance -= float((light**2 * noise).sum() / (light**2).sum() ** 2)
    return float(np.sqrt(max(variance, 0.0) / len(values)))


def _first_guess(level: Vector, variance: Vector) -> tuple[float, float]:
    """A line through the medians of darker and brighter pixels, which hot pixels do not bend."""
    lit = level > (level.min() + level.max()) / 2
    dark, below = np.median(level[~lit]), np.median(variance[~lit])
    if not lit.any():
        return float(below), 0.0
    slope = max(0.0, float((np.median(variance[lit]) - below) / (np.median(level[lit]) - dark)))
    return float(below - slope * dark), slope


def _highest(freedom: Vector) -> Vector:
    """Where a variance of so many degrees of freedom stops being chance (Wilson and Hilferty, 1931)."""
    share = 2 / (9 * np.maximum(freedom, 1.0))
    return np.asarray((1 - share + _RARE * np.sqrt(share)) ** 3)


def own_variance(scans: Vector) -> Vector:
    """Variance of each pixel (wavelength,) once what all have in common is taken off.

    Parameters
    ----------
    scans : numpy.ndarray (spectrum, ...)
        Repeated scans.

    Returns
    -------
    numpy.ndarray (...)
        Variance of one scan, in the square of their unit.

    Examples
    --------
    >>> own_variance(np.array([[1.0, 2.0], [3.0, 4.0]])).shape
    (2,)
    """
    mean = scans.mean(axis=0)
    rest = scans - mean
    light = np.nan_to_num(mean - np.nanmin(mean)) if np.isfinite(mean).any() else np.zeros(mean.shape)
    if (light**2).sum() > 0:
        common = np.nan_to_num(rest) @ light / (light**2).sum()
        rest = rest - np.outer(common, light)
    return np.asarray((rest**2).sum(axis=0) / (len(scans) - 1))
