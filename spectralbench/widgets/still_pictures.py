"""Pictures of frames and parts that stand still, for pages without a kernel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.corrections.frame_words import GOOD
from spectralbench.pictures.drawing import DASHES, LIGHT, SOURCES, as_svg, drawing
from spectralbench.pictures.legends import legend

_HEIGHT = 3.6  # inches
_WAVELENGTH = "wavelength [nm]"


def frame_picture(
    counts: xr.DataArray, kept: xr.DataArray, saturation: float, check: Mapping[str, Any]
) -> str:
    """Draw the scans of a frame over each other, with the level of saturation.

    Parameters
    ----------
    counts : xarray.DataArray ([spectrum,] wavelength)
        Raw counts of all scans [1].
    kept : xarray.DataArray ([spectrum,] wavelength)
        Those that are used [1].
    saturation : float
        Count from which a pixel is saturated [1].
    check : mapping
        What was found, in words, as the browser gets it.

    Returns
    -------
    str
        SVG.

    Examples
    --------
    >>> scans = xr.DataArray([[1.0, 2.0]], {"wavelength": [365.0, 366.0]}, ("spectrum", "wavelength"))
    >>> one = {"number": 1, "verdict": "may be used"}
    >>> said = {"title": "a frame", "words": "may be used", "scans": [one]}
    >>> frame_picture(scans, scans, 10.0, said)[:4]
    '<svg'
    """
    grid = counts.coords["wavelength"].values
    rows = counts.transpose(..., "wavelength").values.reshape(-1, grid.size)
    mean = kept.mean([name for name in kept.dims if name != "wavelength"]).values
    odd = [one["number"] for one in check["scans"] if one["verdict"] != GOOD]
    with drawing(_HEIGHT) as figure:
        ax = figure.subplots()
        entries = []
        for number, row in enumerate(rows, 1):
            if number not in odd:
                ax.plot(grid, row, color=SOURCES[0], linewidth=0.6)
        for place, number in enumerate(odd[:5]):
            colour, dash = SOURCES[place % len(SOURCES)], DASHES[place % len(DASHES)]
            (line,) = ax.plot(grid, rows[number - 1], color=colour, linestyle=dash, linewidth=1.4)
            entries.append((line, f"scan {number}: {check['scans'][number - 1]['verdict']}"))
        (line,) = ax.plot(grid, mean, color=LIGHT["ink"], linewidth=0.9)
        entries.insert(0, (line, "mean of those that are used"))
        limit = ax.axhline(saturation, color=LIGHT["limit"], linestyle=DASHES[1], linewidth=1.0)
        entries.append((limit, "saturated from here on"))
        ax.set(xlabel=_WAVELENGTH, ylabel="counts", xlim=(grid[0], grid[-1]) if grid.size > 1 else None)
        legend(ax, str(check["title"]), entries)
        figure.heading, figure.words = f"Scans of {check['title']}", str(check["words"])
        return as_svg(figure, "frame")


def parts_picture(title: str, curves: Sequence[tuple[str, ArrayLike, ArrayLike, Mapping[str, Any]]]) -> str:
    """Draw what parts pass.

    Parameters
    ----------
    title : str
        Of the picture.
    curves : list of (str, array-like, array-like, mapping)
        Name, wavelengths [nm], transmittance [%], and ``low`` and ``high`` [%], where they are known.

    Returns
    -------
    str
        SVG.

    Examples
    --------
    >>> parts_picture("Cover", [("2 mm", [365.0, 366.0], [50.0, 51.0], {})])[:4]
    '<svg'
    """
    with drawing(_HEIGHT) as figure:
        ax = figure.subplots()
        entries = []
        for place, (name, grid, passed, interval) in enumerate(curves):
            colour, dash = SOURCES[place % len(SOURCES)], DASHES[place % len(DASHES)]
            (line,) = ax.plot(grid, passed, color=colour, linestyle=dash)
            entries.append((line, name))
            if interval:
                ax.fill_between(grid, interval["low"], interval["high"], color=colour, alpha=0.2, linewidth=0)
        ends = np.asarray(curves[0][1] if curves else [0.0, 1.0], dtype=float)
        ax.set(xlabel=_WAVELENGTH, ylabel="transmittance [%]", xlim=(ends[0], ends[-1]), ylim=(0, 105))
        legend(ax, title, entries)
        figure.heading, figure.words = title, ", ".join(name for name, *_ in curves)
        return as_svg(figure, "parts")
