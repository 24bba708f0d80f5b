"""A real JupyterLab on this machine and a Chromium before it, with folders of their own."""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import pytest

import spectralbench as sb

ROOT = Path(__file__).parents[2]
BUILT = ROOT / "spectralbench" / "labextension"
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
def page(lab: Lab, window: Any, heard: Heard) -> Iterator[Any]:
    """JupyterLab with nothing open."""

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
    window.evaluate("performance.clearMeasures()")
    yield window
    window.keyboard.press("Escape")
    window.evaluate("window.jupyterapp.commands.execute('application:close-all')")
    window.wait_for_selector(".sb", state="detached")
    for event, listener in listeners.items():
        window.remove_listener(event, listener)


@pytest.fixture
def opened(page: Any) -> Callable[[str], Any]:
    """Open a file with a double-click; gives what shows it, once it is drawn."""
    expect = pytest.importorskip("playwright.sync_api").expect

    def open_file(name: str) -> Any:
        page.locator(".jp-DirListing-item", has_text=re.compile(rf"^\s*{re.escape(name)}")).dblclick()
        view = page.locator(".sb:visible")
        expect(view.locator("canvas")).to_be_visible()
        return view

    return open_file
