"""Refractive index: published formulas, each with the range for which it was fitted."""

from __future__ import annotations

import re
import warnings
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.curves.files import ExtrapolationWarning, Table, find, provenance
from spectralbench.errors import GridError
from spectralbench.model import noted
from spectralbench.units import declares


@declares("1", wavelength="nm")
def refractive_index(name: str, wavelength: ArrayLike | xr.DataArray | str) -> xr.DataArray:
    """Refractive index of a material, from a published formula.

    Parameters
    ----------
    name : str
        A material, such as ``"fused silica"`` or ``"PC"``: a name from
        ``names("refractive_indices")``.
    wavelength : array_like (wavelength,), xarray.DataArray (...) or str
        Wavelength in air [nm].

    Returns
    -------
    xarray.DataArray (...)
        Refractive index [1]; NaN where the formula gives none. ``attrs`` keep source, range and
        standing; outside the range ``attrs["comment"]`` and the history say so.

    Raises
    ------
    RangeError
        If there is no material of that name.
    GridError
        If plain wavelengths have more than one dimension, or are disordered.

    Warns
    -----
    ExtrapolationWarning
        If a wavelength lies outside the range of the formula.

    Examples
    --------
    >>> round(refractive_index("fused silica", 365.0).item(), 5)
    1.47454
    >>> refractive_index("PC", "0.5876 um").attrs["range"]
    '436.8-1052 nm'
    """
    found = find("refractive_indices", name)
    at = wavelength if isinstance(wavelength, xr.DataArray) else _on_a_grid(wavelength)
    with np.errstate(all="ignore"):
        index = np.sqrt(_squared(found, at.values.astype(float)))
    result = at.copy(data=index).rename("refractive_index").drop_attrs(deep=False)
    result.attrs.update(provenance(found), long_name=f"refractive index of {found.name}")
    low, high = (float(text) for text in re.findall(r"[\d.]+", found.header["range"]))
    outside = at.values[(at.values < low) | (at.values > high)]
    if outside.size == 0:
        return result
    comment = (
        f"the formula for {found.name} holds for {low:g}–{high:g} nm and is extrapolated to "
        f"{outside.min():g}–{outside.max():g} nm"
    )
    warnings.warn(comment, ExtrapolationWarning, stacklevel=3)
    return noted(result.assign_attrs(comment=comment), comment)


def _on_a_grid(wavelength: Any) -> xr.DataArray:
    values = np.asarray(wavelength, dtype=float)
    if values.ndim > 1:
        raise GridError(f"plain wavelengths are one number or one row of them, not {values.ndim} dimensions")
    dims = ("wavelength",)[: values.ndim]
    return xr.DataArray(values, {"wavelength": (dims, values, {"units": "nm"})}, dims)


def _squared(found: Table, wavelength: NDArray[np.float64]) -> NDArray[np.float64]:
    """Squared refractive index (...) at wavelengths (...) [nm]; NaN where the formula has none."""
    law, columns = found.header["formula"].partition(":")[0], found.columns
    x = wavelength[..., None] / 1e3
    if law == "sellmeier":
        poles = columns["resonance"] ** 2 if "resonance" in columns else columns["resonance_squared"]
        squared = 1 + (columns["strength"] * x**2 / (x**2 - poles)).sum(axis=-1)
    else:
        squared = (columns["coefficient"] * x ** columns["power"]).sum(axis=-1)
        if law == "powers of the index":
            squared = squared**2
    return np.asarray(np.where(squared >= 1, squared, np.nan))
