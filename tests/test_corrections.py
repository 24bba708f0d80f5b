"""Corrections, one by one, on spectra that can be checked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.corrections import (
    average_scans,
    clear_signal,
    dark_at,
    irradiance_from_signal,
    lamp_irradiance,
    looks_saturated,
    mask_saturated,
    responsivity_from_lamp,
    signal_from_counts,
    subtract_dark,
)
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.array([360.0, 365.0, 370.0, 375.0, 380.0])
NAN = np.nan


def line(values, time=None, units="1", grid=GRID):
    values = np.asarray(values, float)
    dims = ("spectrum", "wavelength")[-values.ndim :]
    array = xr.DataArray(values, {"wavelength": grid[: values.shape[-1]]}, dims, attrs={"units": units})
    return array if time is None else array.assign_coords(integration_time=time)


class TestScans:
    def test_mean_and_scatter_of_three(self):
        mean, scatter = average_scans(line([[1.0, 5.0], [2.0, 5.0], [6.0, 5.0]]))
        assert mean.values.tolist() == [3.0, 5.0]
        # deviations −2, −1, 3: variance 14/2, of the mean 14/2/3 (JCGM 100:2008, 4.2.2 and 4.2.3)
        assert scatter.values == pytest.approx([np.sqrt(14 / 6), 0.0])
        assert "averaged 3 scans" in mean.attrs["history"]

    def test_an_invalid_scan_makes_the_mean_invalid(self):
        mean, _ = average_scans(line([[1.0, 5.0], [NAN, 5.0]]))
        assert np.isnan(mean.values).tolist() == [True, False]

    @pytest.mark.parametrize("scans", [line([1.0, 2.0]), line([[1.0, 2.0]])])
    def test_one_scan_says_nothing_of_its_scatter(self, scans):
        mean, scatter = average_scans(scans)
        assert mean.values.tolist() == [1.0, 2.0]
        assert np.isnan(scatter).all()
        assert mean.dims == scatter.dims == ("wavelength",)


class TestSaturation:
    def test_a_pixel_and_its_neighbours_in_its_own_scan(self):
        raw = line([[1, 2, 950, 3, 4], [1, 949, 5, 3, 4]])
        found = mask_saturated(raw, 1000)
        assert np.isnan(found.values).tolist() == [[False, True, True, True, False], [False] * 5]
        assert "marked 3 saturated pixels between 365.0 and 375.0 nm" in found.attrs["history"]
        assert raw.notnull().all()

    @pytest.mark.parametrize(("neighbours", "spoilt"), [(0, 1), (1, 2), (2, 3), (9, 5)])
    def test_neighbours(self, neighbours, spoilt):
        found = mask_saturated(line([1, 2, 3, 4, 1000]), 1000, 1.0, neighbours)
        assert int(found.isnull().sum()) == spoilt

    def test_level_as_text(self):
        assert int(mask_saturated(line([1, 2, 3, 4, 90]), 100, "90 %").isnull().sum()) == 2

    def test_nothing_to_mark(self):
        raw = line([1, 2, 3, 4, 5])
        assert mask_saturated(raw, 1000) is raw

    @pytest.mark.parametrize("arguments", [(0,), (1000, 1.5), (1000, 0.0), (1000, 0.9, -1), (NAN,)])
    def test_senseless_limits(self, arguments):
        with pytest.raises(RangeError, match="a full scale above 0, a level in 0–1 and 0 or more neighbours"):
            mask_saturated(line([1, 2]), *arguments)

    def test_a_count_above_full_scale(self):
        with pytest.raises(RangeError, match="a count of 1001 is above the full scale of 1000"):
            mask_saturated(line([1, 1001]), 1000)

    @pytest.mark.parametrize(
        ("values", "said"),
        [
            ([1, 2, 255], "8-bit converter, at 370.0 nm"),
            ([65535, 2, 65535], "2 counts stand at 65535, the top of a 16-bit converter, at 360.0–370.0 nm"),
            ([1, 2, 65534], ""),
            ([1, 2, 127], ""),
            ([1, 2, 255.5], ""),
            ([-5, -6, -7], ""),
            ([NAN, NAN], ""),
            ([NAN, 4095], "at 365.0 nm"),
            ([np.inf, 1], ""),
        ],
    )
    def test_the_top_of_a_converter(self, values, said):
        found = looks_saturated(line(values))
        assert said in found
        assert bool(found) == bool(said)


class TestDark:
    def test_scans_of_the_dark_are_averaged(self):
        light = subtract_dark(line([10, 20], 0.02), line([[1, 2], [3, 4]], 0.02))
        assert light.values.tolist() == [8.0, 17.0]
        assert light.attrs["units"] == "1"
        assert float(light.integration_time) == 0.02

    def test_another_integration_time(self):
        with pytest.raises(RangeError, match="the dark was taken at 10 ms and the frame at 20 ms"):
            subtract_dark(line([10, 20], 0.02), line([1, 2], 0.01))

    def test_milliseconds_are_no_seconds(self):
        time = xr.DataArray(20.0, attrs={"units": "ms"})
        assert subtract_dark(line([10, 20], time), line([1, 2], 0.02)).values.tolist() == [9.0, 18.0]

    def test_another_unit(self):
        with pytest.raises(UnitsError, match='counts are in "1" and the dark is in "s-1"'):
            subtract_dark(line([10, 20]), line([1, 2], units="s-1"))

    def test_another_grid(self):
        with pytest.raises(GridError, match=r"up to 1e-06 nm apart"):
            subtract_dark(line([10, 20]), line([1, 2], grid=GRID + 1e-6))

    def test_the_dark_of_that_time_is_taken_as_it_is(self):
        darks = [line([1, 2], 0.01), line([7, 8], 0.02), line([9, 10], 0.02)]
        assert dark_at(darks, 0.02).values.tolist() == [8.0, 9.0]

    def test_a_straight_line_through_three(self):
        # offset 100 and 50 counts in a second, and no other
        darks = [line([100 + 50 * t, 7], t) for t in (0.1, 0.2, 0.6)]
        model = dark_at(darks, 0.3)
        assert model.values == pytest.approx([115.0, 7.0])
        assert model.attrs["history"].endswith("modelled the dark at 300 ms from 100 ms, 200 ms, 600 ms")
        assert float(model.integration_time) == 0.3
        light = subtract_dark(line([215, 7], 0.3), model)
        assert light.values == pytest.approx([100.0, 0.0])
        assert "modelled the dark at 300 ms from 100 ms, 200 ms, 600 ms" in light.attrs["history"]

    def test_a_model_beyond_what_was_taken_says_so(self):
        model = dark_at([line([1.0], 0.1), line([2.0], 0.2)], 0.5)
        assert "which do not enclose it" in model.attrs["history"]

    @pytest.mark.parametrize(("darks", "there"), [([], "none"), ([line([1.0], 0.1)] * 2, "100 ms")])
    def test_too_few_to_model_from(self, darks, there):
        with pytest.raises(RangeError, match=rf"no dark at 20 ms \(there is {there}\).*two other"):
            dark_at(darks, 0.02)


class TestSignal:
    def test_counts_per_second(self):
        found = signal_from_counts(line([10, 20], 0.02))
        assert found.values.tolist() == [500.0, 1000.0]
        assert found.attrs["units"] == "s-1"

    def test_without_a_time(self):
        with pytest.raises(RangeError, match="no coordinate integration_time"):
            signal_from_counts(line([10, 20]))

    def test_with_no_time_at_all(self):
        with pytest.raises(RangeError, match="longer than 0 s, not 0 s"):
            signal_from_counts(line([10, 20], 0.0))

    def test_of_something_else(self):
        with pytest.raises(UnitsError, match=r'"W m-2" cannot be converted to "1"'):
            signal_from_counts(line([10, 20], 0.1, units="W m-2"))


class TestLamp:
    CERTIFICATE = line([1.0, 2.0, 3.0, 4.0, 5.0], units="mW m-2 nm-1")

    def test_every_certified_value_is_met(self):
        found = lamp_irradiance(self.CERTIFICATE, GRID)
        assert found.values == pytest.approx([1e-3, 2e-3, 3e-3, 4e-3, 5e-3], rel=1e-12)
        assert found.attrs["units"] == "W m-2 nm-1"

    def test_twice_the_distance_is_a_quarter(self):
        found = lamp_irradiance(self.CERTIFICATE, [365.0], distance="1 m", certified_distance="50 cm")
        assert found.values == pytest.approx([0.5e-3], rel=1e-12)

    def test_outside_the_certificate(self):
        with pytest.raises(RangeError, match="covers 360–380 nm, not 359–370 nm"):
            lamp_irradiance(self.CERTIFICATE, [359.0, 370.0])

    @pytest.mark.parametrize("values", [[1, 2, 3], [1, 2, 0, 4], [1, 2, -1, 4], [1, 2, NAN, 4]])
    def test_a_certificate_that_is_none(self, values):
        with pytest.raises(RangeError, match="at least 4 values, all above 0"):
            lamp_irradiance(line(values, units="W m-2 nm-1"), [362.0])

    def test_one_distance_alone(self):
        with pytest.raises(RangeError, match="give both distance and certified_distance"):
            lamp_irradiance(self.CERTIFICATE, [365.0], distance="1 m")

    def test_a_distance_of_nothing(self):
        with pytest.raises(RangeError, match="longer than 0 mm, not 0 and 500 mm"):
            lamp_irradiance(self.CERTIFICATE, [365.0], distance=0, certified_distance=500)


class TestResponsivity:
    def test_there_and_back(self):
        lamp, signal = line([1, 2, 4], units="W m-2 nm-1"), line([10, 10, 10], units="s-1")
        responsivity = responsivity_from_lamp(signal, lamp)
        assert responsivity.values.tolist() == [10.0, 5.0, 2.5]
        assert responsivity.attrs["units"] == "m2 nm W-1 s-1"
        assert irradiance_from_signal(signal, responsivity).values.tolist() == [1.0, 2.0, 4.0]

    def test_no_responsivity_no_irradiance(self):
        response = line([1, 0, -1, NAN], units="m2 nm W-1 s-1")
        found = irradiance_from_signal(line([1, 1, 1, 1], units="s-1"), response)
        assert np.isnan(found.values).tolist() == [False, True, True, True]

    def test_a_dark_lamp(self):
        with pytest.raises(RangeError, match="is above 0 at every wavelength"):
            responsivity_from_lamp(line([1, 1], units="s-1"), line([1, 0], units="W m-2 nm-1"))

    def test_counts_are_no_signal(self):
        with pytest.raises(UnitsError, match=r"signal: .*lamp_irradiance: "):
            responsivity_from_lamp(line([1, 1], units="1"), line([1, 1], units="W m-2"))


class TestClearSignal:
    def test_the_stretch_around_the_strongest(self):
        grid = np.arange(300.0, 400.0)
        level = np.where((grid > 320) & (grid < 360), 100.0, 1.0)
        level[90:] = 50.0  # clear again, but not on the same stretch
        clear = clear_signal(line(level, grid=grid), line(np.full(100, 2.0), grid=grid))
        assert clear.wavelength[clear].values[[0, -1]].tolist() == [321.0, 359.0]

    def test_without_scatter_it_need_only_be_positive(self):
        grid = np.arange(300.0, 340.0)
        clear = clear_signal(line(grid - 320, grid=grid), line(np.full(40, NAN), grid=grid))
        assert clear.wavelength[clear].values[[0, -1]].tolist() == [321.0, 339.0]

    @pytest.mark.parametrize("level", [1.0, NAN, -5.0])
    def test_nowhere(self, level):
        grid = np.arange(300.0, 340.0)
        with pytest.raises(RangeError, match="nowhere 10 times its scatter; the lamp may have been off"):
            clear_signal(line(np.full(40, level), grid=grid), line(np.ones(40), grid=grid))


def test_draws_pass_through_every_correction():
    """A dimension of draws on one argument gives what each draw gives by itself."""
    factors = xr.DataArray([0.9, 1.0, 1.2], dims="draw")
    counts, dark = line([[110, 210], [130, 250]], 0.02), line([[10, 12], [10, 8]], 0.02)
    lamp = line([1, 2], units="W m-2 nm-1")

    def chain(factor):
        mean, _ = average_scans(mask_saturated(counts * factor, 1000))
        signal = signal_from_counts(subtract_dark(mean, dark * factor))
        return irradiance_from_signal(signal, responsivity_from_lamp(signal / 2, (lamp / factor)))

    together = chain(factors)
    assert together.sizes == {"wavelength": 2, "draw": 3}
    for i, factor in enumerate(factors.values):
        assert together.isel(draw=i).values == pytest.approx(chain(factor).values)
