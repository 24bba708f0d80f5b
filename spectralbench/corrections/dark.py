"""The dark frame: matched by integration time and temperature, never mismatched in silence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from spectralbench.corrections.scans import average_scans
from spectralbench.corrections.temperature import (
    SAME_TEMPERATURE,
    fit_dark,
    modelled_dark,
    sensor_temperature,
)
from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares, in_unit, measured

_MODELLED = "modelled the dark"
_SAME = 1e-6  # integration times that differ by less, relatively, are equal


@declares(counts="*", dark="*")
def subtract_dark(counts: xr.DataArray, dark: xr.DataArray) -> xr.DataArray:
    """Subtract a dark frame of the same integration time and temperature.

    Parameters
    ----------
    counts : xarray.DataArray (..., wavelength)
        Raw counts [1].
    dark : xarray.DataArray ([spectrum,] wavelength)
        Dark frame on the same grid, in the same unit; several scans are averaged first.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Counts without the dark, in the unit given.

    Raises
    ------
    RangeError
        If both carry an integration time, or a temperature of the sensor, and the two differ.
    GridError, UnitsError
        If the grids or the units differ.

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 366.0]}
    >>> light = xr.DataArray([110.0, 120.0], grid, "wavelength")
    >>> subtract_dark(light, xr.DataArray([10.0, 10.0], grid, "wavelength")).values.tolist()
    [100.0, 110.0]
    """
    unit, dark_unit = (a.attrs.get("units", "1") for a in (counts, dark))
    if unit != dark_unit:
        raise UnitsError(f"counts are in {quote(unit)} and the dark is in {quote(dark_unit)}")
    dark, _ = average_scans(dark)
    if "integration_time" in counts.coords and "integration_time" in dark.coords:
        taken, dark_taken = counts.coords["integration_time"], dark.coords["integration_time"]
        if not np.allclose(taken, dark_taken, rtol=_SAME, atol=0):
            raise RangeError(
                f"the dark was taken at {_milliseconds(dark_taken)} and the frame at "
                f"{_milliseconds(taken)}: use a dark of the same integration time, or a model from two others"
            )
    kelvins = [sensor_temperature(array) for array in (dark, counts)]
    if None not in kelvins and abs(kelvins[0] - kelvins[1]) > SAME_TEMPERATURE:  # type: ignore[operator]
        raise RangeError(
            f"the dark was taken at {kelvins[0]:g} K and the frame at {kelvins[1]:g} K: use a dark of the "
            "same temperature of the sensor, or a model from darks at several"
        )
    plain = dark.drop_vars([name for name in dark.coords if name not in dark.dims])
    result = (counts - plain).assign_attrs(counts.attrs)
    model = [line for line in dark.attrs.get("history", "").splitlines() if line.startswith(_MODELLED)]
    return noted(result, "; ".join(["subtracted the dark", *model]))


def dark_at(
    darks: Sequence[xr.DataArray], integration_time: float | str, temperature: float | str | None = None
) -> xr.DataArray:
    """Find the dark for an integration time and a temperature, or model it from others.

    Parameters
    ----------
    darks : sequence of xarray.DataArray ([spectrum,] wavelength)
        Dark frames [1], each with a coordinate ``integration_time`` [s].
    integration_time : float or str
        Integration time of the frame [s].
    temperature : float or str, optional
        Temperature of its sensor [K]; then every dark has a coordinate ``temperature`` [K].

    Returns
    -------
    xarray.DataArray (wavelength,)
        The dark [1]. If none was taken at that time but at two or more others, a straight
        line over the integration time, pixel by pixel: an offset and a dark current. If there
        are not two at the temperature, the model of `fit_dark` over all.

    Raises
    ------
    RangeError
        If there is no dark of that time and fewer than two others to model it from, a dark
        does not say its integration time or temperature, or the darks were taken at several
        temperatures and none is asked for.
    GridError
        If the darks are on different grids.

    Examples
    --------
    >>> def dark(level, time):
    ...     return xr.DataArray([level], {"wavelength": [365.0], "integration_time": time}, "wavelength")
    >>> round(dark_at([dark(100.0, 0.01), dark(120.0, 0.03)], 0.02).item(), 9)
    110.0
    """
    integration_time = measured(integration_time, "s").value
    frames: list[xr.DataArray] = [average_scans(in_unit(dark, "1", "dark"))[0] for dark in darks]
    if any("integration_time" not in frame.coords for frame in frames):
        raise RangeError("a dark has no coordinate integration_time [s]: say how long a scan took")
    if any(not np.array_equal(frames[0].wavelength, frame.wavelength) for frame in frames[1:]):
        raise GridError("the darks are not on one wavelength grid")
    near = _at_temperature(frames, temperature)
    if temperature is not None and not _enough(near, integration_time):
        return modelled_dark(fit_dark(frames), integration_time, temperature)
    frames = near
    times = _times(frames)
    same = np.flatnonzero(_same(times, integration_time))
    if same.size:
        values = np.mean([frames[i].values for i in same], axis=0)
        return frames[int(same[0])].copy(data=values)
    known = ", ".join(_milliseconds(t) for t in np.unique(times)) or "none"
    if np.unique(times).size < 2:
        raise RangeError(
            f"there is no dark at {_milliseconds(integration_time)} (there is {known}): "
            "take one, or darks at two other integration times to model it from"
        )
    levels = np.stack([frame.values for frame in frames])
    values = np.tensordot(dark_weights(times, integration_time), levels, axes=1)
    outside = not times.min() <= integration_time <= times.max()
    return noted(
        frames[0].copy(data=values).assign_coords(integration_time=integration_time),
        f"{_MODELLED} at {_milliseconds(integration_time)} from {known}"
        + (", which do not enclose it" if outside else ""),
    )


def dark_weights(times: np.ndarray, integration_time: float) -> np.ndarray:
    """What each of several darks counts in the dark for an integration time.

    Parameters
    ----------
    times : numpy.ndarray (dark,)
        Integration times of the darks [s].
    integration_time : float
        That of the frame [s].

    Returns
    -------
    numpy.ndarray (dark,)
        Weights [1], as `dark_at` gives them: equal ones for darks of that time, otherwise those
        of a straight line through all. The errors of the darks go the same way.

    Examples
    --------
    >>> dark_weights(np.array([0.01, 0.03]), 0.03).tolist()
    [0.0, 1.0]
    >>> dark_weights(np.array([0.01, 0.03]), 0.02).tolist()
    [0.5, 0.5]
    """
    same = _same(times, integration_time)
    if same.any():
        return np.asarray(same / same.sum())
    centred = times - times.mean()
    weights: np.ndarray = 1 / times.size + centred * (integration_time - times.mean()) / (centred**2).sum()
    return weights


def _same(times: np.ndarray, integration_time: float) -> np.ndarray:
    return np.asarray(np.isclose(times, integration_time, rtol=_SAME, atol=0))


def _times(frames: list[xr.DataArray]) -> np.ndarray:
    return np.array([float(frame.coords["integration_time"]) for frame in frames])


def _at_temperature(frames: list[xr.DataArray], temperature: float | str | None) -> list[xr.DataArray]:
    """The frames of one temperature; all of them if nobody speaks of temperatures."""
    known = [sensor_temperature(frame) for frame in frames]
    if temperature is None:
        said = [kelvin for kelvin in known if kelvin is not None]
        if said and max(said) - min(said) > SAME_TEMPERATURE:
            raise RangeError(
                f"the darks were taken at {min(said):g}–{max(said):g} K: "
                "say at which temperature of the sensor the frame was"
            )
        return frames
    wanted = measured(temperature, "K").value
    if None in known:
        raise RangeError("a dark has no coordinate temperature [K]: say how warm the sensor was")
    pairs = zip(frames, known, strict=True)
    return [
        frame for frame, kelvin in pairs if kelvin is not None and abs(kelvin - wanted) <= SAME_TEMPERATURE
    ]


def _enough(frames: list[xr.DataArray], integration_time: float) -> bool:
    """Whether frames of one temperature give the dark of that time, or a line to it."""
    times = _times(frames)
    return bool(_same(times, integration_time).any() or np.unique(times).size > 1)


def _milliseconds(seconds: xr.DataArray | float) -> str:
    values = np.unique(np.asarray(seconds, dtype=float)) * 1e3
    return " and ".join(f"{value:g} ms" for value in values)
