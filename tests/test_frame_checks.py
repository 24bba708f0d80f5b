"""Whether a frame may be used: simulated scans whose noise, steps, drifts and faults are known."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
import xarray as xr
from scipy import stats

from spectralbench.corrections import NoiseModel
from spectralbench.corrections.frame_checks import check_frame
from spectralbench.corrections.frame_words import LIMITS
from spectralbench.corrections.scan_levels import levels_of
from spectralbench.errors import GridError, RangeError

READ, ELECTRONS, OFFSET = 11.0, 1.6, 1200.0  # counts, electrons per count, counts
TRUTH = NoiseModel(READ**2 - OFFSET / ELECTRONS, 1 / ELECTRONS)  # as a line over the counts
FULL = 65535
GRID = np.linspace(350.0, 450.0, 400)
LIGHT = 40_000.0 * np.exp(-(((GRID - 405) / 8) ** 2))
DARK = xr.DataArray(np.full(GRID.size, OFFSET), {"wavelength": GRID}, "wavelength")


def scans(factors, seed=1, light=LIGHT):
    """Whole counts with read noise and shot noise; each scan has its share of the light."""
    random = np.random.default_rng(seed)
    level = np.asarray(factors, dtype=float)[:, None] * light
    noise = np.sqrt(READ**2 + level / ELECTRONS) * random.standard_normal(level.shape)
    return of(np.round(OFFSET + level + noise))


def of(values):
    return xr.DataArray(values, {"wavelength": GRID}, ("spectrum", "wavelength"))


def checked(frame, **given):
    return check_frame(frame, FULL, dark=DARK, **given)


def reasons(found):
    return json.loads(found.attrs["reasons"])


def criterion(found, name):
    return found.sel(criterion=LIMITS[name].title)


def test_steady_light_may_be_used():
    found = checked(scans(np.ones(8)))
    assert found.attrs["words"] == found.attrs["verdict"] == "may be used"
    assert set(found["verdict"].values) == set(found["judged"].values) == {"may be used"}
    assert found["highest_share"].values == pytest.approx((OFFSET + LIGHT.max()) / FULL, rel=0.02)


def test_what_noise_explains_is_the_sum_of_all_variances():
    """Closed form: the variances of independent pixels add up (JCGM 100:2008, 5.1.2); 60 frames show it."""
    expected = np.sqrt((READ**2 + LIGHT / ELECTRONS).sum()) / LIGHT.sum()
    frames = [checked(scans(np.ones(8), seed), noise=TRUTH) for seed in range(60)]
    assert frames[0]["noise_level"].item() == pytest.approx(expected, rel=0.01)
    seen = np.sqrt(np.mean([frame["level_scatter"].item() ** 2 for frame in frames]))
    assert seen == pytest.approx(expected, rel=4 / np.sqrt(2 * 60 * 7))
    assert np.mean([frame["noise_level"].item() for frame in map(checked, map(scans, [np.ones(8)] * 5))]) == (
        pytest.approx(expected, rel=0.1)  # fitted from the scans themselves
    )


def test_noise_alone_makes_no_scan_odd():
    """Beyond 3.5 standard deviations lie 0.05 % of a normal distribution: of 1,600 scans, one."""
    faint = 40.0 * np.exp(-(((GRID - 405) / 30) ** 2)) + 1.0
    odd = 0
    for seed in range(200):
        frame = scans(np.ones(8), seed, faint).values
        light = frame - OFFSET
        odd += int(levels_of(light, frame.mean(axis=0), TRUTH).odd.sum())
    assert odd <= 6  # of a Poisson distribution about 0.75, six or more come once in 4,000


@pytest.mark.parametrize("step", [-0.2, -0.02, 0.02, 0.3])
def test_a_scan_with_other_light_is_found_and_told(step):
    factors = np.ones(8)
    factors[2] += step
    found = checked(scans(factors))
    noise = found["noise_level"].item()
    assert found["level_difference"].values[2] == pytest.approx(step, abs=4 * noise)
    assert found["times_noise"].values[2] == pytest.approx(abs(step) / noise, rel=0.05)
    assert found["verdict"].values.tolist() == ["may be used"] * 2 + ["with care"] + ["may be used"] * 5
    assert found.attrs["verdict"] == "with care"
    where = "above" if step > 0 else "below"
    told = re.fullmatch(
        rf"scan 3 lies ([\d.]+) % {where} the median of all; noise explains ([\d.]+) %", reasons(found)[0]
    )
    assert float(told[1]) == pytest.approx(100 * abs(step), abs=400 * noise + 0.05)
    assert float(told[2]) == pytest.approx(100 * noise, rel=0.05)
    assert found["reason"].values[2] == reasons(found)[0].removeprefix("scan 3 ")
    # One of n that lies apart by d: their standard deviation (JCGM 100:2008, 4.2.2) is d / sqrt(n).
    assert found["level_scatter"].item() == pytest.approx(abs(step) / np.sqrt(8), abs=2 * noise)


@pytest.mark.parametrize(("deviations", "is_odd"), [(3.4, False), (3.6, True)])
def test_odd_is_what_the_modified_z_score_says(deviations, is_odd):
    """M = 0.6745 (x − median)/MAD, odd beyond 3.5 (NIST/SEMATECH e-Handbook, 1.3.5.17)."""
    away = 0.01 * deviations / 0.6745
    totals = 1 + np.array([-0.02, -0.01, -0.01, 0.0, 0.01, 0.01, away])  # median 0, absolute deviation 0.01
    found = levels_of(100 * totals[:, None], np.array([100.0]), None)
    assert found.odd.tolist() == [False] * 6 + [is_odd]


def test_a_source_that_flickers_has_no_odd_scan_but_scatters():
    factors = 1 + 0.03 * np.array([0.9, -1.2, 0.4, -0.3, 1.1, -0.8, 0.2, -0.4])
    found = checked(scans(factors))
    assert set(found["verdict"].values) == {"may be used"}
    assert found["level_scatter"].item() == pytest.approx(factors.std(ddof=1) / np.median(factors), rel=0.05)
    assert reasons(found)[0].startswith("the light scatters by 2.")


def test_a_drift_is_that_of_a_straight_line():
    """Against scipy.stats.linregress, with Student's t."""
    found = checked(scans(np.linspace(1.0, 0.97, 10)))
    assert found["drift"].item() == pytest.approx(-0.03, abs=0.002)
    values = found["level_difference"].values
    line = stats.linregress(np.arange(10), values)
    assert found["drift"].item() == pytest.approx(9 * line.slope, rel=1e-9)
    limit = 9 * stats.t.ppf(0.975, 8) * line.stderr
    assert found["drift_limit"].item() == pytest.approx(limit, rel=1e-9)
    assert "the light falls by 3" in " ".join(reasons(found))
    assert criterion(found, "drift")["judged"].item() == "with care"


class TestSaturation:
    def test_in_every_scan_it_may_not_be_used_there(self):
        frame = np.minimum(scans(np.full(4, 2.0)).values, FULL)
        found = checked(of(frame))
        hit = frame >= 0.95 * FULL
        assert found["saturated_pixels"].values.tolist() == hit.sum(axis=1).tolist()
        assert found.attrs["verdict"] == "not"
        first, last = GRID[hit.any(axis=0)][[0, -1]]
        place = f"{hit.any(axis=0).sum()} pixels at {first:.1f}–{last:.1f} nm"
        assert reasons(found)[0] == f"saturated in each of 4 scans: {place}; take a shorter integration time"
        assert found["mean"].isnull().sum() == hit.any(axis=0).sum() + 2  # and a neighbour on either side

    def test_in_one_scan_the_others_are_good(self):
        factors = [1, 1, 1, 1, 3]
        frame = np.minimum(scans(factors).values, FULL)
        found = checked(of(frame))
        assert found["verdict"].values.tolist() == ["may be used"] * 4 + ["not"]
        assert "saturated in scan 5: " in reasons(found)[0]
        assert checked(of(frame[:4])).attrs["verdict"] == "may be used"

    def test_of_the_level_that_is_given(self):
        peak = float(scans(np.ones(3)).max())
        assert checked(scans(np.ones(3)), level=0.9999 * peak / FULL).attrs["verdict"] == "not"
        assert checked(scans(np.ones(3)), level=1.0001 * peak / FULL).attrs["verdict"] == "may be used"


class TestPixels:
    def test_dead_and_stuck_ones_are_found_and_no_others(self):
        frame = scans(np.ones(8)).values
        frame[:, 220] = OFFSET  # dead, between lit ones
        frame[:, 20] = OFFSET + 5  # stuck, in the dark
        found = checked(of(frame))
        assert np.flatnonzero(found["faulty"].values).tolist() == [20, 220]
        assert reasons(found) == [f"dead or stuck: 2 pixels at {GRID[20]:.1f} nm and {GRID[220]:.1f} nm"]

    def test_none_by_chance(self):
        assert not any(checked(scans(np.ones(5), seed))["faulty"].any() for seed in range(30))

    def test_few_scans_prove_nothing(self):
        frame = scans(np.ones(3)).values
        frame[:, 20] = OFFSET
        assert not checked(of(frame), noise=TRUTH)["faulty"].any()


@pytest.mark.parametrize(("times", "judged"), [(1.0, "may be used"), (2.0, "with care")])
def test_scatter_is_held_against_what_is_known_of_the_detector(times, judged):
    quiet = NoiseModel(TRUTH.constant / times**2, TRUTH.slope / times**2)
    found = criterion(checked(scans(np.ones(8)), noise=quiet), "noise")
    assert found["found"].item() == pytest.approx(times, rel=0.05)
    assert found["judged"].item() == judged


class TestDarkFrames:
    def test_a_dark_is_judged_by_counts(self):
        found = check_frame(scans(np.zeros(8)), FULL)
        assert found.attrs["verdict"] == "may be used"
        assert LIMITS["dark level"].title in found.coords["criterion"].values

    def test_light_in_one_dark_is_odd(self):
        found = check_frame(scans([0, 0, 0, 0.03, 0, 0], light=LIGHT * 0 + 30_000.0), FULL)
        assert found["verdict"].values.tolist() == ["may be used"] * 3 + ["with care"] + ["may be used"] * 2
        assert "above the median of all, as a share of the full scale" in reasons(found)[0]

    def test_no_light_above_the_dark_is_said(self):
        assert reasons(checked(scans(np.zeros(4)))) == ["hardly any light above the dark"]


def test_little_light_is_said():
    frame = scans(np.ones(4), light=LIGHT / 12)
    share = f"{100 * frame.values.max() / FULL:.2g} %"
    said = f"only {share} of the full scale is used; a longer integration time shows more"
    assert reasons(checked(frame)) == [said]


@pytest.mark.parametrize(("count", "many"), [(1, "one scan"), (2, "two scans")])
def test_few_scans_say_little(count, many):
    found = checked(scans(np.ones(count)))
    assert reasons(found) == [f"{many}: how far they scatter is hardly known; take three or more"]
    assert np.isnan(found["drift"])


def test_a_single_scan_without_the_dimension():
    found = checked(scans([1.0]).isel(spectrum=0, drop=True))
    assert found.sizes["spectrum"] == 1
    assert found["highest"].item() > 40_000


def test_of_two_scans_that_differ_none_is_called_odd():
    found = checked(scans([1.0, 0.8]))
    assert set(found["verdict"].values) == {"may be used"}
    assert found.attrs["verdict"] == "with care"


def test_without_a_dark_shares_are_not_too_small():
    factors = np.ones(6)
    factors[0] = 0.9
    assert check_frame(scans(factors), FULL)["level_difference"].values[0] <= -0.0995


def test_a_scan_for_which_the_lamp_was_off():
    found = checked(scans([1, 1, 0, 1, 1]))
    assert found["level_difference"].values[2] == pytest.approx(-1.0, abs=0.003)
    assert "scan 3 lies 100 % below the median of all" in reasons(found)[0]


def test_a_dark_that_is_brighter_than_the_frame_leaves_no_light():
    found = check_frame(scans(np.zeros(4)), FULL, dark=DARK + 50)
    assert reasons(found) == ["hardly any light above the dark"]


def test_all_pixels_saturated():
    found = checked(of(np.full((3, GRID.size), float(FULL))))
    assert found.attrs["verdict"] == "not"
    assert np.isnan(found["level_difference"]).all()


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"counts": of(np.full((2, GRID.size), np.nan))}, RangeError, "a frame without a valid count"),
        ({"counts": scans([1.0]).expand_dims("part")}, RangeError, "spectrum and wavelength, not part, sp"),
        ({"full_scale": 1000}, RangeError, "is above the full scale of 1000"),
        ({"level": 2.0}, RangeError, "a level in 0–1"),
        ({"dark": DARK.assign_coords(wavelength=GRID + 1)}, GridError, "wavelength"),
    ],
)
def test_what_is_no_frame_is_refused(given, error, words):
    with pytest.raises(error, match=words):
        check_frame(**({"counts": scans([1.0]), "full_scale": FULL, "dark": DARK} | given))


def test_a_dark_of_another_integration_time_is_refused():
    frame = scans([1.0, 1.0]).assign_coords(integration_time=0.02)
    with pytest.raises(RangeError, match="the dark was taken at 10 ms and the frame at 20 ms"):
        check_frame(frame, FULL, dark=DARK.assign_coords(integration_time=0.01))


def test_every_limit_says_where_it_comes_from():
    for limit in LIMITS.values():
        assert "common practice, no source" in limit.standing or "JCGM" in limit.standing
    found = checked(scans(np.ones(4)), noise=TRUTH)
    assert (found["standing"] != "").all()
    assert (found["limit_in_words"] != "").all()
