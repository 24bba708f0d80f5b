"""Lines found in spectra that are made here, so that their places are known; all invented."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from spectralbench import curves
from spectralbench.corrections.line_finding import find_lines
from spectralbench.errors import GridError, RangeError

PIXEL = np.arange(600)


def gaussian(centre, height, fwhm, pixel=PIXEL):
    return height * np.exp(-4 * np.log(2) * ((pixel - centre) / fwhm) ** 2)


def spectrum(*lines, background=20.0, noise=0.0, seed=1):
    values = np.full(PIXEL.size, background) + sum(gaussian(*line) for line in lines)
    return xr.DataArray(
        values + noise * np.random.default_rng(seed).standard_normal(values.size), dims="pixel"
    )


@given(
    centre=st.floats(100.0, 500.0),
    height=st.floats(10.0, 1e5),
    fwhm=st.floats(2.0, 12.0),
    background=st.floats(-100, 1000),
    slope=st.floats(-0.001, 0.001),
)
def test_a_single_line_is_found_where_it_stands(centre, height, fwhm, background, slope):
    """A Gaussian on a straight background, whatever its place between the pixels."""
    found = find_lines(spectrum((centre, height, fwhm), background=background) + slope * height * PIXEL / 100)
    assert found["position"].values == pytest.approx([centre], abs=2e-3)
    assert found["height"].values == pytest.approx([height], rel=5e-3)
    assert found["fwhm"].values == pytest.approx([fwhm], rel=5e-3)


LINES = [(60.3, 2e4, 4), (155.75, 900, 4), (301.5, 5e4, 4.5), (330.1, 3000, 4.5), (500.9, 200, 5)]


def test_lines_of_all_heights_in_noise():
    found = find_lines(spectrum(*LINES, noise=3.0))
    assert found.sizes["line"] == 5
    # a centre in white noise: scatter over height, times the width over 2.35 and about 1.5 pixels; five times
    allowed = np.array([5 * 3.0 / height * width for _, height, width in LINES])
    assert (np.abs(found["position"] - [line[0] for line in LINES]) < allowed + 1e-3).all()
    assert found["position"].attrs["units"] == "1"
    assert "comment" not in found.attrs


def test_pixels_that_integrate_over_their_width_move_nothing():
    """A symmetrical line stays symmetrical when each pixel takes the mean over itself."""
    fine = np.linspace(-0.5, 0.5, 101)
    values = sum(gaussian(301.37, 1e4, 3.0, PIXEL + step) for step in fine) / fine.size
    assert find_lines(xr.DataArray(values, dims="pixel"))["position"].values == pytest.approx(
        [301.37], abs=2e-3
    )


@pytest.mark.parametrize("fwhm", [1.0, 1.5, 2.0, 3.0])
def test_a_blend_is_found_where_it_is_said_to_be(fwhm):
    """Four mercury lines from 365.0 to 366.3 nm: the top that is fitted, and that of the sum of all."""
    lamp = curves.lines("mercury").sel(wavelength=slice(364, 367))
    seen = curves.effective_lines(lamp, fwhm)
    wavelength = 355 + 0.3 * np.arange(80)
    lines = zip(lamp.wavelength.values, lamp["strength"].values, strict=True)
    signal = xr.DataArray(sum(gaussian(at, height, fwhm, wavelength) for at, height in lines), dims="pixel")
    place = 355 + 0.3 * find_lines(signal)["position"].item()
    assert place == pytest.approx(seen.wavelength.item(), abs=0.7 * seen["uncertainty"].item())


def test_noise_alone_holds_no_line():
    with pytest.raises(RangeError, match=r"no line stands 10 times above the scatter: is this a line lamp\?"):
        find_lines(spectrum(background=100.0, noise=5.0))


def test_the_noise_on_a_strong_line_counts_for_no_line():
    rng = np.random.default_rng(5)
    values = rng.poisson(spectrum((300.0, 5e4, 40), background=4.0).values).astype(float)
    assert find_lines(xr.DataArray(values, dims="pixel")).sizes["line"] == 1


class TestLeftOut:
    @pytest.mark.parametrize("spoilt", [300, 301, 303, 298])
    def test_a_line_with_a_pixel_that_is_not_valid(self, spoilt):
        signal = spectrum(*LINES)
        signal[spoilt] = np.nan
        found = find_lines(signal)
        assert found["position"].values.round(1).tolist() == [60.3, 155.8, 330.1, 500.9]
        assert re.search(
            r"left out: the line at pixel 30\d, which has pixels that are not", found.attrs["comment"]
        )

    def test_a_saturated_line_with_all_its_top_gone(self):
        signal = spectrum(*LINES)
        found = find_lines(signal.where(signal < 1.5e4))
        assert found["position"].values.round(1).tolist() == [155.8, 330.1, 500.9]
        assert found.attrs["comment"].count("not valid (saturated?)") == 2

    def test_a_flat_top(self):
        found = find_lines(spectrum(*LINES).clip(max=3e4))
        assert found.sizes["line"] == 4
        assert (
            "the line at pixel 301, which has a flat top of 4 pixels (saturated?)" in found.attrs["comment"]
        )

    def test_a_pixel_not_valid_elsewhere_costs_nothing(self):
        signal = spectrum(*LINES)
        signal[[10, 220]] = np.nan
        whole = find_lines(spectrum(*LINES))
        np.testing.assert_allclose(find_lines(signal)["position"], whole["position"], atol=1e-9)

    def test_two_lines_that_run_into_each_other(self):
        found = find_lines(spectrum((100.0, 1000, 5), (300.0, 1000, 6), (306.2, 990, 6)), stand_out=0.01)
        assert found["position"].values.round(3).tolist() == [100.0]
        assert found.attrs["comment"].count("of which the top is no single one") == 2

    def test_nothing_left(self):
        message = (
            "no line stands 10 times above the scatter and is whole: the line at pixel 300, which has a flat"
        )
        with pytest.raises(RangeError, match=re.escape(message)):
            find_lines(spectrum((300.0, 1e4, 6)).clip(max=5e3))


class TestShapes:
    def test_each_draw_has_its_own_positions(self):
        shifts = np.linspace(-0.8, 0.8, 9)
        stack = xr.concat([spectrum((300 + s, 1e4, 5), (100 - s, 5e3, 4)) for s in shifts], "draw")
        found = find_lines(stack.assign_coords(draw=np.arange(9)))
        assert found["position"].dims == ("draw", "line")
        np.testing.assert_allclose(
            found["position"], np.stack([100 - shifts, 300 + shifts], axis=1), atol=2e-3
        )
        assert found.draw.values.tolist() == list(range(9))

    def test_a_draw_without_the_line_is_not_valid(self):
        stack = xr.concat([spectrum((300, 1e4, 5), (100, 1e4, 5)), spectrum((300, 1e4, 5))], "source")
        found = find_lines(stack)
        assert np.isnan(found["position"].values).tolist() == [[False, False], [True, False]]

    def test_an_approximate_scale_is_used_to_say_where(self):
        signal = spectrum((300.25, 1e4, 5)).rename(pixel="wavelength")
        signal = signal.assign_coords(wavelength=250 + 0.5 * PIXEL).assign_attrs(units="s-1")
        found = find_lines(signal)
        assert found["position"].item() == pytest.approx(300.25, abs=1e-3)
        assert found["approximate"].item() == pytest.approx(250 + 0.5 * 300.25, abs=1e-3)
        assert found["approximate"].attrs["units"] == "nm"
        assert found["height"].attrs["units"] == "s-1"

    def test_positions_follow_the_coordinate_of_a_cut(self):
        signal = spectrum((300.25, 1e4, 5)).assign_coords(pixel=PIXEL).isel(pixel=slice(200, 400))
        assert find_lines(signal)["position"].item() == pytest.approx(300.25, abs=1e-3)

    def test_the_history_goes_on(self):
        signal = spectrum((300.25, 1e4, 5)).assign_attrs(history="subtracted the dark")
        assert find_lines(signal).attrs["history"].splitlines() == [
            "subtracted the dark",
            "found 1 lines 10 times above the scatter, each by a Gaussian over its top",
        ]


@pytest.mark.parametrize(
    ("signal", "arguments", "error", "message"),
    [
        (
            xr.DataArray(np.ones(9), dims="time"),
            {},
            GridError,
            "along pixel or wavelength; the signal has ('time',)",
        ),
        (
            xr.DataArray(np.full(9, np.nan), dims="pixel"),
            {},
            GridError,
            "at least 5 valid pixels; there are 0",
        ),
        (spectrum(), {"times": 0}, RangeError, "times above 0 and a share in 0–1 are needed, not 0 and 0.2"),
        (spectrum(), {"stand_out": 1.0}, RangeError, "a share in 0–1 are needed, not 10 and 1"),
    ],
)
def test_what_makes_no_sense_is_refused(signal, arguments, error, message):
    with pytest.raises(error, match=re.escape(message)):
        find_lines(signal, **arguments)
