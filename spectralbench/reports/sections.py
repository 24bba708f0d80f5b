"""What stands in the sections of a report: rows, columns and sentences, ready to be set."""

from __future__ import annotations

import re

from spectralbench.benches.schema import Manifest
from spectralbench.comparison import MET, NO_LIMIT, NOT_KNOWN, NOT_MET, Requirement, in_words
from spectralbench.pictures.scales import for_axis
from spectralbench.reports.figures import Record
from spectralbench.reports.groups import grouped, is_known
from spectralbench.reports.said import BELOW_BAND, NAMES_OF_SHAPE, causes_that_count, sums_below_band
from spectralbench.units import for_people

_FROM_THE_DATA_SHEET = ("irradiance", "photons", "oxygen", "scattered light", "end of life", "travel")
_BUDGETED = ("band_irradiance", "exposure_time", "end_of_life_irradiance", "peak_temperature")


def needs_of(needed: Requirement, compared: Record) -> list[tuple[str, str]]:
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


def criteria_of(compared: Record, *, weighed: bool) -> list[Record]:
    """Rows of the comparison: those that were judged, or those for which nothing was required."""
    rows = []
    for name, criterion in compared["criteria"].items():
        key = criterion["figure"]
        verdicts = [source["criteria"][name]["verdict"] for source in compared["sources"]]
        unlimited = all(verdict == NO_LIMIT for verdict in verdicts)
        if weighed != unlimited or (weighed and not is_known(compared, key)):
            continue
        figures = [source["figures"][key] for source in compared["sources"]]
        cells = list(zip(verdicts, figures, strict=True))
        rows.append(
            {"name": name, "what": criterion["what"], "required": criterion["required"], "cells": cells}
        )
    return rows


def source_pages(compared: Record, reduced: Record, manifest: Manifest) -> list[Record]:
    """Each source for itself: how it stands, what it is, its verdicts with reasons, its figures."""
    measured = {source["source"]: source for source in reduced["sources"]}
    shared = grouped(compared, judged=False)
    pages = []
    for source in compared["sources"]:
        name, place = source["source"], source["place"]
        here = measured.get(name)
        told = [key for key in NAMES_OF_SHAPE if here is not None]
        groups = {
            title: [(compared["labels"][key], source["figures"][key]) for key in keys if key not in told]
            for title, keys in shared.items()
        }
        weighed = [  # what nothing was required of, and is not known all the same
            f"{key} ({source['criteria'][key]['reason']})"
            for key, criterion in compared["criteria"].items()
            if source["criteria"][key]["verdict"] == NO_LIMIT
            and source["figures"].get(criterion["figure"], {}).get("text") == NOT_KNOWN
        ]
        if here is not None:
            shape = [(words, here["figures"][key]) for key, words in NAMES_OF_SHAPE.items()]
            groups = {"Its spectrum, where the part will be": shape} | groups
        pages.append(
            {
                "name": name,
                "place": place,
                "anchor": f"source-{place}",
                "summary": _stands(source),
                "facts": _facts(name, manifest, here),
                "rows": [
                    _judged(key, criterion, source["criteria"][key])
                    for key, criterion in compared["criteria"].items()
                    if source["criteria"][key]["verdict"] != NO_LIMIT
                ],
                "groups": {title: found for title, figures in groups.items() if (found := _known(figures))},
                "unknown": [
                    name
                    for figures in groups.values()
                    for name, figure in figures
                    if figure["text"] == NOT_KNOWN
                ]
                + weighed,
            }
        )
    return pages


def _judged(name: str, criterion: Record, judged: Record) -> Record:
    """A criterion with what is required of this source, which may be its own."""
    required = criterion["required"]
    if judged["limit"] is not None:
        required = f"{required[:1]} {in_words(judged['limit'], criterion['units'])}"
    return judged | {"name": name, "required": required}


def _known(figures: list[tuple[str, Record]]) -> list[tuple[str, Record]]:
    return [(name, figure) for name, figure in figures if figure["text"] != NOT_KNOWN]


def _stands(source: Record) -> str:
    """How a source stands, in one sentence."""
    by_verdict: dict[str, list[str]] = {MET: [], NOT_MET: [], NOT_KNOWN: []}
    for name, judged in source["criteria"].items():
        by_verdict.get(judged["verdict"], []).append(name)
    count = sum(map(len, by_verdict.values()))
    said = [f"Of {count} criteria it meets {len(by_verdict[MET]) or 'none'}"]
    said += [f"{words}: {', '.join(by_verdict[key])}" for key, words in _OPEN.items() if by_verdict[key]]
    return f"{'; '.join(said)}."


_OPEN = {NOT_MET: "not met", NOT_KNOWN: "not known"}


def _facts(name: str, manifest: Manifest, measured: Record | None) -> list[tuple[str, str]]:
    """What a source is and how it was measured; of several together, which they are."""
    if measured is None:
        together = next(one for one in manifest.together if one.name == name)
        heads = (f"{head.source} at {in_words(head.setting.value, '1')}" for head in together.heads)
        return [("shine together", ", ".join(heads))]
    stated = next(source for source in manifest.source if source.name == name)
    facts = [
        ("kind", measured["kind"]),
        ("filter", measured["filter"]),
        ("distance, measured", measured["distance"]["text"]),
        ("setting, measured", in_words(stated.setting.value, "1")),
        ("pixels that are not valid", str(measured["invalid_pixels"])),
    ]
    units = {
        "working_distance": ("distance at work", "mm"),
        "spot": ("spot, as stated", "mm"),
        "hours": ("hours of use", "h"),
        "end_of_life": ("is replaced at", "h"),
        "electrical_power": ("electrical power", "W"),
    }
    for key, (words, unit) in units.items():
        if (found := getattr(stated, key)) is not None:
            facts.append((words, in_words(found.value, unit)))
    return facts


def columns_of(compared: Record, keys: list[str]) -> list[Record]:
    """Columns of a table of figures; a pad makes decimals stand below each other."""
    columns = []
    for key in keys:
        figures = {source["source"]: source["figures"][key] for source in compared["sources"]}
        units = next(iter(figures.values()))["units"]
        cells = {name: number_of(figure["text"], units) for name, figure in figures.items()}
        widest = max(map(_fraction, cells.values()), key=len)
        columns.append(
            {
                "label": compared["labels"][key],
                "unit": for_axis(units).label,
                "cells": {
                    name: (text, _pad(text, widest), figures[name].get("interval", ""))
                    for name, text in cells.items()
                },
            }
        )
    return columns


def number_of(text: str, units: str) -> str:
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


def variance_of(compared: Record) -> Record | None:
    """Where the uncertainty comes from, for the figures that decide most."""
    variance = compared.get("variance_share")
    if variance is None:
        return None
    return {
        compared["long_names"][key]: {
            "causes": {cause: variance["causes"][cause] for cause in causes_that_count(shares)},
            "shares": shares,
        }
        for key in _BUDGETED
        if (shares := variance["figures"].get(key))
    }


def terms_of(compared: Record) -> list[tuple[str, str]]:
    """What the labels of the further figures stand for."""
    shown = (key for keys in grouped(compared, judged=False).values() for key in keys)
    return [(compared["labels"][key], compared["long_names"][key]) for key in shown]


def comments_of(compared: Record) -> list[str]:
    """What is said about single figures."""
    said: dict[str, None] = {}
    if sums_below_band(compared["sources"], "irradiance_at_bond"):
        said[BELOW_BAND] = None
    for source in compared["sources"]:
        for key, figure in source["figures"].items():
            if "comment" in figure:
                said[f"{compared['labels'][key]}: {figure['comment']}"] = None
    return list(said)
