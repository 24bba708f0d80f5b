"""Two numbers of one figure in words, in the units that people read: how much more, how much wider."""

from __future__ import annotations

import numpy as np

from spectralbench.comparison import FIGURES, in_words
from spectralbench.comparison.words import three_digits
from spectralbench.constants import ZERO_CELSIUS
from spectralbench.units import for_people

_SHARES = ("share_met", "share_ahead", "variance_share")
_NO_ZERO = ("1", "nm", "K")  # units in which nobody states an uncertainty in per cent of the value


def spreads(figure: str, then: tuple[float, float], now: tuple[float, float], units: str) -> str:
    """Two standard uncertainties, where they differ: in per cent of the mean if that has a meaning.

    Parameters
    ----------
    figure : str
        Name of the figure.
    then, now : tuple of float
        Mean and standard uncertainty of the saved one and of the one made now, in `units`.
    units : str
        The package's own unit.

    Returns
    -------
    str
        Both of them; empty if there are none, or if they are written alike.

    Examples
    --------
    >>> spreads("exposure_time", (5.0, 0.1), (5.0, 0.2), "s")
    '2 % → 4 %'
    """
    shown = []
    for mean, spread in (then, now):
        if not np.isfinite(spread):
            return ""
        if units in _NO_ZERO or not (np.isfinite(mean) and mean > 0):
            label, factor, _ = _for_people(figure, units)
            shown.append(f"{spread * factor:.2g} {label.replace('°C', 'K')}".rstrip())
        else:
            shown.append(f"{100 * spread / mean:.2g} %")
    return "" if shown[0] == shown[1] else " → ".join(shown)


def more(figure: str, before: float, after: float, units: str) -> str:
    """How much more or less: in its unit, and in per cent, or how many times where that is easier said.

    Parameters
    ----------
    figure : str
        Name of the figure; a place is no amount.
    before, after : float
        Both values, in `units`.
    units : str
        The package's own unit.

    Returns
    -------
    str
        Empty if one of them is not known or infinite.

    Examples
    --------
    >>> more("exposure_time", 5.0, 5.5, "s"), more("exposure_time", 5.0, 20.0, "s")
    ('0.5 s or 10 % more', '15 s more, 4 times')
    """
    if not np.isfinite(after - before) or figure == "place":
        return ""
    label, factor, _ = _for_people(figure, units)
    unit = {"%": "points", "°C": "K"}.get(label, label)
    apart = f"{amount(abs(after - before) * factor)} {unit}".rstrip()
    way = "more" if after > before else "less"
    if units == "K" or before == 0 or after / before <= 0:
        return f"{apart} {way}"
    ratio = after / before
    if ratio >= 2:
        return f"{apart} {way}, {three_digits(ratio)} times"
    if ratio < 0.01:
        return f"{apart} {way}, a share of {three_digits(ratio)}"
    return f"{apart} or {amount(100 * abs(ratio - 1))} % {way}"


def amount(number: float) -> str:
    """A difference to two digits; far out to three.

    Examples
    --------
    >>> amount(0.1234), amount(1234.0)
    ('0.12', '1234')
    """
    return f"{number:.2g}" if 1e-3 <= number < 99 else three_digits(number)


def number(figure: str, value: float, units: str, kind: str, digits: int = 0) -> str:
    """A number in the unit that people read.

    Parameters
    ----------
    figure : str
        Name of the figure.
    value : float
        In `units`.
    units : str
        The package's own unit.
    kind : str
        Of its type, as NumPy names it; counts are written as they are.
    digits : int
        Where three, or five of a spectrum, are too few.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> number("exposure_time", 5.12345, "s", "f"), number("exposure_time", 5.12345, "s", "f", 5)
    ('5.12 s', '5.1235 s')
    """
    if kind in "iub":
        return f"{value:g}"
    if not np.isfinite(value) or (not digits and (figure in FIGURES or figure in _SHARES)):
        return in_words(value, units)
    label, factor, offset = _for_people(figure, units)
    return f"{value * factor + offset:.{digits or 5}g} {label}".rstrip()


def _for_people(figure: str, units: str) -> tuple[str, float, float]:
    """The unit that people read, with factor and offset: shares are per cent only in known figures."""
    if units == "1":
        return ("%", 100.0, 0.0) if figure in FIGURES or figure in _SHARES else ("", 1.0, 0.0)
    if units == "K":
        return "°C", 1.0, -ZERO_CELSIUS
    return (*for_people(units), 0.0)
