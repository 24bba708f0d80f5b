"""Which sources a picture shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import xarray as xr

from spectralbench.errors import RangeError, quote

Data = TypeVar("Data", xr.DataArray, xr.Dataset)


def chosen(data: Data, sources: Sequence[str] | None) -> tuple[Data, list[int]]:
    """Keep the sources that somebody wants to see, in the order in which they were measured.

    Parameters
    ----------
    data : xarray.DataArray or xarray.Dataset (source, ...)
        Anything by source.
    sources : sequence of str, or None
        Their names; all if there are none.

    Returns
    -------
    tuple of data and list of int
        What was kept, and its places among all, by which colours go.

    Raises
    ------
    RangeError
        If there is no source of a name, none is wanted, or the data are not by source.

    Examples
    --------
    >>> by_source = xr.DataArray([1.0, 2.0], {"source": ["arc", "LED"]}, "source")
    >>> chosen(by_source, ["LED"])[1]
    [1]
    """
    if "source" not in data.dims:
        raise RangeError("sources can be chosen of data with a dimension source, which these have not")
    there = names_of(data)
    if sources is None:
        return data, list(range(len(there)))
    wanted = [sources] if isinstance(sources, str) else list(sources)
    missing = [name for name in wanted if name not in there]
    if missing or not wanted:
        asked = f"there is no source {quote(missing[0])}" if missing else "no source is to be shown"
        raise RangeError(f"{asked}; there are {', '.join(map(quote, there))}")
    places = [place for place, name in enumerate(there) if name in wanted]
    return data.isel(source=places), places


def compared(result: object, sources: Sequence[str] | None) -> tuple[xr.Dataset, list[int]]:
    """Keep the sources of a comparison that somebody wants to see.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.compare`.
    sources : sequence of str, or None
        Their names; all if there are none.

    Returns
    -------
    tuple of xarray.Dataset and list of int
        As from `chosen`.

    Raises
    ------
    RangeError
        If it is no comparison, there is no source of a name, or none is wanted.

    Examples
    --------
    >>> compared(xr.Dataset(), None)
    Traceback (most recent call last):
    spectralbench.errors.RangeError: this is no comparison: make one with compare(bench)
    """
    if not isinstance(result, xr.Dataset) or not {"verdict", "place", "limit"} <= set(result):
        raise RangeError("this is no comparison: make one with compare(bench)")
    return chosen(result, sources)


def names_of(data: xr.DataArray | xr.Dataset) -> list[str]:
    """Names of the sources.

    Parameters
    ----------
    data : xarray.DataArray or xarray.Dataset (source, ...)
        Anything by source.

    Returns
    -------
    list of str
        As they stand in the manifest.

    Examples
    --------
    >>> names_of(xr.DataArray([1.0], {"source": ["arc"]}, "source"))
    ['arc']
    """
    return [str(name) for name in data.coords["source"].values]
