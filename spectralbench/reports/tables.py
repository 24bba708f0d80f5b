"""Tables for people, in a terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from spectralbench.comparison import MET, NO_LIMIT, NOT_KNOWN, NOT_MET
from spectralbench.errors import quote
from spectralbench.pictures.drawing import MARKS
from spectralbench.reports.figures import SHAPE_NAMES, Record
from spectralbench.reports.groups import grouped, is_known

STYLES = {MET: "green", NOT_MET: "red", NOT_KNOWN: "yellow", NO_LIMIT: "dim"}

NAMES_OF_SHAPE = SHAPE_NAMES | {
    name: f"{SHAPE_NAMES[name]} over the whole grid" for name in ("centroid_wavelength", "irradiance")
}


RADIOMETER_FIGURES = {
    "mean_irradiance": "mean of its readings",
    "mismatch_factor": "factor for this source",
    "corrected_irradiance": "corrected reading",
    "spectrometer_irradiance": "spectrometer",
    "ratio": "corrected over spectrometer",
}
AGREEMENT = {True: "yes", False: "no", None: NOT_KNOWN}

INTERVALS = (
    "Beside or below a figure stands the interval that covers it with 95 %, if the budget is complete."
)

BELOW_BAND = (
    "Where the whole grid gives less than the required band, the noise of dark pixels outside it adds up "
    "to less than 0."
)

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
    table = _table("Sources, where the part will be", "at the part", [source["source"] for source in sources])
    for key, name in (*NAMES_OF_SHAPE.items(), ("band_irradiance", "irradiance in the required band")):
        table.add_row(name, *[_said(source["figures"][key]) for source in sources])
    table.add_row("pixels not valid", *[str(source["invalid_pixels"]) for source in sources])
    console.print(table)
    if sums_below_band(sources, "irradiance"):
        console.print(BELOW_BAND)
    for part in record["parts"]:
        passed = ", ".join(
            f"{value:.1%} at {wavelength} nm" if value is not None else f"not known at {wavelength} nm"
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
    names = [source["source"] for source in sources]
    title = f"Where the uncertainty comes from: shares of the variance of the {labels['exposure_time']}"
    table = _table(title, "", [f"{source['place']}. {source['source']}" for source in sources])
    for cause in causes_that_count(shares):
        cells = [share_in_words(shares[name][cause]) for name in names]
        table.add_row(f"{escape(cause)}\n[dim]{escape(variance['causes'][cause])}[/dim]", *cells)
    console.print(table)


def causes_that_count(shares: dict[str, dict[str, float | None]]) -> list[str]:
    """Causes that a table of shares shows.

    Parameters
    ----------
    shares : dict
        By source and cause, the share of the variance of one figure [1]; None where it is not known.

    Returns
    -------
    list of str
        Without those that contribute nothing to the figure of any source.

    Examples
    --------
    >>> causes_that_count({"arc": {"noise": 0.0, "distance": 1.0}, "LED": {"noise": None, "distance": None}})
    ['distance']
    """
    by_cause = {cause: [of[cause] for of in shares.values()] for cause in next(iter(shares.values()), {})}
    return [cause for cause, row in by_cause.items() if 0.0 not in row or any(row)]


def sums_below_band(sources: list[Record], whole: str) -> bool:
    """Whether a sum over the whole grid lies below that over the required band, which is a part of it.

    Parameters
    ----------
    sources : list of dict
        Records with figures.
    whole : str
        The figure over the whole grid.

    Returns
    -------
    bool
        True if so for any source, as printed: then `BELOW_BAND` explains it.

    Examples
    --------
    >>> figures = {"irradiance": {"value": 11.02}, "band_irradiance": {"value": 11.03}}
    >>> sums_below_band([{"figures": figures}], "irradiance")
    True
    """
    pairs = [[source["figures"][key]["value"] for key in (whole, "band_irradiance")] for source in sources]
    return any(None not in pair and pair[0] < pair[1] for pair in pairs)


def share_in_words(share: float | None) -> str:
    """A share of a variance, in whole per cent.

    Parameters
    ----------
    share : float or None
        Share [1]; None if it is not known.

    Returns
    -------
    str
        Per cent.

    Examples
    --------
    >>> share_in_words(0.234), share_in_words(0.001), share_in_words(0.0), share_in_words(None)
    ('23 %', '< 1 %', '0', 'not known')
    """
    if share is None:
        return NOT_KNOWN
    if share == 0:
        return "0"
    return "< 1 %" if share < 0.01 else f"{100 * share:.0f} %"


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
    table = _table(
        escape(record["title"]), "", [f"{source['place']}. {source['source']}" for source in sources]
    )
    weighed = [name for name, one in sources[0]["criteria"].items() if one["verdict"] == NO_LIMIT]
    beside = {record["criteria"][name]["figure"] for name in weighed}
    for keys in grouped(record, judged=True).values():
        for key in keys:
            if key not in beside:
                table.add_row(record["labels"][key], *[_said(source["figures"][key]) for source in sources])
        table.add_section()
    for criterion in sources[0]["criteria"]:
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
    console.print(table)
    if sums_below_band(sources, "irradiance_at_bond"):
        console.print(BELOW_BAND)
    if variance := record.get("variance_share"):
        console.print(INTERVALS)
        _print_variance(console, variance, sources, record["labels"])
    console.print(f"[bold]Order.[/bold] {escape(record['rule'])}")
    console.print("\n[bold]What to test[/bold]")
    for number, sentence in enumerate(record["advice"]):
        console.print(f"  {escape(sentence)}", style=None if number else "bold")


def print_verification(console: Console, record: Record) -> None:
    """Print whether saved results agree with their raw files, and what to do if not.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    record : dict
        From `spectralbench.benches.verification.Verification.to_dict`.

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
    odd = sum(not result["ok"] for result in results)
    count = odd or len(results)
    verb = ("does not agree" if odd == 1 else "do not agree") if odd else "agrees" if count == 1 else "agree"
    whose = "its" if count == 1 else "their"
    words = f"{count} saved result{'s' * (count != 1)} of {record['folder']} {verb} with {whose} raw files."
    if pack and not pack["ok"]:
        words += " The pack is not as it was packed."
    console.print(f"\n[bold]{escape(words)}[/bold]", soft_wrap=True)
