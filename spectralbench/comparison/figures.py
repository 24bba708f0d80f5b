"""The figures of a comparison: what arrives at the bond line, and what it does there."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench import cure, optics, reduction
from spectralbench.comparison.requirement import Requirement
from spectralbench.constants import MICROMOLES_PER_JOULE_NANOMETRE
from spectralbench.corrections import interpolate
from spectralbench.errors import RangeError
from spectralbench.units import declares

_AT_A_TIME = 3_000_000  # samples: sources with many draws go one by one, and do not fill the memory
_SHOWN = 3  # stretches of invalid wavelengths named in full


class Figure(NamedTuple):
    """How a figure is called."""

    units: str
    label: str  # short, for a table
    long_name: str


FIGURES = {
    "peak_wavelength": Figure("nm", "peak of the source", "peak wavelength of the source"),
    "irradiance_at_part": Figure("W m-2", "at the part", "irradiance at the part"),
    "irradiance_at_bond": Figure("W m-2", "through the part", "irradiance through the part"),
    "kept_share": Figure("1", "kept by the part", "share of the light that the part keeps"),
    "band_irradiance": Figure(
        "W m-2", "in the required band", "irradiance in the required band at the bond line"
    ),
    "band_irradiance_in_air": Figure(
        "W m-2", "the same, dry", "irradiance in the required band behind a part whose back face is dry"
    ),
    "absorbed_photons": Figure(
        "umol m-2 s-1", "photons absorbed", "photons absorbed by the initiators in the bond line"
    ),
    "back_by_front": Figure(
        "1", "back against front", "photons absorbed at the back of the bond line, against those at its front"
    ),
    "unused_irradiance": Figure("W m-2", "unused light", "light at the bond line that no initiator uses"),
    "dose_time": Figure("s", "time for the dose", "time to reach the dose in the required band"),
    "photon_time": Figure("s", "time for the photons", "time to absorb the photons of the data sheet's dose"),
    "exposure_time": Figure("s", "exposure", "exposure: the longer of the two times"),
    "setting_today": Figure("1", "setting today", "setting that holds the irradiance today, in steps of 1 %"),
    "end_of_life_output": Figure("1", "left at end of life", "output at the end of life against today"),
    "end_of_life_irradiance": Figure(
        "W m-2", "in band, end of life", "irradiance in the required band at the end of life, at full setting"
    ),
    "setting_at_end": Figure(
        "1", "setting, end of life", "setting that holds the irradiance at the end of life, in steps of 1 %"
    ),
    "hours_left": Figure(
        "h",
        "hours left",
        "hours until full setting no longer gives the irradiance, or the source is replaced",
    ),
    "peak_temperature": Figure(
        "K", "highest temperature", "highest temperature of part and bond line at the end of one exposure"
    ),
    "permitted_time": Figure(
        "s", "bare eye or skin", "time in which the direct beam reaches a day's limit for bare eyes or skin"
    ),
    "electrical_energy": Figure("J", "electrical energy", "electrical energy for one exposure"),
}
"""Figures of a comparison by source, in the order in which the light goes."""


@declares(
    spectrum="W m-2 nm-1",
    transmittance="1",
    absorbance="1",
    bonded="1",
    electrical_power="W",
    exponent="1",
)
def figures_at_bond_line(
    spectrum: xr.DataArray,
    transmittance: xr.DataArray,
    absorbance: xr.DataArray,
    requirement: Requirement,
    bonded: xr.DataArray | None = None,
    electrical_power: xr.DataArray | None = None,
    exponent: xr.DataArray | float = 1.0,
) -> xr.Dataset:
    """Walk each source's light to the bond line and put figures on it.

    Parameters
    ----------
    spectrum : xarray.DataArray (source, ..., wavelength)
        Spectral irradiance at the part [W m-2 nm-1].
    transmittance : xarray.DataArray (part, wavelength)
        Transmittance of each part that the light passes [1].
    absorbance : xarray.DataArray (initiator, wavelength)
        Decadic absorbance of each initiator in the bond line [1].
    requirement : Requirement
        What the light has to do.
    bonded : xarray.DataArray (part, wavelength), optional
        Transmittance of each part [1] where the last one's back face is wetted by the adhesive:
        then it counts, and the one measured in air is shown beside it.
    electrical_power : xarray.DataArray (source,), optional
        Electrical power while the source is on [W].
    exponent : xarray.DataArray (...) or float
        Reciprocity exponent of the adhesive [1]: 1 asks for equal absorbed photons.

    Returns
    -------
    xarray.Dataset
        Figures (source, ...), named as in `FIGURES`, with units; NaN where not known.
        ``photons_by_initiator`` (source, initiator, ...) says which initiator takes them, and
        ``invalid`` (source) says which wavelengths hold pixels that are not valid.

    Raises
    ------
    RangeError
        If the band or the data sheet's wavelength lies outside the spectra.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    The data sheet states an irradiance and a dose for one wavelength. Taken at their word,
    they make the initiators absorb a number of photons; a source of another wavelength is held
    against that number (equal absorbed photons, after Neumann et al., J. Dent. 33 (2005) 525),
    raised to a power where the adhesive is not reciprocal (`spectralbench.carried_over_time`).

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 365.0, 366.0]}
    >>> light = xr.DataArray([[10.0, 10.0, 10.0]], grid, ("source", "wavelength"))
    >>> one = xr.DataArray([[0.5, 0.5, 0.5]], grid, ("part", "wavelength"))
    >>> film = one.rename(part="initiator")
    >>> figures = figures_at_bond_line(light, one, film, Requirement(364, 366, 1.0, 20.0))
    >>> figures.band_irradiance.item(), figures.dose_time.item()
    (10.0, 2.0)
    """
    dry = _layers(transmittance)
    layers = dry if bonded is None else _layers(bonded)
    film = absorbance.sum("initiator", skipna=False)
    count = absorbance.sizes["initiator"]
    shares = [cure.absorbed_share(film, absorbance.isel(initiator=i, drop=True)) for i in range(count)]
    count = spectrum.sizes["source"]
    some = max(1, _AT_A_TIME * count // spectrum.size)
    walked = [
        _walked(spectrum.isel(source=slice(i, i + some)), layers, dry, shares, requirement)
        for i in range(0, count, some)
    ]
    light = xr.concat(walked, "source", coords="minimal", compat="override", combine_attrs="drop_conflicts")
    at_part, behind, in_band = (light[name] for name in ("at_part", "behind", "in_band"))
    photons, used = light["photons"].sum("initiator", skipna=False), light["used"]
    photons.attrs = {"units": "umol m-2 s-1"}
    required = _required_photons(requirement, film)
    dose_time, photon_time, exposure = exposure_times(in_band, photons, required, requirement, exponent)
    power = xr.full_like(in_band, np.nan) if electrical_power is None else electrical_power
    values = {
        "peak_wavelength": light["peak"],
        "irradiance_at_part": at_part,
        "irradiance_at_bond": behind,
        "kept_share": 1 - behind / at_part,
        "band_irradiance": in_band,
        "absorbed_photons": photons,
        "unused_irradiance": behind - used,
        "dose_time": dose_time,
        "photon_time": photon_time,
        "exposure_time": exposure,
        "electrical_energy": power * exposure,
    }
    if bonded is not None:
        values["band_irradiance_in_air"] = light["in_air"]
    result = xr.Dataset(values)
    for name in values:
        comment = {key: text for key, text in values[name].attrs.items() if key == "comment"}
        result[name].attrs = FIGURES[name]._asdict() | comment
    result["photons_by_initiator"] = light["photons"].assign_coords(absorbance.coords["initiator"].coords)
    result["required_photons"] = required
    result["reciprocity"] = xr.DataArray(exponent)
    result["invalid"] = _invalid(spectrum)
    return result


def exposure_times(
    in_band: xr.DataArray,
    photons: xr.DataArray,
    required: xr.DataArray,
    requirement: Requirement,
    exponent: xr.DataArray | float = 1.0,
) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """How long it takes to reach the dose, and to absorb the photons of the data sheet's dose.

    Parameters
    ----------
    in_band : xarray.DataArray (...)
        Irradiance in the required band at the bond line [W m-2].
    photons : xarray.DataArray (...)
        Photons that the initiators absorb [µmol m-2 s-1].
    required : xarray.DataArray (...)
        Photons that they absorb under the data sheet's own condition [µmol m-2 s-1]; NaN if it
        names none.
    requirement : Requirement
        What the light has to do.
    exponent : xarray.DataArray (...) or float
        Reciprocity exponent of the adhesive [1].

    Returns
    -------
    tuple of xarray.DataArray (...)
        Time for the dose, time for the photons, and the longer of both [s]; infinite where nothing
        arrives, NaN where something is not known. Without required photons the dose decides.

    Examples
    --------
    >>> light, unknown = xr.DataArray([10.0, 0.0]), xr.DataArray(float("nan"))
    >>> exposure_times(light, light, unknown, Requirement(364, 366, 1.0, 20.0))[2].values.tolist()
    [2.0, inf]
    """
    with np.errstate(divide="ignore", invalid="ignore"):  # where nothing arrives, the time is infinite
        dose_time = requirement.dose / in_band.where(~(in_band <= 0), 0)
    known_time = requirement.dose / requirement.minimum_irradiance
    photon_time = cure.carried_over_time(required, known_time, photons.clip(min=0), exponent)
    if not required.notnull().any():
        return dose_time, photon_time, dose_time
    # a draw in which the photons are not known has no exposure either
    return dose_time, photon_time, xr.DataArray(np.maximum(*xr.broadcast(dose_time, photon_time)))


def back_by_front(
    spectrum: xr.DataArray, transmittance: xr.DataArray, absorbance: xr.DataArray
) -> xr.DataArray:
    """How the back of the bond line fares against its front.

    Parameters
    ----------
    spectrum : xarray.DataArray (source, ..., wavelength)
        Spectral irradiance at the part [W m-2 nm-1].
    transmittance : xarray.DataArray (part, ..., wavelength)
        Transmittance of each part [1].
    absorbance : xarray.DataArray (initiator, ..., wavelength)
        Decadic absorbance of each initiator in the bond line [1].

    Returns
    -------
    xarray.DataArray (source,)
        Photons absorbed at the back against those at the front [1], from the means of the draws.

    Raises
    ------
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 365.0, 366.0]}
    >>> light = xr.DataArray([[10.0, 10.0, 10.0]], grid, ("source", "wavelength"))
    >>> film = xr.DataArray([[1.0, 1.0, 1.0]], grid, ("initiator", "wavelength"))
    >>> round(back_by_front(light, film.rename(initiator="part") * 0.5, film).item(), 9)
    0.1
    """
    light, parts, films = (
        array.mean("draw", keep_attrs=True) if "draw" in array.dims else array
        for array in (spectrum, transmittance, absorbance)
    )
    film = films.sum("initiator", skipna=False)
    ratio = cure.front_and_back(optics.through(light, *_layers(parts)), film, 1.0)["back_by_front"]
    return ratio.drop_attrs().assign_attrs(FIGURES["back_by_front"]._asdict())


def _layers(transmittance: xr.DataArray) -> list[xr.DataArray]:
    return [transmittance.isel(part=i, drop=True) for i in range(transmittance.sizes["part"])]


def _walked(
    spectrum: xr.DataArray,
    layers: list[xr.DataArray],
    dry: list[xr.DataArray],
    shares: list[xr.DataArray],
    requirement: Requirement,
) -> xr.Dataset:
    """What arrives of some sources, and what is absorbed of it."""
    at_bond = optics.through(spectrum, *layers)
    absorbed = [optics.taken(at_bond, share).assign_attrs(units="W m-2 nm-1") for share in shares]
    first, last = (float(spectrum.coords["wavelength"][i]) for i in (0, -1))
    low, high = requirement.low, requirement.high
    in_band = reduction.band_irradiance(at_bond, low, high)
    in_air = in_band
    if dry is not layers:
        in_air = reduction.band_irradiance(optics.through(spectrum, *dry), low, high)
    return xr.Dataset(
        {
            "peak": reduction.peak_wavelength(spectrum),
            "at_part": reduction.band_irradiance(spectrum, first, last),
            "behind": reduction.band_irradiance(at_bond, first, last),
            "in_band": in_band,
            "in_air": in_air,
            "photons": xr.concat(
                [reduction.photon_irradiance(a, first, last) for a in absorbed], "initiator"
            ),
            "used": sum(reduction.band_irradiance(a, first, last) for a in absorbed),
        }
    )


def _required_photons(requirement: Requirement, film: xr.DataArray) -> xr.DataArray:
    """Photons that the initiators absorb under the data sheet's own condition [µmol m-2 s-1]."""
    wavelength = requirement.data_sheet_wavelength
    said = {"units": "umol m-2 s-1", "long_name": "photons absorbed under the data sheet's condition"}
    if wavelength is None:
        return xr.DataArray(np.nan, attrs=said)
    grid = film.coords["wavelength"].values
    if not grid[0] <= wavelength <= grid[-1]:
        raise RangeError(
            f"the data sheet's wavelength {wavelength:g} nm lies outside the spectra, which cover "
            f"{grid[0]:g}–{grid[-1]:g} nm"
        )
    share = cure.absorbed_share(interpolate(film, [wavelength]).isel(wavelength=0, drop=True))
    photons = requirement.minimum_irradiance * wavelength * MICROMOLES_PER_JOULE_NANOMETRE * share
    return photons.where(photons > 0).drop_attrs().assign_attrs(said)


def _invalid(spectrum: xr.DataArray) -> xr.DataArray:
    """Where each source's spectrum has samples that are not valid, in words."""
    bad = spectrum.isnull()
    others = [d for d in bad.dims if d not in ("source", "wavelength")]
    bad = bad.any(others).transpose("source", "wavelength")
    grid = spectrum.coords["wavelength"].values
    return xr.DataArray([_runs(grid, row) for row in bad.values], {"source": bad.coords["source"]})


def _runs(grid: np.ndarray, bad: np.ndarray) -> str:
    """Stretches of wavelengths in words: ``435.0–436.6 nm, 545.9–546.4 nm``."""
    where = np.flatnonzero(bad)
    if where.size == 0:
        return ""
    runs = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1)
    words = [f"{grid[run[0]]:.1f}–{grid[run[-1]]:.1f} nm" for run in runs]
    return ", ".join(words[:_SHOWN]) + (f" and {len(words) - _SHOWN} more" if len(words) > _SHOWN else "")
