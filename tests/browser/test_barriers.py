"""The file viewer and the look-up of functions, in light and dark: nothing keeps people from using them."""

from __future__ import annotations

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)


def test_the_file_viewer(barriers, opened):
    opened("lamp.spectrum.csv")
    assert barriers(".sb") == []


def test_the_look_up(page, barriers):
    page.evaluate("void window.jupyterapp.commands.execute('spectralbench:look-up', {query: 'thickness'})")
    options = page.get_by_role("listbox", name="Functions").get_by_role("option")
    expect(options.first).to_be_visible()
    assert barriers(".sb-finder") == []
