"""Virtual benches with a random truth, and how often the tool's intervals cover it.

Each bench has a truth of its own (two sources, a part) and errors of its own, drawn from the very
distributions that its budget states: a lamp that is brighter than its certificate says, a source
that stood nearer, a wavelength scale that is off. The raw frames come from the virtual
instrument, and `reduce_bench` sees nothing but these and the manifest. All of it is invented.

Run ``python tests/coverage/virtual_benches.py 1000`` for the whole proof (``make coverage``).
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass, field

import numpy as np
import xarray as xr

import spectralbench as sb
from spectralbench import draw, summarize
from spectralbench.model import spectrum
from spectralbench.virtual import truth as invented
from spectralbench.virtual.instrument import VirtualInstrument
from spectralbench.virtual.truth import FINE, gaussian

GRID = np.round(np.linspace(340.0, 450.0, 320), 4)  # nm; the scale that the instrument states
BAND = (370.0, 420.0)
QUOTED = 405.0
FIGURES = ("band irradiance", "peak", "FWHM", "transmittance", "ratio of two sources")
DRAWS = 400

SIZES = {  # standard uncertainties, as the budget states them and as the truth has them
    "lamp calibration": 0.012,
    "lamp interpolation": 0.005,
    "attenuator": 0.01,
    "linearity": 0.008,
    "position": 0.004,
    "scale": 0.15,  # nm
    "distance": 0.2,  # mm of 15 mm
    "lamp distance": 0.5,  # mm of 500 mm
}

MANIFEST = """
title = "a virtual bench with a random truth (invented)"

[instrument]
name = "virtual"
full_scale = 65535
pixels = 320
bandwidth = "2 nm"
integration_times = ["5 ms", "1000 ms"]

[[dark]]
frame = "dark 1"
[[dark]]
frame = "dark 2"

[standard_lamp]
name = "lamp"
frame = "lamp"
certificate = "certificate"
certified_distance = "500 mm"
distance = "500 mm ± {lamp distance} mm"

[[source]]
name = "A"
kind = "LED"
frame = "A"
attenuator = "attenuator"
distance = "15 mm ± {distance} mm"

[[source]]
name = "B"
kind = "LED"
frame = "B"
attenuator = "attenuator"
distance = "15 mm ± {distance} mm"

[[part]]
name = "cover"
material = "invented"
thickness = "2 mm"
sample = "sample"
references = ["before"]

[adhesive]
name = "invented"
bond_line = "0.1 mm"
[[adhesive.initiator]]
name = "I"
curve = "curve"
concentration = "0.02 mol/L"

[requirement]
band = ["370 nm", "420 nm"]
minimum_irradiance = "60 mW/cm^2"
dose = "1 J/cm^2"
"""

LINES = {
    "lamp calibration": 'input = "lamp irradiance"\nsize = "{} %"\ncorrelation = "full"',
    "lamp interpolation": 'input = "lamp irradiance"\nsize = "{} %"\ncorrelation = "20 nm"',
    "attenuator": 'input = "attenuator"\nsize = "{} %"\nrelative = true\ncorrelation = "50 nm"',
    "linearity": 'input = "spectral irradiance"\nsize = "{} %"\ndistribution = "rectangular"\nshared = true',
    "position": 'input = "transmittance"\nsize = "{}"\nrelative = false',
    "scale": 'input = "wavelength"\nsize = "{} nm"',
}


def manifest(left_out: tuple[str, ...] = ()) -> str:
    """A manifest whose budget leaves out some causes, for a test that has to fail."""
    shown = {name: 1e-9 if name in left_out else SIZES[name] for name in ("distance", "lamp distance")}
    text = MANIFEST.replace("{lamp distance}", f"{shown['lamp distance']:g}")
    text = text.replace("{distance}", f"{shown['distance']:g}")
    for name, line in LINES.items():
        if name not in left_out:
            size = SIZES[name] * (100 if "%" in line else 1)
            text += f'\n[[uncertainty]]\nname = "{name}"\n{line.format(f"{size:g}")}\n'
    return text


@dataclass
class Errors:
    """The errors of one bench: one draw of each cause."""

    random: np.random.Generator
    along: dict[str, np.ndarray] = field(default_factory=dict)

    def one(self, name: str, distribution: str = "normal") -> float:
        return float(draw(0.0, SIZES[name], distribution, 1, self.random)[0])

    def curve(self, name: str, correlation: str) -> np.ndarray:
        """An error along a coarse grid, on the fine one."""
        coarse = np.arange(FINE[0], FINE[-1] + 2, 2.0)
        zero = xr.DataArray(np.zeros(coarse.size), {"wavelength": coarse}, "wavelength")
        drawn = draw(zero, SIZES[name], "normal", 1, self.random, correlation).values[0]
        return np.interp(FINE, coarse, drawn)


def bench(seed: int, left_out: tuple[str, ...] = ()) -> tuple[xr.DataTree, dict[str, float]]:
    """One virtual bench, as `open_bench` would give it, and its truth."""
    random = np.random.default_rng(seed)
    off = Errors(random)
    scale = off.one("scale")
    instrument = VirtualInstrument(wavelength=GRID + scale)  # where the pixels truly are

    lamp = invented.lamp()
    points = np.arange(330.0, 461.0, 5.0)
    certificate = np.interp(points, FINE, lamp)
    true_lamp = lamp * (1 + off.one("lamp calibration")) * (1 + off.curve("lamp interpolation", "20 nm"))
    true_lamp = true_lamp * (500 / (500 + off.one("lamp distance"))) ** 2

    stated_attenuator = np.interp(points, FINE, invented.attenuator())
    attenuator = invented.attenuator() * (1 + off.curve("attenuator", "50 nm"))

    centres = random.uniform(380, 390), random.uniform(398, 408)
    widths, strengths = random.uniform(9, 14, 2), random.uniform(12000, 18000, 2)
    sources = [p * gaussian(c, w) for p, c, w in zip(strengths, centres, widths, strict=True)]
    gain = 1 + off.one("linearity", "rectangular")
    seen = [  # at the distance that is stated, the light would be as in `sources`
        light / gain * (15 / (15 + off.one("distance"))) ** 2 for light in sources
    ]
    cover = 0.05 + 0.85 / (1 + np.exp(-(FINE - random.uniform(385, 395)) / random.uniform(5, 8)))
    light = invented.transmission_lamp()

    def frame(spectrum_of_light: np.ndarray | None, seconds: float, scans: int, time: str) -> xr.Dataset:
        counts = instrument.frame(spectrum_of_light, seconds, scans, random, f"2026-03-02T{time}:00")
        return counts.assign_coords(wavelength=("wavelength", GRID, {"units": "nm"})).to_dataset()

    sample_light = light * (cover + off.one("position"))
    nodes = {
        "/dark/1": frame(None, 0.005, 50, "08:00"),
        "/dark/2": frame(None, 1.0, 100, "08:01"),
        "/standard_lamp/frame": frame(true_lamp, 1.0, 100, "08:10"),
        "/standard_lamp/certificate": spectrum(certificate, points, "spectral_irradiance").to_dataset(),
        "/part/cover/sample": frame(sample_light, 0.005, 8, "10:00"),
        "/part/cover/reference_1": frame(light, 0.005, 8, "10:10"),
        "/adhesive/I": spectrum([300.0, 300.0], [330.0, 460.0], "molar_absorption_coefficient").to_dataset(),
    }
    for name, spectrum_seen in zip("AB", seen, strict=True):
        nodes[f"/source/{name}/frame"] = frame(spectrum_seen * attenuator, 0.005, 50, "09:00")
        passed = spectrum(stated_attenuator, points, "transmittance")
        nodes[f"/source/{name}/attenuator"] = passed.to_dataset()
    tree = xr.DataTree.from_dict(nodes, name="bench")
    provenance = json.dumps({"files": {}, "versions": {}})
    tree.attrs = {"title": "", "folder": ".", "manifest": manifest(left_out), "provenance": provenance}

    # The truth, as a perfect instrument of this bandwidth sees it.
    ideal = VirtualInstrument(wavelength=FINE[800:-800:4], bandwidth=instrument.bandwidth)
    first, second = (
        spectrum(ideal.seen(light), ideal.wavelength, "spectral_irradiance") for light in sources
    )
    known = {
        "band irradiance": float(sb.band_irradiance(first, *BAND)),
        "peak": float(sb.peak_wavelength(first)),
        "FWHM": float(sb.fwhm(first)),
        "transmittance": float(np.interp(QUOTED, FINE, ideal_ratio(ideal, light * cover, light))),
        "ratio of two sources": float(sb.band_irradiance(second, *BAND) / sb.band_irradiance(first, *BAND)),
    }
    return tree, known


def ideal_ratio(ideal: VirtualInstrument, sample: np.ndarray, reference: np.ndarray) -> np.ndarray:
    """What a perfect instrument of this bandwidth measures as transmittance, on the fine grid."""
    return np.interp(FINE, ideal.wavelength, ideal.seen(sample) / ideal.seen(reference))


def found(tree: xr.DataTree, seed: int) -> dict[str, xr.Dataset]:
    """The tool's figures, with their intervals."""
    reduced = sb.reduce_bench(tree, draws=DRAWS, seed=seed)
    sources, part = reduced["sources"].to_dataset(), reduced["parts"].to_dataset()
    in_band = sources["band_irradiance"]
    return {
        "band irradiance": summarize(in_band.sel(source="A")),
        "peak": summarize(sources["peak_wavelength"].sel(source="A")),
        "FWHM": summarize(sources["fwhm"].sel(source="A")),
        "transmittance": summarize(part["quoted"].sel(part="cover", quoted_wavelength=QUOTED)),
        "ratio of two sources": summarize(
            in_band.sel(source="B", drop=True) / in_band.sel(source="A", drop=True)
        ),
    }


def covered(seed: int, left_out: tuple[str, ...] = ()) -> list[bool]:
    """Which of `FIGURES` one bench's intervals cover."""
    tree, known = bench(seed, left_out)
    said = found(tree, seed)
    return [bool(said[name].low <= known[name] <= said[name].high) for name in FIGURES]


def coverage(benches: int, left_out: tuple[str, ...] = ()) -> dict[str, float]:
    """Share of benches whose intervals cover the truth, figure by figure."""
    hits = np.array([covered(seed, left_out) for seed in range(benches)])
    return dict(zip(FIGURES, hits.mean(axis=0).tolist(), strict=True))


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    shares = coverage(number)
    for name, share in shares.items():
        sys.stdout.write(f"{name:<22} {share:7.1%} of {number} benches\n")
    if not all(0.93 <= share <= 0.97 for share in shares.values()):
        sys.exit("an interval of 95 % covers in 93 to 97 % of the cases")
