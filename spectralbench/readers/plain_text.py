"""Our own plain text: comma-separated UTF-8 that can be written by hand.

Lines of ``# key: value``, one header row with units in brackets, and rows of numbers. The word
``invalid`` in a cell stands for a sample that was found not valid, and reads as NaN. A log has
times, hours or positions in the place of wavelengths, and may have columns of text. It is read
as any delimited text; what is particular to it is how it is written.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
import xarray as xr

from spectralbench.errors import GridError, RangeError, printable, quote
from spectralbench.model import COORDINATES, QUANTITIES
from spectralbench.readers.axis import LIMITS
from spectralbench.readers.cells import INVALID
from spectralbench.readers.column_names import AXIS_ORDER
from spectralbench.readers.columns import UNCERTAINTY, UNLABELLED
from spectralbench.readers.dialect import NUMBER, dated
from spectralbench.readers.headings import axis, heading, normal
from spectralbench.readers.kinds import GAP, left_out, limit_name, may_be_text, text_name
from spectralbench.readers.layout import Layout
from spectralbench.readers.on_disk import write_whole
from spectralbench.readers.readings import band_limits
from spectralbench.units import ascending

FORMAT = "spectralbench plain text"
_STACKED = {"wavelength": "spectrum", "time": "channel", "hours": "channel", "position": "channel"}
_TEXTS = ("head", "channel", "band", "response_curve", "calibration_date")  # scalars that a log states
_KEY_VALUE = re.compile(r"# [^\W\d_][^:=\t;,\"]{0,59}: \S.*")
_EXACT = 2**53  # whole numbers beyond it do not survive as floating point


def is_key_and_value(line: str) -> bool:
    """Whether a line of a header is written as ours are.

    Examples
    --------
    >>> is_key_and_value("# lamp: a"), is_key_and_value("lamp = a")
    (True, False)
    """
    return _KEY_VALUE.fullmatch(line) is not None


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
        and layout.column == 0
        and all(map(is_key_and_value, lines[: layout.heading]))
        and layout.names[0] in ("time", *map(_coordinate_heading, _STACKED))
        and all(
            name.endswith("]") for name, kind in zip(layout.names, layout.kinds, strict=True) if kind == "n"
        )
    )


def write_spectra(
    path: str | os.PathLike[str], spectra: xr.DataArray | xr.Dataset, header: Mapping[str, str] | None = None
) -> None:
    """Write spectra, or a log, as our own plain text.

    Parameters
    ----------
    path : str or path-like
        The file; one that is there already is replaced as a whole.
    spectra : xarray.DataArray or xarray.Dataset (wavelength,) or (spectrum, wavelength)
        Known quantities in the package's own units; NaN is written as ``invalid``. A log has the
        dimension time, hours or position instead, and channel in the place of spectrum. What
        else lies along the axis goes into columns; scalar coordinates that a reader knows
        (such as ``integration_time`` [s], ``time``, ``head``) go into the header.
    header : mapping of str to str, optional
        Further keys and values, one line each.

    Raises
    ------
    RangeError
        If something cannot be written so that it reads back the same.
    GridError
        If the axis is missing or unordered, or wavelengths are repeated.
    BenchError
        If the folder is not there, or the place is taken or cannot be written.

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
    dataset = _as_dataset(spectra)
    along = _axis(dataset)
    keys = {**(header or {}), **_stated(dataset, along)}
    for name in dataset.data_vars:
        _require_known(dataset, str(name), along)
    dataset = _ordered(dataset, along)
    columns = [*_beside(dataset, along), *_columns(dataset, along)]
    lines = [_header_line(key, value) for key, value in keys.items()]
    cells = [(_title(dataset, along), _cells(dataset.coords[along], along)), *columns]
    lines.append(",".join(name for name, _ in cells))
    lines += map(",".join, zip(*(column for _, column in cells), strict=True))
    write_whole(Path(path), "\n".join(lines) + "\n")


def _as_dataset(spectra: object) -> xr.Dataset:
    if isinstance(spectra, xr.Dataset):
        return spectra
    if not isinstance(spectra, xr.DataArray):
        advice = {
            "DataTree": ". Write each of its nodes into a file of its own, with .to_dataset()",
            "ndarray": ". Make one of it with spectralbench.spectrum",
        }.get(type(spectra).__name__, "")
        raise RangeError(
            f"the spectra are a {type(spectra).__name__}; expected an xarray.DataArray or an "
            f"xarray.Dataset{advice}"
        )
    if spectra.name is None:
        raise RangeError("the spectrum has no name: name it by its quantity, such as counts")
    return spectra.to_dataset()


def _axis(dataset: xr.Dataset) -> str:
    """The dimension that the rows of the file run along."""
    if not dataset.data_vars:
        raise RangeError("there is no spectrum to write")
    dimensions = next(iter(dataset.data_vars.values())).dims
    return next((name for name in _STACKED if name in dimensions), "wavelength")


def _require_known(dataset: xr.Dataset, name: str, along: str) -> None:
    """Refuse a variable that no reader could give."""
    array = dataset[name]
    if name == UNLABELLED or name.startswith(f"{UNLABELLED}_"):
        own = array.attrs.get("units", "1")
        if len(dataset.data_vars) > 1 and len(array.dims) > 1:
            raise RangeError(f"{name} has several columns beside other quantities; write it on its own")
    else:
        quantity = name.removesuffix(UNCERTAINTY)
        if quantity not in QUANTITIES or (quantity != name and quantity not in dataset):
            known = ", ".join(QUANTITIES)
            raise RangeError(f"{quote(name)} is no quantity that a reader knows; there are {known}")
        own = QUANTITIES[quantity].units
    if array.attrs.get("units", own) != own:
        raise RangeError(f"{name} is in {quote(array.attrs['units'])}; convert it to {quote(own)} first")
    if set(array.dims) not in ({along}, {along, _STACKED[along]}):
        raise RangeError(
            f"{name} has the dimensions {array.dims}; a file holds {along}, or {_STACKED[along]} and {along}"
        )


def _ordered(dataset: xr.Dataset, along: str) -> xr.Dataset:
    """The same data with an axis that a reader takes."""
    if along == "wavelength":
        first = str(next(iter(dataset.data_vars)))
        ordered = xr.merge([ascending(dataset[name], str(name)) for name in dataset.data_vars], join="exact")
        ordered = ordered[list(dataset.data_vars)].assign_coords(
            {name: ordered.coords[name] for name in ordered.coords}
        )
        grid = ascending(dataset[first]).wavelength.values
        if grid.size < 2 or grid[0] <= 0:
            raise RangeError("a file holds two wavelengths or more, all above 0 nm")
        return ordered
    if along not in dataset.coords:
        raise GridError(f"the dimension {along} has no values: give it its coordinate")
    values = dataset.coords[along].values
    if values.dtype.kind not in "fiuM" or (values.dtype.kind == "M" and along != "time"):
        raise GridError(f"the {along} is neither numbers nor dates")
    if not (~np.isnat(values) if values.dtype.kind == "M" else np.isfinite(values)).all():
        raise GridError(f"the {along} has gaps")
    if values.size < (1 if along == "time" else 2):
        raise RangeError(f"a file holds {'one row' if along == 'time' else 'two rows'} or more along {along}")
    zero = np.timedelta64(0) if values.dtype.kind == "M" else 0
    if (np.diff(values) < zero).any():
        raise GridError(f"the {along} runs backwards: sort by it first")
    if values.dtype.kind != "M":
        low, high = LIMITS[along]
        if not (low < values[0] and values[-1] <= high):
            raise RangeError(f"the {along} is beyond what a reader takes: {low:g} to {high:g}")
    return dataset


def _title(dataset: xr.Dataset, along: str) -> str:
    return "time" if dataset.coords[along].dtype.kind == "M" else _coordinate_heading(along)


def _coordinate_heading(name: str) -> str:
    return f"{name.replace('_', ' ')} [{COORDINATES[name].units}]"


def _stated(dataset: xr.Dataset, along: str) -> dict[str, str]:
    """Header lines for the scalar coordinates that a reader takes from the header."""
    stated = {}
    if "integration_time" in dataset.coords:
        seconds = dataset.coords["integration_time"]
        if seconds.ndim or not 0 < float(seconds) < np.inf:
            raise RangeError("the integration time must be one positive number for all spectra of a file")
        stated["integration time"] = f"{float(seconds)!r} s"
    if "time" in dataset.coords and along not in dataset.coords["time"].dims:
        time = dataset.coords["time"]
        if time.ndim or time.dtype.kind != "M" or np.isnat(time.values):
            raise RangeError("the time must be one date and time for all spectra of a file")
        stated["time"] = _date(time.values)
    if along == "wavelength":
        return stated
    for name in (name for name in _TEXTS if name in dataset.coords and not dataset.coords[name].ndim):
        value = dataset.coords[name].values
        dates = value.dtype.kind == "M"
        if (name == "band" and band_limits(str(value))) or (dates and np.isnat(value)):
            raise RangeError(f"the {name} {quote(value)} would not read back the same")
        if name == "calibration_date" and not dates and dated(str(value)[:10]) and str(value)[:4].isdigit():
            raise RangeError(f"the calibration date {quote(value)} is a date as text; make it a date")
        stated[name.replace("_", " ")] = _date(value) if dates else str(value)
    for name in ("band_low", "band_high"):
        if name in dataset.coords and not dataset.coords[name].ndim:
            if not 0 < float(dataset.coords[name]) < np.inf:
                raise RangeError(f"the {name.replace('_', ' ')} must be one positive number")
            stated[name.replace("_", " ")] = f"{float(dataset.coords[name])!r} nm"
    return stated


def _date(value: np.ndarray) -> str:
    date, _, fraction = str(np.datetime_as_string(value.astype("datetime64[ns]"))).partition(".")
    return f"{date}.{fraction.rstrip('0')}".rstrip(".")


def _beside(dataset: xr.Dataset, along: str) -> Iterator[tuple[str, list[str]]]:
    """Heading and cells of each coordinate along the axis."""
    for name in sorted(map(str, dataset.coords)):
        coordinate = dataset.coords[name]
        if coordinate.dims == ("channel",) and name in ("band_low", "band_high"):
            labels = dataset.coords["channel"].values.tolist() if "channel" in dataset.coords else []
            told = [band_limits(str(label)) for label in labels]
            limits = [np.nan if pair is None else pair[name == "band_high"] for pair in told]
            if not np.array_equal(limits, coordinate.values, equal_nan=True):
                raise RangeError(
                    f"{name} of each channel would not read back: name the channels by their limits"
                )
        if name == along or coordinate.dims != (along,):
            continue
        if name in AXIS_ORDER and AXIS_ORDER.index(name) < AXIS_ORDER.index(along):
            raise RangeError(
                f"{name} beside {along} would be read as the axis; drop it, or make it the dimension"
            )
        if coordinate.dtype.kind in "UOT":
            yield name.replace("_", " "), _texts(name, coordinate.values.tolist())
        elif name in COORDINATES and name != "integration_time":
            own = COORDINATES[name].units
            if coordinate.dtype.kind != "M" and coordinate.attrs.get("units", own) != own:
                raise RangeError(
                    f"{name} is in {quote(coordinate.attrs['units'])}; convert it to {quote(own)}"
                )
            if coordinate.dtype.kind == "M" and (name != "time" or np.isnat(coordinate.values).any()):
                raise RangeError(f"{name} has dates that would not read back the same")
            yield _title(dataset, name), _cells(coordinate, name)
        else:
            raise RangeError(
                f"the coordinate {quote(name)} along {along} is none that a reader knows; drop it"
            )


def _texts(name: str, texts: list[object]) -> list[str]:
    """The cells of a column of text."""
    plain = [str(text) for text in texts]
    role = text_name(name.replace("_", " "))
    free = not role and may_be_text(name) and normal(name).replace(" ", "_") == name and not left_out(name)
    wrong = name if (role != name and not free) or '"' in name or "," in name else None
    for text in plain:
        strange = text != text.strip() or text != printable(text)
        number = free and (not text or NUMBER["."].fullmatch(text) or GAP.fullmatch(text) or dated(text))
        if strange or number or (role == "band" and band_limits(text)):
            wrong = text
    if role == "band" and not any(plain):
        wrong = ""
    if wrong is not None:
        raise RangeError(f"the text {quote(wrong)} in {name} would not read back the same")
    return ['"' + text.replace('"', '""') + '"' if set(text) & set(',"') else text for text in plain]


def _columns(dataset: xr.Dataset, along: str) -> Iterator[tuple[str, list[str]]]:
    """Heading and cells of each column of values; uncertainties last, since each follows what it is of."""
    names = sorted(map(str, dataset.data_vars), key=lambda name: name.endswith(UNCERTAINTY))
    for name in names:
        array = dataset[name]
        free = name.startswith(UNLABELLED)
        own = array.attrs.get("units", "1") if free else QUANTITIES[name.removesuffix(UNCERTAINTY)].units
        if array.dims == (along,):
            yield (
                _heading(name, str(array.attrs.get("long_name", "")) if free else "", own),
                _cells(array, name),
            )
            continue
        stacked = _STACKED[along]
        ordered = array.transpose(stacked, along)
        count = ordered.sizes[stacked]
        labels = ordered.coords[stacked].values if stacked in ordered.coords else np.arange(1, count + 1)
        if len({str(label) for label in labels}) != count:
            kind = "spectra" if stacked == "spectrum" else "channels"
            raise RangeError(f"{name} has {kind} with the same label")
        for label, values in zip(labels.tolist(), ordered, strict=True):
            yield _heading(name, str(label), own), _cells(values, name)


def _heading(name: str, label: str, units: str) -> str:
    quantity = name.removesuffix(UNCERTAINTY)
    kind = "standard" if quantity != name else ""
    words = f"{quantity.replace('_', ' ')} {label}".strip()
    if name.startswith(UNLABELLED):
        quantity, words = "", label
    text = f"{'standard uncertainty of ' * bool(kind)}{words} [{units}]".strip()
    read = heading(text)
    odd = axis(text)[0] or left_out(text) or limit_name(text) or text_name(text) or read.scale
    told = (read.quantity, read.label, read.units, read.uncertainty)
    if odd or told != (quantity, label, units, kind) or label != printable(label):
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


def _cells(array: xr.DataArray, name: str) -> list[str]:
    values = array.values
    if values.dtype.kind == "M":
        return [_date(value) for value in values]
    if values.dtype.kind not in "fiu" or np.isinf(values).any():
        raise RangeError(f"{name} has values that are no finite numbers, which no reader takes")
    if values.dtype.kind in "iu":
        if (np.abs(values.astype(float)) > _EXACT).any():
            raise RangeError(f"{name} has whole numbers beyond 2^53, which would not read back the same")
        return [str(value) for value in values.tolist()]
    return [_cell(value) for value in values.astype(float).tolist()]


def _cell(value: float) -> str:
    """A number as short as reads back the same; a zero keeps its sign only behind a point."""
    if value != value:
        return INVALID
    text = repr(value)
    return text if text == "-0.0" else text.removesuffix(".0")
