"""Non-linearity of the detector: fitted from exposures of one steady source, and divided out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.units import declares

Vector = NDArray[np.float64]

_BEYOND = 0.02  # of the highest count fitted: so far a polynomial may run on, for the sake of noise
_MOST_STEPS = 50
_SETTLED = 1e-10


@declares("1", counts="1", coefficients="1")
def correct_linearity(counts: xr.DataArray, coefficients: Sequence[float] | xr.DataArray) -> xr.DataArray:
    """Divide counts by the non-linearity of the detector.

    Parameters
    ----------
    counts : xarray.DataArray (...)
        Counts without the dark [1], not yet divided by the integration time.
    coefficients : sequence of float or xarray.DataArray (..., coefficient)
        Coefficients of a polynomial in the counts [1], the constant first; from
        `fit_linearity` they carry the counts over which they hold.

    Returns
    -------
    xarray.DataArray (...)
        Counts of a linear detector [1].

    Raises
    ------
    RangeError
        If counts lie more than 2 % above the highest that was fitted, the polynomial is not
        positive, or the coefficients are not finite or not in order.
    GridError, UnitsError
        If dimensions that are shared differ, or the counts are in another unit, such as s-1.

    Notes
    -----
    Above the counts that were fitted a polynomial says nothing, and a detector bends most
    there: such counts are refused, not guessed at. Below them it runs on to zero, where there
    is little left to correct. The order after the dark and before the integration time is
    common practice, no source.

    Examples
    --------
    >>> counts = xr.DataArray([40000.0], {"wavelength": [365.0]}, "wavelength")
    >>> round(correct_linearity(counts, [1.0, -2e-6]).item(), 4)
    43478.2609
    """
    series = _series(coefficients)
    over = ""
    if "highest_count" in series.coords:
        lowest, highest = (float(series.coords[name]) for name in ("lowest_count", "highest_count"))
        found = float(counts.max())
        if found > highest * (1 + _BEYOND):
            raise RangeError(
                f"a count of {found:g} lies above {highest:g}, the highest that the linearity was fitted to: "
                "mark it as saturated, or fit exposures that reach as far"
            )
        over = f", fitted over {lowest:.0f}–{highest:.0f} counts"
    plain = series.drop_vars([name for name in series.coords if name not in series.dims])
    plain = plain.drop_vars("coefficient", errors="ignore")
    result = xr.apply_ufunc(_divided, counts, plain, input_core_dims=[[], ["coefficient"]])
    if plain.ndim == 1:
        said = " + ".join(f"{a:.6g} S^{k}" if k else f"{a:.6g}" for k, a in enumerate(plain.values))
    else:
        along = ", ".join(map(str, plain.dims[:-1]))
        said = f"a polynomial of degree {plain.sizes['coefficient'] - 1} for each {along}"
    return noted(
        result.rename(counts.name).assign_attrs(counts.attrs),
        f"corrected for non-linearity: counts S divided by {said.replace('+ -', '- ')}{over}",
    )


def _series(coefficients: Sequence[float] | xr.DataArray) -> xr.DataArray:
    if not isinstance(coefficients, xr.DataArray):
        coefficients = xr.DataArray(np.asarray(coefficients, dtype=float), dims="coefficient")
    if "coefficient" not in coefficients.dims or coefficients.sizes["coefficient"] == 0:
        raise RangeError("coefficients of a non-linearity run along a dimension coefficient, constant first")
    order = coefficients["coefficient"].values
    if not np.array_equal(order, np.arange(order.size)):
        raise RangeError(f"the coefficients are those of the powers 0, 1, 2, …, not of {order.tolist()}")
    if not np.isfinite(coefficients.values).all():
        raise RangeError("a coefficient of the non-linearity is not finite")
    return coefficients.transpose(..., "coefficient")


def _divided(counts: Any, coefficients: Any) -> Any:
    """Counts (...) over the polynomial with coefficients (..., coefficient)."""
    ratio = coefficients[..., -1]
    for k in range(coefficients.shape[-1] - 2, -1, -1):
        ratio = ratio * counts + coefficients[..., k]
    if (ratio <= 0).any():
        raise RangeError(
            f"the non-linearity falls to {np.nanmin(ratio):.3g} within the counts given; "
            "a detector gives some of the counts that are due: the coefficients do not belong to it"
        )
    return counts / ratio


@declares(counts="1", integration_time="s", reference_level="1", lowest="1", tolerance="1")
def fit_linearity(
    counts: xr.DataArray,
    integration_time: ArrayLike | None = None,
    degree: int = 3,
    reference_level: float | str = 0.0,
    lowest: float | str = 0.01,
    tolerance: float | str = 0.01,
) -> xr.Dataset:
    """Fit the non-linearity of a detector from exposures of one steady source.

    Parameters
    ----------
    counts : xarray.DataArray (..., spectrum, wavelength)
        Counts without the dark [1], one exposure after the other; NaN where saturated.
    integration_time : array_like (spectrum,), optional
        Integration time of each exposure, as numbers [s] or texts such as ``"20 ms"``; by default
        the coordinate of that name.
    degree : int
        Degree of the polynomial, at least 1.
    reference_level : float or str
        Counts at which the detector is called linear [1].
    lowest : float or str
        Counts below this share of the highest are left out [1].
    tolerance : float or str
        How far one exposure as a whole may lie beside the fit, relatively [1].

    Returns
    -------
    xarray.Dataset
        ``coefficients`` (..., coefficient) [1] for `correct_linearity`, their ``covariance``
        (..., coefficient, other_coefficient), and ``residual`` (..., spectrum, wavelength)
        [1]: how far counts by second are from those of the fit, relatively; NaN where left
        out. The coordinates ``lowest_count`` and ``highest_count`` say what was fitted.

    Raises
    ------
    RangeError
        If there are not more integration times than `degree` at which pixels are usable, the
        fit turns back within its range, or an exposure lies beside it by more than
        `tolerance`, with three standard errors to spare.
    UnitsError
        If the counts are in another unit.

    Notes
    -----
    Counts over the polynomial are the light: of every pixel they grow in proportion to the
    integration time. All pixels share the polynomial, and each has a rate of its own, which
    is eliminated (variable projection: Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973)
    413). Weights are those of shot noise. Exposures tell only ratios, so the level at which
    the detector is called linear is a choice; it cancels if the standard lamp is corrected in
    the same way. A source that drifts looks like a detector that bends: take the times in
    mixed order, and one of them twice.

    Examples
    --------
    >>> true = xr.DataArray(np.outer([0.1, 0.2, 0.4], [1e5, 5e4]), dims=("spectrum", "wavelength"),
    ...                     coords={"wavelength": [365.0, 405.0]})
    >>> fit = fit_linearity(true / (1 + 2e-6 * true), [0.1, 0.2, 0.4], degree=1)
    >>> np.round(fit.coefficients.values * [1, 1e6], 6).tolist()
    [1.0, -2.0]
    """
    if "spectrum" not in counts.dims or "wavelength" not in counts.dims:
        raise RangeError(f"exposures run along spectrum, pixels along wavelength; there is {counts.dims}")
    if degree < 1:
        raise RangeError(f"the degree of a non-linearity is 1 or more, not {degree}")
    stacked = counts.transpose(..., "spectrum", "wavelength")
    times = _times(stacked, integration_time)
    values = stacked.values
    top = float(np.nanmax(values, initial=0.0))
    powers = np.arange(1.0, degree + 1)
    at_reference = np.asarray((float(reference_level) / top) ** powers if top > 0 else 0 * powers)
    leading = values.shape[:-2]
    solved = np.empty((*leading, degree))
    spread = np.empty((*leading, degree, degree))
    residual = np.full(values.shape, np.nan)
    used = _usable(values, float(lowest) * top, times, degree)
    for index in np.ndindex(leading):
        solved[index], spread[index], residual[index] = _fitted(
            values[index], used[index], times, top, at_reference
        )
    transform = np.vstack([-at_reference, np.diag(top**-powers)])
    coefficients = solved @ transform.T
    coefficients[..., 0] += 1
    _require_rising(coefficients, top)
    _require_steady(values, used, residual, times, float(tolerance))
    bounds = float(values[used].min()), float(values[used].max())
    names = [str(name) for name in stacked.dims[:-2]]
    kept = {n: c for n, c in stacked.coords.items() if set(c.dims) <= set(stacked.dims)}
    dataset = xr.Dataset(
        {
            "coefficients": ([*names, "coefficient"], coefficients, {"units": "1"}),
            "covariance": (
                [*names, "coefficient", "other_coefficient"],
                transform @ spread @ transform.T,
                {"units": "1"},
            ),
            "residual": (stacked.dims, residual, {"units": "1"}),
        },
        {
            **kept,
            "integration_time": ("spectrum", times, {"units": "s"}),
            "coefficient": np.arange(degree + 1),
            "other_coefficient": np.arange(degree + 1),
            "lowest_count": ((), bounds[0], {"units": "1"}),
            "highest_count": ((), bounds[1], {"units": "1"}),
            "reference_level": ((), float(reference_level), {"units": "1"}),
        },
    )
    dataset["coefficients"] = noted(
        dataset["coefficients"],
        f"fitted the non-linearity to {times.size} exposures, {bounds[0]:.0f}–{bounds[1]:.0f} counts: a "
        f"polynomial of degree {degree}, 1 at {float(reference_level):g} counts; residuals of "
        f"{np.sqrt(np.nanmean(residual**2)):.2g}",
    )
    return dataset


def _times(counts: xr.DataArray, given: ArrayLike | None) -> Vector:
    if given is None:
        if "integration_time" not in counts.coords:
            raise RangeError("exposures need their integration_time [s]: one number for each")
        given = counts.coords["integration_time"]
    times = np.asarray(given, dtype=float)
    count = counts.sizes["spectrum"]
    if times.shape != (count,) or not (np.isfinite(times).all() and (times > 0).all()):
        raise RangeError(f"{count} exposures need {count} integration times above 0 s, not {times.tolist()}")
    return times


def _usable(values: Any, floor: float, times: Vector, degree: int) -> NDArray[np.bool_]:
    """Counts that take part: bright enough, and at two times or more of their pixel."""
    with np.errstate(invalid="ignore"):
        used = values >= max(floor, np.finfo(float).tiny)
    used &= used.sum(axis=-2, keepdims=True) > 1
    for index in np.ndindex(values.shape[:-2]):
        different = np.unique(times[used[index].any(axis=-1)]).size
        if different <= degree:
            raise RangeError(
                f"usable exposures at {different} integration times cannot show a non-linearity of degree "
                f"{degree}: take {degree + 1} or more, from faint to just below saturation"
            )
    return np.asarray(used)


def _fitted(
    counts: Vector, used: NDArray[np.bool_], times: Vector, top: float, at_reference: Vector
) -> tuple[Vector, Vector, Vector]:
    """Coefficients (degree,) of counts over `top`, their covariance, and relative residuals."""
    lit = used.any(axis=0)
    part = used[:, lit]
    seen = np.where(part, counts[:, lit], 0.0)
    rates = seen / times[:, None]
    # Weights of a pixel's pooled rate: those of its own noisy counts would pull the fit down.
    weights = part * times[:, None] / (seen.sum(axis=0) / (part * times[:, None]).sum(axis=0))
    powers = np.arange(1, at_reference.size + 1)[:, None, None]
    basis = (seen / top) ** powers - at_reference[:, None, None]
    solution = np.zeros(at_reference.size)
    for _ in range(_MOST_STEPS):
        ratio = 1 + np.tensordot(solution, basis, 1)
        norm = (weights * ratio**2).sum(axis=0)
        light = (weights * rates * ratio).sum(axis=0) / norm
        left = rates - light * ratio
        slopes = light * (basis - ratio * ((weights * ratio * basis).sum(axis=1) / norm)[:, None, :])
        normal = np.einsum("kij,ij,lij->kl", slopes, weights, slopes, optimize=True)
        step = np.linalg.lstsq(normal, np.einsum("kij,ij->k", slopes, weights * left), rcond=None)[0]
        solution = solution + step
        if np.abs(step).max() < _SETTLED:
            break
    else:
        raise RangeError("the fit of the non-linearity does not settle: are these exposures of one source?")
    freedom = max(int(part.sum() - lit.sum() - solution.size), 1)
    covariance = np.linalg.pinv(normal) * (weights * left**2).sum() / freedom
    residual = np.full(counts.shape, np.nan)
    residual[:, lit] = np.where(part, left / (light * ratio), np.nan)
    return solution, covariance, residual


def _require_rising(coefficients: Vector, top: float) -> None:
    """Refuse a fit by which more counts would mean less light."""
    levels = np.linspace(0.0, top, 200)
    powers = np.arange(coefficients.shape[-1])
    ratio = coefficients @ levels ** powers[:, None]
    slope = coefficients @ ((1 - powers)[:, None] * levels ** powers[:, None])
    wrong = (ratio <= 0) | (slope <= 0)
    if wrong.any():
        level = levels[np.argmax(wrong.any(axis=tuple(range(wrong.ndim - 1))))]
        raise RangeError(
            f"by this fit more counts would mean less light near {level:.0f} counts: lower the degree, mark "
            "saturated pixels first, and check that the source was steady and the integration times right"
        )


def _require_steady(
    counts: Vector, used: NDArray[np.bool_], residual: Vector, times: Vector, tolerance: float
) -> None:
    """Refuse exposures of which one gives more or less light than the others, at any level."""
    axes = tuple(n for n in range(counts.ndim) if n != counts.ndim - 2)
    light, apart = np.where(used, counts, 0.0), np.where(used, residual, 0.0)
    total = np.maximum(light.sum(axis=axes), np.finfo(float).tiny)
    beside = (light * apart).sum(axis=axes) / total
    error = np.sqrt(((light * (apart - beside[:, None])) ** 2).sum(axis=axes)) / total
    excess = np.abs(beside) - 3 * error
    worst = int(np.argmax(excess))
    if excess[worst] > tolerance:
        raise RangeError(
            f"the exposure of {times[worst] * 1e3:g} ms lies {abs(beside[worst]):.1%} beside the fit, beyond "
            f"{tolerance:.1%}: check that the source was steady, the integration times and the darks, and "
            "mark saturated pixels first"
        )
