"""Whether a frame may be used: each scan against full scale, against the others, against the noise."""

from __future__ import annotations

import json
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.corrections.dark import subtract_dark
from spectralbench.corrections.frame_words import (
    CARE,
    GOOD,
    LIMITS,
    NOT,
    Finding,
    per_cent,
    sentence,
)
from spectralbench.corrections.noise import NoiseModel, fit_noise, own_variance
from spectralbench.corrections.pixel_faults import dead, in_words, stuck
from spectralbench.corrections.responsivity import running_median
from spectralbench.corrections.saturation import mask_saturated
from spectralbench.corrections.scan_levels import Levels, levels_of
from spectralbench.corrections.scans import average_scans
from spectralbench.errors import RangeError
from spectralbench.units import declares

Vector = NDArray[np.float64]

_DARKEST = 5.0  # per cent of the pixels, which stand for the dark where none is given


class _Frame(NamedTuple):
    """A frame as it is judged."""

    grid: Vector
    counts: Vector  # (spectrum, wavelength)
    valid: Vector  # the same; NaN where saturated, or beside such a pixel
    light: Vector  # the same without the dark
    saturated: NDArray[np.bool_]  # (spectrum, wavelength)
    full_scale: float
    has_dark: bool


@declares(counts="1", full_scale="1", level="1", dark="1")
def check_frame(
    counts: xr.DataArray,
    full_scale: float | str,
    level: float | str = 0.95,
    dark: xr.DataArray | None = None,
    noise: NoiseModel | None = None,
) -> xr.Dataset:
    """Judge whether a frame may be used, and each of its scans.

    Parameters
    ----------
    counts : xarray.DataArray ([spectrum,] wavelength)
        Raw counts of repeated scans [1], the dark included.
    full_scale : float or str
        Highest count that the converter can give [1].
    level : float or str
        Share of the full scale from which a pixel counts as saturated [1].
    dark : xarray.DataArray ([spectrum,] wavelength), optional
        Dark frame of the same integration time and temperature [1]. Without it, the darkest twentieth
        of the pixels stands for it, so that shares of the light come out too large rather than too small.
    noise : NoiseModel, optional
        What is known of the noise of one scan. Without it, it is fitted to these scans, and says
        nothing about whether they scatter more than they should.

    Returns
    -------
    xarray.Dataset
        By ``spectrum``, counted from 1: ``highest`` [1] and ``highest_share`` of the full scale [1],
        ``saturated`` (spectrum, wavelength), ``saturated_pixels`` and where, ``level_difference`` from the
        median of all scans [1], ``times_noise``, the same against what noise explains, ``verdict`` and
        ``reason``. By ``criterion``: ``found``, ``limit`` and whether that is ``at_most`` allowed,
        ``standing``, where the limit comes from, ``judged`` and ``reason_of`` it. By ``wavelength``: ``mean``
        of the scans, its ``scatter`` and ``faulty`` pixels. ``drift`` over the series, ``level_scatter`` and
        ``noise_level`` [1].
        ``attrs["verdict"]`` is ``"may be used"``, ``"with care"`` or ``"not"``, ``attrs["reasons"]`` (JSON)
        says why and ``attrs["words"]`` both.

    Raises
    ------
    RangeError
        If there is no valid count, a count is above the full scale, or the dark is none of this frame.
    GridError
        If there are other dimensions, or the dark is on another grid.

    Notes
    -----
    Levels are totals over the pixels that are valid in all scans, without the dark. Limits are common
    practice, no source, where ``standing`` says so; the rest is JCGM 100:2008, 4.2.3 and H.3, and
    Iglewicz and Hoaglin (1993). A frame without light is judged as a dark one: by counts.

    Examples
    --------
    >>> grid = {"wavelength": np.arange(360.0, 400.0)}
    >>> light = 9000.0 * np.exp(-(((grid["wavelength"] - 380) / 8) ** 2))
    >>> noise = np.random.default_rng(1).standard_normal((6, 40)) * 10
    >>> flashes = np.array([[1.0], [1.0], [0.8], [1.0], [1.0], [1.0]])
    >>> scans = xr.DataArray(1000 + flashes * light + noise, grid, ("spectrum", "wavelength"))
    >>> dark = xr.DataArray(np.full(40, 1000.0), grid, "wavelength")
    >>> check_frame(scans, full_scale=65535, dark=dark).attrs["words"]
    'with care: scan 3 lies 20 % below the median of all; noise explains 0.045 %'
    """
    counts = _in_scans(counts)
    frame = _frame_of(counts, float(full_scale), float(level), dark)
    model = _noise(frame, noise)
    is_lit = _is_lit(frame)
    levels = _levels(frame, model, is_lit)
    scans = [_scan(frame, levels, i, is_lit) for i in range(len(frame.counts))]
    findings = _findings(frame, levels, model, noise, is_lit)
    result = _dataset(counts, frame, levels, scans, findings)
    return result.assign(faulty=("wavelength", _faulty(frame, model)))


def _in_scans(counts: xr.DataArray) -> xr.DataArray:
    """Scans (spectrum, wavelength) that count from 1."""
    if "spectrum" not in counts.dims:
        counts = counts.expand_dims("spectrum")
    extra = [str(name) for name in counts.dims if name not in ("spectrum", "wavelength")]
    if extra or "wavelength" not in counts.dims:
        raise RangeError(
            f"a frame has the dimensions spectrum and wavelength, not {', '.join(map(str, counts.dims))}"
        )
    return counts.transpose("spectrum", "wavelength").assign_coords(
        spectrum=np.arange(1, counts.sizes["spectrum"] + 1)
    )


def _frame_of(counts: xr.DataArray, full_scale: float, level: float, dark: xr.DataArray | None) -> _Frame:
    if not np.isfinite(counts.values).any():
        raise RangeError("a frame without a valid count")
    valid = mask_saturated(counts, full_scale, level)
    if dark is not None:
        light = subtract_dark(valid, dark).transpose("spectrum", "wavelength").values
    else:
        mean = np.nanmean(np.where(np.isfinite(counts.values), counts.values, np.nan), axis=0)
        light = valid.values - np.nanpercentile(mean, _DARKEST)
    grid = counts.coords["wavelength"].values.astype(float)
    saturated = counts.values >= level * full_scale
    return _Frame(grid, counts.values, valid.values, light, saturated, full_scale, dark is not None)


def _common(frame: _Frame) -> NDArray[np.bool_]:
    """Pixels that are valid in every scan."""
    return np.asarray(np.isfinite(frame.light).all(axis=0))


def _noise(frame: _Frame, stated: NoiseModel | None) -> NoiseModel | None:
    if stated is not None:
        return stated
    if len(frame.counts) < 3 or _common(frame).sum() < 2:
        return None
    return fit_noise([xr.DataArray(frame.valid, dims=("spectrum", "wavelength"))])


def _is_lit(frame: _Frame) -> bool:
    """Whether there is light in the frame; hot pixels are none."""
    light = frame.light[:, _common(frame)]
    if not np.median(light.sum(axis=1)) > 0:
        return False
    least = LIMITS["light"].value * frame.full_scale
    return bool(frame.saturated.any() or running_median(light.mean(axis=0)).max() > least)


def _levels(frame: _Frame, model: NoiseModel | None, is_lit: bool) -> Levels:
    """Levels of light; of a frame without any, mean counts as shares of the full scale."""
    common = _common(frame)
    count = len(frame.counts)
    if not common.any():
        nothing = np.full(count, np.nan)
        return Levels(nothing, np.nan, np.zeros(count, dtype=bool), np.nan, np.nan, np.nan)
    counts = frame.valid[:, common]
    if is_lit:
        return levels_of(frame.light[:, common], counts.mean(axis=0), model)
    shift = counts - counts.mean() + frame.full_scale  # so that differences are shares of the full scale
    return levels_of(shift, counts.mean(axis=0), model)


def _scan(frame: _Frame, levels: Levels, i: int, is_lit: bool) -> Finding:
    """Verdict of one scan."""
    if frame.saturated[i].any():
        return Finding(NOT, f"saturated: {in_words(frame.grid, np.asarray(frame.saturated[i]))}")
    difference = float(levels.difference[i])
    if levels.odd[i] and abs(difference) > LIMITS["level" if is_lit else "dark level"].value:
        what = "the median of all" + ("" if is_lit else ", as a share of the full scale")
        where = f"lies {per_cent(abs(difference))} {'above' if difference > 0 else 'below'} {what}"
        by_noise = f"; noise explains {per_cent(levels.noise)}" if np.isfinite(levels.noise) else ""
        return Finding(CARE, where + by_noise)
    return Finding(GOOD, "")


def _findings(
    frame: _Frame, levels: Levels, model: NoiseModel | None, stated: NoiseModel | None, is_lit: bool
) -> dict[str, tuple[float, Finding]]:
    """What is found of the whole frame, by the criterion, and what it means."""
    count = len(frame.counts)
    used = float(np.nanmax(frame.counts)) / frame.full_scale
    hit = frame.saturated.any(axis=1)
    found: dict[str, tuple[float, Finding]] = {}
    where = in_words(frame.grid, np.asarray(frame.saturated.any(axis=0)))
    if hit.all():
        every = f"in each of {count} scans" if count > 1 else "in its only scan"
        saturated = Finding(NOT, f"saturated {every}: {where}; take a shorter integration time")
    elif hit.any():
        numbers = _numbers(np.flatnonzero(hit))
        saturated = Finding(NOT, f"saturated in {numbers}: {where}; leave out what has a cause, or repeat")
    else:
        saturated = Finding(GOOD, "")
    found["saturated"] = (float(frame.saturated.any(axis=0).sum()), saturated)
    if is_lit:
        said = f"only {per_cent(used)} of the full scale is used; a longer integration time shows more"
        weak = used < LIMITS["highest"].value
        found["highest"] = (used, Finding(CARE, said) if weak else Finding(GOOD, ""))
    elif frame.has_dark:
        found["light"] = (0.0, Finding(CARE, "hardly any light above the dark"))
    odd = [
        (i, one)
        for i in np.flatnonzero(levels.odd)
        if (one := _scan(frame, levels, int(i), is_lit)).verdict == CARE
    ]
    key = "level" if is_lit else "dark level"
    most = float(np.abs(levels.difference).max())
    words = [f"scan {i + 1} {one.reason}" for i, one in odd[:2]]
    if len(odd) > 2:
        words.append(f"{len(odd) - 2} more scans lie beside the others")
    found[key] = (most, Finding(CARE, "; ".join(words)) if odd else Finding(GOOD, ""))
    if count < LIMITS["scans"].value:
        many = "one scan" if count == 1 else "two scans"
        few = Finding(CARE, f"{many}: how far they scatter is hardly known; take three or more")
        found["scans"] = (count, few)
    else:
        found["scans"] = (count, Finding(GOOD, ""))
    found["scatter"] = (levels.scatter, _scattered(levels, is_lit))
    drifts = abs(levels.drift) > max(LIMITS["drift"].value, levels.drift_limit)
    change = f"the light {'rises' if levels.drift > 0 else 'falls'} by {per_cent(abs(levels.drift))}"
    said = f"{change} over the series (± {per_cent(levels.drift_limit)})"
    found["drift"] = (levels.drift, Finding(CARE, said) if drifts else Finding(GOOD, ""))
    if stated is not None and count > 2 and _common(frame).any():
        found["noise"] = _against_noise(frame, stated)
    found["pixels"] = _pixels(frame, model)
    return found


def _scattered(levels: Levels, is_lit: bool) -> Finding:
    if not is_lit or not levels.scatter > LIMITS["scatter"].value:
        return Finding(GOOD, "")
    if levels.odd.any():
        return Finding(CARE, "")  # the odd scans are told already, and are most of it
    by_noise = f", where noise explains {per_cent(levels.noise)}" if np.isfinite(levels.noise) else ""
    return Finding(CARE, f"the light scatters by {per_cent(levels.scatter)} from scan to scan{by_noise}")


def _against_noise(frame: _Frame, stated: NoiseModel) -> tuple[float, Finding]:
    """Scatter of the pixels against what is known of the detector, as a ratio of standard deviations."""
    from scipy.special import gammaincinv

    freedom = len(frame.counts) - 1
    common = _common(frame)
    scans = frame.valid[:, common]
    middle = 2 * float(gammaincinv(freedom / 2, 0.5)) / freedom  # median of such a variance
    shares = own_variance(scans) / stated.variance(scans.mean(axis=0))
    ratio = float(np.sqrt(np.median(shares) / middle))
    if ratio <= LIMITS["noise"].value:
        return ratio, Finding(GOOD, "")
    return ratio, Finding(CARE, f"pixels scatter {ratio:.2g} times as far as the detector's noise")


def _pixels(frame: _Frame, model: NoiseModel | None) -> tuple[float, Finding]:
    faulty = _faulty(frame, model)
    if not faulty.any():
        return 0.0, Finding(GOOD, "")
    return float(faulty.sum()), Finding(CARE, f"dead or stuck: {in_words(frame.grid, faulty)}")


def _faulty(frame: _Frame, model: NoiseModel | None) -> NDArray[np.bool_]:
    found = stuck(frame.valid, model)
    if frame.has_dark and model is not None:
        noise = np.sqrt(model.variance(frame.valid.mean(axis=0)) / len(frame.counts))
        found = found | dead(frame.light.mean(axis=0), noise)
    return found


def _numbers(places: NDArray[np.intp]) -> str:
    numbers = [str(i + 1) for i in places]
    if len(numbers) == 1:
        return f"scan {numbers[0]}"
    return f"scans {', '.join(numbers[:-1])} and {numbers[-1]}"


def _dataset(
    counts: xr.DataArray,
    frame: _Frame,
    levels: Levels,
    scans: list[Finding],
    findings: dict[str, tuple[float, Finding]],
) -> xr.Dataset:
    names = list(findings)
    mean, scatter = average_scans(xr.DataArray(frame.valid, counts.coords, counts.dims, attrs=counts.attrs))
    worst = max((one.verdict for _, one in findings.values()), key=[GOOD, CARE, NOT].index)
    reasons = [
        one.reason for v in (NOT, CARE) for _, one in findings.values() if one.verdict == v and one.reason
    ]
    one, along = {"units": "1"}, "spectrum"
    noisy = np.abs(levels.difference) / levels.noise
    result = xr.Dataset(
        {
            "highest": (along, np.nanmax(frame.counts, axis=1), one),
            "highest_share": (along, np.nanmax(frame.counts, axis=1) / frame.full_scale, one),
            "saturated": ((along, "wavelength"), frame.saturated),
            "saturated_pixels": (along, frame.saturated.sum(axis=1), one),
            "saturated_at": (along, [in_words(frame.grid, row) for row in frame.saturated]),
            "level_difference": (along, levels.difference, one),
            "times_noise": (along, noisy, one),
            "verdict": (along, [scan.verdict for scan in scans]),
            "reason": (along, [scan.reason for scan in scans]),
            "mean": mean.drop_vars([name for name in mean.coords if name != "wavelength"]),
            "scatter": scatter.drop_vars([name for name in mean.coords if name != "wavelength"]),
            "found": ("criterion", [found for found, _ in findings.values()], one),
            "found_in_words": ("criterion", [LIMITS[n].words(found) for n, (found, _) in findings.items()]),
            "limit": ("criterion", [LIMITS[name].value for name in names], one),
            "at_most": ("criterion", [LIMITS[name].at_most for name in names]),
            "limit_in_words": ("criterion", [LIMITS[name].in_words() for name in names]),
            "standing": ("criterion", [LIMITS[name].standing for name in names]),
            "judged": ("criterion", [judged.verdict for _, judged in findings.values()]),
            "reason_of": ("criterion", [judged.reason for _, judged in findings.values()]),
            "drift": ((), levels.drift, one),
            "drift_limit": ((), levels.drift_limit, one),
            "level_scatter": ((), levels.scatter, one),
            "noise_level": ((), levels.noise, one),
        },
        {
            along: counts.coords[along].values,
            "wavelength": counts.coords["wavelength"],
            "criterion": [LIMITS[name].title for name in names],
        },
    )
    result.attrs = {
        "verdict": worst,
        "reasons": json.dumps(reasons, ensure_ascii=False),
        "words": sentence(worst, reasons),
    }
    return result
