"""Laws of peak, width and centre: where a line stands and how high it is makes no difference."""

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.reduction import centre_wavelength, centroid_wavelength, fwhm, peak_wavelength

POSITIONS = [peak_wavelength, centre_wavelength]
LEVELS = st.integers(0, 1000).map(float)  # steps of 1 in 1000: no slope is lost in rounding


@st.composite
def lines(draw, rows=()):
    """Any spectra of whole numbers on a grid of quarters of a nanometre, so that shifts are exact."""
    steps = draw(st.lists(st.integers(1, 40), min_size=2, max_size=25))
    grid = draw(st.integers(200, 400)) + np.concatenate(([0], np.cumsum(steps))) / 4
    values = draw(arrays(float, (*rows, grid.size), elements=LEVELS))
    return xr.DataArray(values, {"wavelength": grid}, (*"ab"[: len(rows)], "wavelength"))


def same(result, expected):
    np.testing.assert_allclose(result, expected, rtol=0, atol=1e-9)


@settings(max_examples=40)
@given(lines(), st.integers(-100, 1000))
def test_a_shift_of_the_grid_shifts_positions_and_keeps_the_width(line, shift):
    moved = line.assign_coords(wavelength=line.wavelength.values + shift)
    same(fwhm(moved), fwhm(line))
    for position in POSITIONS:
        same(position(moved), position(line) + shift)


@settings(max_examples=40)
@given(lines(), st.integers(-3, 3))
def test_a_stretch_of_the_grid_stretches_them_all(line, power):
    stretched = line.assign_coords(wavelength=line.wavelength.values * 2.0**power)
    for figure in (*POSITIONS, fwhm):
        same(figure(stretched), figure(line) * 2.0**power)


@settings(max_examples=40)
@given(lines(), st.floats(1e-30, 1e30))
def test_the_height_of_a_line_makes_no_difference(line, factor):
    # half maximum may be met or missed in the last digit where a sample stands on it
    top = float(line.max())
    assume(not (line.values == top / 2).any() and not ((line.values == top).sum() > 1))
    for figure in (*POSITIONS, fwhm):
        same(figure(line * factor), figure(line))


@settings(max_examples=40)
@given(lines())
def test_a_factor_of_two_makes_no_difference_to_the_last_digit(line):
    for figure in (*POSITIONS, fwhm):
        np.testing.assert_array_equal(figure(line * 2.0**40), figure(line))


@settings(max_examples=40)
@given(lines())
def test_the_direction_of_the_grid_makes_no_difference(line):
    for figure in (*POSITIONS, fwhm):
        np.testing.assert_array_equal(figure(line.isel(wavelength=slice(None, None, -1))), figure(line))


@settings(max_examples=40)
@given(lines())
def test_a_mirrored_line_has_mirrored_figures(line):
    assume((line == line.max()).sum() == 1)  # of two equal peaks the one at shorter wavelengths counts
    mirror = xr.DataArray(
        line.values[::-1], {"wavelength": 2000 - line.wavelength.values[::-1]}, "wavelength"
    )
    same(fwhm(mirror), fwhm(line))
    for position in POSITIONS:
        same(position(mirror), 2000 - position(line))


@settings(max_examples=40)
@given(lines(rows=(3, 2)), st.permutations(["a", "b", "wavelength"]))
def test_many_at_once_are_the_same_as_one_by_one(block, order):
    for figure in (*POSITIONS, fwhm):
        result = figure(block.transpose(*order))
        assert set(result.dims) == {"a", "b"}
        for a in range(3):
            for b in range(2):
                np.testing.assert_array_equal(result.isel(a=a, b=b), figure(block[a, b].copy()))


def test_more_than_one_block_of_spectra_is_the_same_as_one_by_one():
    grid = np.linspace(360, 400, 81)
    centre = np.linspace(370, 390, 150)[:, None]
    rows = xr.DataArray(
        np.exp(-(((grid - centre) / 4) ** 2)), {"wavelength": grid}, ("spectrum", "wavelength")
    )
    for figure in (*POSITIONS, fwhm):
        result = figure(rows)
        assert result.shape == (150,)
        np.testing.assert_array_equal(result, [float(figure(row)) for row in rows])


@settings(max_examples=40)
@given(lines())
def test_crossings_lie_on_either_side_of_the_highest_sample_within_the_grid(line):
    width, centre = float(fwhm(line)), float(centre_wavelength(line))
    assert np.isnan(width) == np.isnan(centre)
    assume(not np.isnan(width))
    grid = line.wavelength.values
    top = grid[line.values.argmax()]
    assert grid[0] <= centre - width / 2 < top < centre + width / 2 <= grid[-1]


@settings(max_examples=40)
@given(lines())
def test_the_straight_line_through_the_samples_is_at_half_maximum_at_both_crossings(line):
    width, centre = float(fwhm(line)), float(centre_wavelength(line))
    assume(not np.isnan(width))
    at = np.interp([centre - width / 2, centre + width / 2], line.wavelength.values, line.values)
    # a crossing is known to 1e-12 nm or so; the steepest line climbs 1000 in a quarter of a nanometre
    assert at == pytest.approx(float(line.max()) / 2, rel=0, abs=1e-7)


@settings(max_examples=40)
@given(lines())
def test_the_peak_stays_between_the_neighbours_of_the_highest_sample(line):
    assume(line.max() > 0)
    grid, top = line.wavelength.values, line.values.argmax()
    peak = float(peak_wavelength(line))
    assert grid[max(top - 1, 0)] <= peak <= grid[min(top + 1, grid.size - 1)]


@settings(max_examples=40)
@given(st.floats(-0.5, 0.5), st.floats(1.0, 50.0), st.floats(0.1, 10.0))
def test_the_peak_of_a_parabola_is_found_exactly(offset, height, step):
    x = 365 + step * np.arange(-2.0, 3.0)
    vertex = 365 + offset * step
    parabola = xr.DataArray(height - ((x - vertex) / step) ** 2 * 0.2, {"wavelength": x}, "wavelength")
    assert float(peak_wavelength(parabola)) == pytest.approx(vertex, rel=0, abs=1e-9 * step * height)


@settings(max_examples=40)
@given(lines(), st.integers(0, 2), st.integers(1, 10))
def test_whole_numbers_are_taken_as_they_are(line, which, factor):
    dtype = ("uint16", "int32", "float32")[which]
    for figure in (*POSITIONS, fwhm):
        np.testing.assert_array_equal(figure((line * factor).astype(dtype)), figure(line * factor))


@settings(max_examples=40)
@given(lines(rows=(2,)), st.data())
def test_a_missing_sample_leaves_the_other_spectra_alone(pair, data):
    spoilt = pair.copy(deep=True)
    spoilt[0, data.draw(st.integers(0, pair.sizes["wavelength"] - 1))] = np.nan
    for figure in (*POSITIONS, fwhm):
        result = figure(spoilt)
        assert np.isnan(result[0])
        np.testing.assert_array_equal(result[1], figure(pair)[1])


@settings(max_examples=40)
@given(lines(), st.integers(-100, 1000))
def test_the_centroid_shifts_with_the_grid(line, shift):
    assume(line.sum() > 0)
    grid = line.wavelength.values
    moved = line.assign_coords(wavelength=grid + shift)
    expected = centroid_wavelength(line, grid[0], grid[-1]) + shift
    same(centroid_wavelength(moved, grid[0] + shift, grid[-1] + shift), expected)
