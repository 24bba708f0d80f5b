"""The packing list of a bench: what is in a pack, what made its figures, and the figures themselves."""

from __future__ import annotations

import hashlib
import json
import platform
from dataclasses import asdict, dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.origins import versions
from spectralbench.benches.reproduction.fingerprints import fingerprints
from spectralbench.benches.reproduction.zip_members import name_fault
from spectralbench.comparison import FIGURES
from spectralbench.comparison.words import said_of
from spectralbench.errors import Fault, ReadError, quote

LIST = "pack.json"
"""File of a pack that lists all others."""

_FORM = 1
_LONGEST = 100  # letters of a version, a time, a platform
_LARGEST = 64 * 2**20  # bytes of a list; 6 kB for a file of 2,048 lines
_ABOUT = (
    "A bench, packed by spectralbench: its manifest, the raw files that it names, saved results. "
    "To make the results again and hold them against these: spectralbench verify FILE.zip"
)
_CALCULATING = ("orjson", "pint", "pydantic", "pysimdjson")  # convert and read numbers
_KEEPING = ("h5netcdf", "h5py", "zarr")  # keep them, bit for bit


@dataclass(frozen=True)
class Listed:
    """One file of a pack.

    Parameters
    ----------
    name : str
        Its place in the bench.
    bytes : int
        Its size.
    sha256 : str
        Its hash.
    lines : str
        From `fingerprints`: a short number for each line of a text.
    """

    name: str
    bytes: int
    sha256: str
    lines: str = ""


@dataclass(frozen=True)
class PackingList:
    """What a pack says of itself.

    Parameters
    ----------
    title : str
        Of the bench.
    packed : str
        When, in UTC (ISO 8601).
    versions : dict
        By name, of Python and of every package that figures depend on.
    platform : str
        System, processor and kind of Python.
    results : tuple of str
        Saved results in the pack.
    figures : dict
        By saved comparison, `key_figures`.
    files : tuple of Listed
        Every file but the list itself.
    """

    title: str
    packed: str
    versions: dict[str, str]
    platform: str
    results: tuple[str, ...]
    figures: dict[str, Any]
    files: tuple[Listed, ...]

    def to_json(self) -> str:
        """The list as it stands in a pack.

        Examples
        --------
        >>> json.loads(PackingList("A bench", "", {}, "", (), {}, ()).to_json())["form"]
        1
        """
        document = {"form": _FORM, "about": _ABOUT} | asdict(self)
        return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def listed(name: str, data: bytes) -> Listed:
    """A file as a packing list has it.

    Parameters
    ----------
    name : str
        Its place in the bench.
    data : bytes
        All of it.

    Returns
    -------
    Listed
        Size, hash and fingerprints.

    Examples
    --------
    >>> listed("note.txt", b"dry").bytes
    3
    """
    return Listed(name, len(data), hashlib.sha256(data).hexdigest(), fingerprints(data))


def versions_here(*, keeping: bool = True) -> dict[str, str]:
    """Versions of Python and of every package that figures depend on, as they are here.

    Parameters
    ----------
    keeping : bool
        Whether to name also those that keep results and calculate nothing.

    Returns
    -------
    dict
        By name; a package that is not there is left out.

    Examples
    --------
    >>> {"python", "spectralbench", "numpy", "scipy", "h5py"} <= set(versions_here())
    True
    """
    found = versions()
    for name in (*_CALCULATING, *(_KEEPING if keeping else ())):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def platform_here() -> str:
    """System, processor and kind of Python; nothing that names a computer or a person.

    Returns
    -------
    str
        In words.

    Examples
    --------
    >>> platform_here()  # doctest: +ELLIPSIS
    '...Python'
    """
    return f"{platform.system()}, {platform.machine()}, {platform.python_implementation()}"


def key_figures(comparison: xr.Dataset) -> dict[str, Any]:
    """What a comparison says of each source and criterion, as numbers that need no other file.

    Parameters
    ----------
    comparison : xarray.Dataset
        From `compare`.

    Returns
    -------
    dict
        ``advice``; ``sources`` in their order, each with its ``place`` and, by criterion, ``figure``,
        ``value`` with the ``low`` and ``high`` end of its interval, ``units``, the limit as ``at most`` or
        ``at least``, and ``verdict``. None where something is not known, infinite, or was not drawn.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> time = key_figures(compare(reduced))["sources"]["LED 405"]["time"]
    >>> time["figure"], round(time["value"], 2), time["at most"], time["units"], time["verdict"]
    ('exposure', 5.26, 30.0, 's', 'met')
    """
    names = [str(name) for name in comparison["source"].values]
    of_source: dict[str, dict[str, Any]] = {name: {} for name in names}
    for criterion in comparison["criterion"].values:
        one = comparison.sel(criterion=criterion)
        figure = str(one["judged_by"].item())
        for i, said in enumerate(said_of(comparison[figure])):
            ends = [_plain(end) for end in (said.low, said.high)]
            of_source[names[i]][str(criterion)] = {
                "figure": FIGURES[figure].label,
                "value": _plain(said.value),
                "low": ends[0],
                "high": ends[1],
                "units": str(comparison[figure].attrs["units"]),
                "at most" if one["at_most"] else "at least": _plain(one["limit"].values[i]),
                "verdict": str(one["verdict"].values[i]),
            }
    order = np.argsort(comparison["place"].values, kind="stable")
    places = {names[i]: {"place": int(comparison["place"].values[i]), **of_source[names[i]]} for i in order}
    return {"advice": str(comparison.attrs["advice"]), "sources": places}


def _plain(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def read_list(path: str, data: bytes) -> PackingList:
    """Read a packing list, which may come from anybody.

    Parameters
    ----------
    path : str
        The pack.
    data : bytes
        Its file `LIST`.

    Returns
    -------
    PackingList
        What it says, all of it of the types that it should be.

    Raises
    ------
    ReadError
        If it is no list, or one of a later form.

    Examples
    --------
    >>> read_list("a.zip", b"{}")
    Traceback (most recent call last):
    spectralbench.errors.ReadError: a.zip cannot be read: found a pack.json that lists nothing; expected ...
    """

    def refused(found: str, advice: str = "Get it again from where it was made.") -> ReadError:
        return ReadError(path, [Fault(found, "a pack from spectralbench pack", advice)])

    if len(data) > _LARGEST:
        raise refused(f"a {LIST} of {len(data)} bytes")
    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise refused(f"a {LIST} that is no JSON") from error
    form = document.get("form") if isinstance(document, dict) else None
    if type(form) is int and form > _FORM:
        by = document["versions"].get("spectralbench") if isinstance(document.get("versions"), dict) else None
        advice = "Unpack it with that version, or a later one."
        raise refused(f"a pack of form {form}, written by spectralbench {quote(by)}", advice)
    try:
        if form != _FORM:
            raise TypeError
        found = PackingList(
            _text(document["title"]),
            _short(document["packed"]),
            {_short(name): _short(value) for name, value in document["versions"].items()},
            _short(document["platform"]),
            tuple(_text(name) for name in document["results"]),
            dict(document["figures"]),
            tuple(
                Listed(_text(one["name"]), _whole(one["bytes"]), _text(one["sha256"]), _text(one["lines"]))
                for one in document["files"]
            ),
        )
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise refused(f"a {LIST} that lists nothing") from error
    names = [one.name for one in found.files]
    odd = [name for name in names if name_fault(name) or name == LIST]
    if (
        odd
        or not found.results
        or MANIFEST not in names
        or len(set(names)) < len(names)
        or set(found.results) - _tops(names)
    ):
        raise refused(f"a {LIST} without results, or with files that cannot be in a pack")
    return found


def _tops(names: list[str]) -> set[str]:
    """Files, and all folders around them: a Zarr folder is one result."""
    return {"/".join(name.split("/")[:count]) for name in names for count in range(1, name.count("/") + 2)}


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _short(value: object) -> str:
    if len(text := _text(value)) > _LONGEST:
        raise ValueError
    return text


def _whole(value: object) -> int:
    if type(value) is not int:
        raise TypeError
    return value
