"""Wavelengths that are missing inside a grid, as where rows were deleted."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

_FAR = 3.0  # times the steps beside it; certificates in round numbers have steps of up to that
_BESIDE = 5  # steps on either side that say how wide a step is there
_FEWEST = 8  # steps of a grid that is judged; a table of a few knots has any steps
_SHOWN = 3  # gaps that a warning names


class Gap(NamedTuple):
    """A step of a grid that is far wider than those beside it."""

    first: float  # nm, the last wavelength before it
    last: float  # nm, the next one
    usual: float  # nm, the steps beside it

    def __str__(self) -> str:
        """It in words, with the place and the step."""
        step = f"{self.last - self.first:.3g} nm where the steps beside it are {self.usual:.3g} nm"
        return f"no values between {self.first:g} and {self.last:g} nm, a step of {step}"


def gaps(wavelength: ArrayLike, far: float = _FAR) -> list[Gap]:
    """Find the steps of a grid that are far wider than those on both of their sides.

    A step is a gap if it is more than three times as wide as each of its two neighbours, and as the
    medians of the five steps before it and of the five behind it. A grid that becomes coarser or
    finer, once or smoothly, has none: there one side is as wide as the step.

    Parameters
    ----------
    wavelength : array_like (wavelength,)
        Ascending wavelengths [nm].
    far : float
        How many times as wide; for the pixels of a detector less will do.

    Returns
    -------
    list of Gap
        In order; none of a grid of fewer than eight steps.

    Notes
    -----
    Common practice, no source. Rounding makes one step up to twice as wide as another, a lost row
    twice, two rows three times. One lost row is not found, and neither are gaps with one row between.

    Examples
    --------
    >>> print(*gaps([360, 361, 362, 363, 364, 365, 371, 372, 373, 374]))
    no values between 365 and 371 nm, a step of 6 nm where the steps beside it are 1 nm
    >>> gaps([350, 360, 370, 380, 390, 400, 450, 500, 550, 600])
    []
    """
    grid = np.asarray(wavelength, dtype=float)
    steps = np.diff(grid)
    if steps.size < _FEWEST:
        return []
    middle = steps[1:-1]
    wide = np.flatnonzero((middle > far * steps[:-2]) & (middle > far * steps[2:])) + 1
    found = []
    for i in wide.tolist():
        sides = steps[max(0, i - _BESIDE) : i], steps[i + 1 : i + 1 + _BESIDE]
        usual = max(float(np.median(side)) for side in sides)
        if steps[i] > far * usual:
            found.append(Gap(float(grid[i]), float(grid[i + 1]), usual))
    return found


def missing(wavelength: ArrayLike) -> list[str]:
    """What a person should know of gaps in a grid, in words.

    Parameters
    ----------
    wavelength : array_like (wavelength,)
        Ascending wavelengths [nm].

    Returns
    -------
    list of str
        One sentence, or none.

    Examples
    --------
    >>> missing([360, 361, 362, 363, 364, 365, 371, 372, 373, 374])[0][-52:]
    'bridged by a straight line: were rows deleted there?'
    """
    found = gaps(wavelength)
    if not found:
        return []
    more = f"; and {len(found) - _SHOWN} more" if len(found) > _SHOWN else ""
    shown = "; ".join(map(str, found[:_SHOWN]))
    return [f"{shown}{more}, bridged by a straight line: were rows deleted there?"]
