"""A new bench, and notebooks to start from."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

import spectralbench as sb
from spectralbench.benches.first_manifest import FIRST_MANIFEST
from spectralbench.benches.manifest import parse_manifest
from spectralbench.benches.schema import Frame, Manifest, Thermal
from spectralbench.benches.starting import TEMPLATES, start_bench, start_notebook

# What each file of a new bench is in the demo; the rest has the same name there.
DEMO_FILES = {
    "led.csv": "led_405.csv",
    "arc.csv": "arc_filtered.csv",
    "initiator.csv": "initiator_a.csv",
    "led_scan.csv": "led_405_scan.csv",
}

# Keys that a first bench can do without; the page on bench.toml has them all.
LEFT_OUT = {
    "instrument": "read_noise electrons_per_count linearity bandpass in_band",  # corrections of one's own
    "line_spread": "wavelength frame",
    "source": "exposures setting profile_distance beam working_distance stated_at",  # another setting
    "together": "name heads",
    "part": "collected regular floor",  # parts that scatter
    "adhesive": "reciprocity oxygen_threshold",  # from trials of one's own
    "requirement": "speed passes",  # parts that travel
    "radiometer": "limits shape",  # heads without a response curve
    "uncertainty": "of",
}

# A frame is the name of its file; what the file does not say, and which scans do not count, are for later.
LEFT_OUT_OF_FRAMES = ("integration_time", "temperature", "left_out", "because")


def whole() -> str:
    """The manifest with all that is optional, but for what stands instead of something else."""
    text = re.sub(r"^#(?=[a-z\[])", "", FIRST_MANIFEST, flags=re.MULTILINE)
    return re.sub(r"^reference = .*\n", "", text, flags=re.MULTILINE)


def fill(folder: Path, demo: Path) -> None:
    """Put the demo's raw files at the names of the manifest."""
    manifest = parse_manifest((folder / "bench.toml").read_text(encoding="utf-8"), folder)
    for name in set(manifest.files().values()):
        file = name.removeprefix("raw/")
        shutil.copy(demo / "raw" / DEMO_FILES.get(file, file), folder / name)


def test_a_new_bench_lists_together_what_is_missing(tmp_path):
    folder = start_bench(tmp_path / "bench")
    assert sorted(path.name for path in folder.iterdir()) == ["bench.toml", "raw"]
    assert list((folder / "raw").iterdir()) == []
    with pytest.raises(sb.BenchError) as error:
        sb.open_bench(folder)
    manifest = parse_manifest(FIRST_MANIFEST, folder / "bench.toml")
    files = set(manifest.files().values())
    assert len(error.value.faults) == len(files) == 11
    for name in files:
        assert re.search(rf"{name} \(.*, line \d+\): found no such file", str(error.value))


def test_with_raw_files_it_compares(tmp_path, demo, reduced):
    folder = start_bench(tmp_path / "bench")
    text = FIRST_MANIFEST.replace("#attenuator", "attenuator")  # for so the demo was measured
    (folder / "bench.toml").write_text(text, encoding="utf-8")
    fill(folder, demo)
    result = sb.compare(folder)
    assert list(result.source.values) == ["LED (placeholder)", "arc (placeholder)"]
    warning, first, *_ = result.attrs["advice"].splitlines()
    assert warning.startswith(
        "Nothing here is worth a trial yet: bench.toml still says that every value in it"
    )
    assert first.startswith("If they were true: test first: LED (placeholder) for ")
    assert json.loads(result.attrs["not_measured"])[0] == warning
    there = reduced["sources/irradiance"].sel(source=["LED 405", "arc, filtered"])
    assert result.irradiance_at_part.values == pytest.approx(there.values, rel=1e-3)


def test_with_all_that_is_optional_it_compares(tmp_path, demo):
    folder = start_bench(tmp_path / "bench")
    (folder / "bench.toml").write_text(whole(), encoding="utf-8")
    fill(folder, demo)
    result = sb.compare(folder)
    assert set(result.verdict.sel(source="arc (placeholder)", criterion="temperature").values.flat) != {
        "no limit"
    }


def test_the_other_way_to_name_an_initiator_is_there():
    text = FIRST_MANIFEST.replace('curve = "raw/initiator.csv"', "#curve")
    reference = "diphenyl_2_4_6_trimethylbenzoyl_phosphine_oxide"
    manifest = parse_manifest(
        text.replace('#reference = "…"', f'reference = "{reference}"'), Path("bench.toml")
    )
    assert manifest.adhesive.initiator[0].reference == reference


def _keys(table: type[BaseModel], before: str = "") -> set[str]:
    """Every key of a table and of those within it."""
    found = set()
    for name, field in table.model_fields.items():
        found.add(before + name)
        for inner in _tables(field.annotation):
            if inner not in (Frame, Thermal):  # which stand in many tables
                found |= _keys(inner, f"{before}{name}.")
    return found


def _tables(annotation):
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [table for part in get_args(annotation) for table in _tables(part)]


def _written(value, before=""):
    if isinstance(value, list):
        return {key for item in value for key in _written(item, before)}
    if not isinstance(value, dict):
        return set()
    found = set()
    for name, inner in value.items():
        found |= {before + name} | (_written(inner, f"{before}{name}.") if name != "thermal" else set())
    return found


def test_no_key_of_the_schema_is_forgotten():
    """Each is in the manifest, or left out on purpose."""
    written = _written(tomllib.loads(whole())) | {"adhesive.initiator.reference"}
    left_out = {f"{table}.{key}" for table, keys in LEFT_OUT.items() for key in keys.split()}
    left_out |= {"together", "line_spread"}
    known = {key for key in _keys(Manifest) if not key.startswith(("together.heads.", "source.beam."))}
    known = {key for key in known if not key.startswith("part.regular.")}
    assert written & left_out == set()
    assert written | left_out == known
    assert set(Frame.model_fields) <= {"file", *LEFT_OUT_OF_FRAMES}
    tables = tomllib.loads(whole())
    thermal = {key for one in (tables["part"][0], tables["heat"]["backing"]) for key in one["thermal"]}
    assert thermal == set(Thermal.model_fields)


def test_every_key_is_explained():
    """By a comment behind it, where it stands for the first time; a name explains itself."""
    seen, bare, table = set(), [], ""
    for line in FIRST_MANIFEST.splitlines():
        if code := re.match(r"#?(\[+[a-z_.]+\]+|[a-z_]+ =)", line):
            table = code[1] if code[1].startswith("[") else table
            if (table, code[1]) not in seen and "  # " not in line:
                bare.append(code[1])
            seen.add((table, code[1]))
    assert set(bare) == {"name =", "[adhesive]", "thermal ="}  # of the adhesive: explained with the part


@pytest.mark.parametrize("what", ["a file", "a folder with a file", "a link"])
def test_what_is_there_is_left_alone(tmp_path, what):
    place, kept = tmp_path / "bench", tmp_path / "kept"
    kept.mkdir()
    if what == "a file":
        place.write_text("mine", encoding="utf-8")
    elif what == "a link":
        place.symlink_to(kept)  # to an empty folder
    else:
        place.mkdir()
        (place / "bench.toml").write_text("mine", encoding="utf-8")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(sb.BenchError, match="something there already; expected a new or an empty folder"):
        start_bench(place)
    assert sorted(tmp_path.rglob("*")) == before
    if what == "a folder with a file":
        assert (place / "bench.toml").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("failing", ["mkdir", "write_text", "rename"])
def test_nothing_is_left_half_written(tmp_path, monkeypatch, failing):
    """Whatever step the disk refuses."""
    true = getattr(Path, failing)

    def full(path, *rest, **more):
        if path.name in ("raw", "bench.toml"):
            raise OSError(28, "No space left on device")
        return true(path, *rest, **more)

    monkeypatch.setattr(Path, failing, full)
    with pytest.raises(sb.BenchError, match="found No space left on device; expected a folder that can be"):
        start_bench(tmp_path / "made" / "for" / "it")
    assert list(tmp_path.iterdir()) == []
    (empty := tmp_path / "empty").mkdir()
    with pytest.raises(sb.BenchError):
        start_bench(empty)
    assert list(tmp_path.rglob("*")) == [empty]


def test_a_notebook_takes_a_free_name(tmp_path):
    (tmp_path / "which_source.ipynb").write_text("mine", encoding="utf-8")
    made = [start_notebook("which_source", tmp_path).name for _ in range(2)]
    assert made == ["which_source_2.ipynb", "which_source_3.ipynb"]
    assert (tmp_path / "which_source.ipynb").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_notebook_is_one_without_outputs_and_says_what_it_is_for(tmp_path, name):
    notebook = json.loads(start_notebook(name, tmp_path).read_text(encoding="utf-8"))
    first, *others = notebook["cells"]
    text = "".join(first["source"])
    assert first["cell_type"] == "markdown"
    assert text.startswith("# ")
    assert "**Change**" in text
    assert "injures eyes and skin" in text
    assert "all data are invented" in text
    assert all(not cell.get("outputs") and cell.get("execution_count") is None for cell in others)


def test_notebooks_that_nobody_wrote_are_refused(tmp_path):
    with pytest.raises(sb.RangeError, match='no notebook "other" to start from, only bench_spectra, housing'):
        start_notebook("other", tmp_path)


def test_a_notebook_where_nobody_can_write_is_refused(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(sb.BenchError, match=r"expected a folder that can be written\. Name another folder"):
        start_notebook("which_source", tmp_path / "file" / "within")


@pytest.mark.parametrize("start", [start_bench, lambda place: start_notebook("which_source", place)])
def test_a_name_that_no_disk_takes_is_refused(tmp_path, start):
    for name in ("null\0byte", "x" * 300):
        with pytest.raises(sb.BenchError, match="expected a folder that can be written"):
            start(tmp_path / name)
    assert list(tmp_path.iterdir()) == []
