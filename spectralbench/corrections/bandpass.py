"""The width of the instrument: what its bandpass smears is put back, as far as noise allows."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError, RangeError, quote
from spectralbench.model import noted
from spectralbench.units import convert, declares

Vector = NDArray[np.float64]

_SIGMA = 1 / np.sqrt(8 * np.log(2))  # of a Gaussian, over its full width at half maximum
_MOMENTS = {  # second and fourth, over powers of the full width at half maximum
    "triangle": (1 / 6, 1 / 15),
    "gaussian": (_SIGMA**2, 3 * _SIGMA**4),
    "rectangle": (1 / 12, 1 / 80),
}
_CUT_OFF = 0.05  # of the maximum: a slit function that ends higher has lost its foot


@declares(spectrum="*", fwhm="nm", step="nm")
def correct_bandpass(
    spectrum: xr.DataArray,
    fwhm: float | str | xr.DataArray | None = None,
    shape: str | xr.DataArray = "triangle",
    points: int = 3,
    step: float | str | None = None,
) -> xr.DataArray:
    """Correct a spectrum for the bandpass of the instrument.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Signal or spectrum [any unit].
    fwhm : float or str or xarray.DataArray (...), optional
        Full width at half maximum of the bandpass [nm]; not with a measured slit function.
    shape : str or xarray.DataArray (offset,)
        ``"triangle"``, ``"gaussian"`` or ``"rectangle"``; or the measured picture of one
        narrow line [any unit] over the coordinate ``offset`` [nm]: where it is read, less
        where it is.
    points : int
        3 or 5 samples for each result.
    step : float or str, optional
        Distance of these samples [nm], rounded to the grid; by default the full width at half
        maximum, or one sample of the grid if that is wider.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        The spectrum of a narrower instrument, in the unit given; NaN where one of the samples
        is. The history says how much noise grows.

    Raises
    ------
    RangeError
        If the shape is not known, a width is not positive, `points` is not 3 or 5, both a
        width and a slit function are given or neither, or a slit function is cut off.
    GridError
        If there are too few samples, or a slit function has no ascending offsets.

    Notes
    -----
    Woolliams, Baribeau, Bialek and Cox, Metrologia 48 (2011) 164: from the spectrum are taken
    its derivatives times central moments of the bandpass, up to the second with 3 points and
    up to the fourth with 5. For a triangle and samples as far apart as it is wide, 3 points
    are Stearns and Stearns, Color Res. Appl. 13 (1988) 257, with 1/12 for their 0.083; beyond
    both ends the last value is held, as they do. Derivatives are those of the polynomial
    through the samples on the actual grid. Neighbours closer than the width would be a little
    more exact and far noisier.

    A slit function is taken about its own centroid: that of a line is what the wavelength
    scale has been fitted to, so the shift belongs to the scale, and the history gives it. Its
    skewness counts with 5 points.

    The series helps where features are wider than the bandpass. A line that is narrower stays
    as wide as the instrument; its band integral is right before and after.

    Examples
    --------
    >>> line = xr.DataArray([0.0, 0.0, 1.0, 0.0, 0.0], {"wavelength": [1, 2, 3, 4, 5]}, "wavelength")
    >>> correct_bandpass(line, 1.0).values.round(4).tolist()
    [0.0, -0.0833, 1.1667, -0.0833, 0.0]
    """
    if points not in (3, 5):
        raise RangeError(f"the bandpass is corrected with 3 or 5 points, not {points}")
    moments, said = _moments(fwhm, shape)
    grid = spectrum.coords["wavelength"].values.astype(float)
    wide = np.median(np.sqrt(6 * np.asarray(moments[0])) if fwhm is None else np.asarray(fwhm, dtype=float))
    nominal = float(wide if step is None else step)
    if not nominal > 0:
        raise RangeError(f"a step is longer than 0 nm, not {nominal:g} nm")
    spacing = float(np.median(np.diff(grid))) if grid.size > 1 else nominal
    stride = max(1, round(nominal / spacing))
    reach = points // 2 * stride
    if grid.size < 2 * reach + 1:
        raise GridError(
            f"{points} points {stride * spacing:g} nm apart need {2 * reach + 1} samples, not {grid.size}"
        )
    second, third, fourth = moments
    factors: list[Any] = [-second / 2]
    if points == 5:
        factors += [third / 6, second**2 / 4 - fourth / 24]
    rules = _rules(grid, stride, points)
    last = spectrum.transpose(..., "wavelength")
    padded = np.pad(last.values, [(0, 0)] * (last.ndim - 1) + [(reach, reach)], mode="edge")
    views = [padded[..., k * stride : k * stride + grid.size] for k in range(points)]
    result, kept = last, np.zeros((points, grid.size))
    kept[points // 2] = 1.0
    for order, factor in enumerate(factors, 2):
        if np.any(factor):
            rule = rules[:, :, order].T
            derivative = sum(weight * view for weight, view in zip(rule, views, strict=True))
            result = result + factor * last.copy(data=derivative)
            kept += float(np.mean(factor)) * rule
    noise = float(np.median(np.sqrt((kept**2).sum(axis=0))))
    return noted(
        result.transpose(*spectrum.dims, ...).rename(spectrum.name).assign_attrs(spectrum.attrs),
        f"corrected for the bandpass ({said}) with {points} points {stride * spacing:.3g} nm apart; "
        f"uncorrelated noise grows {noise:.3g} times",
    )


def _moments(fwhm: Any, shape: str | xr.DataArray) -> tuple[tuple[Any, Any, Any], str]:
    """Second, third and fourth central moment, and what the history calls the bandpass."""
    if isinstance(shape, xr.DataArray):
        if fwhm is not None:
            raise RangeError("a measured slit function has its own width: leave out fwhm")
        return _slit_moments(shape)
    if shape not in _MOMENTS:
        raise RangeError(f"there is no bandpass {quote(shape)}; there are {', '.join(_MOMENTS)}")
    if fwhm is None or not np.all(np.asarray(fwhm) > 0):
        raise RangeError(f"a bandpass is wider than 0 nm, not {'unknown' if fwhm is None else np.min(fwhm)}")
    if isinstance(fwhm, xr.DataArray):
        fwhm = fwhm.drop_vars([name for name in fwhm.coords if name not in fwhm.dims]).drop_attrs(deep=False)
    second, fourth = _MOMENTS[shape]
    return (second * fwhm**2, 0.0, fourth * fwhm**4), f"{shape}, {float(np.median(fwhm)):g} nm wide"


def _slit_moments(slit: xr.DataArray) -> tuple[tuple[float, float, float], str]:
    """Central moments of a slit function that is straight between its samples."""
    if slit.dims != ("offset",) or "offset" not in slit.coords or slit.size < 3:
        raise GridError("a slit function has the one dimension offset, with 3 values [nm] or more")
    at = slit.coords["offset"]
    offsets = np.asarray(convert(at.values.astype(float), str(at.attrs.get("units", "nm")), "nm"))
    values = slit.values.astype(float)
    if not (np.isfinite(offsets).all() and np.isfinite(values).all() and (np.diff(offsets) > 0).all()):
        raise GridError("a slit function has finite values over ascending offsets")
    highest = values.max()
    if not highest > 0 or max(values[0], values[-1]) > _CUT_OFF * highest:
        raise RangeError(
            f"a slit function rises from nearly 0 and falls back; this one stands at {values[0]:g} and "
            f"{values[-1]:g} at its ends, with a maximum of {highest:g}: measure it further out"
        )
    nodes, weights = np.polynomial.legendre.leggauss(3)  # exact for what stands below
    half = np.diff(offsets)[:, None] / 2
    x = offsets[:-1, None] + half * (1 + nodes)
    amounts = np.interp(x, offsets, values) * weights * half
    amounts /= amounts.sum()
    centroid = (amounts * x).sum()
    second, third, fourth = ((amounts * (x - centroid) ** n).sum() for n in (2, 3, 4))
    return (float(second), float(third), float(fourth)), (
        f"measured slit function, as wide as a triangle of {np.sqrt(6 * second):.3g} nm; its centroid "
        f"{centroid:+.3g} nm is left to the wavelength scale"
    )


def _rules(grid: Vector, stride: int, points: int) -> Vector:
    """Weights (wavelength, point, order) of the derivatives of the polynomial through the points."""
    reach = points // 2 * stride
    longer = np.pad(grid, reach, mode="reflect", reflect_type="odd")
    places = np.stack([longer[k * stride : k * stride + grid.size] for k in range(points)], axis=-1)
    offsets = places - grid[:, None]
    scale = np.abs(offsets).max(axis=-1)[:, None]
    orders = np.arange(points)
    factorial = np.cumprod(np.maximum(orders, 1))
    powers = (offsets / scale)[:, None, :] ** orders[:, None] / factorial[:, None]
    return np.asarray(np.linalg.inv(powers) / scale[:, :, None] ** orders)
