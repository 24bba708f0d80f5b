"""Saving results and verifying them on the command line."""

from __future__ import annotations

import json
import shutil

import pytest

import spectralbench as sb
from spectralbench.cli import BAD_CALL, BAD_DATA, main

FEW = ["--draws", "0", "--quiet"]


@pytest.fixture(scope="module")
def bench(tmp_path_factory, three):
    """A small bench with both results beside the raw files; tests put back what they change."""
    folder = shutil.copytree(three, tmp_path_factory.mktemp("cli_verify") / "bench")
    for command, name in (("reduce", "reduction.zarr"), ("compare", "comparison.nc")):
        assert main([command, str(folder), *FEW, "--save", str(folder / "results" / name)]) == 0
    return folder


@pytest.fixture
def changed(bench):
    """The bench with one count changed, which is put back in the end."""
    path = bench / "raw" / "led_385.csv"
    kept = path.read_bytes()
    lines = kept.splitlines(keepends=True)
    where = next(i for i, line in enumerate(lines) if line.startswith(b"38"))
    wavelength, _, rest = lines[where].split(b",", 2)
    path.write_bytes(b"".join([*lines[:where], b",".join([wavelength, b"12345", rest]), *lines[where + 1 :]]))
    yield bench
    path.write_bytes(kept)


def test_saved_results_are_those_of_the_package(bench):
    assert sb.load(bench / "results" / "comparison.nc").identical(sb.compare(bench))
    assert sb.load(bench / "results" / "reduction.zarr").identical(sb.reduce_bench(bench))


def test_a_bench_that_agrees_ends_with_0(bench, capsys):
    assert main(["verify", str(bench), "--quiet"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("✓ results/comparison.nc, a comparison without draws: all ")
    assert lines[0].endswith(" figures are the same, bit for bit.")
    assert lines[1].startswith("✓ results/reduction.zarr, a reduction without draws: all ")
    assert lines[-1] == f"2 saved results of {bench} agree with their raw files."


def test_a_changed_count_ends_with_1_and_says_what_to_do(changed, capsys):
    assert main(["verify", str(changed), str(changed / "results" / "comparison.nc"), "--quiet"]) == BAD_DATA
    printed = capsys.readouterr()
    lines = printed.out.splitlines()
    assert lines[0].startswith("✗ results/comparison.nc, a comparison without draws: ")
    assert "  Changed since it was saved: raw/led_385.csv." in lines
    assert any(line.startswith("  LED 385, exposure: ") for line in lines)
    assert any(line.startswith("  What to do: bring the files back as they were") for line in lines)
    assert lines[-1] == f"1 saved result of {changed} does not agree with its raw files."
    assert printed.err == ""


def test_json_says_the_same_with_the_provenance(changed, capsys):
    assert main(["verify", str(changed), str(changed / "results" / "comparison.nc"), "--json"]) == BAD_DATA
    document = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    (result,) = document["results"]
    assert (document["ok"], result["ok"], result["status"]) == (False, False, "differs")
    assert result["files"] == {"raw/led_385.csv": "changed"}
    saved = sb.load(changed / "results" / "comparison.nc")
    assert result["provenance"] == json.loads(saved.attrs["provenance"])


def test_tolerance_is_taken(changed, capsys):
    """A half of each value is more than one count can change; the file is still another one."""
    name = str(changed / "results" / "comparison.nc")
    assert main(["verify", str(changed), name, "--json", "--tolerance", "0.5"]) == BAD_DATA
    (result,) = json.loads(capsys.readouterr().out)["results"]
    assert (result["ok"], result["status"]) == (False, "same within the tolerance")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ["compare", "b", "--save", "result.txt"],
            "'result.txt' ends in neither .nc (NetCDF) nor .zarr (Zarr)",
        ),
        (["reduce", "b", "--save", "nc"], "'nc' ends in neither .nc (NetCDF) nor .zarr (Zarr)"),
        (["verify", "b", "--tolerance", "-1"], "'-1' is no number from 0 to below 1, such as 1e-9"),
        (["verify", "b", "--tolerance", "nan"], "'nan' is no number from 0 to below 1, such as 1e-9"),
        (["verify", "b", "--tolerance", "small"], "'small' is no number from 0 to below 1, such as 1e-9"),
        (["verify"], "the following arguments are required: BENCH"),
    ],
)
def test_a_bad_call_ends_with_2_before_anything_is_computed(arguments, words, capsys):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == BAD_CALL
    assert words in capsys.readouterr().err


def test_a_folder_that_is_no_bench_cannot_be_verified(tmp_path, capsys):
    assert main(["verify", str(tmp_path), "--quiet"]) == BAD_DATA
    printed = capsys.readouterr()
    assert "no bench.toml" in printed.err
    assert printed.out == ""


def test_an_archive_that_cannot_be_read_stops_no_other(bench, monkeypatch, capsys):
    monkeypatch.chdir(bench.parent)
    names = ["nowhere.nc", "bench/bench.toml", "bench/results/reduction.zarr"]
    assert main(["verify", "bench", *names, "--quiet"]) == BAD_DATA
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("✗ nowhere.nc: found no such file or folder; expected an archive")
    assert lines[1].startswith("✗ bench.toml: found a file that is no NetCDF 4 file; expected an archive")
    assert lines[2].startswith("✓ results/reduction.zarr, a reduction without draws: all ")
    assert lines[-1] == (
        "1 saved result of bench agrees with its raw files; 2 could not be read or made again."
    )


def test_advice_that_was_changed_ends_with_1(bench, tmp_path, capsys):
    result = sb.load(bench / "results" / "comparison.nc")
    sb.save(result.assign_attrs(advice="Test first: arc."), tmp_path / "changed.nc")
    assert main(["verify", str(bench), str(tmp_path / "changed.nc"), "--quiet"]) == BAD_DATA
    assert '  advice: "Test first: arc." → "Test first: LED 4' in capsys.readouterr().out


def test_save_makes_its_folder_and_says_where(bench, tmp_path, capsys):
    path = tmp_path / "a" / "b" / "comparison.nc"
    assert main(["compare", str(bench), *FEW, "--save", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"saved: {path}"
    assert main(["compare", str(bench), *FEW, "--json", "--save", str(path)]) == 0
    assert json.loads(capsys.readouterr().out)["saved"] == [str(path)]
    assert main(["reduce", str(bench), *FEW, "--save", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"wrote {path}"
    assert sb.load(path).identical(sb.reduce_bench(bench))


def test_save_never_touches_a_raw_file_or_the_folder_around_one(bench, capsys):
    """A raw file may have any name, and the folder of raw files too."""
    manifest, raw = bench / "bench.toml", bench / "raw" / "led_405.csv"
    text, counts = manifest.read_bytes(), raw.read_bytes()
    try:
        raw.rename(bench / "raw" / "led_405.nc")
        (bench / "raw").rename(bench / "raw.zarr")
        (bench / "link.nc").symlink_to(bench / "raw.zarr" / "led_405.nc")
        (bench / "hard.nc").hardlink_to(bench / "raw.zarr" / "led_405.nc")
        renamed = text.replace(b"raw/led_405.csv", b"raw/led_405.nc").replace(b'"raw/', b'"raw.zarr/')
        manifest.write_bytes(renamed)
        for name in ("raw.zarr/led_405.nc", "link.nc", "hard.nc", "raw.zarr"):
            assert main(["reduce", str(bench), *FEW, "--save", str(bench / name)]) == BAD_DATA
            error = capsys.readouterr().err
            assert "Raw files are never changed" in error
            assert (bench / "raw.zarr" / "led_405.nc").read_bytes() == counts
        assert {path.name for path in (bench / "raw.zarr").iterdir()} >= {"led_405.nc", "arc.csv"}
    finally:
        for link in ("link.nc", "hard.nc"):
            (bench / link).unlink(missing_ok=True)
        (bench / "raw.zarr").rename(bench / "raw")
        (bench / "raw" / "led_405.nc").rename(raw)
        manifest.write_bytes(text)


def test_help_has_an_example(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["verify", "--help"])
    assert stop.value.code == 0
    printed = capsys.readouterr().out
    assert "example:\n  spectralbench verify my-bench\n" in printed
    assert main(["completion", "bash"]) == 0
    assert "verify" in capsys.readouterr().out
