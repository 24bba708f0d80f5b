"""How warm part and bond line get in one exposure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.comparison.figure_names import FIGURES
from spectralbench.heat import Layer, reaction_flux, thermal_response

Vector = NDArray[np.float64]

_MOMENTS = 16  # of the exposures of all draws; between them the rise goes straight over log time
OF_LIGHT = (
    *("irradiance_at_part", "irradiance_after_parts", "irradiance_at_bond"),
    *("unused_irradiance", "lost_irradiance", "grouped_irradiance"),
)
"""Figures that warm, and go with the light."""


@dataclass(frozen=True)
class Stack:
    """What the light warms, in the order in which it goes, and what it loses its heat to.

    Parameters
    ----------
    parts : sequence of Layer
        The parts that the light passes.
    bond_line : Layer
        The adhesive between the last of them and what it is bonded to.
    backing : Layer, optional
        What it is bonded to; it takes all light that passes the bond line, at its front face.
    ambient : float
        Temperature before the exposure, and of the surroundings [K].
    loss : float
        Heat that both outer faces lose for each kelvin [W m-2 K-1].
    index : float, optional
        Refractive index of the first part [1]: what its front reflects does not warm it.
    reaction_heat : float
        Heat that the adhesive sets free by mass, spread evenly over the exposure [J kg-1].
    """

    parts: Sequence[Layer]
    bond_line: Layer
    backing: Layer | None
    ambient: float
    loss: float = 0.0
    index: float | None = None
    reaction_heat: float = 0.0


def heating(figures: xr.Dataset, stack: Stack) -> xr.Dataset:
    """Add to the figures how warm part and bond line get at the end of one exposure.

    Parameters
    ----------
    figures : xarray.Dataset
        By ``source``, from `figures_at_bond_line`, perhaps with draws; of a part that travels with
        ``lit_time`` [s], which then is the exposure. Where there are only totals and no
        ``grouped_irradiance``, all light fades alike in a part and warms the bond line evenly: right for
        one wavelength, and too cool where a part stops some wavelengths much sooner than others.
    stack : Stack
        What the light warms.

    Returns
    -------
    xarray.Dataset
        The figures with ``peak_temperature`` (source, [draw]) [K], the highest one in parts and bond
        line; NaN where the exposure is not known or never ends. ``hottest`` (source) names the layer.

    Notes
    -----
    Conduction through layers in perfect contact (`spectralbench.heat.thermal_response`). Every
    wavelength fades by its own exponential on its way through parts and bond line, so that what a part
    stops warms its front; those that fade alike are taken together. Each exposure is that of the same
    draw, so that more light for a shorter time cancels.

    On the warm side: heat goes in one direction, and a spot smaller than the stack is thick stays
    cooler; all light that stays is heat, whether an initiator uses it or not; light is reflected by the
    first surface only. On the cool side: light outside the spectra, such as the infrared of an arc, is
    not there; light that a bench reads behind a part that passes none makes the part look clearer than
    it is; a gap of air keeps heat in; a reaction that is over early is warmer on its way.

    Examples
    --------
    >>> from spectralbench.heat import Material
    >>> plate = Layer("cover", "2 mm", Material(0.2, 1200, 1200))
    >>> bond = Layer("bond line", "0.15 mm", Material(0.2, 1100, 1800))
    >>> light = xr.Dataset({name: ("source", [value]) for name, value in {
    ...     "irradiance_at_part": 1e4, "irradiance_at_bond": 9e3, "unused_irradiance": 8e3,
    ...     "exposure_time": 5.0}.items()}, {"source": ["LED"]})
    >>> found = heating(light, Stack([plate], bond, None, ambient=296.15))
    >>> round(found.peak_temperature.item() - 296.15, 1), found.hottest.item()
    (5.4, 'bond line')
    """
    temperatures, hottest = [], []
    for i in range(figures.sizes["source"]):
        rise, layer = _of_one(figures.isel(source=i, drop=True), stack)
        temperatures.append(stack.ambient + rise)
        hottest.append(layer)
    temperature = xr.concat(temperatures, figures.coords["source"])
    temperature.attrs = FIGURES["peak_temperature"]._asdict()
    return figures.assign(
        peak_temperature=temperature, hottest=("source", hottest, {"long_name": "layer that gets hottest"})
    )


def _of_one(figures: xr.Dataset, stack: Stack) -> tuple[xr.DataArray, str]:
    """Highest rise of one source, draw by draw [K], and the layer where it is."""
    exposure = figures["exposure_time"]
    if "lit_time" in figures:
        exposure = figures["lit_time"] + xr.zeros_like(exposure)
    times = np.atleast_1d(np.asarray(exposure.values, dtype=float))
    front, back, depths = _grouped(figures, stack, times.shape)
    known = np.isfinite(times) & (times > 0) & np.isfinite(front.sum(axis=(0, 1)) + back.sum(axis=(0, 1)))
    if not known.any():
        return xr.full_like(exposure, np.nan), ""
    kept = np.where(known, front - back, 0.0)
    kept = kept * (kept.sum(axis=1, keepdims=True) > 0)  # noise makes no layer cooler than it was
    layers, rows, heats = [*stack.parts, stack.bond_line], [], []
    for layer, groups, heat in zip(layers, depths, kept, strict=True):
        for group in np.flatnonzero((heat != 0).any(axis=-1)):
            rows.append(replace(layer, attenuation=float(groups[group]) / float(layer.thickness)))
            heats.append(heat[group])
    lit = xr.DataArray(np.where(known, times, 1.0), dims="draw")
    rows.append(replace(stack.bond_line, attenuation=0.0))
    heats.append(reaction_flux(stack.reaction_heat, stack.bond_line, lit).values)
    if stack.backing is not None:
        layers.append(replace(stack.backing, attenuation=np.inf))
        rows.append(layers[-1])
        heats.append(np.where(known, np.maximum(back[-1].sum(axis=0), 0.0), 0.0))
    grid = np.unique(np.geomspace(times[known].min(), times[known].max(), _MOMENTS))
    response = thermal_response(layers, grid, stack.loss, stack.loss, heated=rows)
    depth = response.coords["depth"].values
    ends = np.cumsum([float(layer.thickness) for layer in [*stack.parts, stack.bond_line]])
    shown = depth <= ends[-1] * (1 + 1e-9)
    rise = _risen(np.array(heats), response.values[:, shown], grid, np.where(known, times, grid[0]))
    place = depth[shown][int(np.argmax(rise[:, known].mean(axis=1)))]
    hottest = layers[int(np.searchsorted(ends[:-1] * (1 + 1e-9), place))].name
    highest = np.where(known, rise.max(axis=0), np.nan)
    return exposure.drop_attrs(deep=False).copy(data=highest.reshape(exposure.shape)), hottest


def _grouped(figures: xr.Dataset, stack: Stack, shape: tuple[int, ...]) -> tuple[Vector, Vector, Vector]:
    """Light in front of parts and bond line and behind each (layer, group, draw), and its optical depths."""
    if "grouped_irradiance" in figures:
        grouped = figures["grouped_irradiance"].transpose("face", "layer", "group", ...)
        faces = grouped.values.reshape(*grouped.shape[:3], -1)
        depths = grouped.coords["optical_depth"].transpose("layer", "group").values
    else:
        faces = _together(figures, len(stack.parts), shape)[:, :, None]
        known = np.isfinite(faces).all(axis=(0, 1, 2))
        before, behind = np.maximum(faces[..., known].sum(axis=-1), 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            depths = np.where(before > behind, -np.log(behind / before), 0.0)
        depths[-1] = 0.0  # how a bond line shares out the light that it takes, totals do not say
    front, back = np.broadcast_to(faces, (*faces.shape[:3], *shape)).astype(float)
    if stack.index is not None:
        passing = 1 - ((stack.index - 1) / (stack.index + 1)) ** 2
        front[0] *= passing
        depths = np.vstack([np.maximum(depths[:1] + np.log(passing), 0.0), depths[1:]])
    return front, back, depths


def _together(figures: xr.Dataset, parts: int, shape: tuple[int, ...]) -> Vector:
    """All light as one group (face, layer, draw), from the totals alone."""
    light = [figures["irradiance_at_part"]]
    if parts > 1:
        light += [figures["irradiance_after_parts"].isel(part=i) for i in range(parts - 1)]
    light.append(figures["irradiance_at_bond"])
    light.append(figures["unused_irradiance"] - figures.get("lost_irradiance", 0.0))
    each = np.array([np.broadcast_to(np.asarray(one.values, dtype=float), shape) for one in light])
    return np.stack([each[:-1], each[1:]])


def _risen(heats: Vector, response: Vector, grid: Vector, times: Vector) -> Vector:
    """Rise (depth, draw) for heats (row, draw), each at its own time: straight over the logarithm of time.

    The response (row, depth, moment) is that of the moments of the grid.
    """
    if grid.size == 1:
        return np.asarray(response[:, :, 0].T @ heats)
    place = np.clip(np.searchsorted(grid, times) - 1, 0, grid.size - 2)
    way = np.log(times / grid[place]) / np.log(grid[place + 1] / grid[place])
    rise = np.empty((response.shape[1], times.size))
    for i in np.unique(place):
        here = place == i
        before, behind = heats[:, here] * (1 - way[here]), heats[:, here] * way[here]
        rise[:, here] = response[:, :, i].T @ before + response[:, :, i + 1].T @ behind
    return rise
