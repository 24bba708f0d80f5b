"""ASTM G173-03, standard tables for reference solar spectral irradiances at air mass 1.5.

The table itself comes from pvlib 0.16.1 (2002 rows, 280–4000 nm). Bands, centroids and photon
numbers below were computed from it outside this project with numpy 2.4.6, by the trapezoidal rule
on the table's own grid, both limits included.
"""

import numpy as np
import pvlib
import pytest
import xarray as xr
from scipy.constants import N_A, e

from spectralbench.reduction import (
    band_irradiance,
    centroid_wavelength,
    photon_irradiance,
    weighted_irradiance,
)

COLUMNS = ("extraterrestrial", "global", "direct")
SOURCE = "ASTM G173-03 in pvlib 0.16.1, summed by numpy 2.4.6"


@pytest.fixture(scope="module")
def astm_g173():
    table = pvlib.spectrum.get_reference_spectra(standard="ASTM G173-03")
    return xr.DataArray(
        table[list(COLUMNS)].to_numpy().T,
        {"column": list(COLUMNS), "wavelength": table.index.to_numpy()},
        ("column", "wavelength"),
        attrs={"units": "W m-2 nm-1"},
    )


BANDS = [
    (280, 4000, ("1347.93432", "1000.3706555734", "900.1393292842")),
    (280, 315, ("17.337265", "0.6823302339", "0.3714257477")),
    (315, 400, ("85.504500", "45.4203675", "30.148627")),
    (280, 400, ("102.841765", "46.1026977339", "30.5200527477")),  # the two rows above, added
    (400, 700, ("529.964750", "429.8311", "374.814965")),
    (380, 780, ("655.876975", "534.4439275", "467.82394")),
]


@pytest.mark.parametrize(("low", "high", "expected"), BANDS)
def test_bands(astm_g173, agrees, low, high, expected):
    result = band_irradiance(astm_g173, low, high)
    for column, text in zip(COLUMNS, expected, strict=True):
        what = f"{column} sunlight, {low}–{high} nm [W m-2]"
        agrees(what, result.sel(column=column), text, SOURCE, standing="package")


@pytest.mark.parametrize("limits", [(280.25, 314.9), (363.3, 366.9), (365.1, 365.2), (1699.5, 1703.3)])
def test_bands_with_edges_between_rows(astm_g173, limits):
    grid = astm_g173.wavelength.values
    inside = grid[(grid > limits[0]) & (grid < limits[1])]
    points = np.concatenate(([limits[0]], inside, [limits[1]]))
    expected = [np.trapezoid(np.interp(points, grid, row), points) for row in astm_g173.values]
    np.testing.assert_allclose(band_irradiance(astm_g173, *limits), expected, rtol=1e-12)


def test_centroids(astm_g173, agrees):
    result = centroid_wavelength(astm_g173, 280, 400)
    for column, text in zip(COLUMNS, ("350.0335658", "363.8420420", "366.1639238"), strict=True):
        what = f"{column} sunlight, centroid of 280–400 nm [nm]"
        agrees(what, result.sel(column=column), text, SOURCE, standing="package")


def test_photons(astm_g173, agrees):
    result = photon_irradiance(astm_g173, 280, 400)
    for column, text in zip(COLUMNS, ("300.9203644", "140.2205237", "93.4185664"), strict=True):
        what = f"{column} sunlight, photons of 280–400 nm [µmol m-2 s-1]"
        agrees(what, result.sel(column=column), text, SOURCE, standing="package")


def test_average_photon_energy(astm_g173, agrees):
    """pvlib divides the energy of a spectrum by its photons too: its own sum, with its own constants."""
    table = pvlib.spectrum.get_reference_spectra(standard="ASTM G173-03")
    photons = photon_irradiance(astm_g173, 280, 4000)  # µmol m-2 s-1
    mean = band_irradiance(astm_g173, 280, 4000) / photons / (1e-6 * N_A * e)
    for column in COLUMNS:
        expected = pvlib.spectrum.average_photon_energy(table[column])
        what = f"{column} sunlight, mean energy of a photon [eV]"
        source = f"pvlib.spectrum.average_photon_energy {pvlib.__version__}"
        agrees(what, mean.sel(column=column), expected, source, 10, "package")


def test_erythema(astm_g173, agrees):
    """Weighted with the formula of ISO/CIE 17166:2019; the UV index is 40 m2/W of it (ISO/CIE 17166)."""
    # 0.0922469144 W/m2: computed outside this project from the formula, on the table's own grid
    found = weighted_irradiance(astm_g173, "erythema").sel(column="global")
    agrees("global sunlight, erythema [W m-2]", found, "0.0922469144", SOURCE, standing="package")
    agrees("global sunlight, UV index", 40 * found, "3.689877", SOURCE, standing="package")


def test_erythema_of_all_columns_by_the_formula(astm_g173):
    # ISO/CIE 17166:2019, also printed in the definitions of the IES: 1 up to 298 nm,
    # 10^(0.094 (298 − λ)) up to 328 nm, 10^(0.015 (140 − λ)) up to 400 nm
    part = astm_g173.sel(wavelength=slice(280, 400))
    x = part.wavelength.values
    formula = np.select([x <= 298, x <= 328], [1.0, 10 ** (0.094 * (298 - x))], 10 ** (0.015 * (140 - x)))
    expected = np.trapezoid(part.values * formula, x)
    # the curve is made of the branch points of the formula, to 12 digits
    np.testing.assert_allclose(weighted_irradiance(astm_g173, "erythema"), expected, rtol=1e-11)
