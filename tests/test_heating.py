"""How warm part and bond line get: against closed forms, and against each source on its own."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.comparison import FIGURES, Stack, heating
from spectralbench.heat import Layer, Material, peak_temperature, thermal_response

PLASTIC = Material(0.2, 1200, 1300)
GLUE = Material(0.2, 1100, 1700)
GLASS = Material(0.9, 2200, 800)
COVER = Layer("cover", "2 mm", PLASTIC)
BOND = Layer("bond line", "0.15 mm", GLUE)
PLATE = Layer("plate", "5 mm", GLASS)
AMBIENT = 296.15


def light(at_part, behind, unused, exposure):
    names = ("irradiance_at_part", "irradiance_at_bond", "unused_irradiance", "exposure_time")
    given = dict(zip(names, (at_part, behind, unused, exposure), strict=True))
    arrays = {name: xr.DataArray(np.asarray(value, float)) for name, value in given.items()}
    dims = {0: (), 1: ("draw",)}
    labelled = {
        name: array.rename(dict(zip(array.dims, dims[array.ndim], strict=True)))
        for name, array in arrays.items()
    }
    whole = dict(zip(labelled, xr.broadcast(*labelled.values()), strict=True))
    return xr.Dataset({name: array.expand_dims(source=["one"]) for name, array in whole.items()})


def rise(figures, stack):
    return heating(figures, stack).peak_temperature.isel(source=0) - AMBIENT


def test_a_thick_part_that_stops_all_light_is_a_half_space():
    """2 q √(t/π) / √(k ρ c) at its front (Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., 2.9)."""
    thick = Layer("cover", "30 mm", PLASTIC)
    found = heating(light(5000.0, 0.0, 0.0, 20.0), Stack([thick], BOND, None, AMBIENT))
    assert found.hottest.item() == "cover"
    expected = 2 * 5000 * np.sqrt(20 / np.pi) / PLASTIC.effusivity
    assert found.peak_temperature.item() - AMBIENT == pytest.approx(expected, rel=2e-3)


def test_it_is_the_peak_that_conduction_gives_for_the_same_heat():
    stack = Stack([COVER], BOND, PLATE, AMBIENT, loss=10.0)
    found = rise(light(1e4, 8e3, 6e3, 7.0), stack)
    layers = [
        Layer("cover", "2 mm", PLASTIC, attenuation=-np.log(0.8) / 0.002),
        BOND,
        Layer("plate", "5 mm", GLASS, attenuation=np.inf),
    ]
    heat = xr.DataArray([2e3, 2e3, 6e3], {"layer": ["cover", "bond line", "plate"]}, "layer")
    expected = peak_temperature(heat, thermal_response(layers, 7.0, 10.0, 10.0), AMBIENT)
    assert found.item() == pytest.approx(
        expected.temperature_rise.sel(layer=["cover", "bond line"]).max().item(), rel=2e-3
    )


def test_two_halves_of_a_part_are_one_part():
    """A tenth passes the whole, so that its root passes each half."""
    whole = light(1e4, 1e3, 5e2, 7.0)
    behind = xr.DataArray([[1e4 * np.sqrt(0.1), 1e3]], dims=("source", "part"))
    halves = [Layer("front", "1 mm", PLASTIC), Layer("back", "1 mm", PLASTIC)]
    one = rise(whole, Stack([COVER], BOND, PLATE, AMBIENT)).item()
    two = rise(whole.assign(irradiance_after_parts=behind), Stack(halves, BOND, PLATE, AMBIENT)).item()
    assert two == pytest.approx(one, rel=2e-3)


def test_each_draw_has_its_own_exposure():
    """Draws together are draws one by one, and the same dose in half the time is warmer."""
    stack = Stack([COVER], BOND, PLATE, AMBIENT, loss=10.0, reaction_heat=1e5)
    strength = np.linspace(0.8, 1.6, 23)
    together = rise(light(1e4 * strength, 8e3 * strength, 6e3 * strength, 8.0 / strength), stack)
    each = [rise(light(1e4 * s, 8e3 * s, 6e3 * s, 8.0 / s), stack).item() for s in strength]
    assert together.values == pytest.approx(each, rel=3e-3)
    assert (np.diff(together) > 0).all()


def test_the_reaction_adds_its_heat():
    """A bond line between parts that hold none: its heat by mass over its heat capacity."""
    thin = Layer("cover", "1 nm", PLASTIC)
    found = rise(light(1.0, 1.0, 1.0, 5.0), Stack([thin], BOND, None, AMBIENT, reaction_heat=170e3))
    assert found.item() == pytest.approx(170e3 / 1700, rel=1e-3)


def test_what_the_front_reflects_warms_nothing():
    dull, bright = (
        rise(light(1e4, 8e3, 6e3, 5.0), Stack([COVER], BOND, None, AMBIENT, index=index)).item()
        for index in (None, 1.5)
    )
    assert bright < dull


@pytest.mark.parametrize("exposure", [np.nan, np.inf])
def test_an_exposure_without_an_end_has_no_temperature(exposure):
    found = heating(light(1e4, 8e3, 6e3, exposure), Stack([COVER], BOND, PLATE, AMBIENT))
    assert np.isnan(found.peak_temperature).all()
    assert found.hottest.item() == ""
    mixed = rise(light(1e4, 8e3, 6e3, [5.0, exposure]), Stack([COVER], BOND, PLATE, AMBIENT))
    assert np.isnan(mixed.values).tolist() == [False, True]


def test_light_that_is_not_known_has_no_temperature_either():
    assert np.isnan(rise(light(1e4, np.nan, 6e3, 5.0), Stack([COVER], BOND, PLATE, AMBIENT))).all()


def test_it_is_labelled():
    found = heating(light(1e4, 8e3, 6e3, 5.0), Stack([COVER], BOND, None, AMBIENT))
    assert found.peak_temperature.attrs["units"] == FIGURES["peak_temperature"].units == "K"
