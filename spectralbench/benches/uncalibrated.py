"""Light that the spectrometer sees and the standard lamp does not calibrate: no figure may leave it out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.benches.frames import Light
from spectralbench.benches.stacking import estimate
from spectralbench.corrections import running_median, signal_from_counts
from spectralbench.model import noted

_CLEAR = 10.0  # times its scatter, as the lamp itself has to be
_SHARE = 0.01  # of the strongest signal: what is weaker may be stray light
_BESIDE = 3  # pixels judged together, so that no hot one counts as light


class Range(NamedTuple):
    """Wavelengths that a standard lamp calibrates, and why it does not calibrate more."""

    first: float  # nm
    last: float
    certified: tuple[float, float]  # nm

    def why_not(self, wavelength: float) -> str:
        """What keeps the lamp from calibrating a wavelength [nm]."""
        low, high = self.certified
        if not low <= wavelength <= high:
            return f"the standard lamp is certified only for {low:g}–{high:g} nm"
        return f"the standard lamp is clear of its scatter only at {self.first:.1f}–{self.last:.1f} nm"


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
) -> tuple[xr.DataArray, str]:
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
    words : str
        Where light was seen, and why it was not calibrated; empty if none was.

    Examples
    --------
    >>> grid, time = np.arange(360.0, 370.0), {"integration_time": ((), 1.0, {"units": "s"})}
    >>> counts = xr.DataArray(np.linspace(900.0, 0.0, 10), {"wavelength": grid, **time}, "wavelength")
    >>> frame = Light(counts, xr.ones_like(counts), xr.ones_like(counts), 0.0)
    >>> lamp = Range(363.0, 369.0, (250.0, 800.0))
    >>> light, words = marked(counts[3:], signal_from_counts(counts), frame, lamp)
    >>> light.isnull().values.tolist()[:2], words
    ([True, False], 'light at 360–362 nm; the standard lamp is clear of its scatter only at 363.0–369.0 nm')
    """
    outside = seen_outside(signal, frame, lamp)
    if not outside.any():
        return irradiance, ""
    grid, kept = signal.coords["wavelength"].values, np.ones(irradiance.sizes["wavelength"], dtype=bool)
    said, reasons = [], []
    for end, side, nearest in ((0, grid < lamp.first, -1), (-1, grid > lamp.last, 0)):
        lit = grid[outside & side]
        if lit.size:
            kept[end] = False
            said.append(f"{lit[0]:.0f}–{lit[-1]:.0f} nm")
            reasons.append(lamp.why_not(float(lit[nearest])))
    words = f"light at {' and '.join(said)}; {'; '.join(dict.fromkeys(reasons))}"
    result = irradiance.where(xr.DataArray(kept, dims="wavelength"))
    ends = " and ".join(f"{at:.1f} nm" for at in irradiance.coords["wavelength"].values[~kept])
    return noted(
        result, f"marked {ends} as not valid, for the spectrum goes on beyond: {words}", irradiance
    ), words
