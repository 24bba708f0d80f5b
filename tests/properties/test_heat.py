"""Laws of heat: none is lost or made, it adds up, the way there is the way back. All data are invented."""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.heat import Layer, Material, peak_temperature, surface_temperature_rise, thermal_response

materials = st.builds(Material, st.floats(0.1, 50), st.floats(900, 9000), st.floats(400, 2000))
attenuations = st.sampled_from([0.0, 10.0, 3e3, 1e6, math.inf])
losses = st.sampled_from([0.0, 5.0, 100.0, 1e4])
few = settings(max_examples=10)


@st.composite
def stacks(draw, even=False):
    count = draw(st.integers(1, 3))
    return [
        Layer(f"layer {i}", draw(st.floats(2e-5, 5e-3)), draw(materials), 0.0 if even else draw(attenuations))
        for i in range(count)
    ]


def capacities(stack, response):
    """Heat that each point holds by its rise (depth,) [J m-2 K-1]: half of the cells beside it."""
    depth = response.depth.values
    middle = (depth[1:] + depth[:-1]) / 2
    owner = np.searchsorted(response.layer_back.values, middle)
    cell = np.array([layer.material.capacity for layer in stack])[owner] * np.diff(depth) / 2
    return np.append(cell, 0.0) + np.insert(cell, 0, 0.0)


@few
@given(stacks(), losses, losses, st.floats(0.1, 50))
def test_what_is_absorbed_is_stored_or_lost(stack, front, back, stop):
    """The loss is integrated by Gauss points on panels that widen from the switch on."""
    points, weights = np.polynomial.legendre.leggauss(16)
    edges = np.concatenate([[0.0], np.geomspace(1e-6 * stop, stop, 25)])
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    inside = (middle[:, None] + half[:, None] * points).ravel()
    response = thermal_response(stack, [*inside, stop], front, back)
    faces = front * response.isel(depth=0) + back * response.isel(depth=-1)
    lost = faces.values[:, :-1] @ (half[:, None] * weights).ravel()
    stored = response.isel(time=-1).values @ capacities(stack, response)
    assert stored + lost == pytest.approx(np.full(len(stack), stop), rel=1e-9)


@few
@given(stacks(even=True), losses, losses, st.floats(0.01, 100))
def test_the_way_there_is_the_way_back(stack, front, back, time):
    """The mean rise of one layer for heat in another is that of the other for heat in the one."""
    response = thermal_response(stack, time, front, back).isel(time=0)
    mean = []
    for i in range(len(stack)):
        own = response.sel(depth=slice(response.layer_front[i], response.layer_back[i]))
        mean.append(own.integrate("depth").values / float(stack[i].thickness))
    assert np.array(mean) == pytest.approx(np.array(mean).T, rel=1e-9, abs=1e-12 * np.max(mean))


@few
@given(stacks(even=True), losses, losses, st.floats(0.01, 100))
def test_a_stack_seen_from_behind_is_the_same(stack, front, back, time):
    response = thermal_response(stack, time, front, back)
    turned = thermal_response(stack[::-1], time, back, front)
    expected = turned.values[::-1, ::-1]
    assert response.values == pytest.approx(expected, rel=1e-8, abs=1e-11 * expected.max())


@few
@given(stacks(), losses, losses, st.floats(0.01, 10))
def test_nothing_cools_while_the_light_is_on_nor_falls_below_ambient(stack, front, back, time):
    response = thermal_response(stack, time * np.array([1.0, 2.0, 4.0, 8.0]), front, back, 4 * time)
    rounding = 1e-11 * float(response.max())
    assert (response >= -rounding).all()
    assert (response.isel(time=slice(0, 3)).diff("time") >= -rounding).all()
    hottest = response.max("depth")
    assert (hottest.isel(time=3) <= hottest.isel(time=2) + rounding).all()


@few
@given(stacks(), losses, st.floats(0.1, 20), st.floats(0.1, 20))
def test_a_light_that_is_on_later_warms_later(stack, loss, time, delay):
    now = thermal_response(stack, time, loss, loss, 0.7 * time)
    later = thermal_response(stack, time + delay, loss, loss, [(delay, delay + 0.7 * time)])
    assert later.values == pytest.approx(now.values, rel=2e-3, abs=1e-3 * now.values.max())


@few
@given(stacks(), losses, st.floats(0, 1e4), st.floats(0, 1e4), st.floats(0, 3))
def test_peaks_grow_in_step_with_heat_and_never_beyond_the_sum(stack, loss, one, other, factor):
    names = [layer.name for layer in stack]
    response = thermal_response(stack, [0.5, 1.0, 3.0, 3.5, 6.0], loss, loss, "3 s")

    def peak(values):
        heat = xr.DataArray(values, {"layer": names}, "layer")
        return peak_temperature(heat, response, 300.0)["temperature_rise"].values

    first, second = np.full(len(stack), one), np.linspace(other, 0.0, len(stack))
    assert peak(factor * first) == pytest.approx(factor * peak(first), rel=1e-9)
    assert (peak(first + second) <= (peak(first) + peak(second)) * (1 + 1e-9)).all()
    assert (peak(first + second) >= peak(first) * (1 - 1e-9)).all()


@given(st.floats(1e-3, 1e3), st.floats(0.1, 10), st.floats(0, 5e-3), materials, materials)
def test_half_spaces_keep_all_the_heat(time, scale, depth, body, backing):
    """Four times the time and twice the depth: twice the rise. A backing only ever cools."""
    rise = surface_temperature_rise(100.0, time, body, depth)
    far = surface_temperature_rise(100.0, scale**2 * time, body, scale * depth)
    assert far.item() == pytest.approx(scale * rise.item(), rel=1e-9, abs=1e-300)
    assert surface_temperature_rise(100.0, time, body, depth, backing=backing) <= rise
    assert surface_temperature_rise(100.0, time, body, depth) <= surface_temperature_rise(100.0, time, body)
