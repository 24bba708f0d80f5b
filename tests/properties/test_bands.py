"""Laws of integrals over bands, on any grid and for any spectrum."""

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.constants import MICROMOLES_PER_JOULE_NANOMETRE
from spectralbench.reduction import (
    band_irradiance,
    centroid_wavelength,
    photon_irradiance,
    weighted_irradiance,
)

FIGURES = [band_irradiance, photon_irradiance, centroid_wavelength]
EXACT = 1e-11  # what the order of some hundred sums and products may leave, relative to the largest term


@st.composite
def grids(draw, least=2, most=30):
    steps = draw(st.lists(st.floats(0.05, 20.0), min_size=least - 1, max_size=most - 1))
    return draw(st.floats(200.0, 400.0)) + np.concatenate(([0.0], np.cumsum(steps)))


@st.composite
def spectra(draw, rows=(), least=2, low=0.0, high=1e3):
    grid = draw(grids(least))
    values = draw(arrays(float, (*rows, grid.size), elements=st.floats(low, high, allow_subnormal=False)))
    return xr.DataArray(values, {"wavelength": grid}, (*"abc"[: len(rows)], "wavelength"))


@st.composite
def with_band(draw, source, count=2):
    """A spectrum and some wavelengths within its range, ascending."""
    spectrum = draw(source)
    first, last = spectrum.wavelength.values[[0, -1]]
    limits = sorted(draw(st.lists(st.floats(first, last), min_size=count, max_size=count, unique=True)))
    return (spectrum, *limits)


def size(spectrum):
    """The largest that an integral of the spectrum could be: what rounding is relative to."""
    return float(abs(spectrum).max() * np.ptp(spectrum.wavelength.values)) + 1e-300


@settings(max_examples=40)
@given(with_band(spectra(low=-1e3), 3))
def test_bands_and_photons_add_up_over_any_split(case):
    spectrum, low, middle, high = case
    parts = band_irradiance(spectrum, low, middle) + band_irradiance(spectrum, middle, high)
    assert float(parts) == pytest.approx(
        float(band_irradiance(spectrum, low, high)), rel=0, abs=EXACT * size(spectrum)
    )
    photons = photon_irradiance(spectrum, low, middle) + photon_irradiance(spectrum, middle, high)
    assert float(photons) == pytest.approx(
        float(photon_irradiance(spectrum, low, high)), rel=0, abs=10 * EXACT * size(spectrum)
    )


@settings(max_examples=40)
@given(with_band(spectra(rows=(2,), low=-1e3)), st.floats(-10, 10), st.floats(-10, 10))
def test_bands_and_photons_are_linear(case, p, q):
    pair, low, high = case
    first, second = pair
    for figure in (band_irradiance, photon_irradiance):
        together = figure(p * first + q * second, low, high)
        apart = p * figure(first, low, high) + q * figure(second, low, high)
        assert float(together) == pytest.approx(float(apart), rel=0, abs=100 * EXACT * size(pair))


@settings(max_examples=40)
@given(with_band(spectra()))
def test_the_unit_of_the_spectrum_makes_no_difference(case):
    spectrum, low, high = case
    given_in = (spectrum / 10).assign_attrs(units="mW/cm^2/nm")
    for figure in FIGURES:
        np.testing.assert_allclose(
            figure(given_in, low, high), figure(spectrum, low, high), rtol=1e-12, atol=EXACT * size(spectrum)
        )


@settings(max_examples=40)
@given(with_band(spectra()))
def test_the_unit_of_the_wavelength_makes_no_difference(case):
    spectrum, low, high = case
    grid = spectrum.wavelength.values
    low, high = (
        float(max(low, grid[0] + 1e-6)),
        float(min(high, grid[-1] - 1e-6)),
    )  # clear of the ends' last digits
    assume(high - low > 1e-6)
    in_micrometres = spectrum.assign_coords(wavelength=("wavelength", grid / 1000, {"units": "µm"}))
    # a converted wavelength is rounded to 1e-9 nm, and each sample moves the area by that much
    moved_area = float(spectrum.max()) * 1e-9 * grid.size
    in_photons = MICROMOLES_PER_JOULE_NANOMETRE * float(grid[-1])  # of a joule, at most
    for figure, weight in ((band_irradiance, 1.0), (photon_irradiance, in_photons)):
        moved = moved_area * weight
        expected = float(figure(spectrum, low, high))
        for limits in ((low, high), (f"{low / 1000!r} µm", f"{high / 1000!r} µm")):
            result = float(figure(in_micrometres, *limits))
            assert result == pytest.approx(expected, rel=0, abs=moved + EXACT * size(spectrum))


@settings(max_examples=40)
@given(with_band(spectra(rows=(3,))))
def test_the_direction_of_the_grid_makes_no_difference(case):
    spectrum, low, high = case
    for figure in FIGURES:
        turned = figure(spectrum.isel(wavelength=slice(None, None, -1)), low, high)
        np.testing.assert_allclose(turned, figure(spectrum, low, high), rtol=1e-13)


@settings(max_examples=40)
@given(with_band(grids().map(lambda x: xr.DataArray(x, {"wavelength": x}, "wavelength"))), st.data())
def test_a_straight_line_is_integrated_exactly(case, data):
    """Edges inside a cell, and bands narrower than one, included."""
    grid, low, high = case
    at_low, at_high = data.draw(st.floats(0, 100)), data.draw(st.floats(0, 100))
    first, last = grid.values[[0, -1]]
    line = at_low + (grid - first) * ((at_high - at_low) / (last - first))
    middle = (low + high) / 2
    expected = (high - low) * (at_low + (middle - first) * ((at_high - at_low) / (last - first)))
    result = float(band_irradiance(line, low, high))
    assert result == pytest.approx(expected, rel=1e-9, abs=EXACT * size(line))


@settings(max_examples=40)
@given(spectra(low=-1e3), st.floats(0, 100), st.floats(0, 100))
def test_the_whole_grid_is_the_trapezoidal_rule(spectrum, before, after):
    grid = spectrum.wavelength.values
    result = float(band_irradiance(spectrum, grid[0] - before, grid[-1] + after))
    expected = np.trapezoid(spectrum.values, grid)
    assert result == pytest.approx(expected, rel=0, abs=EXACT * size(spectrum))


@settings(max_examples=40)
@given(with_band(spectra(low=-1e3)), st.data())
def test_a_sample_on_the_straight_line_between_two_others_adds_nothing(case, data):
    spectrum, low, high = case
    grid = spectrum.wavelength.values
    new = data.draw(st.floats(grid[0], grid[-1]))
    finer = np.unique(np.append(grid, new))
    assume(np.diff(finer).min() > 1e-6)
    filled = xr.DataArray(np.interp(finer, grid, spectrum.values), {"wavelength": finer}, "wavelength")
    expected = float(band_irradiance(spectrum, low, high))
    assert float(band_irradiance(filled, low, high)) == pytest.approx(
        expected, rel=0, abs=1e4 * EXACT * size(spectrum)
    )


@settings(max_examples=40)
@given(with_band(spectra(rows=(2, 3))), st.permutations(["draw", "source", "wavelength"]))
def test_the_order_of_the_dimensions_makes_no_difference(case, order):
    spectrum, low, high = case
    spectrum = spectrum.rename(a="draw", b="source")
    for figure in FIGURES:
        result = figure(spectrum.transpose(*order), low, high)
        assert set(result.dims) == {"draw", "source"}
        for draw in range(2):
            for source in range(3):
                one = figure(spectrum[draw, source].copy(), low, high)
                np.testing.assert_allclose(result.isel(draw=draw, source=source), one, rtol=1e-12)


@settings(max_examples=40)
@given(with_band(spectra(rows=(2,), least=3)), st.data())
def test_a_missing_sample_harms_the_bands_that_need_it_and_no_other(case, data):
    spectrum, low, high = case
    grid = spectrum.wavelength.values
    assume(high - low > 1e-6)
    spoilt = data.draw(st.integers(0, grid.size - 1))
    # a sample counts in the band if its two cells, in which it pulls the straight line, reach into it
    start, stop = grid[max(spoilt - 1, 0)], grid[min(spoilt + 1, grid.size - 1)]
    assume(min(abs(start - high), abs(stop - low)) > 1e-6)
    counts = start < high and low < stop
    changed = spectrum.copy(deep=True)
    changed[0, spoilt] = np.nan
    for figure in FIGURES:
        before, after = figure(spectrum, low, high), figure(changed, low, high)
        np.testing.assert_allclose(after[1], before[1], rtol=1e-12)
        if counts:
            assert np.isnan(after[0])
        else:
            np.testing.assert_allclose(after[0], before[0], rtol=1e-12)


@settings(max_examples=40)
@given(spectra(low=1e-3), st.data())
def test_photons_are_energy_times_the_mean_wavelength(spectrum, data):
    """Between samples; inside a cell, bands that add up and a mean within the limits go before."""
    low, high = sorted(
        data.draw(
            st.lists(st.sampled_from(list(spectrum.wavelength.values)), min_size=2, max_size=2, unique=True)
        )
    )
    mean = centroid_wavelength(spectrum, low, high)
    expected = band_irradiance(spectrum, low, high) * mean * MICROMOLES_PER_JOULE_NANOMETRE
    assert float(photon_irradiance(spectrum, low, high)) == pytest.approx(float(expected), rel=1e-9)


@settings(max_examples=40)
@given(with_band(spectra(low=1e-3)))
def test_the_mean_wavelength_lies_within_the_limits(case):
    spectrum, low, high = case
    assume(high - low > 1e-3)
    assert low * (1 - 1e-9) <= float(centroid_wavelength(spectrum, low, high)) <= high * (1 + 1e-9)


@settings(max_examples=40)
@given(with_band(spectra(low=-1e3)), st.sampled_from(["linear", "logarithmic"]))
def test_a_weighting_of_1_is_the_band_of_its_range(case, rule):
    spectrum, low, high = case
    ones = xr.DataArray([1.0, 1.0], {"wavelength": [low, high]}, "wavelength", attrs={"interpolation": rule})
    result = float(weighted_irradiance(spectrum, ones))
    expected = float(band_irradiance(spectrum, low, high))
    assert result == pytest.approx(expected, rel=0, abs=EXACT * size(spectrum))


@settings(max_examples=40)
@given(
    with_band(
        grids().flatmap(
            lambda g: arrays(np.uint16, g.size).map(
                lambda y: xr.DataArray(y, {"wavelength": g}, "wavelength")
            )
        )
    )
)
def test_integers_and_short_floats_count_as_their_values(case):
    counts, low, high = case
    for figure in FIGURES:
        exact = figure(counts.astype(float), low, high)
        for dtype in ("uint16", "int64", "float32"):  # each holds these numbers exactly
            result = figure(counts.astype(dtype), low, high)
            assert result.dtype == np.float64
            np.testing.assert_allclose(result, exact, rtol=1e-12)


@settings(max_examples=40)
@given(spectra(rows=(2,)))
def test_a_spectrum_of_zeros_has_no_irradiance(spectrum):
    low, high = spectrum.wavelength.values[[0, -1]]
    assert (band_irradiance(0 * spectrum, low, high) == 0).all()
