"""JSON Schema 2020-12 of what ``--json`` prints, held against real output by the registry's validator."""

from __future__ import annotations

import argparse
import copy
import json
import os
from importlib.resources import files
from pathlib import Path

import pytest
import xarray as xr
from jsonschema import Draft202012Validator, ValidationError

import spectralbench as sb
from spectralbench.cli import SCHEMAS, main, parser
from spectralbench.reports import forms, records
from spectralbench.reports.document import document_of

SAMPLES = Path(__file__).parents[1] / "samples"


def validated(name, document):
    whole = {"form": forms.form(name)} | json.loads(json.dumps(document, allow_nan=False))
    Draft202012Validator(forms.schema(name)).validate(whole)
    return whole


@pytest.fixture(scope="module")
def compared(reduced, result):
    return validated("compare", document_of(reduced, result))


@pytest.mark.parametrize("name", forms.NUMBERS)
def test_what_is_published_is_what_is_made(name):
    """``WRITE_SCHEMAS=1`` writes it anew; a form that changes has another number."""
    path = files("spectralbench.reports") / "schemas" / f"{name}.json"
    made = json.dumps(forms.made_schema(name), indent=2, ensure_ascii=False) + "\n"
    if os.environ.get("WRITE_SCHEMAS"):
        Path(str(path)).write_text(made, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == made


@pytest.mark.parametrize("name", forms.NUMBERS)
def test_a_schema_is_one_has_a_name_that_is_no_address_and_is_closed(name):
    schema = forms.schema(name)
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] == schema["properties"]["form"]["const"] == f"urn:spectralbench:{name}:1"
    for one in (schema, *schema.get("$defs", {}).values()):
        assert one["additionalProperties"] is False
        assert one["description"]


def test_whatever_prints_json_has_a_schema():
    (commands,) = (
        action.choices for action in parser()._actions if isinstance(action, argparse._SubParsersAction)
    )
    printing = {name for name, one in commands.items() if "--json" in one._option_string_actions}
    assert printing == set(SCHEMAS) == set(forms.NUMBERS)


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_terminal_prints_a_schema(name, capsys):
    assert main(["schema", name]) == 0
    assert json.loads(capsys.readouterr().out) == forms.schema(name)


def test_the_terminal_lists_the_schemas_that_there_are(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["schema", "nothing"])
    assert stop.value.code == 2
    assert "invalid choice: 'nothing' (choose from" in capsys.readouterr().err


def test_a_reduction_has_its_form(reduced):
    validated("reduce", records.of_reduction(reduced) | {"written": ["a.csv"]})


def test_an_adjusted_bench_has_its_form(reduced):
    changed = sb.adjust(reduced, thickness={"cover": "1.5 mm"}, time="20 s")
    document = document_of(changed, sb.compare(changed))
    assert "adjusted" in document["provenance"]["settings"]
    validated("compare", document)


def test_whatever_can_be_inspected_has_its_form():
    found = []
    for path in sorted(SAMPLES.iterdir()):
        if path.suffix not in (".csv", ".txt", ".jdx", ".spdx"):
            continue
        try:
            data = sb.read(path)
        except sb.ReadError:  # samples that have to be told something
            continue
        found += (
            [records.of_file(path.name, data)]
            if isinstance(data, xr.Dataset)
            else records.of_blocks(path.name, data)
        )
    assert len(found) > 15
    validated("inspect", {"files": found})


def test_a_verification_has_its_form(demo, result, tmp_path):
    bad = tmp_path / "bad.nc"
    wrong = result.copy(deep=True)
    wrong["band_irradiance"][:] = 1.0
    sb.save(wrong, bad)
    (tmp_path / "none.nc").write_text("no archive")
    found = sb.verify(demo, [bad, tmp_path / "none.nc"]).to_dict()
    assert [one["ok"] for one in found["results"]] == [False, False]
    assert found["results"][0]["differences"]
    validated("verify", found)


def test_short_answers_have_their_forms(tmp_path, capsys):
    for name, arguments in (("demo", [str(tmp_path / "a")]), ("new", [str(tmp_path / "b")])):
        assert main([name, "--json", *arguments]) == 0
        Draft202012Validator(forms.schema(name)).validate(json.loads(capsys.readouterr().out))


def _another_number(document):
    document["form"] = "urn:spectralbench:compare:0"


def _a_key_more(document):
    document["score"] = 0.9


def _a_key_more_deep_inside(document):
    document["sources"][0]["criteria"]["time"]["score"] = 0.9


def _a_key_less(document):
    del document["cautions"]


def _a_verdict_of_its_own(document):
    document["sources"][0]["criteria"]["time"]["verdict"] = "cured"


def _a_number_as_text(document):
    document["sources"][0]["figures"]["exposure_time"]["value"] = "5.3 s"


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_another_number, "'urn:spectralbench:compare:1' was expected"),
        (_a_key_more, r"Additional properties are not allowed \('score' was unexpected\)"),
        (_a_key_more_deep_inside, r"Additional properties are not allowed \('score' was unexpected\)"),
        (_a_key_less, "'cautions' is a required property"),
        (_a_verdict_of_its_own, "'cured' is not one of"),
        (_a_number_as_text, "'5.3 s' is not valid under any"),
    ],
)
def test_a_wrong_document_is_refused(compared, spoil, words):
    document = copy.deepcopy(compared)
    spoil(document)
    with pytest.raises(ValidationError, match=words):
        Draft202012Validator(forms.schema("compare")).validate(document)
