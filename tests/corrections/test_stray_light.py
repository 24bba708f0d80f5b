"""Stray light, put in by hand and taken out again."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.corrections import correct_stray_light, stray_light_matrix
from spectralbench.errors import GridError, RangeError, UnitsError

COUNT = 40
GRID = np.linspace(300.0, 378.0, COUNT)  # 2 nm steps
PIXELS = np.arange(COUNT)


def wings(offset):
    """Light beside a line, by distance in pixels: more to the red, and a ghost 12 pixels away; invented."""
    return 1e-3 / (1 + np.abs(offset)) + 2e-4 * (offset > 0) + 5e-4 * np.exp(-((offset - 12) ** 2))


def lines_at(pixels, width=0):
    """Measured lines: a core of 1 on the pixel, with half on either side if it has a width, and wings."""
    offset = PIXELS - np.asarray(pixels)[:, None]
    core = np.where(offset == 0, 1.0, np.where(np.abs(offset) <= width, 0.5, 0.0))
    values = 1e4 * np.where(np.abs(offset) <= width, core, wings(offset) * (1 + width))
    return xr.DataArray(
        values, {"excitation": GRID[pixels], "wavelength": GRID}, ("excitation", "wavelength")
    )


def signal(values, **attrs):
    values = np.asarray(values, float)
    dims = ("draw", "wavelength")[-values.ndim :]
    return xr.DataArray(values, {"wavelength": GRID[: values.shape[-1]]}, dims, attrs=attrs)


def distribution(in_band=0):
    offset = PIXELS[:, None] - PIXELS
    return np.where(np.abs(offset) <= in_band, 0.0, wings(offset))


class TestMatrix:
    def test_every_pixel_measured(self):
        matrix = stray_light_matrix(lines_at(PIXELS), in_band=0)
        np.testing.assert_allclose(np.linalg.inv(matrix) - np.eye(COUNT), distribution(), atol=1e-15)
        assert matrix.dims == ("wavelength", "excitation")
        assert matrix.attrs["units"] == "1"
        assert matrix.attrs["history"] == (
            "stray-light matrix from 40 lines at 300–378 nm, in band 0 pixels on either side"
        )

    def test_three_lines_do_for_an_instrument_that_is_everywhere_the_same(self):
        """Wings that depend on the distance alone: lines at both ends hold every distance there is."""
        matrix = stray_light_matrix(lines_at([0, 17, COUNT - 1]), in_band=0)
        np.testing.assert_allclose(np.linalg.inv(matrix) - np.eye(COUNT), distribution(), atol=1e-15)
        assert "held" not in matrix.attrs["history"]

    def test_in_band_is_the_lines_own(self):
        # in band 1 + 0.5 + 0.5 = 2, by which the wings (which hold that factor) are divided
        matrix = stray_light_matrix(lines_at(PIXELS[1:-1], width=1), in_band=1)
        np.testing.assert_allclose(np.linalg.inv(matrix) - np.eye(COUNT), distribution(1), atol=1e-4)
        found = (np.linalg.inv(matrix) - np.eye(COUNT))[:, 1:-1]
        np.testing.assert_allclose(found, distribution(1)[:, 1:-1], atol=1e-15)

    def test_between_lines_it_changes_along_the_diagonal(self):
        two = lines_at([10, 30])
        two[1] = np.where(two[1] == 1e4, 1e4, 3 * two[1])
        found = np.linalg.inv(stray_light_matrix(two, in_band=0)) - np.eye(COUNT)
        # a quarter of the way from one to three times
        assert found[17, 15] == pytest.approx(1.5 * wings(2), rel=1e-9)
        assert found[12, 10] == pytest.approx(wings(2), rel=1e-9)
        # 18 pixels below the line was measured with the upper one only
        assert found[3, 21] == pytest.approx(3 * wings(-18), rel=1e-9)

    def test_what_no_line_measured_is_held_and_said(self):
        matrix = stray_light_matrix(lines_at([20]), in_band=0)
        found = np.linalg.inv(matrix) - np.eye(COUNT)
        assert found[0, 39] == pytest.approx(wings(-20), rel=1e-9)
        # distances beyond −20 and beyond +19: 19·20/2 + 20·21/2 of 1600 elements
        assert ", 25.0% of it held at the last value measured" in matrix.attrs["history"]

    def test_a_line_between_two_pixels(self):
        half = lines_at([20]).assign_coords(excitation=[341.0])
        half[0, 21] = 1e4
        found = np.linalg.inv(stray_light_matrix(half, in_band=1).values) - np.eye(COUNT)
        assert np.count_nonzero(np.abs(found.diagonal(1)) > 1e-12) == 0
        assert (found[5:15, 20] > 0).all()

    def test_lines_out_of_order(self):
        straight, mixed = (stray_light_matrix(lines_at(at), 0) for at in ([5, 20, 30], [20, 5, 30]))
        assert straight.equals(mixed)

    def test_draws_of_lines(self):
        factor = xr.DataArray([1.0, 1.1], dims="draw")
        lines = lines_at([5, 20])
        both = stray_light_matrix(lines.where(lines == 1e4, lines * factor), 0)
        assert both.dims == ("draw", "wavelength", "excitation")
        first = stray_light_matrix(lines, 0)
        np.testing.assert_allclose(both.isel(draw=0), first, rtol=1e-15)
        assert not np.allclose(both.isel(draw=1), first, atol=1e-6)

    @pytest.mark.parametrize(
        ("lines", "in_band", "error", "said"),
        [
            (lines_at([5])[0], 0, GridError, "have dimensions excitation and wavelength"),
            (lines_at([5, 5]), 0, GridError, "and none of them twice"),
            (lines_at([5]).assign_coords(excitation=[200.0]), 0, RangeError, "the lines lie at 200–200 nm"),
            (lines_at([5]), -1, RangeError, "0 or more pixels on either side of a line, not -1"),
            (lines_at([5]) * np.nan, 0, RangeError, "not finite: merge exposures"),
            (
                lines_at([5, 20]).assign_coords(excitation=[310.0, 350.0]),
                2,
                RangeError,
                "the line at 350 nm has its maximum more than 2 pixels away",
            ),
            (
                lines_at([5]) * 0 + 1,
                6,
                RangeError,
                "the line at 310 nm has as much light beside its band as in",
            ),
        ],
    )
    def test_lines_that_are_none(self, lines, in_band, error, said):
        with pytest.raises(error, match=said):
            stray_light_matrix(lines, in_band)


MATRIX = stray_light_matrix(lines_at(PIXELS), in_band=0)
SMEAR = np.eye(COUNT) + distribution()
lights = arrays(float, COUNT, elements=st.floats(0, 1e6))


@pytest.mark.parametrize("in_band", [COUNT // 2, COUNT, 10 * COUNT])
def test_a_band_as_wide_as_the_detector_is_refused(in_band):
    """It would leave no stray light at all: the matrix of a perfect instrument."""
    with pytest.raises(
        RangeError, match=f"{in_band} pixels in band on either side .* leave none of {COUNT} "
    ):
        stray_light_matrix(lines_at(PIXELS), in_band=in_band)


def test_a_band_is_whole_pixels():
    with pytest.raises(RangeError, match=r"stray_light_matrix\(\): in_band is a whole number, not 2\.5"):
        stray_light_matrix(lines_at(PIXELS), in_band=2.5)
    assert stray_light_matrix(lines_at(PIXELS), 1.0).identical(stray_light_matrix(lines_at(PIXELS), 1))


class TestCorrecting:
    @given(lights)
    def test_what_was_put_in_is_taken_out(self, light):
        found = correct_stray_light(signal(SMEAR @ light), MATRIX)
        np.testing.assert_allclose(found, light, rtol=1e-12, atol=1e-9 * max(light.max(), 1e-300))

    @pytest.mark.parametrize("order", [("draw", "wavelength"), ("wavelength", "draw")])
    def test_draws_pass_one_by_one(self, order):
        light = np.random.default_rng(1).uniform(0, 1e4, (3, COUNT))
        found = correct_stray_light(signal(light @ SMEAR.T, units="s-1").transpose(*order), MATRIX)
        assert found.dims == order
        assert found.attrs["units"] == "s-1"
        np.testing.assert_allclose(found.transpose("draw", "wavelength"), light, rtol=1e-10)

    def test_draws_of_the_matrix(self):
        both = xr.concat([MATRIX, MATRIX * 0 + np.eye(COUNT)], "draw")
        found = correct_stray_light(signal(SMEAR @ np.ones(COUNT)), both)
        assert found.dims == ("wavelength", "draw")
        np.testing.assert_allclose(found.isel(draw=0), 1, rtol=1e-12)
        np.testing.assert_allclose(found.isel(draw=1), SMEAR @ np.ones(COUNT), rtol=1e-12)

    def test_the_history_names_the_matrix(self):
        found = correct_stray_light(signal(np.ones(COUNT)), MATRIX)
        assert found.attrs["history"].startswith(
            "corrected for stray light (stray-light matrix from 40 lines"
        )
        plain = correct_stray_light(signal(np.ones(COUNT)), MATRIX.drop_attrs())
        assert "(a matrix that says nothing of itself)" in plain.attrs["history"]

    def test_a_pixel_that_is_not_valid_spoils_all_and_only_its_own_spectrum(self):
        two = np.ones((2, COUNT))
        two[1, 7] = np.nan
        found = correct_stray_light(signal(two), MATRIX)
        assert np.isnan(found.values).all(axis=1).tolist() == [False, True]
        assert "1 of 80 values were not valid, and so is every one that depends" in found.attrs["history"]

    @given(lights, st.integers(0, COUNT - 1), st.floats(1e-3, 0.2))
    @settings(max_examples=60)
    def test_with_a_limit_no_light_is_left_that_is_not_there(self, light, where, tolerance):
        measured = SMEAR @ light
        limit = max(measured[where], 1.0)
        measured[where] = np.nan
        found = correct_stray_light(signal(measured), MATRIX, limit, tolerance).values
        valid = np.isfinite(found)
        rounding = 1e-12 * (light.max() + limit)
        assert not valid[where]
        assert (found[valid] <= light[valid] + rounding).all()
        assert (found[valid] >= light[valid] - tolerance * np.abs(found[valid]) - rounding).all()

    def test_what_a_limit_leaves_valid(self):
        measured = SMEAR @ np.full(COUNT, 100.0)
        measured[7] = np.nan
        found = correct_stray_light(signal(measured), MATRIX, limit=1000.0)
        # 1 % of 100 hangs on 1000 where the wings are above 10⁻³: the pixel itself, and none beside it
        assert np.flatnonzero(np.isnan(found)).tolist() == [7]
        found = correct_stray_light(signal(measured), MATRIX, limit=1000.0, tolerance=0.0042)
        assert np.flatnonzero(np.isnan(found)).tolist() == [6, 7, 8, 9, 10, 18, 19, 20]
        assert "every one that may hang on them by 0.4%, at 1000 each" in found.attrs["history"]

    def test_another_grid(self):
        moved = signal(np.ones(COUNT)).assign_coords(wavelength=GRID + 1e-6)
        with pytest.raises(GridError, match="up to 1e-06 nm apart"):
            correct_stray_light(moved, MATRIX)
        with pytest.raises(GridError, match="has the same grid along wavelength and along excitation"):
            correct_stray_light(signal(np.ones(COUNT)), MATRIX.assign_coords(excitation=GRID + 1e-6))
        with pytest.raises(GridError, match="has the same grid along wavelength and along excitation"):
            correct_stray_light(signal(np.ones(COUNT)), MATRIX[:, 0])

    def test_after_the_responsivity_it_is_too_late(self):
        with pytest.raises(UnitsError, match='not of values in "W m-2 nm-1": correct it before the respons'):
            correct_stray_light(signal(np.ones(COUNT), units="W m-2 nm-1"), MATRIX)

    @pytest.mark.parametrize("arguments", [(0.0,), (np.nan,), (1.0, 0.0)])
    def test_limits_that_are_none(self, arguments):
        with pytest.raises(RangeError, match="a limit and a tolerance are above 0"):
            correct_stray_light(signal(np.ones(COUNT)), MATRIX, *arguments)
