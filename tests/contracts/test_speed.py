"""A band of many spectra costs about what reading them once does; draws cost far less than their number."""

from time import perf_counter

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.reduction import band_irradiance


@pytest.fixture(scope="module")
def many_spectra():
    """40,000 spectra of 2048 samples, 655 MB."""
    return xr.DataArray(
        np.full((40_000, 2048), 1e-3),
        {"wavelength": np.linspace(250, 850, 2048)},
        ("spectrum", "wavelength"),
        attrs={"units": "W m-2 nm-1"},
    )


@pytest.mark.parametrize(("limits", "times"), [((315, 400), 1), ((250, 850), 2)])
def test_a_band_is_not_slower_than_one_sum(many_spectra, limits, times):
    """The whole grid: as quick as a sum on two cores; 1.3 times as long on one, where memory is fast."""
    values = many_spectra.values
    sums, bands = [], []
    for _ in range(5):  # in turn, so that a busy machine slows both
        start = perf_counter()
        values.sum()
        between = perf_counter()
        result = band_irradiance(many_spectra, *limits)
        sums.append(between - start)
        bands.append(perf_counter() - between)
    assert result.shape == (40_000,)
    np.testing.assert_allclose(result[[0, -1]], 1e-3 * (limits[1] - limits[0]), rtol=1e-12)
    assert min(bands) <= times * min(sums), f"band {min(bands):.4f} s, sum {min(sums):.4f} s"


def test_a_thousand_draws_cost_a_few_times_their_bare_noise(demo):
    """The peer is NumPy, which draws normal deviates for each pixel of each frame, and no more.

    On two quiet cores: 0.9 s and 0.5 s.
    """
    bench = sb.open_bench(demo)
    sb.reduce_bench(bench, draws=20, seed=1)  # what is loaded late is loaded now
    frames = 13  # of the demo, with its darks
    random = np.random.default_rng(1)
    ours, bare = [], []
    while len(ours) < 2 or (
        min(ours) > 6 * min(bare) and len(ours) < 5
    ):  # in turn: a busy machine slows both
        start = perf_counter()
        sb.reduce_bench(bench, draws=1000, seed=1)
        between = perf_counter()
        for _ in range(frames):
            random.standard_normal((1000, 2048))
        ours.append(between - start)
        bare.append(perf_counter() - between)
    assert min(ours) <= 6 * min(bare), f"draws {min(ours):.2f} s, bare noise {min(bare):.2f} s"


def test_a_thousand_draws_of_a_bench_cost_a_few_dozen_reductions(demo):
    """Intervals and the share of each of some 15 causes; 18 times was measured on two busy cores."""
    bench = sb.open_bench(demo)
    sb.compare(bench)  # what is loaded late is loaded now
    start = perf_counter()
    sb.compare(bench)
    between = perf_counter()
    result = sb.compare(bench, draws=1000, seed=1, contributions=True)
    end = perf_counter()
    sb.compare(bench)
    best = max(between - start, perf_counter() - end)  # a busy machine slows all
    assert result.sizes["draw"] == 1000
    assert result.variance_share.sizes["cause"] >= 10
    assert end - between <= 40 * best, f"with draws {end - between:.1f} s, without {best:.2f} s"
