"""The memory that draws take, held against what is free, before any is taken."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import psutil  # type: ignore[import-untyped]

from spectralbench.errors import RangeError

_BYTES = 14.0
"""Of each draw of a pixel of a lit frame: three and a half numbers in single precision.

Measured: 11.8 with 24 lit frames, 11.9 with 9, from 1,000 to 4,000 draws; the rest is for corrections.
"""

_BASE = 300e6  # bytes beside the draws
_KEPT_FREE = 0.1  # share of the free memory that is left to others


class _Group(NamedTuple):
    """Files of a control group: its limit, what it uses, and what it could give back at once."""

    limit: str
    used: str
    given_back: str


_GROUPS = {
    "/sys/fs/cgroup": _Group("memory.max", "memory.current", "inactive_file"),
    "/sys/fs/cgroup/memory": _Group("memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file"),
}


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
    if draws * one + _BASE <= free * (1 - _KEPT_FREE):
        return
    most = max(0.0, (free * (1 - _KEPT_FREE) - _BASE) / one)
    digits = 10 ** max(0, len(str(int(most))) - 2)
    raise RangeError(
        f"{draws} draws of {pixels} pixels in {frames} frames take about "
        f"{(draws * one + _BASE) / 1e9:.1f} GB of memory, and {free / 1e9:.1f} GB are free: ask for at most "
        f"{int(most) // digits * digits} draws, or free some"
    )


def free_memory() -> float:
    """Memory that this process may still take.

    Returns
    -------
    float
        The least of what the machine has without swapping, what its control group and what the limit
        of the process leave [byte].

    Examples
    --------
    >>> free_memory() > 1e6
    True
    """
    known = [float(psutil.virtual_memory().available), _of_group(), _of_process()]
    return min(one for one in known if one is not None)


def _of_group() -> float | None:
    """What the control group leaves, of which a container is made; a machine says nothing of it."""
    for folder, group in _GROUPS.items():
        try:
            limit, used, counts = (
                Path(folder, name).read_text(encoding="ascii")
                for name in (group.limit, group.used, "memory.stat")
            )
            pages = dict(line.split() for line in counts.splitlines())
            return float(limit) - float(used) + float(pages[group.given_back])
        except (OSError, ValueError, KeyError):  # there is none, or it says "max"
            continue
    return None


def _of_process() -> float | None:
    try:
        import resource
    except ImportError:
        return None
    limit, _ = resource.getrlimit(resource.RLIMIT_AS)
    return None if limit == resource.RLIM_INFINITY else limit - float(psutil.Process().memory_info().vms)
