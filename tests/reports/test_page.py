"""The report: one HTML file that stands alone, and its pictures."""

from __future__ import annotations

import contextlib
import io
import json
import re
import shutil
from functools import partial
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from rich.console import Console

import spectralbench as sb
from spectralbench.benches.strips import strips_of
from spectralbench.cli import main
from spectralbench.comparison import FIGURES, NO_LIMIT, Requirement, interval_in_words
from spectralbench.errors import BenchError
from spectralbench.pictures import by_depth, light_path
from spectralbench.pictures.drawing import COLOURS, NARROW, WIDE
from spectralbench.pictures.scales import for_axis
from spectralbench.reports import groups, page, records, said, sections, tables
from spectralbench.reports.forms import schema
from spectralbench.reports.one_light import one_light

# HTML, 13.1.2: elements that have no end tag
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('x')</script> & \"$\\frac{1}$\" }} {% raw %} 光"


class Outline(HTMLParser):
    """What a page is made of; a tag that is not closed in its turn is a failure."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.text, self.tables = [], [], [], []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        assert len(dict(attrs)) == len(attrs), f"an attribute stands twice in <{tag}>"
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("th", "td"):
            self.tables[-1][-1].append("")

    def handle_startendtag(self, tag, attrs):
        assert "svg" in self.open
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(("/".join(self.open), data))
        if self.open and {"th", "td"} & set(self.open):
            self.tables[-1][-1][-1] += data

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]

    def said(self, *tags):
        """Words outside style and script, or inside the given tags."""
        paths = [(path.split("/"), data) for path, data in self.text]
        kept = [d for path, d in paths if set(tags) & set(path) or (not tags and path[-1] != "style")]
        return " ".join("".join(kept).split())


def words_of(drawn):
    return [element.text for element in drawn.iter(f"{SVG}text")]


@pytest.fixture(scope="module")
def html(reduced, result, no_pictures):
    """The page without draws and without pictures; those are in that of `drawn`."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(page, "_pictures", no_pictures)
        return page.as_html(reduced, result)


@pytest.fixture(scope="module")
def outline(html):
    return Outline(html)


@pytest.fixture(scope="module")
def uncertain(demo):
    return sb.reduce_bench(demo, draws=40, seed=1)


@pytest.fixture(scope="module")
def drawn(demo, tmp_path_factory):
    """What the terminal prints for machines with a few draws, and the page that it writes."""
    path = tmp_path_factory.mktemp("drawn") / "report.html"
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        arguments = ["compare", str(demo), "--draws", "40", "--seed", "1", "--json", "--report", str(path)]
        assert main(arguments) == 0
    return json.loads(printed.getvalue(), parse_constant=pytest.fail), path.read_text(encoding="utf-8")


def test_records_of_draws_say_how_sure_they_are(drawn):
    document, _ = drawn
    names = [source["source"] for source in document["sources"]]
    for source in document["sources"]:
        for name, figure in source["figures"].items():
            if figure["value"] is None or name == "end_of_life_output" or figure.get("low") is None:
                continue
            assert figure["low"] <= figure["value"] <= figure["high"], name
            assert 0 <= figure["standard_uncertainty"] <= figure["value"]
        band = source["figures"]["band_irradiance"]
        if band["value"] is not None:
            assert {"value", "units", "text", "standard_uncertainty", "low", "high", "interval"} <= set(band)
            low, high = (float(end) * 10 for end in band["interval"].split("–"))  # mW/cm²
            assert (low, high) == (
                pytest.approx(band["low"], rel=0.01),
                pytest.approx(band["high"], rel=0.01),
            )
        assert set(source["share_ahead"]) == set(names) - {source["source"]}
        for judged in source["criteria"].values():
            assert judged["share_met"] is None or 0 <= judged["share_met"] <= 1
    best = document["sources"][0]
    assert best["criteria"]["irradiance"]["share_met"] == 1.0
    assert document["provenance"]["settings"] == {"draws": 40, "seed": 1}
    Draft202012Validator(schema("compare")).validate(document)


def test_records_of_draws_say_where_the_uncertainty_comes_from(drawn):
    document, _ = drawn
    variance = document["variance_share"]
    assert variance["causes"]["lamp calibration"].startswith("1.2 % ")
    shares = variance["figures"]["band_irradiance"]["LED 405"]
    assert list(shares) == list(variance["causes"])
    assert sum(shares.values()) == pytest.approx(1)
    assert max(shares, key=shares.get) == "distance"
    unknown = variance["figures"]["irradiance_at_part"]["arc"]  # with saturated pixels
    assert set(unknown.values()) == {None}


def test_a_page_with_draws_shows_intervals_and_where_they_come_from(drawn):
    document, text = drawn
    outline = Outline(text)
    words = outline.said()
    for source in document["sources"]:
        for name in ("band_irradiance", "exposure_time", "absorbed_photons"):
            assert source["figures"][name].get("interval", "") in words
        for judged in source["criteria"].values():
            assert judged["verdict"] == NO_LIMIT or judged["reason"] in words
    assert (
        "Beside or below a figure stands the interval that covers it with 95 %, if the budget is complete."
        in words
    )
    assert "A draw is one of 40 runs of the whole computation" in words
    assert "Where the uncertainty comes from" in words
    budgets = [
        table for table in outline.tables if any(row[0].startswith("lamp calibration") for row in table)
    ]
    keys = ("band_irradiance", "exposure_time", "end_of_life_irradiance")
    variance = document["variance_share"]
    assert len(budgets) >= len(keys)
    for key, table in zip(keys, budgets, strict=False):
        shares = variance["figures"][key]
        counting = [c for c in variance["causes"] if any(of[c] for of in shares.values())]
        assert [(row[0], row[-1]) for row in table[1:]] == [(c, variance["causes"][c]) for c in counting]
        assert len(counting) < len(variance["causes"])  # without those that do nothing to this figure
    assert "end of life" not in {row[0] for row in budgets[1]}
    assert "end of life" in {row[0] for row in budgets[2]}
    assert "JCGM 106:2012" in words
    assert {("draws", "40"), ("seed", "1")} <= {tuple(row) for table in outline.tables for row in table}
    assert "spectralbench compare FOLDER --draws 40 --seed 1 --report again.html" in words
    assert "All was computed 40 times." in words
    for part in document["reduction"]["parts"]:
        for low, high in part["transmittance_interval_at"].values():
            assert interval_in_words(low, high, "1") in words


def test_stands_alone(drawn):
    _, html = drawn
    outline = Outline(html)
    assert html.startswith("<!DOCTYPE html>\n<html lang=")
    assert len(html.encode()) < 1_000_000
    for tag, attributes in outline.tags:
        assert tag not in {"script", "link", "iframe", "object", "embed", "img", "base"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in ("src", "href", "xlink:href", "srcset", "action"):
                assert value.startswith("#")
    assert not re.search(r"@import|url\((?!#)", html)


def test_structure_can_be_followed_without_seeing_it(drawn):
    outline = Outline(drawn[1])
    assert len(outline.all("h1")) == len(outline.all("main")) == len(outline.all("title")) - 11 == 1
    levels = [int(tag[1]) for tag, _ in outline.tags if re.fullmatch(r"h\d", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert len(outline.all("caption")) == len(outline.all("table")) >= 7
    assert all(heading["scope"] in ("row", "col", "rowgroup") for heading in outline.all("th"))
    identities = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(identities) == len(set(identities))
    for _, attributes in outline.tags:
        named = attributes.get("aria-labelledby", "").split()
        linked = attributes.get("href", attributes.get("xlink:href", ""))[1:]
        assert {*named, *([linked] if linked else [])} <= set(identities)
    assert [svg["role"] for svg in outline.all("svg")] == ["img"] * 11
    assert len(outline.all("header")) == len(outline.all("nav")) == 1
    assert [
        attributes for _, attributes in outline.tags if "title" in attributes
    ] == []  # seen only by a mouse


def test_order_of_the_story(outline):
    words = outline.said()
    landmarks = (
        "Invented data from a virtual instrument",
        "which of 5 light sources to test first",
        "Test first: LED 405",
        "Ultraviolet and visible light of this strength injures",
        "Contents",
        "Every criterion, source by source",
        "To be weighed: nothing was required of these",
        "The way of the light",
        "Where in the bond line the initiators absorb photons",
        "Each source for itself",
        "Of 8 criteria it meets 8",
        "Further figures",
        "What these figures are",
        "What the part passes",
        "How the sources age",
        "is not comparable",
        "What was not measured",
        "No blended score.",
        "python -m pip install spectralbench-",
        "spectralbench compare FOLDER --draws 0 --report again.html",
        "bench.toml",
    )
    place = 0
    for landmark in landmarks:
        place = words.find(landmark, place)
        assert place >= 0, f"{landmark} is missing, or stands too early"


def test_says_all_that_was_found_and_claims_no_cure(outline, result):
    words = outline.said()
    record = records.of_comparison(result)
    said = [record["rule"], *record["cautions"], *record["not_measured"]]
    for source in record["sources"]:
        judged = [one for one in source["criteria"].values() if one["verdict"] != NO_LIMIT]
        said += [one[key] for one in judged for key in ("reason", "change")]
    assert [text for text in said if text not in words] == []
    assert set(" ".join(record["advice"]).split()) <= set(words.split())
    assert not re.search(r"\bcured\b", words.lower())
    for name, digest in record["provenance"]["files"].items():
        assert [name, digest] in [row[::2] for row in outline.tables[-1]]


def rows_of(table):
    """The rows of the comparison by criterion, words only; without the reasons below them."""
    return {row[0]: [" ".join(cell.split()) for cell in row[1:]] for row in table if len(row) > 1}


def test_criteria_stand_side_by_side_with_a_mark_the_figure_and_what_is_required(outline, result):
    record = records.of_comparison(result)
    names = [f"{source['place']}. {source['source']}" for source in record["sources"]]
    heading, *rows = rows_of(outline.tables[0]).items()
    assert heading == ("criterion", names)
    marks = {"met": "✓", "not met": "✗", "not known": "?", "no limit": "–"}
    found = dict(rows)
    shown = [
        name
        for name, criterion in record["criteria"].items()
        if criterion["required"] or groups.is_known(record, criterion["figure"])
    ]
    assert [next(n for n in shown if head.startswith(n)) for head in found] == shown
    for (head, cells), name in zip(found.items(), shown, strict=True):
        criterion = record["criteria"][name]
        assert " ".join(head.split()) == f"{name}{criterion['what']}{criterion['required']}"
        for cell, source in zip(cells, record["sources"], strict=True):
            verdict = source["criteria"][name]["verdict"]
            text = source["figures"][criterion["figure"]]["text"]
            word = "" if verdict == NO_LIMIT else f" {verdict}"
            figure = "" if text == verdict else text
            assert cell.replace(" ", "") == f"{marks[verdict]}{word}{figure}".replace(" ", "")


def test_required_figures_are_those_of_the_manifest(outline):
    """The requirement of the demo bench, as its manifest states it."""
    required = {head.split("in 320")[0].split("at the")[0]: head for head in rows_of(outline.tables[0])}
    assert required["irradiance"].endswith("≥ 60 mW/cm²")
    low, high = re.search(r"≥ (\d+) mW/cm² to (\d+) mW/cm², each its own$", required["end of life"]).groups()
    assert 60 == int(low) < int(high)  # what each needs for photons and time as well
    assert required["upper limit"].endswith("≤ 2000 mW/cm²")
    assert next(head for head in required.values() if head.startswith("time")).endswith("≤ 30 s")


def test_what_was_not_required_is_of_another_kind(outline, result):
    """Below a heading, with a dash that is read as nothing, and with no verdict."""
    record = records.of_comparison(result)
    table = outline.tables[0]
    divide = next(i for i, row in enumerate(table) if row[0].startswith("To be weighed"))
    for name, criterion in record["criteria"].items():
        places = [i for i, row in enumerate(table) if len(row) > 1 and row[0].startswith(name)]
        if places:
            assert (places[0] > divide) == (not criterion["required"])
    assert "no limit" not in outline.said()
    dashes = [attributes for _, attributes in outline.tags if attributes.get("class") == "no-limit"]
    assert dashes
    assert {attributes["aria-hidden"] for attributes in dashes} == {"true"}


def sections_of(html):
    """Words of each source's own section, by its heading."""
    found = re.findall(r'<section class="source".*?</section>', html, re.DOTALL)
    outlines = [Outline(text) for text in found]
    return {outline.said("h3"): outline for outline in outlines}


def test_each_source_has_its_own_page_to_which_its_name_leads(html, outline, result):
    record = records.of_comparison(result)
    pages = sections_of(html)
    assert list(pages) == [f"{source['place']}. {source['source']}" for source in record["sources"]]
    anchors = [found.all("h3")[0]["id"] for found in pages.values()]
    linked = [link["href"].removeprefix("#") for link in outline.all("a")]
    assert [linked.count(anchor) for anchor in anchors] == [2] * len(anchors)  # from contents and table
    assert ".source + .source" in html[html.index("@media print") : html.index("</style>")]
    assert outline.all("details") == []  # nothing that paper would hide
    for source, found in zip(record["sources"], pages.values(), strict=True):
        words = found.said()
        table = found.tables[0]
        judged = {k: one for k, one in source["criteria"].items() if one["verdict"] != NO_LIMIT}
        assert len(table) == 1 + len(judged)
        for (name, one), row in zip(judged.items(), table[1:], strict=True):
            assert row[0].startswith(name)
            assert one["verdict"] in row[1]
            change = f" Nearest change: {one['change']}." if one["change"] else ""
            assert row[2].strip() == f"{one['reason']}.{change}"
        assert source["figures"]["exposure_time"]["text"] in words
        counts = [
            sum(one["verdict"] == verdict for one in judged.values()) for verdict in ("met", "not known")
        ]
        assert f"Of {len(judged)} criteria it meets {counts[0] or 'none'}" in words
        assert ("; not known: " in words) == bool(counts[1])


def test_the_page_of_a_source_says_what_it_is_and_names_its_files(html):
    pages = sections_of(html)
    led, arc = (pages[name].said() for name in ("1. LED 405", "4. arc"))
    for words in ("kindLED", "12 mm", "hours of use500 h", "electrical power46 W", "raw/led_405_scan.csv"):
        assert words in led
    for words in ("raw/arc_ageing.csv", "ageing log"):
        assert words in arc
    assert 3 <= int(re.search(r"pixels that are not valid(\d+)", arc)[1]) < 20
    assert "Not known of it, beside that:" in arc
    assert "each its own" not in led  # the limit that is its own stands there itself
    assert "raw/head_readings.csv" in pages["3. arc, filtered"].said()


def test_the_light_of_a_source_is_on_its_page(drawn):
    for found in re.findall(r'<section class="source".*?</section>', drawn[1], re.DOTALL):
        (svg,) = re.findall(r"<svg.*?</svg>", found, re.DOTALL)
        words = words_of(ElementTree.fromstring(svg))
        assert {"sent", "passed", "absorbed", "mW/cm²/nm", "wavelength in air [nm]"} <= set(words)


def test_a_source_without_a_valid_pixel_has_a_page(reduced):
    lost = reduced.copy()
    sources = reduced["sources"].to_dataset().copy(deep=True)
    sources["spectral_irradiance"].loc[{"source": "LED 405"}] = np.nan
    lost["sources"] = sources
    figure = one_light(strips_of(lost), "LED 405", Requirement(320.0, 430.0, 600.0, 1.8e4), "130 mm")
    assert "Highest values: 0 mW/cm²/nm sent" in figure.words


def test_what_each_file_is_used_as(outline):
    uses = {row[0]: row[1] for row in outline.tables[-1]}
    assert uses["raw/attenuator.csv"] == "attenuator of arc; arc, filtered; LED 365; LED 385; LED 405"
    assert uses["raw/dark_2ms.csv"].startswith("dark frame")
    assert uses["raw/lamp_certificate.csv"] == "certificate of the standard lamp"
    assert uses["raw/head_response.csv"] == "response of bench radiometer (invented)"
    assert uses["raw/initiator_a.csv"] == "absorption curve of initiator A"
    assert uses["bench.toml"] == "what was measured, and what is required"
    assert "" not in uses.values()


def test_a_bench_that_was_adjusted_is_made_again_in_python(reduced, tmp_path, monkeypatch, undrawn):
    """What the page says is run, on the same bench, and gives the same page."""
    changed = sb.adjust(reduced, thickness={"cover": "1.5 mm"}, level={"LED 405": "40 %"}, time="20 s")
    text = page.as_html(changed, sb.compare(changed))
    (code,) = (
        unescape(found)
        for found in re.findall(r"<pre><code>(.*?)</code>", text, re.DOTALL)
        if "import" in found
    )
    monkeypatch.chdir(tmp_path)
    (tmp_path / "FOLDER").symlink_to(reduced.attrs["folder"])
    exec(code, {})
    assert (tmp_path / "again.html").read_text(encoding="utf-8") == text
    assert "taken otherwise" in text


def test_no_title_breaks_out_of_the_margin(reduced, result, undrawn):
    """CSS Syntax 3, 4.3.7: a hexadecimal escape ends at its space."""
    text = page.as_html(reduced, result.assign_attrs(title='a"; } </style> \\ é'))
    style = text[text.index("<style>") : text.index("</style>")]
    assert style.count('@top-left { content: "a\\22 \\3b  \\7d  \\3c \\2f style\\3e  \\5c  é";') == 1


def test_further_figures_are_those_of_the_records_in_the_order_of_the_rule(outline, result):
    record = records.of_comparison(result)
    shown = {}
    further = groups.grouped(record, judged=False)
    first = next(i for i, table in enumerate(outline.tables) if table[0][0] == "source")
    for heading, *rows in outline.tables[first : first + len(further)]:
        assert [row[0] for row in rows] == [f"{s['place']}. {s['source']}" for s in record["sources"]]
        for column, text in enumerate(heading[1:], 1):
            label, unit = re.fullmatch(r"(.+) \[(.+)\]", text).groups()
            shown[label] = [
                row[column] if row[column] in ("not known", "never", "none") else f"{row[column]} {unit}"
                for row in rows
            ]
    beside = {criterion["figure"] for criterion in record["criteria"].values()}
    expected = {
        label: [source["figures"][key]["text"] for source in record["sources"]]
        for key, label in record["labels"].items()
        if key not in beside and groups.is_known(record, key)
    }
    assert shown == expected


def test_every_figure_has_its_group():
    assert sorted(key for keys in groups.GROUPS.values() for key in keys) == sorted(FIGURES)
    assert max(len(keys) for keys in groups.GROUPS.values()) <= 8  # columns on a sheet of paper


def test_a_figure_that_nobody_knows_is_in_no_table_but_in_the_record(reduced, result, capsys, undrawn):
    lost = result.assign(electrical_energy=result.electrical_energy * np.nan)
    lost["electrical_energy"].attrs = result.electrical_energy.attrs
    record = records.of_comparison(lost)
    assert {source["figures"]["electrical_energy"]["value"] for source in record["sources"]} == {None}
    label = FIGURES["electrical_energy"].label
    for shown, count in ((result, 6), (lost, 0)):  # in a table of all, and on the page of each
        cells = [
            cell for table in Outline(page.as_html(reduced, shown)).tables for row in table for cell in row
        ]
        assert sum(re.fullmatch(rf"{label}( \[J\])?", cell) is not None for cell in cells) == count
    for one, count in ((records.of_comparison(result), 1), (record, 0)):
        tables.print_comparison(Console(width=200), one)
        assert capsys.readouterr().out.count(label) == count


def test_records_say_where_in_the_bond_line_light_is_absorbed(drawn, result):
    document, _ = drawn
    by_depth = document["absorbed_by_depth"]
    assert (by_depth["units"], by_depth["depth"]["units"]) == ("umol m-3 s-1", "m")
    assert list(by_depth["sources"]) == [source["source"] for source in document["sources"]]
    assert by_depth["depth"]["values"] == result.depth.values.tolist()
    for source in document["sources"]:
        profile = by_depth["sources"][source["source"]]
        assert len(profile) == len(by_depth["depth"]["values"])
        ratio = source["figures"]["back_by_front"]["value"]
        assert profile[-1] / profile[0] == pytest.approx(ratio)


def test_records_say_what_each_criterion_looks_at(drawn):
    document, _ = drawn
    time, match = document["criteria"]["time"], document["criteria"]["spectrum match"]
    assert (time["figure"], time["limit"], time["units"], time["required"]) == (
        "exposure_time",
        30.0,
        "s",
        "≤ 30 s",
    )
    assert (match["limit"], match["required"]) == (None, "")
    for source in document["sources"]:
        assert list(source["criteria"]) == list(document["criteria"])


def test_the_terminal_lists_what_was_judged_and_weighs_the_rest_in_the_last_table(result, capsys):
    record = records.of_comparison(result)
    tables.print_comparison(Console(width=110), record)
    printed = capsys.readouterr().out
    reasons, final = printed.split("Not measured")
    weighed = [name for name, criterion in record["criteria"].items() if not criterion["required"]]
    assert weighed
    assert [name for name in weighed if re.search(rf"^  \S {name}: ", reasons, re.MULTILINE)] == []
    assert re.search(r"^  ✓ time: ", reasons, re.MULTILINE)
    for name in weighed:
        if groups.is_known(record, record["criteria"][name]["figure"]):
            row = next(line for line in final.splitlines() if re.match(rf"│ {name} +│", line))
            assert row.count("– ") == len(record["sources"])
    assert max(map(len, printed.splitlines())) <= 110
    assert "…" not in printed


@pytest.mark.parametrize(
    ("value", "units", "number", "label"),
    [
        ("1.99×10⁻⁴ 1/h", "h-1", "1.99×10⁻⁴", "1/h"),
        ("123 mW/cm²", "W m-2", "123", "mW/cm²"),
        ("50 %", "1", "50", "%"),
        ("not known", "s", "not known", "s"),
    ],
)
def test_numbers_and_units_as_people_write_them(value, units, number, label):
    assert (sections.number_of(value, units), for_axis(units).label) == (number, label)


def test_decimals_stand_below_each_other():
    figures = [{"x": {"text": text, "units": "s"}} for text in ("5.02 s", "19.7 s", "23 s", "never")]
    compared = {
        "sources": [{"source": str(i), "figures": figure} for i, figure in enumerate(figures)],
        "labels": {"x": "time"},
    }
    (column,) = sections.columns_of(compared, ["x"])
    padded = [text + pad for text, pad, _ in column["cells"].values()]
    assert [len(text) - text.index(".") for text in padded[:3]] == [3, 3, 3]
    assert padded[3] == "never"
    assert padded[2] == "23.02"  # of which ".02" is set invisibly, for its width only


def test_pictures_are_one_element_with_title_and_text(drawn):
    roots = [ElementTree.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", drawn[1], re.DOTALL)]
    assert len(roots) == 11  # three, each for a broad and for a narrow page, and one of each source
    for root in roots:
        assert (root.tag, root.get("role")) == (f"{SVG}svg", "img")
        title, text = root[0], root[1]
        assert (title.tag, text.tag) == (f"{SVG}title", f"{SVG}desc")
        assert root.get("aria-labelledby").split() == [title.get("id"), text.get("id")]
        of_one = title.text.startswith("The light of ")
        assert of_one or [words for words in words_of(root) if "LED 405" in words]


def test_same_bytes_twice(demo, html, undrawn):
    again = sb.reduce_bench(demo)
    assert page.as_html(again, sb.compare(again)) == html


def test_pictures_of_a_page_are_the_same_twice(reduced, result):
    names = ("by_depth", "light_path")
    draws = {"by_depth": partial(by_depth, result), "light_path": partial(light_path, reduced)}
    once, twice = ([page._drawn(draws[name], NARROW, name) for name in names] for _ in range(2))
    assert once == twice
    assert "light-path-title" in once[1]


def luminance(code):
    """Relative luminance, WCAG 2.2."""
    channels = np.array([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    """Contrast ratio, WCAG 2.2."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_ratio_of_black_on_white():
    """WCAG 2.2, definition of contrast ratio: from 1:1 to 21:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_contrast_for_text_and_for_lines(html, mode):
    """WCAG 2.2: 4.5 for text (success criterion 1.4.3), 3 for what a picture is read by (1.4.11)."""
    blocks = re.findall(r":root \{(.*?)\}", html, re.DOTALL)
    assert len(blocks) == 2
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", blocks[mode == "dark"]))
    assert set(COLOURS) < set(colours)
    for text in ("ink", "quiet", "met", "not-met", "not-known", "link"):
        assert min(contrast(colours[text], colours[page]) for page in ("page", "soft")) >= 4.5, text
    assert min(contrast(colours[text], colours["band"]) for text in ("ink", "limit")) >= 4.5
    for line in (name for name in colours if name.startswith("source")):
        assert min(contrast(colours[line], colours[page]) for page in ("page", "band")) >= 3, line


def test_pictures_take_their_colours_from_the_page(drawn):
    shown = drawn[1][drawn[1].index("<svg") :]
    assert not [light for light, _ in COLOURS.values() if light in shown]
    assert "var(--source-1)" in shown


@pytest.fixture
def hostile(demo, tmp_path):
    """A bench whose manifest is out to harm whoever reads the report."""
    folder = tmp_path / "hostile"
    shutil.copytree(demo, folder)
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    name = json.dumps(HOSTILE.replace("/", "∕"), ensure_ascii=False)  # a name holds no slash
    for old in ('"LED 405"', '"cover"', '"adhesive (invented)"', '"initiator A"'):
        assert text.count(old) == 1
        text = text.replace(old, name)
    free = json.dumps(HOSTILE, ensure_ascii=False)
    for key in ("title", "note", "material", "filter"):
        text, count = re.subn(
            rf"^{key} = .*$", lambda _, key=key: f"{key} = {free}", text, flags=re.MULTILINE
        )
        assert count >= 1
    text = text.replace('name = "LED 365"', 'name = "_LED 365"')
    manifest.write_text(text, encoding="utf-8")
    return folder


def test_names_from_files_stay_text(hostile, monkeypatch, no_pictures):
    def one_picture(tree, result, pages, needed):
        svg = page._coloured(page._drawn(partial(light_path, tree), WIDE, "light_path"))
        return no_pictures(tree, result, pages, needed) | {"light_path": [svg, ""]}

    monkeypatch.setattr(page, "_pictures", one_picture)
    tree = sb.reduce_bench(hostile)
    text = page.as_html(tree, sb.compare(tree))
    outline = Outline(text)
    assert outline.all("script") == []
    assert "<script" not in text
    assert HOSTILE in outline.said("h1")
    assert HOSTILE in outline.said("title")
    name = HOSTILE.replace("/", "∕")
    assert outline.said().count(name) >= 8
    drawn = text[text.index("<svg", text.index('<h2 id="way">')) :]
    words = "".join(words_of(ElementTree.fromstring(drawn[: drawn.index("</svg>") + 6])))
    assert words.count("<script>alert('x')<∕script>") == 4  # a source twice, the part, an initiator
    assert "_LED 365" in words


def test_write_report_writes_what_is_shown_and_gives_an_absolute_path(
    reduced, result, tmp_path, monkeypatch, undrawn
):
    monkeypatch.chdir(tmp_path)
    Path("report.html").write_text("an older one")
    assert page.write_report("report.html", reduced, result) == tmp_path / "report.html"
    assert (tmp_path / "report.html").read_text(encoding="utf-8") == page.as_html(reduced, result)
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_never_overwrites_what_a_bench_is_made_from(demo, reduced, result, tmp_path):
    linked = tmp_path / "report.html"
    linked.symlink_to(demo / "raw" / "arc.csv")
    hard = tmp_path / "hard.html"
    hard.hardlink_to(demo / "raw" / "arc.csv")
    for path in (demo / "bench.toml", demo / "raw" / ".." / "raw" / "arc.csv", linked, hard):
        kept = path.read_bytes()
        with pytest.raises(BenchError, match=r"a file of the bench.*never changed"):
            page.write_report(path, reduced, result)
        assert path.read_bytes() == kept
    assert linked.is_symlink()


@pytest.mark.parametrize(
    ("place", "words"), [("nowhere/report.html", "no folder .*nowhere"), ("taken", "a folder of this name")]
)
def test_makes_no_folders_and_replaces_none(reduced, result, tmp_path, place, words):
    (tmp_path / "taken").mkdir()
    with pytest.raises(BenchError, match=words):
        page.write_report(tmp_path / place, reduced, result)
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_leaves_nothing_behind_when_writing_fails(reduced, result, tmp_path, monkeypatch):
    def full(*_):
        raise OSError("no space left")

    target = tmp_path / "report.html"
    target.write_text("an older one")
    monkeypatch.setattr(page, "as_html", lambda *_: "a new one")
    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(BenchError, match=r"report\.html .*found no space left; expected a place that can be"):
        page.write_report(target, reduced, result)
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]
    assert target.read_text() == "an older one"


def test_a_bench_with_nothing_beyond_the_necessary(demo, tmp_path, undrawn):
    """No note, no logs, no limits but the two that are required, and a name with full stops in it."""
    folder = tmp_path / "bare"
    shutil.copytree(demo, folder)
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    text = text[: text.index("[[radiometer]]")]
    dropped = "note|maximum_time|maximum_temperature|maximum_irradiance|data_sheet_wavelength|hours|spot"
    text = re.sub(rf"^({dropped}) = .*\n", "", text, flags=re.MULTILINE)
    manifest.write_text(text.replace('"LED 405"', '"No. 4. Then: LED"'), encoding="utf-8")
    tree = sb.reduce_bench(folder)
    words = Outline(page.as_html(tree, sb.compare(tree))).said()
    for expected in ("The bench has no ageing log.", "The bench has no radiometer log.", "No. 4. Then: LED"):
        assert expected in words
    assert "Note on the data" not in words
    assert "data sheet 3" not in words


def test_wavelengths_have_two_decimals_wherever_they_stand(drawn):
    """An interval that is narrower than a nanometre is no interval to three digits."""
    document, text = drawn
    words = Outline(text).said()
    for source in document["sources"]:
        peak = source["figures"]["peak_wavelength"]
        if peak["value"] is None:
            continue
        low, high = (f"{peak[end]:.2f}" for end in ("low", "high"))
        assert (peak["text"], peak["interval"]) == (f"{peak['value']:.2f} nm", f"{low}–{high}")
        assert low != high
        assert peak["interval"] in words


def test_records_of_many_sources_are_those_of_each(drawn, uncertain):
    """One pass over all sources gives what `summarize` says of each."""
    document, _ = drawn
    result = sb.compare(uncertain)
    for source in document["sources"]:
        for name in ("band_irradiance", "exposure_time"):
            said = sb.summarize(result[name].sel(source=source["source"]))
            figure = source["figures"][name]
            for key in ("value", "standard_uncertainty", "low", "high"):
                assert figure[key] == (None if np.isnan(said[key]) else pytest.approx(float(said[key])))


@pytest.mark.parametrize(("factor", "count"), [(0.99, 1), (1.01, 0)])
def test_a_sum_below_that_of_its_band_is_explained(reduced, result, factor, count, undrawn):
    """Noise of dark pixels outside the band may add up to less than 0."""
    whole = (factor * result.band_irradiance).assign_attrs(result.irradiance_at_bond.attrs)
    text = page.as_html(reduced, result.assign(irradiance_at_bond=whole))
    assert Outline(text).said().count(said.BELOW_BAND) == count


@pytest.mark.parametrize(
    ("shares", "shown"),
    [
        ({"a": {"noise": 0.0, "distance": 1.0}, "b": {"noise": 0.0, "distance": 0.5}}, ["distance"]),
        ({"a": {"noise": 0.0, "distance": 1.0}, "b": {"noise": 0.5, "distance": 0.5}}, ["noise", "distance"]),
        ({"a": {"noise": None}}, ["noise"]),
        ({}, []),
    ],
)
def test_causes_that_do_nothing_are_left_out(shares, shown):
    assert said.causes_that_count(shares) == shown


def test_what_scrolls_shows_that_there_is_more(html):
    """A shadow at the right edge, which the end of the table covers; cells that stay carry their own rule."""
    style = html[html.index("<style>") : html.index("</style>")]
    scrolled = re.search(r"\.scrolled \{[^}]*\}", style)[0]
    assert scrolled.count("local") == scrolled.count("scroll;") == 1
    assert "border-collapse: separate" in style


def stated(reduced, old, new):
    """The bench as if its manifest said something else that its reduction does not need."""
    assert reduced.attrs["manifest"].count(old) == 1
    tree = reduced.copy()
    tree.attrs = reduced.attrs | {"manifest": reduced.attrs["manifest"].replace(old, new)}
    return tree


def test_heads_together_have_a_page(reduced, undrawn):
    """They were not measured together, so it says which they are."""
    heads = (
        'name = "both heads"\nheads = [{ source = "LED 405" }, { source = "LED 385", setting = "50 %" }]\n\n'
    )
    tree = stated(reduced, "[[part]]\n", f"[[together]]\n{heads}[[part]]\n")
    html = page.as_html(tree, sb.compare(tree))
    (found,) = (one for name, one in sections_of(html).items() if name.endswith("both heads"))
    assert "shine togetherLED 405 at 100 %, LED 385 at 50 %" in found.said()
    assert "Its spectrum" not in found.said()


def test_a_source_with_a_spoilt_frame_is_measured_again_before_a_trial(result):
    """One frame of the arc is saturated: what nobody knows of it makes it neither first nor next."""
    said = result.attrs["advice"].splitlines()
    assert "Measure again before a trial: arc." in said
    assert not any("; arc, for" in sentence for sentence in said)


def test_a_quicker_source_that_stands_behind_is_explained(uncertain):
    heads = '[[together]]\nname = "both"\nheads = [{ source = "LED 405" }, { source = "LED 385" }]\n\n'
    advice = sb.compare(stated(uncertain, "[[part]]\n", f"{heads}[[part]]\n")).attrs["advice"]
    assert "both needs a shorter exposure in 100 % of the draws; it stands behind LED 405 for its" in advice


def test_a_bench_of_one_source_asks_whether_to_test_it(demo, tmp_path, undrawn):
    folder = shutil.copytree(demo, tmp_path / "bench")
    path = folder / "bench.toml"
    blocks = re.split(r"^(?=\[)", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    others = [one for one in blocks if one.startswith("[[source]]") and '"LED 405"' not in one]
    logs = [one for one in blocks if one.startswith(("[[ageing]]", "[[radiometer]]"))]
    path.write_text("".join(one for one in blocks if one not in others + logs), encoding="utf-8")
    tree = sb.reduce_bench(folder)
    words = Outline(page.as_html(tree, sb.compare(tree))).said()
    assert "whether to test LED 405 for adhesive" in words
    assert "light sources" not in words


@pytest.mark.parametrize("width", [80, 110])
def test_the_terminal_cuts_no_word_however_many_sources_there_are(result, reduced, capsys, width):
    """Ten sources: each of the demo's twice, the second time under a long name."""
    record, measured = records.of_comparison(result), records.of_reduction(reduced)
    for one in (record, measured):
        again = [source | {"source": f"{source['source']}, second lamp"} for source in one["sources"]]
        one["sources"] = one["sources"] + again
    console = Console(width=width)
    tables.print_comparison(console, record)
    tables.print_reduction(console, measured)
    printed = capsys.readouterr().out
    assert "…" not in printed
    assert max(map(len, printed.splitlines())) <= width
    assert printed.count("at the part") > 1  # the heading of each piece
    heads = [line for line in printed.splitlines() if line.startswith("┏")]
    assert len(heads) >= 4


def test_a_temperature_beyond_meaning_says_so(reduced):
    """An invented reaction that gives fifty times the heat: no adhesive is 300 °C hot."""
    hot = stated(reduced, '"180 J/g"', '"9000 J/g"')
    result = sb.compare(hot).sel(source="LED 405", criterion="temperature")
    assert result.peak_temperature.item() > 573.15
    assert "so far up it only means that the material does not bear it" in result.reason.item()


def test_tables_that_are_wider_than_a_small_screen_say_so(html):
    assert "wider than a small screen; scroll it sideways to see every column" in html
