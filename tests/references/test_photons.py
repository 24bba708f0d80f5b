"""Photons and energy, with the constants that the SI fixes (SI Brochure, 9th edition, 2019, table 1)."""

import astropy
import astropy.constants
import astropy.units as u
import numpy as np
import pytest
import scipy
import xarray as xr
from scipy.constants import physical_constants

from spectralbench import constants
from spectralbench.reduction import band_irradiance, centroid_wavelength, photon_irradiance

PLANCK = 6.62607015e-34  # J s
LIGHT = 299792458.0  # m/s
AVOGADRO = 6.02214076e23  # 1/mol
ASTROPY_CONSTANTS = f"astropy.constants {astropy.__version__}"
ASTROPY_UNITS = f"astropy.units.spectral {astropy.__version__}"
BY_HAND = "closed form N_A h c/λ, with the constants of the SI Brochure (2019)"

# wavelength [nm], energy of a photon [J], of a mole of photons [kJ/mol], photons in a joule [µmol/J]:
# computed from the constants above outside this project
TABLE = [
    (254, "7.820652981e-19", "470.970731", "2.123274196"),
    (313, "6.346472387e-19", "382.193500", "2.616475683"),
    (365, "5.442317417e-19", "327.744015", "3.051161739"),
    (385, "5.159599629e-19", "310.718352", "3.218348683"),
    (395, "5.028976854e-19", "302.852065", "3.301942155"),
    (405, "4.904804586e-19", "295.374236", "3.385535628"),
    (436, "4.556068480e-19", "274.372857", "3.644675392"),
]


def test_the_constants_are_those_of_the_si():
    assert pytest.approx(PLANCK * LIGHT, rel=1e-15) == constants.PHOTON_ENERGY_LENGTH
    assert pytest.approx(AVOGADRO * PLANCK * LIGHT, rel=1e-15) == constants.MOLAR_PHOTON_ENERGY_LENGTH


def test_the_constants_are_those_of_astropy(agrees):
    expected = (astropy.constants.N_A * astropy.constants.h * astropy.constants.c).to_value("J m / mol")
    found = constants.MOLAR_PHOTON_ENERGY_LENGTH
    assert pytest.approx(expected, rel=1e-14) == found
    agrees("energy of a mole of photons × λ [J m mol-1]", found, expected, ASTROPY_CONSTANTS, 14, "package")


def test_an_electron_volt_as_codata_prints_it(agrees):
    """A mole of photons of 1 eV carries as many joules as a mole of electrons carries coulombs."""
    wavelength = 1e9 / physical_constants["electron volt-inverse meter relationship"][0]
    x = np.array([wavelength - 0.5, wavelength + 0.5])
    band = xr.DataArray([1.0, 1.0], {"wavelength": x}, "wavelength")
    source = f"CODATA 2022 in scipy.constants {scipy.__version__}: Faraday constant"
    faraday = physical_constants["Faraday constant"][0]
    agrees("energy of a mole at 1 eV [J/mol]", 1e6 / photon_irradiance(band, *x), faraday, source, 10)


@pytest.mark.parametrize(("wavelength", "photon", "mole", "micromoles"), TABLE)
def test_photons_of_a_narrow_band(wavelength, photon, mole, micromoles, agrees):
    x = np.array([wavelength - 0.5, wavelength + 0.5])
    band = xr.DataArray([1.0, 1.0], {"wavelength": x}, "wavelength")  # 1 W m-2, its mean in the middle
    result = float(photon_irradiance(band, *x))
    agrees(f"photons at {wavelength} nm [µmol/J]", result, micromoles, BY_HAND)
    agrees(f"energy of a mole at {wavelength} nm [kJ/mol]", 1e3 / result, mole, BY_HAND)
    agrees(f"energy of a photon at {wavelength} nm [J]", 1e6 / result / AVOGADRO, photon, BY_HAND)


@pytest.mark.parametrize("wavelength", [row[0] for row in TABLE])
def test_photons_against_the_equivalence_of_astropy(wavelength, agrees):
    energy = (wavelength * u.nm).to_value(u.J, equivalencies=u.spectral())
    x = np.array([wavelength - 0.5, wavelength + 0.5])
    band = xr.DataArray([1.0, 1.0], {"wavelength": x}, "wavelength")
    found = photon_irradiance(band, *x)
    assert found == pytest.approx(1e6 / energy / AVOGADRO, rel=1e-12)
    what = f"photons at {wavelength} nm [µmol/J]"
    agrees(what, found, 1e6 / energy / AVOGADRO, ASTROPY_UNITS, 12, "package")


@pytest.mark.parametrize(("centre", "width"), [(365, 10), (385, 12), (405, 15)])
def test_a_symmetrical_line_counts_as_its_centre(centre, width):
    """Photons depend on the energy-weighted mean wavelength: ∫ λ E dλ = mean λ × ∫ E dλ."""
    x = np.linspace(centre - 60, centre + 60, 1201)
    line = xr.DataArray(np.exp(-4 * np.log(2) * ((x - centre) / width) ** 2), {"wavelength": x}, "wavelength")
    per_joule = centre * 1e-9 / (AVOGADRO * PLANCK * LIGHT) * 1e6
    result = photon_irradiance(line, x[0], x[-1]) / band_irradiance(line, x[0], x[-1])
    assert result == pytest.approx(per_joule, rel=1e-12)


def test_a_lopsided_spectrum_counts_as_its_mean_not_as_its_peak():
    x = np.linspace(360, 420, 601)
    ramp = xr.DataArray(x - 360, {"wavelength": x}, "wavelength")
    # ∫ λ (λ − 360) dλ / ∫ (λ − 360) dλ over 360–420 nm is 400 nm, by hand; the peak is at 420 nm.
    # The trapezoidal rule takes the moment, a parabola, high by 60 × step²/6; the ramp's area is 1800
    assert centroid_wavelength(ramp, 360, 420) == pytest.approx(
        400.0, rel=0, abs=60 * 0.1**2 / 6 / 1800 * 1.001
    )
    mean = photon_irradiance(ramp, 360, 420) / band_irradiance(ramp, 360, 420)
    assert mean == pytest.approx(400e-9 / (AVOGADRO * PLANCK * LIGHT) * 1e6, rel=1e-6)
