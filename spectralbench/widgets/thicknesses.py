"""Parts in other thicknesses: as measured, dry, and as bonded, with what the prediction does not know."""

from __future__ import annotations

import json
from collections.abc import Mapping
from os import PathLike
from typing import Any, Protocol

import numpy as np
import xarray as xr

from spectralbench import optics
from spectralbench.benches import reduce_bench
from spectralbench.benches.adjusting import with_adjustments
from spectralbench.benches.at_bond import requirement_of
from spectralbench.benches.folder import manifest_of, open_bench
from spectralbench.benches.passing import FLOOR, unknown
from spectralbench.benches.reducing import is_reduced
from spectralbench.draws import summarize
from spectralbench.errors import RangeError
from spectralbench.units import in_unit, measured
from spectralbench.widgets.controls import controls_of

_HIGHEST = 3.0  # times the thickness on the bench, to which a control reaches
_STEPS = 200


class Parts(Protocol):
    """Parts that may have other thicknesses."""

    title: str
    names: list[str]
    controls: list[dict[str, Any]]
    wetted: bool  # whether what is behind the last part is known
    marks: dict[str, Any]  # what is marked along the wavelength

    def at(self, thickness: Mapping[str, float]) -> tuple[xr.Dataset, list[str]]:
        """Transmittances with thicknesses that are otherwise [mm], by name; and what is to be said."""


class OfBench:
    """The parts of a bench.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        Opened, reduced, or the folder.
    draws, seed : int
        Of the reduction, where the bench is not reduced yet.

    Examples
    --------
    >>> parts = OfBench(reduced)
    >>> found, said = parts.at({"cover": 1.0})
    >>> list(found.data_vars), bool(found["bonded"].sel(wavelength=300, method="nearest").isnull())
    (['measured', 'dry', 'bonded'], True)
    """

    def __init__(self, bench: xr.DataTree | str | PathLike[str], draws: int = 0, seed: int = 1) -> None:
        opened = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
        self._tree = reduce_bench(opened) if is_reduced(opened) else reduce_bench(opened, draws, seed)
        manifest = manifest_of(self._tree)
        needed = requirement_of(manifest)
        self.title = manifest.title
        self.names = [part.name for part in manifest.part]
        self.controls = [one for one in controls_of(self._tree) if one["control"] == "thickness"]
        self.marks = {"band": [needed.low, needed.high], "data_sheet": needed.data_sheet_wavelength}
        parts = self._tree["parts"].to_dataset()
        self.wetted = "bonded_transmittance" in parts
        self._measured = parts.get("measured_transmittance", parts["transmittance"])

    def at(self, thickness: Mapping[str, float]) -> tuple[xr.Dataset, list[str]]:
        """Transmittances with thicknesses that are otherwise; NaN where nothing follows.

        Parameters
        ----------
        thickness : mapping
            Of parts that are otherwise than on the bench [mm].

        Returns
        -------
        xarray.Dataset (part, [draw,] wavelength)
            ``measured``, ``dry`` in the thickness in use and, if what is behind the last part is known,
            ``bonded`` [1].
        list of str
            Where nothing follows, and why.
        """
        changes = {"thickness": dict(thickness)} if thickness else {}
        tree = with_adjustments(self._tree, changes)
        parts = tree["parts"].to_dataset()
        dry = parts["transmittance"]
        each = [unknown(self._measured.sel(part=part.name), part) for part in manifest_of(tree).part]
        nothing = xr.concat(each, "part", coords="minimal", compat="override")  # a gap, whatever it counts as
        found = {"measured": self._measured, "dry": dry.where(~nothing)}
        if self.wetted:
            found["bonded"] = parts["bonded_transmittance"].where(~nothing)
        cautions = [str(one) for one in json.loads(parts.attrs.get("cautions", "[]"))]
        plain = {name: array.drop_attrs(deep=False).reset_coords(drop=True) for name, array in found.items()}
        return xr.Dataset(plain), cautions


class Alone:
    """One part that belongs to no bench.

    Parameters
    ----------
    transmittance : xarray.DataArray ([draw,] wavelength)
        As measured in air, with its surfaces [1].
    thickness : float or str, optional
        That was measured [mm].
    index : float, optional
        Refractive index of the part [1]; without both, it has no other thickness.
    adhesive_index : float, optional
        Of what wets its back face [1].
    floor : float or str
        What was read as transmittance where nothing passes [1].
    name : str
        Of the part.

    Raises
    ------
    RangeError
        If there are dimensions beside ``wavelength`` and ``draw``, or a thickness is not positive.

    Examples
    --------
    >>> light = xr.DataArray([0.9, 0.001], {"wavelength": [405.0, 365.0]}, "wavelength")
    >>> found, said = Alone(light, "2 mm", 1.5).at({"part": 1.0})
    >>> found["dry"].isnull().values.ravel().tolist(), said[0][:34]
    ([True, False], 'part: not valid at 365 nm: the mea')
    """

    def __init__(
        self,
        transmittance: xr.DataArray,
        thickness: float | str | None = None,
        index: float | None = None,
        adhesive_index: float | None = None,
        floor: float | str = FLOOR,
        name: str = "part",
    ) -> None:
        extra = [str(one) for one in transmittance.dims if one not in ("draw", "wavelength")]
        if extra or "wavelength" not in transmittance.dims:
            raise RangeError(
                f"a transmittance has a dimension wavelength, and may have draw, not "
                f"{', '.join(map(str, transmittance.dims))}"
            )
        plain = in_unit(transmittance, "1", "transmittance").sortby("wavelength")
        self._light = plain.expand_dims(part=[name]).transpose("part", ..., "wavelength")
        self._index, self._behind, self._floor = index, adhesive_index, measured(floor, "1").value
        here = None if thickness is None else measured(thickness, "mm").value
        if here is not None and not here > 0:
            raise RangeError(f"a thickness is more than 0 mm, not {here:g} mm")
        self._thickness = here
        self.title, self.names = f"Transmittance of {name}", [name]
        self.wetted = index is not None and adhesive_index is not None
        self.marks: dict[str, Any] = {"band": None, "data_sheet": None}
        self.controls = [self._control(name)]

    def _control(self, name: str) -> dict[str, Any]:
        here = self._thickness
        missing = [
            word
            for word, value in (("thickness", here), ("refractive index (index=…)", self._index))
            if value is None
        ]
        fixed = f"another thickness of {name} takes its {' and its '.join(missing)}" if missing else ""
        high = _HIGHEST * (here or 0.0)
        return {
            "control": "thickness",
            "of": name,
            "label": f"thickness of {name}",
            "units": "mm",
            "low": high / 30,
            "high": high,
            "step": float(f"{high / _STEPS:.1g}") if high else 1.0,
            "bench": here,
            "stood": "measured",
            "fixed": fixed,
        }

    def at(self, thickness: Mapping[str, float]) -> tuple[xr.Dataset, list[str]]:
        """Transmittances with another thickness; NaN where nothing follows; see `OfBench`."""
        light, cautions = self._light, []
        dry = light
        for name, wanted in thickness.items():
            assert self._index is not None
            assert self._thickness is not None
            dry = optics.predict_thickness(light, self._index, self._thickness, wanted, self._floor)
            cautions = [f"{name}: {one}" for one in [dry.attrs.get("comment")] if one]
        found = {"measured": light, "dry": dry}
        if self.wetted:
            assert self._index is not None
            assert self._behind is not None
            found["bonded"] = optics.wetted(dry, self._index, self._behind)
        plain = {
            state: array.transpose("part", ..., "wavelength").drop_attrs(deep=False).reset_coords(drop=True)
            for state, array in found.items()
        }
        return xr.Dataset(plain), cautions


def summarized(found: xr.Dataset) -> xr.Dataset:
    """Value and 95 % interval of transmittances.

    Parameters
    ----------
    found : xarray.Dataset (part, [draw,] wavelength)
        Transmittances [1].

    Returns
    -------
    xarray.Dataset (state, part, wavelength)
        ``value``, ``low`` and ``high`` [1]; the ends are NaN without draws.

    Examples
    --------
    >>> summarized(OfBench(reduced).at({})[0]).sizes["state"]
    3
    """
    states = xr.concat(
        [found[name] for name in found.data_vars],
        xr.DataArray(list(found.data_vars), dims="state", name="state"),
    )
    if "draw" in states.dims:
        result = summarize(states.astype(float))[["value", "low", "high"]]
    else:
        unknown = xr.full_like(states, np.nan)
        result = xr.Dataset({"value": states, "low": unknown, "high": unknown})
    return result.transpose("state", "part", "wavelength")
