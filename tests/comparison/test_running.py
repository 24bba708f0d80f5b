"""What a year takes of a source: hours, lamps, energy, mercury, money; by hand, with invented prices."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import fit_ageing
from spectralbench.comparison import (
    FIGURES,
    Course,
    Keeping,
    Requirement,
    lasting,
    needed_light,
    regulated,
    running,
)

NEEDED = Requirement(320, 430, minimum_irradiance=600.0, dose=1.0)
FIT = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])  # 0.9^(h / 1000)
ARC = Keeping(
    burns_on=True,
    end_of_life=3000.0,
    hours_per_year=2000.0,
    exposures_per_year=150_000.0,
    energy_price=0.25,
    lamp_price=400.0,
    disposal_price=12.0,
    mercury=20.0,
    currency="EUR",
)
LED = ARC._replace(burns_on=False, end_of_life=20000.0, lamp_price=2000.0, disposal_price=5.0, mercury=0.0)


def found(keeping=ARC, course=None, in_band=810.0, exposure=6.0, power=250.0, needed=NEEDED):
    """One source, whose light is 810 W m-2 after 2,000 h, so that it was 1,000 W m-2 when new."""
    known = {"band_irradiance": in_band, "exposure_time": exposure, "electrical_power": power}
    known |= {"dose_time": exposure, "photon_time": np.nan, "absorbed_photons": np.nan}
    figures = xr.Dataset(
        {name: xr.DataArray(np.asarray(value)).expand_dims(source=["one"]) for name, value in known.items()}
    )
    figures = figures.map(lambda array: array if array.ndim == 1 else array.rename(dim_0="draw"))
    courses = {} if course is None else {"one": course}
    figures = figures.assign(required_photons=np.nan)
    figures = regulated(lasting(needed_light(figures, needed), courses), courses)
    return running(figures, courses, {"one": keeping}).isel(source=0, drop=True)


OLD = Course(FIT, 2000.0, 3000.0)


def test_an_arc_by_hand():
    """It burns for the whole 2,000 h: 500 kWh, and two thirds of a lamp that is replaced after 3,000 h."""
    year = found(course=OLD)
    assert year.hours_on.item() == 2000.0
    assert year.energy_per_year.item() == pytest.approx(500.0)
    assert year.hours_of_new.item() == 3000.0  # 0.6 would be left after 4,848 h
    assert year.lamps_per_year.item() == pytest.approx(2 / 3)
    assert year.next_change.item() == pytest.approx(0.5)  # 1,000 h of 2,000
    assert year.mercury_per_year.item() == pytest.approx(20 * 2 / 3)
    assert year.cost_per_year.item() == pytest.approx(500 * 0.25 + 2 / 3 * (400 + 12))
    assert year.cost_per_year.attrs["units"] == "EUR"


def test_an_led_is_on_while_it_exposes():
    """150,000 exposures of 6 s are 250 h."""
    year = found(LED, Course(FIT, 2000.0, 20000.0))
    assert year.hours_on.item() == pytest.approx(250.0)
    assert year.energy_per_year.item() == pytest.approx(62.5)
    lasts = 1000 * np.log(0.6) / np.log(0.9)  # until 600 of 1,000 W m-2 are left
    assert year.hours_of_new.item() == pytest.approx(lasts)
    assert year.lamps_per_year.item() == pytest.approx(250 / lasts)
    assert year.next_change.item() == pytest.approx((lasts - 2000) / 250)
    assert year.mercury_per_year.item() == 0.0
    assert year.cost_per_year.item() == pytest.approx(62.5 * 0.25 + 250 / lasts * 2005)


def test_without_exposures_it_is_on_all_the_time():
    year = found(LED._replace(exposures_per_year=np.nan), OLD)
    assert year.hours_on.item() == 2000.0


def test_a_source_that_needs_longer_takes_more():
    quick, slow = (found(LED, OLD, exposure=seconds) for seconds in (6.0, 12.0))
    for name in ("hours_on", "energy_per_year", "lamps_per_year", "cost_per_year"):
        assert slow[name].item() == pytest.approx(2 * quick[name].item()), name
    assert slow.next_change.item() == pytest.approx(quick.next_change.item() / 2)


@pytest.mark.parametrize("exposure", [8784 * 3600 / 150_000 * 1.001, np.inf, np.nan])
def test_more_hours_than_a_year_has_are_not_known(exposure):
    """One source is not enough then, or nobody knows."""
    year = found(LED, OLD, exposure=exposure)
    for name in (
        "hours_on",
        "energy_per_year",
        "lamps_per_year",
        "next_change",
        "mercury_per_year",
        "cost_per_year",
    ):
        assert np.isnan(year[name]), name
    assert year.hours_of_new.item() == 3000.0  # which does not hang on it


def test_all_hours_that_the_bench_is_manned_are_known_and_no_more():
    """LED: 150,000 exposures in the 2,000 h of the year that are stated."""
    assert found(LED, OLD, exposure=2000 * 3600 / 150_000).hours_on.item() == pytest.approx(2000.0)
    assert np.isnan(found(LED, OLD, exposure=2001 * 3600 / 150_000).hours_on)


def test_an_arc_burns_on_whatever_the_exposure():
    assert found(course=OLD, exposure=np.inf).energy_per_year.item() == pytest.approx(500.0)


def test_a_source_that_is_too_weak_when_new_has_no_lamps_to_count():
    """405 W m-2 after 2,000 h were 500 when new, where 600 are required."""
    year = found(course=OLD, in_band=405.0)
    assert year.hours_of_new.item() == 0.0
    assert year.energy_per_year.item() == pytest.approx(500.0)
    for name in ("lamps_per_year", "mercury_per_year", "cost_per_year"):
        assert np.isnan(year[name]), name


def test_no_change_is_due_where_a_new_lamp_does_not_do_either():
    assert found(course=OLD, in_band=405.0).next_change.item() != 0.0


def test_a_source_that_is_too_weak_today_is_changed_now():
    """550 W m-2 were 679 when new: it lasts for 1,174 h."""
    year = found(course=OLD, in_band=550.0)
    lasts = 1000 * np.log(600 / (550 / 0.81)) / np.log(0.9)
    assert year.next_change.item() == 0.0
    assert year.hours_of_new.item() == pytest.approx(lasts)
    assert year.lamps_per_year.item() == pytest.approx(2000 / lasts)


def test_without_a_log_the_hours_at_which_it_is_replaced_count():
    year = found()
    assert np.isnan(year.hours_of_new)
    assert year.lamps_per_year.item() == pytest.approx(2 / 3)
    assert np.isnan(year.next_change)  # nobody knows how old it is
    assert year.cost_per_year.item() == pytest.approx(125 + 2 / 3 * 412)


def test_a_setting_leaves_more_for_later():
    """810 W m-2 at half of its setting are 1,620 at full, and were 2,000."""
    year = found(LED, Course(FIT, 2000.0, 1e6, setting=0.5))
    assert year.hours_of_new.item() == pytest.approx(1000 * np.log(0.3) / np.log(0.9))


@pytest.mark.parametrize(
    ("missing", "known", "unknown"),
    [
        ("lamp_price", ("energy_per_year", "lamps_per_year", "mercury_per_year"), ("cost_per_year",)),
        ("mercury", ("energy_per_year", "lamps_per_year", "cost_per_year"), ("mercury_per_year",)),
        (
            "end_of_life",
            ("energy_per_year", "hours_on"),
            ("lamps_per_year", "cost_per_year", "mercury_per_year"),
        ),
        ("hours_per_year", ("mercury",), ()),
    ],
)
def test_what_is_not_stated_is_not_known(missing, known, unknown):
    year = found(ARC._replace(**{missing: np.nan}))
    for name in unknown:
        assert np.isnan(year[name]), name
    for name in known:
        assert np.isfinite(year[name]), name
    assert ("cost_per_year" in year) == (missing != "hours_per_year")


def test_a_power_that_is_not_stated_leaves_the_lamps():
    year = found(course=OLD, power=np.nan)
    assert np.isnan(year.energy_per_year)
    assert np.isnan(year.cost_per_year)
    assert year.mercury_per_year.item() == pytest.approx(20 * 2 / 3)


def test_draws_stay_draws():
    light, exposure = np.array([405.0, 550.0, 810.0]), np.array([12.0, 8.8, 6.0])
    together = found(LED, OLD, in_band=light, exposure=exposure)
    for i in range(3):
        alone = found(LED, OLD, in_band=light[i], exposure=exposure[i])
        for name in ("hours_on", "hours_of_new", "lamps_per_year", "next_change", "cost_per_year"):
            one = together[name].isel(draw=i).item()
            assert one == pytest.approx(alone[name].item(), nan_ok=True), name


def test_sources_stand_side_by_side_and_one_may_be_unknown():
    names = ["arc", "LED", "both"]
    known = {"band_irradiance": 810.0, "exposure_time": 6.0, "electrical_power": 250.0, "hours_left": 500.0}
    known |= {"needed_irradiance": 600.0}
    figures = xr.Dataset({name: ("source", [value] * 3) for name, value in known.items()}, {"source": names})
    year = running(figures, {"arc": OLD}, {"arc": ARC, "LED": LED})
    assert year.hours_on.sel(source=["arc", "LED"]).values.tolist() == [2000.0, 250.0]
    assert year.mercury.sel(source=["arc", "LED"]).values.tolist() == [20.0, 0.0]
    for name in ("mercury", "hours_on", "cost_per_year", "hours_of_new"):
        assert np.isnan(year[name].sel(source="both")), name
    for name in set(year) - set(figures) - {"cost_per_year", "cost_missing"}:
        assert year[name].attrs["units"] == FIGURES[str(name)].units, name


def test_a_currency_need_not_be_named():
    assert found(ARC._replace(currency=""), OLD).cost_per_year.item() == pytest.approx(125 + 2 / 3 * 412)


@pytest.mark.parametrize(
    ("keeping", "others", "words"),
    [
        (ARC, {"power": np.nan}, "it takes electrical_power, not stated"),
        (
            ARC._replace(lamp_price=np.nan),
            {"power": np.nan},
            "it takes electrical_power, lamp_price, not stated",
        ),
        (ARC._replace(end_of_life=np.nan), {"course": None}, "it takes end_of_life, not stated"),
        (LED, {"exposure": np.nan}, "its exposure is not known"),
        (LED, {"exposure": 60.0}, "its exposures take more than the 2000 h that the bench is manned"),
        (ARC, {"in_band": 400.0}, "a new one does not do the job either"),
        (
            ARC,
            {"in_band": [400.0, 810.0, 810.0, 810.0]},
            "a new one does not do the job either in 25 % of the draws",
        ),
        (Keeping(), {}, "what heads that shine together cost is not worked out: see them alone"),
        (ARC, {}, ""),
    ],
)
def test_what_keeps_a_cost_from_being_known_is_named(keeping, others, words):
    """400 W m-2 after 2,000 h were 494 when new, and 600 are needed; 150,000 times 60 s are 2,500 h."""
    figures = {"in_band": 810.0, "exposure": 6.0, "power": 250.0, "course": OLD} | others
    course = figures.pop("course")
    light = xr.Dataset(_figures(**figures)).expand_dims(source=["one"])
    courses = {} if course is None else {"one": course}
    light = regulated(lasting(needed_light(light, NEEDED), courses), courses)
    beside = {"one": keeping, "other": ARC}
    both = xr.concat([light, light.assign_coords(source=["other"])], "source")
    assert str(running(both, courses, beside).cost_missing.sel(source="one").item()) == words


def _figures(in_band, exposure, power):
    along = ("draw",) if np.ndim(in_band) else ()
    return {
        "band_irradiance": (along, np.asarray(in_band, float)),
        "exposure_time": ((), exposure),
        "electrical_power": ((), power),
        "dose_time": ((), exposure),
        "photon_time": ((), np.nan),
        "absorbed_photons": ((), np.nan),
        "required_photons": ((), np.nan),
    }
