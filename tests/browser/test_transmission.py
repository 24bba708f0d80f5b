"""What parts pass, in a notebook: the thickness moves curves and figures, and wavelengths are chosen."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

ROOT = Path(__file__).parents[2]
SCRIPT = ROOT / "spectralbench" / "widgets" / "static" / "transmission.js"
pytestmark = pytest.mark.skipif(not SCRIPT.is_file(), reason="the widget is not built (make extension)")

NAME = "parts.ipynb"
CELLS = """\
from spectralbench.widgets.transmission import Transmission

parts = Transmission("bench", draws=60)
parts"""
CLOSED = "spectralbench: transmission closed"
KERNEL = "window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel"


@pytest.fixture
def view(page: Any, lab: Any) -> Iterator[Any]:
    """The widget in a notebook, once it is drawn."""
    cell = {
        "cell_type": "code",
        "id": "one",
        "metadata": {},
        "source": CELLS,
        "outputs": [],
        "execution_count": None,
    }
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    content = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (lab.folder / NAME).write_text(json.dumps(content))
    page.evaluate("path => void window.jupyterapp.commands.execute('docmanager:open', {path})", NAME)
    page.wait_for_selector(".jp-NotebookPanel .jp-CodeCell", state="attached")
    page.wait_for_function(f"{KERNEL}?.status === 'idle'")
    page.evaluate("void window.jupyterapp.commands.execute('notebook:run-all-cells')")
    found = page.locator(".sb-transmission")
    expect(found.get_by_role("table", name="Transmittance at chosen wavelengths")).to_be_visible(
        timeout=30_000
    )
    yield found
    page.evaluate("void window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")


def value(page: Any, expression: str) -> str:
    """What Python says of an expression."""
    found = page.evaluate(
        f"""async expression => {{
          const asked = {{ code: '', user_expressions: {{ found: expression }} }};
          const answer = await {KERNEL}.requestExecute(asked).done;
          const found = answer.content.user_expressions.found;
          return found.data?.['text/plain'] ?? found.evalue;
        }}""",
        expression,
    )
    return str(found)


def said(page: Any, code: str) -> None:
    """Run code in the kernel, as a cell does."""
    page.evaluate(f"async code => {{ await {KERNEL}.requestExecute({{ code }}).done; }}", code)


def test_the_thickness_moves_curves_figures_and_python(page, view):
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
    assert float(value(page, "parts.thickness['cover']")) == thin < 1
    bonded = "parts.result['quoted'].sel(state='bonded', part='cover', quoted_wavelength=405).item()"
    expect(row).to_contain_text(f"{100 * float(value(page, bonded)):.3g}"[:4])
    expect(view.locator(".sbt-gap").first).to_be_visible()
    expect(view.get_by_role("list", name="Cautions")).to_contain_text("below the floor")
    said(page, "parts.thickness = {'cover': '1.5 mm'}")
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
    assert value(page, "parts.wavelengths") == "[365.0, 385.0, 405.0, 410.0, 436.0]"
    view.get_by_role("button", name="without 405 nm").press("Enter")
    expect(row).to_have_count(0)
    expect(view.get_by_role("button", name="without 410 nm")).to_be_focused()
    more.fill("200")
    more.press("Enter")
    expect(view.get_by_role("alert")).to_contain_text("200 nm lies outside of what was measured")
    said(page, "parts.wavelengths = [380]")
    expect(view.get_by_role("alert")).to_have_count(0)
    shown = canvas.evaluate("canvas => canvas.toDataURL()")
    view.get_by_role("checkbox", name="show cover, as measured").uncheck()
    page.wait_for_function(
        "before => document.querySelector('.sbt-passed canvas').toDataURL() !== before", arg=shown
    )
    page.evaluate("performance.clearMarks()")
    page.evaluate("void window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.wait_for_function(f"performance.getEntriesByName('{CLOSED}').length > 0")
    assert page.evaluate(f"performance.getEntriesByName('{CLOSED}')[0].detail") == 0
