"""One slab: tilted, turned round, and with adhesive behind it."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError
from spectralbench.optics import internal_transmittance, slab_transmittance, stack, wetted

GRID = [365.0, 405.0]


def line(values, units="1", grid=GRID):
    return xr.DataArray(np.asarray(values, float), {"wavelength": grid}, "wavelength", attrs={"units": units})


class TestSlab:
    def test_no_step_in_the_index_no_reflection(self):
        assert slab_transmittance(0.8, 1.5, 1.5, 1.5).item() == pytest.approx(0.8)

    def test_it_reads_the_same_from_both_sides(self):
        front, back = slab_transmittance(0.8, 1.53, 1.0, 1.4), slab_transmittance(0.8, 1.53, 1.4, 1.0)
        assert front.item() == pytest.approx(back.item())

    def test_per_cent_and_text(self):
        assert slab_transmittance("80 %", 1.5).item() == slab_transmittance(0.8, 1.5).item()

    @pytest.mark.parametrize(("internal", "worst"), [(1.01, "1.01"), (-0.2, "-0.2")])
    def test_internal_transmittance_beyond_its_range(self, internal, worst):
        with pytest.raises(RangeError, match=rf"lies in 0–1, not at {worst}"):
            slab_transmittance(line([0.5, internal]), 1.5)

    @pytest.mark.parametrize("function", [slab_transmittance, internal_transmittance])
    @pytest.mark.parametrize("indices", [(0.0,), (-1.5,), (1.5, 0.0), (1.5, 1.0, -1.0)])
    def test_an_index_of_nothing(self, function, indices):
        with pytest.raises(RangeError, match="a refractive index is above 0, not"):
            function(0.5, *indices)

    def test_another_grid(self):
        with pytest.raises(GridError, match="are not one grid"):
            slab_transmittance(line([0.5, 0.5]), line([1.5, 1.5], grid=[365.0, 406.0]))

    def test_noise_may_carry_the_internal_transmittance_above_1(self):
        assert internal_transmittance(0.93, 1.5).item() > 1

    def test_nothing_stays_nothing(self):
        assert internal_transmittance(0.0, 1.5).item() == slab_transmittance(0.0, 1.5).item() == 0.0


class TestTilt:
    @pytest.mark.parametrize("tilt", [0.0, 30.0, 75.0])
    def test_a_slab_is_a_stack_of_one(self, tilt):
        bulk, index = line([0.3, 0.9]), line([1.6, 1.5])
        alone = slab_transmittance(bulk, index, 1.33, 1.4, tilt)
        stacked = stack(bulk.expand_dims("layer"), index, 1.33, 1.4, tilt)
        np.testing.assert_allclose(alone, stacked.transmittance, rtol=1e-14)
        assert alone.attrs["units"] == "1"

    def test_text_and_radians(self):
        angle = xr.DataArray(np.pi / 6, attrs={"units": "rad"})
        found = [slab_transmittance(0.8, 1.5, tilt=tilt).item() for tilt in (30, "30 deg", "30°", angle)]
        assert found == pytest.approx([found[0]] * 4, rel=1e-14)

    @pytest.mark.parametrize("tilt", [-1.0, 90.0, np.nan])
    def test_light_that_does_not_arrive(self, tilt):
        with pytest.raises(RangeError, match=rf"a tilt lies between 0° .* and 90° .*, not at {tilt:g}°"):
            slab_transmittance(0.8, 1.5, tilt=tilt)

    def test_layers_given_to_a_slab_stay_apart(self):
        found = slab_transmittance(xr.DataArray([0.8, 0.5], dims="layer"), 1.5)
        assert found.dims == ("layer",)
        assert found[1].item() == slab_transmittance(0.5, 1.5).item()


class TestWetted:
    @pytest.mark.parametrize("before", [1.0, 1.5])
    def test_it_is_the_slab_between_other_media(self, before):
        in_air = slab_transmittance(line([0.3, 0.9]), 1.6)
        found = wetted(in_air, 1.6, 1.5, before)
        np.testing.assert_allclose(found, slab_transmittance(line([0.3, 0.9]), 1.6, before, 1.5), rtol=1e-12)
        assert "comment" not in found.attrs
        assert "wetted the back face" in found.attrs["history"]

    def test_no_part_makes_light(self):
        clear = slab_transmittance(1.0, 1.5)
        found = wetted(clear * xr.DataArray([0.98, 1.0, 1.02], dims="draw"), 1.5, 1.5)
        assert found[1:].values == pytest.approx([0.96, 0.96])
        assert found[0] < 0.96
        assert found.attrs["comment"].startswith(
            "an internal transmittance that passes 1 by up to 0.02 was limited"
        )
        assert "means a refractive index that is too high" in found.attrs["comment"]

    def test_noise_around_nothing_keeps_its_mean(self):
        found = wetted(line([0.001, -0.001]), 1.5, 1.5)
        assert float(found.sum()) == pytest.approx(0, abs=1e-12)

    def test_not_valid_stays_not_valid(self):
        found = wetted(line([np.nan, 0.5]), 1.5, 1.5)
        assert np.isnan(found.values).tolist() == [True, False]
        assert "comment" not in found.attrs
        assert np.isnan(wetted(np.nan, 1.5, 1.5))

    def test_an_index_of_nothing(self):
        with pytest.raises(RangeError, match="a refractive index is above 0, not -1"):
            wetted(0.5, 1.5, -1.0)
