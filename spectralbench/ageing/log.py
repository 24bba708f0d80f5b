"""A log of output against hours, checked before anything is made of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.errors import RangeError
from spectralbench.units import in_unit

Vector = NDArray[np.float64]


class Log(NamedTuple):
    """Output (..., n) at hours (n,) [h], the names of its other dimensions, and its unit if it has one."""

    hours: Vector
    output: Vector
    leading: list[str]
    units: str | None

    def variables(self, fitted: Vector) -> dict[str, tuple[list[str], Vector, dict[str, str]]]:
        """What every fit keeps of its log: output, residual, last hour."""
        units = {} if self.units is None else {"units": self.units}
        return {
            "residual": ([*self.leading, "hours"], self.output / fitted - 1, {"units": "1"}),
            "output": ([*self.leading, "hours"], self.output, {**units, "long_name": "output in the log"}),
            "longest": ([], self.hours.max(), {"units": "h", "long_name": "last hour of the log"}),
        }

    @property
    def coordinates(self) -> dict[str, tuple[str, Vector, dict[str, str]]]:
        """The hours, as a coordinate."""
        return {"hours": ("hours", self.hours, {"units": "h", "long_name": "hours of use"})}


def taken(hours: ArrayLike, output: ArrayLike, since: float = 0.0, fewest: int = 3) -> Log:
    """Check a log and bring it to hours.

    Parameters
    ----------
    hours : array_like (n,)
        Hours of use [h].
    output : array_like (..., n)
        Output [any unit], all above 0. An array with a dimension ``hours`` keeps its others.
    since : float
        Hour before which points are left out [h].
    fewest : int
        Different hours that are needed.

    Returns
    -------
    Log
        The log, in the order in which it came.

    Raises
    ------
    RangeError
        If there are too few different hours, or a value is not positive.
    UnitsError
        If the hours are in a unit that is none of time.

    Examples
    --------
    >>> taken([0, 1000, 2000], [1.0, 0.9, 0.81]).hours.tolist()
    [0.0, 1000.0, 2000.0]
    """
    leading: list[str] = []
    units = None
    if isinstance(hours, xr.DataArray):
        hours = in_unit(hours, "h", "hours")
    if isinstance(output, xr.DataArray):
        output = output.transpose(..., "hours" if "hours" in output.dims else output.dims[-1])
        output = in_unit(output, "1" if output.attrs.get("units") == "%" else "*", "output")
        leading = [str(name) for name in output.dims[:-1]]
        units = output.attrs.get("units")
    at = np.asarray(hours, dtype=float)
    values = np.asarray(output, dtype=float)
    leading = leading or [f"series_{i}" for i in range(values.ndim - 1)]
    if at.ndim != 1 or values.shape[-1:] != at.shape:
        raise RangeError(f"hours and output have different lengths: {at.shape} and {values.shape}")
    if not np.isfinite(at).all() or (at < 0).any():
        raise RangeError("the hours in an ageing log are numbers of at least 0")
    at, values = at[at >= since], values[..., at >= since]
    different = np.unique(at).size
    if different < fewest:
        from_then = f" from {since:g} h on" if since > 0 else ""
        raise RangeError(f"an ageing log needs {fewest} different hours or more{from_then}, not {different}")
    if not (np.isfinite(values).all() and (values > 0).all()):
        wrong = values[~(np.isfinite(values) & (values > 0))][0]
        raise RangeError(f"the output in an ageing log is above 0, not {wrong:g}")
    return Log(at, values, leading, units)
