"""Heads of radiometers, on spectra that can be checked by hand; all of them are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from spectralbench.draws import draw
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.radiometer import (
    Head,
    Reading,
    comparable,
    corrected_reading,
    mismatch_factor,
    out_of_band_share,
    reconcile,
    spectral_match_index,
)

NAN = np.nan


def curve(values, grid, **attributes):
    values = np.asarray(values, float)
    dims = ("draw", "wavelength")[-values.ndim :]
    return xr.DataArray(values, {"wavelength": np.asarray(grid, float)}, dims, attrs=attributes)


def line(centre, half=1.0):
    """A triangle of area `half`: so narrow that a straight response counts as at its centre."""
    return curve([0, 1, 0], [centre - half, centre, centre + half])


def bell(centre, width):
    grid = np.arange(300.0, 451.0)
    return curve(2.0 ** -((2 * (grid - centre) / width) ** 2), grid)


SLOPE = curve([0.0, 1.0, 0.0], [300, 350, 450])  # at 365, 385, 405 and 425 nm: 0.85, 0.65, 0.45 and 0.25


class TestFactor:
    @pytest.mark.parametrize(("at", "expected"), [(365, 1.0), (385, 0.85 / 0.65), (425, 0.85 / 0.25)])
    def test_lines_on_a_slope(self, at, expected):
        factor = mismatch_factor(SLOPE, line(365), line(at))
        assert float(factor) == pytest.approx(expected, rel=1e-12)
        assert factor.attrs["units"] == "1"
        assert factor.attrs["history"] == "spectral mismatch of a head calibrated for 1 everywhere"

    def test_a_band_counts_what_lies_in_it(self):
        # of the line at 400 nm half lies in 315–400 nm, of that at 365 nm all
        factor = mismatch_factor(SLOPE, line(365), line(400), ("315 nm", "0.4 µm"))
        assert float(factor) == pytest.approx(0.85 / 0.5 / 2, rel=1e-12)

    def test_light_of_which_the_target_counts_nothing(self):
        """The head shows something, and should show nothing."""
        arc = curve([1, 0, 0, 1], [360, 370, 410, 420])
        assert float(mismatch_factor(SLOPE, curve([1, 1], [360, 420]), arc, (372, 408))) == 0.0

    def test_a_curve_as_target_has_a_grid_of_its_own(self):
        ramp = curve([1.0, 3.0], [350, 450])
        assert float(mismatch_factor(SLOPE, line(350 + 1), line(425), ramp)) == pytest.approx(
            (2.5 / 1.02) * (0.99 / 0.25), rel=1e-12
        )

    def test_units_and_directions_make_no_difference(self):
        source = (line(385) / 10).assign_attrs(units="mW/cm^2/nm").isel(wavelength=slice(None, None, -1))
        lamp = line(365).assign_attrs(units="W m-2 nm-1")
        lamp = lamp.assign_coords(wavelength=("wavelength", lamp.wavelength.values / 1000, {"units": "µm"}))
        factor = mismatch_factor(SLOPE.isel(wavelength=slice(None, None, -1)), lamp, source)
        assert float(factor) == pytest.approx(0.85 / 0.65, rel=1e-9)

    def test_a_response_in_logarithms(self):
        falling = curve([1.0, 0.01], [350, 450], interpolation="logarithmic")
        factor = mismatch_factor(falling, line(370, 0.01), line(420, 0.01))
        assert float(factor) == pytest.approx(10, rel=1e-6)

    def test_draws_of_a_gain_cancel(self):
        drawn = draw(SLOPE, 0.1 * SLOPE, draws=50, seed=1, correlation="full")
        factor = mismatch_factor(drawn, line(365), line(385))
        assert factor.dims == ("draw",)
        assert factor.values == pytest.approx(0.85 / 0.65, rel=1e-12)

    def test_an_invalid_sample_outside_the_response_does_no_harm(self):
        narrow = curve([1.0, 1.0], [360, 390])
        wide = curve([NAN, 1, 1, 1], [340, 360, 390, 400])
        drawn = xr.concat([narrow, 2 * narrow], "draw")
        for response in (narrow, drawn):
            factor = mismatch_factor(response, line(365), wide, (360, 390))
            assert np.asarray(factor) == pytest.approx(1.0)
            assert np.isnan(mismatch_factor(response, line(365), wide)).all()


class TestFactorRefused:
    def test_a_head_that_does_not_see_the_source(self):
        with pytest.raises(
            RangeError,
            match=r"no signal of the measured source: its response covers 300–390 nm, the spectrum "
            r"404–406 nm.*use a head with a response there, or a spectrometer",
        ):
            mismatch_factor(curve([1, 1], [300, 390]), line(365), line(405))

    def test_a_head_that_does_not_see_its_calibration(self):
        with pytest.raises(
            RangeError, match="no signal of the calibration source: its response covers 300–450"
        ):
            mismatch_factor(SLOPE, 0 * line(365), line(405))

    def test_one_draw_without_a_signal_is_enough(self):
        with pytest.raises(RangeError, match="no signal of the calibration source"):
            mismatch_factor(xr.concat([SLOPE, -SLOPE], "draw"), line(365), line(405))

    def test_a_calibration_without_anything_of_the_target(self):
        with pytest.raises(RangeError, match=r"gives nothing that the target, 375–380 nm, counts: check the"):
            mismatch_factor(SLOPE, curve([1, 0, 0], [360, 370, 390]), line(377), (375, 380))

    def test_a_spectrum_that_covers_nothing_of_the_target(self):
        with pytest.raises(RangeError, match=r"covers 315–400 nm, and nothing of that lies in the spectrum"):
            mismatch_factor(SLOPE, line(365), line(420), (315, 400))

    def test_limits_the_wrong_way_round(self):
        with pytest.raises(RangeError, match="from a shorter to a longer wavelength, not 400 to 315 nm"):
            mismatch_factor(SLOPE, line(365), line(385), (400, 315))

    def test_light_against_counts_per_second(self):
        lamp, source = line(365).assign_attrs(units="W m-2 nm-1"), line(385).assign_attrs(units="s-1")
        with pytest.raises(
            UnitsError, match=r'calibration spectrum is in "W m-2 nm-1" and the measured one in "s-1"'
        ):
            mismatch_factor(SLOPE, lamp, source)
        assert (
            mismatch_factor(SLOPE, line(365).assign_attrs(units="1"), source) > 1
        )  # relative is always taken

    def test_a_response_with_a_gap(self):
        with pytest.raises(GridError, match="a response has only finite values"):
            mismatch_factor(curve([1, NAN, 1], [300, 350, 400]), line(365), line(385))

    def test_a_response_with_a_grid_out_of_order(self):
        with pytest.raises(
            GridError, match="response has wavelengths out of order: 350 nm is followed by 340 nm"
        ):
            mismatch_factor(curve([1, 1, 1], [300, 350, 340]), line(365), line(385))

    def test_draws_of_another_number(self):
        several = [xr.concat([one] * n, "draw") for one, n in ((SLOPE, 2), (line(385), 3))]
        with pytest.raises(GridError, match="the arguments do not fit together"):
            mismatch_factor(several[0], line(365), several[1])


class TestFactorRemarks:
    HEAD = bell(355, 40)  # calibrated at 365 nm it shows a tenth of an LED at 395 nm, and a 45th at 405 nm

    @pytest.mark.parametrize(("at", "said"), [(395, "1/10.9"), (405, "1/45.4")])
    def test_a_head_for_ultraviolet_under_an_led_near_400_nm(self, at, said):
        factor = mismatch_factor(self.HEAD, bell(365, 12), bell(at, 12))
        assert factor.attrs["comment"] == (
            f"the head shows only {said} of the measured source: such a factor hangs on the edge of the "
            "response curve. Calibrate the head with a source like the measured one, or trust the "
            "spectrometer"
        )

    def test_a_head_that_shows_too_much(self):
        factor = mismatch_factor(self.HEAD, bell(395, 12), bell(365, 12))
        assert "the head shows 10.9 times the measured source" in factor.attrs["comment"]

    def test_nothing_to_remark(self):
        assert "comment" not in mismatch_factor(self.HEAD, bell(365, 12), bell(360, 12)).attrs

    def test_the_worst_of_several_sources_is_named(self):
        sources = xr.concat([bell(365, 12), bell(405, 12)], "source")
        assert "1/45.4" in mismatch_factor(self.HEAD, bell(365, 12), sources).attrs["comment"]

    def test_a_spectrum_that_ends_inside_the_target(self):
        arc = curve([1, 1, 1], [330, 380, 450])
        assert (
            mismatch_factor(SLOPE, line(365), arc, (315, 400))
            .attrs["comment"]
            .startswith(
                "calibration source: measured only over 364–366 nm of the band 315–400 nm; "
                "measured source: measured only over 330–400 nm of the band 315–400 nm"
            )
        )

    def test_a_response_that_ends_in_the_light(self):
        # flat over 350–380 nm, under flat light over 350–400 nm: 20 nm more to 30 nm
        flat, arc = curve([2, 2], [350, 380]), curve([1, 1], [350, 400])
        assert mismatch_factor(flat, line(365), arc).attrs["comment"] == (
            "the response ends at 380 nm above zero; if it went on so, the signal of the measured source "
            "would grow by 67%"
        )

    def test_a_spectrum_that_ends_in_the_response(self):
        flat, arc = curve([2, 2], [350, 380]), curve([1, 1], [360, 380])
        assert mismatch_factor(xr.concat([flat, flat], "draw"), line(365), arc).attrs["comment"] == (
            "the spectrum of the measured source ends at 360 nm above zero; if it went on so, the signal of "
            "the measured source would grow by 50%"
        )


class TestMatch:
    def test_half_of_a_band(self):
        # the response fills 300–350 nm of 300–400 nm, and the lamp is flat: s* = 2 there, 0 beyond
        index = spectral_match_index(curve([7, 7], [300, 350]), curve([1, 1], [300, 400]), (300, 400))
        assert float(index) == pytest.approx(1.0, rel=1e-12)
        assert index.attrs["units"] == "1"

    def test_what_lies_beyond_the_band_counts(self):
        # flat over 300–500 nm, calibrated with a line inside the band: s* = 1; 100 nm too much to 100 nm
        index = spectral_match_index(curve([3, 3], [300, 500]), line(350), (300, 400))
        assert float(index) == pytest.approx(1.0, rel=1e-12)

    def test_apart_from_the_target(self):
        # the line is where both are 1; from there |s* − t| rises to 1 over 310–320 nm and stays so
        # up to 330 nm: 5 + 10 to a target of 5 + 20
        index = spectral_match_index(
            curve([0, 1, 0], [300, 310, 320]), line(310), curve([0, 1, 1], [300, 310, 330])
        )
        assert float(index) == pytest.approx(15 / 25, rel=1e-12)

    def test_draws_and_sources(self):
        response = xr.concat([curve([7, 7], [300, 350]), curve([7, 7], [300, 350]) * 2], "draw")
        lamps = xr.concat([curve([1, 1], [300, 400]), curve([3, 3], [300, 400])], "source")
        index = spectral_match_index(response, lamps, (300, 400))
        assert dict(index.sizes) == {"source": 2, "draw": 2}
        assert index.values.ravel() == pytest.approx(1.0)

    def test_a_target_of_nothing(self):
        with pytest.raises(RangeError, match="the target, a curve over 300–400 nm, is nowhere above 0"):
            spectral_match_index(SLOPE, line(365), curve([0, 0], [300, 400]))


class TestOutside:
    def test_a_leak(self):
        # 0.02 over 100 nm beside 1 over 50 nm
        response = curve([1, 1, 0.02, 0.02], [350, 400, 400 + 1e-9, 500])
        share = out_of_band_share(response, curve([1, 1], [300, 600]), "350 nm", 400)
        assert float(share) == pytest.approx(2 / 52, rel=1e-6)

    @pytest.mark.parametrize(
        ("limits", "expected"), [((300, 450), 0.0), ((500, 600), 1.0), ((200, 365), 0.5)]
    )
    def test_nothing_half_and_all(self, limits, expected):
        share = out_of_band_share(curve([1, 1], [300, 450]), line(365), *limits)
        assert float(share) == pytest.approx(expected, abs=1e-15)

    def test_limits_the_wrong_way_round(self):
        with pytest.raises(RangeError, match="from a shorter to a longer wavelength, not 400 to 350 nm"):
            out_of_band_share(SLOPE, line(365), 400, 350)

    def test_no_signal(self):
        with pytest.raises(RangeError, match="no signal of the measured source"):
            out_of_band_share(SLOPE, line(500), 300, 400)


HEAD = Head("A-0113", "2025-11-03", response=SLOPE, calibration=line(365), standard_uncertainty="2.5 %")
OTHER = Head("B-0007", "2025-12-01", band=(300, 450), shape="flat", calibration=line(365))


class TestHead:
    @pytest.mark.parametrize(
        ("fields", "said"),
        [
            ({"name": " "}, "a head has a name that tells it from every other"),
            ({"band": (390, 320)}, "from a shorter to a longer wavelength, not 390 to 320 nm"),
            ({"shape": "square"}, 'the shape of a response is flat or gaussian, not "square"'),
            ({"standard_uncertainty": -0.1}, "a relative standard uncertainty .* 0 and 1, .*; -0.1 does not"),
            ({"standard_uncertainty": 3}, 'between 0 and 1, such as 0.03 or "3 %"; 3 does not'),
            ({"standard_uncertainty": "300 %"}, "300 % does not"),
        ],
    )
    def test_senseless(self, fields, said):
        with pytest.raises(RangeError, match=said):
            Head(**{"name": "A-0113", **fields})

    def test_a_bell_stands_at_half_its_height_at_its_limits(self):
        found = Head("A-0113", band=(335, "375 nm"), shape="gaussian").curve
        assert np.interp([335, 355, 375], found.wavelength, found) == pytest.approx([0.5, 1, 0.5], rel=1e-9)
        assert found[[0, -1]].values == pytest.approx(2.0**-16)

    def test_a_measured_response_goes_before_limits(self):
        assert Head("A", response=SLOPE, band=(300, 400), shape="flat").curve is SLOPE

    @pytest.mark.parametrize(
        "head", [Head("A", label="UV-A"), Head("A", band=(300, 400)), Head("A", shape="flat")]
    )
    def test_what_is_not_known_is_none(self, head):
        assert head.curve is None


class TestCorrection:
    def test_a_reading(self):
        found = corrected_reading(Reading(65.0, HEAD, "LED 385", line(385)))
        assert float(found) == pytest.approx(85.0, rel=1e-12)
        assert found.attrs["units"] == "W m-2"
        assert found.attrs["long_name"] == "irradiance, 1 everywhere"
        assert found.attrs["history"] == (
            'corrected the reading of head "A-0113" (calibrated 2025-11-03) under "LED 385": '
            "spectral mismatch from 1 everywhere to 1 everywhere, factor 1.308"
        )

    def test_in_time_and_in_another_unit(self):
        log = xr.DataArray(
            [6.5, 13.0], {"time": [0, 10]}, "time", attrs={"units": "mW/cm^2", "history": "read"}
        )
        found = corrected_reading(Reading(log, HEAD, "LED", line(385)))
        assert found.values == pytest.approx([85.0, 170.0], rel=1e-12)
        assert found.attrs["units"] == "W m-2"
        assert found.attrs["history"].startswith("read\ncorrected the reading of head")

    @pytest.mark.parametrize("dose", ["6.5 mJ/cm^2", xr.DataArray(6.5, attrs={"units": "mJ/cm^2"})])
    def test_radiant_exposure(self, dose):
        found = corrected_reading(Reading(dose, HEAD, "LED", line(385)))
        assert float(found) == pytest.approx(85.0, rel=1e-12)
        assert (found.attrs["units"], found.attrs["long_name"]) == ("J m-2", "radiant exposure, 1 everywhere")

    def test_neither_irradiance_nor_exposure(self):
        with pytest.raises(
            UnitsError, match=r'the reading of head "A-0113".* is in "V"; expected irradiance or radiant'
        ):
            corrected_reading(Reading(xr.DataArray(1.0, attrs={"units": "V"}), HEAD, "LED", line(385)))

    def test_text_of_neither(self):
        with pytest.raises(
            UnitsError, match=r'under "LED" is "6\.5 V"; expected irradiance or radiant exposure'
        ):
            corrected_reading(Reading("6.5 V", HEAD, "LED", line(385)))

    def test_to_another_band(self):
        # the head states all light; half of the line at 400 nm lies in 315–400 nm
        found = corrected_reading(Reading(50.0, HEAD, "LED", line(400)), (315, 400))
        assert float(found) == pytest.approx(85.0 / 2, rel=1e-12)
        assert "from 1 everywhere to 315–400 nm" in found.attrs["history"]
        assert found.attrs["long_name"] == "irradiance, 315–400 nm"

    def test_draws_of_the_gain(self):
        gain = draw(1.0, 0.025, draws=40, seed=3)
        found = corrected_reading(Reading(65.0, replace(HEAD, gain=gain), "LED", line(385)))
        assert found.values == pytest.approx(85 * gain.values, rel=1e-12)
        assert "comment" not in found.attrs

    def test_draws_that_leave_out_the_calibration(self):
        found = corrected_reading(Reading(draw(65.0, 1.0, draws=20, seed=4), HEAD, "LED", line(385)))
        assert found.attrs["comment"] == (
            'the draws leave out the calibration of head "A-0113" (calibrated 2025-11-03), 0.025 relative: '
            "give a gain with draws"
        )

    def test_an_assumed_response_says_so(self):
        found = corrected_reading(Reading(65.0, OTHER, "LED", line(385)))
        assert float(found) == pytest.approx(65.0, rel=1e-12)
        assert found.attrs["comment"] == (
            'the response of head "B-0007" (calibrated 2025-12-01) is assumed: flat, '
            "from the limits 300–450 nm"
        )

    def test_what_the_factor_hangs_on_goes_with_the_reading(self):
        found = corrected_reading(Reading(65.0, HEAD, "LED", line(425)))
        assert "the head shows only 1/3.4 of the measured source" in found.attrs["comment"]

    def test_nothing_is_known(self):
        with pytest.raises(RangeError) as error:
            corrected_reading(Reading(65.0, Head("C", label="UV-A"), "LED"))
        assert str(error.value) == (
            'the reading of head "C" under "LED" cannot be corrected: there is no response curve of head "C" '
            '(the label "UV-A" says neither limits nor shape); there is no spectrum of the source that head '
            '"C" was calibrated with; there is no spectrum of "LED". Take the response curve and the '
            "calibration source from the certificate of the head, and measure the spectrum of the source at "
            "the head"
        )

    def test_limits_without_a_shape(self):
        with pytest.raises(RangeError, match=r"limits alone do not say what it is between and beyond them"):
            corrected_reading(Reading(65.0, Head("C", band=(320, 390)), spectrum=line(385)))


class TestComparison:
    def test_one_head_under_one_source_is_compared_as_read(self):
        head = Head("C", label="UV-A")
        found = comparable(Reading(50.0, head, "LED"), Reading(40.0, head, "LED"))
        assert float(found.ratio) == 1.25
        assert found.attrs["comment"] == "one head under one source, compared as read"

    def test_two_heads_under_one_source(self):
        # under the line at 385 nm, of 100 W/m², the slope shows 65/85 and the flat head all
        found = comparable(
            Reading(100 * 0.65 / 0.85, HEAD, "LED", line(385)), Reading(100.0, OTHER, "LED", line(385))
        )
        assert (float(found["first"]), float(found.second)) == pytest.approx((100, 100), rel=1e-12)
        assert float(found.ratio) == pytest.approx(1.0, rel=1e-12)
        assert found.attrs["comment"] == "compared after correction (two heads)"

    def test_one_head_under_two_sources(self):
        found = comparable(
            Reading(85.0, HEAD, "LED 365", line(365)), Reading(45.0, HEAD, "LED 405", line(405))
        )
        assert float(found.ratio) == pytest.approx(1.0, rel=1e-12)
        assert found.attrs["comment"] == "compared after correction (two sources)"

    def test_the_gain_of_one_head_cancels_between_sources(self):
        head = replace(HEAD, gain=draw(1.0, 0.1, draws=30, seed=5))
        found = comparable(Reading(85.0, head, "a", line(365)), Reading(45.0, head, "b", line(405)))
        assert found["first"].std() > 1
        assert found.ratio.values == pytest.approx(1.0, rel=1e-12)

    def test_a_head_calibrated_anew_is_another(self):
        found = comparable(
            Reading(85.0, HEAD, "LED", line(365)),
            Reading(85.0, replace(HEAD, calibrated="2026-01-07"), "LED", line(365)),
        )
        assert found.attrs["comment"] == "compared after correction (two heads)"

    @pytest.mark.parametrize(
        ("changed", "said"),
        [
            (
                {"response": None, "label": "UV"},
                'no response curve of head "A-0113".*the label "UV" says neither',
            ),
            (
                {"calibration": None},
                'no spectrum of the source that head "A-0113" .* was calibrated with',
            ),
        ],
    )
    def test_refused_for_want_of_a_certificate(self, changed, said):
        one, other = (
            Reading(85.0, replace(HEAD, **changed), name, line(at)) for name, at in (("a", 365), ("b", 405))
        )
        with pytest.raises(
            RangeError, match=rf"cannot be compared as read \(two sources\), nor be .*{said}"
        ) as error:
            comparable(one, other)
        assert str(error.value).count("A-0113") <= 4  # what is missing of one head is said once
        assert str(error.value).endswith(
            "Uncorrected, a head calibrated near 365 nm can show a tenth or less of an LED near 400 nm"
        )

    def test_refused_for_want_of_a_spectrum(self):
        with pytest.raises(
            RangeError, match=r'two heads and two sources\), nor be corrected: there is no spectrum of "arc"'
        ):
            comparable(Reading(85.0, HEAD, "LED", line(365)), Reading(85.0, OTHER, "arc"))

    def test_unnamed_sources_are_two_unless_they_share_a_spectrum(self):
        with pytest.raises(
            RangeError, match=r"under an unnamed source.*two sources.*no spectrum of its source"
        ):
            comparable(Reading(85.0, HEAD), Reading(85.0, HEAD))
        light = line(365)
        one, other = Reading(85.0, HEAD, spectrum=light), Reading(17.0, HEAD, spectrum=light)
        assert float(comparable(one, other).ratio) == 5.0

    def test_two_targets(self):
        one = Reading(85.0, replace(HEAD, target=(315, 400)), "a", line(365))
        other = Reading(100.0, replace(OTHER, target=curve([1, 1], [300, 450])), "a", line(365))
        with pytest.raises(
            RangeError, match=r"states 315–400 nm, and head .* a curve over 300–450 nm: these are diff"
        ):
            comparable(one, other)
        assert float(comparable(one, other, (315, 400)).ratio) == pytest.approx(0.85, rel=1e-12)
        same = Reading(100.0, replace(OTHER, target=("0.315 µm", "400 nm")), "a", line(365))
        assert float(comparable(one, same).ratio) == pytest.approx(0.85, rel=1e-12)

    def test_a_target_makes_readings_of_one_head_corrected_too(self):
        one, other = Reading(85.0, HEAD, "a", line(365)), Reading(17.0, HEAD, "a", line(365))
        assert (
            comparable(one, other, (315, 400)).attrs["comment"]
            == "compared after correction (another target)"
        )

    def test_irradiance_against_exposure(self):
        dose = xr.DataArray(6.5, attrs={"units": "mJ/cm^2"})
        with pytest.raises(UnitsError, match=r'under "a" is in "W m-2", and the reading .* is in "J m-2"'):
            comparable(Reading(85.0, HEAD, "a"), Reading(dose, HEAD, "a"))


class TestAgreement:
    @pytest.mark.parametrize(
        ("one", "other", "error", "agree"), [(1000, 1100, -1.0, True), (1210, 1100, 1.1, False)]
    )
    def test_values_with_uncertainties(self, one, other, error, agree):
        # √(30² + 40²) = 50, expanded 100
        said = reconcile(one, other, 30.0, 40.0)
        assert float(said.normalised_error) == pytest.approx(error)
        assert bool(said.agree) is agree
        assert (float(said.difference), float(said.standard_uncertainty)) == (one - other, 50.0)
        ratio = one / other
        reach = 2 * ratio * np.hypot(30 / one, 40 / other)  # relative variances add (JCGM 100:2008, 5.1.6)
        assert (float(said.ratio_low), float(said.ratio_high)) == pytest.approx(
            (ratio - reach, ratio + reach)
        )
        assert said.attrs["comment"] == "the two are taken as independent"

    def test_words(self):
        assert str(reconcile(1000, 1100, 30.0, 40.0).verdict.values) == "they agree within their intervals"
        assert str(reconcile(720, 1000, 20.0, 30.0).verdict.values) == (
            "they do not: the radiometer shows 0.72 times what the spectrometer shows (0.661–0.779), and E_n "
            "is -3.9. Look first at band limits, calibration source, distance, saturation, ageing of the "
            "filter"
        )
        for far in (9930, 1):  # a thousandfold is mW for W, and no filter has aged like that
            assert "Look first at the units of the readings, band limits" in str(
                reconcile(far, 100, 1.0, 1.0).verdict.values
            )
        assert str(reconcile(NAN * xr.DataArray(1.0), 1000, 20.0, 30.0).verdict.values) == (
            "not known: a value is not valid"
        )

    def test_units(self):
        said = reconcile("100 mW/cm^2", xr.DataArray(0.11, attrs={"units": "W/cm^2"}), "3 mW/cm^2", 40.0)
        assert float(said.normalised_error) == pytest.approx(-1.0)
        assert {str(said[name].attrs["units"]) for name in ("difference", "standard_uncertainty")} == {
            "W m-2"
        }

    def test_independent_draws_are_as_their_uncertainties(self):
        one, other = draw(1000.0, 30.0, draws=4000, seed=1), draw(1050.0, 40.0, draws=4000, seed=2)
        said = reconcile(one, other)
        # a standard deviation of 4000 draws is known to 1.1 %; four of these
        assert float(said.standard_uncertainty) == pytest.approx(50, rel=0.045)
        mixed = reconcile(one, 1050.0, None, 40.0)
        assert float(mixed.standard_uncertainty) == pytest.approx(50, rel=0.045)
        for found in (said, mixed):
            expected = 1000 / 1050 * (1 + np.array([-2, 2]) * np.hypot(30 / 1000, 40 / 1050))
            # an end of the interval of 4000 draws is known to 0.002; and 2 is not 1.96, which makes 0.002
            assert [float(found.ratio_low), float(found.ratio_high)] == pytest.approx(
                list(expected), abs=0.008
            )

    def test_what_they_share_cancels(self):
        """A common distance error: apart they would agree, together they do not."""
        shared = draw(1.0, 0.05, draws=500, seed=3)
        one, other = 1000 * shared, 1050 * shared * draw(1.0, 0.005, draws=500, seed=4)
        together, apart = reconcile(one, other), reconcile(one, other.roll(draw=1))
        assert bool(apart.agree)
        assert not bool(together.agree)
        assert together.attrs["comment"] == "difference and ratio draw by draw: what the two share cancels"

    def test_sources(self):
        other = xr.DataArray([1000.0, 700.0, NAN], {"source": ["a", "b", "c"]}, "source")
        said = reconcile(1000.0, other, 10.0, 0.01 * other)
        assert said.agree.values.tolist() == [True, False, False]
        assert [str(words)[:9] for words in said.verdict.values] == ["they agre", "they do n", "not known"]
        assert said.source.values.tolist() == ["a", "b", "c"]

    @pytest.mark.parametrize(
        ("arguments", "said"),
        [
            ((1.0, 1.0, 0.1), "the spectrometer has no uncertainty, and without one nobody can say"),
            ((1.0, draw(1.0, 0.1, draws=30)), "the radiometer has no uncertainty"),
            (
                (draw(1.0, 0.1, draws=30), 1.0, 0.1, 0.1),
                "the radiometer has draws and a standard uncertainty",
            ),
            ((1.0, 1.0, 0.1, -0.1), "not negative; that of the spectrometer is -0.1 W m-2"),
            ((1.0, 1.0, 0.0, 0.0), "nothing is uncertain here"),
            ((1.0, 0.0, 0.1, 0.1), "the irradiance of the spectrometer is above 0, not 0 W m-2"),
        ],
    )
    def test_refused(self, arguments, said):
        with pytest.raises(RangeError, match=said):
            reconcile(*arguments)

    def test_sources_that_differ(self):
        one, other = (xr.DataArray([1.0], {"source": [name]}, "source") for name in "ab")
        with pytest.raises(GridError, match="do not fit together"):
            reconcile(one, other, 0.1, 0.1)


class TestReadBeforeItsCalibration:
    LOG = xr.DataArray(
        [85.0, 84.0], {"time": np.array(["2025-11-02T16:00", "2025-11-04"], "M8[ns]")}, "time"
    ).assign_attrs(units="W m-2")

    def test_it_is_refused(self):
        """The head of 2025-11-03: the first reading is of the day before."""
        reading = Reading(self.LOG, HEAD, "LED", line(385))
        with pytest.raises(
            RangeError,
            match=r"cannot be corrected: it was read on 2025-11-02, before its calibration of 2025-11-03",
        ):
            corrected_reading(reading)
        assert corrected_reading(replace(reading, value=self.LOG[1:])).sizes == {"time": 1}

    @pytest.mark.parametrize(
        ("calibrated", "log"), [("last autumn", LOG), ("2025-11-03", LOG.drop_vars("time")), ("", LOG)]
    )
    def test_what_no_date_says_is_no_reason(self, calibrated, log):
        head = replace(HEAD, calibrated=calibrated)
        assert corrected_reading(Reading(log, head, "LED", line(385))).sizes == {"time": 2}


@pytest.mark.parametrize("target", [None, 365, (300,), (300, 350, 400), "actinic", (300, None)])
def test_a_band_is_two_limits(target):
    with pytest.raises(RangeError, match=r"a band is two limits, such as \(315, 400\) or .*; not "):
        spectral_match_index(SLOPE, line(365), target)


def test_a_spectrum_without_wavelengths_is_refused():
    with pytest.raises(GridError, match=r"a spectrum has the dimension wavelength; this one has \(\)"):
        mismatch_factor(SLOPE, line(365), 1.0)
    with pytest.raises(RangeError, match=r"mismatch_factor\(\): calibration is missing: it is None"):
        mismatch_factor(SLOPE, None, line(365))
