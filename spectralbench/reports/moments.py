"""When raw files say that they were taken, in words."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime

import xarray as xr

from spectralbench.benches.folder import roles_of
from spectralbench.benches.schema import Manifest

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)  # the same in every locale


def moments_of(tree: xr.DataTree) -> dict[str, str]:
    """When each raw file says that it was taken.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.

    Returns
    -------
    dict
        Date and time as in ISO 8601, by the name of the file; without files that do not say it.

    Examples
    --------
    >>> moments_of(xr.DataTree())
    {}
    """
    found: dict[str, str] = json.loads(tree.attrs.get("measured", "{}"))
    return found


def in_words(moment: str) -> str:
    """A date, with its time if there is one.

    Parameters
    ----------
    moment : str
        As in ISO 8601.

    Returns
    -------
    str
        Day, month in letters, year; hours and minutes.

    Examples
    --------
    >>> in_words("2026-03-02T09:38:00"), in_words("2025-11-03")
    ('2 March 2026, 09:38', '3 November 2025')
    """
    known = datetime.fromisoformat(moment)
    day = f"{known.day} {_MONTHS[known.month - 1]} {known.year}"
    return f"{day}, {known:%H:%M}" if "T" in moment else day


def span_in_words(moments: Iterable[str]) -> str:
    """From the first of some moments to the last.

    Parameters
    ----------
    moments : iterable of str
        One or more, as in ISO 8601.

    Returns
    -------
    str
        The day, or the days, with the time of the first and of the last.

    Examples
    --------
    >>> span_in_words(["2026-03-02T10:30:00", "2026-03-02T08:05:00"])
    'on 2 March 2026, 08:05 to 10:30'
    >>> span_in_words(["2026-03-02T10:30:00", "2026-03-04T08:05:00"])
    'from 2 March 2026, 10:30 to 4 March 2026, 08:05'
    """
    ordered = sorted(moments)
    first, last = in_words(ordered[0]), in_words(ordered[-1])
    if first == last:
        return f"on {first}"
    day, _, hour = last.partition(", ")
    return f"on {first} to {hour}" if first.startswith(f"{day}, ") else f"from {first} to {last}"


def measured_in_words(manifest: Manifest, moments: dict[str, str]) -> str:
    """When a bench was measured, as its frames say.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of itself.
    moments : dict
        From `moments_of`.

    Returns
    -------
    str
        A phrase that goes on from "Measured"; with the number of frames that do not say it.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> measured_in_words(manifest_of(reduced), {})
    '(no frame says when)'
    """
    frames = dict.fromkeys(role.file for role in roles_of(manifest) if role.frame is not None)
    said = [moments[name] for name in frames if name in moments]
    if not said:
        return "(no frame says when)"
    silent = len(frames) - len(said)
    without = f" ({silent} of {len(frames)} frames do not say when)" if silent else ""
    return span_in_words(said) + without
