"""The curves of a frame for a browser: its scans, and how far the odd ones lie from the mean."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.corrections.frame_words import GOOD, per_cent
from spectralbench.corrections.pixel_faults import in_words, stretches
from spectralbench.corrections.scans import average_scans
from spectralbench.payload import Curves
from spectralbench.units import measured
from spectralbench.widgets.taken_frames import TakenFrame

_DRAWN = 24  # scans whose curves are drawn, the odd ones among them
_APART = 6  # scans of which the way from the mean is drawn
_ACROSS = {"name": "wavelength", "units": "nm"}


def odd(found: xr.Dataset) -> list[int]:
    """Scans that are not as the others are; none where all are alike.

    Examples
    --------
    >>> odd(xr.Dataset({"verdict": ("spectrum", ["may be used", "not"])}, {"spectrum": [1, 2]}))
    [2]
    """
    numbers: list[int] = found.coords["spectrum"].values[found["verdict"].values != GOOD].tolist()
    return numbers if len(numbers) < found.sizes["spectrum"] else []


def drawn(found: xr.Dataset) -> list[int]:
    """Scans whose curves are drawn: all, or the odd ones and some of the others.

    Examples
    --------
    >>> drawn(xr.Dataset({"verdict": ("spectrum", ["may be used", "not"])}, {"spectrum": [1, 2]}))
    [1, 2]
    """
    everything: list[int] = found.coords["spectrum"].values.tolist()
    if len(everything) <= _DRAWN:
        return everything
    out = odd(found)[: _DRAWN // 2]
    even = np.linspace(1, len(everything), _DRAWN - len(out)).round().astype(int).tolist()
    return sorted({*out, *even})


def scans_of(taken: TakenFrame, numbers: Sequence[int]) -> bytes:
    """Raw scans, with the count from which a pixel is saturated, as a payload.

    Parameters
    ----------
    taken : TakenFrame
        The frame.
    numbers : sequence of int
        Which scans, counted from 1.

    Returns
    -------
    bytes
        A curve for each scan.

    Examples
    --------
    >>> from spectralbench.payload import unpack
    >>> from spectralbench.widgets.taken_frames import taken_in
    >>> header, _ = unpack(scans_of(taken_in(demo, "LED 405"), [1, 2]))
    >>> header["saturation_text"], [curve["label"] for curve in header["curves"]]
    ('saturated from 95 % of 65,535 counts on', ['scan 1', 'scan 2'])
    """
    curves, (grid, counts) = Curves("frame"), _rows(taken)
    for number in numbers:
        said = {"label": f"scan {number}", "units": "counts", "number": number}
        curves.add(said, _ACROSS, grid, counts[number - 1])
    full, level = plain(taken.full_scale), plain(taken.level)
    text = f"saturated from {per_cent(level)} of {full:,.0f} counts on"
    return curves.packed(saturation=full * level, saturation_text=text)


def apart_of(taken: TakenFrame, kept: xr.DataArray, found: xr.Dataset, numbers: Sequence[int]) -> bytes:
    """The mean of the scans that are kept, how far others lie from it, and where pixels are saturated.

    Parameters
    ----------
    taken : TakenFrame
        The frame.
    kept : xarray.DataArray ([spectrum,] wavelength)
        Scans that are kept [1].
    found : xarray.Dataset
        From `spectralbench.corrections.frame_checks.check_frame`, of these.
    numbers : sequence of int
        Scans whose way from the mean is wanted, counted from 1.

    Returns
    -------
    bytes
        A payload.

    Examples
    --------
    >>> from spectralbench.corrections.frame_checks import check_frame
    >>> from spectralbench.payload import unpack
    >>> from spectralbench.widgets.taken_frames import taken_in
    >>> taken = taken_in(demo, "arc")
    >>> header, _ = unpack(apart_of(taken, taken.counts, check_frame(taken.counts, 65535), [2]))
    >>> header["saturated"], [curve["role"] for curve in header["curves"]]
    ('6 pixels at 435.2–436.4 nm', ['mean', 'scatter', 'scan'])
    """
    curves, (grid, counts) = Curves("frame"), _rows(taken)
    mean, scatter = average_scans(kept)
    count = kept.sizes.get("spectrum", 1)
    said = {"label": f"mean of {count}", "units": "counts", "role": "mean"}
    curves.add(said, _ACROSS, grid, mean.values)
    if count > 1:
        one, zero = scatter.values * np.sqrt(count), np.zeros(grid.size)
        name = "standard deviation of one scan"
        said = {"label": name, "units": "counts", "role": "scatter"}
        curves.add(said, _ACROSS, grid, zero, low=-one, high=one)
    for number in numbers[:_APART]:
        away = counts[number - 1] - mean.values
        scan = {"label": f"scan {number}", "units": "counts", "number": number, "role": "scan"}
        curves.add(scan, _ACROSS, grid, away)
    saturated = found["saturated"].any("spectrum").values
    half = np.gradient(grid) / 2 if grid.size > 1 else np.zeros(1)
    ends = [
        [a - float(half[np.searchsorted(grid, a)]), b + float(half[np.searchsorted(grid, b)])]
        for a, b, _ in stretches(grid, saturated)
    ]
    return curves.packed(stretches=ends, saturated=in_words(grid, saturated))


def plain(value: float | str) -> float:
    """A count or a share as a plain number.

    Examples
    --------
    >>> plain("50 %"), plain(65535)
    (0.5, 65535.0)
    """
    return float(measured(value, "1").value)


def _rows(taken: TakenFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Wavelengths (wavelength,) [nm] and counts (spectrum, wavelength) of all scans."""
    counts = taken.counts.transpose(..., "wavelength")
    grid = counts.coords["wavelength"].values.astype(float)
    return grid, counts.values.reshape(-1, grid.size).astype(float)
