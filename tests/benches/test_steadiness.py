"""Frames that can be used and should not be trusted: a lamp that warms up, a light that is clipped."""

from __future__ import annotations

import json

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.steadiness import flat, unsteady
from spectralbench.corrections import NoiseModel

GRID = {"wavelength": np.arange(340.0, 440.0)}
DARK = xr.DataArray(np.full(100, 1000.0), GRID, "wavelength")
MODEL = NoiseModel(100.0, 0.5)


def frame(levels, height=40_000.0, seed=1):
    """Scans of one light, each at a level of its own, with the noise of the model."""
    light = height * np.exp(-(((GRID["wavelength"] - 390) / 12) ** 2))
    counts = DARK.values + np.asarray(levels, float)[:, None] * light
    random = np.random.default_rng(seed).standard_normal(counts.shape)
    counts = np.rint(counts + random * np.sqrt(MODEL.variance(counts)))
    return xr.DataArray(counts, GRID, ("spectrum", "wavelength"))


def test_a_lamp_that_warms_up_is_told_by_its_change_over_the_series():
    # 0.23 of the median level of 0.865, and 0.12 of 0.94
    (said,) = unsteady("lamp.csv", frame(np.linspace(0.75, 0.98, 10)), DARK, MODEL)
    assert said.startswith("lamp.csv: its light rose by 27 % from its first scan to its last, as of a lamp")
    (said,) = unsteady("lamp.csv", frame(np.linspace(1.0, 0.88, 6)), DARK, MODEL)
    assert said.startswith("lamp.csv: its light fell by 13 % from its first scan to its last. Their mean")


def flickering(seed):
    return 1 + 0.01 * np.random.default_rng(seed).standard_normal(8)


@pytest.mark.parametrize(
    "levels",
    [
        np.ones(8),
        np.linspace(1.0, 1.015, 8),
        np.where(np.arange(8) == 5, 0.6, 1.0),
        [1.0, 0.8],
        *map(flickering, range(5)),
    ],
)
def test_flicker_one_dropped_scan_and_a_small_trend_are_none(levels):
    assert unsteady("lamp.csv", frame(levels), DARK, MODEL) == []


def test_a_frame_without_light_has_no_trend():
    assert unsteady("led.csv", frame(np.linspace(0, 1, 6), height=-900.0), DARK, MODEL) == []
    assert unsteady("led.csv", frame([1.0])[0], DARK, MODEL) == []


@pytest.mark.parametrize("scans", [1, 6])
def test_a_flat_top_below_saturation_is_told(scans):
    cut = frame(np.ones(scans), height=70_000.0).clip(max=60_000)
    # 70,000 exp(-(x/12)²) above the dark stands clear of 59,000 as far as 4.96 nm from its middle
    (said,) = flat("led.csv", cut, MODEL, 62_258.25)
    assert said.startswith("led.csv: 9 pixels at 386.0–394.0 nm stand at 60000 counts in every scan")
    assert "the saturation that is stated, 62258 counts" in said
    assert "a shorter exposure" in said


def test_a_top_that_moves_a_single_pixel_and_a_quiet_detector_are_none():
    assert flat("led.csv", frame(np.ones(6)), MODEL, 62_258.0) == []
    stuck = frame(np.ones(6))
    stuck[:, 50] = 55_000.0
    assert flat("led.csv", stuck, MODEL, 62_258.0) == []
    rounded = frame(np.ones(6), height=70_000.0).clip(max=60_000)
    assert flat("led.csv", rounded, NoiseModel(0.01, 0.0), 62_258.0) == []
    assert flat("led.csv", rounded, None, 62_258.0) == []


def test_both_are_said_of_a_bench(lean, tmp_path):
    """The lamp of the small bench rises over its scans, and a source stands at 30,000 counts."""
    opened = sb.open_bench(lean)
    tree = opened.copy()
    tree.attrs = dict(opened.attrs)
    lamp = opened["standard_lamp/frame"].to_dataset()
    levels = xr.DataArray(np.linspace(0.75, 0.98, lamp.sizes["spectrum"]), dims="spectrum")
    low = float(lamp.counts.min())
    tree["standard_lamp/frame"] = xr.DataTree(lamp.assign(counts=low + (lamp.counts - low) * levels))
    led = opened["source/LED 405/frame"].to_dataset()
    top = float(np.sort(led.counts.mean("spectrum").values)[-4])
    tree["source/LED 405/frame"] = xr.DataTree(led.assign(counts=led.counts.clip(max=0.9 * top)))
    reduced = sb.reduce_bench(tree)
    said = json.loads(reduced["sources"].attrs["cautions"])
    assert [text.partition(": ")[0] for text in said] == ["raw/standard_lamp.csv", "raw/led_405.csv"]
    assert "still warming up" in said[0]
    assert "clipped" in said[1]
    assert set(said) <= set(json.loads(sb.compare(reduced).attrs["not_measured"]))
