"""What arrives while somebody turns controls: the light of a bench, quickly, as a comparison has it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.benches.adjusting import by_distance, by_hours
from spectralbench.benches.adjustments import Adjustments, bench_values
from spectralbench.benches.at_bond import least_lit, requirement_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.passing import bonded
from spectralbench.benches.stacking import estimate
from spectralbench.benches.strips import strips_of
from spectralbench.benches.together import candidates
from spectralbench.comparison import in_words
from spectralbench.payload import Curves
from spectralbench.units import for_people
from spectralbench.weightings import PHOTONS, apply, weights

Rows = NDArray[np.float64]

_SPECTRAL = for_people("W m-2 nm-1")
_ACROSS = {"name": "wavelength", "units": "nm"}
_NOTE = "Best estimates, quick; with draws, the table below has their means and intervals."


class Turning:
    """The strips of a reduced bench, as its controls are turned.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.reduce_bench`; of draws, their means.

    Examples
    --------
    >>> from spectralbench.payload import unpack
    >>> header, arrays = unpack(Turning(reduced).absorbed({"level": {"LED 405": 0.5}}))
    >>> header["figures"]["LED 405"]
    '441 mW/cm² in 320–430 nm · 1345 µmol/m²/s absorbed'
    """

    def __init__(self, tree: xr.DataTree) -> None:
        self.tree, self.manifest = tree, manifest_of(tree)
        self.names = candidates(self.manifest)
        self.needed = requirement_of(self.manifest)
        self._bench = bench_values(self.manifest)
        strips = strips_of(tree)
        self.grid: Rows = strips.coords["wavelength"].values
        alone = strips["sent"].isel(source=slice(len(self.manifest.source)))
        self._alone = alone.transpose("source", "wavelength").values.astype(float)
        self._taken = strips["taken"].transpose("initiator", "wavelength").values.astype(float)
        self._initiators = [str(name) for name in strips.coords["initiator"].values]
        self._parts = strips["passed"].transpose("part", "wavelength").values.astype(float)
        parts = tree["parts"].to_dataset()
        self._measured = estimate(parts.get("measured_transmittance", parts["transmittance"]))
        self._lit = least_lit(tree, self.manifest).fillna(1.0).values
        low, high = self.needed.low, self.needed.high
        self._in_band = weights(self.grid, low, high)[:, None]
        self._photons = weights(self.grid, curve=PHOTONS)[:, None]
        self._away = lru_cache(maxsize=512)(self._away_at)
        self._aged = lru_cache(maxsize=512)(self._aged_at)
        self._part = lru_cache(maxsize=64)(self._part_at)

    def _away_at(self, source: int, distance: float) -> float:
        one = self.manifest.source[source]
        here = by_distance(one, self._bench["distance"][one.name] or 0.0)
        return float(estimate(by_distance(one, distance) / here))

    def _aged_at(self, source: int, hours: float) -> float:
        return float(estimate(by_hours(self.tree, self.manifest.source[source], hours)))

    def _part_at(self, part: int, thickness: float) -> Rows:
        light = self._measured.isel(part=part, drop=True)
        return bonded(light, self.manifest, part, thickness)[0].values.astype(float)

    def sent(self, changes: Adjustments) -> bytes:
        """What each candidate sends to the part, as a payload."""
        curves, (units, factor) = Curves("strip"), _SPECTRAL
        for name, row in zip(self.names, self._sent_rows(changes), strict=True):
            curves.add({"label": name, "units": units, "role": "source"}, _ACROSS, self.grid, row * factor)
        return self._packed(curves)

    def passed(self, changes: Adjustments) -> bytes:
        """What each part passes and, if there are several, all of them, as a payload."""
        curves, rows = Curves("strip"), self._passed_rows(changes)
        measured = self._measured.transpose("part", "wavelength").values
        for part, row, light in zip(self.manifest.part, rows, measured, strict=True):
            told = np.where((row == 0) & (light != 0), np.nan, row)  # what nobody knows passes nothing
            curves.add({"label": part.name, "units": "%", "role": "part"}, _ACROSS, self.grid, 100 * told)
        if len(rows) > 1:
            all_parts = 100 * np.prod(rows, axis=0)
            curves.add({"label": "all parts", "units": "%", "role": "all"}, _ACROSS, self.grid, all_parts)
        return self._packed(curves)

    def absorbed(self, changes: Adjustments) -> bytes:
        """What initiators can absorb, and do absorb of each candidate, as a payload with figures in words."""
        curves, (units, factor) = Curves("strip"), _SPECTRAL
        for name, row in zip(self._initiators, self._taken, strict=True):
            curves.add({"label": name, "units": "%", "role": "initiator"}, _ACROSS, self.grid, 100 * row)
        at_bond = self._sent_rows(changes) * np.prod(self._passed_rows(changes), axis=0)
        share = self._taken.sum(axis=0)
        absorbed = np.where(share != 0, at_bond * share, 0.0)  # nothing is taken where nobody knows the light
        for name, row in zip(self.names, absorbed, strict=True):
            curves.add({"label": name, "units": units, "role": "source"}, _ACROSS, self.grid, row * factor)
        in_band, photons = apply(at_bond, self._in_band)[:, 0], apply(absorbed, self._photons)[:, 0]
        figures = {
            name: self._in_words(light * lit, count * lit)
            for name, light, count, lit in zip(self.names, in_band, photons, self._lit, strict=True)
        }
        return self._packed(curves, figures=figures, note=_NOTE)

    def _packed(self, curves: Curves, **more: Any) -> bytes:
        band, named = [self.needed.low, self.needed.high], self.needed.data_sheet_wavelength
        return curves.packed(records=[], left_out=0, band=band, data_sheet=named, **more)

    def _in_words(self, in_band: float, photons: float) -> str:
        band = f"{self.needed.low:g}–{self.needed.high:g} nm"
        return f"{in_words(in_band, 'W m-2')} in {band} · {in_words(photons, 'umol m-2 s-1')} absorbed"

    def _sent_rows(self, changes: Adjustments) -> Rows:
        """Light of each candidate [W m-2 nm-1] (source, wavelength)."""
        rows, full = [], {}
        for number, source in enumerate(self.manifest.source):
            name, row = source.name, self._alone[number]
            if name in changes.get("distance", {}):
                row = row * self._away(number, changes["distance"][name])
            if name in changes.get("hours", {}):
                row = row * self._aged(number, changes["hours"][name])
            full[name] = row / source.setting.value
            rows.append(full[name] * changes.get("level", {}).get(name, source.setting.value))
        heads = [
            sum(full[head.source] * head.setting.value for head in group.heads)
            for group in self.manifest.together
        ]
        return np.stack([*rows, *heads])

    def _passed_rows(self, changes: Adjustments) -> Rows:
        """What each part passes [1] (part, wavelength)."""
        wanted = changes.get("thickness", {})
        rows = [
            self._part(i, wanted[part.name]) if part.name in wanted else self._parts[i]
            for i, part in enumerate(self.manifest.part)
        ]
        return np.stack(rows)
