"""Verifying a pack: what moved, by how much, and why, as far as that can be told."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.reproduction import verifying
from spectralbench.benches.reproduction.causes import causes_of, worth_telling_apart
from spectralbench.benches.reproduction.changed_files import places_changed
from spectralbench.benches.reproduction.differences import Difference, agreement
from spectralbench.benches.reproduction.pack_state import state_of
from spectralbench.benches.reproduction.packing_list import PackingList, listed
from spectralbench.benches.reproduction.saved_results import saved_results
from spectralbench.benches.reproduction.unpacking import opened_pack
from spectralbench.benches.reproduction.verification import (
    DIFFERS,
    NOT_MADE,
    NOT_READ,
    SAME_BITS,
    Verified,
    in_words,
)
from spectralbench.errors import BenchError, ReadError

RESULT = "results/comparison.nc"


@pytest.fixture(scope="module")
def made(three, tmp_path_factory):
    return sb.pack(three, tmp_path_factory.mktemp("packs") / "bench.zip", draws=20, seed=3).path


@pytest.fixture
def rezipped(made, tmp_path):
    """The pack, zipped anew after `change(name, data)`, under another name; None leaves a file out."""

    def of(change, more=()):
        target = tmp_path / "changed.zip"
        with zipfile.ZipFile(made) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
            for name in old.namelist():
                if (data := change(name, old.read(name))) is not None:
                    new.writestr(name, data)
            for name in more:
                new.writestr(name, b"more")
        return target

    return of


def one_count_more(name, data):
    """The count of the second scan at the highest wavelength up to 385 nm, and one more."""
    if name != "raw/led_385.csv":
        return data
    lines = data.splitlines(keepends=True)
    where = max(i for i, line in enumerate(lines) if line[:1].isdigit() and float(line.split(b",")[0]) <= 385)
    cells = lines[where].split(b",")
    cells[2] = b"%d" % (int(cells[2]) + 1)
    return b"".join([*lines[:where], b",".join(cells), *lines[where + 1 :]])


def shorter(name, data):
    return data.replace(b'maximum_time = "30 s"', b'maximum_time = "5 s"') if name == "bench.toml" else data


def other_version(name, data):
    if name != "pack.json":
        return data
    document = json.loads(data)
    document["versions"] |= {"numpy": "1.0", "pint": "0.1", "h5py": "1.2"}
    document["platform"] = "Else, risc, CPython"
    return json.dumps(document).encode()


def left_behind():
    return [
        path.name for path in Path(tempfile.gettempdir()).iterdir() if path.name.startswith("spectralbench-")
    ]


def told(entry, words):
    (text,) = [text for text in entry.said if words in text]
    return text


def test_a_pack_agrees_wherever_it_lies(made, tmp_path):
    before = left_behind()
    (moved := tmp_path / "far" / "away").mkdir(parents=True)
    path = shutil.copy(made, moved / "of anna.zip")
    found = sb.verify(path)
    assert found.ok
    assert (found.folder, found.pack.files, found.pack.figures) == (str(path), {}, ())
    (entry,) = found.results
    assert (entry.file, entry.status, entry.versions) == (RESULT, SAME_BITS, {})
    first, second = str(found).splitlines()
    assert first.startswith(f"✓ of anna.zip, packed {found.pack.packed} with spectralbench ")
    assert first.endswith(" files are as they were packed.")
    assert second.startswith(f"✓ {RESULT}, a comparison with 20 draws, seed 3: all ")
    document = json.loads(found.to_json())
    assert (document["pack"]["ok"], document["pack"]["files"]) == (True, {})
    assert [path.name for path in moved.iterdir()] == ["of anna.zip"]
    assert left_behind() == before


def test_one_count_changed_by_one_is_told_with_its_place_and_what_it_was(rezipped, three):
    path = rezipped(one_count_more)
    found = sb.verify(path)
    assert not found.ok
    assert found.pack.files == {"raw/led_385.csv": "has changed"}
    assert found.pack.said[0].endswith(" files is not as it was packed.")
    assert "Changed: raw/led_385.csv." in found.pack.said
    (entry,) = found.results
    assert (entry.status, entry.files) == (DIFFERS, {"raw/led_385.csv": "changed"})
    lines = (three / "raw" / "led_385.csv").read_bytes().splitlines()
    with zipfile.ZipFile(path) as opened:
        now = opened.read("raw/led_385.csv").splitlines()
    (where,) = [i for i, (one, other) in enumerate(zip(lines, now, strict=True)) if one != other]
    before, after = (rows[where].split(b",")[2].decode() for rows in (lines, now))
    assert int(after) == int(before) + 1
    place = f"line {where + 1}, column 3: {before} then, {after} now, and nothing else in it changed"
    assert entry.places == {"raw/led_385.csv": place}
    assert f"raw/led_385.csv, {entry.places['raw/led_385.csv']}." in entry.said
    exposure = next(one for one in entry.differences if (one.figure, one.of) == ("exposure_time", "LED 385"))
    assert exposure.saved_uncertainty > 0
    assert 0 < exposure.standard_uncertainties < 1e-2
    assert exposure.now < exposure.saved
    assert "Why: nothing else differs, so raw/led_385.csv moved the figures." in entry.said


@pytest.fixture
def as_saved(monkeypatch):
    """What is made again is what was saved."""
    monkeypatch.setattr(
        verifying, "_made_again", lambda _, saved: {one.kind: sb.load(one.path) for one in saved}
    )


@pytest.mark.usefixtures("as_saved")
def test_an_unpacked_bench_tells_the_place_too(made, tmp_path):
    folder = sb.unpack(made, tmp_path / "bench")
    path = folder / "raw" / "led_385.csv"
    path.write_bytes(one_count_more("raw/led_385.csv", path.read_bytes()))
    (entry,) = (found := sb.verify(folder)).results
    assert (found.ok, found.pack) == (False, None)
    assert " then, " in entry.places["raw/led_385.csv"]
    recorded = entry.provenance["files"]
    assert places_changed(folder, recorded, entry.files) == entry.places
    assert places_changed(folder, recorded | {"raw/led_385.csv": "of another file"}, entry.files) == {}
    (folder / "pack.json").write_text("{}", encoding="utf-8")
    assert places_changed(folder, recorded, entry.files) == {}


def test_a_setting_and_a_file_are_told_apart(rezipped):
    """The time allowed moves verdicts, and the count figures of the LED."""
    path = rezipped(lambda name, data: shorter(name, one_count_more(name, data)))
    (entry,) = sb.verify(path).results
    assert entry.manifest == {"requirement.maximum_time": ('"30 s"', '"5 s"')}
    moved = {(one.figure, one.of) for one in entry.differences}
    assert {"verdict", "irradiance_at_part"} <= {figure for figure, _ in moved}
    why = told(entry, "Why: ")
    count = int(why.split(" figures still differ, moved by raw/led_385.csv; ")[0].rsplit(" ", 1)[1])
    assert 0 < count < len(moved)
    assert why == (
        f"Why: with bench.toml as it was, {count} figures still differ, moved by raw/led_385.csv; "
        f"the other {len(moved) - count} of {len(moved)} moved by bench.toml alone."
    )


def test_what_results_share_is_found_and_made_once(made, tmp_path, monkeypatch):
    """What is made now is invented: twice the time; and with the manifest as it was, what was saved."""
    folder = sb.unpack(made, tmp_path / "bench")
    shutil.copy(folder / RESULT, folder / "results" / "again.nc")
    for name in ("raw/led_385.csv", "bench.toml"):
        path = folder / name
        path.write_bytes(shorter(name, one_count_more(name, path.read_bytes())))
    saved = sb.load(folder / RESULT)
    results = iter([saved.assign(exposure_time=2 * saved["exposure_time"]), saved])
    calls = []

    def counted(name, real):
        monkeypatch.setattr(verifying, name, lambda *given: calls.append(name) or real(*given))

    counted("_made_again", lambda *_: {"comparison": next(results)})
    counted("files_changed", verifying.files_changed)
    counted("places_changed", verifying.places_changed)
    one, other = sb.verify(folder).results
    assert sorted(calls) == ["_made_again", "_made_again", "files_changed", "places_changed"]
    why = "with bench.toml as it was, all figures are as saved: it moved them, not raw/led_385.csv"
    assert one.causes == other.causes == (f"Why: {why}.",)
    assert list(one.places) == list(other.places) == ["raw/led_385.csv"]


@pytest.mark.usefixtures("as_saved")
def test_other_versions_and_another_computer_are_named_and_fail_nothing(rezipped):
    found = sb.verify(rezipped(other_version), RESULT)
    assert found.ok
    assert set(found.pack.versions) == {"numpy", "pint", "h5py"}
    assert any(
        text.startswith("Packed with numpy 1.0, pint 0.1, h5py 1.2; here numpy ") for text in found.pack.said
    )
    assert any(text.startswith("Packed on Else, risc, CPython; here ") for text in found.pack.said)
    (entry,) = found.results
    assert entry.status == SAME_BITS
    assert set(entry.versions) == {"pint"}  # its own provenance names numpy, and h5py calculates nothing


def test_other_figures_in_the_list_are_told(rezipped):
    def change(name, data):
        if name != "pack.json":
            return data
        document = json.loads(data)
        of = document["figures"][RESULT]["sources"]["arc"]
        of["time"]["value"] = 1.5
        for criterion in set(of) - {"place"}:
            of[criterion]["verdict"] = "met!"
        of["place"] = [[[[[]]]]]
        return json.dumps(document).encode()

    with opened_pack(rezipped(change)) as (folder, packing):
        state = state_of("changed.zip", folder, packing, saved_results(folder))
    assert (state.ok, state.files) == (False, {})
    assert len(state.figures) == 15  # a place, a time, and the verdicts of 13 criteria
    assert "And 3 figures more in pack.json, which JSON lists." in state.said
    assert any(one.startswith("arc, time, value: 1.5 there, ") for one in state.figures)
    assert any(one.startswith("arc, irradiance, verdict: met! there, ") for one in state.figures)
    assert state.said[1].startswith("pack.json gives another figure than the saved result. arc, ")
    assert state.said[0].endswith(" files are as they were packed.")


@pytest.mark.parametrize(
    "change",
    [
        lambda result: result.drop_vars("judged_by"),
        lambda result: result.assign(judged_by=result["judged_by"].copy(data=["x"] * result.criterion.size)),
        lambda result: result.assign(place=result["place"] * float("nan")),
        lambda result: result.assign_attrs({"advice": 1}).drop_vars("exposure_time"),
    ],
)
def test_a_comparison_that_is_none_is_told(made, tmp_path, change):
    """An archive may come from anybody, too."""
    with opened_pack(made) as (folder, packing):
        sb.save(change(sb.load(folder / RESULT)), folder / RESULT)
        state = state_of("a.zip", folder, packing, saved_results(folder))
    assert state.files == {RESULT: "has changed"}
    assert state.figures == (f"{RESULT} has no figures of a comparison",)


def test_files_missing_or_added(rezipped):
    found = sb.verify(rezipped(lambda n, d: None if n == "raw/led_405.csv" else d, ["extra.csv"]))
    assert found.pack.files == {"raw/led_405.csv": "is missing", "extra.csv": "is not listed"}
    assert "Missing: raw/led_405.csv." in found.pack.said
    assert "Not in pack.json, and not packed so: extra.csv." in found.pack.said
    (entry,) = found.results
    assert entry.status == NOT_MADE
    failed = told(entry, "It could not be made again: ")
    assert "changed.zip/bench.toml cannot be used as it is: raw/led_405.csv" in failed
    assert "spectralbench-" not in failed


def test_many_files_are_counted(tmp_path):
    files = tuple(listed(f"{i:02}.csv", b"") for i in range(20))
    packing = PackingList("A bench", "2026-03-01T08:00:00Z", {}, "", (), {}, files)
    said = state_of("a.zip", tmp_path, packing, []).said
    assert said[0] == (
        "a.zip, packed 2026-03-01T08:00:00Z with spectralbench of no version: "
        "20 of 20 files are not as they were packed."
    )
    assert said[1].endswith(", 11.csv and 8 more.")


def test_a_result_that_is_missing(rezipped):
    found = sb.verify(rezipped(lambda n, d: None if n == RESULT else d, ["extra.csv"]))
    (entry,) = found.results
    assert (entry.file, entry.status) == (RESULT, NOT_READ)
    assert found.pack.files == {RESULT: "is missing", "extra.csv": "is not listed"}


def test_results_that_a_pack_does_not_list_are_not_looked_for(made):
    for name in ("/etc/passwd", "../comparison.nc", "comparison.nc"):
        with pytest.raises(BenchError, match=r"found no saved result .* in it; expected one of results/comp"):
            sb.verify(made, [name])
    with pytest.raises(
        BenchError, match=r"bench\.zip cannot .* found no saved result named; expected one of"
    ):
        sb.verify(made, [])


def test_what_is_no_pack_is_refused(tmp_path):
    (tmp_path / "a.csv").write_text("385,1\n", encoding="utf-8")
    with pytest.raises(
        ReadError, match=r"found a file that does not begin as a zip; .* Name a pack, or a bench"
    ):
        sb.verify(tmp_path / "a.csv")


MOVED = (Difference("exposure_time", "arc"), Difference("dose_time", "arc"))
FILE = {"raw/a.csv": "changed"}
KEYS = {"title": ("a", "b")}
VERSION = {"numpy": ("1", "2")}


@pytest.mark.parametrize(
    ("entry", "remaining", "words"),
    [
        (Verified("a", files=FILE), None, []),
        (Verified("a", differences=MOVED), None, []),
        (
            Verified("a", differences=MOVED, files={"raw/b.csv": "not used", **FILE}),
            None,
            ["Why: nothing else differs, so raw/a.csv moved the figures."],
        ),
        (
            Verified("a", differences=MOVED, files={"raw/b.csv": "new", **FILE}),
            None,
            [
                "Why: nothing else differs, so raw/b.csv and raw/a.csv moved the figures; "
                "which of them moved which, one change at a time would tell."
            ],
        ),
        (
            Verified("a", differences=MOVED, versions=VERSION),
            None,
            ["Why: nothing else differs, so numpy moved the figures."],
        ),
        (
            Verified("a", differences=MOVED, manifest=KEYS, versions=VERSION),
            set(),
            ["Why: with bench.toml as it was, all figures are as saved: it moved them, not numpy."],
        ),
        (
            Verified("a", differences=MOVED, manifest=KEYS, files=FILE, versions=VERSION),
            {("dose_time", "arc")},
            [
                "Why: with bench.toml as it was, 1 figure still differs, moved by raw/a.csv and numpy; "
                "the other 1 of 2 moved by bench.toml alone.",
                "raw/a.csv and numpy cannot be told apart here: that takes the file as it was, "
                "or the versions that it was saved with.",
            ],
        ),
        (
            Verified("a", differences=MOVED, manifest=KEYS, files=FILE),
            "it cannot be made again",
            [
                "Why: bench.toml and raw/a.csv cannot be told apart: "
                "with the manifest as it was, it cannot be made again."
            ],
        ),
    ],
)
def test_causes_in_words(entry, remaining, words):
    assert list(causes_of(entry, remaining)) == words
    assert worth_telling_apart(entry) == bool(entry.differences and entry.manifest)


def test_the_manifest_as_it_was_may_need_a_file_that_is_gone(made, tmp_path):
    folder = sb.unpack(made, tmp_path / "bench")
    path, manifest = folder / "raw" / "arc_scan.csv", folder / "bench.toml"
    path.rename(folder / "raw" / "arc_scan_2.csv")
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text(
        text.replace("raw/arc_scan.csv", "raw/arc_scan_2.csv").replace('"30 s"', '"5 s"'), "utf-8"
    )
    (entry,) = sb.verify(folder).results
    assert entry.files == {
        "raw/arc_scan.csv": "missing",
        "bench.toml": "changed",
        "raw/arc_scan_2.csv": "new",
    }
    assert told(entry, "Why: ").endswith(
        "cannot be told apart: with the manifest as it was, it cannot be made again."
    )


def test_a_file_of_another_name_is_found_by_its_contents(tmp_path):
    """The bytes lie beside their place; a file of other bytes, or in another folder, is no such file."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "led_new.csv").write_bytes(b"365,1\n")
    (tmp_path / "raw" / "arc.csv").write_bytes(b"365,2\n")
    digests = [hashlib.sha256(data).hexdigest() for data in (b"365,1\n", b"365,3\n")]
    recorded = dict(zip(("raw/led.csv", "raw/lamp.csv"), digests, strict=True))
    found = places_changed(tmp_path, recorded, dict.fromkeys(recorded, "missing"))
    assert found == {"raw/led.csv": "of the same contents as raw/led_new.csv: it was renamed"}
    assert places_changed(tmp_path / "raw", recorded, dict.fromkeys(recorded, "missing")) == {}


def test_where_figures_move_it_says_whether_the_decision_does():
    made = {"settings": {"draws": 0, "seed": None}, "files": {}, "versions": {}}
    moved = Difference("exposure_time", "LED 405", saved=5.0, now=5.1, text="LED 405, exposure: 5 s → 5.1 s")
    turned = Difference("place", "LED 405", saved=1.0, now=2.0, units="1", text="LED 405, place: 1 → 2")
    for differences, expected in (((moved,), True), ((turned, moved), False)):
        entry = Verified("a.nc", "comparison", DIFFERS, 9, 8, differences, provenance=made)
        assert ("Order and verdicts are the same." in list(in_words(entry, "", "", 1e-9))) == expected


def test_what_is_known_neither_then_nor_now_comes_last_and_shifts_by_nothing():
    """Single draws that are known or not; and a place is not so many per cent more."""
    draws = np.array([[np.nan, 1.0, 2.0], [4.0, 5.0, 6.0]])
    sources = {"source": ["arc", "LED 405"]}
    saved = xr.Dataset({"cost_per_year": (("source", "draw"), draws, {"units": "EUR"})}, sources)
    saved["place"] = ("source", [1, 2])
    now = saved.copy(deep=True)
    now["cost_per_year"].values[:, 1] += 0.5
    now["place"] = ("source", [2, 1])
    said = [one.text for one in agreement(saved, now, 1e-9).differences]
    assert said[:2] == ["arc, place: 1 → 2", "LED 405, place: 2 → 1"]
    assert said[2].startswith("LED 405, cost in a year: 5 EUR → 5.17 EUR")
    assert said[3].startswith("arc, cost in a year: not known as before (single draws differ by up to ")
