"""How much light each scan of a frame holds against the others, and how that changes over the series."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.corrections.noise import NoiseModel

Vector = NDArray[np.float64]

ODD = 3.5
"""Robust deviations from the median from which a value is odd (Iglewicz and Hoaglin, 1993)."""

_DEVIATION = 1.4826  # median distances from the median that make the standard deviation of a normal one
_COVERAGE = 0.95


class Levels(NamedTuple):
    """What scans hold, as shares of their median."""

    difference: Vector  # (spectrum,) [1]
    noise: float  # relative standard uncertainty of one scan from noise alone [1]; NaN if not known
    odd: NDArray[np.bool_]  # (spectrum,) neither noise nor the others explain it
    scatter: float  # relative standard deviation of all, the odd ones too, for all make the mean [1]
    drift: float  # change from the first to the last of those not odd, on a straight line [1]
    drift_limit: float  # half of its 95 % coverage interval [1]


def levels_of(light: Vector, counts: Vector, model: NoiseModel | None) -> Levels:
    """Hold the scans of a frame against each other.

    Parameters
    ----------
    light : numpy.ndarray (spectrum, wavelength)
        Counts without the dark [1], of pixels that are valid in all scans.
    counts : numpy.ndarray (wavelength,)
        Their mean with the dark [1].
    model : NoiseModel or None
        The noise of the detector.

    Returns
    -------
    Levels
        Shares of the median of all totals.

    Notes
    -----
    A total has the sum of the variances of its pixels. A scan is odd where it lies 3.5 times as far from
    the median as the larger of what noise explains and the median absolute deviation of all scans, times
    1.4826 (Iglewicz and Hoaglin, How to detect and handle outliers, 1993; NIST/SEMATECH e-Handbook,
    1.3.5.17). Two scans differ from their median alike, and neither is odd. The drift is the slope of a
    least-squares line (JCGM 100:2008, H.3) with Student's t (table G.2).

    Examples
    --------
    >>> found = levels_of(np.array([[90.0], [100.0], [110.0]]), np.array([100.0]), None)
    >>> found.difference.round(3).tolist(), round(found.drift, 3)
    ([-0.1, 0.0, 0.1], 0.2)
    """
    totals = light.sum(axis=1)
    middle = float(np.median(totals))
    noise = np.nan if model is None else float(np.sqrt(model.variance(counts).sum())) / abs(middle)
    difference = totals / middle - 1
    usual = _DEVIATION * float(np.median(np.abs(difference)))
    odd = np.zeros(totals.size, dtype=bool)
    if totals.size > 2:
        odd = np.abs(difference) > ODD * np.fmax(usual, noise)
    rest = difference[~odd]
    scatter = float(difference.std(ddof=1)) if difference.size > 1 else np.nan
    return Levels(difference, noise, odd, scatter, *_drift(np.flatnonzero(~odd), rest, totals.size))


def _drift(places: NDArray[np.intp], values: Vector, count: int) -> tuple[float, float]:
    """Change over a series on a straight line, and half of its coverage interval."""
    from scipy.special import stdtrit

    if values.size < 3:
        return np.nan, np.nan
    centred = places - places.mean()
    width = (centred**2).sum()
    slope = float((centred * values).sum() / width)
    rest = values - values.mean() - slope * centred
    freedom = values.size - 2
    error = np.sqrt((rest**2).sum() / freedom / width)
    return slope * (count - 1), float(stdtrit(freedom, (1 + _COVERAGE) / 2) * error) * (count - 1)
