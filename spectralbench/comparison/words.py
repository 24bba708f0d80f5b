"""Figures in words: three digits, in the unit that people use, with the interval."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.constants import ZERO_CELSIUS
from spectralbench.draws import summarize
from spectralbench.units import for_people

MET, NOT_MET, NOT_KNOWN, NO_LIMIT = "met", "not met", "not known", "no limit"

SURE = 0.95
"""Share of draws from which a criterion is met, and a setting or a change does; not met up to the rest."""

_OF_LIGHT = ("W m-2", "umol m-2 s-1", "umol m-3 s-1")

_SUPERSCRIPTS = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


class Said(NamedTuple):
    """A figure of one source; its interval is NaN if there were no draws."""

    value: float
    low: float = np.nan
    high: float = np.nan


def said_of(figure: xr.DataArray) -> list[Said]:
    """What a figure (source, [draw]) says of each source."""
    if "draw" not in figure.dims:
        return [Said(value) for value in by_source(figure)]
    summary = summarize(figure).assign(median=figure.median("draw", skipna=False))
    columns = (summary[name].values.tolist() for name in ("value", "low", "high", "median"))
    return [Said(within(*row), *row[1:3]) for row in zip(*columns, strict=True)]


def within(mean: float, low: float, high: float, median: float) -> float:
    """A mean as it is shown: never outside of its interval, where a few draws far out have moved it.

    Of a time that never ends in some of the draws it is the median.

    Examples
    --------
    >>> within(0.16, 0.0, 0.0, 0.0), within(5.0, 4.5, 5.6, 4.9), within(np.inf, 230.0, np.inf, 880.0)
    (0.0, 5.0, 880.0)
    """
    value = median if np.isinf(mean) else mean
    return low if value < low else high if value > high else value


def by_source(figure: xr.DataArray) -> np.ndarray:
    """One number for each source; the mean over the draws."""
    others = [d for d in figure.dims if d != "source"]
    return np.asarray(figure.mean(others, skipna=False).values, dtype=float)


def in_words(value: float, units: str, low: float = np.nan, high: float = np.nan) -> str:
    """A figure as a table prints it: three digits, in the unit that people use.

    Parameters
    ----------
    value : float
        In the package's own unit.
    units : str
        That unit.
    low, high : float
        Ends of its interval, if it has one.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> in_words(1234.5, "W m-2"), in_words(0.5, "1"), in_words(float("nan"), "s")
    ('123 mW/cm²', '50 %', 'not known')
    >>> in_words(5.0, "s", 4.5, 5.625)
    '5 s (4.5–5.62)'
    """
    if np.isnan(value):
        return NOT_KNOWN
    if value < 0 and units in _OF_LIGHT:
        return "none"  # noise about a dark band
    if np.isinf(value):
        word = _unending(units)
        return word if np.isnan(low) or np.isinf(low) else f"from {in_words(low, units)} to {word}"
    label = "%" if units == "1" else for_people(units)[0]
    text = f"{three_digits(_for_people(value, units))} {label}".strip()
    interval = interval_in_words(low, high, units)
    return f"{text} ({interval})" if interval else text


def interval_in_words(low: float, high: float, units: str) -> str:
    """An interval in the unit that people use, without the unit.

    Parameters
    ----------
    low, high : float
        Its ends, in the package's own unit.
    units : str
        That unit.

    Returns
    -------
    str
        Both numbers; empty if they are not known, or the same.

    Examples
    --------
    >>> interval_in_words(4200.0, 4500.0, "W m-2"), interval_in_words(-30.0, 80.0, "W m-2")
    ('420–450', 'none to 8')
    """
    if np.isnan(low) or np.isnan(high) or low == high:
        return ""
    ends = [_end(end, units) for end in (low, high)]
    if ends[0] == ends[1]:
        return ""
    return " to ".join(ends) if "-" in "".join(ends) or ends[0] == "none" else "–".join(ends)


def _end(end: float, units: str) -> str:
    """One end of an interval."""
    if end < 0 and units in _OF_LIGHT:
        return "none"  # as for a figure: noise about a dark band
    return three_digits(_for_people(end, units)) if np.isfinite(end) else _unending(units)


def _unending(units: str) -> str:
    """What is infinite: a time that never ends, a setting that there is none of."""
    return "none" if units == "1" else "never"


def _for_people(value: float, units: str) -> float:
    """A number in the unit that people use: per cent, and degrees that count from the melting of ice."""
    if units == "K":
        return value - ZERO_CELSIUS
    return value * (100.0 if units == "1" else for_people(units)[1])


def three_digits(number: float) -> str:
    """A number to three digits, and to the whole number above 100; powers of ten where it is far out."""
    if number == 0:
        return "0"
    if not 1e-3 <= abs(number) < 1e6:
        mantissa, exponent = f"{number:.2e}".split("e")
        return f"{mantissa}×10{str(int(exponent)).translate(_SUPERSCRIPTS)}"
    text = f"{number:.{max(0, 2 - int(np.floor(np.log10(abs(number)))))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """A share of draws, never rounded up to all or down to none."""
    if 0 < share < 0.01:
        return "less than 1 %"
    return "more than 99 %" if 0.99 < share < 1 else f"{100 * share:.0f} %"
