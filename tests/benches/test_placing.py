"""Sources where they will stand: along the beam that was measured, and nowhere else."""

from __future__ import annotations

import re

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.benches.budget import Budget, causes
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.placing import misplaced, placed
from spectralbench.benches.schema.lighting import BeamPoint
from spectralbench.errors import BenchError
from spectralbench.units import Measured

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


@pytest.fixture(scope="module")
def manifest(lean):
    return manifest_of(sb.open_bench(lean))


@pytest.fixture
def power_at(manifest):
    """Power of the distance by which the ± of a distance counts, of a source with these points of beam."""
    budget = Budget(manifest, draws=100, seed=1)

    def power(points, distance="12 mm", u=0.3):
        beam = [BeamPoint.model_construct(distance=Measured(d), irradiance=Measured(e)) for d, e in points]
        stood = Measured(float(distance.removesuffix(" mm")), u)
        led = manifest.source[-1].model_copy(update={"beam": beam or None, "distance": stood})
        ratio = budget.scalar("distance", led.name, stood) / stood.value  # the draws, whatever the law
        found = misplaced(led, stood, led.name, budget)
        powers = np.log(found) / np.log(ratio)
        assert np.ptp(powers.values) < 1e-9
        return float(powers.mean())

    return power


class TestTheDistanceOfTheMeasurement:
    """E at the distance stated over E at the one drawn: of E that falls by a power, their ratio to it."""

    @pytest.mark.parametrize("power", [3.0, 2.0, 1.0, 0.0, -0.5])
    def test_a_beam_that_is_a_power_counts_by_it(self, power_at, power):
        assert power_at([(d, 1e5 / d**power) for d in (8.0, 12.0, 20.0)]) == pytest.approx(power, abs=1e-9)

    def test_a_disc_counts_by_its_own_slope(self, power_at):
        """d ln E/d ln d of 1/(R² + d²) is -2 d²/(R² + d²) (closed form), at R = 11 mm and d = 12 mm 1.087."""
        close = [(d, 1e6 / (11**2 + d**2)) for d in np.linspace(8, 20, 25)]
        assert power_at(close) == pytest.approx(2 * 12**2 / (11**2 + 12**2), rel=2e-3)
        demo = [(d, 1e6 / (11**2 + d**2)) for d in (8.0, 12.0, 20.0, 30.0)]
        assert power_at(demo) == pytest.approx(2 * 12**2 / (11**2 + 12**2), rel=0.02)

    def test_without_a_beam_the_inverse_square_law(self, power_at):
        assert power_at([]) == pytest.approx(2, abs=1e-9)

    @pytest.mark.parametrize("distance", ["7.9 mm", "20.1 mm"])
    def test_a_beam_that_says_nothing_of_the_distance_does_not_count(self, power_at, distance):
        assert power_at([(8.0, 300.0), (20.0, 200.0)], distance) == pytest.approx(2, abs=1e-9)

    @pytest.mark.parametrize(("distance", "power"), [("8 mm", 1.0), ("20 mm", 3.0)])
    def test_beyond_its_ends_it_goes_on_as_between_the_nearest_two(self, power_at, distance, power):
        beam = [(8.0, 1.0), (12.0, 8 / 12), (20.0, 8 / 12 * (12 / 20) ** 3)]
        assert power_at(beam, distance) == pytest.approx(power, abs=1e-9)

    def test_with_no_draws_it_is_as_measured(self, manifest):
        led = manifest.source[-1]
        assert misplaced(led, led.distance, led.name, Budget(manifest)) == 1.0
        assert misplaced(led, Measured(12.0), led.name, Budget(manifest, 10)) == 1.0

    def test_it_counts_once_where_the_source_will_stand_elsewhere(self, placed_at):
        """Its draws stand in the light as measured; where it goes from there has a ± of its own."""
        tree = sb.open_bench(placed_at("10 mm ± 0.5 mm"))
        alone = [
            placed(tree, manifest_of(tree), Budget(manifest_of(tree), 50, 1, only=cause))
            for cause in ("distance", "working distance")
        ]
        assert ["draw" in share.dims for share in alone] == [False, True]

    def test_the_budget_says_by_which_law(self, manifest):
        def said(*sources):
            return causes(manifest.model_copy(update={"source": list(sources)}))["distance"]

        arc, *leds = manifest.source
        assert said(arc) == "± of each source's distance, by the inverse square law"
        assert said(*leds) == "± of each source's distance, along its measured beam"
        assert said(arc, *leds) == (
            "± of each source's distance, along its measured beam (LED 365, LED 385, LED 405), "
            "otherwise by the inverse square law"
        )
        still = arc.model_copy(update={"distance": Measured(18.0)})
        assert said(still, *leds) == said(*leds)
