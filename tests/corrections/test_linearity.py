"""A detector that bends, simulated and straightened."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.corrections import correct_linearity, fit_linearity, subtract_dark
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.linspace(300.0, 420.0, 13)
RATES = 3e4 * (1 + 2 * np.exp(-(((GRID - 365) / 20) ** 2)))  # counts by second; invented
TIMES = np.array([0.02, 0.05, 0.1, 0.2, 0.5])


def frames(values, **coordinates):
    values = np.asarray(values, float)
    dims = ("draw", "spectrum", "wavelength")[-values.ndim :]
    return xr.DataArray(values, {"wavelength": GRID[: values.shape[-1]], **coordinates}, dims)


def bent(light, *powers):
    """What a detector counts whose counts over the polynomial 1 + a S + b S² + … are the light."""
    counts = np.array(light, float)
    for _ in range(200):
        counts = light * sum((a * counts**k for k, a in enumerate(powers, 1)), np.ones_like(counts))
    return counts


LIGHT = TIMES[:, None] * RATES
EXPOSURES = frames(bent(LIGHT, -2e-6, 1e-11), integration_time=("spectrum", TIMES))


class TestCorrecting:
    def test_every_count_by_its_own_polynomial(self):
        # 1 − 2·10⁻⁶ · 40000 = 0.92, and 1 − 2·10⁻⁶ · 10000 = 0.98
        found = correct_linearity(frames([40000.0, 10000.0, 0.0]), [1.0, -2e-6])
        assert found.values == pytest.approx([40000 / 0.92, 10000 / 0.98, 0.0], rel=1e-12)
        assert found.attrs["units"] == "1"
        assert found.attrs["history"] == "corrected for non-linearity: counts S divided by 1 - 2e-06 S^1"

    def test_what_is_not_valid_stays_so_and_spoils_nothing(self):
        found = correct_linearity(frames([np.nan, 10000.0]), [1.0, -2e-6])
        assert np.isnan(found.values).tolist() == [True, False]
        assert np.isnan(correct_linearity(frames([np.nan]), fit_linearity(EXPOSURES).coefficients)).all()

    @pytest.mark.parametrize("order", [("draw", "wavelength"), ("wavelength", "draw")])
    def test_each_draw_by_its_own_coefficients(self, order):
        counts = frames([[1000.0, 2000.0], [3000.0, 4000.0]]).rename(spectrum="draw").transpose(*order)
        series = xr.DataArray([[1.0, -1e-6], [1.0, -5e-6]], dims=("draw", "coefficient"))
        found = correct_linearity(counts, series)
        assert found.dims == order
        for k in range(2):
            alone = correct_linearity(counts.isel(draw=k), series.values[k])
            np.testing.assert_allclose(found.isel(draw=k), alone, rtol=1e-15)
        assert found.attrs["history"].endswith("a polynomial of degree 1 for each draw")

    def test_draws_of_the_coefficients_alone(self):
        series = xr.DataArray([[1.0, 1.0], [0.0, -5e-6]], dims=("coefficient", "draw"))
        found = correct_linearity(frames([1000.0]), series)
        assert found.sizes == {"wavelength": 1, "draw": 2}
        assert found.values == pytest.approx(np.array([[1000, 1000 / 0.995]]))

    def test_draws_that_are_not_the_same(self):
        counts = frames([[1.0], [2.0]]).rename(spectrum="draw")
        series = xr.DataArray(np.ones((3, 1)), dims=("draw", "coefficient"))
        with pytest.raises(GridError, match=r"correct_linearity\(\): the arguments do not fit together"):
            correct_linearity(counts, series)

    def test_more_counts_than_were_fitted(self):
        fit = fit_linearity(EXPOSURES)
        top = float(EXPOSURES.max())
        with pytest.raises(
            RangeError, match=r"a count of 50000 lies above 4.*, the highest .*mark it as sat"
        ):
            correct_linearity(frames([50000.0]), fit.coefficients)
        noisy = correct_linearity(frames([1.01 * top]), fit.coefficients)
        assert "lowest_count" not in noisy.coords
        assert f"fitted over {float(EXPOSURES.min()):.0f}–{top:.0f} counts" in noisy.attrs["history"]

    def test_a_polynomial_that_is_no_detectors(self):
        with pytest.raises(RangeError, match="the non-linearity falls to -1 within the counts given"):
            correct_linearity(frames([1e6]), [1.0, -2e-6])

    def test_counts_by_second_are_no_counts(self):
        with pytest.raises(UnitsError, match='"s-1" cannot be converted to "1"'):
            correct_linearity(frames([1.0]).assign_attrs(units="s-1"), [1.0])

    @pytest.mark.parametrize(
        ("series", "said"),
        [
            ([], "run along a dimension coefficient, constant first"),
            (xr.DataArray([1.0], dims="power"), "run along a dimension coefficient, constant first"),
            ([1.0, np.nan], "a coefficient of the non-linearity is not finite"),
            (
                xr.DataArray([0.0, 1.0], {"coefficient": [1, 0]}, "coefficient"),
                r"the powers 0, 1, 2, …, not of \[1, 0\]",
            ),
        ],
    )
    def test_coefficients_that_are_none(self, series, said):
        with pytest.raises(RangeError, match=said):
            correct_linearity(frames([1.0]), series)


class TestFitting:
    def test_a_quadratic_detector_is_found(self):
        fit = fit_linearity(EXPOSURES, degree=2)
        np.testing.assert_allclose(fit.coefficients, [1.0, -2e-6, 1e-11], rtol=1e-7)
        np.testing.assert_allclose(fit.residual, 0, atol=1e-10)
        np.testing.assert_allclose(correct_linearity(EXPOSURES, fit.coefficients), LIGHT, rtol=1e-10)
        assert fit.coefficients.attrs["history"].startswith("fitted the non-linearity to 5 exposures, 599–4")
        assert "a polynomial of degree 2, 1 at 0 counts; residuals of" in fit.coefficients.attrs["history"]

    def test_the_level_at_which_it_is_linear_is_a_choice_that_cancels(self):
        at_none, at_some = (
            fit_linearity(EXPOSURES, TIMES, 2, reference_level=level).coefficients for level in (0, 20000.0)
        )
        assert float((at_some * 20000.0**at_some.coefficient).sum()) == pytest.approx(1, rel=1e-9)
        ratio = correct_linearity(EXPOSURES, at_some) / correct_linearity(EXPOSURES, at_none)
        np.testing.assert_allclose(ratio, float(ratio[0, 0]), rtol=1e-9)

    @given(st.floats(-3e-6, 3e-6), st.floats(-1e-11, 1e-11), st.floats(0.2, 1.0))
    @settings(max_examples=30)
    def test_the_light_is_found_again(self, slope, curve, brightness):
        counts = frames(bent(brightness * LIGHT, slope, curve))
        found = correct_linearity(counts, fit_linearity(counts, TIMES, degree=2).coefficients)
        np.testing.assert_allclose(found, brightness * LIGHT, rtol=1e-7)

    def test_saturated_and_faint_counts_are_left_out(self):
        spoilt = EXPOSURES.copy()
        spoilt[4, 5:8] = np.nan
        spoilt[0, 0] = 5.0  # a bad count, but below one per cent of the highest
        fit = fit_linearity(spoilt, degree=2)
        np.testing.assert_allclose(fit.coefficients, [1.0, -2e-6, 1e-11], rtol=1e-7)
        assert int(fit.residual.isnull().sum()) == 4
        assert float(fit.highest_count) == np.nanmax(spoilt)

    def test_each_draw_is_fitted_by_itself(self):
        both = frames(np.stack([LIGHT, bent(LIGHT, -2e-6)]))
        fit = fit_linearity(both, TIMES, degree=1)
        np.testing.assert_allclose(fit.coefficients, [[1, 0], [1, -2e-6]], rtol=1e-9, atol=1e-15)
        assert fit.covariance.sizes == {"draw": 2, "coefficient": 2, "other_coefficient": 2}

    def test_noise_stays_within_its_covariance(self):
        """Shot noise of one electron by count, over 200 runs (chi-square of 2 degrees: mean 2)."""
        random = np.random.default_rng(3)
        truth = bent(LIGHT, -2e-6, 1e-11)
        noisy = frames(random.normal(truth, np.sqrt(truth), (200, *truth.shape)))
        fit = fit_linearity(noisy, TIMES, degree=2)
        off = fit.coefficients.values[:, 1:] - [-2e-6, 1e-11]
        inverse = np.linalg.inv(fit.covariance.values[:, 1:, 1:])
        assert np.einsum("di,dij,dj->d", off, inverse, off).mean() == pytest.approx(2, abs=0.6)

    def test_times_in_other_units(self):
        in_ms = xr.DataArray(TIMES * 1e3, dims="spectrum", attrs={"units": "ms"})
        assert fit_linearity(EXPOSURES, in_ms).equals(fit_linearity(EXPOSURES))

    def test_what_it_gives_fits_the_frame(self):
        """Through the door of the step before: the dark keeps what the fit needs."""
        dark = frames(np.full(GRID.size, 100.0))
        fit = fit_linearity(subtract_dark(EXPOSURES + 100.0, dark), degree=2)
        np.testing.assert_allclose(fit.coefficients[1], -2e-6, rtol=1e-6)

    def test_too_few_times(self):
        with pytest.raises(
            RangeError, match=r"exposures at 3 integration times cannot show .* degree 3: take 4"
        ):
            fit_linearity(EXPOSURES[:3])
        with pytest.raises(RangeError, match="exposures at 0 integration times"):
            fit_linearity(EXPOSURES * np.nan)

    def test_a_fit_that_turns_back(self):
        with pytest.raises(
            RangeError, match="more counts would mean less light near 39276 counts: lower the"
        ):
            fit_linearity(self.one_at(3, 0.5), degree=4)

    def test_a_fit_that_does_not_settle(self):
        with pytest.raises(RangeError, match="does not settle: are these exposures of one source"):
            fit_linearity(self.one_at(4, 0.4))

    @pytest.mark.parametrize("change", [0.95, 1.05])
    def test_a_source_that_was_not_steady(self, change):
        drifted = self.one_at(3, change)
        with pytest.raises(RangeError, match=r"exposure of \d+ ms lies \d\.\d% beside the fit, beyond 1\.0%"):
            fit_linearity(drifted)
        assert fit_linearity(drifted, tolerance="10 %").sizes["coefficient"] == 4

    @staticmethod
    def one_at(number, factor):
        """Light of which one exposure had another amount."""
        light = frames(LIGHT.copy(), integration_time=("spectrum", TIMES))
        light[number] *= factor
        return light

    def test_arguments_that_are_none(self):
        with pytest.raises(RangeError, match=r"exposures run along spectrum.*there is \('wavelength',\)"):
            fit_linearity(EXPOSURES[0])
        with pytest.raises(RangeError, match="degree of a non-linearity is 1 or more, not 0"):
            fit_linearity(EXPOSURES, degree=0)
        with pytest.raises(RangeError, match="exposures need their integration_time"):
            fit_linearity(frames(LIGHT))
        with pytest.raises(RangeError, match="5 exposures need 5 integration times above 0 s"):
            fit_linearity(EXPOSURES, [1.0, 2.0])
        with pytest.raises(RangeError, match="5 exposures need 5 integration times above 0 s"):
            fit_linearity(EXPOSURES, [0.0, 1.0, 2.0, 3.0, 4.0])
