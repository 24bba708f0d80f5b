"""Plaques of an invented housing material: new in three thicknesses, and one again after exposure."""

from __future__ import annotations

from os import PathLike
from pathlib import Path

import numpy as np
import xarray as xr

from spectralbench.model import spectrum
from spectralbench.optics import slab_transmittance
from spectralbench.virtual import truth
from spectralbench.virtual.instrument import VirtualInstrument
from spectralbench.virtual.manifest_text import file_of
from spectralbench.virtual.raw_files import new_folder, write_curve, write_frame

THICKNESSES = (1.0, 2.0, 3.0)
"""As a micrometer shows them [mm]."""

_MICROMETER = 0.01  # standard deviation of what it shows [mm]
_PLACING = 0.002  # of how a plaque sits in the beam, relative
_DRIFT = 0.018  # of the lamp in an hour
_SCANS = 12


def index() -> xr.DataArray:
    """Refractive index of the material.

    Returns
    -------
    xarray.DataArray (wavelength,)
        Refractive index [1].

    Examples
    --------
    >>> round(float(index().interp(wavelength=405.0)), 3)
    1.514
    """
    values = 1.482 + 5300.0 / truth.FINE**2
    return xr.DataArray(values, {"wavelength": truth.FINE}, "wavelength", "index", {"units": "1"})


def passed(thickness: float, exposed: bool = False) -> xr.DataArray:
    """Transmittance of a plaque in air, with both surfaces.

    Parameters
    ----------
    thickness : float
        Thickness [mm].
    exposed : bool
        Whether it was exposed to light and yellowed at its face; that is no matter of thickness.

    Returns
    -------
    xarray.DataArray (wavelength,)
        Transmittance [1].

    Examples
    --------
    >>> passed(2.0).interp(wavelength=[365.0, 405.0]).values.round(3).tolist()
    [0.689, 0.897]
    """
    absorbance = thickness * (0.002 + 0.06 * np.exp(-(truth.FINE - 365) / 14))
    if exposed:
        absorbance = absorbance + 0.06 * np.exp(-(truth.FINE - 365) / 45)
    internal = spectrum(10**-absorbance, truth.FINE, "transmittance")
    return slab_transmittance(internal, index())


def write_plaques(folder: str | PathLike[str], seed: int = 20260309) -> Path:
    """Write the frames of a transmission bench with plaques of a housing material.

    Parameters
    ----------
    folder : str or path
        Where to; new or empty.
    seed : int
        Seed of noise, thickness and placing.

    Returns
    -------
    pathlib.Path
        The folder: a dark, plaques of 1, 2 and 3 mm between two references, that of 2 mm again
        after its exposure, spectra of three LEDs. All of it is invented.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> folder = write_plaques(Path(tempfile.mkdtemp()) / "plaques")
    >>> [path.stem for path in sorted(folder.glob("plaque*"))]
    ['plaque_1mm', 'plaque_2mm', 'plaque_2mm_exposed', 'plaque_3mm']
    """
    return new_folder(folder, lambda empty: _fill(empty, np.random.default_rng(seed)))


def _fill(folder: Path, random: np.random.Generator) -> None:
    instrument, lamp = VirtualInstrument(), truth.transmission_lamp()
    true = {shown: shown + _MICROMETER * random.standard_normal() for shown in THICKNESSES}

    def frame(name: str, title: str, light: truth.Vector | None, time: str) -> None:
        counts = instrument.frame(light, 0.02, _SCANS, random, time)
        write_frame(folder / f"{name}.csv", title, counts)

    def series(day: str, plaques: dict[str, tuple[float, bool]], numbers: tuple[int, int]) -> None:
        """References before and after, plaques between them, ten minutes apart, while the lamp drifts."""
        names = [f"reference_{numbers[0]}", *plaques, f"reference_{numbers[1]}"]
        for step, name in enumerate(names):
            light = lamp * (1 - _DRIFT * step / 6)
            title = "transmission bench, no plaque"
            if name in plaques:
                thickness, exposed = plaques[name]
                light = light * passed(true[thickness], exposed).values
                light = light * (1 + _PLACING * random.standard_normal())
                after = ", after exposure" * exposed
                title = f"transmission bench, plaque of {thickness:g} mm{after}"
            frame(name, title, light, f"{day}T10:{10 * step:02}:00")

    frame("dark_20ms", "shutter closed, 20 ms", None, "2026-03-09T09:50:00")
    new = {f"plaque_{shown:g}mm": (shown, False) for shown in THICKNESSES}
    series("2026-03-09", new, (1, 2))
    series("2026-05-11", {"plaque_2mm_exposed": (2.0, True)}, (3, 4))
    for source in truth.sources()[2:]:
        path = folder / f"{file_of(source.name)}.csv"
        points = np.arange(320.0, 460.0, 0.5)
        write_curve(path, source.name, points, source.spectrum, "spectral_irradiance")
