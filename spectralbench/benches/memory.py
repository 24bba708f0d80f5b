"""The memory that draws take, held against what is free, before any is taken."""

from __future__ import annotations

import os
from pathlib import Path

from spectralbench.errors import RangeError

_BYTES = 14.0
"""Of each draw of a pixel of a lit frame: three and a half numbers in single precision.

Measured: 11.8 with 24 lit frames, 11.9 with 9, from 1,000 to 4,000 draws; the rest is for corrections.
"""

_BASE = 300e6  # bytes beside the draws
_KEPT_FREE = 0.1  # share of the free memory that is left to others
_CONTROLLED = ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes")


def within_memory(draws: int, pixels: int, frames: int) -> None:
    """Refuse more draws than the memory holds.

    Parameters
    ----------
    draws : int
        Draws of the Monte Carlo method.
    pixels : int
        Pixels of the detector.
    frames : int
        Frames with light in them.

    Raises
    ------
    RangeError
        If they would take more memory than is free.

    Examples
    --------
    >>> within_memory(1000, 2048, 9)
    >>> within_memory(10**9, 2048, 9)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    spectralbench.errors.RangeError: 1000000000 draws of 2048 pixels in 9 frames take about 258048.3 GB of ...
    """
    free = free_memory()
    one = _BYTES * pixels * frames
    if free is None or draws * one + _BASE <= free * (1 - _KEPT_FREE):
        return
    most = max(0.0, (free * (1 - _KEPT_FREE) - _BASE) / one)
    digits = 10 ** max(0, len(str(int(most))) - 2)
    raise RangeError(
        f"{draws} draws of {pixels} pixels in {frames} frames take about "
        f"{(draws * one + _BASE) / 1e9:.1f} GB of memory, and {free / 1e9:.1f} GB are free: ask for at most "
        f"{int(most) // digits * digits} draws, or free some"
    )


def free_memory() -> float | None:
    """Memory that this process may still take.

    Returns
    -------
    float or None
        The least of what the machine has free, what its control group and what the limit of the process
        leave [byte]; None where the system does not tell.

    Examples
    --------
    >>> free_memory() > 1e6
    True
    """
    known = [_of_machine(), _of_group(), _of_process()]
    return min((one for one in known if one is not None), default=None)


def _of_machine() -> float | None:
    """What can be had without swapping, or, where only that is told, all that there is."""
    try:
        for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines():
            name, _, amount = line.partition(":")
            if name == "MemAvailable":
                return float(amount.split()[0]) * 1024
    except (OSError, ValueError, IndexError):
        pass
    try:
        return float(os.sysconf("SC_PHYS_PAGES")) * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError):
        return None


def _of_group() -> float | None:
    """What the control group leaves beside what this process holds."""
    for name in _CONTROLLED:
        try:
            return float(Path(name).read_text(encoding="ascii")) - _held(1)
        except (OSError, ValueError):  # there is none, or it says "max"
            continue
    return None


def _of_process() -> float | None:
    try:
        import resource
    except ImportError:
        return None
    limit, _ = resource.getrlimit(resource.RLIMIT_AS)
    return None if limit == resource.RLIM_INFINITY else float(limit) - _held(0)


def _held(column: int) -> float:
    """Memory of this process: addresses in the first column, pages in the second."""
    try:
        pages = Path("/proc/self/statm").read_text(encoding="ascii").split()[column]
        return float(pages) * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError, IndexError):
        return 0.0
