"""The invented beams of the demo bench: along their axis, and across it at the part."""

from __future__ import annotations

import numpy as np

from spectralbench.virtual.truth import FINE, Vector, VirtualSource

_SPREAD = 11.0  # mm; radius of the disc whose light the LEDs' beams thin out like
_FLATTER = 3.0  # exponent of the LEDs' profile; that of a Gaussian is 2
_HOT, _HOT_SHARE = 1.5, 0.1  # of an arc's profile: half the width of its hot middle [mm], and its share

BEAM_CENTRE = 0.15
"""Where a scan meets the middle of each beam [mm]."""


def led_beam(source: VirtualSource) -> dict[str, str]:
    """Irradiance of an LED at four distances, like that of a diffuse disc.

    Parameters
    ----------
    source : VirtualSource
        The source, whose spectrum is that at 12 mm.

    Returns
    -------
    dict
        Irradiance by distance, as a manifest writes them.

    Examples
    --------
    >>> from spectralbench.virtual.truth import sources
    >>> led_beam(sources()[-1])["12 mm"]
    '1200 mW/cm^2'
    """
    there = np.trapezoid(source.spectrum, FINE) / 10  # W m-2 to mW cm-2
    distances = np.array([8.0, 12.0, 20.0, 30.0])
    thinner = (_SPREAD**2 + 12.0**2) / (_SPREAD**2 + distances**2)
    return {f"{d:g} mm": f"{there * t:.0f} mW/cm^2" for d, t in zip(distances, thinner, strict=True)}


def beam(source: VirtualSource, positions: Vector) -> Vector:
    """Irradiance across a beam against that in its middle: flat for an LED, a hot middle for an arc.

    Parameters
    ----------
    source : VirtualSource
        The source, of which `spot` is the width at half of the highest irradiance.
    positions : numpy.ndarray (n,)
        Positions across the beam [mm].

    Returns
    -------
    numpy.ndarray (n,)
        Irradiance [1].

    Examples
    --------
    >>> from spectralbench.virtual.truth import sources
    >>> beam(sources()[0], np.array([BEAM_CENTRE, BEAM_CENTRE + 4.0])).round(9).tolist()
    [1.0, 0.5]
    """
    half = float(source.spot.removesuffix(" mm")) / 2
    away = np.abs(positions - BEAM_CENTRE)
    if source.kind != "arc":
        return np.asarray(0.5 ** (away / half) ** _FLATTER)
    hot = _HOT_SHARE * 0.5 ** (away / _HOT) ** 2
    left = 0.5 - _HOT_SHARE * 0.5 ** (half / _HOT) ** 2  # for the rest, where both give one half
    rest = (1 - _HOT_SHARE) * (left / (1 - _HOT_SHARE)) ** (away / half) ** 2
    return np.asarray(hot + rest)
