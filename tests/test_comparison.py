"""Sources against a requirement: figures, verdicts, reasons and the order, on light worked by hand."""

from __future__ import annotations

import json

import numpy as np
import pytest
import xarray as xr

from spectralbench.comparison import (
    CAUTIONS,
    FIGURES,
    MET,
    NOT_KNOWN,
    NOT_MET,
    Requirement,
    figures_at_bond_line,
    in_words,
    judge,
)
from spectralbench.errors import GridError, RangeError, UnitsError

GRID = np.array([360.0, 370.0, 400.0, 410.0])
NAMES = ["near 365", "near 405"]


def rows(values, dimension, names):
    return xr.DataArray(
        np.asarray(values, float), {dimension: names, "wavelength": GRID}, (dimension, "wavelength")
    )


LIGHT = rows([[10, 10, 0, 0], [0, 0, 10, 10]], "source", NAMES).assign_attrs(units="W m-2 nm-1")
PART = rows([[0.1, 0.1, 0.8, 0.8]], "part", ["cover"])
FILM = rows([[1.0, 1.0, 0.5, 0.5], [0.0, 0.0, 0.5, 0.5]], "initiator", ["a", "b"])
NEEDED = Requirement(low=360, high=410, minimum_irradiance=50.0, dose=500.0)


def compared(light=LIGHT, part=PART, film=FILM, needed=NEEDED, **others):
    return judge(figures_at_bond_line(light, part, film, needed, **others), needed)


def needed(**changes):
    return Requirement(**{"low": 360, "high": 410, "minimum_irradiance": 50.0, "dose": 500.0, **changes})


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
    for name, figure in FIGURES.items():
        assert figures[name].attrs["units"] == figure.units
        assert figures[name].attrs["label"] == figure.label


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
    assert reason(result, "upper limit") == "20 mW/cm² at the bond line, 66.7 % of the 30 mW/cm² allowed"


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
    assert "a stated output" in reason(result, "end of life")
    assert verdict(result, "temperature") == NOT_KNOWN
    assert "the limit is 85 °C and no temperature was measured" in reason(result, "temperature")
    assert "end of life: not known for any source" in json.loads(result.attrs["not_measured"])


def test_end_of_life_and_energy():
    power, share = by_source(40.0, 80.0).assign_attrs(units="W"), by_source(0.5, np.nan)
    result = compared(end_of_life=share, electrical_power=power)
    assert result.end_of_life_irradiance.values == pytest.approx([12.5, np.nan], nan_ok=True)
    assert result.electrical_energy.values == pytest.approx([800.0, 200.0])
    assert verdict(result, "end of life", "near 365") == NOT_MET
    assert verdict(result, "end of life") == NOT_KNOWN
    assert "end of life: not known for near 405" in json.loads(result.attrs["not_measured"])


def test_an_invalid_pixel_is_named_where_it_counts_and_only_there():
    light = LIGHT.copy()
    light[1, 3] = np.nan
    result = compared(
        light, needed=needed(high=390, maximum_irradiance=1e4), end_of_life=by_source(0.95, 0.95)
    )
    assert verdict(result, "irradiance") == MET  # 360–390 nm needs no sample at 410 nm
    assert verdict(result, "end of life") == MET
    assert verdict(result, "upper limit") == NOT_KNOWN
    assert "410.0–410.0 nm" in reason(result, "upper limit") or "410.0 nm" in reason(result, "upper limit")
    wide = compared(light, end_of_life=by_source(0.5, 0.5))
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
    share = xr.DataArray([0.9, 0.9, 0.9, np.nan], {"source": names})
    result = compared(light, end_of_life=share)
    assert dict(zip(names, result.place.values.tolist(), strict=True)) == {
        "fast": 1,
        "slow": 2,
        "unknown": 3,
        "fails": 4,
    }
    advice = result.attrs["advice"].splitlines()
    assert advice[0].startswith("Test first: fast, for 1.25 s and on both sides of it")
    assert "Then: slow (2.5 s); unknown (" in result.attrs["advice"]
    assert "fails fails irradiance" in result.attrs["advice"]
    assert json.loads(result.attrs["cautions"]) == list(CAUTIONS)


def test_where_all_fail_nothing_is_advised():
    advice = compared(needed=needed(minimum_irradiance=1e6)).attrs["advice"]
    assert "No source is worth a trial as it stands." in advice
    assert "Test first" not in advice


def test_advice_speaks_of_the_wavelength_of_the_data_sheet():
    advice = compared(needed=needed(data_sheet_wavelength=365.0)).attrs["advice"]
    assert "The data sheet speaks of 365 nm, but the part keeps 90 % of the light of near 365." in advice


def test_nothing_claims_a_cure():
    result = compared(needed=needed(data_sheet_wavelength=365.0, maximum_temperature=350.0))
    said = " ".join([result.attrs["advice"], result.attrs["rule"], *result.reason.values.ravel()])
    assert "cure" not in said.lower()


def test_draws_are_judged_by_their_mean():
    factor = xr.DataArray(np.linspace(0.5, 1.5, 101), dims="draw")
    result = figures_at_bond_line(LIGHT * factor, PART, FILM, NEEDED)
    ends = result.band_irradiance.sel(source="near 405").values[[0, -1]]
    assert ends == pytest.approx([100.0, 300.0])
    judged = compared((LIGHT * factor).assign_attrs(LIGHT.attrs))
    assert "20 mW/cm² (10.4–29.6)" in reason(judged, "irradiance")


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
