"""Draws: distributions, correlation along the wavelength, intervals."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench import draw, summarize
from spectralbench.draws import DISTRIBUTIONS
from spectralbench.errors import GridError, RangeError, UnitsError

MANY = 200_000
GRID = np.array([300.0, 305.0, 325.0, 405.0])


def spectrum(values, grid=GRID):
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


FOURTH_MOMENTS = {"normal": 3.0, "rectangular": 9 / 5, "triangular": 12 / 5, "arcsine": 3 / 2}  # closed forms


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_every_distribution_has_its_moments(distribution):
    found = draw(2.0, 0.5, distribution, draws=MANY, seed=1)
    deviates = (found - 2.0) / 0.5
    assert float(deviates.mean()) == pytest.approx(0, abs=0.01)
    assert float((deviates**2).mean()) == pytest.approx(1, rel=0.02)
    assert float((deviates**4).mean()) == pytest.approx(FOURTH_MOMENTS[distribution], rel=0.03)


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_a_length_keeps_the_distribution_and_gives_the_correlation(distribution):
    found = draw(spectrum([1.0, 2.0, 3.0, 4.0]), 0.1, distribution, draws=MANY, seed=2, correlation="20 nm")
    deviates = (found.values - [1.0, 2.0, 3.0, 4.0]) / 0.1
    assert (deviates**4).mean(axis=0) == pytest.approx([FOURTH_MOMENTS[distribution]] * 4, rel=0.03)
    expected = np.exp(-np.abs(GRID[:, None] - GRID) / 20)
    tolerance = 0.01 if distribution == "normal" else 0.05  # the others are carried over nearly
    assert np.corrcoef(deviates.T) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize(("correlation", "expected"), [("none", np.eye(4)), ("full", np.ones((4, 4)))])
def test_errors_stand_alone_or_together(correlation, expected):
    found = draw(spectrum([1.0, 2.0, 3.0, 4.0]), 0.1, draws=MANY, seed=3, correlation=correlation)
    assert np.corrcoef(found.values.T) == pytest.approx(expected, abs=0.01)


def test_a_full_correlation_leaves_other_dimensions_alone():
    two = xr.concat([spectrum([1.0] * 4), spectrum([1.0] * 4)], "source")
    found = draw(two, 0.1, draws=10_000, seed=4, correlation="full")
    assert found.dims == ("draw", "source", "wavelength")
    assert (found.isel(wavelength=0) == found.isel(wavelength=3)).all()
    assert abs(np.corrcoef(found.isel(wavelength=0).values.T)[0, 1]) < 0.05


def test_the_same_seed_gives_the_same_bits_and_attributes_stay():
    one, again = (draw(spectrum([1.0, 2, 3, 4]), 0.1, draws=50, seed=5, correlation=10.0) for _ in "ab")
    assert one.identical(again)
    assert one.units == "W m-2 nm-1"
    assert not one.equals(draw(spectrum([1.0, 2, 3, 4]), 0.1, draws=50, seed=6, correlation=10.0))


def test_an_uncertainty_may_differ_from_point_to_point():
    found = draw(spectrum([1.0] * 4), spectrum([0.1, 0.2, 0.3, 0.4]), draws=MANY, seed=7)
    assert found.std("draw").values == pytest.approx([0.1, 0.2, 0.3, 0.4], rel=0.02)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"distribution": "bell"}, 'normal, rectangular, triangular, arcsine; not "bell"'),
        ({"draws": 0}, "at least 1 draw is needed, not 0"),
        ({"standard_uncertainty": -0.1}, "a standard uncertainty is not negative; this one is -0.1"),
        ({"correlation": "half"}, 'a correlation is "none", "full" or a length such as "20 nm", not "half"'),
        ({"draws": 10.5}, r"draw\(\): draws is a whole number, not 10.5"),
        ({"seed": -1}, 'a seed is a whole number of 0 or more, or several; not "-1"'),
        ({"seed": "one"}, 'a seed is a whole number of 0 or more, or several; not "one"'),
        ({"correlation": 0.0}, "a correlation length is above 0 nm, not 0 nm"),
    ],
)
def test_what_cannot_be_drawn_is_refused(arguments, said):
    with pytest.raises(RangeError, match=said):
        draw(**{"value": spectrum([1.0] * 4), "standard_uncertainty": 0.1, "draws": 5, **arguments})


def test_a_length_needs_wavelengths_and_grids_have_to_fit():
    with pytest.raises(RangeError, match="a correlation over 20 nm needs values along wavelength"):
        draw(1.0, 0.1, correlation=20.0)
    with pytest.raises(GridError, match="not one grid"):
        draw(spectrum([1.0] * 4), spectrum([0.1] * 4, GRID + 1e-6), draws=5)


def test_draws_are_not_drawn_again():
    """It would be a square of draws, and fill the memory."""
    drawn = draw(spectrum([1.0] * 4), 0.1, draws=5)
    with pytest.raises(RangeError, match="has draws already: draw an error of 0 and add it"):
        draw(drawn, 0.1)


def test_the_interval_ends_at_the_draws_that_the_guide_names():
    """JCGM 101:2008, 7.7: q = pM, r = (M - q) / 2 or the integer part of (M - q + 1) / 2."""
    sorted_draws = np.arange(1.0, 1001.0)  # the draw in place r has the value r
    shuffled = xr.DataArray(np.random.default_rng(8).permutation(sorted_draws), dims="draw")
    said = summarize(shuffled)
    assert (float(said.low), float(said.high)) == (25.0, 975.0)
    said = summarize(shuffled, 0.9)
    assert (float(said.low), float(said.high)) == (50.0, 950.0)
    odd = summarize(xr.DataArray(sorted_draws[:101], dims="draw"))
    assert (float(odd.low), float(odd.high)) == (3.0, 99.0)  # q = 96, r = 3


def test_what_is_not_known_stays_unknown_and_what_is_infinite_stays_so():
    x = xr.DataArray(np.ones((100, 3)), dims=("draw", "source"), attrs={"units": "s"})
    x[5, 1], x[7, 2] = np.nan, np.inf
    said = summarize(x)
    assert said.value.values[0] == 1
    assert np.isnan([said[name].values[1] for name in said]).all()
    assert (said.value.values[2], said.low.values[2], said.high.values[2]) == (np.inf, 1, 1)
    assert said.standard_uncertainty.values[2] == np.inf
    assert {said[name].units for name in said} == {"s"}


@pytest.mark.parametrize(
    ("x", "coverage", "said"),
    [
        (xr.DataArray([1.0], dims="source"), 0.95, "ask for draws, as in draws=1000"),
        (xr.DataArray([1.0] * 100, dims="draw"), 95.0, "a coverage lies between 0 and 1, not at 95"),
        (xr.DataArray([1.0] * 9, dims="draw"), 0.95, "an interval of 0.95 takes at least 20 draws, not 9"),
    ],
)
def test_what_cannot_be_summarized_is_refused(x, coverage, said):
    with pytest.raises(RangeError, match=said):
        summarize(x, coverage)


def in_units(value, units):
    return xr.DataArray(value, attrs={"units": units})


@pytest.mark.parametrize(
    ("value", "uncertainty", "units", "mean", "deviation"),
    [
        ("12 mm", "300 um", "mm", 12.0, 0.3),
        (in_units(12.0, "mm"), in_units(300, "µm"), "mm", 12.0, 0.3),
        (in_units(12, "mm"), 0.3, "mm", 12.0, 0.3),
        ("12 mm", 0.3, "mm", 12.0, 0.3),
        ("-12 mm", "2 %", "mm", -12.0, 0.24),  # relative
        ("0.5", "2 %", "1", 0.5, 0.01),  # relative, as "0.5 ± 2 %" is
        ("50 %", "2 %", "%", 50.0, 2.0),  # of one kind
        ("50 %", "0.02", "%", 50.0, 2.0),
        ("25 °C", "2 K", "°C", 25.0, 2.0),  # a difference, not a temperature
        ("25 °C", "2 °C", "°C", 25.0, 2.0),
        ("25 °C", "2 delta_degC", "°C", 25.0, 2.0),
        ("25 °C", "9 °F", "°C", 25.0, 5.0),  # nine degrees Fahrenheit are five kelvins
        ("300 K", "1 %", "K", 300.0, 3.0),
    ],
)
def test_an_uncertainty_comes_in_the_unit_of_its_value(value, uncertainty, units, mean, deviation):
    found = draw(value, uncertainty, draws=1e3, seed=9)
    plain = draw(mean, deviation, draws=1000, seed=9)
    np.testing.assert_allclose(found.values, plain.values, rtol=1e-9)
    assert found.attrs == {"units": units}
    assert summarize(found).value.units == units


def test_per_cent_of_a_spectrum_is_relative_point_by_point():
    found = draw(spectrum([1.0, 2, 0, 4]), "2 %", draws=MANY, seed=10)
    assert found.std("draw").values == pytest.approx([0.02, 0.04, 0, 0.08], rel=0.02)
    assert found.units == "W m-2 nm-1"


@pytest.mark.parametrize("values", [np.array([1, 2, 3, 4]), np.array([1, 2, 3, 4], dtype="f4")])
def test_draws_of_whole_numbers_and_single_precision_are_those_of_the_same_values(values):
    found = draw(spectrum(values), 0.1, draws=5, seed=11)
    assert found.identical(draw(spectrum([1.0, 2, 3, 4]), 0.1, draws=5, seed=11))


@pytest.mark.parametrize(
    ("value", "uncertainty", "said"),
    [
        (
            "12 mm",
            "3 s",
            'the value is in "mm" and its standard uncertainty is in "s": state both in units of',
        ),
        (12.0, "3 mm", 'the value has no unit and its standard uncertainty is in "mm"'),
        ("25 °C", "2 %", "per cent of a temperature on a scale says nothing; give the uncertainty in K"),
        ("12 florins", "2 %", r'draw\(\): value: "florins" is not a unit of measurement'),
    ],
)
def test_an_uncertainty_of_another_kind_is_refused(value, uncertainty, said):
    with pytest.raises(UnitsError, match=said):
        draw(value, uncertainty)


def test_a_coverage_may_be_in_per_cent():
    drawn = draw("12 mm", "300 um", seed=1)
    assert summarize(drawn, "95 %").identical(summarize(drawn, 0.95))
    with pytest.raises(GridError, match=r"summarize\(\): x is .*take one of its variables: a"):
        summarize(xr.Dataset({"a": drawn}))
    with pytest.raises(RangeError, match="there is no dimension draw"):
        summarize(1.0)
