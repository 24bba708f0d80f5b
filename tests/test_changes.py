"""The nearest change that would meet a criterion: worked by hand, and tried by making it."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.comparison import Means, Stack, heating
from spectralbench.comparison.changes import less_light, more_light, sure_factor, warmest, weaker_and_longer
from spectralbench.heat import Layer, Material

BEAM = xr.DataArray(
    [4000.0, 1000.0, 250.0],  # the inverse square law
    {"distance": ("distance", [10.0, 20.0, 40.0], {"units": "mm"})},
    "distance",
    attrs={"units": "W m-2"},
)


def test_more_light_comes_from_the_setting_first():
    assert more_light(1.5, Means(20.0, 0.5, BEAM)) == "at a setting of 75 % instead of 50 %"
    assert more_light(1.501, Means(20.0, 0.5, BEAM)) == "at a setting of 76 % instead of 50 %"  # rounded up


def test_then_from_the_distance():
    assert more_light(2.25, Means(20.0, 1.0, BEAM)) == "at 13.3 mm instead of 20 mm"  # 20 / 1.5, rounded down
    assert more_light(4.5, Means(20.0, 0.5, BEAM)) == "at 13.3 mm instead of 20 mm at full setting"


def test_no_distance_is_promised_that_was_not_measured():
    said = more_light(4.41, Means(20.0, 1.0, BEAM))
    assert said == "none that was measured: it takes 4.41 times the light, more than there is at 10–40 mm"
    guess = more_light(4.0, Means(20.0))
    assert guess.startswith("at about 10 mm instead of 20 mm if the inverse square law held")
    assert "promises too much" in guess
    far = more_light(4.1, Means(20.0))
    assert far.startswith("none that can be told: it takes 4.1 times the light, and nobody measured")
    assert far.endswith("nearer than 10 mm: measure its beam")


def test_without_a_distance_only_the_light_is_told():
    assert more_light(4.0, Means(setting=0.5)) == "with 2 times the light at full setting"


def test_light_that_does_not_count_is_not_asked_for():
    assert (
        more_light(np.inf, Means(20.0))
        == "none that is sure: of the light of this source, none may get there"
    )


def test_less_light_comes_from_the_setting():
    assert less_light(0.333, Means(setting=1.0)) == "at a setting of 33 % instead of 100 %"
    assert "farther away" in less_light(0.001, Means())


def test_the_light_that_is_needed_does_in_95_of_100_draws():
    draws = xr.DataArray(np.linspace(0.8, 1.2, 101)[None], dims=("source", "draw"))
    figures = xr.Dataset({"band_irradiance": 50.0 * draws, "irradiance_at_bond": 300.0 * draws})
    factor = sure_factor(figures, "irradiance", 60.0)
    assert (50.0 * draws * factor >= 60.0).mean() == pytest.approx(0.95, abs=0.011)
    share = sure_factor(figures, "upper limit", 200.0)
    assert (300.0 * draws * share <= 200.0).mean() == pytest.approx(0.95, abs=0.011)


def test_a_time_takes_the_slower_of_dose_and_photons():
    figures = xr.Dataset(
        {name: ("source", [value]) for name, value in (("dose_time", 10.0), ("photon_time", 16.0))}
    )
    assert sure_factor(figures.assign(reciprocity=1.0), "time", 4.0) == pytest.approx(4.0)
    # (rate)^½ × time: a fourth of the time takes 16 times the photons
    assert sure_factor(figures.assign(reciprocity=0.5), "time", 4.0) == pytest.approx(16.0)
    unknown = figures.assign(photon_time=("source", [np.nan]), reciprocity=1.0)
    assert sure_factor(unknown, "time", 4.0) == pytest.approx(2.5)
    assert sure_factor(figures, "temperature", 350.0) is None


STACK = Stack(
    [Layer("cover", "2 mm", Material(0.2, 1200, 1300))],
    Layer("bond line", "0.15 mm", Material(0.2, 1100, 1700)),
    None,
    ambient=296.15,
    loss=10.0,
)


def warming(**others):
    """One source that sends 2 W/cm² for 20 s, of which a quarter reaches the bond line."""
    values = {"irradiance_at_part": 2e4, "irradiance_at_bond": 5e3, "unused_irradiance": 4e3}
    values |= {"exposure_time": 20.0, "dose_time": 20.0, "photon_time": np.nan, "reciprocity": 1.0} | others
    return xr.Dataset({name: ("source", [value]) for name, value in values.items()}, {"source": ["a"]})


def test_weaker_light_for_longer_is_cool_enough_and_hardly_more_than_that():
    figures = warming(dose_time=20.0, photon_time=20.0, reciprocity=0.8)
    hot = heating(figures, STACK).peak_temperature.item()
    limit = 296.15 + 0.7 * (hot - 296.15)
    said = weaker_and_longer(figures, STACK, limit)
    share = float(said.split()[1]) / 100
    assert warmest(figures, STACK, share) <= limit < warmest(figures, STACK, share + 0.02)
    assert float(said.split()[-2]) == pytest.approx(20 / share, rel=5e-3)  # the dose, in proportion
    slow = warming(dose_time=2.0, photon_time=20.0, reciprocity=0.8)
    said = weaker_and_longer(slow, STACK, limit)
    share = float(said.split()[1]) / 100
    assert float(said.split()[-2]) == pytest.approx(20 / share**0.8, rel=5e-3)  # photons, by their exponent
    assert weaker_and_longer(figures, STACK, limit, 3.0).endswith(" mm/s")


def test_weaker_light_has_to_do_the_job():
    figures = warming(needed_irradiance=4500.0, band_irradiance=5000.0)
    hot = heating(figures, STACK).peak_temperature.item()
    said = weaker_and_longer(figures, STACK, 296.15 + 0.5 * (hot - 296.15))
    assert said.startswith("none by weaker light for longer: with ")
    assert said.endswith("% of the light it would stay cool, and the job takes 90 %")


def test_weaker_light_is_no_way_where_nothing_does_the_job():
    """No light of this source is enough: infinitely much of it is needed."""
    figures = warming(needed_irradiance=np.inf, band_irradiance=5000.0)
    hot = heating(figures, STACK).peak_temperature.item()
    said = weaker_and_longer(figures, STACK, 296.15 + 0.5 * (hot - 296.15))
    assert said.startswith("none by weaker light for longer: with ")
    assert said.endswith("it would stay cool, and the job takes more than there is")


def test_a_dose_that_is_too_hot_at_any_pace_says_so():
    assert weaker_and_longer(warming(), STACK, 296.16).startswith("none by weaker light for longer: the dose")
