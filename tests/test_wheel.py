"""The wheel: what it carries for JupyterLab and notebooks, and that it is whole or not made at all."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
WIDGETS = ROOT / "spectralbench" / "widgets" / "static"
BUILT = [
    ROOT / "spectralbench" / "labextension" / "package.json",
    *(WIDGETS / f"{name}.js" for name in ("light_path", "frame_check", "transmission")),
]
LARGEST = 80_000  # bytes of one widget, which travels with every notebook that shows it

needs_build = pytest.mark.skipif(
    not all(file.exists() for file in BUILT), reason="the extension is not built (make extension)"
)


def built(root, folder):
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    return subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    done = built(ROOT, folder)
    assert done.returncode == 0, done.stderr
    (file,) = folder.glob("*.whl")
    with zipfile.ZipFile(file) as opened:
        yield opened


@needs_build
def test_it_carries_the_extension_once_and_switches_its_server_part_on(wheel):
    names = wheel.namelist()
    home = "data/data/share/jupyter/labextensions/spectralbench/"
    assert sum(home + "package.json" in name for name in names) == 1
    assert sum("/static/remoteEntry." in name for name in names) == 1
    assert not [name for name in names if name.startswith("spectralbench/labextension")]
    (switch,) = [name for name in names if name.endswith("jupyter_server_config.d/spectralbench.json")]
    assert json.loads(wheel.read(switch))["ServerApp"]["jpserver_extensions"] == {
        "spectralbench.server": True
    }


@needs_build
def test_a_widget_is_small_and_carries_no_source_map(wheel):
    scripts = [name for name in wheel.namelist() if name.startswith("spectralbench/widgets/static/")]
    assert {Path(name).name for name in scripts} >= {file.name for file in BUILT[1:]}
    for name in scripts:
        text = wheel.read(name)
        assert b"sourceMappingURL" not in text
        assert len(text) < LARGEST, name
    assert not [name for name in wheel.namelist() if name.endswith(".map")]


@needs_build
def test_its_version_is_that_of_the_extension(wheel):
    stated = json.loads((ROOT / "extension" / "package.json").read_text())["version"]
    (metadata,) = [name for name in wheel.namelist() if name.endswith(".dist-info/METADATA")]
    assert f"\nVersion: {stated}\n" in wheel.read(metadata).decode()
    assert f"version: {stated}\n" in (ROOT / "CITATION.cff").read_text()


def test_without_the_built_extension_there_is_no_wheel(tmp_path):
    for name in ("pyproject.toml", "README.md", "LICENSE", "reference_curves"):
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, tmp_path / name)
    (tmp_path / "extension").mkdir()
    for name in ("package.json", "wheel.py", "server.json", "install.json"):
        shutil.copy(ROOT / "extension" / name, tmp_path / "extension" / name)
    (tmp_path / "spectralbench").mkdir()
    (tmp_path / "spectralbench" / "__init__.py").touch()
    done = built(tmp_path, tmp_path / "dist")
    assert done.returncode != 0
    assert "is not built: make wheel does that first" in done.stderr
    assert not list(tmp_path.glob("dist/*.whl"))
