"""Output against hours of use: the log, its fits, and how far they are carried on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.ageing import output_at
from spectralbench.comparison import in_words
from spectralbench.draws import summarize
from spectralbench.errors import GridError, RangeError
from spectralbench.pictures.curves import INTERVAL, look
from spectralbench.pictures.drawing import DASHES, LIGHT, WIDE, drawing
from spectralbench.pictures.legends import in_width, legend, legend_lines
from spectralbench.pictures.scales import for_axis
from spectralbench.units import measured

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_STEPS = 200  # points of a fit
_BEYOND = "carried on, not measured"


def ageing(
    hours: ArrayLike,
    output: ArrayLike,
    fit: xr.Dataset | Mapping[str, xr.Dataset] | None = None,
    *,
    until: float | str | None = None,
    limit: float | str | None = None,
    marks: Mapping[str, float | str] | None = None,
    title: str = "",
    width: float | str = WIDE,
) -> Picture:
    """Draw output against hours of use, with fits of it.

    Parameters
    ----------
    hours : array_like (n,)
        Hours of use [h].
    output : array_like ([draw,] n)
        Output [any unit]; of draws, their mean is drawn.
    fit : xarray.Dataset, or mapping of str to it, optional
        From `spectralbench.fit_ageing` or `fit_two_stage`; several under names of their own.
    until : float or str, optional
        Hour to which fits are carried on [h]; otherwise the last of log and marks.
    limit : float or str, optional
        What is required at least [unit of the output].
    marks : mapping of str to float or str, optional
        Hours that are marked, by name, such as ``{"today": "1352 h", "next lamp": "2000 h"}`` [h].
    title : str
        Stands above; otherwise what the output is.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        The log as points, a curve for each fit; draws become their mean within the band of their 95 %
        interval. What lies beyond the last hour of the log is shaded, for nobody measured it.

    Raises
    ------
    GridError
        If hours and output are not as many.
    RangeError
        If there is no log, if `until` lies before its last hour, if there are too few draws for an
        interval, or the width is below 60 mm or above 600 mm.
    UnitsError
        If the limit, or an hour, is in a unit of another kind.

    Examples
    --------
    >>> from spectralbench.ageing import fit_ageing
    >>> log = [0.0, 400.0, 900.0], [1.0, 0.93, 0.84]
    >>> picture = ageing(*log, fit_ageing(*log), until="3000 h", limit=0.6, marks={"today": 900})
    >>> [text.get_text() for text in picture.axes[0].get_legend().get_texts()]
    ['log', 'fit', 'at least 60 %', 'today: 900 h', 'carried on, not measured']
    """
    grid, values, units = _log(hours, output)
    scale = for_axis(units)
    fits = {"fit": fit} if isinstance(fit, xr.Dataset) else dict(fit or {})
    marked = {name: measured(at, "h").value for name, at in (marks or {}).items()}
    last = float(grid.max())
    end = max([last, *marked.values()]) if until is None else measured(until, "h").value
    if end < last:
        raise RangeError(f"the log goes to {last:g} h, and the picture would end at {end:g} h: let it go on")
    wanted = None if limit is None else measured(limit, units).value
    required = "" if wanted is None else f"at least {in_words(wanted, units)}"
    long_name = str(getattr(output, "attrs", {}).get("long_name", "output"))
    heading = title or f"{long_name[:1].upper()}{long_name[1:]} against hours of use"
    shown = {name: f"{name}: {at:g} h" for name, at in marked.items()}
    names = ["log", *fits, INTERVAL, required, *shown.values(), _BEYOND]
    with drawing(3.3 + 0.2 * legend_lines(names, width), width) as picture:
        ax = picture.subplots()
        style: dict[str, Any] = {"color": LIGHT["ink"], "zorder": 4, "gid": "log"}
        entries: list[tuple[Artist, str]] = [
            (ax.plot(grid, scale.of(values), "o", markersize=4, **style)[0], "log")
        ]
        ahead = xr.DataArray(np.linspace(0.0, end, _STEPS), dims="ahead", attrs={"units": "h"})
        courses = {name: _course(one, ahead) for name, one in fits.items()}
        entries += _fits(ax, ahead.values, {name: course.map(scale.of) for name, course in courses.items()})
        if wanted is not None:
            line: dict[str, Any] = {"color": LIGHT["limit"], "linestyle": DASHES[1], "gid": "limit"}
            entries.append((ax.axhline(float(scale.of(wanted)), **line), required))
        for place, (name, at) in enumerate(marked.items()):
            upright = {"color": LIGHT["limit"], "linestyle": DASHES[2 + place % (len(DASHES) - 2)]}
            entries.append((ax.axvline(at, gid=f"mark-{place}", **upright), shown[name]))
        if end > last:
            ground = ax.axvspan(last, end, color=LIGHT["band"], linewidth=0, zorder=0, gid="beyond")
            entries.append((ground, _BEYOND))
        ax.set_xlim(0, end or 1.0)
        ax.set_ylim(bottom=0)
        ax.set_xlabel(in_width(ax, "hours of use [h]"))
        ax.set_ylabel(scale.label)
        legend(ax, heading, entries)
        first, final = (in_words(float(value), units) for value in values[[0, -1]])
        ends = [f"{name} {_told(course, units)}" for name, course in courses.items()]
        told = [f"The log goes from {first} to {final} at {last:g} h"]
        told += [f"at {end:g} h: {', '.join(ends)}"] if ends else []
        told += [*([f"required: {required}"] if required else []), *shown.values()]
        picture.heading, picture.words = heading, f"{'; '.join(told)}."
    return picture


def _log(hours: ArrayLike, output: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64], str]:
    """Hours, outputs and their unit."""
    rows = output.mean("draw") if isinstance(output, xr.DataArray) and "draw" in output.dims else output
    grid, values = np.asarray(hours, dtype=float), np.asarray(rows, dtype=float)
    if grid.ndim != 1 or grid.shape != values.shape:
        raise GridError(f"one output for each hour is drawn, not {values.shape} for {grid.shape}")
    if not grid.size:
        raise RangeError("a log without points cannot be drawn")
    order = np.argsort(grid, kind="stable")
    return grid[order], values[order], str(getattr(output, "attrs", {}).get("units", "1"))


def _course(fit: xr.Dataset, ahead: xr.DataArray) -> xr.Dataset:
    """What a fit gives, with its interval where it has draws."""
    found = output_at(fit, ahead)
    return summarize(found) if "draw" in found.dims else xr.Dataset({"value": found})


def _fits(
    ax: Axes, ahead: NDArray[np.float64], courses: Mapping[str, xr.Dataset]
) -> list[tuple[Artist, str]]:
    """A curve for each fit, its interval, and what they are called."""
    entries: list[tuple[Artist, str]] = []
    bands: list[Artist] = []
    for place, (name, course) in enumerate(courses.items()):
        style = look(place)
        (line,) = ax.plot(ahead, course["value"].values, zorder=3, gid=f"fit-{place}", **style)
        entries.append((line, name))
        if "low" in course:
            shade = {"color": style["color"], "alpha": 0.25, "linewidth": 0, "zorder": 2}
            bands.append(ax.fill_between(ahead, course["low"].values, course["high"].values, **shade))
    return entries + [(band, INTERVAL) for band in bands[:1]]


def _told(course: xr.Dataset, units: str) -> str:
    """The last point of a fit in words."""
    ends = (float(course[key][-1]) if key in course else np.nan for key in ("value", "low", "high"))
    return in_words(next(ends), units, *ends)
