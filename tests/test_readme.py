"""What the README promises is true: its commands, its manifest, its code."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from spectralbench.benches.schema import Manifest
from spectralbench.cli import parser

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.S)


def keys(model: type[BaseModel]) -> set[str]:
    found = set(model.model_fields)
    for field in model.model_fields.values():
        for inner in re.findall(r"schema\.(?:\w+\.)?(\w+)", str(field.annotation)):
            if inner != "Measured":
                found |= keys(getattr(__import__("spectralbench.benches.schema", fromlist=[inner]), inner))
    return found


def test_the_manifest_is_complete_and_valid():
    (text,) = blocks("toml")
    Manifest.model_validate(tomllib.loads(text))
    missing = {key for key in keys(Manifest) if not re.search(rf"\b{key}\b", text)}
    assert not missing


def test_every_key_of_the_manifest_is_explained():
    (text,) = blocks("toml")
    told_by_name = {"name", "frame", "file", "dose", "title", "distance", "material", "thickness", "source"}
    told_by_name |= {"minimum_irradiance", "certified_distance", "concentration"}
    for line in text.splitlines():
        if match := re.match(r"(\w+) = ", line):
            assert "#" in line or match[1] in told_by_name, line


def test_the_commands_parse():
    lines = [
        line for block in blocks("sh") for line in block.splitlines() if line.startswith("spectralbench")
    ]
    assert len(lines) >= 4
    for line in lines:
        parser().parse_args(shlex.split(line, comments=True)[1:])
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), flags=re.M))
    assert {"demo", "test"} <= targets


def test_the_code_runs(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for code in blocks("python"):
        exec(compile(code, "README.md", "exec"), names)
    assert names["frames"].counts.dims == ("spectrum", "wavelength")
    assert "Test first: LED 405" in capsys.readouterr().out


def test_the_frame_reads(tmp_path):
    import spectralbench as sb

    (text,) = blocks("text")
    path = tmp_path / "frame.csv"
    path.write_text(text, encoding="utf-8")
    data = sb.read(path)
    assert data["counts"].shape == (2, 2)
    assert data.attrs["format"] == "spectralbench plain text"
    assert float(data["integration_time"]) == 0.02


@pytest.mark.parametrize("link", re.findall(r"\]\(([^)]+)\)", README))
def test_links_lead_to_files(link):
    assert (ROOT / link).is_file()


def test_every_sample_is_shown_and_reads():
    """The table of what is read, against what stands in tests/samples."""
    import spectralbench as sb

    samples = {path.name for path in (ROOT / "tests" / "samples").iterdir() if path.suffix != ".md"}
    shown = set(re.findall(r"\(tests/samples/([^)]+)\)", README)) - {"jcamp_sources.md"}
    listed = (ROOT / "tests" / "samples" / "jcamp_sources.md").read_text()
    assert samples == shown | {name for name in samples if f"`{name}`" in listed}
    for name in shown:
        path = ROOT / "tests" / "samples" / name
        sb.read(path)
        words = path.read_text(encoding="latin-1").casefold()
        assert "invented" in words or "erfunden" in words
