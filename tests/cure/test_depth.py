"""Light by depth: at the front, at the back, and between."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.cure import absorbed_photons, absorbed_profile, front_and_back
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.array([360.0, 365.0, 370.0])


def line(values, grid=GRID):
    return xr.DataArray(
        np.broadcast_to(np.asarray(values, float), grid.size), {"wavelength": grid}, "wavelength"
    )


class TestProfile:
    def test_one_film_for_all_gives_what_a_film_for_each_gives(self):
        """The matrix product and the walk through the depths are one sum."""
        light = line([1.0, 3.0, 2.0]).expand_dims(source=2, draw=4) * xr.DataArray([1.0, 2.0], dims="source")
        film, part, depths = line([0.3, 0.7, 1.1]), line([0.1, 0.2, 0.0]), [0.0, 2e-5, 1e-4]
        together = absorbed_profile(light, film, 1e-4, depths, part)
        apart = absorbed_profile(light, film.expand_dims(draw=4), 1e-4, depths, part.expand_dims(draw=4))
        assert together.dims == apart.dims == ("depth", "source", "draw")
        np.testing.assert_allclose(together, apart, rtol=1e-12)
        assert together.attrs["units"] == "umol m-3 s-1"
        assert together["depth"].values.tolist() == depths
        assert together["depth"].attrs["units"] == "m"

    def test_depths_with_a_unit(self):
        depths = xr.DataArray([0.0, 100.0], dims="depth", attrs={"units": "um"})
        found = absorbed_profile(line(10.0), line(1.0), "100 um", depths)
        assert found["depth"].values == pytest.approx([0.0, 1e-4])
        assert float(found[1] / found[0]) == pytest.approx(0.1)
        assert absorbed_profile(line(10.0), line(1.0), "100 um", "50 um").sizes == {"depth": 1}

    def test_a_sample_that_is_not_valid(self):
        light = line([np.nan, 10.0, 10.0])
        assert np.isfinite(absorbed_profile(light, line([0.0, 1, 1]), 1e-4, [0.0, 1e-4])).all()
        assert np.isnan(absorbed_profile(light, line([0.1, 1, 1]), 1e-4, [0.0, 1e-4])).all()
        draws = line([0.0, 1, 1]).expand_dims(draw=2)
        assert np.isfinite(absorbed_profile(light, draws, 1e-4, [0.0, 1e-4])).all()

    def test_draws_of_the_thickness(self):
        thick = xr.DataArray([1e-4, 2e-4], dims="draw")
        found = absorbed_profile(line(10.0), line(1.0), thick, [0.0, 1e-4, 2e-4])
        assert found.dims == ("depth", "draw")
        assert np.isnan(found.values).tolist() == [[False, False], [False, False], [True, False]]
        assert (found[0] / found[0, 1]).values == pytest.approx([2.0, 1.0])  # the same light in half the room

    def test_without_an_initiator_and_opaque(self):
        assert (absorbed_profile(line(10.0), line(1.0), 1e-4, [0.0, 1e-4], line(0.0)) == 0).all()
        assert absorbed_profile(line(10.0), line(1e4), 1e-4, [0.0, 1e-4])[1].item() == 0.0

    @pytest.mark.parametrize(
        ("given", "said"),
        [
            ({"thickness": 0.0}, "thickness is above 0, not 0 m"),
            ({"thickness": "-1 um"}, "thickness is above 0, not -1e-06 m"),
            ({"depths": [-1e-5, 0.0]}, "a depth is 0 or more, not -1e-05 m"),
            (
                {"depths": [0.0, 2e-4]},
                "a depth of 0.0002 m lies behind the bond line, which is 0.0001 m thick",
            ),
            ({"depths": [[0.0]]}, "depths stand along one dimension, not along 2"),
            ({"absorbance": line(-1.0)}, "an absorbance is not negative; this one reaches -1"),
            ({"initiator": line(2.0)}, "lies between 0 and that of the whole bond line"),
        ],
    )
    def test_what_means_nothing(self, given, said):
        usual = {"spectrum": line(10.0), "absorbance": line(1.0), "thickness": 1e-4, "depths": [0.0]}
        with pytest.raises(RangeError, match=said):
            absorbed_profile(**{**usual, **given})

    def test_another_grid_and_another_unit(self):
        with pytest.raises(GridError, match="are not one grid"):
            absorbed_profile(line(1.0), line(1.0, GRID + 0.1), 1e-4, [0.0])
        with pytest.raises(UnitsError, match='thickness: "s" cannot be converted to "m"'):
            absorbed_profile(line(1.0), line(1.0), "100 s", [0.0])


class TestFaces:
    def test_they_are_the_ends_of_the_profile(self):
        light, film, part = line([1.0, 3.0, 2.0]), line([0.3, 0.7, 1.1]), line([0.1, 0.2, 0.3])
        faces = front_and_back(light, film, "100 um", part)
        ends = absorbed_profile(light, film, "100 um", [0.0, 1e-4], part)
        assert [float(faces.front), float(faces.back)] == pytest.approx(ends.values.tolist())
        assert float(faces.average) == pytest.approx(float(absorbed_photons(light, film, part)) / 1e-4)
        assert {name: faces[name].attrs["units"] for name in faces} == {
            "front": "umol m-3 s-1",
            "average": "umol m-3 s-1",
            "back": "umol m-3 s-1",
            "back_by_front": "1",
            "average_by_front": "1",
        }

    def test_of_nothing_and_opaque(self):
        faces = front_and_back(line(10.0), line(1.0), 1e-4, line(0.0))
        assert [faces[name].item() for name in faces] == [0.0] * 5
        faces = front_and_back(line(10.0), line(1e4), 1e-4)
        assert faces["back_by_front"].item() == 0.0
        assert np.isnan(front_and_back(line(np.nan), line(1.0), 1e-4)["back_by_front"])

    def test_draws(self):
        thick = xr.DataArray([1e-4, 2e-4], dims="draw")
        faces = front_and_back(line(10.0).expand_dims(source=3), line(1.0), thick)
        assert faces["back_by_front"].sizes == {"source": 3, "draw": 2}

    def test_what_means_nothing(self):
        with pytest.raises(RangeError, match="thickness is above 0, not 0 m"):
            front_and_back(line(10.0), line(1.0), 0.0)
        with pytest.raises(RangeError, match="an absorbance is not negative; this one reaches -1"):
            front_and_back(line(10.0), line(-1.0), 1e-4)
