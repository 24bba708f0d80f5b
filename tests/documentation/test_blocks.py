"""Every code block of the README and of the pages runs, and prints what stands below it.

All pages share one folder with a demo bench, and a command that stands on several pages runs once. Names in
Python last to the end of a page. What a page shows may leave out lines and pieces by "…".
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import tomllib
from pathlib import Path
from typing import NamedTuple

import pytest
from pydantic import BaseModel

import spectralbench as sb
from spectralbench.benches.schema import Manifest
from spectralbench.cli import main

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    path.relative_to(ROOT).as_posix() for path in (ROOT / "spectralbench/documentation").rglob("*.md")
)
LANGUAGES = {"python", "sh", "toml", "text"}
DIRECTIVES = r"\{[\w-]+\}.*"
TARGETS = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), flags=re.M))


class Block(NamedTuple):
    """A fenced block, with the line on which it begins."""

    language: str
    text: str
    line: int


def blocks(text: str) -> list[Block]:
    found = []
    for match in re.finditer(r"^```([^\n`]*)\n(.*?)^```$", text, flags=re.S | re.M):
        found.append(Block(match[1], match[2], text[: match.start()].count("\n") + 1))
    return found


def squeezed(text: str) -> str:
    """Without the lines of tables and the breaks of a narrow terminal."""
    return " ".join(re.sub(r"[│┃━┏┓┗┛┡┩├┤┼─└┘┴]", " ", text).split())


def shows(printed: str, shown: str) -> bool:
    """Whether all pieces of what is shown stand in what was printed, in their order."""
    pieces = [re.escape(squeezed(piece)) for piece in shown.split("…")]
    return re.search(".*?".join(pieces), squeezed(printed)) is not None


class Folder:
    """Where the commands of all pages run, each of them once."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.printed: dict[str, str] = {}

    def command(self, line: str) -> str:
        words = shlex.split(line, comments=True)
        text = shlex.join(words)
        if text not in self.printed:
            out = io.StringIO()
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
                assert main(words[1:]) == 0, line
            self.printed[text] = out.getvalue()
        return self.printed[text]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("pages")
    before = Path.cwd()
    os.chdir(path)
    made = Folder(path)
    made.command("spectralbench demo my-bench")
    yield made
    os.chdir(before)


def run_sh(folder: Folder, text: str) -> str:
    printed = ""
    for line in text.splitlines():
        if line.startswith("spectralbench "):
            printed += folder.command(line)
        else:
            targets = re.findall(r"\bmake ([a-z]+)", line)
            assert targets, f"neither a command of ours nor one of make: {line}"
            assert set(targets) <= TARGETS, line
    return printed


def run_python(text: str, names: dict[str, object], where: str) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(text, where, "exec"), names)
    return out.getvalue()


def read_frame(text: str, path: Path) -> None:
    path.write_text(text, encoding="utf-8")
    data = sb.read(path)
    assert data.attrs["format"] == "spectralbench plain text"
    assert data.counts.sizes["spectrum"] == 2
    assert float(data["integration_time"]) == 0.02


@pytest.mark.parametrize("name", ["README.md", *(p for p in PAGES if "/functions/" not in p)])
def test_every_block_runs_and_prints_what_it_says(
    name, pages, folder, manifest_of_the_pages, tmp_path, monkeypatch
):
    names: dict[str, object] = {}
    printed = ""
    for block in blocks(pages[name]):
        where = f"{name}, line {block.line}"
        if re.fullmatch(DIRECTIVES, block.language):
            continue
        assert block.language in LANGUAGES, where
        if block.language == "python":
            with monkeypatch.context() as there:
                if "write_demo_bench" in block.text:
                    there.chdir(tmp_path)
                printed = run_python(block.text, names, where)
        elif block.language == "sh":
            printed = run_sh(folder, block.text)
        elif block.language == "toml":
            changes = tomllib.loads(block.text)
            Manifest.model_validate(tomllib.loads(manifest_of_the_pages) | changes)
        elif block.text.startswith("# title"):
            read_frame(block.text, tmp_path / "frame.csv")
        else:
            assert shows(printed, block.text), f"{where}: it printed\n{printed}"


def test_what_is_not_printed_is_noticed():
    assert shows("a ┃ 12.3 nm\nb", "a 12… nm")
    assert not shows("a 12.3 nm", "a 12.4 nm")
    assert not shows("b a", "a … b")


def keys(model: type[BaseModel]) -> set[str]:
    found = set(model.model_fields)
    for field in model.model_fields.values():
        for inner in re.findall(r"schema\.(?:\w+\.)?(\w+)", str(field.annotation)):
            if inner != "Measured":
                found |= keys(getattr(__import__("spectralbench.benches.schema", fromlist=[inner]), inner))
    return found


def test_the_manifest_has_every_key(manifest_of_the_pages):
    missing = {key for key in keys(Manifest) if not re.search(rf"\b{key}\b", manifest_of_the_pages)}
    assert not missing


def test_every_key_of_the_manifest_is_explained(manifest_of_the_pages):
    told_by_name = {"name", "frame", "file", "dose", "title", "distance", "material", "thickness", "source"}
    told_by_name |= {"minimum_irradiance", "certified_distance", "concentration"}
    for line in manifest_of_the_pages.splitlines():
        if match := re.match(r"(\w+) = ", line):
            assert "#" in line or match[1] in told_by_name, line


def test_the_readme_answers_and_stays_on_one_page(pages):
    readme = pages["README.md"]
    assert len(readme.splitlines()) <= 90
    assert {"demo", "test", "docs"} <= set(re.findall(r"\bmake ([a-z]+)", readme))
    assert "light_path.svg" in readme
    assert "Caution" in readme
