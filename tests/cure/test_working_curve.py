"""The working curve: depth for an exposure, exposure for a depth, and the fit."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import cure_depth, exposure_for_depth, fit_working_curve
from spectralbench.draws import summarize
from spectralbench.errors import RangeError, UnitsError

DOSES = np.array([200.0, 400.0, 800.0, 1600.0])  # J m-2, invented


def depths(values, units="um"):
    return xr.DataArray(np.asarray(values, float), dims="trial", attrs={"units": units})


class TestDepth:
    def test_up_to_the_critical_exposure_there_is_none(self):
        doses = xr.DataArray([0.0, 5.0, 10.0, 10.0 * np.e], dims="time")
        found = cure_depth(doses, 10.0, "0.1 mm")
        assert found.values == pytest.approx([0.0, 0.0, 0.0, 0.1])
        assert found.attrs["units"] == "mm"
        assert "says nothing of a bond being cured" in found.attrs["comment"]

    @pytest.mark.parametrize("length", ["100 um", "100um", "1e2 µm", "100 um ± 5 um", "100 +/- 5 um"])
    def test_the_unit_is_that_of_the_penetration_depth(self, length):
        found = cure_depth("50 mJ/cm^2", "100 J/m^2", length)
        assert found.item() == pytest.approx(100 * np.log(5))
        assert found.attrs["units"] in ("um", "µm")

    def test_an_array_keeps_its_unit_and_a_plain_number_has_none(self):
        drawn = xr.DataArray([100.0, 110.0], dims="draw", attrs={"units": "um"})
        assert cure_depth(50.0, 10.0, drawn).attrs["units"] == "um"
        assert cure_depth(50.0, 10.0, drawn).values == pytest.approx(np.log(5) * np.array([100, 110]))
        assert "units" not in cure_depth(50.0, 10.0, 100.0).attrs

    def test_not_known_stays_not_known(self):
        assert np.isnan(cure_depth(np.nan, 10.0, 100.0))
        assert np.isnan(cure_depth(0.0, 10.0, np.nan))

    @pytest.mark.parametrize(
        ("given", "said"),
        [
            ((-1.0, 10.0, 100.0), "exposure is 0 or more, not -1 J m-2"),
            ((1.0, 0.0, 100.0), "critical exposure is above 0, not 0 J m-2"),
            ((1.0, 10.0, "0 um"), "penetration depth is above 0, not 0 um"),
            ((1.0, 10.0, -5.0), "penetration depth is above 0, not -5"),
        ],
    )
    def test_what_means_nothing(self, given, said):
        with pytest.raises(RangeError, match=said):
            cure_depth(*given)

    def test_a_depth_in_no_length(self):
        with pytest.raises(UnitsError, match='"s" cannot be converted to "m"'):
            cure_depth(50.0, 10.0, "100 s")
        with pytest.raises(UnitsError, match="has no unit"):
            cure_depth(50.0, 10.0, "100")


class TestExposure:
    def test_units_of_depth_and_penetration_depth_meet(self):
        expected = 10 * np.e**2
        for depth, length in [("0.2 mm", "100 um"), (200.0, "100 um"), ("200 um", 100.0), (200.0, 100.0)]:
            found = exposure_for_depth(depth, 10.0, length)
            assert found.item() == pytest.approx(expected)
            assert found.attrs["units"] == "J m-2"

    def test_a_depth_of_nothing_takes_the_critical_exposure(self):
        assert exposure_for_depth(0.0, 10.0, 100.0).item() == 10.0

    def test_a_depth_that_no_light_reaches(self):
        assert exposure_for_depth("1 m", 10.0, "1 um").item() == np.inf

    def test_what_means_nothing(self):
        with pytest.raises(RangeError, match="depth is 0 or more, not -1 um"):
            exposure_for_depth("-1 um", 10.0, "100 um")
        with pytest.raises(RangeError, match="critical exposure is above 0, not 0 J m-2"):
            exposure_for_depth(1.0, 0.0, 100.0)
        with pytest.raises(RangeError, match="penetration depth is above 0, not 0"):
            exposure_for_depth(1.0, 10.0, 0.0)


class TestFit:
    def test_an_exact_curve_is_found_again(self):
        fit = fit_working_curve(DOSES, depths(100 * np.log(DOSES / 100)), draws=50, seed=1)
        assert fit["penetration_depth"].values == pytest.approx(np.full(50, 100.0))
        assert fit["critical_exposure"].values == pytest.approx(np.full(50, 100.0))
        assert fit["penetration_depth_uncertainty"].item() == pytest.approx(0, abs=1e-9)
        assert fit["residual"].values == pytest.approx(np.zeros(4), abs=1e-9)
        assert [fit[name].item() for name in ("least", "most")] == [200.0, 1600.0]
        units = {
            name: fit[name].attrs["units"] for name in ("penetration_depth", "critical_exposure", "residual")
        }
        assert units == {"penetration_depth": "um", "critical_exposure": "J m-2", "residual": "um"}
        again = cure_depth(DOSES[0], fit["critical_exposure"], fit["penetration_depth"])
        assert again.values == pytest.approx(np.full(50, 100 * np.log(2)))

    def test_exposures_in_the_unit_of_the_trade(self):
        said = xr.DataArray(DOSES / 10, dims="trial", attrs={"units": "mJ/cm^2"})
        fit = fit_working_curve(said, 100 * np.log(DOSES / 100))
        assert fit["critical_exposure"].item() == pytest.approx(100.0)
        assert "units" not in fit["penetration_depth"].attrs

    def test_draws_are_those_of_the_t_distribution(self):
        """SciPy's regression and quantiles; a log of four points has two degrees of freedom."""
        from scipy.stats import linregress, t

        values = [72.0, 136.0, 213.0, 274.0]
        fit = fit_working_curve(DOSES, depths(values), draws=40_000, seed=2)
        judge = linregress(np.log(DOSES), values)
        said = summarize(fit["penetration_depth"])
        reach = t.ppf(0.975, 2) * judge.stderr
        assert said["low"].item() == pytest.approx(judge.slope - reach, abs=0.05 * reach)
        assert said["high"].item() == pytest.approx(judge.slope + reach, abs=0.05 * reach)
        middle = cure_depth(np.exp(np.log(DOSES).mean()), fit["critical_exposure"], fit["penetration_depth"])
        scatter = np.sqrt(np.sum((values - judge.intercept - judge.slope * np.log(DOSES)) ** 2) / 2)
        assert summarize(middle)["high"].item() == pytest.approx(
            np.mean(values) + t.ppf(0.975, 2) * scatter / 2, abs=0.05 * t.ppf(0.975, 2) * scatter / 2
        )

    def test_no_draw_says_that_depth_does_not_grow(self):
        fit = fit_working_curve([1.0, 2.0, 4.0], [10.0, 14.0, 11.0], draws=5000, seed=1)
        assert (fit["penetration_depth"] > 0).all()
        assert np.isfinite(cure_depth(3.0, fit["critical_exposure"], fit["penetration_depth"])).all()

    def test_seeds(self):
        one, same, other = (
            fit_working_curve(DOSES, depths([72, 136, 213, 274]), draws=5, seed=seed)["penetration_depth"]
            for seed in (1, 1, 2)
        )
        assert one.identical(same)
        assert not one.equals(other)

    def test_draws_of_the_exposures_are_kept(self):
        factor = xr.DataArray([0.9, 1.0, 1.1], dims="draw")
        doses = xr.DataArray(DOSES, dims="trial") * factor
        fit = fit_working_curve(doses, depths(100 * np.log(DOSES / 100)))
        assert fit["critical_exposure"].values == pytest.approx([90.0, 100.0, 110.0])
        both = fit_working_curve(doses, depths([72, 136, 213, 274]), draws=3, seed=1)
        assert both["critical_exposure"].sizes == {"draw": 3}
        with pytest.raises(RangeError, match="the points carry 3 draws already: ask for as many, not 7"):
            fit_working_curve(doses, depths([72, 136, 213, 274]), draws=7)

    def test_several_resins_at_once(self):
        two = xr.DataArray([[70, 139, 208, 277], [50, 80, 110, 140]], dims=("resin", "trial"))
        fit = fit_working_curve(DOSES, two, draws=6, seed=1)
        assert fit["penetration_depth"].sizes == {"draw": 6, "resin": 2}

    @pytest.mark.parametrize(
        ("doses", "values", "said"),
        [
            ([1, 2], [1, 2], "a fit needs 3 different values of exposure or more, not 2"),
            ([1, 2, 2], [1, 2, 2], "3 different values of exposure or more, not 2"),
            ([1, 2, 3], [1, 2], r"exposure and depth have different lengths: \(3,\) and \(2,\)"),
            ([[1, 2, 3]], [1, 2, 3], "exposure stands along one dimension, not along 2"),
            ([0, 2, 3], [1, 2, 3], "every exposure in a trial is a number above 0, not 0"),
            ([200, 430, 811], [2.3, 2.3, 2.3], "the depth does not grow with the exposure: by 0 "),
            ([1, 2, 3], [0, 2, 3], "every depth in a trial is a number above 0, not 0"),
            ([1, 2, 3], [1, np.nan, 3], "every depth in a trial is a number above 0, not nan"),
            (
                [1, 2, 4],
                [3, 2, 1],
                r"the depth does not grow with the exposure: by -1\.4427 .*check which depth",
            ),
        ],
    )
    def test_trials_that_do_not_do(self, doses, values, said):
        with pytest.raises(RangeError, match=said):
            fit_working_curve(doses, values)

    def test_in_other_units(self):
        with pytest.raises(UnitsError, match="exposure: "):
            fit_working_curve(xr.DataArray([1.0, 2, 3], dims="trial", attrs={"units": "W m-2"}), [1.0, 2, 3])
