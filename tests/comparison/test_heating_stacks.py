"""Several parts and a resin that absorbs: each layer gets its own share of the light, and none is lost."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.comparison import Requirement, Stack, figures_at_bond_line, heating
from spectralbench.comparison.changes import warmest
from spectralbench.heat import Layer, Material

AMBIENT = 296.15
EVEN = Material(1e4, 1000, 1000)  # conducts so well that a stack has but one temperature
STILL = Material(1e-3, 1000, 1000)  # and so badly that each layer keeps its heat
WATER_LIKE = 1e6  # J m-3 K-1 of both
FIRST, SECOND, BOND, PLATE = 1e-3, 2e-3, 1.5e-4, 5e-3  # m


def stack(material, *, parts=2, backing=True, **others):
    layers = [Layer("first", FIRST, material), Layer("second", SECOND, material)][:parts]
    plate = Layer("plate", PLATE, material) if backing else None
    return Stack(layers, Layer("bond line", BOND, material), plate, AMBIENT, **others)


def light(at_part=1e4, after=(6e3, 3e3), unused=2e3, lost=None, exposure=5.0):
    """Of 10,000 W m-2 the parts leave 6,000 and 3,000; initiators use 1,000."""
    values = {
        "irradiance_at_part": at_part,
        "irradiance_at_bond": after[-1],
        "unused_irradiance": unused,
        "exposure_time": exposure,
        "dose_time": exposure,
        "photon_time": np.nan,
    }
    if lost is not None:
        values["lost_irradiance"] = lost
    figures = xr.Dataset(
        {name: ("source", [float(value)]) for name, value in values.items()}, {"source": ["a"]}
    )
    return figures.assign(irradiance_after_parts=(("source", "part"), [list(after)]))


def rise(figures, warmed):
    return heating(figures, warmed).peak_temperature.item() - AMBIENT


def test_with_a_backing_all_that_arrives_is_heat():
    """One temperature: all light for the exposure, by the heat capacity of all layers."""
    whole = FIRST + SECOND + BOND + PLATE
    expected = 1e4 * 5 / (WATER_LIKE * whole)
    for lost in (None, 0.0, 1500.0):
        assert rise(light(lost=lost), stack(EVEN)) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(("lost", "passes"), [(None, 2000.0), (0.0, 2000.0), (1500.0, 500.0), (2000.0, 0.0)])
def test_without_a_backing_what_passes_the_bond_line_is_gone(lost, passes):
    """Resin turns its share to heat in the bond line; the rest leaves."""
    expected = (1e4 - passes) * 5 / (WATER_LIKE * (FIRST + SECOND + BOND))
    assert rise(light(lost=lost), stack(EVEN, backing=False)) == pytest.approx(expected, rel=2e-3)


def test_the_sum_of_heats_is_what_the_figures_say_is_absorbed():
    """Through the figures of real absorbances: all but what 10^-A of the bond line lets pass."""
    grid = np.linspace(360.0, 410.0, 51)

    def rows(values, dimension, names, units="1"):
        values = np.array([np.full(51, value) for value in values])
        along = {dimension: names, "wavelength": grid}
        return xr.DataArray(values, along, (dimension, "wavelength"), attrs={"units": units})

    figures = figures_at_bond_line(
        rows([200.0], "source", ["a"], "W m-2 nm-1"),
        rows([0.6, 0.5], "part", ["first", "second"]),
        rows([0.2, 0.1], "initiator", ["a", "b"]),
        Requirement(360, 410, 1000.0, 15000.0),
        background=xr.DataArray(np.full(51, 0.3), {"wavelength": grid}, "wavelength"),
    )
    assert figures.exposure_time.item() == pytest.approx(5.0)
    passes = 1e4 * 0.6 * 0.5 * 10**-0.6
    expected = (1e4 - passes) * 5 / (WATER_LIKE * (FIRST + SECOND + BOND))
    assert rise(figures, stack(EVEN, backing=False)) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("after", "hottest", "kept", "thickness"),
    [((6e3, 5999.0), "first", 4e3, FIRST), ((9999.0, 3e3), "second", 6999.0, SECOND)],
)
def test_each_part_keeps_its_own_share(after, hottest, kept, thickness):
    """At once its front has the heat of exp(-a z): (q t / ρc) a / (1 - exp(-a d))."""
    figures = light(after=after, unused=after[1], exposure=0.05)
    found = heating(figures, stack(STILL, backing=False))
    before = 1e4 if hottest == "first" else after[0]
    attenuation = np.log(before / after[0 if hottest == "first" else 1]) / thickness
    assert found.hottest.item() == hottest
    expected = kept * 0.05 / WATER_LIKE * attenuation / (1 - np.exp(-attenuation * thickness))
    assert found.peak_temperature.item() - AMBIENT == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("backing", [False, True])
def test_resin_warms_the_bond_line_and_not_the_backing(backing):
    """At once, before anything is conducted: what initiators and resin take, by ρ c l of the bond line."""
    nearly_clear = {"after": (9999.0, 9998.0), "unused": 8998.0, "exposure": 0.01}
    found = heating(light(lost=8998.0, **nearly_clear), stack(STILL, backing=backing))
    assert found.hottest.item() == "bond line"
    expected = 9998 * 0.01 / (WATER_LIKE * BOND)
    assert found.peak_temperature.item() - AMBIENT == pytest.approx(expected, rel=1e-2)


def test_what_resin_leaves_meets_the_front_of_the_backing():
    """Taken at a face, it is hotter there than the same light taken all through the bond line."""
    clear, brown = (
        rise(light(after=(9999.0, 9998.0), unused=8998.0, lost=lost), stack(STILL)) for lost in (0.0, 8998.0)
    )
    assert clear > brown


def test_a_part_that_takes_nothing_stays_out_of_it():
    """A first part without absorption is only mass; here it conducts as well as the rest."""
    clear = rise(light(after=(1e4, 3e3)), stack(EVEN))
    assert clear == pytest.approx(rise(light(after=(6e3, 3e3)), stack(EVEN)), rel=2e-3)
    still = heating(light(after=(1e4, 3e3), unused=3e3), stack(STILL, backing=False))
    assert still.hottest.item() == "second"


def test_draws_together_are_draws_one_by_one():
    factor = np.linspace(0.8, 1.2, 5)
    draw = xr.DataArray(factor, dims="draw")
    one = light(lost=1500.0)
    names = [name for name in one if name != "exposure_time"]
    drawn = one.assign({name: one[name] * draw for name in names}).assign(
        exposure_time=one.exposure_time / draw
    )
    together = heating(drawn, stack(STILL)).peak_temperature.transpose("source", "draw").values[0]
    for i, share in enumerate(factor):
        alone = one.assign({name: one[name] * share for name in names})
        alone["exposure_time"] = one.exposure_time / share
        assert together[i] - AMBIENT == pytest.approx(rise(alone, stack(STILL)), rel=2e-2)


def test_weaker_light_is_weaker_in_every_layer():
    """The same dose in twice the time: where nothing is lost, the same heat; nowhere more."""
    figures = light(lost=1500.0)
    assert warmest(figures, stack(EVEN), 0.5) == pytest.approx(rise(figures, stack(EVEN)) + AMBIENT, rel=1e-5)
    longer = light(5e3, (3e3, 1.5e3), 1e3, 750.0, 10.0)
    assert warmest(figures, stack(STILL), 0.5) == pytest.approx(rise(longer, stack(STILL)) + AMBIENT)


def test_what_the_first_front_reflects_warms_no_part():
    """Four per cent of what arrives at an index of 1.5: the first part alone has less."""
    expected = (1e4 * 0.96) * 5 / (WATER_LIKE * (FIRST + SECOND + BOND + PLATE))
    assert rise(light(), stack(EVEN, index=1.5)) == pytest.approx(expected, rel=2e-3)
