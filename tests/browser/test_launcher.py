"""What begins something new in JupyterLab, the settings, the look-up of functions, as a person uses them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from file_list import drop

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)

ACTIVE = "window.jupyterapp.shell.currentWidget.content.activeCell"
RUN = "([id, args]) => window.jupyterapp.commands.execute(id, args)"


def run(page: Any, command: str, **args: Any) -> None:
    """Run a command without waiting for what it leads to."""
    page.evaluate(f"given => {{ void ({RUN})(given); }}", [command, args])


def launch(page: Any, folder: str = "") -> Any:
    """The launcher of a folder."""
    run(page, "launcher:create", cwd=folder)
    launcher = page.locator(".jp-Launcher:visible")
    expect(launcher).to_be_visible()
    return launcher


@pytest.fixture
def settings(page: Any) -> Iterator[Any]:
    """The form of our settings, and all as usual afterwards."""
    run(page, "settingeditor:open", query="Spectra and benches")
    form = page.locator(".jp-SettingsForm:visible")
    expect(form.get_by_role("combobox")).to_have_count(2)
    yield form
    tab(page, "Settings").click()
    with page.expect_response(lambda answer: answer.request.method == "PUT" and "spectrum" in answer.url):
        page.get_by_role("button", name="Restore to Defaults").click()


def tab(page: Any, name: str) -> Any:
    return page.locator("#jp-main-dock-panel .lm-TabBar-tab", has_text=re.compile(rf"^\s*{re.escape(name)}"))


@pytest.fixture
def notebook(page: Any, heard: Any) -> Iterator[Any]:
    """The notebook that a test opens; in the end it goes without a question whether to save it."""
    heard.expected += ["Canceled future", "Disposed", "reading 'kernel'"]  # JupyterLab, of a kernel let go
    panel = page.locator(".jp-NotebookPanel:visible")
    yield panel
    indicator = panel.locator(".jp-Notebook-ExecutionIndicator")
    expect(indicator).to_have_attribute("data-status", "idle", timeout=30_000)
    page.evaluate(LET_GO)
    expect(page.locator(".jp-NotebookPanel")).to_have_count(0)
    page.wait_for_timeout(300)  # for what JupyterLab has to say of it


LET_GO = """() => {
  const {shell, serviceManager} = window.jupyterapp;
  for (const widget of [...shell.widgets('main')]) {
    if (widget.hasClass('jp-NotebookPanel')) {
      widget.dispose();
    }
  }
  return serviceManager.sessions.shutdownAll();
}"""


def test_a_card_makes_a_bench_and_opens_its_manifest(page, lab):
    page.evaluate(
        "window.jupyterapp.serviceManager.contents.newUntitled({type: 'directory', path: ''})"
        ".then(one => window.jupyterapp.serviceManager.contents.rename(one.path, 'project'))"
    )
    launcher = launch(page, "project")
    cards = launcher.locator(".jp-Launcher-section", has_text="Spectra and benches").locator(
        ".jp-LauncherCard"
    )
    expect(cards).to_have_text(["New bench", "Bench spectra", "Housing material", "Which source"])
    cards.first.click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Name of a new folder in project")
    dialog.get_by_role("textbox").fill("first bench")
    dialog.get_by_role("button", name="Create").click()
    expect(page.locator(".jp-FileEditor:visible")).to_contain_text(
        "EVERY VALUE IN THIS FILE IS A PLACEHOLDER"
    )
    made = lab.folder / "project" / "first bench"
    assert {path.name for path in made.iterdir()} >= {"bench.toml", "raw"}

    page.evaluate(f"given => ({RUN})(given)", ["filebrowser:go-to-path", {"path": "project"}])
    page.evaluate(f"given => ({RUN})(given)", ["spectralbench:new-bench", {"name": "second"}])
    assert (lab.folder / "project" / "second" / "raw").is_dir()  # where the file browser is
    for name in ("third/nested", ".hidden", " "):
        page.evaluate(f"given => void ({RUN})(given)", ["spectralbench:new-bench", {"name": name}])
        expect(page.get_by_role("dialog")).to_contain_text("A bench needs the name of one new folder")
        page.keyboard.press("Enter")
        expect(page.get_by_role("dialog")).to_have_count(0)
    assert len(list((lab.folder / "project").iterdir())) == 2
    page.evaluate(f"given => ({RUN})(given)", ["filebrowser:go-to-path", {"path": "/"}])


def test_a_folder_that_is_taken_is_refused_in_words(page, lab, heard):
    heard.expected.append("409")
    run(page, "spectralbench:new-bench", name="bench", cwd="")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("bench cannot be used as it is: found something there already")
    dialog.get_by_role("button").last.click()
    assert not (lab.folder / "bench" / "raw" / "bench.toml").exists()


def test_a_card_makes_a_notebook_and_opens_it(page, lab, notebook):
    launch(page).locator(".jp-LauncherCard", has_text="Which source").click()
    expect(notebook.get_by_role("heading", name=re.compile("^Which source"))).to_be_visible()
    assert (lab.folder / "which_source.ipynb").is_file()


def test_settings_reach_an_open_file_at_once(page, lab, opened, settings):
    light = "wavelength [nm],spectral_irradiance [W/m^2/nm]\n" + "\n".join(
        f"{at},{2 if 390 < at < 420 else 0}" for at in range(380, 431)
    )
    for name in ("invented.spectrum.csv", "other.csv"):
        (lab.folder / name).write_text(light + "\n", encoding="utf-8")
    run(page, "filebrowser:refresh")
    run(page, "docmanager:open", path="invented.spectrum.csv")
    view = page.locator(".sb:visible")
    status, figures = view.locator(".sb-status"), view.get_by_role("region", name="Figures in the band")
    row = figures.get_by_role("row", name=re.compile("^irradiance"))
    expect(row).to_contain_text("5.8 mW/cm²")  # 2 W/m²/nm over 28 nm and two flanks of 1 nm: 58 W/m²
    view.get_by_role("application").press("ArrowRight")
    expect(status).to_contain_text("mW/cm²/nm")
    first = view.get_by_role("group", name="Curves").locator("path").first
    expect(first).to_have_attribute("stroke", "#6276ff")

    drop(page, "other.csv", view)
    expect(row.get_by_role("cell")).to_have_text(["5.8 mW/cm²", "5.8 mW/cm²"])

    tab(page, "Settings").click()
    unit, palette = settings.get_by_role("combobox").all()
    low, high = settings.get_by_role("spinbutton").all()
    unit.select_option(label="W/m²")
    palette.select_option(label="greys")
    low.fill("395")
    high.fill("405")
    tab(page, "invented").click()
    expect(row.get_by_role("cell")).to_have_text(["20 W/m²", "20 W/m²"])
    expect(figures).to_contain_text("Figures from 395.00 nm to 405.00 nm")
    expect(first).to_have_attribute("stroke", "#1a1a1a")
    view.get_by_role("application").press("ArrowRight")
    expect(status).to_contain_text(" W/m²/nm")


def test_a_function_is_looked_up_with_keys_alone(page, notebook):
    run(page, "spectralbench:look-up")
    field = page.get_by_role("combobox", name="Search functions")
    expect(field).to_be_focused()
    options = page.get_by_role("listbox", name="Functions").get_by_role("option")
    expect(options.first).to_be_visible()
    page.keyboard.type("thickness")
    expect(options.first).to_contain_text("predict_thickness")
    expect(field).to_be_focused()
    field.press("ArrowDown")
    expect(options.nth(1)).to_have_attribute("aria-selected", "true")
    expect(field).to_have_attribute("aria-activedescendant", options.nth(1).get_attribute("id"))
    about = page.get_by_role("region", name="Documentation")
    expect(about.get_by_role("heading", level=2)).to_contain_text("sb.scale_thickness(")
    expect(about.get_by_role("heading", name="Examples")).to_be_attached()
    page.keyboard.press("Enter")
    call = "sb.scale_thickness(internal, thickness, new_thickness)"
    told = page.get_by_role("status").filter(has_text="scale_thickness")
    expect(told).to_have_text(f"No notebook is in front. Copied instead: {call}")
    assert page.evaluate("navigator.clipboard.readText()") == call
    field.fill("zzz")
    expect(options).to_have_count(0)

    run(page, "spectralbench:new-notebook", template="bench_spectra", cwd="")
    expect(notebook.locator(".jp-CodeCell").first).to_be_visible()
    taken = notebook.locator(".jp-CodeCell", has_text=call)
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget?.content?.activeCell"
        " && window.jupyterapp.shell.currentWidget.context.isReady"
        " && window.jupyterapp.shell.currentWidget.sessionContext.isReady"
        " && window.jupyterapp.commands.isEnabled('notebook:replace-selection')"
    )
    at = "window.jupyterapp.shell.currentWidget.content.activeCellIndex"
    for kind, count in (("code", 1), ("markdown", 2)):  # beneath a text, the call gets a cell of its own
        before = page.evaluate(at)
        page.evaluate(f"given => ({RUN})(given)", ["notebook:insert-cell-below", {}])
        page.wait_for_function(f"() => {at} === {before + 1}")
        page.evaluate(f"given => ({RUN})(given)", [f"notebook:change-cell-to-{kind}", {}])
        expect(notebook.locator(f".jp-{kind.capitalize()}Cell.jp-mod-active")).to_be_visible()
        run(page, "spectralbench:look-up", query="scale_thickness")
        expect(field).to_be_focused()
        expect(options.first).to_contain_text("scale_thickness")
        field.press("Enter")
        expect(taken).to_have_count(count)
    page.evaluate(f"{ACTIVE}.model.sharedModel.setSource('x = 1')")
    page.evaluate(f"{ACTIVE}.editor.setCursorPosition({{line: 0, column: 0}})")
    field.press("Enter")
    page.wait_for_function(f"{ACTIVE}.model.sharedModel.getSource().endsWith(')\\nx = 1')")


def test_the_look_up_stops_listening_when_it_is_closed(page):
    run(page, "spectralbench:look-up")
    expect(page.get_by_role("combobox", name="Search functions")).to_be_focused()
    counted = "window.jupyterapp.commands.execute('spectralbench:listening')"
    before = page.evaluate(counted)
    page.evaluate(
        "[...window.jupyterapp.shell.widgets('right')].find(one => one.id === 'spectralbench-names').close()"
    )
    assert before - page.evaluate(counted) == 6


def test_every_command_says_what_it_is(page):
    said = page.evaluate(DESCRIBED)
    ours = {one["id"]: one for one in said}
    assert set(ours) >= {
        f"spectralbench:{name}" for name in ("new-bench", "new-notebook", "look-up", "listening")
    }
    for one in said:
        assert one["label"], one["id"]
        assert one["caption"] or not one["visible"], one["id"]
        assert one["described"], one["id"]


DESCRIBED = """async () => {
  const {commands} = window.jupyterapp;
  const ids = commands.listCommands().filter(id => id.startsWith('spectralbench:'));
  return Promise.all(ids.map(async id => ({
    id, label: commands.label(id), caption: commands.caption(id), visible: commands.isVisible(id),
    described: (await commands.describedBy(id)).args !== null
  })));
}"""
