"""Bleaching: limits, units, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import bleaching_by_depth, photobleaching
from spectralbench.errors import RangeError, UnitsError

USUAL = {
    "photons": 1000.0,
    "time": 10.0,
    "quantum_yield": 0.5,
    "coefficient": 300.0,
    "concentration": 0.02,
    "depths": [0.0, 1e-4],
}


class TestClosedForm:
    def test_before_any_light_beer_and_lambert_hold(self):
        left = photobleaching([0.0, 1.0, 5.0], 0.0)
        assert left["light_left"].values == pytest.approx(np.exp([0.0, -1.0, -5.0]))
        assert left["initiator_left"].values.tolist() == [1.0, 1.0, 1.0]

    def test_at_the_front_the_initiator_decays_and_all_light_arrives(self):
        left = photobleaching(0.0, [0.0, 1.0, 5.0])
        assert left["initiator_left"].values == pytest.approx(np.exp([0.0, -1.0, -5.0]))
        assert left["light_left"].values.tolist() == [1.0, 1.0, 1.0]

    def test_two_series_make_a_grid(self):
        left = photobleaching([0.0, 1.0, 2.0], [0.0, 1.0])
        assert left.sizes == {"depth": 3, "time": 2}
        assert left["light_left"].attrs["units"] == left["initiator_left"].attrs["units"] == "1"

    def test_far_out_nothing_overflows(self):
        left = photobleaching([1.0, 1e4, 1e4, 2e4], xr.DataArray([1e4, 1.0, 1e4, 1e4], dims="depth"))
        assert left["initiator_left"].values == pytest.approx([0.0, 1.0, 0.5, 1.0])
        assert left["light_left"].values == pytest.approx([1.0, 0.0, 0.5, 0.0])

    def test_less_than_nothing(self):
        with pytest.raises(RangeError, match="optical depth is 0 or more, not -1"):
            photobleaching([0.0, -1.0], 1.0)
        with pytest.raises(RangeError, match=r"photon dose is 0 or more, not -0\.5"):
            photobleaching(1.0, -0.5)

    def test_a_table_without_names(self):
        with pytest.raises(RangeError, match="a depth stands along one dimension, not along 2: name them"):
            photobleaching([[0.0, 1.0]], 1.0)


class TestByDepth:
    def test_by_hand(self):
        """ε 300 L/mol/cm is 30 m²/mol; 0.02 mol/L is 20 mol/m³; a milli-mole of photons a second for 10 s."""
        found = bleaching_by_depth(**USUAL)
        assert found["photon_dose"].item() == pytest.approx(0.5 * np.log(10) * 30 * 1e-3 * 10)
        assert found["optical_depth"].values == pytest.approx([0.0, np.log(10) * 30 * 20 * 1e-4])
        assert found["front_speed"].item() == pytest.approx(0.5 * 1e-3 / 20)
        assert found["front_speed"].attrs["units"] == "m s-1"
        expected = photobleaching(found["optical_depth"], found["photon_dose"])
        np.testing.assert_allclose(found["light_left"], expected["light_left"])

    def test_the_front_moves_at_its_speed(self):
        """Where half of the initiator is left, in an opaque bond line, at two times."""
        depths = np.linspace(0, 4e-3, 40001)
        thick = {**USUAL, "coefficient": 3000.0, "depths": depths}
        times = np.array([60.0, 120.0])
        found = bleaching_by_depth(**{**thick, "time": xr.DataArray(times, dims="time")})
        at = [np.interp(0.5, found["initiator_left"].isel(time=i), depths) for i in (0, 1)]
        assert (at[1] - at[0]) / 60.0 == pytest.approx(float(found["front_speed"]), rel=1e-3)

    def test_units(self):
        said = bleaching_by_depth(1000.0, "10 s", "50 %", "30 m^2/mol", "20 mmol/L", "100 um")
        expected = bleaching_by_depth(**USUAL).isel(depth=[1])
        np.testing.assert_allclose(said["light_left"], expected["light_left"])
        with pytest.raises(UnitsError, match='concentration: "g/L" cannot be converted to "mol/L"'):
            bleaching_by_depth(**{**USUAL, "concentration": "2 g/L"})

    def test_without_an_initiator(self):
        found = bleaching_by_depth(**{**USUAL, "concentration": 0.0})
        assert found["light_left"].values.tolist() == [1.0, 1.0]
        assert found["front_speed"].item() == np.inf

    def test_draws(self):
        drawn = {**USUAL, "concentration": xr.DataArray([0.01, 0.02, 0.03], dims="draw")}
        assert bleaching_by_depth(**drawn)["light_left"].sizes == {"depth": 2, "draw": 3}

    @pytest.mark.parametrize("name", list(USUAL))
    def test_less_than_nothing(self, name):
        words = {"depths": "a depth", "quantum_yield": "quantum yield"}.get(name, name)
        with pytest.raises(RangeError, match=f"{words} is 0 or more, not -1"):
            bleaching_by_depth(**{**USUAL, name: -1.0})


def test_arrays_that_carry_their_units_are_taken_like_plain_numbers():
    plain = bleaching_by_depth(3051.16, 60.0, 0.5, 300.0, 0.02, [0.0, 1e-4])
    told = bleaching_by_depth(
        xr.DataArray(3051.16, attrs={"units": "umol m-2 s-1"}),
        xr.DataArray(1.0, attrs={"units": "min"}),
        0.5,
        xr.DataArray(300.0, attrs={"units": "L mol-1 cm-1"}),
        xr.DataArray(20.0, attrs={"units": "mmol/L"}),
        [0.0, 1e-4],
    )
    xr.testing.assert_allclose(told, plain)
