"""A real JupyterLab on this machine and a Chromium before it, with folders of their own."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pytest
from file_list import item as file_in_list

import spectralbench as sb

ROOT = Path(__file__).parents[2]
BUILT = ROOT / "spectralbench" / "labextension"
WIDGETS = ROOT / "spectralbench" / "widgets" / "static"
SAMPLES = ROOT / "tests" / "samples"
CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), ""
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZE = {"width": 1400, "height": 850}
SETTINGS = {
    "@jupyterlab/apputils-extension/notification.jupyterlab-settings": {
        "fetchNews": "false",
        "checkForUpdates": False,
    }
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Without a browser, or without the built extension, there is nothing to see."""
    there = {
        "the extension is not built (make extension)": (BUILT / "package.json").exists(),
        "widgets are not built (make extension)": (WIDGETS / "light_path.js").exists(),
        "there is no Chromium": bool(CHROMIUM),
    }
    missing = "; ".join(why for why, found in there.items() if not found)
    for item in items:
        if Path(__file__).parent in item.path.parents and missing:
            item.add_marker(pytest.mark.skip(reason=missing))


@dataclass(frozen=True)
class Lab:
    """Where JupyterLab answers, and what it shows."""

    url: str
    token: str
    folder: Path


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    base = tmp_path_factory.mktemp("lab")
    folder = base / "files"
    fill(folder)
    names = {name: base / name for name in ("config", "data", "settings", "workspaces", "ipython", "home")}
    for place in names.values():
        place.mkdir()
    extensions = names["data"] / "labextensions"
    extensions.mkdir()
    (extensions / "spectralbench").symlink_to(BUILT)
    for name, values in SETTINGS.items():
        file = names["settings"] / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(values))
    config = {"ServerApp": {"jpserver_extensions": {"spectralbench.server": True}}}
    (names["config"] / "jupyter_server_config.json").write_text(json.dumps(config))
    token, port = secrets.token_hex(16), free_port()
    environment = os.environ | {
        "HOME": str(names["home"]),
        "JUPYTER_CONFIG_DIR": str(names["config"]),
        "JUPYTER_DATA_DIR": str(names["data"]),
        "JUPYTERLAB_SETTINGS_DIR": str(names["settings"]),
        "JUPYTERLAB_WORKSPACES_DIR": str(names["workspaces"]),
        "IPYTHONDIR": str(names["ipython"]),
    }
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1"),
        *(f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={token}"),
        *(f"--ServerApp.root_dir={folder}", "--LabApp.expose_app_in_browser=True"),
    ]
    log = (base / "server.log").open("w")
    server = subprocess.Popen(command, env=environment, stdout=log, stderr=subprocess.STDOUT)
    found = Lab(f"http://127.0.0.1:{port}", token, folder)
    try:
        wait_for(found, server, base / "server.log")
        yield found
    finally:
        server.terminate()
        server.wait(20)
        log.close()


def fill(folder: Path) -> None:
    """Files as a bench has them: invented ones, and samples with other layouts."""
    sb.write_demo_bench(folder / "bench")
    for name in ("led_405.csv", "led_365.csv", "arc_ageing.csv"):
        shutil.copy(folder / "bench" / "raw" / name, folder / name)
    shutil.copy(folder / "bench" / "raw" / "led_405.csv", folder / "lamp.spectrum.csv")
    for name in ("jcamp_blckpac1.jdx", "standard_uncertainty.csv"):
        shutil.copy(SAMPLES / name, folder / name)
    (folder / "bad.csv").write_text("wavelength [nm],counts [1]\n300,1\n301,2\n302,abc\n303,4\n")
    x = np.linspace(300.0, 500.0, 100_000)
    y = 1000.0 + 500.0 * np.sin(x) + np.arange(x.size) % 7
    rows = "\n".join(f"{a:.4f},{b:.2f}" for a, b in zip(x, y, strict=True))
    (folder / "long.spectrum.csv").write_text(f"wavelength [nm],counts [1]\n{rows}\n")


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(lab: Lab, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        assert server.poll() is None, log.read_text()
        try:
            with urllib.request.urlopen(f"{lab.url}/api?token={lab.token}", timeout=2):
                return
        except OSError:
            time.sleep(0.2)
    raise AssertionError(f"JupyterLab did not start:\n{log.read_text()}")


@pytest.fixture(scope="session")
def context(lab: Lab) -> Iterator[Any]:
    """One browser for all tests, which then has JupyterLab itself in its cache."""
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        context = chromium.new_context(viewport=SIZE, permissions=["clipboard-read", "clipboard-write"])
        context.set_default_timeout(15_000)
        context.request.get(f"{lab.url}/lab?token={lab.token}")  # which leaves its cookie
        yield context
        chromium.close()


@dataclass
class Heard:
    """What a page complained of, and what it asked of other machines."""

    faults: list[str]
    abroad: list[str]
    expected: list[str]


@pytest.fixture
def heard() -> Iterator[Heard]:
    """Nothing in the end: a test says what it expects of the console."""
    found = Heard([], [], [])
    yield found
    assert [fault for fault in found.faults if not any(word in fault for word in found.expected)] == []
    assert found.abroad == []


@pytest.fixture(scope="session")
def window(lab: Lab, context: Any) -> Any:
    """JupyterLab, which takes seconds to load, once."""
    page = context.new_page()
    page.goto(f"{lab.url}/lab?reset")
    page.wait_for_selector(".jp-DirListing-item", state="attached", timeout=60_000)
    return page


@pytest.fixture
def watched(window: Any, heard: Heard) -> Iterator[Any]:
    """JupyterLab with whatever is open, and what it complains of."""

    def console(message: Any) -> None:
        if message.type == "error":
            heard.faults.append(f"{message.text} {message.location}")

    def fault(error: Any) -> None:
        heard.faults.append(f"{error} {getattr(error, 'stack', '')}")

    def request(asked: Any) -> None:
        place = urlsplit(asked.url)
        if place.scheme in ("http", "https", "ws", "wss") and place.hostname != "127.0.0.1":
            heard.abroad.append(asked.url)

    listeners = {"console": console, "pageerror": fault, "request": request}
    for event, listener in listeners.items():
        window.on(event, listener)
    window.set_viewport_size(SIZE)
    window.evaluate("performance.clearMeasures(); performance.clearMarks()")
    yield window
    for event, listener in listeners.items():
        window.remove_listener(event, listener)


@pytest.fixture
def page(watched: Any) -> Iterator[Any]:
    """JupyterLab with nothing open."""
    yield watched
    watched.keyboard.press("Escape")
    watched.evaluate("window.jupyterapp.commands.execute('application:close-all')")
    watched.wait_for_selector(".sb", state="detached")
    watched.wait_for_selector(".jp-Launcher")  # which JupyterLab opens by itself, at its own time


KERNEL = "window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel"


@dataclass(frozen=True)
class Notebook:
    """A notebook with one cell, open in JupyterLab, and its kernel."""

    page: Any

    def run(self, shown: str) -> Any:
        """Run the cell; gives what it shows, by its class, once it is drawn."""
        self.clear()
        self.page.evaluate("void window.jupyterapp.commands.execute('notebook:run-all-cells')")
        view = self.page.locator(f".{shown}")
        canvas = view.get_by_role("application").locator("canvas").first
        pytest.importorskip("playwright.sync_api").expect(canvas).to_be_visible(timeout=30_000)
        return view

    def source(self, code: str) -> None:
        """Write other code into the cell."""
        self.page.evaluate(
            "code => { jupyterapp.shell.currentWidget.content.activeCell.model.sharedModel.setSource(code) }",
            code,
        )

    def value(self, expression: str) -> str:
        """What Python says of an expression."""
        found = self.page.evaluate(
            f"""async expression => {{
              const asked = {{ code: '', user_expressions: {{ found: expression }} }};
              const answer = await {KERNEL}.requestExecute(asked).done;
              const found = answer.content.user_expressions.found;
              return found.data?.['text/plain'] ?? found.evalue;
            }}""",
            expression,
        )
        return str(found)

    def until(self, expression: str) -> None:
        """Wait until an expression is true in Python: what a hand does arrives in its own time."""
        end = time.monotonic() + 10
        while self.value(expression) != "True":
            assert time.monotonic() < end, f"never true: {expression}"

    def said(self, code: str) -> None:
        """Run code in the kernel, as a cell does."""
        self.page.evaluate(f"async code => {{ await {KERNEL}.requestExecute({{ code }}).done; }}", code)

    def restart(self) -> None:
        """Begin to restart the kernel."""
        self.page.evaluate("void window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")

    def wait(self) -> None:
        """Until the kernel has nothing to do."""
        self.page.wait_for_function(f"{KERNEL}?.status === 'idle'")

    def clear(self) -> None:
        """Take away what the cell shows."""
        self.page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")

    def left_listening(self, widget: str) -> int:
        """How much listens when what the cell shows is taken away."""
        closed = f"performance.getEntriesByName('spectralbench: {widget} closed')"
        self.clear()
        self.page.wait_for_function(f"{closed}.length > 0")
        return int(self.page.evaluate(f"{closed}[0].detail"))


@pytest.fixture(scope="module")
def notebook(request: pytest.FixtureRequest, lab: Lab, window: Any) -> Iterator[Notebook]:
    """A notebook whose cell is the module's `CELL`; its kernel is the same for all tests of the module."""
    name = f"{request.module.__name__.rpartition('.')[2]}.ipynb"
    cell = {"cell_type": "code", "id": "one", "metadata": {}, "source": request.module.CELL}
    cell |= {"outputs": [], "execution_count": None}
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    content = {"cells": [cell], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    (lab.folder / name).write_text(json.dumps(content))
    window.evaluate("path => void window.jupyterapp.commands.execute('docmanager:open', {path})", name)
    window.wait_for_selector(".jp-NotebookPanel .jp-CodeCell", state="attached")
    found = Notebook(window)
    found.wait()
    yield found
    window.evaluate(
        """async () => {
          const {shell, serviceManager} = window.jupyterapp;
          [...shell.widgets('main')].forEach(widget => widget.dispose());
          await serviceManager.sessions.shutdownAll();
        }"""
    )
    window.wait_for_timeout(300)  # for what JupyterLab has to say of it


@pytest.fixture
def theme(watched: Any) -> Iterator[Callable[[str], None]]:
    """Change to the theme "Light" or "Dark"; the server keeps it, so that in the end it is light again."""

    def change(name: str) -> None:
        if (watched.evaluate("document.body.dataset.jpThemeLight") == "true") != (name == "Light"):
            with watched.expect_response(
                lambda answer: answer.request.method == "PUT" and "themes" in answer.url
            ):
                watched.evaluate(
                    "theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})",
                    f"JupyterLab {name}",
                )
            watched.wait_for_function(
                "light => document.body.dataset.jpThemeLight === light", arg=str(name == "Light").lower()
            )

    yield change
    change("Light")


@pytest.fixture
def barriers(watched: Any, theme: Callable[[str], None]) -> Callable[[str], list[Any]]:
    """What axe-core finds serious or critical in what a selector matches: in the dark, then in the light."""
    watched.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))

    def found(selector: str) -> list[Any]:
        theme("Dark")
        dark = watched.evaluate(BARRIERS, [selector, TAGS])
        theme("Light")
        return [*dark, *watched.evaluate(BARRIERS, [selector, OF_COLOUR])]

    return found


TAGS = {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
OF_COLOUR = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}  # all that a theme changes
BARRIERS = """async ([selector, runOnly]) => {
  const shown = [...document.querySelectorAll(selector)].filter(one => one.getClientRects().length > 0);
  const {violations, passes} = await window.axe.run(shown, {runOnly, resultTypes: ['violations']});
  const grave = violations.filter(one => ['serious', 'critical'].includes(one.impact));
  return passes.length === 0
    ? ['nothing was looked at']
    : grave.map(one => [one.id, one.nodes.slice(0, 3).map(node => node.html.slice(0, 200))]);
}"""


@pytest.fixture
def opened(page: Any) -> Callable[[str], Any]:
    """Open a file with a double-click; gives what shows it, once it is drawn."""
    expect = pytest.importorskip("playwright.sync_api").expect

    def open_file(name: str) -> Any:
        file_in_list(page, name).dblclick()
        view = page.locator(".sb:visible")
        expect(view.locator("canvas")).to_be_visible()
        return view

    return open_file
