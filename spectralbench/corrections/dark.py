"""The dark frame: matched by its integration time, never mismatched in silence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from spectralbench.corrections.scans import average_scans
from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.units import declares, in_unit, measured

_MODELLED = "modelled the dark"
_SAME = 1e-6  # integration times that differ by less, relatively, are equal


@declares(counts="*", dark="*")
def subtract_dark(counts: xr.DataArray, dark: xr.DataArray) -> xr.DataArray:
    """Subtract a dark frame of the same integration time.

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
        If both carry an integration time and the two differ.
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
    plain = dark.drop_vars([name for name in dark.coords if name not in dark.dims])
    result = (counts - plain).assign_attrs(counts.attrs)
    model = [line for line in dark.attrs.get("history", "").splitlines() if line.startswith(_MODELLED)]
    return noted(result, "; ".join(["subtracted the dark", *model]))


def dark_at(darks: Sequence[xr.DataArray], integration_time: float | str) -> xr.DataArray:
    """Find the dark for an integration time, or model it from others.

    Parameters
    ----------
    darks : sequence of xarray.DataArray ([spectrum,] wavelength)
        Dark frames [1], each with a coordinate ``integration_time`` [s].
    integration_time : float or str
        Integration time of the frame [s].

    Returns
    -------
    xarray.DataArray (wavelength,)
        The dark [1]. If none was taken at that time but at two or more others, a straight
        line over the integration time, pixel by pixel: an offset and a dark current.

    Raises
    ------
    RangeError
        If there is no dark of that time and fewer than two others to model it from, or a dark
        does not say its integration time.
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
    times = np.array([float(frame.coords["integration_time"]) for frame in frames])
    same = np.flatnonzero(np.isclose(times, integration_time, rtol=_SAME, atol=0))
    if same.size:
        values = np.mean([frames[i].values for i in same], axis=0)
        return frames[int(same[0])].copy(data=values)
    known = ", ".join(_milliseconds(t) for t in np.unique(times)) or "none"
    if np.unique(times).size < 2:
        raise RangeError(
            f"there is no dark at {_milliseconds(integration_time)} (there is {known}): "
            "take one, or darks at two other integration times to model it from"
        )
    centred = times - times.mean()
    levels = np.stack([frame.values for frame in frames])
    slope = (centred[:, None] * levels).sum(axis=0) / (centred**2).sum()
    values = levels.mean(axis=0) + slope * (integration_time - times.mean())
    outside = not times.min() <= integration_time <= times.max()
    return noted(
        frames[0].copy(data=values).assign_coords(integration_time=integration_time),
        f"{_MODELLED} at {_milliseconds(integration_time)} from {known}"
        + (", which do not enclose it" if outside else ""),
    )


def _milliseconds(seconds: xr.DataArray | float) -> str:
    values = np.unique(np.asarray(seconds, dtype=float)) * 1e3
    return " and ".join(f"{value:g} ms" for value in values)
