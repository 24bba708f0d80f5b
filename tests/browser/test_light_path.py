"""The light path in a notebook, as a person turns it: with a kernel, and after it is gone."""

from __future__ import annotations

import re
import shutil
import statistics
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

CELL = """\
from spectralbench.widgets import LightPath

names = ("sweep", "thickness", "distance", "hours", "level", "time", "shown")
if "path" not in globals():
    path = LightPath("six_sources", draws=20)
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
KERNEL = "window.jupyterapp.shell.currentWidget.sessionContext.session.kernel"
MEASURED = "spectralbench: from slider to picture"
WARMING = 6  # turns in which browser and kernel still get ready


@pytest.fixture(scope="module")
def six_sources(lab: Any) -> None:
    """A bench with one more source: two heads that shine together."""
    bench = lab.folder / "six_sources"
    shutil.copytree(lab.folder / "bench", bench)
    with (bench / "bench.toml").open("a") as manifest:
        manifest.write(SIX)


@pytest.fixture
def light(six_sources: None, watched: Any, notebook: Any) -> Any:
    """The widget as on the bench, once it is drawn."""
    return drawn(notebook)


def drawn(notebook: Any) -> Any:
    view = notebook.run("sb-light-path")
    expect(view.get_by_role("table", name="Sources in order")).to_be_visible()
    expect(comparing(view)).to_have_count(0)
    return view


def comparing(view: Any) -> Any:
    """What says that sources are being compared."""
    return view.get_by_role("status").filter(has_text="comparing")


def slider(view: Any, name: str) -> Any:
    return view.get_by_role("slider", name=name, exact=True)


def picture(view: Any, strip: str) -> str:
    """What is on the canvas of a strip."""
    return str(view.locator(f".sbl-{strip} canvas").evaluate("canvas => canvas.toDataURL()"))


def test_a_slider_moves_curves_figures_table_and_python(watched, notebook, light):
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
    expect(comparing(light)).to_have_count(0)
    expect(row.first).not_to_have_text(placed)
    low = float(level.input_value())
    assert float(notebook.value("path.level['LED 405']")) == low < 100
    expect(light.get_by_text("bench 100 %")).to_be_visible()
    expect(level).to_have_attribute("aria-valuetext", f"{low:g} %, bench 100 %")

    notebook.said("path.thickness = {'cover': '1.5 mm'}")
    expect(slider(light, "thickness of cover")).to_have_value("1.5")
    expect(light.get_by_role("spinbutton", name="thickness of cover, in mm")).to_have_value("1.5")
    assert picture(light, "passed") != before["passed"]
    light.get_by_role("button", name="As on the bench").click()
    expect(level).to_have_value("100")
    expect(light.get_by_text(re.compile("^bench "))).to_have_count(0)
    assert notebook.value("path.thickness, path.level['LED 405']") == "({'cover': 2.0}, 100.0)"


def test_a_control_says_why_it_is_fixed_and_where_it_ends(watched, notebook, light):
    fixed = light.get_by_role("button", name="distance of arc: 18 mm, fixed", exact=True)
    expect(fixed).to_have_accessible_description(re.compile("takes its beam"))
    why = light.get_by_text(re.compile("^another distance of arc takes its beam"))
    expect(why).to_be_hidden()
    fixed.press("Enter")
    expect(why).to_be_visible()
    fixed.press("Enter")
    box = light.get_by_role("spinbutton", name="thickness of cover, in mm")
    alert = light.get_by_role("alert")
    for typed, value, said in (
        ("99", "6", "not 99 mm: this ends at 6 mm"),
        ("1,5", "1.5", None),  # a browser's own field of numbers makes 15 of it
        ("20,000", "1.5", "“20,000” may be 20000 or 20.000: write it without the comma"),
        ("2", "2", None),
    ):
        box.fill("")
        box.press_sequentially(typed)
        box.press("Enter")
        expect(box).to_have_value(value)
        expect(alert).to_have_text([said] if said else [])
    box.press("ArrowUp")
    expect(box).not_to_have_value("2")
    hours = light.get_by_role("spinbutton", name="hours of LED 365, in h")
    hours.fill("20000")
    hours.press("Enter")
    expect(hours).to_have_value("20000")
    assert hours.evaluate("box => box.scrollWidth <= box.clientWidth")  # nothing of it is cut off
    light.get_by_role("button", name="As on the bench").click()
    expect(alert).to_have_count(0)
    before = picture(light, "sent")
    light.get_by_role("checkbox", name="show arc", exact=True).uncheck()
    expect(light.get_by_role("list", name="Absorbed of each source").get_by_role("listitem")).to_have_count(5)
    watched.wait_for_function(f"before => {CANVAS}.toDataURL() !== before", arg=before)
    notebook.until("'arc' not in path.shown")
    notebook.said("path.shown = ['arc']")
    expect(light.get_by_role("checkbox", name="show LED 405")).not_to_be_checked()
    notebook.said("path.state = 'refused: there is no such part'")
    expect(light.get_by_role("alert")).to_have_text("there is no such part")
    expect(light.get_by_role("application")).to_be_visible()
    notebook.said("path.state = ''")
    expect(light.get_by_role("alert")).to_have_count(0)


CANVAS = "document.querySelector('.sbl-sent canvas')"


def test_all_of_it_goes_by_keyboard(watched, notebook, light):
    light.get_by_role("checkbox", name="show arc", exact=True).focus()
    for _ in range(60):
        watched.keyboard.press("Tab")
        if watched.evaluate("document.activeElement.getAttribute('role')") == "tab":
            break
    watched.keyboard.press("ArrowRight")
    expect(light.get_by_role("tab", name="Sweep")).to_be_focused()
    watched.keyboard.press("ArrowLeft")
    expect(light.get_by_role("tab", name="Spectra")).to_have_attribute("aria-selected", "true")
    watched.keyboard.press("Tab")
    strips = light.get_by_role("application")
    expect(strips).to_be_focused()
    watched.keyboard.press("ArrowRight")
    status = light.get_by_role("tabpanel").get_by_role("status")
    expect(status).to_contain_text(re.compile(r"^\d+\.\d\d nm · sent: arc .* passed: cover .* absorbed: "))
    before = strips.get_attribute("aria-label")
    watched.keyboard.press("+")
    expect(strips).not_to_have_attribute("aria-label", before)
    watched.keyboard.press("0")
    log = light.get_by_role("button", name="logarithmic axis: absorbed")
    log.press("Space")
    expect(log).to_have_attribute("aria-pressed", "true")
    more = light.get_by_role("button", name="reasons: arc", exact=True)
    more.press("Enter")
    expect(more).to_have_attribute("aria-expanded", "true")
    expect(light.get_by_text(re.compile("pixels at .* are not valid")).first).to_be_visible()


def test_a_sweep_marks_where_the_limit_is_crossed(watched, notebook, light):
    light.get_by_role("tab", name="Sweep").click()
    crossings = light.get_by_role("list", name="Crossings of the limit").get_by_role("listitem")
    words = crossings.filter(has_text=re.compile(r"^LED 365 falls below 60 mW/cm² at 1\.\d+ mm$"))
    expect(words).to_be_visible()
    expect(light.locator(".sbl-at")).to_have_text(words.text_content().split()[-2])
    limit, ring = (light.locator(one) for one in (".sbl-limit", ".sbl-ring"))
    expect(limit).to_have_text("≥ 60 mW/cm²")
    line, box = limit.bounding_box(), ring.bounding_box()
    assert abs(line["y"] + 1 - box["y"] - box["height"] / 2) < 2
    here = light.locator(".sbl-over .sbl-here")
    expect(here).to_have_count(6)  # every source at the thickness of the bench
    places = here.evaluate_all("all => all.map(one => parseFloat(one.style.left))")
    assert max(places) - min(places) < 1  # px
    notebook.said("path.turn(thickness={'cover': '1.5 mm'})")
    watched.wait_for_function(
        "before => parseFloat(document.querySelector('.sbl-over .sbl-here').style.left) < before - 10",
        arg=places[0],
    )
    light.get_by_role("combobox", name="control").select_option("hours")
    expect(light.get_by_role("application")).to_have_attribute("aria-label", re.compile(r"over hours \[h\]"))
    assert notebook.value("path.sweep['control']") == "'hours'"
    notebook.said("path.turn(sweep={})")
    expect(light.get_by_role("tab", name="Spectra")).to_have_attribute("aria-selected", "true")
    assert notebook.value("path.sweep") == "{}"
    expect(light.get_by_role("application")).to_have_attribute("aria-label", re.compile("sent, passed"))


def test_a_turn_is_seen_at_once(watched, notebook, capsys, light):
    """Painted some 50 ms after the hand moved, where the kernel itself answers within 15 ms.

    Where others keep the machine busy, every message is late: a turn takes at most 75 ms more than a
    message that asks for nothing, which is measured in the same run, before and after.
    """
    messages = [watched.evaluate(MESSAGE) for _ in range(15)]
    level = slider(light, "level of LED 405")
    level.focus()
    watched.evaluate("performance.clearMeasures()")
    for i in range(WARMING + 24):
        level.press("ArrowLeft")
        watched.wait_for_function(f"i => performance.getEntriesByName('{MEASURED}').length > i", arg=i)
    turns = watched.evaluate(f"performance.getEntriesByName('{MEASURED}').map(one => one.duration)")[WARMING:]
    pixels = int(notebook.value("path._turning.grid.size"))
    notebook.until("path.state == ''")
    messages += [watched.evaluate(MESSAGE) for _ in range(15)]
    turn, message = statistics.median(turns), statistics.median(messages)
    with capsys.disabled():
        print(  # noqa: T201
            f"\n6 sources of {pixels} points: {turn:.0f} ms from slider to picture "
            f"(median; {min(turns):.0f} to {max(turns):.0f} ms), where a bare message takes {message:.0f} ms"
        )
    assert pixels > 2000
    assert turn <= message + 75  # the aim is 50 in all; a bare message takes that much on a busy machine


# What the kernel takes to answer that it has nothing to do [ms].
MESSAGE = f"""async () => {{
  const start = performance.now();
  await {KERNEL}.requestExecute({{ code: '', silent: true }}).done;
  return performance.now() - start;
}}"""


def test_after_a_restart_it_says_so_and_can_still_be_looked_at(heard, notebook, light):
    heard.expected.append("Could not restore the debugger state")  # JupyterLab's own, of a restart
    view = light
    notebook.restart()
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
    notebook.wait()
    again = drawn(notebook)
    expect(again.get_by_text("Not connected")).to_have_count(0)
    expect(slider(again, "thickness of cover")).to_be_enabled()


def test_a_kernel_at_work_is_no_lost_kernel(watched, lab, notebook, light):
    level = slider(light, "level of LED 405")
    notebook.said("path.level = {'LED 405': 50}")
    expect(level).to_have_value("50")
    end = lab.folder / "end_of_work"
    watched.evaluate("code => void " + KERNEL + ".requestExecute({ code })", AT_WORK)
    level.press("ArrowLeft")
    silent = light.get_by_text("No answer yet: the kernel may be busy")
    expect(silent).to_be_visible()
    expect(light.get_by_text("Not connected")).to_have_count(0)
    expect(level).to_be_enabled()
    end.touch()
    expect(silent).to_have_count(0)


# Work that ends when a file appears, or after 30 s.
AT_WORK = """\
import pathlib, time
end = time.monotonic() + 30
while not pathlib.Path("end_of_work").exists() and time.monotonic() < end:
    time.sleep(0.05)
"""


def test_nothing_listens_after_the_output_is_cleared(notebook, light):
    slider(light, "thickness of cover").press("ArrowRight")
    light.get_by_role("tab", name="Sweep").click()
    assert notebook.left_listening("light path") == 0


def test_it_is_drawn_for_a_dark_page_and_for_a_light_one(six_sources, watched, notebook, theme, barriers):
    theme("Dark")
    view = drawn(notebook)
    watched.wait_for_function(f"({INK})() > 150")
    sample = view.get_by_role("checkbox", name="show arc", exact=True).locator("xpath=..").locator("path")
    expect(sample).to_have_attribute("stroke", "#8976ff")
    assert barriers(".sb-light-path") == []
    watched.wait_for_function(f"({INK})() < 100")
    expect(sample).to_have_attribute("stroke", "#6276ff")


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


def test_nothing_is_cut_in_a_narrow_window(watched, light):
    for tab in ("Sweep", "Spectra"):
        light.get_by_role("tab", name=tab).click()
        for width in (1400, 1000, 980):
            watched.set_viewport_size({"width": width, "height": 800})
            assert light.evaluate(CUT) == []
    assert light.bounding_box()["width"] < 640
    tops = [slider(light, name).bounding_box()["y"] for name in ("thickness of cover", "longest exposure")]
    assert tops[0] == tops[1]


def test_nothing_is_cut_in_a_narrow_place(light):
    for tab in ("Spectra", "Sweep"):
        light.get_by_role("tab", name=tab).click()
        for width in (560, 450, 340):
            light.evaluate("(view, width) => { view.style.width = `${width}px`; }", width)
            assert light.evaluate(CUT) == [], width


CUT = """view => [...view.querySelectorAll('button, input, select, th, td, li, p, span, summary')]
  .filter(one => one.getClientRects().length > 0 && !one.closest('.sbl-unseen, .sbl-over, [hidden]'))
  .filter(one => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== 'inline'
    || one.getBoundingClientRect().right > view.getBoundingClientRect().right + 1)
  .map(one => one.outerHTML.slice(0, 300))"""
