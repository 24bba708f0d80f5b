"""Reciprocity: an exposure carried over, and the exponent from pairs of equal effect."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import carried_over_time, fit_reciprocity
from spectralbench.draws import summarize
from spectralbench.errors import RangeError, UnitsError


class TestCarriedOver:
    def test_equal_photons_is_the_rule_unless_another_is_named(self):
        found = carried_over_time(100.0, "10 s", 200.0)
        assert found.item() == pytest.approx(5.0)
        assert found.attrs["units"] == "s"
        assert found.attrs["history"] == "carried over by equal (absorbed rate)^p × time, p = 1"
        assert "comment" not in found.attrs

    def test_draws_of_the_exponent(self):
        exponents = xr.DataArray([0.5, 0.8, 1.0], dims="draw")
        found = carried_over_time(100.0, 10.0, xr.DataArray([100.0, 1000.0], dims="source"), exponents)
        assert found.sizes == {"source": 2, "draw": 3}
        assert found[0].values == pytest.approx([10.0, 10.0, 10.0])
        assert found[1].values == pytest.approx([3.1623, 1.5849, 1.0], abs=1e-4)
        assert "p = 0.5–1 over the draws" in found.attrs["history"]

    def test_nothing_absorbed_is_never_enough(self):
        found = carried_over_time(100.0, 10.0, xr.DataArray([0.0, 100.0], dims="source"))
        assert found.values.tolist() == [np.inf, 10.0]
        assert carried_over_time(100.0, 0.0, 0.0).item() == np.inf

    def test_not_known_stays_not_known(self):
        assert np.isnan(carried_over_time(100.0, 10.0, np.nan))
        assert np.isnan(carried_over_time(np.nan, 10.0, 1.0))

    @pytest.mark.parametrize(
        ("rates", "said"),
        [
            ([300.0], ""),
            ([100 / 3], ""),
            (
                [1000.0],
                "the absorbed rate is 10 times the known one; an exponent that is off .* time 1.26 times",
            ),
            ([10.0], "the absorbed rate is 0.1 times the known one; .* the time 1.26 times"),
            ([100.0, 500.0], "the absorbed rate is up to 5 times the known one; .* the time 1.17 times"),
            ([100.0, 20.0], "the absorbed rate is down to 0.2 times the known one; .* the time 1.17 times"),
            ([0.0], ""),
        ],
    )
    def test_far_from_the_known_rate_it_says_so(self, rates, said):
        comment = carried_over_time(100.0, 10.0, xr.DataArray(rates, dims="source")).attrs.get("comment", "")
        assert re.fullmatch(said, comment)

    @pytest.mark.parametrize(
        ("given", "said"),
        [
            ((0.0, 10.0, 1.0), "known photons is above 0, not 0 umol m-2 s-1"),
            ((1.0, -10.0, 1.0), "known time is 0 or more, not -10 s"),
            ((1.0, 10.0, -1.0), "photons is 0 or more, not -1 umol m-2 s-1"),
            (
                (1.0, 10.0, 1.0, 0.0),
                "exponent lies above 0 and up to 1.5, not at 0; 1 asks for equal photons",
            ),
            ((1.0, 10.0, 1.0, 1.6), "exponent lies above 0 and up to 1.5, not at 1.6"),
        ],
    )
    def test_what_means_nothing(self, given, said):
        with pytest.raises(RangeError, match=said):
            carried_over_time(*given)

    def test_the_steepest_exponent_that_is_possible(self):
        assert carried_over_time(100.0, 8.0, 400.0, 1.5).item() == pytest.approx(1.0)

    def test_another_unit(self):
        with pytest.raises(UnitsError, match="known_photons: "):
            carried_over_time("100 mW/cm^2", 10.0, 1.0)


class TestFit:
    def test_an_exact_exponent_is_found_again(self):
        light = xr.DataArray([10.0, 30.0, 100.0, 300.0], dims="trial", attrs={"units": "mW/cm^2"})
        fit = fit_reciprocity(light, 500 * light.values**-0.7, draws=20, seed=1)
        assert fit["exponent"].values == pytest.approx(np.full(20, 0.7))
        assert [fit[name].item() for name in ("low", "high")] == pytest.approx([0.7, 0.7])
        assert fit["residual"].values == pytest.approx(np.zeros(4), abs=1e-12)
        assert fit["least"].attrs["units"] == "mW/cm^2"
        assert [fit[name].item() for name in ("least", "most")] == [10.0, 300.0]

    def test_draws_and_interval_agree(self):
        fit = fit_reciprocity([1.0, 2, 4, 8, 16], [100.0, 61, 34, 20, 12], draws=20_000, seed=1)
        said = summarize(fit["exponent"])
        for name in ("low", "high"):
            assert said[name].item() == pytest.approx(fit[name].item(), abs=0.002)
        assert fit["exponent"].attrs["units"] == "1"
        time = carried_over_time(1.0, 100.0, 32.0, fit["exponent"])
        assert time.sizes == {"draw": 20_000}

    def test_no_draw_lies_out_of_range(self):
        fit = fit_reciprocity([1.0, 2.0, 4.0], [10.0, 9.0, 3.0], draws=5000, seed=1)
        assert fit["low"].item() < 0  # what three such points say
        assert np.isfinite(carried_over_time(1.0, 1.0, 2.0, fit["exponent"])).all()

    @pytest.mark.parametrize(
        ("light", "times", "said"),
        [
            ([1, 2], [2, 1], "a fit needs 3 different values of irradiance or more, not 2"),
            ([1, 2, 3], [1, 2], "irradiance and time have different lengths"),
            ([-1, 2, 3], [1, 2, 3], "every irradiance in a trial is a number above 0, not -1"),
            ([1, 2, 3], [1, 2, 0], "every time in a trial is a number above 0, not 0"),
            (
                [1, 2, 4],
                [1, 2, 4],
                "give a reciprocity exponent of -1; .* check that every pair had the same effect",
            ),
            ([10, 11, 13], [2, 2, 2], "give a reciprocity exponent of -?0; above 0"),
            ([1, 2, 4], [16, 4, 1], "give a reciprocity exponent of 2; above 0 and up to 1.5 is expected"),
        ],
    )
    def test_pairs_that_do_not_do(self, light, times, said):
        with pytest.raises(RangeError, match=said):
            fit_reciprocity(light, times)

    def test_a_coverage_that_is_none(self):
        with pytest.raises(RangeError, match="a coverage lies between 0 and 1, not at 95"):
            fit_reciprocity([1, 2, 4], [4, 2, 1], coverage=95)
