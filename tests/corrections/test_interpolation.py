"""From grid to grid: NumPy, SciPy and colour-science are the judges of the rules."""

from __future__ import annotations

import colour
import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.interpolate import CubicSpline

from spectralbench.corrections import interpolate
from spectralbench.errors import GridError, RangeError

GRID = np.arange(300.0, 361.0, 5.0)
AT = np.linspace(300.0, 360.0, 97)
RULES = ["linear", "logarithmic", "cubic", "sprague"]
VALUES = np.array([0.1, 0.4, 0.2, 1.0, 3.0, 9.0, 20.0, 18.0, 7.0, 2.0, 1.5, 0.7, 0.8])  # invented


def spectrum(values, grid=GRID, **attrs):
    values = np.asarray(values, float)
    return xr.DataArray(values, {"wavelength": grid}, ("draw", "wavelength")[-values.ndim :], attrs=attrs)


JUDGES = {
    "linear": lambda at: np.interp(at, GRID, VALUES),
    "logarithmic": lambda at: np.exp(np.interp(at, GRID, np.log(VALUES))),
    "cubic": CubicSpline(GRID, VALUES, bc_type="not-a-knot"),
    "sprague": colour.SpragueInterpolator(GRID, VALUES),
}


@pytest.mark.parametrize("rule", RULES)
def test_each_rule_agrees_with_its_judge(rule):
    found = interpolate(spectrum(VALUES, units="W m-2 nm-1"), AT, rule)
    np.testing.assert_allclose(found, JUDGES[rule](AT), rtol=1e-12, atol=1e-13)
    assert found.attrs["units"] == "W m-2 nm-1"
    assert f"interpolated from 13 samples to 97 at 300–360 nm by the rule {rule} (" in found.attrs["history"]
    assert found.wavelength.attrs["units"] == "nm"


def test_sprague_agrees_with_published_values():
    """The example in the documentation of colour-science 0.4.7, SpragueInterpolator."""
    values = [5.9200, 9.3700, 10.8135, 4.5100, 69.5900, 27.8007, 86.0500]
    found = interpolate(spectrum(values, np.arange(7.0)), [0.25, 0.5, 0.75], "sprague")
    assert found.values == pytest.approx([6.7295161, 7.2185025, 7.8140625], abs=1e-7)


@given(
    arrays(float, GRID.size, elements=st.floats(-1e6, 1e6)),
    st.sampled_from(RULES),
    st.sets(st.integers(0, GRID.size - 1), min_size=1),
)
@settings(max_examples=40)
def test_every_rule_runs_through_its_samples(values, rule, chosen):
    at = sorted(chosen)
    assert interpolate(spectrum(values), GRID[at], rule).values.tolist() == values[at].tolist()


@given(st.floats(-5, 5), st.floats(-0.05, 0.05), st.lists(st.floats(300, 360), min_size=1, unique=True))
@settings(max_examples=40)
def test_what_each_rule_takes_the_spectrum_for(level, slope, at):
    at = np.sort(at)
    straight, falling, cubic = (
        (lambda x: level + slope * x),
        (lambda x: np.exp(level + slope * x)),
        (lambda x: level + slope * x**3),
    )
    for rule, shape in (("linear", straight), ("logarithmic", falling), ("cubic", cubic), ("sprague", cubic)):
        if rule == "sprague":  # its samples beyond the ends are no cubic's
            at = np.clip(at, 310, 350) if at.size == 1 else np.array([310.0, 333.3, 350.0])
        found = interpolate(spectrum(shape(GRID - 330)), at, rule)
        np.testing.assert_allclose(found, shape(at - 330), rtol=1e-9, atol=1e-9)


def test_logarithms_only_of_what_has_one():
    found = interpolate(spectrum([1.0, 0.0, -1.0, 100.0], GRID[:4]), [302.5, 307.5, 312.5], "logarithmic")
    assert found.values.tolist() == [0.5, -0.5, 49.5]


@pytest.mark.parametrize(
    ("rule", "spoilt"),
    # between samples 5 and 7, that is between 325 and 335 nm; two samples more for six points
    [("linear", (325, 335)), ("logarithmic", (325, 335)), ("cubic", (325, 335)), ("sprague", (315, 345))],
)
def test_a_sample_that_is_not_valid_spoils_its_neighbourhood(rule, spoilt):
    values = VALUES.copy()
    values[6] = np.nan
    found = interpolate(spectrum(np.stack([VALUES, values])), AT, rule)
    between = (spoilt[0] < AT) & (spoilt[1] > AT)
    assert not found[0].isnull().any()
    at_a_sample = np.isin(AT, GRID) & (AT != 330)
    np.testing.assert_array_equal(np.isnan(found[1]), between & ~at_a_sample)


def test_a_stretch_too_short_for_a_spline():
    values = VALUES.copy()
    values[3] = np.nan
    found = interpolate(spectrum(values), [302.0, 305.0, 322.0], "cubic")
    assert np.isnan(found.values).tolist() == [True, False, False]
    alone = CubicSpline(GRID[4:], VALUES[4:])(322.0)
    assert float(found[2]) == pytest.approx(float(alone), rel=1e-12)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("order", [("draw", "wavelength"), ("wavelength", "draw")])
def test_draws_pass_one_by_one(rule, order):
    two = spectrum(np.stack([VALUES, VALUES[::-1]])).transpose(*order).assign_coords(place="bench")
    found = interpolate(two, AT, rule)
    assert found.dims == order
    assert found.place == "bench"
    for k in range(2):
        np.testing.assert_allclose(found.isel(draw=k), interpolate(two.isel(draw=k), AT, rule), rtol=1e-12)


def test_grids_in_other_units_and_orders():
    wanted = xr.DataArray(AT / 1e3, dims="point", attrs={"units": "µm"})
    down = spectrum(VALUES)[::-1]
    np.testing.assert_allclose(interpolate(down, wanted), JUDGES["linear"](AT), rtol=1e-12)


@pytest.mark.parametrize(
    ("arguments", "error", "said"),
    [
        (
            (spectrum(VALUES), [299.0, 310.0]),
            RangeError,
            "covers 300–360 nm, not 299–310 nm: nothing is extrap",
        ),
        ((spectrum(VALUES), [310.0, 360.1]), RangeError, "covers 300–360 nm, not 310–360.1 nm"),
        (
            (spectrum(VALUES), AT, "spline"),
            RangeError,
            'no rule "spline"; there are linear, logarithmic, cubic, sp',
        ),
        ((spectrum(VALUES), [320.0, 310.0]), GridError, "finite and ascending, one or more"),
        ((spectrum(VALUES), []), GridError, "finite and ascending, one or more"),
        ((spectrum(VALUES), [np.nan]), GridError, "finite and ascending, one or more"),
        (
            (spectrum(VALUES[:3], GRID[:3]), [301.0], "cubic"),
            GridError,
            "rule cubic needs 4 samples or more; there",
        ),
        ((spectrum(VALUES[:5], GRID[:5]), [301.0], "sprague"), GridError, "sprague needs 6 samples or more"),
        (
            (spectrum(VALUES, GRID + 0.01 * np.arange(13) ** 2), [310.0], "sprague"),
            GridError,
            "needs an even grid; the steps run from 5.01 to 5.23 nm. Use the rule cubic",
        ),
        ((xr.DataArray(1.0), [310.0]), GridError, r"a dimension wavelength; there is \(\)"),
    ],
)
def test_what_cannot_be_interpolated(arguments, error, said):
    with pytest.raises(error, match=said):
        interpolate(*arguments)
