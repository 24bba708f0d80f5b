"""Frames and their darks: which of the two is blamed where they do not fit."""

from __future__ import annotations

import re

import pytest

import spectralbench as sb


@pytest.fixture(scope="module")
def original(three):
    return three


def dark_of(bench, name):
    """The dark of the integration time of a frame, and its text."""
    text = (bench.folder / "raw" / f"{name}.csv").read_text(encoding="utf-8")
    time = re.search(r"integration.time: (\S+ \S+)", text)[1]
    for path in sorted((bench.folder / "raw").glob("dark_*.csv")):
        if time in path.read_text(encoding="utf-8"):
            return path.stem, path.read_text(encoding="utf-8")
    raise AssertionError(time)


def test_a_dark_swapped_with_a_frame_is_one_fault_that_names_both(bench):
    dark, _ = dark_of(bench, "led_405")
    bench("bench.toml", rf'"raw/{dark}.csv"', '"raw/x.csv"')
    bench("bench.toml", '"raw/led_405.csv"', f'"raw/{dark}.csv"')
    bench("bench.toml", '"raw/x.csv"', '"raw/led_405.csv"')
    fault = bench.fault(sb.reduce_bench)
    assert fault.file.startswith("raw/led_405.csv (dark.")
    assert re.match(r"\d+ counts more than raw/\w+.csv, near \d+ nm", fault.found)
    assert fault.expected == "a dark without light"
    assert fault.advice == f"raw/{dark}.csv (source.3.frame) shows hardly any light: the two look swapped."


def test_a_dark_with_the_shutter_open_is_one_fault(bench):
    dark, _ = dark_of(bench, "cover")
    text = (bench.folder / "raw/reference_before.csv").read_text(encoding="utf-8")
    (bench.folder / f"raw/{dark}.csv").write_text(text, encoding="utf-8")
    fault = bench.fault(sb.reduce_bench)
    assert fault.file.startswith(f"raw/{dark}.csv (dark.")
    assert "counts more than raw/cover.csv" in fault.found
    assert fault.advice == "Was the shutter open?"


def test_a_frame_from_which_the_dark_was_taken_off_already_is_blamed_itself(bench):
    dark, _ = dark_of(bench, "led_405")
    level = sb.read(bench.folder / f"raw/{dark}.csv")["counts"].median().item()

    def less(row):
        at, *counts = row[0].split(",")
        return ",".join([at, *(str(max(float(count) - level, 0.0)) for count in counts)])

    bench("raw/led_405.csv", r"^\d.*$", less)
    fault = bench.fault(sb.reduce_bench)
    assert fault.file.startswith("raw/led_405.csv (source.3.frame")
    assert re.match(rf"\d+ counts less than in the dark, raw/{dark}.csv, near \d+ nm", fault.found)
    assert "taken off the frame already?" in fault.advice
