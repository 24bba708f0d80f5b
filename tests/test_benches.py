"""The bench floor: a folder of raw files becomes one tree, or one error that names everything wrong."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.errors import BenchError, RangeError, SpectralBenchError
from spectralbench.model import QUANTITIES, check


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return sb.write_demo_bench(tmp_path_factory.mktemp("benches") / "demo")


@pytest.fixture(scope="module")
def before(demo):
    return hashes(demo)


@pytest.fixture(scope="module")
def opened(demo, before):
    return sb.open_bench(demo)


@pytest.fixture(scope="module")
def reduced(opened):
    return sb.reduce_bench(opened)


@pytest.fixture(scope="module")
def compared(reduced):
    return sb.compare(reduced)


@pytest.fixture(scope="module")
def small(demo, tmp_path_factory):
    """The demo bench with every sixteenth pixel."""
    folder = shutil.copytree(demo, tmp_path_factory.mktemp("benches") / "small")
    for path in (folder / "raw").glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        if "counts" in lines[first - 1]:
            path.write_text("".join(lines[:first] + lines[first::16]), encoding="utf-8")
    text = (folder / "bench.toml").read_text(encoding="utf-8").replace("pixels = 2048", "pixels = 128")
    (folder / "bench.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def bench(small, tmp_path):
    """A copy of the small bench in which texts can be replaced: ``bench("raw/x.csv", old, new)``."""

    class Copy:
        folder = shutil.copytree(small, tmp_path / "bench")

        def __call__(self, file, old, new):
            path = self.folder / file
            text, count = re.subn(old, new, path.read_text(encoding="utf-8"), flags=re.MULTILINE)
            assert count, f"nothing in {file} matches {old}"
            path.write_text(text, encoding="utf-8")
            return self

        def manifest(self, old, new):
            return self("bench.toml", re.escape(old), new.replace("\\", r"\\"))

        def line_of(self, text):
            lines = (self.folder / "bench.toml").read_text(encoding="utf-8").splitlines()
            return next(i for i, line in enumerate(lines, 1) if text in line)

        def faults(self, job=sb.open_bench):
            with pytest.raises(BenchError) as caught:
                job(self.folder)
            for fault in caught.value.faults:
                assert fault.found
                assert fault.expected
                assert str(self.folder) in str(caught.value)
            return caught.value.faults

        def fault(self, job=sb.open_bench):
            (fault,) = self.faults(job)
            return fault

    return Copy()


def hashes(folder):
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def datasets(tree):
    return [(node.path, node.to_dataset()) for node in tree.subtree if node.data_vars]


def test_the_opened_tree_is_laid_out_as_documented(opened):
    assert {path for path, _ in datasets(opened)} == {
        *("/dark/1", "/dark/2", "/dark/3", "/standard_lamp/frame", "/standard_lamp/certificate"),
        *(
            f"/source/{name}/{what}"
            for name in ("arc", "arc, filtered", "LED 365", "LED 385", "LED 405")
            for what in ("frame", "attenuator")
        ),
        *("/part/cover/sample", "/part/cover/reference_1", "/part/cover/reference_2"),
        *("/adhesive/initiator A", "/adhesive/initiator B", "/radiometer/1", "/ageing/arc"),
    }
    for path, dataset in datasets(opened):
        if "counts" in dataset:
            assert dataset["counts"].dims == ("spectrum", "wavelength"), path
            assert dataset.sizes["wavelength"] == 2048
    assert opened.attrs["title"].startswith("Flow-cell cover")


def test_the_reduced_tree_is_laid_out_as_documented(reduced):
    assert [path for path, _ in datasets(reduced)] == [
        *("/instrument", "/sources", "/parts", "/adhesive", "/ageing/arc", "/radiometer/1")
    ]
    dimensions = {
        "instrument/responsivity": ("wavelength",),
        "sources/spectral_irradiance": ("source", "wavelength"),
        "sources/scatter": ("source", "wavelength"),
        "sources/band_irradiance": ("source",),
        "parts/transmittance": ("part", "wavelength"),
        "parts/quoted": ("part", "quoted_wavelength"),
        "parts/drift": ("part",),
        "adhesive/absorbance": ("initiator", "wavelength"),
    }
    for name, expected in dimensions.items():
        assert reduced[name].dims == expected
    grids = [reduced[name].wavelength.values for name, d in dimensions.items() if "wavelength" in d]
    assert all(np.array_equal(grid, grids[0]) for grid in grids)
    assert reduced["parts/quoted"].quoted_wavelength.values.tolist() == [365.0, 385.0, 405.0, 436.0]


def test_every_known_quantity_carries_its_unit(opened, reduced, compared):
    for path, dataset in [*datasets(opened), *datasets(reduced), ("compared", compared)]:
        check(dataset)
        for name, array in dataset.data_vars.items():
            if name in QUANTITIES:
                assert array.attrs["units"] == QUANTITIES[name].units, (path, name)
    for name, array in reduced["sources"].data_vars.items():
        assert array.attrs["units"] in ("nm", "W m-2", "W m-2 nm-1"), name
    for name, array in compared.data_vars.items():
        if array.dtype.kind == "f":
            assert array.attrs["units"], name


def test_provenance_has_the_hash_of_every_raw_file(demo, opened, reduced, compared):
    for result in (opened, reduced, compared):
        provenance = json.loads(result.attrs["provenance"])
        assert provenance["files"] == hashes(demo)
        assert provenance["versions"].keys() >= {"python", "numpy", "scipy", "xarray", "spectralbench"}
    assert json.loads(reduced.attrs["provenance"])["settings"] == {"draws": 0, "seed": None}


def test_raw_files_are_not_touched(demo, before, compared):
    assert hashes(demo) == before


def test_one_result_by_three_doors(demo, opened, compared):
    xr.testing.assert_identical(sb.compare(opened), compared)
    xr.testing.assert_identical(sb.compare(str(demo)), compared)


MANIFEST_FAULTS = {
    "missing key": ("pixels = 128\n", "", "instrument.pixels", "[instrument]", "no such key", "pixels"),
    "unknown key": (
        *("pixels = 128\n", "pixels = 128\ncolour = 3\n"),
        *("instrument.colour", "colour", "unknown key", "only the keys"),
    ),
    "unknown table": ("[instrument]\n", "[room]\n[instrument]\n", "room", "[room]", "unknown key", "only"),
    "a text for a whole number": (
        "pixels = 128",
        'pixels = "many"',
        "instrument.pixels",
        "pixels",
        '"many"',
        "integer",
    ),
    "a number for a name": ('name = "cover"', "name = 7", "part.1.name", "name = 7", '"7"', "string"),
    "a value without unit": (
        *('"500 mm ± 0.3 mm"', '"500"', "standard_lamp.certified_distance", "certified_distance"),
        *('"500"', "a number with a unit.*no unit.*500 mm"),
    ),
    "a number without unit": (
        *(
            '"0.15 mm ± 0.02 mm"',
            "0.15",
            "adhesive.bond_line",
            "bond_line",
            '"0.15"',
            "number with a unit.*mm",
        ),
    ),
    "the unit of another kind": (
        *('"1.8 J/cm^2"', '"1.8 W/cm^2"', "requirement.dose", "dose"),
        *(r'"1.8 W/cm\^2"', '"W/cm.2" cannot be converted to "J m-2"'),
    ),
    "no unit at all": (
        '"8 s"',
        '"8 smoots"',
        "requirement.maximum_time",
        "maximum_time",
        "8 smoots",
        "not a unit",
    ),
    "words": ('"8 mm"', '"wide"', "source.1.spot", "spot", '"wide"', "not a number with a unit"),
    "a negative value": (
        '"2.0 mm ± 0.02 mm"',
        '"-2 mm"',
        "part.1.thickness",
        "thickness",
        '"-2 mm"',
        "above 0 mm",
    ),
    "zero": (
        '"60 mW/cm^2"',
        '"0 W/m^2"',
        "requirement.minimum_irradiance",
        "minimum_irradiance",
        "0 W",
        "above 0",
    ),
    "not a number": ("65535 ", "nan ", "instrument.full_scale", "full_scale", '"nan"', "not a finite number"),
    "infinity": ('"900 h"', '"1e999 h"', "source.1.hours", "hours", '"1e999 h"', "finite number"),
    "an index below 1": ("index = 1.53", "index = 0.9", "part.1.index", "index", '"0.9"', "at least 1"),
    "an unknown kind": (
        'kind = "LED"',
        'kind = "laser"',
        "source.3.kind",
        '"laser"',
        '"laser"',
        "'arc'.*'LED'",
    ),
    "an empty list": (
        *('["2 ms", "5 ms", "10 ms", "20 ms", "500 ms"]', "[]", "instrument.integration_times"),
        *("integration_times", r"\[\]", "at least 1"),
    ),
    "a band of one": (
        '["320 nm", "430 nm"]',
        '["320 nm"]',
        "requirement.band",
        "band",
        "320 nm",
        "at least 2",
    ),
    "a band reversed": (
        *('["320 nm", "430 nm"]', '["430 nm", "320 nm"]', "requirement.band", "band"),
        *("430 nm.*320 nm", "shorter to a longer"),
    ),
    "a file above the folder": (
        *('"raw/cover.csv"', '"../cover.csv"', "part.1.sample.file", "sample"),
        *('"../cover.csv"', "inside the bench folder"),
    ),
    "an absolute file": (
        *(
            '"raw/cover.csv"',
            '"/etc/hosts"',
            "part.1.sample.file",
            "sample",
            '"/etc/hosts"',
            "inside the bench",
        ),
    ),
    "a file with backslashes": (
        *(
            '"raw/cover.csv"',
            "'raw\\cover.csv'",
            "part.1.sample.file",
            "sample",
            "cover.csv",
            "with / between",
        ),
    ),
    "a file in two roles": (
        *('"raw/cover.csv"', '"raw/reference_before.csv"', "part.1.references.1", "references"),
        *('"raw/reference_before.csv", which is part.sample already', "each raw file in one role"),
    ),
    "a file in two roles, in disguise": (
        *('"raw/cover.csv"', '"./raw//reference_before.csv"', "part.1.references.1", "references"),
        *("reference_before.csv", "each raw file in one role"),
    ),
    "a name twice": (
        *('"LED 385"', '"LED 365"', "source.4.name", None, '"LED 365" of number 3', "each name once"),
    ),
    "a log of an unknown source": (
        *(
            'source = "arc"',
            'source = "ark"',
            "ageing.1.source",
            '"ark"',
            '"ark"',
            'a source: "arc", "arc, filtered"',
        ),
    ),
    "two ageing logs of one source": (
        *("[[ageing]]\n", '[[ageing]]\nsource = "arc"\nfile = "raw/other.csv"\n\n[[ageing]]\n'),
        *("ageing.2.source", None, 'second log for "arc"', "one log for each source"),
    ),
}


@pytest.mark.parametrize("case", MANIFEST_FAULTS)
def test_a_fault_of_the_manifest_names_key_and_line(bench, case):
    old, new, key, stands, found, expected = MANIFEST_FAULTS[case]
    fault = bench.manifest(old, new).fault()
    assert fault.key.removesuffix(".file") == key.removesuffix(".file")
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    if stands:
        assert fault.line == bench.line_of(stands)
    else:  # the last table of that name
        text = (bench.folder / "bench.toml").read_text(encoding="utf-8").splitlines()
        assert key.rpartition(".")[2] in text[fault.line - 1]
        table = f"[[{key.partition('.')[0]}]]"
        assert text[: fault.line].count(table) == int(key.split(".")[1])


def test_a_missing_table(bench):
    text = (bench.folder / "bench.toml").read_text(encoding="utf-8")
    start = text.index("[requirement]")
    stop = text.index("[[radiometer]]")
    (bench.folder / "bench.toml").write_text(text[:start] + text[stop:], encoding="utf-8")
    fault = bench.fault()
    assert (fault.key, fault.line, fault.found) == ("requirement", None, "no such key")
    assert "[requirement]" in fault.advice


def test_the_faults_of_a_manifest_come_together(bench):
    bench.manifest('"1.8 J/cm^2"', '"1.8"').manifest("pixels = 128", "pixels = 2")
    bench.manifest('name = "cover"\n', "").manifest('["320 nm", "430 nm"]', '["320", "430 nm"]')
    faults = bench.faults()
    assert {fault.key for fault in faults} == {
        *("requirement.dose", "instrument.pixels", "part.1.name", "requirement.band.1")
    }
    places = {fault.key: fault.line for fault in faults}
    for key, text in (
        ("requirement.dose", "dose"),
        ("part.1.name", "[[part]]"),
        ("requirement.band.1", "band"),
    ):
        assert places[key] == bench.line_of(text)


def test_lines_are_counted_as_editors_do(bench):
    bench.manifest('title = "', '# one line\u2028of a comment\x85\ntitle = "').manifest('"8 s"', '"8"')
    text = (bench.folder / "bench.toml").read_text(encoding="utf-8").split("\n")
    assert "maximum_time" in text[bench.fault().line - 1]


def test_a_text_over_several_lines_is_no_table(bench):
    bench.manifest('note = "Inv', 'note = """\n[requirement]\ndose = "no"\n"""\n# ').manifest(
        '"1.8 J/', '"1.8 K/'
    )
    assert bench.fault().line == bench.line_of('"1.8 K/')


@pytest.mark.parametrize(
    ("content", "found", "expected", "line", "column"),
    [
        (b"", "no such key", "title", None, None),
        (b'title = "x"\nnote = \n', '"note ="', "TOML", 2, 8),
        (b'title = "x"\ntitle = "y"\n', 'title = "y"', "TOML", 2, None),
        (b'title = "x', 'title = "x', "TOML", 1, None),
        (b"a = 1\rb = 2", '"a = 1', "TOML", 1, 6),
        (b'title = "M\xfcller"\n', "byte 0xfc at position 10", "UTF-8", None, None),
        (b"#" * 1_000_001, "1000001 bytes", "at most 1000000", None, None),
        (b"a = " + b"[" * 5000 + b"]" * 5000, r"\[\[", "TOML", None, None),
        (b"\0" * 100, r"\\x00", "TOML", 1, 1),
        (b"full_scale = 1" + b"0" * 5000, "full_scale", "TOML", None, None),
    ],
)
def test_a_manifest_that_is_none(bench, content, found, expected, line, column):
    (bench.folder / "bench.toml").write_bytes(content)
    fault = bench.faults()[0]
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    if line:
        assert fault.line == line
    if column:
        assert fault.column == column


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "not readable"])
def test_no_manifest(bench, kind):
    path = bench.folder / "bench.toml"
    path.unlink()
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "not readable":
        path.symlink_to("/proc/self/mem")  # can be opened by its owner, and not read
    fault = bench.fault()
    if kind == "missing":
        assert fault.found == "no bench.toml in it"
        assert "spectralbench demo FOLDER" in fault.advice


def test_a_bench_needs_a_folder(tmp_path):
    for path in (tmp_path / "nowhere", __file__, "\0"):
        with pytest.raises(BenchError, match=r"no bench\.toml"):
            sb.open_bench(path)


def test_this_version_takes_no_draws(opened):
    with pytest.raises(RangeError, match="draws=0, not 100"):
        sb.reduce_bench(opened, draws=100, seed=1)


def test_a_tree_without_manifest_is_refused():
    with pytest.raises(SpectralBenchError, match="a tree without a manifest"):
        sb.compare(xr.DataTree())
