"""Bandpass correction: published rules, and a bell through a triangle."""

from __future__ import annotations

import colour
import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad

from spectralbench.corrections import correct_bandpass

WAVELENGTHS = np.arange(500.0, 601.0, 20.0)
REFLECTANCES = np.array([0.0651, 0.0705, 0.0772, 0.0870, 0.1128, 0.1360])

# Stearns and Stearns, Color Res. Appl. 13 (1988) 257, round 1/12 to 0.083: a triangle that is a
# little narrower than the step of 20 nm.
ROUNDED = 20 * np.sqrt(12 * 0.083)
STEARNS = "Stearns and Stearns, Color Res. Appl. 13 (1988) 257, in colour-science 0.4.7, bandpass_correction"


def spectrum(values, grid):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength")


def test_stearns_and_stearns(agrees):
    """Ends as the package has them; it feeds corrected values back between, so those stand below by hand."""
    judge = colour.SpectralDistribution(dict(zip(WAVELENGTHS, REFLECTANCES, strict=True)))
    ends = colour.colorimetry.bandpass_correction(judge).values[[0, -1]]
    found = correct_bandpass(spectrum(REFLECTANCES, WAVELENGTHS), ROUNDED, step=20.0).values
    agrees("corrected reflectance at 500 nm", found[0], ends[0], STEARNS, 12, "package")
    agrees("corrected reflectance at 600 nm", found[-1], ends[1], STEARNS, 12, "package")


def test_the_rule_as_it_is_printed(agrees):
    """P_i = −α P'_(i−1) + (1 + 2α) P'_i − α P'_(i+1), each term from measured values only."""
    alpha, p = 0.083, REFLECTANCES
    by_hand = (1 + 2 * alpha) * p[1:-1] - alpha * (p[:-2] + p[2:])
    found = correct_bandpass(spectrum(p, WAVELENGTHS), ROUNDED, step=20.0)[1:-1].values
    for at, one, other in zip(WAVELENGTHS[1:-1], found, by_hand, strict=True):
        source = "closed form: the rule of Stearns and Stearns, Color Res. Appl. 13 (1988) 257"
        agrees(f"corrected reflectance at {at:g} nm", one, other, source, 12)


@pytest.mark.parametrize(
    ("points", "weights"),
    [(3, [-1 / 12, 7 / 6, -1 / 12]), (5, [1 / 90, -23 / 180, 37 / 30, -23 / 180, 1 / 90])],
)
def test_weights_of_a_triangle_as_wide_as_the_step(points, weights, agrees):
    """Closed form from Woolliams et al., Metrologia 48 (2011) 164: moments Δ²/6 and Δ⁴/15, derivatives of the
    polynomial through the points, L − α₂/2 L″ + (α₂²/4 − α₄/24) L⁗."""
    line = np.zeros(11)
    line[5] = 1.0
    found = correct_bandpass(spectrum(line, np.arange(11.0)), 1.0, points=points).values
    reach = points // 2
    for k, weight in enumerate(weights, -reach):
        source = "closed form: triangle as wide as the step, Woolliams et al., Metrologia 48 (2011) 164"
        agrees(f"weight {k:+d} of {points} points", found[5 + k], weight, source, 10)
    assert found[: 5 - reach].tolist() == [0.0] * (5 - reach)


@pytest.mark.parametrize(
    ("width", "triangle", "measured", "three", "five"),
    [
        (10, 2, 0.9819181, 0.9985114, 0.9997684),
        (10, 5, 0.8987034, 0.9627348, 0.9790263),
        (15, 5, 0.9516532, 0.9902296, None),
        (20, 5, 0.9720897, 0.9965517, 0.9992192),
    ],
)
def test_the_peak_of_a_bell_through_a_triangle(width, triangle, measured, three, five, agrees):
    """A Gaussian of peak 1 seen through a triangle, by numerical integration (scipy.integrate.quad)."""
    grid = np.arange(-3.0, 4.0) * triangle + 365.0

    def bell(x):
        return np.exp(-4 * np.log(2) * (x / width) ** 2)

    def seen(at):
        return quad(
            lambda x: bell(at - 365.0 + x) * (1 - abs(x) / triangle) / triangle,
            -triangle,
            triangle,
            points=[0],
        )[0]

    smeared = spectrum([seen(at) for at in grid], grid)
    name = f"peak of a Gaussian {width} nm wide through a triangle of {triangle} nm"
    source = "closed form: convolution of a Gaussian and a triangle, and the weights above"
    agrees(name, smeared[3], measured, source, 7)
    agrees(f"{name}, 3 points", correct_bandpass(smeared, triangle)[3], three, source, 7)
    if five is not None:
        agrees(f"{name}, 5 points", correct_bandpass(smeared, triangle, points=5)[3], five, source, 7)


HALF, SIGMA = 1.3, 2.6 / np.sqrt(8 * np.log(2))
SHAPES = {  # of 2.6 nm full width at half maximum: the shape, and how far it reaches
    "triangle": (lambda x: 1 - abs(x) / 2.6, 2.6),
    "rectangle": (lambda x: 1.0, HALF),
    "gaussian": (lambda x: np.exp(-((x / SIGMA) ** 2) / 2), 12 * SIGMA),
}


@pytest.mark.parametrize("points", [3, 5])
@pytest.mark.parametrize("name", SHAPES)
def test_a_polynomial_is_given_back_on_an_uneven_grid(name, points):
    """The series ends with the highest degree that the points can follow; smeared by scipy.integrate.quad."""
    shape, reach = SHAPES[name]
    uneven = np.array([0.0, 0.9, 2.0, 3.2, 4.1, 5.0, 6.2, 7.0, 8.1]) + 360
    truth = np.polynomial.Polynomial(
        [1.0, -0.5, 0.3, 0.02, -0.01][:points], domain=[363, 365], window=[-1, 1]
    )
    area = quad(shape, -reach, reach)[0]
    smeared = [quad(lambda x, at=at: truth(at + x) * shape(x), -reach, reach)[0] / area for at in uneven]
    found = correct_bandpass(spectrum(smeared, uneven), 2 * HALF, name, points, step=1.0)
    inside = slice(points // 2, -(points // 2))
    np.testing.assert_allclose(found[inside], truth(uneven)[inside], rtol=1e-8)
