"""Who takes the light: initiators, resin and pigment."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import absorbed_photons, absorbed_share, photons_by_initiator, shares_by_absorber
from spectralbench.errors import GridError, RangeError

GRID = [364.0, 366.0]


def films(values, along="absorber"):
    return xr.DataArray(np.asarray(values, float), {"wavelength": GRID}, (along, "wavelength"))


def light(values=(10.0, 10.0)):
    return xr.DataArray(np.asarray(values, float), {"wavelength": GRID}, "wavelength")


class TestShares:
    def test_by_hand(self):
        # A = 2 absorbs 99 %, of which each absorber takes as much of it as of the absorbance
        found = shares_by_absorber(films([[0.5, 1.0], [1.5, 1.0]]))
        assert found.values == pytest.approx(np.array([[0.2475, 0.495], [0.7425, 0.495]]))
        assert found.attrs["units"] == "1"

    def test_where_nothing_absorbs_nobody_takes(self):
        assert shares_by_absorber(films([[0.0, 0.0], [0.0, 1.0]])).values[:, 0].tolist() == [0.0, 0.0]

    def test_the_absorber_comes_first_and_draws_stay(self):
        drawn = films([[0.5, 1.0], [1.5, 1.0]]).expand_dims(draw=4)
        assert shares_by_absorber(drawn).dims == ("absorber", "draw", "wavelength")

    def test_a_spectrum_that_is_no_stack(self):
        with pytest.raises(GridError, match="dimensions wavelength; expected absorber or initiator among"):
            shares_by_absorber(light())

    def test_less_than_nothing(self):
        with pytest.raises(RangeError, match=r"an absorbance is 0 or more, not -0\.1"):
            shares_by_absorber(films([[0.5, -0.1], [0.5, 0.5]]))


class TestPhotons:
    def test_pigment_takes_from_both(self):
        both, pigment = films([[0.3, 0.3], [0.1, 0.1]], "initiator"), light([0.6, 0.6])
        clear, dark = photons_by_initiator(light(), both), photons_by_initiator(light(), both, pigment)
        # of A = 0.4 all is the initiators', of A = 1.0 four tenths
        expected = 0.4 * absorbed_share(light([1.0, 1.0])) / absorbed_share(light([0.4, 0.4]))
        assert (dark / clear).values == pytest.approx(np.full(2, expected[0].item()))
        assert (clear.values[0] / clear.values[1]) == pytest.approx(3.0)
        assert clear.attrs == {
            "units": "umol m-2 s-1",
            "long_name": "photons absorbed by each initiator",
        }

    def test_alone_it_is_absorbed_photons(self):
        one = photons_by_initiator(light(), films([[0.3, 0.2]], "initiator"))
        assert one.item() == pytest.approx(absorbed_photons(light(), light([0.3, 0.2])).item())

    def test_sources_and_draws(self):
        both = films([[0.3, 0.3], [0.1, 0.1]], "initiator").expand_dims(draw=5)
        assert photons_by_initiator(light().expand_dims(source=3), both).dims[0] == "initiator"
        assert photons_by_initiator(light().expand_dims(source=3), both).sizes == {
            "initiator": 2,
            "source": 3,
            "draw": 5,
        }

    def test_a_sample_that_nobody_absorbs_may_be_invalid(self):
        found = photons_by_initiator(light([np.nan, 10.0]), films([[0.0, 0.3], [0.0, 0.1]], "initiator"))
        assert np.isfinite(found).all()
        found = photons_by_initiator(light([np.nan, 10.0]), films([[0.2, 0.3], [0.0, 0.1]], "initiator"))
        assert np.isnan(found).values.tolist() == [True, False]

    def test_a_background_below_nothing(self):
        with pytest.raises(RangeError, match="the absorbance of the background is 0 or more, not -1"):
            photons_by_initiator(light(), films([[0.3, 0.3]], "initiator"), light([-1.0, 0.0]))
        with pytest.raises(RangeError, match="an absorbance is 0 or more, not -1"):
            photons_by_initiator(light(), films([[-1.0, 0.3]], "initiator"))
