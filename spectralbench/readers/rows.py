"""The numbers of many files in one piece of memory, which copies of this process can fill as well."""

from __future__ import annotations

import mmap
import os

import numpy as np
from numpy.typing import NDArray


class Rows:
    """Memory for the numbers of files of one kind, each in its place.

    Parameters
    ----------
    count : int
        The files.
    values : numpy.ndarray (axis) or (spectrum, axis)
        The numbers of one of them.
    shared : bool
        Whether copies of this process are to fill it as well.

    Raises
    ------
    OSError
        If there is no memory that can be shared.

    Examples
    --------
    >>> rows = Rows(2, np.array([1.0, 2.0]), shared=False)
    >>> rows.put(0, np.array([3.0, 4.0])), rows.put(1, np.array([5.0, 6.0]))
    (True, True)
    >>> rows.own.tolist()
    [[3.0, 4.0], [5.0, 6.0]]
    """

    def __init__(self, count: int, values: NDArray[np.float64], *, shared: bool) -> None:
        shape = (count, *np.atleast_2d(values).shape)
        self._of = None if shared else os.getpid()
        if shared:
            both = _twice(count * values.nbytes)
            self._filled, self._own = (np.frombuffer(memory).reshape(shape) for memory in both)
        else:
            self._filled = self._own = np.empty(shape)

    def put(self, place: int, values: NDArray[np.float64]) -> bool:
        """Put the numbers of a file into its place, if they are as many as those of the others.

        A copy of this process cannot, unless the memory is shared: nobody would see them.
        """
        if self._of is not None and self._of != os.getpid():
            return False
        fits = np.atleast_2d(values).shape == self._filled.shape[1:] and values.dtype == float
        if fits:
            self._filled[place] = values
        return fits

    def at(self, place: int) -> NDArray[np.float64]:
        """The numbers of a file (spectrum, axis)."""
        values: NDArray[np.float64] = self._own[place]
        return values

    @property
    def own(self) -> NDArray[np.float64]:
        """All numbers (file and spectrum, axis); they belong to this process alone, and may be changed."""
        return self._own.reshape(-1, self._own.shape[-1])


def _twice(size: int) -> tuple[mmap.mmap, mmap.mmap]:
    """The same memory twice: shared with copies of this process, and its own from the first change on."""
    memory = os.memfd_create("rows")
    try:
        os.ftruncate(memory, size)
        return mmap.mmap(memory, size), mmap.mmap(memory, size, access=mmap.ACCESS_COPY)
    finally:
        os.close(memory)
