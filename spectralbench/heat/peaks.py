"""Temperatures of a stack for the heat that sources bring, and the highest of them."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]

_ROWS = 64  # sources and draws at a time, so that only so many histories are held
_ROUNDING = 1e-12  # by which two histories at rest may differ


@declares("K", absorbed="W m-2", response="K m2 W-1")
def temperature_rise(absorbed: xr.DataArray, response: xr.DataArray) -> xr.DataArray:
    """Temperature rise of a stack for the heat in its layers.

    Parameters
    ----------
    absorbed : xarray.DataArray (layer, ...)
        Heat in each layer while the light is on [W m-2].
    response : xarray.DataArray (layer, depth, time)
        What `thermal_response` gives for the same layers [K m2 W-1].

    Returns
    -------
    xarray.DataArray (..., depth, time)
        Temperature rise [K].

    Raises
    ------
    GridError
        If one has no dimension ``layer``, or the layers differ.

    Examples
    --------
    >>> from spectralbench.heat import Layer, Material, thermal_response
    >>> plate = Layer("plate", "1 mm", Material(0.2, 1200, 1200))
    >>> heat = xr.DataArray([1000.0], {"layer": ["plate"]}, "layer")
    >>> rise = temperature_rise(heat, thermal_response([plate], "10 s"))  # nothing lost: q t / (ρ c d)
    >>> round(float(rise.max()), 4)
    6.9444
    """
    _require_layers(absorbed, response)
    plain = response.drop_vars(["layer_front", "layer_back"], errors="ignore")
    result = xr.dot(absorbed, plain, dim="layer").transpose(..., "depth", "time")
    said = {"caution": response.attrs["caution"]} if "caution" in response.attrs else {}
    result = result.rename("temperature_rise").assign_attrs(long_name="temperature rise", **said)
    steps = filter(None, (array.attrs.get("history") for array in (absorbed, response)))
    result.attrs["history"] = "\n".join(steps)
    return noted(result, "temperature rise from the heat in each layer")


@declares(absorbed="W m-2", response="K m2 W-1", ambient="K", limit="K")
def peak_temperature(
    absorbed: xr.DataArray,
    response: xr.DataArray,
    ambient: xr.DataArray | float | str,
    limit: xr.DataArray | float | str | None = None,
) -> xr.Dataset:
    """Highest temperature of each layer, faces included, with its place and moment.

    Parameters
    ----------
    absorbed : xarray.DataArray (layer, ...)
        Heat in each layer while the light is on [W m-2].
    response : xarray.DataArray (layer, depth, time)
        What `thermal_response` gives for the same layers [K m2 W-1].
    ambient : float, str or xarray.DataArray (...)
        Temperature of the stack before, and of its surroundings [K]; ``"23 °C"``.
    limit : float, str or xarray.DataArray ([layer,] ...), optional
        Temperature that must not be passed [K].

    Returns
    -------
    xarray.Dataset (layer, ...)
        ``temperature_rise`` and ``temperature`` [K], ``time`` [s] and ``depth`` below the first
        face [m], where it is highest among the moments of the response; ``still_rising`` where that
        is the last of them, so that the true one is higher; with a limit, ``margin`` [K], which is
        negative where it is passed.

    Raises
    ------
    GridError
        If one has no dimension ``layer``, the layers differ, or the response has other dimensions.

    Notes
    -----
    A computed margin is no proof: a part has to be measured before anybody relies on it.

    Examples
    --------
    >>> from spectralbench.heat import Layer, Material, thermal_response
    >>> plate = Layer("plate", "2 mm", Material(0.2, 1200, 1200), attenuation=float("inf"))
    >>> heat = xr.DataArray([5000.0], {"layer": ["plate"]}, "layer")
    >>> response = thermal_response([plate], exposure="10 s", back_loss=10)
    >>> found = peak_temperature(heat, response, "23 °C", "120 °C")
    >>> found["time"].item(), found["depth"].item(), round(found["margin"].item(), 1)
    (10.0, 0.0, 63.3)
    """
    _require_layers(absorbed, response)
    if set(response.dims) != {"layer", "depth", "time"}:
        raise GridError(f"a response has the dimensions layer, depth and time, not {response.dims}")
    response = response.transpose("layer", "depth", "time")
    xr.align(absorbed, response, join="exact", exclude={"depth", "time"})
    ordered = absorbed.transpose(..., "layer")
    depth, time = (np.asarray(response.coords[name].values, dtype=float) for name in ("depth", "time"))
    ends = zip(*(response.coords[name].values for name in ("layer_front", "layer_back")), strict=True)
    parts = [slice(*np.searchsorted(depth, [front, back]) + np.array([0, 1])) for front, back in ends]
    highest, where = _highest(np.asarray(ordered.values, dtype=float), response.values, parts)
    place, moment = np.divmod(where, time.size)
    place = place + np.array([part.start for part in parts])
    unknown = np.isnan(highest)

    def labelled(values: Vector, units: str, name: str) -> xr.DataArray:
        array = ordered.drop_attrs(deep=False).copy(data=values).transpose("layer", ...)
        return array.assign_attrs(units=units, long_name=name)

    def stamped(kelvins: xr.DataArray, name: str) -> xr.DataArray:
        return kelvins.drop_attrs(deep=False).assign_attrs(units="K", long_name=name)

    rise = labelled(highest, "K", "highest temperature rise")
    found = {
        "temperature_rise": rise,
        "temperature": stamped(rise + ambient, "highest temperature"),
        "time": labelled(np.where(unknown, np.nan, time[moment]), "s", "when it is highest"),
        "depth": labelled(np.where(unknown, np.nan, depth[place]), "m", "where it is highest"),
        "still_rising": labelled(
            (time[moment] == time.max()) & np.isfinite(time.max()) & (highest > 0),
            "1",
            "whether it goes on rising",
        ),
    }
    if limit is not None:
        margin = limit - found["temperature"]
        found["margin"] = stamped(margin.transpose("layer", ...), "what is left to the limit")
    result = xr.Dataset(found)
    if "caution" in response.attrs:
        result.attrs["caution"] = response.attrs["caution"]
    steps = filter(None, (array.attrs.get("history") for array in (absorbed, response)))
    result.attrs["history"] = "\n".join([*steps, "took the highest temperature of each layer"])
    return result


def _highest(absorbed: Vector, response: Vector, parts: list[slice]) -> tuple[Vector, NDArray[np.intp]]:
    """Highest rise (..., layer) and its place in depth × time (..., layer), rows by rows."""
    rows = absorbed.reshape(-1, absorbed.shape[-1])
    values = np.empty((len(rows), len(parts)))
    where = np.empty((len(rows), len(parts)), dtype=np.intp)
    for k, part in enumerate(parts):
        inside = response[:, part].reshape(len(response), -1)
        seen = _front(inside) if not (rows < 0).any() else np.arange(inside.shape[1])
        inside = inside[:, seen]
        for i in range(0, len(rows), _ROWS):
            rise = rows[i : i + _ROWS] @ inside
            best = rise.argmax(axis=1)
            where[i : i + _ROWS, k] = seen[best]
            values[i : i + _ROWS, k] = rise[np.arange(len(rise)), best]
    return values.reshape(absorbed.shape), where.reshape(absorbed.shape)


def _front(response: Vector) -> NDArray[np.intp]:
    """Columns of (layer, column) that no other one exceeds in every layer.

    Whatever heat there is, as long as none is negative, the highest rise is in one of them.
    """
    left = np.argsort(-response.sum(axis=0), kind="stable")
    front = []
    while left.size:
        first, left = left[0], left[1:]
        front.append(first)
        best = response[:, [first]]
        left = left[(response[:, left] > best + _ROUNDING * np.abs(best)).any(axis=0)]
    return np.array(front)


def _require_layers(absorbed: xr.DataArray, response: xr.DataArray) -> None:
    for name, array in (("the heat", absorbed), ("the response", response)):
        if "layer" not in array.dims:
            raise GridError(f"{name} has no dimension layer: say how much becomes heat in each one")
