"""Laws of draws and of what they amount to, for any values."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench import band_irradiance, draw, summarize
from spectralbench.draws import DISTRIBUTIONS, noise
from spectralbench.errors import RangeError

finite = st.floats(-1e6, 1e6)
sizes = st.floats(1e-3, 1e3)
seeds = st.integers(0, 2**32)
distributions = st.sampled_from(sorted(DISTRIBUTIONS))
correlations = st.sampled_from(["none", "full", "20 nm", 3.0])
REACH = {"rectangular": np.sqrt(3), "triangular": np.sqrt(6), "arcsine": np.sqrt(2)}  # closed forms


@st.composite
def spectra(draw, low=0.0):
    """A spectrum on a grid of its own."""
    grid = np.cumsum(draw(arrays(float, st.integers(2, 12), elements=st.floats(0.1, 20)))) + 300
    values = draw(arrays(float, grid.size, elements=st.floats(low, 100)))
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


def along_draws(values):
    return xr.DataArray(np.asarray(values, float), dims="draw")


samples = arrays(float, st.integers(20, 80), elements=finite).map(along_draws)


@settings(max_examples=60)
@given(spectra(), sizes, distributions, correlations, seeds)
def test_an_error_is_as_large_as_its_uncertainty(light, size, distribution, correlation, seed):
    """The same deviates, whatever their size; and none beyond the end of its distribution."""
    options = {"distribution": distribution, "draws": 40, "seed": seed, "correlation": correlation}
    one, many = (draw(xr.zeros_like(light), u, **options) for u in (1.0, size))
    np.testing.assert_allclose(many, one * size, rtol=1e-12)
    around = draw(light, size, **options)
    np.testing.assert_allclose(around - light, many, rtol=0, atol=1e-9 * (1 + size))
    assert around.dims == ("draw", "wavelength")
    assert around.attrs == light.attrs
    if distribution in REACH:
        assert float(abs(one).max()) <= REACH[distribution] * (1 + 1e-12)
    if correlation == "full":
        assert (one == one.isel(wavelength=0)).all()


@settings(max_examples=30)
@given(spectra(), correlations, distributions, seeds)
def test_no_uncertainty_no_error(light, correlation, distribution, seed):
    found = draw(light, 0.0, distribution, draws=5, seed=seed, correlation=correlation)
    assert (found == light).all()


@settings(max_examples=30)
@given(spectra(0.1), sizes, correlations, seeds)
def test_what_is_linear_may_be_done_before_or_after(light, size, correlation, seed):
    """A band of the mean is the mean of the bands, and each draw goes its own way."""
    grid = light.wavelength.values
    drawn = draw(light, size, draws=30, seed=seed, correlation=correlation)
    bands = band_irradiance(drawn, grid[0], grid[-1])
    scale = float(abs(drawn).max()) * (grid[-1] - grid[0])
    before = band_irradiance(drawn.mean("draw", keep_attrs=True), grid[0], grid[-1])
    assert float(summarize(bands).value) == pytest.approx(float(before), abs=1e-12 * scale)
    for i in (0, 29):
        alone = band_irradiance(drawn.isel(draw=i), grid[0], grid[-1])
        assert float(bands[i]) == pytest.approx(float(alone), abs=1e-12 * scale)


@settings(max_examples=60)
@given(samples, finite, st.floats(0.01, 100), st.booleans())
def test_a_summary_follows_shift_and_scale(x, shift, scale, turned):
    scale = -scale if turned else scale
    found, said = summarize(x * scale + shift, 0.9), summarize(x, 0.9)
    close = 1e-9 * (1 + abs(shift) + abs(scale) * float(abs(x).max()))
    assert float(found.value) == pytest.approx(float(said.value) * scale + shift, abs=close)
    u = float(said.standard_uncertainty) * abs(scale)
    assert float(found.standard_uncertainty) == pytest.approx(u, abs=close)
    if not turned:
        for end in ("low", "high"):
            assert float(found[end]) == pytest.approx(float(said[end]) * scale + shift, abs=close)


@settings(max_examples=60)
@given(samples, st.randoms(use_true_random=False))
def test_the_order_of_draws_says_nothing(x, random):
    shuffled = x.values.tolist()
    random.shuffle(shuffled)
    found, said = summarize(along_draws(shuffled)), summarize(x)
    assert (found.low, found.high) == (said.low, said.high)
    assert float(found.value) == pytest.approx(float(said.value), rel=1e-9, abs=1e-9 * float(abs(x).max()))


@settings(max_examples=60)
@given(samples, st.floats(0.05, 0.94), st.floats(0.05, 0.94))
def test_a_wider_coverage_reaches_further(x, one, other):
    narrow, wide = (summarize(x, c) for c in sorted((one, other)))
    inside = ((x >= wide.low) & (x <= wide.high)).mean()
    assert inside >= max(one, other) - 0.5 / x.size
    assert wide.high - wide.low >= narrow.high - narrow.low or narrow.low != wide.low
    assert float(x.min()) <= wide.low <= wide.high <= float(x.max())


@settings(max_examples=60)
@given(st.floats(0.01, 0.995), st.integers(1, 300))
def test_an_interval_takes_as_many_draws_as_one_that_lies_outside(coverage, count):
    """One draw in twenty lies outside a coverage of 95 %: with fewer than twenty there is none."""
    needed = 1 / (1 - coverage)
    assume(abs(count - needed) > 1e-6)
    x = along_draws(np.arange(count))
    if count > needed:
        said = summarize(x, coverage)
        assert 0 <= said.low <= said.high <= count - 1
    else:
        with pytest.raises(RangeError, match=f"takes at least {int(np.ceil(needed))} draws, not {count}"):
            summarize(x, coverage)


@settings(max_examples=20)
@given(seeds)
def test_quick_noise_is_normal(seed):
    """Mean, variance and fourth moment of 200,000, within four of their standard deviations."""
    deviates = noise((1000, 200), np.random.default_rng(seed)).astype(float)
    n = deviates.size
    assert abs(deviates.mean()) < 5 / np.sqrt(n)
    assert abs(deviates.var() - 1) < 5 * np.sqrt(2 / n)
    assert abs((deviates**4).mean() - 3) < 5 * np.sqrt(96 / n)
    assert abs(deviates).max() < 4.4
