"""Output against hours: the fit, and what it says of the hours to come."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import drawn, extrapolation, fit_ageing, hours_until, output_at
from spectralbench.errors import RangeError, UnitsError

HOURS = np.array([0.0, 500.0, 1500.0, 4000.0])
FALLING = fit_ageing(HOURS, 0.96 * np.exp(-2e-4 * HOURS))


def test_an_exact_decay_is_found():
    assert FALLING["initial"].item() == pytest.approx(0.96)
    assert FALLING["rate"].item() == pytest.approx(2e-4)
    assert FALLING["rate"].attrs["units"] == "h-1"
    assert FALLING["residual"].values == pytest.approx(np.zeros(4), abs=1e-14)
    assert FALLING["longest"].item() == 4000.0


def test_several_series_at_once():
    fit = fit_ageing(HOURS, np.stack([np.exp(-1e-4 * HOURS), 2 * np.exp(1e-5 * HOURS)]))
    assert fit["rate"].values == pytest.approx([1e-4, -1e-5])
    assert hours_until(fit, 0.5).values == pytest.approx([np.log(2) / 1e-4, np.inf])


def test_output_at_an_hour():
    assert output_at(FALLING, 5000.0).item() == pytest.approx(0.96 * np.exp(-1.0))


def test_hours_come_with_their_unit():
    assert output_at(FALLING, "300000 min").item() == output_at(FALLING, 5000.0).item()
    with pytest.raises(UnitsError, match=r"output_at\(\): hours: "):
        output_at(FALLING, "3000 m")


def test_the_log_stays_with_its_fit():
    output = xr.DataArray([3.0, 2.8, 2.5, 2.0], dims="hours", attrs={"units": "mW/cm2"})
    fit = fit_ageing(HOURS, output)
    assert fit["output"].values.tolist() == output.values.tolist()
    assert fit["output"].attrs["units"] == "mW/cm2"
    assert "units" not in fit_ageing(HOURS, output.values)["output"].attrs


def test_the_first_hours_may_be_left_out():
    hours = np.array([0.0, 400, 1000, 2000, 3000])
    output = np.where(hours < 1000, 1.3, 1.0) * np.exp(-1e-4 * hours)
    fit = fit_ageing(hours, output, since="1000 h")
    assert fit["rate"].item() == pytest.approx(1e-4)
    assert fit["hours"].values.tolist() == [1000.0, 2000.0, 3000.0]
    with pytest.raises(RangeError, match="needs 3 different hours or more from 2000 h on, not 2"):
        fit_ageing(hours, output, since=2000)


def test_how_far_an_answer_lies_beyond_the_log():
    assert extrapolation(FALLING, "2000 h").item() == 0.5
    assert extrapolation(FALLING, xr.DataArray([4.0, 8.0], dims="hours")).values.tolist() == [1e-3, 2e-3]
    assert "comment" not in output_at(FALLING, 4000.0).attrs
    said = "extrapolated to 2.5 times the last hour of the log, 4000 h"
    assert output_at(FALLING, 10_000.0).attrs["comment"] == said
    guess = "extrapolated to 9.83 times the last hour of the log, 4000 h: beyond 6 times, take it for a guess"
    draws = drawn(FALLING, 50, seed=1)
    for fit in (FALLING, draws):
        assert hours_until(fit, 0.96 * np.exp(-2e-4 * 39_320)).attrs["comment"] == guess


def test_hours_until_several_fractions():
    fractions = xr.DataArray([97.0, 48.0], dims="source", attrs={"units": "%"})
    assert hours_until(FALLING, fractions).values == pytest.approx([0.0, np.log(2) / 2e-4])
    assert hours_until(FALLING, fractions).attrs["long_name"] == "hours until a fraction of the output"
    with pytest.raises(RangeError, match="a fraction of the output is above 0, not -1"):
        hours_until(FALLING, xr.DataArray([0.5, -1.0], dims="source"))


def test_hours_until_a_fraction():
    assert hours_until(FALLING, 0.48).item() == pytest.approx(np.log(2) / 2e-4)
    assert hours_until(FALLING, 0.97).item() == 0.0  # it starts below
    assert hours_until(FALLING, 0.7).attrs == {"units": "h", "long_name": "hours until 70% of the output"}


@pytest.mark.parametrize("output", [[1.0] * 4, [0.7] * 4, [0.93] * 4, [1.0, 1.1, 1.2, 1.3]])
def test_what_does_not_fall_never_gets_there(output):
    assert hours_until(fit_ageing(HOURS, output), 0.5).item() == np.inf


@pytest.mark.parametrize("fraction", [0.0, -0.5, np.nan])
def test_a_fraction_of_nothing(fraction):
    with pytest.raises(RangeError, match="a fraction of the output is above 0, not"):
        hours_until(FALLING, fraction)


@pytest.mark.parametrize(
    ("hours", "output", "said"),
    [
        ([0, 1, 2], [1, 1], r"different lengths: \(3,\) and \(2,\)"),
        ([[0, 1, 2]], [1, 1, 1], "different lengths"),
        ([], [], "3 different hours or more, not 0"),
        ([0, 1], [1, 1], "3 different hours or more, not 2"),
        ([0, 1, 1, 1], [1, 1, 1, 1], "3 different hours or more, not 2"),
        ([-1, 1, 2], [1, 1, 1], "the hours in an ageing log are numbers of at least 0"),
        ([0, 1, np.inf], [1, 1, 1], "the hours in an ageing log are numbers of at least 0"),
        ([0, 1, 2], [1, 0, 1], "the output in an ageing log is above 0, not 0"),
        ([0, 1, 2], [1, -0.5, 1], "above 0, not -0.5"),
        ([0, 1, 2], [np.nan] * 3, "above 0, not nan"),
    ],
)
def test_a_log_that_is_none(hours, output, said):
    with pytest.raises(RangeError, match=said):
        fit_ageing(hours, output)
