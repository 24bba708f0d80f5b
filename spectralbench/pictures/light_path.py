"""Pictures of a bench: the light's way to the bond line, and the sources against the requirement.

A picture is an SVG text that stands alone, with its words as text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, overload

import numpy as np
import xarray as xr

from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.strips import strips_of
from spectralbench.comparison import NOT_KNOWN, Requirement, in_words
from spectralbench.reports.drawing import (
    DASHES,
    LIGHT,
    SOURCES,
    as_png,
    as_svg,
    drawing,
    in_lines,
    legend,
    legend_lines,
)
from spectralbench.reports.figures import Record
from spectralbench.units import for_people

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

_SEEN = 0.02  # of a source's highest value; where no source has more, nothing happens
_FILLED = 0.002  # of a curve's highest value; below that, a filling would not be seen
_MARGIN = 4.0  # nm on both sides of where something happens


@overload
def light_path(tree: xr.DataTree, format: Literal["svg"] = "svg", *, narrow: bool = False) -> str: ...
@overload
def light_path(tree: xr.DataTree, format: Literal["png"], *, narrow: bool = False) -> bytes: ...
def light_path(
    tree: xr.DataTree,
    format: Literal["svg", "png"] = "svg",  # noqa: A002 - as everybody calls it
    *,
    narrow: bool = False,
) -> str | bytes:
    """Draw the light's way: what is sent, what is passed, what can be absorbed, what is absorbed.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.
    format : {"svg", "png"}
        Of the picture.
    narrow : bool
        Draw for a narrow page.

    Returns
    -------
    str or bytes
        The SVG text, or the bytes of the PNG.

    Examples
    --------
    >>> "data sheet 365 nm" in light_path(reduced)
    True
    """
    manifest = manifest_of(tree)
    needed = requirement_of(manifest)
    strips = strips_of(tree)
    first, last = _span(strips["sent"], needed)
    strips = strips.sel(wavelength=slice(first, last))
    light, passed, share = strips["sent"], strips["passed"], strips["taken"]
    unit, factor = for_people("W m-2 nm-1")
    names = {
        along: [str(name) for name in array.coords[along].values]
        for along, array in (("source", light), ("part", passed), ("initiator", share))
    }
    lines = sum(
        legend_lines(names[along], narrow=narrow) for along in ("source", "part", "initiator", "source")
    )
    with drawing(8.2 + 0.2 * lines, narrow=narrow) as figure:
        axes: list[Axes] = list(figure.subplots(4, sharex=True, height_ratios=[1.3, 0.8, 0.8, 1.2]))
        _mark_requirement(axes, needed)
        _curves(
            axes[0],
            light * factor,
            "source",
            "1. What each source sends to the part",
            narrow,
            gap="gap: saturated",
        )
        _curves(axes[1], passed, "part", "2. What the part passes", narrow)
        _curves(axes[2], share, "initiator", "3. What each initiator can absorb", narrow)
        _curves(
            axes[3],
            strips["absorbed"] * factor,
            "source",
            "4. The product: what they absorb",
            narrow,
            fill=True,
        )
        for strip in (axes[0], axes[3]):
            strip.set_ylabel(unit)
            strip.set_ylim(bottom=0)
        room = 1.7 if narrow else 1.35  # above the highest value, for the names of band and data sheet
        if (highest := float(light.max())) > 0:
            axes[0].set_ylim(top=room * highest * factor)
        for strip in axes[1:3]:
            strip.set_ylabel("share")
            strip.yaxis.set_major_formatter("{x:.0%}")
        axes[1].set_ylim(0, 1)
        axes[2].set_ylim(bottom=0)
        axes[0].set_xlim(first, last)
        axes[3].set_xlabel("wavelength in air [nm]")
        figure.align_ylabels()
        title = "The way of the light, from the sources to the initiators in the bond line"
        text = (
            f"Four strips over {first:.0f} to {last:.0f} nm, from above: the spectral irradiance of each "
            f"source at the part, in {unit}; the transmittance of the part; the share of the light that each "
            f"initiator can absorb in the bond line; the light that they absorb of each source, in {unit}. "
            f"Sources: {'; '.join(names['source'])}. The band {needed.low:g}–{needed.high:g} nm is required."
        )
        if format == "png":
            return as_png(figure)
        return as_svg(figure, "light-path-narrow" if narrow else "light-path", title, text)


def by_depth(result: xr.Dataset, *, narrow: bool = False) -> str:
    """Draw where in the bond line photons are absorbed, from its front to its back.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.benches.compare`.
    narrow : bool
        Draw for a narrow page.

    Returns
    -------
    str
        The SVG text. Sources of which nothing is known, or of which nothing is absorbed, are named.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> "depth below the front of the bond line [µm]" in by_depth(compare(reduced))
    True
    """
    profile = result["absorbed_by_depth"].transpose("source", "depth")
    unit, factor = for_people(profile.attrs["units"])
    rows = profile.values * factor
    depths = 1e6 * profile.coords["depth"].values  # µm
    names = [str(name) for name in profile.coords["source"].values]
    said = [NOT_KNOWN if np.isnan(row).any() else "" if (row > 0).any() else "nothing" for row in rows]
    shown = [f"{name}: {words}" if words else name for name, words in zip(names, said, strict=True)]
    taken = factor * float(result["required_at_back"].mean()) if "required_at_back" in result else np.nan
    if np.isfinite(taken):
        shown.append(_OXYGEN)
    drawn = np.append(rows[(rows > 0).any(axis=1)].ravel(), taken)
    drawn = drawn[drawn > 0]
    with drawing(2.7 + 0.2 * legend_lines(shown, narrow=narrow), narrow=narrow) as figure:
        ax = figure.subplots()
        entries: list[tuple[Artist, str]] = []
        for i, (label, row, words) in enumerate(zip(shown, rows, said, strict=False)):
            style = {"color": SOURCES[i % len(SOURCES)], "linestyle": DASHES[i % len(DASHES)]}
            (line,) = ax.plot(depths, np.full_like(row, np.nan) if words else row, gid=f"depth-{i}", **style)
            entries.append((line, label))
        if np.isfinite(taken):
            entries.append((ax.axhline(taken, color=LIGHT["limit"], linestyle=DASHES[2]), _OXYGEN))
        ax.set_xlim(0, depths[-1])
        if drawn.size and drawn.max() > _FLAT * drawn.min():
            ax.set_yscale("log")
            ax.set_ylim(max(drawn.min() / 1.3, drawn.max() / 10**_DECADES), 1.3 * drawn.max())
            ax.yaxis.set_major_formatter("{x:g}")
        else:
            ax.set_ylim(0, 1.06 * drawn.max(initial=0.0) or 1.0)
        ax.set_xlabel("depth below the front of the bond line [µm]")
        ax.set_ylabel(unit)
        legend(ax, "Photons absorbed in the bond line", entries, narrow=narrow)
        told = "; ".join(
            f"{name}: {words or f'{row[0]:.3g} at the front, {row[-1]:.3g} at the back'}"
            for name, row, words in zip(names, rows, said, strict=True)
        )
        heading = "Photons absorbed by initiators, by depth in the bond line"
        return as_svg(figure, "by-depth-narrow" if narrow else "by-depth", heading, f"In {unit}. {told}.")


_OXYGEN = "what oxygen uses up"
_FLAT = 30.0  # times the lowest value: from there on the scale is logarithmic
_DECADES = 4  # that are shown at most


def against_requirement(record: Record, needed: Requirement, *, narrow: bool = False) -> str:
    """Draw irradiance in the band and exposure of each source against what is required.

    Parameters
    ----------
    record : dict
        From `spectralbench.reports.records.of_comparison`.
    needed : Requirement
        What the light has to do.
    narrow : bool
        Draw for a narrow page.

    Returns
    -------
    str
        The SVG text.

    Examples
    --------
    >>> one = {"source": "LED", "place": 1, "figures": {
    ...     "band_irradiance": {"value": 900.0, "units": "W m-2", "text": "90 mW/cm²"},
    ...     "exposure_time": {"value": None, "units": "s", "text": "not known"}}}
    >>> "90 mW/cm²" in against_requirement({"sources": [one]}, Requirement(320, 430, 600.0, 1.8e4))
    True
    """
    sources = record["sources"]
    panels = (
        ("band_irradiance", "Irradiance in the band", needed.minimum_irradiance, "at least"),
        ("exposure_time", "Exposure", needed.maximum_time if needed.speed is None else None, "at most"),
    )
    rows = sum(in_lines(source["source"]).count("\n") + 1 for source in sources)
    height = 0.28 * rows + 1.0
    with drawing(2 * height if narrow else height, narrow=narrow) as figure:
        axes: list[Axes] = list(figure.subplots(2, 1) if narrow else figure.subplots(1, 2))
        for ax, (key, title, limit, kind) in zip(axes, panels, strict=True):
            units = sources[0]["figures"][key]["units"]
            unit, factor = for_people(units)
            entries: list[tuple[Artist, str]] = []
            places = range(len(sources))
            known = [source["figures"][key]["value"] for source in sources]
            values = [0.0 if value is None else value * factor for value in known]
            ax.hlines(places, 0, values, color=LIGHT["ink"], linewidth=1)
            ends = [
                (source["figures"][key].get("low"), source["figures"][key].get("high")) for source in sources
            ]
            for row, (low, high) in enumerate(ends):
                if low is not None and high is not None:
                    ax.plot([low * factor, high * factor], [row, row], "|-", color=LIGHT["ink"], linewidth=3)
            values = [
                max(value, (high or 0.0) * factor) for value, (_, high) in zip(values, ends, strict=True)
            ]
            drawn = [(value * factor, y) for y, value in enumerate(known) if value is not None]
            ax.plot([x for x, _ in drawn], [y for _, y in drawn], "o", color=LIGHT["ink"], markersize=5)
            if limit is not None:
                text = f"{kind} {in_words(limit, units)}"
                line = ax.axvline(limit * factor, color=LIGHT["limit"], linestyle=DASHES[1])
                entries.append((line, text))
            for row, source in enumerate(sources):
                words = source["figures"][key]["text"]
                ax.text(1.02, row, words, va="center_baseline", transform=ax.get_yaxis_transform())
            ax.set_yticks(places, [in_lines(f"{s['place']}. {s['source']}") for s in sources])
            ax.set_ylim(len(sources) - 0.5, -0.5)
            ax.set_xlim(0, 1.05 * max([*values, 0.0 if limit is None else limit * factor]) or 1.0)
            ax.set_xlabel(unit or units)
            ax.grid(visible=False, axis="y")
            ax.tick_params(axis="y", length=0)
            legend(ax, title, entries, narrow=narrow)
        told = [[s["source"], *(s["figures"][key]["text"] for key, *_ in panels)] for s in sources]
        listed = "; ".join(f"{name}: {irradiance}, {exposure}" for name, irradiance, exposure in told)
        heading = "Irradiance in the required band and exposure of each source, against what is required"
        return as_svg(figure, "against-narrow" if narrow else "against", heading, listed)


def _span(light: xr.DataArray, needed: Requirement) -> tuple[float, float]:
    """The wavelengths between which something happens."""
    grid = light.coords["wavelength"]
    seen = (light > light.max("wavelength") * _SEEN).any("source")
    lit = grid.values[seen.values]
    ends = [needed.low, needed.high, *map(float, lit[:1]), *map(float, lit[-1:])]
    if needed.data_sheet_wavelength is not None:
        ends.append(needed.data_sheet_wavelength)
    return max(min(ends) - _MARGIN, float(grid[0])), min(max(ends) + _MARGIN, float(grid[-1]))


def _mark_requirement(strips: list[Axes], needed: Requirement) -> None:
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
    middle = (needed.low + needed.high) / 2
    strips[0].annotate(text, (middle, 1), (0, -3), xycoords=above, ha="center", **style)
    if named is not None:
        strips[0].annotate(f"data sheet {named:g} nm", (named, 1), (4, -16), xycoords=above, **style)


def _curves(
    ax: Axes,
    values: xr.DataArray,
    along: str,
    title: str,
    narrow: bool,
    *,
    gap: str = "gap: not known",
    fill: bool = False,
) -> None:
    """One strip: a curve for each name, with a mark where it has a gap."""
    grid = values.coords["wavelength"].values
    entries: list[tuple[Artist, str]] = []
    marks: list[Artist] = []
    for i, name in enumerate(values.coords[along].values):
        row = values.isel({along: i}).values
        colour = SOURCES[i % len(SOURCES)] if along == "source" else LIGHT["ink"]
        (line,) = ax.plot(grid, row, color=colour, linestyle=DASHES[i % len(DASHES)], zorder=3)
        entries.append((line, str(name)))
        if fill:
            seen = row > _FILLED * np.nanmax([0, *row])
            ax.fill_between(grid, row, where=seen, color=colour, alpha=0.16, linewidth=0)
        for start, end in _gaps(row):
            height = np.nanmax([0, *row[max(start - 1, 0) : end + 1]])
            marks += ax.plot(grid[(start + end) // 2], height, "x", color=colour, mew=2, zorder=4)
    legend(ax, title, [*entries, *((mark, gap) for mark in marks[:1])], narrow=narrow)


def _gaps(row: np.ndarray) -> list[tuple[int, int]]:
    """Stretches without a valid sample, from the first to one past the last."""
    edges = np.flatnonzero(np.diff(np.isnan(row), prepend=False, append=False))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
