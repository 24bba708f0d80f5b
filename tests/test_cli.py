"""The command line, run as a user runs it: in an empty folder, as a process of its own."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import spectralbench as sb
from spectralbench import draws
from spectralbench.cli import BAD_CALL, BAD_DATA, FEWEST_DRAWS, main

COMMAND = [sys.executable, "-m", "spectralbench"]


def run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *arguments], cwd=folder, capture_output=True, text=True, encoding="utf-8", timeout=60
    )


@pytest.fixture(scope="module")
def document(small):
    """What ``compare`` prints for machines, with as many draws as it takes by itself."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(["compare", str(small), "--json"]) == 0
    return json.loads(out.getvalue(), parse_constant=pytest.fail)


def test_whole_job_in_an_empty_folder(tmp_path):
    made = run(tmp_path, "demo", "my-bench")
    assert made.returncode == 0, made.stderr
    assert "wrote an invented bench into my-bench" in made.stdout
    compared = run(tmp_path, "compare", "my-bench", "--report", "report.html", "--draws", "0")
    assert compared.returncode == 0, compared.stderr
    assert "Test first: LED 405" in compared.stdout
    assert compared.stdout.rstrip().splitlines()[-1] == f"report: {tmp_path / 'report.html'}"
    assert (tmp_path / "report.html").stat().st_size > 10_000
    assert "reading" in compared.stderr
    assert "Traceback" not in compared.stderr


def test_piped_tables_carry_units_for_people_and_are_not_cut(small, capsys):
    assert main(["compare", str(small), "--quiet"]) == 0
    printed = capsys.readouterr()
    for unit in ("mW/cm²", "µmol/m²/s", "nm", " s ", " J ", "%"):
        assert unit in printed.out
    assert "not known" in printed.out
    assert "pixels at 427.2–443.2 nm" in printed.out
    assert "…" not in printed.out
    assert printed.err == ""


def test_compare_json_is_in_own_units_and_strict(small, document):
    first, *_, last = document["sources"]
    assert (first["source"], first["place"]) == ("LED 405", 1)
    assert first["figures"]["band_irradiance"]["units"] == "W m-2"
    assert first["figures"]["band_irradiance"]["value"] == pytest.approx(
        float(sb.compare(small, 1000, 1).band_irradiance.sel(source="LED 405").mean()), rel=1e-12
    )
    assert last["criteria"]["irradiance"]["verdict"] == "not met"
    arc = next(source for source in document["sources"] if source["source"] == "arc")
    assert arc["figures"]["irradiance_at_part"]["value"] is None
    raw = (small / "raw" / "arc.csv").read_bytes()
    assert document["provenance"]["files"]["raw/arc.csv"] == hashlib.sha256(raw).hexdigest()


def test_reduce_prints_figures_and_exports_spectra_that_read_back(demo, reduced, tmp_path, capsys):
    assert main(["reduce", str(demo), "--draws", "0", "--export", str(tmp_path / "out"), "--quiet"]) == 0
    assert "full width at half maximum" in capsys.readouterr().out
    passed = sb.read(tmp_path / "out" / "transmittance.csv")["transmittance"]
    expected = reduced["parts"]["transmittance"].isel(part=0)
    assert passed.squeeze().values.tolist() == expected.values.tolist()


def test_export_writes_gaps_so_that_they_are_seen(demo, reduced, tmp_path, capsys):
    """The arc's saturated pixels are NaN; a file that hid them would lie."""
    assert main(["reduce", str(demo), "--draws", "0", "--export", str(tmp_path), "--quiet"]) == 0
    capsys.readouterr()
    text = (tmp_path / "spectral_irradiance.csv").read_text(encoding="utf-8")
    assert "invalid" in text
    data = sb.read(tmp_path / "spectral_irradiance.csv")
    arc = data["spectral_irradiance"].sel(spectrum="arc")
    expected = reduced["sources"]["spectral_irradiance"].sel(source="arc")
    assert arc.isnull().values.tolist() == expected.isnull().values.tolist()
    assert 3 <= int(arc.isnull().sum()) < 20
    assert "not known" in data.attrs["warnings"]


def test_export_never_touches_a_raw_file(small, tmp_path, capsys):
    bench = shutil.copytree(small, tmp_path / "bench")
    raw, manifest = bench / "raw" / "spectral_irradiance.csv", bench / "bench.toml"
    assert not raw.exists()
    (bench / "raw" / "led_405.csv").rename(raw)
    text = manifest.read_bytes()
    manifest.write_bytes(text.replace(b"raw/led_405.csv", b"raw/spectral_irradiance.csv"))
    kept = raw.read_bytes()
    export = ["--draws", "0", "--export", str(bench / "raw"), "--quiet"]
    assert main(["reduce", str(bench), *export]) == BAD_DATA
    said = " ".join(capsys.readouterr().err.split())
    assert "found spectral_irradiance.csv, a raw file or the manifest of the bench; expected another" in said
    assert "Raw files are never changed" in said
    assert raw.read_bytes() == kept
    assert not (bench / "raw" / "transmittance.csv").exists()


def test_inspect_says_what_is_in_a_file_and_how_that_was_decided(demo, capsys):
    assert main(["inspect", str(demo / "raw" / "arc_ageing.csv")]) == 0
    printed = capsys.readouterr().out
    for words in ("relative_output", "decimal sign: comma", "semicolon", "invented data", "sha256"):
        assert words in printed
    assert main(["inspect", "--json", str(demo / "raw" / "led_405.csv")]) == 0
    (record,) = json.loads(capsys.readouterr().out)["files"]
    (quantity,) = record["quantities"]
    assert quantity["shape"] == {"spectrum": 8, "wavelength": 2048}
    assert quantity["figures"]["peak_wavelength"]["value"] == pytest.approx(404.6, abs=0.2)
    assert record["integration_time"] == 0.002


def test_inspect_goes_on_after_a_bad_file_and_names_all_bad_ones(demo, tmp_path, capsys):
    bad, worse = tmp_path / "bad.csv", tmp_path / "worse.csv"
    bad.write_text("wavelength [nm],counts [1]\n365,1\n366,abc\n")
    worse.write_bytes(b"")
    good = demo / "raw" / "led_365.csv"
    assert main(["inspect", str(bad), str(good), str(worse)]) == BAD_DATA
    printed = capsys.readouterr()
    assert "led_365.csv" in printed.out
    assert 'bad.csv cannot be read: line 3, column 2: found "abc"' in printed.err.replace("\n", " ")
    assert "worse.csv cannot be read" in printed.err
    assert "Traceback" not in printed.err


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["compare", "nowhere"], BAD_DATA, "no bench.toml"),
        (["inspect", "nowhere.csv"], BAD_DATA, "nowhere.csv cannot be read"),
        (["demo", "."], BAD_DATA, "a new or an empty folder"),
        (["reduce", "bench", "--draws", "0", "--export", "taken"], BAD_CALL, "taken"),
    ],
)
def test_errors_go_to_stderr_with_a_status(small, tmp_path, monkeypatch, capsys, arguments, status, words):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_text("a file, not a folder")
    (tmp_path / "bench").symlink_to(small)
    assert main(arguments) == status
    printed = capsys.readouterr()
    assert words in printed.err
    assert printed.out == ""
    assert "Traceback" not in printed.err


def test_traceback_only_when_asked(tmp_path, capsys):
    assert main(["compare", str(tmp_path), "--traceback"]) == BAD_DATA
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [[], ["nonsense"], ["compare"], ["compare", "a", "--nonsense"]])
def test_a_bad_call_ends_with_2(arguments, capsys):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == BAD_CALL
    assert "usage:" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["demo", "inspect", "reduce", "compare", "completion"])
def test_help_of_every_command_has_an_example(command, capsys):
    with pytest.raises(SystemExit) as stop:
        main([command, "--help"])
    assert stop.value.code == 0
    assert "example:\n" in capsys.readouterr().out


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_knows_the_commands(shell, capsys):
    assert main(["completion", shell]) == 0
    printed = capsys.readouterr().out
    assert all(command in printed for command in ("demo", "inspect", "reduce", "compare"))


def test_version(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"spectralbench {sb.__version__}\n"


def test_inspect_takes_what_the_file_does_not_say(tmp_path, capsys):
    bare = tmp_path / "bare.txt"
    bare.write_text("365 50\n366 60\n")
    assert main(["inspect", "--json", "--quantity", "transmittance", "--units", "%", str(bare)]) == 0
    (record,) = json.loads(capsys.readouterr().out)["files"]
    assert record["quantities"][0]["quantity"] == "transmittance"
    assert record["quantities"][0]["highest"] == pytest.approx(0.6)
    assert main(["inspect", "--delimiter", "pipes", str(bare)]) == BAD_DATA
    assert '"pipes" is no known delimiter; there are comma, semicolon, tab, blanks' in capsys.readouterr().err


UNLIKE = """##TITLE= invented lamps
##JCAMP-DX= 4.24
##DATA TYPE= LINK
##BLOCKS= 2
##TITLE= violet [LED]
##DATA TYPE= UV/VIS SPECTRUM
##LONGDATE= 2026/03/02 09:38:00
##XUNITS= NANOMETERS
##YUNITS= COUNTS
##FIRSTX= 400
##LASTX= 404
##NPOINTS= 5
##XFACTOR= 1
##YFACTOR= 1
##XYDATA= (X++(Y..Y))
400 1 2 3 2 1
##END=
##TITLE= cover
##DATA TYPE= UV/VIS SPECTRUM
##XUNITS= NANOMETERS
##YUNITS= TRANSMITTANCE
##FIRSTX= 400
##LASTX= 404
##NPOINTS= 5
##XFACTOR= 1
##YFACTOR= 0.1
##XYDATA= (X++(Y..Y))
400 1 2 3 2 1
##END=
##END=
"""


def test_inspect_tells_unlike_blocks_apart(tmp_path, capsys):
    path = tmp_path / "lamps.jdx"
    path.write_text(UNLIKE)
    assert main(["inspect", str(path)]) == 0
    printed = capsys.readouterr().out
    assert [line.removeprefix(str(path)) for line in printed.splitlines() if line.startswith(str(path))] == [
        "",
        ', block_1 "violet [LED]"',
        ', block_2 "cover"',
    ]
    assert printed.count("encoding: UTF-8") == printed.count("2 unlike blocks") == 1
    assert printed.count("sha256 ") == 2  # of the file, and in what was read
    assert "time                         2026-03-02T09:38:00\n" in printed
    assert "steps of 1 nm\n" in printed
    assert main(["inspect", "--json", str(path)]) == 0
    whole, first, second = json.loads(capsys.readouterr().out)["files"]
    assert (whole["block"], whole["quantities"]) == (None, [])
    assert (first["block"], first["title"]) == ("block_1", "violet [LED]")
    assert (second["block"], second["title"]) == ("block_2", "cover")
    assert first["quantities"][0]["quantity"] == "counts"
    assert "encoding: UTF-8" in whole["decisions"]
    assert "encoding: UTF-8" not in first["decisions"] + second["decisions"]


def test_inspect_shows_labels_and_the_ends_of_a_log(tmp_path, capsys):
    spectra, log = tmp_path / "spectra.csv", tmp_path / "log.csv"
    names = [f"lamp {letter}" for letter in "abcdefghij"]
    heading = ",".join(f"counts {name} [1]" for name in names)
    spectra.write_text(f"wavelength [nm],{heading}\n365{',1' * 10}\n366{',2' * 10}\n368{',2' * 10}\n")
    log.write_text(
        "time,irradiance [W/m2],channel\n2026-03-02T09:38:00,5,A\n2026-03-02T09:38:01.5,6,B\n"
        "2026-03-02T09:39:00,6,A\n"
    )
    assert main(["inspect", str(spectra), str(log)]) == 0
    printed = capsys.readouterr().out
    assert '"lamp g", "lamp h" and 2 more\n' in printed
    assert "steps of 1 to 2 nm" in printed
    assert "time                         2026-03-02T09:38:00 to 2026-03-02T09:39:00\n" in printed
    assert 'channels                     "A", "B"\n' in printed
    assert main(["inspect", "--json", str(spectra), str(log)]) == 0
    one, other = json.loads(capsys.readouterr().out)["files"]
    assert one["block"] is None
    assert one["labels"] == {"spectrum": names}
    times = {"first": "2026-03-02T09:38:00", "last": "2026-03-02T09:39:00"}
    assert other["log"] == {"along": "time", **times, "units": ""}


def test_compare_prints_for_machines_what_it_prints_for_people(small, document, capsys):
    """The table of the sources and the radiometers are those of ``reduce``."""
    assert main(["reduce", str(small), "--json"]) == 0
    reduced = json.loads(capsys.readouterr().out)
    assert (reduced.pop("form"), reduced.pop("written")) == ("urn:spectralbench:reduce:1", [])
    assert document["reduction"] == reduced
    assert len(document["reduction"]["radiometer"]) == 2


@pytest.mark.parametrize("command", ["reduce", "compare"])
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--draws", "19"], "'19' is too few: an interval of 95 % takes at least 20 draws; 0 is for none"),
        (["--draws", "-1"], "'-1' is no whole number of at least 0"),
        (["--draws", "1e3"], "'1e3' is no whole number of at least 0"),
        (["--seed", "-1"], "'-1' is no whole number of at least 0"),
    ],
)
def test_draws_that_cannot_be_are_refused_before_anything_is_read(command, arguments, words, capsys):
    with pytest.raises(SystemExit) as stop:
        main([command, "nowhere", *arguments])
    assert stop.value.code == BAD_CALL
    assert words in capsys.readouterr().err


def test_fewest_draws_are_those_of_the_package():
    assert FEWEST_DRAWS == draws.FEWEST


def test_too_little_memory_is_told_in_words(small, monkeypatch, capsys):
    def full(*_):
        raise MemoryError

    monkeypatch.setattr(sb, "reduce_bench", full)
    assert main(["reduce", str(small), "--quiet"]) == BAD_DATA
    assert "there is not enough memory for this: ask for fewer draws (--draws)" in capsys.readouterr().err


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_an_output_in_an_older_encoding_gets_plain_signs(three, monkeypatch, encoding):
    """A pipe on another system: no sign is worth a failure, and JSON stays JSON."""
    for arguments in (
        ["compare", str(three), "--draws", "0"],
        ["compare", str(three), "--draws", "0", "--json"],
    ):
        kept = io.BytesIO()
        monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(kept, encoding))
        assert main([*arguments, "--quiet"]) == 0
        sys.stdout.flush()
        said = kept.getvalue().decode(encoding)
        if "--json" in arguments:
            assert any(
                line.startswith("Test first") and "mW/cm²" in line for line in json.loads(said)["advice"]
            )
        else:
            assert "\n  + irradiance: " in said
            assert ("mW/cm^2" in said) == (encoding == "ascii")


def test_the_next_command_can_be_pasted(tmp_path, capsys):
    folder = tmp_path / "a bench of ours"
    assert main(["new", str(folder), "--quiet"]) == 0
    assert f"next: spectralbench compare '{folder}' says" in capsys.readouterr().out
