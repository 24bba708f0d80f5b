"""One comparison for all tests of this folder, and pages without pictures."""

from __future__ import annotations

import pytest

import spectralbench as sb
from spectralbench.reports import page


@pytest.fixture(scope="package")
def result(reduced):
    return sb.compare(reduced)


@pytest.fixture(scope="package")
def no_pictures():
    """Instead of pictures, which take nine tenths of the time of a page."""

    def nothing(tree, result, pages, needed):
        names = ["light_path", "by_depth", "against", *(one["anchor"] for one in pages)]
        return {name: ["", ""] for name in names}

    return nothing


@pytest.fixture
def undrawn(monkeypatch, no_pictures):
    monkeypatch.setattr(page, "_pictures", no_pictures)
