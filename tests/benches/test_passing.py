"""Parts as they will be used: thickness, a wetted back face, what goes straight on, by closed forms."""

from __future__ import annotations

import json
import tomllib

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.budget import Budget
from spectralbench.benches.layers import stack_of
from spectralbench.benches.passing import passed
from spectralbench.benches.schema import Manifest
from spectralbench.errors import BenchError

GRID = xr.DataArray([360.0, 380.0, 400.0, 420.0], dims="wavelength", name="wavelength")
INSIDE = np.array([0.2, 0.5, 0.9, 1.0])  # what the bulk passes where it was measured, invented
INDEX, ADHESIVE = 1.53, 1.5
WHERE = {"manifest": "", "folder": "bench"}


def slab(inside, front, back):
    """The geometric series of reflections between two surfaces (Born & Wolf, Principles of Optics, 1.5)."""
    return (1 - front) * (1 - back) * inside / (1 - front * back * inside**2)


def fresnel(one, other):
    return ((one - other) / (one + other)) ** 2


AIR = fresnel(1.0, INDEX)
MEASURED = slab(INSIDE, AIR, AIR)
DRY = 'index = "1.50 ± 0.01"               # so that the wetted back face of the cover counts\n'


@pytest.fixture(scope="module")
def original(lean):
    return lean


@pytest.fixture(scope="module")
def text(demo, plain):
    written = (demo / "bench.toml").read_text(encoding="utf-8").replace(DRY, "")
    return plain(written)


def manifest(text, lines="", *, thickness="2.0 mm", index=f'index = "{INDEX}"', adhesive=""):
    """The bench of the demo, whose cover says something else."""
    for old, new in (
        ('thickness = "2.0 mm ± 0.02 mm"\n', f'thickness = "{thickness}"\n{lines}\n'),
        ('index = "1.53 ± 0.005"', index),
        ("[adhesive]\n", f"[adhesive]\n{adhesive}\n"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return Manifest.model_validate(tomllib.loads(text))


def signals(sample=MEASURED, straight=None):
    """Signals of the cover against two references of 1,000 counts a second."""

    def signal(values, minute):
        when = np.datetime64(f"2026-03-02T10:{minute:02d}", "ns")
        along = {"wavelength": GRID.values, "time": when, "integration_time": 0.02}
        return xr.DataArray(
            1000.0 * np.broadcast_to(np.asarray(values, float), 4),
            along,
            "wavelength",
            attrs={"units": "s-1"},
        )

    found = {}
    for node, values in (("/part/cover", sample), ("/part/cover/regular", straight)):
        if values is not None:
            found |= {
                f"{node}/reference_1": signal(1.0, 0),
                f"{node}/sample": signal(values, 5),
                f"{node}/reference_2": signal(1.0, 10),
            }
    return found


def found(stated, given=None, draws=0):
    budget = Budget(stated, draws, seed=1)
    given = signals() if given is None else given
    nodes = {node: xr.Dataset({"counts": 0 * signal}) for node, signal in given.items()}  # none saturated
    tree = xr.DataTree.from_dict(nodes)
    tree.attrs = WHERE
    return passed(tree, stated, given, GRID, budget)


def cautions(result):
    return json.loads(result.attrs["cautions"])


def test_a_part_in_the_thickness_that_was_measured_is_as_it_was_measured(text):
    result = found(manifest(text))
    assert result.transmittance.sel(part="cover").values == pytest.approx(MEASURED)
    assert cautions(result) == []
    assert not {"bonded_transmittance", "regular_transmittance"} & set(result)


@pytest.mark.parametrize("thickness", [0.5, 1.0, 3.0])
def test_another_thickness_leaves_the_surfaces_and_scales_the_bulk(text, thickness):
    """Lambert's law inside, the same two surfaces outside."""
    result = found(manifest(text, f'working_thickness = "{thickness} mm"'))
    expected = slab(INSIDE ** (thickness / 2.0), AIR, AIR)
    assert result.transmittance.sel(part="cover").values == pytest.approx(expected)


def test_the_same_thickness_changes_nothing(text):
    result = found(manifest(text, 'working_thickness = "2 mm"'))
    assert result.transmittance.sel(part="cover").values == pytest.approx(MEASURED)


def test_the_back_face_of_the_thickness_in_use_is_wetted(text):
    result = found(manifest(text, 'working_thickness = "1 mm"', adhesive=f"index = {ADHESIVE}"))
    inside = INSIDE**0.5
    assert result.transmittance.sel(part="cover").values == pytest.approx(slab(inside, AIR, AIR))
    expected = slab(inside, AIR, fresnel(INDEX, ADHESIVE))
    assert result.bonded_transmittance.sel(part="cover").values == pytest.approx(expected)


def test_below_the_floor_nothing_is_predicted_and_nothing_passes(text):
    """A bench reads half a per cent where nothing passes, if nobody says better."""
    sample = np.where(GRID < 370, 0.0049, MEASURED)
    result = found(manifest(text, 'working_thickness = "1 mm"'), signals(sample))
    light = result.transmittance.sel(part="cover").values
    assert light[0] == 0.0
    assert (light[1:] > MEASURED[1:] - 1e-12).all()
    (said,) = cautions(result)
    assert said.startswith("cover")
    assert "not valid at 360 nm: " in said
    assert said.endswith("what is not valid counts as passing nothing")


def test_below_the_floor_the_draws_hold_whatever_may_pass_in_another_thickness(text):
    """A part of 2 mm that passes 0.16 % (read as 0 or 0.3 %) passes 3.8 % with 1 mm, by Lambert's law.

    Taken as none, without any doubt, it had made a source fail that does the job.
    """
    true = slab(0.00176 ** (1 / 2), AIR, AIR)
    assert true == pytest.approx(0.038, abs=1e-3)
    lines = manifest(text, 'working_thickness = "1 mm"')
    for read in (0.0, 0.003):
        result = found(lines, signals(np.where(GRID < 370, read, MEASURED)), draws=1000)
        light = result.transmittance.sel(part="cover", wavelength=360.0)
        low, high = np.quantile(light, [0.025, 0.975])
        highest = slab((0.005 / (1 - AIR) ** 2) ** 0.5, AIR, AIR)  # of a part just at the floor
        assert low < true < high
        assert float(light.max()) == pytest.approx(highest, rel=0.01)
        assert result.transmittance.sel(wavelength=380.0).std("draw").item() < 0.3 * float(light.std())
        (said,) = cautions(result)
        assert said.endswith(f"what is not valid counts as passing between nothing and {100 * highest:.2g} %")


def test_a_thicker_part_passes_no_more_than_was_read(text):
    """Read at the floor of 5 %: 1.5 %, which a part of 2.1 mm does not pass."""
    sample = np.where(GRID < 370, 0.015, MEASURED)
    lines = manifest(text, 'working_thickness = "2.1 mm"\nfloor = "5 %"')
    result = found(lines, signals(sample), draws=500)
    assert float(result.transmittance.sel(part="cover", wavelength=360.0).mean()) < 0.01
    plain = found(lines, signals(sample))
    assert plain.highest_transmittance.sel(part="cover", wavelength=360.0).item() == pytest.approx(
        0.015, rel=0.02
    )
    assert plain.transmittance.sel(part="cover", wavelength=360.0).item() == 0.0


@pytest.mark.parametrize(("floor", "kept"), [("0.1 %", [True] * 4), ("50 %", [False, False, True, True])])
def test_a_floor_that_is_stated_counts(text, floor, kept):
    sample = np.where(GRID < 370, 0.0049, MEASURED)
    lines = f'working_thickness = "1 mm"\nfloor = "{floor}"'
    result = found(manifest(text, lines), signals(sample))
    assert (result.transmittance.sel(part="cover").values > 0).tolist() == kept
    assert bool(cautions(result)) == (False in kept)


def test_a_part_that_passes_nothing_has_no_other_thickness(text):
    with pytest.raises(BenchError, match="nowhere rises above the floor") as caught:
        found(manifest(text, 'working_thickness = "1 mm"'), signals(np.full(4, 0.001)))
    (fault,) = caught.value.faults
    assert fault.key == "part.1.working_thickness"
    assert "measure a thinner part" in fault.found
    assert fault.expected == "a thickness that can be predicted"


def test_a_pixel_that_is_not_valid_stays_so(text):
    """It is not one that passes nothing."""
    sample = np.where(GRID < 370, np.nan, MEASURED)
    result = found(manifest(text, 'working_thickness = "1 mm"'), signals(sample))
    assert np.isnan(result.transmittance.values).tolist() == [[True, False, False, False]]


def test_the_plus_minus_of_both_thicknesses_is_drawn(text):
    """Without surfaces ln T goes with w/m, of variance (u_w/m)² + (w u_m/m²)² (GUM, 5.1.2)."""
    lines = 'working_thickness = "1 mm ± 0.02 mm"'
    stated = manifest(text, lines, thickness="2 mm ± 0.03 mm", index="index = 1")
    stated = stated.model_copy(update={"uncertainty": []})
    result = found(stated, draws=4000)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(result.transmittance.sel(part="cover").astype(float)) / np.log(MEASURED)
    first, second = (ratio.isel(wavelength=i) for i in (0, 1))
    assert second.values == pytest.approx(first.values, rel=1e-4)  # of one draw all wavelengths
    assert float(first.mean()) == pytest.approx(0.5, abs=1e-3)
    expected = np.hypot(0.02 / 2, 1 * 0.03 / 2**2)
    assert float(first.std()) == pytest.approx(expected, rel=0.04)


def test_the_thicknesses_are_causes_by_themselves(text):
    lines = 'working_thickness = "1 mm ± 0.02 mm"'
    stated = manifest(text, lines, thickness="2 mm ± 0.03 mm")
    budget = Budget(stated, 20, seed=1)
    tree = xr.DataTree()
    tree.attrs = WHERE
    passed(tree, stated, signals(), GRID, budget)
    assert {"thickness", "working thickness"} <= set(budget.met)
    unused = Budget(manifest(text, thickness="2 mm ± 0.03 mm"), 20, seed=1)
    passed(tree, manifest(text, thickness="2 mm ± 0.03 mm"), signals(), GRID, unused)
    assert "thickness" not in unused.met  # which nothing follows from


REGULAR = """collected = "total"
regular = { sample = "raw/straight.csv", references = ["raw/straight_before.csv", "raw/straight_after.csv"] }
"""


def test_what_goes_straight_on_stands_beside_the_total(text):
    result = found(manifest(text, REGULAR), signals(straight=0.25 * MEASURED))
    assert result.transmittance.sel(part="cover").values == pytest.approx(MEASURED)
    assert result.regular_transmittance.sel(part="cover").values == pytest.approx(0.25 * MEASURED)


def test_what_goes_straight_on_has_the_thickness_and_the_back_face_of_the_total(text):
    """A bulk that scatters weakens the straight light as by Lambert's law."""
    inside = INSIDE * 0.5
    stated = manifest(text, f'{REGULAR}working_thickness = "1 mm"', adhesive=f"index = {ADHESIVE}")
    result = found(stated, signals(straight=slab(inside, AIR, AIR)))
    back = fresnel(INDEX, ADHESIVE)
    assert result.bonded_transmittance.values[0] == pytest.approx(slab(INSIDE**0.5, AIR, back))
    assert result.regular_transmittance.values[0] == pytest.approx(slab(inside**0.5, AIR, back))


def test_noise_may_carry_the_straight_light_above_the_total(text):
    found(manifest(text, REGULAR), signals(straight=MEASURED + 0.019))
    with pytest.raises(BenchError, match="it is a part of the total") as caught:
        found(manifest(text, REGULAR), signals(straight=MEASURED + 0.021))
    (fault,) = caught.value.faults
    assert fault.key.startswith("part.1")
    assert "0.021 above the total one" in fault.found


def test_a_sphere_and_a_detector_far_behind_share_the_errors_of_their_part(text):
    stated = manifest(text, REGULAR)
    result = found(stated, signals(straight=0.25 * MEASURED), draws=50)
    apart = result.transmittance - result.regular_transmittance
    assert apart.std("draw").values == pytest.approx(0.0, abs=1e-6)
    assert (result.transmittance.std("draw") > 1e-3).all()


def test_a_whole_bench_with_a_thinner_cover_and_its_haze(bench):
    """A clear cover: what goes straight on is all there is, in the thickness in use as well."""
    for name in ("cover", "reference_before", "reference_after"):
        path = bench.folder / "raw" / f"{name}.csv"
        text = path.read_text(encoding="utf-8")
        (bench.folder / "raw" / f"straight_{name}.csv").write_text(text, encoding="utf-8")
    bench.manifest(
        'references = ["raw/reference_before.csv", "raw/reference_after.csv"]\n',
        """references = ["raw/reference_before.csv", "raw/reference_after.csv"]
collected = "total"
working_thickness = "1 mm"
[part.regular]
sample = "raw/straight_cover.csv"
references = ["raw/straight_reference_before.csv", "raw/straight_reference_after.csv"]
""",
    )
    tree = sb.reduce_bench(bench.folder)
    result = sb.compare(tree)
    parts = tree["parts"].to_dataset()
    xr.testing.assert_allclose(
        parts.regular_transmittance.drop_attrs(), parts.bonded_transmittance.drop_attrs()
    )
    known = result.band_irradiance.notnull()
    assert result.band_irradiance_regular.where(known).values == pytest.approx(
        result.band_irradiance.values, nan_ok=True
    )
    assert "scattered light" in result.criterion.values
    notes = json.loads(result.attrs["not_measured"])
    assert not [note for note in notes if note.startswith("haze of cover")]  # it was measured both ways
    assert [note for note in notes if note.startswith("cover") and "not valid at" in note]
    cube = sb.sweep(tree, thickness=["1 mm"])
    assert cube.band_irradiance.values.ravel() == pytest.approx(result.band_irradiance.values, nan_ok=True)


def test_a_sweep_starts_from_the_thickness_in_use(bench):
    """2 mm of the demo's cover in use as 1 mm, swept back to 1.5 mm, is 1.5 mm at once."""
    direct = sb.sweep(bench.folder, thickness=["1.5 mm"]).band_irradiance.sel(source="LED 405").item()
    bench.manifest(
        'thickness = "2.0 mm ± 0.02 mm"\n', 'thickness = "2.0 mm ± 0.02 mm"\nworking_thickness = "1 mm"\n'
    )
    again = sb.sweep(bench.folder, thickness=["1.5 mm"]).band_irradiance.sel(source="LED 405").item()
    assert again == pytest.approx(direct, rel=1e-6)


def test_a_sweep_back_to_the_measured_thickness_finds_what_was_measured(bench):
    measured = sb.sweep(bench.folder, thickness=["2 mm"]).band_irradiance.sel(source="LED 365").item()
    bench.manifest(
        'thickness = "2.0 mm ± 0.02 mm"\n', 'thickness = "2.0 mm ± 0.02 mm"\nworking_thickness = "6 mm"\n'
    )
    again = sb.sweep(bench.folder, thickness=["2 mm"]).band_irradiance.sel(source="LED 365").item()
    assert again == pytest.approx(measured, rel=1e-3)


def test_what_is_warmed_has_the_thickness_in_use(text):
    (cover,) = stack_of(manifest(text, 'working_thickness = "0.5 mm"')).parts
    assert float(cover.thickness) == pytest.approx(0.5e-3)
