"""Tables for people, in a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from spectralbench.benches.reproduction.verification import NOT_MADE, NOT_READ, SAME, SAME_BITS
from spectralbench.comparison import MET, NO_LIMIT, NOT_KNOWN, NOT_MET
from spectralbench.errors import quote
from spectralbench.pictures.drawing import MARKS
from spectralbench.reports.figures import Record
from spectralbench.reports.groups import grouped, is_known
from spectralbench.reports.said import (
    AGREEMENT,
    BELOW_BAND,
    INTERVALS,
    NAMES_OF_SHAPE,
    RADIOMETER_FIGURES,
    causes_that_count,
    share_in_words,
    sums_below_band,
)

STYLES = {MET: "green", NOT_MET: "red", NOT_KNOWN: "yellow", NO_LIMIT: "dim"}

_LABELS = 8  # of spectra or channels that are shown
_PLURALS = {"spectrum": "spectra", "channel": "channels"}


def print_file(console: Console, record: Record) -> None:
    """Print what is in one file.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    record : dict
        From `spectralbench.reports.records.of_file`.

    Examples
    --------
    >>> print_file(Console(), {"file": "a.csv", "format": "delimited text", "sha256": "0" * 64,
    ...     "quantities": [], "header": {}, "warnings": [], "decisions": [], "history": []})
    a.csv
      format                       delimited text
      sha256                       000000000000…
    """
    line = _Lines(console)
    if block := record.get("block"):
        title = f" {quote(record['title'], 80)}" if record["title"] else ""
        console.print(escape(f"{record['file']}, {block}{title}"), style="bold", soft_wrap=True)
    else:
        console.print(escape(record["file"]), style="bold", soft_wrap=True)
        line("format", record["format"])
        line("sha256", f"{record['sha256'][:12]}…")
    for name in ("integration_time", "time"):
        if name in record:
            value = record[name]
            line(name.replace("_", " "), f"{value * 1e3:g} ms" if isinstance(value, float) else value)
    if log := record.get("log"):
        line(log["along"], f"{_end(log['first'])} to {_end(log['last'])} {log['units']}".rstrip())
    for dimension, labels in record.get("labels", {}).items():
        more = f" and {len(labels) - _LABELS} more" if len(labels) > _LABELS else ""
        line(_PLURALS[dimension], ", ".join(map(quote, labels[:_LABELS])) + more)
    for quantity in record["quantities"]:
        shape = " × ".join(f"{size} {name}" for name, size in quantity["shape"].items())
        line("quantity", f"{quantity['quantity']} [{quantity['units']}], {shape}")
        if quantity["lowest"] is not None:
            line("  range", f"{quantity['lowest']:.6g} to {quantity['highest']:.6g}")
        if grid := quantity.get("grid"):
            steps = dict.fromkeys(f"{grid[key]:.4g}" for key in ("smallest_step", "largest_step"))
            line("  grid", f"{grid['first']:.4f} to {grid['last']:.4f} nm, steps of {' to '.join(steps)} nm")
        for name, figure in quantity.get("figures", {}).items():
            line(f"  {NAMES_OF_SHAPE.get(name, name)}", figure["text"])
    for title in ("header", "decisions", "warnings", "history"):
        items = record[title]
        texts = [f"{key}: {value}" for key, value in items.items()] if isinstance(items, dict) else items
        for text in texts:
            line(title, text, "yellow" if title == "warnings" else "")


def _end(value: Any) -> str:
    """One end of a log."""
    if value is None:
        return "not known"
    return f"{value:.12g}" if isinstance(value, float) else str(value)


class _Lines:
    """Lines of name and text; a name that repeats is printed once."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.last = ""

    def __call__(self, name: str, text: Any, style: str = "") -> None:
        shown = "" if name == self.last else name
        self.last = name
        self.console.print(f"  {shown:<28} {escape(str(text))}", style=style or None, soft_wrap=True)


def _said(figure: Record) -> str:
    """A figure with its interval below."""
    return f"{figure['text']}\n{figure['interval']}" if figure.get("interval") else str(figure["text"])


def _table(title: str, first: str, columns: list[str]) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", header_style="bold")
    table.add_column(first)
    for column in columns:
        table.add_column(escape(column), justify="right")
    return table


def _print_by_source(console: Console, sources: list[Record], made: Callable[[list[Record]], Table]) -> None:
    """Print a table with a column for each source, in pieces where the console would cut words."""
    table = made(sources)
    if len(sources) == 1 or not any(_CUT in segment.text for segment in console.render(table)):
        console.print(table)
        return
    half = -(-len(sources) // 2)
    for piece in (sources[:half], sources[half:]):
        _print_by_source(console, piece, made)


_CUT = "…"  # where rich cuts a word


def print_reduction(console: Console, record: Record) -> None:
    """Print the figures of a reduced bench.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    record : dict
        From `spectralbench.reports.records.of_reduction`.

    Examples
    --------
    >>> from spectralbench.reports.records import of_reduction
    >>> print_reduction(Console(width=110), of_reduction(reduced))  # doctest: +ELLIPSIS
    Sources, where the part will be...
    """
    sources = record["sources"]
    _print_by_source(console, sources, _measured)
    if sums_below_band(sources, "irradiance"):
        console.print(BELOW_BAND)
    for part in record["parts"]:
        passed = ", ".join(
            f"{'not known' if value is None else f'{100 * value:.1f} %'} at {wavelength} nm"
            for wavelength, value in part["transmittance_at"].items()
        )
        drift = part["drift"]["text"]
        console.print(escape(f"{part['part']} lets through {passed}; its reference drifted by {drift}"))
    for log in record["ageing"]:
        half, longest = (log["figures"][key]["text"] for key in ("half", "longest"))
        falls = (
            "does not fall to half of its output"
            if half == "never"
            else f"falls to half of its output at {half}"
        )
        console.print(escape(f"{log['name']} {falls}; its log ends at {longest}"))
    _print_radiometers(console, record["radiometer"])


def _measured(sources: list[Record]) -> Table:
    """Figures of sources as they were measured."""
    table = _table("Sources, where the part will be", "at the part", [source["source"] for source in sources])
    for key, name in (*NAMES_OF_SHAPE.items(), ("band_irradiance", "irradiance in the required band")):
        table.add_row(name, *[_said(source["figures"][key]) for source in sources])
    table.add_row("pixels not valid", *[str(source["invalid_pixels"]) for source in sources])
    return table


def _print_radiometers(console: Console, logs: list[Record]) -> None:
    """What radiometers read: those that can be corrected in a table, then a sentence of each."""
    if comparable := [log for log in logs if log["comparable"]]:
        table = _table("What radiometers read", "at the part", [log["name"] for log in comparable])
        table.add_row("under", *[escape(log["source"]) for log in comparable])
        table.add_row("irradiance stated in", *[f"{log['target']} nm" for log in comparable])
        for key, name in RADIOMETER_FIGURES.items():
            table.add_row(
                name,
                *[_said(log["figures"][key]) if key in log["figures"] else NOT_KNOWN for log in comparable],
            )
        table.add_row("do the two agree?", *[AGREEMENT[log["agree"]] for log in comparable])
        console.print(table)
    for log in logs:
        mean = log["figures"]["mean_irradiance"]["text"]
        count = log["figures"]["readings"]["value"]
        remark = f" ({log['comment']})" if log["comment"] else ""
        console.print(
            escape(f"radiometer {log['name']}, mean of {count} readings {mean}: {log['verdict']}{remark}")
        )


def _print_variance(console: Console, variance: Record, sources: list[Record], labels: Record) -> None:
    """Where the uncertainty of the exposure comes from."""
    shares = variance["figures"]["exposure_time"]
    title = f"Where the uncertainty comes from: shares of the variance of the {labels['exposure_time']}"

    def made(some: list[Record]) -> Table:
        table = _table(title, "", _heads(some))
        for cause in causes_that_count(shares):
            cells = [share_in_words(shares[source["source"]][cause]) for source in some]
            table.add_row(f"{escape(cause)}\n[dim]{escape(variance['causes'][cause])}[/dim]", *cells)
        return table

    _print_by_source(console, sources, made)


def _heads(sources: list[Record]) -> list[str]:
    """Each source with its place."""
    return [f"{source['place']}. {source['source']}" for source in sources]


def print_comparison(console: Console, record: Record) -> None:
    """Print a comparison: reasons first, then the table and what to test, where a reader ends.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    record : dict
        From `spectralbench.reports.records.of_comparison`.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> from spectralbench.reports.records import of_comparison
    >>> print_comparison(Console(width=110), of_comparison(compare(reduced)))  # doctest: +ELLIPSIS
    1. LED 405
      ✓ irradiance: ...
    """
    sources = record["sources"]
    for source in sources:
        console.print(f"[bold]{source['place']}. {escape(source['source'])}[/bold]")
        for criterion, judged in source["criteria"].items():
            if judged["verdict"] == NO_LIMIT:
                continue
            style, mark = STYLES[judged["verdict"]], MARKS[judged["verdict"]]
            console.print(f"  [{style}]{mark}[/{style}] {criterion}: {escape(judged['reason'])}")
            if change := judged["change"]:
                console.print(f"    nearest change: {escape(change)}")
    for title, items in (("Not measured", record["not_measured"]), ("Cautions", record["cautions"])):
        console.print(f"\n[bold]{title}[/bold]")
        for item in items:
            console.print(f"  · {escape(item)}")
    console.print()
    _print_by_source(console, sources, partial(_compared, record))
    if sums_below_band(sources, "irradiance_at_bond"):
        console.print(BELOW_BAND)
    if variance := record.get("variance_share"):
        console.print(INTERVALS)
        _print_variance(console, variance, sources, record["labels"])
    console.print(f"[bold]Order.[/bold] {escape(record['rule'])}")
    console.print("\n[bold]What to test[/bold]")
    for number, sentence in enumerate(record["advice"]):
        console.print(f"  {escape(sentence)}", style=None if number else "bold")


def _compared(record: Record, sources: list[Record]) -> Table:
    """Figures and verdicts of sources."""
    table = _table(escape(record["title"]), "", _heads(sources))
    criteria = record["sources"][0]["criteria"]
    weighed = [name for name, one in criteria.items() if one["verdict"] == NO_LIMIT]
    beside = {record["criteria"][name]["figure"] for name in weighed}
    for keys in grouped(record, judged=True).values():
        for key in keys:
            if key not in beside:
                table.add_row(record["labels"][key], *[_said(source["figures"][key]) for source in sources])
        table.add_section()
    for criterion in criteria:
        if criterion not in weighed:
            verdicts = [source["criteria"][criterion]["verdict"] for source in sources]
            cells = [f"[{STYLES[v]}]{MARKS[v]} {v}[/{STYLES[v]}]" for v in verdicts]
            table.add_row(f"[bold]{criterion}[/bold]", *cells)
    table.add_section()
    for criterion in weighed:
        key = record["criteria"][criterion]["figure"]
        if is_known(record, key):
            cells = [f"{MARKS[NO_LIMIT]} {_said(source['figures'][key])}" for source in sources]
            table.add_row(criterion, *cells)
    return table


def print_verification(console: Console, record: Record) -> None:
    """Print whether saved results agree with their raw files, and what to do if not.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    record : dict
        From `spectralbench.benches.reproduction.verification.Verification.to_dict`.

    Examples
    --------
    >>> said = ["results/a.nc: 2 of 9 figures differ.", "Changed since it was saved: raw/arc.csv."]
    >>> print_verification(Console(), {"ok": False, "folder": "b", "results": [{"ok": False, "said": said}]})
    ✗ results/a.nc: 2 of 9 figures differ.
      Changed since it was saved: raw/arc.csv.
    <BLANKLINE>
    1 saved result of b does not agree with its raw files.
    """
    results, pack = record["results"], record.get("pack")
    for result in [pack, *results] if pack else results:
        verdict = MET if result["ok"] else NOT_MET
        headline, *rest = result["said"]
        style = STYLES[verdict]
        console.print(f"[{style}]{MARKS[verdict]}[/{style}] [bold]{escape(headline)}[/bold]", soft_wrap=True)
        for text in rest:
            console.print(f"  {escape(text)}", soft_wrap=True)
    words = "; ".join(_counted(results, record["folder"])) + "."
    if pack and not pack["ok"]:
        words += " The pack is not as it was packed."
    console.print(f"\n[bold]{escape(words)}[/bold]", soft_wrap=True)


_WAYS = {
    "agree": ("agrees with its raw files", "agree with their raw files"),
    "named": (
        "has the same figures, from files that have changed",
        "have the same figures, from files that have changed",
    ),
    "differ": ("does not agree with its raw files", "do not agree with their raw files"),
    "open": ("could not be read or made again", "could not be read or made again"),
}


def _counted(results: list[Record], folder: str) -> Iterator[str]:
    """How many saved results agree, and how many do not in which way."""
    found = [_way(result) for result in results]
    begun = False
    for way, (one, several) in _WAYS.items():
        if count := found.count(way):
            which = "" if begun else f" saved result{'s' * (count != 1)} of {folder}"
            yield f"{count}{which} {one if count == 1 else several}"
            begun = True


def _way(result: Record) -> str:
    if result["ok"]:
        return "agree"
    if result.get("status") in (SAME, SAME_BITS):
        return "named"
    return "open" if result.get("status") in (NOT_MADE, NOT_READ) else "differ"
