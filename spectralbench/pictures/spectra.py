"""Spectra of any quantity over wavelength."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from spectralbench.draws import summarize
from spectralbench.errors import GridError, RangeError, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.pictures.choosing import chosen
from spectralbench.pictures.curves import GAP, INTERVAL, Curve, curves, from_lowest, gaps, look
from spectralbench.pictures.drawing import LIGHT, WIDE, drawing
from spectralbench.pictures.legends import legend_lines
from spectralbench.pictures.scales import Scale, for_axis, printed
from spectralbench.units import ascending, convert, in_unit, measured

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_UPRIGHT = 36  # letters beside the upright axis
_ALIKE: dict[str, Any] = {"color": LIGHT["source-1"], "linewidth": 0.6, "alpha": 0.6}
_NAMED = 12  # curves that have a name each; more are drawn alike
_SHARES = ("transmittance", "reflectance", "share")  # pure numbers that people read in per cent


def spectra(
    data: xr.DataArray | Mapping[str, xr.DataArray],
    *,
    sources: Sequence[str] | None = None,
    band: tuple[float | str, float | str] | None = None,
    log: bool = False,
    units: str | None = None,
    title: str = "",
    width: float | str = WIDE,
) -> Picture:
    """Draw spectra: counts, signal, irradiance, transmittance or anything else over wavelength.

    Parameters
    ----------
    data : xarray.DataArray (..., [draw,] wavelength), or mapping of str to it
        Any quantity. Every further dimension gives curves, one for each of its values. A mapping lays arrays
        over each other under names of their own, as those of two files; their wavelengths may differ.
    sources : sequence of str, optional
        Those to draw, of data by source; otherwise all.
    band : tuple of float or str, optional
        Two wavelengths between which the ground is shaded [nm].
    log : bool
        Logarithmic, as far down as six powers of ten; what is not above 0 is not drawn then.
    units : str, optional
        The unit to draw in; otherwise the one that people use.
    title : str
        Stands above; otherwise what the data are.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        A curve for each spectrum. Samples that are not valid are gaps, each with a mark; draws become
        their mean within the band of their 95 % interval. More than twelve curves are drawn alike.

    Raises
    ------
    GridError
        If there is nothing to draw, the data are several quantities, have no dimension ``wavelength``, or
        wavelengths that are not in order.
    UnitsError
        If the data or the band are in a unit that cannot be converted.
    RangeError
        If there is no source of a name, there are too few draws for an interval, the band has no
        width, or the width is below 60 mm or above 600 mm.

    Examples
    --------
    >>> figure = spectra(reduced["sources/spectral_irradiance"], sources=["LED 405"], band=(320, 430))
    >>> figure.axes[0].get_xlabel(), figure.axes[0].get_ylabel()
    ('wavelength in air [nm]', 'spectral irradiance [mW/cm²/nm]')
    """
    arrays = _named_arrays(data)
    low, high = _band(band)
    first = next(iter(arrays.values()))
    quantity, scale = _quantity(first), _scale(first, units)
    rows: list[Curve] = []
    for name, one in arrays.items():
        places: list[int] | None = None
        if sources is not None or "source" in one.dims:
            one, places = chosen(one, sources)
        own = first.attrs.get("units")
        one = in_unit(one, str(own), name or "the spectrum") if own else ascending(one, name or "spectrum")
        rows += _rows(one, scale, name, places if len(arrays) == 1 else None, len(rows))
    if len(rows) > _NAMED:
        rows = [row._replace(style=_ALIKE, low=None, high=None) for row in rows]
    rows = [_above_zero(row) for row in rows] if log else rows
    crowd = f"{len(rows)} curves, drawn alike" if len(rows) > _NAMED else ""
    names = [crowd] if crowd else [*(row.name for row in rows), INTERVAL, GAP]
    with drawing(3.3 + 0.2 * legend_lines(names, width), width) as figure:
        ax = figure.subplots()
        if band is not None:
            ax.axvspan(low, high, color=LIGHT["band"], linewidth=0, zorder=0, gid="band")
            for edge in (low, high):
                ax.axvline(edge, color=LIGHT["limit"], linewidth=0.7, zorder=0.5)
        heading = title or quantity[:1].upper() + quantity[1:]
        shaded = f", shaded: {low:g}–{high:g} nm" if band is not None else ""
        curves(ax, rows, heading + shaded, crowd=crowd)
        _stretch(ax, rows, log)
        ends = min(row.grid[0] for row in rows), max(row.grid[-1] for row in rows)
        if ends[0] < ends[1]:
            ax.set_xlim(*ends)
        ax.set_xlabel("wavelength in air [nm]")
        ax.set_ylabel(textwrap.fill(f"{quantity} [{scale.label}]" if scale.label else quantity, _UPRIGHT))
        figure.heading = heading + shaded
        figure.words = _said(rows, scale, bool(crowd))
    return figure


def _named_arrays(data: object) -> dict[str, xr.DataArray]:
    """The arrays by name, "" for a single one; what is no spectrum is refused."""
    if isinstance(data, xr.Dataset | xr.DataTree):
        names = [str(name) for name, array in data.data_vars.items() if "wavelength" in array.dims]
        found = f": {', '.join(map(quote, names))}" if names else ""
        kind = type(data).__name__
        raise GridError(f"spectra of one quantity are drawn, and this is a {kind}{found}: give one of them")
    named = dict(data) if isinstance(data, Mapping) else {"": data}
    if not named:
        raise GridError("there is nothing to draw: give at least one spectrum")
    arrays: dict[str, xr.DataArray] = {}
    for name, one in named.items():
        if not isinstance(one, xr.DataArray):
            raise GridError(f"a spectrum is an array with a dimension wavelength, not {quote(one)}")
        if "wavelength" not in one.dims:
            dims = ", ".join(map(quote, one.dims)) or "none"
            raise GridError(f"a spectrum is an array with a dimension wavelength, not with {dims}")
        arrays[str(name)] = one
    return arrays


def _band(band: tuple[float | str, float | str] | None) -> tuple[float, float]:
    """Limits of the band that is shaded [nm]."""
    if band is None:
        return np.nan, np.nan
    low, high = (measured(end, "nm").value for end in band)
    if not 0 < low < high:
        raise RangeError(f"a band runs upwards from above 0 nm, not from {low:g} nm to {high:g} nm")
    return low, high


def _quantity(data: xr.DataArray) -> str:
    """What the data are called."""
    if data.attrs.get("long_name"):
        return str(data.attrs["long_name"])
    name = "value" if data.name is None else str(data.name)
    return QUANTITIES[name].long_name if name in QUANTITIES else name


def _scale(data: xr.DataArray, units: str | None) -> Scale:
    """The unit to draw in."""
    own = data.attrs.get("units")
    if units is None:
        share = any(word in f"{data.name} {_quantity(data)}" for word in _SHARES)
        return for_axis(str(own), share=share) if own else Scale("")
    if not own:
        raise UnitsError(f"data without a unit cannot be drawn in {quote(units)}: give them attrs['units']")
    return Scale(printed(units), float(convert(1.0, str(own), units)))


def _rows(
    data: xr.DataArray, scale: Scale, called: str, places: list[int] | None, before: int
) -> list[Curve]:
    """A curve for each value of the further dimensions, in the looks that follow those before."""
    drawn = summarize(data) if "draw" in data.dims else xr.Dataset({"value": data})
    others = [str(name) for name in data.dims if name not in ("wavelength", "draw")]
    drawn = drawn.transpose(*others, "wavelength")
    grid = data.coords["wavelength"].values
    columns = {
        str(key): scale.of(array.values).reshape(-1, grid.size)
        for key, array in drawn.items()
        if key != "standard_uncertainty"
    }
    labels = [_labels(data, name) for name in others]
    names = [", ".join(parts) for parts in product(*labels)] if others else [called or _alone(data)]
    if called and others:
        names = [f"{called}, {name}" for name in names]
    by_source = places if others == ["source"] else None
    ends = [end for end in ("low", "high") if end in columns]
    return [
        Curve(
            name,
            grid,
            columns["value"][i],
            look(by_source[i] if by_source else before + i),
            **{end: columns[end][i] for end in ends},
        )
        for i, name in enumerate(names)
    ]


def _above_zero(row: Curve) -> Curve:
    """A curve whose interval can be drawn on a logarithmic axis, however far down it reaches."""
    if row.low is None or row.high is None:
        return row
    return row._replace(low=np.maximum(row.low, _TINY), high=np.maximum(row.high, _TINY))


_TINY = 1e-30  # below whatever is shown


def _labels(data: xr.DataArray, name: str) -> list[str]:
    """What each value of a dimension is called."""
    if name not in data.coords:
        return [f"{name} {number}" for number in range(1, data.sizes[name] + 1)]
    along = data.coords[name]
    if along.dtype.kind not in "fiu":
        return [str(value) for value in along.values]
    units = printed(str(along.attrs.get("units", "")))
    return [f"{name} {value:g} {units}".rstrip(" 1" if units == "1" else " ") for value in along.values]


def _alone(data: xr.DataArray) -> str:
    """What the only curve is called."""
    named = [str(data.coords[name].values) for name in ("source", "part", "initiator") if name in data.coords]
    return named[0] if named else _quantity(data)


def _stretch(ax: Axes, rows: list[Curve], log: bool) -> None:
    """Let the upright axis begin at 0 where nothing lies clearly below."""
    if log:
        from_lowest(ax, rows, log)
        return
    ends = [end for row in rows for end in (row.values, row.low, row.high) if end is not None]
    every = np.concatenate([end[np.isfinite(end)] for end in ends])
    highest, lowest = every.max(initial=0.0), every.min(initial=0.0)
    if highest > lowest:
        ax.set_ylim(1.06 * lowest if -lowest > _NOISE * highest else 0.0, 1.06 * highest)


_NOISE = 0.03  # of the highest value, about 0


def _said(rows: list[Curve], scale: Scale, crowded: bool) -> str:
    """The curves in words: where each is highest, and where it is not valid."""
    said = []
    for row in rows[: 1 if crowded else None]:
        if np.isnan(row.values).all():
            said.append(f"{row.name}: not valid")
            continue
        top = int(np.nanargmax(row.values))
        text = (
            f"{row.name}: at most {f'{row.values[top]:.3g} {scale.label}'.strip()}, at {row.grid[top]:.1f} nm"
        )
        invalid = [f"{row.grid[a]:.0f}–{row.grid[b - 1]:.0f} nm" for a, b in gaps(row.values)]
        said.append(text + (f", not valid at {', '.join(invalid)}" if invalid else ""))
    ends = min(row.grid[0] for row in rows), max(row.grid[-1] for row in rows)
    whole = f"{ends[0]:.0f} to {ends[1]:.0f} nm"
    count = f"{len(rows)} curves, the first of them: " if crowded else ""
    return f"Over {whole}. {count}{'; '.join(said)}."
