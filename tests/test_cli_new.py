"""A bench and a notebook to start from, from the terminal."""

from __future__ import annotations

import json

import pytest

from spectralbench.benches.starting import TEMPLATES
from spectralbench.cli import BAD_DATA, NOTEBOOKS, main
from spectralbench.reports.forms import form


@pytest.fixture(autouse=True)
def _there(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_a_bench_is_started_and_what_comes_next_is_said(tmp_path, capsys):
    assert main(["new", "mine"]) == 0
    said = capsys.readouterr().out
    assert "every value in it is a placeholder, and raw/ waits for your files" in said
    assert "next: spectralbench compare mine says what is missing or wrong" in said
    assert sorted(path.name for path in (tmp_path / "mine").iterdir()) == ["bench.toml", "raw"]
    assert main(["compare", "mine"]) == BAD_DATA
    assert capsys.readouterr().err.count("found no such file") == 11


def test_names_need_not_be_given(tmp_path, capsys):
    assert main(["new", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"form": form("new"), "bench": "bench"}
    assert main(["new", "--notebook", "which_source", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"form": form("new"), "notebook": "which_source.ipynb"}
    assert (tmp_path / "which_source.ipynb").is_file()


def test_what_is_there_is_left_alone(tmp_path, capsys):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "bench.toml").write_text("mine", encoding="utf-8")
    assert main(["new", "mine"]) == BAD_DATA
    assert "expected a new or an empty folder. Name a new folder." in " ".join(
        capsys.readouterr().err.split()
    )
    assert (tmp_path / "mine" / "bench.toml").read_text(encoding="utf-8") == "mine"


def test_notebooks_are_those_that_there_are(capsys):
    assert tuple(TEMPLATES) == NOTEBOOKS
    with pytest.raises(SystemExit):
        main(["new", "--notebook", "other"])
    assert "invalid choice: 'other'" in capsys.readouterr().err
