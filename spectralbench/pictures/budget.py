"""Where the uncertainty of a figure comes from."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from spectralbench.comparison import FIGURES, NOT_KNOWN, in_words
from spectralbench.comparison.words import said_of
from spectralbench.errors import RangeError, quote
from spectralbench.pictures.choosing import compared, names_of
from spectralbench.pictures.drawing import LIGHT, WIDE, drawing, inches, is_narrow
from spectralbench.pictures.legends import in_lines

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from spectralbench.pictures.picture import Picture

_SMALL = 0.005  # share from which a number stands beside a bar
_BESIDE = 3  # panels side by side on a page


def budget(
    result: xr.Dataset,
    figure: str = "exposure_time",
    *,
    sources: Sequence[str] | None = None,
    causes: int = 8,
    width: float | str = WIDE,
) -> Picture:
    """Draw what each cause contributes to the variance of a figure, for each source.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.compare` with draws and ``contributions=True``.
    figure : str
        Name of the figure.
    sources : sequence of str, optional
        Those to draw; otherwise all.
    causes : int
        Causes that are named, largest first; the others are one bar.
    width : float or str
        Width of the picture [mm].

    Returns
    -------
    matplotlib.figure.Figure
        A panel for each source, in the order of the comparison, with a bar for each cause. What would
        shorten the longest bar narrows the interval most.

    Raises
    ------
    RangeError
        If it is no comparison, says nothing of causes or nothing of that figure, or has no source of a
        name; if no cause is to be named; if the width is below 60 mm or above 600 mm.

    Notes
    -----
    Shares of the variance with one cause alone (JCGM 101:2008, annex B).

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> causes = {"cause": ["distance", "noise"], "origin": ("cause", ["its ±", "scatter of the scans"])}
    >>> shares = xr.DataArray([0.9, 0.1], causes, "cause").expand_dims(figure=["exposure_time"])
    >>> result = compare(reduced)  # with draws=1000, contributions=True, it works out the shares itself
    >>> result["variance_share"] = shares.expand_dims(source=result.source)
    >>> picture = budget(result, sources=["LED 405"])
    >>> [text.get_text() for text in picture.axes[0].get_yticklabels()]
    ['distance', 'noise']
    """
    shares = _shares(result, figure, sources, causes)
    kept, _ = compared(result, names_of(shares))
    said = dict(zip(names_of(kept), said_of(kept[figure]), strict=True))
    units = result[figure].attrs["units"]
    name = FIGURES[figure].long_name
    title = f"{name[:1].upper()}{name[1:]}: where its uncertainty comes from"
    narrow = is_narrow(width)
    columns = 1 if narrow else min(_BESIDE, shares.sizes["source"])
    lines = -(-shares.sizes["source"] // columns)
    names = [str(cause) for cause in shares.coords["cause"].values]
    row = 0.1 + 0.16 * max(in_lines(name).count("\n") + 1 for name in names)  # inches
    with drawing(lines * (row * len(names) + 1.0) + 0.4, width) as picture:
        letters = round(9 * inches(width))
        picture.suptitle(textwrap.fill(title, letters), x=0.01, ha="left", weight="bold", size=11)
        axes: list[Axes] = list(
            picture.subplots(lines, columns, sharex=True, sharey=True, squeeze=False).flat
        )
        for ax, name in zip(axes, names_of(shares), strict=False):
            one = said[name]
            value = in_words(one.value, units, one.low, one.high)
            _panel(ax, shares.sel(source=name).values, f"{in_lines(name)}\n{value}")
        axes[0].set_yticks(range(len(names)), [in_lines(name) for name in names])
        axes[0].set_ylim(len(names) - 0.5, -0.5)
        for place, ax in enumerate(axes):
            if place >= shares.sizes["source"]:
                ax.remove()
            elif place + columns >= shares.sizes["source"]:
                ax.set_xlabel("share of the variance")
                ax.tick_params(labelbottom=True)
        picture.heading = title
        picture.words = " ".join(
            f"{name}, {in_words(said[name].value, units, said[name].low, said[name].high)}: "
            f"{_told(names, shares.sel(source=name).values)}."
            for name in names_of(shares)
        )
    return picture


def _shares(result: xr.Dataset, figure: str, sources: Sequence[str] | None, causes: int) -> xr.DataArray:
    """Shares (source, cause), largest first, sources in the order of the comparison."""
    kept, _ = compared(result, sources)
    if "variance_share" not in result:
        raise RangeError(
            "this comparison does not say what each cause contributes: "
            "make it with compare(bench, draws=1000, contributions=True)"
        )
    there = [str(name) for name in result["variance_share"].coords["figure"].values]
    if figure not in there:
        raise RangeError(
            f"what contributes to {quote(figure)} was not worked out; it was for "
            f"{', '.join(map(quote, there))}"
        )
    if causes < 1:
        raise RangeError(f"one cause or more has to be named, not {causes}")
    shares = (
        kept["variance_share"].sel(figure=figure, drop=True).isel(source=np.argsort(kept["place"].values))
    )
    shares = shares.transpose("source", "cause").drop_vars("origin")
    largest, mean = (found.fillna(0.0).values for found in (shares.max("source"), shares.mean("source")))
    order = np.argsort(-largest, kind="stable")
    if order.size <= causes + 1:
        return shares.isel(cause=np.argsort(-mean, kind="stable"))
    first, rest = sorted(order[:causes], key=lambda cause: -mean[cause]), order[causes:]
    others = shares.isel(cause=rest).sum("cause", skipna=False).expand_dims(cause=[f"{rest.size} others"])
    return xr.concat([shares.isel(cause=first), others], "cause").transpose("source", "cause")


def _panel(ax: Axes, shares: np.ndarray, title: str) -> None:
    """The bars of one source."""
    places = range(shares.size)
    ax.barh(places, np.nan_to_num(shares), color=LIGHT["source-1"], height=0.62)
    for place, share in zip(places, shares.tolist(), strict=True):
        if share >= _SMALL:
            ax.text(share + 0.02, place, _percent(share), va="center", fontsize=9, clip_on=False)
    if np.isnan(shares).all():
        ax.text(0.5, 0.5, NOT_KNOWN, ha="center", transform=ax.transAxes)
    ax.set_title(title, loc="left", fontsize=10)
    ax.set_xlim(0, 1.0)
    ax.set_xticks([0, 0.25, 0.5, 0.75])
    ax.xaxis.set_major_formatter(lambda share, _: _percent(share))
    ax.set_axisbelow(True)
    ax.grid(visible=False, axis="y")
    ax.tick_params(axis="y", length=0)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _told(names: list[str], shares: np.ndarray) -> str:
    """The bars of one source in words, largest first."""
    if np.isnan(shares).all():
        return NOT_KNOWN
    order = np.argsort(-shares, kind="stable")
    return ", ".join(f"{names[i]} {_percent(shares[i])}" for i in order if shares[i] >= _SMALL)
