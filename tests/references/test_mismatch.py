"""Spectral mismatch of broadband heads (CIE 220:2016; the algebra of IEC 60904-7).

Judges: sums done by hand, the closed form for bell-shaped curves, numpy's trapezoidal rule,
pvlib's spectral mismatch, and GTC for the uncertainty. All spectra are invented but for ASTM
G173-03, which comes from pvlib.
"""

import GTC
import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr
from scipy.special import erf

from spectralbench.draws import draw
from spectralbench.radiometer import mismatch_factor, out_of_band_share, spectral_match_index
from spectralbench.radiometer.responses import response_signal

CENTRES = np.array([355.0, 360.0, 365.0, 370.0, 375.0])
RESPONSE = np.array([0.8, 0.9, 1.0, 0.9, 0.7])
CALIBRATION = np.array([0.1, 0.5, 1.0, 0.5, 0.1])
MEASURED = np.array([0.0, 0.1, 0.5, 1.0, 0.5])

GRID = np.arange(300.0, 451.0)
DETECTOR = (355.0, 40.0)  # centre and width at half height [nm]
CALIBRATION_LINE = (365.0, 12.0)
LINES = [(385.0, 12.0), (395.0, 12.0), (405.0, 12.0)]
BY_HAND = "closed form: sums of five products of the worked example in this file, done by hand"
BELLS = "closed form: overlap of two Gaussian curves, derived in this file"
PVLIB = f"pvlib {pvlib.__version__}, spectrum.calc_spectral_mismatch_field; reciprocal"


def spectrum(values, grid=GRID):
    return xr.DataArray(values, {"wavelength": grid}, "wavelength")


def bell(centre, width, grid=GRID):
    return spectrum(np.exp(-4 * np.log(2) * ((grid - centre) / width) ** 2), grid)


def steps(values, seam=1e-11):
    """Five cells of 5 nm with a value each, so that all weigh the same."""
    grid = np.column_stack([CENTRES - 2.5 + seam, CENTRES + 2.5 - seam]).ravel()
    return spectrum(np.repeat(values, 2), grid)


def overlap(line):
    """∫ of line times detector over ∫ of line.

    The product of two Gaussian curves is a third; with the squares of the widths adding up to
    that of their convolution, the integral is f/√(f² + g²) · 2^(−4 d²/(f² + g²)) of the line's, where
    d is the distance of the centres, f the detector's width and g the line's.
    """
    squares = DETECTOR[1] ** 2 + line[1] ** 2
    return DETECTOR[1] / np.sqrt(squares) * 2.0 ** (-4 * (line[0] - DETECTOR[0]) ** 2 / squares)


def test_five_wavelengths_by_hand(agrees):
    # Σ E_C s = 0.08 + 0.45 + 1 + 0.45 + 0.07 = 2.05; Σ E_C = 2.2
    # Σ E_Z s = 0 + 0.09 + 0.5 + 0.9 + 0.35 = 1.84; Σ E_Z = 2.1
    factor = mismatch_factor(*map(steps, (RESPONSE, CALIBRATION, MEASURED)))
    agrees("F of five wavelengths, target 1", factor, (2.05 / 2.2) * (2.1 / 1.84), BY_HAND, 11)
    agrees("F of five wavelengths, as printed", factor, 1.06348814229249, BY_HAND, 11)


def test_match_of_five_wavelengths_by_hand(agrees):
    # s* = s · 2.2/2.05; |s* − 1| is 0.29/2.05, 0.07/2.05, 0.15/2.05, 0.07/2.05 and 0.51/2.05: 1.09/2.05
    index = spectral_match_index(steps(RESPONSE), steps(CALIBRATION), steps(np.ones(5)))
    agrees("f1′ of five wavelengths, target 1", index, 1.09 / 2.05 / 5, BY_HAND, 10)


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line[0]:g} nm")
def test_bells(line, agrees):
    factor = mismatch_factor(bell(*DETECTOR), bell(*CALIBRATION_LINE), bell(*line))
    what = f"F of a bell of 355/40 nm, 365/12 to {line[0]:g}/{line[1]:g} nm"
    agrees(what, factor, overlap(CALIBRATION_LINE) / overlap(line), BELLS, 9)


def test_the_warning_of_ten_times_is_earned():
    """An ultraviolet head calibrated at 365 nm shows a tenth or less of an LED near 400 nm."""
    factors = [overlap(CALIBRATION_LINE) / overlap(line) for line in LINES[1:]]
    assert 10 < factors[0] < factors[1] < 50


def test_bells_in_a_band(agrees):
    line, band = LINES[0], (315.0, 400.0)
    factor = mismatch_factor(bell(*DETECTOR), bell(*CALIBRATION_LINE), bell(*line), band)
    inside = (band[0] <= GRID) & (band[1] >= GRID)  # both limits stand on the grid
    sums = [
        (
            np.trapezoid(bell(*one).values[inside], GRID[inside]),
            np.trapezoid(bell(*one) * bell(*DETECTOR), GRID),
        )
        for one in (CALIBRATION_LINE, line)
    ]
    expected = sums[0][1] / sums[0][0] * sums[1][0] / sums[1][1]
    agrees("F of bells in 315–400 nm, 1 nm steps", factor, expected, "numpy trapezoid", 12, "package")
    # without steps: the part of a bell between limits is a difference of error functions
    part = [
        np.diff(erf(2 * np.sqrt(np.log(2)) * (np.array(band) - centre) / width))[0] / 2
        for centre, width in (CALIBRATION_LINE, line)
    ]
    smooth = overlap(CALIBRATION_LINE) / overlap(line) * part[1] / part[0]
    agrees("F of bells in 315–400 nm, without steps", factor, smooth, BELLS, 4)


def test_a_band_as_a_curve_of_0_and_1(agrees):
    """Such a curve falls along a step beyond each limit, which counts half a step more than a band."""
    line = LINES[0]
    target = spectrum(((GRID >= 315) & (GRID <= 400)).astype(float))
    factor = mismatch_factor(bell(*DETECTOR), bell(*CALIBRATION_LINE), bell(*line), target)
    sums = [
        (np.trapezoid(bell(*one) * target, GRID), np.trapezoid(bell(*one) * bell(*DETECTOR), GRID))
        for one in (CALIBRATION_LINE, line)
    ]
    expected = sums[0][1] / sums[0][0] * sums[1][0] / sums[1][1]
    agrees("F of bells, a curve of 0 and 1 at 1 nm", factor, expected, "numpy trapezoid", 12, "package")
    agrees("the same, computed outside this project", factor, "3.5632444836", "numpy 2.4.6", None, "package")


def test_share_beyond_a_band(agrees):
    """The product of the two bells is a bell of its own, cut at the limit."""
    line = LINES[0]
    squares = DETECTOR[1] ** 2 + line[1] ** 2
    centre = (line[0] * DETECTOR[1] ** 2 + DETECTOR[0] * line[1] ** 2) / squares
    width = DETECTOR[1] * line[1] / np.sqrt(squares)
    expected = (1 - erf(2 * np.sqrt(np.log(2)) * (385 - centre) / width)) / 2
    fine = np.linspace(300, 450, 3001)  # the trapezoidal rule errs by step²/12 times the slope at the limit
    share = out_of_band_share(bell(*DETECTOR, fine), bell(*line, fine), 300, 385)
    agrees("share of the signal beyond 385 nm", share, expected, BELLS, 5)


def test_the_same_algebra_as_pvlib(agrees):
    response = pd.Series(bell(*DETECTOR).values, GRID)
    reference = pd.Series(bell(*CALIBRATION_LINE).values, GRID)
    sources = xr.concat([bell(*line) for line in LINES], "source")
    factors = mismatch_factor(bell(*DETECTOR), bell(*CALIBRATION_LINE), sources)
    expected = pvlib.spectrum.calc_spectral_mismatch_field(
        response, pd.DataFrame(sources.values, columns=GRID), reference
    )
    for line, found, reciprocal in zip(LINES, factors, expected, strict=True):
        agrees(f"F from 365 to {line[0]:g} nm", found, 1 / reciprocal, PVLIB, 12, "package")


def test_pvlib_in_sunlight_on_another_grid(agrees):
    sun = pvlib.spectrum.get_reference_spectra(standard="ASTM G173-03")["global"]
    grid, values = sun.index.to_numpy(), sun.to_numpy()
    # every nanometre is in the grid of the sunlight, and at its ends the response is nothing or cut by it:
    # then pvlib, which looks at the response on the points of the spectrum alone, sees the same
    wide = np.arange(280.0, 501.0)
    response = pd.Series(bell(*DETECTOR, wide).values, wide)
    reference = pd.Series(bell(*CALIBRATION_LINE).values, GRID)
    expected = pvlib.spectrum.calc_spectral_mismatch_field(response, sun, reference)
    found = mismatch_factor(bell(*DETECTOR, wide), bell(*CALIBRATION_LINE), spectrum(values, grid))
    agrees("F from 365 nm to ASTM G173-03 global", found, 1 / expected, PVLIB, 12, "package")


RELATIVE = 0.03  # standard uncertainty of each sample, relative
CORRELATED_OVER = 10.0  # nm
CURVES = {"response": RESPONSE, "calibration": CALIBRATION, "measured": MEASURED}


def drawn_steps(values, draws, seed):
    """Draws of five cells; the two points of a cell share their error."""
    centres = spectrum(values, CENTRES)
    drawn = draw(centres, RELATIVE * centres, draws=draws, seed=seed, correlation=CORRELATED_OVER)
    return drawn.isel(wavelength=np.repeat(range(5), 2)).assign_coords(wavelength=steps(values).wavelength)


def factor_in_gtc(uncertain):
    """F of the five wavelengths with one uncertain curve, and its two integrals with the response."""
    reals = {name: list(values) for name, values in CURVES.items()}
    reals[uncertain] = [GTC.ureal(x, RELATIVE * x, independent=False) for x in CURVES[uncertain]]
    for i, one in enumerate(reals[uncertain]):
        for j, other in enumerate(reals[uncertain][:i]):
            if one.u and other.u:
                correlation = np.exp(-abs(CENTRES[i] - CENTRES[j]) / CORRELATED_OVER)
                GTC.set_correlation(float(correlation), one, other)
    response, calibration, measured = reals.values()
    seen = [sum(e * s for e, s in zip(light, response, strict=True)) for light in (calibration, measured)]
    return sum(measured) * seen[0] / (sum(calibration) * seen[1]), seen


@pytest.mark.parametrize(
    ("uncertain", "draws"), [("response", 2000), ("calibration", 40_000), ("measured", 40_000)]
)
def test_uncertainty_by_the_law_of_propagation_in_gtc(uncertain, draws):
    arrays = {name: steps(values) for name, values in CURVES.items()}
    factors = mismatch_factor(**{**arrays, uncertain: drawn_steps(CURVES[uncertain], draws, 7)})
    expected, _ = factor_in_gtc(uncertain)
    # of n normal draws the mean errs by u/√n and the standard deviation by u/√(2n); four of each
    assert float(factors.std(ddof=1)) == pytest.approx(expected.u, rel=4 / np.sqrt(2 * draws))
    assert float(factors.mean()) == pytest.approx(expected.x, rel=0, abs=4 * expected.u / np.sqrt(draws))


def test_ignoring_the_correlation_overstates_the_uncertainty():
    """The response stands above and below: what errs in both cancels, if both take the same draws."""
    draws = 2000
    response, other = (drawn_steps(RESPONSE, draws, seed) for seed in (8, 9))
    calibration, measured = steps(CALIBRATION), steps(MEASURED)
    together = mismatch_factor(response, calibration, measured)
    apart = response_signal(response, calibration) / response_signal(other, measured) * (2.1 / 2.2)
    expected, seen = factor_in_gtc("response")
    ignored = expected.x * np.hypot(*(one.u / one.x for one in seen))
    assert ignored > 2 * expected.u
    assert float(together.std(ddof=1)) == pytest.approx(expected.u, rel=4 / np.sqrt(2 * draws))
    assert float(apart.std(ddof=1)) == pytest.approx(ignored, rel=4 / np.sqrt(2 * draws))
