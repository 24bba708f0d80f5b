"""Conduction through a stack, against its exact transform and against steps in time and space.

All stacks and all heats are invented.
"""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.heat import Layer, Material, cycles, temperature_rise, thermal_response

PLASTIC, ADHESIVE, STEEL, GLASS = (
    Material(0.20, 1200, 1200),
    Material(0.19, 1100, 1800),
    Material(16.2, 8000, 500),
    Material(1.0, 2500, 840),
)
PLATE = Layer("plate", "2 mm", PLASTIC, 100.0)
BOND = Layer("bond line", "50 um", ADHESIVE, 1382.0)
METAL = Layer("metal", "3 mm", STEEL, math.inf)
STACK = (PLATE, BOND, METAL)


def transform(stack, losses, heated, depth):
    """The Laplace transform of the rise at a depth for a unit of heat from time 0, in closed form.

    In each layer k T″ = ρc s T − q(z)/s: two exponentials and a particular solution. The faces and
    interfaces (equal temperature, flux continuous but for heat at a face) give the factors.
    """
    size = 2 * len(stack)
    ends = np.cumsum([0.0, *(layer.thickness for layer in stack)])

    def at(s):
        beta = [np.sqrt(s / layer.material.diffusivity) for layer in stack]
        faded = [np.exp(-b * layer.thickness) for b, layer in zip(beta, stack, strict=True)]
        k = [layer.material.conductivity for layer in stack]
        at_face = math.isinf(stack[heated].attenuation)

        def own(i, z):
            layer, c = stack[i], stack[i].material.capacity
            if i != heated or at_face:
                return 0 * s, 0 * s
            a, d = layer.attenuation, layer.thickness
            if a == 0:
                return 1 / (d * s**2 * c), 0 * s
            value = a / (1 - np.exp(-a * d)) * np.exp(-a * z) / (s * (s * c - k[i] * a**2))
            return value, -a * value

        matrix, right = np.zeros((*s.shape, size, size), complex), np.zeros((*s.shape, size), complex)
        value, slope = own(0, 0.0)
        if math.isinf(losses[0]):
            matrix[..., 0, 0], matrix[..., 0, 1], right[..., 0] = 1, faded[0], -value
        else:
            matrix[..., 0, 0] = -k[0] * beta[0] - losses[0]
            matrix[..., 0, 1] = (k[0] * beta[0] - losses[0]) * faded[0]
            right[..., 0] = losses[0] * value - k[0] * slope - (heated == 0 and at_face) / s
        for i in range(len(stack) - 1):
            (value, slope), (value_behind, slope_behind) = own(i, stack[i].thickness), own(i + 1, 0.0)
            row, here, behind = 1 + 2 * i, 2 * i, 2 * i + 2
            matrix[..., row, here], matrix[..., row, here + 1] = faded[i], 1
            matrix[..., row, behind], matrix[..., row, behind + 1] = -1, -faded[i + 1]
            right[..., row] = value_behind - value
            row += 1
            matrix[..., row, here], matrix[..., row, here + 1] = -k[i] * beta[i] * faded[i], k[i] * beta[i]
            matrix[..., row, behind] = k[i + 1] * beta[i + 1]
            matrix[..., row, behind + 1] = -k[i + 1] * beta[i + 1] * faded[i + 1]
            right[..., row] = k[i + 1] * slope_behind - k[i] * slope + (heated == i + 1 and at_face) / s
        value, slope = own(len(stack) - 1, stack[-1].thickness)
        if math.isinf(losses[1]):
            matrix[..., -1, -2], matrix[..., -1, -1], right[..., -1] = faded[-1], 1, -value
        else:
            matrix[..., -1, -2] = (losses[1] - k[-1] * beta[-1]) * faded[-1]
            matrix[..., -1, -1] = k[-1] * beta[-1] + losses[1]
            right[..., -1] = -k[-1] * slope - losses[1] * value
        largest = np.abs(matrix).max(axis=-1, keepdims=True)
        factors = np.linalg.solve(matrix / largest, right[..., None] / largest)[..., 0]
        i = min(int(np.searchsorted(ends, depth, side="right")) - 1, len(stack) - 1)
        z, rest = depth - ends[i], ends[i + 1] - depth
        waves = factors[..., 2 * i] * np.exp(-beta[i] * z) + factors[..., 2 * i + 1] * np.exp(-beta[i] * rest)
        return waves + own(i, z)[0]

    return at


def inverted(image, times, count=20):
    """Fixed Talbot inversion: Abate and Valkó, Int. J. Numer. Methods Eng. 60 (2004) 979."""
    t = np.asarray(times, dtype=float)[:, None]
    r = 2 * count / (5 * t)
    angle = np.arange(1, count) * np.pi / count
    cot = 1 / np.tan(angle)
    s = r * angle * (cot + 1j)
    weight = 1 + 1j * (angle + (angle * cot - 1) * cot)
    first = 0.5 * np.exp(r * t) * image(r.astype(complex)).real
    return (r * (first + (np.exp(t * s) * image(s) * weight).real.sum(axis=1, keepdims=True)))[:, 0] / count


CASES = {
    "a plate bonded to metal, in air": (STACK, (10.0, 10.0)),
    "a plate bonded to metal that is held at ambient": (STACK, (10.0, math.inf)),
    "glass, a thick dark bond line, plastic that is black": (
        (
            Layer("cover", "1 mm", GLASS),
            Layer("bond line", "1 mm", ADHESIVE, 20000.0),
            Layer("part", "2 mm", PLASTIC, math.inf),
        ),
        (15.0, 5.0),
    ),
    "a film on foil": (
        (Layer("film", "20 um", ADHESIVE, 5000.0), Layer("foil", 1e-4, STEEL, math.inf)),
        (0, 10),
    ),
    "a plate between cold plates": ((Layer("plate", "2 mm", PLASTIC),), (math.inf, math.inf)),
    "a plate that loses nothing": ((PLATE,), (0.0, 0.0)),
}


@pytest.mark.parametrize("case", CASES)
def test_every_point_follows_the_exact_transform(case):
    """The error falls as time goes on: warmth spreads over more and more points."""
    stack, losses = CASES[case]
    times = np.array([0.02, 0.2, 2.0, 20.0, 200.0])
    response = thermal_response(stack, times, *losses)
    some = response.isel(depth=slice(None, None, max(1, response.sizes["depth"] // 12)))
    for i, layer in enumerate(stack):
        exact = np.stack([inverted(transform(stack, losses, i, z), times) for z in some.depth.values])
        found = some.sel(layer=layer.name).values
        error = np.abs(found - exact).max(axis=0)
        assert (error <= np.array([3e-3, 1e-3, 3e-4, 1e-4, 4e-6]) * exact.max(axis=0)).all()
        assert error.max() <= 2e-4 * exact.max()


def test_the_thin_bond_line_between_plastic_and_metal_is_right_at_its_faces_and_inside():
    times = np.array([0.1, 1.0, 10.0])
    response = thermal_response(STACK, times, 10.0, 10.0)
    bond = response.sel(depth=slice(2e-3, 2.05e-3))
    assert bond.sizes["depth"] >= 7
    for i, layer in enumerate(STACK):
        exact = [inverted(transform(STACK, (10.0, 10.0), i, z), times) for z in bond.depth.values]
        found = bond.sel(layer=layer.name).values
        assert found == pytest.approx(np.array(exact), rel=3e-3)


def test_an_explicit_march_in_time_and_space_agrees():
    """Own judge: explicit steps on even cells, heat flows through faces of cells, on for 2 s of 4."""
    stack = (
        Layer("plate", "1 mm", PLASTIC),
        Layer("bond", "0.25 mm", ADHESIVE),
        Layer("glass", "1 mm", GLASS),
    )
    cell, step = 0.0125e-3, 4e-5
    counts = [80, 20, 80]
    k, c = (
        np.repeat([getattr(layer.material, name) for layer in stack], counts)
        for name in ("conductivity", "capacity")
    )
    between = 2 / (cell * (1 / k[1:] + 1 / k[:-1]))
    front, back = 1 / (1 / 200.0 + cell / 2 / k[0]), 1 / (1 / 50.0 + cell / 2 / k[-1])
    source = np.repeat([3000.0 / 1e-3, 2000.0 / 0.25e-3, 0.0], counts) * cell
    rise = np.zeros(k.size)
    seen = []
    for now in range(1, 100_001):
        flow = np.concatenate([[-front * rise[0]], between * (rise[:-1] - rise[1:]), [back * rise[-1]]])
        rise = rise + step / (c * cell) * (flow[:-1] - flow[1:] + (source if now <= 50_000 else 0.0))
        if now in (50_000, 100_000):
            seen.append([(k[[i, i + 1]] @ rise[[i, i + 1]]) / k[[i, i + 1]].sum() for i in (79, 89, 99)])
    heat = xr.DataArray([3000.0, 2000.0, 0.0], {"layer": ["plate", "bond", "glass"]}, "layer")
    found = temperature_rise(heat, thermal_response(stack, [2.0, 4.0], 200.0, 50.0, exposure="2 s"))
    at = found.interp(depth=[1e-3, 1.125e-3, 1.25e-3]).transpose("time", "depth")
    assert at.values == pytest.approx(np.array(seen), rel=2e-3)


def test_pulses_add_up():
    # a hundredth of a second after every start is looked at, so that all have the same points
    times = np.array([0.01, 1.0, 1.51, 2.0, 3.01, 3.3, 7.0])
    found = thermal_response(STACK, times, 10.0, 10.0, cycles("1 s", "500 ms", 3))
    pulses = [thermal_response(STACK, times, 10.0, 10.0, [(s, s + 1.0)]) for s in (0.0, 1.5, 3.0)]
    together = sum(pulse.values for pulse in pulses)
    assert found.values == pytest.approx(together, rel=1e-9, abs=1e-13 * together.max())


def test_the_result_says_what_it_is():
    found = thermal_response(STACK, [1.0, 2.0], "10 W/m^2/K", exposure="1 s")
    assert found.dims == ("layer", "depth", "time")
    assert found.attrs["units"] == "K m2 W-1"
    assert found.depth.attrs["units"] == "m"
    assert found.time.attrs["units"] == "s"
    assert found.layer.values.tolist() == ["plate", "bond line", "metal"]
    assert found.layer_front.values.tolist() == pytest.approx([0.0, 2e-3, 2.05e-3])
    assert found.layer_back.values.tolist() == pytest.approx([2e-3, 2.05e-3, 5.05e-3])
    assert set(found.layer_front.values) | set(found.layer_back.values) <= set(found.depth.values)
    assert "caution" not in found.attrs
    assert re.fullmatch(
        r"conducted heat through plate 2 mm, bond line 0.05 mm, metal 3 mm, in perfect contact, "
        r"with \d+ points, losing 10 and 0 W m-2 K-1 at front and back",
        found.attrs["history"],
    )


def test_a_caution_of_a_material_goes_along():
    doubtful = Layer("plate", "1 mm", Material(0.2, 1200, 1200, "from a sales leaflet"))
    response = thermal_response([doubtful], 1.0)
    assert response.attrs["caution"] == "from a sales leaflet"
    heat = xr.DataArray([1.0], {"layer": ["plate"]}, "layer")
    assert temperature_rise(heat, response).attrs["caution"] == "from a sales leaflet"


def test_one_layer_is_heated_as_often_as_light_fades_otherwise_in_it():
    plate, bond, metal = STACK
    others = [replace(plate, attenuation=one) for one in (0.0, 500.0, math.inf)]
    found = thermal_response(STACK, [1.0, 5.0], 10.0, heated=[*others, metal, bond])
    assert found.layer.values.tolist() == ["plate"] * 3 + ["metal", "bond line"]
    assert found.layer_front.values.tolist() == pytest.approx([0, 0, 0, 2.05e-3, 2e-3])
    for i, one in enumerate(others):
        alone = thermal_response([one, bond, metal], [1.0, 5.0], 10.0)
        assert found.values[[i, 3, 4]] == pytest.approx(alone.values[[0, 2, 1]], rel=1e-12)


def test_moments_are_chosen_from_the_exposure():
    found = thermal_response([PLATE], exposure=[(0, 2), (5, 6)]).time.values
    assert {0.0, 2.0, 5.0, 6.0, 12.0} <= set(found)
    assert (np.diff(found) > 0).all()
    assert 100 < found.size < 200


def test_times_take_a_unit_and_come_back_in_seconds():
    minutes = xr.DataArray([1.0, 2.0], dims="time", attrs={"units": "min"})
    assert thermal_response([PLATE], minutes).time.values.tolist() == [60.0, 120.0]
    assert thermal_response([PLATE], "500 ms").time.values.tolist() == [0.5]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"layers": []}, 'a stack has layers, each with a name of its own, not ""'),
        ({"layers": [PLATE, PLATE]}, 'each with a name of its own, not "plate, plate"'),
        (
            {"heated": [STACK[1]]},
            'what is heated is a layer of the stack, of which there are "plate", not "bond line"',
        ),
        ({"front_loss": -1.0}, "a loss is 0 W m-2 K-1 or more, not -1 and 0"),
        ({"back_loss": math.nan}, "a loss is 0 W m-2 K-1 or more, not 0 and nan"),
        (
            {"time": None},
            "a light that stays on has no last moment: say at which times to look, or the exposure",
        ),
        ({"time": [1.0, -1.0]}, "a time is 0 s or more, not -1 s"),
        ({"time": math.nan}, "a time is 0 s or more, not nan s"),
        (
            {"time": math.inf},
            "a stack that loses nothing has no steady state: give it a loss, or a time that ends",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(arguments, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        thermal_response(**{"layers": [PLATE], "time": 1.0, **arguments})


def test_other_dimensions_and_units_are_refused():
    with pytest.raises(GridError, match="times lie along the dimension time, not"):
        thermal_response([PLATE], xr.DataArray([1.0], dims="draw"))
    with pytest.raises(UnitsError, match="front_loss"):
        thermal_response([PLATE], 1.0, "10 W/m^2")
