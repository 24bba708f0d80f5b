"""The light's way to the bond line, in four strips above each other."""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from typing import TYPE_CHECKING, Any

import xarray as xr

from spectralbench.benches import reduce_bench
from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.strips import strips_of
from spectralbench.comparison import Requirement
from spectralbench.errors import RangeError
from spectralbench.pictures.choosing import chosen, names_of
from spectralbench.pictures.curves import Curve, curves, from_lowest, look
from spectralbench.pictures.drawing import DASHES, LIGHT, WIDE, drawing, is_narrow
from spectralbench.pictures.legends import legend_lines
from spectralbench.units import for_people

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_SEEN = 0.02  # of a source's highest value; where no source has more, nothing happens
_MARGIN = 4.0  # nm on both sides of where something happens


def light_path(
    bench: xr.DataTree | str | PathLike[str],
    *,
    sources: Sequence[str] | None = None,
    log: bool = False,
    width: float | str = WIDE,
) -> Picture:
    """Draw the light's way: what is sent, what is passed, what can be absorbed, what is absorbed.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `spectralbench.reduce_bench`, `open_bench` or `adjust`, or the folder itself; of draws, their
        means are drawn.
    sources : sequence of str, optional
        Those to draw; otherwise all.
    log : bool
        Draw light on logarithmic axes, so that little light is seen beside much.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        Four strips over one axis of wavelengths. A notebook shows it; ``savefig`` writes it.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced.
    RangeError
        If it is no bench, it has no source of a name, or the width is below 60 mm or above 600 mm.

    Examples
    --------
    >>> figure = light_path(reduced, sources=["LED 405"])
    >>> [strip.get_ylabel() for strip in figure.axes]
    ['mW/cm²/nm', 'share', 'share', 'mW/cm²/nm']
    """
    if isinstance(bench, xr.Dataset):
        words = (
            "the light path is drawn of a bench, not of a result: give its folder, or what reduce_bench gave"
        )
        raise RangeError(words)
    tree = reduce_bench(bench)
    needed = requirement_of(manifest_of(tree))
    strips, places = chosen(strips_of(tree), sources)
    first, last = _span(strips["sent"], needed)
    strips = strips.sel(wavelength=slice(first, last))
    unit, factor = for_people("W m-2 nm-1")
    narrow = is_narrow(width)
    shown = {
        "sent": _rows(strips["sent"] * factor, places),
        "passed": _rows(strips["passed"]),
        "taken": _rows(strips["taken"]),
        "absorbed": _rows(strips["absorbed"] * factor, places),
    }
    lines = sum(legend_lines([row.name for row in rows], width) for rows in shown.values())
    with drawing(8.2 + 0.2 * lines, width) as figure:
        axes: list[Axes] = list(figure.subplots(4, sharex=True, height_ratios=[1.3, 0.8, 0.8, 1.2]))
        sent, passed, taken, absorbed = axes
        _mark_requirement(axes, needed, (first, last), narrow)
        curves(sent, shown["sent"], "1. What each source sends to the part")
        curves(passed, shown["passed"], "2. What the part passes")
        curves(taken, shown["taken"], "3. What each initiator can absorb")
        curves(absorbed, shown["absorbed"], "4. The product: what they absorb", fill=not log)
        room = 1.7 if narrow else 1.35  # above the highest value, for the names of band and data sheet
        for strip, key in ((sent, "sent"), (absorbed, "absorbed")):
            strip.set_ylabel(unit)
            from_lowest(strip, shown[key], log, room if strip is sent else 1.06)
        for strip in (passed, taken):
            strip.set_ylabel("share")
            strip.yaxis.set_major_formatter(lambda share, _: f"{100 * share:.0f} %")
        passed.set_ylim(0, 1)
        taken.set_ylim(bottom=0)
        sent.set_xlim(first, last)
        absorbed.set_xlabel("wavelength in air [nm]")
        figure.align_ylabels()
        figure.heading = "The way of the light, from the sources to the initiators in the bond line"
        figure.words = (
            f"Four strips over {first:.0f} to {last:.0f} nm, from above: the spectral irradiance of each "
            f"source at the part, in {unit}; the transmittance of the part; the share of the light that each "
            f"initiator can absorb in the bond line; the light that they absorb of each source, in {unit}. "
            f"Sources: {'; '.join(names_of(strips))}. The band {needed.low:g}–{needed.high:g} nm is required."
        )
    return figure


def _rows(values: xr.DataArray, places: Sequence[int] | None = None) -> list[Curve]:
    """Curves of a strip; those of sources in the colours of their places, others in ink."""
    (along,) = (name for name in values.dims if name != "wavelength")
    grid = values.coords["wavelength"].values
    rows = values.transpose(along, "wavelength").values
    return [
        Curve(str(name), grid, row, look(places[i]) if places else look(i) | {"color": LIGHT["ink"]})
        for i, (name, row) in enumerate(zip(values.coords[along].values, rows, strict=True))
    ]


def _span(light: xr.DataArray, needed: Requirement) -> tuple[float, float]:
    """The wavelengths between which something happens."""
    grid = light.coords["wavelength"]
    seen = (light > light.max("wavelength") * _SEEN).any("source")
    lit = grid.values[seen.values]
    ends = [needed.low, needed.high, *map(float, lit[:1]), *map(float, lit[-1:])]
    if needed.data_sheet_wavelength is not None:
        ends.append(needed.data_sheet_wavelength)
    return max(min(ends) - _MARGIN, float(grid[0])), min(max(ends) + _MARGIN, float(grid[-1]))


def _mark_requirement(
    strips: list[Axes], needed: Requirement, ends: tuple[float, float], narrow: bool
) -> None:
    """Mark the required band and the data sheet's wavelength in all strips; name them in the first."""
    named = needed.data_sheet_wavelength
    for strip in strips:
        strip.axvspan(needed.low, needed.high, color=LIGHT["band"], linewidth=0, zorder=0)
        for edge in (needed.low, needed.high):
            strip.axvline(edge, color=LIGHT["limit"], linewidth=0.7, zorder=0.5)
        if named is not None:
            line = {"color": LIGHT["limit"], "linestyle": DASHES[2], "linewidth": 1.1}
            strip.axvline(named, ymax=0.82 if strip is strips[0] else 1, zorder=1, **line)
    behind = {"facecolor": LIGHT["band"], "edgecolor": "none", "pad": 1}
    style: dict[str, Any] = {
        "textcoords": "offset points",
        "va": "top",
        "color": LIGHT["limit"],
        "bbox": behind,
    }
    above = strips[0].get_xaxis_transform()  # wavelengths across, shares of the height upwards
    text = f"required band {needed.low:g}–{needed.high:g} nm"
    if narrow:
        strips[0].annotate(text, (0, 1), (3, -3), xycoords="axes fraction", **style)
    else:
        middle = (needed.low + needed.high) / 2
        strips[0].annotate(text, (middle, 1), (0, -3), xycoords=above, ha="center", **style)
    if named is not None:
        at_end = named > (ends[0] + 2 * ends[1]) / 3  # there, the words stand in front of the line
        style |= {"ha": "right"} if at_end else {}
        offset = (-4 if at_end else 4, -16)
        strips[0].annotate(f"data sheet {named:g} nm", (named, 1), offset, xycoords=above, **style)
