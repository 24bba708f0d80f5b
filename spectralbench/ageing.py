"""Output against hours of use."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.draws import Seed
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


def drawn(fit: xr.Dataset, draws: int, seed: Seed = None) -> xr.Dataset:
    """Draw a fit from what its residuals leave open.

    Parameters
    ----------
    fit : xarray.Dataset
        From `fit_ageing`.
    draws : int
        How many.
    seed : int, sequence of int or numpy.random.Generator, optional
        The same seed gives the same draws.

    Returns
    -------
    xarray.Dataset
        The fit, with ``initial`` and ``rate`` (draw, ...) that belong together.

    Notes
    -----
    Mean and slope of a straight line are independent at the centre of its points, and each has
    a t-distribution with n - 2 degrees of freedom (JCGM 101:2008, 6.4.9), so that a log of three
    points says honestly little.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000, 3000], [1.0, 0.91, 0.81, 0.74])
    >>> rates = drawn(fit, 10_000, seed=1)["rate"]
    >>> bool(rates.quantile(0.025) < fit["rate"] < rates.quantile(0.975))
    True
    """
    random = np.random.default_rng(seed)
    hours = fit["hours"]
    count = hours.size
    centred = hours - hours.mean()
    residual = xr.DataArray(np.log1p(fit["residual"]))
    scatter = np.sqrt((residual**2).sum("hours") / (count - 2))
    shape = (draws, *fit["rate"].shape)

    def error() -> xr.DataArray:
        return xr.DataArray(random.standard_t(count - 2, shape), dims=("draw", *fit["rate"].dims))

    level = error() * scatter / np.sqrt(count)
    rate = fit["rate"] + error() * scatter / np.sqrt((centred**2).sum())
    with np.errstate(over="ignore"):  # a t-distribution of one degree of freedom goes far out
        initial = fit["initial"] * np.exp(level + (rate - fit["rate"]) * hours.mean())
    both = {"initial": initial, "rate": rate}
    return fit.assign({name: array.assign_attrs(fit[name].attrs) for name, array in both.items()})


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
