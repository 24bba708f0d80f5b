"""When lamps are changed."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import relamp_plan
from spectralbench.errors import RangeError, UnitsError

TODAY = "2026-01-01"


def test_changes_are_counted_up_to_the_horizon():
    """2,000 h a year: changes after 500, 3500, 6500, 9500 h of the 10,000 h of five years."""
    plan = relamp_plan("500 h", "3000 h", "2000 h", "5 years")
    assert plan["next_change"].item() == 0.25
    assert plan["changes"].item() == 4
    assert plan["changes_per_year"].item() == pytest.approx(2 / 3)
    assert "next_date" not in plan
    assert plan["next_change"].attrs["units"] == "year"
    assert plan.attrs["comment"] == "every lamp is taken to age like the one measured"


@pytest.mark.parametrize(
    ("left", "new", "changes"),
    [
        (10_000.0, 3000.0, 1),  # at the horizon itself
        (10_001.0, 3000.0, 0),
        (4000.0, 3000.0, 3),  # the last one at the horizon
        (0.0, 3000.0, 4),  # one today
        (0.0, np.inf, 1),
        (np.inf, 3000.0, 0),
        (0.1, 0.1, 100_000),
    ],
)
def test_how_many(left, new, changes):
    assert relamp_plan(left, new, 2000.0, 5.0)["changes"].item() == changes


@pytest.mark.parametrize("today", [TODAY, datetime.date(2026, 1, 1), np.datetime64(TODAY, "h")])
def test_the_date_of_the_next_change(today):
    """A year has 365.25 days: a quarter of it 91.3, and 91 days after New Year's Day is 2 April."""
    plan = relamp_plan("500 h", "3000 h", "2000 h", 5, today=today)
    assert plan["next_date"].values == np.datetime64("2026-04-02")


def test_a_leap_year_without_a_pause_is_possible():
    assert relamp_plan(0.0, 8784.0, 8784.0, 2)["changes"].item() == 3


def test_beyond_the_horizon_there_is_no_date():
    left = xr.DataArray([0.0, 9999.0, 10_001.0, 1e300, np.inf, np.nan], dims="draw")
    plan = relamp_plan(left, 3000.0, 2000.0, 5, today=TODAY)
    assert np.isnat(plan["next_date"].values).tolist() == [False, False, True, True, True, True]
    assert plan["next_date"].values[0] == np.datetime64(TODAY)
    np.testing.assert_array_equal(plan["changes"], [4, 1, 0, 0, 0, np.nan])
    np.testing.assert_array_equal(plan["next_change"], [0, 4.9995, 5.0005, 5e296, np.inf, np.nan])


def test_a_lamp_that_is_never_on_is_never_changed():
    plan = relamp_plan(xr.DataArray([0.0, 10.0], dims="source"), 3000.0, 0.0, 5)
    assert plan["next_change"].values.tolist() == [0.0, np.inf]
    assert plan["changes"].values.tolist() == [1.0, 0.0]


def test_draws_and_sources_broadcast():
    left = xr.DataArray(np.linspace(0, 4000, 1000), dims="draw")
    new = xr.DataArray([3000.0, 20_000.0], dims="source")
    plan = relamp_plan(left, new, 2000.0, 5, today=TODAY)
    assert plan["changes"].sizes == {"draw": 1000, "source": 2}
    assert plan["next_date"].sizes == {"draw": 1000}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            (-1, 3000, 2000, 5),
            "hours that are left are at least 0, not -1 h: if the requirement is not met today",
        ),
        (
            (0, 0, 2000, 5),
            "a new lamp meets the requirement for more than 0 h, not 0 h: no change of lamps helps",
        ),
        ((0, 3000, 9000, 5), "a year has 0 to 8784 hours of use, not 9000"),
        ((0, 3000, -1, 5), "a year has 0 to 8784 hours of use, not -1"),
        ((0, 3000, 2000, 0), "a plan looks ahead by more than 0 years, and not for ever; not by 0"),
        ((0, 3000, 2000, np.inf), "not by inf"),
        ((0, 3000, 2000, 5, "soon"), 'today is a date such as 2026-01-31, not "soon"'),
        ((0, 3000, 2000, 5, ""), 'today is a date such as 2026-01-31, not ""'),
    ],
)
def test_plans_that_make_no_sense(arguments, said):
    with pytest.raises(RangeError, match=said):
        relamp_plan(*arguments)


def test_hours_in_metres():
    with pytest.raises(UnitsError, match=r"relamp_plan\(\): hours_left: "):
        relamp_plan("500 m", 3000, 2000, 5)
