"""The broken line through points that fits best: two straight lines that meet.

For a given break, least squares are linear; so no start value is needed, and no iteration. Between
two points the sum of squares has its least value either where the two lines that are fitted
separately cross, or at one of the two points. Trying all of these finds the best of all (Hudson,
J. Am. Stat. Assoc. 61 (1966) 1097).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

EARLY, LATE = 2, 3
"""Different places that each line has at least: the late one is drawn on beyond the points."""


class BrokenLine(NamedTuple):
    """Lines (m,): value at x = 0, slopes before and after a break, and the squares that they leave."""

    start: Vector
    early: Vector
    late: Vector
    bend: Vector
    squares: Vector

    def at(self, x: Vector) -> Vector:
        """Values (m, n) at places (n,)."""
        before = np.minimum(x, self.bend[:, None])
        return np.asarray(
            self.start[:, None] + self.early[:, None] * before + self.late[:, None] * (x - before)
        )


def straight_line(x: Vector, y: Vector) -> tuple[Vector, Vector]:
    """Value at x = 0 and slope of the straight line through each row of points, and nothing more.

    Parameters
    ----------
    x : numpy.ndarray (n,)
        Places, not all the same.
    y : numpy.ndarray (..., n)
        Values.

    Returns
    -------
    tuple of numpy.ndarray (...)
        Value at x = 0; slope.

    Examples
    --------
    >>> start, slope = straight_line(np.array([1.0, 2.0]), np.array([3.0, 5.0]))
    >>> float(start), float(slope)
    (1.0, 2.0)
    """
    centred = x - x.mean()
    slope = (y * centred).sum(axis=-1) / (centred**2).sum()
    return y.mean(axis=-1) - slope * x.mean(), slope


def broken_line(x: Vector, y: Vector) -> BrokenLine:
    """Find the broken line through each row of points that leaves the least squares.

    Parameters
    ----------
    x : numpy.ndarray (n,)
        Places in ascending order, of which `EARLY` + `LATE` are different.
    y : numpy.ndarray (m, n)
        Values.

    Returns
    -------
    BrokenLine
        The lines.

    Examples
    --------
    >>> x = np.arange(6.0)
    >>> found = broken_line(x, np.abs(x - 2.5)[None])
    >>> round(float(found.bend[0]), 9), round(float(found.early[0]), 9), round(float(found.late[0]), 9)
    (2.5, -1.0, 1.0)
    """
    start, slope = straight_line(x, y)  # what is left of a straight line is small, and loses no digits
    rest = y - start[:, None] - slope[:, None] * x
    span = x[-1] - x[0]
    along = (x - x[0]) / span
    places = np.unique(along)[EARLY - 1 : 1 - LATE]
    tried = [_broken_at(places, along, rest), _crossing(places[:-1], places[1:], along, rest)]
    every = BrokenLine._make(np.concatenate(arrays) for arrays in zip(*tried, strict=True))
    least = np.argmin(every.squares, axis=0)[None]
    best = BrokenLine._make(np.take_along_axis(array, least, axis=0)[0] for array in every)
    early, late = best.early / span, best.late / span
    found = BrokenLine(
        start + best.start - early * x[0], slope + early, slope + late, x[0] + span * best.bend, best.squares
    )
    return found._replace(squares=((y - found.at(x)) ** 2).sum(axis=-1))


def _broken_at(places: Vector, x: Vector, y: Vector) -> BrokenLine:
    """Lines (places, m) that meet at each of several places."""
    from_there = x - places[:, None]
    columns = [np.ones_like(from_there), np.minimum(from_there, 0), np.maximum(from_there, 0)]
    (there, early, late), squares = _fitted(columns, y)
    bend = np.broadcast_to(places[:, None], there.shape)
    return BrokenLine(there - early * bend, early, late, bend, squares)


def _crossing(low: Vector, high: Vector, x: Vector, y: Vector) -> BrokenLine:
    """Separate lines (places, m) up to one place and from the next on, as far as they cross between them."""
    first = (x <= low[:, None]).astype(float)
    (start, early, other, late), squares = _fitted([first, first * x, 1 - first, (1 - first) * x], y)
    with np.errstate(divide="ignore", invalid="ignore"):  # parallel lines do not cross
        bend = (start - other) / (late - early)
    inside = (bend > low[:, None]) & (bend < high[:, None])
    return BrokenLine(start, early, late, bend, np.where(inside, squares, np.inf))


def _fitted(columns: list[Vector], y: Vector) -> tuple[Vector, Vector]:
    """Coefficients (column, places, m) and squares (places, m) of least squares, for each place."""
    orthogonal, triangle = np.linalg.qr(np.stack(columns, axis=-1))
    shares = orthogonal.swapaxes(1, 2) @ y.T
    squares = (y**2).sum(axis=-1) - (shares**2).sum(axis=1)
    return np.moveaxis(np.linalg.solve(triangle, shares), 1, 0), squares
