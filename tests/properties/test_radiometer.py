"""Laws of spectral mismatch, for any head and any sources."""

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.radiometer import (
    mismatch_factor,
    out_of_band_share,
    reconcile,
    spectral_match_index,
)

CLOSE = 1e-10
BAND = (330.0, 420.0)


@st.composite
def curves(draw, rows=(), low=0.01):
    """A curve that covers 320–430 nm on a grid of its own, above zero."""
    inner = draw(st.lists(st.floats(320.5, 429.5), max_size=12, unique=True))
    grid = np.array(sorted([draw(st.floats(300, 320)), *inner, draw(st.floats(430, 450))]))
    assume(np.diff(grid).min() > 1e-3)
    values = draw(arrays(float, (*rows, grid.size), elements=st.floats(low, 100.0)))
    return xr.DataArray(values, {"wavelength": grid}, (*("draw", "source")[: len(rows)], "wavelength"))


targets = st.one_of(st.none(), st.just(BAND), curves())
scales = st.floats(1e-6, 1e6)


@settings(max_examples=30)
@given(curves(), curves(), targets)
def test_the_source_of_the_calibration_needs_no_correction(response, source, target):
    factor = mismatch_factor(response, source, source, target)
    assert float(factor) == pytest.approx(1.0, rel=CLOSE)


@settings(max_examples=30)
@given(curves(), curves(), curves(), targets, *[scales] * 4)
def test_scales_cancel(response, calibration, measured, target, a, b, c, d):
    scaled = target * d if isinstance(target, xr.DataArray) else target
    found = mismatch_factor(a * response, b * calibration, c * measured, scaled)
    expected = mismatch_factor(response, calibration, measured, target)
    assert float(found) == pytest.approx(float(expected), rel=CLOSE)


@settings(max_examples=30)
@given(curves(), curves(), curves(), curves(), targets)
def test_corrections_follow_on_one_another(response, one, two, three, target):
    steps = mismatch_factor(response, one, two, target) * mismatch_factor(response, two, three, target)
    at_once = mismatch_factor(response, one, three, target)
    assert float(steps) == pytest.approx(float(at_once), rel=CLOSE)


@settings(max_examples=30)
@given(curves(), curves(), curves(), targets)
def test_there_and_back(response, one, two, target):
    back = mismatch_factor(response, two, one, target)
    assert float(mismatch_factor(response, one, two, target)) == pytest.approx(1 / float(back), rel=CLOSE)


@settings(max_examples=30)
@given(curves(), curves(), curves(), scales)
def test_a_head_that_weighs_like_its_target_is_always_right(response, one, two, scale):
    factor = mismatch_factor(response, one, two, scale * response)
    assert float(factor) == pytest.approx(1.0, rel=CLOSE)


@settings(max_examples=10)
@given(curves(rows=(3,)), curves(rows=(3, 2)), curves(rows=(3,)), targets)
def test_draws_and_sources_broadcast(response, calibration, measured, target):
    together = mismatch_factor(response, calibration, measured, target)
    assert dict(together.sizes) == {"draw": 3, "source": 2}
    for i in range(3):
        for k in range(2):
            alone = mismatch_factor(response[i], calibration[i, k], measured[i], target)
            found = float(together.isel(draw=i, source=k))
            assert found == pytest.approx(float(alone), rel=CLOSE)


@settings(max_examples=30)
@given(curves(rows=(2,)), curves(), st.data())
def test_a_spoilt_sample_harms_its_own_spectrum_alone(measured, response, data):
    spoilt = measured.copy(deep=True)
    spoilt[0, data.draw(st.integers(0, measured.sizes["wavelength"] - 1))] = np.nan
    before = mismatch_factor(response, measured[1].copy(), measured)
    after = mismatch_factor(response, measured[1].copy(), spoilt)
    assert np.isnan(after[0])
    assert float(after[1]) == float(before[1])


@settings(max_examples=30)
@given(curves(), curves(), scales)
def test_the_index_is_0_for_what_is_proportional_to_the_target(response, calibration, scale):
    index = spectral_match_index(scale * response, calibration, response)
    assert float(index) == pytest.approx(0.0, abs=CLOSE)


@settings(max_examples=30)
@given(curves(), curves(), st.data())
def test_the_index_is_above_0_for_all_else(response, calibration, data):
    changed = response.copy(deep=True)
    changed[data.draw(st.integers(0, response.sizes["wavelength"] - 1))] *= 1.5
    assert float(spectral_match_index(changed, calibration, response)) > 1e-12


@settings(max_examples=30)
@given(curves(), curves(), st.one_of(st.just(BAND), curves()), scales, scales)
def test_the_index_knows_no_scales(response, calibration, target, a, b):
    found = spectral_match_index(a * response, b * calibration, target)
    assert float(found) == pytest.approx(float(spectral_match_index(response, calibration, target)), rel=1e-8)


@settings(max_examples=30)
@given(curves(), curves(), st.lists(st.floats(325, 425), min_size=2, max_size=2, unique=True).map(sorted))
def test_shares_inside_and_outside_add_up(response, spectrum, limits):
    assume(limits[1] - limits[0] > 1e-6)
    low, high = limits
    outside = float(out_of_band_share(response, spectrum, low, high))
    below = float(out_of_band_share(response, spectrum, low, 1e4))
    above = float(out_of_band_share(response, spectrum, 1.0, high))
    assert 0 <= outside <= 1 + CLOSE
    assert outside == pytest.approx(below + above, abs=CLOSE)


@settings(max_examples=30)
@given(st.floats(1, 1e4), st.floats(1, 1e4), st.floats(0.01, 100), st.floats(0, 100))
def test_agreement_has_no_side(one, other, u, v):
    there, back = reconcile(one, other, u, v), reconcile(other, one, v, u)
    assert float(there.normalised_error) == pytest.approx(-float(back.normalised_error), rel=CLOSE)
    assert bool(there.agree) == bool(back.agree) == (abs(one - other) <= 2 * np.hypot(u, v))


@settings(max_examples=30)
@given(st.floats(1, 1e4), st.floats(0.5, 2), st.integers(0, 2**32 - 1))
def test_an_error_that_both_share_does_not_count(irradiance, ratio, seed):
    random = np.random.default_rng(seed)
    shared, own = (xr.DataArray(1 + 0.05 * random.standard_normal(400), dims="draw") for _ in range(2))
    said = reconcile(irradiance * ratio * shared * (1 + 0.01 * (own - 1)), irradiance * shared)
    assert float(said.ratio_high - said.ratio_low) < 0.01 * ratio  # not 4 · √2 · 0.05
