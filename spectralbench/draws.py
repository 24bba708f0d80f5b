"""Uncertainty as a dimension: draws of the Monte Carlo method, and what they say in the end.

An input with an uncertainty becomes an array with the dimension ``draw``; every function
broadcasts over it, linear or not, and what shares an input shares its draws, so that common
errors cancel by themselves (JCGM 101:2008). Only `summarize` takes the dimension away.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.units import convert, declares, measured, same_kind

Vector = NDArray[np.float64]
Seed = int | Sequence[int] | np.random.Generator | None

FEWEST = 20
"""Draws with an interval of 95 %; fewer have none."""

_QUANTILES = 2**16  # of the normal distribution, for noise

DISTRIBUTIONS: dict[str, Callable[[np.random.Generator, tuple[int, ...]], Vector]] = {
    "normal": lambda random, shape: random.standard_normal(shape),
    "rectangular": lambda random, shape: np.sqrt(3.0) * (2 * random.random(shape) - 1),
    "triangular": lambda random, shape: np.sqrt(6.0) * (random.random(shape) + random.random(shape) - 1),
    "arcsine": lambda random, shape: np.sqrt(2.0) * np.sin(np.pi * (random.random(shape) - 0.5)),
}
"""Deviates of mean 0 and standard deviation 1 (JCGM 101:2008, 6.4)."""


@declares(value="*", standard_uncertainty="*")
def draw(
    value: xr.DataArray | float | str,
    standard_uncertainty: xr.DataArray | float | str,
    distribution: str = "normal",
    draws: int = 1000,
    seed: Seed = None,
    correlation: str | float | None = None,
) -> xr.DataArray:
    """Draw an input from its distribution.

    Parameters
    ----------
    value : float, str or xarray.DataArray (...)
        Best estimate.
    standard_uncertainty : float, str or xarray.DataArray (...)
        Standard uncertainty: the standard deviation, whatever the distribution. A rectangular
        one of half-width a has a/√3, a triangular one a/√6, an arcsine one a/√2. Without a unit
        it is in that of `value`. In per cent it is relative to the value, unless the value is in
        per cent itself. On a value in °C an uncertainty in K or °C is a difference.
    distribution : str
        ``"normal"``, ``"rectangular"``, ``"triangular"`` or ``"arcsine"``.
    draws : int
        How many.
    seed : int, sequence of int or numpy.random.Generator, optional
        The same seed gives the same draws, bit for bit.
    correlation : str or float, optional
        How errors at two wavelengths belong together: ``"none"`` (the default), each on its
        own; ``"full"``, one error for all; or a length L [nm], a correlation of exp(-|Δλ|/L).
        Along every other dimension errors are independent.

    Returns
    -------
    xarray.DataArray (draw, ...)
        The draws, with the attributes of `value`.

    Raises
    ------
    RangeError
        If the distribution, the correlation or the seed is none, an uncertainty is negative, a
        length is not positive, or there is no draw; if a length is given without wavelengths, or
        draws are asked of what has draws already.
    GridError
        If the two arrays do not fit together.
    UnitsError
        If the uncertainty is of another kind than the value.

    Notes
    -----
    With a length, normal deviates follow a first-order Markov chain along the wavelength; for
    another distribution they are carried over quantile by quantile, which keeps the
    distribution exactly and the correlation nearly.

    Examples
    --------
    >>> distances = draw(500.0, 0.5, draws=10_000, seed=1)
    >>> round(float(distances.mean()), 1), round(float(distances.std()), 2)
    (500.0, 0.5)
    >>> draw("12 mm", "300 um", seed=1).units
    'mm'
    """
    if distribution not in DISTRIBUTIONS:
        raise RangeError(f"a distribution is {', '.join(DISTRIBUTIONS)}; not {quote(distribution)}")
    if not draws >= 1:
        raise RangeError(f"at least 1 draw is needed, not {draws}")
    estimate = value if isinstance(value, xr.DataArray) else xr.DataArray(np.asarray(value, dtype=float))
    spread = _in_the_unit_of(estimate, xr.DataArray(standard_uncertainty))
    if (spread < 0).any():
        raise RangeError(f"a standard uncertainty is not negative; this one is {float(spread.min()):g}")
    if "draw" in estimate.dims or "draw" in spread.dims:
        raise RangeError("value or standard_uncertainty has draws already: draw an error of 0 and add it")
    if estimate.ndim or spread.ndim:
        estimate, spread = xr.broadcast(*xr.align(estimate, spread, join="exact"))
    deviates = _deviates(estimate, distribution, draws, _generator(seed), correlation)
    values = estimate.values + spread.values * deviates
    attributes = value.attrs if isinstance(value, xr.DataArray) else {}
    return xr.DataArray(
        values, estimate.coords, ("draw", *estimate.dims), name=estimate.name, attrs=attributes
    )


def _generator(seed: Seed) -> np.random.Generator:
    try:
        return np.random.default_rng(seed)
    except (TypeError, ValueError) as error:
        raise RangeError(f"a seed is a whole number of 0 or more, or several; not {quote(seed)}") from error


def _in_the_unit_of(estimate: xr.DataArray, spread: xr.DataArray) -> xr.DataArray:
    """A standard uncertainty in the unit of its value, with differences of a temperature."""
    units, given = (str(array.attrs.get("units") or "") for array in (estimate, spread))
    if given in ("", units):
        return spread
    on_a_scale = units != "" and same_kind(units, "K") and convert(0.0, units, "K") != 0
    if given == "%":
        if on_a_scale:
            raise UnitsError("per cent of a temperature on a scale says nothing; give the uncertainty in K")
        return abs(estimate) * spread / 100
    if not same_kind(given, units):
        found = f"is in {quote(units)}" if units else "has no unit"
        raise UnitsError(
            f"the value {found} and its standard uncertainty is in {quote(given)}: "
            "state both in units of one kind"
        )
    through = "K" if same_kind(units, "K") else units
    sizes = [float(convert(1.0, unit, through) - convert(0.0, unit, through)) for unit in (given, units)]
    return spread * (sizes[0] / sizes[1])


def _deviates(
    like: xr.DataArray,
    distribution: str,
    draws: int,
    random: np.random.Generator,
    correlation: str | float | None,
) -> Vector:
    """Deviates (draw, ...) of mean 0 and standard deviation 1."""
    shape = [draws, *like.shape]
    along = like.dims.index("wavelength") + 1 if "wavelength" in like.dims else None
    if correlation in (None, "none"):
        return DISTRIBUTIONS[distribution](random, tuple(shape))
    if correlation == "full":
        if along is not None:
            shape[along] = 1
        return DISTRIBUTIONS[distribution](random, tuple(shape))
    length = _length(correlation)
    if along is None:
        raise RangeError(f"a correlation over {length:g} nm needs values along wavelength")
    grid = np.asarray(like.coords["wavelength"].values, dtype=float)
    chain = np.moveaxis(random.standard_normal(tuple(shape)), along, 0)
    for i, kept in enumerate(np.exp(-np.diff(grid) / length), 1):
        chain[i] = kept * chain[i - 1] + np.sqrt(1 - kept**2) * chain[i]
    normal = np.moveaxis(chain, 0, along)
    return np.ascontiguousarray(normal if distribution == "normal" else _carried_over(normal, distribution))


def _length(correlation: str | float | None) -> float:
    """A correlation length [nm]."""
    try:
        length = measured(correlation, "nm").value if correlation is not None else np.nan
    except UnitsError as error:
        found = quote(correlation)
        raise RangeError(
            f'a correlation is "none", "full" or a length such as "20 nm", not {found}'
        ) from error
    if not length > 0:
        raise RangeError(f"a correlation length is above 0 nm, not {length:g} nm")
    return length


def _carried_over(normal: Vector, distribution: str) -> Vector:
    """Normal deviates as those of another distribution, quantile by quantile."""
    from scipy.special import ndtr

    share = ndtr(normal)
    if distribution == "rectangular":
        return np.asarray(np.sqrt(3.0) * (2 * share - 1))
    if distribution == "arcsine":
        return np.asarray(np.sqrt(2.0) * np.sin(np.pi * (share - 0.5)))
    tail = 1 - np.sqrt(2 * np.minimum(share, 1 - share))
    return np.asarray(np.sqrt(6.0) * np.sign(share - 0.5) * tail)


def noise(shape: tuple[int, ...], random: np.random.Generator) -> NDArray[np.float32]:
    """Many normal deviates in a quarter of the time, for the noise of single pixels.

    Parameters
    ----------
    shape : tuple of int
        Shape of the result.
    random : numpy.random.Generator
        Where they come from.

    Returns
    -------
    numpy.ndarray
        Deviates of mean 0 and standard deviation 1, each one of 65,536 that are equally likely;
        none lies further out than 4.4.

    Examples
    --------
    >>> deviates = noise((1000, 100), np.random.default_rng(1))
    >>> round(float(deviates.std()), 2)
    1.0
    """
    which = random.integers(0, _QUANTILES, shape, np.uint16)
    return _normal_quantiles().take(which, mode="clip")  # none lies outside, so none needs a check


@functools.cache
def _normal_quantiles() -> NDArray[np.float32]:
    from scipy.special import ndtri

    middles = ndtri((np.arange(_QUANTILES) + 0.5) / _QUANTILES)
    return np.asarray(middles / middles.std(), dtype=np.float32)


@declares(x="*", coverage="1")
def summarize(x: xr.DataArray, coverage: float | str = 0.95) -> xr.Dataset:
    """Say what draws amount to: an estimate, its standard uncertainty, an interval.

    Parameters
    ----------
    x : xarray.DataArray (draw, ...)
        A figure with draws.
    coverage : float or str
        Probability that the interval covers [1].

    Returns
    -------
    xarray.Dataset (...)
        ``value``, the mean of the draws; ``standard_uncertainty``, their standard deviation;
        ``low`` and ``high``, the probabilistically symmetric interval. All in the unit of `x`.
        Where a draw is NaN, nothing is known and all are NaN; where draws are infinite, the
        interval still says what it can.

    Raises
    ------
    RangeError
        If there is no dimension ``draw``, the coverage lies outside 0–1, or there are too few
        draws for it.
    GridError
        If `x` is no xarray.DataArray.

    Notes
    -----
    JCGM 101:2008, 7.6 and 7.7: the interval ends at two of the sorted draws.

    Examples
    --------
    >>> said = summarize(draw(500.0, 0.5, draws=100_000, seed=1))
    >>> round(float(said.low), 1), round(float(said.high), 1)
    (499.0, 501.0)
    """
    if "draw" not in x.dims:
        raise RangeError("there is no dimension draw to summarize: ask for draws, as in draws=1000")
    coverage = round(float(coverage), 12)  # 95 % is 0.95, not 0.9500000000000001
    if not 0 < coverage < 1:
        raise RangeError(f"a coverage lies between 0 and 1, not at {coverage:g}")
    last = x.transpose(..., "draw")
    values = np.asarray(last.values, dtype=float)
    count = values.shape[-1]
    inside = int(coverage * count + 0.5)
    first = (count - inside + 1) // 2
    needed = int(np.ceil(1 / (1 - coverage) - 1e-9))
    if count < needed or not 1 <= first <= count - inside:
        raise RangeError(f"an interval of {coverage:.3g} takes at least {needed} draws, not {count}")
    kept = last.isel(draw=0, drop=True)
    with np.errstate(invalid="ignore"):  # infinite draws have no standard deviation
        spread = values.std(axis=-1, ddof=1)
    ordered = np.partition(values, (first - 1, first - 1 + inside), axis=-1)
    bad = np.isnan(values).any(axis=-1)
    found = {
        "value": values.mean(axis=-1),
        "standard_uncertainty": np.where(np.isfinite(values).all(axis=-1), spread, np.inf),
        "low": ordered[..., first - 1],
        "high": ordered[..., first - 1 + inside],
    }
    units = {"units": x.attrs["units"]} if "units" in x.attrs else {}
    names = {
        "value": "mean of the draws",
        "standard_uncertainty": "standard uncertainty",
        "low": f"lower end of the {coverage:.3g} interval",
        "high": f"upper end of the {coverage:.3g} interval",
    }
    variables = {
        name: kept.copy(data=np.where(bad, np.nan, array)).assign_attrs(long_name=names[name])
        for name, array in found.items()
    }
    for array in variables.values():
        array.name, array.attrs = None, {**units, "long_name": array.attrs["long_name"]}
    return xr.Dataset(variables, attrs={"coverage": coverage, "draws": count})
