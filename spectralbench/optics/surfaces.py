"""Surfaces between media: what they reflect, and the light that goes to and fro between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import RangeError

Spectral = xr.DataArray | float
Values = NDArray[Any]


def require_indices(*indices: Spectral) -> None:
    """Refuse a refractive index that is none.

    Parameters
    ----------
    *indices : xarray.DataArray (...) or float
        Refractive indices [1].

    Raises
    ------
    RangeError
        If one is not a finite number above 0.

    Examples
    --------
    >>> require_indices(1.0, 1.5)
    """
    for index in indices:
        values = np.asarray(index, dtype=float)
        wrong = values[~((values > 0) & np.isfinite(values))]
        if wrong.size:
            raise RangeError(f"a refractive index is above 0, not {wrong[0]:g}")


def require_shares(internal: Spectral) -> None:
    """Refuse an internal transmittance that no bulk can have; NaN passes.

    Parameters
    ----------
    internal : xarray.DataArray (...) or float
        Internal transmittance [1].

    Raises
    ------
    RangeError
        If one lies outside 0–1.

    Examples
    --------
    >>> require_shares(0.9)
    """
    values = np.asarray(internal, dtype=float)
    wrong = values[(values < 0) | (values > 1)]
    if wrong.size:
        worst = wrong[np.abs(wrong - 0.5).argmax()]
        raise RangeError(f"an internal transmittance lies in 0–1, not at {worst:g}")


def require_tilt(tilt: Spectral) -> None:
    """Refuse an angle at which light does not arrive.

    Parameters
    ----------
    tilt : xarray.DataArray (...) or float
        Angle to the normal [deg].

    Raises
    ------
    RangeError
        If one is negative, or 90 degrees and more.

    Examples
    --------
    >>> require_tilt(45.0)
    """
    values = np.asarray(tilt, dtype=float)
    wrong = values[~((values >= 0) & (values < 90))]
    if wrong.size:
        raise RangeError(
            f"a tilt lies between 0° (light along the normal) and 90° (not reached), not at {wrong[0]:g}°"
        )


def normal_reflectance(index: Spectral, other: Spectral) -> xr.DataArray:
    """Reflectance of one surface at normal incidence.

    Parameters
    ----------
    index, other : xarray.DataArray (...) or float
        Refractive indices on its two sides [1].

    Returns
    -------
    xarray.DataArray (...)
        Reflectance [1].

    Notes
    -----
    Born & Wolf, Principles of Optics, 7th ed., 1.5.3.

    Examples
    --------
    >>> round(float(normal_reflectance(1.0, 1.5)), 12)
    0.04
    """
    first, second = xr.DataArray(index), xr.DataArray(other)
    return ((first - second) / (first + second)) ** 2


def shares(
    bulks: Sequence[Values], media: Sequence[Values], tilt: Values
) -> tuple[Values, Values, list[Values]]:
    """What becomes of light that falls on layers: passed, reflected, absorbed in each.

    Parameters
    ----------
    bulks : sequence of numpy.ndarray (...)
        Internal transmittance of each layer at normal incidence [1].
    media : sequence of numpy.ndarray (...)
        Refractive indices [1]: of what lies before, of each layer, of what lies behind.
    tilt : numpy.ndarray (...)
        Angle to the normal in the medium before [deg].

    Returns
    -------
    transmittance, reflectance : numpy.ndarray (...)
        Shares of the light that falls on the first surface [1].
    absorbed : list of numpy.ndarray (...)
        The share that stays in each layer [1].

    Notes
    -----
    From the last surface forwards, what lies behind a surface counts as one mirror; then the
    light is followed from the first surface on. All terms are positive, so nothing cancels,
    however opaque a layer is. Light that is reflected totally reaches nothing behind.

    Examples
    --------
    >>> clear, air, glass, upright = (np.array(value) for value in (1.0, 1.0, 1.5, 0.0))
    >>> passed, reflected, absorbed = shares([clear], [air, glass, air], upright)
    >>> round(float(passed), 10), round(float(reflected), 10), float(absorbed[0])
    (0.9230769231, 0.0769230769, 0.0)
    """
    cosines = _cosines(media, tilt)
    passing = [
        np.where(cosine > 0, bulk ** (1 / np.where(cosine > 0, cosine, 1)), 0.0)
        for bulk, cosine in zip(bulks, cosines[1:-1], strict=True)
    ]
    along = _one_polarisation(passing, _fresnel(media, cosines, across=False))
    if not tilt.any():  # then both are the same
        return along
    across = _one_polarisation(passing, _fresnel(media, cosines, across=True))
    absorbed = [(one + other) / 2 for one, other in zip(along[2], across[2], strict=True)]
    return (along[0] + across[0]) / 2, (along[1] + across[1]) / 2, absorbed


def _cosines(media: Sequence[Values], tilt: Values) -> list[Values]:
    """Snell's law: cosine of the angle in each medium; 0 in one that the light does not reach."""
    sine = media[0] * np.sin(np.deg2rad(tilt))
    reached: Any = True
    cosines = []
    for index in media:
        reached = reached & (index > sine)
        cosines.append(np.sqrt(np.where(reached, 1 - (sine / index) ** 2, 0.0)))
    return cosines


def _fresnel(media: Sequence[Values], cosines: Sequence[Values], across: bool) -> list[Values]:
    """Reflectance of each surface for a field along it (s) or across (p); 1 if nothing can lie behind."""
    reflectances = []
    for i in range(len(media) - 1):
        here, there = (i, i + 1) if not across else (i + 1, i)
        first, second = media[here] * cosines[i], media[there] * cosines[i + 1]
        behind = cosines[i + 1] > 0
        amplitude = (first - second) / np.where(behind, first + second, 1)
        reflectances.append(np.where(behind, amplitude**2, 1.0))
    return reflectances


def _one_polarisation(
    passing: Sequence[Values], surfaces: Sequence[Values]
) -> tuple[Values, Values, list[Values]]:
    mirrors = [surfaces[-1]]
    for surface, passed in zip(surfaces[-2::-1], passing[::-1], strict=True):
        back = passed**2 * mirrors[0]
        mirrors.insert(0, surface + (1 - surface) ** 2 * back / (1 - surface * back))
    arriving: Any = 1.0
    absorbed = []
    for surface, passed, mirror in zip(surfaces[:-1], passing, mirrors[1:], strict=True):
        entering = arriving * (1 - surface) / (1 - surface * passed**2 * mirror)
        absorbed.append(entering * (1 - passed) * (1 + passed * mirror))
        arriving = entering * passed
    return arriving * (1 - surfaces[-1]), mirrors[0], absorbed
