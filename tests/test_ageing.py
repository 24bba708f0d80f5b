"""Output against hours: the fit, and what it says of the hours to come."""

from __future__ import annotations

import numpy as np
import pytest

from spectralbench.ageing import fit_ageing, hours_until, output_at
from spectralbench.errors import RangeError

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


def test_hours_until_a_fraction():
    assert hours_until(FALLING, 0.48).item() == pytest.approx(np.log(2) / 2e-4)
    assert hours_until(FALLING, 0.97).item() == 0.0  # it starts below
    assert hours_until(FALLING, 0.7).attrs == {"units": "h", "long_name": "hours until 70% of the output"}


@pytest.mark.parametrize("output", [[1.0, 1.0, 1.0, 1.0], [1.0, 1.1, 1.2, 1.3]])
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
