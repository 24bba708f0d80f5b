"""Output against hours of use."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.errors import RangeError
from spectralbench.units import declares, in_unit


def fit_ageing(hours: ArrayLike, output: ArrayLike) -> xr.Dataset:
    """Fit an exponential decay to a log of output against hours.

    Parameters
    ----------
    hours : array_like (n,)
        Hours of use [h].
    output : array_like (..., n)
        Output [any unit], all above 0. An array with a dimension ``hours`` keeps its others.

    Returns
    -------
    xarray.Dataset
        ``initial`` (...) in the unit of `output`; ``rate`` (...) [h-1], negative if the output
        grows; ``residual`` (..., hours), relative [1]; ``longest`` [h], the last hour of the log.

    Raises
    ------
    RangeError
        If there are fewer than three points, all at one time, or a value is not positive.

    Notes
    -----
    A straight line through the logarithm of the output by least squares, the form that
    IES TM-21 uses for the light of LEDs.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(hours_until(fit, 0.5)))
    6579
    """
    leading: list[str] = []
    if isinstance(hours, xr.DataArray):
        hours = in_unit(hours, "h", "hours")
    if isinstance(output, xr.DataArray):
        output = output.transpose(..., "hours" if "hours" in output.dims else output.dims[-1])
        output = in_unit(output, "1" if output.attrs.get("units") == "%" else "*", "output")
        leading = [str(name) for name in output.dims[:-1]]
    at = np.asarray(hours, dtype=float)
    values = np.asarray(output, dtype=float)
    leading = leading or [f"series_{i}" for i in range(values.ndim - 1)]
    if at.ndim != 1 or values.shape[-1:] != at.shape:
        raise RangeError(f"hours and output have different lengths: {at.shape} and {values.shape}")
    if not np.isfinite(at).all() or (at < 0).any():
        raise RangeError("the hours in an ageing log are numbers of at least 0")
    if np.unique(at).size < 3:
        raise RangeError(f"an ageing log needs 3 different hours or more, not {np.unique(at).size}")
    if not (np.isfinite(values).all() and (values > 0).all()):
        wrong = values[~(np.isfinite(values) & (values > 0))][0]
        raise RangeError(f"the output in an ageing log is above 0, not {wrong:g}")
    logarithm = np.log(values)
    centred = at - at.mean()
    slope = (logarithm * centred).sum(axis=-1) / (centred**2).sum()
    start = logarithm.mean(axis=-1) - slope * at.mean()
    line = start[..., None] + slope[..., None] * at
    return xr.Dataset(
        {
            "initial": (leading, np.exp(start), {"long_name": "output of the fit at 0 h"}),
            "rate": (leading, -slope, {"units": "h-1", "long_name": "rate of decay"}),
            "residual": ([*leading, "hours"], values / np.exp(line) - 1, {"units": "1"}),
            "longest": ((), at.max(), {"units": "h", "long_name": "last hour of the log"}),
        },
        {"hours": ("hours", at, {"units": "h", "long_name": "hours of use"})},
    )


def output_at(fit: xr.Dataset, hours: xr.DataArray | float) -> xr.DataArray:
    """Output that a fit gives for an hour of use.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing`.
    hours : xarray.DataArray (...) or float
        Hours of use [h].

    Returns
    -------
    xarray.DataArray (...)
        Output, in the unit that was fitted.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(output_at(fit, 3000)), 9)
    0.729
    """
    result: xr.DataArray = fit["initial"] * np.exp(-fit["rate"] * hours)
    return result.rename("output").drop_attrs().assign_attrs(long_name="output")


@declares(fraction="1")
def hours_until(fit: xr.Dataset, fraction: float | str) -> xr.DataArray:
    """Hours until the output has fallen to a fraction.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing`, of an output relative to that of a new source.
    fraction : float or str
        Fraction of the new source's output [1].

    Returns
    -------
    xarray.DataArray (...)
        Hours of use [h]; infinite if the fit does not fall, 0 if it starts below.

    Raises
    ------
    RangeError
        If the fraction is not positive.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(hours_until(fit, 0.7)), 1)
    3385.3
    """
    fraction = float(fraction)
    if not fraction > 0:
        raise RangeError(f"a fraction of the output is above 0, not {fraction:g}")
    rate = fit["rate"].where(fit["rate"] > 0)
    hours: xr.DataArray = xr.DataArray(np.log(fit["initial"] / fraction)) / rate
    hours = hours.clip(min=0).fillna(np.inf).where(fit["initial"] > fraction, 0.0).rename("hours")
    return hours.assign_attrs(units="h", long_name=f"hours until {fraction:.0%} of the output")
