"""The one format of every file in ``reference_curves/``, and where such a file is found.

UTF-8 text: comment lines ``# key: value``, a header row, comma-separated rows. Keys are title,
source, standing (published, derived, invented, from memory), licence, date, digits, check (what a
test recomputes), and where they apply interpolation, range, formula, note. A column of numbers
has its unit in brackets; one without holds words. The folder is the kind; weightings stand at
the top. A file is found by its name or by the name of its substance: case and signs do not count.
"""

from __future__ import annotations

import functools
import re
import warnings
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import RangeError, quote

_PACKAGE = Path(__file__).parents[1]
_FOLDERS = (_PACKAGE / "reference_curves", _PACKAGE.parent / "reference_curves")  # wheel, checkout
KINDS = {
    "weightings": ".",
    "lines": "lines",
    "refractive_indices": "refractive_indices",
    "initiators": "initiators",
    "tables": "tables",
}
_ONE = {
    "weightings": "reference curve",
    "lines": "line list",
    "refractive_indices": "refractive index",
    "initiators": "initiator",
    "tables": "table",
}


class FromMemoryWarning(UserWarning):
    """Numbers that nobody has looked up: they may order what to test, and prove nothing."""


class ExtrapolationWarning(UserWarning):
    """A formula or a table that is asked outside the range that its source gives."""


class Table(NamedTuple):
    """What one file holds."""

    name: str
    header: dict[str, str]
    units: dict[str, str]
    columns: dict[str, NDArray[Any]]


def names(kind: str = "weightings") -> tuple[str, ...]:
    """Names of the reference files of one kind.

    Parameters
    ----------
    kind : str
        ``"weightings"``, which `load` knows; ``"lines"``, ``"refractive_indices"``,
        ``"initiators"`` or ``"tables"``.

    Returns
    -------
    tuple of str
        The names, sorted.

    Raises
    ------
    RangeError
        If there is no such kind.

    Examples
    --------
    >>> "erythema" in names()
    True
    >>> names("lines")
    ('argon', 'mercury', 'neon')
    """
    return tuple(sorted(_files(kind)))


@functools.cache
def _files(kind: str) -> dict[str, Path]:
    if kind not in KINDS:
        raise RangeError(f"there is no kind of reference {quote(kind)}; there are {', '.join(KINDS)}")
    return {path.stem: path for folder in _FOLDERS for path in (folder / KINDS[kind]).glob("*.csv")}


def plain(name: object) -> str:
    """Small letters and digits of a name, joined by ``_``.

    Parameters
    ----------
    name : object
        A name as people write it.

    Returns
    -------
    str
        The name as files have it.

    Examples
    --------
    >>> plain("Fused silica"), plain("1-hydroxycyclohexyl phenyl ketone")
    ('fused_silica', '1_hydroxycyclohexyl_phenyl_ketone')
    """
    return re.sub(r"[^a-z0-9]+", "_", str(name).lower()).rstrip("_")


def find(kind: str, name: str) -> Table:
    """Find a file by its name, and read it.

    Parameters
    ----------
    kind : str
        A key of `KINDS`.
    name : str
        A name from `names`, or that of the substance.

    Returns
    -------
    Table
        Header, units and columns; the arrays are shared and read-only.

    Raises
    ------
    RangeError
        If there is no file of that name.

    Examples
    --------
    >>> find("refractive_indices", "Fused silica").columns["strength"].tolist()[0]
    0.6961663
    """
    path = _files(kind).get(plain(name))
    if path is None:
        raise RangeError(f"there is no {_ONE[kind]} {quote(name)}; there are {', '.join(names(kind))}")
    return _read(path)


def warn_of_memory(found: Table, what: str, stacklevel: int = 3) -> None:
    """Warn if the numbers of a file are from memory.

    Parameters
    ----------
    found : Table
        The file.
    what : str
        What is used, in words.
    stacklevel : int
        How many calls above this one the user stands.

    Examples
    --------
    >>> warn_of_memory(find("lines", "mercury"), "mercury")
    """
    if found.header["standing"] == "from memory":
        warnings.warn(
            f"{what}: these numbers are FROM MEMORY ({found.header['digits']}). They may order what to "
            "test and prove nothing; replace them by measured or published ones",
            FromMemoryWarning,
            stacklevel=stacklevel,
        )


def provenance(found: Table) -> dict[str, str]:
    """Attributes that say where numbers come from.

    Parameters
    ----------
    found : Table
        The file.

    Returns
    -------
    dict
        The header; a line of ``history``; for numbers from memory also a ``caution`` to print
        beside every figure that rests on them.

    Examples
    --------
    >>> provenance(find("weightings", "actinic"))["history"]
    'took actinic from the reference curves (published)'
    """
    standing = found.header["standing"]
    said = {"history": f"took {found.name} from the reference curves ({standing})"}
    if standing == "from memory":
        said["caution"] = f"from memory, {found.header['digits']}: {found.header['note']}"
    return {**found.header, **said}


@functools.cache
def _read(path: Path) -> Table:
    lines = path.read_text(encoding="utf-8").splitlines()
    header = dict(line[1:].strip().split(": ", 1) for line in lines if line.startswith("#"))
    top, *rows = [line.split(",") for line in lines if not line.startswith("#")]
    units, columns = {}, {}
    for title, cells in zip(top, zip(*rows, strict=True), strict=True):
        name, bracket, unit = title.partition(" [")
        if bracket:
            units[name] = unit.removesuffix("]")
        columns[name] = np.array(cells, dtype=float if bracket else str)
        columns[name].flags.writeable = False
    return Table(path.stem, header, units, columns)
