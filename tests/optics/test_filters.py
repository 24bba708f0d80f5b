"""Layers in the beam: they multiply; ideal edges fall on samples."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.optics import ideal_filter, through

GRID = [365.0, 405.0]


def line(values, units="1", grid=GRID):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": units})


class TestThrough:
    LIGHT = line([2.0, 4.0], "mW/cm^2/nm")

    def test_layers_multiply(self):
        found = through(self.LIGHT, line([0.5, 0.25]), 0.5, "50 %")
        assert found.values == pytest.approx([2.5, 2.5])
        assert found.attrs["units"] == "W m-2 nm-1"
        assert "passed through 3 layers" in found.attrs["history"]

    def test_what_spectrum_and_layers_say_of_themselves_is_repeated_once(self):
        light = self.LIGHT.assign_attrs(comment="at 80 mm by the inverse square")
        cover, window = (line([0.5, 0.5]).assign_attrs(comment="limited to 1") for _ in range(2))
        said = through(light, cover, 0.5, window).attrs["comment"]
        assert said == "at 80 mm by the inverse square; limited to 1"
        assert "comment" not in through(self.LIGHT, line([0.5, 0.25])).attrs

    def test_no_layer_no_change(self):
        assert through(self.LIGHT).values == pytest.approx([20.0, 40.0])

    def test_all_faults_of_units_together(self):
        with pytest.raises(UnitsError, match=r"spectrum: .*layers 1: .*"):
            through(line([1, 1], "W m-2"), line([1, 1], "nm"))

    def test_another_grid(self):
        with pytest.raises(GridError, match="spectrum has 2 wavelengths and layers 2 has 3"):
            through(self.LIGHT, 0.5, line([1, 1, 1], grid=[1.0, 2.0, 3.0]))


class TestIdealFilter:
    GRID = (355.0, 365.0, 375.0, 385.0, 395.0)

    @pytest.mark.parametrize(
        ("edges", "expected"),
        [
            ({"low": 365}, [0, 1, 1, 1, 1]),
            ({"high": "0.385 µm"}, [1, 1, 1, 1, 0]),
            ({"low": 366, "high": 384}, [0, 0, 1, 0, 0]),
            ({"low": 365, "high": 365.1}, [0, 1, 0, 0, 0]),
            ({"low": 366, "high": 370}, [0, 0, 0, 0, 0]),
            ({"low": 400}, [0, 0, 0, 0, 0]),
        ],
    )
    def test_a_sample_on_an_edge_passes(self, edges, expected):
        found = ideal_filter(self.GRID, **edges)
        assert found.values.tolist() == expected
        assert found.attrs["units"] == "1"

    def test_what_it_passes_and_blocks(self):
        found = ideal_filter(self.GRID, low=380, passing="90 %", blocking=1e-4)
        assert found.values == pytest.approx([1e-4, 1e-4, 1e-4, 0.9, 0.9])
        assert found.attrs["history"] == "ideal filter, edges 380 nm"

    def test_a_grid_of_repeated_steps(self):
        """0.1 nm added 2,000 times from 200 nm ends beside 400 nm, on its far side."""
        grid = np.cumsum(np.r_[200.0, np.full(2000, 0.1)])
        assert grid[-1] > 400
        assert ideal_filter(grid, high=400).values.all()

    def test_the_grid_of_a_spectrum(self):
        light = line([2.0, 4.0], "W m-2 nm-1")
        assert through(light, ideal_filter(light.wavelength, low=400)).values.tolist() == [0.0, 4.0]

    def test_without_an_edge(self):
        with pytest.raises(RangeError, match="an ideal filter has an edge: say low, high or both"):
            ideal_filter(self.GRID)

    @pytest.mark.parametrize(("low", "high"), [(400, 350), (380, 380), (np.nan, 400)])
    def test_edges_out_of_order(self, low, high):
        with pytest.raises(
            RangeError, match=f"from a shorter to a longer wavelength, not {low:g} to {high:g} nm"
        ):
            ideal_filter(self.GRID, low, high)

    @pytest.mark.parametrize(("passing", "blocking"), [(1.1, 0), (1, -0.1), (np.nan, 0)])
    def test_transmittances_beyond_their_range(self, passing, blocking):
        with pytest.raises(
            RangeError, match=rf"0–1, not at {passing:g} \(passing\) and {blocking:g} \(blocking"
        ):
            ideal_filter(self.GRID, 380, passing=passing, blocking=blocking)

    def test_a_grid_out_of_order(self):
        with pytest.raises(
            GridError, match="the filter has wavelengths out of order: 365 nm is followed by 355 nm"
        ):
            ideal_filter([345.0, 365.0, 355.0, 375.0], low=350)
