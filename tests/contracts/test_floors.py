"""Floors: a module imports only from lower ones. The rule itself stands in pyproject.toml."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_import_linter_keeps_every_contract():
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]
    result = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert result.returncode == 0, result.stdout
    assert "0 broken" in result.stdout


def test_top_level_names_are_the_agreed_ones():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "spectralbench", "extension"}
    agreed |= {"example_notebooks", "tests", "reference_curves"}
    agreed |= {"LICENSE", "CHANGELOG.md", "CITATION.cff", "Makefile"}
    assert {name for name in top if not name.startswith(".")} <= agreed
