"""Raw files that a virtual bench writes: into a new folder, each saying that it is invented."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable
from os import PathLike
from pathlib import Path

import numpy as np
import xarray as xr

from spectralbench.errors import BenchError, Fault
from spectralbench.model import spectrum
from spectralbench.readers.plain_text import write_spectra
from spectralbench.virtual.truth import FINE, Vector

INVENTED = "invented data from a virtual instrument; no real product was measured"
"""What each file says of itself."""


def new_folder(folder: str | PathLike[str], fill: Callable[[Path], None]) -> Path:
    """Fill a new or empty folder; at no time is there half of what belongs into it.

    Parameters
    ----------
    folder : str or path
        Where to; made if it does not exist.
    fill : callable
        Writes into an empty folder beside; what it wrote is then renamed.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written.

    Examples
    --------
    >>> there = Path(tempfile.mkdtemp()) / "bench"
    >>> new_folder(there, lambda empty: write_lines(empty / "a.csv", ["hours,output"])) == there
    True
    """
    target, advice = Path(folder), "Name a new folder."
    made = False
    try:
        taken = target.exists() and (not target.is_dir() or any(target.iterdir()))
        if not taken:
            made = not target.exists()
            target.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".", dir=target) as beside:
                fill(Path(beside))
                for path in sorted(Path(beside).iterdir(), reverse=True):  # a manifest after its files
                    path.rename(target / path.name)
    except (OSError, ValueError) as error:
        if made and target.is_dir() and not any(target.iterdir()):
            target.rmdir()
        found = getattr(error, "strerror", None) or str(error)
        if isinstance(error, BenchError):  # of a file inside
            found = error.faults[0].found
        raise BenchError(target, [Fault(found, "a folder that can be written", advice)]) from error
    if taken:
        raise BenchError(target, [Fault("something there already", "a new or an empty folder", advice)])
    return target


def write_frame(path: Path, title: str, counts: xr.DataArray) -> None:
    """Write raw counts (..., wavelength) [1].

    Examples
    --------
    >>> write_frame(Path(tempfile.mkdtemp()) / "a.csv", "a frame", spectrum([1, 2], [364.0, 365.0], "counts"))
    """
    write_spectra(path, counts, {"title": title, "note": INVENTED})


def write_curve(path: Path, title: str, points: Vector, values: Vector, quantity: str) -> None:
    """Write a curve of the truth (FINE,) at some wavelengths [nm], in six digits.

    Examples
    --------
    >>> path = Path(tempfile.mkdtemp()) / "a.csv"
    >>> write_curve(path, "a curve", np.array([365.0, 405.0]), FINE / 1000, "transmittance")
    >>> path.read_text().splitlines()[-1]
    '405,0.405'
    """
    rounded = [float(f"{value:.6g}") for value in np.interp(points, FINE, values)]
    write_spectra(path, spectrum(rounded, points, quantity), {"title": title, "note": INVENTED})


def write_table(path: Path, title: str, heading: str, rows: Iterable[str], *facts: str) -> None:
    """Write a table as people keep them, with facts above it.

    Examples
    --------
    >>> path = Path(tempfile.mkdtemp()) / "a.csv"
    >>> write_table(path, "readings", "time [s],irradiance [mW/cm^2]", ["0,431.0"], "head: A-0113")
    >>> path.read_text().splitlines()[2]
    '# head: A-0113'
    """
    above = [f"# title: {title}", f"# note: {INVENTED}", *(f"# {fact}" for fact in facts)]
    write_lines(path, [*above, heading, *rows])


def write_relative(path: Path, title: str, points: Vector, values: Vector, heading: str) -> None:
    """Write a relative curve of the truth (FINE,) [1] at some wavelengths [nm], as certificates have it.

    Examples
    --------
    >>> path = Path(tempfile.mkdtemp()) / "a.csv"
    >>> write_relative(path, "its response", np.array([365.0]), FINE / 365, "relative response")
    >>> path.read_text().splitlines()[-2:]
    ['wavelength [nm],relative response [1]', '365,1']
    """
    rows = zip(points, np.interp(points, FINE, values), strict=True)
    write_table(path, title, f"wavelength [nm],{heading} [1]", [f"{at:g},{value:.6g}" for at, value in rows])


def write_lines(path: Path, lines: list[str]) -> None:
    """Write lines of text, the same on every system.

    Examples
    --------
    >>> write_lines(Path(tempfile.mkdtemp()) / "a.csv", ["hours,output"])
    """
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
