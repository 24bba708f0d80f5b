"""A comparison that stands still, for pages without a kernel: one picture with its words."""

from __future__ import annotations

import re
import textwrap
from html import escape
from typing import Any

import xarray as xr

from spectralbench.comparison import NO_LIMIT
from spectralbench.pictures.drawing import LIGHT, as_svg
from spectralbench.pictures.light_path import light_path

Record = dict[str, Any]

_SAID = ("band_irradiance", "absorbed_photons", "exposure_time", "peak_temperature", "hours_left")
_LINE = 12.5  # pt, from line to line
_LETTERS = 126  # in a line as wide as the picture
_SIDE = 14  # pt, from the edge


def of_light_path(tree: xr.DataTree, record: Record) -> tuple[str, str]:
    """Picture and words of a comparison.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    record : dict
        From `spectralbench.reports.records.of_comparison`, of the same bench.

    Returns
    -------
    tuple of str
        SVG on white, with the words below the strips; and the words.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> from spectralbench.reports.records import of_comparison
    >>> picture, words = of_light_path(reduced, of_comparison(compare(reduced)))
    >>> "LED 365" in picture, words.splitlines()[0]
    (True, 'Flow-cell cover: which light reaches the bond behind it?')
    """
    lines = words_of(record)
    return _below(as_svg(light_path(tree), "light-path"), lines), "\n".join(lines)


def words_of(record: Record) -> list[str]:
    """A comparison in lines of plain text.

    Parameters
    ----------
    record : dict
        From `spectralbench.reports.records.of_comparison`.

    Returns
    -------
    list of str
        Title, advice, a line or two for each source, cautions.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> from spectralbench.reports.records import of_comparison
    >>> words_of(of_comparison(compare(reduced)))[1][:31]
    'Test first: LED 405 for 5.26 s,'
    """
    found = [record["title"], *record["advice"], ""]
    for source in record["sources"]:
        figures = [
            f"{record['labels'][key]} {_with_interval(source['figures'][key])}"
            for key in _SAID
            if key in source["figures"]
        ]
        found.append(f"{source['place']}. {source['source']}: {'; '.join(figures)}")
        verdicts: dict[str, list[str]] = {}
        for criterion, judged in source["criteria"].items():
            verdicts.setdefault(judged["verdict"], []).append(criterion)
        said = [f"{verdict}: {', '.join(of)}" for verdict, of in verdicts.items() if verdict != NO_LIMIT]
        found.append(f"   {'; '.join(said)}")
    return [*found, "", *record["cautions"]]


def _with_interval(figure: Record) -> str:
    interval = figure.get("interval")
    return f"{figure['text']} ({interval})" if interval else str(figure["text"])


def _below(svg: str, lines: list[str]) -> str:
    """The picture on white, higher by some lines of text."""
    wrapped = [
        part for line in lines for part in textwrap.wrap(line, _LETTERS, subsequent_indent="   ") or [""]
    ]
    match = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert match is not None  # as matplotlib writes it
    width, height = float(match[1]), float(match[2])
    whole = height + _LINE * (len(wrapped) + 1)
    svg = svg.replace(match[0], f'viewBox="0 0 {width:g} {whole:g}"', 1)
    svg = re.sub(r'( height=")[\d.]+(pt")', rf"\g<1>{whole:g}\g<2>", svg, count=1)
    start, end = svg.index("</desc>") + len("</desc>"), svg.rindex("</svg>")
    ground = f'<rect width="{width:g}" height="{whole:g}" fill="#ffffff"/>'
    texts = "".join(
        f'<text x="{_SIDE}" y="{height + _LINE * (i + 0.8):.1f}" xml:space="preserve">{escape(line)}</text>'
        for i, line in enumerate(wrapped)
    )
    style = f'font-family="sans-serif" font-size="9.5" fill="{LIGHT["ink"]}"'
    return f"{svg[:start]}{ground}{svg[start:end]}<g {style}>{texts}</g></svg>"
