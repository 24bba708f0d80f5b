"""Every code block of the README and of the pages runs, and prints what stands below it.

All pages share one folder with a demo bench, and a command that stands on several pages runs once. Names in
Python last to the end of a page. What a page shows may leave out lines and pieces by "…". Where no
figure of a command is shown, it draws nothing.
"""

from __future__ import annotations

import contextlib
import io
import itertools
import math
import os
import re
import shlex
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from pydantic import BaseModel

import spectralbench as sb
from spectralbench.benches import schema
from spectralbench.benches.schema import Manifest
from spectralbench.cli import main

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    path.relative_to(ROOT).as_posix() for path in (ROOT / "spectralbench/documentation").rglob("*.md")
)
LANGUAGES = {"python", "sh", "toml", "text"}
FEW = 20  # draws
COMPARE = "spectralbench compare my-bench --report report.html --save my-bench/results/today.nc"
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
    """Where the commands of all pages run, each of them once; without draws if their output is not shown."""

    def __init__(self, path: Path, shown: set[str]) -> None:
        self.path = path
        self.shown = shown
        self.few = b""
        self.printed: dict[str, str] = {}

    def command(self, line: str) -> str:
        text = as_run(line)
        words = text.split()[1:]
        if words[0] in ("compare", "reduce") and text not in self.shown and "--draws" not in words:
            words += ["--draws", "0"]
            text += " --draws 0"
        if text not in self.printed:
            with self.saved_with_few_draws() if words[0] in ("pack", "verify") else contextlib.nullcontext():
                self.printed[text] = self.printed_by(words)
        return self.printed[text]

    def printed_by(self, words: list[str]) -> str:
        out = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
            assert main(words) == 0, words
        return out.getvalue()

    @contextlib.contextmanager
    def saved_with_few_draws(self) -> Iterator[None]:
        """What is made again need not be made again a thousand times."""
        saved = self.path / "my-bench" / "results" / "today.nc"
        before = saved.read_bytes() if saved.exists() else None
        if not self.few:
            saved.parent.mkdir(exist_ok=True)
            sb.save(sb.compare(self.path / "my-bench", draws=FEW, seed=1), saved)
            self.few = saved.read_bytes()
        saved.write_bytes(self.few)
        yield
        saved.unlink() if before is None else saved.write_bytes(before)


def as_run(line: str) -> str:
    return shlex.join(shlex.split(line, comments=True))


@pytest.fixture(scope="module")
def shown(pages) -> set[str]:
    """The commands below which a page shows what they print."""
    found = set()
    for text in pages.values():
        all_blocks = blocks(text)
        for block, after in itertools.pairwise(all_blocks):
            if (block.language, after.language) == ("sh", "text"):
                found |= {as_run(line) for line in block.text.splitlines()}
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory, shown):
    path = tmp_path_factory.mktemp("pages")
    before = Path.cwd()
    os.chdir(path)
    made = Folder(path, shown)
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
    # numpy as it comes: a library that other tests use has it print otherwise
    with contextlib.redirect_stdout(out), np.printoptions(legacy=False):
        exec(compile(text, where, "exec"), names)
    return out.getvalue()


def read_frame(text: str, path: Path) -> None:
    path.write_text(text, encoding="utf-8")
    data = sb.read(path)
    assert data.attrs["format"] == "spectralbench plain text"
    assert data.counts.sizes["spectrum"] == 2
    assert float(data["integration_time"]) == 0.02


@pytest.mark.parametrize("name", ["README.md", *(p for p in PAGES if "/functions/" not in p)])
def test_every_block_runs_and_prints_what_it_says(name, pages, folder, manifest_of_the_pages, tmp_path):
    names: dict[str, object] = {}
    printed = ""
    for block in blocks(pages[name]):
        where = f"{name}, line {block.line}"
        if re.fullmatch(DIRECTIVES, block.language):
            continue
        assert block.language in LANGUAGES, where
        if block.language == "python":
            printed = run_python(block.text, names, where)
        elif block.language == "sh":
            printed = run_sh(folder, block.text)
        elif block.language == "toml":
            changes = tomllib.loads(block.text)
            Manifest.model_validate(tomllib.loads(manifest_of_the_pages) | changes)
        elif block.text.startswith("# title"):
            read_frame(block.text, tmp_path / "frame.csv")
        else:
            told = block.text.replace("1000 draws", f"{FEW} draws")  # of a result that was saved with few
            assert shows(printed, block.text) or shows(printed, told), f"{where}: it printed\n{printed}"


def test_the_readme_tells_the_figures_of_the_demo(pages, folder):
    folder.command(COMPARE)
    result = sb.load("my-bench/results/today.nc").mean("draw")
    best, stated = result.sel(source="LED 405"), result.sel(source="LED 365")
    at_part, behind = (float(stated[name]) / 10 for name in ("irradiance_at_part", "band_irradiance"))
    required = float(stated.limit.sel(criterion="irradiance")) / 10
    photons = float(best.absorbed_photons / best.required_photons)
    lost = int(result.invalid.str.len().astype(bool).sum())
    words = {1: "One", 6: "six", 16: "sixteen"}
    told = [
        f"365 nm gives {at_part:.0f} mW/cm² at the part, {words[round(at_part / required)]} times",
        f"the cover stops {float(stated.kept_share):.0%} of it".replace("%", " %"),
        f"{behind:.0f} mW/cm² arrive where the bond is lit least, and {required:.0f} are required",
        f"brings {float(best.band_irradiance) / 10:.0f} mW/cm² through the same cover",
        f"nearly {words[math.ceil(photons)]} times as many photons",
        f"in {float(best.exposure_time):.1f} s. So that is what to test first",
        f"{words[lost]} frame of the arc is saturated",
    ]
    readme = squeezed(pages["README.md"])
    assert [words for words in told if words not in readme] == []
    assert best.place == 1


def test_what_is_not_printed_is_noticed():
    assert shows("a ┃ 12.3 nm\nb", "a 12… nm")
    assert not shows("a 12.3 nm", "a 12.4 nm")
    assert not shows("b a", "a … b")


def keys(model: type[BaseModel]) -> set[str]:
    found = set(model.model_fields)
    for field in model.model_fields.values():
        for inner in re.findall(r"schema\.(?:\w+\.)?(\w+)", str(field.annotation)):
            if inner != "Measured":
                found |= keys(getattr(schema, inner))
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
