"""Headroom and settings, and the plan that holds a level while the source ages."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import (
    drawn,
    fit_ageing,
    fit_two_stage,
    headroom,
    hours_until,
    level_plan,
    output_at,
    setting_for,
)
from spectralbench.errors import GridError, RangeError, UnitsError

HOURS = np.arange(0.0, 3001, 500)
FIT = fit_ageing(HOURS, np.exp(-2e-4 * HOURS))  # invented
PLAN = level_plan(FIT, "2 W/cm2", "2.5 W/cm2", "1000 h", "3000 h", every="500 h")


@pytest.mark.parametrize("hundredths", [1, 7, 29, 57, 58, 99, 100])
def test_a_setting_that_is_just_enough_is_not_rounded_up(hundredths):
    """0.07/0.01 is a little more than 7 in binary, and 0.29/0.01 a little less than 29."""
    assert setting_for(hundredths / 100, 1.0).item() == hundredths / 100
    assert setting_for(hundredths / 100 * 30_000, 30_000).item() == hundredths / 100


def test_settings_are_rounded_up():
    assert setting_for(701.0, 1000.0).item() == 0.71
    assert setting_for("1 mW/cm2", "1 W/cm2").item() == 0.01
    assert setting_for(701.0, 1000.0, step="5 %").item() == 0.75
    assert setting_for(701.0, 1000.0).attrs == {"units": "1", "long_name": "setting"}


def test_where_no_setting_is_enough():
    full = xr.DataArray([1000.0, 1001.0, 999.0, 0.0, np.nan], dims="draw")
    np.testing.assert_array_equal(setting_for(1000.0, full), [1.0, 1.0, np.inf, np.inf, np.nan])
    np.testing.assert_array_equal(setting_for(0.0, full), [0.0, 0.0, 0.0, 0.0, np.nan])


def test_headroom_is_what_is_left_over():
    available = xr.DataArray([3.0, 1.0, 0.5], dims="source", attrs={"units": "W/cm2"})
    assert headroom("1 W/cm2", available).values == pytest.approx([2.0, 0.0, -0.5])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: setting_for(-1.0, 1.0), "an irradiance required is not negative; this one is -1 W m-2"),
        (lambda: setting_for(1.0, -2.0), "an irradiance available is not negative; this one is -2 W m-2"),
        (lambda: headroom(1.0, -2.0), "an irradiance available is not negative"),
        (
            lambda: headroom(0.0, 2.0),
            "headroom over a required irradiance of 0 says nothing: give one above 0",
        ),
        (
            lambda: setting_for(1.0, 2.0, 0.03),
            "a whole number of steps makes 100 %, and 0.03 is no such step",
        ),
        (lambda: setting_for(1.0, 2.0, 0.0), "and 0 is no such step"),
        (lambda: setting_for(1.0, 2.0, -0.5), "and -0.5 is no such step"),
        (lambda: setting_for(1.0, 2.0, 2.0), "and 2 is no such step"),
        (lambda: setting_for(1.0, 2.0, np.nan), "and nan is no such step"),
        (
            lambda: level_plan(FIT, 1, 2, 3000, 3000),
            "a plan runs from the hours of today to later ones, in at most",
        ),
        (lambda: level_plan(FIT, 1, 2, 0, 3000, every=0), "not from 0 h to 3000 h every 0 h"),
        (lambda: level_plan(FIT, 1, 2, 0, "3000 h", every="1 s"), "in at most 10000 strides"),
        (lambda: level_plan(FIT, 0, 2, 0, 3000), "the irradiance required is above 0, not 0 W m-2"),
        (lambda: level_plan(FIT, 1, 0, 0, 3000), "the irradiance at full output is above 0, not 0 W m-2"),
    ],
)
def test_what_makes_no_sense(call, said):
    with pytest.raises(RangeError, match=said):
        call()


def test_an_irradiance_in_joules():
    with pytest.raises(UnitsError, match=r"setting_for\(\): required: "):
        setting_for("1 J/cm2", 2.0)


def test_a_plan_holds_the_level_as_long_as_it_can():
    """Closed form: 25,000 exp(-2e-4 (h - 1000)) W/m², of which 20,000 are required."""
    at = np.array([1000.0, 1500, 2000, 2500, 3000])
    full = 25_000 * np.exp(-2e-4 * (at - 1000))
    assert PLAN["hours"].values.tolist() == at.tolist()
    assert PLAN["full_output"].values == pytest.approx(full)
    assert PLAN["setting"].values.tolist() == [0.8, 0.89, 0.98, np.inf, np.inf]
    assert PLAN["irradiance"].values == pytest.approx([20_000, 0.89 * full[1], 0.98 * full[2], *full[3:]])
    assert PLAN["margin"].values == pytest.approx(PLAN["irradiance"].values / 20_000 - 1)
    assert (PLAN["margin"].values[:3] > -1e-12).all()
    assert (PLAN["margin"].values[3:] < 0).all()
    assert PLAN["regulation_ends"].item() == pytest.approx(1000 + np.log(1.25) / 2e-4)
    assert PLAN["extrapolation"].values.tolist() == (at / 3000).tolist()


def test_regulation_ends_when_the_fraction_that_is_needed_is_reached():
    fraction = 20_000 / 25_000 * output_at(FIT, 1000)
    assert PLAN["regulation_ends"].item() == pytest.approx(hours_until(FIT, fraction).item())


@pytest.mark.parametrize(
    ("rate", "required", "ends"),
    [(2e-4, 3.0, 1000.0), (-1e-4, 2.0, np.inf), (-1e-4, 3.0, 1000.0)],
    ids=["too weak today", "grows", "grows, and too weak today"],
)
def test_regulation_that_never_ends_or_has_ended(rate, required, ends):
    fit = fit_ageing(HOURS, np.exp(-rate * HOURS))
    plan = level_plan(fit, required, 2.5, 1000, 2000)
    assert plan["regulation_ends"].item() == ends


def test_what_is_not_known_stays_so():
    plan = level_plan(FIT, 1.0, xr.DataArray([2.0, np.nan], dims="source"), 1000, 2000)
    for name in ("full_output", "setting", "irradiance", "margin", "regulation_ends"):
        assert plan[name].isnull().isel(source=1).all()
        assert not plan[name].isnull().isel(source=0).any()


def test_two_stages_are_seen_from_today():
    """It gains until 500 h and falls then: from today on, not from the new source on."""
    hours = np.array([0.0, 250, 500, 1000, 2000, 3000])
    fit = fit_two_stage(hours, np.exp(2e-4 * np.minimum(hours, 500) - 1e-4 * np.maximum(hours - 500, 0)))
    for today in (100.0, 500.0, 700.0):
        now = 1e4 * float(output_at(fit, today))
        expected = float(500 + (0.1 - np.log(0.9)) / 1e-4)  # 0.9 of the new source's output
        plan = level_plan(fit, 0.9 * 1e4, now, today, 3000)
        assert plan["regulation_ends"].item() == pytest.approx(expected)


def test_the_last_line_is_the_end():
    assert level_plan(FIT, 1, 2, 0, 250)["hours"].values.tolist() == [0.0, 100.0, 200.0, 250.0]
    assert level_plan(FIT, 1, 2, 0, 0.3, every=0.1)["hours"].values == pytest.approx([0, 0.1, 0.2, 0.3])


def test_a_plan_says_how_far_it_looks_beyond_the_log():
    assert not any("comment" in array.attrs for array in PLAN.values())
    far = level_plan(FIT, 1.0, 2.5, 1000, 6000)
    assert far["full_output"].attrs["comment"].startswith("extrapolated to 2 times the last hour of the log")
    assert far["regulation_ends"].attrs["comment"].startswith("extrapolated to 1.86 times")


def test_energy_follows_the_setting_of_an_led_and_not_of_an_arc():
    arguments = (FIT, "2 W/cm2", "2.5 W/cm2", "1000 h", "3000 h", "500 h")
    led = level_plan(*arguments, electrical_power="100 W")
    arc = level_plan(*arguments, electrical_power="0.1 kW", power_follows_setting=False)
    assert led["power"].values == pytest.approx([80, 89, 98, 100, 100])
    assert arc["power"].values.tolist() == [100.0] * 5
    kilowatt_hours = np.array([0, 42.25, 46.75, 49.5, 50]).cumsum()
    assert led["energy"].values == pytest.approx(3.6e6 * kilowatt_hours)
    assert arc["energy"].values[-1] == pytest.approx(3.6e6 * 200)
    assert led["energy"].attrs["units"] == "J"
    assert "power" not in PLAN


@pytest.mark.parametrize("fitted", [fit_ageing, fit_two_stage])
def test_draws_and_sources_go_through(fitted):
    log = np.exp(-2e-4 * HOURS) * [1, 1.01, 0.99, 1, 1.01, 0.99, 1]
    draws = drawn(fitted(HOURS, log), 1000, seed=1)
    full = xr.DataArray([25_000.0, 30_000.0], dims="source") + xr.DataArray(
        np.random.default_rng(2).normal(0, 500, 1000), dims="draw"
    )
    plan = level_plan(draws, 20_000.0, full, 1000, 3000, electrical_power=100.0)
    assert set(plan["setting"].dims) == {"draw", "source", "hours"}
    one = level_plan(draws.isel(draw=3), 20_000.0, full[1, 3], 1000, 3000, electrical_power=100.0)
    for name in one.data_vars:
        picked = plan[name].isel({d: i for d, i in (("source", 1), ("draw", 3)) if d in plan[name].dims})
        np.testing.assert_allclose(picked, one[name], rtol=1e-12)
    assert np.isinf(plan["setting"]).any()
    assert np.isfinite(plan["setting"]).any()
    with pytest.raises(GridError, match="the arguments do not fit together"):
        level_plan(draws, 20_000.0, full.isel(draw=slice(10)), 1000, 3000)
