"""Refractive indices: published values, and each formula written a second time by hand.

Fused silica: Malitson, J. Opt. Soc. Am. 55 (1965) 1205. Soda-lime glass: Rubin, Sol. Energy Mater. 12
(1985) 275. PC, PMMA, PS, cyclo-olefin: Sultanova, Kasarova and Nikolov, Acta Phys. Pol. A 116 (2009)
585. PMMA: Beadie et al., Appl. Opt. 54 (2015) F139. Second source for PC: Zhang et al., Appl. Opt. 59
(2020) 2337.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from spectralbench import curves, optics

C_LINE, D_LINE, F_LINE = 656.2725, 587.5618, 486.1327  # nm, Fraunhofer lines in air (ISO 7944:1998 gives d)

# n at 365, 385, 405, 435.8 and 587.6 nm, computed outside this project from the formulas
DERIVED = {
    "fused silica": "1.47454 1.47186 1.46958 1.46670 1.45846",
    "borosilicate crown": "1.53627 1.53297 1.53020 1.52669 1.51680",
    "soda-lime glass": "1.54232 1.53926 1.53664 1.53326 1.52338",
    "PMMA": "1.51380 1.50982 1.50647 1.50225 1.49062",
    "PMMA (Beadie)": "1.51209 1.50956 1.50686 1.50310 1.49253",
    "PC": "1.63956 1.62980 1.62170 1.61164 1.58476",
    "PS": "1.64369 1.63446 1.62678 1.61724 1.59163",
    "COP": "1.55628 1.55186 1.54813 1.54344 1.53051",
}
LINES = (365.0, 385.0, 405.0, 435.8, 587.6)


@pytest.fixture(autouse=True)
def _quietly():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", curves.ExtrapolationWarning)
        yield


def index(name, wavelength):
    return curves.refractive_index(name, wavelength).item()


@pytest.mark.parametrize("name", DERIVED)
def test_formulas(name, agrees):
    for wavelength, expected in zip(LINES, DERIVED[name].split(), strict=True):
        agrees(
            f"n of {name} at {wavelength} nm",
            index(name, wavelength),
            expected,
            "derived from the formula",
            6,
        )


def test_every_material_is_tried():
    assert {curves.files.plain(name) for name in DERIVED} == set(curves.names("refractive_indices"))


def test_crown_glass_is_the_one_named(agrees):
    """Index at the d line and Abbe number (n_d − 1)/(n_F − n_C) of the glass that the formula is for."""
    source = "the glass as listed in a public-domain index database: n_d 1.5168, Abbe number 64.17"
    nd, nf, nc = (index("borosilicate crown", line) for line in (D_LINE, F_LINE, C_LINE))
    agrees("n_d of a borosilicate crown", nd, "1.5168", source, 5)
    agrees("Abbe number of a borosilicate crown", (nd - 1) / (nf - nc), "64.17", source, 4)


def test_malitson_by_hand():
    x = np.linspace(0.21, 3.71, 50)
    squared = 1 + 0.6961663 * x**2 / (x**2 - 0.0684043**2) + 0.4079426 * x**2 / (x**2 - 0.1162414**2)
    squared += 0.8974794 * x**2 / (x**2 - 9.896161**2)
    np.testing.assert_allclose(curves.refractive_index("fused silica", 1e3 * x), np.sqrt(squared), rtol=1e-12)


def test_rubin_and_beadie_by_hand():
    x = np.linspace(0.42, 1.62, 50)
    rubin = 1.5130 - 0.003169 * x**2 + 0.003962 / x**2
    np.testing.assert_allclose(curves.refractive_index("soda-lime glass", 1e3 * x), rubin, rtol=1e-12)
    beadie = 2.1778 + 6.1209e-3 * x**2 - 1.5004e-3 * x**4 + 2.3678e-2 / x**2 - 4.2137e-3 / x**4
    beadie += 7.3417e-4 / x**6 - 4.5042e-5 / x**8
    np.testing.assert_allclose(curves.refractive_index("PMMA Beadie", 1e3 * x), np.sqrt(beadie), rtol=1e-12)


@pytest.mark.parametrize(("wavelength", "expected"), [(405.0, 1.63115), (435.8, 1.61832), (587.6, 1.59023)])
def test_polycarbonate_of_two_laboratories(wavelength, expected):
    """Zhang et al. (2020), table: another sheet by another method; grades differ by up to 0.01."""
    assert index("PC", wavelength) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("wavelength", np.arange(440.0, 1050.0, 50.0))
def test_acrylic_of_two_laboratories(wavelength):
    """Beadie et al. (2015) and Sultanova et al. (2009): grades differ by some 0.002."""
    assert index("PMMA", wavelength) == pytest.approx(index("PMMA Beadie", wavelength), abs=0.0025)


@pytest.mark.parametrize(
    ("name", "transmittance"),
    [("fused silica", "0.93021"), ("borosilicate crown", "0.91587"), ("PMMA", "0.92154"), ("PC", "0.89352")],
)
def test_a_clear_slab_passes_what_its_two_faces_do_not_reflect(name, transmittance, agrees):
    """T = 2n/(n² + 1) at 405 nm: all reflections between the faces added up."""
    n = curves.refractive_index(name, 405.0)
    found = optics.slab_transmittance(1.0, n)
    assert float(found) == pytest.approx(2 * n.item() / (n.item() ** 2 + 1), rel=1e-12)
    agrees(
        f"transmittance of clear {name} at 405 nm", float(found), transmittance, "closed form 2n/(n² + 1)", 5
    )
