"""The light of one source, from the part to the initiators: one picture on its own page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from spectralbench.comparison import Requirement
from spectralbench.optics import through
from spectralbench.pictures.curves import Curve, curves, from_lowest, look
from spectralbench.pictures.drawing import LIGHT, drawing
from spectralbench.units import for_people

if TYPE_CHECKING:
    from spectralbench.pictures.picture import Picture

_SEEN = 0.01  # of the highest value; what lies below is not seen
_LEAST = 40.0  # nm around the middle that are shown in any case
_WAYS = ("sent", "passed", "absorbed")


def one_light(strips: xr.Dataset, source: str, needed: Requirement, width: float | str) -> Picture:
    """Draw what one source sends, what of it passes the part and what of that the initiators absorb.

    Parameters
    ----------
    strips : xarray.Dataset
        From `spectralbench.benches.strips.strips_of`.
    source : str
        Its name.
    needed : Requirement
        What the light has to do.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        One set of axes, over the wavelengths at which the source shines.

    Examples
    --------
    >>> from spectralbench.benches.strips import strips_of
    >>> figure = one_light(strips_of(reduced), "LED 405", Requirement(320, 430, 600.0, 1.8e4), "110 mm")
    >>> [text.get_text() for text in figure.axes[0].get_legend().get_texts()]
    ['sent', 'passed', 'absorbed']
    """
    one = strips.sel(source=source, drop=True)
    parts = [one["passed"].isel(part=i, drop=True) for i in range(one.sizes["part"])]
    ways = [one["sent"], through(one["sent"], *parts), one["absorbed"]]
    grid = one.coords["wavelength"].values
    sent = ways[0].values
    lit = grid[np.nan_to_num(sent) > _SEEN * np.nanmax([0.0, *sent])]
    middle = (needed.low + needed.high) / 2
    first, last = (lit[0], lit[-1]) if lit.size else (middle, middle)
    spare = max(4.0, (_LEAST - (last - first)) / 2)
    inside = (grid >= first - spare) & (grid <= last + spare)
    unit, factor = for_people("W m-2 nm-1")
    rows = [
        Curve(name, grid[inside], way.values[inside] * factor, look(i) | {"color": LIGHT["ink"]})
        for i, (name, way) in enumerate(zip(_WAYS, ways, strict=True))
    ]
    with drawing(2.3, width) as figure:
        ax = figure.subplots()
        ax.set_xlim(max(first - spare, grid[0]), min(last + spare, grid[-1]))
        ax.axvspan(needed.low, needed.high, color=LIGHT["band"], linewidth=0, zorder=0)
        curves(ax, rows, "Its light: sent, passed, absorbed")
        seen = np.nan_to_num(rows[2].values)
        ax.fill_between(grid[inside], seen, color=LIGHT["ink"], alpha=0.16, linewidth=0)
        from_lowest(ax, rows, log=False)
        ax.set_ylabel(unit)
        ax.set_xlabel("wavelength in air [nm]")
        sums = [f"{np.nanmax([0.0, *row.values]):.3g} {unit} {row.name}" for row in rows]
        figure.heading = f"The light of {source}"
        figure.words = (
            f"Spectral irradiance from {first - spare:.0f} to {last + spare:.0f} nm. Highest values: "
            f"{', '.join(sums)}. Shaded: the required band, {needed.low:g}–{needed.high:g} nm."
        )
    return figure
