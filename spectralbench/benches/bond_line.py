"""What initiators, resin and pigment can absorb in the bond line of a bench."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import cast

import numpy as np
import xarray as xr

from spectralbench import cure
from spectralbench.benches.budget import PRECISION, Budget, in_precision
from spectralbench.benches.folder import array_of, blamed
from spectralbench.benches.schema import Manifest
from spectralbench.benches.stacking import stacked
from spectralbench.corrections import interpolate
from spectralbench.errors import RangeError, quote
from spectralbench.model import COORDINATES
from spectralbench.readers.gaps import missing


def absorbances(
    tree: xr.DataTree, manifest: Manifest, calibrated: xr.DataArray, budget: Budget
) -> xr.Dataset:
    """Absorbance of each initiator in the bond line, and of what starts nothing; zero beyond its curve.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    calibrated : xarray.DataArray (wavelength,)
        Wavelengths of the pixels that count [nm].
    budget : Budget
        Draws of curves, concentrations and the bond line.

    Returns
    -------
    xarray.Dataset
        ``absorbance`` (initiator, [draw,] wavelength) [1]; ``bond_line`` [cm] and ``reciprocity``
        [1] ([draw]); if resin or pigment are stated, ``background`` ([draw,] wavelength) [1], what
        they absorb together; ``attrs["cautions"]`` (JSON) repeats what curves from memory are worth,
        and names gaps in curves.

    Raises
    ------
    BenchError
        If a curve does not reach over the band and the data sheet's wavelength, or no initiator absorbs
        light of the band.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> grid = xr.DataArray([365.0, 405.0], dims="wavelength")
    >>> absorbances(tree, manifest_of(tree), grid, Budget(manifest_of(tree))).sizes["initiator"]
    2
    """
    adhesive, spectra, known = manifest.adhesive, [], []
    bond_line = budget.scalar("bond line", "", adhesive.bond_line) / 10  # mm to cm
    grid = calibrated.values
    needed = [edge.value for edge in manifest.requirement.band]
    if manifest.requirement.data_sheet_wavelength is not None:
        needed.append(manifest.requirement.data_sheet_wavelength.value)
    for number, initiator in enumerate(adhesive.initiator, 1):
        measured = array_of(tree, f"/adhesive/{initiator.name}", "molar_absorption_coefficient")
        key = f"adhesive.initiator.{number}.{'curve' if initiator.curve else 'reference'}"
        with blamed(tree, key, _EXPECTED):
            _refuse_gaps(measured, needed)
            coefficient = budget.curve(
                "absorption coefficient", initiator.name, measured, thing=initiator.curve or ""
            )
            concentration = budget.scalar("concentration", initiator.name, initiator.concentration)
            film = cure.initiator_absorbance(_on_grid(coefficient, grid), concentration, bond_line)
        spectra.append(in_precision(film))
        known.append(measured)
    names = [initiator.name for initiator in adhesive.initiator]
    cautions = [
        f"absorption of {name}: {_readable(measured.attrs['caution'])}{_understated(measured, name, budget)}"
        for name, measured in zip(names, known, strict=True)
        if "caution" in measured.attrs
    ]
    cautions += [f"curve of {name}: {text}" for name, text in _missing(tree, manifest)]
    result = stacked(spectra, names, "initiator").to_dataset(name="absorbance")
    with blamed(tree, "adhesive.initiator", "one initiator or more that absorbs light of the band"):
        _refuse_dark(result["absorbance"], *needed[:2])
    exponent = budget.scalar("reciprocity", "", adhesive.reciprocity)
    result["reciprocity"] = xr.DataArray(exponent, attrs={"units": "1", "long_name": "reciprocity exponent"})
    result["bond_line"] = xr.DataArray(bond_line, attrs={"units": "cm", "long_name": "bond line"})
    if adhesive.absorber:
        films = _background(tree, manifest, grid, needed, bond_line, budget)
        result["background"] = _together(films)
        own = [absorber.in_data_sheet is False for absorber in adhesive.absorber]
        if any(own):
            known_films = [film for film, mine in zip(films, own, strict=True) if not mine]
            none = xr.zeros_like(films[0].isel(draw=0, missing_dims="ignore", drop=True))
            result["data_sheet_background"] = _together(known_films or [none])
    return result.assign_attrs(cautions=json.dumps(cautions, ensure_ascii=False))


def _refuse_dark(absorbance: xr.DataArray, low: float, high: float) -> None:
    """Refuse initiators of which none absorbs in the band: then no light does anything."""
    if not float(absorbance.sel(wavelength=slice(low, high)).max()) > 0:
        each = " and ".join(quote(str(name)) for name in absorbance["initiator"].values)
        raise RangeError(f"{each} with no absorption over {low:g}–{high:g} nm: check curve and concentration")


def _missing(tree: xr.DataTree, manifest: Manifest) -> Iterator[tuple[str, str]]:
    """Names of initiators, resin and pigment with a gap in their curve, and what it is."""
    adhesive = manifest.adhesive
    for name in [one.name for one in adhesive.initiator] + [one.name for one in adhesive.absorber]:
        grid = cast(xr.DataTree, tree[f"/adhesive/{name}"]).to_dataset().coords["wavelength"]
        yield from ((name, text) for text in missing(grid))


_EXPECTED = "a curve over band and data sheet wavelength, nowhere negative"


def _background(
    tree: xr.DataTree,
    manifest: Manifest,
    grid: np.ndarray,
    needed: list[float],
    bond_line: xr.DataArray | float,
    budget: Budget,
) -> list[xr.DataArray]:
    """Absorbance of each resin and pigment, from the layers in which they were measured."""
    films = []
    for number, absorber in enumerate(manifest.adhesive.absorber, 1):
        with blamed(tree, f"adhesive.absorber.{number}.curve", _EXPECTED):
            measured = array_of(tree, f"/adhesive/{absorber.name}", "absorbance")
            _refuse_gaps(measured, needed)
            if float(measured.min()) < -_BELOW_ZERO:
                raise RangeError(f"an absorbance of {float(measured.min()):.3g}")
            drawn = _on_grid(budget.curve("absorbance", absorber.name, measured, thing=absorber.curve), grid)
            layer = budget.scalar("layer", absorber.name, absorber.layer) / 10  # mm to cm
            films.append(in_precision(drawn.clip(min=0) * (bond_line / layer)))
    return films


def _together(films: list[xr.DataArray]) -> xr.DataArray:
    """Absorbance of several that start nothing."""
    whole = xr.DataArray(sum(films)).transpose(..., "wavelength")
    return whole.assign_attrs(units="1", long_name="decadic absorbance of what starts nothing")


_BELOW_ZERO = 0.02  # to which noise and a drifting base line may carry an absorbance


def _refuse_gaps(measured: xr.DataArray, needed: list[float]) -> None:
    """Refuse a curve that does not say what is absorbed where it counts."""
    first, last = measured.coords["wavelength"].values[[0, -1]]
    if not np.isfinite(measured.values).all():
        raise RangeError("a curve with values that are not valid")
    for wavelength in needed:
        if not first <= wavelength <= last:
            ends = f"{first:g}–{last:g} nm"
            raise RangeError(f"a curve over {ends}, without {wavelength:g} nm; what is not known is not 0")


def _readable(caution: str) -> str:
    """A caution in which the digits are called so: the header of a curve gives their number alone."""
    return re.sub(r"^from memory, (\d( or \d)?),", r"from memory, to \1 digits,", caution)


def _understated(curve: xr.DataArray, name: str, budget: Budget) -> str:
    """What to add to a caution where the budget trusts a curve more than the curve trusts itself."""
    within = re.search(r"within (\d+)(?: to \d+)? %", str(curve.attrs.get("digits")))
    lines = [line for line in budget.lines_on("absorption coefficient", name) if line.is_relative]
    if within is None or not lines:
        return ""
    counted, own = np.sqrt(sum(line.measured() ** 2 for line in lines)), float(within[1]) / 100
    if counted >= own / np.sqrt(3):  # a tolerance as a standard uncertainty
        return ""
    return (
        f" The budget counts on {100 * counted:.2g} %, which is better than the curve: known within "
        f"{100 * own:.0f} % at best, its standard uncertainty is {100 * own / np.sqrt(3):.0f} % or more."
    )


def _on_grid(coefficient: xr.DataArray, grid: np.ndarray) -> xr.DataArray:
    """A curve on the pixels, zero outside its range."""
    known = coefficient.coords["wavelength"].values
    inside = (grid >= known[0]) & (grid <= known[-1])
    drawn = "draw" in coefficient.dims
    values = np.zeros((*coefficient.shape[:-1], grid.size), PRECISION if drawn else float)
    values[..., inside] = interpolate(coefficient, grid[inside]).values
    if drawn:
        np.maximum(values, 0.0, out=values)  # a wide budget reaches below what can be
    dimensions = tuple(map(str, coefficient.dims))
    along = {"wavelength": ("wavelength", grid, COORDINATES["wavelength"]._asdict())}
    return xr.DataArray(values, along, dimensions, attrs={"units": coefficient.attrs["units"]})
