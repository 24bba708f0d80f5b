"""Line shapes with closed forms: width, area and the fraction within multiples of the width.

Gaussian: scipy.special.erf; Lorentzian: arctan; sech²: tanh. Half-intensity bandwidth after
CIE 127:2007. How far straight lines between samples may be off follows from the shape:
a crossing by step²/8 × |curvature/slope|, an area by step²/12 × curvature × length.
"""

from dataclasses import dataclass

import numpy as np
import pytest
import xarray as xr
from scipy.special import erf

from spectralbench.reduction import (
    band_irradiance,
    centre_wavelength,
    centroid_wavelength,
    fwhm,
    peak_wavelength,
)

WIDTH, CENTRE, STEP = 10.0, 385.0, 0.01
HALF = WIDTH / 2
T = HALF / np.arccosh(np.sqrt(2))
SIGMA = WIDTH / np.sqrt(8 * np.log(2))


@dataclass
class Shape:
    """A line of peak 1, its area within ± x, curvature/slope at half maximum and highest curvature."""

    profile: object
    area_within: object
    bend: float
    curvature: float


SHAPES = {
    "gaussian": Shape(
        lambda x: np.exp(-(x**2) / (2 * SIGMA**2)),
        lambda x: SIGMA * np.sqrt(2 * np.pi) * erf(x / (SIGMA * np.sqrt(2))),
        (2 * np.log(2) - 1) / np.sqrt(2 * np.log(2)) / SIGMA,
        1 / SIGMA**2,
    ),
    "lorentzian": Shape(
        lambda x: 1 / (1 + (x / HALF) ** 2), lambda x: 2 * HALF * np.arctan(x / HALF), 1 / HALF, 2 / HALF**2
    ),
    "sech²": Shape(
        lambda x: np.cosh(x / T) ** -2, lambda x: 2 * T * np.tanh(x / T), np.sqrt(0.5) / T, 2 / T**2
    ),
    "triangle": Shape(
        lambda x: np.clip(1 - np.abs(x) / WIDTH, 0, None),
        lambda x: 2 * (min(x, WIDTH) - min(x, WIDTH) ** 2 / (2 * WIDTH)),
        0.0,
        0.0,
    ),
}
NAMES = list(SHAPES)


def line(name, centre=CENTRE):
    grid = np.round(np.arange(centre - 60, centre + 60 + STEP / 2, STEP), 2)
    return xr.DataArray(SHAPES[name].profile(grid - centre), {"wavelength": grid}, "wavelength")


@pytest.mark.parametrize("name", NAMES)
def test_width_centre_and_peak(name):
    allowed = STEP**2 / 8 * SHAPES[name].bend
    assert fwhm(line(name)) == pytest.approx(WIDTH, rel=0, abs=2 * allowed + 1e-9)
    assert centre_wavelength(line(name)) == pytest.approx(CENTRE, rel=0, abs=allowed + 1e-9)
    assert peak_wavelength(line(name)) == pytest.approx(CENTRE, rel=0, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("widths", [0.5, 1.0, 2.0, 0.1234567, np.e])
def test_the_area_within_multiples_of_the_width(name, widths):
    reach = widths * WIDTH
    allowed = STEP**2 / 12 * SHAPES[name].curvature * 2 * reach + 1e-9
    result = band_irradiance(line(name), CENTRE - reach, CENTRE + reach)
    assert result == pytest.approx(SHAPES[name].area_within(reach), rel=0, abs=allowed)


@pytest.mark.parametrize("name", ["gaussian", "sech²", "triangle"])
def test_area_over_peak_times_width(name, agrees):
    # closed forms: √(π / (4 ln 2)), 1 / arcosh √2 and 1; the tails left out at 6 widths are below 1e-9
    expected = {"gaussian": np.sqrt(np.pi / np.log(16)), "sech²": 1 / np.arccosh(np.sqrt(2)), "triangle": 1.0}
    result = band_irradiance(line(name), CENTRE - 60, CENTRE + 60) / WIDTH
    agrees(f"{name}, area over peak × width", result, expected[name], "closed form of the shape", 9)


@pytest.mark.parametrize("name", NAMES)
def test_the_centroid_of_a_symmetrical_line_is_its_centre(name):
    assert centroid_wavelength(line(name), CENTRE - 33.3, CENTRE + 33.3) == pytest.approx(CENTRE, rel=1e-12)


def test_a_rectangle():
    edge = 1e-6  # the width of its flanks
    grid = np.array([370, 380 - edge, 380, 382, 390, 390 + edge, 400])
    rectangle = xr.DataArray([0.0, 0, 1, 1, 1, 0, 0], {"wavelength": grid}, "wavelength")
    assert fwhm(rectangle) == pytest.approx(10 + edge, rel=1e-12)
    assert centre_wavelength(rectangle) == pytest.approx(385.0, rel=1e-12)
    assert band_irradiance(rectangle, 370, 400) == pytest.approx(10 + edge, rel=1e-12)
    assert 380 <= peak_wavelength(rectangle) <= 390


@pytest.mark.parametrize(
    ("centre", "width", "expected"),
    [(385, 10, "0.9997940"), (395, 12, "0.8367467795"), (405, 15, "0.2162443697")],
)
def test_how_much_of_an_led_line_is_uv_a(centre, width, expected, printed, agrees):
    """The part below 400 nm, where CIE S 017 ends UV-A, is ½ [1 + erf(2 √ln 2 (400 − centre) / width)]."""
    exact = (1 + erf(2 * np.sqrt(np.log(2)) * (400 - centre) / width)) / 2
    assert exact == printed(expected)
    sigma = width / np.sqrt(8 * np.log(2))
    # a grid of repeated steps, on which 400 nm is no exact number: masks lose a cell there
    grid = 300 + np.cumsum(np.full(2000, 0.1))
    assert 400.0 not in grid
    spectrum = xr.DataArray(np.exp(-(((grid - centre) / sigma) ** 2) / 2), {"wavelength": grid}, "wavelength")
    result = band_irradiance(spectrum, 315, 400) / band_irradiance(spectrum, 300.2, 499.9)
    slope = abs(400 - centre) / sigma**2 * np.exp(-(((400 - centre) / sigma) ** 2) / 2)
    allowed = 0.1**2 / 12 * slope / (sigma * np.sqrt(2 * np.pi))
    assert result == pytest.approx(exact, rel=0, abs=1.1 * allowed + 0.1**3 / (8 * sigma**3))
    source = "closed form ½ [1 + erf(2 √ln 2 (400 nm − centre)/width)], by scipy.special.erf"
    agrees(f"part below 400 nm of {centre} nm, {width} nm wide", result, exact, source, 4)
