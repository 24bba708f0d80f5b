"""A year of readings: drift of the head, ageing of the sources, the next lamp, against the invented truth."""

from __future__ import annotations

import re
from datetime import date, timedelta

import numpy as np
import pytest

# The client of the kernel talks to it over sockets on this machine; it warns of its own event loop.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning")

ARC_RATE = np.log(1 / 0.56) / 3000  # h-1; 44 % are lost after 3,000 h


@pytest.fixture(scope="module")
def text(run_notebook, printed):
    notebook = run_notebook("a_year_of_readings")
    shown = [
        output["data"]["text/plain"]
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if "text/plain" in output.get("data", {})
    ]
    return "\n".join([printed(notebook), *shown])


def test_the_drift_of_the_head_is_found(text):
    changed, u = map(
        float, re.search(r"readings of the reference changed by (-[\d.]+) % ± ([\d.]+) %", text).groups()
    )
    assert abs(changed + 3.4) < 3 * max(u, 0.15)  # 3.4 % in a year
    scatter = float(re.search(r"^a single reading scatters by ([\d.]+)%$", text, re.M)[1])
    # 0.4 %, and a standard deviation of 27 - 2 residuals is uncertain by 1/√50 of itself
    assert scatter == pytest.approx(0.4, rel=3 / np.sqrt(50))
    assert abs(float(re.search(r"against certificate: E_n ([+-][\d.]+)", text)[1])) < 1


def test_a_bare_label_is_not_compared(text):
    assert "cannot be compared as read (two heads), nor be corrected" in text
    assert 'there is no response curve of head "C-27" (the label "UV, as its label says" says neither' in text


def test_stages_and_rates(text):
    rows = re.findall(
        r"^(.+): stages (\d); it now loses ([\d.]+) % ± ([\d.]+) % in 1,000 h$", text, re.MULTILINE
    )
    found = {name: (int(stages), float(loss), float(u)) for name, stages, loss, u in rows}
    rates = {"arc, lamp 1": ARC_RATE, "arc, lamp 2": ARC_RATE, "LED 365": 1.6e-5, "LED 405": 2.4e-5}
    assert {name: stages for name, (stages, _, _) in found.items()} == {
        "arc, lamp 1": 1,
        "arc, lamp 2": 1,
        "LED 365": 2,
        "LED 405": 1,
    }
    for name, rate in rates.items():
        _, loss, u = found[name]
        assert loss == pytest.approx(100 - 100 * np.exp(-1000 * rate), abs=3 * u + 0.05), name
    assert float(re.search(r"early stage of LED 365 ended at (\d+) h", text)[1]) == pytest.approx(420, abs=40)


def test_hours_left_and_what_one_stage_would_say(text):
    rows = re.findall(r"^(.+): (\d+) h, 95 % sure of (\d+) h; ?(.*)$", text, re.M)
    left = {name: (float(middle), float(sure), said) for name, middle, sure, said in rows}
    today = 640 * 0.96 * np.exp(-ARC_RATE * 880)
    due = np.log(today / 420) / ARC_RATE
    middle, sure, _ = left["arc, lamp 2"]
    assert sure < due < 1.3 * middle
    assert middle == pytest.approx(due, rel=0.2)
    assert "beyond 6 times, take it for a guess" in left["LED 405"][2]
    wrong = float(re.search(r"^LED 365 by one stage: (\d+) h$", text, re.M)[1])
    true = np.log(520 * np.exp(-2e-4 * 420 - 1.6e-5 * (1352 - 420)) / 420) / 1.6e-5
    assert wrong < true / 3
    assert left["LED 365"][1] < true


def test_the_next_lamp(text):
    found = re.search(
        r"^next lamp of the arc: (\S+); in 95 % of the draws between (\S+) and (\S+)$", text, re.M
    )
    middle, early, late = map(date.fromisoformat, found.groups())
    hours = np.log(640 * 0.96 * np.exp(-ARC_RATE * 880) / 420) / ARC_RATE
    true = date(2026, 1, 5) + timedelta(days=hours / 2080 * 365.25)
    assert early < true < late
    assert early < middle < late
    assert timedelta(days=30) < late - early < timedelta(days=150)
    assert f"so order it for {early}; in three years 3 lamps" in text


def test_what_a_year_costs(text):
    energy, lamp, disposal, total, mercury = map(
        float, re.search(r"^arc +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+)$", text, re.M).groups()
    )
    assert energy == pytest.approx(0.260 * 2080 * 0.28, abs=0.05)
    lamps = 2080 / (np.log(640 / 420) / ARC_RATE)
    assert lamp == pytest.approx(420 * lamps, rel=0.08)
    assert disposal / 12 == pytest.approx(lamp / 420, rel=0.01)
    assert mercury / 22 == pytest.approx(lamp / 420, rel=0.01)
    assert total == pytest.approx(energy + lamp + disposal, abs=0.2)
    led = re.search(r"^LED 405 +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+)$", text, re.M)
    assert float(led[1]) == pytest.approx(0.046 * 1352 * 0.28, abs=0.05)
    assert float(led[5]) == 0


def test_the_plan_says_when_no_setting_is_enough(text):
    arc = re.search(r"^arc, lamp 2 +(\S+) +(\S+) +(\S+) +(\S+) +(\S+)$", text, re.M).groups()
    settings = [float(value) for value in arc]
    assert settings[0] == pytest.approx(100 * 420 / (640 * 0.96 * np.exp(-ARC_RATE * 880)), abs=6)
    assert settings == sorted(settings)
    assert np.isinf(settings[-1])
    led = re.search(r"^LED 405 +(\S+) +(\S+) +(\S+) +(\S+) +(\S+)$", text[text.index("today  ") :], re.M)
    assert float(led[1]) <= float(led[5]) < 80


def test_everything_lies_near_the_truth(text):
    away = [float(found) for found in re.findall(r"([+-][\d.]+) standard uncertainties$", text, re.M)]
    assert len(away) == 6
    assert max(map(abs, away)) < 3
