"""How an open file looks: in either theme, and in a narrow window."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=15_000)


def measured(view: Any) -> None:
    """Wait for the figures."""
    expect(view.get_by_role("rowheader", name="peak", exact=True).first).to_be_visible()


@pytest.fixture
def themed(page) -> Iterator[Callable[[str], None]]:
    """Change the theme, and back afterwards: the server keeps it."""

    def change(theme: str) -> None:
        light = str(theme.endswith("Light")).lower()
        page.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
        page.wait_for_function("light => document.body.dataset.jpThemeLight === light", arg=light)

    yield change
    with page.expect_response(lambda answer: answer.request.method == "PUT" and "themes" in answer.url):
        change("JupyterLab Light")


def test_colours_follow_the_theme_at_once_and_after_a_reload(page, lab, themed, opened):
    view = opened("lamp.spectrum.csv")
    first = view.get_by_role("group", name="Curves").locator("path").first
    expect(first).to_have_attribute("stroke", "#6276ff")
    measured(view)
    assert view.evaluate(FAINT) == []
    assert page.evaluate(AXIS_INK) < 100
    with page.expect_response(lambda answer: answer.request.method == "PUT" and "themes" in answer.url):
        themed("JupyterLab Dark")
    expect(first).to_have_attribute("stroke", "#8976ff")
    page.wait_for_function(f"({AXIS_INK})() > 150")
    page.goto(f"{lab.url}/lab?reset")
    page.wait_for_selector(".jp-DirListing-item", state="attached", timeout=60_000)
    view = opened("lamp.spectrum.csv")
    expect(first).to_have_attribute("stroke", "#8976ff")
    measured(view)
    assert view.evaluate(FAINT) == []
    page.wait_for_function(f"({AXIS_INK})() > 150")


# Texts whose contrast with what is behind them is below 4.5 (WCAG 2.2, success criterion 1.4.3, level AA;
# luminance and contrast as in its definitions of "relative luminance" and "contrast ratio").
FAINT = """view => {
  const channels = text => {
    const [r, g, b, a = 1] = text.match(/[\\d.]+/g).map(Number);
    return [r, g, b, a];
  };
  const over = (top, below) => [0, 1, 2].map(i => top[i] * top[3] + below[i] * (1 - top[3])).concat(1);
  const behind = one => {
    const own = channels(getComputedStyle(one).backgroundColor);
    return own[3] === 1 || !one.parentElement ? own : over(own, behind(one.parentElement));
  };
  const linear = value => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) =>
    0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
  const texts = [...view.querySelectorAll('*')].filter(
    one => one.getClientRects().length > 0
      && [...one.childNodes].some(child => child.nodeType === Node.TEXT_NODE && child.textContent.trim()));
  return texts.map(one => {
    const page = behind(one);
    const [a, b] = [luminance(over(channels(getComputedStyle(one).color), page)), luminance(page)];
    return [(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), one.textContent];
  }).filter(([contrast]) => contrast < 4.5);
}"""

# Of the pixels left of the plotting area, where numbers stand, the one farthest from transparent.
AXIS_INK = """() => {
  const canvas = document.querySelector('.sb canvas');
  const {data} = canvas.getContext('2d').getImageData(0, 0, 60, canvas.height);
  let [best, lightness] = [0, NaN];
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] > best) {
      best = data[i + 3];
      lightness = (data[i] + data[i + 1] + data[i + 2]) / 3;
    }
  }
  return lightness;
}"""


def test_nothing_is_cut_in_a_window_of_1000_pixels(page, opened):
    page.set_viewport_size({"width": 1000, "height": 700})
    view = opened("lamp.spectrum.csv")
    measured(view)
    cut = view.evaluate(
        """view => [...view.querySelectorAll('button, input, th, td, dd, p, h3, summary')]
          .filter(one => one.getClientRects().length > 0 &&
            !one.closest('details:not([open]) > :not(summary)'))
          .filter(one => one.scrollWidth > one.clientWidth + 1
            || one.getBoundingClientRect().right > view.getBoundingClientRect().right + 1)
          .map(one => one.outerHTML)"""
    )
    assert cut == []
    assert view.evaluate("view => view.scrollWidth <= view.clientWidth")
