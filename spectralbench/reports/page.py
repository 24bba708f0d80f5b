"""A comparison as one HTML file that stands alone: no network, no script, nothing beside it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import partial
from operator import call
from os import PathLike
from pathlib import Path
from typing import Any

import xarray as xr

from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.origins import provenance
from spectralbench.benches.strips import strips_of
from spectralbench.comparison import NO_LIMIT, Requirement, in_words, interval_in_words
from spectralbench.errors import BenchError, Fault, quote
from spectralbench.pictures.by_depth import by_depth
from spectralbench.pictures.comparison import comparison
from spectralbench.pictures.drawing import COLOURS, MARKS, NARROW, WIDE, as_svg
from spectralbench.pictures.light_path import light_path
from spectralbench.readers.cores import shared_out
from spectralbench.readers.on_disk import write_whole
from spectralbench.reports import again, moments, records, sections
from spectralbench.reports.figures import Record
from spectralbench.reports.groups import grouped
from spectralbench.reports.one_light import one_light
from spectralbench.reports.said import AGREEMENT, INTERVALS, RADIOMETER_FIGURES, share_in_words


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
    from jinja2 import Environment, PackageLoader, StrictUndefined

    manifest = manifest_of(tree)
    needed = requirement_of(manifest)
    compared, reduced = records.of_comparison(result), records.of_reduction(tree)
    pages = sections.source_pages(compared, reduced, manifest)
    drawn = _pictures(tree, result, pages, needed)
    for page in pages:
        page["picture"] = drawn.pop(page["anchor"])[0]
        page["files"] = again.files_of(page["name"], manifest)
    made, taken = provenance(result), reduced["measured"]
    place = PackageLoader("spectralbench.reports", "templates")
    setting = Environment(
        loader=place, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return setting.get_template("page.html.j2").render(
        compared=compared,
        manifest=manifest,
        printed_title=_in_style(compared["title"]),
        advice=compared["advice"],
        needs=sections.needs_of(needed, compared),
        judged=sections.criteria_of(compared, weighed=False),
        weighed=sections.criteria_of(compared, weighed=True),
        pages=pages,
        measured=moments.measured_in_words(manifest, taken),
        taken={name: moments.in_words(moment) for name, moment in taken.items()},
        day=moments.in_words,
        figures={
            title: sections.columns_of(compared, keys)
            for title, keys in grouped(compared, judged=False).items()
        },
        terms=sections.terms_of(compared),
        comments=sections.comments_of(compared),
        intervals=INTERVALS,
        variance=sections.variance_of(compared),
        share=share_in_words,
        parts=list(zip(manifest.part, reduced["parts"], strict=True)),
        ageing=reduced["ageing"],
        radiometers=list(zip(manifest.radiometer, reduced["radiometer"], strict=True)),
        radiometer_figures=RADIOMETER_FIGURES,
        agreement=AGREEMENT,
        provenance=reduced["provenance"],
        settings=reduced["provenance"]["settings"],
        commands=again.commands_of(reduced["provenance"]),
        versions=[*made.versions.items(), *made.settings.items(), *(("took", took) for took in made.curves)],
        files=again.uses_of(manifest, reduced["provenance"]["files"]),
        pictures=drawn,
        colours=COLOURS,
        marks=MARKS,
        unlimited=NO_LIMIT,
        quantity=lambda measured, units: in_words(measured.value, units),
        percent=lambda value: in_words(_number(value), "1"),
        between=lambda low, high: interval_in_words(_number(low), _number(high), "1"),
    )


def _number(value: float | None) -> float:
    return float("nan") if value is None else value


def _pictures(
    tree: xr.DataTree, result: xr.Dataset, pages: list[Record], needed: Requirement
) -> dict[str, list[Any]]:
    """Each picture for a broad and for a narrow page, and one for each source, by its anchor."""
    strips = strips_of(tree)
    jobs: list[tuple[str, Callable[[], str]]] = [
        (name, partial(_drawn, draw, width, f"{name}{marked}"))
        for name, draw in {
            "light_path": partial(light_path, tree),
            "by_depth": partial(by_depth, result),
            "against": partial(comparison, result, figures=_AGAINST),
        }.items()
        for width, marked in ((WIDE, ""), (NARROW, "-narrow"))
    ]
    for page in pages:
        draw = partial(one_light, strips, page["name"], needed)
        jobs.append((page["anchor"], partial(_drawn, draw, _BESIDE, f"light-of-{page['anchor']}")))
    svgs = shared_out(call, [job for _, job in jobs], lambda done: None, pays=2)
    drawn: dict[str, list[Any]] = {}
    for (name, _), svg in zip(jobs, svgs, strict=True):
        drawn.setdefault(name, []).append(_coloured(svg))
    return drawn


_BESIDE = 130.0  # mm, of a picture beside facts
_AGAINST = ("band_irradiance", "exposure_time")


def _drawn(draw: Callable[..., Any], width: float, name: str) -> str:
    return as_svg(draw(width=width), name.replace("_", "-"))


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


def _in_style(text: str) -> Any:
    """A text as a string of CSS, in which nothing but letters and digits stands as it is."""
    from markupsafe import Markup

    kept = "".join(sign if sign.isalnum() or sign == " " else f"\\{ord(sign):x} " for sign in text)
    return Markup(f'"{kept}"')


def _coloured(svg: str) -> Any:
    """A picture whose colours the page sets, so that it follows the reader's light or dark."""
    from markupsafe import Markup

    names = {light: f"var(--{name})" for name, (light, _) in COLOURS.items()}

    def tag(found: re.Match[str]) -> str:
        return re.sub(r"#[0-9a-f]{6}", lambda colour: names.get(colour[0], colour[0]), found[0])

    return Markup(re.sub(r"<[^>]*>", tag, svg))  # names in it were escaped when it was drawn
