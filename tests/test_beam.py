"""The beam on the part, held against closed forms: each is derived or stated where it is used."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest
import xarray as xr
from scipy.signal import peak_widths
from scipy.special import erf

import spectralbench as sb
from spectralbench.beam import (
    beam_profile,
    exposure_together,
    irradiance_together,
    share_on_disc,
    share_on_strip,
    speed_for_exposure,
    spot,
    time_above,
    travelling_exposure,
    uniformity,
)
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.optics import through

SAMPLES = Path(__file__).parent / "samples"
NAN = np.nan


def scan(positions, values, dims=("position",), units="W m-2", **coords):
    at = {"position": ("position", np.asarray(positions, float), {"units": "mm"}), **coords}
    return xr.DataArray(np.asarray(values, float), at, dims, attrs={"units": units})


def gaussian(x, width, height=1000.0, centre=0.0):
    """Height · exp(-2 (x - centre)²/width²): `width` is the radius at 1/e²."""
    return height * np.exp(-2 * ((x - centre) / width) ** 2)


class TestProfile:
    def test_a_scan_there_and_back(self):
        """The sample: 7 readings at 5 positions, two of them seen twice."""
        profile = beam_profile(sb.read(SAMPLES / "beam_scan.csv")["irradiance"])
        assert (profile.position.values * 1e3).tolist() == [-2, -1, 0, 1, 2]
        assert profile.position.attrs["units"] == "m"
        assert profile.values == pytest.approx(
            [141.0, 805.0, (1210 + 1207) / 2, (798 + 796) / 2, 138.0], abs=5
        )
        assert profile.attrs["history"].endswith(
            "7 readings put in order of 5 positions; those at one position averaged, up to "
            "0.25 % of the highest apart"
        )
        assert profile.attrs["units"] == "W m-2"
        assert profile.coords["head"].item() == "7"
        assert 2.0 < spot(profile)["size"].item() < 3.0

    def test_other_dimensions_stay(self):
        at = {"position": ("time", [1.0, 0.0, 1.0], {"units": "cm"}), "channel": ["a", "b"]}
        readings = xr.DataArray([[1, 2], [3, NAN], [5, 6]], at, ("time", "channel"))
        profile = beam_profile(readings)
        assert profile.dims == ("channel", "position")
        np.testing.assert_array_equal(profile, [[3, 3], [NAN, 4]])
        assert profile.position.values.tolist() == [0.0, 0.01]

    def test_already_in_order(self):
        line = scan([0.0, 1.0, 2.0], [1, 2, 3])
        assert beam_profile(line).attrs["history"] == "3 readings put in order of 3 positions"
        assert spot(beam_profile(line[::-1])).identical(spot(beam_profile(line)))

    @pytest.mark.parametrize(
        ("wrong", "error", "said"),
        [
            (xr.DataArray([1.0], dims="time"), GridError, "has a coordinate position along one dimension"),
            (
                xr.DataArray([1.0], {"position": ("time", [1.0])}, "time"),
                UnitsError,
                "position carries no unit",
            ),
        ],
    )
    def test_a_scan_that_is_none(self, wrong, error, said):
        with pytest.raises(error, match=said):
            beam_profile(wrong)


class TestSpot:
    X = np.linspace(-12, 12, 961)

    def test_a_gaussian(self):
        """Closed form: full width at a share p of the maximum is w √(2 ln(1/p))."""
        found = spot(scan(self.X, gaussian(self.X, 4.0, centre=1.3)))
        assert found["size"].item() == pytest.approx(4 * (2 * np.log(2)) ** 0.5, abs=1e-3)
        assert found["size_at_tenth"].item() == pytest.approx(4 * (2 * np.log(10)) ** 0.5, abs=1e-3)
        assert found["centre"].item() == pytest.approx(1.3, abs=1e-4)
        assert found["centroid"].item() == pytest.approx(1.3, abs=1e-6)
        assert found["highest"].item() == pytest.approx(1000, rel=1e-4)
        units = {name: array.attrs["units"] for name, array in found.items()}
        assert units == dict.fromkeys(found, "mm") | {"highest": "W m-2"}
        assert "comment" not in found["centroid"].attrs

    def test_widths_against_those_of_scipy(self):
        """scipy.signal.peak_widths counts in samples from straight lines too; 0.025 mm apart here."""
        values = gaussian(self.X, 4.0, centre=1.3) + gaussian(self.X, 2.0, 400.0, -1.0)
        values[[0, -1]] = 0.0
        found = spot(scan(self.X, values))
        for name, depth in (("size", 0.5), ("size_at_tenth", 0.9)):
            widths, *_ = peak_widths(values, [values.argmax()], depth)
            assert found[name].item() == pytest.approx(widths[0] * 0.025, rel=1e-12)

    def test_a_flat_top_with_slopes(self):
        """Closed form: a trapezoid, 0 at -5 and 5, full from -3 to 3; half at ±4, a tenth at ±4.8."""
        found = spot(scan([-6, -5, -3, 3, 5, 6], [0, 0, 7, 7, 0, 0]))
        assert found["size"].item() == pytest.approx(8.0, rel=1e-14)
        assert found["size_at_tenth"].item() == pytest.approx(9.6, rel=1e-14)
        assert found["centre"].item() == pytest.approx(0, abs=1e-12)
        assert found["centroid"].item() == pytest.approx(0, abs=1e-12)

    def test_the_centroid_of_a_right_triangle(self):
        """Closed form: a third of the way from the high side."""
        found = spot(scan([0, 3, 3.0000001, 4], [6, 0, 0, 0]))
        assert found["centroid"].item() == pytest.approx(1.0, rel=1e-12)
        assert np.isnan(found["size"])

    def test_a_beam_that_is_dark_in_its_middle(self):
        assert spot(scan([-3, -2, -1, 0, 1, 2, 3], [0, 10, 0, 0, 0, 9, 0]))["size"].item() == pytest.approx(
            2.5 + 3 - 5 / 9
        )

    def test_not_valid_or_dark(self):
        rows = [[0, 1, 0], [0, NAN, 0], [0, 0, 0], [0, -1, 0]]
        found = spot(scan([0, 1, 2], rows, ("draw", "position")))
        for name in ("size", "size_at_tenth", "centre", "centroid"):
            assert np.isnan(found[name].values).tolist() == [False, True, True, True]

    def test_two_positions_are_no_profile(self):
        with pytest.raises(GridError, match="3 values along position or more are needed, not 2"):
            spot(scan([0, 1], [1, 1]))

    def test_a_log_along_time_is_sent_on(self):
        with pytest.raises(GridError, match=r"beam_profile\(\) makes one from a scan along time"):
            spot(xr.DataArray([1.0, 2.0, 1.0], dims="time"))


class TestEnds:
    X = np.linspace(-5, 5, 201)

    @pytest.mark.parametrize("width", [4.0, 5.0, 6.0])
    def test_a_gaussian_has_less_beyond_than_is_said(self, width):
        """Closed form: erfc(√2 · 5/w) of the line lies beyond ±5 mm, 1/erf - 1 of what was seen."""
        said = travelling_exposure(scan(self.X, gaussian(self.X, width)), 10.0).attrs["comment"]
        assert said.startswith(f"the scan ends at {100 * np.exp(-50 / width**2):.3g} % of its highest value")
        more = float(said.split("about ")[1].split(" %")[0]) / 100
        missing = 1 / erf(2**0.5 * 5 / width) - 1
        assert missing < more < 2.5 * missing

    @pytest.mark.parametrize("width", [4.0, 5.0, 6.0])
    def test_of_a_round_gaussian_too(self, width):
        """Closed form: exp(-2 · 25/w²) of a round beam lies beyond 5 mm."""
        said = share_on_disc(scan(self.X, gaussian(self.X, width)), 3.0).attrs["comment"]
        more = float(said.split("about ")[1].split(" %")[0]) / 100
        missing = 1 / (1 - np.exp(-50 / width**2)) - 1
        assert missing < more < 2.5 * missing

    def test_an_exponential_is_met(self):
        """Closed form: beyond a the line exp(-|x|) has exp(-a) left of 1, on each side."""
        x = np.linspace(-3, 3, 6001)
        said = share_on_strip(scan(x, np.exp(-np.abs(x))), -1, 1).attrs["comment"]
        assert f"about {100 * np.exp(-3) / (1 - np.exp(-3)):.3g} % more light may lie beyond" in said

    def test_a_scan_that_sees_only_the_top(self):
        top = scan([-1, 0, 1], [80, 100, 70])
        assert spot(top)["centroid"].attrs["comment"] == (
            "the scan ends at 80 % of its highest value, not at 1 % or less: "
            "nobody knows how much light lies beyond"
        )
        assert np.isnan(spot(top)["size"])

    def test_noise_of_single_draws_is_no_light(self):
        noise = np.random.default_rng(2).normal(0, 20, (500, self.X.size))
        draws = scan(self.X, gaussian(self.X, 2.0) + noise, ("draw", "position"))
        assert "comment" not in travelling_exposure(draws, 10.0).attrs

    def test_nothing_is_said_of_what_is_not_known(self):
        assert "comment" not in travelling_exposure(scan(self.X, self.X * NAN), 10.0).attrs


class TestUniformity:
    TRAPEZOID = scan([-6, -5, -3, 3, 5, 6], [0, 0, 700, 700, 0, 0])

    def test_on_the_slope(self):
        """Closed form: from 0 to 4 mm the mean is (3·700 + 1·(700 + 350)/2)/4, the least 350."""
        found = uniformity(self.TRAPEZOID, 0.0, "4 mm")
        mean = (2100 + 525) / 4
        assert found["lowest"].item() == pytest.approx(350.0)
        assert found["mean"].item() == pytest.approx(mean)
        assert found["highest"].item() == 700.0
        assert found["lowest_by_mean"].item() == pytest.approx(350 / mean)
        assert found["lowest_by_highest"].item() == pytest.approx(0.5)
        assert [array.attrs["units"] for array in found.values()] == ["W m-2"] * 3 + ["1"] * 2

    def test_even_light(self):
        found = uniformity(self.TRAPEZOID, -3.0, 3.0)
        assert found["lowest_by_mean"].item() == pytest.approx(1.0, rel=1e-14)
        assert found["lowest_by_highest"].item() == 1.0

    def test_a_hole_between_the_limits(self):
        assert uniformity(scan([0, 1, 2], [8, 2, 8]), 0.5, 1.5)["lowest"].item() == 2.0

    def test_a_gaussian(self):
        """Closed form: mean over ±a is √(π/2) w erf(√2 a/w)/(2a), the least exp(-2 a²/w²)."""
        x = np.linspace(-6, 6, 2401)
        found = uniformity(scan(x, gaussian(x, 4.0, 1.0)), -1.7, 1.7)
        mean = (np.pi / 2) ** 0.5 * 4 * erf(2**0.5 * 1.7 / 4) / 3.4
        assert found["mean"].item() == pytest.approx(mean, rel=1e-6)
        assert found["lowest"].item() == pytest.approx(np.exp(-2 * (1.7 / 4) ** 2), rel=1e-6)

    def test_bonds_that_are_drawn(self):
        shift = xr.DataArray([0.0, 1.0, NAN], dims="draw")
        found = uniformity(self.TRAPEZOID, shift - 3, shift + 3)
        assert found["lowest"].values == pytest.approx([700, 350, NAN], nan_ok=True)
        assert found["mean"].values == pytest.approx([700, (5 * 700 + 525) / 6, NAN], nan_ok=True)

    def test_only_the_bond_has_to_be_known(self):
        holed = scan([0, 1, 2, 3, 4], [NAN, 5, 6, 5, NAN])
        assert uniformity(holed, 1, 3)["lowest"].item() == 5
        assert all(np.isnan(array) for array in uniformity(holed, 0.9, 3).values())

    def test_dark(self):
        dark = uniformity(scan([0, 1], [0, 0]), 0, 1)
        assert np.isnan(dark["lowest_by_mean"]).all()
        assert dark["lowest"].item() == 0

    @pytest.mark.parametrize(("low", "high"), [(-7, 0), (0, 6.5), (8, 9)])
    def test_a_bond_beyond_the_scan(self, low, high):
        said = f"the scan covers -6 to 6 mm and not the whole bond, from {low:g} to {high:g} mm: scan farther"
        with pytest.raises(RangeError, match=said):
            uniformity(self.TRAPEZOID, low, high)

    def test_limits_out_of_order(self):
        with pytest.raises(RangeError, match="from a lower to a higher position, not 2 to -1 mm"):
            uniformity(self.TRAPEZOID, 2, -1)


class TestShares:
    def test_a_flat_top_with_slopes_is_a_frustum(self):
        """Closed form: full to a, 0 at b: volume π/3 (a² + ab + b²); within r ≤ a it is πr²."""
        round_beam = scan([-6, -5, -3, 3, 5, 6], [0, 0, 1, 1, 0, 0])
        whole = (9 + 15 + 25) / 3
        found = share_on_disc(round_beam, xr.DataArray([1.0, 2.0, 6.0, 10.0, 50.0], dims="draw"))
        np.testing.assert_allclose(found, [0.25 / whole, 1 / whole, 9 / whole, 1, 1], rtol=1e-13)
        assert found.attrs["units"] == "1"
        assert found.attrs["history"] == (
            "share on a disc 1–50 mm across, of a round beam with its centre half-way between its "
            "half-maximum positions"
        )

    @pytest.mark.parametrize("diameter", [1.0, 4.0, 8.0])
    def test_a_round_gaussian(self, diameter):
        """Closed form: 1 - exp(-2 r²/w²); straight lines err with the square of the step."""
        errors = []
        for count in (240, 480):
            x = np.linspace(-15, 15, count + 1)
            found = share_on_disc(scan(x + 0.7, gaussian(x, 4.0)), diameter).item()
            errors.append(found - (1 - np.exp(-2 * (diameter / 2 / 4) ** 2)))
        assert abs(errors[1]) < 2e-4
        assert errors[0] / errors[1] == pytest.approx(4, rel=0.05)

    def test_half_a_beam(self):
        x = np.linspace(0, 15, 241)
        half = share_on_disc(scan(x, gaussian(x, 4.0)), 4.0, centre=0.0)
        both = share_on_disc(scan([*-x[:0:-1], *x], gaussian(np.array([*-x[:0:-1], *x]), 4.0)), 4.0)
        assert half.item() == pytest.approx(both.item(), rel=1e-12)
        assert "comment" not in half.attrs

    def test_a_line_of_light(self):
        """Closed form: ½ erf(√2 b/w) - ½ erf(√2 a/w)."""
        x = np.linspace(-12, 12, 4801)
        found = share_on_strip(scan(x, gaussian(x, 4.0)), -1.0, "3 mm")
        expected = (erf(2**0.5 * 3 / 4) + erf(2**0.5 / 4)) / 2
        assert found.item() == pytest.approx(expected, rel=1e-6)
        assert found.attrs["history"] == "share on a strip from -1 to 3 mm"

    def test_each_draw_has_its_own_centre(self):
        x = np.linspace(-10, 10, 401)
        draws = np.stack([gaussian(x, 2.0, 1.0, c) for c in (-2.0, 0.0, 1.5)])
        found = share_on_disc(scan(x, draws, ("draw", "position")), 2.0)
        np.testing.assert_allclose(found, 1 - np.exp(-0.5), atol=5e-4)

    def test_not_valid_or_dark(self):
        rows = scan([0, 1, 2], [[0, 1, 0], [0, NAN, 0], [0, 0, 0]], ("draw", "position"))
        assert np.isnan(share_on_disc(rows, 1.0).values).tolist() == [False, True, True]
        assert np.isnan(share_on_strip(rows, 0.5, 1.5).values).tolist() == [False, True, True]

    def test_a_beam_that_falls_more_slowly_on_one_side(self):
        """By hand: half of the maximum is at -0.5 and 1.5 mm, so the middle is at 0.5 mm."""
        line = scan([-1.0, 0.0, 3.0], [0.0, 6.0, 0.0])
        expected = share_on_disc(line, 2.0, centre=0.5).item()
        assert share_on_disc(line, 2.0).item() == pytest.approx(expected, rel=1e-12)

    def test_a_strip_that_the_scan_only_touches(self):
        """By hand: a triangle of area 2, of which 1/8 lies below 0.5 and as much above 1.5."""
        line = scan([0.0, 1.0, 2.0], [0.0, 2.0, 0.0])
        for low, high in ((-1.0, 0.5), (1.5, 9.0)):
            assert share_on_strip(line, low, high).item() == pytest.approx(0.125)

    @pytest.mark.parametrize(
        ("call", "said"),
        [
            (lambda s: share_on_disc(s, 0.0), "a diameter is above 0 mm, not 0 mm"),
            (lambda s: share_on_disc(s, 1.0, centre=9.0), "the centre 9 mm lies outside the scan, 0–2 mm"),
            (lambda s: share_on_strip(s, 1.0, 1.0), "from a lower to a higher position, not 1 to 1 mm"),
            (lambda s: share_on_strip(s, 3.0, 4.0), "covers 0 to 2 mm and nothing of a strip from 3 to 4 mm"),
        ],
    )
    def test_bonds_that_are_none(self, call, said):
        with pytest.raises(RangeError, match=said):
            call(scan([0, 1, 2], [0, 1, 0]))


class TestTravel:
    RECTANGLE = scan([-1, -1e-6, 0, 30, 30 + 1e-6, 31], [0, 0, 5000, 5000, 0, 0])

    @pytest.mark.parametrize("passes", [1, 3])
    def test_a_rectangle(self, passes):
        """Closed form: E·b/v, 5000 W m-2 · 30 mm / 50 mm/s."""
        found = travelling_exposure(self.RECTANGLE, "3 m/min", passes)
        assert found.item() == pytest.approx(3000 * passes, rel=1e-7)
        assert found.attrs["units"] == "J m-2"
        assert found.attrs["history"] == f"{passes} passes through the beam at 50 mm/s"
        assert time_above(self.RECTANGLE, "100 mW/cm^2", 50.0, passes).item() == pytest.approx(
            0.6 * passes, rel=1e-6
        )

    def test_a_gaussian(self):
        """Closed forms: exposure E w √(π/2)/v; above E/e² for 2w/v, above E/k for w √(2 ln k)/v."""
        x = np.linspace(-20, 20, 8001)
        line = scan(x, gaussian(x, 6.0))
        assert travelling_exposure(line, 25.0).item() == pytest.approx(
            1000 * 6 * (np.pi / 2) ** 0.5 / 25, rel=1e-6
        )
        levels = xr.DataArray(1000 * np.exp(-np.array([2.0, 0.5])), dims="draw")
        np.testing.assert_allclose(time_above(line, levels, 25.0), [12 / 25, 6 / 25], rtol=1e-5)
        assert time_above(line, 1001.0, 25.0).item() == 0
        assert time_above(line, 0.0, 25.0).item() == pytest.approx(40 / 25)

    def test_the_speed_gives_the_exposure_back(self):
        wanted = xr.DataArray([0.5, 2.0], dims="draw", attrs={"units": "J/cm^2"})
        speed = speed_for_exposure(self.RECTANGLE, wanted, passes=2)
        np.testing.assert_allclose(travelling_exposure(self.RECTANGLE, speed, 2), [5000, 20000], rtol=1e-14)
        assert speed.attrs["units"] == "mm s-1"
        assert speed.attrs["history"] == "speed for 5000–20000 J m-2 over 2 passes"

    @pytest.mark.parametrize(
        ("units", "factor", "exposure"),
        [("mW/cm^2", 10, "J m-2"), ("mW/cm^2/nm", 10, "J m-2 nm-1"), ("umol m-2 s-1", 1, "umol m-2")],
    )
    def test_every_kind_of_irradiance(self, units, factor, exposure):
        found = travelling_exposure(scan([0, 1, 2], [0, 60, 0], units=units), 2.0)
        assert found.item() == pytest.approx(30 * factor)
        assert found.attrs["units"] == exposure

    def test_a_spectral_line_at_drawn_speeds(self):
        grid = {"wavelength": ("wavelength", [365.0, 405.0], {"units": "nm"})}
        line = scan([0, 1, 2], [[0, 6, 0], [0, NAN, 0]], ("wavelength", "position"), "", **grid)
        found = travelling_exposure(line, xr.DataArray([1.0, 2.0, 3.0], dims="draw"))
        assert found.dims == ("draw", "wavelength")
        np.testing.assert_array_equal(found, [[6, NAN], [3, NAN], [2, NAN]])
        assert found.attrs["units"] == "J m-2 nm-1"
        assert found.wavelength.attrs["units"] == "nm"

    def test_a_cell_is_above_in_part(self):
        steps = scan([0, 1, 2, 3], [0, 4, 4, 1])
        assert time_above(steps, 4.0, 1.0).item() == pytest.approx(1.0)
        assert time_above(steps, 2.0, 1.0).item() == pytest.approx(0.5 + 1 + 2 / 3)
        assert np.isnan(time_above(steps * xr.DataArray([1, NAN], dims="draw"), 2.0, 1.0)[1])

    @pytest.mark.parametrize("call", [travelling_exposure, lambda s, v, n: time_above(s, 1.0, v, n)])
    @pytest.mark.parametrize(
        ("speed", "passes", "said"),
        [
            (0.0, 1, "a speed is above 0 mm s-1, not 0 mm s-1"),
            ("-1 m/min", 1, "a speed is above 0 mm s-1, not -16.6667 mm s-1"),
            (1.0, 0, "a whole number of times, once or more, not 0 times"),
            (1.0, 1.5, "passes is a whole number, not 1.5"),
        ],
    )
    def test_travel_that_is_none(self, call, speed, passes, said):
        with pytest.raises(RangeError, match=said):
            call(self.RECTANGLE, speed, passes)

    def test_what_is_not_wanted(self):
        with pytest.raises(RangeError, match="an exposure wanted is above 0 J m-2, not 0 J m-2"):
            speed_for_exposure(self.RECTANGLE, 0.0)
        with pytest.raises(RangeError, match="a threshold is not negative; this one is -1 W m-2"):
            time_above(self.RECTANGLE, -1.0, 1.0)
        with pytest.raises(UnitsError, match='profile is in "J m-2"; expected an irradiance, such as W m-2'):
            travelling_exposure(self.RECTANGLE.assign_attrs(units="J m-2"), 1.0)


class TestHeads:
    GRID: ClassVar = {"wavelength": [365.0, 405.0], "source": ["arc", "LED"]}
    LIGHT = xr.DataArray([[3.0, 1.0], [0.0, 8.0]], GRID, ("source", "wavelength"))

    def levels(self, *values):
        return xr.DataArray(list(values), {"source": ["arc", "LED"]}, "source")

    def test_light_adds(self):
        found = irradiance_together(self.LIGHT, self.levels(0.5, 0.25))
        assert found.values.tolist() == [1.5, 2.5]
        assert found.attrs["units"] == "W m-2 nm-1"
        assert found.attrs["history"] == "2 heads together, each at its level"
        assert irradiance_together(self.LIGHT).values.tolist() == [3.0, 9.0]

    def test_exposure_adds(self):
        """500 mW/cm² for 6 s is 3.0 J/cm² (closed form); two of them, one at 50 %, are 4.5."""
        bands = xr.DataArray([500.0, 500.0], dims="source", attrs={"units": "mW/cm^2"})
        full = exposure_together(bands, "6 s", xr.DataArray([1.0, 1.0], dims="source"))
        assert exposure_together(bands, "6 s").equals(full)
        found = exposure_together(bands, "6 s", xr.DataArray([1.0, 0.5], dims="source"))
        assert found.item() == pytest.approx(4.5e4)
        assert found.attrs["units"] == "J m-2"
        apart = exposure_together(self.LIGHT, self.levels(10.0, 2.0), self.levels(0.5, 1.0))
        assert apart.values.tolist() == [15.0, 21.0]
        assert apart.attrs["units"] == "J m-2 nm-1"

    def test_draws_of_levels(self):
        levels = self.levels(1.0, 1.0) * xr.DataArray([0.5, 1.0], dims="draw")
        assert irradiance_together(self.LIGHT, levels).transpose("draw", ...).values.tolist() == [
            [1.5, 4.5],
            [3.0, 9.0],
        ]

    def test_not_known_unless_off(self):
        light = self.LIGHT.where(self.LIGHT.source != "arc")
        assert irradiance_together(light, self.levels(0.5, 1.0)).isnull().all()
        assert irradiance_together(light, self.levels(0.0, 1.0)).values.tolist() == [0.0, 8.0]

    def test_through_a_guide_and_a_lens(self):
        """A guide and a lens are layers; each head may have its own."""
        guide = xr.DataArray([[0.5, 0.75], [1.0, 0.5]], self.GRID, ("source", "wavelength"))
        assert irradiance_together(through(self.LIGHT, guide, 0.5)).values.tolist() == [0.75, 2.375]

    @pytest.mark.parametrize(
        ("call", "error", "said"),
        [
            (lambda s, one: irradiance_together(s, 1.2), RangeError, "a level lies in 0–1, not at 1.2"),
            (
                lambda s, one: exposure_together(s, 1.0, one(-0.1, 1)),
                RangeError,
                "a level lies in 0–1, not at -0.1",
            ),
            (lambda s, one: exposure_together(s, one(-3, 1)), RangeError, "on for 0 s or longer, not -3 s"),
            (
                lambda s, one: irradiance_together(s, across="head"),
                GridError,
                "stand along a dimension head; there",
            ),
            (
                lambda s, one: irradiance_together(s.assign_attrs(units="nm")),
                UnitsError,
                'spectra is in "nm"; exp',
            ),
            (
                lambda s, one: irradiance_together(s, one(1, 1).assign_coords(source=["arc", "x"])),
                GridError,
                "the arguments do not fit together",
            ),
        ],
    )
    def test_heads_that_are_none(self, call, error, said):
        with pytest.raises(error, match=said):
            call(self.LIGHT, self.levels)
