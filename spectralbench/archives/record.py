"""What goes into an archive and what comes out of it: each pair of steps stands together.

A container holds numbers, text and plain attributes. What it cannot hold as it is (truth values,
times, attributes that are lists) is written in the way of the CF conventions for everybody, and
kept exactly in a record, from which it comes back the same.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.errors import printable, quote

RECORD = "spectralbench_record"
_CF_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")  # CF conventions 1.11, section 2.3
_ENCODING = frozenset(  # attributes that the libraries write and understand in their own way
    f"""{RECORD} dtype missing_value scale_factor add_offset coordinates grid_mapping bounds
    flag_values flag_meanings CLASS NAME DIMENSION_LIST REFERENCE_LIST DIMENSION_LABELS""".split()
)
_TIME_UNITS = {"s": "seconds", "ms": "milliseconds", "us": "microseconds", "ns": "nanoseconds"}
_NOT_A_TIME = np.iinfo(np.int64).min
_TRUTH = {"dtype": "bool", "flag_values": np.array([0, 1], np.int8), "flag_meanings": "false true"}


def name_fault(name: Hashable, kind: str) -> str | None:
    """Say why a name of a variable, a dimension or a group cannot be written; None if it can.

    Examples
    --------
    >>> name_fault("arc, filtered", "group"), name_fault("a/b", "variable")
    (None, 'the variable "a/b": a name with a slash, a control character or a blank at its end')
    """
    if not isinstance(name, str):
        return f"the {kind} {quote(name)}: a name that is no text"
    if name in ("", ".", "..", "zarr.json") or name.startswith("__"):
        return f"the {kind} {quote(name)}: a name that stands for something else in a container"
    if set("/\\") & set(name) or not name.isprintable() or name != name.strip():
        return f"the {kind} {quote(name)}: a name with a slash, a control character or a blank at its end"
    return None


def pack(dataset: xr.Dataset, group: str, faults: list[str]) -> tuple[xr.Dataset, dict[str, Any]]:
    """Turn a dataset into one that a container holds, and a record of the rest.

    Parameters
    ----------
    dataset : xarray.Dataset
        What is to be saved.
    group : str
        Path of its group, for messages.
    faults : list of str
        What cannot be saved is added here.

    Returns
    -------
    tuple of xarray.Dataset and dict
        Plain variables with CF attributes, encoding included; the record.

    Examples
    --------
    >>> packed, record = pack(xr.Dataset({"met": ("source", [True, False])}), "/", [])
    >>> packed["met"].dtype, record["variables"]["met"]["dtype"]
    (dtype('int8'), '|b1')
    """
    at = "" if group == "/" else f" in group {quote(group)}"
    names: list[tuple[Hashable, str]] = [(name, "variable") for name in dataset.variables]
    names += [(name, "dimension") for name in dataset.dims if name not in dataset.variables]
    wrong = [fault + at for name, kind in names if (fault := name_fault(name, kind))]
    faults += wrong
    attributes, kept = _pack_attributes(dataset.attrs, f"the result{at}", frozenset(), faults)
    variables, entries = {}, {}
    for name, variable in dataset.variables.items():
        called = f"{quote(name)}{at}"
        values, meaning, dtype = _pack_values(variable, called, faults)
        plain, own = _pack_attributes(variable.attrs, called, frozenset(meaning), faults)
        entries[str(name)] = {"dtype": dtype, "attributes": own}
        fill = _fill(variable, values)
        told = {**_standard_name(name, variable), **plain, **meaning, **fill}
        encoding = {} if fill else {"_FillValue": None}  # or xarray adds one, even to a coordinate
        variables[name] = xr.Variable(variable.dims, values, told, encoding)
    record = {"attributes": kept, "coordinates": [str(name) for name in dataset.coords], "variables": entries}
    if wrong:
        return xr.Dataset(), record
    # A list of names with blanks between cannot name one with a blank: the record alone knows it.
    plain_names = [name for name in dataset.coords if name in dataset.dims or " " not in str(name)]
    coordinates = {name: variables.pop(name) for name in plain_names}
    return xr.Dataset(variables, coordinates, attributes), record


def unpack(
    attributes: Mapping[str, Any],
    variables: Mapping[str, tuple[tuple[str, ...], Mapping[str, Any], np.ndarray]],
    record: Mapping[str, Any],
) -> xr.Dataset:
    """Turn what stands in a container into the dataset that went in.

    Parameters
    ----------
    attributes : mapping
        Attributes of the group, as they stand.
    variables : mapping of str to tuple
        Dimensions, attributes and values of each variable, as they stand.
    record : mapping
        From `pack`.

    Returns
    -------
    xarray.Dataset
        What went in.

    Examples
    --------
    >>> went_in = xr.Dataset({"met": ("source", [True, False])}, attrs={"limits": [320, 430]})
    >>> packed, record = pack(went_in, "/", [])
    >>> stored = {name: (v.dims, v.attrs, v.values) for name, v in packed.variables.items()}
    >>> unpack(packed.attrs, stored, record).identical(went_in)
    True
    """
    restored = {}
    for name, entry in record["variables"].items():
        dimensions, stored, values = variables[name]
        own = _unpack_attributes(stored, entry["attributes"])
        restored[name] = xr.Variable(dimensions, _unpack_values(values, entry["dtype"]), own)
    coordinates = {name: restored.pop(name) for name in record["coordinates"]}
    return xr.Dataset(restored, coordinates, _unpack_attributes(attributes, record["attributes"]))


def _pack_values(
    variable: xr.Variable, called: str, faults: list[str]
) -> tuple[np.ndarray, dict[str, Any], str]:
    """Values that a container holds, the CF attributes that say what they mean, and their true type."""
    nothing = np.zeros(variable.shape, np.int8)
    if not isinstance(variable.dtype, np.dtype):
        faults.append(f"{called}: values of the type {variable.dtype}; turn them into numbers or text")
        return nothing, {}, ""
    values = np.asarray(variable.values)
    kind, dtype = values.dtype.kind, values.dtype.str
    if kind == "b":
        return values.astype(np.int8), dict(_TRUTH), dtype
    if kind in "iu" or (kind == "f" and values.dtype.itemsize <= 8):
        stored = np.float32 if values.dtype.itemsize == 2 and kind == "f" else values.dtype.newbyteorder("=")
        return values.astype(stored, copy=False), {}, dtype
    if kind in "Mm":
        unit = np.datetime_data(values.dtype)[0]
        whole = values.astype(values.dtype.newbyteorder("=")).view(np.int64)
        meaning = {"units": _TIME_UNITS[unit]}
        if kind == "M":
            meaning = {"units": f"{_TIME_UNITS[unit]} since 1970-01-01", "calendar": "proleptic_gregorian"}
        return whole, meaning, dtype
    if kind in "UOT":
        texts = values.astype(object)
        if bad := [text for text in texts.flat if not isinstance(text, str) or not _storable(text)]:
            faults.append(f"{called}: {quote(bad[0])} among its values; it must be text without zeros")
            return nothing, {}, ""
        return texts, {}, "T" if kind == "T" else dtype
    faults.append(f"{called}: values of the type {values.dtype}; turn them into real numbers or text")
    return nothing, {}, ""


def _unpack_values(values: np.ndarray, dtype: str) -> np.ndarray:
    if dtype != "T" and np.dtype(dtype).kind in "biuf":
        return values.astype(dtype)
    if dtype != "T" and np.dtype(dtype).kind in "Mm":
        return values.astype(np.int64).view(np.dtype(dtype).newbyteorder("=")).astype(dtype)
    texts = np.empty(values.shape, object)
    flat = values.astype(object).ravel().tolist()
    texts.ravel()[:] = [text.decode() if isinstance(text, bytes) else str(text) for text in flat]
    return texts.astype(np.dtypes.StringDType() if dtype == "T" else dtype)


def _fill(variable: xr.Variable, values: np.ndarray) -> dict[str, Any]:
    """What marks a missing value for other programs, where one is missing."""
    if values.dtype.kind == "f" and np.isnan(values).any():
        return {"_FillValue": values.dtype.type(np.nan)}
    if variable.dtype.kind in "Mm" and (values == _NOT_A_TIME).any():
        return {"_FillValue": np.int64(_NOT_A_TIME)}
    return {}


def _standard_name(name: Hashable, variable: xr.Variable) -> dict[str, str]:
    """The name from the CF standard name table, where the table has one for it."""
    if name == "wavelength" and variable.attrs.get("units") == "nm":
        return {"standard_name": "radiation_wavelength"}
    return {"standard_name": "time"} if variable.dtype.kind == "M" else {}


def _pack_attributes(
    attributes: Mapping[Any, Any], called: str, taken: frozenset[str], faults: list[str]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Attributes as the file holds them, and the record: None for what the file holds exactly."""
    plain: dict[str, Any] = {}
    kept: dict[str, Any] = {}
    for name, value in attributes.items():
        if not isinstance(name, str):
            faults.append(f"an attribute of {called} is named {quote(name)}, which is no text")
            continue
        try:
            exact = _exact(value)
        except (TypeError, OverflowError):
            advice = "take it out, or make it text (JSON), a number or a list of these"
            faults.append(f"the attribute {quote(name)} of {called} is {quote(value)}; {advice}")
            continue
        in_file = name not in _ENCODING and name not in taken and _CF_NAME.fullmatch(name) is not None
        kept[name] = None if in_file and isinstance(exact, str) and _storable(exact) else exact
        if in_file:
            plain[name] = _readable(exact)
    return plain, kept


def _unpack_attributes(stored: Mapping[str, Any], kept: Mapping[str, Any]) -> dict[str, Any]:
    return {name: stored[name] if value is None else value for name, value in kept.items()}


def _exact(value: Any) -> Any:
    """An attribute as text, a number or a list of these, which JSON keeps exactly."""
    if isinstance(value, np.ndarray | np.generic):
        if value.dtype.kind not in "biufU" or value.ndim > 1:
            raise TypeError
        value = value.tolist()
    if isinstance(value, list | tuple):
        if any(isinstance(item, list | tuple | np.ndarray) for item in value):
            raise TypeError
        return [_exact(item) for item in value]
    if isinstance(value, str | bool | float):
        return value
    if not isinstance(value, int):
        raise TypeError
    if not -(2**63) <= value < 2**63:
        raise OverflowError
    return value


def _readable(exact: Any) -> Any:
    """The same as an attribute that every container holds, for other programs."""
    if isinstance(exact, str):
        return exact if _storable(exact) else printable(exact)
    if isinstance(exact, list):
        if exact and all(isinstance(item, str) and _storable(item) for item in exact):
            return exact
        if exact and all(isinstance(item, int | float) and math.isfinite(item) for item in exact):
            return np.array([int(item) if isinstance(item, bool) else item for item in exact])
        return json.dumps(exact)
    if isinstance(exact, bool):
        return np.int8(exact)
    return exact if math.isfinite(exact) else str(exact)


def _storable(text: str) -> bool:
    """Whether a text survives in a container: no code zero, no half of a surrogate pair."""
    return "\0" not in text and (text.isascii() or not re.search("[\ud800-\udfff]", text))
