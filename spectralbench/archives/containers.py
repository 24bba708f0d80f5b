"""The two containers as they stand on a disk, read so that a damaged or foreign one does no harm.

Nothing outside the archive is followed, no code is run that the archive names, and no more memory
is asked for than an archive of that size can need.
"""

from __future__ import annotations

import json
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

_ROOM = 64 * 2**20  # bytes that any archive may take in memory
_GROWTH = 20  # and as many times the size of the archive
_OBJECTS, _DEPTH = 20_000, 40
_CODECS = {"bytes", "vlen-utf8"}


class DamagedError(Exception):
    """An archive that cannot have been written by this package as it stands."""


class Group(NamedTuple):
    """One group: its attributes; dimensions, attributes and values of its variables."""

    attributes: dict[str, Any]
    variables: dict[str, tuple[tuple[str, ...], dict[str, Any], np.ndarray]]


class _Bounds:
    """How much may still be read."""

    def __init__(self, stored: int) -> None:
        self.room = _ROOM + _GROWTH * stored
        self.objects = _OBJECTS

    def take(self, size: int) -> None:
        self.room -= size
        self.objects -= 1
        if self.room < 0:
            raise DamagedError("arrays that are far larger than the archive")
        if self.objects < 0:
            raise DamagedError(f"more than {_OBJECTS} groups and arrays")


def read_netcdf(path: Path) -> dict[str, Group]:
    """Read every group of a NetCDF file.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    dict of str to Group
        By path.

    Raises
    ------
    DamagedError
        If it holds something that is refused.
    Exception
        Whatever the libraries raise on damaged bytes.

    Examples
    --------
    >>> import tempfile, xarray as xr
    >>> file = Path(tempfile.mkdtemp()) / "a.nc"
    >>> xr.Dataset({"a": ("x", [1.0])}).to_netcdf(file, engine="h5netcdf")
    >>> read_netcdf(file)["/"].variables["a"][2].tolist()
    [1.0]
    """
    import h5netcdf
    import h5py

    with h5py.File(path, "r") as file:
        _look_through(file, _Bounds(path.stat().st_size), 0)
        with h5netcdf.File(file, "r") as netcdf:
            return {place: _netcdf_group(group) for place, group in _netcdf_groups(netcdf, "/")}


def _look_through(group: Any, bounds: _Bounds, depth: int) -> None:
    """Refuse links and arrays that lead out of the file, before anything of it is read."""
    import h5py

    if depth > _DEPTH:
        raise DamagedError(f"groups more than {_DEPTH} deep")
    for name in group:
        if not isinstance(group.get(name, getlink=True), h5py.HardLink):
            raise DamagedError("a link in place of an array")
        item = group[name]
        if isinstance(item, h5py.Group):
            bounds.take(0)
            _look_through(item, bounds, depth + 1)
        elif isinstance(item, h5py.Dataset):
            if item.external or item.is_virtual:
                raise DamagedError("an array that is kept in another file")
            bounds.take(item.size * item.dtype.itemsize)


def _netcdf_groups(group: Any, place: str) -> Iterator[tuple[str, Any]]:
    yield place, group
    for name, child in group.groups.items():
        yield from _netcdf_groups(child, f"{place.rstrip('/')}/{name}")


def _netcdf_group(group: Any) -> Group:
    variables = {
        str(name): (tuple(array.dimensions), dict(array.attrs), np.asarray(array[...]))
        for name, array in group.variables.items()
    }
    return Group(dict(group.attrs), variables)


def read_zarr(path: Path) -> dict[str, Group]:
    """Read every group of a Zarr folder.

    Parameters
    ----------
    path : pathlib.Path
        The folder.

    Returns
    -------
    dict of str to Group
        By path.

    Raises
    ------
    DamagedError
        If it holds something that is refused, or parts of it are missing.
    Exception
        Whatever the library raises on damaged bytes.

    Examples
    --------
    >>> import tempfile, zarr
    >>> folder = Path(tempfile.mkdtemp()) / "a.zarr"
    >>> group = zarr.create_group(folder)
    >>> array = group.create_array("a", data=np.array([1.0]), compressors=None)
    >>> read_zarr(folder)["/"].variables["a"][2].tolist()
    [1.0]
    """
    import zarr

    bounds = _Bounds(sum(file.lstat().st_size for file in path.rglob("*")))
    for described in path.rglob("zarr.json"):  # as text first: zarr loads the code that a codec names
        bounds.take(0)
        _look_at_codecs(json.loads(described.read_bytes()))
    root = zarr.open_group(path, mode="r", zarr_format=3, use_consolidated=False)
    groups = {"/": Group(dict(root.attrs), {})}
    with warnings.catch_warnings():  # what is missing is said later, by its name
        warnings.filterwarnings("ignore", "Object at .* is not recognized as a component of a Zarr hierarchy")
        members = dict(root.members(max_depth=None))
    for name, member in members.items():
        if isinstance(member, zarr.Group):
            groups[f"/{name}"] = Group(dict(member.attrs), {})
    for name, member in members.items():
        if isinstance(member, zarr.Array):
            parent, _, own = f"/{name}".rpartition("/")
            groups[parent or "/"].variables[own] = _zarr_array(member, path / name, bounds)
    return groups


def _look_at_codecs(described: Any) -> None:
    for codec in described.get("codecs", ()):
        name = codec if isinstance(codec, str) else codec["name"]
        if name not in _CODECS:
            raise DamagedError(f'an array that is packed as "{name}"')


def _zarr_array(
    array: Any, folder: Path, bounds: _Bounds
) -> tuple[tuple[str, ...], dict[str, Any], np.ndarray]:
    in_chunk = int(np.prod(array.chunks, dtype=object))
    bounds.take(max(array.size, in_chunk) * array.dtype.itemsize)
    if array.size and array.nchunks_initialized != array.nchunks:  # zarr would fill the gap in silence
        raise DamagedError("an array of which parts are missing")
    if array.dtype.kind not in "biuf":  # text begins with its count, and room is made for as many
        for part in folder.rglob("*"):
            if part.is_file() and part.name != "zarr.json":
                with part.open("rb") as file:
                    count = int.from_bytes(file.read(4), "little")
                if count != in_chunk:
                    raise DamagedError(f"an array of {in_chunk} texts that says it has {count}")
    return tuple(array.metadata.dimension_names or ()), dict(array.attrs), np.asarray(array[...])
