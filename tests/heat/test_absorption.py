import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError
from spectralbench.heat import Layer, Material, adiabatic_rise, heat_by_layer, reaction_flux, reaction_heat

GRID = np.array([360.0, 365.0, 370.0])
BOND = Layer("bond line", "100 um", Material(0.19, 1100, 1800))


def light(values, *dims):
    return xr.DataArray(values, {"wavelength": GRID}, (*dims, "wavelength"), attrs={"units": "W m-2 nm-1"})


def shares(values, *dims):
    names = {"layer": ["plate", "bond line"], "wavelength": GRID}
    return xr.DataArray(values, names, ("layer", *dims, "wavelength"))


STACK = shares([[0.1, 0.2, 0.3], [0.5, 0.0, 0.5]])


def test_heat_is_the_area_under_what_each_layer_absorbs():
    # trapezoids of 5 nm: plate 2·(0.1/2 + 0.2 + 0.3/2)·5, bond line 2·(0.5/2 + 0.5/2)·5
    found = heat_by_layer(light([2.0, 2.0, 2.0]), STACK)
    assert found.values.tolist() == pytest.approx([4.0, 5.0])
    assert found.layer.values.tolist() == ["plate", "bond line"]
    assert (found.name, found.attrs["units"]) == ("absorbed_irradiance", "W m-2")
    assert found.attrs["history"] == "light absorbed by layer became heat, all of it"


def test_the_share_that_is_used_is_no_heat():
    used = xr.DataArray([0.0, 0.4], {"layer": ["plate", "bond line"]}, "layer")
    found = heat_by_layer(light([2.0, 2.0, 2.0]), STACK, used)
    assert found.values.tolist() == pytest.approx([4.0, 3.0])
    assert found.attrs["history"].endswith("less the share that is used")
    assert heat_by_layer(light([2.0] * 3), STACK, "50 %").values.tolist() == pytest.approx([2.0, 2.5])


def test_further_dimensions_broadcast_and_both_ways_agree():
    random = np.random.default_rng(1)
    sources, draws = random.random((2, 3)), random.random((2, 4, 3)) / 2
    found = heat_by_layer(light(sources, "source"), shares(draws, "draw"))
    assert found.dims == ("layer", "source", "draw")
    for k in range(4):
        one = heat_by_layer(light(sources, "source"), shares(draws[:, k]))
        np.testing.assert_allclose(found.isel(draw=k), one, rtol=1e-14)


def test_a_sample_that_is_not_valid_spoils_only_the_layers_that_absorb_there():
    spectrum = light([2.0, np.nan, 2.0])
    assert np.isnan(heat_by_layer(spectrum, STACK).values).tolist() == [True, False]
    both = heat_by_layer(spectrum, STACK.expand_dims(draw=2, axis=1))
    assert np.isnan(both.values).tolist() == [[True, True], [False, False]]


@pytest.mark.parametrize(
    ("absorbed", "used", "message"),
    [
        (STACK - 0.2, 0.0, "a layer absorbs 0 or more, not -0.2 of the light"),
        (2 * STACK, 0.0, "the layers absorb up to 1.6 of the light, which is more than all"),
        (STACK, 1.5, "the share of light that is used lies in 0–1, not at 1.5 to 1.5"),
    ],
)
def test_shares_that_are_none_are_refused(absorbed, used, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        heat_by_layer(light([1.0, 1.0, 1.0]), absorbed, used)


def test_other_grids_and_missing_layers_are_refused():
    with pytest.raises(GridError, match="absorbed shares have a dimension layer, not only"):
        heat_by_layer(light([1.0, 1.0, 1.0]), STACK.isel(layer=0))
    with pytest.raises(GridError, match="have wavelengths up to 1 nm apart"):
        heat_by_layer(light([1.0, 1.0, 1.0]), STACK.assign_coords(wavelength=GRID + 1))


def test_the_heat_of_a_reaction_by_area_is_that_of_its_mass():
    heat = reaction_heat("86 kJ/mol", "5 mol/kg", "80 %")
    assert heat.attrs["units"] == "J kg-1"
    flux = reaction_flux(heat, BOND, "10 s")
    assert flux.item() == pytest.approx(344e3 * 1100 * 1e-4 / 10)
    assert flux.attrs["units"] == "W m-2"
    assert flux.attrs["history"] == "heat of the reaction, evenly over its time"
    assert adiabatic_rise(heat, BOND.material).attrs["units"] == "K"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: reaction_heat(-1.0, 5.0),
            "heat and content of reacting groups are 0 or more, not -1 J/mol and 5",
        ),
        (lambda: reaction_heat(1.0, 5.0, 1.2), "a conversion lies in 0–1, not at 1.2 to 1.2"),
        (
            lambda: adiabatic_rise(-5.0, BOND.material),
            "the heat of a reaction is 0 J/kg or more, not -5 J/kg",
        ),
        (lambda: reaction_flux(-5.0, BOND, 1.0), "the heat of a reaction is 0 J/kg or more, not -5 J/kg"),
        (lambda: reaction_flux(5.0, BOND, 0.0), "a reaction takes more than 0 s, not 0 s"),
    ],
)
def test_a_reaction_that_makes_no_sense_is_refused(call, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        call()
