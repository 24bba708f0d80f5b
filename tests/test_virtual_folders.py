"""Folders that the virtual bench writes beside the demo: plaques, a year of readings, a check of the bench.

What is expected follows from the invented truth, which each module states; what an instrument adds follows
from its own definition (`VirtualInstrument`).
"""

from __future__ import annotations

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.errors import BenchError
from spectralbench.virtual import check_bench, plaques, truth, year
from spectralbench.virtual.instrument import VirtualInstrument

WRITERS = {
    "plaques": plaques.write_plaques,
    "year": year.write_year,
    "check": check_bench.write_check_bench,
}


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    return {name: write(tmp_path_factory.mktemp(name) / name) for name, write in WRITERS.items()}


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("name", WRITERS)
def test_every_file_can_be_read_and_says_that_it_is_invented(folders, name):
    for path in folders[name].iterdir():
        assert "invented data" in path.read_text(encoding="utf-8").lower(), path.name
        assert sb.read(path).sizes


@pytest.mark.parametrize("name", WRITERS)
def test_nothing_is_overwritten(folders, name):
    before = contents(folders[name])
    with pytest.raises(BenchError, match="something there already; expected a new or an empty folder"):
        WRITERS[name](folders[name])
    assert contents(folders[name]) == before


def test_a_seed_gives_the_same_files_and_another_one_others(folders, tmp_path):
    assert contents(year.write_year(tmp_path / "again")) == contents(folders["year"])
    other = contents(year.write_year(tmp_path / "other", seed=1))
    changed = {name for name, data in contents(folders["year"]).items() if other[name] != data}
    assert changed == {f"{name}_log.csv" for name in ("arc", "led_365", "led_405", "reference")}


def test_a_plaque_follows_from_lambert_and_fresnel():
    """By hand at 405 nm: n = 1.482 + 5300/405², a = 0.002 + 0.06 exp(-40/14) for each mm."""
    n, bulk = 1.482 + 5300 / 405**2, 10 ** -(2 * (0.002 + 0.06 * np.exp(-40 / 14)))
    r = ((n - 1) / (n + 1)) ** 2
    found = plaques.passed(2.0).interp(wavelength=405.0).item()
    assert found == pytest.approx((1 - r) ** 2 * bulk / (1 - (r * bulk) ** 2), rel=1e-6)
    exposed = plaques.passed(2.0, exposed=True).interp(wavelength=405.0).item()
    assert exposed / found == pytest.approx(10 ** (-0.06 * np.exp(-40 / 45)), rel=2e-4)  # inner reflections


def test_the_head_drifts_alike_on_everything_that_it_reads(folders):
    """Reading over truth, for the reference and for an LED: (1 - 0.034) to the share of the year."""
    log = sb.read(folders["year"] / "reference_log.csv")["irradiance"].values
    led = sb.read(folders["year"] / "led_405_log.csv")["irradiance"]
    per_light = led.values / year.irradiance("LED 405", led.hours.values)
    for ratio in (log, per_light):
        rate = np.polyfit(np.arange(ratio.size) / (ratio.size - 1), np.log(ratio), 1)[0]
        assert rate == pytest.approx(np.log(1 - 0.034), abs=4 * 0.004 * np.sqrt(12 / ratio.size))


def test_the_arc_gets_a_new_lamp_where_its_log_says(folders):
    log = sb.read(folders["year"] / "arc_log.csv")
    new = [str(remark) for remark in log.remark.values if remark]
    assert new == ["new lamp at 1200 h"]
    jump = log.irradiance.sel(hours=1200).item() / log.irradiance.sel(hours=1120).item()
    assert jump == pytest.approx(0.96 / np.exp(-np.log(1 / 0.56) * 1120 / 3000), rel=0.02)


def test_hours_left_are_those_after_which_just_enough_is_left():
    for name, hours in (("arc", 2080.0), ("LED 365", 1352.0), ("LED 405", 1352.0)):
        then = hours + year.hours_left(name, hours)
        assert year.irradiance(name, np.array([then])).item() == pytest.approx(year.REQUIRED, rel=1e-9)


def quiet(**faults):
    return VirtualInstrument(read_noise=0.0, electrons_per_count=1e12, **faults)


def counts(instrument, light):
    random = np.random.default_rng(1)
    dark = instrument.frame(None, 0.5, 1, random)[0].values
    return instrument.frame(light, 0.5, 1, random)[0].values - dark


def test_a_detector_that_bends_loses_what_it_states():
    due, seen = (counts(quiet(loss=loss), truth.lamp()) for loss in (0.0, 1e-6))
    assert seen == pytest.approx(due / (1 + 1e-6 * due), abs=2)  # whole counts, and those of the dark


def test_stray_light_is_moved_and_not_made():
    line = 0.2 * truth.gaussian(500.0, 1.0)
    before, after = (counts(quiet(stray=stray), line) for stray in (0.0, 0.03))
    near = np.abs(VirtualInstrument().wavelength - 500.0) < 5
    assert after[near].sum() == pytest.approx(0.97 * before[near].sum(), rel=3e-3)
    # half of what strays falls along the detector and beyond both ends of it, half near the line
    assert 0.018 < (after[~near].sum() - before[~near].sum()) / before.sum() < 0.03


def test_files_state_other_wavelengths_than_those_that_are_seen():
    checked = check_bench.instrument()
    frame = checked.frame(truth.gaussian(500.0, 1.0), 0.1, 1, np.random.default_rng(1))[0]
    off = sb.peak_wavelength(frame).item() - 500.0
    assert off == pytest.approx(0.75, abs=0.15)  # half a pixel


def test_the_line_lamp_is_where_the_lines_are_published():
    """NIST, in air (Sansonetti, Salit and Reader, Appl. Opt. 35 (1996) 74): 404.6565, 546.0750 nm."""
    light = check_bench.line_lamp()
    for line in (404.6565, 546.0750):
        near = np.abs(truth.FINE - line) < 0.5
        assert np.average(truth.FINE[near], weights=light[near]) == pytest.approx(line, abs=1e-6)
