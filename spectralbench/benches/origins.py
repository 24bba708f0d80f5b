"""Where numbers come from: files with their hashes, reference curves, versions, settings."""

from __future__ import annotations

import hashlib
import html
import json
import platform
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path, PurePath
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.benches.adjustments import shown
from spectralbench.benches.manifest import MANIFEST
from spectralbench.errors import RangeError, printable

_READ = re.compile(r"^read from (.+) \(sha256 ([0-9a-f]{64})\)$", re.MULTILINE)
_TOOK = re.compile(r"^took (.+ from the reference curves \(.+\))$", re.MULTILINE)

Result = xr.DataTree | xr.Dataset | xr.DataArray


def versions() -> dict[str, str]:
    """Versions of what calculates here.

    Returns
    -------
    dict
        Version by name.

    Examples
    --------
    >>> list(versions())
    ['python', 'spectralbench', 'numpy', 'scipy', 'xarray']
    """
    packages = ("spectralbench", "numpy", "scipy", "xarray")
    return {"python": platform.python_version(), **{name: version(name) for name in packages}}


def moments(read: Mapping[str, xr.Dataset]) -> dict[str, str]:
    """When the files of a bench were taken, as far as they say so.

    Parameters
    ----------
    read : mapping
        By name, what was read from each file.

    Returns
    -------
    dict
        By name, as in ISO 8601; a file of another kind, or of several times, is left out.

    Examples
    --------
    >>> taken = xr.Dataset(coords={"time": np.datetime64("2026-03-02T09:38")})
    >>> moments({"raw/led.csv": taken, "raw/lamp.csv": xr.Dataset()})
    {'raw/led.csv': '2026-03-02T09:38:00'}
    """
    times = {name: data.coords.get("time") for name, data in read.items()}
    return {
        name: str(time.values.astype("datetime64[s]"))
        for name, time in times.items()
        if time is not None and time.ndim == 0 and time.dtype.kind == "M"
    }


def hashes_and_versions(folder: Path, read: Mapping[str, xr.Dataset]) -> dict[str, Any]:
    """What is needed to make every number of a bench again.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.
    read : mapping
        By name, what was read from each file, with its ``attrs["sha256"]``.

    Returns
    -------
    dict
        ``files``, the SHA-256 of each and of the manifest by name, and ``versions``.

    Examples
    --------
    >>> list(hashes_and_versions(demo, {})["files"])
    ['bench.toml']
    """
    hashes = {name: str(data.attrs["sha256"]) for name, data in read.items()}
    hashes[MANIFEST] = hashlib.sha256((folder / MANIFEST).read_bytes()).hexdigest()
    return {"files": hashes, "versions": versions()}


@dataclass(frozen=True, repr=False)
class Provenance:
    """What is needed to make numbers again; a notebook shows it as a table.

    Parameters
    ----------
    files : tuple of tuple of two str
        Name and SHA-256 of each raw file and manifest, in the order in which they were met.
    curves : tuple of str
        Reference curves that came with the package, each with its standing.
    versions : dict
        Versions that the results were made with, by name.
    here : dict
        Versions that are running now, where they are others.
    settings : dict
        In words, by name.
    """

    files: tuple[tuple[str, str], ...]
    curves: tuple[str, ...]
    versions: dict[str, str]
    here: dict[str, str]
    settings: dict[str, str]

    def _rows(self) -> Iterator[tuple[str, str]]:
        yield "made with", _listed(self.versions)
        if self.here:
            yield "here", f"{_listed(self.here)}; figures may differ in their last digits"
        if self.settings:
            yield "settings", _listed(self.settings)
        if self.curves:
            yield "took", "; ".join(map(printable, self.curves))

    def to_dict(self) -> dict[str, Any]:
        """All of it, as JSON can hold it.

        Examples
        --------
        >>> Provenance((("a.csv", "0f3a"),), (), {}, {}, {"seed": "7"}).to_dict()["files"]
        {'a.csv': '0f3a'}
        """
        return asdict(self) | {"files": dict(self.files), "curves": list(self.curves)}

    def __str__(self) -> str:
        rows = [*self._rows(), *((printable(name), sha) for name, sha in self.files)]
        width = max(len(name) for name, _ in rows)
        return "\n".join(f"{name:{width}}  {text}" for name, text in rows)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        rows = [(name, html.escape(text)) for name, text in self._rows()]
        rows += [(printable(name), f"<code>{sha}</code>") for name, sha in self.files]
        cells = "".join(
            f'<tr><th scope="row" style="text-align:left">{html.escape(name)}</th>'
            f'<td style="text-align:left">{text}</td></tr>'
            for name, text in rows
        )
        return f"<table><caption>Where these numbers come from; files by SHA-256</caption>{cells}</table>"


def provenance(*results: Result, **settings: object) -> Provenance:
    """Say where numbers come from: files by their hashes, reference curves, versions, settings.

    Parameters
    ----------
    *results : xarray.DataTree, xarray.Dataset or xarray.DataArray
        A bench, what `reduce_bench`, `compare`, `sweep` or `load` gave, or what `read` or `read_many` read
        and steps of this package made of it.
    **settings : object
        What else the numbers rest on, such as ``seed=7``.

    Returns
    -------
    Provenance
        With ``files``, ``curves``, ``versions``, ``here`` and ``settings``; prints as text, and shows as a
        table in a notebook.

    Raises
    ------
    RangeError
        If there is no result, or one that names no file and no reference curve.

    Notes
    -----
    A result of a bench keeps all of it; of what was read, the history of each array names its files. What
    a fit or an expression of your own makes of it may lose its history: give what was read.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> from spectralbench.benches import reduce_bench
    >>> found = provenance(reduce_bench(demo, draws=100, seed=1))
    >>> found.settings, found.files[-1][0]
    ({'draws': '100', 'seed': '1'}, 'bench.toml')
    """
    if not results:
        raise RangeError("the provenance of nothing: give the result of a bench, or what was read")
    files: dict[tuple[str, str], None] = {}
    curves: dict[str, None] = {}
    made: dict[str, dict[str, None]] = {}
    said: dict[str, dict[str, None]] = {}
    for number, result in enumerate(results, 1):
        known = json.loads(result.attrs.get("provenance", "{}"))
        texts = _histories(result)
        own = dict.fromkeys(known.get("files", {}).items()) or _files(result, texts)
        taken = dict.fromkeys(curve for text in texts for curve in _TOOK.findall(text))
        if not own and not taken:
            raise RangeError(
                f"result {number} of {len(results)} names no file and no reference curve: its history was "
                "lost on the way. Give what was read, or the result of a bench"
            )
        files |= own
        curves |= taken
        for name, text in known.get("versions", {}).items():
            made.setdefault(name, {})[str(text)] = None
        for name, text in _in_words(known.get("settings", {})):
            said.setdefault(name, {})[text] = None
    for name, value in settings.items():
        said.setdefault(name.replace("_", " "), {})[str(value)] = None
    now = versions()
    recorded = {name: " and ".join(texts) for name, texts in made.items()} or now
    return Provenance(
        tuple(files),
        tuple(curves),
        recorded,
        {name: text for name, text in now.items() if recorded.get(name, text) != text},
        {name: " and ".join(texts) for name, texts in said.items()},
    )


def _histories(result: Result) -> list[str]:
    """All that a result says of what was done, each text once."""
    nodes = [node.to_dataset() for node in result.subtree] if isinstance(result, xr.DataTree) else [result]
    carriers: list[Any] = [*nodes]
    for node in nodes:
        carriers += node.variables.values() if isinstance(node, xr.Dataset) else node.coords.values()
    texts = (carrier.attrs.get("history") for carrier in carriers)
    return list(dict.fromkeys(text for text in texts if isinstance(text, str)))


def _files(result: Result, texts: list[str]) -> dict[tuple[str, str], None]:
    """Files that were read: those that histories name, and those of many in one."""
    found = dict.fromkeys(pair for text in texts for pair in _READ.findall(text))
    if not isinstance(result, xr.DataTree) and {"file", "sha256"} <= set(result.coords):
        names, hashes = (np.atleast_1d(result.coords[name].values) for name in ("file", "sha256"))
        found |= dict.fromkeys(
            (PurePath(str(name)).name, str(sha)) for name, sha in zip(names, hashes, strict=True)
        )
    return found


def _in_words(settings: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in settings.items():
        if name != "adjusted":
            yield name, "none" if value is None else str(value)
            continue
        each = [
            f"{control}{' of ' * bool(of)}{of} {shown(control, number)}"
            for control, values in value.items()
            for of, number in values.items()
        ]
        yield "taken otherwise", "; ".join(each)


def _listed(texts: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {printable(text)}" for name, text in texts.items())
