"""A straight line: SciPy's regression and its t-distribution are the judges."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from scipy.stats import kstest, linregress, t

from spectralbench.errors import RangeError
from spectralbench.straight_lines import drawn, line_through

X = xr.DataArray([1.0, 2.0, 4.0, 7.0, 11.0], dims="trial")  # invented
Y = xr.DataArray([[3.1, 4.8, 9.3, 14.9, 23.2], [5.0, 4.6, 4.1, 2.9, 1.0]], dims=("series", "trial"))


def test_it_is_the_line_of_scipy_with_its_errors():
    line = line_through(X, Y, "trial")
    for i in range(2):
        judge = linregress(X.values, Y.values[i])
        assert line.slope[i].item() == pytest.approx(judge.slope, rel=1e-12)
        assert line.start[i].item() == pytest.approx(judge.intercept, rel=1e-12)
        assert line.slope_error[i].item() == pytest.approx(judge.stderr, rel=1e-12)
        at_zero = np.hypot(line.level_error[i], line.slope_error[i] * line.centre)
        assert at_zero.item() == pytest.approx(judge.intercept_stderr, rel=1e-12)
        expected = Y.values[i] - judge.intercept - judge.slope * X.values
        assert line.residual[i].values == pytest.approx(expected, abs=1e-12)
    assert line.freedom == 3


@pytest.mark.parametrize("value", [2.0, 2.3, 0.7, np.log(0.7), -1e9])
def test_points_that_are_all_alike_have_no_slope(value):
    """Rounding alone would give one of either sign: a depth that grows, an output that falls."""
    for x in ([1.0, 2, 4], [10.0, 11, 13], [200.0, 430, 811, 1600], [0.0, 1000, 2500, 4000, 7000]):
        at = xr.DataArray(np.log1p(x), dims="trial")
        assert line_through(at, xr.full_like(at, value), "trial").slope.item() == 0.0
        steep = line_through(at, value + 1e-9 * abs(value) * at, "trial").slope.item()
        assert steep == pytest.approx(1e-9 * abs(value), rel=1e-4)


def test_units_of_the_points_are_not_those_of_the_line():
    line = line_through(X.assign_attrs(units="h"), Y.assign_attrs(units="um"), "trial")
    assert not any(array.attrs for array in (line.slope, line.level, line.start, line.residual))


def test_a_point_that_is_not_known_spoils_its_own_line_only():
    line = line_through(X, Y.where(Y != 9.3), "trial")
    assert np.isnan(line.slope).values.tolist() == [True, False]
    assert np.isnan(line.slope_error).values.tolist() == [True, False]


def test_draws_follow_the_t_distribution():
    line = line_through(X, Y[0], "trial")
    draws = drawn(line, 5000, np.random.default_rng(1))
    for value, best, error in (
        (draws.slope, line.slope, line.slope_error),
        (draws.level, line.level, line.level_error),
    ):
        assert kstest(((value - best) / error).values, t(3).cdf).pvalue > 0.01
    assert abs(np.corrcoef(draws.slope, draws.level)[0, 1]) < 0.05


def test_slopes_beyond_a_limit_are_not_drawn_and_the_rest_are_as_likely_as_before():
    line = line_through(X, Y[0], "trial")
    low, high = float(line.slope - line.slope_error), float(line.slope + 2 * line.slope_error)
    slopes = drawn(line, 5000, np.random.default_rng(1), low, high).slope
    assert low <= slopes.min()
    assert slopes.max() <= high
    expected = (t(3).cdf(0) - t(3).cdf(-1)) / (t(3).cdf(2) - t(3).cdf(-1))
    assert float((slopes < line.slope).mean()) == pytest.approx(expected, abs=0.02)


def test_points_with_draws_keep_them():
    several = Y[0] * xr.DataArray([0.9, 1.0, 1.1], dims="draw")
    assert drawn(line_through(X, several, "trial"), 3, np.random.default_rng(1)).level.dims == ("draw",)
    with pytest.raises(RangeError, match="the points carry 3 draws already: ask for as many, not 7"):
        drawn(line_through(X, several, "trial"), 7, np.random.default_rng(1))
