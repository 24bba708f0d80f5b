"""The invented truth of the demo bench: sources, part, adhesive, lamp, ageing.

The story: a flow cell has a clear cover, which is bonded with an adhesive whose data sheet
speaks of 365 nm. The cover's polymer is stabilised against sunlight and stops most of that.
Nothing here is a measurement of any real thing.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.constants import Boltzmann, Planck, speed_of_light

Vector = NDArray[np.float64]

FINE = np.arange(235.0, 770.0, 0.05)
"""Wavelengths on which the truth is known [nm]."""

CERTIFIED = np.concatenate([np.arange(245, 420, 5.0), np.arange(420, 765, 20.0)])
"""Wavelengths in the certificate of the standard lamp [nm]."""

_SIGMA = 1 / (2 * np.sqrt(2 * np.log(2)))  # of a Gaussian, in units of its full width

# Wavelength [nm], share of the power, full width [nm]: lines of a mercury arc, broadened as
# under pressure. Positions are those of NIST (Sansonetti, Salit & Reader, 1996), rounded;
# powers and widths are invented.
_ARC_LINES = (
    (296.7, 0.030, 2.5),
    (302.2, 0.045, 2.5),
    (313.0, 0.110, 3.0),
    (334.1, 0.035, 2.5),
    (365.2, 0.270, 4.0),
    (404.7, 0.125, 3.0),
    (435.8, 0.275, 3.2),
    (546.1, 0.110, 3.5),
    (578.0, 0.085, 4.5),
)


class VirtualSource(NamedTuple):
    """An invented light source: its spectrum at the part, and what the manifest says of it."""

    name: str
    kind: str
    spectrum: Vector  # W m-2 nm-1 on FINE
    integration_time: float  # s
    distance: str
    spot: str
    electrical_power: str
    hours: str
    end_of_life: str
    stated_end_output: str = ""
    filter: str = ""
    mercury: str = ""
    lamp_price: int = 0
    disposal_price: int = 5


def gaussian(centre: float, width: float) -> Vector:
    """A line of unit area [nm-1].

    Parameters
    ----------
    centre, width : float
        Centre and full width at half maximum [nm].

    Returns
    -------
    numpy.ndarray (FINE,)
        The line.

    Examples
    --------
    >>> round(float(np.trapezoid(gaussian(405.0, 12.0), FINE)), 9)
    1.0
    """
    sigma = width * _SIGMA
    line: Vector = np.exp(-0.5 * ((FINE - centre) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))
    return line


def _edge(at: float, width: float) -> Vector:
    """A smooth step from 0 to 1."""
    return 1 / (1 + np.exp(-(FINE - at) / width))


def _arc(irradiance: float) -> Vector:
    lines = np.sum([share * gaussian(centre, width) for centre, share, width in _ARC_LINES], axis=0)
    continuum = np.exp(-0.5 * ((FINE - 420) / 110) ** 2) * _edge(275, 8)
    mixed = 0.82 * lines / np.trapezoid(lines, FINE) + 0.18 * continuum / np.trapezoid(continuum, FINE)
    return np.asarray(irradiance * mixed)


def _led(centre: float, width: float, irradiance: float) -> Vector:
    """A slightly lopsided line, as a light-emitting diode has."""
    main = 0.85 * gaussian(centre, width) + 0.15 * gaussian(centre + 0.45 * width, 1.7 * width)
    return irradiance * main


def sources() -> list[VirtualSource]:
    """The five candidates of the demo.

    Returns
    -------
    list of VirtualSource
        An arc without and with a filter, and LEDs near 365, 385 and 405 nm.

    Examples
    --------
    >>> [source.kind for source in sources()]
    ['arc', 'arc', 'LED', 'LED', 'LED']
    """
    window = 0.86 * _edge(347, 4) * (1 - _edge(424, 3))
    arc = ("18 mm ± 0.3 mm", "8 mm", "260 W", "900 h", "3000 h")
    lamp: dict[str, Any] = {"mercury": "22 mg", "lamp_price": 420, "disposal_price": 12}
    led = ("12 mm ± 0.3 mm", "6 mm")
    return [
        VirtualSource("arc", "arc", _arc(21_000.0), 0.010, *arc, **lamp),
        VirtualSource(
            "arc, filtered",
            "arc",
            _arc(21_000.0) * window,
            0.005,
            *arc,
            filter="window 347 to 424 nm",
            **lamp,
        ),
        VirtualSource(
            "LED 365",
            "LED",
            _led(365.5, 10.5, 9_500.0),
            0.005,
            *led,
            "52 W",
            "400 h",
            "20000 h",
            "50 %",
            lamp_price=2400,
        ),
        VirtualSource(
            "LED 385",
            "LED",
            _led(386.0, 11.5, 11_000.0),
            0.005,
            *led,
            "50 W",
            "1200 h",
            "20000 h",
            lamp_price=2100,
        ),
        VirtualSource(
            "LED 405",
            "LED",
            _led(404.5, 13.0, 12_000.0),
            0.002,
            *led,
            "46 W",
            "500 h",
            "20000 h",
            "50 %",
            lamp_price=1800,
        ),
    ]


COVER_INDEX = 1.53
COVER_THICKNESS = 2.0  # mm


def cover_internal() -> Vector:
    """Internal transmittance of the cover, 2 mm thick.

    Returns
    -------
    numpy.ndarray (FINE,)
        Internal transmittance [1].

    Examples
    --------
    >>> passed = np.interp([365.0, 405.0], FINE, cover_internal())
    >>> bool(passed[0] < 0.05 < 0.85 < passed[1])
    True
    """
    return 0.985 * _edge(391.5, 6.5)


def cover() -> Vector:
    """Transmittance of the cover in air, with both surfaces.

    Returns
    -------
    numpy.ndarray (FINE,)
        Transmittance [1].

    Examples
    --------
    >>> bool(cover().max() < 0.92)
    True
    """
    reflected = ((COVER_INDEX - 1) / (COVER_INDEX + 1)) ** 2
    bulk = cover_internal()
    return (1 - reflected) ** 2 * bulk / (1 - (reflected * bulk) ** 2)


def initiators() -> dict[str, Vector]:
    """Decadic molar absorption coefficients of the two invented initiators.

    Returns
    -------
    dict
        Arrays (FINE,) [L mol-1 cm-1] by name.

    Examples
    --------
    >>> sorted(initiators())
    ['initiator A', 'initiator B']
    """
    a = 500 * np.exp(-0.5 * ((FINE - 377) / 17.5) ** 2) + 1800 * np.exp(-0.5 * ((FINE - 295) / 16) ** 2)
    b = 210 * np.exp(-0.5 * ((FINE - 334) / 15) ** 2) + 9000 * np.exp(-0.5 * ((FINE - 252) / 14) ** 2)
    return {"initiator A": a * (FINE < 428), "initiator B": b * (FINE < 385)}


def resin() -> Vector:
    """Decadic absorbance of 1 mm of the invented resin without initiator: below 330 nm it takes much.

    Returns
    -------
    numpy.ndarray (FINE,)
        Absorbance [1], with 0.001 of scatter; from 3 on, no instrument tells more.

    Examples
    --------
    >>> np.interp([320.0, 365.0, 405.0], FINE, resin()).round(3).tolist()
    [0.5, 0.02, 0.002]
    """
    return np.minimum(0.499 * 10 ** (-(FINE - 320) / 31.8) + 0.001, 3.0)


def lamp() -> Vector:
    """Spectral irradiance of the standard lamp at 500 mm: a grey body at 3,050 K.

    Returns
    -------
    numpy.ndarray (FINE,)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> round(float(np.interp(555.0, FINE, lamp())), 3)
    0.195
    """
    metres = FINE * 1e-9
    second = Planck * speed_of_light / (Boltzmann * 3050.0)
    exitance = 2 * np.pi * Planck * speed_of_light**2 / metres**5 / np.expm1(second / metres)
    return np.asarray(1.35e-4 * exitance * 1e-9)


def transmission_lamp() -> Vector:
    """Light of the transmission bench at the instrument.

    Returns
    -------
    numpy.ndarray (FINE,)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> bool((transmission_lamp() > 0).all())
    True
    """
    return 1.4 * np.exp(-0.5 * ((FINE - 450) / 150) ** 2) + 0.35 * gaussian(300, 120) * 100


def attenuator() -> Vector:
    """Transmittance of the attenuator in front of the entrance.

    Returns
    -------
    numpy.ndarray (FINE,)
        Transmittance [1].

    Examples
    --------
    >>> bool((attenuator() < 0.02).all())
    True
    """
    return 0.0105 + 0.0012 * (FINE - 400) / 400


def head_response() -> Vector:
    """Spectral response of the head of a radiometer, invented: most at 350 nm, little at 405 nm.

    Returns
    -------
    numpy.ndarray (FINE,)
        Response [1].

    Examples
    --------
    >>> np.interp([350.0, 372.5], FINE, head_response()).round(3).tolist()
    [1.0, 0.5]
    """
    bell = gaussian(350.0, 45.0)
    return np.asarray(bell / bell.max())


def head_calibration() -> Vector:
    """Relative spectrum of the lamp that the head was calibrated with, invented: broad, near 352 nm.

    Returns
    -------
    numpy.ndarray (FINE,)
        Relative spectral irradiance [1].

    Examples
    --------
    >>> round(float(np.interp(352.0, FINE, head_calibration())), 2)
    1.0
    """
    bell = gaussian(352.0, 20.0)
    return np.asarray(bell / bell.max())


HEAD_TARGET = (320.0, 430.0)  # nm; the band of which the calibration states the irradiance
_HEAD_GAIN = 1.015  # the head reads high by less than its certificate says it may


def head_reading(source: VirtualSource) -> float:
    """What the head shows under a source.

    Parameters
    ----------
    source : VirtualSource
        The source.

    Returns
    -------
    float
        The reading [W m-2]: signal over that of the calibration lamp, times the irradiance of
        that lamp in the target band.

    Examples
    --------
    >>> arc = sources()[1]
    >>> counted = (FINE >= HEAD_TARGET[0]) & (FINE <= HEAD_TARGET[1])
    >>> bool(head_reading(arc) < 0.6 * np.trapezoid(arc.spectrum * counted, FINE))
    True
    """
    counted = (HEAD_TARGET[0] <= FINE) & (HEAD_TARGET[1] >= FINE)
    stated = np.trapezoid(head_calibration() * counted, FINE)
    signals = [np.trapezoid(head_response() * light, FINE) for light in (source.spectrum, head_calibration())]
    return float(_HEAD_GAIN * stated * signals[0] / signals[1])


def arc_output(hours: Vector) -> Vector:
    """Output of the arc against that of a new lamp.

    Parameters
    ----------
    hours : numpy.ndarray (n,)
        Hours of use [h].

    Returns
    -------
    numpy.ndarray (n,)
        Relative output [1]; 44 % are lost after 3,000 h.

    Examples
    --------
    >>> float(arc_output(np.array([3000.0])).round(2)[0])
    0.56
    """
    return np.asarray(np.exp(np.log(0.56) * hours / 3000.0))
