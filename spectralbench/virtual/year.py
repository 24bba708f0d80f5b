"""A year of readings of a team's invented sources: the head drifts, a lamp is changed, a head is borrowed."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

import numpy as np

from spectralbench.virtual import truth
from spectralbench.virtual.manifest_text import file_of
from spectralbench.virtual.raw_files import new_folder, write_curve, write_relative, write_table

WEEKS = 52
EVERY = 2
"""Weeks from one reading to the next."""

HOURS = {"arc": 40.0, "LED 365": 26.0, "LED 405": 26.0}
"""In a week [h]: the arc burns through, the LEDs are on while they expose."""

RELAMPED = 1200.0
"""Hours of the counter at which the arc's lamp was changed [h]."""

REQUIRED = 420.0
"""Irradiance in the band of the head's target that the work takes at the part [W m-2]."""

HEAD_LOSS = 0.034
"""Of the sensitivity of the head in a year, relative."""

HEAD_GAIN = 1.012
"""What the head shows against what it should: it reads high by less than its certificate says it may."""

_START = np.datetime64("2025-01-06")
_SCATTER = 0.004  # of a reading, relative
_DECADE = 10.0  # W m-2 in 1 mW cm-2
_FULL = {"arc": 640.0, "LED 365": 520.0, "LED 405": 700.0}  # W m-2 when new, in the target band
_SECOND_LAMP = 0.96  # of the first one's irradiance
_ARC_RATE = float(np.log(1 / 0.56) / 3000.0)  # h-1
_EARLY, _UNTIL, _LATE = 2.0e-4, 420.0, 1.6e-5  # h-1, h, h-1 of the LED near 365 nm
_SLOW = 2.4e-5  # h-1 of the LED near 405 nm


def weeks() -> truth.Vector:
    """Weeks since the first reading.

    Returns
    -------
    numpy.ndarray (n,)
        The weeks.

    Examples
    --------
    >>> weeks()[[0, 1, -1]].tolist()
    [0.0, 2.0, 52.0]
    """
    return np.arange(0.0, WEEKS + EVERY, EVERY)


def sensitivity(at: truth.Vector) -> truth.Vector:
    """Of the head against that of the first day.

    Parameters
    ----------
    at : numpy.ndarray (n,)
        Weeks since then.

    Returns
    -------
    numpy.ndarray (n,)
        Relative sensitivity [1].

    Examples
    --------
    >>> sensitivity(np.array([0.0, 52.0])).round(3).tolist()
    [1.0, 0.966]
    """
    return np.asarray((1 - HEAD_LOSS) ** (at / WEEKS))


def output(source: str, hours: truth.Vector) -> truth.Vector:
    """Output of a source against that when new, or when its lamp was.

    Parameters
    ----------
    source : str
        A name from `HOURS`.
    hours : numpy.ndarray (n,)
        Hours of use, of the lamp that is in it [h].

    Returns
    -------
    numpy.ndarray (n,)
        Relative output [1].

    Examples
    --------
    >>> output("LED 365", np.array([0.0, 420.0, 1400.0])).round(3).tolist()
    [1.0, 0.919, 0.905]
    """
    if source == "LED 365":
        return np.exp(-_EARLY * np.minimum(hours, _UNTIL) - _LATE * np.maximum(hours - _UNTIL, 0.0))
    return np.asarray(np.exp(-(_ARC_RATE if source == "arc" else _SLOW) * hours))


def irradiance(source: str, hours: truth.Vector) -> truth.Vector:
    """Irradiance at the part, in the band of the head's target.

    Parameters
    ----------
    source : str
        A name from `HOURS`.
    hours : numpy.ndarray (n,)
        Hours of the counter, which runs on when the lamp is changed [h].

    Returns
    -------
    numpy.ndarray (n,)
        Irradiance [W m-2].

    Examples
    --------
    >>> irradiance("arc", np.array([0.0, 1199.0, 1200.0])).round().tolist()
    [640.0, 508.0, 614.0]
    """
    if source != "arc":
        return _FULL[source] * output(source, hours)
    second = hours >= RELAMPED
    level = np.where(second, _SECOND_LAMP, 1.0)
    return _FULL[source] * level * output(source, np.where(second, hours - RELAMPED, hours))


def rate(source: str, hours: float) -> float:
    """Of the decay of a source.

    Parameters
    ----------
    source : str
        A name from `HOURS`.
    hours : float
        Hours of use, of the lamp that is in it [h].

    Returns
    -------
    float
        Rate [h-1].

    Examples
    --------
    >>> rate("LED 365", 100.0), rate("LED 365", 1000.0)
    (0.0002, 1.6e-05)
    """
    if source == "LED 365":
        return _EARLY if hours < _UNTIL else _LATE
    return _ARC_RATE if source == "arc" else _SLOW


def hours_left(source: str, hours: float) -> float:
    """Hours until a source no longer gives what is required.

    Parameters
    ----------
    source : str
        A name from `HOURS`, of which the output falls by one rate from now on.
    hours : float
        Hours of its counter today [h].

    Returns
    -------
    float
        Hours of use [h].

    Examples
    --------
    >>> round(hours_left("arc", 2080.0))
    1088
    """
    here = float(irradiance(source, np.array([hours]))[0])
    return float(np.log(here / REQUIRED)) / rate(source, hours)


def write_year(folder: str | PathLike[str], seed: int = 20260105) -> Path:
    """Write a year of radiometer readings of three sources and of a reference lamp.

    Parameters
    ----------
    folder : str or path
        Where to; new or empty.
    seed : int
        Seed of the scatter.

    Returns
    -------
    pathlib.Path
        The folder: a log for each source and for the reference lamp, one reading with a borrowed head,
        the certificate of the own one, a spectrum of each source. All of it is invented.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> folder = write_year(Path(tempfile.mkdtemp()) / "year")
    >>> [path.stem for path in sorted(folder.glob("*log*"))]
    ['arc_log', 'led_365_log', 'led_405_log', 'reference_log']
    """
    return new_folder(folder, lambda empty: _fill(empty, np.random.default_rng(seed)))


def _fill(folder: Path, random: np.random.Generator) -> None:
    at = weeks()
    days = _START + (7 * at).astype("timedelta64[D]")
    head = ("head: A-0113", "band limits: 320-430 nm", "calibration date: 2024-12-12")
    sources = {source.name: source for source in truth.sources() if source.name in HOURS}

    def read(light: truth.Vector) -> truth.Vector:
        scatter = 1 + _SCATTER * random.standard_normal(light.size)
        return light / _DECADE * HEAD_GAIN * sensitivity(at) * scatter

    shown = read(np.full(at.size, 250.0))
    rows = [f"{day},{value:.2f}" for day, value in zip(days, shown, strict=True)]
    write_table(folder / "reference_log.csv", "reference lamp", "time,irradiance [mW/cm^2]", rows, *head)
    for name, source in sources.items():
        hours = HOURS[name] * at
        light = irradiance(name, hours) * _shown(source)
        remarks = ["" for _ in at]
        if name == "arc":
            remarks[int(np.argmax(hours >= RELAMPED))] = f"new lamp at {RELAMPED:g} h"
        rows = [
            f"{h:g},{day},{value:.2f},{remark}"
            for h, day, value, remark in zip(hours, days, read(light), remarks, strict=True)
        ]
        file = file_of(name)
        heading = "hours [h],date,irradiance [mW/cm^2],remark"
        write_table(folder / f"{file}_log.csv", f"{name}, at the part", heading, rows, *head)
        points = np.arange(240.0, 521.0, 1.0)
        write_curve(folder / f"{file}.csv", name, points, source.spectrum, "spectral_irradiance")
    row = f"{days[13]},{float(irradiance('LED 405', HOURS['LED 405'] * at[13:14])[0]) / _DECADE * 0.71:.1f}"
    borrowed = ("head: C-27", "band: UV, as its label says")
    heading = "time,irradiance [mW/cm^2]"
    write_table(folder / "borrowed_head.csv", "LED 405, another head", heading, [row], *borrowed)
    points = np.arange(240.0, 521.0, 2.0)
    write_relative(folder / "head_response.csv", "its response", points, response(), "relative response")
    calibration = truth.head_calibration()
    write_curve(
        folder / "head_calibration.csv", "its calibration lamp", points, calibration, "spectral_irradiance"
    )


def response() -> truth.Vector:
    """Spectral response of the head: broad, most near 375 nm.

    Returns
    -------
    numpy.ndarray (FINE,)
        Relative response [1].

    Examples
    --------
    >>> float(response().max())
    1.0
    """
    bell = truth.gaussian(375.0, 80.0)
    return np.asarray(bell / bell.max())


def _shown(source: truth.VirtualSource) -> float:
    """What the head shows of a source, against its irradiance in the target band."""
    low, high = truth.HEAD_TARGET
    counted = (low <= truth.FINE) & (high >= truth.FINE)
    lamp = truth.head_calibration()
    seen, due = (
        np.trapezoid(weight * source.spectrum, truth.FINE) / np.trapezoid(weight * lamp, truth.FINE)
        for weight in (response(), counted.astype(float))
    )
    return float(seen / due)
