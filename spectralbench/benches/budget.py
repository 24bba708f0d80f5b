"""The uncertainty budget of a bench, as draws of its inputs.

Each cause has draws of its own stream, found by its name, so that one cause more or less
changes no other. What shares a cause asks for it by the same key, and gets the same draws.
"""

from __future__ import annotations

import zlib

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spectralbench.benches.quantities import KeyedError
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.uncertainty import FROM_FILE, INPUTS, OF_THEMSELVES, Uncertainty
from spectralbench.draws import draw, noise
from spectralbench.errors import quote
from spectralbench.units import Measured

Vector = NDArray[np.float64]

PRECISION = np.float32
"""Of draws along the wavelength: 7 digits, in half of the memory and of the time."""


class Budget:
    """Draws of the inputs of one bench.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of its uncertainties.
    draws : int
        How many; with 0, every input is its best estimate.
    seed : int
        Seed of all streams.
    only : str, optional
        The one cause to draw, while all others keep their best estimate.
    """

    def __init__(self, manifest: Manifest, draws: int = 0, seed: int = 0, only: str | None = None) -> None:
        self.lines = manifest.uncertainty
        self.items = {
            "attenuator": [source.name for source in manifest.source if source.attenuator],
            "spectral irradiance": [source.name for source in manifest.source],
            "transmittance": [part.name for part in manifest.part],
            "absorption coefficient": [initiator.name for initiator in manifest.adhesive.initiator],
            "absorbance": [absorber.name for absorber in manifest.adhesive.absorber],
        }
        self.draws = draws
        self.seed = seed
        self.only = only
        self.met: dict[str, None] = {}  # causes that were asked for and are not 0, in order

    @property
    def gaps(self) -> list[str]:
        """Inputs of the bench for which nobody stated an uncertainty, with the items that are left out."""
        found = []
        for name in INPUTS:
            items = self.items.get(name, [""])
            open_ones = [item for item in items if not self.lines_on(name, item)]
            if open_ones:
                found.append(name if len(open_ones) == len(items) else f"{name} of {' and '.join(open_ones)}")
        return found

    def _random(self, name: str, key: str) -> np.random.Generator:
        return np.random.default_rng([self.seed, zlib.crc32(f"{name}\n{key}".encode())])

    def _drawn(self, name: str) -> bool:
        self.met.setdefault(name)
        return self.draws > 0 and self.only in (None, name)

    def stream(self, name: str, key: str) -> np.random.Generator | None:
        """Random numbers of one cause, or None where it keeps its best estimate.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> Budget(read_manifest(demo)[0]).stream("end of life", "arc") is None
        True
        """
        return self._random(name, key) if self._drawn(name) else None

    def scalar(self, name: str, key: str, stated: Measured) -> xr.DataArray | float:
        """A quantity of the manifest, with the normal distribution that its ± stands for.

        Parameters
        ----------
        name, key : str
            The cause, and what it belongs to.
        stated : Measured
            Value and standard uncertainty.

        Returns
        -------
        float or xarray.DataArray (draw,)
            In the unit of `stated`.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> budget = Budget(read_manifest(demo)[0], draws=1000, seed=1)
        >>> budget.scalar("bond line", "", Measured(0.15, 0.02)).sizes["draw"]
        1000
        """
        if not stated.standard_uncertainty > 0 or not self._drawn(name):
            return stated.value
        drawn = draw(
            stated.value, stated.standard_uncertainty, draws=self.draws, seed=self._random(name, key)
        )
        return drawn.clip(min=0.0)  # one draw in 30,000 of the widest ± that a manifest may state

    def curve(
        self,
        name: str,
        item: str,
        estimate: xr.DataArray,
        stated: xr.DataArray | None = None,
        thing: str = "",
        scale: xr.DataArray | float = 1.0,
    ) -> xr.DataArray:
        """An input along the wavelength, with all that the budget says of it.

        Parameters
        ----------
        name : str
            One of `INPUTS`.
        item : str
            What it belongs to: the name of a source, a part, an initiator.
        estimate : xarray.DataArray (..., wavelength)
            Best estimate.
        stated : xarray.DataArray (wavelength,), optional
            Standard uncertainty that stands in the file beside the values.
        thing : str, optional
            The file behind it; items that rest on one file share its errors.
        scale : xarray.DataArray (draw,) or float
            What else it is multiplied by [1].

        Returns
        -------
        xarray.DataArray ([draw,] ..., wavelength)
            The input.

        Raises
        ------
        KeyedError
            If the budget counts on uncertainties in the file, and there are none; or if it is so wide
            that draws of the lamp, by which all is divided, fall to 0.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> budget = Budget(read_manifest(demo)[0], draws=1000, seed=1)
        >>> lamp = xr.DataArray([0.1, 0.2], {"wavelength": [365.0, 405.0]}, "wavelength")
        >>> budget.curve("lamp irradiance", "", lamp).dims
        ('draw', 'wavelength')
        """
        factor: xr.DataArray | float = 1.0
        error: xr.DataArray | float = 0.0
        for line in self.lines_on(name, item):
            if not self._drawn(line.name):
                continue
            spread = self._spread(line, estimate, stated)
            none = xr.zeros_like(spread) if isinstance(spread, xr.DataArray) else 0.0
            random = self._random(line.name, "" if line.shared else thing or item)
            drawn = draw(none, spread, line.distribution, self.draws, random, line.correlation)
            if line.is_relative:
                factor = drawn + factor
            else:
                error = drawn + error
        factor = factor * scale  # both are small, most often
        result = estimate
        if isinstance(factor, xr.DataArray):
            result = factor.astype(PRECISION) * result.astype(PRECISION)
        if isinstance(error, xr.DataArray):
            result = error.astype(PRECISION) + result.astype(PRECISION)
        if name == "lamp irradiance" and "draw" in result.dims:
            self._refuse_dark(name, item, estimate, result)
        return result.transpose(..., "wavelength").assign_attrs(estimate.attrs)

    def _refuse_dark(self, name: str, item: str, estimate: xr.DataArray, drawn: xr.DataArray) -> None:
        """Refuse draws of 0 or less of what is positive, and blame the widest line of the budget."""
        fallen = ((drawn <= 0) & (estimate > 0)).any("wavelength")
        if not fallen.any():
            return
        lines = [line for line in self.lines_on(name, item) if line.size != FROM_FILE] or self.lines_on(
            name, item
        )
        widest = max(
            lines, key=lambda line: (not line.is_relative, line.size != FROM_FILE and line.measured())
        )
        raise KeyedError(
            f"{int(fallen.sum())} of {self.draws} draws of the {name} at 0 or below, by the line "
            f"{quote(widest.name)} of the budget",
            f"uncertainty.{self.lines.index(widest) + 1}.size",
            "a size that leaves light in every draw, as a relative one does",
        )

    def _spread(
        self, line: Uncertainty, estimate: xr.DataArray, stated: xr.DataArray | None
    ) -> xr.DataArray | float:
        """Standard uncertainty, relative or in the unit of the estimate; one number if it is one error."""
        if line.size != FROM_FILE:
            if line.correlation == "full":
                return line.measured()
            along = estimate.coords["wavelength"]
            return xr.DataArray(np.full(along.size, line.measured()), {"wavelength": along}, "wavelength")
        if stated is None:
            raise KeyedError(
                f"{quote(FROM_FILE)} in the line {quote(line.name)}, and the file has no column of standard "
                "uncertainties",
                f"uncertainty.{self.lines.index(line) + 1}.size",
                'a size, or a column "u(…)" in the file',
            )
        return stated

    def lines_on(self, name: str, item: str) -> tuple[Uncertainty, ...]:
        """Lines of the budget that fall on an input of an item.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> [line.name for line in Budget(read_manifest(demo)[0]).lines_on("lamp irradiance", "")]
        ['lamp calibration', 'lamp interpolation']
        """
        return tuple(
            line for line in self.lines if line.input == name and (line.of is None or item in line.of)
        )

    def noise(self, key: str, spread: xr.DataArray) -> xr.DataArray | float:
        """Errors of single pixels, each on its own.

        Parameters
        ----------
        key : str
            The frame.
        spread : xarray.DataArray (wavelength,)
            Standard uncertainty of each pixel.

        Returns
        -------
        xarray.DataArray (draw, wavelength) or float
            Errors; 0 if there are none.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> Budget(read_manifest(demo)[0]).noise("dark/1", xr.DataArray([1.0], dims="wavelength"))
        0.0
        """
        if not (spread > 0).any() or not self._drawn("noise"):
            return 0.0
        deviates = noise((self.draws, spread.size), self._random("noise", key))
        deviates *= spread.values.astype(PRECISION)
        return xr.DataArray(deviates, spread.coords, ("draw", *spread.dims))

    def shifted(self, frame: xr.DataArray) -> xr.DataArray:
        """A frame as it is if the wavelength scale is off, in each draw by another amount.

        Parameters
        ----------
        frame : xarray.DataArray (wavelength,)
            Any values along the pixels.

        Returns
        -------
        xarray.DataArray ([draw,] wavelength)
            The frame on its true wavelengths, by straight lines between pixels.

        Examples
        --------
        >>> from spectralbench.benches.manifest import read_manifest
        >>> frame = xr.DataArray([1.0, 2.0], {"wavelength": [365.0, 366.0]}, "wavelength")
        >>> Budget(read_manifest(demo)[0]).shifted(frame) is frame
        True
        """
        offset: Vector = np.zeros(1)
        for line in self.lines_on("wavelength", ""):
            if self._drawn(line.name):
                random = self._random(line.name, "")
                offset = offset + draw(0.0, line.measured(), line.distribution, self.draws, random).values
        if not offset.any():
            return frame
        return xr.DataArray(
            _moved(frame.values, frame.coords["wavelength"].values, offset),
            frame.coords,
            ("draw", *frame.dims),
            attrs=frame.attrs,
        )


def _moved(values: Vector, grid: Vector, offsets: Vector) -> NDArray[np.float32]:
    """Values (wavelength,) where each draw's wavelengths lie, by straight lines: (draw, wavelength)."""
    slopes = np.diff(values) / np.diff(grid)
    up, down = -np.append(0.0, slopes), -np.append(slopes, 0.0)
    rows = np.stack([np.ones_like(offsets), np.maximum(offsets, 0), np.minimum(offsets, 0)], axis=1)
    moved = rows.astype(PRECISION) @ np.stack([values, up, down]).astype(PRECISION)
    for far in np.flatnonzero(np.abs(offsets) > np.diff(grid).min()):
        moved[far] = np.interp(grid - offsets[far], grid, values)
    return np.asarray(moved)


def in_precision(array: xr.DataArray) -> xr.DataArray:
    """Draws along the wavelength in `PRECISION`; everything else as it is.

    Examples
    --------
    >>> drawn = xr.DataArray([[1.0]], dims=("draw", "wavelength"))
    >>> in_precision(drawn).dtype, in_precision(drawn[0]).dtype
    (dtype('float32'), dtype('float64'))
    """
    return array.astype(PRECISION) if "draw" in array.dims else array


def along_beam(source: Source, distance: float) -> bool:
    """Whether the beam of a source was measured nearer and farther than a distance [mm], or at it.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> sources = read_manifest(demo)[0].source
    >>> along_beam(sources[0], 12.0), along_beam(sources[-1], 12.0), along_beam(sources[-1], 40.0)
    (False, True, False)
    """
    distances = [point.distance.value for point in source.beam or []]
    return bool(distances) and min(distances) <= distance <= max(distances)


def causes(manifest: Manifest) -> dict[str, str]:
    """Where each cause of a budget stands in the manifest, in words.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench.

    Returns
    -------
    dict
        By name of the cause.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> causes(read_manifest(demo)[0])["noise"]
    'scatter of the scans'
    """
    said = {"distance": f"{OF_THEMSELVES['distance']}, {_law(manifest)}"}
    return OF_THEMSELVES | said | {line.name: _in_words(line) for line in manifest.uncertainty}


def _law(manifest: Manifest) -> str:
    """By which law the ± of the sources' distances counts."""
    uncertain = [source for source in manifest.source if source.distance.standard_uncertainty > 0]
    along = [source.name for source in uncertain if along_beam(source, source.distance.value)]
    if not along:
        return "by the inverse square law"
    if len(along) == len(uncertain):
        return "along its measured beam"
    return f"along its measured beam ({', '.join(along)}), otherwise by the inverse square law"


def _in_words(line: Uncertainty) -> str:
    """A line of the budget: a share, points or a unit, and how its errors belong together."""
    size = "the column of the file on" if line.size == FROM_FILE else f"{line.size} on"
    if line.is_relative:
        size = f"{100 * line.measured():.3g} % of"
    elif INPUTS[line.input] == "1":
        size = f"{line.measured():.3g} in points of"
    of = "" if line.of is None else f" of {', '.join(line.of)}"
    correlation = {"full": "one error along the wavelength", "none": "no correlation"}
    said = [
        f"{size} the {line.input}{of}",
        line.distribution,
        *(
            []
            if line.input == "wavelength"
            else [correlation.get(line.correlation, f"correlated over {line.correlation}")]
        ),
        *(["shared"] if line.shared else []),
    ]
    return ", ".join(said)
