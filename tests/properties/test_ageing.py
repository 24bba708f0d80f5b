"""Laws of ageing, levels and costs, for any log and any price."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from spectralbench.ageing import (
    fit_ageing,
    fit_two_stage,
    headroom,
    hours_until,
    level_plan,
    output_at,
    relamp_plan,
    running_cost,
    setting_for,
    updated,
)
from spectralbench.ageing.broken_line import broken_line, straight_line

CLOSE = 1e-9


@st.composite
def logs(draw, fewest=6):
    """Hours and output of a source that ages, with scatter."""
    steps = draw(st.lists(st.floats(50, 1000), min_size=fewest - 1, max_size=12))
    hours = np.cumsum([0.0, *steps])
    losses = draw(st.lists(st.floats(-0.02, 0.1), min_size=hours.size, max_size=hours.size))
    return hours, np.exp(-np.cumsum(losses))


fitting = st.sampled_from([fit_ageing, fit_two_stage])
irradiances = st.floats(1e-3, 1e6)
hours_of_use = st.floats(0.1, 1e5)


@settings(max_examples=40)
@given(logs(), fitting, st.floats(0.05, 0.999))
def test_hours_until_and_output_at_undo_each_other(log, fitted, share):
    fit = fitted(*log)
    fraction = float(fit["initial"]) * share
    hours = float(hours_until(fit, fraction))
    assume(np.isfinite(hours))
    assert float(output_at(fit, hours)) == pytest.approx(fraction, rel=CLOSE)


@settings(max_examples=40)
@given(logs(), fitting, st.floats(1e-3, 1e3), st.floats(0.1, 10))
def test_units_of_output_and_hours_do_not_matter(log, fitted, scale, stretch):
    hours, output = log
    one, other = fitted(hours, output), fitted(stretch * hours, scale * output)
    assume("chance" not in one or one["residual"].std() > 1e-9)
    far = 2 * hours[-1]
    expected = scale * float(output_at(one, far))
    assert float(output_at(other, stretch * far)) == pytest.approx(expected, rel=1e-6)


@settings(max_examples=40)
@given(logs(), fitting, st.integers(1, 3), st.booleans())
def test_a_log_that_comes_in_parts_is_fitted_like_the_whole(log, fitted, parts, again):
    hours, output = log
    cut = hours.size - parts if fitted is fit_ageing else max(hours.size - parts, 6)
    assume(cut < hours.size)
    start = 0 if again else cut
    later = updated(fitted(hours[:cut], output[:cut]), hours[start:], output[start:])
    xr.testing.assert_identical(later.drop_vars("change"), fitted(hours, output))


@settings(max_examples=40)
@given(logs())
def test_a_break_never_leaves_more_than_none(log):
    hours, output = log
    rows = np.log(output)[None]
    start, slope = straight_line(hours, rows)
    left = ((rows - start[:, None] - slope[:, None] * hours) ** 2).sum()
    found = broken_line(hours, rows)
    assert found.squares[0] <= left * (1 + CLOSE) + 1e-25
    assert hours[1] - 1e-6 <= found.bend[0] <= hours[-3] + 1e-6


@settings(max_examples=60)
@given(irradiances, irradiances, st.sampled_from([0.01, 0.005, 0.02, 0.05, 0.1]))
def test_a_setting_is_the_smallest_that_is_enough(required, full, step):
    setting = float(setting_for(required, full, step))
    if np.isinf(setting):
        assert full < required * (1 + CLOSE)
        return
    assert setting * full >= required * (1 - CLOSE)
    assert (setting - step) * full < required * (1 + CLOSE)
    assert float(headroom(required, full)) >= -CLOSE


@settings(max_examples=30)
@given(logs(), fitting, irradiances, st.floats(0.5, 3))
def test_a_plan_holds_the_level_until_regulation_ends(log, fitted, required, times):
    hours, output = log
    today = hours[-1] / 2
    plan = level_plan(fitted(hours, output), required, times * required, today, 3 * hours[-1], hours[-1] / 7)
    held = np.isfinite(plan["setting"].values)
    assert (plan["margin"].values[held] > -CLOSE).all()
    assert (plan["margin"].values[~held] < CLOSE).all()
    before = plan["hours"].values < float(plan["regulation_ends"]) * (1 - CLOSE)
    assert held[before].all()
    assert (plan["irradiance"] <= plan["full_output"] * (1 + CLOSE)).all()


@settings(max_examples=60)
@given(st.floats(0, 1e5), hours_of_use, st.floats(1, 8784), st.floats(0.1, 30))
def test_changes_follow_on_one_another(left, new, yearly, years):
    """Counting one by one, and in the long run as many as the hours ask for."""
    assume(yearly * years / new < 1000)
    at, count = left, 0
    while at <= yearly * years * (1 + CLOSE) and count < 2000:
        at, count = at + new, count + 1
    changes = float(relamp_plan(left, new, yearly, years)["changes"])
    assert abs(changes - count) <= (abs(at - new - yearly * years) < 1e-6 * (1 + at))
    assert changes <= 1 + yearly * years / new + CLOSE


@settings(max_examples=40)
@given(
    *[st.floats(0, 1e4)] * 2, *[st.floats(0, 1e3)] * 3, hours_of_use, st.floats(0.1, 10), st.floats(0.1, 10)
)
def test_costs_add_up(power, yearly, energy, lamp, disposal, lasts, first, second):
    yearly = min(yearly, 8784)
    one, other, both = (
        running_cost(power, yearly, energy, lamp, lasts, disposal, years, mercury=20)
        for years in (first, second, first + second)
    )
    for name in both.data_vars:
        assert float(both[name]) == pytest.approx(float(one[name] + other[name]), rel=CLOSE)
    parts = both["energy_cost"] + both["lamp_cost"] + both["disposal_cost"]
    assert float(both["total"]) == pytest.approx(float(parts), rel=CLOSE)
