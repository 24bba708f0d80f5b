"""A frame check in a notebook, without a browser: what is left out has a reason, and is gone everywhere."""

from __future__ import annotations

import shutil
import tomllib

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.corrections import NoiseModel
from spectralbench.corrections.frame_checks import check_frame
from spectralbench.errors import RangeError
from spectralbench.payload import unpack
from spectralbench.widgets.frame_check import FrameCheck

FULL = 65535


@pytest.fixture
def check(demo):
    return FrameCheck(demo, "LED 405")


@pytest.fixture
def counts(demo):
    """Eight scans, of which the lamp flickered in the third."""
    frame = sb.read(demo / "raw" / "led_385.csv")["counts"]
    dark = sb.read(demo / "raw" / "dark_5ms.csv")["counts"].values.mean(axis=0)
    values = frame.values.astype(float)
    values[2] = dark + 0.8 * (values[2] - dark)
    return frame.copy(data=values)


def rows(check):
    return check.check["scans"]


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("LED 405", "source.5.frame"),
        ("raw/led_405.csv", "source.5.frame"),
        ("led_405.csv", "source.5.frame"),
        ("source.5.frame", "source.5.frame"),
        ("/source/LED 405/frame", "source.5.frame"),
        ("part.1.references.2", "part.1.references.2"),
    ],
)
def test_a_frame_goes_by_its_file_its_key_or_its_source(demo, name, key):
    assert FrameCheck(demo, name)._taken.role.key == key


def test_it_says_what_a_check_says(demo, check):
    darks = [sb.read(demo / "raw" / "dark_2ms.csv")["counts"]]
    frame = sb.read(demo / "raw" / "led_405.csv")["counts"]
    xr.testing.assert_identical(check.result, check_frame(frame, FULL, 0.95, dark=darks[0]))
    assert check.check["verdict"] == "may be used"
    assert len(rows(check)) == 8


def test_python_leaves_a_scan_out_and_takes_it_back(check):
    check.left_out = {3: " lamp  flickered "}
    assert check.left_out == {3: "lamp flickered"}
    assert check.kept.sizes["spectrum"] == check.result.sizes["spectrum"] == 7
    assert check.kept.attrs["history"].splitlines()[-1] == "left out scan 3 of 8: lamp flickered"
    assert rows(check)[2]["verdict"] == "left out"
    assert rows(check)[2]["reason"] == "lamp flickered"
    assert check.check["mean"].startswith("7 of 8 scans are used; one scan scatters by ")
    check.left_out = {}
    assert check.kept is check._taken.counts
    assert rows(check)[2]["verdict"] == "may be used"


def test_an_odd_scan_is_odd_until_it_is_left_out(demo, counts):
    dark = sb.read(demo / "raw" / "dark_5ms.csv")["counts"]
    check = FrameCheck(counts, full_scale="65535", dark=dark)
    assert check.check["verdict"] == "with care"
    assert [row["number"] for row in rows(check) if row["odd"]] == [3]
    assert rows(check)[2]["level"].startswith("−20.")
    header, arrays = unpack(check.apart)
    labels = [curve["label"] for curve in header["curves"]]
    assert labels == ["mean of 8", "standard deviation of one scan", "scan 3"]
    mean = counts.values.mean(axis=0)
    assert arrays["y2"] == pytest.approx(counts.values[2] - mean, abs=0.01)
    check.left_out = {3: "lamp flickered"}
    assert check.check["verdict"] == "may be used"
    header, arrays = unpack(check.apart)
    assert arrays["y0"] == pytest.approx(np.delete(counts.values, 2, axis=0).mean(axis=0), abs=0.01)
    assert rows(check)[2]["odd"]
    assert rows(check)[2]["level"].startswith("−20.")  # as against all


def test_what_a_browser_leaves_out_comes_as_text(check):
    seen = []
    check.observe(lambda change: seen.append(change["new"]), "result")
    check.set_state({"left_out": {"3": "lamp flickered", "5": "door"}})
    assert check.left_out == {3: "lamp flickered", 5: "door"}
    assert seen == [check.result]
    assert check.result.sizes["spectrum"] == 6
    assert check.kept.attrs["history"].endswith("left out scans 3, 5 of 8: lamp flickered (3); door (5)")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({9: "lamp"}, "there is no scan 9 in this frame: they count from 1 to 8"),
        ({3: " "}, 'scan 3 is left out without a reason: write what was seen, such as "the lamp flickered"'),
        ({3: None}, "scan 3 is left out without a reason"),
        ({"first": "lamp"}, 'scans are numbers that count from 1, not "first"'),
        (dict.fromkeys(range(1, 9), "lamp"), "all 8 scans of this frame are left out"),
    ],
)
def test_what_cannot_be_left_out_is_refused_and_nothing_changes(check, value, words):
    check.left_out = {2: "door"}
    result = check.result
    with pytest.raises(RangeError, match=words):
        check.left_out = value
    check.set_state({"left_out": {str(number): reason for number, reason in value.items()}})
    assert check.state.startswith(f"refused: {words[:30]}")
    assert check.left_out == {2: "door"}
    assert check.result is result
    check.set_state({"left_out": {"2": "door open"}})
    assert check.state == ""


def test_the_manifest_says_it_and_the_bench_then_leaves_it_out(demo, tmp_path, check):
    check.left_out = {3: 'the "other" lamp', 1: "door"}
    line = check.as_manifest()
    table = tomllib.loads(line)["frame"]
    assert table == {
        "file": "raw/led_405.csv",
        "left_out": [1, 3],
        "because": 'door (1); the "other" lamp (3)',
    }
    folder = shutil.copytree(demo, tmp_path / "bench")
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    assert 'frame = "raw/led_405.csv"' in text
    manifest.write_text(text.replace('frame = "raw/led_405.csv"', line), encoding="utf-8")
    again = FrameCheck(folder, "LED 405")
    assert again.left_out == dict.fromkeys([1, 3], table["because"])
    assert again.result.sizes["spectrum"] == 6


def test_what_the_manifest_says_of_other_frames(demo):
    assert FrameCheck(demo, "raw/cover.csv").as_manifest() == 'sample = "raw/cover.csv"'
    reference = FrameCheck(demo, "part.1.references.2", left_out={2: "door"})
    assert (
        reference.as_manifest() == '{ file = "raw/reference_after.csv", left_out = [2], because = "door" },'
    )


def test_counts_that_belong_to_no_bench(counts):
    check = FrameCheck(counts.to_dataset(name="counts"), full_scale=FULL, left_out={3: "lamp flickered"})
    assert check.as_manifest() == 'left_out = [3]\nbecause = "lamp flickered"'
    assert check.result.attrs["verdict"] == "may be used"
    with pytest.raises(RangeError, match="full_scale is missing: say how many counts the converter can give"):
        FrameCheck(counts)
    with pytest.raises(RangeError, match="there are no counts in this dataset, but light"):
        FrameCheck(counts.to_dataset(name="light"), full_scale=FULL)


def test_a_frame_that_is_not_there(demo):
    with pytest.raises(RangeError, match=r'there is no frame "lid\.csv" in this bench; there are "raw/dark'):
        FrameCheck(demo, "lid.csv")
    with pytest.raises(RangeError, match="say which frame of this bench is to be checked: "):
        FrameCheck(demo)


def test_references_before_and_after_differ_as_the_reduction_has_it(demo, reduced):
    """By 3.5 %; the reduction works with corrected signals, which a check of raw frames does without."""
    figures = {one["title"]: one for one in FrameCheck(demo, "raw/cover.csv").check["figures"]}
    drift = float(reduced["parts/drift"].item())
    found = figures["references before and after"]
    assert found["found"] == f"{100 * drift:.2g} %"
    assert found["judged"] == "with care"
    assert found["reason"].startswith("the references differ by 3.5 %")
    assert "references before and after" not in {
        one["title"] for one in FrameCheck(demo, "LED 405").check["figures"]
    }


def test_one_reference_says_nothing_of_drift(demo, tmp_path):
    folder = shutil.copytree(demo, tmp_path / "bench")
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    both = 'references = ["raw/reference_before.csv", "raw/reference_after.csv"]'
    assert both in text
    manifest.write_text(text.replace(both, 'references = ["raw/reference_before.csv"]'), encoding="utf-8")
    reasons = FrameCheck(folder, "raw/cover.csv").check["reasons"]
    assert reasons == ["one reference: whether the lamp drifted is not known; take one after the sample"]


def test_a_dark_that_was_not_taken_is_said(demo):
    check = FrameCheck(demo, "arc")  # at 10 ms, of which there is no dark
    dark = next(one for one in check.check["figures"] if one["title"] == "dark")
    assert (dark["found"], dark["limit"]) == ("modelled", "at 10 ms, as this frame")
    assert dark["reason"] == "the dark is modelled at 10 ms from 2 ms, 5 ms, 20 ms, 500 ms"
    assert check.check["words"].startswith("not: saturated in each of 8 scans: 6 pixels at 435.2–436.4 nm")
    assert unpack(check.apart)[0]["stretches"][0] == pytest.approx([435.2, 436.4], abs=0.25)
    taken = FrameCheck(demo, "LED 405").check["figures"][-1]
    assert (taken["title"], taken["found"], taken["judged"]) == ("dark", "taken at 2 ms", "may be used")


def test_a_frame_without_any_dark_may_not_be_used(demo, tmp_path):
    folder = shutil.copytree(demo, tmp_path / "bench")
    raw = folder / "raw" / "led_405.csv"
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    for name in ("dark_5ms", "dark_20ms", "dark_500ms"):
        block = f'[[dark]]\nframe = "raw/{name}.csv"\n'
        assert block in text
        text = text.replace(block, "")
    manifest.write_text(text, encoding="utf-8")
    assert raw.is_file()
    check = FrameCheck(folder, "arc").check
    assert check["verdict"] == "not"
    assert any("there is no dark at 10 ms (there is 2 ms)" in reason for reason in check["reasons"])


def test_noise_that_is_known_is_held_against_the_scans(demo, counts):
    noise = NoiseModel(1.0, 0.0)
    titles = [one["title"] for one in FrameCheck(counts, full_scale=FULL, noise=noise).check["figures"]]
    assert "scatter of pixels against noise" in titles


def test_a_reduced_bench_is_opened_again(reduced):
    assert FrameCheck(reduced, "LED 405").check["verdict"] == "may be used"


def test_of_many_scans_some_are_drawn_and_every_one_is_judged(counts):
    many = xr.concat([counts] * 10, "spectrum")
    check = FrameCheck(many, full_scale=FULL)
    numbers = [curve["number"] for curve in unpack(check.scans)[0]["curves"]]
    assert len(numbers) <= 24
    assert {3, 11} <= set(numbers)
    assert len(rows(check)) == 80


def test_pages_without_a_kernel_get_a_picture_and_the_verdicts(check):
    check.left_out = {3: "lamp flickered"}
    data, _ = check._repr_mimebundle_()
    assert data["image/svg+xml"].startswith("<svg")
    lines = data["text/plain"].splitlines()
    assert lines[0] == "raw/led_405.csv: may be used"
    assert "scan 3: " in lines[4]
    assert lines[4].endswith("left out: lamp flickered")
    assert data["application/vnd.spectralbench.view+json"]["widget"] == "frame_check"
    assert "application/vnd.jupyter.widget-view+json" in data


def test_references_differ_by_the_scans_that_count(demo, tmp_path):
    """A scan of one reference, of another lamp, is left out: the bench and the check then say the same."""
    folder = shutil.copytree(demo, tmp_path / "bench")
    raw = folder / "raw" / "reference_after.csv"
    lines = raw.read_text(encoding="utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line[0].isdigit())
    for i in range(first, len(lines)):
        cells = lines[i].split(",")
        cells[2] = str(round(1.3 * float(cells[2])))
        lines[i] = ",".join(cells)
    raw.write_text("\n".join(lines) + "\n", encoding="utf-8")
    manifest = folder / "bench.toml"
    frame = '{ file = "raw/reference_after.csv", left_out = [2], because = "another lamp was on" }'
    text = manifest.read_text(encoding="utf-8")

    def told():
        figures = FrameCheck(folder, "reference_before.csv").check["figures"]
        return next(one["found"] for one in figures if one["title"] == "references before and after")

    spoilt = told()
    manifest.write_text(text.replace('"raw/reference_after.csv"', frame), encoding="utf-8")
    drift = float(sb.reduce_bench(folder)["parts/drift"].item())
    assert float(told().removesuffix(" %")) == pytest.approx(100 * drift, rel=0.01)
    assert float(spoilt.removesuffix(" %")) != pytest.approx(100 * drift, rel=0.1)
