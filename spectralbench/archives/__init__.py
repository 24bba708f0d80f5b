"""Results on a disk: NetCDF files and Zarr folders that give back what was put in."""

from __future__ import annotations

import json
import os
import stat
import tempfile
import warnings
from collections.abc import Callable, Iterator
from importlib.metadata import version
from os import PathLike, fsdecode
from pathlib import Path
from typing import Any

import xarray as xr

from spectralbench.archives.containers import DamagedError, Group, read_netcdf, read_zarr
from spectralbench.archives.record import RECORD, name_fault, pack, unpack
from spectralbench.errors import BenchError, Fault, RangeError, ReadError, printable, quote

__all__ = ["load", "save"]

Result = xr.DataArray | xr.Dataset | xr.DataTree

CONVENTIONS = "CF-1.11"
_LAYOUT = 1  # of the record; a later one that cannot be read by this version counts on
_HDF5 = b"\x89HDF\r\n\x1a\n"
_OURS = "an archive written by spectralbench"


def save(result: Result, path: str | PathLike[str]) -> None:
    """Save a result as a NetCDF file or a Zarr folder.

    Parameters
    ----------
    result : xarray.DataArray, xarray.Dataset or xarray.DataTree
        Any result. Attributes are texts, numbers, or lists of these.
    path : str or path-like
        Ends in ``.nc`` for NetCDF 4, in ``.zarr`` for Zarr 3. An archive that is there is replaced
        once the new one is complete.

    Raises
    ------
    RangeError
        If the path ends in something else, or the result is or holds what no archive can hold; with all
        of it, and before anything is written.
    BenchError
        If the place is not there, cannot be written, or is taken by something else.

    Notes
    -----
    The archive follows the CF conventions, version 1.11 (Eaton et al., 2023), so that any program
    for such files opens it: units as in the result, times counted from 1970, truth values as 0
    and 1 with flag meanings, standard names where the CF standard name table has one. ``title``,
    ``history`` and ``source`` are added where the result has none. What is added is for others,
    and `load` takes it off again; a record inside the archive says what went in. It names the
    version of this package, and no time: the same result gives the same archive.

    Numbers are written without compression: spectra shrink little, and so the size of an archive
    tells what reading it can take.

    Examples
    --------
    >>> folder = Path(tempfile.mkdtemp())
    >>> save(reduced, folder / "reduced.nc")
    >>> load(folder / "reduced.nc").identical(reduced)
    True
    """
    if not isinstance(result, Result):
        raise RangeError(
            f"the result is a {type(result).__name__}; expected an xarray.DataArray, xarray.Dataset or "
            "xarray.DataTree"
        )
    target = Path(fsdecode(path)).absolute()
    write = {".nc": _write_netcdf, ".zarr": _write_zarr}.get(target.suffix.lower())
    if write is None:
        raise RangeError(f"{quote(target.name)} ends in neither .nc (NetCDF) nor .zarr (Zarr)")
    tree = _packed(result)
    _write_beside(target, lambda place: write(tree, place))


def load(path: str | PathLike[str]) -> Any:
    """Load a result that was saved.

    Parameters
    ----------
    path : str or path-like
        From `save`: a NetCDF file, or a Zarr folder.

    Returns
    -------
    xarray.DataArray, xarray.Dataset or xarray.DataTree
        Identical to what was saved, types of numbers included. Attributes that were tuples or
        arrays come back as lists. All of it is in memory, and the archive is closed.

    Raises
    ------
    ReadError
        If there is no such archive, or if it is damaged, or not one of ours.

    Examples
    --------
    >>> load("result.nc")
    Traceback (most recent call last):
    spectralbench.errors.ReadError: result.nc cannot be read: found no such file or folder; expected ...
    """
    place = Path(fsdecode(path))
    read = _reader(path, place)
    again = "Copy it again from where it was made, or save the result again"
    try:
        groups = read(place)
        if RECORD in groups["/"].attributes:
            return _unpacked(groups, json.loads(groups["/"].attributes[RECORD]))
    except DamagedError as error:
        raise _refusal(path, str(error), again) from error
    except Exception as error:  # HDF5, Zarr and JSON each raise what they like on damaged bytes
        raise _refusal(path, "an archive that is damaged: its content cannot be read", again) from error
    raise _refusal(path, "an archive of another program", "Open it with xarray.open_datatree")


def _reader(path: str | PathLike[str], place: Path) -> Callable[[Path], dict[str, Group]]:
    """How to read what is there, as its content says, not its name."""
    try:
        mode = place.stat().st_mode
        if stat.S_ISDIR(mode):
            if (place / "zarr.json").is_file():
                return read_zarr
            raise _refusal(path, "a folder that is no Zarr folder", "Name the archive itself")
        if not stat.S_ISREG(mode):  # asked before opening: a pipe would wait for ever
            raise _refusal(path, "a device or a pipe", "Name the archive itself")
        with place.open("rb") as file:
            if file.read(len(_HDF5)) == _HDF5:
                return read_netcdf
    except FileNotFoundError:
        raise _refusal(path, "no such file or folder", "Check the name and the folder") from None
    except OSError as error:
        raise _refusal(path, error.strerror or str(error), "Check its name and permissions") from error
    except ValueError as error:  # a name that no file can have
        if isinstance(error, ReadError):
            raise
        raise _refusal(path, str(error), "Check its name") from error
    raise _refusal(path, "a file that is no NetCDF 4 file", "Read measurements with spectralbench.read")


def _refusal(path: str | PathLike[str], found: str, advice: str) -> ReadError:
    return ReadError(fsdecode(path), [Fault(found, _OURS, advice)])


def _packed(result: Result) -> xr.DataTree:
    """The result as a tree of plain variables, with CF attributes and the record at its root."""
    faults: list[str] = []
    variable = _free_name(result) if isinstance(result, xr.DataArray) else ""
    name = None if isinstance(result, xr.Dataset) else result.name
    if name is not None and not isinstance(name, str):
        faults.append(f"the name {quote(name)} of the result, which is no text")
    packed, records = {}, {}
    for place, dataset in _datasets(result, variable):
        if fault := name_fault(place.rpartition("/")[2], "group") if place != "/" else None:
            faults.append(fault)
        packed[place], records[place] = pack(dataset, place, faults)
    if faults:
        raise RangeError("the result cannot be saved: " + "; ".join(faults))
    written_by = f"spectralbench {version('spectralbench')}"
    record = {
        "layout": _LAYOUT,
        "written_by": written_by,
        "kind": _kind(result),
        "name": name,
        "variable": variable,
        "groups": records,
    }
    told = {
        "Conventions": CONVENTIONS,
        "title": "result of spectralbench" if name is None else printable(str(name)),
        "history": f"saved by {written_by}",
        "source": written_by,
    }
    packed["/"] = packed["/"].assign_attrs({**told, **packed["/"].attrs, RECORD: json.dumps(record)})
    return xr.DataTree.from_dict(packed)


def _kind(result: Result) -> str:
    return next(kind.__name__ for kind in (xr.DataArray, xr.Dataset, xr.DataTree) if isinstance(result, kind))


def _datasets(result: Result, variable: str) -> Iterator[tuple[str, xr.Dataset]]:
    """The datasets of a result by path; what the root inherits from above comes along."""
    if isinstance(result, xr.DataTree):
        for place, node in result.subtree_with_keys:
            yield "/" if node is result else f"/{place}", node.to_dataset(inherit=node is result)
    elif isinstance(result, xr.DataArray):
        coordinates = result.coords.to_dataset()
        yield "/", coordinates.assign({variable: result.variable})
    else:
        yield "/", result


def _free_name(array: xr.DataArray) -> str:
    """A name for the variable of an array: its own, unless a coordinate or a dimension has it."""
    name = array.name if isinstance(array.name, str) and name_fault(array.name, "") is None else "values"
    while name in array.coords or name in array.dims:
        name += "_"
    return name


def _unpacked(groups: dict[str, Group], record: dict[str, Any]) -> Result:
    if record["layout"] != _LAYOUT:
        raise DamagedError(f"an archive of a later layout, written by {quote(record['written_by'])}")
    datasets = {}
    for place, entry in record["groups"].items():
        if place not in groups:
            raise DamagedError(f"no group {quote(place.lstrip('/'))}")
        attributes, variables = groups[place]
        if missing := [name for name in entry["variables"] if name not in variables]:
            raise DamagedError(f"no variable {quote(missing[0])}")
        datasets[place] = unpack(attributes, variables, entry)
    if record["kind"] == "DataTree":
        return xr.DataTree.from_dict(datasets, name=record["name"])
    if record["kind"] == "Dataset":
        return datasets["/"]
    array: xr.DataArray = datasets["/"][record["variable"]].rename(record["name"])
    return array


def _write_netcdf(tree: xr.DataTree, place: Path) -> None:
    tree.to_netcdf(place, engine="h5netcdf")
    with place.open("rb+") as file:
        os.fsync(file.fileno())


def _write_zarr(tree: xr.DataTree, place: Path) -> None:
    encoding = {
        node.path: {
            name: {
                **variable.encoding,
                "compressors": None,
                "chunks": tuple(max(1, size) for size in variable.shape),
            }
            for name, variable in node.to_dataset(inherit=False).variables.items()
        }
        for node in tree.subtree
    }
    with warnings.catch_warnings():
        # Metadata in one place spare every other program a search, and the warning that they are missing.
        warnings.filterwarnings("ignore", "Consolidated metadata is currently not part in the Zarr format 3")
        tree.to_zarr(place, mode="w-", encoding=encoding, zarr_format=3, write_empty_chunks=True)


def _write_beside(target: Path, write: Callable[[Path], None]) -> None:
    """Write into a folder beside the target, then swap: at no time is there half an archive.

    A file is replaced in one step. Between an old folder and a new one there is a moment with
    neither; if the second step fails, the old one is put back.
    """
    folder = target.suffix.lower() == ".zarr"
    if not target.parent.is_dir():
        raise BenchError(target, [Fault("no such folder", "a folder that is there", "Make it first")])
    if target.exists() and (target.is_file() if folder else target.is_dir()):
        other = "a file" if folder else "a folder"
        raise BenchError(target, [Fault(f"{other} of that name", "a free name, or an archive to replace")])
    if folder and target.exists() and not (target / "zarr.json").is_file():
        found = "a folder that is no Zarr folder"
        raise BenchError(target, [Fault(found, "a free name, or an archive to replace")])
    try:
        with tempfile.TemporaryDirectory(
            prefix=f".{target.name}.", suffix=".part", dir=target.parent
        ) as beside:
            new, old = Path(beside, target.name), Path(beside, "replaced")
            write(new)
            if not (folder and target.exists()):
                new.replace(target)
                return
            target.rename(old)
            try:
                new.rename(target)
            except OSError:
                old.rename(target)
                raise
    except OSError as error:
        found = error.strerror or str(error)
        raise BenchError(target, [Fault(found, "a place that can be written")]) from error
