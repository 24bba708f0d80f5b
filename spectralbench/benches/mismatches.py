"""What does not fit between the frames of a bench and its instrument."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from spectralbench.benches.lines import Lines
from spectralbench.benches.schema import Manifest
from spectralbench.errors import Fault, quote
from spectralbench.readers.gaps import gaps
from spectralbench.readers.header import times_seen

if TYPE_CHECKING:
    from spectralbench.benches.folder import Role

SAME_TIME = 1e-6
"""Integration times that differ by less, relatively, are equal."""

_LOST_ROWS = 2.5  # times the steps beside it: two lost rows make three, rounding no more than two


def mismatches(
    manifest: Manifest,
    roles: list[Role],
    nodes: dict[str, xr.Dataset],
    line_of: Lines,
) -> list[Fault]:
    """Hold the frames against the instrument, and against each other.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of its instrument.
    roles : list of Role
        Its frames.
    nodes : dict of xarray.Dataset
        What they hold, by node.
    line_of : Lines
        Where the manifest names them.

    Returns
    -------
    list of Fault
        Other pixels than those of the instrument or of the other frames, rows left out between them,
        counts above full scale, an integration time that is missing or not listed.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> mismatches(manifest_of(open_bench(demo)), [], {}, Lines(""))
    []
    """
    instrument, faults = manifest.instrument, []
    grids = {role.node: nodes[role.node].coords["wavelength"].values for role in roles}
    usual = Counter(grid.tobytes() for grid in grids.values()).most_common(1)

    def fault(role: Role, found: str, expected: str, advice: str = "") -> None:
        faults.append(Fault(found, expected, advice).within(role.file, role.key, line_of(role.key)))

    for role in roles:
        counts, grid = nodes[role.node]["counts"], grids[role.node]
        if grid.size != instrument.pixels:
            fault(role, f"{grid.size} wavelengths", f"{instrument.pixels}, the pixels of the instrument")
        elif grid.tobytes() != usual[0][0]:
            advice = "Take all frames with one wavelength scale."
            other = np.frombuffer(usual[0][0], dtype=grid.dtype)
            apart = np.abs(other - grid).max() if other.size == grid.size else np.inf
            fault(role, f"wavelengths up to {apart:.3g} nm off", "the grid of the other frames", advice)
        for gap in gaps(grid, _LOST_ROWS):
            fault(role, str(gap), "a row for each pixel of the instrument", _ALL_ROWS)
        highest, full = float(counts.max()), instrument.full_scale.value
        if highest > full:
            fault(role, f"a count of {highest:g}", f"at most {full:g}, the full scale")
        if "integration_time" not in counts.coords:
            fault(role, *_untimed(role, nodes[role.node]))
            continue
        taken = float(counts.coords["integration_time"])
        allowed = [time.value for time in instrument.integration_times]
        if not np.isclose(taken, allowed, rtol=SAME_TIME, atol=0).any():
            expected = "one of " + ", ".join(f"{time * 1e3:g} ms" for time in allowed)
            fault(role, f"an integration time of {taken * 1e3:g} ms", expected)
    return faults


def in_manifest(role: Role, entry: str) -> str:
    """How to state in the manifest what a raw file does not say, for raw files are never changed.

    Examples
    --------
    >>> from spectralbench.benches.folder import Role
    >>> role = Role("dark.1.frame", "/dark/1", "raw/dark.csv", "counts", "wavelength")
    >>> in_manifest(role, 'temperature = "10 °C"')
    'State it in the manifest, as frame = { file = "raw/dark.csv", temperature = "10 °C" }.'
    """
    *_, of, last = role.key.split(".")
    key = f"one of {of}: " if last.isdigit() else f"{last} = "
    return f'State it in the manifest, as {key}{{ file = "{role.file}", {entry} }}.'


def _untimed(role: Role, data: xr.Dataset) -> tuple[str, str, str]:
    """The fault of a frame without an integration time: found, expected, advice."""
    advice = in_manifest(role, 'integration_time = "20 ms"')
    found, expected = "no integration time", "one in its header, such as integration time: 20 ms"
    if seen := times_seen(json.loads(data.attrs["header"])):
        found += f"; {', '.join(map(quote, seen[:_SEEN]))} in the header is not understood as one"
    return found, expected, advice


_SEEN = 3  # lines of a header that a message shows
_ALL_ROWS = (
    "Save it anew with all its rows, for what is left out becomes a straight line; a sample that is "
    "not valid is marked invalid, in a copy of the file."
)
