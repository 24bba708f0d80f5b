"""The light path in a notebook, without a browser: what it says is what a comparison says."""

from __future__ import annotations

import asyncio
import base64
import json
import shutil
import xml.dom.minidom
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from anywidget import AnyWidget

import spectralbench as sb
from spectralbench.errors import RangeError, UnitsError
from spectralbench.payload import unpack
from spectralbench.widgets import LightPath
from spectralbench.widgets.light_path import _WORKER
from spectralbench.widgets.saving import MIME
from spectralbench.widgets.turning import Turning

CHANGES = {
    "thickness": {"cover": 1.5},
    "distance": {"LED 405": 20.0, "LED 365": 15.0},
    "hours": {"arc": 2500.0, "LED 405": 9000.0},
    "level": {"LED 385": 0.4},
}


def run(coroutine):
    """Run a loop in a thread of its own: where a browser is open, this one has a loop already."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, coroutine).result()


@pytest.fixture(scope="module")
def path(reduced):
    """One that tests may turn, if they turn it back."""
    return LightPath(reduced)


@pytest.fixture(autouse=True)
def _as_on_the_bench(path):
    yield
    if path._changes() or path.sweep or path.state:
        path.turn(thickness={}, distance={}, hours={}, level={}, time=30.0, sweep={})


def figures(path):
    return unpack(path.absorbed)[0]["figures"]


def test_what_is_quick_says_what_a_comparison_says(reduced):
    """Nothing is worked out in two ways that differ: every source, everything turned at once."""
    quick = unpack(Turning(reduced).absorbed(CHANGES))[0]["figures"]
    slow = sb.compare(sb.adjust(reduced, **CHANGES))
    for name in slow.source.values:
        one = slow.sel(source=name)
        said = [f"{float(one.band_irradiance) / 10:.3g} mW/cm²", f"{float(one.absorbed_photons):.3g}"]
        assert quick[name].split(" in ")[0] == (said[0] if np.isfinite(one.band_irradiance) else "not known")
        number = quick[name].split(" · ")[1].split(" ")[0]
        assert float(number) == pytest.approx(float(one.absorbed_photons), rel=6e-3), name


def test_a_bench_with_draws_is_turned_too(demo):
    tree = sb.reduce_bench(demo, draws=20, seed=1)
    path = LightPath(tree)
    path.turn(
        thickness="1 mm",
        level={"LED 405": 50},
        hours={"arc": 2000, "LED 405": 9000},
        distance={"LED 405": 20},
    )
    assert path.result.sizes["draw"] == 20
    for name in ("arc", "LED 405"):  # of one the log tells how it ages, with draws, of the other its maker
        quick = float(figures(path)[name].split(" ")[0])
        light = float(path.result.band_irradiance.sel(source=name).mean()) / 10
        assert quick == pytest.approx(light, rel=0.02), name
    assert path.tree["sources"].sizes["draw"] == 20


def test_heads_together_are_quick_too(small, tmp_path):
    heads = '[{ source = "LED 385" }, { source = "LED 405", setting = "50 %" }]'
    folder = shutil.copytree(small, tmp_path / "bench")
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    first = '[[source]]\nname = "arc"\n'
    assert first in text
    both = f'[[together]]\nname = "both"\nheads = {heads}\n\n'
    manifest.write_text(text.replace(first, both + first), encoding="utf-8")
    tree = sb.reduce_bench(folder)
    changes = {"distance": {"LED 405": 20.0}, "hours": {"LED 405": 9000.0}, "level": {"LED 405": 0.7}}
    quick = unpack(Turning(tree).absorbed(changes))[0]["figures"]["both"]
    slow = sb.compare(sb.adjust(tree, **changes)).sel(source="both")
    assert quick.split(" ")[0] == f"{float(slow.band_irradiance) / 10:.3g}"


def test_four_sources_of_2048_points_fit_into_40_kilobytes(reduced):
    path = LightPath(reduced.copy())
    for payload in (path.sent, path.absorbed):
        header, arrays = unpack(payload)
        most = max(array.nbytes for array in arrays.values())
        lines = sum(curve.get("role") == "source" for curve in header["curves"])
        axis = arrays[header["curves"][0]["x"]].nbytes
        head = len(payload) - sum(array.nbytes for array in arrays.values())
        assert lines == 5
        assert most == 4 * 2025
        assert 4 * 4 * 2048 + axis + head < 40_000


def test_it_begins_as_the_bench_is(path):
    assert path.thickness == {"cover": 2.0}
    assert path.level == {
        "arc": 100.0,
        "arc, filtered": 100.0,
        "LED 365": 100.0,
        "LED 385": 100.0,
        "LED 405": 100.0,
    }
    assert set(path.distance) == {"LED 365", "LED 385", "LED 405"}  # whose beams were measured
    assert path.time == 30.0
    fixed = {(one["control"], one["of"]): one["fixed"] for one in path.controls if one["fixed"]}
    assert "takes its beam" in fixed["distance", "arc"]
    assert "[[ageing]] or stated_end_output" in fixed["hours", "LED 385"]
    assert path.comparison["sources"][0]["source"] == "LED 405"
    assert path.state == ""


def test_python_turns_and_the_comparison_follows_at_once(path):
    seen = []
    path.observe(lambda change: seen.append(change["new"]), "result")
    path.thickness = {"cover": "1 mm"}
    assert path.result.verdict.sel(source="LED 365", criterion="irradiance").item() == "met"
    assert seen[-1] is path.result
    light = float(path.result.band_irradiance.sel(source="LED 365")) / 10
    assert figures(path)["LED 365"].startswith(f"{light:.3g} mW/cm² in 320–430 nm · ")
    path.level = {"LED 405": "50 %"}
    assert path.level["LED 405"] == 50.0
    assert path.level["arc"] == 100.0
    assert path.thickness == {"cover": 1.0}
    path.unobserve_all("result")


def test_several_controls_are_compared_once(path):
    count = []
    path.observe(lambda _: count.append(1), "result")
    path.turn(level={"LED 405": 50}, hours={"LED 405": "10500 h"}, time="10 s")
    path.unobserve_all("result")
    assert len(count) == 1
    said = json.loads(path.result.attrs["not_measured"])
    assert "taken otherwise than on the bench: longest exposure at 10 s, not 30 s" in said
    assert json.loads(path.tree.attrs["adjusted"])["level"] == {"LED 405": 0.5}


@pytest.mark.parametrize(
    ("name", "value", "error", "words"),
    [
        ("thickness", {"lid": 1}, RangeError, 'there is no "lid" with a thickness in this bench'),
        ("distance", {"arc": 20}, RangeError, "another distance of arc takes its beam"),
        ("distance", {"LED 405": 40}, RangeError, "from 8 to 30 mm, not at 40 mm"),
        ("level", {"arc": 0.0}, RangeError, "above 0 and at 100 % or below, not at 0 %"),
        ("level", {"arc": 120}, RangeError, "not at 120 %"),
        ("time", -1, RangeError, "the time is 0 s or more, not -1 s"),
        ("level", {"arc": 0.4}, RangeError, "a level is given in % here, 1 to 100 or as a text"),
        ("distance", {"LED 405": "12 mm ± 1 mm"}, RangeError, "a control stands at a value without a ±"),
        ("hours", {"arc": None}, RangeError, "hours of a thing is a number or a text with a unit, not None"),
        ("shown", ["lamp"], RangeError, 'there is no source "lamp"; there are "arc", '),
        ("distance", {"LED 405": "2 s"}, UnitsError, "mm"),
    ],
)
def test_what_the_bench_does_not_answer_for_is_refused_and_nothing_is_turned(path, name, value, error, words):
    before, result = getattr(path, name), path.result
    with pytest.raises(error, match=words):
        setattr(path, name, value)
    assert getattr(path, name) == before
    assert path.result is result


def test_of_several_controls_one_that_is_refused_turns_none(path):
    with pytest.raises(RangeError, match="not at 40 mm"):
        path.turn(level={"LED 405": 50}, distance={"LED 405": 40})
    assert path.level["LED 405"] == 100.0
    assert path.distance["LED 405"] == 12.0


def test_a_unit_of_another_kind_among_several_turns_none(path):
    with pytest.raises(UnitsError):
        path.turn(level={"LED 405": 50}, distance={"LED 405": "4 s"})
    assert path.level["LED 405"] == 100.0


def test_what_is_compared_for_a_browser_gives_way_to_what_python_turns(path):
    """The browser's comparison, which began before, does not come in over Python's."""

    async def both():
        path.set_state({"level": {**path.level, "LED 405": 90.0}})
        path._waiting.cancel()
        loop = asyncio.get_running_loop()
        path._start(loop)
        path.turn(level={"LED 405": 10})
        await loop.run_in_executor(_WORKER, lambda: None)  # whose turn comes once the comparison is shown

    run(both())
    light = float(path.result.band_irradiance.sel(source="LED 405")) / 10
    assert figures(path)["LED 405"].startswith(f"{light:.3g} mW/cm²")


def turned_by_a_browser(path, *states):
    """Let states come in as a browser sends them, and wait until it is answered."""

    async def answered():
        said = []
        path.observe(lambda change: said.append(change["new"]), "state")
        for state in states:
            path.set_state(state)
        for _ in range(600):
            await asyncio.sleep(0.02)
            if said and path.state != "comparing":
                break
        path.unobserve_all("state")
        return said

    return run(answered())


def test_a_browser_sees_the_light_at_once_and_the_comparison_when_it_rests(path):
    seen = []
    path.observe(lambda change: seen.append(path.thickness["cover"]), "result")
    states = [{"thickness": {"cover": value}} for value in (1.8, 1.5, 1.2, 1.0)]
    said = turned_by_a_browser(path, *states)
    path.unobserve_all("result")
    assert said[-2:] == ["comparing", ""]
    assert seen == [1.0]  # those in between were not compared
    assert path.result.verdict.sel(source="LED 365", criterion="irradiance").item() == "met"


def test_what_arrives_goes_to_the_browser_before_its_own_values_come_back(path, monkeypatch):
    """And these do come back, as they stand, for others that show the same widget."""
    sent = []
    monkeypatch.setattr(path, "_send", lambda message, buffers=None: sent.append(message))
    turned_by_a_browser(path, {"level": {"LED 405": 40.0}})
    methods = [message["method"] for message in sent]
    echo = sent[methods.index("echo_update")]
    assert echo["state"] == {"level": {**path.level, "LED 405": 40.0}}
    before = [place for message in sent[: methods.index("echo_update")] for place in message["buffer_paths"]]
    assert {("sent",), ("absorbed",)} <= set(map(tuple, before))
    assert methods.count("echo_update") == 1


def test_a_browser_that_is_refused_hears_why_and_gets_the_old_value(path):
    path.set_state({"distance": {"LED 405": 99.0}})
    assert path.state.startswith("refused: the beam of LED 405 was measured from 8 to 30 mm, not at 99 mm")
    assert path.distance["LED 405"] == 12.0
    turned_by_a_browser(path, {"distance": {"LED 405": 20.0}})
    assert path.state == ""


def test_a_fault_of_ours_never_leaves_a_browser_waiting(path, monkeypatch, caplog):
    with monkeypatch.context() as faulty:  # which is over before the bench is turned back
        faulty.setattr("spectralbench.widgets.light_path.compare", lambda _: 1 / 0)
        said = turned_by_a_browser(path, {"level": {"arc": 90}})
    assert said[-1] == "refused: ZeroDivisionError: division by zero"
    assert "the comparison of a light path failed" in caplog.text


def test_a_figure_along_a_control_says_where_it_crosses_its_limit(path):
    """Level is proportional: LED 405 gives what is required at the share that the comparison says."""
    path.sweep = {"criterion": "irradiance", "control": "level"}
    header, arrays = unpack(path.swept)
    needed = {
        str(name): 60.0 / (float(path.result.band_irradiance.sel(source=name)) / 10)
        for name in path.result.source.values
    }
    crossed = {one["source"]: one["at"] / 100 for one in header["crossings"]}
    expected = {name: share for name, share in needed.items() if 0.01 < share < 1}
    assert set(crossed) == set(expected)
    for name, share in expected.items():
        assert crossed[name] == pytest.approx(share, rel=2e-3)
    assert header["limit"] == 60.0
    assert header["limit_text"] == "≥ 60 mW/cm²"
    assert header["up"] == "in the required band [mW/cm²]"
    curve = next(one for one in header["curves"] if one["label"] == "LED 405")
    light = arrays[curve["y"]]
    assert light[-1] / light[0] == pytest.approx(100, rel=1e-6)
    path.sweep = {"criterion": "irradiance", "control": "hours"}
    assert unpack(path.swept)[0]["notes"][-1] == "no curve crosses the limit"
    path.sweep = {}
    assert path.swept == b""


def test_a_figure_that_cannot_be_followed_is_refused_in_words(path):
    path.sweep = {"criterion": "beauty", "control": "level"}
    assert path.state == 'refused: there is no criterion "beauty" to follow on this bench'
    path.sweep = {"criterion": "irradiance", "control": "thickness", "of": "lid"}
    known = "it has thickness, distance, hours, level"
    assert path.state == f'refused: "thickness of lid" cannot be followed on this bench; {known}'
    path.sweep = {"criterion": "irradiance", "control": "time"}
    assert path.state == f'refused: "time" cannot be followed on this bench; {known}'


def test_one_value_may_be_for_all_and_a_control_that_is_none_is_refused(path):
    path.turn(level="40 %")
    assert set(path.level.values()) == {40.0}
    with pytest.raises(RangeError, match='there is no control "lamp"; there are thickness, distance'):
        path.turn(lamp=3)


def test_a_bench_that_is_taken_otherwise_has_no_values_to_go_back_to(reduced):
    with pytest.raises(RangeError, match="give the bench as it is, and turn it here"):
        LightPath(sb.adjust(reduced, time=3))


def test_hours_are_followed_over_the_life_of_each_source(path):
    """An arc ends long before an LED: its crossing lies between steps of its own."""
    path.turn(time="30 s", sweep={"criterion": "time", "control": "hours", "of": "LED 385"})
    header, _ = unpack(path.swept)
    (arc,) = [one["at"] for one in header["crossings"] if one["source"] == "arc"]
    left = float(path.result.hours_left.sel(source="arc"))
    assert arc == pytest.approx(900 + left, rel=0.01)
    assert header["notes"][0] == "nothing is known of arc, filtered, LED 385 along this control"


def test_pages_without_a_kernel_get_a_picture_with_the_figures(path):
    data, _ = path._repr_mimebundle_()
    picture = xml.dom.minidom.parseString(data["image/svg+xml"])
    drawn = " ".join(node.firstChild.data for node in picture.getElementsByTagName("text") if node.firstChild)
    for words in ("Test first: LED 405", "1. LED 405: in the required band 882 mW/cm²", "local codes"):
        assert words in drawn
        assert words in data["text/plain"]
    assert "application/vnd.jupyter.widget-view+json" in data


def test_a_saved_notebook_keeps_all_that_the_browser_shows(path):
    path.level = {"LED 405": 50}
    saved = json.loads(json.dumps(path._repr_mimebundle_()[0][MIME]))
    assert saved["widget"] == "light_path"
    state = saved["state"]
    own = {
        name for name in LightPath.class_trait_names(sync=True) if name not in AnyWidget.class_trait_names()
    }
    assert set(state) == own
    assert state["level"]["LED 405"] == 50
    assert base64.b64decode(state["absorbed"]["base64"]) == path.absorbed
    assert state["comparison"]["sources"][0]["source"] == path.comparison["sources"][0]["source"]
    assert state["state"] == ""
