"""CIE illuminants (CIE 15:2018; CIE S 014), as tabulated every 5 nm by colour-science 0.4.7.

The integrals were computed from those tables outside this project with numpy 2.4.6, by the
trapezoidal rule. They are printed to six digits, the centroids to seven.
"""

import colour
import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad

from spectralbench.reduction import band_irradiance, centroid_wavelength, peak_wavelength

SOURCE = "CIE 15:2018 in colour-science 0.4.7, summed by numpy 2.4.6"


def illuminant(name):
    table = colour.SDS_ILLUMINANTS[name]
    return xr.DataArray(
        np.asarray(table.values), {"wavelength": np.asarray(table.wavelengths)}, "wavelength", name=name
    )


# name, first and last nm, whole, 380–780, 315–400, 400–500 nm, highest sample at, its value, centroid
TABLE = [
    ("A", 300, 780, "47514.9", "47179.9", "559.075", "3450.46", 780, 241.675, "649.6459"),
    ("D50", 300, 780, "35807.6", "34540.7", "1906.83", "7780.04", 670, 103.003, "580.8522"),
    ("D65", 300, 780, "37872.0", "35180.2", "3847.61", "10469.3", 460, 117.812, "550.6640"),
    ("C", 300, 780, "36488.2", "35877.4", "1564.0", "11174.7", 475, 124.09, "562.6435"),
    ("FL2", 380, 780, "2968.88", "2968.88", "38.9", "846.1", 435, 34.98, "543.2250"),
    ("FL11", 380, 780, "2967.90", "2967.90", "12.8", "818.275", 545, 72.84, "550.8927"),
    ("FL3.15", 380, 780, "144362", "144362", "5500", "47580", 435, 1417, "545.4207"),
    ("HP1", 380, 780, "12652.2", "12652.2", "49.5", "837.2", 595, 334.84, "595.1689"),
    ("HP4", 380, 780, "17900.4", "17900.4", "381.625", "4367.93", 535, 187.1, "562.2085"),
    ("LED-B1", 380, 780, "3206.97", "3206.97", "0.3", "354.975", 605, 21.00, "592.3967"),
    ("LED-B5", 380, 780, "3275.58", "3275.58", "0.425", "1096.32", 450, 32.34, "541.3012"),
    ("LED-V1", 380, 780, "4245.32", "4245.32", "10.475", "652.025", 635, 23.71, "595.0699"),
    ("LED-V2", 380, 780, "4058.28", "4058.28", "18.55", "1058.27", 415, 20.24, "566.7271"),
]


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_bands_and_centroids(row, agrees):
    name, first, last, whole, visible, near, blue, _, _, centroid = row
    table = illuminant(name)
    bands = {(380, 780): visible, (315, 400): near, (400, 500): blue, (first, last): whole}
    for (low, high), expected in bands.items():
        what = f"illuminant {name}, {low}–{high} nm"
        agrees(what, band_irradiance(table, low, high), expected, SOURCE, standing="package")
    found = centroid_wavelength(table, first, last)
    agrees(f"illuminant {name}, centroid [nm]", found, centroid, SOURCE, standing="package")


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_the_peak_stays_within_half_a_step_of_the_highest_sample(row):
    # the vertex of a parabola through a highest sample and its neighbours lies that near
    name, *_, peak, value, _ = row
    table = illuminant(name)
    assert table.max() == value
    if peak == table.wavelength[-1]:
        assert peak_wavelength(table) == peak
    else:
        assert abs(peak_wavelength(table) - peak) <= 2.5


def test_only_the_measured_part_of_the_near_ultraviolet_is_counted_and_said_so():
    result = band_irradiance(illuminant("FL2"), 315, 400)
    assert result.attrs["comment"] == "measured only over 380–400 nm of the band 315–400 nm"


def illuminant_a(x):
    """CIE S 014-2: 100 (560/λ)^5 (exp(1.435e7/(2848×560)) − 1) / (exp(1.435e7/(2848 λ)) − 1)."""
    return 100 * (560 / x) ** 5 * np.expm1(1.435e7 / (2848 * 560)) / np.expm1(1.435e7 / (2848 * x))


def test_the_closed_form_of_illuminant_a_agrees_with_the_published_example():
    # documentation of colour-science, CIE_standard_illuminant_A_function
    assert illuminant_a(580.0) == pytest.approx(114.4363383, abs=1e-7)
    assert illuminant_a(581.5) == pytest.approx(115.5285063, abs=1e-7)


@pytest.mark.parametrize("limits", [(380, 780), (315, 400), (362.5, 367.5), (400.3, 449.7)])
def test_the_closed_form_of_illuminant_a(limits, agrees):
    step = 0.1
    x = np.linspace(300, 800, 5001)
    exact = quad(illuminant_a, *limits)[0]
    # straight lines between samples are off by step²/12 times the change of slope over the band,
    # and by at most a whole cell's step²/8 of curvature at each edge inside a cell
    slope = np.gradient(illuminant_a(x), x)
    rise = abs(np.interp(limits[1], x, slope) - np.interp(limits[0], x, slope))
    curvature = np.abs(np.gradient(slope, x)).max()
    allowed = step**2 / 12 * rise + 2 * step**3 / 8 * curvature
    result = band_irradiance(xr.DataArray(illuminant_a(x), {"wavelength": x}, "wavelength"), *limits)
    assert result == pytest.approx(exact, rel=0, abs=1.1 * allowed)
    what = f"illuminant A every 0.1 nm, {limits[0]}–{limits[1]} nm"
    agrees(what, result, exact, "closed form of CIE S 014-2, integrated by scipy.integrate.quad", 5)


def test_a_five_nanometre_table_is_off_by_what_the_trapezoidal_rule_leaves():
    # Euler–Maclaurin: trapezoidal sum − integral = step²/12 × (slope at the end − slope at the start)
    slope = [(illuminant_a(x + 0.5) - illuminant_a(x - 0.5)) for x in (380.0, 780.0)]
    exact = quad(illuminant_a, 380, 780)[0]
    excess = 25 / 12 * (slope[1] - slope[0])
    # the table prints six digits: each value is off by up to 5e-4, and so is their mean over 400 nm
    assert band_irradiance(illuminant("A"), 380, 780) - exact == pytest.approx(excess, abs=5e-4 * 400)
