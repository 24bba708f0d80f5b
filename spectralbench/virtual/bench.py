"""Writing the demo bench: raw text files and a manifest, all invented, always the same."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

import numpy as np

from spectralbench.virtual import beams, truth
from spectralbench.virtual.instrument import VirtualInstrument
from spectralbench.virtual.manifest_text import file_of, manifest_text
from spectralbench.virtual.raw_files import (
    INVENTED,
    new_folder,
    write_curve,
    write_frame,
    write_lines,
    write_relative,
    write_table,
)

_SCANS = 8
_DRIFT = 0.034  # of the transmission lamp between the two references
_READINGS = "time [s],irradiance [mW/cm^2]"


def write_demo_bench(folder: str | PathLike[str], seed: int = 20260302) -> Path:
    """Write the demo bench into a new or empty folder.

    Parameters
    ----------
    folder : str or path
        Where to; made if it does not exist.
    seed : int
        Seed of the noise.

    Returns
    -------
    pathlib.Path
        The folder, with ``bench.toml`` and the raw files in ``raw/``.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> folder = write_demo_bench(Path(tempfile.mkdtemp()) / "bench")
    >>> sorted(path.name for path in folder.iterdir())
    ['bench.toml', 'raw']
    """
    return new_folder(folder, lambda empty: _fill(empty, seed))


def _fill(empty: Path, seed: int) -> None:
    (raw := empty / "raw").mkdir()
    _write_raw(raw, VirtualInstrument(), np.random.default_rng(seed))
    (empty / "bench.toml").write_text(manifest_text(), encoding="utf-8", newline="\n")


def _write_raw(raw: Path, instrument: VirtualInstrument, random: np.random.Generator) -> None:
    def frame(
        name: str, title: str, light: truth.Vector | None, milliseconds: float, time: str, scans: int = _SCANS
    ) -> None:
        counts = instrument.frame(light, milliseconds / 1e3, scans, random, time)
        write_frame(raw / f"{name}.csv", title, counts)

    for milliseconds, clock in ((2, "08:05"), (5, "08:07"), (20, "08:09"), (500, "08:12")):
        time = f"2026-03-02T{clock}:00"
        frame(f"dark_{milliseconds}ms", f"shutter closed, {milliseconds} ms", None, milliseconds, time, 12)
    frame(
        "standard_lamp",
        "standard lamp at 520 mm",
        truth.lamp() * (500 / 520) ** 2,
        500,
        "2026-03-02T08:40:00",
        12,
    )
    for number, source in enumerate(truth.sources()):
        light = source.spectrum * truth.attenuator()
        frame(
            file_of(source.name),
            f"{source.name} through the attenuator",
            light,
            source.integration_time * 1e3,
            f"2026-03-02T09:{10 + 7 * number}:00",
        )
    lamp = truth.transmission_lamp()
    frame("reference_before", "transmission bench, no part", lamp, 20, "2026-03-02T10:00:00")
    frame(
        "cover",
        "transmission bench, cover",
        lamp * truth.cover() * (1 - _DRIFT / 2),
        20,
        "2026-03-02T10:15:00",
    )
    frame("reference_after", "transmission bench, no part", lamp * (1 - _DRIFT), 20, "2026-03-02T10:30:00")

    write_curve(
        raw / "lamp_certificate.csv",
        "standard lamp, certificate",
        truth.CERTIFIED,
        truth.lamp(),
        "spectral_irradiance",
    )
    points = np.arange(240, 766, 5.0)
    write_curve(
        raw / "attenuator.csv", "attenuator, certificate", points, truth.attenuator(), "transmittance"
    )
    write_curve(raw / "resin.csv", "resin without initiator, 1 mm", points, truth.resin(), "absorbance")
    for name, curve in truth.initiators().items():
        points = np.arange(240, 430.5, 1.0)
        write_curve(raw / f"{file_of(name)}.csv", name, points, curve, "molar_absorption_coefficient")
    points = np.arange(280, 431, 2.0)
    for name, title, values, heading in (
        (
            "head_response",
            "radiometer, certificate: its response",
            truth.head_response(),
            "relative response",
        ),
        (
            "head_calibration",
            "radiometer, certificate: the lamp that it was calibrated with",
            truth.head_calibration(),
            "relative spectral irradiance",
        ),
    ):
        write_relative(raw / f"{name}.csv", title, points, values, heading)
    _write_logs(raw, random)


def _write_logs(raw: Path, random: np.random.Generator) -> None:
    """Logs as people keep them: some with commas, one from a spreadsheet with decimal commas."""
    seconds = np.arange(0, 130, 10)
    readings = 431.0 * (1 - 0.03 * np.exp(-seconds / 40)) * (1 + 0.004 * random.standard_normal(seconds.size))
    rows = [f"{t},{value:.1f}" for t, value in zip(seconds, readings, strict=True)]
    title = "broadband radiometer at the cover, filtered arc"
    write_table(raw / "radiometer.csv", title, _READINGS, rows)
    hours = np.array([0.0, 100, 200, 300, 450, 600, 750, 900])
    output = 100 * truth.arc_output(hours) * (1 + 0.004 * random.standard_normal(hours.size))
    lines = ["% title: output of the arc lamp over its life so far", f"% note: {INVENTED}"]
    lines += ["hours [h];relative_output [%]"]
    lines += [f"{h:.0f};{value:.1f}".replace(".", ",") for h, value in zip(hours, output, strict=True)]
    write_lines(raw / "arc_ageing.csv", lines)
    (arc,) = (source for source in truth.sources() if source.name == "arc, filtered")
    readings = truth.head_reading(arc) / 10 * (1 + 0.004 * random.standard_normal(seconds.size))
    rows = [f"{t},{value:.1f}" for t, value in zip(seconds, readings, strict=True)]
    title = "radiometer of which the head is known, filtered arc"
    write_table(raw / "head_readings.csv", title, _READINGS, rows)
    for source in truth.sources():
        _write_scan(raw / f"{file_of(source.name)}_scan.csv", source, random)


def _write_scan(path: Path, source: truth.VirtualSource, random: np.random.Generator) -> None:
    """A scan across a beam, there and back, by a small head."""
    there = np.arange(-12.0, 12.25, 0.5)
    positions = np.append(there, there[-2::-1])
    middle = np.trapezoid(source.spectrum, truth.FINE) / 10  # W m-2 to mW cm-2
    readings = middle * beams.beam(source, positions) * (1 + 0.002 * random.standard_normal(positions.size))
    pairs = zip(positions, readings, strict=True)
    rows = [f"{t},{at:g},{value:.2f}" for t, (at, value) in enumerate(pairs)]
    heading = "time [s],position [mm],irradiance [mW/cm^2]"
    write_table(path, f"scan across the beam, {source.name}", heading, rows)
