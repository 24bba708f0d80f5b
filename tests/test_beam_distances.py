"""Irradiance along the axis of a beam, held against closed forms: each is stated where it is used."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.beam import distance_for, irradiance_at
from spectralbench.errors import GridError, RangeError, UnitsError

NAN = np.nan


def measured(distances, values, dims=("distance",), units="W m-2", **coords):
    at = {"distance": ("distance", np.asarray(distances, float), {"units": "mm"}), **coords}
    return xr.DataArray(np.asarray(values, float), at, dims, attrs={"units": units})


DISTANCES = np.array([10.0, 15.0, 25.0, 60.0])
SQUARE = measured(DISTANCES, 2e6 / DISTANCES**2)


class TestIrradianceAtADistance:
    @pytest.mark.parametrize("power", [-2.0, -1.0, -0.37, 0.0, 0.5])
    def test_any_power_of_the_distance_is_met_exactly(self, power):
        """Closed form: a power is straight in the logarithms."""
        at = xr.DataArray(np.geomspace(10, 60, 50), dims="draw")
        found = irradiance_at(measured(DISTANCES, 300 * DISTANCES**power), at)
        np.testing.assert_allclose(found, 300 * at.values**power, rtol=1e-13)

    @pytest.mark.parametrize("distance", [0.5, 9.0, 10.0, 33.0, 60.0, 1000.0])
    @pytest.mark.parametrize("beyond", ["inverse_square", "slope"])
    def test_the_inverse_square_at_any_distance(self, distance, beyond):
        found = irradiance_at(SQUARE, distance, beyond=beyond)
        assert found.item() == pytest.approx(2e6 / distance**2, rel=1e-13)

    def test_twice_as_far_gives_a_quarter(self):
        """Closed form of the inverse square law: 25 to 50 mm, 0.25."""
        one = measured([25.0], [800.0])
        assert irradiance_at(one, "5 cm", beyond="inverse_square").item() == pytest.approx(200.0, rel=1e-14)

    @pytest.mark.parametrize(("ratio", "quoted"), [(1.25, 0.0063), (2**0.5, 0.0151), (2.0, 0.061)])
    def test_a_lambertian_disc_within_the_bound(self, ratio, quoted):
        """On its axis E = πL R²/(R² + d²). With u = ln(d/R), ln E = -ln(1 + e^2u) + const, whose second
        derivative -4 e^2u/(1 + e^2u)² lies in -1–0: a chord over ln q lies at most (ln q)²/8 below."""
        points = 5 * ratio ** np.arange(-4.5, 5)
        at = xr.DataArray(np.geomspace(points[0], points[-1], 2001), dims="draw")
        truth = 1e4 * np.pi * 5.0**2 / (5.0**2 + at.values**2)
        found = irradiance_at(measured(points, 1e4 * np.pi * 5.0**2 / (5.0**2 + points**2)), at)
        low = np.log(truth / found.values)
        bound = np.log(ratio) ** 2 / 8
        assert low.min() > -1e-14
        assert 0.8 * bound < low.max() <= bound  # the bound is met where d = R lies in the middle of a step
        assert 1 - np.exp(-bound) <= quoted

    def test_what_was_measured_stands_for_itself(self):
        curve = measured(DISTANCES, [8.0, NAN, 3.0, 1.0])
        at = xr.DataArray([10.0, 12.0, 15.0, 20.0, 25.0, 40.0, 60.0], dims="draw")
        found = irradiance_at(curve, at).values
        assert np.isnan(found).tolist() == [False, True, True, True, False, False, False]
        assert found[[0, 4, 6]].tolist() == [8.0, 3.0, 1.0]

    def test_what_is_said_of_the_distance_is_not_said_of_the_light(self):
        at = xr.DataArray(20.0, attrs={"units": "mm", "comment": "by a ruler"})
        assert "comment" not in irradiance_at(SQUARE, at).attrs

    def test_a_distance_that_is_not_known(self):
        found = irradiance_at(SQUARE, xr.DataArray([NAN, NAN], dims="draw"))
        assert found.isnull().all()
        assert found.attrs["history"].startswith("taken at an unknown distance, on")

    def test_where_nothing_arrives_the_value_itself_is_straight(self):
        curve = measured([10.0, 1000.0], [8.0, 0.0])
        assert irradiance_at(curve, 100.0).item() == pytest.approx(4.0)
        assert np.isnan(irradiance_at(curve, 2000.0, beyond="slope").item())

    def test_draws_of_both_belong_together(self):
        factors = xr.DataArray([0.5, 1.0, 2.0], dims="draw")
        at = xr.DataArray([20.0, 30.0, 40.0], dims="draw")
        found = irradiance_at(SQUARE * factors, at)
        assert found.dims == ("draw",)
        np.testing.assert_allclose(found, 2e6 / at**2 * factors)

    def test_spectra_of_several_sources_at_drawn_distances(self):
        grid = {"wavelength": [365.0, 405.0], "source": ["arc", "LED"]}
        spectral = (
            SQUARE * xr.DataArray([[1.0, 2.0], [3.0, 4.0]], grid, ("source", "wavelength"))
        ).assign_attrs(units="W m-2 nm-1", history="before")
        found = irradiance_at(spectral, xr.DataArray([20.0, NAN, 40.0], dims="draw"))
        assert found.dims == ("draw", "source", "wavelength")
        assert found.sel(source="LED", wavelength=405.0)[2].item() == pytest.approx(4 * 1250)
        assert found[1].isnull().all()
        assert found.attrs["units"] == "W m-2 nm-1"
        assert found.attrs["history"] == (
            "before\ntaken at 20–40 mm, on straight lines of the logarithms between 4 distances of 10–60 mm"
        )

    def test_a_curve_over_many_distances(self):
        at = xr.DataArray([20.0, 50.0], {"distance": [20.0, 50.0]}, "distance")
        assert irradiance_at(SQUARE, at).sel(distance=50.0).item() == pytest.approx(800.0)

    def test_other_units_and_order(self):
        turned = SQUARE[::-1].assign_coords(distance=SQUARE.distance[::-1] / 10)
        turned["distance"].attrs["units"] = "cm"
        assert irradiance_at(turned, "20 mm").item() == pytest.approx(5000.0)

    @pytest.mark.parametrize(
        ("at", "said"),
        [
            (120.0, "by the inverse square: up to 2 times the farthest"),
            (5.0, "by the inverse square: up to 0.5 times the nearest"),
            ([5.0, 120.0], "by the inverse square: up to 0.5 times the nearest and 2 times the farthest"),
        ],
    )
    def test_how_far_beyond_is_said(self, at, said):
        found = irradiance_at(SQUARE, xr.DataArray(at), beyond="inverse_square")
        assert found.attrs["comment"] == f"beyond the distances measured, 10–60 mm, {said}"
        assert found.attrs["history"].endswith(f"; {found.attrs['comment']}")
        assert "comment" not in irradiance_at(SQUARE, 30.0, beyond="slope").attrs

    @pytest.mark.parametrize("at", [9.9, 61.0])
    def test_nothing_is_extrapolated_unasked(self, at):
        with pytest.raises(
            RangeError,
            match=rf"the distance {at:g} mm lies beyond those measured, 10–60 mm: measure there, or",
        ):
            irradiance_at(SQUARE, at)

    @pytest.mark.parametrize("at", [0.0, -5.0, np.inf])
    def test_a_distance_that_is_none(self, at):
        with pytest.raises(RangeError, match=rf"a distance is a number above 0 mm, not {at:g} mm"):
            irradiance_at(SQUARE, at, beyond="slope")

    @pytest.mark.parametrize("call", [irradiance_at, distance_for])
    @pytest.mark.parametrize(
        ("curve", "beyond", "error", "said"),
        [
            (SQUARE, "cubic", RangeError, 'inverse_square or slope, or left out; not "cubic"'),
            (SQUARE[:1], "slope", GridError, "2 values along distance or more are needed, not 1"),
            (measured([0.0, 10.0], [1, 1]), None, GridError, "measured above 0 mm, not at 0 mm"),
            (
                measured([10, 30, 20], [1, 1, 1]),
                None,
                GridError,
                "30 mm is followed by 20 mm .each may stand",
            ),
            (
                measured([10, NAN], [1, 1]),
                None,
                GridError,
                "coordinate distance holds values that are no finite",
            ),
            (SQUARE.drop_vars("distance"), None, GridError, "the dimension distance has no coordinate"),
            (
                SQUARE.rename(distance="x"),
                None,
                GridError,
                r"a dimension distance is needed; there is \('x',\)$",
            ),
            (SQUARE.drop_attrs(), None, UnitsError, "the coordinate distance carries no unit"),
        ],
    )
    def test_what_is_no_measurement(self, call, curve, beyond, error, said):
        with pytest.raises(error, match=said):
            call(curve, 20.0, beyond)

    def test_a_distance_in_seconds(self):
        wrong = SQUARE.copy()
        wrong["distance"] = SQUARE.distance.assign_attrs(units="s")
        with pytest.raises(UnitsError, match='the coordinate distance: "s" cannot be converted to "mm"'):
            irradiance_at(wrong, 20.0)

    def test_draws_that_do_not_match(self):
        draws = SQUARE * xr.DataArray([1.0, 2.0], {"draw": [0, 1]}, "draw")
        with pytest.raises(GridError, match="the arguments do not fit together"):
            irradiance_at(draws, xr.DataArray([20.0, 30.0], {"draw": [1, 2]}, "draw"))


class TestDistanceForAnIrradiance:
    @pytest.mark.parametrize("wanted", [800.0, 1000.0, 8000.0, 2e4, 2e6 / 60**2])
    @pytest.mark.parametrize("beyond", [None, "inverse_square", "slope"])
    def test_the_inverse_square(self, wanted, beyond):
        found = distance_for(SQUARE, wanted, beyond)
        assert found.item() == pytest.approx((2e6 / wanted) ** 0.5, rel=1e-13)
        assert "comment" not in found.attrs
        assert found.attrs["units"] == "mm"

    @pytest.mark.parametrize("wanted", [10.0, 1e5])
    @pytest.mark.parametrize("beyond", ["inverse_square", "slope"])
    def test_beyond_what_was_measured(self, wanted, beyond):
        found = distance_for(SQUARE, wanted, beyond)
        assert found.item() == pytest.approx((2e6 / wanted) ** 0.5, rel=1e-13)
        assert found.attrs["comment"].startswith("beyond the distances measured, 10–60 mm, ")

    def test_what_no_distance_measured_says(self):
        found = distance_for(SQUARE, xr.DataArray([1.0, 1000.0, 1e5, NAN], dims="draw"))
        np.testing.assert_allclose(found, [np.inf, 2000**0.5, NAN, NAN])
        assert found.attrs["comment"] == (
            "1 of 4 still have more at 60 mm, the farthest measured; "
            "2 of 4 are not known to have enough anywhere"
        )

    def test_a_beam_with_a_focus(self):
        """The largest distance, on the far side of the focus; and nearer is not always more."""
        focused = measured([10.0, 20.0, 40.0], [500.0, 4000.0, 1000.0])
        found = distance_for(focused, 2000.0)
        assert found.item() == pytest.approx(20 * 2**0.5)
        assert found.attrs["comment"] == "irradiance rises from 10 to 20 mm: nearer is not always more"

    def test_a_rising_line_has_no_end(self):
        rising = measured([10.0, 20.0], [500.0, 1000.0])
        found = distance_for(rising, xr.DataArray([100.0, 700.0, 5000.0, NAN], dims="draw"), "slope")
        assert found.values == pytest.approx([np.inf, np.inf, NAN, NAN], nan_ok=True)

    def test_one_distance(self):
        one = measured([20.0], [100.0])
        found = distance_for(one, xr.DataArray([50.0, 100.0, 200.0], dims="draw"))
        assert found.values == pytest.approx([np.inf, 20.0, NAN], nan_ok=True)
        assert distance_for(one, 25.0, "inverse_square").item() == pytest.approx(40.0)

    def test_not_known_from_the_answer_on(self):
        """Only what lies nearer than the answer may be unknown."""
        values = [[NAN, 1000.0, 100.0, 50.0], [2000.0, 1000.0, NAN, 50.0], [2000.0, 1000.0, 100.0, NAN]]
        found = distance_for(measured([10, 20, 40, 80], values, ("source", "distance")), 100.0)
        assert found.values == pytest.approx([40.0, NAN, NAN], nan_ok=True)

    def test_down_to_nothing(self):
        assert distance_for(measured([10.0, 1000.0], [8.0, 0.0]), 4.0).item() == pytest.approx(100.0)

    @pytest.mark.parametrize("wanted", [0.0, -1.0, np.inf])
    def test_an_irradiance_that_is_none(self, wanted):
        with pytest.raises(
            RangeError, match=f"an irradiance wanted is a number above 0 W m-2, not {wanted:g}"
        ):
            distance_for(SQUARE, wanted)

    def test_an_exposure_is_no_irradiance(self):
        with pytest.raises(UnitsError, match='"J/cm\\^2" cannot be converted to "W m-2"'):
            distance_for(SQUARE, "1 J/cm^2")
