"""Broad light: each wavelength warms where it stays, so that what a part stops soonest warms its front."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from scipy.linalg import expm
from scipy.special import erfcx

import spectralbench as sb
from spectralbench.benches.at_bond import light_at_bond
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.layers import stack_of
from spectralbench.comparison import Requirement, Stack, figures_at_bond_line, heating
from spectralbench.comparison.changes import warmest
from spectralbench.comparison.fading import grouped_irradiance, optical_depth
from spectralbench.heat import Layer, Material, thermal_response

AMBIENT = 296.15
PLASTIC, GLUE, GLASS = Material(0.2, 1200, 1300), Material(0.2, 1100, 1700), Material(0.9, 2200, 800)
COVER = Layer("cover", 2e-3, PLASTIC)
BOND, PLATE = Layer("bond line", 1e-4, GLUE), Layer("plate", 5e-3, GLASS)
STACK = Stack([COVER], BOND, PLATE, AMBIENT)
GRID = np.linspace(300.0, 450.0, 151)
LAMP = {313.0: 8000.0, 365.0: 5000.0, 405.0: 4000.0, 436.0: 6000.0}
"""Lines of an invented arc [W m-2], each one step of the grid wide."""


def lines(lamp, floor=0.0):
    values = np.full(GRID.size, float(floor))
    for wavelength, irradiance in lamp.items():
        values[np.flatnonzero(wavelength == GRID)] += irradiance
    return xr.DataArray(values[None], {"source": ["arc"], "wavelength": GRID}, ("source", "wavelength"))


def along(values, dimension, *names):
    rows = np.array([np.broadcast_to(one, GRID.size) for one in values], dtype=float)
    return xr.DataArray(rows, {dimension: list(names), "wavelength": GRID}, (dimension, "wavelength"))


def fading(depth):
    """A part with this optical depth: one number, or one for each wavelength."""
    return along([np.exp(-np.asarray(depth, dtype=float))], "part", "cover")


EDGE = 8.0 / (1 + np.exp((GRID - 380.0) / 5.0)) + 0.05  # of a plastic that stops what is shorter
FILM = 0.3 * np.exp(-(((GRID - 370.0) / 40.0) ** 2)) + 0.01


def figures(light, part, seconds, film=0.0, resin=None):
    found = figures_at_bond_line(
        light.assign_attrs(units="W m-2 nm-1"),
        part,
        along([film], "initiator", "a"),
        Requirement(320, 430, 1000.0, 15000.0),
        background=None if resin is None else along([resin], "initiator", "").isel(initiator=0, drop=True),
    )
    return found.assign(exposure_time=xr.full_like(found.exposure_time, seconds))


def rise(found, stack):
    return heating(found, stack).peak_temperature.isel(source=0) - AMBIENT


def totals(found):
    """The same figures as if nobody had looked at wavelengths."""
    return found.drop_vars(["grouped_irradiance", "face", "optical_depth"])


def half_space(flux, attenuation, time):
    """The front of a half-space that absorbs as exp(-a z) and loses nothing.

    q/(k a) (2 a √(D t/π) - 1 + exp(a² D t) erfc(a √(D t))): Carslaw & Jaeger, Conduction of Heat in
    Solids, 2nd ed. 1959, 2.9 and 2.11.
    """
    way = attenuation * np.sqrt(PLASTIC.diffusivity * time)
    return flux / (0.2 * attenuation) * (2 * way / np.sqrt(np.pi) - 1 + erfcx(way))


THICK = Stack([Layer("cover", 0.03, PLASTIC)], BOND, None, AMBIENT)  # 30 mm: no warmth gets through


@pytest.mark.parametrize("depth", [4.4, 7.1, 9.0, 15.5])
def test_one_line_is_the_closed_form_of_a_half_space(depth):
    found = rise(figures(lines({365.0: 5000.0}), fading(depth), 20.0), THICK)
    assert found.item() == pytest.approx(half_space(5000.0, depth / 0.03, 20.0), rel=2e-3)


def test_lines_together_are_their_rises_added():
    """Each hottest at the front: in the same exposure, three lines are the sum of each alone."""
    part = fading(np.interp(GRID, [313.0, 365.0, 405.0], [15.0, 9.0, 2.5]))
    three = {name: LAMP[name] for name in (313.0, 365.0, 405.0)}
    together = rise(figures(lines(three), part, 20.0), THICK).item()
    alone = [rise(figures(lines({name: value}), part, 20.0), THICK).item() for name, value in three.items()]
    assert together == pytest.approx(sum(alone), rel=1e-9)
    expected = [half_space(LAMP[name], depth / 0.03, 20.0) for name, depth in ((313.0, 15.0), (365.0, 9.0))]
    assert alone[:2] == pytest.approx(expected, rel=2e-3)


def test_one_attenuation_for_two_lines_is_too_cool_by_a_factor_of_six():
    """Half of the light stays near the front and half goes through: together they would fade by ln 2.

    One line fades by e^-15.5 over 30 mm, and the other not at all; their total by (1 + e^-15.5) / 2, and its
    front warms as in a half-space in which the rest is absorbed farther on.
    """
    part = fading(np.where(GRID < 400.0, 15.5, 0.0))
    found = figures(lines({365.0: 5000.0, 436.0: 5000.0}), part, 5.0)
    true = half_space(5000.0, 15.5 / 0.03, 5.0)
    assert rise(found, THICK).item() == pytest.approx(true, rel=2e-3)
    single = half_space(1e4, np.log(2) / 0.03, 5.0)
    assert rise(totals(found), THICK).item() == pytest.approx(single, rel=0.02)
    assert true / single > 6


def judged(light, depth, film, exposure):
    """Own judge: even cells, all wavelengths in each of them, and the exponential of the whole matrix."""
    counts, ends = (400, 20, 200), (2e-3, 1e-4, 5e-3)
    step = np.repeat([end / count for end, count in zip(ends, counts, strict=True)], counts)
    k, c = (
        np.repeat([getattr(one, name) for one in (PLASTIC, GLUE, GLASS)], counts)
        for name in ("conductivity", "capacity")
    )
    across = np.diff(np.exp(-np.outer(np.linspace(0, 1, counts[0] + 1), depth)), axis=0)
    inside = np.diff(10.0 ** -np.outer(np.linspace(0, 1, counts[1] + 1), film), axis=0) * np.exp(-depth)
    heat = np.zeros(step.size)
    heat[: counts[0]] = -across @ light
    heat[counts[0] : sum(counts[:2])] = -inside @ light
    heat[sum(counts[:2])] += (np.exp(-depth) * 10.0**-film) @ light
    between = 1 / (step[:-1] / 2 / k[:-1] + step[1:] / 2 / k[1:])
    flows = np.zeros((step.size + 1, step.size + 1))
    at = np.arange(step.size - 1)
    for here, there in ((at, at + 1), (at + 1, at)):
        np.add.at(flows, (here, here), -between)
        np.add.at(flows, (here, there), between)
    flows[:-1] /= (c * step)[:, None]
    flows[:-1, -1] = heat / (c * step)
    return expm(flows * exposure)[:-1, -1][: sum(counts[:2])].max()


@pytest.mark.parametrize("floor", [0.0, 60.0])
@pytest.mark.parametrize("exposure", [0.5, 5.0, 30.0])
def test_an_arc_through_a_plastic_is_what_cells_and_wavelengths_by_themselves_give(exposure, floor):
    """Lines alone, and on a continuum; the rise of all light with one attenuation lies far below."""
    light = lines(LAMP, floor)
    found = figures(light, fading(EDGE), exposure, film=FILM)
    areas = np.append(np.diff(GRID), 0) / 2 + np.insert(np.diff(GRID), 0, 0) / 2
    expected = judged(light.values[0] * areas, EDGE, FILM, exposure)
    assert rise(found, STACK).item() == pytest.approx(expected, rel=2e-3)
    assert rise(totals(found), STACK).item() < 0.8 * expected


@pytest.mark.parametrize("exposure", [0.05, 1.0, 20.0])
@pytest.mark.parametrize(("low", "high"), [(0.0, 0.5), (1.0, 3.0), (3.0, 8.0), (0.0, 16.0)])
def test_a_group_stands_for_its_wavelengths_to_one_per_cent(exposure, low, high):
    """Against one exponential for each wavelength, at every depth; and not too cool where it is hottest."""
    depth = np.linspace(low, high, GRID.size)
    found = figures(lines({}, 50.0), fading(depth), exposure)
    each = [replace(COVER, attenuation=one / 2e-3) for one in depth]
    behind = replace(PLATE, attenuation=np.inf)
    response = thermal_response([COVER, BOND, behind], exposure, heated=[*each, behind]).values[..., 0]
    areas = 50.0 * (np.append(np.diff(GRID), 0) / 2 + np.insert(np.diff(GRID), 0, 0) / 2)
    heats = np.append(areas * -np.expm1(-depth), areas @ np.exp(-depth))
    depths = thermal_response([COVER, BOND, behind], exposure).depth.values
    expected = (heats @ response)[depths <= 2.1e-3 * (1 + 1e-9)]
    assert rise(found, STACK).item() == pytest.approx(expected.max(), rel=0.01)
    assert rise(found, STACK).item() >= 0.998 * expected.max()


def test_no_heat_is_lost_or_made_in_any_draw():
    """All that comes in and does not go out, by the heat capacity of a stack with one temperature."""
    random = np.random.default_rng(5)
    draw = xr.DataArray(random.uniform(0.9, 1.1, 7), dims="draw")
    even = Material(1e4, 1000, 1000)
    stack = Stack(
        [Layer("a", 1e-3, even), Layer("b", 2e-3, even)], Layer("bond line", 1e-4, even), None, 300.0
    )
    part = xr.concat([fading(EDGE), fading(EDGE[::-1] / 3)], "part") * draw.clip(max=1.0)
    found = figures(lines(LAMP, 20.0) * draw, part, 5.0, film=FILM, resin=FILM / 2)
    grouped = found.grouped_irradiance.sum("group").isel(source=0).transpose("layer", "face", "draw").values
    in_front = [found.irradiance_at_part, *found.irradiance_after_parts.transpose("part", ...)]
    whole = np.array([one.transpose("source", "draw").values[0] for one in in_front])
    assert grouped[:, 0] == pytest.approx(whole, rel=1e-12)
    assert grouped[:-1, 1] == pytest.approx(whole[1:], rel=1e-12)
    passes = (found.unused_irradiance - found.lost_irradiance).transpose("source", "draw").values[0]
    assert grouped[-1, 1] == pytest.approx(passes, rel=1e-9)
    expected = (whole[0] - passes) * 5.0 / (1e6 * 3.1e-3)
    found = heating(found, stack).peak_temperature.transpose("source", "draw").values[0] - 300.0
    assert found == pytest.approx(expected, rel=2e-4)


def test_two_halves_of_a_part_are_one_part():
    half = along([np.exp(-EDGE / 2)] * 2, "part", "front", "back")
    whole = figures(lines(LAMP, 20.0), fading(EDGE), 5.0, film=FILM)
    halves = figures(lines(LAMP, 20.0), half, 5.0, film=FILM)
    one = rise(whole, STACK)
    parts = [Layer("front", 1e-3, PLASTIC), Layer("back", 1e-3, PLASTIC)]
    assert rise(halves, Stack(parts, BOND, PLATE, AMBIENT)).item() == pytest.approx(one.item(), rel=0.01)


def test_what_passes_nothing_measurable_stays_at_the_front():
    """A transmittance of 0, or below by its noise: 2 q √(t/π) / √(k ρ c) (Carslaw & Jaeger, 2.9)."""
    expected = 2 * 5000.0 * np.sqrt(20.0 / np.pi) / PLASTIC.effusivity
    for share in (0.0, -1e-4):
        part = along([share], "part", "cover")
        found = rise(figures(lines({365.0: 5000.0}), part, 20.0), THICK)
        assert found.item() == pytest.approx(expected * (1 - share), rel=2e-3)


def test_a_bond_line_is_warmest_at_its_front():
    """Before anything is conducted: q t / ρc × a, with a = ln(10) A / l; totals would give q t / ρc / l."""
    still = Material(1e-5, 1000, 1000)
    stack = Stack([Layer("cover", 2e-3, still)], Layer("bond line", 1e-4, still), None, AMBIENT)
    found = figures(lines({365.0: 5000.0}), fading(0.0), 1e-3, film=2.0)
    assert heating(found, stack).hottest.item() == "bond line"
    assert rise(found, stack).item() == pytest.approx(5000.0 * 1e-3 / 1e6 * np.log(100) / 1e-4, rel=0.05)
    assert rise(totals(found), stack).item() == pytest.approx(5000.0 * 0.99e-3 / 1e6 / 1e-4, rel=0.02)


def test_draws_together_are_draws_one_by_one():
    """Draws of light, of the part, and of both."""
    draw = xr.DataArray(np.linspace(0.95, 1.0, 4), dims="draw")
    stack = replace(STACK, loss=10.0, index=1.5)
    light, part = lines(LAMP, 20.0), 0.9 * fading(EDGE)
    for with_light, with_part in ((draw, 1.0), (1.0, draw), (draw, draw)):
        together = rise(figures(light * with_light, part * with_part, 5.0, film=FILM), stack)
        for i in range(draw.size):
            one, other = (float(x[i]) if isinstance(x, xr.DataArray) else x for x in (with_light, with_part))
            alone = rise(figures(light * one, part * other, 5.0, film=FILM), stack)
            assert float(together.broadcast_like(draw)[i]) == pytest.approx(alone.item(), rel=2e-3)


def test_a_draw_or_a_source_of_which_a_pixel_is_not_valid_is_not_known():
    light = lines(LAMP, 20.0).expand_dims(draw=3).copy()
    light[1, 0, 40] = np.nan
    found = rise(figures(light.transpose("source", "draw", "wavelength"), fading(EDGE), 5.0), STACK)
    assert np.isnan(found.values).tolist() == [False, True, False]
    clean = rise(figures(lines(LAMP, 20.0), fading(EDGE), 5.0), STACK)
    assert found.values[[0, 2]] == pytest.approx([clean.item()] * 2, rel=1e-3)


def test_what_the_front_throws_back_makes_the_part_no_darker():
    """A part of index 1.5 against glue of 1.5 passes 0.96 e^-x: as 0.96 of the light through e^-x."""
    bare = rise(figures(0.96 * lines(LAMP), fading(EDGE), 5.0), STACK)
    found = figures(lines(LAMP), 0.96 * fading(EDGE), 5.0)
    assert rise(found, replace(STACK, index=1.5)).item() == pytest.approx(bare.item(), rel=2e-3)


def test_weaker_light_and_a_part_that_travels_keep_their_groups():
    found = figures(lines(LAMP, 20.0), fading(EDGE), 5.0, film=FILM)
    found = found.assign(dose_time=("source", [5.0]), photon_time=("source", [np.nan]), reciprocity=1.0)
    longer = figures(0.5 * lines(LAMP, 20.0), fading(EDGE), 10.0, film=FILM)
    assert warmest(found, STACK, 0.5) == pytest.approx(rise(longer, STACK).item() + AMBIENT, rel=1e-9)
    travelling = found.assign(lit_time=("source", [10.0]))
    assert rise(travelling, STACK).item() == pytest.approx(2 * rise(longer, STACK).item(), rel=1e-9)


def test_groups_add_up_and_have_their_own_optical_depth():
    light, part = lines(LAMP, 20.0), fading(EDGE).isel(part=0, drop=True)
    found = grouped_irradiance([light, light * part], [optical_depth(part)])
    assert found.dims == ("source", "layer", "face", "group")
    assert found.attrs["units"] == "W m-2"
    depths = found.optical_depth.values[0, 0]
    assert (np.diff(depths) > 0).all()
    assert depths[-1] == np.inf
    assert found.sum("group").values[0, 0] == pytest.approx(
        [light.integrate("wavelength").item(), (light * part).integrate("wavelength").item()]
    )


def test_the_demo_arc_would_be_called_too_cool_by_its_totals(reduced):
    """Its lines below 370 nm stay in the front of the cover; the light near 405 nm is hardly kept at all."""
    manifest = manifest_of(reduced)
    stack, found = stack_of(manifest), light_at_bond(reduced, manifest)
    warm, cool = (heating(one, stack).peak_temperature for one in (found, totals(found)))
    arc = warm.sel(source="arc, filtered") - cool.sel(source="arc, filtered")
    assert arc.item() > 3.0
    assert abs(warm.sel(source="LED 405") - cool.sel(source="LED 405")).item() < 0.3
    assert sb.compare(reduced).peak_temperature.values == pytest.approx(warm.values, nan_ok=True)
