"""The working curve: depth of gel against exposure, in a test of one's own."""

from __future__ import annotations

import re

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.cure.ranges import require_not_negative, require_positive
from spectralbench.cure.trials import paired
from spectralbench.draws import Seed
from spectralbench.errors import RangeError
from spectralbench.straight_lines import drawn, line_through
from spectralbench.units import convert, declares, in_unit, measured

_MEANING = "a depth of gel under the conditions of the test; it says nothing of a bond being cured"
_LEAST = float(np.finfo(float).tiny)

Length = xr.DataArray | ArrayLike | str


@declares(exposure="J m-2", critical_exposure="J m-2")
def cure_depth(
    exposure: xr.DataArray | float | str,
    critical_exposure: xr.DataArray | float | str,
    penetration_depth: Length,
) -> xr.DataArray:
    """Depth of gel that a working curve gives for an exposure.

    Parameters
    ----------
    exposure : xarray.DataArray (...), float or str
        Radiant exposure at the front of the bond line [J m-2]: behind the part, not before it.
    critical_exposure : xarray.DataArray (...), float or str
        Exposure at which gel begins [J m-2], in the same band.
    penetration_depth : xarray.DataArray (...), float or str
        Depth that takes e times the exposure more [any length].

    Returns
    -------
    xarray.DataArray (...)
        Depth in the unit of the penetration depth, and without one if that is a plain number;
        0 up to the critical exposure.

    Raises
    ------
    RangeError
        If the exposure is negative, or one of the others is not above 0.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    P. F. Jacobs, Rapid Prototyping & Manufacturing, SME 1992: D_p ln(E/E_c). Both constants
    belong to one resin, one source and one way of measuring: 24 laboratories found D_p up to 7
    times and E_c up to 70 times apart on one batch (PubMed Central, PMC10986335), and five
    resins at 365 and 405 nm up to 10 times (J. Bennett, Addit. Manuf. 18 (2017) 203). Take
    those of `fit_working_curve`. A depth of gel is no cure.

    Examples
    --------
    >>> depth = cure_depth("50 mJ/cm^2", "10 mJ/cm^2", "100 um")
    >>> round(float(depth), 6), depth.units
    (160.943791, 'um')
    """
    length = _with_its_unit(penetration_depth, "penetration_depth")
    dose, critical = xr.DataArray(exposure), xr.DataArray(critical_exposure)
    require_not_negative("exposure", dose, "J m-2")
    require_positive("critical exposure", critical, "J m-2")
    require_positive("penetration depth", length, length.attrs.get("units", ""))
    with np.errstate(divide="ignore"):  # an exposure of 0 gives a depth of 0
        depth = length * xr.DataArray(np.log(dose / critical)).clip(min=0)
    return _described(depth, "depth of gel", length.attrs.get("units"))


@declares("J m-2", critical_exposure="J m-2")
def exposure_for_depth(
    depth: Length, critical_exposure: xr.DataArray | float | str, penetration_depth: Length
) -> xr.DataArray:
    """Exposure that a working curve asks for a depth of gel.

    Parameters
    ----------
    depth : xarray.DataArray (...), float or str
        Depth of gel [any length]; a plain number is in the unit of the penetration depth.
    critical_exposure : xarray.DataArray (...), float or str
        Exposure at which gel begins [J m-2].
    penetration_depth : xarray.DataArray (...), float or str
        Depth that takes e times the exposure more [any length]; a plain number is in the unit
        of the depth.

    Returns
    -------
    xarray.DataArray (...)
        Radiant exposure at the front of the bond line [J m-2]; for a depth of 0 the critical one.

    Raises
    ------
    RangeError
        If the depth is negative, or one of the others is not above 0.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    The inverse of `cure_depth`, with all that is said there: E_c exp(depth/D_p).

    Examples
    --------
    >>> round(float(exposure_for_depth("0.2 mm", "100 J/m^2", "100 um")), 4)
    738.9056
    """
    deep, length = _with_its_unit(depth, "depth"), _with_its_unit(penetration_depth, "penetration_depth")
    units = length.attrs.get("units") or deep.attrs.get("units") or "*"
    deep, length = in_unit(deep, units, "depth"), in_unit(length, units, "penetration_depth")
    critical = xr.DataArray(critical_exposure)
    require_not_negative("depth", deep, units.strip("*"))
    require_positive("critical exposure", critical, "J m-2")
    require_positive("penetration depth", length, units.strip("*"))
    with np.errstate(over="ignore"):  # no exposure is enough
        exposure = critical * np.exp(deep / length)
    return _described(exposure, "exposure for a depth of gel", "J m-2")


@declares(exposure="J m-2", depth="*")
def fit_working_curve(
    exposure: xr.DataArray | ArrayLike,
    depth: xr.DataArray | ArrayLike,
    draws: int = 0,
    seed: Seed = None,
) -> xr.Dataset:
    """Fit a working curve to depths of gel against exposures.

    Parameters
    ----------
    exposure : array_like (n,) or xarray.DataArray ([draw,] n)
        Radiant exposures [J m-2].
    depth : array_like (n,) or xarray.DataArray (..., n)
        Depths of gel [any length], all above 0.
    draws : int
        Draws of both constants from what the scatter leaves open; with 0, the estimates alone.
    seed : int, sequence of int or numpy.random.Generator, optional
        The same seed gives the same draws.

    Returns
    -------
    xarray.Dataset
        ``penetration_depth`` (...) in the unit of the depths and ``critical_exposure`` (...)
        [J m-2], with draws if they were asked for; their ``penetration_depth_uncertainty`` and
        ``critical_exposure_uncertainty``, standard ones of the estimates; ``residual`` (..., n)
        in the unit of the depths; ``least`` and ``most``, the exposures that the fit rests on
        [J m-2].

    Raises
    ------
    RangeError
        If there are fewer than three different exposures, a value is not above 0, or the depth
        does not grow with the exposure.

    Notes
    -----
    Depth against the logarithm of the exposure by least squares, the semi-logarithmic line of
    Jacobs (see `cure_depth`). The uncertainty of the critical exposure is that of first order
    (JCGM 100:2008, 5.1); where points are few the draws say more: they follow t-distributions
    with n - 2 degrees of freedom (JCGM 101:2008, 6.4.9), without slopes at which no depth would grow.

    Examples
    --------
    >>> fit = fit_working_curve([200.0, 400.0, 800.0], xr.DataArray([70.0, 138.0, 209.0], dims="trial",
    ...                                                     attrs={"units": "um"}), draws=1000, seed=1)
    >>> round(float(fit.penetration_depth_uncertainty), 2), fit.penetration_depth.units
    (1.25, 'um')
    """
    dose, deep, along = paired(exposure, depth, ("exposure", "depth"))
    units = deep.attrs.get("units")
    line = line_through(xr.DataArray(np.log(dose)), deep, along)
    if not (line.slope > 0).all():
        raise RangeError(
            f"the depth does not grow with the exposure: by {float(line.slope.min()):g} {units or ''} for e "
            "times as much, and above 0 is expected; check which depth belongs to which exposure"
        )
    best = xr.DataArray(np.exp(line.centre - line.level / line.slope))
    relative = xr.DataArray(
        np.hypot(line.level_error / line.slope, line.level * line.slope_error / line.slope**2)
    )
    uncertain = best * relative
    if draws:
        taken = drawn(line, draws, np.random.default_rng(seed), low=0.0)
        with np.errstate(under="ignore", over="ignore"):
            best = xr.DataArray(np.exp(line.centre - taken.level / taken.slope)).clip(min=_LEAST)
        line = line._replace(slope=taken.slope.clip(min=_LEAST))
    return xr.Dataset(
        {
            "penetration_depth": _described(line.slope, "penetration depth", units),
            "critical_exposure": _described(best, "exposure at which gel begins", "J m-2"),
            "penetration_depth_uncertainty": _described(line.slope_error, "standard uncertainty", units),
            "critical_exposure_uncertainty": _described(uncertain, "standard uncertainty", "J m-2"),
            "residual": _described(line.residual, "depth less that of the fit", units),
            "least": _described(dose.min(along), "least exposure of the fit", "J m-2"),
            "most": _described(dose.max(along), "most exposure of the fit", "J m-2"),
        }
    )


def _with_its_unit(length: Length, name: str) -> xr.DataArray:
    """A length as an array, in the unit in which it was given."""
    if not isinstance(length, str):
        return in_unit(xr.DataArray(length), "*", name)
    metres = measured(length, "m").value
    pieces = [piece.strip().lstrip("0123456789.eE+- ").strip() for piece in re.split(r"±|\+/?-", length)]
    units = next(piece for piece in pieces if piece not in ("", "%"))
    return xr.DataArray(convert(metres, "m", units), attrs={"units": units})


def _described(array: xr.DataArray, long_name: str, units: str | None) -> xr.DataArray:
    described: xr.DataArray = array.rename(None).drop_attrs(deep=False)
    return described.assign_attrs({"units": units} if units else {}, long_name=long_name, comment=_MEANING)
