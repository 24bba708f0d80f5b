"""Every notebook to start from runs from top to bottom, on an invented bench if there is no other."""

from __future__ import annotations

import re
import shutil

import nbformat
import pytest

from spectralbench.benches.starting import start_notebook

# The client of the kernel talks to it over sockets on this machine; it warns of its own event loop.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning")


@pytest.fixture
def run(execute):
    """Run a template in a folder; what it prints, and how many pictures it draws."""

    def outcome(template, folder):
        notebook = nbformat.read(start_notebook(template, folder), as_version=4)
        execute(notebook, folder)
        outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
        assert not [output for output in outputs if output.get("name") == "stderr"]
        text = "\n".join(output.get("text") or output["data"].get("text/plain", "") for output in outputs)
        return text, sum("image/png" in output.get("data", {}) for output in outputs)

    return outcome


def test_bench_spectra(run, tmp_path):
    text, pictures = run("bench_spectra", tmp_path)
    # The demo's last source is an LED at 405 nm; its figures hold what its virtual light was made with.
    peak, low, high = map(float, re.search(r"^peak \[nm\] +(\S+) +\((\S+) to (\S+)\)", text, re.M).groups())
    assert low < peak < high
    assert peak == pytest.approx(405, abs=1)
    assert re.search(r"^irradiance \[mW/cm²\] +\d+", text, re.M)
    assert pictures == 2
    assert (tmp_path / "demo-bench" / "results" / "light.csv").is_file()


def test_housing_material(run, tmp_path):
    text, pictures = run("housing_material", tmp_path)
    assert "Behind 2.0 mm, LED 405 brings the most: " in text
    row = re.search(r"^LED 385 +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+)$", text, re.M)
    two, one, three, four = map(float, row.groups())  # per cent of the light, by thickness in mm
    assert one > two > three > four > 0
    assert pictures == 1


def test_which_source_takes_the_bench_that_is_there(run, tmp_path, small):
    shutil.copytree(small, tmp_path / "bench")
    text, _ = run("which_source", tmp_path)
    assert "Test first: LED 405" in text
    assert "no proof of a cure" in text
    plan = text[text.index("trial at 0.5 ×") :]
    assert re.search(r"^LED 405 +", plan, re.M)
    assert not re.search(r"^LED 365 +", plan, re.M)  # which fails
    assert (tmp_path / "bench" / "results" / "report.html").is_file()
    assert not (tmp_path / "demo-bench").exists()
