"""A notebook that was saved and is opened again: without its kernel, and where nobody knows of us."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient
from nbconvert import HTMLExporter

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

SHOTS = Path(__file__).parents[2] / ".cache" / "screenshots"
CELLS = (
    "from spectralbench.widgets import FrameCheck, LightPath, Transmission\nLightPath('bench', draws=0)",
    "FrameCheck('bench', 'arc')",
    "Transmission('bench', draws=0)",
)


@pytest.fixture(scope="session")
def executed(lab: Any) -> nbformat.NotebookNode:
    """A notebook as JupyterLab saves it: with its outputs, without the state of a kernel."""
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(code) for code in CELLS])
    notebook.metadata.kernelspec = {"name": "none", "display_name": "gone", "language": "python"}
    client = NotebookClient(notebook, timeout=120, kernel_name="python3", store_widget_state=False)
    client.resources = {"metadata": {"path": str(lab.folder)}}
    client.execute()
    notebook.metadata.kernelspec = {"name": "none", "display_name": "gone", "language": "python"}
    return notebook


pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning")


@pytest.fixture
def reopened(page: Any, lab: Any, heard: Any, executed: nbformat.NotebookNode) -> Any:
    """The notebook in JupyterLab, in which nobody runs anything."""
    heard.expected.append("/@jupyter-widgets/jupyterlab-manager/")  # which looks for a kernel and trips
    nbformat.write(executed, lab.folder / "saved.ipynb")
    page.evaluate(
        "path => void window.jupyterapp.commands.execute('docmanager:open', {path, factory: 'Notebook', "
        "kernelPreference: {shouldStart: false, autoStartDefault: false}})",
        "saved.ipynb",
    )
    panel = page.locator(".jp-NotebookPanel")
    dialog = page.get_by_role("dialog")
    panel.wait_for()
    if dialog.count():
        dialog.get_by_role("button", name=re.compile("No Kernel|Cancel")).first.click()
    return panel


def test_a_saved_widget_is_shown_without_a_kernel_and_still_zooms(reopened):
    light = reopened.get_by_role("region", name=re.compile("light path", re.IGNORECASE))
    expect(light).to_be_visible()
    expect(
        light.get_by_role("status").filter(has_text="Not connected: this is what the cell showed at first")
    ).to_be_visible()
    expect(light.get_by_role("slider", name="thickness of cover", exact=True)).to_be_disabled()
    expect(light.get_by_role("table", name="Sources in order")).to_contain_text("LED 405")
    plot = light.get_by_role("application").first
    canvas = plot.locator("canvas").first if plot.locator("canvas").count() else light.locator("canvas").first
    before = canvas.evaluate("canvas => canvas.toDataURL()")
    plot.focus()
    plot.press("+")
    reopened.page.wait_for_function(
        "([canvas, before]) => canvas.toDataURL() !== before", arg=[canvas.element_handle(), before]
    )
    for name in ("frame check", "transmission"):
        other = reopened.get_by_role("region", name=re.compile(name, re.IGNORECASE))
        other.scroll_into_view_if_needed()
        expect(other).to_be_visible()
        expect(other.get_by_role("status").filter(has_text="Not connected")).to_be_visible()
    SHOTS.mkdir(parents=True, exist_ok=True)
    reopened.page.screenshot(path=SHOTS / "saved.png")


def test_a_page_that_knows_nothing_of_us_shows_pictures_with_figures(context, executed, tmp_path):
    """Converted, and without a network: three pictures, and nothing that somebody has to wait for."""
    html, _ = HTMLExporter().from_notebook_node(executed)
    (tmp_path / "saved.html").write_text(html, encoding="utf-8")
    page = context.new_page()
    page.route(re.compile("^https?://"), lambda route: route.abort())
    page.goto((tmp_path / "saved.html").as_uri(), wait_until="load")
    pictures = page.locator(".jp-RenderedSVG img")
    expect(pictures).to_have_count(3)
    widths = pictures.evaluate_all("images => images.map(image => image.complete && image.naturalWidth)")
    assert all(width > 300 for width in widths)
    assert "Loading widget" not in page.content()
    page.set_viewport_size({"width": 1000, "height": 1400})
    page.screenshot(path=tmp_path / "page.png")
    page.close()
