"""Sources against a requirement: figures, verdicts, reasons and the order, on light worked by hand."""

from __future__ import annotations

import json

import numpy as np
import pytest
import xarray as xr
from two_sources import FILM, GRID, LIGHT, MANY, NAMES, PART, drawn, needed, rows

from spectralbench.comparison import (
    CAUTIONS,
    FIGURES,
    MET,
    NOT_KNOWN,
    NOT_MET,
    Course,
    by_depth,
    figures_at_bond_line,
    in_words,
    interval_in_words,
    judge,
    lasting,
    needed_light,
    regulated,
)
from spectralbench.draws import summarize
from spectralbench.errors import GridError, RangeError, UnitsError

NEEDED = needed()


def compared(light=LIGHT, part=PART, film=FILM, needed=NEEDED, courses=None, **others):
    figures = needed_light(figures_at_bond_line(light, part, film, needed, **others), needed)
    return judge(regulated(lasting(figures, courses or {}), courses or {}), needed)


def falling_to(share, basis="", longest=np.inf):
    """A new source that has a share of its output left after 1,000 h; as stated, or from a log."""
    fit = xr.Dataset({"initial": 1.0, "rate": -np.log(share) / 1000, "longest": longest})
    return Course(fit, 0.0, 1000.0, basis)


def reason(result, criterion, source="near 405"):
    return result.reason.sel(source=source, criterion=criterion).item()


def verdict(result, criterion, source="near 405"):
    return result.verdict.sel(source=source, criterion=criterion).item()


def by_source(*values):
    return xr.DataArray(list(values), {"source": NAMES})


def test_the_figures_by_hand():
    """Trapezoids: 10 over 10 nm and half of 10 over 30 nm, so 250 W m-2 of either source."""
    figures = compared()
    assert figures.irradiance_at_part.values == pytest.approx([250.0, 250.0])
    # behind the part 1 over 10 nm and down to 0: 25; and 8 likewise: 200
    assert figures.irradiance_at_bond.values == pytest.approx([25.0, 200.0])
    assert figures.band_irradiance.values == pytest.approx([25.0, 200.0])
    assert figures.kept_share.values == pytest.approx([0.9, 0.2])
    assert figures.dose_time.values == pytest.approx([20.0, 2.5])
    # a decadic absorbance of 1 takes nine tenths, in both stretches
    assert figures.unused_irradiance.values == pytest.approx([2.5, 20.0])
    assert set(FIGURES) - set(figures) == {
        *("band_irradiance_in_air", "band_irradiance_regular"),  # which take indices, and a second sample
        *("lost_irradiance", "photons_at_back"),  # which take resin or pigment, and what oxygen uses up
        *("spot_size", "least_lit", "share_on_bond", "fastest_speed"),  # which take scans
        *("back_by_front", "peak_temperature"),  # which take the bond line, and what is warmed
        *("mercury", "hours_of_new", "hours_on", "energy_per_year", "lamps_per_year"),  # which take what
        *("next_change", "mercury_per_year", "cost_per_year"),  # it is to run a source
        "permitted_time",  # which a bench adds
    }
    for name, figure in FIGURES.items():
        if name not in figures:
            continue
        assert figures[name].attrs["units"] == figure.units
        assert figures[name].attrs["label"] == figure.label


def test_a_wetted_back_face_counts_and_the_dry_one_is_shown_beside_it():
    result = compared(bonded=PART * 1.05, needed=needed(minimum_irradiance=205.0))
    assert result.band_irradiance.values == pytest.approx([26.25, 210.0])
    assert result.band_irradiance_in_air.values == pytest.approx([25.0, 200.0])
    assert result.kept_share.values == pytest.approx([1 - 0.105, 1 - 0.84])
    assert verdict(result, "irradiance") == MET
    assert "reflections" not in result.attrs["not_measured"]
    assert "the refractive indices of both would say how much" in compared().attrs["not_measured"]


def test_the_photons_of_the_data_sheet():
    """At 365 nm a film of absorbance 1 takes nine tenths of the photons of 50 W m-2."""
    joule = 365e-9 / (6.62607015e-34 * 299792458 * 6.02214076e23) * 1e6
    result = compared(needed=needed(data_sheet_wavelength=365.0))
    assert result.required_photons.item() == pytest.approx(50 * 0.9 * joule)
    photons = result.absorbed_photons.values
    assert result.photon_time.values == pytest.approx(50 * 0.9 * joule * 10 / photons)
    assert result.exposure_time.values == pytest.approx(np.fmax(result.photon_time, result.dose_time))
    assert "times the" in reason(result, "photons")
    assert "the data sheet's own condition gives" in reason(result, "photons")


def test_the_nearest_change_is_told_where_a_criterion_is_not_met():
    result = compared(needed=needed(maximum_irradiance=150.0))
    assert result.change.sel(source="near 365", criterion="irradiance").item() == "with 2 times the light"
    assert result.change.sel(source="near 405", criterion="irradiance").item() == ""  # it is met
    at_most = result.change.sel(source="near 405", criterion="upper limit").item()
    assert at_most == "at a setting of 75 % instead of 100 %"
    assert f"Nearest change: {at_most}." in result.attrs["advice"]  # the one that fails nothing else


def test_the_advice_hides_no_failure_and_no_change_that_would_leave_another():
    """200 W m-2 today, 120 at the end: too much for one limit, too little for the other."""
    asked = needed(maximum_irradiance=150.0, minimum_irradiance=130.0)
    result = compared(needed=asked, courses={"near 405": falling_to(0.6, "as stated, not measured")})
    (said,) = [line for line in result.attrs["advice"].splitlines() if line.startswith("near 405 fails")]
    assert said.startswith("near 405 fails upper limit, end of life: ")
    assert result.change.sel(source="near 405", criterion="upper limit").item() != ""
    assert "Nearest change" not in said


def test_an_end_that_nobody_measured_is_no_measured_end():
    asked = needed(minimum_irradiance=100.0)
    stated, beyond, within = (falling_to(0.6, "as known", longest) for longest in (np.inf, 900.0, 1000.0))

    def told(course):
        result = compared(needed=asked, courses={"near 405": course})
        assert verdict(result, "end of life") == MET
        return [one for one in json.loads(result.attrs["not_measured"]) if one.startswith("the output of")]

    assert told(within) == []
    assert told(stated) == told(beyond) == ["the output of near 405 at its end: as known"]
    together = "all heads at their ends, each as weak as the one that loses most"
    assert told(Course(heads=(within, within))) == []
    assert told(Course(heads=(within, beyond))) == [f"the output of near 405 at its end: {together}"]


def test_which_initiator_takes_the_photons_and_how_the_back_fares():
    """Near 405 nm both absorb alike, near 365 nm only the first. A film of 1 leaves a tenth to its back."""
    result = compared(needed=needed(data_sheet_wavelength=365.0))
    photons = result.photons_by_initiator
    shares = (photons / photons.sum("initiator")).transpose("source", "initiator").values
    assert shares == pytest.approx(np.array([[1.0, 0.0], [0.5, 0.5]]))
    assert photons.sum("initiator").values == pytest.approx(result.absorbed_photons.values)
    assert by_depth(LIGHT, PART, FILM, "0.15 mm").back_by_front.values == pytest.approx([0.1, 0.1])
    assert reason(result, "photons").endswith("(a takes 50 %, b takes 50 %)")


def test_met_and_not_met():
    result = compared(needed=needed(maximum_time=10.0, maximum_irradiance=300.0))
    assert verdict(result, "irradiance", "near 365") == NOT_MET
    assert reason(result, "irradiance", "near 365") == (
        "2.5 mW/cm² in 360–410 nm at the bond line, 50 % of the 5 mW/cm² required"
    )
    assert verdict(result, "irradiance") == MET
    assert reason(result, "irradiance").endswith("4 times the 5 mW/cm² required")
    assert verdict(result, "time", "near 365") == NOT_MET
    assert reason(result, "time", "near 365") == "20 s of exposure, 2 times the 10 s allowed"
    assert verdict(result, "time") == MET
    assert verdict(result, "upper limit") == MET
    assert reason(result, "upper limit") == (
        "20 mW/cm² at the bond line, in the middle of the spot, 66.7 % of the 30 mW/cm² allowed"
    )


@pytest.mark.parametrize(("limit", "expected"), [(200.0, MET), (200.0001, NOT_MET)])
def test_a_limit_met_exactly_is_met(limit, expected):
    assert verdict(compared(needed=needed(minimum_irradiance=limit)), "irradiance") == expected


@pytest.mark.parametrize("ratio", [0.9951, 0.999, 0.9999999])
def test_nearly_all_is_written_as_a_number(ratio):
    said = reason(compared(needed=needed(minimum_irradiance=200 / ratio)), "irradiance")
    assert "e+" not in said
    assert "% of the" in said


def test_what_is_not_known():
    result = compared(needed=needed(maximum_temperature=358.15))
    assert verdict(result, "photons") == verdict(result, "end of life") == NOT_KNOWN
    assert "the requirement names no data sheet wavelength" in reason(result, "photons")
    assert "nothing is stated of its output" in reason(result, "end of life")
    assert verdict(result, "temperature") == NOT_KNOWN
    assert "the limit is 85 °C and no temperature was measured" in reason(result, "temperature")
    assert "end of life: not known for any source" in json.loads(result.attrs["not_measured"])


def test_end_of_life_and_energy():
    power = by_source(40.0, 80.0).assign_attrs(units="W")
    result = compared(courses={"near 365": falling_to(0.5)}, electrical_power=power)
    assert result.end_of_life_irradiance.values == pytest.approx([12.5, np.nan], nan_ok=True)
    assert result.electrical_energy.values == pytest.approx([800.0, 200.0])
    assert verdict(result, "end of life", "near 365") == NOT_MET
    assert verdict(result, "end of life") == NOT_KNOWN
    assert "end of life: not known for near 405" in json.loads(result.attrs["not_measured"])


def test_how_long_a_source_lasts_and_at_which_setting():
    """Half after 1,000 h is a rate of ln 2 / 1000; four times the light is needed until a quarter is left."""
    result = compared(courses={"near 405": falling_to(0.5, "as stated")})
    near = result.sel(source="near 405")  # 200 W m-2 where 50 are required
    assert near.setting_today.item() == pytest.approx(0.25)
    assert near.setting_at_end.item() == pytest.approx(0.5)
    assert near.hours_left.item() == pytest.approx(
        1000.0
    )  # then it is replaced; its light would do for 2,000
    assert near.end_of_life_output.item() == pytest.approx(0.5)
    assert reason(result, "end of life").endswith(
        "2 times the 5 mW/cm² needed for irradiance (an exposure of 5 s then; as stated)"
    )
    weak = result.sel(source="near 365")  # 25 W m-2: no setting helps, and nothing is known of its hours
    assert weak.setting_today.item() == np.inf
    assert np.isnan(weak[["setting_at_end", "hours_left", "end_of_life_output"]].to_array()).all()


def test_a_setting_is_one_that_a_knob_has_and_does_in_95_of_100_draws():
    result = compared(drawn(MANY), courses=dict.fromkeys(NAMES, falling_to(0.5)))
    setting = result.setting_today.sel(source="near 405").item()
    assert setting == round(100 * setting) / 100
    enough = result.band_irradiance.sel(source="near 405") * setting >= 50.0
    fewer = result.band_irradiance.sel(source="near 405") * (setting - 0.01) >= 50.0
    assert fewer.mean() < 0.95 <= enough.mean()


def test_a_source_measured_at_a_lower_setting_has_more_to_give():
    fit = falling_to(0.5)
    result = compared(courses={name: fit._replace(setting=0.5) for name in NAMES})
    assert result.setting_today.values == pytest.approx([1.0, 0.13])  # 50 and 400 W m-2 at full setting
    assert result.hours_left.values == pytest.approx([0.0, 1000.0], abs=1e-9)
    assert result.end_of_life_irradiance.values == pytest.approx([25.0, 200.0])


def test_the_hours_left_are_those_until_the_light_no_longer_does():
    longer = falling_to(0.5)._replace(end=1e6)  # half of it every 1,000 h, a quarter is needed
    assert compared(courses={"near 405": longer}).hours_left.sel(source="near 405").item() == pytest.approx(
        2000.0
    )


def test_a_source_that_does_not_fall_lasts_until_it_is_replaced():
    result = compared(courses=dict.fromkeys(NAMES, falling_to(1.0)._replace(end=9e9)))
    assert result.hours_left.values.tolist() == [0.0, 9e9]
    assert compared(courses={"near 405": Course(now=2.0, end=1.0)}).hours_left.isnull().all()


def test_a_draw_without_photons_leaves_the_exposure_open():
    """What is more uncertain never gets a shorter exposure."""
    film = FILM.where(FILM.wavelength > 380, FILM * xr.DataArray([1.0, 0.0], dims="draw"))
    result = figures_at_bond_line(
        LIGHT, PART, film.transpose("draw", ...), needed(data_sheet_wavelength=365.0)
    )
    assert np.isfinite(result.exposure_time.isel(draw=0)).all()
    assert np.isnan(result.exposure_time.sel(source="near 405").isel(draw=1))  # nobody knows how long
    assert np.isinf(result.exposure_time.sel(source="near 365").isel(draw=1))  # it absorbs nothing now


def test_an_adhesive_that_is_not_reciprocal_takes_another_time():
    """Schwarzschild: (rate)^p × time is equal, so four times the photons with p = ½ take half the time."""
    plain = compared(needed=needed(data_sheet_wavelength=365.0))
    ratio = plain.absorbed_photons / plain.required_photons
    half = compared(needed=needed(data_sheet_wavelength=365.0), exponent=0.5)
    assert half.photon_time.values == pytest.approx((10.0 * ratio**-0.5).values)
    assert half.dose_time.values == pytest.approx(plain.dose_time.values)


def test_an_invalid_pixel_is_named_where_it_counts_and_only_there():
    light = LIGHT.copy()
    light[1, 3] = np.nan
    result = compared(
        light, needed=needed(high=390, maximum_irradiance=1e4), courses=dict.fromkeys(NAMES, falling_to(0.95))
    )
    assert verdict(result, "irradiance") == MET  # 360–390 nm needs no sample at 410 nm
    assert verdict(result, "end of life") == MET
    assert verdict(result, "upper limit") == NOT_KNOWN
    assert "410.0–410.0 nm" in reason(result, "upper limit") or "410.0 nm" in reason(result, "upper limit")
    wide = compared(light, courses=dict.fromkeys(NAMES, falling_to(0.5)))
    assert "not valid" in reason(wide, "end of life")
    assert "stated output" not in reason(wide, "end of life")


@pytest.mark.parametrize("factor", [0.0, -1.0])
def test_a_source_without_light_fails_and_comes_last(factor):
    light = LIGHT * xr.DataArray([1.0, factor], dims="source")
    result = compared(light, needed=needed(data_sheet_wavelength=365.0, maximum_time=100.0))
    assert [verdict(result, name) for name in ("irradiance", "photons", "time")] == [NOT_MET] * 3
    assert "inf" not in reason(result, "time")
    assert result.place.values.tolist() == [1, 2]


def test_light_that_no_initiator_absorbs_takes_for_ever():
    film = FILM.copy()
    film[:, 2:] = 0.0
    film[:, 1] = 0.0
    result = compared(film=film, needed=needed(data_sheet_wavelength=360.0, maximum_time=100.0))
    assert result.absorbed_photons.sel(source="near 405").item() == 0.0
    assert result.exposure_time.sel(source="near 405").item() == np.inf
    assert verdict(result, "time") == verdict(result, "photons") == NOT_MET


def test_an_absorbance_that_is_not_known_is_not_nothing():
    film = FILM.copy()
    film[1, 2] = np.nan
    result = compared(film=film)
    assert np.isnan(result.absorbed_photons.sel(source="near 405").item())


def test_parts_multiply():
    twice = xr.concat([PART, PART.assign_coords(part=["window"])], "part")
    assert compared(part=twice).band_irradiance.values == pytest.approx([2.5, 160.0])


def test_the_order_is_that_of_the_rule():
    names = ["slow", "fast", "fails", "unknown"]
    light = rows([[0, 0, 10, 10], [0, 0, 20, 20], [1, 1, 0, 0], [0, 0, 90, 90]], "source", names)
    result = compared(light, courses=dict.fromkeys(names[:3], falling_to(0.9)))
    assert dict(zip(names, result.place.values.tolist(), strict=True)) == {
        "fast": 1,
        "slow": 2,
        "unknown": 3,
        "fails": 4,
    }
    advice = result.attrs["advice"].splitlines()
    assert advice[0].startswith(
        "Test first: fast for 1.25 s, and for shorter, and longer as far as limits all"
    )
    assert "Then: slow for 2.5 s; unknown for " in result.attrs["advice"]
    assert "fails fails irradiance" in result.attrs["advice"]
    assert json.loads(result.attrs["cautions"]) == list(CAUTIONS)


def test_where_all_fail_nothing_is_advised():
    advice = compared(needed=needed(minimum_irradiance=1e6)).attrs["advice"]
    assert "No source is worth a trial as it stands." in advice
    assert "Test first" not in advice


def test_advice_speaks_of_the_wavelength_of_the_data_sheet():
    advice = compared(needed=needed(data_sheet_wavelength=365.0)).attrs["advice"]
    assert "The data sheet speaks of 365 nm, but the part stops 90 % of the light of near 365." in advice


def test_nothing_claims_a_cure():
    result = compared(needed=needed(data_sheet_wavelength=365.0, maximum_temperature=350.0))
    said = " ".join([result.attrs["advice"], result.attrs["rule"], *result.reason.values.ravel()])
    assert "cure" not in said.lower()


def test_draws_are_judged_by_their_mean():
    factor = np.linspace(0.5, 1.5, 101)
    result = figures_at_bond_line(drawn(factor), PART, FILM, NEEDED)
    ends = result.band_irradiance.sel(source="near 405").values[[0, -1]]
    assert ends == pytest.approx([100.0, 300.0])
    judged = compared(drawn(factor))
    assert "20 mW/cm² (10.4–29.6)" in reason(judged, "irradiance")


@pytest.mark.parametrize(
    ("kept", "expected", "words"),
    [
        (1000, MET, "met in 100 % of the draws"),
        (999, MET, "met in more than 99 % of the draws"),
        (950, MET, "met in 95 % of the draws"),
        (949, NOT_KNOWN, "met in 95 % of the draws: too close to call"),
        (500, NOT_KNOWN, "met in 50 % of the draws: too close to call"),
        (51, NOT_KNOWN, "met in 5 % of the draws: too close to call"),
        (50, NOT_MET, "met in 5 % of the draws"),
        (1, NOT_MET, "met in less than 1 % of the draws"),
        (0, NOT_MET, "met in 0 % of the draws"),
    ],
)
def test_a_criterion_is_judged_by_the_share_of_draws_that_meet_it(kept, expected, words):
    """At least 95 % and at most 5 %: limits between two draws, so that just `kept` of 1000 lie within."""
    edges = np.concatenate([[0.5], (MANY[1:] + MANY[:-1]) / 2, [1.5]])
    least, most = 200 * edges[1000 - kept], 200 * edges[kept]  # from above, from below
    longest = 2.5 / edges[1000 - kept]  # the brightest draws are the quickest
    courses = dict.fromkeys(NAMES, falling_to(1.0))
    below = compared(drawn(MANY), needed=needed(maximum_irradiance=most))
    above = compared(
        drawn(MANY), needed=needed(minimum_irradiance=least, maximum_time=longest), courses=courses
    )
    for criterion in ("irradiance", "end of life", "upper limit", "time"):
        result = below if criterion == "upper limit" else above
        assert verdict(result, criterion) == expected
        assert words in reason(result, criterion)
        assert ("too close" in reason(result, criterion)) == (expected == NOT_KNOWN)
        assert result.share_met.sel(source="near 405", criterion=criterion).item() == kept / 1000


def test_a_limit_met_exactly_is_met_in_every_draw():
    result = compared(drawn(np.ones(20)), needed=needed(minimum_irradiance=200.0, maximum_irradiance=200.0))
    assert (result.share_met.sel(source="near 405", criterion=["irradiance", "upper limit"]) == 1).all()


def test_a_limit_with_draws_is_held_against_figures_of_the_same_draw():
    """A film that takes more takes more of the data sheet's photons, too: the ratio does not change."""
    film = (FILM * 1e-6 * xr.DataArray(np.linspace(0.5, 1.5, 100), dims="draw")).transpose("draw", ...)
    result = compared(LIGHT * 1.05, film=film, needed=needed(high=405, data_sheet_wavelength=405.0))
    assert "draw" in result.required_photons.dims
    shares = result.share_met.sel(criterion="photons").values
    assert set(shares.tolist()) <= {0.0, 1.0}


def test_what_is_not_known_has_no_share():
    light = LIGHT.copy()
    light[1, 3] = np.nan
    result = compared(drawn(MANY, light), needed=needed(maximum_temperature=358.15))
    assert verdict(result, "irradiance") == NOT_KNOWN
    assert "not valid" in reason(result, "irradiance")
    shares = result.share_met.sel(source="near 405")
    assert shares.sel(criterion=["irradiance", "photons", "temperature"]).isnull().all()
    assert result.share_ahead.sel(source="near 405", other="near 365").isnull()


def test_who_is_ahead_is_counted_draw_by_draw():
    """Near 365 the part leaves 25 of 250, near 405 it leaves 200: eight times as much light is needed."""
    one = xr.DataArray([[8.0] * 30 + [8.5] * 70, [1.0] * 100], {"source": NAMES}, ("source", "draw"))
    result = compared((LIGHT * one).transpose("draw", ...).assign_attrs(LIGHT.attrs))
    ahead = result.share_ahead
    assert float(ahead.sel(source="near 365", other="near 405")) == 0.7
    assert float(ahead.sel(source="near 405", other="near 365")) == 0.0  # thirty are equal
    assert "near 365 needs a shorter exposure than near 405 in 70 % of the draws." in result.advice
    common = compared(drawn(np.linspace(0.5, 1.5, 100)))
    assert float(common.share_ahead.sel(source="near 405", other="near 365")) == 1.0


def test_an_exposure_that_never_ends_in_some_draws_is_no_failure_by_itself():
    factor = np.ones(1000)
    factor[:10] = 0.0
    result = compared(drawn(factor), needed=needed(maximum_time=3.0))
    assert float(result.share_met.sel(source="near 405", criterion="time")) == 0.99
    assert verdict(result, "time") == MET
    assert reason(result, "time") == "2.5 s of exposure, 83.3 % of the 3 s allowed; met in 99 % of the draws"
    nearly = compared(drawn(1 - factor), needed=needed(maximum_time=3.0))
    assert verdict(nearly, "time") == NOT_MET
    none = compared(drawn(np.zeros(100)), needed=needed(maximum_time=3.0))
    assert (verdict(none, "time"), reason(none, "time")) == (
        NOT_MET,
        "nothing usable arrives at the bond line",
    )


def test_the_rule_of_draws_and_the_gaps_are_told_where_there_are_draws():
    figures = figures_at_bond_line(drawn(MANY), PART, FILM, NEEDED)
    said = judge(figures, NEEDED, ["attenuator", "wavelength"])
    assert "at least 95 % of the draws" in said.attrs["rule"]
    assert (
        "no uncertainty is stated for: attenuator, wavelength; the intervals leave it out, and are too"
        in (said.attrs["not_measured"])
    )
    assert "intervals" not in judge(figures, NEEDED).attrs["not_measured"]
    plain = judge(figures_at_bond_line(LIGHT, PART, FILM, NEEDED), NEEDED, ["attenuator"])
    assert "draws" not in plain.attrs["rule"]
    assert "these figures carry none" in plain.attrs["not_measured"]
    assert "share_met" not in plain


@pytest.mark.parametrize(
    ("low", "value", "high", "units", "words"),
    [
        (4.5, 5.0, 5.625, "s", "5 s (4.5–5.62)"),
        (-0.01, 0.02, 0.05, "1", "2 % (-1 to 5)"),
        (4.5, np.inf, np.inf, "s", "from 4.5 s to never"),
        (np.inf, np.inf, np.inf, "s", "never"),
        (np.nan, np.nan, np.nan, "s", NOT_KNOWN),
        (20.0, 20.0, 20.0, "W m-2", "2 mW/cm²"),
    ],
)
def test_intervals_in_words(low, value, high, units, words):
    assert in_words(value, units, low, high) == words


@pytest.mark.parametrize(
    ("number", "units", "words"),
    [
        (0.0, "W m-2", "0 mW/cm²"),
        (9.996, "s", "10 s"),
        (999.6, "s", "1000 s"),
        (0.012345, "s", "0.0123 s"),
        (-5.0, "s", "-5 s"),
        (0.0004, "s", "4.00×10⁻⁴ s"),
        (2.5e7, "J", "2.50×10⁷ J"),
        (0.9996, "1", "100 %"),
        (np.inf, "s", "never"),
        (np.nan, "s", NOT_KNOWN),
    ],
)
def test_figures_in_words(number, units, words):
    assert in_words(number, units) == words


@pytest.mark.parametrize(
    ("changes", "error", "said"),
    [
        ({"needed": needed(low=500, high=600)}, RangeError, "band 500–600 nm lies outside the spectrum"),
        ({"needed": needed(low=410, high=360)}, RangeError, "from a shorter to a longer wavelength"),
        (
            {"needed": needed(data_sheet_wavelength=350.0)},
            RangeError,
            "350 nm lies outside.*360–410 nm",
        ),
        ({"light": LIGHT.assign_attrs(units="W m-2")}, UnitsError, 'spectrum: "W m-2" cannot be converted'),
        ({"film": FILM.assign_coords(wavelength=GRID + 1e-6)}, GridError, "1e-06 nm apart"),
        ({"film": -FILM}, RangeError, "an absorbance is not negative"),
    ],
)
def test_what_cannot_be_compared(changes, error, said):
    with pytest.raises(error, match=said):
        compared(**changes)


def test_a_limit_that_is_drawn_shows_its_interval():
    """What the data sheet's own condition gives is as uncertain as the initiator's curve."""
    factor = xr.DataArray(1 + 0.2 * np.random.default_rng(4).standard_normal(400), dims="draw")
    film = (FILM * factor).assign_attrs(FILM.attrs)
    result = compared(drawn(xr.ones_like(factor)), film=film, needed=needed(data_sheet_wavelength=365.0))
    said = reason(result, "photons")
    limit = summarize(result.required_photons)
    interval = interval_in_words(float(limit.low), float(limit.high), "umol m-2 s-1")
    assert f"({interval}) that the data sheet's own condition gives" in said
    assert "of the draws, each with its own limit" in said
    assert "own limit" not in reason(result, "irradiance")


def test_a_miss_is_none_where_more_light_may_arrive_than_is_known():
    """Light beyond the calibrated range is counted as none: enough for what is met, not for what is not."""
    asked = {"minimum_irradiance": 300.0, "dose": 1000.0, "maximum_time": 2.0, "minimum_life": 100.0}
    courses = {name: falling_to(0.9) for name in NAMES}
    known = compared(needed=needed(**asked), courses=courses)
    assert verdict(known, "irradiance") == verdict(known, "time") == verdict(known, "life") == NOT_MET
    first = LIGHT.wavelength == LIGHT.wavelength[0]
    light = LIGHT.where(~(first & (LIGHT.source == "near 405"))).assign_attrs(LIGHT.attrs)
    light.attrs["uncalibrated"] = json.dumps({"near 405": "light at 300–310 nm; the lamp is too weak there"})
    open_ = compared(light, needed=needed(**asked), courses=courses)
    soon = {name: falling_to(0.9)._replace(now=950.0) for name in NAMES}
    late = compared(light, needed=needed(**asked), courses=soon)
    assert verdict(late, "life") == NOT_MET  # no light makes it longer than until it is replaced
    for criterion in ("irradiance", "time", "end of life", "life"):
        assert verdict(open_, criterion) == NOT_KNOWN
        assert "more may arrive: light at 300–310 nm is not in it" in reason(open_, criterion)
        assert open_.change.sel(source="near 405", criterion=criterion).item() == ""
        assert verdict(open_, criterion, "near 365") == verdict(known, criterion, "near 365")
    easy = needed(minimum_irradiance=100.0, dose=10.0, maximum_time=2.0)
    assert verdict(compared(light, needed=easy), "irradiance") == MET


def test_a_source_past_its_end_is_no_open_question():
    """No trial shows how it does at an end that is behind it; it is replaced."""
    past = falling_to(0.9)._replace(now=1200.0)
    nothing = Course(None, 1200.0, 1000.0, "not stated")
    for course in (past, nothing, Course(heads=(falling_to(0.9), past))):
        result = compared(needed=needed(minimum_irradiance=100.0), courses={"near 405": course})
        assert verdict(result, "end of life") == NOT_MET
        assert reason(result, "end of life").endswith("1000 h, has passed: replace it")
    alone = compared(needed=needed(minimum_irradiance=100.0), courses={"near 405": past})
    assert reason(alone, "end of life") == "its end of life, 1000 h, has passed: replace it"
    assert (
        "near 405: its end of life, 1000 h, has passed: replace it before a trial." in alone.attrs["advice"]
    )


def test_a_time_that_may_never_end_is_no_trial():
    """Noise about no light: in a part of the draws nothing arrives."""
    light = drawn(np.linspace(-0.2, 1.8, 1000), LIGHT.sel(source=["near 405"]))
    result = compared(light, needed=needed(minimum_irradiance=1.0, dose=1.0))
    advice = result.attrs["advice"]
    assert advice.startswith(
        "No source is worth a trial as it stands.\nMeasure again before a trial: near 405."
    )
    shown = in_words(*(1.0, "s", 0.5, np.inf))
    assert shown == "1 s (0.5–never)"


def test_where_a_part_is_not_known_its_pixels_are_the_reason():
    """A saturated frame of the part, not an adhesive that absorbs nothing."""
    part = PART.where(PART.wavelength < 405)
    result = compared(part=part, needed=needed(data_sheet_wavelength=365.0))
    for criterion in ("irradiance", "photons"):
        assert verdict(result, criterion) == NOT_KNOWN
        assert reason(result, criterion).startswith("pixels at 410.0–410.0 nm of cover, which are not valid")
    assert "Measure again before a trial: " in result.attrs["advice"]
    assert compared().invalid.values.tolist() == ["", ""]
