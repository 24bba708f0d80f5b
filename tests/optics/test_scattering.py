"""Haze, and the limits between which a part that scatters passes light."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError
from spectralbench.optics import haze, transmittance_limits

GRID = [365.0, 405.0]


def line(values, units="1", grid=GRID):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": units})


TOTAL, REGULAR = line([0.8, 0.9]), line([0.6, 0.9])


class TestHaze:
    def test_by_hand(self):
        found = haze(TOTAL, REGULAR)
        assert found.values == pytest.approx([0.25, 0.0])
        assert found.attrs == {"long_name": "scattered share of the transmitted light", "units": "1"}

    def test_where_nothing_passes(self):
        assert np.isnan(haze(line([0.0, -0.01]), line([0.0, 0.0]), 0.02)).all()

    def test_per_cent(self):
        assert haze(line([80, 90], "%"), REGULAR).values == pytest.approx([0.25, 0.0])

    @pytest.mark.parametrize("function", [haze, transmittance_limits])
    def test_more_straight_on_than_in_all(self, function):
        message = (
            r"lies 0\.02 above the total one at 405 nm, more than noise of 0\.01: .*Were the two swapped"
        )
        with pytest.raises(RangeError, match=message):
            function(TOTAL, line([0.6, 0.92]))
        function(TOTAL, line([0.6, 0.92]), allowance="3 %")
        with pytest.raises(RangeError, match=r"lies 0\.1 above the total one, more than noise"):
            function(0.5, 0.6)

    def test_the_mean_of_draws_counts(self):
        noise = xr.DataArray([0.95, 1.05], dims="draw")
        assert haze(TOTAL, REGULAR * noise).sizes["draw"] == 2
        with pytest.raises(RangeError, match=r"lies 0\.09 above the total one at 405 nm"):
            haze(TOTAL, REGULAR * noise * 1.1)

    def test_an_allowance_below_nothing(self):
        with pytest.raises(RangeError, match="an allowance for noise is not negative, not -1"):
            haze(TOTAL, REGULAR, -1)

    def test_another_grid(self):
        with pytest.raises(GridError, match="are not one grid"):
            haze(TOTAL, line([0.5, 0.5], grid=[365.0, 406.0]))


class TestLimits:
    def test_both_known(self):
        found = transmittance_limits(TOTAL, REGULAR)
        assert found.low.values.tolist() == [0.6, 0.9]
        assert found.high.values.tolist() == [0.8, 0.9]
        assert found.low.attrs["units"] == found.high.attrs["units"] == "1"
        assert "the nearer to the upper limit" in found.attrs["comment"]

    def test_noise_never_turns_them_round(self):
        found = transmittance_limits(TOTAL, line([0.6, 0.905]))
        assert found.low.values.tolist() == [0.6, 0.905]
        assert found.high.values.tolist() == [0.8, 0.905]

    @pytest.mark.parametrize(
        ("known", "limit", "unknown", "follows"),
        [
            ("total", "high", "low", "less than the total one reaches a bond line that lies farther behind"),
            ("regular", "low", "high", "more than the regular one reaches a bond line close behind it"),
        ],
    )
    def test_one_unknown(self, known, limit, unknown, follows):
        found = transmittance_limits(**{known: TOTAL})
        assert found[limit].values.tolist() == TOTAL.values.tolist()
        assert np.isnan(found[unknown]).all()
        assert follows in found.attrs["comment"]
        assert TOTAL.attrs == {"units": "1"}  # what was given stays as it was

    def test_neither_known(self):
        with pytest.raises(RangeError, match="say the total transmittance, the regular one, or better both"):
            transmittance_limits()

    def test_not_valid_stays_not_valid(self):
        found = transmittance_limits(line([np.nan, 0.9]), line([0.6, np.nan]))
        assert np.isnan(found.high.values).tolist() == [True, False]
        assert np.isnan(found.low.values).tolist() == [False, True]
