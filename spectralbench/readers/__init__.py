"""From a file to the data model: one module per layout."""

from __future__ import annotations

from os import PathLike

import xarray as xr

from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.content import load
from spectralbench.readers.delimited import read_delimited
from spectralbench.readers.headings import is_unit
from spectralbench.readers.plain_text import write_spectra

__all__ = ["read", "write_spectra"]


def read(path: str | PathLike[str], *, quantity: str | None = None, units: str | None = None) -> xr.Dataset:
    """Read a file of spectra, or a log.

    Parameters
    ----------
    path : str or path-like
        A text file: one axis (wavelength, time or hours) and one or more columns of values.
    quantity : str, optional
        Name from `spectralbench.model.QUANTITIES` of what the values are, where the file does
        not say it or says it wrongly.
    units : str, optional
        Unit of the values in the file, where the file does not say it or says it wrongly.

    Returns
    -------
    xarray.Dataset (wavelength,) or (spectrum, wavelength)
        One variable for each quantity, in the package's own units; wavelengths [nm] ascending.
        ``attrs`` keep the file's header, the hash of its bytes, how it was read (``decisions``)
        and what a person should know (``warnings``), as texts; lists are JSON.

    Raises
    ------
    ReadError
        With all faults of the file: what was found, where, what was expected, what to do.
    RangeError
        If `quantity` is none that the package knows.
    UnitsError
        If `units` is no unit.

    Examples
    --------
    >>> dataset = read("reference_curves/actinic.csv")
    >>> dataset.wavelength.units
    'nm'
    """
    if quantity is not None and quantity not in QUANTITIES:
        raise RangeError(f"{quote(quantity)} is no known quantity; there are {', '.join(QUANTITIES)}")
    if units is not None and not is_unit(units):
        raise UnitsError(f"{quote(units)} is not a unit of measurement")
    return read_delimited(load(path), quantity, units)
