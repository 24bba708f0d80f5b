"""What if: other thicknesses, distances, hours and times, against making the change itself."""

from __future__ import annotations

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.errors import RangeError, UnitsError


@pytest.fixture(scope="module")
def tree(small):
    return sb.reduce_bench(small)


@pytest.fixture(scope="module")
def result(tree):
    return sb.compare(tree)


FIGURES = ("band_irradiance", "absorbed_photons", "exposure_time")


def test_the_bench_itself_is_one_point_of_every_cube(tree, result):
    cube = sb.sweep(tree, thickness=["2 mm"], hours=["500 h"], distance=["12 mm"]).squeeze()
    for name in FIGURES:  # LED 405 has 500 h of use and stands at 12 mm
        assert cube[name].sel(source="LED 405").item() == pytest.approx(
            result[name].sel(source="LED 405").item(), rel=2e-4
        )


def test_a_distance_is_the_working_distance(tree, bench):
    cube = sb.sweep(tree, distance=["8 mm", "10 mm"])
    bench.manifest('name = "LED 405"\n', 'name = "LED 405"\nworking_distance = "10 mm"\n')
    moved = sb.compare(bench.folder)
    for name in FIGURES:
        found = cube[name].sel(source="LED 405", distance=10)
        assert found.item() == pytest.approx(moved[name].sel(source="LED 405").item(), rel=1e-6)
    assert np.isnan(cube.band_irradiance.sel(source="arc, filtered")).all()  # nobody measured its beam


def test_nothing_is_said_of_distances_that_were_not_measured(tree):
    cube = sb.sweep(tree, distance=["7 mm", "31 mm"])
    assert np.isnan(cube.band_irradiance).all()
    assert np.isnan(cube.exposure_time).all()


def test_hours_go_along_the_course_of_a_source(tree, result):
    """Half after 20,000 h as stated, exponentially; and by its log for the arc."""
    cube = sb.sweep(tree, hours=[0, "20000 h"])
    led = cube.band_irradiance.sel(source="LED 405")
    assert (led.sel(hours=20000) / led.sel(hours=0)).item() == pytest.approx(0.5, rel=1e-9)
    at_end = result.end_of_life_irradiance.sel(source="LED 405").item()
    assert led.sel(hours=20000).item() == pytest.approx(at_end, rel=1e-9)
    assert np.isnan(cube.band_irradiance.sel(source="LED 385")).all()  # neither a log nor a stated output


def test_nothing_is_said_of_hours_that_nobody_answers_for(tree):
    """LED 405 is replaced after 20,000 h; of LED 385 nothing is known."""
    cube = sb.sweep(tree, hours=["3000 h", "20000 h", "20001 h"], time=["5 s"])
    known = cube.band_irradiance.notnull()
    assert known.sel(source="LED 405").values.tolist() == [True, True, False]
    assert not known.sel(source="LED 385").any()
    assert cube.exposure_time.notnull().equals(known)
    assert cube.enough.isel(time=0, drop=True).notnull().equals(known)
    said = cube.attrs["comment"]
    assert "LED 405 is replaced after 20000 h (end_of_life): up to 20000 h of use can be told" in said
    assert "arc is replaced after 3000 h" in said
    assert "no other hours of LED 385 follow: not stated" in said
    assert "replaced" not in sb.sweep(tree, hours=["3000 h"]).attrs["comment"]


def test_a_log_carries_six_times_as_far_in_a_sweep(bench):
    """900 h are logged, and 5,400 h can be told, though the LED is replaced after 20,000 h."""
    bench.manifest('[[ageing]]\nsource = "arc"', '[[ageing]]\nsource = "LED 385"')
    cube = sb.sweep(bench.folder, hours=["5400 h", "5401 h"]).band_irradiance.sel(source="LED 385")
    assert cube.notnull().values.tolist() == [True, False]


def test_a_thickness_follows_lambert_on_the_inside(tree):
    """Twice the thickness squares the internal transmittance; 0.9 % of a thin part, by optics alone."""
    cube = sb.sweep(tree, thickness=["1 mm", "4 mm"])
    dry = tree["parts"].to_dataset().transmittance.isel(part=0)
    light = tree["sources"].to_dataset().spectral_irradiance.sel(source="LED 405")
    lit = tree["sources"].to_dataset().least_lit.sel(source="LED 405").item()
    for wanted in (1.0, 4.0):
        passed = sb.wetted(sb.predict_thickness(dry, 1.53, 2.0, wanted, 0.005), 1.53, 1.5).fillna(0.0)
        expected = sb.band_irradiance(sb.through(light, passed), 320, 430).item() * lit
        found = cube.band_irradiance.sel(source="LED 405", thickness=wanted).item()
        assert found == pytest.approx(expected, rel=1e-9)
    assert "counts as passing nothing" in cube.attrs["comment"]
    assert "cover in another thickness: not valid at" in cube.attrs["comment"]


def test_a_source_is_not_known_where_it_matters_what_passes_below_the_floor(tree):
    """Below 20 % nothing is predicted: LED 405 is passed by 80 %, LED 365 by 1.5 %."""
    cube = sb.sweep(tree, thickness=["1 mm"], time=["60 s"], floor=0.2)
    lost = cube.sel(source="LED 365")
    assert lost.band_irradiance.isnull().all()
    assert lost.enough.isnull().all()
    assert cube.sel(source="LED 405").band_irradiance.notnull().all()
    (said,) = [one for one in cube.attrs["comment"].split("; not known") if one.startswith(" with 1 mm: ")]
    assert "LED 365" in said
    assert "LED 405" not in said


def test_an_exposure_is_enough_or_not(tree):
    cube = sb.sweep(tree, thickness=["2 mm", "6 mm"], time=["1 s", "5 s", "1 min"])
    assert cube.enough.dims == ("source", "thickness", "time")
    known = cube.exposure_time.notnull()
    expected = (cube.exposure_time <= cube.time).where(known)
    assert cube.enough.equals(expected.transpose(*cube.enough.dims).astype(float))
    dose = cube.radiant_exposure.sel(source="LED 405", thickness=2, time=60)
    assert dose.item() == pytest.approx(60 * cube.band_irradiance.sel(source="LED 405", thickness=2).item())


def test_draws_go_through(three):
    cube = sb.sweep(sb.reduce_bench(three, draws=40, seed=1), thickness=["2 mm", "3 mm"], time=["5 s"])
    assert cube.band_irradiance.dims == ("source", "thickness", "draw")
    assert cube.enough.dims == ("source", "thickness", "time")
    share = cube.enough.sel(source="LED 405", thickness=2).item()
    assert 0 < share < 1


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ({}, "nothing to sweep: give one of thickness, distance, hours, time"),
        ({"time": ["0 s"]}, "the exposure is above 0 s in every step, not 0 s"),
        (
            {"thickness": ["-1 mm", "2 mm"]},
            "the thickness of the last part is above 0 mm in every step, not -1 mm",
        ),
        ({"hours": [-1]}, "the hours of use is 0 h or more"),
        ({"distance": []}, "the distance from the source has one step or more, not none"),
        (
            {"hours": {"LED 405": ["1000 h"]}},
            r"the hours of use is one list of steps for all sources, .* such as hours=\[…\]; values by name",
        ),
        ({"thickness": {"cover": ["1 mm"]}}, "the thickness of the last part is one list .* the last part"),
    ],
)
def test_what_cannot_be_swept(tree, steps, said):
    with pytest.raises(RangeError, match=said):
        sb.sweep(tree, **steps)


def test_steps_have_units_of_their_kind(tree):
    with pytest.raises(UnitsError, match='cannot be converted to "mm"'):
        sb.sweep(tree, thickness=["5 s"])


def test_a_thickness_takes_an_index(bench):
    bench("bench.toml", r'^index = "1.53.*$', "")
    with pytest.raises(RangeError, match="another thickness of cover takes its refractive index"):
        sb.sweep(bench.folder, thickness=["1 mm"])


def test_a_spot_that_counts_at_every_distance_is_said(reduced):
    """The demo has scans across its beams, from one distance each."""
    said = "the spot of each source is taken at every distance as it was scanned at one"
    assert said in sb.sweep(reduced, distance=["10 mm"]).attrs["comment"]
    assert said not in sb.sweep(reduced, hours=["500 h"]).attrs["comment"]


def test_a_cube_keeps_what_is_required_and_where_it_comes_from(reduced):
    cube = sb.sweep(reduced, thickness=["1 mm", "2 mm"])
    assert cube.band_irradiance.attrs["limit"] == 600.0  # 60 mW/cm² of the demo's requirement, in W/m²
    assert cube.exposure_time.attrs["limit"] == 30.0
    assert "limit" not in cube.absorbed_photons.attrs
    assert cube.attrs["provenance"] == reduced.attrs["provenance"]
