"""What puts every figure of light in doubt, and so stands above all advice."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.comparison.words import by_source, in_words, three_digits

_FAR = 1.5  # times, from which two that have no uncertainties do not show the same
_LOOK = (
    "look at attenuator, distance and certificate of the standard lamp, integration times and units, and "
    "measure again before a trial"
)


def doubts(tree: xr.DataTree, figures: xr.Dataset) -> list[str]:
    """Signs that the calibration of a bench as a whole is wrong.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    figures : xarray.Dataset
        By ``source``, with ``irradiance_at_part``, ``electrical_power`` and, if known, ``spot_size``.

    Returns
    -------
    list of str
        A sentence for each sign, none if there is none.

    Examples
    --------
    >>> light = {"irradiance_at_part": ("source", [7e6]), "electrical_power": ("source", [48.0])}
    >>> spot = {"spot_size": ("source", [8.0])}
    >>> doubts(reduced, xr.Dataset(light | spot, {"source": ["LED 405"]}))[0][:69]
    'In doubt: more light within its spot than power from LED 405 (176 W, '
    """
    return [*_radiometers(tree), *_powers(figures)]


def _radiometers(tree: xr.DataTree) -> list[str]:
    """Radiometers that show something else than the spectrometer."""
    said = []
    for node in tree["radiometer"].children.values() if "radiometer" in tree.children else ():
        data = node.to_dataset()
        if "ratio" not in data:
            continue
        ratio = float(data["ratio"])
        if not np.isfinite(ratio):
            continue
        agree = bool(data["agree"]) if "agree" in data else 1 / _FAR < ratio < _FAR
        if not agree:
            said.append(
                f"In doubt: under {data.attrs['source']}, {data.attrs['name']} shows {three_digits(ratio)} "
                f"times what the spectrometer shows: {_LOOK}."
            )
    return said


def _powers(figures: xr.Dataset) -> list[str]:
    """Sources that would send more light than they draw power.

    Within the width at half of its highest irradiance, a spot gets at least half of that everywhere.
    """
    if "spot_size" not in figures:
        return []
    irradiance, width, power = (
        by_source(figures[name]) for name in ("irradiance_at_part", "spot_size", "electrical_power")
    )
    least = irradiance / 2 * np.pi * (width / 2000) ** 2  # mm across
    more = [
        f"{name} ({in_words(least[i], 'W')}, and it draws {in_words(power[i], 'W')})"
        for i, name in enumerate(figures.coords["source"].values)
        if least[i] > power[i]
    ]
    return (
        [f"In doubt: more light within its spot than power from {'; '.join(more)}: {_LOOK}."] if more else []
    )
