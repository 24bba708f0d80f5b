"""The light that the whole job takes: by hand, and tried by giving a source exactly so much."""

from __future__ import annotations

import numpy as np
import pytest
import two_sources
import xarray as xr
from two_sources import LIGHT, NAMES, PART, needed

from spectralbench.comparison import (
    MET,
    NOT_MET,
    Course,
    figures_at_bond_line,
    judge,
    lasting,
    needed_light,
    regulated,
)

FILM = two_sources.FILM.isel(initiator=[0])
FALLING = xr.Dataset({"initial": 1.0, "rate": np.log(2) / 1000, "longest": np.inf})  # half after 1,000 h


def figures(requirement, light=LIGHT, **others):
    return needed_light(figures_at_bond_line(light, PART, FILM, requirement, **others), requirement)


def judged(requirement, light=LIGHT, course=None, **others):
    courses = {} if course is None else dict.fromkeys(NAMES, course)
    found = regulated(lasting(figures(requirement, light, **others), courses), courses)
    return judge(found, requirement)


def test_without_a_time_and_a_data_sheet_it_is_the_irradiance():
    assert figures(needed()).needed_irradiance.values == pytest.approx([50.0, 50.0])


def test_a_time_asks_for_the_dose_within_it():
    """500 J m-2 within 4 s are 125 W m-2, whatever the 50 that were stated."""
    assert figures(needed(maximum_time=4.0)).needed_irradiance.values == pytest.approx([125.0, 125.0])
    assert figures(needed(maximum_time=40.0)).needed_irradiance.values == pytest.approx([50.0, 50.0])


@pytest.mark.parametrize("exponent", [0.5, 0.8, 1.0])
def test_photons_within_the_time_go_by_the_exponent(exponent):
    """10 s of 50 W m-2 at 365 nm absorb 90 %; in 5 s it takes 2^(1/p) times the rate."""
    requirement = needed(data_sheet_wavelength=365.0, maximum_time=5.0)
    found = figures(requirement, exponent=exponent)
    rate = found.required_photons.item() * 2 ** (1 / exponent)
    by_photon = found.absorbed_photons / found.band_irradiance
    expected = np.maximum((rate / by_photon).values, 500.0 / 5.0)  # and the dose in that time
    assert found.needed_irradiance.values == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("exponent", [0.6, 1.0])
@pytest.mark.parametrize("time", [None, 4.0, 30.0])
@pytest.mark.parametrize("sheet", [None, 365.0])
def test_so_much_light_does_and_a_little_less_does_not(sheet, time, exponent):
    """The law: a source that is given the light that is needed meets every criterion of today."""
    requirement = needed(data_sheet_wavelength=sheet, maximum_time=time)
    found = figures(requirement, exponent=exponent)
    share = found.needed_irradiance / found.band_irradiance
    for factor, verdict in ((1 + 1e-9, True), (1 - 1e-6, False)):
        light = (LIGHT * share * factor).transpose(*LIGHT.dims).assign_attrs(LIGHT.attrs)
        result = judged(requirement, light, exponent=exponent)
        names = [name for name in ("irradiance", "photons", "time") if name in result.criterion]
        known = [name for name in names if sheet is not None or name != "photons"]
        met = (result.verdict.sel(criterion=known) == MET).all("criterion")
        assert met.values.tolist() == [verdict] * 2


def test_settings_and_hours_are_those_of_the_whole_job():
    """200 W m-2 where 125 are needed within 4 s: 63 %, and 1000 h × log2(1.6) until 100 % is too little."""
    near = judged(needed(maximum_time=4.0), course=Course(FALLING, 0.0, 1000.0)).sel(source="near 405")
    assert near.setting_today.item() == pytest.approx(0.63)
    assert near.hours_left.item() == pytest.approx(1000 * np.log2(1.6))
    assert near.end_of_life_exposure.item() == pytest.approx(5.0)  # 500 J m-2 by 100 W m-2
    assert near.setting_at_end.item() == np.inf
    assert near.verdict.sel(criterion="end of life") == NOT_MET
    assert near.limit.sel(criterion="end of life").item() == pytest.approx(125.0)
    reason = near.reason.sel(criterion="end of life").item()
    assert "80 % of the 12.5 mW/cm² needed for irradiance and time together" in reason
    assert "an exposure of 5 s then" in reason
    assert near.change.sel(criterion="end of life").item() == "if it is replaced within 678 h from today"
    # with the data sheet's irradiance alone it would have passed
    assert (
        judged(needed(), course=Course(FALLING, 0.0, 1000.0)).verdict.sel(
            source="near 405", criterion="end of life"
        )
        == MET
    )


def test_a_source_without_light_is_never_enough():
    light = LIGHT * xr.DataArray([1.0, 0.0], dims="source")
    result = judged(
        needed(maximum_time=4.0), light.assign_attrs(LIGHT.attrs), course=Course(FALLING, 0.0, 1000.0)
    ).sel(source="near 405")
    assert result.needed_irradiance.item() == np.inf
    assert result.setting_today.item() == np.inf
    assert result.hours_left.item() == 0.0
    assert result.verdict.sel(criterion="end of life") == NOT_MET
    assert (
        "no light of it that is allowed gives all that is needed"
        in result.reason.sel(criterion="end of life").item()
    )


def test_draws_ask_each_for_its_own_light():
    factors = xr.DataArray(np.linspace(0.9, 1.1, 101), dims="draw")
    light = (LIGHT * factors).assign_attrs(LIGHT.attrs)
    found = figures(needed(maximum_time=4.0, data_sheet_wavelength=365.0), light)
    assert found.needed_irradiance.sizes["draw"] == 101
    assert (
        float(found.needed_irradiance.std("draw").max()) < 1e-9
    )  # a source's light by its photons is the same


def test_oxygen_counts_where_it_is_stated():
    """So much light that the back of the bond line gets exactly what oxygen uses up, and not less."""
    requirement = needed(data_sheet_wavelength=365.0, oxygen_threshold=40.0)
    found = figures(requirement, thickness=1.5e-4)
    at_back = found.photons_at_back / found.band_irradiance * found.needed_irradiance
    assert (at_back >= found.required_at_back * (1 - 1e-9)).all()
    without = figures(needed(data_sheet_wavelength=365.0), thickness=1.5e-4)
    assert (found.needed_irradiance > without.needed_irradiance * 1.001).any()


def test_who_measured_how_a_source_ages_is_not_put_behind_who_did_not():
    """A source that is known to end early stands before one of which nobody knows, if it is the quicker."""
    courses = {"near 405": Course(FALLING, 0.0, 1000.0)}
    light = LIGHT * xr.DataArray([8.0, 1.1], dims="source")  # 200 and 220 W m-2 behind the part
    requirement = needed(minimum_irradiance=150.0, minimum_life=1.0)
    found = figures(requirement, light.assign_attrs(LIGHT.attrs))
    result = judge(regulated(lasting(found, courses), courses), requirement)
    first, second = result.sel(source="near 405"), result.sel(source="near 365")
    assert first.verdict.sel(criterion=["end of life", "life"]).values.tolist() == [NOT_MET, MET]
    assert second.verdict.sel(criterion=["end of life", "life"]).values.tolist() == ["not known"] * 2
    assert (first.place.item(), second.place.item()) == (1, 2)


def test_failing_today_is_worse_than_failing_at_the_end():
    courses = {"near 405": Course(FALLING, 0.0, 1000.0)}
    requirement = needed(minimum_irradiance=150.0, minimum_life=900.0)
    result = judge(regulated(lasting(figures(requirement), courses), courses), requirement)
    assert (result.verdict.sel(source="near 405", criterion=["end of life", "life"]) == NOT_MET).all()
    assert result.place.sel(source="near 405") == 1  # the other gets 25 W m-2 through


def test_an_upper_limit_bounds_what_may_be_needed():
    """125 W m-2 within 4 s; where the adhesive should not see more than 120, none does it at any age."""
    course = Course(FALLING, 0.0, 1000.0)
    allowed = judged(needed(maximum_time=4.0, maximum_irradiance=130.0), course=course).sel(source="near 405")
    assert allowed.setting_today.item() == pytest.approx(0.63)
    result = judged(needed(maximum_time=4.0, maximum_irradiance=120.0), course=course)
    near = result.sel(source="near 405")
    assert near.setting_today.item() == np.inf
    assert near.hours_left.item() == 0.0
    weak = result.sel(source="near 365")  # 25 W m-2: five times of it, and 4.8 times are allowed
    assert weak.change.sel(criterion="time").item() == (
        "none by more light: it takes 5 times of it, and the upper limit allows 4.8 times"
    )
