"""The table for a spreadsheet, read back by the standard library's reader of RFC 4180."""

from __future__ import annotations

import csv
import re
import shutil

import pytest

import spectralbench as sb
from spectralbench.cli import main
from spectralbench.errors import BenchError
from spectralbench.reports import records, verdicts

# OWASP, "CSV Injection": what a cell must not begin with
FORMULA = re.compile(r"^\s*[=+\-@＝＋－＠]|^[\t\r\n]")


def table_of(path):
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file, strict=True))


@pytest.fixture(scope="module")
def rows(result, tmp_path_factory):
    path = tmp_path_factory.mktemp("table") / "verdicts.csv"
    assert verdicts.write_verdicts(path, result) == path
    return table_of(path)


def test_a_row_for_each_source_and_criterion_in_the_order_of_the_rule(rows, result):
    record = records.of_comparison(result)
    expected = [(source["source"], name) for source in record["sources"] for name in record["criteria"]]
    assert [(row["source"], row["criterion"]) for row in rows] == expected
    assert {len(row) for row in rows} == {len(verdicts.COLUMNS)}
    for row in rows:
        source = record["sources"][int(row["place"]) - 1]
        judged = source["criteria"][row["criterion"]]
        assert (row["verdict"], row["reason"], row["nearest change"]) == tuple(
            judged[key] for key in ("verdict", "reason", "change")
        )


def test_values_are_those_of_the_words_beside_them(rows):
    """Three digits of the value, in the unit of the row, are what the report says."""
    checked = 0
    for row in rows:
        found = re.fullmatch(r"(-?[\d.]+) (.+)", row["figure in words"])
        if not found:
            assert row["value [unit]"] == "" or row["figure in words"] in ("none", "not known")
            continue
        assert found[2] == row["unit"]
        assert float(row["value [unit]"]) == pytest.approx(float(found[1]), rel=6e-3)
        checked += 1
    assert checked > 40
    assert {"mW/cm²", "µmol/m²/s", "s", "°C", "h", "%"} <= {row["unit"] for row in rows}


def test_verdicts_follow_from_value_and_limit(rows):
    """Without draws a criterion is met where its figure is on the right side of its limit."""
    checked = 0
    for row in rows:
        if "" in (row["value [unit]"], row["limit [unit]"]) or row["verdict"] == "not known":
            continue
        value, limit = float(row["value [unit]"]), float(row["limit [unit]"])
        right = value >= limit if row["at least or at most"] == "at least" else value <= limit
        assert right == (row["verdict"] == "met"), row
        checked += 1
    assert checked > 25


def test_each_row_says_where_it_is_from(rows, result):
    record = records.of_comparison(result)
    digest = record["provenance"]["files"]["bench.toml"]
    for row in rows:
        assert (row["bench"], row["SHA-256 of bench.toml"]) == (record["title"], digest)
        assert (row["draws"], row["seed"], row["spectralbench"]) == ("0", "", sb.__version__)


def test_the_file_is_what_a_spreadsheet_expects(result, tmp_path):
    """RFC 4180, 2: rows end with CRLF; UTF-8 with its mark, so that µ and ² are not garbled."""
    data = verdicts.write_verdicts(tmp_path / "a.csv", result).read_bytes()
    assert data.startswith(b"\xef\xbb\xbfplace,")
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n")
    assert verdicts.write_verdicts(tmp_path / "b.csv", result).read_bytes() == data


@pytest.mark.parametrize("name", ["=cmd()", "+1", "-1+2", "@SUM(A1)", "  =1+1", "\t=1", "＝1"])
def test_no_text_becomes_a_formula(result, tmp_path, name):
    names = [name if other == "LED 365" else other for other in result.source.values]
    renamed = result.assign_coords(source=names).assign_attrs(title=name)
    rows = table_of(verdicts.write_verdicts(tmp_path / "a.csv", renamed))
    assert {row["source"] for row in rows if row["place"] == "5"} == {f"'{name}"}
    assert {row["bench"] for row in rows} == {f"'{name}"}
    assert not [cell for row in rows for cell in row.values() if FORMULA.match(cell)]


def test_a_negative_number_stays_one(result):
    cold = result.copy(deep=True)
    cold["peak_temperature"][:] = 263.15
    texts = verdicts.as_csv(records.of_comparison(cold)).splitlines()
    assert next(text for text in texts if ",temperature," in text).count(",-10.0,") == 1


def test_never_overwrites_what_the_result_was_made_from(demo, result, tmp_path):
    folder = shutil.copytree(demo, tmp_path / "elsewhere")
    for path in (folder / "bench.toml", folder / "raw" / "arc.csv"):
        kept = path.read_bytes()
        with pytest.raises(BenchError, match=r"of the bench holds; expected another name.*never changed"):
            verdicts.write_verdicts(path, result)
        assert path.read_bytes() == kept


def test_replaces_an_older_table_and_makes_no_folder(result, tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("older")
    assert len(table_of(verdicts.write_verdicts(path, result))) > 50
    with pytest.raises(BenchError, match=r"no folder .*nowhere"):
        verdicts.write_verdicts(tmp_path / "nowhere" / "a.csv", result)
    assert [one.name for one in tmp_path.iterdir()] == ["a.csv"]


def test_from_the_terminal(demo, rows, tmp_path, capsys):
    path = tmp_path / "verdicts.csv"
    assert main(["compare", str(demo), "--draws", "0", "--quiet", "--csv", str(path)]) == 0
    assert capsys.readouterr().out.rstrip().endswith(f"csv: {path}")
    assert table_of(path) == rows
