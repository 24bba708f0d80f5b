"""Reference curves over wavelength: weightings, and what initiators absorb."""

from __future__ import annotations

import warnings

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.curves.files import ExtrapolationWarning, Table, find, provenance, warn_of_memory
from spectralbench.model import QUANTITIES, noted, spectrum
from spectralbench.units import declares


def load(name: str) -> xr.DataArray:
    """Load a weighting: an action spectrum or a hazard function.

    Parameters
    ----------
    name : str
        A name from `names`.

    Returns
    -------
    xarray.DataArray (wavelength,)
        The curve [1]; ``attrs`` keep title, source, standing and the interpolation rule.
        Outside its wavelengths a weighting is zero by definition.

    Raises
    ------
    RangeError
        If there is no curve of that name.

    Examples
    --------
    >>> load("actinic").attrs["standing"]
    'published'
    """
    found = find("weightings", name)
    warn_of_memory(found, f"the weighting {found.name}")
    return _curve(found).assign_attrs(found.header)


@declares(wavelength="nm")
def initiator(name: str, wavelength: ArrayLike | xr.DataArray | str | None = None) -> xr.DataArray:
    """Molar absorption coefficient of an initiator, from memory and with a warning.

    A few points each, within 20 to 30 %: enough to see which source is worth a trial, not to
    compute one. A measured curve in the same unit takes their place everywhere.

    Parameters
    ----------
    name : str
        Chemical name, or a name from ``names("initiators")``.
    wavelength : array_like (wavelength,), xarray.DataArray (wavelength,) or str, optional
        Where it is wanted [nm], ascending; by default at the points of the file.

    Returns
    -------
    xarray.DataArray (wavelength,)
        Decadic molar absorption coefficient [L mol-1 cm-1], straight between the points;
        ``attrs["caution"]`` says what it is worth. Beyond the points it goes on as zero where
        the last one is zero; otherwise it is not known, which is NaN.

    Raises
    ------
    RangeError
        If there is no initiator of that name.
    UnitsError
        If the wavelengths are in a unit that is no length.

    Warns
    -----
    FromMemoryWarning
        Always, as long as the file is from memory.
    ExtrapolationWarning
        If a wavelength lies beyond the points.

    Examples
    --------
    >>> with warnings.catch_warnings():
    ...     warnings.simplefilter("ignore")
    ...     coefficient = initiator("camphorquinone", [405.0, 469.0])
    >>> coefficient.values.tolist(), coefficient.attrs["standing"]
    ([5.0, 46.0], 'from memory')
    """
    found = find("initiators", name)
    warn_of_memory(found, f"the absorption of {found.name}", stacklevel=4)
    points = _curve(found, "coefficient")
    known, values = points.coords["wavelength"].values, points.values
    if wavelength is None:
        wanted = known
    else:
        wanted = np.atleast_1d(np.asarray(wavelength, dtype=float))
        if (wanted < known[0]).any() or (wanted > known[-1]).any():
            warnings.warn(
                f"the absorption of {found.name} is known for {known[0]:g}–{known[-1]:g} nm, not for all of "
                f"{wanted.min():g}–{wanted.max():g} nm: beyond, it is zero where it ends at zero, else NaN",
                ExtrapolationWarning,
                stacklevel=3,
            )
    left, right = (0.0 if end == 0 else np.nan for end in (values[0], values[-1]))
    at = np.interp(wanted, known, values, left=left, right=right)
    result = spectrum(at, wanted, "molar_absorption_coefficient")
    result.attrs.update(provenance(found), long_name=QUANTITIES["molar_absorption_coefficient"].long_name)
    if wavelength is None:
        return result
    return noted(result, "interpolated straight between the points")


def _curve(found: Table, column: str = "weight") -> xr.DataArray:
    grid = ("wavelength", found.columns["wavelength"].copy(), {"units": found.units["wavelength"]})
    curve = xr.DataArray(found.columns[column].copy(), {"wavelength": grid}, name=found.name)
    return curve.assign_attrs(units=found.units[column])
