"""A comparison as one HTML file that stands alone: no network, no script, nothing beside it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import partial
from importlib.resources import files
from os import PathLike
from pathlib import Path
from typing import Any

import xarray as xr

from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.manifest import MANIFEST
from spectralbench.comparison import NO_LIMIT, Requirement, in_words
from spectralbench.errors import BenchError, Fault, quote
from spectralbench.readers.content import write_whole
from spectralbench.readers.cores import shared_out
from spectralbench.reports import pictures, records
from spectralbench.reports.drawing import COLOURS
from spectralbench.reports.figures import Record
from spectralbench.reports.groups import grouped, is_known
from spectralbench.reports.tables import (
    AGREEMENT,
    BELOW_BAND,
    INTERVALS,
    MARKS,
    RADIOMETER_FIGURES,
    causes_that_count,
    share_in_words,
    sums_below_band,
)
from spectralbench.units import for_people

_FROM_THE_DATA_SHEET = ("irradiance", "photons", "oxygen", "scattered light", "end of life", "travel")
_BUDGETED = ("band_irradiance", "exposure_time", "end_of_life_irradiance", "peak_temperature")
_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def write_report(path: str | PathLike[str], tree: xr.DataTree, result: xr.Dataset) -> Path:
    """Write a comparison as one HTML file.

    Parameters
    ----------
    path : str or path
        The file. One that is there is replaced, unless it belongs to the bench.
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.
    result : xarray.Dataset
        From `spectralbench.benches.compare`.

    Returns
    -------
    pathlib.Path
        Where it is, as an absolute path.

    Raises
    ------
    BenchError
        If the folder is not there, or the file is the manifest or a raw file of the bench.

    Examples
    --------
    >>> write_report("/nowhere/report.html", xr.DataTree(), xr.Dataset())
    Traceback (most recent call last):
    spectralbench.errors.BenchError: ...
    """
    target = Path(path).absolute()
    if fault := _misplaced(target, tree):
        raise BenchError(target, [fault])
    write_whole(target, as_html(tree, result))
    return target


def as_html(tree: xr.DataTree, result: xr.Dataset) -> str:
    """Put a comparison into words, tables and pictures, as one HTML page.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.
    result : xarray.Dataset
        From `spectralbench.benches.compare`.

    Returns
    -------
    str
        The page; the same for the same bench.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> as_html(reduced, compare(reduced)).splitlines()[0]
    '<!DOCTYPE html>'
    """
    from jinja2 import Environment, StrictUndefined

    manifest = manifest_of(tree)
    needed = requirement_of(manifest)
    compared, reduced = records.of_comparison(result), records.of_reduction(tree)
    draw = {
        "light_path": partial(pictures.light_path, tree),
        "by_depth": partial(pictures.by_depth, result),
        "against": partial(pictures.against_requirement, compared, needed),
    }
    jobs = [partial(one, narrow=narrow) for narrow in (False, True) for one in draw.values()]
    svgs = [_coloured(svg) for svg in shared_out(_call, jobs, lambda done: None, pays=2)]
    drawn = {name: svgs[place :: len(draw)] for place, name in enumerate(draw)}
    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = page.from_string(files(__package__).joinpath("page.html.j2").read_text(encoding="utf-8"))
    return template.render(
        compared=compared,
        manifest=manifest,
        advice=compared["advice"],
        needs=_needs(needed, compared),
        judged=_criteria(compared, shown=False),
        weighed=_criteria(compared, shown=True),
        figures={title: _columns(compared, keys) for title, keys in grouped(compared, judged=False).items()},
        comments=_comments(compared),
        intervals=INTERVALS,
        variance=_variance(compared),
        share=share_in_words,
        setups={source["source"]: source for source in reduced["sources"]},
        stated={source.name: source for source in manifest.source},
        parts=list(zip(manifest.part, reduced["parts"], strict=True)),
        ageing=reduced["ageing"],
        radiometers=list(zip(manifest.radiometer, reduced["radiometer"], strict=True)),
        radiometer_figures=RADIOMETER_FIGURES,
        agreement=AGREEMENT,
        provenance=reduced["provenance"],
        pictures=drawn,
        colours=COLOURS,
        marks=MARKS,
        unlimited=NO_LIMIT,
        quantity=lambda measured, units: in_words(measured.value, units),
        percent=lambda value: in_words(float("nan") if value is None else value, "1"),
    )


def _call(job: Callable[[], str]) -> str:
    return job()


def _misplaced(target: Path, tree: xr.DataTree) -> Fault | None:
    """What speaks against writing there."""
    if not target.parent.is_dir():
        found = f"no folder {quote(target.parent, 200)}"
        return Fault(
            found, "a folder to write the report into", "Make the folder first, or name another one."
        )
    if target.is_dir():
        return Fault("a folder of this name", "the name of a file", 'Add one, such as "report.html".')
    folder = Path(tree.attrs["folder"])
    for name in (*json.loads(tree.attrs["provenance"])["files"], MANIFEST):
        raw = folder / name
        same = raw.exists() and target.exists() and raw.samefile(target)
        if same or raw.resolve() == target.resolve():
            found = f"{quote(name)}, a file of the bench"
            return Fault(
                found, "another name for the report", "What a bench was measured from is never changed."
            )
    return None


def _needs(needed: Requirement, compared: Record) -> list[tuple[str, str]]:
    """What is required, as name and text."""
    band = f"{needed.low:g}–{needed.high:g} nm"
    least = in_words(needed.minimum_irradiance, "W m-2")
    needs = [
        (f"irradiance in {band}, at the bond line", f"≥ {least}"),
        (f"dose in {band}, at the bond line", f"≥ {in_words(needed.dose, 'J m-2')}"),
    ]
    if needed.data_sheet_wavelength is not None:
        needs.append(("wavelength in the data sheet", f"{needed.data_sheet_wavelength:g} nm"))
    if needed.speed is not None:
        passes = f", {needed.passes} passes" if needed.passes > 1 else ""
        needs.append(("speed of the part", f"{in_words(needed.speed, 'mm s-1')}{passes}"))
    for name, criterion in compared["criteria"].items():
        if criterion["limit"] is not None and name not in _FROM_THE_DATA_SHEET:
            needs.append((compared["long_names"][criterion["figure"]], criterion["required"]))
    return needs


def _criteria(compared: Record, *, shown: bool) -> list[Record]:
    """Rows of the comparison: those that were judged, or those for which nothing was required."""
    rows = []
    for name, criterion in compared["criteria"].items():
        key = criterion["figure"]
        said = [source["criteria"][name] for source in compared["sources"]]
        if shown != all(one["verdict"] == NO_LIMIT for one in said) or (
            shown and not is_known(compared, key)
        ):
            continue
        figures = [source["figures"][key] for source in compared["sources"]]
        names = (source["source"] for source in compared["sources"])
        rows.append(
            {
                "name": name,
                "what": criterion["what"],
                "required": criterion["required"],
                "cells": list(zip((one["verdict"] for one in said), figures, strict=True)),
                "reasons": [
                    (source, one)
                    for source, one in zip(names, said, strict=True)
                    if not (shown and one["reason"].endswith(criterion["what"]))  # then it is the figure
                ],
                "changes": any(one["change"] for one in said),
            }
        )
    return rows


def _columns(compared: Record, keys: list[str]) -> list[Record]:
    """Columns of a table of figures; ``pad`` makes decimals stand below each other."""
    columns = []
    for key in keys:
        figures = {source["source"]: source["figures"][key] for source in compared["sources"]}
        units = next(iter(figures.values()))["units"]
        cells = {name: _number(figure["text"], units) for name, figure in figures.items()}
        widest = max(map(_fraction, cells.values()), key=len)
        columns.append(
            {
                "label": compared["labels"][key],
                "long_name": compared["long_names"][key],
                "unit": _unit(units),
                "cells": {
                    name: (text, _pad(text, widest), figures[name].get("interval", ""))
                    for name, text in cells.items()
                },
            }
        )
    return columns


def _number(text: str, units: str) -> str:
    """A figure in words without its unit."""
    label = "%" if units == "1" else for_people(units)[0]
    return text.removesuffix(f" {label}")


def _fraction(number: str) -> str:
    """The decimals with their point; empty for words and powers of ten."""
    match = re.fullmatch(r"-?\d+(\.\d+)?", number)
    return (match[1] or "") if match else ""


def _pad(number: str, widest: str) -> str:
    """What is missing behind a number to the widest decimals of its column."""
    return widest[len(_fraction(number)) :] if re.fullmatch(r"-?[\d.]+", number) else ""


def _unit(units: str) -> str:
    """A unit as people write it: no sign for a pure number but per cent, powers raised."""
    label = "%" if units == "1" else for_people(units)[0]
    return re.sub(r"(?<=[a-zA-Z])-?\d", lambda power: power[0].translate(_SUPERSCRIPTS), label)


def _variance(compared: Record) -> Record | None:
    """Where the uncertainty comes from, for the figures that decide most."""
    variance = compared.get("variance_share")
    if variance is None:
        return None
    shown = {
        compared["long_names"][key]: {
            "causes": {cause: variance["causes"][cause] for cause in causes_that_count(shares)},
            "shares": shares,
        }
        for key in _BUDGETED
        if (shares := variance["figures"].get(key))
    }
    return {"figures": shown}


def _comments(compared: Record) -> list[str]:
    """What is said about single figures."""
    said: dict[str, None] = {}
    if sums_below_band(compared["sources"], "irradiance_at_bond"):
        said[BELOW_BAND] = None
    for source in compared["sources"]:
        for key, figure in source["figures"].items():
            if "comment" in figure:
                said[f"{compared['labels'][key]}: {figure['comment']}"] = None
    return list(said)


def _coloured(svg: str) -> Any:
    """A picture whose colours the page sets, so that it follows the reader's light or dark."""
    from markupsafe import Markup

    names = {light: f"var(--{name})" for name, (light, _) in COLOURS.items()}

    def tag(found: re.Match[str]) -> str:
        return re.sub(r"#[0-9a-f]{6}", lambda colour: names.get(colour[0], colour[0]), found[0])

    return Markup(re.sub(r"<[^>]*>", tag, svg))  # names in it were escaped when it was drawn
