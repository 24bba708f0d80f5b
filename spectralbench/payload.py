"""What is in a file, as bytes for a browser: a header in JSON, then arrays as they lie in memory.

The layout is ours: four bytes of a mark, four of the header's length, the header in UTF-8, and from the
next multiple of eight on the arrays, little-endian, each at a multiple of eight. Of each array the header
says name, type, shape and place. Nothing is computed from a payload: what a browser shows beside a curve
was worked out here.
"""

from __future__ import annotations

import json
from collections.abc import Hashable, Iterator, Mapping
from typing import Any, TypeAlias

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.comparison import in_words, interval_in_words
from spectralbench.errors import RangeError, quote
from spectralbench.reports.figures import Record
from spectralbench.reports.records import of_blocks, of_file
from spectralbench.units import for_people

Array: TypeAlias = NDArray[Any]

VERSION = 1
MOST = 64
"""Curves of one file that are drawn; a file may hold more."""

USUAL = "mW/cm²"
"""The unit in which irradiance is shown, unless somebody wishes another one."""

_WISHED: dict[str, dict[str, str]] = {
    USUAL: {},
    "W/m²": {"W m-2": "W/m²", "W m-2 nm-1": "W/m²/nm"},
}  # of SI, whose factor is 1
_MARK = b"SBP1"
_TYPES = {"float32": "<f4", "float64": "<f8", "uint16": "<u2"}
FINEST = 1e-4
"""A step of an axis, in its unit: far below what a screen shows."""

_ALONG = ("wavelength", "position", "hours", "time")


def pack(header: Mapping[str, Any], arrays: Mapping[str, Array]) -> bytes:
    """Header and arrays as bytes.

    Parameters
    ----------
    header : mapping
        Anything that JSON has; ``arrays`` is added to it.
    arrays : mapping of str to numpy.ndarray (...)
        Of type float32, float64 or uint16.

    Returns
    -------
    bytes
        The payload.

    Raises
    ------
    RangeError
        If an array is of another type.

    Examples
    --------
    >>> header, arrays = unpack(pack({"title": "lamp"}, {"y": np.array([1.0, 2.0], np.float32)}))
    >>> header["title"], arrays["y"].tolist()
    ('lamp', [1.0, 2.0])
    """
    described, parts, place = [], [], 0
    for name, array in arrays.items():
        kind = array.dtype.name
        if kind not in _TYPES:
            raise RangeError(f"a payload holds arrays of {', '.join(_TYPES)}, and {name} is of {kind}")
        data = np.ascontiguousarray(array, _TYPES[kind]).tobytes()
        described.append({"name": name, "type": kind, "shape": list(array.shape), "at": place})
        parts.append(data + b"\0" * (-len(data) % 8))
        place += len(parts[-1])
    text = json.dumps({**header, "arrays": described}, ensure_ascii=False, allow_nan=False)
    head = text.encode()
    head += b" " * (-len(head) % 8)
    return b"".join((_MARK, len(head).to_bytes(4, "little"), head, *parts))


def unpack(data: bytes) -> tuple[dict[str, Any], dict[str, Array]]:
    """Header and arrays of a payload.

    Parameters
    ----------
    data : bytes
        From `pack`.

    Returns
    -------
    header : dict
        Without what describes the arrays.
    arrays : dict of str to numpy.ndarray
        By their names.

    Raises
    ------
    RangeError
        If the bytes are no payload, or not all of one.

    Examples
    --------
    >>> unpack(pack({"version": 1}, {}))
    ({'version': 1}, {})
    """
    if data[:4] != _MARK:
        raise RangeError(f"a payload begins with {_MARK!r}, not {data[:4]!r}")
    start = 8 + int.from_bytes(data[4:8], "little")
    if len(data) < start:
        raise RangeError(f"a payload of {start} bytes or more ends after {len(data)}")
    header = json.loads(data[8:start])
    arrays = {}
    for one in header.pop("arrays"):
        kind, count = np.dtype(_TYPES[one["type"]]), int(np.prod(one["shape"], dtype=int))
        if len(data) < start + one["at"] + count * kind.itemsize:
            raise RangeError(f"a payload ends within its array {one['name']}")
        found = np.frombuffer(data, kind, count, start + one["at"])
        arrays[str(one["name"])] = found.reshape(one["shape"])
    return header, arrays


def of_spectra(name: str, data: xr.Dataset | xr.DataTree, irradiance: str = USUAL) -> bytes:
    """What is in a file: its header, what was decided, its figures and its curves.

    Parameters
    ----------
    name : str
        Name of the file, as it is shown.
    data : xarray.Dataset or xarray.DataTree
        From `spectralbench.read`.
    irradiance : {"mW/cm²", "W/m²"}
        The unit in which irradiance is shown; spectral irradiance is shown in the same for each nm.

    Returns
    -------
    bytes
        A payload. Its header holds ``kind`` ("file"), ``records`` as from
        `spectralbench.reports.records`, and ``curves``: of each its ``label``, ``quantity``, ``block``,
        ``units`` (those that people use, and its values are in them), the names of its arrays ``x`` and
        ``y``, and its ``axis`` with ``name`` and ``units``; moments count in seconds ``since`` the first.
        ``left_out`` counts the curves beyond the first 64. A fine axis comes as its differences, in
        ``steps`` of 0.0001 from its ``first``: a quarter of the bytes, and exact to 0.00005.

    Raises
    ------
    RangeError
        If irradiance is not shown in that unit.

    Examples
    --------
    >>> from spectralbench.model import spectrum
    >>> lit = spectrum([1.0, 3.0, 1.0], [364.0, 365.0, 366.0], "counts")
    >>> header, arrays = unpack(of_spectra("led.csv", lit.to_dataset()))
    >>> header["curves"][0]["label"], arrays["y0"].tolist()
    ('counts', [1.0, 3.0, 1.0])
    """
    records = [of_file(name, data)] if isinstance(data, xr.Dataset) else of_blocks(name, data)
    for record in (one for whole in records for one in whole["quantities"] if "figures" in one):
        record["figures"] = {key: shown_in(irradiance, one) for key, one in record["figures"].items()}
    curves, left_out = Curves("file"), 0
    for block, dataset in _blocks(data):
        for curve, axis, values in _curves(dataset, irradiance):
            if len(curves) == MOST:
                left_out += 1
            else:
                curves.add(curve | {"block": block}, *_axis(axis), values)
    return curves.packed(records=records, left_out=left_out)


class Curves:
    """Curves that share axes, gathered for one payload.

    Parameters
    ----------
    kind : str
        What the payload is.

    Examples
    --------
    >>> curves = Curves("strip")
    >>> nanometres = {"name": "wavelength", "units": "nm"}
    >>> curves.add({"label": "LED", "units": "mW/cm²/nm"}, nanometres, [365.0, 366.0], [1.0, 2.0])
    >>> header, arrays = unpack(curves.packed(band=[320, 430]))
    >>> header["curves"][0]["label"], header["band"], arrays["y0"].tolist()
    ('LED', [320, 430], [1.0, 2.0])
    """

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._curves: list[Record] = []
        self._arrays: dict[str, Array] = {}
        self._axes: dict[bytes, str] = {}

    def add(self, said: Record, axis: Record, x: Any, y: Any, **ends: Any) -> None:
        """Add a curve.

        Parameters
        ----------
        said : dict
            What is said of it: ``label``, ``units`` of its values, and anything else.
        axis : dict
            ``name`` and ``units`` of what it lies along, and what else is said of that.
        x, y : array-like (n,)
            Places and values, in those units.
        **ends
            ``low`` and ``high`` (n,), the ends of its interval.
        """
        along, number = np.asarray(x, dtype=float), len(self._curves)
        steps, key = in_steps(along), along.tobytes()
        if key not in self._axes:
            self._axes[key] = f"x{len(self._axes)}"
            self._arrays[self._axes[key]] = along if steps is None else steps
        fine = {} if steps is None else {"first": float(along[0]), "steps": FINEST}
        names = {name: f"{name}{number}" for name in ("y", *ends)}
        for name, values in {"y": y, **ends}.items():
            self._arrays[names[name]] = np.asarray(values, np.float32)
        unsaid = {name: empty for name, empty in (("quantity", ""), ("block", None)) if name not in said}
        self._curves.append(said | unsaid | {"x": self._axes[key]} | names | {"axis": axis | fine})

    def __len__(self) -> int:
        return len(self._curves)

    def packed(self, **header: Any) -> bytes:
        """All curves, with what else the header says.

        Parameters
        ----------
        **header
            Anything that JSON has.

        Returns
        -------
        bytes
            The payload.
        """
        return pack({"version": VERSION, "kind": self._kind, **header, "curves": self._curves}, self._arrays)


def shown_in(irradiance: str, figure: Record) -> Record:
    """A figure whose words have the unit that somebody wishes for irradiance.

    Parameters
    ----------
    irradiance : {"mW/cm²", "W/m²"}
        That unit.
    figure : dict
        From `spectralbench.reports.figures`; its numbers stay in the package's own unit.

    Returns
    -------
    dict
        The same with other ``text`` and ``interval``; itself, if it is no irradiance.

    Raises
    ------
    RangeError
        If irradiance is not shown in that unit.

    Examples
    --------
    >>> shown_in("W/m²", {"value": 600.0, "units": "W m-2", "text": "60 mW/cm²"})["text"]
    '600 W/m²'
    """
    units = figure["units"]
    if figure["value"] is None or units not in _wished(irradiance):
        return figure
    usual, factor = for_people(units)
    scale = _wish(units, irradiance)[1] / factor
    text = in_words(figure["value"] * scale, units).replace(usual, _wish(units, irradiance)[0])
    if "interval" not in figure:
        return figure | {"text": text}
    low, high = (np.nan if figure[end] is None else figure[end] * scale for end in ("low", "high"))
    return figure | {"text": text, "interval": interval_in_words(low, high, units)}


def _wished(irradiance: str) -> dict[str, str]:
    if irradiance not in _WISHED:
        expected = " or ".join(map(quote, _WISHED))
        raise RangeError(f"irradiance is shown in {expected}, not in {quote(irradiance)}")
    return _WISHED[irradiance]


def _wish(units: str, irradiance: str) -> tuple[str, float]:
    """The unit that is shown, and the factor to it."""
    wished = _wished(irradiance)
    return (wished[units], 1.0) if units in wished else for_people(units)


def _blocks(data: xr.Dataset | xr.DataTree) -> Iterator[tuple[str | None, xr.Dataset]]:
    if isinstance(data, xr.Dataset):
        yield None, data
        return
    for node in data.leaves:
        yield node.path.strip("/"), node.to_dataset()


def _curves(data: xr.Dataset, irradiance: str) -> Iterator[tuple[Record, xr.DataArray, Array]]:
    """Every curve of a dataset: what it is, its axis, and its values in the unit that people use."""
    for name, array in data.data_vars.items():
        axis = next((array.coords[along] for along in _ALONG if _is_axis(array, along)), None)
        if axis is None or array.dtype.kind not in "fiu":
            continue
        (along,) = axis.dims
        others = [dimension for dimension in array.dims if dimension != along]
        flat = array.transpose(*others, along).values.reshape(-1, array.sizes[along])
        units, factor = _shown(array, irradiance)
        for label, values in zip(_labels(array, others), flat, strict=True):
            curve = {"label": label or str(name), "quantity": str(name), "units": units}
            if not (channels := _channels(array, along)):
                yield curve, axis, values * factor
            for channel, rows in channels.items():  # readings of several heads, one after the other
                yield curve | {"label": channel}, axis[rows], values[rows] * factor


def _is_axis(array: xr.DataArray, along: str) -> bool:
    """Whether an array lies along a coordinate, which need not be its dimension: a scan is read in time."""
    return (
        along in array.coords and array.coords[along].ndim == 1 and array.coords[along].dtype.kind in "fiuM"
    )


def _channels(array: xr.DataArray, along: Hashable) -> dict[str, NDArray[np.bool_]]:
    """Which readings of a log are of which channel."""
    if "channel" not in array.coords or array.coords["channel"].dims != (along,):
        return {}
    names = array.coords["channel"].values
    return {str(name): names == name for name in dict.fromkeys(names.tolist())}


def _labels(array: xr.DataArray, others: list[Any]) -> Iterator[str]:
    """What tells the curves of one quantity apart."""
    sizes = [array.sizes[dimension] for dimension in others]
    for place in np.ndindex(*sizes):
        words = []
        for dimension, i in zip(others, place, strict=True):
            if dimension in array.coords and array.coords[dimension].ndim == 1:
                label = array.coords[dimension].values[i]
                words.append(
                    f"{dimension} {label}" if array.coords[dimension].dtype.kind in "iu" else str(label)
                )
            elif array.sizes[dimension] > 1:
                words.append(f"{dimension} {i + 1}")
        yield ", ".join(words)


def _axis(axis: xr.DataArray) -> tuple[Record, NDArray[np.float64]]:
    """What an axis is called, and its values; moments count in seconds from the first."""
    if axis.dtype.kind == "M":
        first = axis.values[0]
        seconds = (axis.values - first) / np.timedelta64(1, "s")
        return {"name": str(axis.name), "units": "s", "since": str(first)[:19]}, seconds
    units, factor = _shown(axis)
    return {"name": str(axis.name), "units": units}, axis.values.astype(np.float64) * factor


def _shown(array: xr.DataArray, irradiance: str = USUAL) -> tuple[str, float]:
    """The unit that people use, and the factor to it; kelvins stay, for degrees take more than a factor."""
    units = array.attrs.get("units", "1")
    return ("K", 1.0) if units == "K" else _wish(units, irradiance)


def in_steps(values: NDArray[np.float64]) -> NDArray[np.uint16] | None:
    """Differences of an axis in whole steps of 0.0001, a quarter of the bytes; None if they do not fit.

    Examples
    --------
    >>> in_steps(np.array([365.0, 365.5])).tolist()
    [0, 5000]
    """
    if values.size < 2 or not np.isfinite(values).all():
        return None
    counts = np.rint((values - values[0]) / FINEST)
    differences = np.diff(counts, prepend=0.0)
    if differences.min() < 0 or differences.max() > np.iinfo(np.uint16).max:
        return None
    result: NDArray[np.uint16] = differences.astype(np.uint16)
    return result
