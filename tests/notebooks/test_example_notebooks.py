"""The example notebooks tell what they promise, in a form that can be shared."""

from __future__ import annotations

import ast
import base64
import re
from pathlib import Path

import nbformat
import numpy as np
import pytest
from nbconvert import HTMLExporter

from spectralbench.pictures import light_path
from spectralbench.pictures.drawing import as_svg

FOLDER = Path(__file__).parents[2] / "example_notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))

# The client of the kernel talks to it over sockets on this machine; it warns of its own event loop.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning")

each = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def code_of(notebook: nbformat.NotebookNode) -> list[str]:
    return [cell.source for cell in notebook.cells if cell.cell_type == "code"]


@each
def test_outputs_are_stripped_and_cells_have_names(path):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    assert all(not cell.get("outputs") and cell.get("execution_count") is None for cell in notebook.cells)
    assert set(notebook.metadata) == {"kernelspec", "language_info"}
    names = [cell.get("id", "") for cell in notebook.cells]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch("[a-z][a-z0-9-]*[a-z0-9]", name) for name in names), names


@each
def test_it_begins_with_a_question_and_ends_with_provenance(path):
    cells = nbformat.read(path, as_version=4).cells
    first = cells[0].source
    title = first.splitlines()[0]
    assert cells[0].cell_type == "markdown"
    assert title.startswith("# ")
    assert title.endswith("?")
    assert "invented" in first
    assert "> **Caution.**" in first
    assert re.search(r"[Ll]ocal\s+(> )?codes", first)
    assert cells[-1].cell_type == "code"
    last = ast.unparse(ast.parse(cells[-1].source).body[-1])
    assert last.startswith("sb.provenance(")


@each
def test_cells_are_short_and_stay_in_the_folder(path):
    for code in code_of(nbformat.read(path, as_version=4)):
        tree = ast.parse(code)
        assert len(code.splitlines()) <= 30, code
        texts = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)]
        paths = [
            text for text in texts if isinstance(text, str) and re.match(r"/|~|\.\.(/|$)|[A-Z]:\\", text)
        ]
        assert not paths
        for call in re.findall(r"(?:mkdtemp|mkstemp|TemporaryDirectory|NamedTemporaryFile)\(.*", code):
            assert 'dir="."' in call


def test_a_bench_is_reduced(run_notebook, printed):
    text = printed(run_notebook("reduce_a_bench"))
    # A file from abroad holds what ours held; one that cannot be right is refused, with all its faults.
    assert 'spectral_irradiance, unit "mW/m²/nm"' in text
    assert float(re.search(r"^off by at most (\S+)$", text, re.M)[1]) < 1e-12
    assert "broken.csv cannot be read, 3 faults" in text
    assert re.search(r"^arc +not: saturated in each of 8 scans", text, re.M)
    assert re.search(r"^LED 385 +with care: scan 3 lies (2\.9|3|3\.1) % below the median", text, re.M)
    # What needs the saturated pixels is not known, and nothing else.
    assert re.search(
        r"^320–430 nm: 8\d\d mW/cm²\n400–500 nm: nan mW/cm²\n450–600 nm: 4\d\d mW/cm²$", text, re.M
    )
    assert "merged exposures of 5 ms, 10 ms" in text
    assert "left out scan 3 of 8: the shutter stuck" in text
    assert "the same came back: True" in text


def test_what_was_found_is_the_truth(run_notebook):
    notebook = run_notebook("reduce_a_bench")
    tables = {
        cell.id: cell.outputs[-1].data["text/plain"]
        for cell in notebook.cells
        if cell.id in ("truth", "again")
    }
    rows = re.findall(r"^(.+?)  +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+) +(\S+)$", tables["truth"], re.M)
    assert len(rows) == 5
    for name, *numbers in rows:
        value, low, high, truth, off = map(float, numbers)
        assert low < truth < high, name
        assert abs(off) < 1, name
        assert value == pytest.approx(truth, rel=0.01), name  # all that noise and slit leave
    # One scan of eight that is 3 % weak makes 3/8 %.
    value, _, _, _, before = map(float, re.search(r"^LED 385 +(.+)$", tables["again"], re.M)[1].split())
    assert 1 - before / value == pytest.approx(0.03 / 8, abs=0.0005)


def test_how_sure_is_a_bench(run_notebook, printed):
    text = printed(run_notebook("reduce_a_bench"))
    assert re.search(r"^the distance has [67]\d% of the variance of LED 405$", text, re.M)
    variants = re.findall(r"^(.+?)  +u of LED 405 ([\d.]+)%, of LED 405 over LED 385 ([\d.]+)%$", text, re.M)
    one, ratio = ({name: float(row[i]) for name, *row in variants} for i in (0, 1))
    # 1 % of attenuator at 385 and 405 nm, correlated over 50 nm: √(2 - 2 exp(-20/50)) %
    assert ratio["no error of the distance"] == pytest.approx(0.81, abs=0.2)
    # A distance is 0.3 mm of 12 mm off, and so is the other one of a ratio; beams fall like that of a disc of
    # 11 mm, by the power 2 d²/(R² + d²) = 1.09 of it (closed form), or by 2 where nobody knows.
    alone = one["no error of the distance"]
    offs = {"as it is": 2.7, "half the error of the distance": 1.36, "no beam measured": 5.0}
    for name, off in offs.items():
        assert one[name] == pytest.approx(np.hypot(off, alone), rel=0.12), name
        assert ratio[name] == pytest.approx(np.hypot(2**0.5 * off, 0.81), rel=0.12), name
    assert ratio["half the error of the lamp"] == pytest.approx(ratio["as it is"], rel=0.02)


def test_which_source(run_notebook, printed):
    text = printed(run_notebook("which_source"))
    assert "Test first: LED 405" in text
    # By hand and by the bench, step by step, the same light arrives and the same photons are absorbed.
    for figure in ("mW/cm²", "µmol/m²/s"):
        by_hand, by_bench = map(
            float, re.search(rf"(\d+) {figure} by hand, (\d+) {figure} by", text).groups()
        )
        assert by_hand == pytest.approx(by_bench, rel=0.002)
    # Blue light, to 100 s by exposure; the beam thins out like that of a disc of 11 mm (closed form).
    at_part, away = map(float, re.search(r"^LED 405: (\S+) s at the part, (\d+) s at", text, re.M).groups())
    assert away == pytest.approx(at_part * (11**2 + 500**2) / (11**2 + 12**2), rel=0.03)
    # Half of the cover is enough for the LED of the data sheet, the whole of it never.
    assert "taken otherwise than on the bench: thickness of cover at 1 mm, not 2 mm" in text
    enough = re.search(r"^LED 365: 30 s are enough in (.+)$", text, re.M)[1].replace("%", "").split(", ")
    shares = [float(share) for share in enough]  # of the draws, at 1, 1.25, 1.5, 2 and 3 mm
    assert shares == sorted(shares, reverse=True)
    assert (shares[0], shares[-2]) == (100, 0)
    assert "LED 405: 51% of today's light" in text  # half of a new one, of which 500 h are used
    assert "at 4 % of LED 405, test first: LED 385" in text
    assert re.search(r"^LED 405: not known: .*: too close to call$", text, re.M)
    assert re.search(r"^LED 405: .* 5\.3 s found: as expected$", text, re.M)
    assert re.search(r"^arc, filtered: .* 45\.0 s found: look for what else decides$", text, re.M)


def test_a_saved_page_of_which_source_needs_no_network(run_notebook):
    """On a page without a kernel, and offline, the widget's picture with its figures is there."""
    offline = re.findall(
        r"--HTMLExporter\.(\w+)=(?=\s)", (FOLDER.parent / "Makefile").read_text(encoding="utf-8")
    )
    page, _ = HTMLExporter(**dict.fromkeys(offline, "")).from_notebook_node(run_notebook("which_source"))
    assert re.findall(r"<(?:script|link|img)[^>]*(?:src|href)=\"?(?:https?:)?//[^>]*>", page) == []
    images = re.findall(r'<img[^>]*src="data:image/svg\+xml;base64,([^"]+)"', page)
    (picture,) = [base64.b64decode(data).decode() for data in images]
    assert "1. LED 405: in the required band 8" in picture
    assert "application/vnd.jupyter.widget-view+json" not in page
    assert len(re.findall(r'<img[^>]*src="data:image/png;base64,', page)) == 3


def test_the_first_hour(run_notebook, printed):
    text = printed(run_notebook("first_hour"))
    faults = [
        "bench.toml cannot be used as it is, 11 faults",
        "found wavelengths up to 0.35 nm off; expected the grid of the other frames",
        "there is no dark at 2 ms (there is 500 ms)",
        '"20" has no unit; write it as "20 mm"',
        '"g/L" cannot be converted to "mol/L"',
    ]
    places = [text.index(fault) for fault in faults]
    assert places == sorted(places)
    # The attenuator passes 1.05 % at 400 nm: so many times too little light is found without it.
    factor = float(re.search(r"the radiometer shows ([\d.]+) times", text)[1])
    assert factor == pytest.approx(1 / 0.0105, rel=0.05)
    assert "they agree within their intervals" in text
    assert "Test first: LED" in text
    assert "placeholder" not in text[text.index("they agree") :].partition("Then: ")[2].partition("\n")[2]
    assert "bit for bit" in text
    assert "Changed since it was saved: raw/led.csv" in text


def test_the_picture_of_the_readme_is_what_the_demo_draws(reduced):
    def told(svg):
        words = re.findall(r"<(?:text|title|desc)[^>]*>([^<]*)", svg)
        return [word for word in words if re.search("[a-z]", word)]

    kept = (FOLDER / "light_path.svg").read_text(encoding="utf-8")
    assert told(kept) == told(as_svg(light_path(reduced), "light-path"))
    assert 'style="fill: #ffffff"' in kept.partition("axes_1")[0]  # dark words need a ground on dark pages
