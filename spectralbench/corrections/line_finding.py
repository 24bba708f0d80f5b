"""Lines in a spectrum: where they stand, to a fraction of a pixel."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.errors import GridError, RangeError
from spectralbench.units import declares

Vector = NDArray[np.float64]

_TOP = 0.5  # share of its height above which a line is taken for a Gaussian
_REACH = 3.0  # widths on either side within which the background is looked for
_FLAT = 3  # equal pixels at the top of a line that was cut off
_FEWEST = 5  # pixels in which a line can be found


@declares(signal="*")
def find_lines(signal: xr.DataArray, times: float = 10.0, stand_out: float = 0.2) -> xr.Dataset:
    """Find the lines of a spectrum.

    Parameters
    ----------
    signal : xarray.DataArray (..., pixel) or (..., wavelength)
        Counts [1] or signal [s-1] of a line lamp, without the dark. Lines are found in the mean over
        all other dimensions, such as ``draw``, and then placed in each.
    times : float
        How many times the scatter from pixel to pixel a line has to stand out.
    stand_out : float
        Share of its height above the median of the spectrum that a line has to stand out from its
        neighbours [1]; it keeps the noise on top of a strong line from counting as lines.

    Returns
    -------
    xarray.Dataset (line,)
        ``position`` (..., line) [pixel], counted from 0 at the short end of the wavelengths or by
        the coordinate ``pixel``, ``height`` (..., line) above its background, in the unit of the
        signal, and ``fwhm`` (..., line) [pixel]; NaN where a draw shows no line. If the signal has
        wavelengths, also ``approximate`` (..., line), where they put it [nm]. ``attrs["comment"]``
        says which lines were left out and why.

    Raises
    ------
    GridError
        If the signal has neither of the dimensions, or fewer than five valid pixels.
    RangeError
        If no line is left, or a limit makes no sense.

    Notes
    -----
    A Gaussian is a parabola in its logarithm; it is fitted to the pixels above half the height,
    weighted by their squares (Guo, IEEE Signal Process. Mag. 28 (5) (2011) 134), over a straight
    background between the lowest pixels within three widths on either side. A line with a pixel
    that is not valid, or with a flat top of three pixels or more, is left out: it was saturated.

    Examples
    --------
    >>> pixel = np.arange(100)
    >>> line = 1000 * np.exp(-((pixel - 40.3) / 2) ** 2 / 2) + 10
    >>> round(find_lines(xr.DataArray(line, dims="pixel"))["position"].item(), 6)
    40.3
    """
    if not (times > 0 and 0 <= stand_out < 1):
        raise RangeError(f"times above 0 and a share in 0–1 are needed, not {times:g} and {stand_out:g}")
    axis = next((name for name in ("pixel", "wavelength") if name in signal.dims), None)
    if axis is None:
        raise GridError(f"lines are found along pixel or wavelength; the signal has {signal.dims}")
    last = signal.transpose(..., axis)
    values = last.values.astype(float)
    profile = values.reshape(-1, values.shape[-1]).mean(axis=0)
    if np.isfinite(profile).sum() < _FEWEST:
        raise GridError(f"lines need at least {_FEWEST} valid pixels; there are {np.isfinite(profile).sum()}")
    peaks, widths, left_out = _candidates(profile, times, stand_out)
    found = np.full((3, *values.shape[:-1], 0), np.nan)
    if peaks.size:
        tops = [_placed(values, profile, int(p), w) for p, w in zip(peaks, widths, strict=True)]
        found = np.stack(tops, axis=-1)
        whole = _single(found, peaks)
        left_out += [f"the line at pixel {peak}, of which the top is no single one" for peak in peaks[~whole]]
        peaks, found = peaks[whole], found[..., whole]
    if peaks.size == 0:
        raise RangeError(
            f"no line stands {times:g} times above the scatter"
            + (f" and is whole: {'; '.join(left_out)}" if left_out else ": is this a line lamp?")
        )
    index = np.arange(values.shape[-1])
    dims = (*last.dims[:-1], "line")
    position = found[0]
    if axis == "pixel" and "pixel" in last.coords:
        position = np.interp(position, index, last.coords["pixel"].values.astype(float))
    result = xr.Dataset(
        {
            "position": (dims, position, {"units": "1", "long_name": "position in pixels"}),
            "height": (dims, found[1], {"units": last.attrs.get("units", "1")}),
            "fwhm": (dims, found[2], {"units": "1", "long_name": "full width at half maximum in pixels"}),
        },
        {name: last.coords[name] for name in last.dims[:-1] if name in last.coords},
    )
    if axis == "wavelength":
        approximate = np.interp(found[0], index, last.coords["wavelength"].values)
        result["approximate"] = (dims, approximate, {"units": "nm"})
    if left_out:
        result.attrs["comment"] = "left out: " + "; ".join(left_out)
    step = f"found {peaks.size} lines {times:g} times above the scatter, each by a Gaussian over its top"
    before = signal.attrs.get("history", "")
    return result.assign_attrs(history=f"{before}\n{step}" if before else step)


def _candidates(
    profile: Vector, times: float, stand_out: float
) -> tuple[NDArray[np.int64], Vector, list[str]]:
    """Pixels of the lines of one spectrum, their widths, and what was left out."""
    from scipy.signal import find_peaks, peak_widths

    index, valid = np.arange(profile.size), np.isfinite(profile)
    whole = np.interp(index, index[valid], profile[valid])
    scatter = 1.4826 * np.median(np.abs(np.diff(whole, 2))) / np.sqrt(6)
    least = max(times * scatter, 1e-6 * np.ptp(whole), np.finfo(float).tiny)
    peaks, known = find_peaks(whole, prominence=least, plateau_size=1)
    clear = known["prominences"] >= stand_out * (whole[peaks] - np.median(whole))
    peaks, flat = peaks[clear], known["plateau_sizes"][clear]
    widths = peak_widths(whole, peaks, 0.5)[0]
    kept, left_out = [], []
    for number, (peak, width) in enumerate(zip(peaks, widths, strict=True)):
        reach = int(np.ceil(width))
        if not valid[max(0, peak - reach) : peak + reach + 1].all():
            left_out.append(f"the line at pixel {peak}, which has pixels that are not valid (saturated?)")
        elif flat[number] >= _FLAT:
            left_out.append(
                f"the line at pixel {peak}, which has a flat top of {flat[number]} pixels (saturated?)"
            )
        else:
            kept.append(number)
    return peaks[kept], widths[kept], left_out


def _single(found: Vector, peaks: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which lines (line,) have a top of their own, not one that runs into the next."""
    place, width = (
        np.ma.masked_invalid(a).reshape(-1, peaks.size).mean(axis=0) for a in (found[0], found[2])
    )
    single = ~np.ma.getmaskarray(place)
    together = np.abs(np.diff(place.filled(np.nan))) < width.filled(np.nan)[1:] / 2
    single[1:] &= ~together
    single[:-1] &= ~together
    return single


def _placed(values: Vector, profile: Vector, peak: int, width: float) -> Vector:
    """Position, height and width (3, ...) of one line in each spectrum (..., pixel)."""
    reach = int(np.ceil(_REACH * width)) + 1
    start, stop = max(0, peak - reach), min(profile.size, peak + reach + 1)
    low = start + int(np.nanargmin(profile[start:peak]))
    high = peak + 1 + int(np.nanargmin(profile[peak + 1 : stop]))
    slope = (values[..., high] - values[..., low]) / (high - low)

    def above(pixel: NDArray[np.int64], spectra: Vector, rise: Vector) -> Vector:
        return np.asarray(spectra[..., pixel] - spectra[..., [low]] - rise[..., None] * (pixel - low))

    around = np.arange(low, high + 1)
    mean_slope = np.asarray((profile[high] - profile[low]) / (high - low))
    heights = above(around, profile, mean_slope)
    below = around[~(heights >= _TOP * heights[peak - low])]
    first = max(below[below < peak].max(initial=low) + 1, low)
    last = min(below[below > peak].min(initial=high) - 1, high)
    pixel = np.arange(min(first, peak - 1), max(last, peak + 1) + 1)
    x = (pixel - peak) / (pixel.size / 2)
    y = above(pixel, values, slope)
    weight = np.maximum(y, 0.0) ** 2
    logarithm = np.log(np.where(y > 0, y, 1.0))
    powers = x[:, None] ** np.arange(3)
    normal = np.einsum("...p,pi,pj->...ij", weight, powers, powers)
    right = np.einsum("...p,pi,...p->...i", weight, powers, logarithm)
    norm = np.maximum(weight.sum(axis=-1), np.finfo(float).tiny)
    inverse = np.linalg.pinv(normal / norm[..., None, None], hermitian=True)
    a, b, c = np.moveaxis(np.einsum("...ij,...j->...i", inverse, right / norm[..., None]), -1, 0)
    with np.errstate(all="ignore"):
        top = -b / (2 * c)
        sound = (c < 0) & (top >= x[0]) & (top <= x[-1])
        unit = pixel.size / 2
        result = np.stack(
            [
                peak + top * unit,
                np.exp(a - b**2 / (4 * c)),
                np.sqrt(8 * np.log(2)) * np.sqrt(-1 / (2 * c)) * unit,
            ]
        )
    return np.where(sound, result, np.nan)
