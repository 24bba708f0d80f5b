"""The data model as one table: dimensions, coordinates, quantities and attributes.

Inside the package everything is SI per nanometre. Wavelengths are in air, ascending.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.units import ascending


class Quantity(NamedTuple):
    """What a variable of that name holds."""

    units: str
    long_name: str


DIMENSIONS: dict[str, str] = {
    "wavelength": "wavelength in air",
    "spectrum": "one scan or one spectrum of a file",
    "source": "light source",
    "part": "part that light passes through",
    "layer": "layer of a part",
    "initiator": "initiator of an adhesive",
    "absorber": "absorber in a bond line",
    "trial": "one trial of a fit",
    "criterion": "criterion of a comparison",
    "time": "time of a measurement",
    "hours": "hours of use",
    "channel": "channel of a radiometer, or one of several outputs",
    "position": "position across a beam",
    "distance": "distance from a source",
    "depth": "depth below a surface",
    "draw": "draw of the Monte Carlo method",
    "figure": "figure of a comparison",
    "cause": "cause of an uncertainty",
    "coefficient": "power of a polynomial",
    "excitation": "wavelength of a line that is sent into the instrument",
    "offset": "distance from the centre of a slit function",
    "line": "line of a spectrum",
    "pixel": "pixel of a detector",
}

COORDINATES: dict[str, Quantity] = {
    "wavelength": Quantity("nm", "wavelength in air"),
    "integration_time": Quantity("s", "integration time of one scan"),
    "time": Quantity("s", "time of a measurement"),  # dates carry no unit
    "hours": Quantity("h", "hours of use"),
    "position": Quantity("m", "position across a beam"),
    "distance": Quantity("mm", "distance from a source"),
    "band_low": Quantity("nm", "lower limit of a band"),
    "band_high": Quantity("nm", "upper limit of a band"),
    "depth": Quantity("m", "depth below the surface"),
    "temperature": Quantity("K", "temperature of the sensor"),
}

QUANTITIES: dict[str, Quantity] = {
    "counts": Quantity("1", "raw counts"),
    "signal": Quantity("s-1", "counts per second"),
    "spectral_irradiance": Quantity("W m-2 nm-1", "spectral irradiance"),
    "transmittance": Quantity("1", "transmittance"),
    "absorbance": Quantity("1", "decadic absorbance"),
    "reflectance": Quantity("1", "reflectance"),
    "responsivity": Quantity("m2 nm W-1 s-1", "responsivity: counts per second by spectral irradiance"),
    "molar_absorption_coefficient": Quantity("L mol-1 cm-1", "decadic molar absorption coefficient"),
    "irradiance": Quantity("W m-2", "irradiance"),
    "radiant_exposure": Quantity("J m-2", "radiant exposure"),
    "photon_irradiance": Quantity("umol m-2 s-1", "photon irradiance"),
    "relative_output": Quantity("1", "output relative to that of a new source"),
}


def labelled(
    values: ArrayLike,
    quantity: str,
    dimensions: tuple[str, ...],
    coordinates: dict[str, Any] | None = None,
) -> xr.DataArray:
    """An array of a known quantity, with its unit and its name.

    Parameters
    ----------
    values : array_like (...)
        Values in the unit of the quantity.
    quantity : str
        A name from `QUANTITIES`.
    dimensions : tuple of str
        Names of the dimensions, one for each axis.
    coordinates : dict, optional
        Values along dimensions, or scalars, by name.

    Returns
    -------
    xarray.DataArray (...)
        The array; its coordinates carry their units too.

    Raises
    ------
    RangeError
        If there is no quantity of that name.

    Examples
    --------
    >>> labelled([0.5], "transmittance", ("wavelength",), {"wavelength": [365.0]}).units
    '1'
    """
    if quantity not in QUANTITIES:
        raise RangeError(f"there is no quantity {quote(quantity)}; there are {', '.join(QUANTITIES)}")
    units, long_name = QUANTITIES[quantity]
    array = xr.DataArray(np.asarray(values), dims=dimensions, name=quantity)
    for name, along in (coordinates or {}).items():
        array = array.assign_coords({name: (name, along) if name in dimensions else along})
        if name in COORDINATES and array.coords[name].dtype.kind != "M":
            array.coords[name].attrs.update(COORDINATES[name]._asdict())
    array.attrs.update(units=units, long_name=long_name)
    return array


def spectrum(values: ArrayLike, wavelength: ArrayLike, quantity: str) -> xr.DataArray:
    """One spectrum of a known quantity.

    Parameters
    ----------
    values : array_like (wavelength,)
        Values in the unit of the quantity.
    wavelength : array_like (wavelength,)
        Wavelengths in air [nm].
    quantity : str
        A name from `QUANTITIES`.

    Returns
    -------
    xarray.DataArray (wavelength,)
        The spectrum.

    Examples
    --------
    >>> spectrum([1.0, 2.0], [365.0, 366.0], "spectral_irradiance").units
    'W m-2 nm-1'
    """
    return labelled(values, quantity, ("wavelength",), {"wavelength": wavelength})


def check(dataset: xr.Dataset) -> xr.Dataset:
    """Check a dataset against the table, and return it.

    Parameters
    ----------
    dataset : xarray.Dataset
        Variables by the names of `QUANTITIES`; others are left alone.

    Returns
    -------
    xarray.Dataset
        The same dataset.

    Raises
    ------
    GridError
        If the wavelength is missing, unordered or repeated, or runs downwards.
    UnitsError
        If known quantities or coordinates carry no unit, or one that is not their own; with all.

    Examples
    --------
    >>> a = spectrum([1.0, 2.0], [365.0, 366.0], "counts")
    >>> check(a.to_dataset()).sizes["wavelength"]
    2
    """
    faults = []
    for name, array in dataset.data_vars.items():
        if "wavelength" in array.dims and ascending(array, str(name)) is not array:
            raise GridError(f"{name} has wavelengths that run downwards or are not in nm")
    for name, variable in dataset.variables.items():
        expected = QUANTITIES.get(str(name)) or COORDINATES.get(str(name))
        units = variable.attrs.get("units")
        dates = name in COORDINATES and variable.dtype.kind in "mM"
        if expected is None or units == expected.units or str(name) == "wavelength" or dates:
            continue
        found = "carries no unit" if units is None else f"is in {quote(units)}"
        faults.append(f"{name} {found}; expected {quote(expected.units)}")
    if faults:
        raise UnitsError("; ".join(faults))
    return dataset


def noted(array: xr.DataArray, step: str, source: xr.DataArray | None = None) -> xr.DataArray:
    """Add a step to the history of an array.

    Parameters
    ----------
    array : xarray.DataArray (...)
        The result of the step.
    step : str
        What was done, in words.
    source : xarray.DataArray (...), optional
        The array whose history goes on; by default `array` itself.

    Returns
    -------
    xarray.DataArray (...)
        A shallow copy with one line more in its attribute ``history``.

    Examples
    --------
    >>> noted(xr.DataArray(1.0), "subtracted the dark").attrs["history"]
    'subtracted the dark'
    """
    before = (array if source is None else source).attrs.get("history", "")
    return array.assign_attrs(history=f"{before}\n{step}" if before else step)
