"""A spectrum as a TM-27 file."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, printable, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.on_disk import write_whole
from spectralbench.readers.tm27 import fields
from spectralbench.units import ascending

_EXACT = 2**53  # whole numbers beyond it do not survive as floating point
_UNFIT = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_LONGEST = 10_000  # characters of a field
_MOST = 45_000  # rows; a reader stops at 50,000 elements


def write_tm27(
    path: str | os.PathLike[str],
    spectrum: xr.DataArray | xr.Dataset,
    header: Mapping[str, str] | None = None,
) -> None:
    r"""Write one spectrum in the XML format of the Illuminating Engineering Society.

    Parameters
    ----------
    path : str or path-like
        The file; one that is there already is replaced as a whole.
    spectrum : xarray.DataArray or xarray.Dataset (wavelength,)
        A spectral irradiance [W m-2 nm-1], a transmittance or a reflectance [1], or any spectrum
        for which the header gives the ``SpectralQuantity``. Its attribute ``bandwidth`` [nm] is
        written. A dataset, as from `spectralbench.read`, holds one quantity.
    header : mapping of str to str, optional
        Fields by their names in TM-27: ``Description``, ``DocumentCreator`` and
        ``DocumentCreationDate`` are required; as read from a file, the header fits as it is.

    Raises
    ------
    RangeError
        If a required field is missing, or something cannot be written so that it reads back the
        same; with all of it, and before anything is written.
    BenchError
        If the folder is not there, or the place is taken or cannot be written.
    GridError
        If the wavelengths are missing, repeated or unordered.

    Notes
    -----
    IES TM-27-14. The format has no place for a unit, a value that is not valid, or an uncertainty.

    Examples
    --------
    >>> import tempfile
    >>> from spectralbench.model import spectrum
    >>> path = Path(tempfile.mkdtemp()) / "cover.spdx"
    >>> header = {
    ...     "Description": "cover, invented",
    ...     "DocumentCreator": "nobody",
    ...     "DocumentCreationDate": "2026-03-02",
    ... }
    >>> write_tm27(path, spectrum([0.5, 0.8], [365.0, 405.0], "transmittance"), header)
    >>> path.read_text().splitlines()[9]
    '\t\t<SpectralData wavelength="365.0">0.5</SpectralData>'
    """
    spectrum = _one_quantity(spectrum)
    faults: list[str] = []
    told = _fields(spectrum, header or {}, faults)
    wavelength, values = _rows(spectrum, faults)
    if faults:
        raise RangeError("the spectrum cannot be written as TM-27: " + "; ".join(faults))
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<{fields.ROOT} xmlns="{fields.NAMESPACES[0]}" version="{fields.VERSION}">',
        "\t<Header>",
        *(_element(name, told[name]) for name in fields.HEADER if name in told),
        "\t</Header>",
        "\t<SpectralDistribution>",
        *(_element(name, told[name]) for name in fields.DISTRIBUTION if name in told),
        *(
            f'\t\t<{fields.ROW} {fields.WAVELENGTH}="{at!r}">{value!r}</{fields.ROW}>'
            for at, value in zip(wavelength, values, strict=True)
        ),
        "\t</SpectralDistribution>",
        f"</{fields.ROOT}>",
    ]
    write_whole(Path(path), "\n".join(lines) + "\n")


def _one_quantity(spectrum: object) -> xr.DataArray:
    """The quantity of a dataset that holds one."""
    if isinstance(spectrum, xr.DataArray):
        return spectrum
    if not isinstance(spectrum, xr.Dataset):
        raise RangeError(
            f"the spectrum is a {type(spectrum).__name__}; expected an xarray.DataArray, or an "
            "xarray.Dataset of one quantity"
        )
    names = [str(name) for name in spectrum.data_vars]
    if len(names) != 1:
        held = f"holds {', '.join(map(quote, names))}" if names else "is empty"
        choose = f"; choose one, such as dataset[{quote(names[0])}]" if names else ""
        raise RangeError(f"the dataset {held}: a file of TM-27 holds one quantity{choose}")
    return spectrum[names[0]]


def _element(name: str, text: str) -> str:
    return f"\t\t<{name}>{escape(text)}</{name}>"


def _fields(spectrum: xr.DataArray, header: Mapping[str, object], faults: list[str]) -> dict[str, str]:
    """The fields to be written."""
    told: dict[str, str] = {}
    known = fields.HEADER + fields.DISTRIBUTION
    if unknown := [str(name) for name in header if name not in known]:
        faults.append(f"{printable(', '.join(unknown))}: no field of TM-27, which has {', '.join(known)}")
    for name, text in header.items():
        if text == fields.ABSENT:
            faults.append(f"{name} {quote(text)} would read back as a field that is not there")
        elif not isinstance(text, str) or text != text.strip() or _UNFIT.search(text) or len(text) > _LONGEST:
            faults.append(
                f"{printable(str(name))} {quote(text)} would not read back the same: a field is text of at "
                f"most {_LONGEST} characters, without control characters and without blanks at its ends"
            )
        else:
            told[name] = text
    _tell_quantity(spectrum, told, faults)
    _tell_bandwidth(spectrum, told, faults)
    for name, words in fields.WORDS.items():
        if told.get(name, words[0]) not in words:
            faults.append(f"{name} {quote(told[name])} is none of {', '.join(words)}")
    if missing := [name for name in fields.REQUIRED if not told.get(name) and not header.get(name)]:
        faults.append(f"{', '.join(missing)}: required by TM-27 and not in the header")
    return told


def _tell_quantity(spectrum: xr.DataArray, told: dict[str, str], faults: list[str]) -> None:
    name = str(spectrum.name)
    word = next((word for word, quantity in fields.QUANTITIES.items() if quantity == name), None)
    if name in QUANTITIES and spectrum.attrs.get("units", QUANTITIES[name].units) != QUANTITIES[name].units:
        own = quote(QUANTITIES[name].units)
        faults.append(f"{name} is in {quote(spectrum.attrs['units'])}; convert it to {own} first")
    if word is None and "SpectralQuantity" not in told:
        faults.append(
            f"TM-27 has no word for {quote(name)}: give SpectralQuantity (one of "
            f"{', '.join(fields.WORDS['SpectralQuantity'])}) in the header, and say the rest in Comments"
        )
        told["SpectralQuantity"] = "other"
    elif word is not None and told.setdefault("SpectralQuantity", word) != word:
        faults.append(f"the header calls {name} {quote(told['SpectralQuantity'])}; expected {quote(word)}")


def _tell_bandwidth(spectrum: xr.DataArray, told: dict[str, str], faults: list[str]) -> None:
    bandwidth = spectrum.attrs.get("bandwidth")
    if bandwidth is None:
        return
    try:
        known = float(bandwidth)
        same = float(told.setdefault("BandwidthFWHM", repr(known))) == known and 0 < known < np.inf
    except (TypeError, ValueError):
        same = False
    if not same:
        faults.append(
            f"the spectrum has the bandwidth {quote(bandwidth)}, the header "
            f"{quote(told.get('BandwidthFWHM', ''))}: expected one number of nm above 0"
        )


def _rows(spectrum: xr.DataArray, faults: list[str]) -> tuple[list[float], list[float]]:
    """Wavelengths and values."""
    if spectrum.dims != ("wavelength",):
        faults.append(f"the spectrum has the dimensions {spectrum.dims}; a file holds wavelength alone")
        return [], []
    if spectrum.dtype.kind not in "fiu" or not np.isfinite(spectrum.values).all():
        faults.append("there are values that are no finite numbers: take them out, the grid need not be even")
        return [], []
    ordered = ascending(spectrum)
    if spectrum.dtype.kind in "iu" and (np.abs(ordered.values.astype(float)) > _EXACT).any():
        faults.append("there are whole numbers beyond 2^53, which would not read back the same")
    wavelength = ordered.wavelength.values.astype(float)
    if not (2 <= wavelength.size <= _MOST and wavelength[0] > 0 and wavelength[-1] <= 1e6):
        faults.append(f"a file holds 2 to {_MOST} wavelengths, all above 0 and up to 1e6 nm")
    return wavelength.tolist(), ordered.values.tolist()
