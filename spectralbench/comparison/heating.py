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
    *("unused_irradiance", "lost_irradiance"),
)
"""Figures that warm, and go with the light."""
_LEAST = 1e-6  # of the light that arrives: what leaves a part that passes nothing


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
        By ``source``, from `figures_at_bond_line`, perhaps with draws; of a stack of several parts
        with ``irradiance_after_parts``; of a part that travels with ``lit_time`` [s], which then is
        the exposure.
    stack : Stack
        What the light warms.

    Returns
    -------
    xarray.Dataset
        The figures with ``peak_temperature`` (source, [draw]) [K], the highest one in parts and bond
        line; NaN where the exposure is not known or never ends. ``hottest`` (source) names the layer.

    Notes
    -----
    Conduction through layers in perfect contact (`spectralbench.heat.thermal_response`), in one
    direction: a spot smaller than the stack is thick stays cooler. All light that stays in a part,
    all that the bond line absorbs, whether an initiator uses it or not, and all that passes it
    becomes heat where it stays; light is reflected by the first surface only. All this is never
    too cool. Each exposure is that of the same draw, so that more light for a shorter time cancels.

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
    arriving, bond, unused = (
        np.broadcast_to(np.asarray(figures[name].values, dtype=float), times.shape)
        for name in ("irradiance_at_part", "irradiance_at_bond", "unused_irradiance")
    )
    lost = np.zeros(times.shape)
    if "lost_irradiance" in figures:
        lost = lost + figures["lost_irradiance"].values
    known = np.isfinite(times) & (times > 0) & np.isfinite(arriving + bond + unused + lost)
    if not known.any():
        return xr.full_like(exposure, np.nan), ""
    reflected = 0.0 if stack.index is None else ((stack.index - 1) / (stack.index + 1)) ** 2
    layers, heats = _warmed(stack, [arriving * (1 - reflected), *_behind(figures, stack, bond)], known)
    lit = xr.DataArray(np.where(known, times, 1.0), dims="draw")
    reaction = reaction_flux(stack.reaction_heat, stack.bond_line, lit).values
    layers.append(stack.bond_line)
    heats.append(bond - unused + lost + reaction)
    warm = len(layers)
    if stack.backing is not None:
        layers.append(replace(stack.backing, attenuation=np.inf))
        heats.append(unused - lost)
    grid = np.unique(np.geomspace(times[known].min(), times[known].max(), _MOMENTS))
    response = thermal_response(layers, grid, stack.loss, stack.loss)
    depth, ends = response.coords["depth"].values, response.coords["layer_back"].values
    shown = depth <= ends[warm - 1]
    rise = np.zeros((int(shown.sum()), times.size))
    at = np.where(known, times, grid[0])
    for heat, history in zip(heats, response.values, strict=True):
        rise += np.maximum(heat, 0.0) * _at(history[shown], grid, at)
    place = depth[shown][int(np.argmax(np.nanmean(rise, axis=1)))]
    layer = layers[int(np.searchsorted(ends[:warm], place))].name
    highest = np.where(known, rise.max(axis=0), np.nan)
    return exposure.drop_attrs(deep=False).copy(data=highest.reshape(exposure.shape)), layer


def _behind(figures: xr.Dataset, stack: Stack, bond: Vector) -> list[Vector]:
    """The light behind each part, the last of them in front of the bond line."""
    if len(stack.parts) == 1:
        return [bond]
    after = figures["irradiance_after_parts"]
    inner = [np.broadcast_to(after.isel(part=i).values, bond.shape) for i in range(len(stack.parts) - 1)]
    return [*inner, bond]


def _warmed(stack: Stack, light: list[Vector], known: NDArray[np.bool_]) -> tuple[list[Layer], list[Vector]]:
    """The parts and the heat in each, from the light in front of each and behind the last.

    The light weakens on its way, so that a part that stops most of it is warmest at its front.
    """
    layers, heats = [], []
    for part, before, after in zip(stack.parts, light[:-1], light[1:], strict=True):
        entering = before[known].mean()
        kept = np.clip(after[known].mean() / entering if entering > 0 else 1.0, _LEAST, 1.0)
        layers.append(replace(part, attenuation=float(-np.log(kept) / float(part.thickness))))
        heats.append(before - after)
    return layers, heats


def _at(history: Vector, grid: Vector, times: Vector) -> Vector:
    """A history (depth, moment) at other times: (depth, time), straight over the logarithm of time."""
    if grid.size == 1:
        return np.repeat(history, times.size, axis=1)
    place = np.clip(np.searchsorted(grid, times) - 1, 0, grid.size - 2)
    way = np.log(times / grid[place]) / np.log(grid[place + 1] / grid[place])
    return np.asarray(history[:, place] * (1 - way) + history[:, place + 1] * way)
