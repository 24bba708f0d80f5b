"""Reference curves: published functions of wavelength, each with its source.

The files stand in ``reference_curves/``: comment lines ``# key: value`` (title, source,
standing, licence, date, digits, interpolation), a header row with units in brackets, and
comma-separated numbers.
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, quote

_HERE = Path(__file__).parent
_FOLDERS = (_HERE / "reference_curves", _HERE.parent / "reference_curves")  # wheel, checkout


def names() -> tuple[str, ...]:
    """Names of the reference curves that `load` knows.

    Returns
    -------
    tuple of str
        The names, sorted.

    Examples
    --------
    >>> "erythema" in names()
    True
    """
    return tuple(sorted(path.stem for folder in _FOLDERS for path in folder.glob("*.csv")))


def load(name: str) -> xr.DataArray:
    """Load a reference curve.

    Parameters
    ----------
    name : str
        A name from `names`.

    Returns
    -------
    xarray.DataArray (wavelength,)
        The curve; ``attrs`` keep title, source, standing and the interpolation rule.

    Raises
    ------
    RangeError
        If there is no curve of that name.

    Examples
    --------
    >>> load("actinic").attrs["standing"]
    'published'
    """
    return _load(name).copy()


@functools.cache
def _load(name: str) -> xr.DataArray:
    for folder in _FOLDERS:
        path = folder / f"{name}.csv"
        if name in names() and path.is_file():
            break
    else:
        raise RangeError(f"there is no reference curve {quote(name)}; there are {', '.join(names())}")
    lines = path.read_text(encoding="utf-8").splitlines()
    header = dict(line[1:].strip().split(": ", 1) for line in lines if line.startswith("#"))
    columns, *rows = [line for line in lines if not line.startswith("#")]
    units = [column.rpartition("[")[2].rstrip("]") for column in columns.split(",")]
    table = np.loadtxt(rows, delimiter=",", ndmin=2)
    curve = xr.DataArray(
        table[:, 1], {"wavelength": ("wavelength", table[:, 0], {"units": units[0]})}, name=name
    )
    curve.attrs.update(header, units=units[1])
    return curve
