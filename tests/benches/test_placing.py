"""Sources where they will stand: along the beam that was measured, and nowhere else."""

from __future__ import annotations

import re

import pytest

import spectralbench as sb
from spectralbench.errors import BenchError

LED = 'name = "LED 405"\n'


@pytest.fixture(scope="module")
def original(lean):
    return lean


@pytest.fixture
def placed_at(bench):
    """A bench whose LED near 405 nm stands at another distance."""

    def at(distance):
        bench.manifest(LED, f'{LED}working_distance = "{distance}"\n')
        return bench.folder

    return at


@pytest.fixture(scope="module")
def as_measured(lean):
    return sb.reduce_bench(lean)


def test_irradiance_follows_the_beam(as_measured, placed_at):
    """By the manifest 1719 and 1200 mW/cm² at 8 and 12 mm, whatever the spectrum."""
    tree = sb.reduce_bench(placed_at("8 mm"))
    ratio = sb.compare(tree).band_irradiance / sb.compare(as_measured).band_irradiance
    assert ratio.sel(source="LED 405").item() == pytest.approx(1719 / 1200, rel=2e-3)
    assert ratio.drop_sel(source=["LED 405", "arc"]).values == pytest.approx(1.0)  # the arc is saturated
    # where it was measured is where it was measured
    for name in ("spectral_irradiance", "irradiance"):
        assert tree["sources"][name].identical(as_measured["sources"][name])


def test_between_two_points_the_logarithms_run_straight(as_measured, placed_at):
    before = sb.compare(as_measured).band_irradiance.sel(source="LED 405").item()
    found = sb.compare(placed_at("10 mm")).band_irradiance.sel(source="LED 405").item()
    expected = (1719 / 1200) ** (1 - 0.5503397)  # log(10/8) over log(12/8)
    assert found / before == pytest.approx(expected, rel=2e-3)


def test_its_plus_minus_is_a_cause(placed_at):
    result = sb.compare(placed_at("10 mm ± 0.5 mm"), draws=50, seed=1, contributions=True)
    share = result.variance_share.sel(cause="working distance", figure="irradiance_at_part")
    assert share.sel(source="LED 405") > 0.3
    assert (share.drop_sel(source=["LED 405", "arc"]) < 1e-12).all()
    assert "along its beam" in result.origin.sel(cause="working distance").item()


def test_nothing_is_extrapolated(placed_at):
    with pytest.raises(BenchError, match=re.escape("source.4.working_distance")) as caught:
        sb.reduce_bench(placed_at("7 mm"))
    assert "7 mm, and a beam measured at 8 to 30 mm" in str(caught.value)
    assert "distances within those at which the beam was measured" in str(caught.value)


def test_no_draw_is_extrapolated_either(placed_at):
    with pytest.raises(
        BenchError, match=r"found 7(\.\d+)? to .* mm, with its ±, and a beam measured at 8 to 30 mm"
    ):
        sb.reduce_bench(placed_at("8.5 mm ± 0.5 mm"), draws=200, seed=1)


def test_a_distance_takes_a_beam(bench):
    bench.manifest('name = "arc"\n', 'name = "arc"\nworking_distance = "12 mm"\n')
    with pytest.raises(BenchError, match="irradiance at two distances or more"):
        sb.open_bench(bench.folder)


def test_each_distance_stands_once(bench):
    bench.manifest('distance = "20 mm", irr', 'distance = "12 mm", irr')
    with pytest.raises(BenchError, match="each distance once"):
        sb.open_bench(bench.folder)
