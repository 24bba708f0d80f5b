"""The README and every page, as text; nothing of them is read twice."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = ROOT / "spectralbench" / "documentation"


@pytest.fixture(scope="session")
def pages() -> dict[str, str]:
    """The text of each, by its path in the repository."""
    paths = [ROOT / "README.md", *sorted(SOURCES.rglob("*.md"))]
    return {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in paths}


@pytest.fixture(scope="session")
def manifest_of_the_pages(pages) -> str:
    """The whole manifest with every key, as the reference shows it."""
    text = pages["spectralbench/documentation/reference/manifest.md"]
    return "\n".join(piece.split("```")[0] for piece in text.split("```toml\n")[1:])
