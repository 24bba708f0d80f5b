"""The highest temperatures of a stack. The stack and its heat are invented."""

import math
import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError
from spectralbench.heat import Layer, Material, peak_temperature, temperature_rise, thermal_response

STACK = (
    Layer("plate", "1 mm", Material(0.20, 1200, 1200), 500.0),
    Layer("bond line", "50 um", Material(0.19, 1100, 1800)),
    Layer("metal", "2 mm", Material(16.2, 8000, 500), math.inf),
)
NAMES = ["plate", "bond line", "metal"]


@pytest.fixture(scope="module")
def response():
    return thermal_response(STACK, None, 10.0, 50.0, "5 s")


def heat(values, *dims):
    return xr.DataArray(values, {"layer": NAMES}, ("layer", *dims), attrs={"units": "W m-2"})


def test_the_peak_is_the_highest_of_all_points_and_moments(response):
    some = heat(np.random.default_rng(3).random((3, 2, 100)) * 3000, "source", "draw")
    found = peak_temperature(some, response, "20 °C", "80 °C")
    rise = temperature_rise(some, response)
    for i, name in enumerate(NAMES):
        inside = (rise.depth >= response.layer_front[i]) & (rise.depth <= response.layer_back[i])
        own = rise.where(inside, drop=True)
        one = found.sel(layer=name)
        np.testing.assert_allclose(one["temperature_rise"], own.max(("depth", "time")), rtol=1e-11)
        at = own.sel(depth=one["depth"], time=one["time"])
        np.testing.assert_allclose(at, one["temperature_rise"], rtol=1e-11)
    np.testing.assert_allclose(found["temperature"], found["temperature_rise"] + 293.15, rtol=1e-14)
    np.testing.assert_allclose(found["margin"], 353.15 - found["temperature"], atol=1e-10)
    assert found["temperature"].dims == ("layer", "source", "draw")


def test_an_interface_counts_for_both_its_layers(response):
    found = peak_temperature(heat([0.0, 3000.0, 0.0]), response, 300.0)
    on_metal = temperature_rise(heat([0.0, 3000.0, 0.0]), response).sel(depth=response.layer_front[2]).max()
    assert found["temperature_rise"].sel(layer="metal").item() == pytest.approx(on_metal.item(), rel=1e-12)
    assert found["depth"].sel(layer="metal").item() == response.layer_front[2].item()
    assert found["depth"].sel(layer="plate").item() == response.layer_back[0].item()


def test_what_is_hottest_at_the_last_moment_is_still_rising(response):
    # a plate that is warmed from one face goes on warming at the other, after the light is off
    plate = Layer("plate", "3 mm", Material(0.20, 1200, 1200), math.inf)
    one = xr.DataArray([1000.0], {"layer": ["plate"]}, "layer")
    assert peak_temperature(one, thermal_response([plate], [1.0, 2.0]), 300.0)["still_rising"].item()
    assert not peak_temperature(one, thermal_response([plate], exposure="2 s"), 300.0)["still_rising"].item()
    steady = thermal_response([plate], [1.0, math.inf], 10.0)
    assert not peak_temperature(one, steady, 300.0)["still_rising"].item()
    assert not peak_temperature(heat([0.0, 0.0, 0.0]), response, 300.0)["still_rising"].any()


def test_what_is_unknown_stays_unknown_and_nothing_else_does(response):
    some = heat([[1000.0, np.nan], [100.0, 100.0], [0.0, 0.0]], "draw")
    found = peak_temperature(some, response, 300.0)
    for name in ("temperature", "time", "depth"):
        assert np.isnan(found[name].values).tolist() == [[False, True]] * 3
    assert not found["still_rising"].isel(draw=1).any()


def test_heat_below_zero_is_taken_as_it_is(response):
    """Noise may bring a draw there; then no history may be left out."""
    some = heat([-1000.0, 2000.0, 0.0])
    highest = temperature_rise(some, response).max().item()
    assert peak_temperature(some, response, 0.0)["temperature_rise"].max().item() == pytest.approx(highest)


def test_a_rise_that_rounding_puts_below_zero_ends_no_search(response):
    below = response.copy(data=np.where(response > 0, response, -1e-19))
    found = peak_temperature(heat([1000.0, 0.0, 0.0]), below, 300.0)
    known = peak_temperature(heat([1000.0, 0.0, 0.0]), response, 300.0)
    np.testing.assert_allclose(found["temperature_rise"], known["temperature_rise"], rtol=1e-12)


def test_histories_and_units_go_along(response):
    some = heat([1.0, 1.0, 1.0]).assign_attrs(history="light absorbed by layer became heat, all of it")
    found = peak_temperature(some, response, 300.0)
    first, second, third = found.attrs["history"].splitlines()
    assert first == some.attrs["history"]
    assert second.startswith("conducted heat through plate 1 mm")
    assert third == "took the highest temperature of each layer"
    units = {name: found[name].attrs["units"] for name in found}
    assert units == {
        "temperature_rise": "K",
        "temperature": "K",
        "time": "s",
        "depth": "m",
        "still_rising": "1",
    }
    assert (
        temperature_rise(some, response)
        .attrs["history"]
        .endswith("temperature rise from the heat in each layer")
    )
    doubtful = response.assign_attrs(caution="from a sales leaflet")
    assert peak_temperature(some, doubtful, 300.0).attrs["caution"] == "from a sales leaflet"


def test_layers_that_do_not_fit_are_refused(response):
    other = heat([1.0, 1.0, 1.0]).assign_coords(layer=["a", "b", "c"])
    for call in (temperature_rise, lambda a, r: peak_temperature(a, r, 300.0)):
        with pytest.raises(GridError, match="the arguments do not fit together"):
            call(other, response)
        with pytest.raises(
            GridError, match="the heat has no dimension layer: say how much becomes heat in each"
        ):
            call(xr.DataArray(1.0), response)
        with pytest.raises(GridError, match="the response has no dimension layer"):
            call(heat([1.0, 1.0, 1.0]), response.isel(layer=0))
    with pytest.raises(
        GridError, match=re.escape("a response has the dimensions layer, depth and time, not")
    ):
        peak_temperature(heat([1.0, 1.0, 1.0]), response.isel(time=0), 300.0)
