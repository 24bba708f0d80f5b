"""Writing the demo bench: raw text files and a manifest, all invented, always the same."""

from __future__ import annotations

import tempfile
from os import PathLike
from pathlib import Path

import numpy as np

from spectralbench.errors import BenchError, Fault
from spectralbench.model import spectrum
from spectralbench.readers.plain_text import write_spectra
from spectralbench.virtual import truth
from spectralbench.virtual.instrument import VirtualInstrument

_INVENTED = "invented data from a virtual instrument; no real product was measured"
_SCANS = 8
_DRIFT = 0.034  # of the transmission lamp between the two references


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
    target, advice = Path(folder), "Name a new folder."
    made = False
    try:
        taken = target.exists() and (not target.is_dir() or any(target.iterdir()))
        if not taken:
            made = not target.exists()
            target.mkdir(parents=True, exist_ok=True)
            _fill(target, seed)
    except (OSError, ValueError) as error:
        if made and target.is_dir() and not any(target.iterdir()):
            target.rmdir()
        found = getattr(error, "strerror", None) or str(error)
        if isinstance(error, BenchError):  # of a file inside
            found = error.faults[0].found
        raise BenchError(target, [Fault(found, "a folder that can be written", advice)]) from error
    if taken:
        raise BenchError(target, [Fault("something there already", "a new or an empty folder", advice)])
    return target


def _fill(target: Path, seed: int) -> None:
    """Write the bench beside, inside its folder, then rename: at no time is there half a bench."""
    with tempfile.TemporaryDirectory(prefix=".", dir=target) as beside:
        (raw := Path(beside) / "raw").mkdir()
        _write_raw(raw, VirtualInstrument(), np.random.default_rng(seed))
        (manifest := Path(beside) / "bench.toml").write_text(_manifest(), encoding="utf-8", newline="\n")
        raw.rename(target / raw.name)
        manifest.rename(target / manifest.name)


def _write_raw(raw: Path, instrument: VirtualInstrument, random: np.random.Generator) -> None:
    def frame(
        name: str, title: str, light: truth.Vector | None, milliseconds: float, time: str, scans: int = _SCANS
    ) -> None:
        counts = instrument.frame(light, milliseconds / 1e3, scans, random, time)
        write_spectra(raw / f"{name}.csv", counts, {"title": title, "note": _INVENTED})

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
            _file(source.name),
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

    points = np.concatenate([np.arange(245, 420, 5.0), np.arange(420, 765, 20.0)])
    _curve(
        raw / "lamp_certificate.csv",
        "standard lamp, certificate",
        points,
        truth.lamp(),
        "spectral_irradiance",
    )
    points = np.arange(240, 766, 5.0)
    _curve(raw / "attenuator.csv", "attenuator, certificate", points, truth.attenuator(), "transmittance")
    for name, curve in truth.initiators().items():
        points = np.arange(240, 430.5, 1.0)
        _curve(raw / f"{_file(name)}.csv", name, points, curve, "molar_absorption_coefficient")
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
        rows = zip(points, np.interp(points, truth.FINE, values), strict=True)
        lines = [f"# title: {title}", f"# note: {_INVENTED}", f"wavelength [nm],{heading} [1]"]
        _write_lines(raw / f"{name}.csv", lines + [f"{at:g},{value:.6g}" for at, value in rows])
    _write_logs(raw, random)


def _curve(path: Path, title: str, points: truth.Vector, values: truth.Vector, quantity: str) -> None:
    rounded = [float(f"{value:.6g}") for value in np.interp(points, truth.FINE, values)]
    write_spectra(path, spectrum(rounded, points, quantity), {"title": title, "note": _INVENTED})


def _write_logs(raw: Path, random: np.random.Generator) -> None:
    """Logs as people keep them: some with commas, one from a spreadsheet with decimal commas."""
    seconds = np.arange(0, 130, 10)
    readings = 431.0 * (1 - 0.03 * np.exp(-seconds / 40)) * (1 + 0.004 * random.standard_normal(seconds.size))
    lines = ["# title: broadband radiometer at the cover, filtered arc", f"# note: {_INVENTED}"]
    lines += ["time [s],irradiance [mW/cm^2]"]
    lines += [f"{t},{value:.1f}" for t, value in zip(seconds, readings, strict=True)]
    _write_lines(raw / "radiometer.csv", lines)
    hours = np.array([0.0, 100, 200, 300, 450, 600, 750, 900])
    output = 100 * truth.arc_output(hours) * (1 + 0.004 * random.standard_normal(hours.size))
    lines = ["% title: output of the arc lamp over its life so far", f"% note: {_INVENTED}"]
    lines += ["hours [h];relative_output [%]"]
    lines += [f"{h:.0f};{value:.1f}".replace(".", ",") for h, value in zip(hours, output, strict=True)]
    _write_lines(raw / "arc_ageing.csv", lines)
    (arc,) = (source for source in truth.sources() if source.name == "arc, filtered")
    readings = truth.head_reading(arc) / 10 * (1 + 0.004 * random.standard_normal(seconds.size))
    lines = ["# title: radiometer of which the head is known, filtered arc", f"# note: {_INVENTED}"]
    lines += ["time [s],irradiance [mW/cm^2]"]
    lines += [f"{t},{value:.1f}" for t, value in zip(seconds, readings, strict=True)]
    _write_lines(raw / "head_readings.csv", lines)


def _write_lines(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def _file(name: str) -> str:
    return name.lower().replace(",", "").replace(" ", "_")


def _manifest() -> str:
    """The manifest, with its comments; numbers come from the truth."""
    blocks = [_HEAD]
    for source in truth.sources():
        lines = [
            "[[source]]",
            f'name = "{source.name}"',
            f'kind = "{source.kind}"',
            f'frame = "raw/{_file(source.name)}.csv"',
            'attenuator = "raw/attenuator.csv"',
            f'distance = "{source.distance}"',
            f'spot = "{source.spot}"',
        ]
        if source.kind == "LED":
            points = truth.led_beam(source).items()
            lines += [
                "beam = [  # by a radiometer that stayed the same",
                *[f'    {{ distance = "{at}", irradiance = "{value}" }},' for at, value in points],
                "]",
            ]
        if source.filter:
            lines.append(f'filter = "{source.filter}"')
        lines += [
            f'electrical_power = "{source.electrical_power}"',
            f'hours = "{source.hours}"',
            f'end_of_life = "{source.end_of_life}"',
        ]
        if source.stated_end_output:
            lines.append(f'stated_end_output = "{source.stated_end_output}"  # by its maker, not measured')
        blocks.append("\n".join(lines) + "\n")
    return "\n".join([*blocks, _TAIL])


_HEAD = """\
# A demo bench. All of it is invented: instrument, sources, part and adhesive.
# Every quantity carries its unit, and may carry a standard uncertainty: "500 mm ± 0.5 mm".

title = "Flow-cell cover: which light cures the bond behind it?"
note = "Invented data from a virtual instrument. The adhesive's data sheet speaks of 365 nm."

[instrument]
name = "virtual array spectrometer"
full_scale = 65535                  # counts
pixels = 2048
bandwidth = "2.0 nm ± 0.1 nm"
integration_times = ["2 ms", "5 ms", "10 ms", "20 ms", "500 ms"]
saturation = "95 %"                 # of the full scale; from there a pixel is not trusted

[[dark]]
frame = "raw/dark_2ms.csv"

[[dark]]
frame = "raw/dark_5ms.csv"

[[dark]]
frame = "raw/dark_20ms.csv"

[[dark]]
frame = "raw/dark_500ms.csv"

[standard_lamp]
name = "standard lamp (invented)"
frame = "raw/standard_lamp.csv"
certificate = "raw/lamp_certificate.csv"
certified_distance = "500 mm ± 0.3 mm"
distance = "520 mm ± 0.5 mm"
"""

_TAIL = """\
[[part]]
name = "cover"
material = "clear polymer, stabilised against sunlight (invented)"
thickness = "2.0 mm ± 0.02 mm"
index = "1.53 ± 0.005"
thermal = { conductivity = "0.2 W/m/K", density = "1.2 g/cm^3", heat_capacity = "1.3 J/g/K" }
sample = "raw/cover.csv"
references = ["raw/reference_before.csv", "raw/reference_after.csv"]

[adhesive]
name = "adhesive (invented)"
bond_line = "0.15 mm ± 0.02 mm"
index = "1.50 ± 0.01"               # so that the wetted back face of the cover counts
thermal = { conductivity = "0.2 W/m/K", density = "1.1 g/cm^3", heat_capacity = "1.7 J/g/K" }
reaction_heat = "180 J/g"           # of the cure itself
maximum_irradiance = "2.0 W/cm^2"

[[adhesive.initiator]]
name = "initiator A"
curve = "raw/initiator_a.csv"
concentration = "0.02 mol/L ± 5 %"

[[adhesive.initiator]]
name = "initiator B"
curve = "raw/initiator_b.csv"
concentration = "0.03 mol/L ± 5 %"

[requirement]
band = ["320 nm", "430 nm"]         # where irradiance and dose count
minimum_irradiance = "60 mW/cm^2"
dose = "1.8 J/cm^2"
data_sheet_wavelength = "365 nm"
maximum_time = "8 s"
maximum_temperature = "85 °C"

[heat]                              # for the temperature after one exposure
ambient = "23 °C"
loss = "10 W/m^2/K"                 # of both outer faces, for each kelvin

[heat.backing]                      # what the cover is bonded to; it takes the light that gets there
name = "base plate"
thickness = "5 mm"
thermal = { conductivity = "0.9 W/m/K", density = "2.2 g/cm^3", heat_capacity = "0.8 J/g/K" }

[[radiometer]]
name = "bench radiometer (invented)"
file = "raw/head_readings.csv"
band = "UV"                         # kept as text and never trusted
source = "arc, filtered"
response = "raw/head_response.csv"  # of its head, from the certificate
calibration_source = "raw/head_calibration.csv"
calibration_target = ["320 nm", "430 nm"]   # it was calibrated to show the irradiance in this band
calibration_uncertainty = "3 %"
calibrated = "2025-11-03"

[[radiometer]]
name = "hand-held radiometer (invented)"
file = "raw/radiometer.csv"
band = "UV-A, as its label says; no response curve came with it"
source = "arc, filtered"

[[ageing]]
source = "arc"
file = "raw/arc_ageing.csv"

# The uncertainty budget, beside the ± above and the scatter of the scans. All of it is invented.

[[uncertainty]]
name = "lamp calibration"
input = "lamp irradiance"
size = "1.2 %"
correlation = "full"                # along the wavelength: "none", "full" or a length

[[uncertainty]]
name = "lamp interpolation"
input = "lamp irradiance"
size = "0.5 %"
correlation = "20 nm"

[[uncertainty]]
name = "attenuator"
input = "attenuator"
size = "1.0 %"
relative = true                     # a share of the value, not points
correlation = "50 nm"

[[uncertainty]]
name = "stray light and linearity"
input = "spectral irradiance"
size = "0.8 %"
distribution = "rectangular"
shared = true                       # one instrument: one error for all sources

[[uncertainty]]
name = "position of the part"
input = "transmittance"
size = "0.004"
relative = false                    # points of transmittance
correlation = "full"

[[uncertainty]]
name = "initiator curves"
input = "absorption coefficient"
size = "5 %"
correlation = "30 nm"

[[uncertainty]]
name = "wavelength scale"
input = "wavelength"
size = "0.1 nm"
distribution = "rectangular"
"""
