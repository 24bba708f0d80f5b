"""Widgets on a page that knows nothing of JupyterLab, as in other hosts of anywidget: its model is enough."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from spectralbench.widgets import FrameCheck, LightPath, Transmission
from spectralbench.widgets.bundles import STATIC
from spectralbench.widgets.saving import MIME

expect = pytest.importorskip("playwright.sync_api").expect

PLACE = "http://127.0.0.1:9/"
PAGE = """<!doctype html><meta charset="utf-8"><link rel="stylesheet" href="widget.css">
<body style="background: #1e1e1e; color: #ddd"><div id="widget"></div>
<script type="module">
  import widget from './widget.js';
  const state = await (await fetch('state.json')).json();
  for (const [name, value] of Object.entries(state)) {
    if (value?.base64 !== undefined) {
      state[name] = new DataView(Uint8Array.from(atob(value.base64), one => one.charCodeAt(0)).buffer);
    }
  }
  const heard = {};
  window.saved = [];
  const model = {
    comm_live: !state.lost,
    get: name => state[name],
    set: (name, value) => { state[name] = value; window.saved.push({ [name]: value }); },
    save_changes: () => undefined,
    send: () => undefined,
    on: (event, hear) => { (heard[event] ??= new Set()).add(hear); },
    off: (event, hear) => { heard[event]?.delete(hear); }
  };
  const dispose = await widget.render({ model, el: document.getElementById('widget') });
  window.left = () => { dispose(); return Object.values(heard).reduce((sum, one) => sum + one.size, 0); };
</script>"""


@pytest.fixture
def host(lab: Any, context: Any) -> Iterator[Any]:
    """Shows a widget's saved state with its own script and style, and nothing else."""
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: said.type == "error" and faults.append(said.text))

    def show(kind: type, *given: Any, otherwise: dict[str, Any] | None = None, **more: Any) -> Any:
        widget = kind(lab.folder / "bench", *given, **more)
        data, _ = widget._repr_mimebundle_()
        files = {
            "": (PAGE, "text/html"),
            "state.json": (json.dumps(data[MIME]["state"] | (otherwise or {})), "application/json"),
            "widget.js": ((STATIC / f"{widget.kind}.js").read_text("utf-8"), "text/javascript"),
            "widget.css": ((STATIC / f"{widget.kind}.css").read_text("utf-8"), "text/css"),
        }

        def answer(route: Any) -> None:
            body, of = files[route.request.url.removeprefix(PLACE)]
            route.fulfill(body=body, content_type=f"{of}; charset=utf-8")

        page.route(f"{PLACE}**", answer)
        page.goto(PLACE)
        return page

    yield show
    assert faults == []
    page.close()


@pytest.mark.parametrize(
    ("kind", "given"),
    [(LightPath, ()), (FrameCheck, ("LED 405",)), (Transmission, ())],
    ids=lambda one: str(one),
)
def test_a_widget_needs_nothing_but_its_model(host, kind, given):
    page = host(kind, *given, **({} if kind is FrameCheck else {"draws": 0}))
    view = page.locator(".sb-light-path")
    expect(view.get_by_role("application").locator("canvas").first).to_be_visible()
    page.wait_for_function(f"({DRAWN})() > 500")
    assert page.evaluate(GROUND) == [255, 255, 255]  # a dark page around it does not shine through
    if kind is not FrameCheck:
        slider = view.get_by_role("slider", name="thickness of cover", exact=True)
        slider.press("ArrowRight")
        assert [*page.evaluate("window.saved.at(-1)")] == ["thickness"]
    assert page.evaluate("window.left()") == 0


def test_what_a_lost_kernel_left_undone_is_not_awaited(host):
    page = host(LightPath, draws=0, otherwise={"lost": True, "state": "comparing"})
    view = page.locator(".sb-light-path")
    expect(
        view.get_by_text("of an earlier turn: the kernel went before it had compared the last")
    ).to_be_visible()
    view.get_by_role("tab", name="Sweep").click()
    expect(view.get_by_text("Nothing was followed before the kernel went")).to_be_visible()
    expect(view.get_by_text("Following it")).to_have_count(0)


DRAWN = """() => {
  const canvas = document.querySelector('canvas');
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  return data.filter((value, i) => i % 4 === 3 && value > 0).length;
}"""
GROUND = """() => {
  const colour = getComputedStyle(document.querySelector('.sb-light-path')).backgroundColor;
  return colour.match(/\\d+/g).slice(0, 3).map(Number);
}"""
