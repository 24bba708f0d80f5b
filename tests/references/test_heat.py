"""Heat against closed forms, a public library, and the published practice of the flash method.

The flash method finds a diffusivity from the back of a slab whose front takes a pulse of light: from
its half time (Parker et al. 1961), with losses from the shape of the rise (Clark and Taylor 1975) or of
the decay (Cowan 1963). Held against a slab that `thermal_response` works out, each has to return the
diffusivity that went in. All slabs, stacks and heats are invented.
"""

import math

import numpy as np
import pytest
import xarray as xr
from scipy.optimize import brentq

from spectralbench.heat import (
    Layer,
    Material,
    adiabatic_rise,
    reaction_heat,
    surface_temperature_rise,
    temperature_rise,
    thermal_response,
)

HALF_SPACE = "closed form 2 q √(t/π) / e, Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, 2.9"
MATERIALS = {
    "acrylic": (Material(0.19, 1180, 1470), "62.15536"),
    "polycarbonate": (Material(0.20, 1200, 1200), "66.49038"),
    "epoxy": (Material(0.20, 1200, 1100), "69.44694"),
    "soda-lime glass": (Material(1.0, 2500, 840), "24.62325"),
    "fused silica": (Material(1.38, 2203, 740), "23.78989"),
    "stainless steel": (Material(16.2, 8000, 500), "4.43269"),
}
PLASTIC, STEEL = MATERIALS["polycarbonate"][0], MATERIALS["stainless steel"][0]
ADHESIVE = Material(0.19, 1100, 1800)


def plate(thickness, material=PLASTIC, attenuation=0.0):
    return Layer("plate", thickness, material, attenuation)


def heat(value):
    return xr.DataArray([value], {"layer": ["plate"]}, "layer")


@pytest.mark.parametrize("name", MATERIALS)
def test_a_surface_under_one_watt_per_square_centimetre_after_10_s(name, agrees):
    material, expected = MATERIALS[name]
    found = surface_temperature_rise("1 W/cm^2", "10 s", material)
    agrees(f"surface of {name} after 10 s [K]", found, expected, HALF_SPACE)


def test_two_half_spaces_share_the_heat_of_their_face(agrees):
    source = "closed form 2 q √(t/π) / (e₁ + e₂), Carslaw & Jaeger, 2nd ed. 1959, 2.9"
    for what, backing, expected in (("steel", STEEL, "4.15565"), ("itself", PLASTIC, "33.24519")):
        found = surface_temperature_rise("1 W/cm^2", "10 s", PLASTIC, backing=backing)
        agrees(f"face of polycarbonate on {what} [K]", found, expected, source)


def test_below_the_surface_and_after_the_light_is_off(agrees):
    source = "closed form with ierfc, Carslaw & Jaeger, 2nd ed. 1959, 2.9"
    found = surface_temperature_rise("1 W/cm^2", "10 s", PLASTIC, "1 mm")
    agrees("polycarbonate, 1 mm deep [K]", found, "28.11212", source)
    source = "closed form 2 q (√t − √(t − t₁)) / (e √π), Carslaw & Jaeger, 2nd ed. 1959, 2.9"
    found = surface_temperature_rise("1 W/cm^2", "20 s", PLASTIC, exposure="10 s")
    expected = 2e4 * (math.sqrt(20) - math.sqrt(10)) / math.sqrt(math.pi * 0.20 * 1200 * 1200)
    agrees("surface 10 s after an exposure of 10 s [K]", found, expected, source, 12)


def test_a_thick_slab_is_a_half_space_for_a_short_time(agrees):
    rise = temperature_rise(
        heat(1e4), thermal_response([plate(0.02, attenuation=math.inf)], [0.01, 0.1, 10.0])
    )
    for time in (0.1, 10.0):
        what = f"front of a slab of 20 mm after {time:g} s [K]"
        found = rise.sel(time=time).isel(depth=0)
        agrees(what, found, surface_temperature_rise(1e4, time, PLASTIC).item(), HALF_SPACE, 3)


def test_the_face_of_a_thick_slab_on_another_warms_like_that_of_two_half_spaces(agrees):
    stack = [plate(0.02), Layer("metal", 0.1, STEEL, math.inf)]
    response = thermal_response(stack, [0.1, 10.0]).sel(layer="metal")
    found = 1e4 * response.sel(depth=0.02, time=10.0)
    agrees("steel of 100 mm under a slab of 20 mm [K]", found, "4.15565", HALF_SPACE, 3)


def test_a_thin_film_that_keeps_its_heat(agrees):
    """Half of 1 W/cm² in 100 µm of ρ 1100 kg/m³, c 1800 J/(kg K): q / (ρ c d)."""
    rise = temperature_rise(heat(5000.0), thermal_response([plate("100 um", ADHESIVE)], 1.0))
    agrees("film that keeps its heat, after 1 s [K]", rise.max(), "25.2525", "closed form q t / (ρ c d)")
    agrees("the same, at its coolest point [K]", rise.min(), "25.2525", "closed form q t / (ρ c d)")


def test_a_thin_film_relaxes_like_a_lumped_body(agrees):
    """Both faces lose h: τ = ρ c d / 2h = 9.9 s; Biot number 0.005."""
    found = temperature_rise(heat(100.0), thermal_response([plate("100 um", ADHESIVE)], 5.0, 10.0, 10.0))
    expected = 100 / 20 * (1 - math.exp(-5 / 9.9))
    agrees("film in air after 5 s [K]", found.mean(), expected, "closed form (q/2h)(1 − exp(−t/τ))", 3)


def test_a_reaction_that_keeps_its_heat(agrees):
    found = adiabatic_rise(reaction_heat("86 kJ/mol", "5 mol/kg", 0.8), ADHESIVE)
    agrees("adiabatic rise of a reaction [K]", found, "191.1", "closed form ΔH c X / c_p")


def test_a_composite_wall_at_rest_is_a_row_of_resistances(agrees):
    stack = [plate("2 mm"), Layer("bond", "50 um", ADHESIVE), Layer("metal", "3 mm", STEEL, math.inf)]
    rest = thermal_response(stack, math.inf, 10.0, 25.0).isel(time=0)
    forward, backward = 1 / 10 + 2e-3 / 0.20 + 5e-5 / 0.19, 1 / 25 + 3e-3 / 16.2
    source = "closed form, resistances 1/h + Σ d/k in parallel"
    expected = forward * backward / (forward + backward)
    found = rest.sel(layer="metal").interp(depth=2.05e-3)
    agrees("metal under a wall, at rest [K m2 W-1]", found, expected, source, 10)
    # even heat in the plate alone: at its front T = q R_f (R_b + d/2k) / (R_f + d/k + R_b)
    front, back, own = 1 / 10, 5e-5 / 0.19 + 3e-3 / 16.2 + 1 / 25, 2e-3 / 0.20
    expected = front * (back + own / 2) / (front + own + back)
    found = rest.sel(layer="plate").isel(depth=0)
    agrees("front of a plate that is heated evenly [K m2 W-1]", found, expected, source, 10)


def roots(biot, count):
    """ζ tan ζ = Bi: one root in each half-turn from 0 on."""
    return np.array(
        [
            brentq(
                lambda z: z * math.sin(z) - biot * math.cos(z), i * math.pi, (i + 0.5) * math.pi, xtol=1e-15
            )
            for i in range(count)
        ]
    )


@pytest.mark.parametrize("biot", [0.1, 1.0, 10.0])
def test_a_slab_in_air_follows_its_series(biot, agrees):
    """Even heat, both faces losing h: T = q(L²−x²)/2k + qL/h − Σ Cₙ qL²/(kζₙ²) cos(ζₙx/L) exp(−ζₙ²Fo).

    L is half the thickness, Cₙ = 4 sin ζₙ / (2ζₙ + sin 2ζₙ): the state at rest, less its expansion.
    """
    half, k = 1e-3, 0.20
    time = np.array([0.5, 2.0, 8.0])
    fourier = PLASTIC.diffusivity * time / half**2
    zeta = roots(biot, 400)
    factor = 4 * np.sin(zeta) / (2 * zeta + np.sin(2 * zeta)) / zeta**2
    by_volume = 1 / (2 * half)
    loss = biot * k / half
    response = thermal_response([plate(2 * half)], time, loss, loss).sel(layer="plate")
    source = "closed form, series over the roots of ζ tan ζ = Bi, Carslaw & Jaeger, 2nd ed. 1959, 3.11"
    for name, x in (("middle", 0.0), ("face", half)):
        gone = (factor * np.cos(zeta * x / half)) @ np.exp(-np.outer(zeta**2, fourier))
        exact = by_volume * ((half**2 - x**2) / (2 * k) + half / loss - half**2 / k * gone)
        found = response.interp(depth=half - x)
        assert found.values == pytest.approx(exact, rel=1e-3)
        agrees(f"{name} of a slab, Bi {biot:g}, after 8 s [K m2 W-1]", found[-1], exact[-1], source, 3)


def test_a_slab_cools_by_the_first_root_of_its_biot_number(agrees):
    half, biot = 1e-3, 1.0
    loss = biot * 0.20 / half
    found = (
        thermal_response([plate(2 * half)], [30.0, 40.0], loss, loss, "1 s").sel(layer="plate").mean("depth")
    )
    rate = float(np.log(found[0] / found[1])) / 10
    zeta = math.sqrt(rate * half**2 / PLASTIC.diffusivity)
    agrees("first root for Bi = 1, from cooling", zeta, roots(1.0, 1)[0], "closed form ζ tan ζ = Bi", 4)


def test_a_public_library_agrees_on_a_bonded_stack(agrees):
    """FiPy 4.0.3 (NIST, finite volumes, PyPI), implicit steps of 50 and 25 ms on 360, 720 and 1440 cells.

    Extrapolated in step and cell; the last two extrapolations differ by 3·10⁻⁶ of the value.
    """
    stack = [plate("2 mm"), Layer("bond", "100 um", ADHESIVE), Layer("metal", "3 mm", STEEL, math.inf)]
    absorbed = xr.DataArray([100.0, 400.0, 1500.0], {"layer": ["plate", "bond", "metal"]}, "layer")
    found = temperature_rise(absorbed, thermal_response(stack, [0.1, 10.0], 10.0, 10.0)).sel(time=10.0)
    expected = {0.0: 0.588441, 2e-3: 1.514663, 2.05e-3: 1.543813, 5.1e-3: 1.367962}
    for depth, value in expected.items():
        what = f"bonded stack after 10 s, {1e3 * depth:g} mm deep [K]"
        agrees(what, found.interp(depth=depth), value, "FiPy 4.0.3, extrapolated", 4, "package")


def flash(biot, attenuation=math.inf):
    """Times in units of L²/a and rise of the back of a slab, after a flash on its front."""
    thickness = 2e-3
    unit = thickness**2 / PLASTIC.diffusivity
    loss = biot * 0.20 / thickness
    times = np.linspace(0.02, 2.0, 1981)
    response = thermal_response(
        [plate(thickness, attenuation=attenuation)], times * unit, loss, loss, exposure=1e-4 * unit
    )
    # a flash of finite length acts as if it came at its middle
    return times - 0.5e-4, response.sel(layer="plate").isel(depth=-1).values


def reached(times, rise, share):
    top = int(rise.argmax())
    return float(np.interp(share * rise[top], rise[: top + 1], times[: top + 1]))


def test_the_half_time_of_a_flash(agrees):
    """a = 1.38 L² / π² t½ as first published; 0.138785 L² / t½ with the digits of the standard."""
    times, rise = flash(0.0)
    half = reached(times, rise / rise[-1] * rise.max(), 0.5)
    agrees("a t½ / L² of a flash", half, "0.1388", "ASTM E1461, half time 0.138785 L²/a, second hand")
    parker = "Parker, Jenkins, Butler & Abbott, J. Appl. Phys. 32 (1961) 1679: 1.38 L²/(π² t½)"
    agrees("π² a t½ / L² of a flash", math.pi**2 * half, 1.38, parker, 2)


@pytest.mark.parametrize("biot", [0.05, 0.2, 0.5])
def test_losses_are_those_that_the_flash_method_corrects(biot, agrees):
    """Clark & Taylor, J. Appl. Phys. 46 (1975) 714: K = −0.3461467 + 0.361578 r − 0.06520543 r², r = t¾/t¼.

    Cowan, J. Appl. Phys. 34 (1963) 926: K = Σ cᵢ rⁱ, r = T(5 t½)/T(t½). Each corrects a = 0.138785 L²/t½ by
    K/0.13885 (both as in ASTM E1461, taken from public code that applies it). Each is a fit, good to
    about one per cent.
    """
    times, rise = flash(biot)
    half = reached(times, rise, 0.5)
    uncorrected = 0.138785 / half
    assert uncorrected > 1 + biot / 4
    ratio = reached(times, rise, 0.75) / reached(times, rise, 0.25)
    clark = uncorrected * np.polyval([-0.06520543, 0.361578, -0.3461467], ratio) / 0.13885
    agrees(
        f"diffusivity by Clark and Taylor, Bi {biot:g}",
        clark,
        "1.0",
        "Clark & Taylor 1975 as in ASTM E1461, second hand",
        2,
    )
    cowan = [-0.1037162, 1.239040, -3.974433, 6.888738, -6.804883, 3.856663, -1.167799, 0.1465332]
    ratio = np.interp(5 * half, times, rise) / np.interp(half, times, rise)
    found = uncorrected * np.polynomial.Polynomial(cowan)(ratio) / 0.13885
    agrees(f"diffusivity by Cowan, Bi {biot:g}", found, "1.0", "Cowan 1963 as in ASTM E1461, second hand", 2)
