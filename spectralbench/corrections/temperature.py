"""The dark and the temperature of the sensor: a current that doubles every so many kelvin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.corrections.scans import average_scans
from spectralbench.errors import GridError, RangeError
from spectralbench.model import noted
from spectralbench.units import convert, declares, in_unit

Vector = NDArray[np.float64]

SAME_TEMPERATURE = 0.5  # K; sensors that differ by less have the same dark (common practice, no source)
_COLDEST = 100.0  # K; below, somebody has written degrees Celsius
_QUICKEST, _SLOWEST = 1.0, 100.0  # K; how soon a dark current may double


def sensor_temperature(array: xr.DataArray) -> float | None:
    """Read the temperature of the sensor from the coordinate of an array.

    Parameters
    ----------
    array : xarray.DataArray (...)
        Any array; its coordinate ``temperature`` is in K unless its attribute ``units`` says
        otherwise.

    Returns
    -------
    float or None
        Temperature [K]; None if it carries none.

    Raises
    ------
    RangeError
        If it is not one number, or too low for kelvin.
    UnitsError
        If its unit is none of temperature.

    Examples
    --------
    >>> warm = xr.DataArray([1.0], {"temperature": xr.DataArray(20.0, attrs={"units": "degC"})}, "wavelength")
    >>> sensor_temperature(warm)
    293.15
    """
    if "temperature" not in array.coords:
        return None
    given = array.coords["temperature"]
    values = np.unique(convert(given.values.astype(float), str(given.attrs.get("units") or "K"), "K"))
    if values.size != 1 or not np.isfinite(values[0]):
        raise RangeError(f"a frame is taken at one temperature of the sensor, not at {values.tolist()} K")
    if values[0] < _COLDEST:
        raise RangeError(
            f"a sensor at {values[0]:g} K is colder than any here: give kelvin, or the unit of the coordinate"
        )
    return float(values[0])


def fit_dark(darks: Sequence[xr.DataArray]) -> xr.Dataset:
    """Fit offset and dark current to darks of several temperatures.

    Parameters
    ----------
    darks : sequence of xarray.DataArray ([spectrum,] ..., wavelength)
        Dark frames [1], each with coordinates ``integration_time`` [s] and ``temperature`` [K].

    Returns
    -------
    xarray.Dataset
        ``offset`` (..., wavelength) [1]; ``dark_current`` (..., wavelength) [s-1] at
        ``reference_temperature`` () [K]; ``doubling`` () [K], by which the current doubles;
        ``residual`` (dark, ..., wavelength) [1]; ``coldest`` and ``warmest`` () [K].

    Raises
    ------
    RangeError
        If there are fewer than three darks or two temperatures, a dark lacks a coordinate, or
        the dark does not grow with temperature.
    GridError, UnitsError
        If the darks are on different grids, or not in counts.

    Notes
    -----
    Counts are offset + current × integration time; the logarithm of the current is straight
    over the temperature, with one slope for all pixels. For a given slope the rest is a
    straight line for each pixel, so only the slope is searched for, and noise is never put
    into a logarithm. The offset does not change with temperature. That a dark current doubles
    every 5–8 K is common practice, no source.

    Examples
    --------
    >>> def dark(time, kelvin):
    ...     level = 100 + 50 * time * 2 ** ((kelvin - 290) / 7)
    ...     return xr.DataArray([level], {"wavelength": [365.0], "integration_time": time,
    ...                                   "temperature": kelvin}, "wavelength")
    >>> fit = fit_dark([dark(0.1, 290), dark(1.0, 290), dark(1.0, 297), dark(1.0, 304)])
    >>> round(float(fit.doubling), 3), round(float(fit.offset[0]), 3)
    (7.0, 100.0)
    """
    from scipy.optimize import minimize_scalar

    frames = [average_scans(in_unit(dark, "1", "dark"))[0] for dark in darks]
    found = [(frame.coords.get("integration_time"), sensor_temperature(frame)) for frame in frames]
    if any(time is None or kelvin is None for time, kelvin in found):
        raise RangeError("a dark has no coordinate integration_time [s] or temperature [K]: say both")
    times, kelvins = (np.array([float(pair[k]) for pair in found]) for k in (0, 1))  # type: ignore[arg-type]
    if len(frames) < 3 or np.ptp(kelvins) < SAME_TEMPERATURE:
        raise RangeError(
            f"{len(frames)} darks at {np.unique(kelvins).size} temperatures do not show how the dark grows: "
            "take three or more, at two temperatures or more"
        )
    if any(not np.array_equal(frames[0].wavelength, frame.wavelength) for frame in frames[1:]):
        raise GridError("the darks are not on one wavelength grid")
    levels = np.stack([frame.values for frame in frames])
    reference = float(kelvins.mean())

    def line(steepness: float) -> tuple[Vector, Vector, Vector]:
        """Offset, current and residual for a number of doublings by kelvin."""
        x = times * 2 ** ((kelvins - reference) * steepness)
        flat = levels.reshape(levels.shape[0], -1)
        centred = x - x.mean()
        current = centred @ flat / (centred @ centred)
        offset = flat.mean(axis=0) - current * x.mean()
        return offset, current, flat - offset - np.outer(x, current)

    bounds = (1 / _SLOWEST, 1 / _QUICKEST)
    tries = np.geomspace(*bounds, 60)  # a coarse look first: the sum of squares may have two valleys
    sums = [float((line(s)[2] ** 2).sum()) for s in tries]
    best = int(np.argmin(sums))
    around = tries[max(best - 1, 0)], tries[min(best + 1, tries.size - 1)]
    search = minimize_scalar(
        lambda s: float((line(s)[2] ** 2).sum()), bounds=around, method="bounded", options={"xatol": 1e-10}
    )
    offset, current, residual = line(float(search.x))
    if best in (0, tries.size - 1) or not current.mean() > 0:
        raise RangeError(
            f"these darks do not grow with temperature as a dark current does (doubling within {_QUICKEST:g}–"
            f"{_SLOWEST:g} K): check their temperatures and that the shutter was closed"
        )
    odd = [name for name in frames[0].coords if name not in frames[0].dims]
    shape = frames[0].drop_vars(odd).drop_attrs(deep=False)
    return xr.Dataset(
        {
            "offset": shape.copy(data=offset.reshape(shape.shape)).assign_attrs(units="1"),
            "dark_current": shape.copy(data=current.reshape(shape.shape)).assign_attrs(units="s-1"),
            "doubling": ((), 1 / float(search.x), {"units": "K"}),
            "reference_temperature": ((), reference, {"units": "K"}),
            "residual": (("dark", *shape.dims), residual.reshape(levels.shape), {"units": "1"}),
            "coldest": ((), kelvins.min(), {"units": "K"}),
            "warmest": ((), kelvins.max(), {"units": "K"}),
        }
    )


@declares("1", integration_time="s", temperature="K")
def modelled_dark(fit: xr.Dataset, integration_time: float | str, temperature: float | str) -> xr.DataArray:
    """The dark at an integration time and a temperature, from a fit.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_dark`.
    integration_time : float or str
        Integration time [s].
    temperature : float or str
        Temperature of the sensor [K].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The dark [1], with both as coordinates.

    Raises
    ------
    RangeError
        If the temperature lies outside those of the fit, or the time is not positive.

    Examples
    --------
    >>> grid = {"wavelength": [365.0]}
    >>> fit = xr.Dataset({"offset": ("wavelength", [100.0]), "dark_current": ("wavelength", [50.0]),
    ...                   "doubling": 7.0, "reference_temperature": 290.0, "coldest": 285.0,
    ...                   "warmest": 300.0}, grid)
    >>> modelled_dark(fit, "2 s", 297.0).item()
    300.0
    """
    seconds, kelvin = float(integration_time), float(temperature)
    coldest, warmest = float(fit["coldest"]), float(fit["warmest"])
    if not coldest - SAME_TEMPERATURE <= kelvin <= warmest + SAME_TEMPERATURE:
        raise RangeError(
            f"the darks were taken at {coldest:g}–{warmest:g} K, and {kelvin:g} K lies outside: "
            "take a dark there"
        )
    if not seconds > 0:
        raise RangeError(f"an integration time is longer than 0 s, not {seconds:g} s")
    doublings = (kelvin - float(fit["reference_temperature"])) / float(fit["doubling"])
    dark = (fit["offset"] + fit["dark_current"] * (seconds * 2**doublings)).rename("counts")
    return noted(
        dark.assign_coords(integration_time=seconds, temperature=kelvin),
        f"modelled the dark at {seconds * 1e3:g} ms and {kelvin:g} K from darks at {coldest:g}–{warmest:g} "
        f"K, the current doubling every {float(fit['doubling']):.3g} K",
    )
