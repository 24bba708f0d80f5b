"""Packing, verifying and unpacking a bench on the command line."""

from __future__ import annotations

import json
import shutil
import zipfile

import jsonschema
import pytest

import spectralbench as sb
from spectralbench.cli import BAD_CALL, BAD_DATA, main
from spectralbench.reports import forms


@pytest.fixture(scope="module")
def bench(tmp_path_factory, three):
    folder = shutil.copytree(three, tmp_path_factory.mktemp("cli_pack") / "my-bench")
    (folder / "results").mkdir()
    sb.save(sb.compare(folder), folder / "results" / "comparison.nc")
    (folder / "notes.md").write_text("The cover had been wiped.", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def packed(bench):
    return sb.pack(bench).path


def test_pack_says_what_is_in_it_and_what_is_not(bench, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["pack", str(bench), "to-anna.zip", "--quiet"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("packed 22 files into to-anna.zip (0.")
    assert lines[1].startswith("left out, for the bench does not use them: notes.md, raw/arc_filtered.csv, ")
    assert lines[2:] == [
        "next, here or elsewhere: spectralbench verify to-anna.zip",
    ]
    assert main(["pack", str(bench), "--also", str(bench / "notes.md"), "--json"]) == 0
    document = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    jsonschema.validate(document, forms.schema("pack"))
    assert document["pack"] == f"{bench}.zip"
    assert "notes.md" in document["files"]
    assert "notes.md" not in document["left_out"]
    assert document["made"] == ""


def test_pack_makes_what_is_missing_with_the_draws_that_are_asked_for(three, tmp_path, capsys):
    path = tmp_path / "a.zip"
    assert main(["pack", str(three), str(path), "--draws", "0", "--quiet"]) == 0
    made = "made for it, as none was saved: results/comparison.nc, a comparison with no draws"
    assert made in capsys.readouterr().out.splitlines()


def test_unpack_and_verify(packed, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["unpack", str(packed)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "unpacked into my-bench; every file is as it was packed",
        "next: spectralbench verify my-bench",
    ]
    assert main(["unpack", str(packed), "other", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, forms.schema("unpack"))
    assert document["bench"] == "other"
    assert main(["unpack", str(packed)]) == BAD_DATA
    assert "found something there already; expected a new or an empty folder" in capsys.readouterr().err


def test_verify_takes_a_pack(packed, tmp_path, capsys):
    assert main(["verify", str(packed), "--quiet"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("✓ my-bench.zip, packed ")
    assert lines[1].startswith("✓ results/comparison.nc, a comparison without draws: all ")
    assert lines[-1] == f"1 saved result of {packed} agrees with its raw files."
    with zipfile.ZipFile(shutil.copy(packed, tmp_path / "more.zip"), "a") as more:
        more.writestr("more.txt", "more")
    assert main(["verify", str(tmp_path / "more.zip"), "--json"]) == BAD_DATA
    document = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    jsonschema.validate(document, forms.schema("verify"))
    assert (document["ok"], document["results"][0]["ok"], document["pack"]["ok"]) == (False, True, False)
    assert document["pack"]["files"] == {"more.txt": "is not listed"}
    assert document["pack"]["said"][0].endswith(": files were added.")


def test_a_pack_that_says_no_prints_so_at_the_end(capsys):
    from rich.console import Console

    from spectralbench.reports import tables

    entry = {"ok": True, "said": ["a.nc: the same."]}
    pack = {"ok": False, "said": ["a.zip: 1 of 9 files is not as it was packed.", "Changed: notes.md."]}
    record = {"ok": False, "folder": "a.zip", "results": [entry], "pack": pack}
    tables.print_verification(Console(width=200), record)
    assert capsys.readouterr().out.splitlines() == [
        "✗ a.zip: 1 of 9 files is not as it was packed.",
        "  Changed: notes.md.",
        "✓ a.nc: the same.",
        "",
        "1 saved result of a.zip agrees with its raw files. The pack is not as it was packed.",
    ]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["verify", "nowhere.zip"], "nowhere.zip cannot be read: found no such file; expected a plain zip"),
        (["verify", "nowhere"], "no bench.toml"),
        (["unpack", "nowhere.zip"], "nowhere.zip cannot be read: found no such file; expected a plain zip"),
        (["pack", "nowhere"], "no bench.toml"),
    ],
)
def test_what_is_not_there(arguments, words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main([*arguments, "--quiet"]) == BAD_DATA
    assert words in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["pack", "unpack", "verify"])
def test_help_has_an_example(command, capsys):
    with pytest.raises(SystemExit) as stop:
        main([command, "--help"])
    assert stop.value.code == 0
    assert f"example:\n  spectralbench {command} my-bench" in capsys.readouterr().out


def test_bad_calls_and_completion(capsys):
    for arguments in (["pack"], ["unpack"], ["pack", "b", "--draws", "3"]):
        with pytest.raises(SystemExit) as stop:
            main(arguments)
        assert stop.value.code == BAD_CALL
    assert main(["completion", "bash"]) == 0
    printed = capsys.readouterr().out
    assert "unpack" in printed
    assert "--also" in printed


@pytest.mark.parametrize(
    ("entries", "last"),
    [
        ([(True, "same bits")], "1 saved result of b agrees with its raw files."),
        ([(False, "differs")], "1 saved result of b does not agree with its raw files."),
        ([(False, "same bits")], "1 saved result of b has the same figures, from files that have changed."),
        ([(False, "not made again")], "1 saved result of b could not be read or made again."),
        (
            [(True, "same bits"), (True, "same bits"), (False, "differs"), (False, "not read")],
            "2 saved results of b agree with their raw files; 1 does not agree with its raw files; "
            "1 could not be read or made again.",
        ),
    ],
)
def test_the_last_line_says_how_many_agree_in_which_way(entries, last, capsys):
    from rich.console import Console

    from spectralbench.reports import tables

    results = [{"ok": ok, "status": status, "said": ["a.nc: so."]} for ok, status in entries]
    tables.print_verification(Console(width=200), {"ok": False, "folder": "b", "results": results})
    assert capsys.readouterr().out.splitlines()[-1] == last
