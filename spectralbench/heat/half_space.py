"""Thick bodies for short times: closed forms that hold as long as no warmth reaches the far side."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike
from scipy.special import erfcx

from spectralbench.errors import RangeError
from spectralbench.heat.exposures import Exposure, intervals
from spectralbench.heat.materials import Material, cautions, properties
from spectralbench.model import noted
from spectralbench.units import declares


@declares("K", flux="W m-2", time="s", depth="m")
def surface_temperature_rise(
    flux: xr.DataArray | float | str,
    time: xr.DataArray | ArrayLike | str,
    material: Material | str,
    depth: xr.DataArray | float | str = 0.0,
    exposure: Exposure = None,
    backing: Material | str | None = None,
) -> xr.DataArray:
    """Temperature rise of a thick body that absorbs light at its surface.

    Parameters
    ----------
    flux : float, str or xarray.DataArray (...)
        Absorbed irradiance [W m-2].
    time : float, str, array_like (time,) or xarray.DataArray (...)
        Time since the light went on [s].
    material : Material or str
        What the body is made of, or the name of a reference material.
    depth : float, str or xarray.DataArray (...)
        Depth in it, below the surface that absorbs [m].
    exposure : float, str or sequence of pairs, optional
        How long the light is on, or start and stop of each interval [s]. Without it, it stays on.
    backing : Material or str, optional
        A second thick body in perfect contact: then the face between both absorbs.

    Returns
    -------
    xarray.DataArray (..., time)
        Temperature rise [K]. Nothing is lost from the surface. It holds while 2 √(a t), with the
        diffusivity a, stays well below the thickness.

    Raises
    ------
    RangeError
        If a time or a depth is negative, or the exposure makes no sense.

    Warns
    -----
    FromMemoryWarning
        If a material is taken by a name that is known from memory.

    Notes
    -----
    (2 q / k) √(a t) ierfc(z / 2√(a t)) (Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.
    1959, 2.9), pulses by superposition. Two bodies share the flux by their effusivities e, so that
    the face between them warms by 2 q √(t/π) / (e₁ + e₂).

    Examples
    --------
    >>> plate = Material(0.20, 1200, 1200)
    >>> round(surface_temperature_rise("1 W/cm^2", "10 s", plate).item(), 5)
    66.49038
    """
    body, behind = properties(material), None if backing is None else properties(backing)
    at, below = _along("time", time), xr.DataArray(depth)
    for name, values, unit in (("time", at, "s"), ("depth", below, "m")):
        if (values < 0).any():
            raise RangeError(f"a {name} is 0 {unit} or more, not {float(values.min()):g} {unit}")
    shape: xr.DataArray = xr.zeros_like(at * below, dtype=float)
    for start, stop in intervals(exposure):
        shape = (
            shape + _grown(at - start, below, body.diffusivity) - _grown(at - stop, below, body.diffusivity)
        )
    resistance = body.effusivity + (0.0 if behind is None else behind.effusivity)
    heat = xr.DataArray(flux)
    result: xr.DataArray = heat * shape.drop_attrs(deep=False) * (2 / resistance)
    materials = [body] if behind is None else [body, behind]
    result = result.rename("temperature_rise").assign_attrs(
        long_name="temperature rise", **cautions(*materials)
    )
    step = "temperature rise of " + ("a half-space" if behind is None else "the face of two half-spaces")
    return noted(result, f"{step}, absorbed at the surface, without losses", heat)


def _grown(elapsed: xr.DataArray, depth: xr.DataArray, diffusivity: float) -> xr.DataArray:
    """√t · ierfc(z / 2√(a t)) (...) [s1/2]; 0 before the light goes on."""

    def root(t: np.ndarray, z: np.ndarray) -> np.ndarray:
        with np.errstate(divide="ignore", invalid="ignore"):
            since = np.sqrt(np.maximum(t, 0.0))
            x = np.where(z == 0, 0.0, z / (2 * np.sqrt(diffusivity) * since))
            value = np.exp(-(x**2)) * (1 / np.sqrt(np.pi) - x * erfcx(x))
        return np.where(np.isinf(x), 0.0, since * value)

    grown: xr.DataArray = xr.apply_ufunc(root, elapsed, depth)
    return grown


def _along(dimension: str, values: xr.DataArray | ArrayLike | str) -> xr.DataArray:
    """Plain numbers as an array: one is a scalar, several lie along a dimension of their own."""
    if isinstance(values, xr.DataArray):
        return values
    plain = np.asarray(values, dtype=float)
    if plain.ndim == 0:
        return xr.DataArray(plain)
    return xr.DataArray(plain, {dimension: plain}, dimension)
