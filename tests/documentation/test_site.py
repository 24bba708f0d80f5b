"""The pages as they are built: without a network or a warning, with everything that there is to look up."""

from __future__ import annotations

import ast
import html
import importlib.util
import os
import re
import subprocess
import sys
import tomllib
import xml.etree.ElementTree as ElementTree
import zlib
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urldefrag

import pytest

import spectralbench as sb
from spectralbench.cli import parser

ROOT = Path(__file__).parents[2]
SOURCES = ROOT / "spectralbench" / "documentation"
ENOUGH = 60  # values from outside: published, or computed by a package of others
OFFLINE = """
import gc, socket, sys
gc.disable()  # the pages are built and gone; counting references takes a tenth of the time
def refuse(self, address): raise PermissionError(f"pages are built without a network; refused {address!r}")
socket.socket.connect = socket.socket.connect_ex = refuse
from sphinx.cmd.build import main
sys.exit(main(sys.argv[1:]))
"""


class Page(HTMLParser):
    """What a page is called by, what it leads to, and what it loads when it is opened."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.ids |= {found["id"]} if found.get("id") else set()
        if tag == "a" and found.get("href"):
            self.links.append(found["href"])
        loaded = found.get("href") if tag == "link" else found.get("src")
        if loaded:
            self.loads.append(loaded)


@pytest.fixture(scope="module")
def references(tmp_path_factory):
    """One file of check values: what it records, as for `make docs`, and what `make references` prints."""
    file = tmp_path_factory.mktemp("recorded") / "check_values.xml"
    command = [
        sys.executable,
        "-m",
        "pytest",
        "tests/references/test_wavelength_lines.py",
        "--references",
        "-q",
    ]
    command += ["-p", "no:cacheprovider", "-p", "no:randomly", "-p", "no:xdist"]
    command += ["-o", "junit_family=legacy", f"--junitxml={file}"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout
    return file, done.stdout


@pytest.fixture(scope="module")
def recorded(references):
    return references[0]


@pytest.fixture(scope="module")
def site(tmp_path_factory, recorded):
    folder = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-c", OFFLINE, "-q", "-W", "--keep-going", "-b", "html"]
    done = subprocess.run(
        [*command, "-d", str(folder / "read"), str(SOURCES), str(folder / "pages")],
        cwd=ROOT,
        env=os.environ | {"CHECK_VALUES": str(recorded)},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert done.returncode == 0, done.stderr
    assert not done.stderr
    return folder / "pages"


@pytest.fixture(scope="module")
def built(site):
    paths = sorted(site.rglob("*.html"))
    return {path: Page(path.read_text(encoding="utf-8")) for path in paths}


def test_a_page_that_is_opened_asks_nobody(site, built):
    for path, page in built.items():
        assert not [url for url in page.loads if re.match(r"(https?:)?//", url)], path
    for path in site.rglob("*.css"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"url\(\s*[\"']?(https?:)?//|@import", text), path


def test_every_link_holds(site, built):
    wrong = []
    for path, page in built.items():
        for link in page.links:
            if re.match(r"[a-z]+:", link):
                continue
            file, anchor = urldefrag(unquote(link))
            target = (path.parent / file).resolve() if file else path
            if not target.is_file() or (anchor and target in built and anchor not in built[target].ids):
                wrong.append(f"{path.relative_to(site)}: {link}")
    assert not wrong


def test_every_public_name_is_in_the_reference(site):
    packed = (site / "objects.inv").read_bytes().split(b"\n", 4)[4]  # behind four lines of header
    known = {line.split()[0] for line in zlib.decompress(packed).decode().splitlines() if " py:" in line}
    for name in set(sb.__all__) - {"__version__"}:
        thing = getattr(sb, name)
        inside = [f"{name}.{part}" for part in thing.__all__] if type(thing) is type(os) else [name]
        assert {f"spectralbench.{part}" for part in inside} <= known, name


def test_every_command_has_its_section(built, site):
    (commands,) = [action.choices for action in parser()._actions if isinstance(action.choices, dict)]
    ids = built[site / "reference" / "command_line.html"].ids
    assert {f"spectralbench-{name}" for name in commands} <= ids


def named_in_the_code() -> set[str]:
    """The first text of each call that makes a criterion, and of each row of those made in a loop."""
    tree = ast.parse((ROOT / "spectralbench" / "comparison" / "criteria.py").read_text(encoding="utf-8"))
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and node.args]
    made = [call.args[0] for call in calls if getattr(call.func, "id", "") in ("Criterion", "_weighed")]
    loops = [
        node.iter for node in ast.walk(tree) if isinstance(node, ast.For) and isinstance(node.iter, ast.Tuple)
    ]
    made += [row.elts[0] for loop in loops for row in loop.elts if isinstance(row, ast.Tuple)]
    return {node.value for node in made if isinstance(node, ast.Constant)}


def test_every_criterion_is_explained(pages, reduced):
    names = named_in_the_code()
    assert {"oxygen", "travel", "mercury"} <= names
    assert set(sb.compare(reduced).criterion.values.tolist()) <= names
    told = re.findall(
        r"^\| ([a-z ]+) \|", pages["spectralbench/documentation/reference/criteria.md"], flags=re.M
    )
    assert set(told) == names | {"criterion"}


def rows_of(recorded):
    kept = [found.get("value") for found in ElementTree.parse(recorded).iter("property")]
    return [ast.literal_eval(value) for value in kept]


def test_check_values_are_those_that_were_recorded(site, recorded):
    text = html.unescape((site / "check_values.html").read_text(encoding="utf-8"))
    rows = rows_of(recorded)
    assert len(rows) >= ENOUGH
    for what, source, standing, expected, *_ in rows:
        assert f"<p>{what}</p>" in text
        assert f"<strong>{standing}</strong>: {source}" in text
        assert f"<p>{expected}</p>" in text
    independent = [row for row in rows if row[2] != "closed form"]
    assert f"{len(independent)} independent values" in text
    assert "All agree." in text


def test_there_are_enough_values_from_outside(references):
    """One file of them is enough by itself."""
    recorded, printed = references
    found = re.search(r"^(\d+) independent values, (\d+) sources, all agree: ", printed, re.MULTILINE)
    assert found, printed
    rows = re.findall(r"^    .*\S +\S+ +\S+ +\d+ +\d+$", printed, re.MULTILINE)
    closed = re.search(r"beside them (\d+) closed forms", printed)
    assert len(rows) == int(found[1]) + int(closed[1]) == len(rows_of(recorded))
    assert int(found[1]) >= ENOUGH
    assert int(found[2]) >= 5


def test_a_value_that_disagrees_is_counted():
    spec = importlib.util.spec_from_file_location("check_values", SOURCES / "check_values.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    good = module.Value("a", "somebody, 1999, table 1", "published", "1.0", 1.0, 2, 16)
    assert module.counted([good]).endswith("All agree.")
    assert module.counted([good, good._replace(found=1.2, reached=1)]).endswith("1 do not agree.")


def test_every_notebook_is_listed(site):
    text = (site / "how_to" / "notebooks.html").read_text(encoding="utf-8")
    names = [path.name for path in (ROOT / "example_notebooks").glob("*.ipynb")]
    assert min(names, key=text.index) == "first_hour.ipynb"
    for path in (ROOT / "example_notebooks").glob("*.ipynb"):
        assert path.name in text


def test_links_of_the_readme_lead_to_files(pages):
    links = re.findall(r"\]\(([^)#]+)\)", pages["README.md"])
    assert len(links) > 5
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_every_sample_is_shown_and_reads(pages):
    """The table of what is read, against what stands in tests/samples."""
    text = pages["spectralbench/documentation/reference/files.md"]
    samples = {path.name for path in (ROOT / "tests" / "samples").iterdir() if path.suffix != ".md"}
    shown = set(re.findall(r"/tests/samples/([^)]+)\)", text))
    listed = (ROOT / "tests" / "samples" / "jcamp_sources.md").read_text(encoding="utf-8")
    assert samples == shown | {name for name in samples if f"`{name}`" in listed}
    for name in shown:
        path = ROOT / "tests" / "samples" / name
        sb.read(path)
        words = path.read_text(encoding="latin-1").casefold()
        assert "invented" in words or "erfunden" in words


def test_the_pages_are_not_in_the_wheel():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert "spectralbench/documentation" in project["tool"]["hatch"]["build"]["targets"]["wheel"]["exclude"]
