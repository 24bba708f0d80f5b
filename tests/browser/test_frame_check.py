"""A frame check in a notebook, by keyboard: a scan is left out with a reason, and Python sees it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

CELL = """\
from spectralbench.widgets.frame_check import FrameCheck

check = FrameCheck("bench", "LED 405")
check"""


@pytest.fixture
def run(watched: Any, notebook: Any) -> Callable[[str], Any]:
    """Run the cell with the scans of a source; gives the widget, once it is drawn."""

    def run_with(source: str) -> Any:
        notebook.source(CELL.replace("LED 405", source))
        view = notebook.run("sb-frame-check")
        expect(view.get_by_role("table", name="Scans of the frame")).to_be_visible()
        return view

    return run_with


def picture(view: Any, strip: str) -> str:
    """What is on the canvas of a strip."""
    return str(view.locator(f".sbf-{strip} canvas").evaluate("canvas => canvas.toDataURL()"))


def verdict(view: Any) -> Any:
    return view.locator(".sbf-verdict")


def test_a_scan_is_left_out_by_keyboard_with_a_reason_and_python_sees_it(watched, notebook, run):
    page, view = watched, run("LED 405")
    expect(verdict(view)).to_have_text(re.compile("may be used.*raw/led_405.csv"))
    before = picture(view, "scans")
    use = view.get_by_role("checkbox", name="use scan 3")
    use.focus()
    page.keyboard.press("Space")
    why = view.get_by_role("textbox", name="why scan 3 is left out")
    expect(why).to_be_focused()
    expect(view.get_by_text("scan 3 is used until you say why not")).to_be_visible()
    page.keyboard.press("Enter")
    expect(view.get_by_text("a reason is needed: what was seen?")).to_be_visible()
    assert notebook.value("check.left_out") == "{}"
    page.keyboard.type("lamp flickered")
    page.keyboard.press("Enter")
    row = view.get_by_role("row", name=re.compile("^use scan 3|scan 3 ")).first
    expect(row).to_contain_text("left out")
    expect(use).to_be_focused()
    expect(use).not_to_be_checked()
    expect(view.get_by_text("7 of 8 scans are used")).to_be_visible()
    assert notebook.value("check.left_out") == "{3: 'lamp flickered'}"
    assert notebook.value("check.kept.sizes['spectrum'], check.result.sizes['spectrum']") == "(7, 7)"
    line = 'frame = { file = "raw/led_405.csv", left_out = [3], because = "lamp flickered" }'
    expect(view.get_by_text(line)).to_be_visible()
    assert picture(view, "scans") != before

    notebook.said("check.left_out = {5: 'door open'}")
    expect(view.get_by_role("textbox", name="why scan 5 is left out")).to_have_value("door open")
    expect(use).to_be_checked()
    page.keyboard.press("Space")  # and by Escape, nothing has happened
    expect(why).to_be_focused()
    page.keyboard.press("Escape")
    expect(use).to_be_checked()
    back = view.get_by_role("checkbox", name="use scan 5")
    back.check()
    expect(view.get_by_text("8 of 8 scans are used")).to_be_visible()
    assert notebook.value("check.left_out") == "{}"
    notebook.said("check.left_out = dict.fromkeys(range(1, 8), 'x')")
    view.get_by_role("checkbox", name="use scan 8").uncheck()
    view.get_by_role("textbox", name="why scan 8 is left out").fill("x")
    page.keyboard.press("Enter")
    expect(view.get_by_role("alert")).to_contain_text("all 8 scans of this frame are left out")
    expect(view.get_by_role("checkbox", name="use scan 8")).to_be_checked()
    assert notebook.left_listening("frame check") == 0


def test_saturated_stretches_are_shown_and_without_a_kernel_it_says_so(heard, notebook, run):
    heard.expected.append("Could not restore the debugger state")  # JupyterLab's own, of a restart
    view = run("LED 405")
    expect(view.locator(".sbf-stretch")).to_have_count(0)
    view = run("arc")
    expect(verdict(view)).to_have_text(re.compile("may not be used"))
    expect(view.get_by_role("list", name="Why")).to_contain_text("saturated in each of 8 scans: 6 pixels at")
    expect(view.locator(".sbf-stretch")).to_be_visible()
    expect(view.locator(".sbl-limit")).to_have_text("saturated from 95 % of 65,535 counts on")
    chart = view.get_by_role("application")
    expect(chart).to_have_attribute("aria-label", re.compile("saturated: 6 pixels at 435.2–436.4 nm"))
    chart.press("ArrowRight")
    status = view.get_by_role("status").filter(has_text=re.compile(r"^\d+\.\d\d nm · mean of 8 "))
    expect(status).to_be_visible()
    notebook.restart()
    expect(view.get_by_text("Not connected: run the cell again")).to_be_visible()
    expect(view.get_by_role("checkbox", name="use scan 3")).to_be_disabled()
    before = chart.get_attribute("aria-label")
    chart.press("+")
    expect(chart).not_to_have_attribute("aria-label", before)
    notebook.wait()


def test_nothing_bars_anyone_from_it(run, barriers):
    run("arc")
    assert barriers(".sb-frame-check") == []
