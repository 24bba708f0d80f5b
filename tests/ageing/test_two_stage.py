"""Two stages: found where they are, believed only where one does not do, and as sure as they say."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import drawn, fit_ageing, fit_two_stage, hours_until, output_at
from spectralbench.ageing.broken_line import broken_line
from spectralbench.errors import RangeError

HOURS = np.array([0.0, 200, 450, 1000, 2000, 3000, 4000, 5000])  # invented
EARLY, LATE, UNTIL = 3e-4, 2e-5, 500.0
LOGS, DRAWS = 400, 200


def truth(hours):
    return 0.98 * np.exp(-EARLY * np.minimum(hours, UNTIL) - LATE * np.maximum(hours - UNTIL, 0))


def scattered(output, scatter=0.005, seed=1):
    """Many logs of one truth, along ``log``."""
    noise = scatter * np.random.default_rng(seed).standard_normal((LOGS, output.size))
    return xr.DataArray(output * np.exp(noise), dims=("log", "hours"))


FIT = fit_two_stage(HOURS, truth(HOURS))


def test_exact_stages_are_found():
    assert FIT["initial"].item() == pytest.approx(0.98)
    assert FIT["early_rate"].item() == pytest.approx(EARLY)
    assert FIT["late_rate"].item() == pytest.approx(LATE)
    assert FIT["early_until"].item() == pytest.approx(UNTIL)
    assert FIT["better"].item() == 2
    assert FIT["residual"].values == pytest.approx(np.zeros(8), abs=1e-12)
    assert [FIT[name].attrs["units"] for name in ("early_rate", "late_rate", "early_until")] == [
        "h-1",
        "h-1",
        "h",
    ]


def test_a_break_at_a_point_of_the_log_is_found():
    hours = np.array([0.0, 250, 500, 1000, 2000, 3000])
    assert fit_two_stage(hours, truth(hours))["early_until"].item() == pytest.approx(UNTIL)


def test_order_and_series_do_not_matter():
    shuffled = [5, 0, 7, 2, 1, 6, 3, 4]
    both = np.stack([truth(HOURS), 2 * np.exp(-1e-4 * HOURS)])
    fit = fit_two_stage(HOURS[shuffled], xr.DataArray(both[:, shuffled], dims=("source", "hours")))
    assert fit["early_until"].dims == ("source",)
    assert fit["early_until"][0].item() == pytest.approx(UNTIL)
    assert fit["late_rate"][1].item() == pytest.approx(1e-4)
    assert fit["better"].values.tolist() == [2, 1]
    assert fit["residual"].values == pytest.approx(np.zeros((2, 8)), abs=1e-12)
    again = drawn(fit.isel(source=0), 3, seed=1)
    assert again["late_rate"].values == pytest.approx([LATE] * 3)


def test_output_goes_down_stage_by_stage():
    at = xr.DataArray([0.0, 250, 500, 8000], dims="hours")
    assert output_at(FIT, at).values == pytest.approx(truth(at.values))
    assert output_at(FIT, "8000 h").attrs["comment"].startswith("extrapolated to 1.6 times")


def test_hours_until_lie_in_either_stage():
    for hours in (100.0, 500.0, 9000.0):
        assert hours_until(FIT, float(truth(hours))).item() == pytest.approx(hours)
    assert hours_until(FIT, 0.99).item() == 0.0


@pytest.mark.parametrize(("early", "late"), [(1e-4, 0.0), (1e-4, -1e-5), (-1e-4, -1e-5)])
def test_what_does_not_fall_any_more_never_gets_there(early, late):
    stages = FIT.assign(early_rate=FIT["early_rate"] * 0 + early, late_rate=FIT["late_rate"] * 0 + late)
    assert hours_until(stages, 0.5).item() == np.inf


def test_a_source_that_gains_first_falls_later():
    gains = FIT.assign(early_rate=-FIT["early_rate"])
    expected = UNTIL + (np.log(0.98 / 0.5) + EARLY * UNTIL) / LATE
    assert hours_until(gains, 0.5).item() == pytest.approx(expected)


def test_one_stage_is_rarely_taken_for_two():
    """By construction in 5 of 100 logs; of 400 logs, 20 ± 4.4."""
    found = fit_two_stage(HOURS, scattered(np.exp(-5e-5 * HOURS)))["better"].values
    assert 8 <= np.sum(found == 2) <= 33


def test_two_stages_are_seen_where_they_stand_out():
    assert (fit_two_stage(HOURS, scattered(truth(HOURS)))["better"] == 2).mean() > 0.95
    unclear = fit_two_stage(HOURS, scattered(truth(HOURS), scatter=0.1))
    assert (unclear["better"] == 2).mean() < 0.3


def covered(hours, scatter_stated=1.0):
    """Share of logs of which intervals of 95 % cover the truth: output beyond the log, hours until."""
    logs = scattered(truth(hours))
    fit = fit_two_stage(hours, logs)
    fit["residual"] = scatter_stated * fit["residual"]
    draws = drawn(fit, DRAWS, seed=2)
    far = 1.5 * hours.max()
    for found, true in ((output_at(draws, far), truth(far)), (hours_until(draws, truth(far)), far)):
        low, high = np.quantile(found.transpose("draw", ...).values, [0.025, 0.975], axis=0, method="nearest")
        yield ((low <= true) & (true <= high)).mean()


@pytest.mark.parametrize("hours", [HOURS, HOURS[[0, 1, 3, 4, 6, 7]]], ids=["8 points", "6 points"])
def test_intervals_cover_the_truth(hours):
    """Of 400 logs, 95 % ± 1.1 %; a break that is not known costs a little of that."""
    for share in covered(hours):
        assert 0.91 <= share <= 0.98


def test_they_do_not_where_scatter_is_understated():
    """The test above is able to fail."""
    for share in covered(HOURS, scatter_stated=0.4):
        assert share < 0.8


def test_a_loss_that_slows_down_gradually_errs_on_the_side_of_caution():
    gradual = 0.12 * np.exp(-HOURS / 350) + 0.88 * np.exp(-2e-5 * HOURS)
    later = 0.12 * np.exp(-10_000 / 350) + 0.88 * np.exp(-0.2)
    found = output_at(fit_two_stage(HOURS, gradual), 10_000).item()
    assert 0.97 * later < found < later
    assert output_at(fit_ageing(HOURS, gradual), 10_000).item() < 0.9 * later  # one stage is far off


@pytest.mark.parametrize("fitted", [fit_ageing, fit_two_stage])
def test_the_same_seed_gives_the_same_draws(fitted):
    fit = fitted(HOURS, scattered(truth(HOURS))[:2])
    found = drawn(fit, 5, seed=3)
    xr.testing.assert_identical(found, drawn(fit, 5, seed=3))
    xr.testing.assert_identical(found, drawn(drawn(fit, 7, seed=4), 5, seed=3))
    assert not found["initial"].equals(drawn(fit, 5, seed=4)["initial"])
    assert found["initial"].dims == ("draw", "log")
    assert {name: array.attrs for name, array in found.items()} == {
        name: array.attrs for name, array in fit.items()
    }


def test_the_number_of_stages_to_believe_does_not_depend_on_the_day():
    logs = scattered(truth(HOURS), scatter=0.05)
    xr.testing.assert_identical(fit_two_stage(HOURS, logs), fit_two_stage(HOURS, logs))
    alone = fit_two_stage(HOURS, logs[7])
    assert alone["chance"].item() == fit_two_stage(HOURS, logs)["chance"][7].item()


@pytest.mark.parametrize("points", [5, 9])
def test_nothing_is_better_than_what_is_found(points):
    """Against all breaks on a fine grid, each by the general least squares of NumPy."""
    random = np.random.default_rng(7)
    x, y = np.sort(random.uniform(0, 10, points)), random.standard_normal((5, points))
    found = broken_line(x, y)
    breaks = np.linspace(x[1], x[-3], 1500)
    columns = [
        np.stack([np.ones(points), np.minimum(x, place), np.maximum(x - place, 0)], axis=1)
        for place in breaks
    ]
    for i in range(5):
        squares = [((y[i] - c @ np.linalg.lstsq(c, y[i])[0]) ** 2).sum() for c in columns]
        assert found.squares[i] <= min(squares) + 1e-12
        assert found.squares[i] == pytest.approx(min(squares), rel=1e-3)


@pytest.mark.parametrize("hours", [[0, 1, 2, 3, 4], [0, 1, 2, 3, 4, 4, 4]])
def test_a_log_that_is_too_short(hours):
    with pytest.raises(RangeError, match="an ageing log needs 6 different hours or more, not 5"):
        fit_two_stage(hours, np.ones(len(hours)))
