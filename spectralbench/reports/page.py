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

from spectralbench.benches.comparing import requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.manifest import MANIFEST
from spectralbench.comparison import Requirement, in_words
from spectralbench.errors import BenchError, Fault, quote
from spectralbench.readers.content import write_whole
from spectralbench.readers.cores import shared_out
from spectralbench.reports import pictures, records
from spectralbench.reports.drawing import COLOURS
from spectralbench.reports.records import Record
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
from spectralbench.units import convert, for_people

_FIRST_TIME = "dose_time"  # figures before it are of light
_AGEING = (
    "setting_today",
    "end_of_life_output",
    "end_of_life_irradiance",
    "setting_at_end",
    "hours_left",
)
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
    limits = _limits(needed, compared)
    pair = partial(pictures.light_path, tree), partial(pictures.against_requirement, compared, needed)
    jobs = [partial(draw, narrow=narrow) for narrow in (False, True) for draw in pair]
    drawn = [_coloured(svg) for svg in shared_out(_call, jobs, lambda done: None, pays=2)]
    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = page.from_string(files(__package__).joinpath("page.html.j2").read_text(encoding="utf-8"))
    return template.render(
        compared=compared,
        manifest=manifest,
        advice=compared["advice"],
        needs=_needs(needed),
        figures={
            title: _columns(compared, keys, limits)
            for title, keys in _tables(list(compared["labels"])).items()
        },
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
        light_path=drawn[::2],
        against=drawn[1::2],
        colours=COLOURS,
        marks=MARKS,
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


def _needs(needed: Requirement) -> list[tuple[str, str]]:
    """What is required, as name and text."""
    band = f"{needed.low:g}–{needed.high:g} nm"
    needs = [
        (
            f"irradiance in {band}, at the bond line",
            f"at least {in_words(needed.minimum_irradiance, 'W m-2')}",
        ),
        (f"dose in {band}, at the bond line", f"at least {in_words(needed.dose, 'J m-2')}"),
    ]
    if needed.data_sheet_wavelength is not None:
        needs.append(("wavelength in the data sheet", f"{needed.data_sheet_wavelength:g} nm"))
    if needed.maximum_time is not None:
        needs.append(("exposure", f"at most {in_words(needed.maximum_time, 's')}"))
    if needed.maximum_irradiance is not None:
        needs.append(
            ("irradiance on the adhesive", f"at most {in_words(needed.maximum_irradiance, 'W m-2')}")
        )
    if needed.maximum_temperature is not None:
        needs.append(("temperature", f"at most {convert(needed.maximum_temperature, 'K', 'degC'):.0f} °C"))
    return needs


def _limits(needed: Requirement, compared: Record) -> dict[str, tuple[str, float]]:
    """The limit of each figure that has one."""
    limits = {
        "irradiance_at_bond": ("≤", needed.maximum_irradiance),
        "band_irradiance": ("≥", needed.minimum_irradiance),
        "absorbed_photons": ("≥", compared["required_photons"]["value"]),
        "exposure_time": ("≤", needed.maximum_time),
        "end_of_life_irradiance": ("≥", needed.minimum_irradiance),
        "peak_temperature": ("≤", needed.maximum_temperature),
    }
    return {key: (sign, value) for key, (sign, value) in limits.items() if value is not None}


def _tables(shown: list[str]) -> dict[str, list[str]]:
    """The figures of each table, so that none is too broad for a sheet of paper."""
    light = shown[: shown.index(_FIRST_TIME)]
    ageing = [key for key in shown if key in _AGEING]
    others = [key for key in shown if key not in light + ageing]
    tables = {
        "Light, in the order in which it goes": light,
        "Time, energy and what is exposed": others,
        "Over the hours of use": ageing,
    }
    return {title: keys for title, keys in tables.items() if keys}


def _columns(compared: Record, keys: list[str], limits: dict[str, tuple[str, float]]) -> list[Record]:
    """Columns of a table of figures; ``pad`` makes decimals stand below each other."""
    columns = []
    for key in keys:
        figures = {source["source"]: source["figures"][key] for source in compared["sources"]}
        units = next(iter(figures.values()))["units"]
        label = _unit(units)
        cells = {name: _number(figure["text"], units) for name, figure in figures.items()}
        sign, limit = limits.get(key, ("", None))
        needed = "" if limit is None else _number(in_words(limit, units), units)
        fractions = [_fraction(text) for text in (*cells.values(), needed)]
        widest = max(fractions, key=len)
        columns.append(
            {
                "label": compared["labels"][key],
                "long_name": compared["long_names"][key],
                "unit": label,
                "cells": {
                    name: (text, _pad(text, widest), figures[name].get("interval", ""))
                    for name, text in cells.items()
                },
                "needed": (f"{sign} {needed}".strip(), _pad(needed, widest), ""),
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
