"""Pixels that do not do what their neighbours do, and how stretches of pixels are told."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from spectralbench.corrections.noise import NoiseModel

Vector = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BESIDE = 3  # neighbours from which a flat top is no single pixel
_FEWEST = 4  # scans from which a pixel that never changes is evident
_BY_CHANCE = 0.01  # pixels of a frame that may look stuck by chance
_CLEAR = 10.0  # times the noise by which the neighbours of a dead pixel are lit
_DEAD = 0.1  # of the darker neighbour; a line of light is wider than one pixel
_NAMED = 4  # stretches that a sentence names; the rest are counted


def stuck(scans: Vector, model: NoiseModel | None) -> Mask:
    """Find pixels that stand at one count in every scan, where noise would have moved them.

    Parameters
    ----------
    scans : numpy.ndarray (spectrum, wavelength)
        Raw counts [1]; NaN where not valid.
    model : NoiseModel or None
        The noise of the detector; without it, nothing is evident.

    Returns
    -------
    numpy.ndarray (wavelength,)
        Whether a pixel is stuck.

    Notes
    -----
    Of a normal distribution of standard deviation σ counts, no whole count has a probability above
    1/(σ √(2π)), so that n scans are alike with at most the (n − 1)th power of that. A pixel is called
    stuck where not one in a hundred frames would hold such a pixel by chance.

    Examples
    --------
    >>> scans = np.array([[99.0, 100.0], [104.0, 100.0], [95.0, 100.0], [101.0, 100.0], [98.0, 100.0]])
    >>> stuck(scans, NoiseModel(16.0, 0.0)).tolist()
    [False, True]
    """
    count, pixels = scans.shape
    if model is None or count < _FEWEST:
        return np.zeros(pixels, dtype=bool)
    deviation = np.sqrt(model.variance(scans.mean(axis=0)))
    alike = np.minimum(1 / (deviation * np.sqrt(2 * np.pi)), 1) ** (count - 1)
    return np.asarray((scans.max(axis=0) == scans.min(axis=0)) & (pixels * alike < _BY_CHANCE))


def clipped(scans: Vector, model: NoiseModel | None) -> Mask:
    """Find neighbouring pixels that all stand at the highest count in every scan.

    Parameters
    ----------
    scans : numpy.ndarray (spectrum, wavelength)
        Raw counts [1]; NaN where not valid.
    model : NoiseModel or None
        The noise of the detector; without it, nothing is evident.

    Returns
    -------
    numpy.ndarray (wavelength,)
        Whether a pixel is clipped.

    Notes
    -----
    The rule of `stuck`, over all scans of three neighbours or more: at the top of a light that moves, not
    one in a hundred frames would show so many alike by chance.

    Examples
    --------
    >>> scans = np.minimum([[40.0, 70.0, 80.0, 65.0], [44.0, 61.0, 90.0, 64.0]], 60.0)
    >>> clipped(scans, NoiseModel(400.0, 0.0)).tolist()
    [False, True, True, True]
    """
    found = np.zeros(scans.shape[1], dtype=bool)
    if model is None or not np.isfinite(scans).any():
        return found
    top = np.nanmax(scans)
    at_top = (scans == top).all(axis=0)
    alike = min(1 / float(np.sqrt(model.variance(np.array(top)) * 2 * np.pi)), 1.0)
    edges = np.flatnonzero(np.diff(at_top, prepend=False, append=False)).reshape(-1, 2)
    for first, stop in edges:
        by_chance = scans.shape[1] * alike ** ((stop - first) * scans.shape[0] - 1)
        if stop - first >= _BESIDE and by_chance < _BY_CHANCE:
            found[first:stop] = True
    return found


def dead(light: Vector, noise: Vector) -> Mask:
    """Find pixels that are dark between two that are lit.

    Parameters
    ----------
    light : numpy.ndarray (wavelength,)
        Counts without the dark [1]; NaN where not valid.
    noise : numpy.ndarray (wavelength,)
        Their standard uncertainty [1].

    Returns
    -------
    numpy.ndarray (wavelength,)
        Whether a pixel is dead.

    Notes
    -----
    Common practice, no source: the bandwidth of a spectrometer covers several pixels, so that no
    light is dark in one alone.

    Examples
    --------
    >>> dead(np.array([900.0, 1000.0, 20.0, 1010.0, 950.0]), np.full(5, 5.0)).tolist()
    [False, False, True, False, False]
    """
    found = np.zeros(light.size, dtype=bool)
    if light.size < 3:
        return found
    darker = np.minimum(light[:-2], light[2:])
    lit = darker > _CLEAR * np.maximum(noise[:-2], noise[2:])
    found[1:-1] = lit & (light[1:-1] < _DEAD * darker)
    return found


def stretches(wavelengths: Vector, marked: Mask) -> list[tuple[float, float, int]]:
    """Gather neighbouring pixels that are marked.

    Parameters
    ----------
    wavelengths : numpy.ndarray (wavelength,)
        Of the pixels [nm].
    marked : numpy.ndarray (wavelength,)
        Which are marked.

    Returns
    -------
    list of (float, float, int)
        First and last wavelength [nm] of each stretch, and its pixels.

    Examples
    --------
    >>> stretches(np.arange(360.0, 366.0), np.array([0, 1, 1, 0, 0, 1], dtype=bool))
    [(361.0, 362.0, 2), (365.0, 365.0, 1)]
    """
    edges = np.flatnonzero(np.diff(marked, prepend=False, append=False)).reshape(-1, 2)
    return [(float(wavelengths[a]), float(wavelengths[b - 1]), int(b - a)) for a, b in edges]


def in_words(wavelengths: Vector, marked: Mask) -> str:
    """Say which pixels are marked.

    Parameters
    ----------
    wavelengths : numpy.ndarray (wavelength,)
        Of the pixels [nm].
    marked : numpy.ndarray (wavelength,)
        Which are marked.

    Returns
    -------
    str
        Empty if none is.

    Examples
    --------
    >>> in_words(np.arange(360.0, 366.0), np.array([0, 1, 1, 0, 0, 1], dtype=bool))
    '3 pixels at 361.0–362.0 nm and 365.0 nm'
    """
    found = stretches(wavelengths, marked)
    if not found:
        return ""
    named = [f"{a:.1f} nm" if n == 1 else f"{a:.1f}–{b:.1f} nm" for a, b, n in found[:_NAMED]]
    if len(found) > _NAMED:
        named.append(f"{len(found) - _NAMED} more stretches")
    places = named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
    count = sum(n for _, _, n in found)
    return f"{count} pixel{'s' * (count > 1)} at {places}"
