"""The wavelength scale: a polynomial from pixel to wavelength, through lines that are known."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.errors import GridError, RangeError
from spectralbench.model import COORDINATES
from spectralbench.units import declares

Lines = ArrayLike | xr.DataArray

_HOLDS_ALONE = 0.95  # leverage of a line whose error would hardly show in its residual
_ODD = 0.01  # probability that any line of a sound fit is called odd
_ROUNDING = 1e-6  # nm; residuals below are arithmetic


@declares(positions="1", wavelengths="nm", uncertainty="nm")
def fit_wavelength_scale(
    positions: Lines,
    wavelengths: Lines,
    degree: int = 3,
    uncertainty: Lines | str | None = None,
    pixels: int | None = None,
) -> xr.Dataset:
    """Fit the wavelength scale of a spectrometer to lines of known wavelength.

    Parameters
    ----------
    positions : array_like (line,) or xarray.DataArray (..., line)
        Where the lines stand [pixel], counted from 0, with fractions.
    wavelengths : array_like (line,) or xarray.DataArray (..., line)
        Their wavelengths in air [nm]; for lines that the instrument cannot part, the effective ones
        (`curves.effective_lines`).
    degree : int
        Degree of the polynomial.
    uncertainty : array_like ([line]), xarray.DataArray (..., line) or str, optional
        Standard uncertainty of each line, of its wavelength and its position together [nm]. Lines
        count by its inverse square; without it, all alike.
    pixels : int, optional
        How many pixels the detector has; by default up to the last line.

    Returns
    -------
    xarray.Dataset
        ``scale`` (..., pixel) [nm], its ``standard_uncertainty`` (..., pixel) [nm], and
        ``extrapolated`` (pixel), true outside the lines; ``coefficients`` (..., coefficient) [nm] in
        powers of (pixel - ``centre``) / ``half_range``, their ``covariance`` [nm2]; ``residuals``
        (..., line) [nm], fitted minus known, and ``leverage`` (..., line) [1]; ``rms``,
        ``largest_residual`` [nm] and ``condition`` (...) [1]; with `uncertainty` also
        ``reduced_chi_square`` (...) [1]. ``attrs["comment"]`` names what to look at: stretches
        without lines, a line that lies beside all others, one that holds the scale alone.

    Raises
    ------
    RangeError
        If there are fewer lines than the degree plus two, values are not finite, an uncertainty is
        not positive, `pixels` ends before the last line, or the scale turns round.
    GridError
        If positions and wavelengths do not fit together.

    Notes
    -----
    Least squares by orthogonal factors; leverage is the diagonal of the hat matrix (Hoaglin and
    Welsch, Am. Stat. 32 (1978) 17). Without `uncertainty` the covariance rests on the scatter of
    the residuals; with it, on the uncertainty, or on the scatter where that is larger. A line is
    called odd by its deleted residual over Student's t, at 1 % for all lines together (Cook and
    Weisberg, Residuals and Influence in Regression (1982), section 2.2).

    Examples
    --------
    >>> fit = fit_wavelength_scale([100, 300, 500, 700], [300.0, 400.0, 500.0, 600.0], degree=1, pixels=1000)
    >>> fit["scale"].values[[0, 400, 999]].round(6).tolist()
    [250.0, 450.0, 749.5]
    """
    place, known, spread = _lines_of(positions, wavelengths, uncertainty)
    dims, at = place.dims[:-1], place.values
    count = at.shape[-1]
    distinct = min((np.unique(row).size for row in at.reshape(-1, count)), default=0)
    if degree < 1 or distinct < degree + 2:
        raise RangeError(
            f"a scale of degree {degree} needs a degree of 1 or more and at least {max(degree, 1) + 2} lines "
            f"at different positions, one more than it has coefficients; there are {distinct}"
        )
    size = int(np.ceil(at.max())) + 1 if pixels is None else pixels
    if at.min() < 0 or at.max() > size - 1:
        raise RangeError(
            f"positions count pixels from 0 to {size - 1}; these run from {at.min():g} to {at.max():g}"
        )
    centre, half = (at.max() + at.min()) / 2, (at.max() - at.min()) / 2
    powers = np.arange(degree + 1)
    design = ((at - centre) / half)[..., None] ** powers
    weight = np.ones(at.shape) if spread is None else 1 / spread.values
    q, r = np.linalg.qr(design * weight[..., None])
    solved = np.linalg.solve(r, np.einsum("...lk,...l->...k", q, weight * known.values)[..., None])[..., 0]
    residuals = np.einsum("...lk,...k->...l", design, solved) - known.values
    freedom = count - degree - 1
    chi_square = ((weight * residuals) ** 2).sum(axis=-1) / freedom
    variance = chi_square if spread is None else np.maximum(chi_square, 1.0)
    inverse = np.linalg.inv(r)
    covariance = inverse @ np.swapaxes(inverse, -1, -2) * variance[..., None, None]
    pixel = np.arange(size)
    everywhere = ((pixel - centre) / half)[:, None] ** powers
    scale = solved @ everywhere.T
    at_pixels = np.sqrt(np.square(everywhere @ inverse).sum(axis=-1) * variance[..., None])
    leverage = np.square(q).sum(axis=-1)
    _require_one_way(scale, degree, residuals, known.values)
    first, last = at.min(axis=-1).max(), at.max(axis=-1).min()
    extrapolated = (pixel < first) | (pixel > last)

    line, along, coefficient = (*dims, "line"), (*dims, "pixel"), (*dims, "coefficient")
    nanometres, number = {"units": "nm"}, {"units": "1"}
    result = xr.Dataset(
        {
            "scale": (along, scale, COORDINATES["wavelength"]._asdict()),
            "standard_uncertainty": (along, at_pixels, nanometres),
            "extrapolated": ("pixel", extrapolated),
            "coefficients": (coefficient, solved, nanometres),
            "covariance": ((*coefficient, "other_coefficient"), covariance, {"units": "nm2"}),
            "centre": ((), centre, number),
            "half_range": ((), half, number),
            "position": (line, at, number),
            "wavelength": (line, known.values, COORDINATES["wavelength"]._asdict()),
            "residuals": (line, residuals, nanometres),
            "leverage": (line, leverage, number),
            "rms": (dims, np.sqrt(np.square(residuals).mean(axis=-1)), nanometres),
            "largest_residual": (dims, np.abs(residuals).max(axis=-1), nanometres),
            "condition": (dims, np.linalg.cond(design * weight[..., None]), number),
        },
        {**{name: place.coords[name] for name in dims if name in place.coords}, "pixel": pixel},
    )
    if spread is not None:
        result["reduced_chi_square"] = (dims, chi_square, number)
    comments = [
        *_without_lines(extrapolated),
        *_odd_lines(weight, residuals, leverage, known.values, freedom),
    ]
    if comments:
        result.attrs["comment"] = "; ".join(comments)
    how = "all lines alike" if spread is None else "lines by their uncertainty"
    return result.assign_attrs(
        history=f"fitted a wavelength scale of degree {degree} through {count} lines, {how}, least squares"
    )


def wavelength_at(fit: xr.Dataset, positions: Lines) -> xr.DataArray:
    """Wavelength at any position on a fitted scale.

    Parameters
    ----------
    fit : xarray.Dataset
        What `fit_wavelength_scale` gives.
    positions : array_like (line,) or xarray.DataArray (...)
        Positions [pixel], with fractions.

    Returns
    -------
    xarray.DataArray (...)
        Wavelength in air [nm].

    Examples
    --------
    >>> fit = fit_wavelength_scale([100, 300, 500, 700], [300.0, 400.0, 500.0, 600.0], degree=1)
    >>> wavelength_at(fit, [200.5]).round(6).item()
    350.25
    """
    at = (
        positions
        if isinstance(positions, xr.DataArray)
        else xr.DataArray(np.atleast_1d(positions), dims="line")
    )
    x = (at - fit["centre"]) / fit["half_range"]
    powers = xr.DataArray(np.arange(fit.sizes["coefficient"]), dims="coefficient")
    result = (fit["coefficients"] * x**powers).sum("coefficient", skipna=False)
    return result.rename("wavelength").assign_attrs(COORDINATES["wavelength"]._asdict())


def _lines_of(
    positions: Any, wavelengths: Any, uncertainty: Any
) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray | None]:
    """Positions, wavelengths and uncertainties, broadcast to (..., line), all finite."""
    given = {"positions": positions, "wavelengths": wavelengths}
    if uncertainty is not None:
        given["uncertainty"] = uncertainty
    arrays = {}
    for name, value in given.items():
        if isinstance(value, xr.DataArray):
            array = value.drop_attrs(deep=False)
        else:
            array = xr.DataArray(value)
            array = array.rename(dim_0="line") if array.dims == ("dim_0",) else array
        if "line" not in array.dims and (array.ndim or name != "uncertainty"):
            raise GridError(f"{name} are one row of numbers, or an array with the dimension line")
        if not np.isfinite(array).all():
            raise RangeError(f"{name} are finite numbers: leave out lines that were not found")
        arrays[name] = array.astype(float).reset_coords(drop=True)
    if uncertainty is not None and not (arrays["uncertainty"] > 0).all():
        raise RangeError(
            f"an uncertainty of a line is above 0 nm, not {float(arrays['uncertainty'].min()):g} nm"
        )
    try:
        broadcast = xr.broadcast(*xr.align(*arrays.values(), join="exact"))
    except ValueError as error:
        sizes = " and ".join(f"{array.sizes.get('line', 1)} {name}" for name, array in arrays.items())
        raise GridError(f"each line has one position and one wavelength; there are {sizes}") from error
    place, known, *spread = (array.transpose(..., "line") for array in broadcast)
    return place, known, spread[0] if spread else None


def _require_one_way(
    scale: NDArray[np.float64], degree: int, residuals: NDArray[np.float64], known: NDArray[np.float64]
) -> None:
    """Refuse a scale that turns round somewhere on the detector."""
    steps = np.diff(scale, axis=-1)
    upwards = np.median(steps, axis=-1, keepdims=True) > 0
    wrong = np.where(upwards, steps <= 0, steps >= 0)
    if wrong.any():
        where = int(np.flatnonzero(wrong.reshape(-1, wrong.shape[-1]).any(axis=0))[0])
        worst = np.unravel_index(np.abs(residuals).argmax(), residuals.shape)
        raise RangeError(
            f"a scale of degree {degree} through these lines turns round at pixel {where}: either a line was "
            f"taken for another one (look at {known[worst]:g} nm, {abs(residuals[worst]):.3g} nm beside the "
            "scale), or the degree is too high for lines that leave a part of the detector empty"
        )


def _without_lines(extrapolated: NDArray[np.bool_]) -> list[str]:
    """Say which pixels lie outside the lines."""
    if not extrapolated.any():
        return []
    held = np.flatnonzero(~extrapolated)
    ends = [(0, held[0] - 1), (held[-1] + 1, extrapolated.size - 1)]
    where = " and ".join(f"{low}–{high}" for low, high in ends if low <= high)
    return [f"pixels {where} lie outside the lines: there the scale is extrapolated"]


def _odd_lines(
    weight: NDArray[np.float64],
    residuals: NDArray[np.float64],
    leverage: NDArray[np.float64],
    known: NDArray[np.float64],
    freedom: int,
) -> list[str]:
    """Say which lines do not lie where the others put them, and which hold the scale alone."""
    from scipy.special import stdtrit

    leading = tuple(range(residuals.ndim - 1))
    count = residuals.shape[-1]
    beside, held, names = (a.mean(axis=leading) for a in (residuals, leverage, known))
    scaled = beside * weight.mean(axis=leading)
    said = []
    if freedom > 1:
        with np.errstate(divide="ignore", invalid="ignore"):
            own = scaled**2 / (1 - held)  # what the sum of squares loses with the line
            left = np.maximum((scaled**2).sum() - own, 0.0) / (freedom - 1)
            deleted = np.sqrt(own / left)
        odd = (deleted > stdtrit(freedom - 1, 1 - _ODD / 2 / count)) & (np.abs(beside) > _ROUNDING)
        if odd.any():
            worst = int(np.nanargmax(np.where(odd, deleted, -1.0)))
            said.append(
                f"the line at {names[worst]:.4f} nm lies {abs(beside[worst]):.3g} nm beside the scale and "
                "does not go with the others: see whether it is that line, and fit without it"
            )
    else:
        said.append("there is one line more than coefficients: a line taken for another one would not show")
    said += [
        f"the line at {name:.4f} nm holds its end of the scale alone (leverage {share:.2f}): "
        "an error of it would not show"
        for name, share in zip(names, held, strict=True)
        if share > _HOLDS_ALONE
    ]
    return said
