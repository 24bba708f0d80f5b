"""Measurements that come later: what is refitted, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import (
    drawn,
    fit_ageing,
    fit_two_stage,
    output_at,
    split_at_relamps,
    updated,
)
from spectralbench.errors import RangeError, UnitsError

HOURS, OUTPUT = [0.0, 1000.0, 2000.0], [1.0, 0.91, 0.81]  # invented
FIT = fit_ageing(HOURS, OUTPUT)


def test_the_whole_log_is_fitted():
    later = updated(FIT, [3000.0, 4000.0], [0.72, 0.64])
    whole = fit_ageing([*HOURS, 3000, 4000], [*OUTPUT, 0.72, 0.64])
    xr.testing.assert_identical(later.drop_vars("change"), whole)
    expected = output_at(whole, 4000).item() / output_at(FIT, 4000).item() - 1
    assert later["change"].item() == expected
    assert later["change"].attrs["units"] == "1"


def test_what_was_foretold_changes_nothing():
    exact = fit_ageing(HOURS, np.exp(-1e-4 * np.array(HOURS)))
    assert updated(exact, [5000], [np.exp(-0.5)])["change"].item() == pytest.approx(0, abs=1e-12)


def test_two_stages_stay_two_stages_and_draws_are_dropped():
    hours = np.array([0.0, 250, 500, 1000, 2000, 3000])
    output = np.exp(-3e-4 * np.minimum(hours, 400) - 2e-5 * np.maximum(hours - 400, 0))
    fit = drawn(fit_two_stage(hours, output), 10, seed=1)
    later = updated(fit, [4000], [0.80])
    whole = fit_two_stage([*hours, 4000], [*output, 0.80])
    xr.testing.assert_identical(later.drop_vars("change"), whole)


def test_a_measurement_given_again_counts_once():
    again = updated(FIT, [1000.0, 2000.0, 3000.0], [0.91, 0.81 + 1e-12, 0.72])
    xr.testing.assert_identical(again, updated(FIT, [3000.0], [0.72]))
    assert updated(FIT, HOURS, OUTPUT)["change"].item() == 0.0


def test_units_are_converted_to_those_of_the_log():
    log = xr.DataArray([10.0, 9.1, 8.1], dims="hours", attrs={"units": "W/cm2"})
    new = xr.DataArray([7200.0], dims="hours", attrs={"units": "mW/cm2"})
    hours = xr.DataArray([180_000.0], dims="hours", attrs={"units": "min"})
    later = updated(fit_ageing(HOURS, log), hours, new)
    assert later["output"].values[-1] == pytest.approx(7.2)
    assert later["hours"].values[-1] == 3000.0


@pytest.mark.parametrize(
    ("log_units", "units", "said"),
    [
        ("W/cm2", "W", 'cannot be converted to "W/cm2"'),
        (None, "W/cm2", 'the log has no unit, and the new output is in "W/cm2": fit the log with its unit'),
    ],
)
def test_units_that_do_not_fit(log_units, units, said):
    attrs = {} if log_units is None else {"units": log_units}
    fit = fit_ageing(HOURS, xr.DataArray(OUTPUT, dims="hours", attrs=attrs))
    with pytest.raises(UnitsError, match=said):
        updated(fit, [3000], xr.DataArray([0.7], dims="hours", attrs={"units": units}))


@pytest.mark.parametrize(
    ("hours", "output", "said"),
    [
        (
            [1500],
            [0.85],
            "hours go backwards, from 2000 h to 1500 h: if the lamp was changed, the new one has",
        ),
        ([3000, 2500, 4000], [0.7] * 3, "hours go backwards, from 3000 h to 2500 h"),
        ([2500, 3000, 2800], [0.7] * 3, "hours go backwards, from 3000 h to 2800 h"),
        ([2000, 3000], [0.80, 0.7], "the log has 0.81 at 2000 h, and now 0.8 is given for it: decide which"),
        ([3000], [[0.7], [0.7]], r"outputs of shape \(\) at each hour, and the measurements of shape \(2,\)"),
        ([3000], [0.0], "above 0, not 0"),
        ([], [], "needs 1 different hours or more, not 0"),
    ],
)
def test_what_cannot_be_joined(hours, output, said):
    with pytest.raises(RangeError, match=said):
        updated(FIT, hours, output)


def test_each_lamp_has_a_log_of_its_own():
    hours = np.arange(0.0, 6001, 1000)
    output = xr.DataArray(
        [[1.0, 0.9, 0.8, 1.0, 0.9, 0.8, 1.0]], dims=("channel", "hours"), attrs={"units": "W"}
    )
    lamps = split_at_relamps(hours, output, ["2500 h", 6000])
    assert [lamp["hours"].values.tolist() for lamp in lamps] == [[0, 1000, 2000], [500, 1500, 2500], [0]]
    assert lamps[1].values.tolist() == [[1.0, 0.9, 0.8]]
    assert lamps[1].dims == ("channel", "hours")
    assert lamps[1].attrs["units"] == "W"
    assert fit_ageing(lamps[1]["hours"], lamps[1])["longest"].item() == 2500.0


def test_a_log_in_per_cent_is_split_as_a_share():
    output = xr.DataArray([100.0, 90.0], dims="hours", attrs={"units": "%"})
    assert [lamp.item() for lamp in split_at_relamps([0, 1000], output, [500])] == [1.0, 0.9]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ([2000, 1000], r"hours above 0 in ascending order, not \[2000.0, 1000.0\]"),
        ([0], "hours above 0 in ascending order"),
        (
            [1200, 1500],
            "the lamp that ran from 1200 h to 1500 h of the counter has no measurement: leave out",
        ),
        ([2500], "the lamp that ran from 2500 h to inf h"),
    ],
)
def test_changes_that_are_none(changes, said):
    with pytest.raises(RangeError, match=said):
        split_at_relamps(HOURS, OUTPUT, changes)


@pytest.mark.parametrize("output", [72.9, 0.00729])
def test_a_measurement_in_other_units_is_refused(output):
    fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    with pytest.raises(RangeError, match="is one of them in per cent"):
        updated(fit, [3000], [output])
