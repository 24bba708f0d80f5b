"""Frames that check an invented spectrometer: its scale is off, its detector bends, light strays in it."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

import numpy as np

from spectralbench import curves
from spectralbench.virtual import truth
from spectralbench.virtual.instrument import VirtualInstrument
from spectralbench.virtual.raw_files import (
    new_folder,
    write_curve,
    write_frame,
    write_relative,
    write_table,
)
from spectralbench.virtual.truth import FINE

SHARE = 0.01
"""Of the light of the demo's LED near 385 nm that arrives, for it stands far away."""

_TUNED = (320.0, 400.0, 480.0, 560.0, 640.0, 720.0)  # nm; single lines of a tunable source
_EXPOSURES = (200, 600, 100, 400, 300, 200)  # ms; in mixed order, and one of them twice
_DARKS = (5, 500)  # ms


def instrument() -> VirtualInstrument:
    """The spectrometer as it is: what its files state of wavelengths is 0.4 to 1.1 nm too long.

    Returns
    -------
    VirtualInstrument
        With a detector that gives 4 % less at 50,000 counts, and 3 % of the light astray.

    Examples
    --------
    >>> checked = instrument()
    >>> (checked.stated - checked.wavelength).round(2)[[0, -1]].tolist()
    [1.05, 0.45]
    """
    true = VirtualInstrument().wavelength
    stated = np.round(true + 0.75 - 0.0012 * (true - 500.0), 4)
    return VirtualInstrument(loss=8e-7, stray=0.03, stated=stated)


def line_lamp() -> truth.Vector:
    """Light of a line lamp with mercury and argon, of which the bulb passes nothing below 290 nm.

    Returns
    -------
    numpy.ndarray (FINE,)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> violet = np.where(FINE < 420, line_lamp(), 0.0)
    >>> round(float(FINE[violet.argmax()]), 1)
    404.7
    """
    light = np.zeros(FINE.size)
    for name in ("mercury", "argon"):
        known = curves.lines(name).sel(wavelength=slice(290.0, 765.0))
        bulb = 1 / (1 + np.exp(-(known.wavelength.values - 305.0) / 5.0))
        light += _narrow(known.wavelength.values, known.strength.values * bulb)
    return light * 1.4e-4


def led() -> truth.Vector:
    """The LED as it stands in front of both instruments.

    Returns
    -------
    numpy.ndarray (FINE,)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> round(float(np.trapezoid(led(), FINE)))
    110
    """
    return SHARE * _source().spectrum


def write_check_bench(folder: str | PathLike[str], seed: int = 20260323) -> Path:
    """Write frames of a spectrometer that is to be checked, and what a radiometer shows beside it.

    Parameters
    ----------
    folder : str or path
        Where to; new or empty.
    seed : int
        Seed of the noise.

    Returns
    -------
    pathlib.Path
        The folder: darks, a line lamp, exposures of a steady lamp, single lines, an edge filter, a
        standard lamp, an LED in four frames, readings and certificate of a head. All of it is invented.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> folder = write_check_bench(Path(tempfile.mkdtemp()) / "check")
    >>> [path.stem for path in sorted(folder.glob("led*"))]
    ['led_385', 'led_385_long', 'led_385_slow_shutter', 'led_385_two_scans']
    """
    return new_folder(folder, lambda empty: _fill(empty, np.random.default_rng(seed)))


def _fill(folder: Path, random: np.random.Generator) -> None:
    checked = instrument()

    def frame(name: str, title: str, light: truth.Vector | None, ms: float, scans: int = 8) -> None:
        write_frame(folder / f"{name}.csv", title, checked.frame(light, ms / 1e3, scans, random))

    for ms in _DARKS:
        frame(f"dark_{ms}ms", f"shutter closed, {ms} ms", None, ms, 24)
    frame("line_lamp", "line lamp with mercury and argon", line_lamp(), 100, 12)
    lamp = truth.lamp()
    for number, ms in enumerate(_EXPOSURES, 1):
        frame(f"exposure_{number}", f"steady lamp, {ms} ms", lamp, ms)
    for at in _TUNED:
        peak = 50_000 / np.interp(at, checked.wavelength, checked.responsivity()) / 0.1
        light = _narrow(np.array([at]), np.array([peak * checked.bandwidth]))
        frame(f"line_{at:g}nm", f"single line at {at:g} nm", light, 100, 16)
    edge = 1 / (1 + np.exp(-(FINE - 500.0) / 2.0))
    frame("edge_filter", "steady lamp behind an edge filter: nothing passes below 460 nm", lamp * edge, 500)
    frame("standard_lamp", "standard lamp at 500 mm", lamp, 500, 12)
    write_curve(
        folder / "lamp_certificate.csv", "standard lamp", truth.CERTIFIED, lamp, "spectral_irradiance"
    )
    frame("led_385", "LED 385", led(), 5)
    frame("led_385_long", "LED 385, longer", led(), 20)
    frame("led_385_two_scans", "LED 385, two scans", led(), 5, 2)
    scans = checked.frame(led(), 0.005, 8, random)
    late = checked.frame(0.93 * led(), 0.005, 8, random)
    scans[2] = late[2]  # the shutter opened late
    write_frame(folder / "led_385_slow_shutter.csv", "LED 385, again", scans)
    shown = SHARE * truth.head_reading(_source()) / 10 * (1 + 0.004 * random.standard_normal(12))
    rows = [f"{10 * i},{value:.3f}" for i, value in enumerate(shown)]
    heading = "time [s],irradiance [mW/cm^2]"
    write_table(folder / "head_readings.csv", "radiometer, LED 385", heading, rows, "head: A-0113")
    points = np.arange(280.0, 441.0, 2.0)
    response = truth.head_response()
    write_relative(folder / "head_response.csv", "its response", points, response, "relative response")
    calibration = truth.head_calibration()
    write_curve(folder / "head_calibration.csv", "its lamp", points, calibration, "spectral_irradiance")


def _source() -> truth.VirtualSource:
    return next(source for source in truth.sources() if source.name == "LED 385")


def _narrow(wavelengths: truth.Vector, powers: truth.Vector) -> truth.Vector:
    """Lines without a width of their own (FINE,), each where it is on average."""
    step = FINE[1] - FINE[0]
    place = (wavelengths - FINE[0]) / step
    below = np.floor(place).astype(int)
    light = np.zeros(FINE.size)
    np.add.at(light, below, powers * (1 - (place - below)) / step)
    np.add.at(light, below + 1, powers * (place - below) / step)
    return light
