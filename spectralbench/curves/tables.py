"""Reference tables: bands, thermal properties, and solutions and glasses to check an instrument with."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.curves.files import Table, find, plain, provenance, warn_of_memory
from spectralbench.errors import RangeError, quote


def table(name: str) -> xr.Dataset:
    """A reference table as a dataset.

    Parameters
    ----------
    name : str
        A name from ``names("tables")``.

    Returns
    -------
    xarray.Dataset
        One variable for each column, along the first column; ``attrs`` keep title, source and
        standing, and a ``caution`` where the numbers are from memory.

    Raises
    ------
    RangeError
        If there is no table of that name.

    Warns
    -----
    FromMemoryWarning
        If the table is from memory.

    Examples
    --------
    >>> table("ultraviolet bands")["high"].values.tolist()
    [280.0, 315.0, 400.0]
    """
    found = find("tables", name)
    warn_of_memory(found, f"the table {found.name}")
    return dataset(found)


def band(name: str) -> tuple[float, float]:
    """Limits of a band of ultraviolet radiation by its CIE term.

    Parameters
    ----------
    name : str
        ``"UV-A"``, ``"UV-B"`` or ``"UV-C"``. Above 400 nm no term is defined: say the limits.

    Returns
    -------
    tuple of float
        Lower and upper limit [nm].

    Raises
    ------
    RangeError
        If there is no such term.

    Notes
    -----
    CIE S 017 (ILV); the limits are quoted in the IUPAC Gold Book, UT07492.

    Examples
    --------
    >>> band("UV-A")
    (315.0, 400.0)
    """
    found = find("tables", "ultraviolet_bands")
    row = _row(found, "band", name)
    return float(found.columns["low"][row]), float(found.columns["high"][row])


def thermal(material: str) -> xr.Dataset:
    """Thermal properties of a material, from memory and with a warning.

    Parameters
    ----------
    material : str
        Such as ``"PMMA"``, ``"PC"`` or ``"fused silica"``.

    Returns
    -------
    xarray.Dataset ()
        ``conductivity`` [W m-1 K-1], ``density`` [kg m-3] and ``heat_capacity`` [J kg-1 K-1];
        ``attrs["caution"]`` says what they are worth.

    Raises
    ------
    RangeError
        If the material is not in the table.

    Warns
    -----
    FromMemoryWarning
        As long as the table is from memory.

    Examples
    --------
    >>> import warnings
    >>> with warnings.catch_warnings():
    ...     warnings.simplefilter("ignore")
    ...     thermal("PMMA")["density"].item()
    1180.0
    """
    found = find("tables", "thermal")
    row = _row(found, "material", material)
    warn_of_memory(found, f"thermal properties of {found.columns['material'][row]}")
    return dataset(found).isel(material=row)


def dataset(found: Table) -> xr.Dataset:
    """Put the columns of a file into a dataset, along the first of them.

    Parameters
    ----------
    found : Table
        The file.

    Returns
    -------
    xarray.Dataset
        Its columns, with their units, and its provenance.

    Examples
    --------
    >>> dataset(find("lines", "mercury")).sizes["wavelength"] > 20
    True
    """
    first = next(iter(found.columns))
    variables = {
        name: (first, values.copy(), {"units": found.units[name]} if name in found.units else {})
        for name, values in found.columns.items()
    }
    return xr.Dataset(variables, attrs=provenance(found)).set_coords(first)


def _row(found: Table, column: str, name: str) -> int:
    words = found.columns[column]
    rows = np.flatnonzero([plain(word) == plain(name) for word in words])
    if rows.size == 0:
        raise RangeError(f"there is no {column} {quote(name)}; there are {', '.join(words)}")
    return int(rows[0])
