"""Another thickness, and what cannot be said of it."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.optics import (
    internal_transmittance,
    predict_thickness,
    scale_thickness,
    slab_transmittance,
)

GRID = [365.0, 405.0]
NAN = np.nan


def line(values, units="1", grid=GRID):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": units})


class TestScaling:
    # Lambert's law (IUPAC Gold Book, B00626): half passes 1 mm, so an eighth passes 3 mm
    @pytest.mark.parametrize(("new", "expected"), [("3 mm", 0.125), ("0.5 mm", 0.5**0.5), (0, 1.0)])
    def test_lambert(self, new, expected):
        assert scale_thickness(0.5, "1 mm", new).item() == pytest.approx(expected)

    def test_units(self):
        assert scale_thickness(0.5, "1000 µm", "0.2 cm").item() == pytest.approx(0.25)

    @pytest.mark.parametrize(("old", "new"), [(0, 1), (-1, 1), (1, -1), (NAN, 1)])
    def test_a_thickness_of_nothing(self, old, new):
        with pytest.raises(RangeError, match=r"a thickness is more than 0 mm \(the new one may be 0\)"):
            scale_thickness(0.5, old, new)

    def test_a_negative_transmittance(self):
        with pytest.raises(RangeError, match=r"not negative; this one reaches -0\.01"):
            scale_thickness(line([-0.01, 1.9]), 1, 2)


class TestPrediction:
    PLATE = slab_transmittance(line([0.5, 0.9]), 1.5)

    @pytest.mark.parametrize("new", ["1 mm", "6 mm", "3 mm", 0])
    def test_inside_scaled_outside_again(self, new):
        found = predict_thickness(self.PLATE, 1.5, "3 mm", new, 0.001)
        bulk = scale_thickness(line([0.5, 0.9]), "3 mm", new)
        np.testing.assert_allclose(found, slab_transmittance(bulk, 1.5), rtol=1e-12)
        assert "comment" not in found.attrs
        assert found.attrs["long_name"] == "transmittance predicted for another thickness"

    def test_the_history_says_from_what(self):
        found = predict_thickness(self.PLATE, 1.5, "3 mm", "0.1 cm", 0.001)
        assert (
            found.attrs["history"]
            == "predicted for a thickness of 1 mm from one of 3 mm, above a floor of 0.001"
        )

    def test_below_the_floor_anything_could_follow(self):
        measured = line([0.0, 0.002, 0.001, 0.5, -0.1, 0.8], grid=[300, 310, 320, 330, 340, 350])
        found = predict_thickness(measured, 1.5, 3, 1, 0.002)
        assert np.isnan(found.values).tolist() == [True, True, True, False, True, False]
        assert found.attrs["comment"] == (
            "not valid at 300–320 nm, 340 nm: the measured transmittance lies at or below the floor"
        )

    def test_a_floor_for_each_wavelength(self):
        found = predict_thickness(line([0.01, 0.01]), 1.5, 3, 1, line([0.02, 0.001]))
        assert np.isnan(found.values).tolist() == [True, False]

    def test_many_stretches_are_counted(self):
        grid = np.arange(300.0, 312.0)
        found = predict_thickness(line(np.arange(12) % 2 * 0.5, grid=grid), 1.5, 3, 1, 0.01)
        assert "at 300 nm, 302 nm, 304 nm, 306 nm and 2 more stretches:" in found.attrs["comment"]

    def test_without_wavelengths(self):
        found = predict_thickness(xr.DataArray([0.0, 0.5], dims="part"), 1.5, 3, 1, 0.01)
        assert found.attrs["comment"].startswith("not valid: the measured transmittance lies")

    def test_everything_below_the_floor(self):
        with pytest.raises(RangeError, match=r"up to 0\.01, nowhere rises above the floor of 0\.02"):
            predict_thickness(line([0.01, 0.0]), 1.5, 3, 1, 0.02)

    def test_a_negative_floor(self):
        with pytest.raises(RangeError, match=r"a noise floor is not negative; this one reaches -0\.1"):
            predict_thickness(line([0.01, 0.0]), 1.5, 3, 1, -0.1)

    def test_what_was_not_valid_is_no_fault(self):
        assert np.isnan(predict_thickness(line([NAN, NAN]), 1.5, 3, 1, 0.02)).all()

    def test_draws_are_as_if_done_one_by_one(self):
        factors = xr.DataArray([0.97, 1.0, 1.03], dims="draw")
        thickness = xr.DataArray([2.9, 3.0, 3.1], dims="draw", attrs={"units": "mm"})
        together = predict_thickness(self.PLATE * factors, 1.5, thickness, "1 mm", 0.001)
        assert together.sizes == {"wavelength": 2, "draw": 3}
        for i, factor in enumerate(factors.values):
            alone = predict_thickness(self.PLATE * factor, 1.5, float(thickness[i]), "1 mm", 0.001)
            np.testing.assert_allclose(together.isel(draw=i), alone, rtol=1e-12)

    def test_the_mean_of_the_draws_decides(self):
        draws = line([0.01, 0.0005]) * xr.DataArray([-0.2, 1.0, 2.2], dims="draw")
        found = predict_thickness(draws, 1.5, 3, 1, 0.001)
        assert np.isfinite(found.isel(wavelength=0)).all()
        assert found.isel(wavelength=0, draw=0).item() == 0.0
        assert np.isnan(found.isel(wavelength=1)).all()

    def test_one_draw_that_is_not_valid_spoils_no_other(self):
        draws = line([0.5, 0.5]) * xr.DataArray([NAN, 1.0], dims="draw")
        found = predict_thickness(draws, 1.5, 3, 1, 0.001)
        assert np.isnan(found.isel(draw=0)).all()
        assert np.isfinite(found.isel(draw=1)).all()

    def test_above_1_by_noise(self):
        found = predict_thickness(slab_transmittance(1.0, 1.5) * 1.01, 1.5, "1 mm", "30 mm", 0.001)
        assert found.item() == pytest.approx(12 / 13)  # not 1.01 to the power of 30
        assert "was limited to 1" in found.attrs["comment"]

    def test_a_thinner_part_multiplies_doubt_where_little_passes(self):
        """The note's figure: from 3 mm to 1 mm, 0.001 ± 0.001 inside becomes 0.1 ± 0.03."""
        step = 1e-6
        inside = scale_thickness(line([0.001, 0.001 + step]), 3, 1)
        slope = float(inside.diff("wavelength").item() / step)
        assert float(inside[0]) == pytest.approx(0.1)
        assert slope * 0.001 == pytest.approx(0.033, abs=1e-3)

    def test_its_inside_is_found_again(self):
        found = predict_thickness(self.PLATE, 1.5, "3 mm", "1 mm", 0.001)
        np.testing.assert_allclose(internal_transmittance(found, 1.5) ** 3, [0.5, 0.9], rtol=1e-12)
