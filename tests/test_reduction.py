import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.reduction import (
    band_irradiance,
    centre_wavelength,
    centroid_wavelength,
    figures,
    fwhm,
    peak_wavelength,
    photon_irradiance,
    weighted_irradiance,
)

SHAPES = [peak_wavelength, centre_wavelength, fwhm]


def flat(low=300.0, high=500.0, value=1.0, **attrs):
    return xr.DataArray([value, value], {"wavelength": [low, high]}, "wavelength", attrs=attrs)


def line(values, wavelength):
    return xr.DataArray(
        np.asarray(values, float), {"wavelength": np.asarray(wavelength, float)}, "wavelength"
    )


TRIANGLE = line([0, 0, 4, 0, 0], [350, 355, 365, 370, 380])
FIGURES = {
    "band": lambda e: band_irradiance(e, 355, 370),
    "photons": lambda e: photon_irradiance(e, 355, 370),
    "weighted": lambda e: weighted_irradiance(e, "actinic"),
    "peak": peak_wavelength,
    "centroid": lambda e: centroid_wavelength(e, 355, 370),
    "centre": centre_wavelength,
    "width": fwhm,
}


def test_the_figures_of_a_triangle_by_hand():
    assert band_irradiance(TRIANGLE, 350, 380) == pytest.approx(30.0)  # 4 × 15 / 2
    assert band_irradiance(TRIANGLE, 355, 360) == pytest.approx(5.0)  # 2 × 5 / 2
    assert band_irradiance(TRIANGLE, 366, 367.5) == pytest.approx(3.9)  # (3.2 + 2) / 2 × 1.5
    assert centre_wavelength(TRIANGLE) == pytest.approx((360 + 367.5) / 2)
    assert fwhm(TRIANGLE) == pytest.approx(7.5)


def test_the_parabola_through_uneven_samples_by_hand():
    # y = 9 − (x − 3)², sampled away from its vertex
    assert peak_wavelength(line([0, 5, 8, 5.0, 0], [0, 1, 2, 5, 6])) == pytest.approx(3.0)


def test_a_peak_at_the_end_of_the_grid_is_the_end():
    assert peak_wavelength(line([3, 2, 1], [300, 310, 320])) == 300.0
    assert peak_wavelength(line([1, 2, 3], [300, 310, 320])) == 320.0


def test_the_nearest_crossings_count_not_the_outermost():
    # half maximum 2 is crossed at 305 and 315 nearest the peak, and once more by the side line at 340
    spectrum = line([0, 4, 0, 0, 3, 0], [300, 310, 320, 330, 340, 350])
    assert fwhm(spectrum) == pytest.approx(10.0)
    assert centre_wavelength(spectrum) == pytest.approx(310.0)


def test_a_sample_on_half_maximum_is_the_crossing():
    assert fwhm(line([0, 2, 4, 2, 0], [300, 310, 320, 330, 340])) == pytest.approx(20.0)


def test_a_sample_that_only_touches_half_maximum_is_the_crossing():
    assert fwhm(line([2, 4, 2], [300, 310, 320])) == pytest.approx(20.0)
    assert fwhm(line([0, 4, 2, 3, 0], [300, 310, 320, 330, 340])) == pytest.approx(15.0)


@pytest.mark.parametrize("values", [[4, 3, 2, 1, 0], [0, 1, 2, 3, 4], [3, 3, 4, 3, 3]])
def test_without_two_crossings_there_is_no_width(values):
    spectrum = line(values, [300, 310, 320, 330, 340])
    assert np.isnan(fwhm(spectrum))
    assert np.isnan(centre_wavelength(spectrum))
    assert np.isfinite(peak_wavelength(spectrum))


@pytest.mark.parametrize("figure", SHAPES)
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan])
def test_a_spectrum_without_light_has_no_shape(figure, value):
    assert np.isnan(figure(line([value] * 4, [300, 310, 320, 330])))


@pytest.mark.parametrize("figure", SHAPES)
def test_an_infinite_spectrum_has_no_shape_and_raises_no_warning(figure):
    assert np.isnan(figure(line([np.inf] * 4, [300, 310, 320, 330])))


def test_a_dark_spectrum_has_no_centroid():
    assert np.isnan(centroid_wavelength(flat(value=0.0), 315, 400))


@pytest.mark.parametrize(
    ("figure", "units", "long_name"),
    [
        ("band", "W m-2", "irradiance in 355–370 nm"),
        ("photons", "umol m-2 s-1", "photon irradiance in 355–370 nm"),
        ("weighted", "W m-2", "weighted irradiance"),
        ("peak", "nm", "peak wavelength"),
        ("centroid", "nm", "centroid wavelength over 355–370 nm"),
        ("centre", "nm", "centre wavelength at half maximum"),
        ("width", "nm", "full width at half maximum"),
    ],
)
def test_a_figure_says_what_it_is(figure, units, long_name):
    attrs = FIGURES[figure](TRIANGLE.assign_attrs(units="W m-2 nm-1", long_name="lamp", history="old")).attrs
    assert attrs["units"] == units
    assert attrs["long_name"] == long_name
    assert "history" not in attrs


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_a_figure_keeps_the_other_dimensions(figure):
    spectra = (TRIANGLE * xr.DataArray([[1.0, 2.0, 3.0]] * 2, dims=("draw", "source"))).assign_coords(
        source=["a", "b", "c"], pixel=("wavelength", range(5))
    )
    for order in (("draw", "source", "wavelength"), ("wavelength", "source", "draw")):
        result = figure(spectra.transpose(*order))
        assert set(result.dims) == {"draw", "source"}
        assert set(result.coords) == {"source"}
        assert result.name is None
        one = figure(TRIANGLE * 2.0)
        np.testing.assert_allclose(result.sel(source="b"), one, rtol=1e-13)


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_a_figure_of_no_spectra_is_no_figures(figure):
    assert figure(TRIANGLE.expand_dims(spectrum=2).isel(spectrum=slice(0))).shape == (0,)


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_the_spectrum_is_left_unchanged(figure):
    given = xr.DataArray(
        TRIANGLE.values[::-1].copy(),
        {"wavelength": ("wavelength", TRIANGLE.wavelength.values[::-1] / 1000, {"units": "µm"})},
        "wavelength",
        name="lamp",
        attrs={"units": "mW/cm^2/nm"},
    )
    before = given.copy(deep=True)
    figure(given)
    xr.testing.assert_identical(given, before)


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_an_array_without_wavelengths_is_no_spectrum(figure):
    message = "a spectrum has the dimension wavelength; this one has ('time',)"
    with pytest.raises(GridError, match=re.escape(message)):
        figure(xr.DataArray([1.0, 2.0], dims="time"))


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_a_disordered_spectrum_is_refused(figure):
    with pytest.raises(
        GridError, match="spectrum has wavelengths out of order: 310 nm is followed by 310 nm"
    ):
        figure(line([1, 2, 3], [300, 310, 310]))


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_plain_numbers_are_refused_in_words(figure):
    with pytest.raises(GridError, match="DataArray"):
        figure(np.ones(5))


@pytest.mark.parametrize("figure", SHAPES)
def test_a_shape_needs_three_samples(figure):
    with pytest.raises(GridError, match="a peak needs at least 3 wavelengths; this spectrum has 2"):
        figure(flat())


@pytest.mark.parametrize("figure", [band_irradiance, photon_irradiance])
def test_a_spectrum_of_another_kind_is_refused(figure):
    message = f'{figure.__name__}(): spectrum: "J m-2" cannot be converted to "W m-2 nm-1"'
    with pytest.raises(UnitsError, match=re.escape(message)):
        figure(flat(units="J m-2"), 315, 400)


def test_no_unit_is_taken_as_declared_and_a_number_as_a_pure_number():
    assert float(band_irradiance(flat(units=None), 315, 400)) == float(band_irradiance(flat(), 315, 400))
    with pytest.raises(UnitsError, match='"1" cannot be converted to "W m-2 nm-1"'):
        band_irradiance(flat(units=1), 315, 400)


@pytest.mark.parametrize("figure", [band_irradiance, photon_irradiance, centroid_wavelength])
def test_limits_may_carry_a_unit(figure):
    assert figure(flat(), "0.315 µm", "4000 Å") == pytest.approx(float(figure(flat(), 315, 400)))
    with pytest.raises(
        UnitsError, match=re.escape(f'{figure.__name__}(): low: "315" has no unit; write it as "315 nm"')
    ):
        figure(flat(), "315", 400)


@pytest.mark.parametrize("figure", [band_irradiance, photon_irradiance, centroid_wavelength])
@pytest.mark.parametrize(
    ("low", "high", "message"),
    [
        (400, 315, "a band runs from a shorter to a longer wavelength, not 400 to 315 nm"),
        (100, 280, "the band 100–280 nm lies outside the spectrum, which covers 300–500 nm"),
    ],
)
def test_limits_that_make_no_sense_are_refused(figure, low, high, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        figure(flat(), low, high)


def test_a_band_that_is_covered_in_part_says_so():
    result = band_irradiance(flat(), 280, 315)
    assert result == pytest.approx(15.0)
    assert result.attrs["comment"] == "measured only over 300–315 nm of the band 280–315 nm"
    assert "comment" not in band_irradiance(flat(), 315, 400).attrs


def test_a_weighting_that_is_covered_in_part_says_so():
    comment = weighted_irradiance(flat(), "blue_light").attrs["comment"]
    assert comment == "measured only over 300–500 nm of the band 300–700 nm"


def test_a_centroid_over_a_part_of_its_limits_says_so():
    comment = centroid_wavelength(flat(), 200, 400).attrs["comment"]
    assert comment == "measured only over 300–400 nm of the band 200–400 nm"


def test_an_open_limit_means_all_that_was_measured():
    assert "comment" not in band_irradiance(flat(), -np.inf, 400).attrs


def test_a_named_weighting_is_the_curve_of_that_name():
    spectrum = flat(250.0, 400.0)
    curve = xr.DataArray([2.0, 2.0], {"wavelength": [260.0, 270.0]}, "wavelength")
    assert weighted_irradiance(spectrum, curve) == pytest.approx(20.0)
    with pytest.raises(RangeError, match='there is no reference curve "tan"'):
        weighted_irradiance(spectrum, "tan")


def test_a_weighting_in_percent_is_a_weighting():
    curve = xr.DataArray([100.0, 100.0], {"wavelength": [300.0, 400.0]}, "wavelength", attrs={"units": "%"})
    assert weighted_irradiance(flat(), curve) == pytest.approx(100.0)


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
def test_a_bad_sample_harms_only_its_own_spectrum(figure):
    pair = xr.concat([TRIANGLE, TRIANGLE], "spectrum").copy()
    pair[0, 2] = np.nan
    result = figure(pair)
    assert np.isnan(result[0])
    np.testing.assert_allclose(result[1], figure(TRIANGLE), rtol=1e-14)


def test_figures_in_a_band_by_hand():
    """A triangle of height 4 at 2 nm, and something taller outside the band."""
    tent = xr.DataArray([0.0, 4.0, 0.0, 9.0], {"wavelength": [1.0, 2.0, 3.0, 4.0]}, "wavelength")
    found = figures(tent, "1 nm", "3 nm")
    assert found.peak_wavelength == 2.0
    assert found.centroid_wavelength == pytest.approx(2.0)
    assert found["mean"] == pytest.approx(2.0)  # an area of 4 over 2 nm
    assert "mean" not in figures(tent)
    light = tent.assign_attrs(units="W m-2 nm-1")
    assert figures(light, 1, 3).irradiance == pytest.approx(4.0)
    assert "mean" not in figures(light, 1, 3)
    with pytest.raises(RangeError):
        figures(tent, 3, 1)
    with pytest.raises(GridError, match="at least 3 wavelengths; this spectrum has 2"):
        figures(tent, 1.5, 3)
