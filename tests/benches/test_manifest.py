"""The manifest of a bench: each fault names its key and line, quotes what is there, says what should be."""

from __future__ import annotations

import os
import re

import pytest

import spectralbench as sb
from spectralbench.errors import BenchError

HERE = "»"  # marks, in a new text, where the fault stands; without it, where the new text begins


@pytest.fixture(scope="module")
def text(tmp_path_factory):
    folder = sb.write_demo_bench(tmp_path_factory.mktemp("manifest") / "demo")
    return (folder / "bench.toml").read_text(encoding="utf-8")


@pytest.fixture
def faults(tmp_path):
    """Write a manifest without raw files, and open it."""

    def refuse(content):
        data = content if isinstance(content, bytes) else content.encode()
        (tmp_path / "bench.toml").write_bytes(data)
        with pytest.raises(BenchError) as caught:
            sb.open_bench(tmp_path)
        assert str(tmp_path / "bench.toml") in str(caught.value)
        assert all(fault.found and fault.expected for fault in caught.value.faults)
        return caught.value.faults

    return refuse


def edited(text, old, new):
    """The text with its first `old` replaced, and the line of the fault."""
    assert old in text
    before, _, after = text.partition(old)
    head, _, _ = new.partition(HERE) if HERE in new else ("", "", "")
    return before + new.replace(HERE, "") + after, (before + head).count("\n") + 1


# what is replaced, by what; key; what was found; what was expected
TIMES = '["2 ms", "5 ms", "10 ms", "20 ms", "500 ms"]'
BAND = '["320 nm", "430 nm"]'
SAMPLE = 'sample = "raw/cover.csv"'
PIXELS = "pixels = 2048"
LABEL = 'band = "UV-A, as its label says; no response curve came with it"'
RESPONSE = 'response = "raw/head_response.csv"'
FAULTS = {
    "more than the whole": (
        *('maximum_time = "30 s"', "minimum_match = 10", "requirement.minimum_match", '"10"'),
        "at most 1, which is 100 %",
    ),
    "unknown key": (PIXELS, f"colour = 3\n{PIXELS}", "instrument.colour", "an unknown key", "only the keys"),
    "unknown table": (
        *("[instrument]", "[room]\n[instrument]", "room", "an unknown key"),
        "only the keys that `spectralbench new` writes",
    ),
    "text for a number": (PIXELS, 'pixels = "many"', "instrument.pixels", '"many"', "whole number"),
    "quoted number": (PIXELS, 'pixels = "2048"', "instrument.pixels", '"2048"', "whole number"),
    "truth for a number": (PIXELS, "pixels = true", "instrument.pixels", '"True"', "whole number"),
    "too few pixels": (PIXELS, "pixels = 2", "instrument.pixels", '"2"', "3"),
    "number for a name": ('name = "cover"', "name = 7", "part.1.name", '"7"', "string|text"),
    "empty name": ('name = "cover"', 'name = " "', "part.1.name", '" "', ""),
    "path for a name": ('name = "cover"', 'name = ".."', "part.1.name", r'"\.\."', ""),
    "no unit": ('"500 mm ± 0.3 mm"', '"500"', "standard_lamp.certified_distance", '"500"', "with a unit.*mm"),
    "plain number": ('"0.15 mm ± 0.02 mm"', "0.15", "adhesive.bond_line", '"0.15"', "with a unit.*mm"),
    "other unit": ('"1.8 J/cm^2"', '"1.8 W/cm^2"', "requirement.dose", '"1.8 W/cm.2"', "J m-2"),
    "no such unit": ('"30 s"', '"30 smoots"', "requirement.maximum_time", '"30 smoots"', "such as.*s"),
    "word": ('"8 mm"', '"wide"', "source.1.spot", '"wide"', "number with a unit"),
    "negative": ('"2.0 mm ± 0.02 mm"', '"-2 mm"', "part.1.thickness", '"-2 mm"', "(above 0|at least .*) mm"),
    "nm for mm": ('"8 mm"', '"12 nm"', "source.1.spot", '"12 nm"', "at least 0.0001 mm"),
    "negative spread": ('"8 mm"', '"8 mm ± -1 mm"', "source.1.spot", "8 mm ± -1 mm", "positive uncertainty"),
    "zero": (
        '"60 mW/cm^2"',
        '"0 W/m^2"',
        "requirement.minimum_irradiance",
        "0 W/m",
        "above|at least",
    ),
    "not a number": ("= 65535 ", "= nan ", "instrument.full_scale", '"nan"', "finite number"),
    "infinity": ('"900 h"', '"1e999 h"', "source.1.hours", '"1e999 h"', "finite number"),
    "a huge number": ("= 65535 ", f"= 1{'0' * 400} ", "instrument.full_scale", '"1000', "number"),
    "low index": ('index = "1.53 ± 0.005"', "index = 0.9", "part.1.index", '"0.9"', "at least 1"),
    "more than all": ('"95 %"', '"150 %"', "instrument.saturation", '"150 %"', "1"),
    "unknown kind": ('kind = "LED"', 'kind = "laser"', "source.3.kind", '"laser"', "'arc'.*'LED'"),
    "empty list": (TIMES, "[]", "instrument.integration_times", "", ""),
    "band of one": (BAND, '["320 nm"]', "requirement.band", "320 nm", "2|two|more|fewer"),
    "band of three": (BAND, '["1 nm", "2 nm", "3 nm"]', "requirement.band", "1 nm", "2|two|more|fewer"),
    "band reversed": (
        BAND,
        '["430 nm", "320 nm"]',
        "requirement.band",
        "430 nm.*320 nm",
        "shorter to a longer",
    ),
    "band of no width": (BAND, '["430 nm", "430 nm"]', "requirement.band", "430 nm.*430 nm", "shorter to a"),
    "one table for several": ("[[ageing]]", "[ageing]", "ageing", "", "list|\\[\\[ageing"),
    "number for a frame": (SAMPLE, "sample = 3", "part.1.sample", '"3"', ""),
    "list for a frame": (SAMPLE, 'sample = ["raw/cover.csv"]', "part.1.sample", "raw/cover.csv", ""),
    "above the folder": (
        SAMPLE,
        'sample = "../cover.csv"',
        "part.1.sample",
        '"../cover.csv"',
        "inside the bench",
    ),
    "above, later": (SAMPLE, 'sample = "raw/../../x"', "part.1.sample", '"raw/../../x"', "inside the bench"),
    "absolute": (SAMPLE, 'sample = "/etc/hosts"', "part.1.sample", '"/etc/hosts"', "inside the bench folder"),
    "backslashes": (SAMPLE, "sample = 'raw\\x.csv'", "part.1.sample", r'"raw\\x', "with / between folders"),
    "empty file name": (SAMPLE, 'sample = ""', "part.1.sample", '""', "file inside the bench folder"),
    "the folder itself": (SAMPLE, 'sample = "."', "part.1.sample", r'"\."', "file inside the bench folder"),
    "code zero": (SAMPLE, r'sample = "raw/\u0000.csv"', "part.1.sample", r"\\x00", "file inside the bench"),
    "file in two roles": (
        *('["raw/reference_before.csv"', '["raw/cover.csv"', "part.1.references.1"),
        *('"raw/cover.csv", which is part.1.sample already', "each raw file in one role"),
    ),
    "file in two roles, in disguise": (
        *('["raw/reference_before.csv"', '["./raw//cover.csv"', "part.1.references.1"),
        *("raw/cover.csv", "each raw file in one role"),
    ),
    "frame of two sources": (
        *('"raw/led_385.csv"', '"raw/led_365.csv"', "source.4.frame", '"raw/led_365.csv"', "one role|once"),
    ),
    "name twice": (
        *('name = "LED 385"', 'name = "LED 365"', "source.4.name"),
        *('the name "LED 365" of number 3 again', "each name once"),
    ),
    "noise without electrons": (
        *(
            PIXELS,
            f"read_noise = 11\n{PIXELS}",
            "instrument.read_noise",
            '"11"',
            "electrons_per_count together",
        ),
    ),
    "electrons without noise": (
        *(PIXELS, f"electrons_per_count = 2\n{PIXELS}", "instrument.electrons_per_count", '"2"', "together"),
    ),
    "limits without a shape": (
        *(LABEL, f'limits = ["320 nm", "400 nm"]\n{LABEL}', "radiometer.2.limits"),
        *("320 nm.*400 nm", 'limits and shape together, such as shape = "flat"'),
    ),
    "shape without limits": (
        *(LABEL, f'shape = "flat"\n{LABEL}', "radiometer.2.shape", '"flat"', "limits and shape together"),
    ),
    "curve and limits": (
        *(RESPONSE, f'limits = ["320 nm", "400 nm"]\n{RESPONSE}', "radiometer.1.limits"),
        *("320 nm.*400 nm", "response or limits, not both"),
    ),
    "curve and reference": (
        *('curve = "raw/initiator_a.csv"', f'{HERE}reference = "x"\ncurve = "raw/initiator_a.csv"'),
        *("adhesive.initiator.1.reference", '"x"', "either curve, a file, or reference"),
    ),
    "neither curve nor reference": (
        *('name = "initiator A"\ncurve = "raw/initiator_a.csv"', 'name = "initiator A"'),
        *("adhesive.initiator.1", "a table", "either curve, a file, or reference"),
    ),
    "place without a beam": (
        *(
            'spot = "8 mm"',
            'working_distance = "20 mm"',
            "source.1.working_distance",
            '"20 mm"',
            "beam beside",
        ),
    ),
    "log of no source": (
        *('[[ageing]]\nsource = "arc"', f'[[ageing]]\n{HERE}source = "ark"', "ageing.1.source"),
        *('"ark"', 'the name of a source: "arc", "arc, filtered", "LED 365", "LED 385", "LED 405"'),
    ),
    "second log": (
        *("[[ageing]]", '[[ageing]]\nsource = "arc"\nfile = "raw/other.csv"\n\n' + f"{HERE}[[ageing]]"),
        *("ageing.2.source", 'a second log for "arc"', "one log for each source"),
    ),
}


@pytest.mark.parametrize("case", FAULTS)
def test_a_fault_names_key_and_line(text, faults, case):
    old, new, key, found, expected = FAULTS[case]
    content, line = edited(text, old, new)
    (fault,) = faults(content)
    assert fault.key.removesuffix(".file").startswith(key)
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    below = {"second log": 1, "neither curve nor reference": -1}  # of the key, or of the table around it
    assert fault.line == line + below.get(case, 0)
    assert not re.search("Frame|dictionary|instance|pattern|validation", fault.expected), "words of a library"


def test_a_table_of_many_levels(text, faults):
    content, _ = edited(text, SAMPLE, f"sample{'.a' * 900} = 1")
    for fault in faults(content):
        assert fault.key.startswith("part.1.sample")


@pytest.mark.parametrize("key", ["pixels = 2048", "name = ", "integration_times"])
def test_a_missing_key(text, faults, key):
    line = next(line for line in text.splitlines() if line.startswith(key))
    (fault,) = faults(text.replace(line, "", 1))
    name = key.removesuffix(" = 2048").removesuffix(" = ")
    assert (fault.key, fault.found) == (f"instrument.{name}", "no such key")
    assert fault.line == text[: text.index("[instrument]")].count("\n") + 1
    assert name in fault.expected
    assert "[instrument]" in fault.advice


@pytest.mark.parametrize("table", ["[instrument]", "[[dark]]", "[[source]]", "[requirement]"])
def test_a_missing_table(text, faults, table):
    name = table.strip("[]")
    blocks = re.split(r"\n(?=\[)", text)
    (fault,) = faults("\n".join(block for block in blocks if not block.startswith(table)))
    assert (fault.key, fault.line, fault.found) == (name, None, "no such key")
    assert table in fault.advice


def test_all_faults_come_together(text, faults):
    wrong = {
        'dose = "1.8 J/cm^2"': ('dose = "1.8"', "requirement.dose"),
        "pixels = 2048": ("pixels = 2", "instrument.pixels"),
        BAND: ('["430", "320 nm"]', "requirement.band.1"),
        'spot = "6 mm"': ('spt = "6 mm"', "source.3.spt"),
        'file = "raw/arc_ageing.csv"': ('file = "/arc_ageing.csv"', "ageing.1.file"),
    }
    content = text
    for old, (new, _) in wrong.items():
        content = content.replace(old, new, 1)
    expected = {key: content[: content.index(new)].count("\n") + 1 for new, key in wrong.values()}
    assert {fault.key: fault.line for fault in faults(content)} == expected


def test_lines_are_those_of_the_language(text, faults):
    """TOML 1.0 ends a line with LF or CR LF and nothing else."""
    content, line = edited(text, '"30 s"', '"30"')
    (fault,) = faults("# one\u2028line\x85here\n" + content)
    assert fault.line == line + 1
    (fault,) = faults(content.replace("\n", "\r\n"))
    assert fault.line == line


def test_a_text_over_several_lines_is_no_table(text, faults):
    content, line = edited(text, '"1.8 J/cm^2"', '"1.8 kg"')
    (fault,) = faults(content.replace('note = "', 'note = """\n[requirement]\ndose = "no"\n"""\n# ', 1))
    assert fault.line == line + 4


@pytest.mark.parametrize(
    ("content", "found", "expected", "line", "column"),
    [
        (b"", "no such key", "title", None, None),
        (b'title = "x"\nnote = \n', '"note ="', "TOML", 2, 8),
        (b'title = "x"\ntitle = "y"\n', 'title = "y"', "TOML", 2, None),
        (b'title = "x', 'title = "x', "TOML", 1, None),
        (b"a = 1\rb = 2", '"a = 1', "TOML", 1, 6),
        (b'title = "M\xfcller"\n', "byte 0xfc at position 10", "UTF-8", None, None),
        (b"\xff\xfea\0 \0", "byte 0xff at position 0", "UTF-8", None, None),
        (b"#" * 1_000_001, "1000001 bytes", "at most", None, None),
        (b"a = " + b"[" * 900 + b"]" * 900, r"\[\[", "TOML", None, None),
        (b"x" * 10_000, "10000 characters", "at most", 1, None),
        (b"a." * 5000 + b"b = 1", "characters", "at most", 1, None),
        (b"\0" * 100, r"\\x00", "TOML", 1, 1),
        (b"full_scale = 1" + b"0" * 5000, "", "", 1, None),
    ],
)
def test_a_manifest_that_is_none(faults, content, found, expected, line, column):
    fault = faults(content)[0]
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    assert line is None or fault.line == line
    assert column is None or fault.column == column


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "not readable"])
def test_no_manifest(tmp_path, kind):
    path = tmp_path / "bench.toml"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "not readable":
        path.symlink_to("/proc/self/mem")  # may be opened, and not read
    with pytest.raises(BenchError) as caught:
        sb.open_bench(tmp_path)
    (fault,) = caught.value.faults
    if kind == "missing":
        assert fault.found == "no bench.toml in it"
        assert '"spectralbench demo FOLDER" writes an example' in fault.advice


@pytest.mark.parametrize("path", ["nowhere", __file__, "\0"])
def test_a_bench_needs_a_folder(path):
    with pytest.raises(BenchError, match=r"no bench\.toml"):
        sb.open_bench(path)


TOGETHER = """[[together]]
name = "{name}"
heads = [{{ source = "LED 365" }}, {{ source = "{other}" }}]

[[part]]
"""


@pytest.mark.parametrize(
    ("name", "other", "key", "found", "expected"),
    [
        ("arc", "LED 405", "together.1.name", 'the name "arc" again', "each name once"),
        ("both", "LED 500", "together.1.heads.2.source", '"LED 500"', "the name of a source"),
    ],
)
def test_sources_together_are_sources_of_the_bench(bench, name, other, key, found, expected):
    bench.manifest("[[part]]\n", TOGETHER.format(name=name, other=other))
    fault = bench.fault()
    assert (fault.key, fault.found) == (key, found)
    assert expected in fault.expected


def test_one_source_alone_is_not_together(bench):
    bench.manifest("[[part]]\n", '[[together]]\nname = "x"\nheads = [{ source = "arc" }]\n\n[[part]]\n')
    assert bench.fault().key == "together.1.heads"


@pytest.mark.parametrize(
    ("old", "new", "key", "found", "advice"),
    [
        ('spot = "6 mm"', 'spt = "6 mm"', "source.3.spt", "an unknown key", "Is it spot?"),
        (
            "[requirement]",
            "[requirement]\nzebra = 1",
            "requirement.zebra",
            "an unknown key",
            "This table takes band, ",
        ),
        ("[adhesive]", "[adhesive]\nbondline = 1", "adhesive.bondline", "an unknown key", "Is it bond_line?"),
    ],
)
def test_what_a_key_may_have_meant_is_asked(text, faults, old, new, key, found, advice):
    (fault,) = faults(text.replace(old, new, 1))
    assert (fault.key, fault.found) == (key, found)
    assert fault.advice.startswith(advice)


def test_yes_and_no_are_no_truth_values(text, faults):
    """A text would count as true or false in silence."""
    content = text.replace("[[uncertainty]]\n", '[[uncertainty]]\nshared = "no"\n', 1)
    (fault,) = faults(content)
    assert (fault.found, fault.expected) == ('"no"', "true or false, without quotes")
