"""From counts to signals, through every correction that the manifest states, in their order."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import xarray as xr

from spectralbench.benches.frames import Frames
from spectralbench.benches.quantities import KeyedError
from spectralbench.benches.schema import Manifest
from spectralbench.corrections import (
    correct_bandpass,
    correct_linearity,
    correct_stray_light,
    merge_exposures,
    signal_from_counts,
    stray_light_matrix,
)
from spectralbench.errors import GridError, RangeError, UnitsError


def corrected_signals(
    frames: Frames, counts: dict[str, xr.DataArray], manifest: Manifest
) -> dict[str, xr.DataArray]:
    """Correct every frame: non-linearity, integration times, stray light, bandpass.

    Parameters
    ----------
    frames : Frames
        Best estimates; from those of the lines comes the stray-light matrix.
    counts : dict of xarray.DataArray ([draw,] wavelength)
        Counts without the dark [1], by node.
    manifest : Manifest
        What is to be corrected: ``instrument.linearity``, ``line_spread`` with
        ``instrument.in_band``, ``instrument.bandpass`` with its ``bandwidth``.

    Returns
    -------
    dict of xarray.DataArray ([draw,] wavelength)
        Signals [s-1], by node; their history names what was done.

    Raises
    ------
    KeyedError
        If a correction refuses: counts above the range of the polynomial, a line that is none. It
        names the key that asks for the correction.

    Examples
    --------
    >>> from spectralbench.benches.budget import Budget
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> from spectralbench.benches.frames import best_estimates, drawn
    >>> tree = open_bench(demo)
    >>> manifest, frames = manifest_of(tree), best_estimates(tree, manifest_of(tree))
    >>> signals = corrected_signals(frames, drawn(frames, Budget(manifest)), manifest)
    >>> signals["/part/cover/sample"].units
    's-1'
    """
    instrument = manifest.instrument
    matrix = _matrix(frames, manifest)
    linear = {
        node: _linear(frame, manifest)
        for node, frame in counts.items()
        if not node.startswith("/line_spread/")
    }
    exposures = {
        f"/source/{source.name}/frame": (
            f"source.{number}.exposures",
            [linear.pop(f"/source/{source.name}/exposure_{i}") for i in range(1, len(source.exposures) + 1)],
        )
        for number, source in enumerate(manifest.source, 1)
        if source.exposures
    }
    result = {}
    for node, frame in linear.items():
        signal = signal_from_counts(frame)
        if node in exposures:
            key, others = exposures[node]
            with _asked_for(key, "frames of one light, with a noise to weigh them by"):
                signal = _merged([frame, *others], frames)
        if matrix is not None:
            with _asked_for("line_spread", "lines on the pixels of the frames"):
                signal = correct_stray_light(signal, matrix)
        if instrument.bandpass is not None:
            with _asked_for(
                "instrument.bandpass", "a bandwidth far below the range of the pixels, or no bandpass"
            ):
                signal = correct_bandpass(signal, instrument.bandwidth.value, instrument.bandpass)
        result[node] = signal.transpose(..., "wavelength")
    return result


@contextmanager
def _asked_for(key: str, expected: str) -> Iterator[None]:
    """Name the key that asks for a correction, if the correction refuses."""
    try:
        yield
    except (GridError, RangeError, UnitsError) as error:
        raise KeyedError(str(error), key, expected) from error


def _linear(frame: xr.DataArray, manifest: Manifest) -> xr.DataArray:
    """A frame straightened, if the manifest says how."""
    if manifest.instrument.linearity is None:
        return frame
    with _asked_for("instrument.linearity", "a polynomial that holds for the counts of all frames"):
        return correct_linearity(frame, manifest.instrument.linearity)


def _merged(exposures: list[xr.DataArray], frames: Frames) -> xr.DataArray:
    """One signal from several integration times, weighted by the noise of the bench's own scans."""
    if frames.noise is None or not frames.noise.slope > 0:
        raise RangeError(
            "exposures without a noise model to weigh them by: take several scans of each, or state "
            "read_noise and electrons_per_count"
        )
    offset = np.median([dark.counts.median() for dark in frames.darks.values()])
    read_noise = float(np.sqrt(frames.noise.variance(offset)))
    return merge_exposures(exposures, read_noise, 1 / frames.noise.slope)["signal"]


def _matrix(frames: Frames, manifest: Manifest) -> xr.DataArray | None:
    """The stray-light matrix, from frames of single lines."""
    if not manifest.line_spread or manifest.instrument.in_band is None:
        return None
    numbers = range(1, len(manifest.line_spread) + 1)
    lines = [_linear(frames.lights[f"/line_spread/{i}"].counts, manifest) for i in numbers]
    excitation = [line.wavelength.value for line in manifest.line_spread]
    for number, line in zip(numbers, lines, strict=True):
        if np.isnan(line.values).any():
            raise KeyedError(
                "a line with saturated pixels",
                f"line_spread.{number}.frame",
                "all of it below saturation: take it with a shorter integration time",
            )
    plain = [line.reset_coords(drop=True) for line in lines]
    spread = xr.concat(plain, xr.DataArray(excitation, dims="excitation", name="excitation"))
    with _asked_for(
        "line_spread", "frames of single lines, each at its wavelength and as wide as in_band says"
    ):
        return stray_light_matrix(spread, manifest.instrument.in_band)
