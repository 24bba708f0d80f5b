"""The figures of a comparison: what arrives at the bond line, and what it does there."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench import cure, optics, reduction
from spectralbench.comparison.fading import Vector, grouped_irradiance, optical_depth
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.comparison.requirement import Requirement
from spectralbench.constants import MICROMOLES_PER_JOULE_NANOMETRE
from spectralbench.corrections import interpolate
from spectralbench.errors import RangeError
from spectralbench.units import declares

_AT_A_TIME = 3_000_000  # samples: sources with many draws go one by one, and do not fill the memory
_SHOWN = 3  # stretches of invalid wavelengths named in full


@declares(
    spectrum="W m-2 nm-1",
    transmittance="1",
    absorbance="1",
    bonded="1",
    electrical_power="W",
    exponent="1",
    background="1",
    least_lit="1",
    regular="1",
    thickness="m",
    data_sheet_background="1",
)
def figures_at_bond_line(
    spectrum: xr.DataArray,
    transmittance: xr.DataArray,
    absorbance: xr.DataArray,
    requirement: Requirement,
    bonded: xr.DataArray | None = None,
    electrical_power: xr.DataArray | None = None,
    exponent: xr.DataArray | float = 1.0,
    background: xr.DataArray | None = None,
    least_lit: xr.DataArray | None = None,
    regular: xr.DataArray | None = None,
    thickness: xr.DataArray | float | str | None = None,
    data_sheet_background: xr.DataArray | None = None,
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
    background : xarray.DataArray (wavelength,), optional
        Decadic absorbance of resin and pigment in the bond line [1], which takes its share of the
        light and starts nothing.
    least_lit : xarray.DataArray (source,), optional
        Irradiance at the least lit place of the bond against that of the spectrum [1]: what has to
        arrive counts there, what may not be exceeded counts where the spectrum was measured.
    regular : xarray.DataArray (part, wavelength), optional
        Transmittance of each part [1] for light that goes straight on.
    thickness : xarray.DataArray (...), float or str, optional
        Of the bond line [m], for what is absorbed at its back where oxygen sets a threshold.
    data_sheet_background : xarray.DataArray (wavelength,), optional
        What of the background the data sheet's adhesive held too [1]; all of it, if left out.

    Returns
    -------
    xarray.Dataset
        Figures (source, ...), named as in `FIGURES`, with units; NaN where not known.
        ``photons_by_initiator`` (source, initiator, ...) says which initiator takes them,
        ``irradiance_after_parts`` (source, part, ...) [W m-2] how the light fades on its way,
        ``grouped_irradiance`` (source, layer, face, group, ...) [W m-2] the same in groups of wavelengths
        that fade alike in parts and bond line, for `heating`, and
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
    initiators = absorbance.sum("initiator", skipna=False)
    film = initiators if background is None else initiators + background
    each = [absorbance.isel(initiator=i, drop=True) for i in range(absorbance.sizes["initiator"])]
    layers, passing = dry if bonded is None else _layers(bonded), 1 - cure.absorbed_share(film)
    path = _Path(
        layers,
        dry,
        None if regular is None else _layers(regular),
        film,
        initiators,
        [cure.absorbed_share(film, one) for one in each],
        None if background is None else cure.absorbed_share(film, background),
        None if thickness is None else xr.DataArray(thickness),
        passing,
        [optical_depth(layer) for layer in (*layers, passing)],
    )
    light = _walked_in_turns(spectrum, path, requirement)
    outside = spectrum.attrs.get("uncalibrated")
    if outside:  # what has to arrive is at least what arrives within the calibrated range
        least = _walked_in_turns(_within_calibration(spectrum, json.loads(outside)), path, requirement)
        bounds = _known_by_bound(light, least, json.loads(outside))
        light = light.assign({name: least[name] for name in _HAS_TO_ARRIVE & set(map(str, light))})
    if least_lit is not None:
        here = least_lit.drop_attrs(deep=False).fillna(1.0)
        for name in _HAS_TO_ARRIVE & set(map(str, light)):
            light[name] = (light[name] * here).assign_attrs(light[name].attrs)
    behind, in_band = light["behind"], light["in_band"]
    photons = light["photons"].sum("initiator", skipna=False).assign_attrs(units="umol m-2 s-1")
    held = film if data_sheet_background is None else initiators + data_sheet_background
    required = _required_photons(requirement, held, initiators)
    dose_time, photon_time, exposure = exposure_times(in_band, photons, required, requirement, exponent)
    power = xr.full_like(in_band, np.nan) if electrical_power is None else electrical_power
    values = {
        "peak_wavelength": light["peak"],
        "irradiance_at_part": light["at_part"],
        "irradiance_at_bond": behind,
        "kept_share": 1 - behind / light["at_part"],
        "band_irradiance": in_band,
        "absorbed_photons": photons,
        "spectrum_match": light["used"] / behind.where(behind > 0),
        "unused_irradiance": behind - light["used"],
        "dose_time": dose_time,
        "photon_time": photon_time,
        "exposure_time": exposure,
        "electrical_energy": power * exposure,
        "electrical_power": xr.DataArray(power),
    }
    for name, found in _SOMETIMES.items():
        if found in light:
            values[name] = light[found]
    if bonded is not None:
        values["band_irradiance_in_air"] = light["in_air"]
    result = xr.Dataset(values)
    for name in values:
        comment = {key: text for key, text in values[name].attrs.items() if key == "comment"}
        result[name].attrs = FIGURES[name]._asdict() | comment
    result["photons_by_initiator"] = light["photons"].assign_coords(absorbance.coords["initiator"].coords)
    result["irradiance_after_parts"] = light["after"].assign_attrs(units="W m-2")
    result["grouped_irradiance"] = light["grouped"]
    result["required_photons"] = required
    if "photons_at_back" in result:
        result["required_at_back"] = _taken_by_oxygen(requirement, path)
    result["reciprocity"] = xr.DataArray(exponent)
    result["invalid"] = _invalid(spectrum, transmittance, behind.isnull() & light["at_part"].notnull())
    if outside:
        result["invalid"].attrs |= {"uncalibrated": outside, "at_least": bounds}
    return result


def _known_by_bound(light: xr.Dataset, least: xr.Dataset, outside: dict[str, str]) -> str:
    """Which figures of which sources may be more than is known, and what they lack: by source, in JSON."""
    found: dict[str, dict[str, Any]] = {}
    for name, figure in _BOUNDS.items():
        if name in light:
            bound = light[name].isnull() & least[name].notnull()
            for source in map(str, bound["source"].values[bound.any(set(bound.dims) - {"source"}).values]):
                what = outside[source].partition(";")[0]
                found.setdefault(source, {"what": what, "figures": []})["figures"].append(figure)
    return json.dumps(found, ensure_ascii=False)


_BOUNDS = {"in_band": "band_irradiance", "photons": "absorbed_photons", "at_back": "photons_at_back"}
_HAS_TO_ARRIVE = {"in_band", "in_air", "straight", "photons", "at_back"}
"""What counts at the least lit place of the bond."""

_SOMETIMES = {
    "band_irradiance_regular": "straight",
    "lost_irradiance": "lost",
    "photons_at_back": "at_back",
}
"""Figures that not every bench has."""


class _Path(NamedTuple):
    """What the light of every source meets."""

    layers: list[xr.DataArray]  # transmittance of the parts, the last one as it is bonded
    dry: list[xr.DataArray]
    regular: list[xr.DataArray] | None
    film: xr.DataArray  # absorbance of the whole bond line
    initiators: xr.DataArray  # absorbance of all of them together
    shares: list[xr.DataArray]  # of the light that each of them takes
    lost: xr.DataArray | None  # share that resin and pigment take
    thickness: xr.DataArray | None  # of the bond line [m]
    passing: xr.DataArray  # transmittance of the bond line
    depths: list[Vector]  # optical depth of each part and of the bond line


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


def _layers(transmittance: xr.DataArray) -> list[xr.DataArray]:
    return [transmittance.isel(part=i, drop=True) for i in range(transmittance.sizes["part"])]


def _within_calibration(spectrum: xr.DataArray, outside: Mapping[str, str]) -> xr.DataArray:
    """The spectra with nothing in the place of the marks at the ends of those that go on beyond."""
    grid = spectrum.coords["wavelength"]
    ends = (grid == grid[0]) | (grid == grid[-1])
    goes_on = spectrum.coords["source"].isin(list(outside))
    return spectrum.where(~(goes_on & ends & spectrum.isnull()), 0.0).assign_attrs(spectrum.attrs)


def _walked_in_turns(spectrum: xr.DataArray, path: _Path, requirement: Requirement) -> xr.Dataset:
    """What arrives of all sources, some of them at a time."""
    count = spectrum.sizes["source"]
    some = max(1, _AT_A_TIME * count // spectrum.size)
    walked = [
        _walked(spectrum.isel(source=slice(i, i + some)), path, requirement) for i in range(0, count, some)
    ]
    return xr.concat(walked, "source", coords="minimal", compat="override", combine_attrs="drop_conflicts")


def _walked(spectrum: xr.DataArray, path: _Path, requirement: Requirement) -> xr.Dataset:
    """What arrives of some sources, and what is absorbed of it."""
    first, last = (float(spectrum.coords["wavelength"][i]) for i in (0, -1))
    low, high = requirement.low, requirement.high

    def whole(light: xr.DataArray) -> xr.DataArray:
        return reduction.band_irradiance(light, first, last)

    def absorbed(share: xr.DataArray) -> xr.DataArray:
        return optics.taken(at_bond, share).assign_attrs(units="W m-2 nm-1")

    light = [spectrum]
    for layer in path.layers:
        light.append(optics.through(light[-1], layer))
    at_bond, after = light[-1], [whole(one) for one in light[1:]]
    used = [absorbed(share) for share in path.shares]
    found = {
        "peak": reduction.peak_wavelength(spectrum),
        "at_part": whole(spectrum),
        "behind": after[-1],
        "after": xr.concat(after, "part"),
        "in_band": (in_band := reduction.band_irradiance(at_bond, low, high)),
        "in_air": in_band,
        "photons": xr.concat([reduction.photon_irradiance(a, first, last) for a in used], "initiator"),
        "used": sum(whole(a) for a in used),
        "grouped": grouped_irradiance([*light, at_bond * path.passing.astype(at_bond.dtype)], path.depths),
    }
    if path.dry is not path.layers:
        found["in_air"] = reduction.band_irradiance(optics.through(spectrum, *path.dry), low, high)
    if path.regular is not None:
        found["straight"] = reduction.band_irradiance(optics.through(spectrum, *path.regular), low, high)
    if path.lost is not None:
        found["lost"] = whole(absorbed(path.lost))
    if requirement.oxygen_threshold is not None and path.thickness is not None:
        faces = cure.front_and_back(at_bond, path.film, path.thickness, path.initiators)
        found["at_back"] = faces["back"]
    return xr.Dataset(found)


def _required_photons(requirement: Requirement, film: xr.DataArray, initiators: xr.DataArray) -> xr.DataArray:
    """Photons that the initiators absorb under the data sheet's own condition [µmol m-2 s-1]."""
    said = {"units": "umol m-2 s-1", "long_name": "photons absorbed under the data sheet's condition"}
    wavelength = requirement.data_sheet_wavelength
    if wavelength is None:
        return xr.DataArray(np.nan, attrs=said)
    share = cure.absorbed_share(_at(film, wavelength), _at(initiators, wavelength))
    photons = requirement.minimum_irradiance * wavelength * MICROMOLES_PER_JOULE_NANOMETRE * share
    return photons.where(photons > 0).drop_attrs(deep=False).assign_attrs(said)


def _taken_by_oxygen(requirement: Requirement, path: _Path) -> xr.DataArray:
    """Photons absorbed by volume in a thin film under the irradiance that oxygen uses up [µmol m-3 s-1]."""
    wavelength, least = requirement.data_sheet_wavelength, requirement.oxygen_threshold
    said = {"units": "umol m-3 s-1", "long_name": "photons absorbed by volume that oxygen uses up"}
    if wavelength is None or least is None or path.thickness is None:
        return xr.DataArray(np.nan, attrs=said)
    coefficient = np.log(10) * _at(path.initiators, wavelength) / path.thickness
    rate = least * wavelength * MICROMOLES_PER_JOULE_NANOMETRE * coefficient
    return xr.DataArray(rate.where(rate > 0)).drop_attrs(deep=False).assign_attrs(said)


def _at(film: xr.DataArray, wavelength: float) -> xr.DataArray:
    """An absorbance at the data sheet's wavelength."""
    grid = film.coords["wavelength"].values
    if not grid[0] <= wavelength <= grid[-1]:
        raise RangeError(
            f"the data sheet's wavelength {wavelength:g} nm lies outside the spectra, which cover "
            f"{grid[0]:g}–{grid[-1]:g} nm"
        )
    return interpolate(film, [wavelength]).isel(wavelength=0, drop=True)


def _invalid(spectrum: xr.DataArray, transmittance: xr.DataArray, stopped: xr.DataArray) -> xr.DataArray:
    """Where samples of each source that are not valid, or of a part that stops it, lie, in words."""
    grid = spectrum.coords["wavelength"].values
    names = transmittance.coords["part"].values if "part" in transmittance.coords else ["the part"]
    of_parts = [
        f"{where} of {name}"
        for name, row in zip(names, _bad(transmittance, "part"), strict=True)
        if (where := _runs(grid, row))
    ]
    by_part = stopped.any(set(stopped.dims) - {"source"}).values
    words = [
        " and ".join(filter(None, [_runs(grid, row), *(of_parts if is_stopped else [])]))
        for row, is_stopped in zip(_bad(spectrum, "source"), by_part, strict=True)
    ]
    return xr.DataArray(words, {"source": spectrum.coords["source"]})


def _bad(array: xr.DataArray, along: str) -> NDArray[np.bool_]:
    """Samples (along, wavelength) that are not valid in some draw."""
    bad = array.isnull()
    others = [d for d in bad.dims if d not in (along, "wavelength")]
    return np.asarray(bad.any(others).transpose(along, "wavelength").values)


def _runs(grid: np.ndarray, bad: np.ndarray) -> str:
    """Stretches of wavelengths in words: ``435.0–436.6 nm, 545.9–546.4 nm``."""
    where = np.flatnonzero(bad)
    if where.size == 0:
        return ""
    runs = np.split(where, np.flatnonzero(np.diff(where) > 1) + 1)
    words = [f"{grid[run[0]]:.1f}–{grid[run[-1]]:.1f} nm" for run in runs]
    return ", ".join(words[:_SHOWN]) + (f" and {len(words) - _SHOWN} more" if len(words) > _SHOWN else "")
