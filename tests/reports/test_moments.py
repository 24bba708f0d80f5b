"""When a bench was measured: what the raw files say of it, on the page and in the record."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest
from jsonschema import Draft202012Validator

from spectralbench.benches.folder import manifest_of
from spectralbench.reports import document, forms, moments, page


@pytest.fixture
def dated(reduced, demo):
    """The demo bench with what its raw files say in a line of their own, read here without our readers."""
    said = {
        f"raw/{path.name}": found[1]
        for path in sorted((demo / "raw").glob("*.csv"))
        if (found := re.search(r"^# time: (\S+)$", path.read_text(encoding="utf-8"), re.MULTILINE))
    }
    assert len(said) > 10
    tree = reduced.copy()
    tree.attrs = reduced.attrs | {"measured": json.dumps(said)}
    return tree


def words_of(html):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html[html.index("<body>") :])).split())


def test_the_page_says_when_and_by_what_at_its_top_and_beside_each_frame(dated, result, undrawn):
    html = page.as_html(dated, result)
    words = words_of(html)
    when = "Measured on 2 March 2026, 08:05 to 10:30, with virtual array spectrometer, calibrated by"
    assert words.index(when) < words.index("The question:")
    assert words.count("raw/led_405.csv 2 March 2026, 09:38") == 1  # on its own page
    assert "measured at 520 mm, on 2 March 2026, 08:40." in words
    assert "raw/cover.csv sample of cover 2 March 2026, 10:15" in words  # in the list of files
    assert "calibrated on 3 November 2025" in words  # the radiometer, as the manifest says


def test_the_record_keeps_them_and_has_its_form(dated, result):
    made = document.document_of(dated, result)
    assert made["reduction"]["measured"]["raw/led_405.csv"] == "2026-03-02T09:38:00"
    Draft202012Validator(forms.schema("compare")).validate(made)


def test_frames_that_do_not_say_when_are_counted(dated):
    manifest, said = manifest_of(dated), moments.moments_of(dated)
    whole = moments.measured_in_words(manifest, said)
    assert whole == "on 2 March 2026, 08:05 to 10:30"
    frames = [name for name in said if name not in ("raw/dark_2ms.csv", "raw/reference_after.csv")]
    fewer = moments.measured_in_words(manifest, {name: said[name] for name in frames})
    assert fewer == "on 2 March 2026, 08:07 to 10:15 (2 of 13 frames do not say when)"
    assert moments.measured_in_words(manifest, {}) == "(no frame says when)"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (["2026-03-02T09:38:00"], "on 2 March 2026, 09:38"),
        (["2026-03-02T09:38:00", "2026-03-12T09:38:00"], "from 2 March 2026, 09:38 to 12 March 2026, 09:38"),
        (
            ["2026-12-31T23:59:59.5", "2027-01-01T00:01:00"],
            "from 31 December 2026, 23:59 to 1 January 2027, 00:01",
        ),
        (["2025-11-03"], "on 3 November 2025"),
    ],
)
def test_spans_in_words(said, words):
    assert moments.span_in_words(said) == words


def test_the_page_says_how_sure_it_is_and_how_much_was_not_measured(reduced, result, undrawn):
    words = words_of(page.as_html(reduced, result))
    assert "no figure has an interval, and how sure a verdict is was not asked." in words
    count = len(json.loads(result.attrs["not_measured"]))
    assert f"{count} points of what was not measured may change this." in words
