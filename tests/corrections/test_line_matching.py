"""Found lines and known lines, brought together though some are missing and some are of something else."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from spectralbench import curves
from spectralbench.corrections.line_finding import find_lines
from spectralbench.corrections.line_matching import match_lines
from spectralbench.corrections.wavelength_scale import fit_wavelength_scale
from spectralbench.errors import GridError, RangeError, UnitsError

SCALE = np.linspace(250, 850, 2048)
KNOWN = np.array(
    [289.36, 296.73, 302.15, 334.15, 365.02, 404.66, 407.78, 435.83, 546.07, 576.96, 579.07, 690.75]
)


def at(wavelengths, scale=SCALE):
    return np.interp(wavelengths, scale, np.arange(scale.size))


def test_all_match_where_all_is_well():
    matched = match_lines(at(KNOWN), SCALE, KNOWN, 2.0)
    assert matched["wavelength"].values.tolist() == KNOWN.tolist()
    np.testing.assert_allclose(matched["offset"], 0, atol=1e-9)
    assert "comment" not in matched.attrs
    assert matched.attrs["history"] == "matched 12 of 12 lines to reference lines within 2 nm"


@given(
    shift=st.floats(-2.0, 2.0),
    stretch=st.floats(-2e-3, 2e-3),
    found=st.sets(st.integers(0, 11), min_size=6),
    listed=st.sets(st.integers(0, 11), min_size=6),
    strangers=st.lists(st.floats(455, 530), max_size=4),
)
def test_missing_and_extra_lines_on_a_scale_that_is_off(shift, stretch, found, listed, strangers):
    """Both lists lack lines, and the spectrum has lines of something else: what matches is right."""
    true = KNOWN[sorted(found)]
    reference = KNOWN[sorted(listed)]
    shown = np.append(true, strangers) - shift - stretch * (np.append(true, strangers) - 480)
    if not found & listed:
        return
    try:
        matched = match_lines(at(shown), SCALE, reference, 3.0)
    except RangeError:
        assert len(found & listed) < 4
        return
    names = matched["wavelength"].values
    assert len(set(names)) == names.size
    truth = {round(position, 6): line for position, line in zip(at(shown), true, strict=False)}
    right = [
        truth.get(round(p, 6)) == name for p, name in zip(matched["position"].values, names, strict=True)
    ]
    sound = len(found & listed)
    if sound >= 6:  # enough lines to outvote two that share a wrong partner
        assert sum(right) >= sound - 1
        assert right.count(False) <= 1


@given(
    positions=st.lists(st.floats(0, 2047), min_size=1, max_size=25),
    reference=st.lists(st.floats(250, 850), min_size=1, max_size=25),
    tolerance=st.floats(0.1, 30),
)
def test_a_match_is_one_to_one_in_order_and_within_tolerance(positions, reference, tolerance):
    about = np.interp(positions, np.arange(2048), SCALE)
    if (np.abs(about[:, None] - reference) > tolerance).all():
        with pytest.raises(RangeError, match="no line matches a reference line within"):
            match_lines(positions, SCALE, reference, tolerance)
        return
    matched = match_lines(positions, SCALE, reference, tolerance)
    place, names = matched["position"].values, matched["wavelength"].values
    assert (np.diff(place) > -1e-6).all()  # positions closer than that have one wavelength
    assert (np.diff(names) >= 0).all()
    assert set(names) <= set(reference)
    for values, given_values in ((place, positions), (names, reference)):
        _, counts = np.unique(values, return_counts=True)
        assert all(count <= given_values.count(v) for v, count in zip(np.unique(values), counts, strict=True))
    assert (np.abs(matched["offset"]) <= tolerance).all()


def test_a_close_pair_is_told_apart_by_its_neighbours():
    """The scale is off by as much as 576.96 and 579.07 nm are apart; the nearest is the wrong one."""
    matched = match_lines(at(KNOWN - 1.9), SCALE, KNOWN, 3.0)
    assert matched["wavelength"].values.tolist() == KNOWN.tolist()
    np.testing.assert_allclose(matched["offset"], 1.9, atol=1e-6)
    one_missing = match_lines(at(np.delete(KNOWN, 9) - 1.9), SCALE, KNOWN, 3.0)
    assert 576.96 not in one_missing["wavelength"].values
    assert "the reference line 576.96 nm: not found" in one_missing.attrs["comment"]


def test_a_line_alone_goes_to_the_nearest():
    assert match_lines(at([300.0]), SCALE, [299.0, 300.5], 2.0)["wavelength"].values.tolist() == [300.5]
    assert match_lines(at([300.0]), SCALE, [299.5, 301.0], 2.0)["wavelength"].values.tolist() == [299.5]


def test_what_is_left_out_says_why():
    shown = np.append(KNOWN[1:], [470.0, 436.6])
    matched = match_lines(at(shown), SCALE, KNOWN, 2.0)
    comment = matched.attrs["comment"]
    assert comment.startswith("left out: ")
    assert f"the line at pixel {at(470.0):.2f} (about 470.0 nm): no reference line within 2 nm" in comment
    assert (
        f"the line at pixel {at(436.6):.2f} (about 436.6 nm): 435.83 nm is taken, or out of step" in comment
    )
    assert "289.36" not in comment  # nobody looked there? the first line found stands at 296.73 nm
    assert (
        "the reference line 334.15 nm: not found"
        in match_lines(at(np.delete(KNOWN, 3)), SCALE, KNOWN, 2.0).comment
    )


def test_a_falling_scale_and_one_with_pixels_of_its_own():
    falling = match_lines(2047 - at(KNOWN), SCALE[::-1], KNOWN, 2.0)
    assert falling["wavelength"].values.tolist() == KNOWN.tolist()
    cut = xr.DataArray(SCALE[100:], {"pixel": np.arange(100, 2048)}, "pixel", attrs={"units": "nm"})
    assert match_lines(at(KNOWN[2:]), cut, KNOWN, 2.0)["wavelength"].values.tolist() == KNOWN[2:].tolist()


def test_draws_are_matched_by_their_means_and_carried_on():
    drawn = xr.DataArray(at(KNOWN) + np.array([[-0.1], [0.1]]), dims=("draw", "line"))
    matched = match_lines(drawn, SCALE, KNOWN, 2.0)
    assert matched["position"].dims == ("draw", "line")
    assert fit_wavelength_scale(matched["position"], matched["wavelength"])["scale"].dims == ("draw", "pixel")


def test_what_the_reference_knows_comes_along_and_a_wide_blend_does_not():
    seen = curves.effective_lines(curves.lines("mercury").sel(wavelength=slice(285, 600)), 2.0)
    blend = seen.sel(wavelength=579.19, method="nearest")
    assert not blend["clean"]
    places = np.append(KNOWN[:8], [546.07, 579.2])
    matched = match_lines(at(places), SCALE, seen, 1.0)
    assert matched["uncertainty"].dims == ("line",)
    assert matched["uncertainty"].attrs["units"] == "nm"
    assert blend.wavelength.item() not in matched["wavelength"]
    assert (
        f"the reference line {blend.wavelength.item():.10g} nm: a blend too wide to be placed"
        in matched.comment
    )


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ((at(KNOWN), SCALE, KNOWN, 0.0), RangeError, "a tolerance is longer than 0 nm, not 0 nm"),
        (
            (at(KNOWN[:2]), SCALE, [700.0], 2.0),
            RangeError,
            "within 2 nm: the lines stand at about 289.4, 296.7 nm. Are",
        ),
        (
            ([2050.0], SCALE, KNOWN, 2.0),
            RangeError,
            "the position 2050 lies outside the approximate scale, pixels 0–2047",
        ),
        (
            ([5.0], [300.0, 310.0, 305.0], KNOWN, 2.0),
            RangeError,
            "rises or falls from pixel to pixel; this one turns",
        ),
        (
            ([5.0], [SCALE], KNOWN, 2.0),
            GridError,
            "an approximate scale is one row of wavelengths, not 2 dimensions",
        ),
        (
            ([5.0], SCALE, [KNOWN], 2.0),
            GridError,
            "reference lines are one row of wavelengths, not 2 dimensions",
        ),
        (
            (5.0, SCALE, KNOWN, 2.0),
            GridError,
            "positions are one row of numbers, or an array with the dimension line",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(arguments, error, message):
    with pytest.raises(error, match=re.escape(message)):
        match_lines(*arguments)


@pytest.mark.parametrize("fwhm", [0.6, 1.5])
def test_from_a_lamp_to_the_scale(fwhm):
    """A simulated instrument of known scale, with noise: found, matched, fitted; within its uncertainty."""
    pixel = np.arange(2048)
    true = 248 + 400 * (pixel / 2047) - 25 * (pixel / 2047) ** 2 - 6 * (pixel / 2047) ** 3
    lamp = curves.lines("mercury")
    sigma = fwhm / np.sqrt(8 * np.log(2))
    shape = np.exp(-(((true - lamp.wavelength.values[:, None]) / sigma) ** 2) / 2)
    rng = np.random.default_rng(11)
    counts = (
        rng.poisson(np.minimum(lamp["strength"].values @ shape, 6e4) + 50.0) - 50.0 + rng.normal(0, 3, 2048)
    )
    found = find_lines(xr.DataArray(counts, dims="pixel").where(counts < 5e4))
    seen = curves.effective_lines(lamp, fwhm)
    matched = match_lines(found["position"], true + 1.5 - 1e-3 * pixel, seen, "3 nm")
    errors = matched["wavelength"] - np.interp(matched["position"], pixel, true)
    assert matched.sizes["line"] >= 10
    assert (np.abs(errors) < 0.25 * fwhm).all()
    spread = np.hypot(matched["uncertainty"], 0.03 * fwhm)
    fit = fit_wavelength_scale(matched["position"], matched["wavelength"], 3, spread, pixels=2048)
    inside = ~fit["extrapolated"]
    apart = np.abs(fit["scale"] - true)
    assert (apart.where(inside, 0.0) < 4 * fit["standard_uncertainty"]).all()
    assert apart.where(inside).max() < 0.05 * fwhm


def test_reference_lines_in_another_unit_are_converted():
    microns = xr.DataArray([0.411, 0.481], dims="wavelength", attrs={"units": "µm"})
    several = xr.Dataset(
        {"strength": ("wavelength", [1.0, 2.0])},
        {"wavelength": ("wavelength", microns.values, microns.attrs)},
    )
    for reference in (microns, several):
        matched = match_lines([10.0, 80.0], np.linspace(400, 500, 101), reference, 2.0)
        assert matched["wavelength"].values == pytest.approx([411.0, 481.0], rel=1e-12)
    with pytest.raises(UnitsError, match='"s" cannot be converted to "nm"'):
        match_lines([10.0, 80.0], np.linspace(400, 500, 101), microns.assign_attrs(units="s"), 2.0)
