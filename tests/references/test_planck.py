"""Black body: Planck's law against astropy, Wien's and Stefan and Boltzmann's laws in closed form.

Constants: CODATA, exact since the SI of 2019 (SI Brochure, 9th edition); Wien's displacement and
Stefan and Boltzmann's constant follow from them and are printed by CODATA 2018 as
2.897771955e-3 m K and 5.670374419e-8 W m-2 K-4.
"""

import astropy.units as u
import numpy as np
import pytest
import xarray as xr
from astropy.modeling.models import BlackBody
from scipy.integrate import quad

from spectralbench.reduction import band_irradiance, centroid_wavelength, peak_wavelength

CODATA = "CODATA 2022 in scipy.constants 1.17.1"
PER_STERADIAN = u.W / u.m**2 / u.nm / u.sr


def exitance(wavelength, temperature):
    """Spectral exitance [W m-2 nm-1] of a black body, by astropy."""
    body = BlackBody(temperature=temperature * u.K, scale=1 * PER_STERADIAN)
    return np.pi * body(wavelength * u.nm).to_value(PER_STERADIAN)


def black_body(wavelength, temperature):
    return xr.DataArray(exitance(wavelength, temperature), {"wavelength": wavelength}, "wavelength")


@pytest.mark.parametrize(
    ("temperature", "low", "high", "expected"),
    [
        (2856, 280, 400, "4972.149356"),
        (2856, 315, 400, "4707.183703"),
        (2856, 380, 450, "11800.155877"),
        (2856, 400, 700, "246246.1409"),
        (3000, 280, 400, "9647.533405"),
        (3000, 315, 400, "9055.842375"),
        (3000, 380, 450, "20968.581552"),
        (3000, 400, 700, "371661.9775"),
    ],
)
def test_bands(temperature, low, high, expected, agrees):
    """The numbers are adaptive quadratures by scipy 1.17.1, made outside this project."""
    step = 0.05
    grid = np.linspace(250, 750, 10001)
    near = np.array([low - 0.5, low + 0.5, high - 0.5, high + 0.5])
    first = exitance(near, temperature)
    # Euler–Maclaurin: trapezoidal sum − integral = step²/12 × (slope at the end − slope at the start)
    allowed = 1.01 * step**2 / 12 * ((first[3] - first[2]) - (first[1] - first[0])) + 1e-4
    result = band_irradiance(black_body(grid, temperature), low, high)
    assert result == pytest.approx(float(expected), rel=0, abs=allowed)
    assert result == pytest.approx(quad(exitance, low, high, args=(temperature,))[0], rel=0, abs=allowed)
    what = f"black body of {temperature} K, {low}–{high} nm [W m-2]"
    agrees(what, result, float(expected), "astropy BlackBody by scipy.integrate.quad 1.17.1", 6, "package")


@pytest.mark.parametrize("temperature", [2856, 3000, 5800])
def test_wien(temperature, agrees):
    grid = np.arange(300.0, 1500.0, 0.1)
    # a parabola is off by step²/6 × third/second derivative there, which is of the order of 10/λ
    allowed = 0.1**2 / 6 * 10 / 300 + 2.897771955e6 / temperature * 1e-9
    expected = 2.897771955e6 / temperature
    peak = peak_wavelength(black_body(grid, temperature))
    assert peak == pytest.approx(expected, rel=0, abs=allowed)
    what = f"Wien's constant from the peak at {temperature} K [m K]"
    agrees(what, peak * 1e-9 * temperature, 2.897771955e-3, CODATA, 6)


@pytest.mark.parametrize(("temperature", "expected"), [(2856, 3772632.911), (3000, 4593003.280)])
def test_stefan_boltzmann(temperature, expected, agrees):
    assert 5.670374419e-8 * temperature**4 == pytest.approx(expected, abs=1e-3)
    grid = np.geomspace(100, 1e6, 40001)
    # what is left out beyond 1 mm is, after Rayleigh and Jeans, 5/π⁴ × (0.0144 m K / (1 mm T))³ of the whole
    left_out = 5 / np.pi**4 * (14.4 / temperature) ** 3
    result = band_irradiance(black_body(grid, temperature), 100, 1e6)
    assert result == pytest.approx(expected, rel=left_out + 1e-7)
    what = f"Stefan and Boltzmann's constant from {temperature} K [W m-2 K-4]"
    agrees(what, result / temperature**4, 5.670374419e-8, CODATA, 6)


def test_the_centroid_of_a_band_of_a_black_body(agrees):
    grid = np.linspace(250, 750, 10001)
    moment = quad(lambda x: x * exitance(x, 3000), 315, 400)[0]
    expected = moment / quad(exitance, 315, 400, args=(3000,))[0]
    # both integrals by the trapezoidal rule: relative 0.05²/12 × slope/value, about 0.025 per nm here
    found = centroid_wavelength(black_body(grid, 3000), 315, 400)
    source = "astropy BlackBody by scipy.integrate.quad 1.17.1"
    agrees("black body of 3000 K, centroid of 315–400 nm [nm]", found, expected, source, 7, "package")
