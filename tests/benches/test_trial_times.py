"""Times to try out: about the exposure, of what is worth a trial, within the limits of the bench."""

from __future__ import annotations

import re
import shutil

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.benches.first_manifest import PLACEHOLDERS
from spectralbench.benches.trial_times import trial_times

LINE = 'maximum_time = "30 s"\nmaximum_temperature = "85 °C"\n'


@pytest.fixture
def found(small, tmp_path):
    """What there is to try out on the small bench with other lines in its manifest, and its comparison."""

    def of(changes, draws=0):
        folder = shutil.copytree(small, tmp_path / f"bench{len(list(tmp_path.iterdir()))}")
        text = (folder / "bench.toml").read_text(encoding="utf-8")
        for old, new in changes.items():
            assert text.count(old) == 1
            text = text.replace(old, new)
        (folder / "bench.toml").write_text(text, encoding="utf-8")
        tree = sb.reduce_bench(folder, draws=draws, seed=1)
        result = sb.compare(tree)
        return trial_times(tree, result), result

    return of


def test_sources_are_those_of_the_advice_in_its_order(found):
    times, result = found({}, draws=60)
    advised = re.findall(r"(?:Test first: |Then: |; )(\S[^;:]*?) for \d", result.attrs["advice"])
    assert times.source.values.tolist() == advised == ["LED 405", "LED 385", "arc, filtered"]
    assert "Measure again before a trial: arc." in result.attrs["advice"]


def test_the_exposure_comes_first_then_shorter_then_longer_as_far_as_the_line_allows(found):
    times, result = found({})
    assert times.factor.values.tolist() == [1, 0.75, 0.5, 1.5, 2]
    exposure = result.exposure_time.sel(source=times.source)
    due = exposure.values[:, None] * times.factor.values
    assert times.time.values == pytest.approx(np.where(due <= 30, due, np.nan), nan_ok=True)
    assert times.time.sel(source="arc, filtered").isnull().values.tolist() == [False] * 3 + [True] * 2
    why = times.left_out.sel(source="arc, filtered").values.tolist()
    assert why[:3] == ["", "", ""]
    assert re.fullmatch(r"(\d\d\.\d) s is beyond the maximum_time of bench.toml, 30 s", why[3])


def test_the_temperature_at_the_exposure_is_that_of_the_comparison(found):
    times, result = found({})
    here = result.peak_temperature.sel(source=times.source)
    assert times.temperature.sel(factor=1).values == pytest.approx(here.values, rel=1e-12)


def test_the_temperature_at_twice_the_exposure_is_that_of_a_bench_that_needs_twice_the_dose(found):
    no_reaction = {'reaction_heat = "180 J/g"': 'reaction_heat = "0 J/g"'}
    times, _ = found(no_reaction)
    _, twice = found(no_reaction | {'dose = "1.8 J/cm^2"': 'dose = "3.6 J/cm^2"'})
    there = twice.peak_temperature.sel(source=times.source)
    assert times.temperature.sel(factor=2).values == pytest.approx(there.values, rel=1e-9)


def test_a_reaction_that_goes_on_as_fast_is_the_warm_side(found):
    times, _ = found({})
    _, twice = found({'dose = "1.8 J/cm^2"': 'dose = "3.6 J/cm^2"'})  # the same heat in twice the time
    assert (times.temperature.sel(factor=2) > twice.peak_temperature.sel(source=times.source)).all()


def test_no_time_makes_it_too_warm(found):
    """The line allows minutes; what the part bears decides, in all but 5 % of the draws."""
    times, _ = found({LINE: 'maximum_time = "300 s"\nmaximum_temperature = "70 °C"\n'}, draws=60)
    offered = times.temperature.where(times.time.notnull())
    assert offered.max() <= 273.15 + 71  # the upper end of the interval is passed by 2.5 %, not by 5 %
    warm = re.fullmatch(
        r"\S+ s makes it up to (\S+) °C warm, and the maximum_temperature of bench.toml is 70 °C",
        times.left_out.sel(source="arc, filtered", factor=2).item(),
    )
    assert float(warm[1]) > 70


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('maximum_temperature = "85 °C"\n', "bench.toml states no maximum_time"),
        ('maximum_time = "30 s"\n', "bench.toml states no maximum_temperature"),
    ],
)
def test_nothing_is_longer_where_a_limit_is_not_stated(found, line, why):
    times, _ = found({LINE: line})
    assert times.time.sel(factor=slice(None, 0.5)).notnull().all()
    assert times.time.isel(factor=[3, 4]).isnull().all()
    assert why in times.left_out.sel(source="LED 405", factor=2).item()


def test_nothing_is_longer_where_nobody_knows_how_warm_it_gets(small, without, tmp_path):
    folder = without(small, tmp_path / "bench", "[heat]", "[heat.backing]")
    tree = sb.reduce_bench(folder)
    times = trial_times(tree, sb.compare(tree)).sel(source="LED 405")
    assert times.time.notnull().values.tolist() == [True] * 3 + [False] * 2
    assert times.left_out.values[3].endswith("longer than the exposure, and how warm it gets is not known")
    assert times.temperature.isnull().all()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"# A demo bench.": f"# {PLACEHOLDERS}."},
            "Nothing here is worth a trial yet: bench.toml",
        ),
        ({'maximum_time = "30 s"': 'speed = "1 mm/s"'}, "A part that travels is tried out by its speed"),
        ({'minimum_irradiance = "60 mW': 'minimum_irradiance = "6e6 mW'}, "No source is worth a trial as it"),
    ],
)
def test_where_there_is_nothing_to_try_out_it_says_why(found, changes, said):
    times, _ = found(changes)
    assert dict(times.sizes) == {"source": 0, "factor": 5}
    assert times.attrs["comment"].startswith(said)
