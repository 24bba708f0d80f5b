"""One figure along one control: where it crosses its limit, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.crossing import Crossing, crossings, follow, span_of, steps_of
from spectralbench.errors import RangeError


@pytest.fixture(scope="module")
def tree(lean):
    return sb.reduce_bench(lean)


def test_light_goes_with_the_level_so_that_the_crossing_is_a_ratio(tree):
    found = follow(tree, "irradiance", "level", steps_of(tree, "level"))
    light = sb.compare(tree).band_irradiance
    at = {one.source: one.at for one in crossings(found)}
    for name in ("LED 385", "LED 405"):
        assert at[name] == pytest.approx(600.0 / light.sel(source=name).item(), rel=1e-6)
    assert all(one.rising for one in crossings(found))
    assert "LED 365" not in at  # fails at any level


def test_an_output_that_halves_crosses_by_its_logarithm(tree):
    """LED 405 has lost half after 20,000 h: it falls to a share s after 20,000 h · log2(1/s)."""
    strict = sb.adjust(tree, level={"LED 405": 0.08})
    light = sb.compare(strict).band_irradiance.sel(source="LED 405").item()
    (one,) = [
        one
        for one in crossings(follow(strict, "irradiance", "hours", [0.0, 5e3, 1e4, 2e4]))
        if one.source == "LED 405"
    ]
    assert one.at == pytest.approx(500 + 20_000 * np.log2(light / 600.0), rel=1e-4)
    assert not one.rising


def test_hours_are_followed_as_far_as_the_log_carries(bench):
    """900 h are logged, and 5,400 h can be told; another LED goes on to the end of its life."""
    bench.manifest('[[ageing]]\nsource = "arc"', '[[ageing]]\nsource = "LED 385"')
    tree = sb.reduce_bench(bench.folder)
    assert span_of(tree, "hours", "LED 385") == (0.0, 5400.0)
    steps = steps_of(tree, "hours")
    assert {5400.0, 20000.0} <= set(steps)
    found = follow(tree, "irradiance", "hours", steps).value.sel(source="LED 385")
    assert found.notnull().values.tolist() == [step <= 5400 for step in found.step.values]


def test_a_thickness_crosses_where_the_comparison_says_it_does(tree):
    steps = steps_of(tree, "thickness", "cover")
    (one,) = crossings(follow(tree, "irradiance", "thickness", steps, "cover"))
    assert one.source == "LED 365"
    for thickness, met in ((0.99 * one.at, "met"), (1.01 * one.at, "not met")):
        result = sb.compare(sb.adjust(tree, thickness={"cover": thickness}))
        assert result.verdict.sel(source="LED 365", criterion="irradiance").item() == met


def test_a_time_is_followed_to_its_longest(tree):
    found = follow(tree, "time", "level", [0.05, 0.2, 1.0])
    assert bool(found["at_most"])
    assert float(found["limit"]) == 30.0
    assert (found.value.sel(source="LED 405").diff("step") < 0).all()


def test_a_temperature_is_followed_too_with_its_interval(three):
    tree = sb.reduce_bench(three, draws=30, seed=2)
    found = follow(tree, "temperature", "level", [0.1, 0.5, 1.0])
    one = found.sel(source="LED 405")
    assert (one.low <= one.value).all()
    assert (one.value <= one.high).all()
    assert (one.value.diff("step") > 0).all()
    assert found.attrs["units"] == "K"


def test_nothing_is_followed_where_a_bench_says_nothing(tree):
    found = follow(tree, "irradiance", "distance", steps_of(tree, "distance", count=3))
    assert np.isnan(found.value.sel(source="arc")).all()
    assert np.isfinite(found.value.sel(source="LED 405")).all()
    beyond = follow(tree, "irradiance", "distance", [5.0, 12.0])
    assert np.isnan(beyond.value.sel(source="LED 405", step=5.0))
    hours = follow(tree, "irradiance", "hours", [0.0, 3000.0, 20_000.0])
    assert np.isnan(hours.value.sel(source="arc", step=20_000.0))  # it is replaced at 3,000 h
    assert np.isnan(hours.value.sel(source="LED 385")).all()


def test_a_control_reaches_as_far_as_something_was_measured(tree):
    assert span_of(tree, "distance") == (8.0, 30.0)
    assert span_of(tree, "hours") == (0.0, 20_000.0)
    assert span_of(tree, "level", "arc") == (0.01, 1.0)
    assert span_of(tree, "distance", "arc") == (0.0, 0.0)
    assert steps_of(tree, "distance")[0] == 8.0


def test_a_power_law_crosses_on_the_logarithms():
    """400 · (10 / d)² falls below 100 at 20."""
    distance = np.array([8.0, 40.0])
    light = xr.DataArray(
        [400 * (10 / distance) ** 2], {"source": ["LED"], "step": distance}, ("source", "step")
    )
    data = xr.Dataset({"value": light, "limit": 100.0}, attrs={"control": "distance"})
    (one,) = crossings(data)
    assert one == Crossing("LED", pytest.approx(20.0, rel=1e-12), False)


def test_what_cannot_be_followed_is_refused(tree):
    with pytest.raises(RangeError, match='no criterion "spectrum" to follow'):
        follow(tree, "spectrum", "level", [1.0])
