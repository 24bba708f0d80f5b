"""How long a person may be in the light: an estimate that makes people careful, never a classification."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench import reduction, weightings
from spectralbench.errors import GridError, RangeError
from spectralbench.model import noted
from spectralbench.units import declares

WORKING_DAY = 28_800.0  # s; the limits are set for 8 h


class _Limit(NamedTuple):
    """An exposure allowed up to a time; beyond, the irradiance that gives it in that time is allowed."""

    title: str
    low: float
    high: float
    weighting: str | None
    exposure: float  # J m-2
    until: float  # s
    standing: str
    source: str


_LIMITS = {
    "actinic": _Limit(
        *("actinic ultraviolet, eye and skin", 200.0, 400.0, "actinic", 30.0, WORKING_DAY, "published"),
        "EN 62471:2008 (IEC 62471:2006); ICNIRP, Health Physics 87 (2004) 171",
    ),
    "near_ultraviolet": _Limit(
        *("near ultraviolet, eye", 315.0, 400.0, None, 1e4, WORKING_DAY, "published"),
        "ICNIRP, Health Physics 87 (2004) 171, as quoted in Proc. SPIE 8567 (2013) 85671K; Directive "
        "2006/25/EC, annex I, for 8 h; EN 62471:2008 allows 10 W m-2 beyond 1,000 s, which is milder",
    ),
    "blue_light": _Limit(
        *("blue light, retina, small source", 300.0, 700.0, "blue_light", 100.0, 100.0, "from memory"),
        "the limit from memory; the weighting is that of EN 62471:2008, table 4.2",
    ),
}
_NO_CLASSIFICATION = (
    "an estimate from one spectrum, not a classification of a source: where light may reach a person, local "
    "codes and a qualified person decide, and until then shield the beam and protect eyes and skin"
)


@declares(spectrum="W m-2 nm-1")
def exposure_limits(spectrum: xr.DataArray) -> xr.Dataset:
    """Effective irradiances at a place, and how long an unprotected person may be there in a day.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance where eye or skin would be [W m-2 nm-1], reflections included.

    Returns
    -------
    xarray.Dataset (...)
        ``actinic_irradiance``, ``near_ultraviolet_irradiance`` and ``blue_light_irradiance``
        [W m-2]; ``actinic_time``, ``near_ultraviolet_time`` and ``blue_light_time`` [s], and the
        shortest of them, ``permitted_time`` [s]. None is longer than a working day of 28,800 s
        (8 h), which also stands where a limit is never reached. Each time says in ``attrs``
        from where its limit is, and its ``standing``: that of blue light is from memory.
        ``attrs["comment"]`` says what was not measured, and repeats the spectrum's own comment.
        Of a hazard of which nothing was measured, irradiance and time are NaN, and so is the
        permitted time.

    Raises
    ------
    RangeError
        If the spectrum covers nothing of 200–700 nm.
    GridError, UnitsError
        If the spectrum has a disordered grid, or a unit of another kind.

    Notes
    -----
    After EN 62471:2008 and ICNIRP (Health Physics 87, 2004, 171). Actinic: 30 J m-2 weighted with
    S(λ) over 200–400 nm in 8 h. Near ultraviolet: 10⁴ J m-2 unweighted over 315–400 nm in 8 h
    (Directive 2006/25/EC, annex I); EN 62471 asks for no more than 10 W m-2 beyond 1,000 s, which
    lets 29 times as much pass in a day, and the stricter one counts. Blue light of a source
    that looks small: 100 J m-2 weighted with B(λ) over 300–700 nm up to 100 s, 1 W m-2 beyond. Not
    counted: heat, a source that looks large, a beam seen through optics, infrared, people whose skin
    or eyes are more sensitive, or who were in the light before.

    Examples
    --------
    >>> light = xr.DataArray([1.0, 1.0], {"wavelength": [360.0, 370.0]}, "wavelength") * 1e3
    >>> found = exposure_limits(light)
    >>> float(found.near_ultraviolet_irradiance), float(found.permitted_time)
    (10000.0, 1.0)
    """
    if "wavelength" not in getattr(spectrum, "dims", ()):
        raise GridError("exposure limits need a spectral irradiance with the dimension wavelength")
    grid = np.asarray(spectrum.coords["wavelength"].values, dtype=float)
    lowest, highest = min(x.low for x in _LIMITS.values()), max(x.high for x in _LIMITS.values())
    if not (grid[0] < highest and grid[-1] > lowest):
        raise RangeError(
            f"the spectrum covers {grid[0]:g}–{grid[-1]:g} nm: exposure limits need light measured "
            f"somewhere in {lowest:g}–{highest:g} nm"
        )
    found, comments = {}, [_NO_CLASSIFICATION]
    if caution := spectrum.attrs.get("comment"):
        comments.append(f"of the spectrum: {caution}")
    for name, limit in _LIMITS.items():
        irradiance = _effective(spectrum, grid, limit)
        found[f"{name}_irradiance"] = irradiance
        found[f"{name}_time"] = _time(irradiance, limit)
        if gap := weightings.covered(grid, limit.low, limit.high):
            comments.append(f"{limit.title}: {gap}; what was not measured can only shorten the time")
    times = [found[f"{name}_time"].values for name in _LIMITS]
    shortest = found["actinic_time"].copy(data=np.minimum.reduce(times))  # NaN if one is
    shortest.attrs = {"units": "s", "long_name": "shortest of the permitted times, of 8 h"}
    return xr.Dataset({**found, "permitted_time": shortest}, attrs={"comment": "; ".join(comments)})


@declares("W m-2 nm-1", spectrum="W m-2 nm-1", measured_at="mm", distance="mm", diameter="mm")
def at_distance(
    spectrum: xr.DataArray,
    measured_at: float | str | xr.DataArray,
    distance: float | str | xr.DataArray,
    diameter: float | str | xr.DataArray = 0.0,
) -> xr.DataArray:
    """Spectral irradiance farther from a source than where it was measured.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance measured in front of the source [W m-2 nm-1].
    measured_at : xarray.DataArray (...), float or str
        Distance from the source's exit at which that was [mm].
    distance : xarray.DataArray (...), float or str
        Distance of the person [mm], not shorter.
    diameter : xarray.DataArray (...), float or str
        Diameter of the exit of the source, taken as a disc that shines evenly in all directions
        [mm]; not of its spot at the part. With 0 the source is a point, and with an infinite one its
        light does not thin out.

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Spectral irradiance at the distance [W m-2 nm-1]; ``attrs["comment"]`` says on which
        side it errs.

    Raises
    ------
    RangeError
        If a distance is not positive, the person stands closer than where it was measured, or
        the diameter is negative.
    GridError, UnitsError
        If arrays do not fit together, or a unit is of another kind.

    Notes
    -----
    E goes by 1/(R² + d²) on the axis of a Lambertian disc of radius R, by 1/d² for a point. A wider
    disc sends more of what was measured far away, so a diameter that is too small makes times too
    long, and one that is too large errs on the safe side. Lenses may make a spot smaller than the
    exit: 6 mm instead of 22 mm, from 12 mm to 500 mm, makes times 1.7 times too long. Where irradiance
    falls to 1/q from a distance d to a distance D, the disc that fits has R² = (D² - q d²)/(q - 1); go
    on from D with it.

    The law of the point holds from about five diameters on (common practice, no source): there
    it is 1 % off. When the light was measured nearer, it understates what arrives farther away,
    and so makes times too long: a disc measured at one diameter sends up to a quarter more. A
    beam that lenses or a light guide make narrower than a disc's falls more slowly than either
    law, and may rise towards a focus. So this is a lower limit; measure where people are.

    Examples
    --------
    >>> light = xr.DataArray([8.0], {"wavelength": [365.0]}, "wavelength")
    >>> at_distance(light, "25 mm", "50 mm").item()
    2.0
    """
    near, far, wide = xr.DataArray(measured_at), xr.DataArray(distance), xr.DataArray(diameter)
    if not (near > 0).all():
        raise RangeError(
            f"light is measured at more than 0 mm from a source, not at {float(near.min()):g} mm"
        )
    if not (wide >= 0).all():
        raise RangeError(f"the diameter of a source is not negative; this one is {float(wide.min()):g} mm")
    if not (far >= near).all():
        raise RangeError(
            f"a distance of {float(far.min()):g} mm is closer than the {float(near.max()):g} mm at which the "
            "light was measured, where it may be far stronger: measure there"
        )
    square = (wide / 2) ** 2
    result: xr.DataArray = spectrum / (1 + (far**2 - near**2) / (square + near**2))
    result = result.transpose(..., "wavelength", missing_dims="ignore").rename("spectral_irradiance")
    result.attrs = {
        "long_name": "spectral irradiance",
        "comment": "a lower limit: a source that is larger, or whose beam is narrower than that of a disc, "
        "gives more at a distance",
    }
    law = "inverse square of the distance" if not wide.any() else "disc that shines evenly"
    return noted(result, f"taken to {float(far.mean()):g} mm from {float(near.mean()):g} mm: {law}", spectrum)


def _effective(spectrum: xr.DataArray, grid: weightings.Vector, limit: _Limit) -> xr.DataArray:
    if grid[0] >= limit.high or grid[-1] <= limit.low:
        irradiance = spectrum.isel(wavelength=0, drop=True) * np.nan
        irradiance.attrs = {"units": "W m-2", "comment": weightings.covered(grid, limit.low, limit.high)}
    elif limit.weighting is None:
        irradiance = reduction.band_irradiance(spectrum, limit.low, limit.high)
    else:
        irradiance = reduction.weighted_irradiance(spectrum, limit.weighting)
    irradiance.name = None
    return irradiance.assign_attrs(long_name=f"effective irradiance, {limit.title}")


def _time(irradiance: xr.DataArray, limit: _Limit) -> xr.DataArray:
    values = np.asarray(irradiance.values, dtype=float)
    harmless = values <= limit.exposure / limit.until
    time = np.where(harmless, WORKING_DAY, limit.exposure / np.where(harmless, 1.0, values))
    result = irradiance.copy(data=time)
    result.attrs = {
        "units": "s",
        "long_name": f"permitted time, {limit.title}",
        "source": limit.source,
        "standing": limit.standing,
    }
    return result
