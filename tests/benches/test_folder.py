"""Opening a bench: every raw file in its place, with its unit and its hash, or named with its fault."""

from __future__ import annotations

import json
import os
import re

import pytest

import spectralbench as sb
from spectralbench.model import QUANTITIES, check


def test_the_opened_tree_is_laid_out_as_documented(opened, datasets):
    assert {path for path, _ in datasets(opened)} == {
        *("/dark/1", "/dark/2", "/dark/3", "/dark/4", "/standard_lamp/frame", "/standard_lamp/certificate"),
        *(
            f"/source/{name}/{what}"
            for name in ("arc", "arc, filtered", "LED 365", "LED 385", "LED 405")
            for what in ("frame", "attenuator", "profile")
        ),
        *("/part/cover/sample", "/part/cover/reference_1", "/part/cover/reference_2"),
        *("/adhesive/initiator A", "/adhesive/initiator B", "/adhesive/resin (invented)"),
        *("/radiometer/1", "/ageing/arc"),
        *("/radiometer/1/response", "/radiometer/1/calibration_source", "/radiometer/2"),
    }
    for path, dataset in datasets(opened):
        if "counts" in dataset:
            assert dataset["counts"].dims == ("spectrum", "wavelength"), path
            assert dataset.sizes["wavelength"] == 2048
    assert opened.attrs["title"].startswith("Flow-cell cover")


def test_every_known_quantity_carries_its_unit(opened, reduced, compared, datasets):
    for path, dataset in [*datasets(opened), *datasets(reduced), ("compared", compared)]:
        check(dataset)
        for name, array in dataset.data_vars.items():
            if name in QUANTITIES:
                assert array.attrs["units"] == QUANTITIES[name].units, (path, name)
    for name, array in reduced["sources"].data_vars.items():
        assert array.attrs["units"] in ("1", "nm", "mm", "W m-2", "W m-2 nm-1"), name
    for name, array in compared.data_vars.items():
        if array.dtype.kind == "f" and name != "limit":  # in the unit of the figure of each criterion
            assert array.attrs["units"], name


def test_provenance_has_the_hash_of_every_raw_file(hashes, demo, opened, reduced, compared):
    for result in (opened, reduced, compared):
        provenance = json.loads(result.attrs["provenance"])
        assert provenance["files"] == hashes(demo)
        assert provenance["versions"].keys() >= {"python", "numpy", "scipy", "xarray", "spectralbench"}
    assert json.loads(reduced.attrs["provenance"])["settings"] == {"draws": 0, "seed": None}


def test_raw_files_are_not_touched(hashes, demo, before, compared):
    assert hashes(demo) == before


DATA_FAULTS = {
    "a cell that is no number": (
        "led_385",
        r"^(248),\d+",
        r"\1,abc",
        "source.4.frame",
        '"abc"',
        "a number",
    ),
    "a cut row": (
        "led_385",
        r",\d+\n\Z",
        "\n",
        "source.4.frame",
        r"8 fields \(",
        "9 fields, as in the other rows",
    ),
    "a shifted grid": (
        *("cover", r"^(\d+)(\.\d+)?,", lambda m: f"{float(m[0][:-1]) + 1e-6:.6f},", "part.1.sample"),
        *("wavelengths up to 1e-06 nm off", "the grid of the other frames"),
    ),
    "a pixel too few": ("arc", r"^248,.*\n", "", "source.1.frame", "127 wavelengths", "128, the pixels"),
    "a count above full scale": (
        *("led_405", r"^(248,)\d+", r"\g<1>65536", "source.5.frame"),
        *("a count of 65536", "at most 65535, the full scale"),
    ),
    "no integration time": (
        "dark_2ms",
        r"^# integration.*\n",
        "",
        "dark.1.frame",
        "no integration time",
        "header",
    ),
    "an integration time that is not listed": (
        *("arc", "0.01 s", "0.011 s", "source.1.frame", "an integration time of 11 ms"),
        *("one of 2 ms, 5 ms, 10 ms, 20 ms, 500 ms",),
    ),
    "an integration time without unit": (
        "arc",
        "0.01 s",
        "10",
        "source.1.frame",
        '"10"',
        "a positive time with its unit",
    ),
    "an initiator in another unit": (
        *(
            "initiator_a",
            r"\[L mol-1 cm-1\]",
            "[W m-2]",
            "adhesive.initiator.1.curve",
            "W m-2",
            "L mol-1 cm-1",
        ),
    ),
    "a certificate of something else": (
        *("lamp_certificate", r"spectral irradiance \[W m-2 nm-1\]", "transmittance [1]"),
        *("standard_lamp.certificate", "transmittance", "spectral_irradiance along wavelength"),
    ),
    "an attenuator against time": (
        *(
            "attenuator",
            r"wavelength \[nm\]",
            "time [s]",
            "source.1.attenuator",
            r"transmittance( \[1\])? along time",
        ),
        *("transmittance along wavelength",),
    ),
    "counts in volts": (*("cover", r"counts (\d) \[1\]", r"level \1 [V]", "part.1.sample", "V", "counts"),),
    "an ageing log in watts": (
        "arc_ageing",
        r"relative_output \[%\]",
        "power [W]",
        "ageing.1.file",
        "W",
        "relative",
    ),
    "two columns of output": (
        *(
            "arc_ageing",
            r"^(hours.*|\d.*);(.*)$",
            lambda m: f"{m[1]};{m[2]};{m[2].replace('output', 'output 2')}",
        ),
        *("ageing.1.file", "2", "one|relative_output along hours"),
    ),
    "two columns of irradiance in a certificate": (
        *(
            "lamp_certificate",
            r"^(wave.*|\d.*),(.*)$",
            lambda m: f"{m[1]},{m[2].replace('ance', 'ance 1')},{m[2]}",
        ),
        *("standard_lamp.certificate", "2", "one|along wavelength"),
    ),
}


@pytest.mark.parametrize("case", DATA_FAULTS)
def test_a_fault_of_a_raw_file_names_file_key_and_line(bench, case):
    name, old, new, key, found, expected = DATA_FAULTS[case]
    faults = bench(f"raw/{name}.csv", old, new).faults()
    if name == "attenuator":  # all sources name it
        assert len(faults) == 5
    line = bench.line_of(f"raw/{name}.csv")
    assert faults[0].file == f"raw/{name}.csv ({key}, line {line})"
    assert re.search(found, faults[0].found)
    assert re.search(expected, faults[0].expected)


def test_a_faulty_cell_has_line_and_column(bench):
    fault = bench("raw/led_385.csv", r"^(248,\d+),\d+", r"\1,12a").fault()
    assert (fault.line, fault.column, fault.found) == (6, 3, '"12a"')


@pytest.mark.parametrize(
    ("kind", "found"),
    [
        ("missing", "no such file"),
        ("empty", "an empty file"),
        ("binary", "binary data"),
        ("folder", "a folder"),
        ("pipe", "a named pipe"),
        ("link out", "a link that leads out of the folder"),
        ("link to nothing", "no such file"),
        ("link to itself", "cover.csv"),
        ("folder linked out", "a link that leads out of the folder"),
    ],
)
def test_a_file_that_is_none(bench, kind, found, tmp_path):
    path = bench.folder / "raw/cover.csv"
    content = path.read_bytes()
    path.unlink()
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "cover.csv").write_bytes(content)
    if kind in ("empty", "binary"):
        path.write_bytes(b"" if kind == "empty" else bytes(range(256)))
    elif kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "link out":
        path.symlink_to(tmp_path / "elsewhere" / "cover.csv")
    elif kind == "link to nothing":
        path.symlink_to("nothing.csv")
    elif kind == "link to itself":
        path.symlink_to("cover.csv")
    elif kind == "folder linked out":
        (bench.folder / "other").symlink_to(tmp_path / "elsewhere")
        bench.manifest("raw/cover.csv", "other/cover.csv")
    fault = bench.fault()
    assert found in fault.found
    assert "cannot be read: found" not in fault.found, "one error inside another"
    assert f"cover.csv (part.1.sample, line {bench.line_of('cover.csv')})" in fault.file


def test_a_link_inside_the_folder_is_a_file_like_any_other(bench, datasets):
    path = bench.folder / "raw/cover.csv"
    path.rename(bench.folder / "raw/moved.csv")
    path.symlink_to("moved.csv")
    assert "/part/cover/sample" in [node for node, _ in datasets(sb.open_bench(bench.folder))]


def test_faults_of_several_files_come_together(bench):
    bench("raw/arc.csv", "0.01 s", "0.011 s")("raw/cover.csv", r"^(248,)\d+", r"\g<1>70000")
    bench("raw/attenuator.csv", r"^(300,).*", r"\1nan")("raw/arc_ageing.csv", "hours", "wavelength")
    (bench.folder / "raw/dark_2ms.csv").unlink()
    files = {fault.file.partition(" (")[0] for fault in bench.faults()}
    assert files == {f"raw/{name}.csv" for name in ("arc", "cover", "attenuator", "arc_ageing", "dark_2ms")}


def test_an_integration_time_may_stand_in_the_manifest(bench):
    bench("raw/cover.csv", "^# integration.*\n", "")
    bench.manifest(
        'sample = "raw/cover.csv"', 'sample = {file = "raw/cover.csv", integration_time = "20 ms"}'
    )
    frame = sb.open_bench(bench.folder)["part/cover/sample"].to_dataset()
    assert float(frame.integration_time) == 0.02
    check(frame)


def test_an_integration_time_that_contradicts_the_file(bench):
    new = 'sample = {file = "raw/cover.csv", integration_time = "5 ms"}'
    fault = bench.manifest('sample = "raw/cover.csv"', new).fault()
    assert "5 ms" in str(fault)
    assert "20 ms" in str(fault)


def test_a_bench_knows_when_its_files_were_taken(opened, reduced):
    moments = json.loads(reduced.attrs["measured"])
    assert moments["raw/led_405.csv"] == "2026-03-02T09:38:00"  # as its header says
    assert "raw/lamp_certificate.csv" not in moments  # which is no frame, and says nothing
    assert moments == json.loads(opened.attrs["measured"])
