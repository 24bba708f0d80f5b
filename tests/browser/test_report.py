"""The report in a browser: on a screen, on a telephone, on paper; nothing keeps people from reading it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

import spectralbench as sb
from spectralbench.reports.page import write_report

_MILLIMETRE = 96 / 25.4  # px, CSS Values 4, 6.2
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}  # mm, ISO 216 and ANSI/ASME Y14.1
MARGINS = (30, 30)  # mm, as the style sheet has them

AXE = """async () => {
  const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
  const {violations, passes} = await window.axe.run(document, {runOnly: tags, resultTypes: ['violations']});
  return [passes.length, violations.map(one => [one.id, one.nodes[0].html.slice(0, 200)])];
}"""
WIDER = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
HEIGHTS = "() => [...document.querySelectorAll('.source')].map(one => one.getBoundingClientRect().height)"


@pytest.fixture(scope="module")
def report(context: Any, demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The report of a few draws, open; and what it asked for."""
    path = tmp_path_factory.mktemp("report") / "report.html"
    bench = sb.reduce_bench(demo, draws=20, seed=1)
    write_report(path, bench, sb.compare(bench))
    page = context.new_page()
    page.asked = []
    page.on("request", lambda request: page.asked.append(request.url))
    page.goto(path.as_uri())
    yield page
    assert page.asked == [path.as_uri()]
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 900, 400])
def test_nothing_stands_beside_the_screen_and_nothing_bars_the_way(
    report: Any, width: int, scheme: str
) -> None:
    report.emulate_media(media="screen", color_scheme=scheme)
    report.set_viewport_size({"width": width, "height": 900})
    assert report.evaluate(WIDER) == 0
    if (width, scheme) in ((1280, "light"), (400, "dark")):
        report.evaluate((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))
        passed, barred = report.evaluate(AXE)
        assert passed > 30
        assert barred == []


def test_the_keyboard_gets_everywhere(report: Any) -> None:
    report.emulate_media(media="screen", color_scheme="light")
    report.set_viewport_size({"width": 400, "height": 900})
    scrolled = report.locator(".scrolled").first
    scrolled.focus()
    report.keyboard.press("ArrowRight")
    end = time.monotonic() + 5
    while report.evaluate("document.querySelector('.scrolled').scrollLeft") == 0:
        assert time.monotonic() < end
        report.wait_for_timeout(20)
    report.locator("nav a", has_text="LED 405").press("Enter")
    assert report.evaluate("location.hash") == "#source-1"


@pytest.mark.parametrize("paper", PAPERS)
def test_on_paper_nothing_is_cut_and_each_source_has_one_sheet(report: Any, paper: str) -> None:
    width, height = (
        (whole - margin) * _MILLIMETRE for whole, margin in zip(PAPERS[paper], MARGINS, strict=True)
    )
    report.emulate_media(media="print", color_scheme="light")
    report.set_viewport_size({"width": int(width), "height": int(height)})
    assert report.evaluate(WIDER) == 0
    heights = report.evaluate(HEIGHTS)
    assert len(heights) == 5
    assert max(heights) < height
    assert report.evaluate("() => getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    printed = report.pdf(format=paper)
    assert 10 <= printed.count(b"/Type /Page\n") <= 16


def test_longer_words_stay_inside_a_telephone(context: Any, small: Path, tmp_path: Path) -> None:
    """Of the thinned arc, more is not known, and each criterion says for what: lines as long as they get."""
    bench = sb.reduce_bench(small, draws=20, seed=1)
    write_report(tmp_path / "report.html", bench, sb.compare(bench))
    page = context.new_page()
    page.set_viewport_size({"width": 400, "height": 900})
    page.goto((tmp_path / "report.html").as_uri())
    assert page.evaluate(WIDER) == 0
    page.close()
