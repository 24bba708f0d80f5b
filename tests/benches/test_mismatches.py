"""Frames against the instrument: rows left out, and integration times that nobody understood."""

from __future__ import annotations

import json
import re

import pytest

import spectralbench as sb


@pytest.fixture(scope="module")
def original(three):
    return three


ROW = re.compile(r"^(\d+(?:\.\d+)?),.*\n", re.MULTILINE)


def without_rows(folder, low, high):
    """Leaves the same wavelengths out of every frame; how many they are."""
    gone = 0
    for path in (folder / "raw").glob("*.csv"):
        text = path.read_text(encoding="utf-8")
        if "counts" in text:
            lost = [row[0] for row in ROW.finditer(text) if low < float(row[1]) < high]
            path.write_text(
                ROW.sub(lambda row: "" if low < float(row[1]) < high else row[0], text), encoding="utf-8"
            )
            gone = len(lost)
    return gone


@pytest.mark.parametrize("high", [400, 440])
def test_rows_left_out_of_every_frame_are_a_fault(bench, high):
    gone = without_rows(bench.folder, 390, high)
    bench.manifest("pixels = 128", f"pixels = {128 - gone}")
    faults = bench.faults()
    assert len(faults) == 4 + 1 + 3 + 3  # darks, the lamp, sources, the part
    for fault in faults:
        assert re.fullmatch(
            r"no values between 38\d\.\d+ and 4\d\d\.?\d* nm, a step of [\d.]+ nm where the steps beside it "
            r"are 4\.04 nm",
            fault.found,
        )
        assert fault.expected == "a row for each pixel of the instrument"
        assert fault.advice == (
            "Save it anew with all its rows, for what is left out becomes a straight line; a sample that is "
            "not valid is marked invalid, in a copy of the file."
        )


def test_what_the_fault_advises_helps(bench):
    """A sample marked invalid is one that is not valid, and the bench opens."""
    text = (bench.folder / "raw/led_405.csv").read_text(encoding="utf-8")
    row = next(row for row in ROW.finditer(text) if float(row[1]) > 402)
    count = row[0].count(",")
    bench("raw/led_405.csv", f"^{re.escape(row[1])},.*", row[1] + ",invalid" * count)
    light = sb.reduce_bench(bench.folder)["sources/spectral_irradiance"].sel(source="LED 405")
    assert light.isnull().any()


def test_a_gap_in_a_curve_opens_and_is_named_with_what_was_not_measured(bench):
    bench("raw/initiator_a.csv", r"^3(?:8[2-9]|9\d)(?:\.\d*)?,.*\n", "")
    tree = sb.reduce_bench(bench.folder)
    (text,) = [text for text in json.loads(tree["adhesive"].attrs["cautions"]) if "no values" in text]
    assert re.match(r"curve of initiator A: no values between 38[01] and 400 nm, a step of", text)


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ("# Dwell (ms): 20", '; "Dwell (ms): 20" in the header is not understood as one'),
        ("# gate: 20 ms", '; "gate: 20 ms" in the header is not understood as one'),
        ("# exposure time: 20", '; "exposure time: 20" in the header is not understood as one'),
        ("# slit: 25 µm", ""),
    ],
)
def test_a_time_that_is_not_understood_is_shown(bench, line, seen):
    bench("raw/cover.csv", "^# integration.*", line)
    bench("raw/reference_after.csv", "^# integration.*\n", "")
    sample, reference = bench.faults()
    assert sample.found == f"no integration time{seen}"
    assert reference.found == "no integration time"
    stated = 'State it in the manifest, as {}{{ file = "raw/{}.csv", integration_time = "20 ms" }}.'
    assert sample.advice == stated.format("sample = ", "cover")
    assert reference.advice == stated.format("one of references: ", "reference_after")


def test_the_manifest_takes_what_the_fault_advises(bench):
    bench("raw/cover.csv", "^# integration.*", "# Dwell (ms): 20")
    stated = bench.fault().advice.partition(", as ")[2].rstrip(".")
    bench.manifest('sample = "raw/cover.csv"', stated)
    assert float(sb.open_bench(bench.folder)["part/cover/sample/integration_time"]) == 0.02
