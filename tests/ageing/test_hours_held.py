"""What is left of the light that a source gives today, and for how long that is enough."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from scipy.optimize import brentq

from spectralbench.ageing import (
    drawn,
    fit_ageing,
    fit_two_stage,
    hours_held,
    hours_until,
    output_at,
    output_left,
)
from spectralbench.errors import RangeError, UnitsError

HOURS = np.array([0.0, 200, 450, 1000, 2000, 3000, 4000, 5000])  # invented
OUTPUT = 0.98 * np.exp(-3e-4 * np.minimum(HOURS, 500) - 2e-5 * np.maximum(HOURS - 500, 0))
SCATTER = np.array([1, 1.004, 0.997, 1.002, 0.998, 1.003, 0.999, 1.001])
ONE, TWO = fit_ageing(HOURS, OUTPUT * SCATTER), fit_two_stage(HOURS, OUTPUT * SCATTER)
BOTH = pytest.mark.parametrize("fit", [ONE, TWO], ids=["one stage", "two stages"])


def changed(fit, **values):
    return fit.assign({name: xr.DataArray(value) for name, value in values.items()})


@BOTH
@pytest.mark.parametrize("today", [0.0, 300.0, float(TWO["early_until"]), 2500.0, 9000.0])
@pytest.mark.parametrize("share", [0.999, 0.95, 0.5])
def test_it_is_where_the_light_meets_what_is_required(fit, today, share):
    """A search by SciPy for the hour at which full output has fallen so far is the judge."""
    expected = brentq(lambda hours: float(output_at(fit, hours) / output_at(fit, today)) - share, today, 1e6)
    held = hours_held(fit, share * 2e4, 2e4, today)
    assert held.item() == pytest.approx(expected - today, rel=1e-7)
    assert held.attrs["units"] == "h"
    assert output_left(fit, today + held, today).item() == pytest.approx(share)


@BOTH
def test_from_a_new_source_on_it_is_the_hours_until_a_fraction(fit):
    new = float(fit["initial"])
    assert hours_held(fit, "0.7 W/cm2", f"{new} W/cm2", 0).item() == pytest.approx(
        hours_until(fit, 0.7).item()
    )


@BOTH
def test_too_weak_today_dark_and_not_known(fit):
    full = xr.DataArray([99.0, 0.0, -1.0, np.nan, 101.0], dims="draw")
    found = hours_held(fit, 100.0, full, 1000).values
    assert found[:3].tolist() == [0.0, 0.0, 0.0]
    assert np.isnan(found[3])
    assert 0 < found[4] < np.inf
    assert np.isnan(hours_held(fit, np.nan, 100.0, 1000))


@pytest.mark.parametrize("spare", [1.0, 1.1, np.inf])
@pytest.mark.parametrize(
    "fit",
    [
        changed(ONE, rate=0.0),
        changed(ONE, rate=-1e-5),
        changed(TWO, early_rate=1e-6, late_rate=0.0),
        changed(TWO, early_rate=-1e-6, late_rate=-1e-7),
    ],
)
def test_what_never_falls_so_far_holds_for_ever(fit, spare):
    today = 0.0 if spare > 1 else 1000.0
    assert hours_held(fit, 100.0, 100 * spare, today).item() == np.inf
    assert hours_held(fit, 100.0, 99.0, today).item() == 0.0


def test_just_enough_today_and_falling_holds_no_longer():
    for fit in (ONE, TWO):
        assert hours_held(fit, 100.0, 100.0, 1000).item() == 0.0


@BOTH
def test_draws_sources_and_hours_broadcast_like_one_by_one(fit):
    draws = drawn(fit, 50, seed=1)
    full = xr.DataArray([110.0, 100.0, 300.0], dims="source") * xr.DataArray(
        np.linspace(0.9, 1.1, 50), dims="draw"
    )
    today = xr.DataArray([100.0, 2000.0], dims="moment")
    held, left = hours_held(draws, 100.0, full, today), output_left(draws, 6000, today)
    assert held.sizes == {"draw": 50, "source": 3, "moment": 2}
    for i, source, moment in ((0, 2, 0), (49, 0, 1), (20, 1, 0)):
        one = draws.isel(draw=i)
        alone = hours_held(one, 100.0, full[source, i], today[moment])
        assert held.isel(draw=i, source=source, moment=moment).item() == pytest.approx(alone.item())
        expected = output_at(one, 6000) / output_at(one, today[moment])
        assert left.isel(draw=i, moment=moment).item() == pytest.approx(expected.item())


@BOTH
def test_how_far_beyond_the_log_it_ends_is_said(fit):
    assert "comment" not in hours_held(fit, 99.9, 100.0, 1000).attrs
    assert hours_held(fit, 50.0, 100.0, 1000).attrs["comment"].startswith("extrapolated to ")
    said = "extrapolated to 2 times the last hour of the log, 5000 h"
    assert output_left(fit, "10000 h", "1000 h").attrs == {
        "units": "1",
        "long_name": "output against that of today",
        "comment": said,
    }


def test_draws_of_a_short_log_that_go_far_out_stay_numbers():
    """Three points leave one degree of freedom: among draws some are beyond what a double holds."""
    fit = drawn(fit_ageing([0, 1000, 2000], [1.0, 0.5, 0.9]), 20_000, seed=1)
    far = fit["rate"] * 2000
    assert far.min() < -800
    assert far.max() > 800
    for found in (
        output_at(fit, 2000),
        output_at(fit, 6000),
        output_left(fit, 6000, 2000),
        hours_until(fit, 0.5),
        hours_held(fit, 100.0, 110.0, 2000),
    ):
        assert not found.isnull().any()


@pytest.mark.parametrize("required", [0.0, -5.0])
def test_nothing_required(required):
    with pytest.raises(RangeError, match=f"the irradiance required is above 0, not {required:g} W m-2"):
        hours_held(ONE, required, 100.0, 0)


def test_other_units():
    with pytest.raises(UnitsError, match=r"hours_held\(\): hours_today: "):
        hours_held(ONE, 1.0, 1.0, "5 m")
