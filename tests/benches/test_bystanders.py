"""How long the direct beam may meet eyes or skin: the limit of near ultraviolet by hand, and its distance."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.bystanders import permitted_time
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.schema import Safety
from spectralbench.benches.schema.lighting import BeamPoint
from spectralbench.errors import BenchError
from spectralbench.units import Measured


@pytest.fixture(scope="module")
def original(lean):
    return lean


SAFETY = '[safety]\ndistance = "{}"\n\n[requirement]\n'


def test_near_ultraviolet_at_the_part(compared, reduced):
    """10⁴ J m-2 over 315–400 nm (EN 62471:2008; ICNIRP 2004): 9.5 kW m-2 near 365 nm take about 1 s."""
    light = reduced["sources"].spectral_irradiance.sel(source="LED 365")
    expected = 1e4 / sb.band_irradiance(light, 315, 400).item()
    assert compared.permitted_time.sel(source="LED 365").item() == pytest.approx(expected, rel=1e-9)
    assert "local codes and a qualified person decide" in compared.permitted_time.attrs["comment"]
    assert "not a classification" in compared.permitted_time.attrs["comment"]


def test_what_is_not_known_is_not_permitted(compared):
    assert np.isnan(compared.permitted_time.sel(source="arc"))  # saturated pixels have a weight


def test_farther_away_it_takes_longer_and_says_on_which_side_it_errs(bench):
    near = sb.compare(bench.folder).permitted_time
    bench.manifest("[requirement]\n", SAFETY.format("120 mm"))
    far = sb.compare(bench.folder).permitted_time
    # closed form of the disc of 22 mm that the demo's beams were invented from, and round to 1 mW/cm²
    disc = (11.0**2 + 120.0**2) / (11.0**2 + 12.0**2)
    assert (far / near).sel(source="LED 365").item() == pytest.approx(disc, rel=1e-2)
    assert far.attrs["label"] == "bare eye or skin at 120 mm"
    assert "a beam may be stronger there than computed, and the time shorter" in far.attrs["comment"]
    assert "noise of its pixels may add a little or take it" in far.attrs["comment"]


@pytest.fixture(scope="module")
def seconds_away(lean):
    """Seconds under LED 405 at a distance, by its points of beam, its spot and where it stands."""
    tree = sb.open_bench(lean)
    manifest = manifest_of(tree)
    led = next(source for source in manifest.source if source.name == "LED 405")
    grid = np.arange(300.0, 700.0)
    values = np.where(abs(grid - 340) < 10, 100.0, 0.0)  # where the near ultraviolet decides, up to 8 h
    light = xr.DataArray([values], {"source": [led.name], "wavelength": grid})

    def found(away, beam, spot=None, distance=12.0):
        stated = {
            "distance": Measured(distance),
            "spot": None if spot is None else Measured(spot),
            "beam": [BeamPoint.model_construct(distance=Measured(d), irradiance=Measured(e)) for d, e in beam]
            or None,
        }
        one = manifest.model_copy(
            update={
                "source": [led.model_copy(update=stated)],
                "safety": None if away is None else Safety.model_construct(distance=Measured(away)),
            }
        )
        return permitted_time(tree, one, light).item()

    return found


def disc(radius, *distances):
    """Closed form of the irradiance on the axis of a disc that shines evenly."""
    return [(d, 1e4 * radius**2 / (radius**2 + d**2)) for d in distances]


@pytest.mark.parametrize("radius", [4.0, 11.0, 40.0])
def test_from_its_farthest_point_on_a_beam_thins_out_like_the_disc_that_fits(seconds_away, radius):
    fallen = disc(radius, 12.0)[0][1] / disc(radius, 500.0)[0][1]
    expected = seconds_away(None, []) * fallen
    found = seconds_away(500.0, disc(radius, 8.0, 12.0, 20.0, 30.0), spot=0.2)
    assert found == pytest.approx(expected, rel=1e-9)


def test_the_wider_of_spot_and_disc_counts_for_it_gives_the_shorter_time(seconds_away):
    beam = disc(4.0, 12.0, 20.0, 30.0)
    by_spot = seconds_away(500.0, beam, spot=20.0)
    assert by_spot < seconds_away(500.0, beam, spot=6.0) == seconds_away(500.0, beam)
    assert seconds_away(500.0, [], spot=6.0) < seconds_away(500.0, [])  # a point is never the safe side


def test_a_beam_that_falls_faster_than_any_disc_is_a_point(seconds_away):
    steep = [(d, 1e6 / d**3) for d in (12.0, 20.0, 30.0)]
    expected = seconds_away(None, []) * (30 / 12) ** 3 * (500 / 30) ** 2
    assert seconds_away(500.0, steep) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("last", [900.0, 1200.0])
def test_a_beam_that_does_not_fall_yet_is_not_taken_to_fall(seconds_away, last):
    risen = last / 1000
    assert seconds_away(500.0, [(12.0, 1000.0), (20.0, 900.0), (30.0, last)]) == pytest.approx(
        seconds_away(None, []) / risen, rel=1e-9
    )


def test_a_beam_not_measured_as_near_as_the_source_stands_does_not_fall_before(seconds_away):
    beam = disc(11.0, 20.0, 30.0)
    expected = seconds_away(None, []) * disc(11.0, 20.0)[0][1] / disc(11.0, 500.0)[0][1]
    assert seconds_away(500.0, beam) == pytest.approx(expected, rel=1e-9)
    assert seconds_away(15.0, beam) == pytest.approx(seconds_away(None, []), rel=1e-9)


def test_nobody_is_computed_to_stand_before_the_part(bench):
    bench.manifest("[requirement]\n", SAFETY.format("5 mm"))
    with pytest.raises(BenchError, match=re.escape("safety.distance")) as caught:
        sb.compare(bench.folder)
    assert "closer than the 18 mm" in str(caught.value)


def test_cautions_stand_beside_it(compared):
    assert any("injures eyes and skin" in caution for caution in json.loads(compared.attrs["cautions"]))
