"""Transmittance and absorbance, on numbers that can be checked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.optics import absorbance, transmittance

GRID = [365.0, 405.0]
NAN = np.nan


def line(values, units="1", grid=GRID, **coordinates):
    dims = ("time", "spectrum", "wavelength")[-np.ndim(values) :]
    array = xr.DataArray(np.asarray(values, float), {"wavelength": grid}, dims, attrs={"units": units})
    return array.assign_coords(coordinates)


def at(clock):
    return np.datetime64(f"2026-03-02T{clock}", "ns")


def bracket(values, *clocks):
    array = xr.DataArray(np.asarray(values, float), {"wavelength": GRID}, ("time", "wavelength"))
    return array.assign_coords(time=[at(clock) for clock in clocks])


class TestTransmittance:
    def test_with_a_dark(self):
        found = transmittance(line([60, 30]), line([110, 210]), line([10, 10]))
        assert found.values.tolist() == [0.5, 0.1]
        assert found.attrs["units"] == "1"

    def test_scans_of_the_reference_are_averaged(self):
        assert transmittance(line([5, 5]), line([[10, 20], [30, 20]])).values.tolist() == [0.25, 0.25]

    def test_no_light_in_the_reference(self):
        found = transmittance(line([5, 5]), line([0, -1]))
        assert np.isnan(found).all()

    def test_integration_times_are_brought_to_the_same(self):
        found = transmittance(line([80, 80], integration_time=0.04), line([50, 100], integration_time=0.01))
        assert found.values.tolist() == [0.4, 0.2]

    def test_in_milliseconds_too(self):
        time = xr.DataArray(40.0, attrs={"units": "ms"})
        found = transmittance(line([80, 80], integration_time=time), line([50, 100], integration_time=0.01))
        assert found.values == pytest.approx([0.4, 0.2])

    def test_one_integration_time_alone(self):
        with pytest.raises(RangeError, match="only one of sample and reference says its integration time"):
            transmittance(line([80, 80], integration_time=0.04), line([50, 100]))

    def test_another_unit(self):
        with pytest.raises(UnitsError, match='the sample is in "s-1" and the reference in "1"'):
            transmittance(line([1, 1], "s-1"), line([1, 1]))

    def test_another_grid(self):
        with pytest.raises(GridError, match="1e-06 nm apart"):
            transmittance(line([1, 1]), line([1, 1], grid=[365.0, 405.000001]))

    def test_the_reference_is_interpolated_in_time(self):
        reference = bracket([[100, 100], [80, 60], [10, 10]], "10:00", "10:40", "11:00")
        found = transmittance(line([47.5, 45], time=at("10:10")), reference)
        assert found.values.tolist() == [0.5, 0.5]  # of 95 and 90, a quarter of the way
        assert "interpolated 3 references in time, 25% of the way" in found.attrs["history"]

    @pytest.mark.parametrize(("clock", "expected"), [("10:00", 100), ("10:40", 80), ("11:00", 10)])
    def test_at_the_moment_of_a_reference_it_is_that_reference(self, clock, expected):
        reference = bracket([[10, 10], [100, 100], [80, 80]], "11:00", "10:00", "10:40")  # in any order
        found = transmittance(line([expected, expected], time=at(clock)), reference)
        assert found.values == pytest.approx([1.0, 1.0])

    @pytest.mark.parametrize("clock", ["09:59", "11:01"])
    def test_outside_the_references(self, clock):
        with pytest.raises(RangeError, match=f"at 2026-03-02T{clock}.*outside its references.*one after"):
            transmittance(line([1, 1], time=at(clock)), bracket([[1, 1], [1, 1]], "10:00", "11:00"))

    def test_without_a_moment(self):
        with pytest.raises(RangeError, match="several references need a coordinate time, and so does"):
            transmittance(line([1, 1]), bracket([[1, 1], [1, 1]], "10:00", "11:00"))

    @pytest.mark.parametrize("drawn", ["sample", "reference", "dark"])
    def test_draws_pass_through(self, drawn):
        frames = {"sample": line([60, 30]), "reference": line([[110, 210]] * 2), "dark": line([10, 10])}
        factors = [0.9, 1.0, 1.1]
        together = transmittance(**{**frames, drawn: frames[drawn] * xr.DataArray(factors, dims="draw")})
        for i, factor in enumerate(factors):
            alone = transmittance(**{**frames, drawn: frames[drawn] * factor})
            assert together.isel(draw=i).values == pytest.approx(alone.values)


class TestAbsorbance:
    def test_by_hand(self):
        found = absorbance(line([0.1, 1.0]))
        assert found.values == pytest.approx([1.0, 0.0])
        assert found.attrs["units"] == "1"

    def test_nothing_and_less_than_nothing(self):
        assert absorbance(line([0.0, -0.1])).values.tolist() == pytest.approx([np.inf, NAN], nan_ok=True)

    def test_per_cent(self):
        assert absorbance(line([1.0, 10.0], "%")).values == pytest.approx([2.0, 1.0])

    def test_of_something_else(self):
        with pytest.raises(UnitsError, match=r"transmittance: .*cannot be converted"):
            absorbance(line([1, 1], "W m-2"))
