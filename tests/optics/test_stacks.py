"""Stacks of layers: energy adds up, from either side, with a tilt, for any layers."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from spectralbench.errors import GridError, RangeError
from spectralbench.optics import stack

GRID = [365.0, 405.0]


def layers(values, grid=None):
    values = np.asarray(values, float)
    coordinates = {} if grid is None else {"wavelength": grid}
    return xr.DataArray(values, coordinates, ("layer", "wavelength")[: values.ndim])


indices = st.floats(1.0, 2.5)
some_layers = st.lists(st.tuples(st.floats(0, 1), indices), min_size=1, max_size=5)


def taken_apart(pairs):
    return layers([bulk for bulk, _ in pairs]), layers([index for _, index in pairs])


@given(some_layers, indices, indices, st.one_of(st.just(0.0), st.floats(0, 89.9)))
def test_reflected_absorbed_and_passed_light_is_the_light_that_came(pairs, before, after, tilt):
    found = stack(*taken_apart(pairs), before, after, tilt)
    total = found.transmittance + found.reflectance + found.absorbed.sum("layer")
    assert float(total) == pytest.approx(1, abs=1e-9)
    for array in found.values():
        assert ((array >= 0) & (array <= 1 + 1e-12)).all()


@given(some_layers, indices, indices, st.floats(0, 80))
def test_it_passes_the_same_from_both_sides(pairs, before, after, tilt):
    """Light goes back along its way (Born & Wolf, 7th ed., 1.5.2): from behind, at Snell's angle."""
    sine = before * np.sin(np.deg2rad(tilt)) / after
    forth = stack(*taken_apart(pairs), before, after, tilt)
    if sine >= 0.999:  # it never gets behind, or along the surface, where rounding decides
        return
    back = stack(*taken_apart(pairs[::-1]), after, before, np.rad2deg(np.arcsin(sine)))
    assert float(back.transmittance) == pytest.approx(float(forth.transmittance), rel=1e-6, abs=1e-9)


@given(some_layers, st.floats(0, 1), indices, st.floats(0, 85))
def test_a_layer_cut_in_two_is_the_same_layer(pairs, share, after, tilt):
    """The cut has no step of the index, so it reflects nothing."""
    bulk, index = pairs[0]
    halves = [(bulk**share, index), (bulk ** (1 - share), index)]
    whole, cut = (stack(*taken_apart(made), 1.0, after, tilt) for made in (pairs, halves + pairs[1:]))
    assert float(cut.transmittance) == pytest.approx(float(whole.transmittance), abs=1e-12)
    assert float(cut.absorbed[:2].sum()) == pytest.approx(float(whole.absorbed[0]), abs=1e-12)


class TestShape:
    def test_dimensions_names_and_units(self):
        bulk = layers([[0.5, 0.9], [1.0, 0.8]], GRID) * xr.DataArray([1.0, 0.9, 0.8], dims="draw")
        found = stack(bulk.transpose("draw", "wavelength", "layer"), layers([1.5, 1.6]))
        assert found.transmittance.dims == found.reflectance.dims == ("draw", "wavelength")
        assert found.absorbed.dims == ("layer", "draw", "wavelength")
        assert {array.attrs["units"] for array in found.values()} == {"1"}
        assert found.absorbed.attrs["long_name"] == "share absorbed in a layer"

    @pytest.mark.parametrize("drawn", ["internal", "index", "before", "after", "tilt"])
    def test_draws_are_as_if_done_one_by_one(self, drawn):
        given = {"internal": layers([[0.5, 0.9], [1.0, 0.8]], GRID), "index": layers([1.5, 1.6])}
        given |= {"before": xr.DataArray(1.0), "after": xr.DataArray(1.5), "tilt": xr.DataArray(20.0)}
        factors = xr.DataArray([0.95, 1.0], dims="draw")
        together = stack(**given | {drawn: given[drawn] * factors})
        for i, factor in enumerate(factors.values):
            alone = stack(**given | {drawn: given[drawn] * factor})
            for name in alone:
                kept = together[name].isel(draw=i).transpose(*alone[name].dims)
                np.testing.assert_allclose(kept, alone[name], rtol=1e-12)

    def test_one_index_for_all(self):
        bulk = layers([0.5, 0.9])
        assert stack(bulk, 1.5).equals(stack(bulk, layers([1.5, 1.5])))

    def test_a_window_of_air(self):
        """Two clear plates apart: closed form (1 - R)/(1 + 3R), 4 surfaces of R = 0.04."""
        found = stack(layers([1.0, 1.0, 1.0]), layers([1.5, 1.0, 1.5]))
        assert float(found.transmittance) == pytest.approx(0.96 / 1.12)

    def test_an_opaque_layer(self):
        found = stack(layers([0.9, 0.0, 0.9]), 1.5)
        assert float(found.transmittance) == 0.0
        assert found.absorbed[2].item() == 0.0


class TestNotValid:
    def test_it_spoils_its_own_wavelength(self):
        found = stack(layers([[0.5, np.nan], [0.9, 0.9]], GRID), 1.5)
        for array in found.values():
            bad = np.isnan(array)
            assert not bad.sel(wavelength=365).any()
            assert bad.sel(wavelength=405).all()

    def test_not_where_light_never_comes(self):
        found = stack(layers([0.9, 1.0, np.nan]), layers([1.5, 1.0, 1.5]), before=1.5, tilt=60)
        assert float(found.transmittance) == 0.0
        assert found.absorbed[1:].values.tolist() == [0.0, 0.0]


class TestTotalReflection:
    @pytest.mark.parametrize("bulks", [[1.0], [0.5], [1.0, 1.0], [1.0, 0.5, 1.0]])
    def test_it_passes_nothing(self, bulks):
        """From glass of index 1.5 into air, beyond 41.8°, whatever lies behind the air."""
        index = layers([1.0, 1.5, 1.0][: len(bulks)])
        found = stack(layers(bulks), index, before=1.5, after=1.5, tilt=42)
        assert float(found.transmittance) == 0.0
        assert float(found.reflectance) == 1.0
        assert (found.absorbed == 0).all()

    def test_below_the_angle_it_passes(self):
        assert float(stack(layers([1.0]), 1.0, before=1.5, after=1.5, tilt=41.8).transmittance) > 0.01

    def test_behind_the_stack(self):
        found = stack(layers([0.8]), 1.6, before=1.5, after=1.0, tilt=50)
        assert float(found.transmittance) == 0.0
        assert float(found.reflectance + found.absorbed.sum()) == pytest.approx(1)
        assert float(found.absorbed.sum()) > 0.3  # twice through the layer

    def test_exactly_at_the_angle(self):
        found = stack(layers([1.0]), 1.0, before=2.0, after=2.0, tilt=30.000000000000004)
        assert np.isfinite(found.transmittance)


class TestFaults:
    def test_no_layer(self):
        message = r"one entry for each layer in the order in which the light meets them; .* dimensions \(\)"
        with pytest.raises(RangeError, match=message):
            stack(0.9, 1.5)
        with pytest.raises(RangeError, match=r"sizes \(0,\)"):
            stack(layers([]), 1.5)

    @pytest.mark.parametrize("name", ["before", "after", "tilt"])
    def test_what_belongs_to_the_whole_stack(self, name):
        with pytest.raises(RangeError, match=f"{name} belongs to the whole stack: it has no dimension layer"):
            stack(layers([0.9]), 1.5, **{name: layers([1.0])})

    def test_values_beyond_their_range(self):
        with pytest.raises(RangeError, match=r"an internal transmittance lies in 0–1, not at 1\.2"):
            stack(layers([0.9, 1.2]), 1.5)
        with pytest.raises(RangeError, match="a refractive index is above 0, not nan"):
            stack(layers([0.9, 1.0]), layers([1.5, np.nan]))
        with pytest.raises(RangeError, match=r"a tilt lies between .* not at 95°"):
            stack(layers([0.9]), 1.5, tilt=95)

    def test_layers_and_draws_that_do_not_fit(self):
        with pytest.raises(GridError, match=r"stack\(\): the arguments do not fit together"):
            stack(layers([0.9, 1.0]), layers([1.5, 1.5, 1.5]))
        drawn = xr.DataArray([1.0, 1.0], {"draw": [0, 1]}, "draw")
        with pytest.raises(GridError, match="the arguments do not fit together"):
            stack(layers([0.9]) * drawn, 1.5 * drawn.assign_coords(draw=[1, 2]))
