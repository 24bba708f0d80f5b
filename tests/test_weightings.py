import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError
from spectralbench.weightings import PHOTONS, Curve, apply, covered, integrate, moments, weights

UNEVEN = np.array([300.0, 301.0, 304.0, 310.0, 311.5])


def array(values, wavelength, **attrs):
    return xr.DataArray(values, {"wavelength": wavelength}, "wavelength", attrs=attrs)


def test_weights_of_the_whole_grid_are_those_of_the_trapezoidal_rule():
    expected = [np.trapezoid(row, UNEVEN) for row in np.eye(5)]
    assert weights(UNEVEN).tolist() == pytest.approx(expected, rel=1e-14)
    assert weights(UNEVEN, 0.0, 1e4).tolist() == pytest.approx(expected, rel=1e-14)


def test_weights_of_a_band_inside_one_cell():
    # a straight line from y0 to y1 over 304–310 nm, integrated from 305 to 308 nm by hand:
    # its middle 306.5 nm stands at 2.5/6 of the cell, its width is 3 nm
    assert weights(UNEVEN, 305.0, 308.0).tolist() == pytest.approx([0, 0, 3 * 3.5 / 6, 3 * 2.5 / 6, 0])


def test_weights_of_a_band_over_several_cells():
    # [302, 304] of cell 301–304: middle at 2/3; [304, 310] whole; [310, 310.5] of 310–311.5: middle at 1/6
    expected = [0, 2 / 3, 2 * 2 / 3 + 3, 3 + 0.5 * 5 / 6, 0.5 / 6]
    assert weights(UNEVEN, 302.0, 310.5).tolist() == pytest.approx(expected)


def test_no_weight_outside_the_cells_of_the_band():
    result = weights(np.arange(300.0, 401.0), 320.0, 330.0)
    assert np.flatnonzero(result).tolist() == list(range(20, 31))


def test_weights_of_a_band_that_reaches_beyond_the_grid_stop_at_its_end():
    assert weights(UNEVEN, 200.0, 301.0).tolist() == pytest.approx([0.5, 0.5, 0, 0, 0])


@pytest.mark.parametrize(
    ("low", "high", "message"),
    [
        (400.0, 315.0, "a band runs from a shorter to a longer wavelength, not 400 to 315 nm"),
        (315.0, 315.0, "a band runs from a shorter to a longer wavelength, not 315 to 315 nm"),
        (np.nan, 315.0, "a band runs from a shorter to a longer wavelength, not nan to 315 nm"),
        (400.0, 450.0, "the band 400–450 nm lies outside the spectrum, which covers 300–311.5 nm"),
        (200.0, 300.0, "the band 200–300 nm lies outside the spectrum, which covers 300–311.5 nm"),
    ],
)
def test_a_band_that_makes_no_sense_is_refused(low, high, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        weights(UNEVEN, low, high)


@pytest.mark.parametrize("grid", [[], [300.0]])
def test_a_grid_too_short_for_a_band_is_refused(grid):
    message = f"a band needs a spectrum of at least 2 wavelengths, not {len(grid)}"
    with pytest.raises(GridError, match=message):
        weights(np.array(grid), 200.0, 400.0)


def test_a_curve_finer_than_the_spectrum_is_seen_in_full():
    # a triangle of half-base 1 nm inside one cell of 10 nm: its area is 1 nm whatever its place
    grid = np.array([300.0, 310.0])
    triangle = Curve(np.array([303.0, 304.0, 305.0]), np.array([0.0, 1.0, 0.0]))
    assert weights(grid, curve=triangle).sum() == pytest.approx(1.0, rel=1e-14)


def test_a_band_cuts_the_straight_lines_through_the_products_at_the_points_of_both():
    curve = Curve(np.array([299.0, 302.5, 310.7]), np.array([2.0, 5.0, 1.0]))
    nodes = np.unique(np.concatenate([UNEVEN, curve.wavelength]))
    nodes = nodes[(nodes >= 300) & (nodes <= 310.7)]
    points = np.append(300.5, nodes[nodes > 300.5])
    weighting = np.interp(nodes, curve.wavelength, curve.values)
    products = [np.interp(nodes, UNEVEN, row) * weighting for row in np.eye(5)]
    expected = [np.trapezoid(np.interp(points, nodes, product), points) for product in products]
    assert weights(UNEVEN, 300.5, 400.0, curve).tolist() == pytest.approx(expected, rel=1e-13)


def test_a_curve_that_does_not_meet_the_spectrum_is_refused():
    """Zero would be a statement about light that was never measured."""
    with pytest.raises(RangeError, match="the weighting covers 500–600 nm, and nothing of that lies in"):
        weights(UNEVEN, curve=Curve(np.array([500.0, 600.0]), np.array([1.0, 1.0])))


def test_a_curve_is_straight_between_points_and_zero_outside():
    curve = Curve(np.array([300.0, 310.0]), np.array([1.0, 3.0]))
    assert curve([299.9, 300.0, 305.0, 310.0, 310.1]).tolist() == [0.0, 1.0, 2.0, 3.0, 0.0]


def test_a_logarithmic_curve_is_straight_in_its_logarithm():
    curve = Curve(np.array([300.0, 310.0]), np.array([1.0, 1e-2]), logarithmic=True)
    assert curve([299.9, 300.0, 305.0, 310.0, 310.1]).tolist() == pytest.approx([0, 1.0, 0.1, 1e-2, 0])


def test_a_logarithmic_curve_is_straight_beside_a_zero():
    grid, values = np.array([300.0, 310.0, 320.0, 330.0]), np.array([1.0, 1e-2, 0.0, 4.0])
    curve = Curve(grid, values, logarithmic=True)
    assert curve([305.0, 310.0, 315.0, 320.0, 325.0, 330.0]).tolist() == pytest.approx(
        [0.1, 1e-2, 5e-3, 0.0, 2.0, 4.0]
    )


def test_a_curve_is_taken_from_an_array_in_any_order_and_unit_of_length():
    given = xr.DataArray(
        [3.0, 1.0],
        {"wavelength": ("wavelength", [0.4, 0.3], {"units": "µm"})},
        "wavelength",
        attrs={"interpolation": "logarithmic"},
    )
    curve = Curve.of(given)
    assert curve.wavelength.tolist() == pytest.approx([300.0, 400.0])
    assert curve.values.tolist() == [1.0, 3.0]
    assert curve.logarithmic


def test_a_curve_with_a_gap_is_refused():
    with pytest.raises(GridError, match="a weighting has only finite values; fill or cut its gaps first"):
        Curve.of(array([1.0, np.nan], [300.0, 310.0]))


def test_a_curve_with_another_dimension_is_refused():
    message = "a weighting has the one dimension wavelength, not ('draw', 'wavelength')"
    with pytest.raises(GridError, match=re.escape(message)):
        Curve.of(array([1.0, 2.0], [300.0, 310.0]).expand_dims(draw=2))


def test_a_disordered_curve_is_refused_as_a_weighting():
    with pytest.raises(
        GridError, match="weighting has wavelengths out of order: 310 nm is followed by 310 nm"
    ):
        Curve.of(array([1.0, 2.0], [310.0, 310.0]))


def test_an_unknown_rule_of_interpolation_is_refused():
    with pytest.raises(RangeError, match='linear or logarithmic, not "log"'):
        Curve.of(array([1.0, 2.0], [300.0, 310.0], interpolation="log"))


def test_photon_counting_runs_straight_through_zero():
    at = np.array([254.0, 365.0, 1064.0])
    assert (PHOTONS(at) / at).tolist() == pytest.approx([float(PHOTONS(1.0))] * 3, rel=1e-12)


def test_moments_are_those_of_the_trapezoidal_rule_with_the_limits_as_points():
    points = np.array([302.0, 304.0, 310.0, 310.5])
    rows = [np.interp(points, UNEVEN, row) for row in np.eye(5)]
    expected = [[np.trapezoid(row, points), np.trapezoid(row * points, points)] for row in rows]
    np.testing.assert_allclose(moments(UNEVEN, 302.0, 310.5), expected, rtol=1e-13)


@pytest.mark.parametrize("dtype", ["float64", "float32", "uint16", "int64"])
@pytest.mark.parametrize("shape", [(5,), (3, 5), (2, 3, 5), (0, 5)])
def test_apply_is_a_weighted_sum_along_the_last_axis(dtype, shape):
    spectra = (np.arange(np.prod(shape)) % 7).reshape(shape).astype(dtype)
    vector = np.array([0.0, 1.5, 2.5, 0.5, 0.0])
    expected = (spectra.astype(float) * vector).sum(axis=-1)
    result = apply(spectra, vector)
    assert result.shape == shape[:-1]
    assert result.dtype == np.float64
    np.testing.assert_allclose(result, expected, rtol=1e-14)


def test_apply_with_several_weightings_is_each_of_them():
    spectra = np.arange(12.0).reshape(2, 6)
    matrix = np.array([[0, 0], [1, 0], [2, 0], [1, 3], [0, 0], [0, 1.0]])
    result = apply(spectra, matrix)
    assert result.shape == (2, 2)
    for k in range(2):
        np.testing.assert_allclose(result[:, k], apply(spectra, matrix[:, k]), rtol=1e-14)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_bad_sample_between_two_bands_harms_neither(bad):
    vector = np.array([1.0, 1.0, 0.0, 1.0, 1.0])
    assert apply(np.array([[1.0, 2.0, bad, 3.0, 4.0]]), vector).tolist() == [10.0]
    assert apply(np.array([1.0, 2.0, bad, 3.0, 4.0]), vector) == 10.0


def test_a_bad_sample_harms_only_its_own_row_and_weighting():
    spectra = np.array([[1.0, np.nan, 1.0], [1.0, 1.0, 1.0]])
    matrix = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    np.testing.assert_array_equal(apply(spectra, matrix), [[np.nan, 1.0], [2.0, 1.0]])


def test_apply_with_no_weight_at_all_is_zero():
    assert apply(np.array([[np.nan, 1.0]]), np.zeros(2)).tolist() == [0.0]
    assert apply(np.array([[np.nan, 1.0]]), np.zeros((2, 3))).tolist() == [[0.0, 0.0, 0.0]]


@pytest.mark.parametrize("order", [("draw", "source", "wavelength"), ("wavelength", "draw", "source")])
def test_integrate_keeps_the_other_dimensions_and_their_coordinates(order):
    spectra = xr.DataArray(
        np.arange(30.0).reshape(2, 3, 5),
        {"wavelength": UNEVEN, "source": ["a", "b", "c"], "pixel": ("wavelength", range(5)), "hours": 12.0},
        ("draw", "source", "wavelength"),
    ).transpose(*order)
    result = integrate(spectra, weights(UNEVEN))
    expected = np.trapezoid(np.arange(30.0).reshape(2, 3, 5), UNEVEN)
    assert result.dims == ("draw", "source")
    assert set(result.coords) == {"source", "hours"}
    np.testing.assert_allclose(result, expected, rtol=1e-14)


def test_integrate_with_several_weightings_puts_them_first():
    spectra = xr.DataArray(np.ones((2, 5)), {"wavelength": UNEVEN}, ("draw", "wavelength"))
    pair = np.stack([weights(UNEVEN), 2 * weights(UNEVEN)], axis=1)
    result = integrate(spectra, pair)
    assert result.dims == ("weighting", "draw")
    np.testing.assert_allclose(result, [[11.5, 11.5], [23.0, 23.0]])


def test_covered_says_which_part_was_measured():
    grid = np.array([380.0, 780.0])
    assert covered(grid, 400.0, 500.0) == ""
    assert covered(grid, 380.0, 780.0) == ""
    assert covered(grid, 315.0, 400.0) == "measured only over 380–400 nm of the band 315–400 nm"
    assert covered(grid, 700.0, 900.0) == "measured only over 700–780 nm of the band 700–900 nm"


def test_covered_says_that_nothing_was_measured():
    assert covered(np.array([500.0, 800.0]), 250.0, 400.0) == "nothing was measured of the band 250–400 nm"


def test_covered_is_silent_where_the_rounding_of_a_unit_moved_the_end():
    assert covered(np.array([300.00000000000006, 700.0]), 300.0, 700.0) == ""
