"""Where numbers come from: every file by its hash, and nothing that is not so."""

from __future__ import annotations

import hashlib
import html
import json

import pytest

import spectralbench as sb
from spectralbench import curves
from spectralbench.benches import origins


def hashes(folder, names):
    """By the standard library, from the bytes as they lie there."""
    return [(name, hashlib.sha256((folder / name).read_bytes()).hexdigest()) for name in names]


def test_a_reduced_bench_names_every_file_of_its_folder(demo, reduced):
    found = sb.provenance(reduced)
    names = [str(path.relative_to(demo).as_posix()) for path in demo.rglob("*") if path.is_file()]
    assert sorted(found.files) == sorted(hashes(demo, names))
    assert found.settings == {"draws": "0", "seed": "none"}
    assert found.here == {}
    assert found.versions == origins.versions()


def test_what_was_read_names_its_file(demo):
    log = sb.read(demo / "raw/radiometer.csv")
    darks = sb.read_many(sorted(demo.glob("raw/dark_*.csv")))
    mean, _ = sb.average_scans(sb.read(demo / "raw/dark_2ms.csv")["counts"])
    found = sb.provenance(log, darks, mean, seed=3, kept_back="every third line")
    names = ["radiometer.csv", *(path.name for path in sorted(demo.glob("raw/dark_*.csv")))]
    assert list(found.files) == hashes(demo / "raw", names)  # each once
    assert found.settings == {"seed": "3", "kept back": "every third line"}


def test_reference_curves_are_named_with_their_standing():
    found = sb.provenance(curves.lines("mercury"))
    assert found.files == ()
    assert found.curves == ("mercury from the reference curves (published)",)
    assert "took       mercury from the reference curves (published)" in str(found)


def test_what_is_taken_otherwise_is_told_with_its_unit(demo):
    found = sb.provenance(sb.adjust(demo, thickness={"cover": "1.5 mm"}, level={"LED 405": "40 %"}))
    assert found.settings["taken otherwise"] == "thickness of cover 1.5 mm; level of LED 405 40 %"


def test_two_results_stand_side_by_side(reduced):
    other = reduced.copy()
    recorded = json.loads(reduced.attrs["provenance"])
    recorded["settings"] = {"draws": 400, "seed": 7}
    recorded["versions"]["numpy"] = "1.0"
    other.attrs = reduced.attrs | {"provenance": json.dumps(recorded)}
    found = sb.provenance(reduced, other)
    assert found.settings == {"draws": "0 and 400", "seed": "none and 7"}
    now = origins.versions()["numpy"]
    assert found.versions["numpy"] == f"{now} and 1.0"
    assert found.here == {"numpy": now}
    assert sb.provenance(other).here == {"numpy": now}
    here = next(line for line in str(sb.provenance(other)).splitlines() if line.startswith("here "))
    assert here.endswith(f"  numpy {now}; figures may differ in their last digits")


def test_it_shows_itself_as_text_and_as_a_table(reduced):
    found = sb.provenance(reduced, note="<b>")
    assert repr(found) == str(found)
    page = found._repr_html_()
    for name, sha in found.files:
        assert f"{name} " in str(found)
        assert sha in str(found)
        assert html.escape(name) in page
        assert sha in page
    assert "<b>" not in page
    assert "&lt;b&gt;" in page
    assert found.to_dict()["files"]["bench.toml"] == dict(found.files)["bench.toml"]


def test_nothing_has_no_provenance(reduced):
    with pytest.raises(sb.RangeError, match="the provenance of nothing: give the result of a bench, or what"):
        sb.provenance()
    lost = sb.fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.8])
    with pytest.raises(
        sb.RangeError, match="result 2 of 2 names no file and no reference curve: its history"
    ):
        sb.provenance(reduced, lost)
