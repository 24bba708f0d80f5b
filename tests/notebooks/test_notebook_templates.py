"""Every notebook to start from runs from top to bottom, on the bench that its reader names."""

from __future__ import annotations

import re
import shutil

import nbformat
import numpy as np
import pytest
from nbclient.exceptions import CellExecutionError

import spectralbench as sb
from spectralbench.benches.starting import TEMPLATES, start_bench, start_notebook

# The client of the kernel talks to it over sockets on this machine; it warns of its own event loop.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning")

FIRST = "bench_folder = None "
INVENTED = "INVENTED DATA"


def told(cell):
    """What a cell prints and shows, without pictures."""
    texts = (one.get("text") or one["data"].get("text/plain", "") for one in cell.get("outputs", []))
    return "".join(texts)


@pytest.fixture
def run(execute):
    """Run a template with other lines in it; what its cells tell, by name, and how many pictures it draws."""

    def outcome(template, folder, changes=None):
        notebook = nbformat.read(start_notebook(template, folder), as_version=4)
        for old, new in (changes or {}).items():
            (cell,) = [cell for cell in notebook.cells if old in cell.source]
            cell.source = cell.source.replace(old, new)
        execute(notebook, folder)
        outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
        assert not [output for output in outputs if output.get("name") == "stderr"]
        cells = {cell.id: told(cell) for cell in notebook.cells if cell.cell_type == "code"}
        return cells, sum("image/png" in output.get("data", {}) for output in outputs)

    return outcome


@pytest.fixture
def own(tmp_path, small):
    """A folder with a bench of one's own, which says nothing of being invented."""
    (folder := tmp_path / "work").mkdir()
    shutil.copytree(small, folder / "flow-cell")
    manifest = folder / "flow-cell" / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text(text.partition("\n")[2], encoding="utf-8")
    return folder


OWN = {FIRST: 'bench_folder = "flow-cell" '}


def test_bench_spectra(run, tmp_path):
    cells, pictures = run("bench_spectra", tmp_path)
    text = "\n".join(cells.values())
    # The demo's last source is an LED at 405 nm; its figures hold what its virtual light was made with.
    peak, low, high = map(float, re.search(r"^peak \[nm\] +(\S+) +\((\S+) to (\S+)\)", text, re.M).groups())
    assert low < peak < high
    assert peak == pytest.approx(405, abs=1)
    assert re.search(r"^irradiance \[mW/cm²\] +\d+", text, re.M)
    assert pictures == 2
    assert [path.name for path in (tmp_path / "demo-bench" / "results").iterdir()] == ["invented_light.csv"]


def test_what_bench_spectra_keeps_reads_back_to_what_was_reduced(run, own):
    run("bench_spectra", own, OWN)
    kept = sb.read(own / "flow-cell" / "results" / "light.csv")
    reduced = sb.reduce_bench(own / "flow-cell", draws=200, seed=1)
    due = sb.summarize(reduced["sources/spectral_irradiance"].sel(source="LED 405"))
    light = kept["spectral_irradiance"]
    assert light.attrs["units"] == "W m-2 nm-1"
    np.testing.assert_array_equal(light.values, due.value.values)
    said = kept["spectral_irradiance_standard_uncertainty"]
    np.testing.assert_array_equal(said.values, due.standard_uncertainty.values)


def test_housing_material(run, tmp_path):
    cells, pictures = run("housing_material", tmp_path)
    text = "\n".join(cells.values())
    assert f"{INVENTED}: behind 2.0 mm, LED 405 brings the most, " in text
    row = re.search(r"^LED 385 +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+)$", text, re.M)
    two, one, three, four = map(float, row.groups())  # per cent of the light, by thickness in mm
    assert one > two > three > four > 0
    assert pictures == 1


def test_which_source_takes_the_bench_that_was_named(run, own):
    cells, pictures = run("which_source", own, OWN)
    assert pictures == 1  # of the light path, where a page shows no widget
    text = "\n".join(cells.values())
    assert "Test first: LED 405" in text
    assert "no proof of a cure" in text
    assert INVENTED not in text
    assert (own / "flow-cell" / "results" / "report.html").is_file()
    assert not (own / "demo-bench").exists()
    # Nothing is tried out that the bench or the advice forbids.
    sources = re.findall(r"^(\S.*?)  +\d", cells["cell-10"], re.M)
    assert sources == [
        "LED 405",
        "LED 385",
        "arc, filtered",
    ]  # one fails, one is to be measured again
    assert "95 % interval from / s  95 % interval to / s" in cells["cell-10"]
    steps = re.findall(r"(\d\.\d\d) +(\d+\.\d) +(\d+\.\d)$", cells["trials"], re.M)
    assert len(steps) == 13
    assert max(float(seconds) for _, seconds, _ in steps) <= 30  # s and °C: what the bench allows
    assert max(float(warm) for _, _, warm in steps) <= 85
    assert re.search(
        r"^Left out: arc, filtered, 2 ×: \S+ s is beyond the maximum_time", cells["trials"], re.M
    )
    assert "measure the part" in cells["trials"]


def test_the_usual_cautions_stand_at_what_is_to_be_tried_out(tmp_path):
    cells = nbformat.read(start_notebook("which_source", tmp_path), as_version=4).cells
    (above,) = [cell.source for cell in cells if cell.source.startswith("## What to test first")]
    for word in ("eyes", "skin", "hot", "mercury", "resins", "Local codes", "licence"):
        assert word in above


def test_where_nothing_is_worth_a_trial_nothing_stands_there(run, own):
    manifest = own / "flow-cell" / "bench.toml"
    text = manifest.read_text(encoding="utf-8").replace('"60 mW/cm^2"', '"600 W/cm^2"')
    manifest.write_text(text, encoding="utf-8")
    cells, _ = run("which_source", own, OWN)
    assert "No source is worth a trial as it stands." in cells["trials"]
    assert "Empty DataFrame" in cells["trials"]


def test_what_was_turned_can_be_taken_along(run, own):
    turned = {
        "light_path = LightPath(reduced)\n": "light_path = LightPath(reduced)\n"
        'light_path.turn(thickness={"cover": "1 mm"})\n',
        "as_turned = False": "as_turned = True",
    }
    cells, _ = run("which_source", own, OWN | turned)
    assert "thickness of cover at 1 mm, not 2 mm" in cells["along"]
    assert "LED 365" in cells["cell-10"]  # through half of the cover it is enough
    assert "thickness of cover at 1 mm, not 2 mm" in cells["cell-12"]
    page = (own / "flow-cell" / "results" / "turned_report.html").read_text(encoding="utf-8")
    assert "thickness of cover at 1 mm, not 2 mm" in page
    assert not (own / "flow-cell" / "results" / "report.html").exists()


@pytest.mark.parametrize("template", TEMPLATES)
def test_a_bench_that_is_not_there_is_refused_and_nothing_is_written(run, tmp_path, template):
    with pytest.raises(CellExecutionError) as error:
        run(template, tmp_path, {FIRST: 'bench_folder = "flow-cell-2027" '})
    said = (
        "flow-cell-2027 cannot be used as it is: found no bench.toml in it; expected a manifest of that name"
    )
    assert said in error.value.evalue
    assert [path.name for path in tmp_path.iterdir()] == [f"{template}.ipynb"]


@pytest.mark.parametrize("template", TEMPLATES)
def test_a_new_bench_is_refused_with_all_that_is_missing_and_the_notebook_says_so_before(
    run, tmp_path, template
):
    start_bench(tmp_path / "bench")
    with pytest.raises(CellExecutionError, match=r"bench\.toml cannot be used as it is, 11 faults"):
        run(template, tmp_path, {FIRST: 'bench_folder = "bench" '})
    first = nbformat.read(tmp_path / f"{template}.ipynb", as_version=4).cells[0].source
    assert re.search(r"until its raw files lie in `raw/` and its placeholders\s+are replaced", first)


@pytest.mark.parametrize("template", TEMPLATES)
def test_each_result_of_the_demo_says_that_it_is_invented(run, own, template):
    """Also where somebody names the demo, or copied it: it says so itself."""
    shutil.copytree(sb.write_demo_bench(own / "given"), own / "mine")
    cells, _ = run(template, own, {FIRST: 'bench_folder = "mine" '})
    silent = {"cell-03", "cell-05", "cell-07", "cell-14"} if template == "bench_spectra" else {"cell-14"}
    silent |= {"cell-06"} if template == "housing_material" else set()  # whose title says it
    for name, text in cells.items():
        assert name in silent or not text or text.startswith(INVENTED), name
    notebook = nbformat.read(own / f"{template}.ipynb", as_version=4)
    for cell in notebook.cells:
        assert "plt.subplots" not in cell.source or "whose" in cell.source
    kept = {path.name for path in (own / "mine" / "results").glob("*")}
    assert kept == {"bench_spectra": {"invented_light.csv"}, "which_source": {"invented_report.html"}}.get(
        template, set()
    )
    if template == "bench_spectra":
        assert "# title: LED 405 (INVENTED DATA)\n" in (own / "mine/results/invented_light.csv").read_text()
    if template == "which_source":
        assert "<title>INVENTED DATA: " in (own / "mine/results/invented_report.html").read_text("utf-8")


def test_templates_choose_their_bench_alike(tmp_path):
    chosen = set()
    for template in TEMPLATES:
        cells = nbformat.read(start_notebook(template, tmp_path), as_version=4).cells
        chosen.add(FIRST + cells[1].source.partition(FIRST)[2])
        said = cells[0].source.partition("`bench_folder` is `None` at first")
        chosen.add("".join(said[1:]).partition("\n\n")[0])
        assert all(len(cell.source.splitlines()) <= 30 for cell in cells if cell.cell_type == "code")
    assert len(chosen) == 2


def test_each_template_ends_with_what_comes_next_or_is_handed_on(tmp_path):
    ends = {
        name: [cell.source for cell in nbformat.read(start_notebook(name, tmp_path), as_version=4).cells]
        for name in TEMPLATES
    }
    assert ends["bench_spectra"][-1].startswith("## From here")
    assert ends["housing_material"][-1].startswith("## From here")
    assert ends["which_source"][-2].startswith("## To hand on")
    (sample,) = [source for source in ends["housing_material"] if source.startswith("## The sample")]
    assert "> **Caution.**" in sample  # where somebody measures with a lamp
