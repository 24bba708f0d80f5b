"""A comparison as one plain table for a spreadsheet: a row for each source and criterion."""

from __future__ import annotations

import csv
import hashlib
import io
from os import PathLike
from pathlib import Path

import xarray as xr

from spectralbench.benches.manifest import MANIFEST
from spectralbench.errors import BenchError, Fault, quote
from spectralbench.pictures.scales import for_axis
from spectralbench.readers.on_disk import write_whole
from spectralbench.reports.figures import Record
from spectralbench.reports.records import of_comparison

COLUMNS = (
    "place",
    "source",
    "criterion",
    "verdict",
    "figure",
    "value [unit]",
    "low, 95 % [unit]",
    "high, 95 % [unit]",
    "at least or at most",
    "limit [unit]",
    "unit",
    "draws that meet it [%]",
    "figure in words",
    "reason",
    "nearest change",
    "bench",
    "SHA-256 of bench.toml",
    "draws",
    "seed",
    "spectralbench",
)
"""Heads of the columns, in turn; the last five are the same in each row, which says where it is from."""

_BEGINS_FORMULA = tuple("=+-@＝＋－＠\t\r\n")
_KINDS = {"≥": "at least", "≤": "at most"}
_MARK = "\ufeff"  # by which spreadsheets know UTF-8


def write_verdicts(path: str | PathLike[str], result: xr.Dataset) -> Path:
    """Write what was judged as a table for a spreadsheet: CSV with commas, in UTF-8 with its mark.

    Parameters
    ----------
    path : str or path
        The file. One that is there is replaced, unless it is a file that the result was made from.
    result : xarray.Dataset
        From `spectralbench.benches.compare`.

    Returns
    -------
    pathlib.Path
        Where it is, as an absolute path.

    Raises
    ------
    BenchError
        If the file is the manifest or a raw file of the bench, or the place cannot be written.

    Notes
    -----
    CSV as in RFC 4180. Values have the units of the report and 9 digits; what is not known, or has no end,
    is empty, and ``figure in words`` says which. A text that a spreadsheet would take for a formula has an
    apostrophe in front.

    Examples
    --------
    >>> import tempfile
    >>> from spectralbench.benches import compare
    >>> path = write_verdicts(Path(tempfile.mkdtemp()) / "verdicts.csv", compare(reduced))
    >>> path.read_text(encoding="utf-8-sig").splitlines()[1][:36]
    '1,LED 405,irradiance,met,irradiance '
    """
    target = Path(path).absolute()
    known = of_comparison(result)
    if target.is_file():
        sha = hashlib.sha256(target.read_bytes()).hexdigest()
        for name, recorded in known["provenance"]["files"].items():
            if sha == recorded:
                found = f"what {quote(name)} of the bench holds"
                advice = "What a bench was measured from is never changed."
                raise BenchError(target, [Fault(found, "another name for the table", advice)])
    write_whole(target, as_csv(known))
    return target


def as_csv(record: Record) -> str:
    """Put what was judged into a table.

    Parameters
    ----------
    record : dict
        From `spectralbench.reports.records.of_comparison`.

    Returns
    -------
    str
        The text of the file; the same for the same result.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> as_csv(of_comparison(compare(reduced))).count("LED 405,irradiance,met")
    1
    """
    provenance = record["provenance"]
    settings = provenance["settings"]
    origin = [
        record["title"],
        provenance["files"][MANIFEST],
        settings["draws"],
        settings["seed"],
        provenance["versions"]["spectralbench"],
    ]
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(COLUMNS)
    for source in record["sources"]:
        for name, criterion in record["criteria"].items():
            key, judged = criterion["figure"], source["criteria"][name]
            figure, units = source["figures"][key], criterion["units"]
            row = [
                source["place"],
                source["source"],
                name,
                judged["verdict"],
                record["long_names"][key],
                *(_number(figure.get(end), units) for end in ("value", "low", "high")),
                _KINDS.get(criterion["required"][:1], ""),
                _number(judged["limit"], units),
                for_axis(units).label,
                _number(judged.get("share_met"), "1"),
                figure["text"],
                judged["reason"],
                judged["change"],
                *origin,
            ]
            table.writerow(map(_cell, row))
    return _MARK + text.getvalue()


def _number(value: float | None, units: str) -> float | None:
    """A number in the unit that people use, to 9 digits."""
    return None if value is None else float(f"{for_axis(units).of(value):.9g}")


def _cell(value: object) -> object:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value.strip(" ").startswith(_BEGINS_FORMULA):
        return f"'{value}"
    return value
