"""What parts pass, in a notebook: the thickness moves curves and figures, and wavelengths are chosen."""

from __future__ import annotations

import re
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

CELL = """\
from spectralbench.widgets.transmission import Transmission

parts = Transmission("bench", draws=20)
parts"""


@pytest.fixture
def view(watched: Any, notebook: Any) -> Any:
    """The widget in a notebook, once it is drawn."""
    found = notebook.run("sb-transmission")
    expect(found.get_by_role("table", name="Transmittance at chosen wavelengths")).to_be_visible()
    return found


def test_the_thickness_moves_curves_figures_and_python(watched, notebook, view):
    page = watched
    canvas = view.locator(".sbt-passed canvas")
    row = view.get_by_role("row", name=re.compile("405 nm"))
    before, words = canvas.evaluate("canvas => canvas.toDataURL()"), row.text_content()
    expect(view.locator(".sbt-gap")).to_have_count(0)
    slider = view.get_by_role("slider", name="thickness of cover")
    slider.focus()
    slider.press("Home")
    expect(row).not_to_have_text(words)
    assert canvas.evaluate("canvas => canvas.toDataURL()") != before
    thin = float(slider.input_value())
    assert float(notebook.value("parts.thickness['cover']")) == thin < 1
    bonded = "parts.result['quoted'].sel(state='bonded', part='cover', quoted_wavelength=405).item()"
    expect(row).to_contain_text(f"{100 * float(notebook.value(bonded)):.3g}"[:4])
    expect(view.locator(".sbt-gap").first).to_be_visible()
    expect(view.get_by_role("list", name="Cautions")).to_contain_text("below the floor")
    notebook.said("parts.thickness = {'cover': '1.5 mm'}")
    expect(slider).to_have_value("1.5")
    expect(view.get_by_role("columnheader", name="cover, as bonded 1.5 mm")).to_be_visible()
    view.get_by_role("button", name="As on the bench").click()
    expect(slider).to_have_value("2")
    expect(row).to_have_text(words)

    more = view.get_by_role("spinbutton", name="another wavelength, in nm")
    more.focus()
    page.keyboard.type("410")
    page.keyboard.press("Enter")
    expect(view.get_by_role("row", name=re.compile("410 nm"))).to_be_visible()
    assert notebook.value("parts.wavelengths") == "[365.0, 385.0, 405.0, 410.0, 436.0]"
    view.get_by_role("button", name="without 405 nm").press("Enter")
    expect(row).to_have_count(0)
    expect(view.get_by_role("button", name="without 410 nm")).to_be_focused()
    more.fill("200")
    more.press("Enter")
    beside = view.locator(".sbl-fields").get_by_role("alert")
    expect(beside).to_contain_text("200 nm lies outside of what was measured")
    expect(view.get_by_role("alert")).to_have_count(1)
    expect(more).to_have_value("200")
    more.fill("410,5x")
    more.press("Enter")
    expect(beside).to_have_text("“410,5x” is not a number")
    more.fill("200")
    more.press("Enter")
    expect(beside).to_contain_text("200 nm lies outside of what was measured")
    notebook.said("parts.wavelengths = [380]")
    expect(view.get_by_role("alert")).to_have_count(0)
    shown = canvas.evaluate("canvas => canvas.toDataURL()")
    view.get_by_role("checkbox", name="show cover, as measured").uncheck()
    page.wait_for_function(
        "before => document.querySelector('.sbt-passed canvas').toDataURL() !== before", arg=shown
    )
    assert notebook.left_listening("transmission") == 0


def test_what_belongs_to_no_bench_stands_as_it_was_measured(notebook, view):
    notebook.said("parts.controls = [{**one, 'stood': 'measured'} for one in parts.controls]")
    back = view.get_by_role("button", name="As measured")
    expect(back).to_be_visible()
    thickness = view.get_by_role("slider", name="thickness of cover")
    thickness.press("Home")
    expect(view.get_by_text("measured 2 mm")).to_be_visible()
    back.click()
    expect(thickness).to_have_value("2")


def test_nothing_bars_anyone_from_it(view, barriers):
    assert barriers(".sb-transmission") == []
