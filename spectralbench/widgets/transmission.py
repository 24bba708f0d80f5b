"""What the parts of a bench pass in other thicknesses, in a notebook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from os import PathLike
from typing import Any

import numpy as np
import traitlets
import xarray as xr

from spectralbench.benches.passing import FLOOR
from spectralbench.comparison import in_words, interval_in_words
from spectralbench.corrections import interpolate
from spectralbench.corrections.pixel_faults import stretches
from spectralbench.errors import SpectralBenchError, quote
from spectralbench.payload import Curves
from spectralbench.units import measured
from spectralbench.widgets.bundles import bundle
from spectralbench.widgets.controls import plain
from spectralbench.widgets.still_pictures import parts_picture
from spectralbench.widgets.talk import REFUSED, TURNED, Talk
from spectralbench.widgets.thicknesses import Alone, OfBench, Parts, summarized
from spectralbench.widgets.values import Refused, Whole

QUOTED = (365.0, 385.0, 405.0, 436.0)
"""Wavelengths at which people quote a transmittance [nm]."""

KNOWN_LIMITS = (
    "Another thickness changes the bulk alone (Lambert's law); the surfaces stay as they were measured.",
    "Scattered light counts as far as the bench collected it; a thicker part scatters more than this says.",
    "Another batch, colour, grade or moulding passes otherwise: measure the part that will be used.",
)
"""What no prediction of another thickness knows."""

_MOST = 12  # wavelengths in the table
_ACROSS = {"name": "wavelength", "units": "nm"}
_WORDS = {"measured": "as measured", "dry": "in air", "bonded": "as bonded"}
_DRAWS = 200
_QUOTED_NAMES = {
    "value": "quoted",
    "low": "quoted_low",
    "high": "quoted_high",
    "wavelength": "quoted_wavelength",
}


class Transmission(Talk):
    """What parts pass: as measured, in another thickness, and as bonded.

    Parameters
    ----------
    bench_or_transmittance : xarray.DataTree, str, path or xarray.DataArray
        A bench, opened, reduced or as a folder; or the transmittance ([draw,] wavelength) of one part as
        measured in air [1].
    wavelengths : sequence of float or str
        Where figures are wanted [nm].
    draws, seed : int
        Of the reduction of a bench that is not reduced yet; with 0, figures without intervals.
    thickness : float or str, optional
        Of a transmittance, the thickness that was measured [mm].
    index, adhesive_index : float, optional
        Refractive indices of that part and of what wets its back face [1].
    floor : float or str
        What was read as transmittance where nothing passes [1].
    name : str
        Of that part.

    Attributes
    ----------
    thickness : dict
        Of each part [mm], by its name; may be set in part, and with texts such as ``{"cover": "1.5 mm"}``.
    wavelengths : list of float
        Where figures are wanted [nm], ascending.
    result : xarray.Dataset
        ``value``, ``low`` and ``high`` (state, part, wavelength) [1] of what is ``measured``, ``dry`` and
        ``bonded``; ``quoted``, ``quoted_low`` and ``quoted_high`` (state, part, quoted_wavelength), the
        same at the wavelengths chosen. NaN where nothing follows from what was measured.

    Raises
    ------
    BenchError
        If the bench cannot be opened or reduced.
    RangeError
        If a wavelength was not measured, or a part has no other thickness.

    Examples
    --------
    >>> parts = Transmission(demo, draws=0)
    >>> parts.thickness = {"cover": "1 mm"}
    >>> parts.figures["rows"][2]["cells"][-1]["text"]
    '89.5 %'
    """

    kind = "transmission"
    _esm, _css = bundle(kind)

    thickness = traitlets.Dict().tag(**TURNED)
    wavelengths: traitlets.List[Any] = traitlets.List().tag(**TURNED)

    controls = traitlets.List(traitlets.Dict()).tag(sync=True)
    curves = traitlets.Bytes().tag(sync=True)
    figures = traitlets.Dict().tag(sync=True)

    result = Whole(xr.Dataset, allow_none=True)

    def __init__(
        self,
        bench_or_transmittance: xr.DataTree | xr.DataArray | str | PathLike[str],
        wavelengths: Sequence[float | str] = QUOTED,
        draws: int = _DRAWS,
        seed: int = 1,
        *,
        thickness: float | str | None = None,
        index: float | None = None,
        adhesive_index: float | None = None,
        floor: float | str = FLOOR,
        name: str = "part",
    ) -> None:
        given = bench_or_transmittance
        self._parts: Parts
        if isinstance(given, xr.DataArray):
            self._parts = Alone(given, thickness, index, adhesive_index, floor, name)
        else:
            self._parts = OfBench(given, draws, seed)
        self._bench = {
            one["of"]: float(one["bench"]) for one in self._parts.controls if one["bench"] is not None
        }
        found, _ = self._parts.at({})
        grid = found.coords["wavelength"].values
        self._ends = float(grid[0]), float(grid[-1])
        within = [one for one in wavelengths if wavelengths is not QUOTED or self._is_within(float(one))]
        super().__init__(controls=self._parts.controls, thickness=self._bench, wavelengths=within)
        self.observe(self._draw, ["thickness", "wavelengths"])
        self._draw()

    def _is_within(self, wavelength: float) -> bool:
        return self._ends[0] <= wavelength <= self._ends[1]

    @traitlets.validate("thickness")
    def _whole(self, proposal: dict[str, Any]) -> dict[str, float]:
        """All thicknesses, with those that were given; or why these cannot be."""
        given = plain("thickness", proposal["value"])
        for name, value in given.items():
            control = next((one for one in self._parts.controls if one["of"] == name), None)
            if control is None:
                names = ", ".join(map(quote, self._parts.names))
                raise Refused(f"there is no part {quote(name)}; there are {names}")
            if control["fixed"] and value != self._bench.get(name):
                raise Refused(control["fixed"])
            if not 0 < value < np.inf:
                raise Refused(f"a thickness is more than 0 mm, not {value:g} mm")
        return self._bench | given

    @traitlets.validate("wavelengths")
    def _known(self, proposal: dict[str, Any]) -> list[float]:
        try:
            found = sorted({measured(one, "nm").value for one in proposal["value"]})
        except SpectralBenchError as error:
            raise Refused(str(error)) from error
        outside = [one for one in found if not self._is_within(one)]
        if outside:
            first, last = self._ends
            raise Refused(f"{outside[0]:g} nm lies outside of what was measured, {first:.1f}–{last:.1f} nm")
        if len(found) > _MOST:
            raise Refused(f"the table has room for {_MOST} wavelengths, not {len(found)}")
        return found

    def _changes(self) -> dict[str, float]:
        return {name: value for name, value in self.thickness.items() if value != self._bench.get(name)}

    def _draw(self, _: Any = None) -> None:
        """Work everything out anew."""
        try:
            found, cautions = self._parts.at(self._changes())
        except SpectralBenchError as error:
            self.state = f"{REFUSED}{error}"
            return
        every = found
        if len(self._parts.names) > 1:
            state = "bonded" if "bonded" in found else "dry"
            whole = found[state].prod("part", skipna=False).expand_dims(part=["all parts"])
            every = xr.concat(
                [found, xr.Dataset({name: whole if name == state else whole * np.nan for name in found})],
                "part",
            )
        result = summarized(every)
        quoted = summarized(_at(every, self.wavelengths)) if self.wavelengths else None
        if quoted is not None:
            result = result.merge(quoted.rename(_QUOTED_NAMES))
        with self.hold_sync():
            self.curves = self._packed(result)
            self.figures = self._said(result, cautions)
            self.state = ""
        self.result = result

    def _shown(self, result: xr.Dataset) -> list[tuple[str, str, str]]:
        """Curves that say something of their own: state, part, and how it is called."""
        shown = []
        for part in result.coords["part"].values.tolist():
            for state in result.coords["state"].values.tolist():
                one = result["value"].sel(part=part, state=state)
                is_last = part == self._parts.names[-1] or part not in self._parts.names
                if one.notnull().any() and (state != "bonded" or is_last):
                    shown.append((state, part, f"{part}, {_WORDS[state]}"))
        return shown

    def _told(self, state: str, part: str) -> str:
        """The thickness that belongs to a curve."""
        value = (self._bench if state == "measured" else self.thickness).get(part)
        return "" if value is None else f"{value:g} mm"

    def _packed(self, result: xr.Dataset) -> bytes:
        curves, grid = Curves("transmission"), result.coords["wavelength"].values
        gaps: list[list[float]] = []
        for state, part, label in self._shown(result):
            one = result.sel(state=state, part=part)
            ends = {
                end: 100 * one[end].values
                for end in ("low", "high")
                if state != "measured" and one[end].notnull().any()
            }
            said = {"label": label, "units": "%", "role": state}
            curves.add(said, _ACROSS, grid, 100 * one["value"].values, **ends)
            if state != "measured":
                gaps += [[a, b] for a, b, _ in stretches(grid, one["value"].isnull().values)]
        distinct = sorted({(a, b) for a, b in gaps})
        return curves.packed(gaps=[list(one) for one in distinct], **self._parts.marks)

    def _said(self, result: xr.Dataset, cautions: list[str]) -> dict[str, Any]:
        """Figures and limits in words."""
        shown = self._shown(result)
        rows = []
        for i, wavelength in enumerate(self.wavelengths):
            cells = []
            for state, part, _ in shown:
                one = result.isel(quoted_wavelength=i).sel(state=state, part=part)
                value, low, high = (float(one[name]) for name in ("quoted", "quoted_low", "quoted_high"))
                cells.append(
                    {
                        "text": in_words(value, "1"),
                        "interval": interval_in_words(low, high, "1"),
                        "units": "%",
                    }
                )
            rows.append({"wavelength": wavelength, "told": f"{wavelength:g} nm", "cells": cells})
        drawn = bool(result["low"].notnull().any())
        interval = (
            "Bands, and ranges in the table: 95 % interval of the draws."
            if drawn
            else "No intervals: there are no draws."
        )
        return {
            "title": self._parts.title,
            "columns": [{"label": label, "told": self._told(state, part)} for state, part, label in shown],
            "rows": rows,
            "cautions": cautions,
            "limits": [*KNOWN_LIMITS, interval],
        }

    def still(self) -> tuple[str, str]:
        """The curves, and the figures."""
        return self._picture(), "\n".join(self._lines())

    def _picture(self) -> str:
        assert self.result is not None
        grid = self.result.coords["wavelength"].values
        drawn = []
        for state, part, label in self._shown(self.result):
            one = self.result.sel(state=state, part=part)
            ends: Mapping[str, Any] = {}
            if state != "measured" and one["low"].notnull().any():
                ends = {end: 100 * one[end].values for end in ("low", "high")}
            drawn.append(
                (f"{label} {self._told(state, part)}".strip(), grid, 100 * one["value"].values, ends)
            )
        return parts_picture(str(self.figures["title"]), drawn)

    def _lines(self) -> list[str]:
        """Everything in plain text."""
        said = self.figures
        names = [f"{one['label']} {one['told']}".strip() for one in said["columns"]]
        rows = []
        for row in said["rows"]:
            cells = [
                f"{name} {cell['text']}" + (f" ({cell['interval']})" if cell["interval"] else "")
                for name, cell in zip(names, row["cells"], strict=True)
            ]
            rows.append(f"{row['told']}: {'; '.join(cells)}")
        return [str(said["title"]), *rows, *said["cautions"], *said["limits"]]


def _at(found: xr.Dataset, wavelengths: Sequence[float]) -> xr.Dataset:
    """Transmittances at some wavelengths."""
    return xr.Dataset({name: interpolate(array, wavelengths) for name, array in found.items()})
