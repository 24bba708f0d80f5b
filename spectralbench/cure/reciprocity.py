"""Reciprocity: how time makes up for irradiance, and an exposure carried over by it."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.cure.ranges import require_not_negative, require_positive
from spectralbench.cure.trials import paired
from spectralbench.draws import Seed
from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.straight_lines import drawn, line_through
from spectralbench.units import declares

LARGEST_EXPONENT = 1.5
"""No reciprocity of a light-started reaction is that steep (common practice, no source)."""

FAR = 3.0
"""Ratio of rates beyond which a carried-over time says how it leans on the exponent (common practice)."""


@declares("s", known_photons="umol m-2 s-1", known_time="s", photons="umol m-2 s-1", exponent="1")
def carried_over_time(
    known_photons: xr.DataArray | float | str,
    known_time: xr.DataArray | float | str,
    photons: xr.DataArray | float | str,
    exponent: xr.DataArray | float | str = 1.0,
) -> xr.DataArray:
    """Time under one source that matches a known exposure under another.

    Parameters
    ----------
    known_photons : xarray.DataArray (...), float or str
        Photons absorbed in the bond line under the exposure that is known to do
        [µmol m-2 s-1], as from `absorbed_photons`: the data sheet's, or one of the user's own.
    known_time : xarray.DataArray (...), float or str
        How long that exposure takes [s].
    photons : xarray.DataArray (...), float or str
        Photons absorbed under the other source [µmol m-2 s-1].
    exponent : xarray.DataArray (...), float or str
        Reciprocity exponent p [1], above 0 and up to 1.5. 1 asks for equal absorbed photons.
        Draws of it, or those of `fit_reciprocity`, give the time its interval.

    Returns
    -------
    xarray.DataArray (...)
        Time [s]; infinite where nothing is absorbed. Beyond a ratio of rates of 3 its
        ``comment`` says how strongly it leans on the exponent.

    Raises
    ------
    RangeError
        If photons or time are negative, the known exposure makes nothing absorb, or the
        exponent lies outside its range.
    UnitsError
        If a unit is of another kind.

    Notes
    -----
    Equal (absorbed rate)^p × time, Schwarzschild's form of reciprocity, which a review of many
    materials found to do (J. W. Martin, J. W. Chin and T. Nguyen, Prog. Org. Coat. 47 (2003)
    292, abstract). In a steady state, radicals that end in pairs give p = ½, and radicals that
    end each on its own give 1 (derived: as many end as start). Equal photons are therefore no
    law: methacrylates at 3 and at 24 mW/cm² ended at 64 ± 2 % and 78 ± 1 % of conversion
    (abstract of "The reciprocity law concerning light dose relationships applied to
    BisGMA/TEGDMA photopolymers"). A time is where a trial begins.

    Examples
    --------
    >>> time = carried_over_time(100.0, "10 s", 1000.0, exponent=0.5)
    >>> round(float(time), 4)
    3.1623
    >>> time.comment
    'the absorbed rate is 10 times the known one; an exponent that is off by 0.1 changes the time 1.26 times'
    """
    known, seconds, rate, power = (xr.DataArray(x) for x in (known_photons, known_time, photons, exponent))
    require_positive("known photons", known, "umol m-2 s-1")
    require_not_negative("known time", seconds, "s")
    require_not_negative("photons", rate, "umol m-2 s-1")
    if ((power <= 0) | (power > LARGEST_EXPONENT)).any():
        wrong = power.values[(power.values <= 0) | (power.values > LARGEST_EXPONENT)][0]
        raise RangeError(
            f"a reciprocity exponent lies above 0 and up to {LARGEST_EXPONENT:g}, not at {wrong:g}; "
            "1 asks for equal photons"
        )
    ratio = rate / known
    with np.errstate(divide="ignore", invalid="ignore"):
        time = (seconds * ratio**-power).where(~(rate == 0), np.inf)  # nothing is never enough
    time = time.rename(None).drop_attrs(deep=False)
    comment = _leaning(ratio)
    time = time.assign_attrs({"comment": comment} if comment else {}, long_name="exposure time, carried over")
    low, high = float(power.min()), float(power.max())
    said = f"{low:g}" if low == high else f"{low:.3g}–{high:.3g} over the draws"
    return noted(time, f"carried over by equal (absorbed rate)^p × time, p = {said}")


def _leaning(ratio: xr.DataArray) -> str:
    """How strongly a time leans on the exponent, if the rates lie far apart."""
    ratio = ratio.median("draw") if "draw" in ratio.dims else ratio  # a single draw says nothing
    known = ratio.values[np.isfinite(ratio.values) & (ratio.values > 0)]
    if not known.size:
        return ""
    furthest = float(known.flat[np.abs(np.log(known)).argmax()])
    if 1 / FAR <= furthest <= FAR:
        return ""
    up_to = "" if known.min() == known.max() else "up to " if furthest > 1 else "down to "
    times = max(furthest, 1 / furthest) ** 0.1
    return (
        f"the absorbed rate is {up_to}{furthest:.3g} times the known one; "
        f"an exponent that is off by 0.1 changes the time {times:.3g} times"
    )


@declares(irradiance="*", time="s")
def fit_reciprocity(
    irradiance: xr.DataArray | ArrayLike,
    time: xr.DataArray | ArrayLike,
    draws: int = 0,
    seed: Seed = None,
    coverage: float = 0.95,
) -> xr.Dataset:
    """Fit the reciprocity exponent to pairs of irradiance and time of equal effect.

    Parameters
    ----------
    irradiance : array_like (n,) or xarray.DataArray ([draw,] n)
        Irradiances, or absorbed photons [any unit], of one source: only their ratios count.
    time : array_like (n,) or xarray.DataArray (..., n)
        Times that had the same effect in the user's own test [s].
    draws : int
        Draws of the exponent from what the scatter leaves open; with 0, the estimate alone.
    seed : int, sequence of int or numpy.random.Generator, optional
        The same seed gives the same draws.
    coverage : float
        Probability that the interval covers.

    Returns
    -------
    xarray.Dataset
        ``exponent`` (...) [1], with draws if they were asked for; of the estimate,
        ``exponent_uncertainty``, ``low`` and ``high`` [1]; ``residual`` (..., n), relative, of
        the times [1]; ``least`` and ``most``, the irradiances that the fit rests on.

    Raises
    ------
    RangeError
        If there are fewer than three different irradiances, a value is not above 0, the
        coverage lies outside 0–1, or the exponent outside the range of `carried_over_time`.

    Notes
    -----
    The logarithm of time against that of irradiance by least squares; its slope is -p. The
    interval is Student's with n - 2 degrees of freedom, the draws are those of
    JCGM 101:2008, 6.4.9, without exponents out of range.

    Examples
    --------
    >>> fit = fit_reciprocity([10.0, 40.0, 90.0], [60.0, 31.0, 20.0])
    >>> [round(float(fit[name]), 2) for name in ("exponent", "low", "high")]
    [0.5, 0.28, 0.71]
    """
    from scipy.special import stdtrit

    if not 0 < coverage < 1:
        raise RangeError(f"a coverage lies between 0 and 1, not at {coverage:g}")
    light, seconds, along = paired(irradiance, time, ("irradiance", "time"))
    line = line_through(xr.DataArray(np.log(light)), xr.DataArray(np.log(seconds)), along)
    exponent = -line.slope
    if not ((exponent > 0) & (exponent <= LARGEST_EXPONENT)).all():
        wrong = exponent.values[~((exponent.values > 0) & (exponent.values <= LARGEST_EXPONENT))][0]
        raise RangeError(
            f"these pairs give a reciprocity exponent of {wrong:.3g}; above 0 and up to "
            f"{LARGEST_EXPONENT:g} is expected: check that every pair had the same effect"
        )
    reach = float(stdtrit(line.freedom, (1 + coverage) / 2)) * line.slope_error
    random = np.random.default_rng(seed)
    taken = drawn(line, draws, random, low=-LARGEST_EXPONENT, high=0.0) if draws else line
    values = {
        "exponent": -taken.slope,
        "exponent_uncertainty": line.slope_error,
        "low": exponent - reach,
        "high": exponent + reach,
        "residual": xr.DataArray(np.expm1(line.residual)),
    }
    names = {
        "exponent": "reciprocity exponent",
        "exponent_uncertainty": "standard uncertainty",
        "low": f"lower end of the {coverage:.3g} interval",
        "high": f"upper end of the {coverage:.3g} interval",
        "residual": "time by that of the fit, less 1",
    }
    result = xr.Dataset({name: array.drop_attrs(deep=False) for name, array in values.items()})
    for name, long_name in names.items():
        result[name].attrs = {"units": "1", "long_name": long_name}
    for name, end in {"least": light.min(along), "most": light.max(along)}.items():
        result[name] = end.drop_attrs(deep=False).assign_attrs(long_name=f"{name} irradiance of the fit")
        if light.attrs.get("units"):
            result[name].attrs["units"] = light.attrs["units"]
    return result
