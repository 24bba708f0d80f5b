"""Spectra smeared by a bandpass of known shape, and corrected."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.corrections import correct_bandpass
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.reduction import band_irradiance

GRID = np.arange(300.0, 461.0)
FINE = np.linspace(-10, 10, 4001)  # nm from the sample; where a smear is summed up


def spectrum(values, grid=GRID, **attrs):
    values = np.asarray(values, float)
    return xr.DataArray(values, {"wavelength": grid}, ("draw", "wavelength")[-values.ndim :], attrs=attrs)


def bell(x, width=12.0, centre=380.0):
    return np.exp(-4 * np.log(2) * ((x - centre) / width) ** 2)


def smeared(truth, picture, grid=GRID):
    """What an instrument shows that draws a line with this picture over offsets (read less true)."""
    shape = picture(FINE)
    return (truth(grid[:, None] - FINE) * shape).sum(axis=1) / shape.sum()


PICTURES = {
    "triangle": lambda x: np.clip(1 - np.abs(x) / 4, 0, None),
    "gaussian": lambda x: np.exp(-4 * np.log(2) * (x / 4) ** 2),
    "rectangle": lambda x: (np.abs(x) < 2) + 0.5 * (np.abs(x) == 2),
}


@pytest.mark.parametrize("shape", list(PICTURES))
@pytest.mark.parametrize("step", [None, 1.0])
def test_each_shape_is_put_back(shape, step):
    """Each order of the series takes off most of what the one before has left."""
    measured = smeared(bell, PICTURES[shape])
    off = [np.abs(measured - bell(GRID)).max()]
    for points in (3, 5):
        found = correct_bandpass(spectrum(measured), 4.0, shape, points, step)
        off.append(np.abs(found - bell(GRID)).max())
    assert off[0] > 0.02
    assert off[1] < off[0] / 3
    assert off[2] < off[1] / 2


def test_the_wrong_shape_does_worse():
    measured = spectrum(smeared(bell, PICTURES["rectangle"]))
    right, wrong = (
        np.abs(correct_bandpass(measured, 4.0, shape, 5) - bell(GRID)).max()
        for shape in ("rectangle", "gaussian")
    )
    assert wrong > 3 * right


@pytest.mark.parametrize("points", [3, 5])
def test_an_uneven_grid_is_taken_as_it_is(points):
    uneven = np.cumsum(np.linspace(1.6, 2.4, 81)) + 298
    found = correct_bandpass(
        spectrum(smeared(bell, PICTURES["triangle"], uneven), uneven), 4.0, "triangle", points
    )
    left = np.abs(found - bell(uneven)).max()
    before = np.abs(smeared(bell, PICTURES["triangle"], uneven) - bell(uneven)).max()
    assert left < before / (3 if points == 3 else 8)


@given(
    st.floats(345, 415),
    st.floats(6, 30),
    st.floats(0.5, 6),
    st.sampled_from([*PICTURES]),
    st.sampled_from([3, 5]),
)
@settings(max_examples=50)
def test_the_band_integral_of_an_isolated_line_stays(centre, width, fwhm, shape, points):
    """A bandpass of area 1 moves light about and makes none (closed form: the weights add up to 1)."""
    line = spectrum(bell(GRID, width / 2, centre), units="W m-2 nm-1")
    found = correct_bandpass(line, fwhm, shape, points)
    whole = float(band_irradiance(line, 300, 460))
    assert float(band_irradiance(found, 300, 460)) == pytest.approx(whole, rel=1e-9)


@given(st.floats(0.1, 20), st.sampled_from([3, 5]), st.floats(-1, 1), st.floats(-1, 1))
@settings(max_examples=30)
def test_a_straight_spectrum_has_nothing_to_correct(fwhm, points, level, slope):
    straight = spectrum(level + slope * GRID / 100)
    found = correct_bandpass(straight, fwhm, points=points)
    inside = slice(45, -45)
    np.testing.assert_allclose(found[inside], straight[inside], rtol=0, atol=1e-9)


class TestSlitFunction:
    OFFSETS = np.linspace(-6.0, 6.0, 25)

    def slit(self, values, **attrs):
        offset = xr.DataArray(self.OFFSETS, dims="offset", attrs=attrs)
        return xr.DataArray(np.asarray(values, float), {"offset": offset}, "offset")

    def test_a_measured_triangle_is_a_triangle(self):
        measured = spectrum(smeared(bell, PICTURES["triangle"]))
        for points in (3, 5):
            named = correct_bandpass(measured, 4.0, points=points)
            found = correct_bandpass(
                measured, shape=self.slit(7 * PICTURES["triangle"](self.OFFSETS)), points=points
            )
            np.testing.assert_allclose(found, named, rtol=0, atol=1e-12)
        assert (
            "measured slit function, as wide as a triangle of 4 nm; its centroid +" in found.attrs["history"]
        )

    def test_a_shift_belongs_to_the_wavelength_scale(self):
        measured = spectrum(smeared(bell, PICTURES["triangle"]))
        moved = self.slit(np.clip(1 - np.abs(self.OFFSETS - 0.5) / 4, 0, None))
        found = correct_bandpass(measured, shape=moved)
        np.testing.assert_allclose(found, correct_bandpass(measured, 4.0), rtol=0, atol=1e-12)
        assert "its centroid +0.5 nm is left to the wavelength scale" in found.attrs["history"]

    def test_skewness_counts_with_five_points(self):
        """A picture that rises in 2 nm and falls in 4: mirrored, it is the wrong one."""

        def picture(x):
            return np.interp(x, [-2.0, 0.0, 4.0], [0.0, 1.0, 0.0])

        centroid = 2 / 3  # of a triangle: the mean of its corners
        measured = spectrum(smeared(bell, lambda x: picture(x + centroid)))
        right, wrong = (
            np.abs(
                correct_bandpass(measured, shape=self.slit(picture(s * self.OFFSETS)), points=5) - bell(GRID)
            ).max()
            for s in (1, -1)
        )
        assert right < 0.0015
        assert wrong > 2 * right

    def test_offsets_in_another_unit(self):
        values = PICTURES["triangle"](self.OFFSETS)
        slit = self.slit(values, units="nm")
        small = slit.assign_coords(offset=("offset", self.OFFSETS / 1e3, {"units": "µm"}))
        measured = spectrum(smeared(bell, PICTURES["triangle"]))
        one, other = (correct_bandpass(measured, shape=s) for s in (slit, small))
        np.testing.assert_allclose(one, other, rtol=1e-9)

    @pytest.mark.parametrize(
        ("slit", "error", "said"),
        [
            (xr.DataArray([0.0, 1.0, 0.0], dims="offset"), GridError, "one dimension offset, with 3 values"),
            (
                xr.DataArray([0.0, 1.0, 0.0], {"offset": [0, 2, 1]}, "offset"),
                GridError,
                "finite values over ascending offsets",
            ),
            (
                xr.DataArray([0.0, 1.0, 0.2], {"offset": [-1, 0, 1]}, "offset"),
                RangeError,
                "stands at 0 and 0.2 at its ends, with a maximum of 1: measure it further out",
            ),
            (
                xr.DataArray([0.0, 0.0, 0.0], {"offset": [-1, 0, 1]}, "offset"),
                RangeError,
                "rises from nearly 0",
            ),
        ],
    )
    def test_slit_functions_that_are_none(self, slit, error, said):
        with pytest.raises(error, match=said):
            correct_bandpass(spectrum(bell(GRID)), shape=slit)

    def test_width_and_slit_function_at_once(self):
        slit = self.slit(PICTURES["triangle"](self.OFFSETS))
        with pytest.raises(RangeError, match="a measured slit function has its own width: leave out fwhm"):
            correct_bandpass(spectrum(bell(GRID)), 4.0, slit)


class TestRules:
    @pytest.mark.parametrize(("points", "said"), [(3, "1.17"), (5, "1.25")])
    def test_the_history_says_how_noise_grows(self, points, said):
        """And it does: white noise in, its standard deviation out."""
        noise = np.random.default_rng(2).normal(0, 1, (400, GRID.size))
        found = correct_bandpass(spectrum(noise), 4.0, points=points)
        assert f"(triangle, 4 nm wide) with {points} points 4 nm apart" in found.attrs["history"]
        assert found.attrs["history"].endswith(f"uncorrelated noise grows {said} times")
        assert float(found.std()) == pytest.approx(float(said), abs=0.02)

    def test_closer_neighbours_cost_more_noise(self):
        found = correct_bandpass(spectrum(bell(GRID)), 4.0, step="1 nm")
        # 1 + 2·16/12 and twice −16/12: √(3.667² + 2·1.333²)
        assert "3 points 1 nm apart; uncorrelated noise grows 4.12 times" in found.attrs["history"]

    @pytest.mark.parametrize(("points", "spoilt"), [(3, [46, 50, 54]), (5, [42, 46, 50, 54, 58])])
    def test_a_sample_that_is_not_valid_spoils_what_it_is_used_for(self, points, spoilt):
        values = bell(GRID)
        values[50] = np.nan
        found = correct_bandpass(spectrum(values), 4.0, points=points)
        assert np.flatnonzero(np.isnan(found)).tolist() == spoilt

    @pytest.mark.parametrize("order", [("draw", "wavelength"), ("wavelength", "draw")])
    def test_draws_of_the_spectrum_and_of_the_width(self, order):
        widths = xr.DataArray([3.0, 4.0, 5.0], dims="draw")
        both = spectrum(np.stack([bell(GRID, w) for w in (10, 12, 14)])).transpose(*order)
        found = correct_bandpass(both, widths, points=5, step=4.0)
        assert found.dims == order
        for k in range(3):
            alone = correct_bandpass(both.isel(draw=k), float(widths[k]), points=5, step=4.0)
            np.testing.assert_allclose(found.isel(draw=k), alone, rtol=1e-12, atol=1e-15)
        spread = correct_bandpass(spectrum(bell(GRID)), widths)
        assert spread.sizes == {"wavelength": GRID.size, "draw": 3}

    def test_a_width_that_changes_along_the_spectrum(self):
        widths = xr.DataArray(np.linspace(3, 5, GRID.size), {"wavelength": GRID}, "wavelength")
        found = correct_bandpass(spectrum(bell(GRID)), widths, step=4.0)
        for k in (70, 90):
            alone = correct_bandpass(spectrum(bell(GRID)), float(widths[k]), step=4.0)
            assert float(found[k]) == pytest.approx(float(alone[k]), rel=1e-12)
        with pytest.raises(GridError, match="up to 1e-06 nm apart"):
            correct_bandpass(spectrum(bell(GRID)), widths.assign_coords(wavelength=GRID + 1e-6))

    def test_units_and_attributes_stay(self):
        found = correct_bandpass(spectrum(bell(GRID), units="s-1", history="before"), "4 nm")
        assert found.attrs["units"] == "s-1"
        assert found.attrs["history"].startswith("before\ncorrected for the bandpass")

    @pytest.mark.parametrize(
        ("arguments", "error", "said"),
        [
            ({"fwhm": 4.0, "points": 4}, RangeError, "with 3 or 5 points, not 4"),
            (
                {"fwhm": 4.0, "shape": "square"},
                RangeError,
                'no bandpass "square"; there are triangle, gaussian, rect',
            ),
            ({"fwhm": 0.0}, RangeError, "a bandpass is wider than 0 nm, not 0.0"),
            ({}, RangeError, "a bandpass is wider than 0 nm, not unknown"),
            ({"fwhm": 4.0, "step": 0.0}, RangeError, "a step is longer than 0 nm, not 0 nm"),
            ({"fwhm": 100.0}, GridError, "3 points 100 nm apart need 201 samples, not 161"),
            ({"fwhm": "4 s"}, UnitsError, '"s" cannot be converted to "nm"'),
        ],
    )
    def test_arguments_that_are_none(self, arguments, error, said):
        with pytest.raises(error, match=said):
            correct_bandpass(spectrum(bell(GRID)), **arguments)
