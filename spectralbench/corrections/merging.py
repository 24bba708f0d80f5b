"""Exposures of several lengths, merged into one signal of a wider range."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.corrections.scans import average_scans
from spectralbench.errors import GridError, RangeError
from spectralbench.model import QUANTITIES, noted
from spectralbench.units import declares, in_unit

_ROUNDING = 1 / 12  # variance of a count that was rounded to a whole number


@declares(read_noise="1", electrons_per_count="1", tolerance="1")
def merge_exposures(
    frames: Sequence[xr.DataArray],
    read_noise: float | str = 0.0,
    electrons_per_count: float | str = 1.0,
    tolerance: float | str = 0.01,
) -> xr.Dataset:
    """Merge exposures of one source, taken with several integration times.

    Parameters
    ----------
    frames : sequence of xarray.DataArray ([spectrum,] ..., wavelength)
        Counts [1] without the dark, corrected for non-linearity, NaN where saturated; each
        with a coordinate ``integration_time`` [s]. Scans of one frame are averaged.
    read_noise : float or str
        Standard deviation of one scan without light [1].
    electrons_per_count : float or str
        Electrons behind one count [1], for the shot noise.
    tolerance : float or str
        How far two exposures may differ in the pixels that both see, relatively [1].

    Returns
    -------
    xarray.Dataset
        ``signal`` (..., wavelength) [s-1]; ``standard_uncertainty`` (..., wavelength) [s-1] of
        the noise that was stated; ``share`` (spectrum, ..., wavelength) [1], what each
        exposure gave to each pixel, from the shortest to the longest. NaN where every
        exposure is.

    Raises
    ------
    RangeError
        If a frame says no integration time above 0 s, there is none, a noise is negative, or
        exposures differ by more than `tolerance`, with three standard errors to spare.
    GridError, UnitsError
        If the frames are on different grids, or not in counts.

    Notes
    -----
    The mean weighted by the reciprocal variance: read noise, rounding (1/12) and shot noise,
    as EMVA Standard 1288 adds them. The shot noise is that of the rate of all exposures
    together: counts that are high by chance must not weigh less.

    Examples
    --------
    >>> def frame(count, time):
    ...     return xr.DataArray([count], {"wavelength": [365.0], "integration_time": time}, "wavelength")
    >>> merged = merge_exposures([frame(100.0, 0.01), frame(1000.0, 0.1), frame(np.nan, 1.0)])
    >>> round(merged.signal.item(), 6), merged.share.values[:, 0].round(3).tolist()
    (10000.0, [0.091, 0.909, 0.0])
    """
    noise, electrons, allowed = float(read_noise), float(electrons_per_count), float(tolerance)
    if not (noise >= 0 and electrons > 0 and allowed > 0):
        raise RangeError(
            f"a read noise of 0 or more and electrons per count and a tolerance above 0 are needed, not "
            f"{noise:g}, {electrons:g} and {allowed:g}"
        )
    exposures, scans = _in_order(frames)
    template = exposures[0].drop_vars("integration_time")
    values = np.stack([exposure.values for exposure in exposures])
    across = (-1, *[1] * template.ndim)
    times = np.array([float(exposure.coords["integration_time"]) for exposure in exposures])
    agreement = _agreement(values / times.reshape(across), times, allowed)
    usable = np.isfinite(values)
    long, many = times.reshape(across), scans.reshape(across)
    with np.errstate(invalid="ignore", divide="ignore"):  # pixels that no exposure sees
        pooled = np.where(usable, values * many, 0).sum(axis=0) / (usable * long * many).sum(axis=0)
        variance = noise**2 + _ROUNDING + np.maximum(pooled, 0) * long / electrons
        weights = np.where(usable, many * long**2 / variance, 0.0)
        total = weights.sum(axis=0)
        share = weights / total
        signal = np.where(total > 0, (share * np.where(usable, values / long, 0)).sum(axis=0), np.nan)
        uncertainty = np.where(total > 0, 1 / np.sqrt(total), np.nan)
    said = ", ".join(f"{time * 1e3:g} ms" for time in times)
    merged = template.copy(data=signal).rename("signal")
    merged.attrs.update(units="s-1", long_name=QUANTITIES["signal"].long_name)
    merged = noted(
        merged,
        f"merged exposures of {said}: mean weighted by reciprocal variance (read noise {noise:.3g} "
        f"counts, {electrons:.3g} electrons per count), divided by the integration time; {agreement}",
    )
    return xr.Dataset(
        {
            "signal": merged,
            "standard_uncertainty": (template.dims, uncertainty, {"units": "s-1"}),
            "share": (("spectrum", *template.dims), np.where(total > 0, share, 0.0), {"units": "1"}),
        },
        {"integration_time": ("spectrum", times, {"units": "s"})},
    )


def _in_order(frames: Sequence[xr.DataArray]) -> tuple[list[xr.DataArray], Any]:
    """Exposures of one shape, the shortest first, and how many scans each is the mean of."""
    if len(frames) == 0:
        raise RangeError("there is no exposure to merge")
    taken = []
    for number, frame in enumerate(frames, 1):
        frame = in_unit(frame, "1", f"frame {number}")
        scans = frame.sizes.get("spectrum", 1)
        mean = average_scans(frame)[0]
        time = mean.coords.get("integration_time")
        if time is None or time.ndim or not float(time) > 0:
            raise RangeError(f"frame {number} has no one coordinate integration_time [s] above 0")
        odd = [name for name in mean.coords if name not in (*mean.dims, "integration_time")]
        taken.append((float(time), scans, mean.drop_vars(odd)))
    taken.sort(key=lambda one: one[0])
    try:
        aligned = xr.align(*(mean for _, _, mean in taken), join="exact", copy=False)
    except xr.AlignmentError as error:
        raise GridError(f"the exposures are not on one grid: {error}") from error
    times = [mean.coords["integration_time"] for mean in aligned]
    spread = xr.broadcast(*(mean.drop_vars("integration_time") for mean in aligned))
    shaped = [
        mean.transpose(*spread[0].dims).assign_coords(integration_time=time)
        for mean, time in zip(spread, times, strict=True)
    ]
    return shaped, np.array([scans for _, scans, _ in taken], dtype=float)


def _agreement(rates: Any, times: Any, allowed: float) -> str:
    """Say how well each exposure agrees with the next longer one, or refuse to merge them."""
    worst, unseen = 0.0, 0
    for k in range(times.size - 1):
        both = np.isfinite(rates[k]) & np.isfinite(rates[k + 1])
        shorter, longer = rates[k][both], rates[k + 1][both]
        level, apart = (shorter + longer) / 2, longer - shorter
        norm = (level**2).sum()
        if norm == 0:
            unseen += 1
            continue
        slope = (apart * level).sum() / norm
        error = np.sqrt(((level * (apart - slope * level)) ** 2).sum()) / norm
        if error > allowed:
            unseen += 1
            continue
        if abs(slope) > allowed + 3 * error:
            raise RangeError(
                f"the exposure of {times[k + 1] * 1e3:g} ms gives {abs(slope):.1%} "
                f"{'more' if slope > 0 else 'less'} signal than that of {times[k] * 1e3:g} ms in the pixels "
                f"that both see, beyond {allowed:.1%}: correct the non-linearity first, and check the darks, "
                "the integration times, and that the source was steady"
            )
        worst = max(worst, abs(slope))
    said = [f"they agree within {worst * 100:.1f} %"] if unseen < times.size - 1 else []
    said += [f"{unseen} of {times.size - 1} overlaps were too faint to tell"] if unseen else []
    return ", ".join(said) or "there was only one"
