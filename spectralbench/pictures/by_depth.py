"""Where in the bond line photons are absorbed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from spectralbench.comparison import NOT_KNOWN
from spectralbench.pictures.choosing import compared, names_of
from spectralbench.pictures.curves import look
from spectralbench.pictures.drawing import DASHES, LIGHT, WIDE, drawing
from spectralbench.pictures.legends import in_width, legend, legend_lines
from spectralbench.pictures.scales import logarithmic
from spectralbench.units import for_people

if TYPE_CHECKING:
    from matplotlib.artist import Artist

    from spectralbench.pictures.picture import Picture

_OXYGEN = "what oxygen uses up"
_FLAT = 30.0  # times the lowest value: from there on the scale is logarithmic
_DECADES = 4  # that are shown at most


def by_depth(
    result: xr.Dataset, *, sources: Sequence[str] | None = None, width: float | str = WIDE
) -> Picture:
    """Draw where in the bond line photons are absorbed, from its front to its back.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.compare`.
    sources : sequence of str, optional
        Those to draw; otherwise all.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        Sources of which nothing is known, or of which nothing is absorbed, are named.

    Raises
    ------
    RangeError
        If it is no comparison or has no source of a name, or the width is below 60 mm or above 600 mm.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> by_depth(compare(reduced)).axes[0].get_xlabel()
    'depth below the front of the bond line [µm]'
    """
    kept, places = compared(result, sources)
    profile = kept["absorbed_by_depth"].transpose("source", "depth")
    unit, factor = for_people(profile.attrs["units"])
    rows = profile.values * factor
    depths = 1e6 * profile.coords["depth"].values  # µm
    names = names_of(kept)
    said = [NOT_KNOWN if np.isnan(row).any() else "" if (row > 0).any() else "nothing" for row in rows]
    shown = [f"{name}: {words}" if words else name for name, words in zip(names, said, strict=True)]
    taken = factor * float(result["required_at_back"].mean()) if "required_at_back" in result else np.nan
    if np.isfinite(taken):
        shown.append(_OXYGEN)
    drawn = np.append(rows[(rows > 0).any(axis=1)].ravel(), taken)
    drawn = drawn[drawn > 0]
    with drawing(2.7 + 0.2 * legend_lines(shown, width), width) as figure:
        ax = figure.subplots()
        entries: list[tuple[Artist, str]] = []
        for i, (label, row, words) in enumerate(zip(shown, rows, said, strict=False)):
            drawable = np.full_like(row, np.nan) if words else row
            (line,) = ax.plot(depths, drawable, gid=f"depth-{i}", **look(places[i]))
            entries.append((line, label))
        if np.isfinite(taken):
            entries.append((ax.axhline(taken, color=LIGHT["limit"], linestyle=DASHES[2]), _OXYGEN))
        ax.set_xlim(0, depths[-1])
        if drawn.size and drawn.max() > _FLAT * drawn.min():
            lowest = max(drawn.min() / 1.3, drawn.max() / 10**_DECADES)
            logarithmic(ax, "y", lowest, 1.3 * drawn.max())
        else:
            ax.set_ylim(0, 1.06 * drawn.max(initial=0.0) or 1.0)
        ax.set_xlabel(in_width(ax, "depth below the front of the bond line [µm]"))
        ax.set_ylabel(unit)
        legend(ax, "Photons absorbed in the bond line", entries)
        told = "; ".join(
            f"{name}: {words or f'{row[0]:.3g} at the front, {row[-1]:.3g} at the back'}"
            for name, row, words in zip(names, rows, said, strict=True)
        )
        figure.heading = "Photons absorbed by initiators, by depth in the bond line"
        figure.words = f"In {unit}. {told}."
    return figure
