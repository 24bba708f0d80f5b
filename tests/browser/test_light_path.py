"""The light path in a notebook, as a person turns it: with a kernel, and after it is gone."""

from __future__ import annotations

import json
import re
import shutil
import statistics
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

ROOT = Path(__file__).parents[2]
SCRIPT = ROOT / "spectralbench" / "widgets" / "static" / "light_path.js"
pytestmark = pytest.mark.skipif(not SCRIPT.is_file(), reason="the widget is not built (make extension)")

NAME = "light.ipynb"
CELLS = """\
import spectralbench as sb
from spectralbench.widgets import LightPath

names = ("thickness", "distance", "hours", "level", "time", "shown", "sweep")
if "path" not in globals():
    path = LightPath(sb.reduce_bench("six_sources"))
    start = {name: getattr(path, name) for name in names}
for name in names:
    if getattr(path, name) != start[name]:
        setattr(path, name, start[name])
path"""
SIX = """
[[together]]
name = "two LEDs"
heads = [{ source = "LED 385", setting = "50 %" }, { source = "LED 405", setting = "50 %" }]
"""
MEASURED = "spectralbench: from slider to picture"
CLOSED = "spectralbench: light path closed"


@pytest.fixture
def run(page: Any, lab: Any) -> Iterator[Callable[[], Any]]:
    """Run all cells of a notebook; gives the widget, once it is drawn."""
    bench = lab.folder / "six_sources"
    if not bench.exists():
        shutil.copytree(lab.folder / "bench", bench)
        with (bench / "bench.toml").open("a") as manifest:
            manifest.write(SIX)
    cell: dict[str, Any] = {"cell_type": "code", "id": "one", "metadata": {}, "source": CELLS}
    cell |= {"outputs": [], "execution_count": None}
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    content = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (lab.folder / NAME).write_text(json.dumps(content))

    def run_all() -> Any:
        page.evaluate("path => void window.jupyterapp.commands.execute('docmanager:open', {path})", NAME)
        page.wait_for_selector(".jp-NotebookPanel .jp-CodeCell", state="attached")
        page.wait_for_function(f"{KERNEL}?.status === 'idle'")
        page.evaluate("void window.jupyterapp.commands.execute('notebook:run-all-cells')")
        view = page.locator(".sb-light-path")
        expect(view.get_by_role("application")).to_be_visible(timeout=30_000)
        expect(view.get_by_role("table", name="Sources in order")).to_be_visible()
        return view

    yield run_all
    page.evaluate("void window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.evaluate("window.jupyterapp.commands.execute('docmanager:save')")


@pytest.fixture
def light(run: Callable[[], Any]) -> Any:
    return run()


KERNEL = "window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel"


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


def slider(view: Any, name: str) -> Any:
    return view.get_by_role("slider", name=name, exact=True)


def picture(view: Any, strip: str) -> str:
    """What is on the canvas of a strip."""
    return str(view.locator(f".sbl-{strip} canvas").evaluate("canvas => canvas.toDataURL()"))


def test_a_slider_moves_curves_figures_table_and_python(page, light):
    figure = light.get_by_role("list", name="Absorbed of each source").get_by_role("listitem")
    expect(figure).to_have_count(6)
    led = figure.filter(has_text="LED 405").first
    before, words = (
        {name: picture(light, name) for name in ("sent", "passed", "absorbed")},
        led.text_content(),
    )
    row = light.get_by_role("table", name="Sources in order").get_by_role("row", name=re.compile("LED 405"))
    placed = row.first.text_content()
    level = slider(light, "level of LED 405")
    level.focus()
    level.press("Home")
    expect(led).not_to_have_text(words)
    assert picture(light, "sent") != before["sent"]
    assert picture(light, "passed") == before["passed"]
    assert picture(light, "absorbed") != before["absorbed"]
    expect(light.get_by_role("status").filter(has_text="comparing")).to_have_count(0)
    expect(row.first).not_to_have_text(placed)
    low = float(level.input_value())
    assert float(value(page, "path.level['LED 405']")) == low < 100
    expect(light.get_by_text("bench 100 %")).to_be_visible()
    expect(level).to_have_attribute("aria-valuetext", f"{low:g} %, bench 100 %")

    said(page, "path.thickness = {'cover': '1.5 mm'}")
    expect(slider(light, "thickness of cover")).to_have_value("1.5")
    expect(light.get_by_role("spinbutton", name="thickness of cover, in mm")).to_have_value("1.5")
    assert picture(light, "passed") != before["passed"]
    light.get_by_role("button", name="As on the bench").click()
    expect(level).to_have_value("100")
    expect(light.get_by_text(re.compile("^bench "))).to_have_count(0)
    assert value(page, "path.thickness, path.level['LED 405']") == "({'cover': 2.0}, 100.0)"


def test_a_control_says_why_it_is_fixed_and_where_it_ends(page, light):
    fixed = light.get_by_role("group", name="distance of arc: 18 mm", exact=True)
    expect(fixed).to_have_attribute("title", re.compile("takes its beam"))
    expect(fixed).to_have_accessible_description(re.compile("takes its beam"))
    box = light.get_by_role("spinbutton", name="thickness of cover, in mm")
    box.fill("99")
    box.press("Enter")
    expect(box).to_have_value("6")
    before = picture(light, "sent")
    light.get_by_role("checkbox", name="show arc", exact=True).uncheck()
    expect(light.get_by_role("list", name="Absorbed of each source").get_by_role("listitem")).to_have_count(5)
    page.wait_for_function(f"before => {CANVAS}.toDataURL() !== before", arg=before)
    assert "'arc'" not in value(page, "path.shown")
    said(page, "path.shown = ['arc']")
    expect(light.get_by_role("checkbox", name="show LED 405")).not_to_be_checked()
    said(page, "path.state = 'refused: there is no such part'")
    expect(light.get_by_role("alert")).to_have_text("there is no such part")
    expect(light.get_by_role("application")).to_be_visible()
    said(page, "path.state = ''")
    expect(light.get_by_role("alert")).to_have_count(0)


CANVAS = "document.querySelector('.sbl-sent canvas')"


def test_all_of_it_goes_by_keyboard(page, light):
    light.get_by_role("checkbox", name="show arc", exact=True).focus()
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('role')") == "tab":
            break
    page.keyboard.press("ArrowRight")
    expect(light.get_by_role("tab", name="Sweep")).to_be_focused()
    page.keyboard.press("ArrowLeft")
    expect(light.get_by_role("tab", name="Spectra")).to_have_attribute("aria-selected", "true")
    page.keyboard.press("Tab")
    strips = light.get_by_role("application")
    expect(strips).to_be_focused()
    page.keyboard.press("ArrowRight")
    status = light.get_by_role("tabpanel").get_by_role("status")
    expect(status).to_contain_text(re.compile(r"^\d+\.\d\d nm · sent: arc .* passed: cover .* absorbed: "))
    before = strips.get_attribute("aria-label")
    page.keyboard.press("+")
    expect(strips).not_to_have_attribute("aria-label", before)
    page.keyboard.press("0")
    log = light.get_by_role("button", name="logarithmic axis: absorbed")
    log.press("Space")
    expect(log).to_have_attribute("aria-pressed", "true")
    more = light.get_by_role("button", name="reasons: arc", exact=True)
    more.press("Enter")
    expect(more).to_have_attribute("aria-expanded", "true")
    expect(light.get_by_text(re.compile("pixels at .* are not valid")).first).to_be_visible()


def test_a_sweep_marks_where_the_limit_is_crossed(page, light):
    light.get_by_role("tab", name="Sweep").click()
    crossings = light.get_by_role("list", name="Crossings of the limit").get_by_role("listitem")
    words = crossings.filter(has_text=re.compile(r"^LED 365 falls below 60 mW/cm² at 1\.\d\d mm$"))
    expect(words).to_be_visible()
    expect(light.locator(".sbl-at")).to_have_text(words.inner_text().split()[-2])
    limit, ring = (light.locator(one) for one in (".sbl-limit", ".sbl-ring"))
    expect(limit).to_have_text("≥ 60 mW/cm²")
    line, box = limit.bounding_box(), ring.bounding_box()
    assert abs(line["y"] + 1 - box["y"] - box["height"] / 2) < 2
    light.get_by_role("combobox", name="control").select_option("hours")
    expect(light.get_by_role("application")).to_have_attribute("aria-label", re.compile(r"over hours \[h\]"))
    assert value(page, "path.sweep['control']") == "'hours'"
    light.get_by_role("tab", name="Spectra").click()
    expect(light.get_by_role("application")).to_have_attribute("aria-label", re.compile("sent, passed"))


def test_a_turn_is_seen_at_once(page, capsys, light):
    level = slider(light, "level of LED 405")
    level.focus()
    page.evaluate("performance.clearMeasures()")
    for i in range(24):
        level.press("ArrowLeft")
        page.wait_for_function(f"i => performance.getEntriesByName('{MEASURED}').length > i", arg=i)
    spent = page.evaluate(f"performance.getEntriesByName('{MEASURED}').map(one => one.duration)")
    pixels = int(value(page, "path._turning.grid.size"))
    rounds = [statistics.median(spent[i : i + 12]) for i in (0, 12)]
    bare = float(page.evaluate(BARE))
    with capsys.disabled():
        print(  # noqa: T201
            f"\n6 sources of {pixels} points: {statistics.median(spent):.0f} ms from slider to picture "
            f"(median; {min(spent):.0f} to {max(spent):.0f} ms), where a bare message takes {bare:.0f} ms"
        )
    assert pixels > 2000
    assert min(rounds) <= max(100, 4 * bare)  # where others are busy, too, every message is late


# Median of what the kernel takes to answer that it has nothing to do.
BARE = f"""async () => {{
  const spent = [];
  for (let i = 0; i < 15; i++) {{
    const start = performance.now();
    await {KERNEL}.requestExecute({{ code: '', silent: true }}).done;
    spent.push(performance.now() - start);
  }}
  return spent.sort((a, b) => a - b)[7];
}}"""


def test_after_a_restart_it_says_so_and_can_still_be_looked_at(page, heard, run):
    heard.expected.append("Could not restore the debugger state")  # JupyterLab's own, of a restart
    view = run()
    page.evaluate("void window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    expect(view.get_by_text("Not connected: run the cell again")).to_be_visible()
    expect(slider(view, "thickness of cover")).to_be_disabled()
    expect(view.get_by_role("button", name="As on the bench")).to_be_disabled()
    strips = view.get_by_role("application")
    before = strips.get_attribute("aria-label")
    strips.press("+")
    expect(strips).not_to_have_attribute("aria-label", before)
    view.get_by_role("checkbox", name="show arc", exact=True).uncheck()
    expect(view.get_by_role("list", name="Absorbed of each source").get_by_role("listitem")).to_have_count(5)
    view.get_by_role("button", name="reasons: LED 405").click()
    expect(view.locator(".sbl-reasons:visible")).to_contain_text("times the 60 mW/cm² required")
    page.wait_for_function(f"{KERNEL}?.status === 'idle'")
    again = run()
    expect(again.get_by_text("Not connected")).to_have_count(0)
    expect(slider(again, "thickness of cover")).to_be_enabled()


def test_nothing_listens_after_the_output_is_cleared(page, light):
    slider(light, "thickness of cover").press("ArrowRight")
    light.get_by_role("tab", name="Sweep").click()
    page.evaluate("performance.clearMarks()")
    page.evaluate("void window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.wait_for_function(f"performance.getEntriesByName('{CLOSED}').length > 0")
    assert page.evaluate(f"performance.getEntriesByName('{CLOSED}')[0].detail") == 0


@pytest.fixture
def dark(page: Any, lab: Any) -> Iterator[Callable[[str], None]]:
    """The dark theme, from the first paint on; the server keeps it."""

    def change(theme: str) -> None:
        with page.expect_response(lambda answer: answer.request.method == "PUT" and "themes" in answer.url):
            page.evaluate(
                "theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme
            )

    change("JupyterLab Dark")
    page.goto(f"{lab.url}/lab?reset")
    page.wait_for_selector(".jp-DirListing-item", state="attached", timeout=60_000)
    yield change
    if page.evaluate("document.body.dataset.jpThemeLight") != "true":
        change("JupyterLab Light")


def test_it_is_drawn_for_a_dark_page_and_for_a_light_one(page, dark, run):
    view = run()
    page.wait_for_function(f"({INK})() > 150")
    sample = view.get_by_role("checkbox", name="show arc", exact=True).locator("xpath=..").locator("path")
    expect(sample).to_have_attribute("stroke", "#8976ff")
    faults(view)
    dark("JupyterLab Light")
    page.wait_for_function(f"({INK})() < 100")
    expect(sample).to_have_attribute("stroke", "#6276ff")
    faults(view)


# Of the pixels left of the plotting area, where numbers stand, the one farthest from transparent.
INK = """() => {
  const canvas = document.querySelector('.sbl-sent canvas');
  const {data} = canvas.getContext('2d').getImageData(0, 0, 58, canvas.height);
  let [best, lightness] = [0, NaN];
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] > best) {
      best = data[i + 3];
      lightness = (data[i] + data[i + 1] + data[i + 2]) / 3;
    }
  }
  return lightness;
}"""


def faults(view: Any) -> None:
    """None that axe-core finds, where it is installed."""
    found = find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        return
    view.page.evaluate((Path(found.origin).parent / "axe.min.js").read_text())
    violations = view.page.evaluate(
        """async () => {
          const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
          const {violations} = await window.axe.run('.sb-light-path', {runOnly: tags});
          return violations.map(one => [one.id, one.nodes.slice(0, 3).map(node => node.html.slice(0, 200))]);
        }"""
    )
    assert violations == []


def test_nothing_is_cut_in_a_narrow_window(page, light):
    for width in (1400, 1000, 980):
        page.set_viewport_size({"width": width, "height": 800})
        for tab in ("Spectra", "Sweep"):
            light.get_by_role("tab", name=tab).click()
            assert light.evaluate(CUT) == []
    assert light.bounding_box()["width"] < 640


CUT = """view => [...view.querySelectorAll('button, input, select, th, td, li, p, span, summary')]
  .filter(one => one.getClientRects().length > 0 && !one.closest('.sbl-unseen, .sbl-over, [hidden]'))
  .filter(one => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== 'inline'
    || one.getBoundingClientRect().right > view.getBoundingClientRect().right + 1)
  .map(one => one.outerHTML.slice(0, 300))"""
