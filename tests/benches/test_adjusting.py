"""A bench taken to be otherwise, against one whose manifest says so, and against laws."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.comparison import FIGURES
from spectralbench.errors import RangeError, UnitsError
from spectralbench.reports.page import write_report


@pytest.fixture(scope="module")
def original(three):
    return three


@pytest.fixture(scope="module")
def tree(three):
    return sb.reduce_bench(three)


@pytest.fixture(scope="module")
def result(tree):
    return sb.compare(tree)


def assert_alike(found, expected, but=()):
    """All figures and verdicts of two comparisons are the same, bit for bit."""
    for name in FIGURES:
        if name in expected and name not in but:
            assert found[name].equals(expected[name]), name
    assert found.verdict.equals(expected.verdict)
    assert found.place.equals(expected.place)


def test_a_bench_that_is_not_otherwise_stays_what_it_is(tree):
    assert sb.adjust(tree) is tree


def test_a_thickness_is_the_working_thickness_of_a_manifest_with_its_draws(bench):
    tree = sb.reduce_bench(bench.folder, draws=40, seed=3)
    found = sb.compare(sb.adjust(tree, thickness={"cover": "1 mm"}))
    bench.manifest('name = "cover"\n', 'name = "cover"\nworking_thickness = "1 mm"\n')
    expected = sb.compare(bench.folder, draws=40, seed=3)
    assert_alike(found, expected)
    spread = found.band_irradiance.std("draw")
    assert (spread > 0).equals(found.band_irradiance.notnull().all("draw"))


def test_a_distance_is_the_working_distance_of_a_manifest(tree, bench):
    found = sb.compare(sb.adjust(tree, distance={"LED 405": "1 cm"}))
    bench.manifest('name = "LED 405"\n', 'name = "LED 405"\nworking_distance = "10 mm"\n')
    assert_alike(found, sb.compare(bench.folder))


def test_hours_go_along_the_course_of_a_source(tree, result):
    """An LED that its maker states to end at half: exponential, 0.5^(hours / 20,000)."""
    later = sb.compare(sb.adjust(tree, hours={"LED 405": "10500 h"}))
    ratio = later.band_irradiance / result.band_irradiance
    assert ratio.sel(source="LED 405").item() == pytest.approx(0.5 ** (10_000 / 20_000), rel=1e-12)
    assert ratio.sel(source="LED 385").item() == 1.0
    left = later.hours_left.sel(source="LED 405").item() - result.hours_left.sel(source="LED 405").item()
    assert left == pytest.approx(-10_000, rel=1e-9)
    end = later.end_of_life_irradiance.sel(source="LED 405").item()
    assert end == pytest.approx(result.end_of_life_irradiance.sel(source="LED 405").item(), rel=1e-9)


def test_a_log_carries_six_times_as_far_and_no_farther(bench):
    """`spectralbench.ageing.FARTHEST`: 900 h are logged, and 5,400 h can be told."""
    bench.manifest('[[ageing]]\nsource = "arc"', '[[ageing]]\nsource = "LED 385"')
    tree = sb.reduce_bench(bench.folder)
    far = sb.compare(sb.adjust(tree, hours={"LED 385": "5400 h"})).band_irradiance
    assert far.sel(source="LED 385") < sb.compare(tree).band_irradiance.sel(source="LED 385")
    said = "the log of LED 385 ends at 900 h: up to 5400 h of use can be told, not 5401 h, for beyond 6 times"
    with pytest.raises(RangeError, match=said):
        sb.adjust(tree, hours={"LED 385": "5401 h"})


def test_hours_that_a_bench_has_already_can_be_set_back(bench):
    """A source past its end is what somebody measured."""
    bench("bench.toml", r'^(hours = "500 h"\nend_of_life = )"20000 h"', r'\1"400 h"')
    tree = sb.reduce_bench(bench.folder)
    new = sb.adjust(tree, hours={"LED 405": 300})
    back = sb.compare(sb.adjust(new, hours={"LED 405": 500}))
    assert np.allclose(back.band_irradiance, sb.compare(tree).band_irradiance, rtol=1e-12, equal_nan=True)
    with pytest.raises(RangeError, match="replaced after 400 h"):
        sb.adjust(tree, hours={"LED 405": 501})


def test_half_the_level_is_half_the_light_and_half_the_power_of_an_led(tree, result):
    half = sb.compare(sb.adjust(tree, level="50 %"))
    for name in ("band_irradiance", "irradiance_at_part", "absorbed_photons", "unused_irradiance"):
        known = result[name].notnull()
        assert np.allclose((half[name] / result[name]).where(known, 0.5), 0.5, rtol=1e-12)
    power = (half.electrical_power / result.electrical_power).values
    assert power.tolist() == [1.0, 0.5, 0.5]  # an arc burns on, behind whatever dims it
    assert half.setting_today.equals(result.setting_today)  # what a knob has to be at is what it was
    assert half.hours_left.equals(result.hours_left)


def test_a_time_is_the_longest_exposure_and_none_is_no_limit(tree, result):
    assert result.verdict.sel(source="LED 405", criterion="time").item() == "met"
    quick = sb.compare(sb.adjust(tree, time="1 s"))
    assert quick.verdict.sel(source="LED 405", criterion="time").item() == "not met"
    assert quick.band_irradiance.equals(result.band_irradiance)
    free = sb.compare(sb.adjust(tree, time=0))
    assert "time" not in free.criterion
    assert free.exposure_time.equals(result.exposure_time)


def test_one_change_after_the_other_is_both_at_once(tree):
    once = sb.adjust(tree, thickness="1 mm", hours={"arc": 2000}, level={"arc": 0.5})
    first = sb.adjust(tree, thickness="3 mm", hours={"arc": 1500}, level={"arc": "80 %"})
    twice = sb.adjust(first, thickness="1 mm", hours={"arc": 2000}, level={"arc": 0.5})
    assert json.loads(once.attrs["adjusted"]) == json.loads(twice.attrs["adjusted"])
    a, b = sb.compare(once), sb.compare(twice)
    for name in ("band_irradiance", "absorbed_photons", "hours_left"):
        assert np.allclose(a[name], b[name], rtol=1e-12, equal_nan=True), name


def test_what_is_otherwise_is_said_and_what_was_measured_stays(tree):
    before = tree["sources/spectral_irradiance"].copy(deep=True)
    changed = sb.adjust(tree, level={"arc": "50 %"}, hours={"arc": 950}, time=9)
    said = json.loads(sb.compare(changed).attrs["not_measured"])
    assert "taken otherwise than on the bench: level of arc at 50 %, not 100 %" in said
    assert "taken otherwise than on the bench: hours of arc at 950 h, not 900 h" in said
    assert "taken otherwise than on the bench: longest exposure at 9 s, not 30 s" in said
    assert tree["sources/spectral_irradiance"].identical(before)
    assert "adjusted" not in tree.attrs
    assert json.loads(changed.attrs["provenance"])["settings"]["adjusted"]["level"] == {"arc": 0.5}


def test_it_is_said_before_any_advice_and_what_is_set_back_is_not(tree, result):
    changed = sb.adjust(tree, level={"arc": "50 %"}, thickness="1 mm")
    advice = sb.compare(changed).attrs["advice"].splitlines()
    assert advice[0] == (
        "Not the bench as it is: thickness of cover at 1 mm, not 2 mm; level of arc at 50 %, not 100 %."
    )
    assert advice[1].startswith("Test first: ")
    back = sb.compare(sb.adjust(changed, level={"arc": 1}, thickness="2 mm"))
    assert back.attrs["advice"].splitlines()[0].startswith("Test first: ")
    assert "taken otherwise" not in back.attrs["not_measured"]


def test_draws_come_before_what_is_taken_otherwise(tree):
    with pytest.raises(RangeError, match="reduce it with draws, then adjust it"):
        sb.reduce_bench(sb.adjust(tree, time=3), draws=50)


def test_the_report_tells_the_thickness_that_its_figures_are_of(tree, tmp_path):
    changed = sb.adjust(tree, thickness="1 mm")
    page = write_report(tmp_path / "report.html", changed, sb.compare(changed)).read_text(encoding="utf-8")
    assert re.search(r"1 mm \(measured: 2 mm", page)
    assert page.index("Not the bench as it is: thickness of cover at 1 mm") < page.index("Test first:")


def test_what_was_taken_to_be_otherwise_is_saved_and_can_be_made_again(bench):
    (bench.folder / "results").mkdir()
    changed = sb.adjust(bench.folder, thickness="1 mm", time="9 s", level={"arc": "50 %"})
    sb.save(sb.compare(changed), bench.folder / "results" / "thin.nc")
    sb.save(sb.compare(bench.folder), bench.folder / "results" / "as_it_is.nc")
    found = sb.verify(bench.folder)
    assert found.ok
    assert str(found).count("bit for bit") == 2


def test_heads_together_go_with_the_level_of_each(bench):
    """Light of several heads is a sum: a head at half of its level gives half of its part."""
    text = (
        '[[together]]\nname = "both"\nheads = [{ source = "LED 385" }, { source = "LED 405" }]\n\n'
        '[[source]]\nname = "arc"\n'
    )
    bench.manifest('[[source]]\nname = "arc"\n', text)
    tree = sb.reduce_bench(bench.folder)
    alone = sb.compare(tree).irradiance_at_bond
    half = sb.compare(sb.adjust(tree, hours={"LED 405": 10_500})).irradiance_at_bond
    lost = 1 - half.sel(source="LED 405") / alone.sel(source="LED 405")
    both = alone.sel(source="both") - lost * alone.sel(source="LED 405")
    assert half.sel(source="both").item() == pytest.approx(both.item(), rel=1e-9)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"thickness": {"lid": 1}}, 'there is no "lid" with a thickness in this bench; it has "cover"'),
        ({"thickness": 0}, "the thickness of cover is above 0 mm, not 0 mm"),
        ({"level": {"arc": "101 %"}}, "the level of arc lies above 0 and at 100 % or below, not at 101 %"),
        ({"level": 0}, "the level of arc lies above 0 and at 100 % or below, not at 0 %"),
        ({"hours": {"arc": -1}}, "the hours of arc are 0 h or more, not -1 h"),
        ({"time": "-1 s"}, "the time is 0 s or more, not -1 s"),
        (
            {"hours": {"LED 405": "60000 h"}},
            r"LED 405 is replaced after 20000 h \(end_of_life\): up to 20000 h of use can be told, not 60000",
        ),
        (
            {"hours": {"LED 385": 1}},
            "no other hours of LED 385 follow: not stated: its output over these hours",
        ),
        ({"level": 40}, 'not at 4000 %; a plain number is a share, such as 0.4 for "40 %"'),
        ({"level": ["40 %"]}, r"the level of arc is a number or a text with a unit, not \['40 %'\]"),
        ({"hours": {"arc": True}}, "the hours of arc is a number or a text with a unit, not True"),
        ({"thickness": "1 mm ± 0.2 mm"}, "without a ± .*: write it into bench.toml, as working_thickness"),
        ({"thickness": "99 mm"}, "was measured 2 mm thick, from which 0.2 to 20 mm can be told, not 99 mm"),
        ({"time": {"arc": 3}}, 'the time is one value for the bench, such as "3 s", not of "arc"'),
        ({"distance": {"arc": 20}}, "another distance of arc takes its beam: write the irradiance at two"),
        ({"distance": {"LED 405": "4 cm"}}, "from 8 to 30 mm, not at 40 mm: nothing is extrapolated"),
    ],
)
def test_what_a_bench_cannot_answer_for_is_refused(tree, given, words):
    with pytest.raises(RangeError, match=words):
        sb.adjust(tree, **given)


def test_a_thickness_takes_the_refractive_index(bench):
    bench.manifest('index = "1.53 ± 0.005"\n', "")
    with pytest.raises(RangeError, match="another thickness of cover takes its refractive index: write"):
        sb.adjust(bench.folder, thickness="1 mm")


def test_a_value_of_another_kind_is_refused(tree):
    with pytest.raises(UnitsError, match="mm"):
        sb.adjust(tree, distance={"LED 405": "3 s"})
