"""Scans across a beam: figures of its spot by closed forms, and what a bench does with them."""

from __future__ import annotations

import json
import math
import re

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.beam import beam_profile, speed_for_exposure, travelling_exposure
from spectralbench.benches.folder import array_of, manifest_of
from spectralbench.benches.spots import spots

SOURCE = 'name = "LED 405"\n'
ALONG = np.arange(-10.0, 10.001, 0.05)
MIDDLE = 2.0  # of every beam here: the scan does not start from it


def flat(at, width=6.0):
    """Even within its width; the edges are as steep as the scan is fine."""
    return np.where(np.abs(at - MIDDLE) <= width / 2 + 1e-9, 1.0, 0.0)


def cone(at, radius=6.0):
    return np.clip(1 - np.abs(at - MIDDLE) / radius, 0, None)


def gaussian(at, size=4.0):
    return np.exp(-4 * np.log(2) * ((at - MIDDLE) / size) ** 2)


def scan(values, at=ALONG, what="irradiance [mW/cm^2]", scale=500.0):
    """A scan as a file, with a column of time as a stage writes it."""
    pairs = zip(at, values, strict=True)
    rows = "".join(f"{i / 10:g},{x:.6g},{scale * y:.8g}\n" for i, (x, y) in enumerate(pairs))
    return f"time [s],position [mm],{what}\n{rows}"


@pytest.fixture(scope="module")
def original(lean):
    return lean


@pytest.fixture
def scanned(bench):
    """A bench whose LED near 405 nm was scanned, and what its width and its speed are."""

    def with_scan(content, width=None, speed=None, reciprocity=None):
        (bench.folder / "raw" / "scan.csv").write_text(content, encoding="utf-8")
        bench.manifest(SOURCE, f'{SOURCE}profile = "raw/scan.csv"\n')
        stated = "" if width is None else f'bond_width = "{width} mm"\n'
        stated += "" if reciprocity is None else f"reciprocity = {reciprocity}\n"
        bench.manifest("[adhesive]\n", f"[adhesive]\n{stated}")
        if speed is not None:
            bench.manifest("[requirement]\n", f"[requirement]\n{speed}\n")
        return bench

    return with_scan


def of(folder):
    """Figures of the spots of a bench."""
    tree = sb.open_bench(folder)
    return spots(tree, manifest_of(tree)).sel(source="LED 405")


def test_an_even_beam(scanned):
    """Half of its edges belongs to it; a bond half as wide takes a quarter of a disc."""
    found = of(scanned(scan(flat(ALONG)), width=3).folder)
    assert found.spot_size.item() == pytest.approx(6.05)
    assert found.least_lit.item() == pytest.approx(1.0)
    assert found.share_on_bond.item() == pytest.approx((3 / 6.05) ** 2, rel=1e-3)
    assert found.lit_length.item() == pytest.approx(6.05)
    assert found.lit_length_of_photons.item() == pytest.approx(6.05)


def test_a_cone(scanned):
    """Height 1 - r/R: full width R at half, and of the volume 3x² - 2x³ within x = r/R."""
    found = of(scanned(scan(cone(ALONG)), width=4).folder)
    assert found.spot_size.item() == pytest.approx(6.0)
    assert found.least_lit.item() == pytest.approx(1 - 2 / 6)
    x = 2 / 6
    assert found.share_on_bond.item() == pytest.approx(3 * x**2 - 2 * x**3, rel=1e-4)
    assert found.lit_length.item() == pytest.approx(6.0)  # the area of a triangle


def test_a_gaussian(scanned):
    """2^(-(2r/w)²) at r, as much missing of the whole beyond it, and w √(π / 4 ln 2) of an even beam."""
    found = of(scanned(scan(gaussian(ALONG)), width=3).folder)
    assert found.spot_size.item() == pytest.approx(4.0, rel=1e-4)
    at_edge = 2.0 ** -((3 / 4) ** 2)
    assert found.least_lit.item() == pytest.approx(at_edge, rel=1e-4)
    assert found.share_on_bond.item() == pytest.approx(1 - at_edge, rel=1e-3)
    assert found.lit_length.item() == pytest.approx(4 * math.sqrt(math.pi / (4 * math.log(2))), rel=1e-4)


def test_an_adhesive_that_is_not_reciprocal_sees_another_length(scanned):
    """The power of a Gaussian is one that is wider by 1/√p."""
    found = of(scanned(scan(gaussian(ALONG, 3.0)), reciprocity=0.5).folder)
    assert found.lit_length_of_photons.item() == pytest.approx(
        found.lit_length.item() * math.sqrt(2), rel=1e-4
    )


def test_a_beam_that_is_darker_in_its_middle(scanned):
    """Against its middle, where the spectrometer stood: a bond may be lit better than there."""
    ring = np.where(np.abs(ALONG - MIDDLE) < 1, 0.6, flat(ALONG))
    found = of(scanned(scan(ring), width=4).folder)
    assert found.least_lit.item() == pytest.approx(1.0)
    assert found.lit_length.item() == pytest.approx(6.05 / 0.6 - 1.95 / 0.6 * 0.4, rel=2e-2)


@pytest.mark.parametrize(
    "what",
    ["irradiance [W/m^2]", "relative output [1]", "relative_output [%]", "reading [1]"],
)
def test_the_unit_of_a_scan_does_not_matter(scanned, what):
    found = of(scanned(scan(cone(ALONG), what=what, scale=0.7), width=4).folder)
    assert found.least_lit.item() == pytest.approx(1 - 2 / 6, rel=1e-6)
    assert found.lit_length.item() == pytest.approx(6.0, rel=1e-6)


def test_a_scan_there_and_back(scanned):
    """Readings at one position are averaged: what drifts up by as much as it drifts down cancels."""
    there, back = 1.1 * cone(ALONG), 0.9 * cone(ALONG)
    content = scan(np.concatenate([there, back[::-1]]), np.concatenate([ALONG, ALONG[::-1]]))
    found = of(scanned(content, width=4).folder)
    assert found.spot_size.item() == pytest.approx(6.0)
    assert found.least_lit.item() == pytest.approx(1 - 2 / 6, rel=1e-6)


def test_a_width_that_is_stated_stands_for_a_scan(bench):
    tree = sb.open_bench(bench.folder)
    found = spots(tree, manifest_of(tree))
    assert found.spot_size.values.tolist() == [8.0, 6.0, 6.0, 6.0]
    assert found.drop_vars("spot_size").to_array().isnull().all()
    bench("bench.toml", 'spot = "6 mm"\n', "")
    tree = sb.open_bench(bench.folder)
    assert np.isnan(spots(tree, manifest_of(tree)).spot_size.values).tolist() == [False] + [True] * 3


def test_without_a_width_nothing_is_said_of_the_bond(scanned):
    found = of(scanned(scan(cone(ALONG))).folder)
    assert found.spot_size.item() == pytest.approx(6.0)
    assert np.isnan(found[["least_lit", "share_on_bond"]].to_array()).all()


def test_a_scan_along_the_travel_says_nothing_of_the_width(scanned):
    found = of(scanned(scan(cone(ALONG)), width=4, speed='speed = "10 mm/s"').folder)
    assert np.isnan(found[["least_lit", "share_on_bond"]].to_array()).all()
    assert found.lit_length.item() == pytest.approx(6.0)


def test_a_scan_that_does_not_cover_the_bond_is_refused(scanned):
    bench = scanned(scan(gaussian(ALONG)), width=17)
    fault = bench.fault(sb.reduce_bench)
    assert fault.key == "source.4.profile"
    assert fault.found.startswith("the scan covers -10 to 10 mm and not the whole bond, from -6.5 to 10.5 mm")
    assert fault.expected.startswith("a scan across the whole spot and the whole bond, as wide as adhesive.")
    assert fault.line == bench.line_of('profile = "raw/scan.csv"')


@pytest.mark.filterwarnings("ignore:All-NaN slice")
@pytest.mark.parametrize("shape", ["one side", "no light"])
def test_a_scan_that_shows_no_spot_is_refused(scanned, shape):
    half = ALONG >= MIDDLE
    content = scan(gaussian(ALONG[half]), ALONG[half]) if shape == "one side" else scan(0 * ALONG)
    assert scanned(content, width=4).fault(of).key == "source.4.profile"


def test_a_scan_of_something_else_is_refused(scanned):
    fault = scanned(scan(cone(ALONG), what="absorbance [1]")).fault()
    assert "along position" in fault.expected
    assert "absorbance [1]" in fault.found


def test_what_has_to_arrive_counts_where_the_bond_is_lit_least(scanned, bench):
    before = sb.compare(bench.folder).sel(source="LED 405")
    result = sb.compare(scanned(scan(cone(ALONG)), width=4).folder)
    after, share = result.sel(source="LED 405"), 1 - 2 / 6
    for name in ("band_irradiance", "absorbed_photons"):
        assert after[name].item() == pytest.approx(share * before[name].item(), rel=1e-6)
    for name in ("exposure_time", "electrical_energy"):
        assert after[name].item() == pytest.approx(before[name].item() / share, rel=1e-6)
    for name in ("irradiance_at_part", "irradiance_at_bond", "spectrum_match"):
        assert after[name].item() == pytest.approx(before[name].item())
    assert "66.7 % of the middle" in after.reason.sel(criterion="irradiance").item()
    (said,) = [note for note in json.loads(result.attrs["not_measured"]) if note.startswith("evenness")]
    assert "LED 405" not in said


@pytest.mark.parametrize(("passes", "exponent"), [(1, 1.0), (3, 1.0), (2, 0.8)])
def test_at_the_fastest_speed_a_part_gets_exactly_the_exposure(scanned, passes, exponent):
    """The scan, as bright in its middle as the bond line is: the dose, or the power of the photons."""
    speed = f'speed = "20 mm/s"\npasses = {passes}'
    bench = scanned(scan(gaussian(ALONG)), speed=speed, reciprocity=exponent)
    result = sb.compare(bench.folder).sel(source="LED 405")
    tree = sb.open_bench(bench.folder)
    profile = beam_profile(array_of(tree, "/source/LED 405/profile", "irradiance"))
    profile = profile / profile.max()
    fastest = result.fastest_speed.item()
    dose = travelling_exposure(
        (profile * result.band_irradiance).drop_vars("source").assign_attrs(units="W m-2"), fastest, passes
    ).item()
    power = (result.absorbed_photons * profile).clip(min=0) ** exponent
    photons = power.integrate("position").item() * 1e3 * passes / fastest
    stated = manifest_of(tree).requirement
    wanted, least = stated.dose.value, stated.minimum_irradiance.value
    needed = result.required_photons.item() ** exponent * wanted / least
    assert min(dose / wanted, photons / needed) == pytest.approx(1.0, rel=1e-4)
    if dose / wanted < photons / needed:
        lit = (profile * result.band_irradiance).drop_vars("source").assign_attrs(units="W m-2")
        assert speed_for_exposure(lit, wanted, passes).item() == pytest.approx(fastest, rel=1e-6)
    assert result.verdict.sel(criterion="travel").item() == ("met" if fastest >= 20 else "not met")


def test_a_source_without_a_scan_has_no_speed(scanned):
    result = sb.compare(scanned(scan(gaussian(ALONG)), width=4, speed='speed = "20 mm/s"').folder)
    assert result.fastest_speed.notnull().sum() == 1
    assert result.verdict.sel(source="LED 385", criterion="travel").item() == "not known"
    assert "a scan along its way (profile)" in result.reason.sel(source="LED 385", criterion="travel").item()


def test_a_spot_along_the_travel_is_not_held_against_the_width_of_the_bond(scanned):
    result = sb.compare(scanned(scan(gaussian(ALONG)), width=3, speed='speed = "20 mm/s"').folder)
    assert result.verdict.sel(source="LED 405", criterion="spot").item() != "met"


def test_a_speed_that_nobody_can_hold_against_a_scan_is_not_known(bench):
    bench.manifest("[requirement]\n", '[requirement]\nspeed = "20 mm/s"\n')
    result = sb.compare(bench.folder)
    assert (result.verdict.sel(criterion="travel") == "not known").all()


def test_a_width_that_nobody_can_hold_against_a_spot_is_not_known(bench):
    bench.manifest("[adhesive]\n", '[adhesive]\nbond_width = "4 mm"\n')
    bench("bench.toml", '^spot = ".*"\n', "")
    result = sb.compare(bench.folder)
    assert (result.verdict.sel(criterion="spot") == "not known").all()


def test_heads_together_are_as_even_as_the_least_even_of_them(scanned):
    bench = scanned(scan(cone(ALONG)), width=4)
    bench.manifest('name = "LED 385"\n', 'name = "LED 385"\nprofile = "raw/scan_385.csv"\n')
    (bench.folder / "raw" / "scan_385.csv").write_text(scan(flat(ALONG)), encoding="utf-8")
    both = '[[together]]\nname = "both"\nheads = [{ source = "LED 385" }, { source = "LED 405" }]\n\n'
    bench.manifest("[[part]]\n", f"{both}[[part]]\n")
    result = sb.compare(bench.folder)
    assert result.least_lit.sel(source="both").item() == pytest.approx(1 - 2 / 6)
    alone = result.irradiance_at_bond.sel(source=["LED 385", "LED 405"]).sum().item()
    both = result.sel(source="both")
    assert both.irradiance_at_bond.item() == pytest.approx(alone)
    assert both.spot_size.item() == pytest.approx(6.0)
    assert np.isnan(both.share_on_bond)


def test_a_spot_that_was_scanned_elsewhere_is_not_that_of_its_place(scanned):
    """How even it is, is kept for want of better, and a sentence says so; its size is not known."""
    bench = scanned(scan(gaussian(ALONG, 6.0)), width=3)
    before = sb.compare(bench.folder).sel(source="LED 405")
    bench.manifest(SOURCE, f'{SOURCE}working_distance = "20 mm"\n')
    moved = sb.compare(bench.folder)
    there = moved.sel(source="LED 405")
    assert there.least_lit.item() == before.least_lit.item()
    assert np.isnan(there.spot_size)
    assert "share_on_bond" not in moved or np.isnan(there.share_on_bond)
    assert there.verdict.sel(criterion="spot").item() == "not known"
    said = [text for text in json.loads(moved.attrs["not_measured"]) if "profile_distance" in text]
    assert len(said) == 1
    assert "LED 405 was scanned at another distance" in said[0]
    bench.manifest(SOURCE, f'{SOURCE}profile_distance = "20 mm"\n')
    again = sb.compare(bench.folder)
    assert again.spot_size.sel(source="LED 405").item() == before.spot_size.item()
    assert not any("profile_distance" in text for text in json.loads(again.attrs["not_measured"]))


def test_a_distance_without_a_scan_is_refused(bench):
    bench.manifest(SOURCE, f'{SOURCE}profile_distance = "20 mm"\n')
    fault = bench.fault()
    assert (fault.key, fault.expected) == (
        "source.4.profile_distance",
        "profile beside it: the scan that was taken there",
    )


def test_a_part_that_travels_is_warmed_while_it_is_lit(scanned, small):
    """An even beam 6 mm wide at 2 mm/s lights each place for 3 s; at 1 mm/s for 6 s, which is warmer."""
    bench = scanned(scan(flat(ALONG)), speed='speed = "2 mm/s"')
    tables = re.split(r"^(?=\[)", (small / "bench.toml").read_text(encoding="utf-8"), flags=re.MULTILINE)
    heat = "".join(table for table in tables if table.startswith("[heat"))
    bench.manifest("[requirement]\n", f"{heat}[requirement]\n")
    fast = sb.compare(bench.folder).sel(source="LED 405")
    bench.manifest('speed = "2 mm/s"', 'speed = "1 mm/s"')
    slow = sb.compare(bench.folder).sel(source="LED 405")
    assert fast.lit_time.item() == pytest.approx(3.0, rel=0.02)
    assert slow.lit_time.item() == pytest.approx(2 * fast.lit_time.item())
    assert (
        slow.exposure_time.item() == fast.exposure_time.item()
    )  # what it takes does not depend on the speed
    assert slow.peak_temperature.item() > fast.peak_temperature.item() + 1
