"""Figures as plain records: value, unit, words and interval."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from spectralbench.comparison import NOT_KNOWN, in_words, interval_in_words, within
from spectralbench.draws import summarize

Record = dict[str, Any]

SHAPE_NAMES = {
    "peak_wavelength": "peak",
    "centre_wavelength": "centre at half maximum",
    "fwhm": "full width at half maximum",
    "centroid_wavelength": "centroid",
    "irradiance": "irradiance",
}
"""What the figures of `spectralbench.reduction.figures` are called."""


def figure_of(array: xr.DataArray) -> Record:
    """One figure as a record.

    Parameters
    ----------
    array : xarray.DataArray ([draw])
        One value, or its draws.

    Returns
    -------
    dict
        ``value`` in the package's own unit (None if it is not known, or has no end), ``units`` and
        ``text``; of draws also ``standard_uncertainty``, ``low``, ``high`` and ``interval``.

    Examples
    --------
    >>> figure_of(xr.DataArray(600.0, attrs={"units": "W m-2"}))
    {'value': 600.0, 'units': 'W m-2', 'text': '60 mW/cm²'}
    """
    return figures_of(array.expand_dims("of"), "of")[0]


def figures_of(array: xr.DataArray, along: str) -> list[Record]:
    """One record for each source, part or whatever a figure is given for.

    Parameters
    ----------
    array : xarray.DataArray (along, ...)
        A figure, perhaps with draws.
    along : str
        The dimension that is given for.

    Returns
    -------
    list of dict
        As from `figure_of`, in the order of `along`.

    Examples
    --------
    >>> speeds = xr.DataArray([4.0, np.nan], dims="source", attrs={"units": "mm s-1"})
    >>> [figure["text"] for figure in figures_of(speeds, "source")]
    ['4 mm/s', 'not known']
    """
    units = array.attrs.get("units", "1")
    drawn = "draw" in array.dims
    summary = xr.Dataset({"value": array})
    if drawn:
        summary = summarize(array).assign(median=array.median("draw", skipna=False))
    columns = {
        str(name): (figure if along in figure.dims else figure.expand_dims({along: array.sizes[along]}))
        .transpose(along, ...)
        .values.reshape(array.sizes[along], -1)
        .mean(axis=1, dtype=float)
        .tolist()
        for name, figure in summary.items()
    }
    comment = {"comment": array.attrs["comment"]} if "comment" in array.attrs else {}
    found = []
    for row in zip(*columns.values(), strict=True):
        said = dict(zip(columns, row, strict=True))
        record: Record = {"value": plain(said["value"]), "units": units}
        shown = (
            within(*(said[name] for name in ("value", "low", "high", "median"))) if drawn else said["value"]
        )
        record["text"] = f"{shown:.2f} nm" if _fine(units, said) else in_words(shown, units)
        if "longest" in array.attrs and said["value"] >= array.attrs["longest"]:
            record["text"] = f"{said['value'] / _HOUR:g} h or more"
        if drawn:
            record |= {name: plain(said[name]) for name in ("standard_uncertainty", "low", "high")}
            record["interval"] = interval_in_words(said["low"], said["high"], units)
            if said["low"] < said["high"] and _fine(units, said):
                record["interval"] = f"{said['low']:.2f}–{said['high']:.2f}"
        found.append(record | comment)
    return found


_HOUR = 3600.0  # s


def _fine(units: str, said: dict[str, float]) -> bool:
    """Whether to give two decimals: to a wavelength that is known."""
    return units == "nm" and bool(np.isfinite(said["value"]))


def three_digits(number: float | None) -> str:
    """A plain number to three digits.

    Parameters
    ----------
    number : float or None
        Any number; None if it is not known.

    Returns
    -------
    str
        The number, zeros behind the point kept.

    Examples
    --------
    >>> three_digits(1.5), three_digits(None)
    ('1.50', 'not known')
    """
    return NOT_KNOWN if number is None else f"{number:#.3g}".rstrip(".")


def plain(value: Any) -> float | None:
    """A number that JSON has, or None.

    Parameters
    ----------
    value : float or array of one
        Any number.

    Returns
    -------
    float or None
        None for what is not finite.

    Examples
    --------
    >>> plain(np.float32(0.5)), plain(np.inf)
    (0.5, None)
    """
    number = float(value)
    return number if np.isfinite(number) else None
