"""Emission lines in air, and where an instrument of a given bandwidth sees them."""

from __future__ import annotations

import warnings

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.curves.files import ExtrapolationWarning, find, warn_of_memory
from spectralbench.curves.tables import dataset
from spectralbench.errors import GridError, RangeError, quote
from spectralbench.model import COORDINATES
from spectralbench.units import convert, declares

Vector = NDArray[np.float64]

_SHORTEST, _LOW, _HIGH = 185.0, 230.0, 1690.0  # nm; below the first no formula, the others its range
_SAME = 1e-3  # of the bandwidth: lines that climb to within it climb to one peak
_CLEAN = 1.25  # widths of a single line; a blend that is wider has no top to speak of
_ROUNDS = 20_000  # of a climb; near the bandwidth at which two peaks merge it is slow


def lines(name: str) -> xr.Dataset:
    """Emission lines of a low-pressure lamp.

    Parameters
    ----------
    name : str
        ``"mercury"``, ``"argon"`` or ``"neon"``: a name from ``names("lines")``.

    Returns
    -------
    xarray.Dataset (wavelength,)
        Along the wavelength in air [nm]: ``vacuum_wavelength`` and ``uncertainty``, its standard
        uncertainty [nm], and ``strength`` [1], relative and no more than a guide.

    Raises
    ------
    RangeError
        If there is no list of that name.

    Examples
    --------
    >>> mercury = lines("mercury")
    >>> mercury.sel(wavelength=slice(404, 405)).wavelength.values.tolist()
    [404.6565]
    """
    found = find("lines", name)
    warn_of_memory(found, f"the lines of {found.name}")
    result = dataset(found)
    result.coords["wavelength"].attrs.update(COORDINATES["wavelength"]._asdict())
    return result


@declares(fwhm="nm")
def effective_lines(
    reference_lines: xr.Dataset,
    fwhm: float | str,
    method: str = "peak",
    strength_uncertainty: float = 0.3,
) -> xr.Dataset:
    """Lines as an instrument of a given bandwidth sees them: what it cannot part is one line.

    Parameters
    ----------
    reference_lines : xarray.Dataset (wavelength,)
        Lines with ``strength`` [1] and ``uncertainty`` [nm], such as `lines` gives.
    fwhm : float or str
        Full width at half maximum of a single line [nm]; the line is taken as a Gaussian.
    method : str
        ``"peak"``: the wavelength of the highest point of the sum, which suits positions from
        `find_lines`. ``"centroid"``: the mean weighted by strength, which suits centroids.
    strength_uncertainty : float
        Relative standard uncertainty of each strength [1]. Lamps differ; 0.3 is a judgement
        without a source.

    Returns
    -------
    xarray.Dataset (wavelength,)
        Along the effective wavelength [nm]: ``uncertainty`` [nm], ``strength`` [1] of all members,
        ``members``, their wavelengths in words, ``fwhm`` [nm], and ``clean``, false where the line is
        so much wider than a single one that no method places it well.

    Raises
    ------
    RangeError
        If the bandwidth or a strength is not positive, strengths are missing, or the method is
        unknown.
    UnitsError
        If the wavelengths are in a unit that is no length.

    Notes
    -----
    Each line climbs the sum of all Gaussians to the peak that it belongs to (mean shift: Fukunaga
    and Hostetler, IEEE Trans. Inf. Theory 21 (1975) 32), so a weak line on the flank of a strong
    one counts with it. The uncertainty joins that of the wavelengths with that of the strengths by
    the law of propagation (JCGM 100:2008, equation 10).

    Examples
    --------
    >>> near = effective_lines(lines("mercury").sel(wavelength=slice(400, 440)), 2.0)
    >>> near.members.values.tolist()
    ['404.6565', '407.7837', '435.8335 + 434.7494']
    """
    width = float(fwhm)
    if method not in ("peak", "centroid"):
        raise RangeError(f"a method is peak or centroid, not {quote(method)}")
    if not (width > 0 and strength_uncertainty >= 0):
        raise RangeError(
            "a bandwidth above 0 nm and an uncertainty of strengths of 0 or more are needed, not "
            f"{width:g} nm and {strength_uncertainty:g}"
        )
    if "strength" not in reference_lines:
        raise RangeError("lines without a variable strength cannot be merged: say how strong each is")
    at = _nanometres(reference_lines["wavelength"])
    strength = np.asarray(reference_lines["strength"].values, dtype=float)
    if not (strength > 0).all():
        worst = at[~(strength > 0)][0]
        raise RangeError(f"the line at {worst:g} nm has no strength above 0: leave it out, or give it one")
    known = _nanometres(reference_lines["uncertainty"]) if "uncertainty" in reference_lines else 0 * at
    sigma = width / np.sqrt(8 * np.log(2))
    tops = _climb(at, strength, sigma)
    order = np.argsort(tops)
    groups = np.split(order, np.flatnonzero(np.diff(tops[order]) > _SAME * width) + 1)
    seen, spread, sums, members, widths = [], [], [], [], []
    for group in groups:
        own = group[np.argsort(-strength[group])]
        if method == "centroid":
            share = strength[own] / strength[own].sum()
            place = float(share @ at[own])
            by_strength, by_place = share * (at[own] - place), share
            known_here = known[own]
        else:
            place = float(tops[group].mean())
            by_strength, by_place = _slopes(place, at, strength, sigma)
            known_here = known
        seen.append(place)
        spread.append(
            float(np.sqrt(((strength_uncertainty * by_strength) ** 2).sum() + (by_place**2) @ known_here**2))
        )
        widths.append(_width(float(tops[group].mean()), at, strength, sigma))
        sums.append(strength[own].sum())
        members.append(" + ".join(f"{line:.10g}" for line in at[own]))
    result = xr.Dataset(
        {
            "uncertainty": ("wavelength", spread, {"units": "nm"}),
            "strength": ("wavelength", sums, {"units": "1"}),
            "members": ("wavelength", np.array(members)),
            "fwhm": ("wavelength", widths, {"units": "nm"}),
            "clean": ("wavelength", np.array(widths) < _CLEAN * width),
        },
        {"wavelength": ("wavelength", seen, COORDINATES["wavelength"]._asdict())},
        attrs=dict(reference_lines.attrs),
    )
    before = reference_lines.attrs.get("history", "")
    step = f"merged what {width:g} nm cannot part: effective wavelength by {method}"
    return result.assign_attrs(history=f"{before}\n{step}" if before else step).sortby("wavelength")


def _climb(at: Vector, strength: Vector, sigma: float) -> Vector:
    """The peak (line,) of the sum of Gaussians to which each line climbs."""
    here = at.copy()
    for _ in range(_ROUNDS):
        pull = strength * np.exp(-(((here[:, None] - at) / sigma) ** 2) / 2)
        there = (pull @ at) / pull.sum(axis=1)
        step = np.abs(there - here).max()
        here = there
        if step < 1e-9 * sigma:
            break
    return here


def _slopes(peak: float, at: Vector, strength: Vector, sigma: float) -> tuple[Vector, Vector]:
    """How a peak moves with the relative strength (line,) [nm] and the place (line,) [1] of each line."""
    offset = (at - peak) / sigma
    weight = strength * np.exp(-(offset**2) / 2)
    bend = (weight * (1 - offset**2)).sum()  # minus the curvature of the sum, times sigma²
    return sigma * weight * offset / bend, weight * (1 - offset**2) / bend


def _width(peak: float, at: Vector, strength: Vector, sigma: float) -> float:
    """Full width at half maximum of a peak of the sum [nm], to a thousandth of a single line's."""
    width = sigma * np.sqrt(8 * np.log(2))
    offset = np.linspace(0, 5, 5001) * width
    total = 0.0
    for side in (peak - offset, peak + offset):
        height = np.exp(-(((side[:, None] - at) / sigma) ** 2) / 2) @ strength
        total += offset[int(np.argmax(height < height[0] / 2))]
    return total


def _nanometres(array: xr.DataArray) -> Vector:
    """Values [nm] of an array that may be in another unit of length."""
    units = str(array.attrs.get("units") or "nm")
    return np.asarray(convert(array.values.astype(float), units, "nm"))


@declares("nm", wavelength="nm")
def vacuum_to_air(wavelength: ArrayLike | xr.DataArray | str) -> xr.DataArray:
    """Wavelength in standard air of a wavelength in vacuum.

    Parameters
    ----------
    wavelength : array_like ([line]), xarray.DataArray (...) or str
        Wavelength in vacuum [nm].

    Returns
    -------
    xarray.DataArray (...)
        Wavelength in air [nm] at 15 °C, 101.325 kPa, with 450 ppm of carbon dioxide; a plain row
        of numbers gets the dimension ``line``.

    Raises
    ------
    RangeError
        If a wavelength is below 185 nm, where wavelengths are given in vacuum.
    GridError
        If plain wavelengths have more than one dimension.

    Warns
    -----
    ExtrapolationWarning
        If a wavelength lies outside 230–1690 nm, the range of the formula.

    Notes
    -----
    Ciddor, Appl. Opt. 35 (1996) 1566, equation 1.

    Examples
    --------
    >>> round(vacuum_to_air(365.1198).item(), 4)
    365.0158
    """
    if isinstance(wavelength, xr.DataArray):
        given = wavelength
    else:
        plain = np.asarray(wavelength, dtype=float)
        if plain.ndim > 1:
            raise GridError(
                f"plain wavelengths are one number or one row of them, not {plain.ndim} dimensions"
            )
        given = xr.DataArray(plain, dims=("line",)[: plain.ndim])
    values = given.values.astype(float)
    if (values < _SHORTEST).any():
        raise RangeError(
            f"below {_SHORTEST:g} nm wavelengths are given in vacuum: {np.nanmin(values):g} nm has no other"
        )
    if (values < _LOW).any() or (values > _HIGH).any():
        warnings.warn(
            f"the formula for the refractive index of air holds for {_LOW:g}–{_HIGH:g} nm, not for all of "
            f"{np.nanmin(values):g}–{np.nanmax(values):g} nm",
            ExtrapolationWarning,
            stacklevel=3,
        )
    wavenumber = 1e6 / values**2  # squared [µm-2]
    index = 1 + 5.792105e-2 / (238.0185 - wavenumber) + 1.67917e-3 / (57.362 - wavenumber)
    result = given.copy(data=values / index).drop_attrs(deep=False)
    return result.assign_attrs(long_name="wavelength in air")
