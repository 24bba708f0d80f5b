"""Figures of each source against what is required."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from spectralbench.comparison import FIGURES, in_words
from spectralbench.comparison.words import Said, said_of
from spectralbench.errors import RangeError, quote
from spectralbench.pictures.choosing import compared, names_of
from spectralbench.pictures.drawing import DASHES, LIGHT, MARKS, WIDE, drawing, inches, is_narrow
from spectralbench.pictures.legends import in_lines, legend
from spectralbench.pictures.scales import for_axis, logarithmic

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_LETTERS = 12  # in an inch
_SCALE = 10  # letters that take as much room as the shortest scale
_LINE = 0.17  # inches, of a line of text
_SIGN = {True: "at most", False: "at least"}


class _Limit(NamedTuple):
    """One criterion on a figure: what is required of each source, and what came of it."""

    criterion: str
    at_most: bool
    values: np.ndarray
    verdicts: list[str]


def comparison(
    result: xr.Dataset,
    *,
    figures: Sequence[str] | None = None,
    sources: Sequence[str] | None = None,
    log: bool = False,
    width: float | str = WIDE,
) -> Picture:
    """Draw figures of each source, with their intervals, against what is required of them.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.compare`.
    figures : sequence of str, optional
        Names of figures of the result; otherwise all of which something is required.
    sources : sequence of str, optional
        Those to draw; otherwise all.
    log : bool
        Logarithmic axes, where figures lie far apart; otherwise axes begin at 0.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        A panel for each figure. Sources stand in the order of the comparison, each with its figure, the
        95 % interval where there are draws, and the verdict in words. Limits are dashed.

    Raises
    ------
    RangeError
        If it is no comparison or has no figure or source of a name, nothing is required of any figure,
        or the width is below 60 mm or above 600 mm.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> figure = comparison(compare(reduced), figures=["exposure_time"])
    >>> figure.axes[0].get_xlabel(), figure.axes[0].get_legend().get_texts()[0].get_text()
    ('s', 'at most 30 s')
    """
    kept, _ = compared(result, sources)
    ordered = kept.isel(source=np.argsort(kept["place"].values))
    keys = _figures(ordered, figures)
    panels = [_Panel(ordered, key, log, width) for key in keys]
    columns = _columns(panels, width)
    lines = -(-len(keys) // columns)
    tallest = max(_height(panel) for panel in panels)
    with drawing(lines * tallest, width) as figure:
        axes: list[Axes] = list(figure.subplots(lines, columns, squeeze=False).flat)
        told = [_drawn(ax, panel) for ax, panel in zip(axes, panels, strict=False)]
        for ax in axes[len(keys) :]:
            ax.remove()
        figure.heading = "Figures of each source, against what is required"
        figure.words = " ".join(told)
    return figure


def _columns(panels: Sequence[_Panel], width: float | str) -> int:
    """How many panels stand side by side; each is told whether there is room beside its lines at all."""
    letters = panels[0].letters
    needed = max(panel.beside for panel in panels)
    for panel in panels:
        panel.narrow = is_narrow(width) or letters < needed
    return 2 if len(panels) > 1 and not panels[0].narrow and letters / 2 >= needed else 1


def _figures(result: xr.Dataset, wanted: Sequence[str] | None) -> list[str]:
    """Figures to draw: those that were asked for, or those that have a limit."""
    there = [key for key in FIGURES if key in result]
    if wanted is None:
        limited = np.isfinite(result["limit"].transpose("source", "criterion").values).any(axis=0)
        keys = list(dict.fromkeys(result["judged_by"].values[limited].tolist()))
        if not keys:
            raise RangeError(f"nothing is required of any figure: name some, such as {quote(there[0])}")
        return keys
    asked = [wanted] if isinstance(wanted, str) else list(wanted)
    missing = [key for key in asked if key not in there]
    if missing or not asked:
        found = f"there is no figure {quote(missing[0])}" if missing else "no figure is to be shown"
        raise RangeError(f"{found}; there are {', '.join(map(quote, there))}")
    return asked


def _labels(result: xr.Dataset) -> list[str]:
    """Each source with its place."""
    places = result["place"].values.tolist()
    return [f"{place}. {name}" for place, name in zip(places, names_of(result), strict=True)]


def _limits(result: xr.Dataset, key: str) -> list[_Limit]:
    """What is required of a figure."""
    by = ("source", "criterion")
    verdicts, limits = (result[name].transpose(*by).values for name in ("verdict", "limit"))
    return [
        _Limit(str(criterion), bool(at_most), limits[:, column], [str(said) for said in verdicts[:, column]])
        for column, (criterion, figure, at_most) in enumerate(
            zip(
                result["criterion"].values,
                result["judged_by"].values,
                result["at_most"].values,
                strict=True,
            )
        )
        if figure == key and np.isfinite(limits[:, column]).any()
    ]


class _Panel:
    """One figure of all sources, before it is drawn."""

    def __init__(self, result: xr.Dataset, key: str, log: bool, width: float | str) -> None:
        self.units = str(result[key].attrs["units"])
        long_name = str(result[key].attrs.get("long_name", FIGURES[key].long_name))
        self.title = long_name[:1].upper() + long_name[1:]
        self.scale = for_axis(self.units)
        self.said, self.limits = said_of(result[key]), _limits(result, key)
        self.names, self.labels = names_of(result), _labels(result)
        self.words = [_words(row, one, self.units, self.limits) for row, one in enumerate(self.said)]
        self.log, self.narrow = log, False
        self.letters = round(_LETTERS * inches(width))
        self.longest = max(len(line) for label in self.labels for line in in_lines(label).split("\n"))
        said = max(len(line) for text in self.words for line in text.split("\n"))
        self.beside = self.longest + said + _SCALE
        both = zip(self.labels, self.words, strict=True)
        self.above = [_filled(f"{label}: {text}", self.letters) for label, text in both]
        self.from_zero = not log and self.units != "K"


def _filled(text: str, letters: int) -> str:
    """Break each line of a text where it gets too long."""
    return "\n".join(textwrap.fill(line, letters) for line in text.split("\n"))


def _height(panel: _Panel) -> float:
    """Inches that a panel takes, with its title."""
    if panel.narrow:
        lines = [text.count("\n") + 1 for text in panel.above]
    else:
        beside = zip(panel.words, panel.labels, strict=True)
        lines = [max(text.count("\n"), in_lines(label).count("\n")) + 1 for text, label in beside]
    return (_LINE * max(lines) + (0.36 if panel.narrow else 0.08)) * len(lines) + 1.1


def _drawn(ax: Axes, panel: _Panel) -> str:
    """One panel: a dot for each source, its interval, limits, words; and all of it in a sentence."""
    scale, ink = panel.scale, LIGHT["ink"]
    for row, one in enumerate(panel.said):
        if panel.from_zero and np.isfinite(one.value):
            ax.hlines(row, 0, scale.of(one.value), color=ink, linewidth=1)
        ends = [scale.of(end) for end in (one.low, one.high)]
        if np.isfinite(ends).all():
            ax.plot(ends, [row, row], "|-", color=ink, linewidth=3, gid=f"interval-{row}")
        if np.isfinite(one.value):
            ax.plot(scale.of(one.value), row, "o", color=ink, markersize=5)
    entries: list[tuple[Artist, str]] = [_marked(ax, panel, place) for place in range(len(panel.limits))]
    _beside(ax, panel)
    seen = scale.of(np.concatenate([np.ravel(panel.said), *(limit.values for limit in panel.limits)]))
    _stretch(ax, seen[np.isfinite(seen)], panel.log, panel.from_zero)
    ax.set_xlabel(scale.label + (", logarithmic" if panel.log else ""))
    ax.grid(visible=False, axis="y")
    ax.tick_params(axis="y", length=0)
    legend(ax, panel.title, entries, *(() if panel.narrow else (panel.longest,)))
    required = "".join(f", {name}" for _, name in entries)
    rows = zip(panel.names, panel.words, strict=True)
    listed = "; ".join(f"{name}: {', '.join(text.splitlines())}" for name, text in rows)
    return f"{panel.title}{required}: {listed}."


def _beside(ax: Axes, panel: _Panel) -> None:
    """The words of each source: at both sides, or above its line where there is no room."""
    places = range(len(panel.said))
    across = ax.get_yaxis_transform()
    if panel.narrow:
        for row, text in enumerate(panel.above):
            ax.annotate(text, (0, row), (0, 9), xycoords=across, textcoords="offset points", fontsize=9)
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        ax.set_ylim(len(panel.said) - 0.7, -0.95)
        return
    for row, text in enumerate(panel.words):
        ax.text(1.02, row, text, va="center", fontsize=9, transform=across)
    ax.set_yticks(places, [in_lines(label) for label in panel.labels])
    ax.set_ylim(len(panel.said) - 0.5, -0.5)


def _marked(ax: Axes, panel: _Panel, place: int) -> tuple[Artist, str]:
    """A limit, as one line or as a mark for each source, and what it is called."""
    limit, scale = panel.limits[place], panel.scale
    known = limit.values[np.isfinite(limit.values)]
    alike = np.ptp(known) == 0 and known.size == limit.values.size
    required = f" {in_words(known[0], panel.units)}" if alike else ", each its own"
    name = _SIGN[limit.at_most] + required + (f" ({limit.criterion})" if len(panel.limits) > 1 else "")
    style: dict[str, Any] = {"color": LIGHT["limit"], "gid": "limit"}
    if alike and not panel.narrow:  # where words stand between the rows, a line would run through them
        dashes = DASHES[1 + place % (len(DASHES) - 1)]
        return ax.axvline(float(scale.of(known[0])), linestyle=dashes, **style), name
    (marks,) = ax.plot(scale.of(limit.values), range(limit.values.size), "|", ms=14, mew=2, **style)
    return marks, name


def _words(row: int, said: Said, units: str, limits: list[_Limit]) -> str:
    """What stands beside a source: its figure, and what came of it."""
    judged = [
        f"{MARKS[limit.verdicts[row]]} {limit.verdicts[row]}" + f" ({limit.criterion})" * (len(limits) > 1)
        for limit in limits
    ]
    return "\n".join([in_words(said.value, units, said.low, said.high), *judged])


def _stretch(ax: Axes, seen: np.ndarray, log: bool, from_zero: bool) -> None:
    """Let the axis reach what is drawn."""
    if log and (seen > 0).any():
        logarithmic(ax, "x", seen[seen > 0].min() / 1.3, 1.3 * seen.max())
    elif from_zero:
        ax.set_xlim(0, 1.05 * seen.max(initial=0.0) or 1.0)
    elif seen.size:
        margin = 0.06 * np.ptp(seen) or 1.0
        ax.set_xlim(seen.min() - margin, seen.max() + margin)
