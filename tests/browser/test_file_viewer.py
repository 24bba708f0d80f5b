"""A file that is opened in JupyterLab, as a person sees it: no kernel, no code."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from file_list import drop, item

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)


def open_with(page: Any, name: str) -> Any:
    choose_spectrum(page, name)
    return shown(page)


def choose_spectrum(page: Any, name: str) -> None:
    item(page, name).click(button="right")
    page.locator(".lm-Menu-item", has_text="Open With").hover()
    page.locator(".lm-Menu-item", has_text=re.compile(r"^\s*Spectrum\s*$")).click()


def shown(page: Any) -> Any:
    view = page.locator(".sb:visible")
    expect(view.get_by_role("application")).to_be_visible()
    expect(view.locator("canvas")).to_be_visible()
    return view


def figures(view: Any) -> Any:
    return view.get_by_role("region", name="Figures in the band")


def row(view: Any, name: str) -> Any:
    return (
        figures(view)
        .get_by_role("row")
        .filter(has=view.page.get_by_role("rowheader", name=name, exact=True))
        .first
    )


def test_a_double_click_shows_scans_with_their_figures(page, opened):
    view = opened("lamp.spectrum.csv")
    expect(view.get_by_role("group", name="Curves").get_by_role("button")).to_have_count(8)
    expect(row(view, "peak")).to_contain_text("404.61 nm")
    about = view.get_by_role("region", name="About the file")
    expect(about).to_contain_text("spectralbench plain text")
    expect(about).to_contain_text("LED 405 through the attenuator")
    expect(about).to_contain_text(re.compile(r"[0-9a-f]{64}"))
    expect(view.get_by_role("application")).to_have_attribute(
        "aria-label", "lamp.spectrum.csv: counts, 8 curves, 248.00 nm to 752.00 nm, peak at 404.61 nm"
    )


def test_open_with_leaves_the_table_viewer_its_double_click(page):
    view = open_with(page, "led_405.csv")
    expect(row(view, "full width at half maximum")).to_contain_text("14.97 nm")
    item(page, "led_365.csv").dblclick()
    expect(page.locator(".jp-CSVViewer")).to_be_visible()


@pytest.mark.parametrize("name", ["a.jdx", "a.DX", "a.jcm", "a.spdx", "a.spectrum.csv"])
def test_what_is_unmistakable_opens_with_a_double_click(page, name):
    assert page.evaluate(OFFERED, name)[0] == "Spectrum"


@pytest.mark.parametrize("name", ["a.csv", "a.tsv", "a.txt", "a.dat", "a.asc", "a.csv.gz"])
def test_what_may_be_anything_is_offered_only(page, name):
    first, *others = page.evaluate(OFFERED, name)
    assert first != "Spectrum"
    assert "Spectrum" in others


OFFERED = """path => {
  const registry = window.jupyterapp.docRegistry;
  const offered = registry.preferredWidgetFactories(path).map(factory => factory.name);
  return [registry.defaultWidgetFactory(path).name, ...offered];
}"""


def test_of_two_quantities_one_is_chosen(page):
    view = open_with(page, "standard_uncertainty.csv")
    choice = view.get_by_role("combobox", name="What is drawn")
    expect(choice.get_by_role("option")).to_have_count(2)
    choice.select_option(label="spectral irradiance standard uncertainty")
    entries = view.get_by_role("group", name="Curves").get_by_role("button")
    expect(entries).to_have_text(["spectral irradiance standard uncertainty"])


def test_what_stands_beside_the_chart_may_be_put_away(page, opened):
    view = opened("lamp.spectrum.csv")
    before = view.locator("canvas").bounding_box()["width"]
    view.get_by_role("button", name="Figures and file").click()
    expect(figures(view)).to_have_count(0)
    page.wait_for_function(
        "before => document.querySelector('.sb canvas').clientWidth > before + 200", arg=before
    )


def test_the_band_moves_with_keys_and_the_server_answers(page, opened):
    view = opened("lamp.spectrum.csv")
    low = view.get_by_role("slider", name="Lower limit of the band")
    high = view.get_by_role("slider", name="Upper limit of the band")
    expect(low).to_have_attribute("aria-valuetext", "248.00 nm")
    low.press("ArrowRight")
    low.press("Shift+ArrowRight")
    expect(low).to_have_attribute("aria-valuetext", "253.50 nm")
    expect(figures(view)).to_contain_text("253.50 nm to 752.00 nm")
    high.press("Home")
    expect(high).to_have_attribute("aria-valuetext", "253.60 nm")
    view.get_by_label("Band to, in nm").fill("420")
    view.get_by_label("Band to, in nm").press("Enter")
    view.get_by_label("Band from, in nm").fill("390")
    view.get_by_label("Band from, in nm").press("Enter")
    expect(row(view, "centroid")).to_contain_text("405.05 nm")


def test_the_band_moves_with_the_pointer_and_asks_once_it_rests(page, opened):
    view = opened("lamp.spectrum.csv")
    expect(row(view, "peak")).to_contain_text("nm")
    asked: list[str] = []
    page.on("request", lambda request: "/figures?" in request.url and asked.append(request.url))
    low = view.get_by_role("slider", name="Lower limit of the band")
    box = low.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for i in range(1, 21):
        page.mouse.move(x + 5 * i, y)
    page.mouse.up()
    assert 260 < float(low.get_attribute("aria-valuenow")) < 400
    text = low.get_attribute("aria-valuetext")
    expect(figures(view)).to_contain_text(f"Figures from {text} to 752.00 nm")
    assert len(asked) <= 3


def test_the_axis_turns_logarithmic_and_curves_hide(page, opened):
    view = opened("lamp.spectrum.csv")
    before = view.get_by_role("application").screenshot()
    axis = view.get_by_role("button", name="Log axis")
    axis.click()
    expect(axis).to_have_attribute("aria-pressed", "true")
    logarithmic = view.get_by_role("application").screenshot()
    assert logarithmic != before
    entry = view.get_by_role("button", name="spectrum 1", exact=True)
    entry.press("Space")
    expect(entry).to_have_attribute("aria-pressed", "false")
    axis.click()
    expect(view.get_by_role("button", name="spectrum 1", exact=True)).to_have_attribute(
        "aria-pressed", "false"
    )


def test_keys_read_zoom_and_pan(page, opened):
    view = opened("lamp.spectrum.csv")
    plot, status = view.get_by_role("application"), view.get_by_role("status")
    plot.focus()
    plot.press("ArrowRight")
    plot.press("ArrowRight")
    expect(status).to_contain_text(re.compile(r"^\d+\.\d\d nm · spectrum 1: \d+"))
    before, place = plot.screenshot(), status.text_content().split(" ")[0]
    plot.press("+")
    plot.press("+")
    page.wait_for_timeout(100)
    closer = plot.screenshot()
    assert closer != before
    assert status.text_content().split(" ")[0] == place
    plot.press("Shift+ArrowRight")
    page.wait_for_timeout(100)
    assert plot.screenshot() != closer
    assert status.text_content().split(" ")[0] == place  # only hands move what is read
    plot.press("ArrowRight")
    expect(status).not_to_contain_text(place)
    assert 0 < float(status.text_content().split(" ")[0]) - float(place) < 0.3  # the next sample


def test_drag_zooms_wheel_widens_and_the_button_resets(page, opened):
    view = opened("lamp.spectrum.csv")
    handle = view.get_by_role("slider", name="Upper limit of the band")
    box = view.get_by_role("application").bounding_box()
    y = box["y"] + box["height"] / 3
    page.mouse.move(box["x"] + 0.4 * box["width"], y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], y, steps=5)
    page.mouse.up()
    expect(handle).to_have_class(re.compile("sb-outside"))
    for _ in range(12):
        page.mouse.wheel(0, 100)
    expect(handle).not_to_have_class(re.compile("sb-outside"))
    page.mouse.wheel(0, -100)
    expect(handle).to_have_class(re.compile("sb-outside"))
    view.get_by_role("button", name="Whole range").click()
    expect(handle).not_to_have_class(re.compile("sb-outside"))


def test_shift_and_drag_moves_the_range_and_its_end_holds(page, opened):
    view = opened("lamp.spectrum.csv")
    low = view.get_by_role("slider", name="Lower limit of the band")
    for _ in range(4):
        view.get_by_role("button", name="+", exact=True).click()
    expect(low).to_have_class(re.compile("sb-outside"))
    box = view.get_by_role("application").bounding_box()
    y = box["y"] + box["height"] / 3
    page.mouse.move(box["x"] + 0.2 * box["width"], y)
    page.keyboard.down("Shift")
    page.mouse.down()
    page.mouse.move(box["x"] + 0.25 * box["width"], y, steps=3)
    expect(low).to_have_class(re.compile("sb-outside"))
    page.mouse.move(box["x"] + 0.98 * box["width"], y, steps=3)
    page.mouse.up()
    page.keyboard.up("Shift")
    expect(low).not_to_have_class(re.compile("sb-outside"))
    assert low.bounding_box()["x"] > box["x"]


def test_a_dropped_file_lies_over_it_if_it_lies_along_the_same_axis(page, opened):
    view = opened("lamp.spectrum.csv")
    drop(page, "led_365.csv", view)
    expect(view.get_by_role("button", name="Remove led_365.csv")).to_be_visible()
    expect(figures(view).get_by_role("columnheader", name="led_365.csv, mean of 8")).to_be_visible()
    drop(page, "arc_ageing.csv", view)
    expect(view.get_by_role("alert")).to_contain_text(
        "arc_ageing.csv is not laid over this chart: it lies along hours"
    )
    view.get_by_role("button", name="Remove led_365.csv").click()
    expect(view.get_by_role("group", name="Curves").get_by_role("button")).to_have_count(8)


def test_a_file_along_hours_has_no_band(page):
    view = open_with(page, "arc_ageing.csv")
    expect(view.get_by_role("slider")).to_have_count(0)
    expect(figures(view)).to_have_count(0)


def test_warnings_of_a_file_stand_at_the_top(page, opened):
    view = opened("jcamp_blckpac1.jdx")
    expect(view.get_by_text("20 warnings")).to_be_visible()


def test_a_bad_file_shows_its_line_with_the_fault_marked(page, heard):
    heard.expected.append("422")
    choose_spectrum(page, "bad.csv")
    alert = page.get_by_role("alert").filter(has_text="bad.csv is not shown")
    expect(alert).to_contain_text("line 4")
    expect(alert.locator("mark")).to_have_text("abc")


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ({"status": 404, "content_type": "text/html", "body": "<html>"}, "does not know spectralbench"),
        ({"status": 413, "json": {"message": "the file has 70 MB"}}, "the file has 70 MB"),
        ({"status": 200, "body": "<html>"}, 'a payload begins with "SBP1", not "<htm"'),
        (None, "The server cannot be reached"),
    ],
)
def test_whatever_is_refused_is_said_in_words(page, heard, answer, words):
    heard.expected.append("Failed to load resource")
    address = "**/spectralbench/spectra?*"
    page.route(address, lambda route: route.fulfill(**answer) if answer else route.abort())
    try:
        item(page, "lamp.spectrum.csv").dblclick()
        alert = page.get_by_role("alert").filter(has_text="lamp.spectrum.csv is not shown")
        expect(alert).to_contain_text(words)
    finally:
        page.unroute(address)


def test_a_file_that_changes_is_read_again(page, lab, opened):
    file = lab.folder / "changing.spectrum.csv"
    file.write_text("wavelength [nm],counts [1]\n300,1\n301,5\n302,1\n")
    try:
        page.evaluate("window.jupyterapp.commands.execute('filebrowser:refresh')")
        view = opened(file.name)
        expect(row(view, "peak")).to_contain_text("301.00 nm")
        file.write_text("wavelength [nm],counts [1]\n300,1\n301,1\n302,5\n303,1\n")
        page.evaluate("window.jupyterapp.commands.execute('docmanager:reload')")
        expect(row(view, "peak")).to_contain_text("302.00 nm")
        file.write_text("wavelength [nm],counts [1]\n300,1\n301,1\n302,1\n303,5\n304,1\n")
        page.evaluate("window.dispatchEvent(new Event('focus'))")  # somebody comes back from the instrument
        expect(row(view, "peak")).to_contain_text("303.00 nm")
    finally:
        file.unlink()


def test_what_is_shown_leaves_as_code_picture_and_table(page, lab, tmp_path, opened):
    view = opened("lamp.spectrum.csv")
    view.get_by_role("button", name="Copy as code").click()
    expect(view.get_by_role("status")).to_contain_text("Copied")
    line = page.evaluate("navigator.clipboard.readText()").splitlines()[-1]
    assert line == f'data = sb.read("{lab.folder / "lamp.spectrum.csv"}")'  # wherever a notebook lies
    saved = {}
    for name in ("PNG", "SVG", "CSV"):
        with page.expect_download() as download:
            view.get_by_role("button", name=name, exact=True).click()
        saved[name] = tmp_path / download.value.suggested_filename
        download.value.save_as(saved[name])
    assert saved["PNG"].read_bytes().startswith(b"\x89PNG")
    assert saved["SVG"].read_text().startswith("<svg")
    import spectralbench as sb

    again, first = sb.read(saved["CSV"]), sb.read(lab.folder / "lamp.spectrum.csv")
    assert (again["counts"].values == first["counts"].values).all()
    assert (again["wavelength"].values == first["wavelength"].values).all()
    assert again["integration_time"] == first["integration_time"]


MEASURED = "spectralbench: from request to picture"


def test_100_000_points_are_drawn_within_a_second(page, capsys, opened):
    opened("lamp.spectrum.csv")  # the server imports what it reads with on its first request
    item(page, "long.spectrum.csv").dblclick()
    page.wait_for_function(
        "name => performance.getEntriesByName(name).some(one => one.detail === 'long.spectrum.csv')",
        arg=MEASURED,
    )
    milliseconds = page.evaluate(
        "name => performance.getEntriesByName(name).find(one => one.detail === 'long.spectrum.csv').duration",
        MEASURED,
    )
    with capsys.disabled():
        print(f"\n100,000 points: {milliseconds:.0f} ms from the request to the picture")  # noqa: T201
    assert milliseconds < 1000


def test_nothing_listens_after_a_file_is_closed(page, opened):
    def count() -> int:
        return int(page.evaluate("window.jupyterapp.commands.execute('spectralbench:listening')"))

    assert count() == 0  # whatever other tests have opened and closed
    view = opened("lamp.spectrum.csv")
    drop(page, "led_365.csv", view)
    expect(view.get_by_role("button", name="Remove led_365.csv")).to_be_visible()
    view.get_by_role("button", name="Log axis").click()
    assert count() > 20
    page.evaluate("window.jupyterapp.commands.execute('application:close')")
    expect(page.locator(".sb")).to_have_count(0)
    end = time.monotonic() + 5
    while count() and time.monotonic() < end:
        page.wait_for_timeout(50)
    assert count() == 0
