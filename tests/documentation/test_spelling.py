"""Spelling of what people read: README, pages, notebooks, docstrings; misspelt words, and American ones."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RIGHT = {
    *("fro", "exitance", "numer"),  # to and fro; radiant exitance; SIAM J. Numer. Anal.
    *("program", "programs", "meter", "meters"),  # of a computer; what measures
    *("practice", "practices", "license", "licensed"),  # right in both, and so are the next
    *("focused", "focuses", "story", "stories"),
    *("math", "color", "center"),  # names in code of others
    "summarize",  # a public name of our own
}


def american(file: Path) -> Path:
    """The dictionary from British to American, turned round."""
    text = files("codespell_lib").joinpath("data/dictionary_en-GB_to_en-US.txt").read_text(encoding="utf-8")
    pairs = [line.split("->") for line in text.splitlines()]
    lines = sorted(
        f"{word.strip()}->{british}" for british, words in pairs for word in words.split(",") if word.strip()
    )
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def docstrings(file: Path) -> str:
    places = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    tree = ast.parse(file.read_text(encoding="utf-8"))
    found = [ast.get_docstring(node) or "" for node in ast.walk(tree) if isinstance(node, places)]
    return "\n".join(
        line for text in found for line in text.splitlines() if not line.lstrip().startswith((">>>", "..."))
    )


def notebook(file: Path) -> str:
    return "\n".join(
        "".join(cell["source"]) for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]
    )


def spelt(folder: Path, texts: dict[str, str]) -> list[str]:
    """What is wrong, word by word."""
    for name, text in texts.items():
        (folder / name.replace("/", " ")).write_text(re.sub(r"\bSME\b", "", text), encoding="utf-8")
    command = [sys.executable, "-m", "codespell_lib", "--quiet-level", "3", "--builtin", "clear,rare"]
    command += ["-D", "-", "-D", str(american(folder.parent / "american.txt"))]
    command += ["--ignore-words-list", ",".join(RIGHT), str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8")
    return done.stdout.splitlines() + done.stderr.splitlines()


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "texts"
    made.mkdir()
    return made


def test_everything_that_people_read_is_spelt_right(pages, folder):
    texts = dict(pages)
    for name in ("DEVELOPERS.md", "CHANGELOG.md"):
        texts[name] = (ROOT / name).read_text(encoding="utf-8")
    for path in (ROOT / "spectralbench").rglob("*.py"):
        texts[str(path.relative_to(ROOT))] = docstrings(path)
    for pattern in ("example_notebooks/*.ipynb", "spectralbench/notebook_templates/*.ipynb"):
        for path in ROOT.glob(pattern):
            texts[str(path.relative_to(ROOT))] = notebook(path)
    assert len(texts) > 100
    assert spelt(folder, texts) == []


@pytest.mark.parametrize("text", ["the recieved light", "its colour and its normalized behavior"])
def test_a_wrong_word_is_noticed(folder, text):
    assert len(spelt(folder, {"page.md": text})) >= 1
