"""Light that the spectrometer sees and the standard lamp does not calibrate: no figure may leave it out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.benches.frames import Light
from spectralbench.benches.stacking import estimate
from spectralbench.corrections import running_median, signal_from_counts
from spectralbench.corrections.pixel_faults import in_words
from spectralbench.model import noted

_CLEAR = 10.0  # times its scatter, as the lamp itself has to be
_SHARE = 0.01  # of the strongest signal: what is weaker may be stray light
_BESIDE = 3  # pixels judged together, so that no hot one counts as light


_SPOILT = 9  # pixels from a saturated one to the first that is judged without it: 7 by a median of 15


class Reason(NamedTuple):
    """Why a standard lamp does not calibrate a wavelength, and what to do about it."""

    words: str
    remedy: str


class Range(NamedTuple):
    """Wavelengths that a standard lamp calibrates, and why it does not calibrate more."""

    first: float  # nm
    last: float
    certified: tuple[float, float]  # nm
    saturated: tuple[str, str] = ("", "")  # where its frame is so, if that ends the range below or above

    def why_not(self, wavelength: float) -> Reason:
        """What keeps the lamp from calibrating a wavelength [nm]."""
        low, high = self.certified
        if not low <= wavelength <= high:
            words = f"the standard lamp is certified only for {low:g}–{high:g} nm"
            return Reason(words, "take a lamp that is certified there")
        if where := self.saturated[wavelength > self.last]:
            return Reason(f"the frame of the standard lamp is saturated: {where}", SHORTER)
        words = f"the standard lamp is clear of its scatter only at {self.first:.1f}–{self.last:.1f} nm"
        remedy = "take more scans of the lamp, longer ones, or one that gives more light there"
        return Reason(words, remedy)


SHORTER = "take a shorter exposure of the lamp"
"""What to do about a saturated standard lamp."""


def range_of(
    calibrated: xr.DataArray, certified: xr.DataArray, saturated: xr.DataArray, file: str = ""
) -> Range:
    """What a standard lamp calibrates, and whether saturated pixels end it.

    Parameters
    ----------
    calibrated : xarray.DataArray (wavelength,)
        Along the wavelengths that it calibrates [nm].
    certified : xarray.DataArray (wavelength,)
        Wavelengths of its certificate [nm].
    saturated : xarray.DataArray (wavelength,)
        Which pixels of its frame are saturated.
    file : str
        The frame, for the words.

    Returns
    -------
    Range
        Its ends, and what ends it.

    Examples
    --------
    >>> grid = np.arange(360.0, 400.0)
    >>> hit = xr.DataArray(grid > 384, {"wavelength": grid}, "wavelength")
    >>> range_of(hit[:17], hit.wavelength, hit, "lamp.csv").saturated
    ('', '15 pixels at 385.0–399.0 nm of lamp.csv')
    """
    ends = calibrated.coords["wavelength"].values[[0, -1]]
    grid, hit = saturated.coords["wavelength"].values, saturated.values
    first, last = (int(i) for i in np.searchsorted(grid, ends))
    below, above = np.arange(grid.size) < first, np.arange(grid.size) > last
    near = hit[max(first - _SPOILT, 0) : first].any(), hit[last + 1 : last + 1 + _SPOILT].any()
    said = [
        f"{in_words(grid, hit & side)} of {file}" if is_near else ""
        for is_near, side in zip(near, (below, above), strict=True)
    ]
    known = certified.values
    return Range(float(ends[0]), float(ends[1]), (float(known[0]), float(known[-1])), (said[0], said[1]))


def seen_outside(signal: xr.DataArray, frame: Light, lamp: Range) -> NDArray[np.bool_]:
    """Find the pixels outside of a calibrated range that show light of a source.

    Parameters
    ----------
    signal : xarray.DataArray ([draw,] wavelength)
        Signal of the source [s-1].
    frame : Light
        The frame that it comes from.
    lamp : Range
        What is calibrated.

    Returns
    -------
    numpy.ndarray (wavelength,)
        True where the median of three pixels is ten times their scatter, as is asked of the lamp, and
        above 1 % of the strongest signal, below which it may be stray light; and where a pixel was
        saturated.

    Examples
    --------
    >>> grid, time = np.arange(360.0, 370.0), {"integration_time": ((), 1.0, {"units": "s"})}
    >>> counts = xr.DataArray(np.linspace(900.0, 0.0, 10), {"wavelength": grid, **time}, "wavelength")
    >>> frame = Light(counts, xr.ones_like(counts), xr.ones_like(counts), 0.0)
    >>> int(seen_outside(signal_from_counts(counts), frame, Range(363.0, 369.0, (250.0, 800.0))).sum())
    3
    """
    light = estimate(signal).values
    scatter = signal_from_counts(frame.scatter).values
    level = running_median(light, _BESIDE)
    noise = np.nan_to_num(running_median(scatter, _BESIDE))  # a single scan shows none
    with np.errstate(invalid="ignore"):
        lit = (level >= _CLEAR * noise) & (level > _SHARE * np.nanmax(level, initial=0.0))
    lit |= np.isnan(light) & frame.counts.isnull().values
    grid = signal.coords["wavelength"].values
    return np.asarray(lit & ((grid < lamp.first) | (grid > lamp.last)))


def marked(
    irradiance: xr.DataArray, signal: xr.DataArray, frame: Light, lamp: Range
) -> tuple[xr.DataArray, Reason | None]:
    """Mark the end of a spectrum as not valid where its light goes on beyond.

    Parameters
    ----------
    irradiance : xarray.DataArray ([draw,] wavelength)
        Spectral irradiance of a source over the calibrated range [W m-2 nm-1].
    signal, frame, lamp
        As for `seen_outside`.

    Returns
    -------
    irradiance : xarray.DataArray ([draw,] wavelength)
        The same, with NaN in the first sample if light was seen below it, in the last one if above:
        so every figure that reaches to this end is not known, and no other.
    reason : Reason or None
        Where light was seen and why it was not calibrated, and what to do; None if none was.

    Examples
    --------
    >>> grid, time = np.arange(360.0, 370.0), {"integration_time": ((), 1.0, {"units": "s"})}
    >>> counts = xr.DataArray(np.linspace(900.0, 0.0, 10), {"wavelength": grid, **time}, "wavelength")
    >>> frame = Light(counts, xr.ones_like(counts), xr.ones_like(counts), 0.0)
    >>> lamp = Range(363.0, 369.0, (250.0, 800.0))
    >>> light, reason = marked(counts[3:], signal_from_counts(counts), frame, lamp)
    >>> light.isnull().values.tolist()[:2], reason.words
    ([True, False], 'light at 360–362 nm; the standard lamp is clear of its scatter only at 363.0–369.0 nm')
    """
    outside = seen_outside(signal, frame, lamp)
    if not outside.any():
        return irradiance, None
    grid, kept = signal.coords["wavelength"].values, np.ones(irradiance.sizes["wavelength"], dtype=bool)
    said, reasons = [], list[Reason]()
    for end, side, nearest in ((0, grid < lamp.first, -1), (-1, grid > lamp.last, 0)):
        lit = grid[outside & side]
        if lit.size:
            kept[end] = False
            said.append(f"{lit[0]:.0f}–{lit[-1]:.0f} nm")
            reasons.append(lamp.why_not(float(lit[nearest])))
    words = f"light at {' and '.join(said)}; {'; '.join(dict.fromkeys(one.words for one in reasons))}"
    remedy = ", and ".join(dict.fromkeys(one.remedy for one in reasons))
    result = irradiance.where(xr.DataArray(kept, dims="wavelength"))
    ends = " and ".join(f"{at:.1f} nm" for at in irradiance.coords["wavelength"].values[~kept])
    said_so = f"marked {ends} as not valid, for the spectrum goes on beyond: {words}"
    return noted(result, said_so, irradiance), Reason(words, remedy)


def cautions_of(outside: dict[str, Reason]) -> list[str]:
    """What is to be said of light that the standard lamp does not calibrate.

    Parameters
    ----------
    outside : dict of Reason
        By the name of the source, from `marked`.

    Returns
    -------
    list of str
        A sentence for each source.

    Examples
    --------
    >>> cautions_of({"arc": Reason("light at 250 nm", SHORTER)})[0][-46:]
    'not known: take a shorter exposure of the lamp'
    """
    return [
        f"{name}: {words}. What has to arrive is counted without it, and what may not be exceeded is not "
        f"known: {remedy}"
        for name, (words, remedy) in outside.items()
    ]
