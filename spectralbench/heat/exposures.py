"""When the light is on: intervals, cycles, and the moments worth a look."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import RangeError
from spectralbench.units import measured

Vector = NDArray[np.float64]
Time = float | str
Exposure = Time | Sequence[tuple[Time, Time]] | None

_FEWEST, _MOMENTS = 4, 160  # moments between two switches at least, and about all together
_FIRST = 1e-2  # of the time to the next switch: the first moment after one


def cycles(on: Time, off: Time, count: int) -> tuple[tuple[float, float], ...]:
    """Intervals of a light that goes on and off.

    Parameters
    ----------
    on, off : float or str
        How long it is on and off each time [s].
    count : int
        How many times it is on, from time 0.

    Returns
    -------
    tuple of pairs of float
        Start and stop of each interval [s].

    Raises
    ------
    RangeError
        If the time on is not positive, the time off negative, or the count below 1.

    Examples
    --------
    >>> cycles("2 s", "500 ms", 3)
    ((0.0, 2.0), (2.5, 4.5), (5.0, 7.0))
    """
    lit, dark = measured(on, "s").value, measured(off, "s").value
    if not (lit > 0 and dark >= 0 and count >= 1):
        raise RangeError(
            "a light is on for more than 0 s, off for 0 s or more, and at least once, not "
            f"{lit:g} s on, {dark:g} s off, {count} times"
        )
    return tuple((i * (lit + dark), i * (lit + dark) + lit) for i in range(count))


def intervals(exposure: Exposure) -> tuple[tuple[float, float], ...]:
    """Take apart what somebody says of an exposure.

    Parameters
    ----------
    exposure : float, str, sequence of pairs, or None
        A time from 0 [s]; or start and stop [s] of each interval, in order; None stays on.

    Returns
    -------
    tuple of pairs of float
        Start and stop of each interval [s].

    Raises
    ------
    RangeError
        If there is none, one does not stop after it starts, or starts before the last one stopped.

    Examples
    --------
    >>> intervals("10 s"), intervals(None)
    (((0.0, 10.0),), ((0.0, inf),))
    """
    if exposure is None:
        return ((0.0, math.inf),)
    pairs = ((0.0, exposure),) if isinstance(exposure, int | float | str) else exposure
    found = tuple((measured(start, "s").value, measured(stop, "s").value) for start, stop in pairs)
    if not found:
        raise RangeError("an exposure has at least one interval: give start and stop [s], or leave it out")
    before = 0.0
    for start, stop in found:
        if not before <= start < stop:
            raise RangeError(
                f"an exposure is on from {start:g} s to {stop:g} s, after {before:g} s: "
                "each interval starts at 0 s or where the last one stopped, or later, and stops after that"
            )
        before = stop
    return found


def moments(lit: tuple[tuple[float, float], ...]) -> Vector:
    """Moments to look at: every switch, and ever wider steps after each.

    Parameters
    ----------
    lit : tuple of pairs of float
        Intervals that end [s].

    Returns
    -------
    numpy.ndarray (time,)
        Moments [s], until as long after the last interval as all took.

    Examples
    --------
    >>> found = moments(((0.0, 10.0),))
    >>> found.min().item(), 10.0 in found, found.max().item()
    (0.0, True, 20.0)
    """
    start, stop = lit[0][0], lit[-1][1]
    switches = np.unique([*np.ravel(lit), start, 2 * stop - start])
    steps = np.geomspace(_FIRST, 1.0, max(_FEWEST, _MOMENTS // (switches.size - 1)))[:-1]
    between = switches[:-1, None] + np.diff(switches)[:, None] * steps
    return np.unique(np.concatenate([switches, between.ravel()]))
