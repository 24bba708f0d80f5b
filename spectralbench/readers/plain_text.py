"""Our own plain text: comma-separated UTF-8 that can be written by hand.

Lines of ``# key: value``, one header row with units in brackets, and rows of numbers. The word
``invalid`` in a cell stands for a sample that was found not valid, and reads as NaN. It is read
as any delimited text; what is particular to it is how it is written.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError, printable, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.headings import heading
from spectralbench.readers.layout import Layout
from spectralbench.readers.table import INVALID
from spectralbench.units import ascending

FORMAT = "spectralbench plain text"
_KEY_VALUE = re.compile(r"# [^\W\d_][^:=\t;,\"]{0,59}: \S.*")
_EXACT = 2**53  # whole numbers beyond it do not survive as floating point


def is_plain_text(lines: Sequence[str], layout: Layout) -> bool:
    """Tell whether a file follows the layout of our own from the first line on.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    layout : Layout
        How it was read.

    Returns
    -------
    bool
        Whether it could have been written by `write_spectra`.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> lines = ["# lamp: a", "wavelength [nm],counts [1]", "365,5", "366,6"]
    >>> is_plain_text(lines, lay_out(lines, "example.csv"))
    True
    """
    if layout.heading is None or layout.dialect[:2] != (",", ".") or layout.dialect.padding:
        return False
    return (
        layout.first == layout.heading + 1
        and all(_KEY_VALUE.fullmatch(line) for line in lines[: layout.heading])
        and layout.names[0] == "wavelength [nm]"
        and all(name.endswith("]") for name in layout.names)
    )


def write_spectra(
    path: str | os.PathLike[str], spectra: xr.DataArray | xr.Dataset, header: Mapping[str, str] | None = None
) -> None:
    """Write spectra as our own plain text.

    Parameters
    ----------
    path : str or path-like
        The file; one that is there already is replaced as a whole.
    spectra : xarray.DataArray or xarray.Dataset (wavelength,) or (spectrum, wavelength)
        Known quantities in the package's own units; NaN is written as ``invalid``. Scalar
        coordinates ``integration_time`` [s] and ``time`` go into the header.
    header : mapping of str to str, optional
        Further keys and values, one line each.

    Raises
    ------
    RangeError
        If something cannot be written so that it reads back the same.
    GridError
        If the wavelengths are missing, repeated or unordered.

    Examples
    --------
    >>> import tempfile
    >>> from spectralbench.model import spectrum
    >>> path = Path(tempfile.mkdtemp()) / "frame.csv"
    >>> write_spectra(path, spectrum([5, 6], [365.0, 366.5], "counts"), {"lamp": "invented"})
    >>> print(path.read_text(), end="")
    # lamp: invented
    wavelength [nm],counts [1]
    365,5
    366.5,6
    """
    dataset = spectra if isinstance(spectra, xr.Dataset) else _as_dataset(spectra)
    keys = {**(header or {}), **_stated(dataset)}
    columns = [column for name in dataset.data_vars for column in _columns(dataset[name])]
    if not columns:
        raise RangeError("there is no spectrum to write")
    wavelength = ascending(dataset[next(iter(dataset.data_vars))]).wavelength.values
    if wavelength.size < 2 or wavelength[0] <= 0:
        raise RangeError("a file holds two wavelengths or more, all above 0 nm")
    lines = [_header_line(key, value) for key, value in keys.items()]
    lines.append(",".join(["wavelength [nm]", *(name for name, _ in columns)]))
    cells = [_numbers(wavelength, "wavelength"), *(_numbers(values, name) for name, values in columns)]
    lines += map(",".join, zip(*cells, strict=True))
    _replace(Path(path), "\n".join(lines) + "\n")


def _as_dataset(array: xr.DataArray) -> xr.Dataset:
    if array.name is None:
        raise RangeError("the spectrum has no name: name it by its quantity, such as counts")
    return array.to_dataset()


def _stated(dataset: xr.Dataset) -> dict[str, str]:
    """Header lines for the scalar coordinates that a reader takes from the header."""
    stated = {}
    if "integration_time" in dataset.coords:
        seconds = dataset.coords["integration_time"]
        if seconds.ndim or not 0 < float(seconds) < np.inf:
            raise RangeError("the integration time must be one positive number for all spectra of a file")
        stated["integration time"] = f"{float(seconds)!r} s"
    if "time" in dataset.coords:
        time = dataset.coords["time"]
        if time.ndim or time.dtype.kind != "M" or np.isnat(time.values):
            raise RangeError("the time must be one date and time for all spectra of a file")
        date, _, fraction = str(np.datetime_as_string(time.values.astype("datetime64[ns]"))).partition(".")
        stated["time"] = f"{date}.{fraction.rstrip('0')}".rstrip(".")
    return stated


def _columns(array: xr.DataArray) -> Iterator[tuple[str, np.ndarray]]:
    """Heading and values of each column, wavelengths ascending."""
    name = str(array.name)
    if name not in QUANTITIES:
        raise RangeError(
            f"{quote(name)} is no quantity that a reader knows; there are {', '.join(QUANTITIES)}"
        )
    own = QUANTITIES[name].units
    if array.attrs.get("units", own) != own:
        raise RangeError(f"{name} is in {quote(array.attrs['units'])}; convert it to {quote(own)} first")
    if set(array.dims) == {"wavelength"}:
        yield _heading(name, "", own), ascending(array).values
        return
    if set(array.dims) != {"wavelength", "spectrum"}:
        raise RangeError(
            f"{name} has the dimensions {array.dims}; a file holds wavelength, or spectrum and wavelength"
        )
    ordered = ascending(array).transpose("spectrum", "wavelength")
    count = ordered.sizes["spectrum"]
    labels = ordered.coords["spectrum"].values if "spectrum" in ordered.coords else np.arange(1, count + 1)
    if len({str(label) for label in labels}) != count:
        raise RangeError(f"{name} has spectra with the same label")
    for label, values in zip(labels.tolist(), ordered.values, strict=True):
        yield _heading(name, str(label), own), values


def _heading(quantity: str, label: str, units: str) -> str:
    text = f"{quantity.replace('_', ' ')} {label}".strip() + f" [{units}]"
    read = heading(text)
    if (read.quantity, read.label, read.units) != (quantity, label, units) or label != printable(label):
        raise RangeError(f"the label {quote(label)} of a spectrum would not read back the same; rename it")
    if '"' in label:
        raise RangeError(f"the label {quote(label)} of a spectrum has a quotation mark in it; rename it")
    return f'"{text}"' if "," in text else text


def _header_line(key: str, value: str) -> str:
    line = f"# {key}: {value}"
    if not _KEY_VALUE.fullmatch(line) or key != key.strip() or value != value.strip(" ,\t"):
        raise RangeError(
            f"the header line {quote(line)} would not read back the same: a key begins with a letter and has"
            " no punctuation; a value is one line that neither begins nor ends with blanks or commas"
        )
    if printable(line) != line:
        raise RangeError(f"the header line {quote(line)} has characters in it that cannot be printed")
    return line


def _numbers(values: np.ndarray, name: str) -> list[str]:
    if values.dtype.kind not in "fiu" or np.isinf(values).any():
        raise RangeError(f"{name} has values that are no finite numbers, which no reader takes")
    if values.dtype.kind in "iu":
        if (np.abs(values.astype(float)) > _EXACT).any():
            raise RangeError(f"{name} has whole numbers beyond 2^53, which would not read back the same")
        return [str(value) for value in values.tolist()]
    return [
        INVALID if value != value else repr(value).removesuffix(".0")
        for value in values.astype(float).tolist()
    ]


def _replace(path: Path, text: str) -> None:
    """Write beside, then rename: at no time is there half a file."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("xb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
