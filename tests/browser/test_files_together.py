"""Files in the viewer: of which version they are, what tells them apart, what is typed and what leaves."""

from __future__ import annotations

import re
import shutil

import numpy as np
import pytest
from file_list import drop, item

import spectralbench as sb

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

TABLE = "wavelength [nm],counts [1]\n300,1\n301,{}\n302,{}\n303,1\n"


def figures(view):
    return view.get_by_role("region", name="Figures in the band")


def limits(view, low, high):
    for name, value in (("from", low), ("to", high)):
        box = view.get_by_label(f"Band {name}, in nm")
        box.fill(value)
        box.press("Enter")


def refreshed(page):
    page.evaluate("window.jupyterapp.commands.execute('filebrowser:refresh')")


def test_figures_and_chart_are_of_one_version_of_a_file(page, lab, opened, heard):
    """A kernel writes the file: the window never loses its focus."""
    file = lab.folder / "rewritten.spectrum.csv"
    file.write_text(TABLE.format(5, 1))
    try:
        refreshed(page)
        view = opened(file.name)
        plot = view.get_by_role("application")
        expect(plot).to_have_attribute("aria-label", re.compile("peak at 301.00 nm"))
        file.write_text(TABLE.format(1, 55))
        limits(view, "300", "302,9")
        expect(figures(view)).to_contain_text("300.00 nm to 302.90 nm")
        expect(plot).to_have_attribute("aria-label", re.compile("peak at 302.00 nm"))
        expect(view.get_by_label("Band to, in nm")).to_have_value("302.9")
        heard.expected.append("404")
        file.unlink()
        limits(view, "300", "302.5")
        expect(figures(view).get_by_role("alert")).to_have_text(
            f"{file.name}: it is gone: the chart shows what it held"
        )
        page.evaluate("window.dispatchEvent(new Event('focus'))")
        expect(view.get_by_text(f"{file.name} is gone: the chart shows what it held")).to_be_visible()
    finally:
        file.unlink(missing_ok=True)


def test_a_band_that_is_none_is_refused_in_words_and_stays(page, opened):
    view = opened("lamp.spectrum.csv")
    limits(view, "390", "420")
    expect(figures(view)).to_contain_text("390.00 nm to 420.00 nm")
    said = figures(view).get_by_role("alert")
    limits(view, "430", "380")
    expect(said).to_contain_text("430 to 380 nm is no band: the first limit is the lower one")
    limits(view, "1e9", "2e9")
    expect(said).to_contain_text("nm lies outside of this file, 248 to 752 nm. The band stays as it was")
    low = view.get_by_role("slider", name="Lower limit of the band")
    expect(low).to_have_attribute("aria-valuetext", "390.00 nm")
    limits(view, "380", "800")
    expect(said).to_have_text("cut where this file ends: 248 to 752 nm")
    expect(low).to_have_attribute("aria-valuetext", "380.00 nm")
    low.press("ArrowRight")
    expect(said).to_have_count(0)


def test_what_counts_do_not_tell_stands_beside_their_figures(page, opened):
    view = opened("lamp.spectrum.csv")
    expect(view.get_by_role("list", name="Of these figures")).to_contain_text("the dark is still in them")


def test_files_of_one_name_are_told_apart_on_the_screen_and_in_what_leaves(page, lab, opened, tmp_path):
    for folder, name in (("one", "led_405.csv"), ("two", "led_365.csv")):
        (lab.folder / folder).mkdir()
        shutil.copy(lab.folder / name, lab.folder / folder / "lamp.csv")
    files = [lab.folder / folder / "lamp.csv" for folder in ("one", "two")]
    try:
        page.evaluate("path => window.jupyterapp.commands.execute('docmanager:open', path)", SPECTRUM)
        view = page.locator(".sb:visible")
        expect(view.locator("canvas")).to_be_visible()
        page.evaluate("window.jupyterapp.commands.execute('filebrowser:go-to-path', {path: 'two'})")
        expect(item(page, "lamp.csv")).to_be_visible()
        drop(page, "lamp.csv", view)
        entries = view.get_by_role("group", name="Curves").get_by_role("button", name=re.compile("8 scans"))
        expect(entries).to_have_text(["one/lamp.csv, 8 scans", "two/lamp.csv, 8 scans"])
        for name in ("one/lamp.csv", "two/lamp.csv"):
            expect(figures(view).get_by_role("columnheader", name=f"{name}, mean of 8")).to_be_visible()
        entries.first.click()
        expect(entries.last).to_have_attribute("aria-pressed", "true")
        entries.first.click()
        drop(page, "lamp.csv", view)
        expect(view.get_by_text("lamp.csv is not laid over this chart: it is shown already.")).to_be_visible()
        expect(entries).to_have_count(2)
        view.get_by_role("button", name="Copy as code").click()
        expect(view.get_by_role("status")).to_contain_text("these 2 files")
        code = page.evaluate("navigator.clipboard.readText()")
        known: dict[str, object] = {}
        exec(code, known)
        assert [one.attrs["sha256"] for one in known["data"]] == [
            sb.read(file).attrs["sha256"] for file in files
        ]
        with page.expect_download() as download:
            view.get_by_role("button", name="CSV", exact=True).click()
        download.value.save_as(tmp_path / "shown.csv")
        again = sb.read(tmp_path / "shown.csv")
        labels = [f"{folder}/lamp.csv: {i}" for folder in ("one", "two") for i in range(1, 9)]
        assert again["spectrum"].values.tolist() == labels
        for labelled, file in ((labels[:8], files[0]), (labels[8:], files[1])):
            assert np.array_equal(
                again["counts"].sel(spectrum=labelled).values, sb.read(file)["counts"].values
            )
        assert "integration time of one/lamp.csv: 0.002 s" in (tmp_path / "shown.csv").read_text()
    finally:
        page.evaluate("window.jupyterapp.commands.execute('filebrowser:go-to-path', {path: ''})")
        for file in files:
            shutil.rmtree(file.parent)


SPECTRUM = {"path": "one/lamp.csv", "factory": "Spectrum"}


@pytest.mark.parametrize("quantity", ["spectral irradiance", "spectral irradiance standard uncertainty"])
def test_an_uncertainty_leaves_with_what_it_is_of(page, lab, tmp_path, quantity):
    page.evaluate(
        "path => window.jupyterapp.commands.execute('docmanager:open', path)",
        {"path": "standard_uncertainty.csv", "factory": "Spectrum"},
    )
    view = page.locator(".sb:visible")
    view.get_by_role("combobox", name="What is drawn").select_option(label=quantity)
    with page.expect_download() as download:
        view.get_by_role("button", name="CSV", exact=True).click()
    download.value.save_as(tmp_path / "shown.csv")
    again, first = sb.read(tmp_path / "shown.csv"), sb.read(lab.folder / "standard_uncertainty.csv")
    for name in first.data_vars:
        np.testing.assert_allclose(again[name].values, first[name].values, rtol=2**-23)
    assert "0.05\n" not in (tmp_path / "shown.csv").read_text().replace("# ", "")
    assert again.attrs["header"].count("nothing was measured") == 1
