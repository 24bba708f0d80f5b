"""Measurements that arrive later, and lamps that are changed between them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.ageing.fit import fit_ageing
from spectralbench.ageing.log import taken
from spectralbench.ageing.prediction import output_at
from spectralbench.ageing.two_stage import fit_two_stage
from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import COORDINATES
from spectralbench.units import declares, in_unit, measured

Vector = NDArray[np.float64]

_ROUNDING = 1e-9  # relative; values that differ by less were written down twice


@declares(hours="h")
def updated(fit: xr.Dataset, hours: ArrayLike, output: ArrayLike) -> xr.Dataset:
    """Fit a log anew with measurements that came later.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing` or `fit_two_stage`; one with draws is fitted anew without them.
    hours : array_like (k,)
        Hours of use [h] of the same lamp, ascending. Measurements of the log may be given
        again; all others are later than its last.
    output : array_like (..., k)
        Output, in the unit of the log.

    Returns
    -------
    xarray.Dataset
        The fit of the same kind to the whole log. ``change`` (...) [1] says by how much it
        differs, at the last hour, from what the fit before said of that hour.

    Raises
    ------
    RangeError
        If hours go backwards, or a measurement is given again with another value.
    UnitsError
        If log and measurements are in different units.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> later = updated(fit, [3000, 4000], [0.72, 0.64])
    >>> float(later["longest"]), round(float(later["change"]), 3)
    (4000.0, -0.02)
    """
    old = fit["output"].transpose(..., "hours")
    new = taken(hours, _in_unit_of(old, output), fewest=1)
    if (np.diff(new.hours) < 0).any():
        where = int(np.argmax(np.diff(new.hours) < 0))
        raise RangeError(_backwards(new.hours[where], new.hours[where + 1]))
    if new.output.shape[:-1] != old.shape[:-1]:
        raise RangeError(
            f"the log has outputs of shape {old.shape[:-1]} at each hour, and the measurements of shape "
            f"{new.output.shape[:-1]}"
        )
    at = old["hours"].values
    known = np.isin(new.hours, at)
    for hour, value in zip(new.hours[known], np.moveaxis(new.output, -1, 0)[known], strict=True):
        there = old.values[..., at == hour]
        if not np.isclose(there, value[..., None], rtol=_ROUNDING, atol=0).any(axis=-1).all():
            raise RangeError(
                f"the log has {there.flat[0]:g} at {hour:g} h, and now {value.flat[0]:g} is given for it: "
                "decide which one is right, and fit the whole log"
            )
    if not known.all() and new.hours[~known][0] < at.max():
        raise RangeError(_backwards(at.max(), new.hours[~known][0]))
    jump = new.output[..., 0] / old.values[..., -1]
    if (np.abs(np.log(jump)) > np.log(_JUMP)).any():
        raise RangeError(
            f"the log ends at {old.values[..., -1].flat[0]:g}, and the measurements begin at "
            f"{new.output[..., 0].flat[0]:g}: is one of them in per cent?"
        )
    whole = xr.DataArray(
        np.concatenate([old.values, new.output[..., ~known]], axis=-1), dims=old.dims, attrs=old.attrs
    )
    again = fit_ageing if "rate" in fit else fit_two_stage
    result = again(np.concatenate([at, new.hours[~known]]), whole)
    before = again(at, old)
    last = float(result["longest"])
    change = output_at(result, last) / output_at(before, last) - 1
    words = "change of what is said of the last hour, by the measurements added"
    return result.assign(change=change.drop_attrs(deep=False).assign_attrs(units="1", long_name=words))


_JUMP = 3.0  # times the last output, either way: no source does that between two measurements


def _in_unit_of(log: xr.DataArray, output: ArrayLike) -> ArrayLike:
    """New output in the unit of the log; plain numbers are taken as they are."""
    if not isinstance(output, xr.DataArray) or "units" not in output.attrs:
        return output
    if "units" not in log.attrs:
        given = quote(output.attrs["units"])
        raise UnitsError(f"the log has no unit, and the new output is in {given}: fit the log with its unit")
    return in_unit(output, log.attrs["units"], "output")


def _backwards(before: float, after: float) -> str:
    return (
        f"hours go backwards, from {before:g} h to {after:g} h: if the lamp was changed, the new one "
        "has a log of its own (split_at_relamps)"
    )


@declares(hours="h", output="*")
def split_at_relamps(
    hours: ArrayLike, output: ArrayLike, relamped_at: Sequence[float | str]
) -> list[xr.DataArray]:
    """Split a log at changes of the lamp into one for each, with hours that start at 0.

    Parameters
    ----------
    hours : array_like (n,)
        Hours on a counter that runs on when the lamp is changed [h].
    output : array_like (..., n)
        Output [any unit].
    relamped_at : sequence of float or str
        Hours of the counter at the changes [h], ascending. A measurement at the very hour is one
        of the new lamp.

    Returns
    -------
    list of xarray.DataArray (..., hours)
        The output of each lamp in turn, along its own hours of use.

    Raises
    ------
    RangeError
        If the changes are not in order, or a lamp has no measurement.

    Examples
    --------
    >>> first, second = split_at_relamps([0, 1000, 2000, 3000], [1.0, 0.9, 0.98, 0.9], ["1800 h"])
    >>> second["hours"].values.tolist(), second.values.tolist()
    ([200.0, 1200.0], [0.98, 0.9])
    """
    log = taken(hours, output, fewest=1)
    changes = [measured(change, "h").value for change in relamped_at]
    edges = np.array([0.0, *changes, np.inf])
    if not (np.diff(edges) > 0).all():
        raise RangeError(f"changes of a lamp are hours above 0 in ascending order, not {changes}")
    attributes = {"long_name": "output"} | ({} if log.units is None else {"units": log.units})
    lamps = []
    for start, end in pairwise(edges):
        inside = (log.hours >= start) & (log.hours < end)
        if not inside.any():
            raise RangeError(
                f"the lamp that ran from {start:g} h to {end:g} h of the counter has no measurement: "
                "leave out its change"
            )
        along = ("hours", log.hours[inside] - start, COORDINATES["hours"]._asdict())
        values = log.output[..., inside]
        lamps.append(xr.DataArray(values, {"hours": along}, [*log.leading, "hours"], attrs=attributes))
    return lamps
