"""The wavelength scale, against polynomials that are known and least squares done by others."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from spectralbench.corrections.wavelength_scale import fit_wavelength_scale, wavelength_at
from spectralbench.errors import GridError, RangeError, UnitsError

AT = np.array([31.2, 208.9, 402.4, 611.7, 950.1, 1204.8, 1500.3, 1799.6, 1960.0])
SCATTER = np.array([0.02, -0.05, 0.03, 0.01, -0.04, 0.06, -0.01, -0.03, 0.02])


def true_scale(pixel):
    """A detector of 2048 pixels over 250 to 850 nm; invented."""
    x = np.asarray(pixel) / 2047
    return 250 + 640 * x - 32 * x**2 - 8 * x**3


KNOWN = true_scale(AT) + SCATTER


def test_a_polynomial_comes_back():
    fit = fit_wavelength_scale(AT, true_scale(AT), pixels=2048)
    np.testing.assert_allclose(fit["scale"], true_scale(np.arange(2048)), rtol=0, atol=1e-9)
    assert fit["largest_residual"] < 1e-9
    assert fit["scale"].attrs["units"] == "nm"
    assert fit["scale"].dims == ("pixel",)


@given(
    start=st.floats(150, 400),
    span=st.floats(50, 1500),
    bend=st.floats(-0.2, 0.2),
    twist=st.floats(-0.05, 0.05),
    falling=st.booleans(),
    degree=st.integers(3, 5),
    lines=st.integers(7, 30),
)
def test_any_instrument_of_a_polynomial_scale_comes_back(start, span, bend, twist, falling, degree, lines):
    def scale(pixel):
        x = np.asarray(pixel) / 1023
        return start + span * ((1 - x if falling else x) + bend * x * (1 - x) + twist * x**2 * (1 - x))

    at = np.linspace(5.5, 1001.25, lines)
    fit = fit_wavelength_scale(at, scale(at), degree, pixels=1024)
    np.testing.assert_allclose(fit["scale"], scale(np.arange(1024)), rtol=0, atol=1e-9 * (start + span))
    np.testing.assert_allclose(wavelength_at(fit, at), scale(at), rtol=0, atol=1e-9 * (start + span))


@pytest.mark.parametrize("degree", [1, 2, 3, 4])
@pytest.mark.parametrize("weighted", [False, True])
def test_scale_covariance_and_leverage_against_numpy(degree, weighted):
    """numpy.polyfit is the judge: values, covariance scaled by the residuals, uncertainty of the scale."""
    spread = np.linspace(1e-4, 5e-4, AT.size)  # far below the scatter, so the scatter counts
    fit = fit_wavelength_scale(AT, KNOWN, degree, spread if weighted else None, pixels=2048)
    x = (AT - fit["centre"].item()) / fit["half_range"].item()
    weight = 1 / spread if weighted else np.ones(AT.size)
    theirs, covariance = np.polyfit(x, KNOWN, degree, w=weight, cov=True)
    np.testing.assert_allclose(fit["coefficients"], theirs[::-1], rtol=1e-9)
    np.testing.assert_allclose(fit["covariance"], covariance[::-1, ::-1], rtol=1e-7, atol=1e-15)
    everywhere = np.vander((np.arange(2048) - fit["centre"].item()) / fit["half_range"].item(), degree + 1)
    spreads = np.sqrt(np.einsum("pi,ij,pj->p", everywhere, covariance, everywhere))
    np.testing.assert_allclose(fit["standard_uncertainty"], spreads, rtol=1e-7)
    design = np.vander(x, degree + 1) * weight[:, None]
    hat = design @ np.linalg.pinv(design)
    np.testing.assert_allclose(fit["leverage"], np.diag(hat), rtol=1e-9)
    assert fit["leverage"].sum().item() == pytest.approx(degree + 1, rel=1e-12)
    residuals = np.polyval(theirs, x) - KNOWN
    np.testing.assert_allclose(fit["residuals"], residuals, atol=1e-9)
    assert fit["rms"].item() == pytest.approx(np.sqrt(np.mean(residuals**2)), rel=1e-9)
    assert fit["largest_residual"].item() == pytest.approx(np.abs(residuals).max(), rel=1e-9)


def test_an_uncertainty_above_the_scatter_counts_as_it_is():
    fit = fit_wavelength_scale(AT, KNOWN, 3, "1 nm")
    x = (AT - fit["centre"].item()) / fit["half_range"].item()
    _, covariance = np.polyfit(x, KNOWN, 3, w=np.ones(AT.size), cov="unscaled")
    np.testing.assert_allclose(fit["covariance"], covariance[::-1, ::-1], rtol=1e-9)
    chi_square = (fit["residuals"] ** 2).sum() / (AT.size - 4)
    assert fit["reduced_chi_square"].item() == pytest.approx(chi_square.item(), rel=1e-9)
    assert "reduced_chi_square" not in fit_wavelength_scale(AT, KNOWN)


def test_a_line_of_large_uncertainty_hardly_counts():
    spread = np.full(AT.size, 0.01)
    spread[4] = 100.0
    moved = KNOWN.copy()
    moved[4] += 5.0
    without = fit_wavelength_scale(np.delete(AT, 4), np.delete(KNOWN, 4), pixels=2048)
    fit = fit_wavelength_scale(AT, moved, 3, spread, pixels=2048)
    np.testing.assert_allclose(fit["scale"], without["scale"], rtol=0, atol=1e-5)


def test_the_uncertainty_of_the_scale_is_the_spread_of_many_fits():
    """Monte Carlo is the judge: 4,000 draws of the lines, each with its uncertainty."""
    rng = np.random.default_rng(7)
    spread = np.linspace(0.02, 0.1, AT.size)
    drawn = xr.DataArray(
        true_scale(AT) + spread * rng.standard_normal((4000, AT.size)),
        dims=("draw", "line"),
        attrs={"units": "nm"},
    )
    fits = fit_wavelength_scale(AT, drawn, 3, spread, pixels=2048)
    assert fits["scale"].dims == ("draw", "pixel")
    # exact lines: what is left of the covariance is that of the uncertainties
    one = fit_wavelength_scale(AT, true_scale(AT), 3, spread, pixels=2048)
    found = fits["scale"].std("draw", ddof=1)
    # the standard deviation of 4,000 draws is known within 1/√8000 = 1.1 %; five times that
    np.testing.assert_allclose(found, one["standard_uncertainty"], rtol=0.056)


def test_draws_of_positions_and_further_dimensions_are_fitted_each():
    shifts = xr.DataArray([[0.0, 0.5], [1.0, -0.25]], dims=("source", "draw"), coords={"source": ["a", "b"]})
    at = xr.DataArray(AT, dims="line") + shifts
    fits = fit_wavelength_scale(at, KNOWN, pixels=2048)
    assert set(fits["scale"].dims) == {"source", "draw", "pixel"}
    assert fits.source.values.tolist() == ["a", "b"]
    one = fit_wavelength_scale(AT - 0.25, KNOWN, pixels=2048)
    own = fits.isel(source=1, draw=1)
    np.testing.assert_allclose(own["scale"], one["scale"], rtol=1e-11)
    np.testing.assert_allclose(own["standard_uncertainty"], one["standard_uncertainty"], rtol=1e-6)
    np.testing.assert_allclose(
        wavelength_at(fits, [700.0]).isel(source=1, draw=1), wavelength_at(one, [700.0])
    )


def test_the_condition_stays_small():
    """Centred and scaled pixels; raw powers of 2,048 pixels would be near 1e10."""
    fit = fit_wavelength_scale(AT, KNOWN)
    assert fit["condition"] < 12
    assert np.linalg.cond(np.vander(AT, 4)) > 1e9


def test_stretches_without_lines_are_flagged():
    fit = fit_wavelength_scale(AT, KNOWN, pixels=2048)
    beyond = np.flatnonzero(fit["extrapolated"])
    assert beyond.tolist() == [*range(32), *range(1961, 2048)]
    assert (
        "pixels 0–31 and 1961–2047 lie outside the lines: there the scale is extrapolated"
        in fit.attrs["comment"]
    )
    inside = fit["standard_uncertainty"].where(~fit["extrapolated"])
    assert fit["standard_uncertainty"][-1] > inside.max()
    one_end = fit_wavelength_scale(AT - AT[0], KNOWN, pixels=2048)
    assert "pixels 1929–2047 lie outside" in one_end.attrs["comment"]


def test_without_pixels_the_scale_ends_after_the_last_line():
    fit = fit_wavelength_scale(AT + 0.5, KNOWN)
    assert fit.sizes["pixel"] == 1962
    assert fit.pixel.values[-1] == 1961


@pytest.mark.parametrize("wrong", range(AT.size))
def test_a_line_taken_for_another_one_shows(wrong):
    """2.1 nm off, as if 579.07 were 576.96 nm: the message names it wherever it stands."""
    known = true_scale(AT) + SCATTER / 10
    known[wrong] += 2.106
    fit = fit_wavelength_scale(AT, known)
    beside = abs(fit["residuals"][wrong].item())
    message = f"the line at {known[wrong]:.4f} nm lies {beside:.3g} nm beside the scale"
    assert message in fit.attrs["comment"]
    assert "see whether it is that line, and fit without it" in fit.attrs["comment"]


def test_sound_lines_are_seldom_called_odd():
    """1 % of sound fits may name a line: of 300 no more than 3 and five standard deviations."""
    rng = np.random.default_rng(3)
    named = 0
    for _ in range(300):
        fit = fit_wavelength_scale(AT, true_scale(AT) + 0.02 * rng.standard_normal(AT.size), pixels=1961)
        named += "does not go with" in fit.attrs["comment"]
    assert named <= 3 + 5 * np.sqrt(3)


def test_a_line_far_from_the_others_holds_the_scale_alone():
    at = np.array([10.0, 20, 30, 40, 50, 60, 70, 1000])
    fit = fit_wavelength_scale(at, true_scale(at), 2)
    message = (
        f"the line at {true_scale(1000.0):.4f} nm holds its end of the scale alone (leverage 1.00): an error"
    )
    assert message in fit.attrs["comment"]


def test_one_line_more_than_coefficients_shows_no_wrong_line():
    fit = fit_wavelength_scale(AT[:5], KNOWN[:5])
    assert (
        "one line more than coefficients: a line taken for another one would not show" in fit.attrs["comment"]
    )


@pytest.mark.parametrize("degree", [1, 2, 3, 5])
def test_too_few_lines_are_refused(degree):
    message = (
        f"a scale of degree {degree} needs a degree of 1 or more and at least {degree + 2} lines at "
        f"different positions, one more than it has coefficients; there are {degree + 1}"
    )
    with pytest.raises(RangeError, match=re.escape(message)):
        fit_wavelength_scale(AT[: degree + 1], KNOWN[: degree + 1], degree)
    assert fit_wavelength_scale(AT[: degree + 2], true_scale(AT[: degree + 2]), degree)["rms"] < 1


def test_lines_at_one_position_count_once():
    with pytest.raises(RangeError, match=r"at least 5 lines at different positions, .* there are 4"):
        fit_wavelength_scale([1.0, 1.0, 2.0, 3.0, 4.0], [300.0, 300.1, 310.0, 320.0, 330.0])


def test_a_degree_of_0_is_refused():
    with pytest.raises(
        RangeError, match="a scale of degree 0 needs a degree of 1 or more and at least 3 lines"
    ):
        fit_wavelength_scale(AT, KNOWN, 0)


def test_a_scale_that_turns_round_is_refused():
    known = true_scale(AT)
    known[4] = true_scale(AT[7])
    message = r"a scale of degree 5 through these lines turns round at pixel \d+: .* \(look at [\d.]+ nm, "
    with pytest.raises(RangeError, match=message):
        fit_wavelength_scale(AT, known, 5)


def test_a_falling_scale_is_as_good():
    fit = fit_wavelength_scale(2047 - AT, true_scale(AT), pixels=2048)
    np.testing.assert_allclose(fit["scale"], true_scale(np.arange(2048))[::-1], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        (
            (AT, KNOWN[:-1]),
            GridError,
            "each line has one position and one wavelength; there are 9 positions and 8 w",
        ),
        (([AT], [KNOWN]), GridError, "positions are one row of numbers, or an array with the dimension line"),
        (
            (np.append(AT[:-1], np.nan), KNOWN),
            RangeError,
            "positions are finite numbers: leave out lines that were",
        ),
        ((AT, np.append(KNOWN[:-1], np.inf)), RangeError, "wavelengths are finite numbers: leave out"),
        ((AT, KNOWN, 3, 0.0), RangeError, "an uncertainty of a line is above 0 nm, not 0 nm"),
        (
            (AT, KNOWN, 3, None, 1000),
            RangeError,
            "positions count pixels from 0 to 999; these run from 31.2 to 1960",
        ),
        ((AT - 100, KNOWN), RangeError, "positions count pixels from 0 to 1860; these run from -68.8"),
        ((AT, KNOWN, 3, "1 W"), UnitsError, "uncertainty"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments, error, message):
    with pytest.raises(error, match=re.escape(message)):
        fit_wavelength_scale(*arguments)


def test_wavelengths_in_another_unit_are_converted():
    micrometres = xr.DataArray(KNOWN / 1e3, dims="line", attrs={"units": "um"})
    np.testing.assert_allclose(
        fit_wavelength_scale(AT, micrometres)["scale"], fit_wavelength_scale(AT, KNOWN)["scale"]
    )


def test_the_history_says_how():
    assert fit_wavelength_scale(AT, KNOWN, 3, 0.1).attrs["history"] == (
        "fitted a wavelength scale of degree 3 through 9 lines, lines by their uncertainty, least squares"
    )


def test_half_a_degree_is_refused():
    with pytest.raises(RangeError, match=r"fit_wavelength_scale\(\): degree is a whole number, not 1\.5"):
        fit_wavelength_scale([100, 300, 500, 700], [300.0, 400.0, 500.0, 600.0], degree=1.5)
