"""Wavelengths of lines in air: the files against NIST's, formulas for air against each other, and blends.

Vacuum wavelengths and intensities: NIST Atomic Spectra Database, as copied in rascal 0.3.11. Air: Ciddor,
Appl. Opt. 35 (1996) 1566; Edlén, J. Opt. Soc. Am. 43 (1953) 339; Peck and Reeder, J. Opt. Soc. Am. 62
(1972) 958; Morton, Astrophys. J. Suppl. 130 (2000) 403, equation 8.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import xarray as xr
from scipy.optimize import brentq, minimize_scalar

from spectralbench import curves
from spectralbench.curves import ExtrapolationWarning
from spectralbench.errors import GridError, RangeError

LISTS = curves.names("lines")
CIDDOR = "specutils 2.4.0, vac_to_air(method='Ciddor1996') on wavelengths of the NIST Atomic Spectra Database"
PACKAGE = "specutils 2.4.0, vac_to_air(method='Ciddor1996')"
ASD = "NIST Atomic Spectra Database 5.12, observed wavelength in air"
SANSONETTI = "Sansonetti, Salit and Reader, Appl. Opt. 35 (1996) 74, abstract: 19 mercury lines, 0.0001 nm"

MERCURY = (
    "296.7283 302.1504 334.1484 365.0158 366.3284 404.6565 407.7837 435.8335 546.0750 576.9610 "
    "579.0670 1013.975"
)
ARGON = (
    "696.5431 706.7218 714.7042 727.2936 738.3980 750.3869 751.4652 763.5106 772.3761 772.4207 794.8176 "
    "800.6157 810.3693 811.5310 840.8210 852.1442 866.7944 912.2967 922.4498 935.4220 965.7786 978.4503"
)
NEON = (
    "585.2488 588.1895 594.4834 597.5534 607.4338 609.6163 614.3062 616.3594 "
    "621.7281 626.6495 630.4789 633.4428 638.2991 640.2248 650.6528 653.2882 "
    "659.8953 667.8276 671.7043 692.9467 703.2413 717.3938 724.5167 743.8899 "
)
TRIPLET = [365.0158, 365.4842, 366.2887]


def nearest(lamp, text):
    return curves.lines(lamp).wavelength.sel(wavelength=float(text), method="nearest").item()


@pytest.mark.parametrize("text", MERCURY.split())
def test_mercury(text, agrees):
    agrees(f"mercury line {text} nm", nearest("mercury", text), text, CIDDOR, len(text) - 1, "package")


@pytest.mark.parametrize("text", ARGON.split())
def test_argon(text, agrees):
    agrees(f"argon line {text} nm", nearest("argon", text), text, CIDDOR, 7, "package")


@pytest.mark.parametrize("text", NEON.split())
def test_neon(text, agrees):
    # the last digit of a few differs by 1 between two editions of the database
    agrees(f"neon line {text} nm", nearest("neon", text), text, ASD, 6)
    assert nearest("neon", text) == pytest.approx(float(text), abs=1.01e-4)


def test_mercury_lines_are_known_to_a_ten_thousandth(agrees):
    found = curves.lines("mercury")["uncertainty"].sel(wavelength=[365.0158, 404.6565, 435.8335, 546.075])
    for value in found.values:
        agrees("uncertainty of a mercury line [nm]", value, 0.0001, SANSONETTI, 1)


@pytest.mark.parametrize("lamp", LISTS)
def test_air_wavelengths_in_a_file_are_its_vacuum_wavelengths_in_air(lamp):
    found = curves.lines(lamp)
    air = curves.vacuum_to_air(found["vacuum_wavelength"])
    np.testing.assert_allclose(air, found.wavelength, rtol=0, atol=0.51e-4)
    assert air.dims == ("wavelength",)


@pytest.mark.parametrize("lamp", LISTS)
def test_strengths_and_uncertainties_are_sound(lamp):
    found = curves.lines(lamp)
    assert (found["strength"] > 0).all()
    assert ((found["uncertainty"] >= 4e-5) & (found["uncertainty"] <= 0.02)).all()
    assert found.attrs["standing"] == "published"


@pytest.mark.parametrize(
    ("vacuum", "air"),
    [
        (253.72831, 253.65209249492696),
        (365.1198, 365.0157914388415),
        (404.77081, 404.65649044386885),
        (435.956, 435.83349711006207),
        (546.2268, 546.0750390918176),
        (1014.253, 1013.9750465077046),
    ],
)
def test_vacuum_to_air(vacuum, air, agrees):
    found = curves.vacuum_to_air(vacuum).item()
    agrees(f"{vacuum} nm of vacuum in air [nm]", found, air, PACKAGE, 12, "package")


def edlen_1953(s):
    return 6.4328e-5 + 2.94981e-2 / (146 - s) + 2.5540e-4 / (41 - s)


def morton_2000(s):
    return 8.34254e-5 + 2.406147e-2 / (130 - s) + 1.5998e-4 / (38.9 - s)


def peck_reeder_1972(s):
    return 5.791817e-2 / (238.0185 - s) + 1.67909e-3 / (57.362 - s)


@pytest.mark.parametrize("formula", [edlen_1953, morton_2000, peck_reeder_1972])
def test_air_against_the_formulas_of_others(formula):
    """Written apart, they agree within 2·10⁻⁸ of the wavelength: 0.01 pm at 500 nm would be 2·10⁻⁸."""
    vacuum = np.linspace(240, 1690, 500)
    theirs = vacuum / (1 + formula(1e6 / vacuum**2))
    np.testing.assert_allclose(curves.vacuum_to_air(vacuum), theirs, rtol=3e-8)


def test_air_takes_arrays_units_and_warns_outside_its_range():
    assert curves.vacuum_to_air("0.3651198 um").item() == pytest.approx(365.0158, abs=5e-5)
    draws = xr.DataArray([[500.0, np.nan]], dims=("draw", "line"), attrs={"units": "nm", "note": "x"})
    found = curves.vacuum_to_air(draws)
    assert found.dims == ("draw", "line")
    assert np.isnan(found.values).tolist() == [[False, True]]
    assert found.attrs == {"units": "nm", "long_name": "wavelength in air"}
    with pytest.warns(
        ExtrapolationWarning, match="of air holds for 230–1690 nm, not for all of 200–500 nm"
    ) as caught:
        curves.vacuum_to_air([200.0, 500.0])
    assert caught[0].filename == __file__
    with pytest.raises(
        RangeError, match=r"below 185 nm wavelengths are given in vacuum: 121\.6 nm has no other"
    ):
        curves.vacuum_to_air(121.6)
    with pytest.raises(GridError, match="one number or one row of them, not 2 dimensions"):
        curves.vacuum_to_air([[500.0]])


def triplet(strengths=(9000, 3000, 500)):
    lamp = curves.lines("mercury").sel(wavelength=TRIPLET)
    assert lamp["strength"].values.tolist() == [9000, 3000, 500]
    return lamp.assign(strength=("wavelength", np.array(strengths, dtype=float)))


def total(x, at, strength, fwhm):
    return (np.asarray(strength) * np.exp(-4 * np.log(2) * ((x - np.asarray(at)) / fwhm) ** 2)).sum()


class TestBlends:
    def test_apart_at_a_fifth_of_a_nanometre(self, agrees):
        seen = curves.effective_lines(triplet(), "0.2 nm")
        assert seen.wavelength.values == pytest.approx(TRIPLET, abs=1e-6)
        assert seen["clean"].all()
        agrees(
            "mercury 365 nm seen at 0.2 nm",
            seen.wavelength[0].item(),
            365.0158,
            "closed form: sum of Gaussians",
            7,
        )

    def test_one_line_at_two_nanometres(self, agrees):
        seen = curves.effective_lines(triplet(), 2.0)
        assert seen["members"].item() == "365.0158 + 365.4842 + 366.2887"
        assert seen["strength"].item() == 12500
        agrees(
            "mercury 365 nm seen at 2 nm", seen.wavelength.item(), 365.147, "closed form: sum of Gaussians", 6
        )
        slope = brentq(
            lambda x: sum(s * (a - x) * np.exp(-4 * np.log(2) * ((x - a) / 2) ** 2)
                          for a, s in zip(TRIPLET, (9000, 3000, 500), strict=True)),
            365.02, 365.4, xtol=1e-12,
        )  # fmt: skip
        assert seen.wavelength.item() == pytest.approx(slope, abs=1e-7)

    def test_the_centroid_is_the_mean_by_strength(self, agrees):
        seen = curves.effective_lines(triplet(), 2.0, method="centroid")
        expected = np.average(TRIPLET, weights=[9000, 3000, 500])
        assert seen.wavelength.item() == pytest.approx(expected, rel=1e-12)
        agrees(
            "centroid of mercury 365 nm", seen.wavelength.item(), 365.1791, "closed form: weighted mean", 7
        )

    def test_a_doublet_is_one_line(self, agrees):
        lamp = curves.lines("mercury").sel(wavelength=[313.1555, 313.1844])
        for method in ("peak", "centroid"):
            seen = curves.effective_lines(lamp, 1.0, method)
            agrees(f"mercury 313 nm doublet by {method}", seen.wavelength.item(), 313.172, "closed form", 6)

    @pytest.mark.parametrize("method", ["peak", "centroid"])
    def test_the_uncertainty_is_that_of_many_lamps(self, method):
        """Monte Carlo over strengths (5 %, small enough to be straight) and wavelengths (5 pm)."""
        lamp = triplet().assign(uncertainty=("wavelength", np.full(3, 0.005)))
        found = curves.effective_lines(lamp, 2.0, method, strength_uncertainty=0.05)
        rng = np.random.default_rng(2)
        places = []
        for _ in range(1500):
            strength = lamp["strength"].values * (1 + 0.05 * rng.standard_normal(3))
            at = np.array(TRIPLET) + 0.005 * rng.standard_normal(3)
            if method == "centroid":
                places.append(np.average(at, weights=strength))
            else:
                search = lambda x, at=at, s=strength: -total(x, at, s, 2.0)  # noqa: E731
                places.append(
                    minimize_scalar(
                        search, bounds=(364.8, 365.6), method="bounded", options={"xatol": 1e-6}
                    ).x
                )
        # a standard deviation of 1,500 draws is known within 1/√3000 = 1.8 %; four times that
        assert found["uncertainty"].item() == pytest.approx(np.std(places, ddof=1), rel=0.073)

    def test_every_line_is_in_one_blend_and_the_strengths_add_up(self):
        lamp = curves.lines("mercury")
        for fwhm in (0.1, 1.0, 3.0, 10.0):
            seen = curves.effective_lines(lamp, fwhm)
            members = " + ".join(seen["members"].values).split(" + ")
            assert sorted(map(float, members)) == lamp.wavelength.values.tolist()
            assert seen["strength"].sum() == lamp["strength"].sum()
            assert (np.diff(seen.wavelength) > 0).all()
            tops = [total(x, lamp.wavelength, lamp["strength"], fwhm) for x in seen.wavelength.values]
            beside = [
                total(x + 0.01 * fwhm, lamp.wavelength, lamp["strength"], fwhm)
                for x in seen.wavelength.values
            ]
            assert (np.array(tops) >= np.array(beside)).all()

    def test_a_wide_blend_is_not_clean(self):
        """Two equal lines, 0.9 widths apart, on a fine grid."""
        x = np.linspace(-4, 4, 80_001)
        shape = np.exp(-4 * np.log(2) * (x - 0.45) ** 2) + np.exp(-4 * np.log(2) * (x + 0.45) ** 2)
        width = np.ptp(x[shape >= shape[40_000] / 2])
        pair = xr.Dataset({"strength": ("wavelength", [1.0, 1.0])}, {"wavelength": [499.55, 500.45]})
        seen = curves.effective_lines(pair, 1.0)
        assert seen["fwhm"].values == pytest.approx([width] * seen.sizes["wavelength"], abs=0.05)
        assert not seen["clean"].any()

    @pytest.mark.parametrize(
        ("change", "arguments", "message"),
        [
            (
                {},
                (0.0,),
                "a bandwidth above 0 nm and an uncertainty of strengths of 0 or more are needed, not 0 nm",
            ),
            ({}, (1.0, "peak", -1.0), "are needed, not 1 nm and -1"),
            ({}, (1.0, "mean"), 'a method is peak or centroid, not "mean"'),
            (
                {"strengths": (1, 0, 1)},
                (1.0,),
                "the line at 365.484 nm has no strength above 0: leave it out",
            ),
            ({"strengths": (1, np.nan, 1)}, (1.0,), "the line at 365.484 nm has no strength above 0"),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, change, arguments, message):
        with pytest.raises(RangeError, match=message):
            curves.effective_lines(triplet(**change), *arguments)

    def test_lines_without_strengths_are_refused(self):
        with pytest.raises(
            RangeError, match="lines without a variable strength cannot be merged: say how strong"
        ):
            curves.effective_lines(curves.lines("mercury").drop_vars("strength"), 1.0)

    def test_the_history_goes_on(self):
        assert curves.effective_lines(triplet(), 2.0).attrs["history"].splitlines() == [
            "took mercury from the reference curves (published)",
            "merged what 2 nm cannot part: effective wavelength by peak",
        ]


@pytest.mark.parametrize("text", ["241.15", "287.15", "361.5", "536.3"])
def test_holmium_of_the_pharmacopoeia(text, agrees):
    found = curves.table("holmium_pharmacopoeia").wavelength.sel(wavelength=float(text)).item()
    agrees(
        f"holmium maximum {text} nm",
        found,
        text,
        "European Pharmacopoeia, chapter 2.2.25, table",
        len(text) - 1,
    )


def test_holmium_from_memory_lies_within_the_published_tolerance():
    """What is from memory proves nothing; but it may not contradict what is published."""
    published = curves.table("holmium pharmacopoeia")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", curves.FromMemoryWarning)
        recalled = curves.table("holmium solution")
    near = recalled.wavelength.sel(wavelength=published.wavelength.values, method="nearest").values
    assert (np.abs(near - published.wavelength.values) <= published["tolerance"].values).all()
