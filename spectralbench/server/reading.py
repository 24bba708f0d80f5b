"""Reading a file for a browser: once for many questions, and with the reader's own words if it fails."""

from __future__ import annotations

from collections import OrderedDict
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
import xarray as xr

from spectralbench import reduction
from spectralbench.corrections import average_scans, interpolate, looks_saturated
from spectralbench.errors import RangeError, ReadError, printable
from spectralbench.payload import USUAL, shown_in
from spectralbench.readers import read
from spectralbench.reports.figures import SHAPE_NAMES, Record, figures_of, three_digits

_KEPT = 8  # files that somebody looks at
_LINES = 10  # of a file shown with its faults
_LONGEST = 200  # characters of a line
_read: OrderedDict[tuple[str, int, int], xr.Dataset | xr.DataTree] = OrderedDict()
_lock = Lock()


def spectra_of(file: Path) -> xr.Dataset | xr.DataTree:
    """What is in a file, read again only if it has changed.

    Parameters
    ----------
    file : pathlib.Path
        The file.

    Returns
    -------
    xarray.Dataset or xarray.DataTree
        As `spectralbench.read` gives it.

    Raises
    ------
    ReadError
        If it cannot be read.

    Examples
    --------
    >>> spectra_of(demo / "raw/led_405.csv") is spectra_of(demo / "raw/led_405.csv")
    True
    """
    status = file.stat()
    key = (str(file), status.st_mtime_ns, status.st_size)
    with _lock:
        if key in _read:
            _read.move_to_end(key)
            return _read[key]
    found = read(file)
    with _lock:
        _read[key] = found
        while len(_read) > _KEPT:
            _read.popitem(last=False)
    return found


def figures_in(
    data: xr.Dataset | xr.DataTree,
    quantity: str,
    low: float,
    high: float,
    block: str,
    irradiance: str = USUAL,
) -> Record:
    """Figures of every spectrum of a quantity in a band.

    Parameters
    ----------
    data : xarray.Dataset or xarray.DataTree
        From `spectra_of`.
    quantity : str
        Its name in the file.
    low, high : float
        Limits of the band [nm].
    block : str
        Of a file with unlike blocks, the name of one; otherwise empty.
    irradiance : {"mW/cm²", "W/m²"}
        The unit in which irradiance is said.

    Returns
    -------
    dict
        ``sha256`` of the file that was read; ``figures``, by the name of a figure its ``label``, a record
        for each of the ``curves``, and one for their ``mean``; ``notes``, what is to be said of them.

    Raises
    ------
    RangeError
        If there is no such quantity along the wavelength, the band is outside, or irradiance is not said
        in that unit.

    Examples
    --------
    >>> light = spectra_of(demo / "raw/led_405.csv")
    >>> figures_in(light, "counts", 390.0, 420.0, "")["figures"]["peak_wavelength"]["mean"]["text"]
    '404.61 nm'
    """
    dataset = data if isinstance(data, xr.Dataset) else _block(data, block)
    if quantity not in dataset or "wavelength" not in dataset[quantity].dims:
        raise RangeError(f"there is no {quantity!r} along the wavelength in this file")
    array = dataset[quantity]
    others = [dimension for dimension in array.dims if dimension != "wavelength"]
    each = array.stack(curve=others) if others else array.expand_dims("curve")
    mean, _ = average_scans(array)
    whole, _ = _told_alone(mean.assign_attrs(array.attrs), low, high)
    found, notes = _told_alone(each, low, high)
    figures: Record = {
        str(name): {
            "label": SHAPE_NAMES.get(str(name), str(name)),
            "curves": figures_of(found[name], "curve"),
            "mean": figures_of(whole[name].expand_dims("curve"), "curve")[0],
        }
        for name in found.data_vars
    }
    if "mean" in figures and array.attrs.get("units", "1") == "1" and quantity not in _IN_PER_CENT:
        for figure in (*figures["mean"]["curves"], figures["mean"]["mean"]):
            figure["text"] = three_digits(figure["value"])
    for of in figures.values():
        of["curves"] = [shown_in(irradiance, figure) for figure in of["curves"]]
        of["mean"] = shown_in(irradiance, of["mean"])
    if quantity == "counts":
        notes += _of_counts(array, low, high)
    return {"sha256": data.attrs.get("sha256"), "figures": figures, "notes": notes}


def _told_alone(spectra: xr.DataArray, low: float, high: float) -> tuple[xr.Dataset, list[str]]:
    """Figures in a band, and why some are not known: those of a shape take no others with them."""
    grid = spectra.coords["wavelength"].values
    count = int(np.count_nonzero((grid >= low) & (grid <= high)))
    if count >= _OF_A_SHAPE or not low < high:
        found, notes = reduction.figures(spectra, low, high), []
    else:  # a straight line between two samples has an area, and no shape
        first, last = (float(np.clip(limit, grid[0], grid[-1])) for limit in (low, high))
        fine = np.union1d(grid, np.linspace(first, last, _OF_A_SHAPE))
        found = reduction.figures(interpolate(spectra, fine), low, high)
        found = xr.Dataset(
            {name: array.where(name not in _SHAPE, np.nan) for name, array in found.data_vars.items()}
        )
        notes = [f"a peak and its width need at least 3 wavelengths; this band has {count}"]
    comments = {str(array.attrs["comment"]): None for array in found.values() if "comment" in array.attrs}
    return found, [*notes, *comments]


def _of_counts(counts: xr.DataArray, low: float, high: float) -> list[str]:
    """Why figures of raw counts are not those of the light."""
    notes = []
    if not (counts < 0).any():  # noise around a dark that was subtracted goes below zero
        notes.append(
            "these are figures of raw counts, not of the light: the dark is still in them, unless the "
            "instrument subtracted it"
        )
    words = looks_saturated(counts)
    if words and float(counts.sel(wavelength=slice(low, high)).max()) == float(counts.max()):
        notes.append(f"{words}: its peak and width are not those of the light")
    return notes


_OF_A_SHAPE = 3  # wavelengths that a peak and its width need
_SHAPE = ("peak_wavelength", "centre_wavelength", "fwhm")
_IN_PER_CENT = ("transmittance", "reflectance", "relative_output")  # counts and absorbance are plain numbers


def _block(tree: xr.DataTree, name: str) -> xr.Dataset:
    blocks = {node.path.strip("/"): node for node in tree.leaves}
    if name not in blocks:
        raise RangeError(f"there is no block {name!r} in this file; it has {', '.join(blocks)}")
    return blocks[name].to_dataset()


def faults_of(error: ReadError, file: Path, shown: str) -> dict[str, Any]:
    """Why a file cannot be read, in the reader's words, with the lines that they speak of.

    Parameters
    ----------
    error : ReadError
        From `spectra_of`.
    file : pathlib.Path
        The file.
    shown : str
        Its name, as the person who asks knows it: where it lies on the server's disk is not told.

    Returns
    -------
    dict
        ``message``, ``faults`` (each with ``line`` and ``column``, if they have one) and the first ``lines``
        by their numbers.
    """
    faults = [
        {
            "line": fault.line,
            "column": fault.column,
            "found": fault.found,
            "expected": fault.expected,
            "advice": fault.advice,
        }
        for fault in error.faults
    ]
    numbers = sorted({fault.line for fault in error.faults if fault.line is not None})[:_LINES]
    return {
        "message": str(ReadError(shown, error.faults)),
        "faults": faults,
        "lines": _lines(file, numbers),
    }


def _lines(file: Path, numbers: list[int]) -> list[dict[str, Any]]:
    """Some lines of a file, as far as it is text."""
    found: list[dict[str, Any]] = []
    if not numbers:
        return found
    with file.open(encoding="utf-8", errors="replace", newline=None) as text:
        for number, line in enumerate(text, 1):
            if number in numbers:
                found.append({"line": number, "text": printable(line.rstrip("\n")[:_LONGEST])})
            if number >= numbers[-1]:
                break
    return found
