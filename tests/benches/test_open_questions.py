"""What a bench leaves open is asked for, and what was answered is not asked again."""

from __future__ import annotations

import json
import tomllib

import pytest

import spectralbench as sb
from spectralbench.benches.open_questions import (
    added,
    collected,
    placeholders,
    reciprocity_taken,
    set_aside,
    unscanned,
)
from spectralbench.benches.schema import Manifest

PART, ADHESIVE, REQUIREMENT = 'name = "cover"\n', 'name = "adhesive (invented)"\n', "[requirement]\n"
NAMES = ("arc", "arc, filtered", "LED 365", "LED 385", "LED 405")
WIDTH = (ADHESIVE, 'bond_width = "3 mm"\n')


@pytest.fixture(scope="module")
def text(demo, plain):
    """The manifest of the demo, without what the tests here say themselves."""
    return plain((demo / "bench.toml").read_text(encoding="utf-8"))


def read(text, *additions):
    for place, lines in additions:
        assert place in text
        text = text.replace(place, place + lines, 1)
    return Manifest.model_validate(tomllib.loads(text))


def scans(*names):
    return [(f'name = "{name}"\n', f'profile = "raw/{i}.csv"\n') for i, name in enumerate(names)]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("", "was the light behind it collected in a sphere, or only what goes straight on (collected)?"),
        ('collected = "total"\n', "the regular transmittance is not known: if the part scatters, less than"),
        ('collected = "regular"\n', "the total transmittance is not known: if the part scatters, more than"),
    ],
)
def test_a_part_that_was_measured_one_way_may_scatter(text, line, said):
    (sentence,) = collected(read(text, (PART, line)))
    assert sentence.startswith(f"haze of cover: {said}")


def test_a_part_that_was_measured_both_ways_leaves_nothing_open(text):
    both = 'collected = "total"\nregular = { sample = "raw/a.csv", references = ["raw/b.csv"] }\n'
    assert collected(read(text, (PART, both))) == []


def test_each_part_is_asked_for_by_its_name(text):
    second = '[[part]]\nname = "window"\nmaterial = "glass"\nthickness = "1 mm"\n'
    second += 'sample = "raw/a.csv"\nreferences = ["raw/b.csv"]\ncollected = "total"\n\n'
    sentences = collected(read(text.replace("[[part]]\n", f"{second}[[part]]\n", 1)))
    assert [sentence.partition(":")[0] for sentence in sentences] == ["haze of window", "haze of cover"]


def test_a_bond_without_a_width_is_lit_nobody_knows_how(text):
    (sentence,) = unscanned(read(text, *scans(*NAMES)))
    assert "nobody says how wide the bond is (bond_width)" in sentence


def test_sources_without_a_scan_are_named(text):
    (sentence,) = unscanned(read(text, WIDTH, *scans(*NAMES[1:4])))
    assert sentence.startswith("evenness: the spot of arc; LED 405 was not scanned (profile)")


def test_where_every_spot_was_scanned_nothing_is_open(text):
    assert unscanned(read(text, WIDTH, *scans(*NAMES))) == []


def test_a_scan_along_the_travel_leaves_the_width_open(text):
    speed = (REQUIREMENT, 'speed = "20 mm/s"\n')
    (sentence,) = unscanned(read(text, WIDTH, speed, *scans(*NAMES)))
    assert sentence.startswith("evenness: scans lie along the travel")


def test_whether_a_pigment_is_of_the_data_sheet_is_asked_until_it_is_said(text):
    resin = '[[adhesive.absorber]]\nname = "pigment"\ncurve = "raw/pigment.csv"\nlayer = "1 mm"\n'
    place = "[requirement]\n"
    before = text.replace(place, resin + "{}\n" + place, 1)
    sheet = 'data_sheet_wavelength = "365 nm"\n'
    (said,) = added(read(before.replace("{}", "")))
    assert said.startswith("pigment: did the adhesive of the data sheet hold it too (in_data_sheet)?")
    for answer in ("true", "false"):
        assert added(read(before.replace("{}", f"in_data_sheet = {answer}"))) == []
    assert added(read(before.replace("{}", "").replace(sheet, ""))) == []  # nothing is worked out for it


def test_a_longest_exposure_beside_a_speed_is_set_aside_aloud(text):
    (said,) = set_aside(read(text, (REQUIREMENT, 'speed = "5 mm/s"\n')))
    assert said.startswith("maximum_time has no say beside speed")
    without = text.replace('maximum_time = "30 s"\n', "")
    assert set_aside(read(without, (REQUIREMENT, 'speed = "5 mm/s"\n'))) == []


def test_a_name_that_is_still_a_placeholder_is_told(text):
    """The line at the top is gone, and the values may be those of the template all the same."""
    assert placeholders(text) == []
    assert placeholders(text + '# name = "LED (placeholder)"\n') == []
    (said,) = placeholders(text + 'name = "LED (placeholder)"\n')
    assert 'still calls 1 of its names a placeholder, such as name = "LED (placeholder)"' in said


@pytest.mark.parametrize(
    ("line", "leaning", "asked"),
    [
        ("", "the rate is 6 times the known one", True),
        ("", "", False),
        ('reciprocity = "0.8"\n', "the rate is 6 times the known one", True),
        ('reciprocity = "0.8 ± 0.1"\n', "the rate is 6 times the known one", False),
    ],
)
def test_an_exponent_without_an_uncertainty_is_asked_for_where_it_counts(text, line, leaning, asked):
    said = reciprocity_taken(read(text, (ADHESIVE, line)), leaning)
    assert len(said) == asked
    if asked:
        assert f"(exponent {0.8 if line else 1}, with no ±" in said[0]
        assert said[0].endswith(f"): {leaning}")


def test_a_comparison_says_how_far_its_times_lean_on_the_exponent(reduced):
    result = sb.compare(reduced)
    (said,) = [one for one in json.loads(result.attrs["not_measured"]) if one.startswith("reciprocity: ")]
    assert said.endswith(f"): {result.photon_time.attrs['comment']}")
    assert "an exponent that is off by 0.1 changes the time" in said
