"""Darks at several temperatures of the sensor: simulated, fitted, and never mixed up in silence."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from spectralbench.corrections import dark_at, fit_dark, modelled_dark, sensor_temperature, subtract_dark
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.array([360.0, 365.0, 370.0, 375.0, 380.0])
OFFSETS, CURRENTS = np.array([100.0, 105.0, 98.0, 101.0, 99.0]), np.array([40.0, 55.0, 400.0, 38.0, 45.0])
CONDITIONS = [(0.1, 290.0), (1.0, 290.0), (0.1, 298.0), (1.0, 298.0), (1.0, 306.0)]


def level(time, kelvin, doubling=7.0):
    """Counts of an invented sensor: one hot pixel, and a current that doubles every so many kelvin."""
    return OFFSETS + CURRENTS * time * 2 ** ((kelvin - 298.0) / doubling)


def dark(time, kelvin, values=None, grid=GRID):
    values = level(time, kelvin) if values is None else np.asarray(values, float)
    array = xr.DataArray(values, {"wavelength": grid}, ("spectrum", "wavelength")[-values.ndim :])
    return array.assign_coords(integration_time=time, temperature=kelvin)


DARKS = [dark(*condition) for condition in CONDITIONS]


class TestFit:
    @given(st.floats(3, 30))
    @settings(max_examples=25)
    def test_the_sensor_is_found_again(self, doubling):
        fit = fit_dark([dark(t, k, level(t, k, doubling)) for t, k in CONDITIONS])
        assert float(fit.doubling) == pytest.approx(doubling, rel=1e-5)
        np.testing.assert_allclose(fit.offset, OFFSETS, rtol=1e-5)
        warmer = (float(fit.reference_temperature) - 298.0) / doubling
        np.testing.assert_allclose(fit.dark_current, CURRENTS * 2**warmer, rtol=1e-4)
        np.testing.assert_allclose(modelled_dark(fit, 0.5, 301.0), level(0.5, 301.0, doubling), rtol=1e-5)

    def test_noise_is_weighed_as_another_fit_weighs_it(self):
        """SciPy's least squares over all parameters of one pixel at once."""
        random = np.random.default_rng(4)
        times, kelvins = np.array(CONDITIONS).T
        noisy = 100 + 400 * times * 2 ** ((kelvins - 298) / 7) + random.normal(0, 5, times.size)
        frames = [dark(t, k, [v], GRID[:1]) for (t, k), v in zip(CONDITIONS, noisy, strict=True)]
        fit = fit_dark(frames)
        judge, _ = curve_fit(
            lambda x, offset, current, doubling: offset + current * times * 2 ** ((kelvins - 298) / doubling),
            times, noisy, [100, 300, 5], xtol=1e-12, ftol=1e-12,
        )  # fmt: skip
        assert float(fit.doubling) == pytest.approx(judge[2], rel=1e-6)
        assert float(fit.offset[0]) == pytest.approx(judge[0], rel=1e-6)
        assert float(modelled_dark(fit, 1.0, 298.0)[0]) == pytest.approx(judge[0] + judge[1], rel=1e-6)

    def test_scans_are_averaged_and_residuals_kept(self):
        scans = np.stack([level(0.1, 290.0) - 1, level(0.1, 290.0) + 1])
        fit = fit_dark([dark(0.1, 290.0, scans), *DARKS[1:]])
        assert fit.residual.sizes == {"dark": 5, "wavelength": 5}
        np.testing.assert_allclose(fit.residual, 0, atol=1e-4)

    def test_degrees_celsius_that_say_so(self):
        celsius = [
            frame.assign_coords(temperature=((), k - 273.15, {"units": "degC"}))
            for frame, (_, k) in zip(DARKS, CONDITIONS, strict=True)
        ]
        assert float(fit_dark(celsius).warmest) == pytest.approx(306)

    def test_outside_the_temperatures_taken(self):
        fit = fit_dark(DARKS)
        for kelvin in (289, 307):
            with pytest.raises(
                RangeError, match=f"taken at 290–306 K, and {kelvin} K lies outside: take a dark"
            ):
                modelled_dark(fit, 1.0, kelvin)
        with pytest.raises(RangeError, match="longer than 0 s, not 0 s"):
            modelled_dark(fit, 0.0, 300.0)

    @pytest.mark.parametrize(
        ("darks", "error", "said"),
        [
            (DARKS[:2], RangeError, "2 darks at 1 temperatures do not show how the dark grows"),
            ([*DARKS[:2], DARKS[0]], RangeError, "3 darks at 1 temperatures"),
            (
                [*DARKS, DARKS[0].drop_vars("temperature")],
                RangeError,
                "no coordinate integration_time .* or temp",
            ),
            ([*DARKS, DARKS[0].drop_vars("integration_time")], RangeError, "no coordinate integration_time"),
            (
                [*DARKS, dark(0.1, 290.0, grid=GRID + 1)],
                GridError,
                "the darks are not on one wavelength grid",
            ),
            (
                [dark(t, k, level(t, 600 - k)) for t, k in CONDITIONS],
                RangeError,
                "do not grow with temperature",
            ),
        ],
    )
    def test_darks_that_do_not_do(self, darks, error, said):
        with pytest.raises(error, match=said):
            fit_dark(darks)


class TestCoordinate:
    def test_none(self):
        assert sensor_temperature(xr.DataArray([1.0], dims="wavelength")) is None

    def test_a_number_that_is_no_kelvin(self):
        with pytest.raises(
            RangeError, match="a sensor at 20 K is colder than any here: give kelvin, or the unit"
        ):
            sensor_temperature(dark(0.1, 20.0, [1.0], GRID[:1]))

    def test_several_at_once(self):
        two = xr.DataArray([1.0, 2.0], {"temperature": ("spectrum", [290.0, 300.0])}, "spectrum")
        with pytest.raises(RangeError, match=r"at one temperature of the sensor, not at \[290.0, 300.0\] K"):
            sensor_temperature(two)

    def test_another_unit(self):
        wrong = xr.DataArray([1.0], {"temperature": ((), 20.0, {"units": "s"})}, "wavelength")
        with pytest.raises(UnitsError, match='"s" cannot be converted to "K"'):
            sensor_temperature(wrong)


class TestMatching:
    def test_the_dark_of_that_temperature_is_taken_as_it_is(self):
        found = dark_at(DARKS, 1.0, "298.2 K")
        assert found.values.tolist() == level(1.0, 298.0).tolist()

    def test_a_line_over_the_times_of_that_temperature(self):
        found = dark_at(DARKS, 0.5, 298.0)
        np.testing.assert_allclose(found, level(0.5, 298.0), rtol=1e-12)
        assert "modelled the dark at 500 ms from 100 ms, 1000 ms" in found.attrs["history"]

    def test_a_model_over_all_where_there_is_no_other_way(self):
        found = dark_at(DARKS, 0.5, 302.0)
        np.testing.assert_allclose(found, level(0.5, 302.0), rtol=1e-5)
        assert (float(found.integration_time), float(found.temperature)) == (0.5, 302.0)
        light = subtract_dark(found + 10.0, found)
        np.testing.assert_allclose(light, 10.0, rtol=1e-9)
        said = "modelled the dark at 500 ms and 302 K from darks at 290–306 K, the current doubling every 7 K"
        assert said in light.attrs["history"]

    def test_a_temperature_that_nobody_asked_for(self):
        with pytest.raises(RangeError, match="the darks were taken at 290–306 K: say at which temperature"):
            dark_at(DARKS, 1.0)
        assert dark_at(DARKS[:2], 1.0).values.tolist() == level(1.0, 290.0).tolist()

    def test_a_dark_that_does_not_say(self):
        with pytest.raises(RangeError, match=r"a dark has no coordinate temperature .* say how warm"):
            dark_at([DARKS[0], DARKS[1].drop_vars("temperature")], 1.0, 290.0)

    def test_a_frame_of_another_temperature(self):
        frame = DARKS[1].assign_coords(temperature=293.0)
        with pytest.raises(
            RangeError, match="the dark was taken at 290 K and the frame at 293 K: use a dark of"
        ):
            subtract_dark(frame, DARKS[1])
        assert (subtract_dark(DARKS[1].assign_coords(temperature=290.4), DARKS[1]) == 0).all()
        assert (subtract_dark(DARKS[1].drop_vars("temperature"), DARKS[1]) == 0).all()
