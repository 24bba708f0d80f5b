"""Whether the light of each frame stood still over its scans, and within what the converter can give."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.corrections import NoiseModel
from spectralbench.corrections.frame_words import per_cent
from spectralbench.corrections.pixel_faults import clipped, in_words
from spectralbench.corrections.scan_levels import levels_of

TREND = 0.02
"""Change over the scans of a frame from which a caution is due (common practice, no source)."""

_TIMES = 3.0  # half of its 95 % interval that a trend has to be, for a bench has many frames


def unsteady(file: str, scans: xr.DataArray, dark: xr.DataArray, model: NoiseModel | None) -> list[str]:
    """What is to be said of a frame whose light rose or fell over its scans.

    Parameters
    ----------
    file : str
        Its name.
    scans : xarray.DataArray ([spectrum,] wavelength)
        Counts [1], in the order of the file; NaN where not valid.
    dark : xarray.DataArray (wavelength,)
        Their dark [1].
    model : NoiseModel or None
        The noise of the detector.

    Returns
    -------
    list of str
        One sentence, or none.

    Notes
    -----
    The change is that of a least-squares line through the totals of the scans (JCGM 100:2008, H.3).

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 365.0]}
    >>> light = xr.DataArray(np.linspace([70.0, 70.0], [90.0, 90.0], 6), grid, ("spectrum", "wavelength"))
    >>> unsteady("lamp.csv", light, xr.DataArray([0.0, 0.0], grid, "wavelength"), None)[0][:59]
    'lamp.csv: its light rose by 25 % from its first scan to its'
    """
    if scans.sizes.get("spectrum", 1) < 3:
        return []
    values = scans.transpose("spectrum", "wavelength").values
    light = values - dark.values
    common = np.isfinite(light).all(axis=0)
    if not np.median(light[:, common].sum(axis=1)) > 0:
        return []
    levels = levels_of(light[:, common], values[:, common].mean(axis=0), model)
    if not abs(levels.drift) > max(TREND, _TIMES * levels.drift_limit):
        return []
    rose = levels.drift > 0
    change = f"{'rose' if rose else 'fell'} by {per_cent(abs(levels.drift))}"
    return [
        f"{file}: its light {change} from its first scan to its last"
        f"{', as of a lamp that was still warming up' if rose else ''}. Their mean stands for no "
        "moment of it: wait until it is steady, and take the frame again"
    ]


def flat(file: str, scans: xr.DataArray, model: NoiseModel | None, stated: float) -> list[str]:
    """What is to be said of a frame that stands at one count where its light is strongest.

    Parameters
    ----------
    file : str
        Its name.
    scans : xarray.DataArray ([spectrum,] wavelength)
        Raw counts [1]; NaN where not valid.
    model : NoiseModel or None
        The noise of the detector; without it, nothing is evident.
    stated : float
        Counts from which a pixel is taken to be saturated [1].

    Returns
    -------
    list of str
        One sentence, or none.

    Examples
    --------
    >>> grid = {"wavelength": np.arange(360.0, 370.0)}
    >>> light = np.minimum(np.arange(10.0) * 10_000 + [[-90.0], [80.0], [10.0]], 60_000)
    >>> counts = xr.DataArray(light, grid, ("spectrum", "wavelength"))
    >>> flat("led.csv", counts, NoiseModel(10_000.0, 0.0), 62_258.0)[0][:57]
    'led.csv: 3 pixels at 367.0–369.0 nm stand at 60000 counts'
    """
    along = scans if "spectrum" in scans.dims else scans.expand_dims("spectrum")
    values = along.transpose("spectrum", "wavelength").values
    marked = clipped(values, model)
    if not marked.any():
        return []
    where, top = in_words(scans.coords["wavelength"].values, marked), values[0, marked][0]
    return [
        f"{file}: {where} stand at {top:g} counts in every scan, where noise would move them. "
        f"They are clipped below the saturation that is stated, {stated:.0f} counts, and more light than "
        "that arrived: take a shorter exposure, or state a lower saturation, so that they do not count"
    ]
