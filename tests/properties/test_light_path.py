"""Laws of the light's path: nothing lifts light, order does not matter, energy adds up."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import spectralbench as sb
from spectralbench.comparison import Requirement, figures_at_bond_line, judge

GRID = np.array([320.0, 345.0, 365.0, 385.0, 405.0, 430.0])
shares = arrays(float, GRID.size, elements=st.floats(0, 1))
lights = arrays(float, GRID.size, elements=st.floats(0, 1e4))
films = arrays(float, GRID.size, elements=st.floats(0, 3))
indices = st.floats(1.0, 2.5)


def along(values, dimension=None, units="1"):
    array = xr.DataArray(values, {"wavelength": GRID}, "wavelength", attrs={"units": units})
    return array if dimension is None else array.expand_dims(dimension)


def light(values):
    return along(values, units="W m-2 nm-1")


@settings(max_examples=40)
@given(lights, st.lists(shares, max_size=4))
def test_transmittance_never_lifts_light(values, layers):
    behind = sb.through(light(values), *map(along, layers))
    assert (behind <= light(values)).all()
    assert (behind >= 0).all()


@settings(max_examples=40)
@given(lights, st.lists(shares, min_size=2, max_size=4), st.randoms())
def test_the_order_of_layers_does_not_matter(values, layers, random):
    shuffled = random.sample(layers, len(layers))
    one = sb.through(light(values), *map(along, layers))
    other = sb.through(light(values), *map(along, shuffled))
    np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-300)


@settings(max_examples=40)
@given(st.floats(0, 1), indices, indices, indices)
def test_a_slab_never_lifts_light_and_its_energy_adds_up(bulk, index, before, after):
    """Reflected, absorbed and passed light are the light that came: summed bounce by bounce."""
    front, back = ((before - index) / (before + index)) ** 2, ((index - after) / (index + after)) ** 2
    reflected, inside, passed, absorbed = front, 1 - front, 0.0, 0.0
    for _ in range(400):
        absorbed += inside * (1 - bulk)
        inside *= bulk
        passed += inside * (1 - back)
        inside *= back
        absorbed += inside * (1 - bulk)
        inside *= bulk
        reflected += inside * (1 - front)
        inside *= front
    found = float(sb.slab_transmittance(bulk, index, before, after))
    assert found == pytest.approx(passed, rel=1e-9, abs=1e-12)
    assert reflected + absorbed + found == pytest.approx(1, rel=1e-9)


@settings(max_examples=40)
@given(st.floats(1e-9, 1), indices, indices, indices)
def test_the_inside_of_a_slab_is_found_again(bulk, index, before, after):
    outside = sb.slab_transmittance(bulk, index, before, after)
    assert float(sb.internal_transmittance(outside, index, before, after)) == pytest.approx(bulk, rel=1e-9)


measurable = arrays(float, GRID.size, elements=st.floats(1e-6, 1))  # less is below any detector


@settings(max_examples=40)
@given(measurable, st.floats(0.1, 10), st.floats(0.1, 10), st.floats(0.1, 10))
def test_thicknesses_compose(bulk, first, second, third):
    direct = sb.scale_thickness(along(bulk), first, third)
    by_way_of = sb.scale_thickness(sb.scale_thickness(along(bulk), first, second), second, third)
    lost = (along(bulk) ** (second / first)) < 1e-300  # below what a number can hold
    np.testing.assert_allclose(by_way_of.where(~lost, direct), direct, rtol=1e-9, atol=0)


@settings(max_examples=40)
@given(lights, films, films)
def test_photons_of_the_initiators_add_up_to_all(values, one, other):
    whole = along(one + other)
    parts = [sb.absorbed_photons(light(values), whole, along(film)) for film in (one, other)]
    total = sb.absorbed_photons(light(values), whole)
    assert float(sum(parts)) == pytest.approx(float(total), rel=1e-9, abs=1e-9)
    assert float(total) <= float(sb.photon_irradiance(light(values), 320, 430)) * (1 + 1e-9)


@settings(max_examples=40)
@given(lights, shares)
def test_absorbance_and_transmittance_are_one_thing(values, passed):
    absorbed = sb.absorbance(along(passed))
    np.testing.assert_allclose(10.0**-absorbed, passed, rtol=1e-12)
    assert not np.signbit(absorbed).any()


def test_draws_pass_through_every_step():
    """A leading dimension goes in once and comes out of every figure, as if done one by one."""
    random = np.random.default_rng(7)
    factors = xr.DataArray(random.normal(1, 0.02, 20), dims="draw")
    counts = xr.DataArray(random.uniform(1e3, 5e4, GRID.size), {"wavelength": GRID}, "wavelength")
    counts = counts.assign_coords(integration_time=0.02)
    dark = (counts * 0 + 900).assign_coords(integration_time=0.02)
    lamp = light(np.linspace(0.01, 0.1, GRID.size))
    film = along(np.full((1, GRID.size), 0.1)[0], "initiator")
    cover = along(np.linspace(0.1, 0.9, GRID.size), "part")
    needed = Requirement(330, 420, 10.0, 100.0, data_sheet_wavelength=365.0)

    def chain(factor):
        signal = sb.signal_from_counts(sb.subtract_dark(counts, dark))
        responsivity = sb.responsivity_from_lamp(signal * 0 + 1e5, lamp * factor)
        spectrum = sb.irradiance_from_signal(signal, responsivity).expand_dims(source=["one"])
        return judge(figures_at_bond_line(spectrum, cover, film, needed), needed)

    together = chain(factors)
    names = ("irradiance_at_part", "band_irradiance", "absorbed_photons", "exposure_time", "kept_share")
    for i in (0, 7, 19):
        one = chain(factors.values[i])
        for name in names:
            assert together[name].sizes["draw"] == 20
            found = float(together[name].isel(source=0, draw=i))
            assert found == pytest.approx(float(one[name].isel(source=0)), rel=1e-12)
