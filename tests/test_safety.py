"""Exposure limits: steps, caps, gaps in what was measured, and the words beside the figures."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.safety import WORKING_DAY, at_distance, exposure_limits


def flat(irradiance, low, high, points=41):
    """Constant light between two limits [W m-2], and none beside them."""
    grid = np.linspace(low, high, points)
    values = np.full(points, irradiance / (high - low))
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


def everywhere(values, low=200.0, high=700.0):
    grid = np.linspace(low, high, len(values))
    return xr.DataArray(
        np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"}
    )


class TestTimes:
    @pytest.mark.parametrize(
        ("irradiance", "expected"),
        [
            (0.3, WORKING_DAY),
            (1.0, 1e4),
            (9.999, 1e4 / 9.999),
            (20.0, 500.0),
            (1e6, 0.01),
            (0.0, WORKING_DAY),
        ],
    )
    def test_near_ultraviolet(self, irradiance, expected):
        """10⁴ J m-2 in 8 h (Directive 2006/25/EC, annex I): stricter than 10 W m-2 beyond 1,000 s."""
        found = exposure_limits(flat(irradiance, 315, 400))
        assert float(found.near_ultraviolet_irradiance) == pytest.approx(irradiance)
        assert float(found.near_ultraviolet_time) == pytest.approx(expected)

    @pytest.mark.parametrize(("weighted", "expected"), [(0.999, WORKING_DAY), (1.001, 99.9), (50.0, 2.0)])
    def test_blue_light(self, weighted, expected):
        """B(λ) is 1 from 435 to 440 nm: 100 J m-2 up to 100 s, 1 W m-2 beyond."""
        found = exposure_limits(flat(weighted, 435, 440))
        assert float(found.blue_light_irradiance) == pytest.approx(weighted)
        assert float(found.blue_light_time) == pytest.approx(expected, rel=1e-3)

    @pytest.mark.parametrize(
        ("share", "expected"), [(0.5, WORKING_DAY), (1.0, WORKING_DAY), (4.0, WORKING_DAY / 4)]
    )
    def test_actinic(self, share, expected):
        """30 J m-2 spread over 8 h."""
        one = float(exposure_limits(flat(1.0, 265, 275)).actinic_irradiance)
        found = exposure_limits(flat(share * 30 / WORKING_DAY / one, 265, 275))
        assert float(found.actinic_time) == pytest.approx(expected)

    def test_the_shortest_counts(self):
        found = exposure_limits(everywhere(np.full(501, 1.0)))
        times = [float(found[name]) for name in ("actinic_time", "near_ultraviolet_time", "blue_light_time")]
        assert float(found.permitted_time) == min(times) < WORKING_DAY

    def test_darkness_and_noise_below_it(self):
        assert float(exposure_limits(everywhere(np.zeros(501))).permitted_time) == WORKING_DAY
        assert float(exposure_limits(everywhere(np.full(501, -1e-3))).permitted_time) == WORKING_DAY

    @settings(max_examples=25)
    @given(st.floats(1e-6, 1e3), st.floats(1.0, 1e3))
    def test_more_light_is_never_permitted_longer(self, level, more):
        dimmer, brighter = (
            exposure_limits(everywhere(np.full(51, value))).permitted_time for value in (level, level * more)
        )
        assert float(brighter) <= float(dimmer)

    def test_sources_and_draws_pass_through(self):
        factors = xr.DataArray([[1.0, 2.0, 3.0]], dims=("source", "draw"))
        light = everywhere(np.full(501, 0.5))
        together = exposure_limits(light * factors)
        for i, factor in enumerate(factors.values[0]):
            alone = exposure_limits(light * factor)
            for name in alone:
                assert float(together[name].isel(source=0, draw=i)) == pytest.approx(
                    float(alone[name]), rel=1e-12
                )

    def test_units(self):
        found = exposure_limits(everywhere(np.full(501, 1.0)).assign_attrs(units="mW/cm^2/nm"))
        assert float(found.near_ultraviolet_irradiance) == pytest.approx(850)
        assert {found[name].attrs["units"] for name in found if name.endswith("_irradiance")} == {"W m-2"}
        assert {found[name].attrs["units"] for name in found if name.endswith("_time")} == {"s"}


class TestWords:
    LIMITS = exposure_limits(everywhere(np.full(501, 1.0)))

    def test_never_a_classification(self):
        comment = self.LIMITS.attrs["comment"]
        assert "not a classification" in comment
        assert "local codes and a qualified person decide" in comment
        assert "measured" not in comment.partition(";")[2]  # all was: nothing more is said

    def test_the_standing_of_each_limit(self):
        standing = {name: self.LIMITS[f"{name}_time"].attrs["standing"] for name in ("actinic", "blue_light")}
        assert standing == {"actinic": "published", "blue_light": "from memory"}
        assert "EN 62471" in self.LIMITS.near_ultraviolet_time.attrs["source"]
        assert "the limit from memory" in self.LIMITS.blue_light_time.attrs["source"]

    def test_what_the_spectrum_says_of_itself(self):
        farther = at_distance(everywhere(np.full(501, 1.0)), 25, 50)
        assert "; of the spectrum: a lower limit: a source" in exposure_limits(farther).attrs["comment"]


class TestGaps:
    def test_a_band_measured_in_part(self):
        found = exposure_limits(everywhere(np.full(401, 1.0), 300, 700))
        assert np.isfinite(found.permitted_time)
        assert (
            "actinic ultraviolet, eye and skin: measured only over 300–400 nm of the band 200–400 nm"
            in (found.attrs["comment"])
        )
        assert "what was not measured can only shorten the time" in found.attrs["comment"]
        assert "near ultraviolet" not in found.attrs["comment"]
        assert found.actinic_irradiance.attrs["comment"].startswith("measured only over 300–400 nm")

    def test_a_band_not_measured_at_all(self):
        found = exposure_limits(everywhere(np.full(301, 1.0), 400, 700))
        for name in ("actinic_irradiance", "actinic_time", "near_ultraviolet_time", "permitted_time"):
            assert np.isnan(found[name])
        assert np.isfinite(found.blue_light_time)
        for title in ("actinic ultraviolet, eye and skin", "near ultraviolet, eye"):
            assert f"{title}: nothing was measured of the band" in found.attrs["comment"]
        assert found.actinic_irradiance.attrs["units"] == "W m-2"

    def test_a_saturated_sample(self):
        light = everywhere(np.full(501, 1.0))
        found = exposure_limits(light.where(light.wavelength != 450))
        assert np.isnan(found.blue_light_time)
        assert np.isnan(found.permitted_time)
        assert np.isfinite(found.actinic_time)

    def test_nothing_that_counts(self):
        with pytest.raises(RangeError, match=r"covers 700–900 nm: .* measured somewhere in 200–700 nm"):
            exposure_limits(everywhere(np.ones(11), 700, 900))

    def test_no_spectrum(self):
        with pytest.raises(GridError, match="exposure limits need a spectral irradiance with the dimension"):
            exposure_limits(xr.DataArray(1.0))

    def test_another_quantity(self):
        with pytest.raises(UnitsError, match=r"spectrum: .*cannot be converted"):
            exposure_limits(everywhere(np.ones(501)).assign_attrs(units="W m-2"))


class TestDistance:
    LIGHT = flat(10.0, 360, 370, 3)

    def test_inverse_square(self):
        found = at_distance(self.LIGHT, "25 mm", "5 cm")
        np.testing.assert_allclose(found, self.LIGHT / 4)
        assert found.attrs["units"] == "W m-2 nm-1"
        assert "taken to 50 mm from 25 mm: inverse square of the distance" in found.attrs["history"]
        assert found.attrs["comment"].startswith("a lower limit: a source that is larger")

    def test_where_it_was_measured(self):
        np.testing.assert_allclose(at_distance(self.LIGHT, 25, 25, 8), self.LIGHT)

    def test_a_disc_gives_more_far_away_than_a_point(self):
        point, disc = at_distance(self.LIGHT, 10, 300), at_distance(self.LIGHT, 10, 300, "8 mm")
        assert (disc > point).all()
        assert "disc that shines evenly" in disc.attrs["history"]

    def test_close_to_the_exit(self):
        found = at_distance(self.LIGHT, "0.5 mm", "0.5 mm", "8 mm")
        np.testing.assert_allclose(found, self.LIGHT)

    def test_draws_of_a_distance(self):
        found = at_distance(self.LIGHT, xr.DataArray([24.0, 25.0], dims="draw"), 50)
        assert found.dims == ("draw", "wavelength")
        assert found[:, 0].values == pytest.approx([0.2304, 0.25])

    @pytest.mark.parametrize(
        ("arguments", "message"),
        [
            (
                (50, 25),
                "a distance of 25 mm is closer than the 50 mm at which the light was measured.*measure there",
            ),
            ((0, 25), "light is measured at more than 0 mm from a source, not at 0 mm"),
            ((25, 50, -1), "the diameter of a source is not negative; this one is -1 mm"),
        ],
    )
    def test_faults(self, arguments, message):
        with pytest.raises(RangeError, match=message):
            at_distance(self.LIGHT, *arguments)
