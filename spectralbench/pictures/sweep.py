"""A figure of a sweep along one of its dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.comparison import MET, NOT_KNOWN, NOT_MET, in_words
from spectralbench.comparison.words import SURE, percent
from spectralbench.draws import summarize
from spectralbench.errors import RangeError, quote
from spectralbench.pictures.choosing import chosen, names_of
from spectralbench.pictures.curves import INTERVAL, look
from spectralbench.pictures.drawing import DASHES, LIGHT, MARKS, WIDE, drawing
from spectralbench.pictures.legends import in_lines, in_width, legend, legend_lines
from spectralbench.pictures.scales import Scale, for_axis, logarithmic
from spectralbench.units import measured

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_MARKERS = ("o", "s", "^", "D", "v", "P")
_AT_MOST = {"exposure_time"}
_TICKED = 6  # steps that have a number each
_LISTED = 3  # steps that are named one by one


def sweep(
    cube: xr.Dataset,
    figure: str = "exposure_time",
    *,
    along: str | None = None,
    sources: Sequence[str] | None = None,
    limit: float | str | xr.Dataset | None = None,
    log: bool = False,
    width: float | str = WIDE,
) -> Picture:
    """Draw a figure of a sweep along thickness, distance, hours of use or time.

    Parameters
    ----------
    cube : xarray.Dataset (source, ...)
        From `spectralbench.sweep`.
    figure : str
        Name of the figure.
    along : str, optional
        Dimension to draw along; not needed if there is only one. Of all others, choose a step first, as in
        ``cube.sel(time=6)``.
    sources : sequence of str, optional
        Those to draw; otherwise all.
    limit : float, str or xarray.Dataset, optional
        What is required [unit of the figure]: a number, text such as ``"30 s"``, or the result of
        `spectralbench.compare`, whose limit is taken; otherwise what the bench requires, if it does. Of
        ``enough`` it is always the share of the draws from which a criterion is met.
    log : bool
        Logarithmic upright axis.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        A curve for each source, with a mark at each step; draws become their mean within the band of
        their 95 % interval. Where a figure has no end or is not known, its name says so. Of ``enough``, a
        table of what suffices.

    Raises
    ------
    RangeError
        If it is no sweep, has no figure or source of a name, does not run along that dimension or has several
        steps of another one; if the comparison requires nothing of the figure; if there are too few
        draws for an interval, or the width is below 60 mm or above 600 mm.
    UnitsError
        If the limit is in a unit of another kind.

    Examples
    --------
    >>> from spectralbench.benches import sweep as swept
    >>> cube = swept(reduced, thickness=["1 mm", "2 mm", "3 mm"])
    >>> ax = sweep(cube, "exposure_time", limit="30 s").axes[0]
    >>> ax.get_xlabel(), ax.get_ylabel(), ax.get_legend().get_texts()[-1].get_text()
    ('thickness of the last part [mm]', 's', 'at most 30 s')
    """
    values, along, fixed = _along(cube, figure, along)
    values, places = chosen(values, sources)
    units, grid = values.attrs["units"], values.coords[along]
    wanted = _limit(values.attrs.get("limit") if limit is None else limit, figure, units)
    drawn = summarize(values) if "draw" in values.dims else xr.Dataset({"value": values})
    drawn = drawn.transpose("source", along)
    long_name = str(values.attrs.get("long_name", figure))
    said = long_name[:1].upper() + long_name[1:]
    heading = f"Is the exposure long enough{fixed}?" if figure == "enough" else said + fixed
    of_step = str(grid.attrs.get("units", ""))
    at = [f"{step:g}" for step in grid.values.tolist()]
    limited = "at most" if figure in _AT_MOST else "at least"
    required = "" if wanted is None else f"{limited} {in_words(wanted, units)}"
    names = names_of(values)
    shown = [_named(name, row, at, of_step) for name, row in zip(names, drawn["value"].values, strict=True)]
    height = 1.3 + 0.4 * len(names) if figure == "enough" else 3.3
    with drawing(height + 0.2 * legend_lines([*shown, INTERVAL, required], width), width) as picture:
        ax = picture.subplots()
        ax.set_xlabel(in_width(ax, f"{grid.attrs.get('long_name', along)} [{of_step}]" if of_step else along))
        if figure == "enough":
            _answers(ax, drawn["value"], at)
            legend(ax, heading, [])
        else:
            entries = _courses(ax, drawn, grid.values, shown, places)
            scale = for_axis(units)
            if wanted is not None:
                style: dict[str, Any] = {"color": LIGHT["limit"], "linestyle": DASHES[1], "gid": "limit"}
                entries.append((ax.axhline(float(scale.of(wanted)), **style), required))
            _stretch(ax, drawn, scale, wanted, log)
            if grid.size <= _TICKED:
                ax.set_xticks(grid.values, at)
            ax.set_ylabel(scale.label + (", logarithmic" if log else ""))
            legend(ax, heading, entries)
        rows = zip(names, drawn["value"].values, strict=True)
        told = [f"{name}: {', '.join(in_words(value, units) for value in row)}" for name, row in rows]
        picture.heading = heading
        picture.words = (
            f"At {', '.join(at)} {of_step}".rstrip()
            + f": {'; '.join(told)}."
            + (f" Required: {required}." if required else "")
        )
    return picture


def _courses(
    ax: Axes, drawn: xr.Dataset, grid: NDArray[np.float64], names: Sequence[str], places: Sequence[int]
) -> list[tuple[Artist, str]]:
    """A curve for each source, with its interval; and what they are called."""
    scale = for_axis(drawn["value"].attrs["units"])
    entries: list[tuple[Artist, str]] = []
    bands: list[Artist] = []
    for i, (name, place) in enumerate(zip(names, places, strict=True)):
        values = scale.of(drawn["value"].values[i])
        style = look(place) | {
            "marker": _MARKERS[place % len(_MARKERS)],
            "markersize": 5,
            "gid": f"sweep-{i}",
        }
        (line,) = ax.plot(grid, np.where(np.isfinite(values), values, np.nan), **style)
        entries.append((line, name))
        if "low" in drawn:
            low, high = (scale.of(drawn[end].values[i]) for end in ("low", "high"))
            known = np.isfinite(values + low + high)
            shade = {"color": style["color"], "alpha": 0.25, "linewidth": 0}
            bands.append(ax.fill_between(grid, low, high, where=known, **shade))
    return entries + [(band, INTERVAL) for band in bands[:1]]


def _answers(ax: Axes, enough: xr.DataArray, at: Sequence[str]) -> None:
    """Whether each step suffices for each source: a sign in each field, and the share between."""
    for row, shares in enumerate(enough.values):
        for column, share in enumerate(shares.tolist()):
            verdict = MET if share >= SURE else NOT_MET if share <= 1 - SURE else NOT_KNOWN
            if verdict == MET:
                ax.fill_between([column - 0.5, column + 0.5], row - 0.4, row + 0.4, color=LIGHT["band"])
            between = f", {percent(share)}" if 0 < share < 1 else ""
            ax.text(column, row, f"{MARKS[verdict]} {verdict}{between}", ha="center", va="center", fontsize=9)
    names = names_of(enough)
    ax.set_yticks(range(len(names)), [in_lines(name) for name in names])
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xticks(range(len(at)), at)
    ax.set_xlim(-0.5, len(at) - 0.5)
    ax.grid(visible=False)
    ax.tick_params(length=0)


def _along(cube: xr.Dataset, figure: str, along: str | None) -> tuple[xr.DataArray, str, str]:
    """The figure along one dimension, that dimension, and the steps of the others in words."""
    if not isinstance(cube, xr.Dataset):
        raise RangeError("this is no sweep: make one with sweep(bench, thickness=[...])")
    there = [str(name) for name, array in cube.data_vars.items() if "source" in array.dims]
    if figure not in there:
        raise RangeError(f"the sweep has no figure {quote(figure)}; it has {', '.join(map(quote, there))}")
    values = cube[figure]
    swept = [str(name) for name in values.dims if name not in ("source", "draw")]
    several = [name for name in swept if values.sizes[name] > 1] or swept
    if along is None and len(several) == 1:
        along = several[0]
    if along not in swept:
        found = "" if along is None else f", not along {quote(along)}"
        raise RangeError(
            f"{quote(figure)} runs along {', '.join(map(quote, swept)) or 'nothing'}{found}: "
            "say along which one it is to be drawn"
        )
    for name in swept:
        if name != along and values.sizes[name] > 1:
            step = values.coords[name].values[0]
            raise RangeError(
                f"{quote(figure)} has {values.sizes[name]} steps of {name} as well: choose one first, "
                f"as in cube.sel({name}={step:g})"
            )
    fixed = [name for name in swept if name != along] + [
        str(name) for name, one in values.coords.items() if not one.dims and one.dtype.kind in "fi"
    ]
    said = [
        f"{name} {values.coords[name].item():g} {values.coords[name].attrs.get('units', '')}"
        for name in fixed
    ]
    kept = values.squeeze([name for name in swept if name != along], drop=True)
    return kept, along, f", {', '.join(map(str.strip, said))}" if said else ""


def _limit(limit: float | str | xr.Dataset | None, figure: str, units: str) -> float | None:
    """What is required of the figure, in its own unit."""
    if figure == "enough":
        return SURE
    if limit is None:
        return None
    if not isinstance(limit, xr.Dataset):
        return measured(limit, units).value
    limits = limit["limit"].values[:, limit["judged_by"].values == figure]
    known = np.unique(limits[np.isfinite(limits)])
    if known.size != 1:
        found = "nothing" if known.size == 0 else f"{known.size} different things"
        raise RangeError(f"the comparison requires {found} of {quote(figure)}: give the limit itself")
    return float(known[0])


def _named(name: str, row: NDArray[np.float64], at: Sequence[str], units: str) -> str:
    """A source, and where its figure has no end or is not known."""
    said = []
    for missing, word in ((np.isinf(row), "never"), (np.isnan(row), NOT_KNOWN)):
        steps = [step for step, one in zip(at, missing.tolist(), strict=True) if one]
        if missing.all():
            said.append(word)
        elif steps:
            listed = f"{', '.join(steps)} {units}".rstrip()
            said.append(f"{word} at {listed if len(steps) <= _LISTED else f'{len(steps)} steps'}")
    return f"{name}: {', '.join(said)}" if said else name


def _stretch(ax: Axes, drawn: xr.Dataset, scale: Scale, wanted: float | None, log: bool) -> None:
    """Let the upright axis reach what is drawn."""
    shown = [drawn[key].values.ravel() for key in ("value", "low", "high") if key in drawn]
    seen = scale.of(np.concatenate([*shown, [np.nan if wanted is None else wanted]]))
    seen = seen[np.isfinite(seen)]
    if log and (seen > 0).any():
        logarithmic(ax, "y", seen[seen > 0].min() / 1.2, 1.2 * seen.max())
    elif seen.max(initial=0.0) > 0:
        ax.set_ylim(0, 1.05 * seen.max())
