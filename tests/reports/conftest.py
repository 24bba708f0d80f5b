"""One comparison for all tests of this folder, and pages without pictures."""

from __future__ import annotations

import pytest

import spectralbench as sb
from spectralbench.reports import page


@pytest.fixture(scope="package")
def result(reduced):
    return sb.compare(reduced)


@pytest.fixture
def undrawn(monkeypatch):
    """Without pictures, which take nine tenths of the time of a page."""

    def nothing(tree, result, pages, needed):
        names = ["light_path", "by_depth", "against", *(one["anchor"] for one in pages)]
        return {name: ["", ""] for name in names}

    monkeypatch.setattr(page, "_pictures", nothing)
