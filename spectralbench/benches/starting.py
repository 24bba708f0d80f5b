"""What somebody starts from: a bench folder that explains itself, or a notebook that runs already."""

from __future__ import annotations

import tempfile
from itertools import count
from os import PathLike
from pathlib import Path

from spectralbench.benches.first_manifest import FIRST_MANIFEST
from spectralbench.benches.manifest import MANIFEST
from spectralbench.errors import BenchError, Fault, RangeError, quote

TEMPLATES = {
    "bench_spectra": "Spectra of a source: from raw files to irradiance and figures with intervals",
    "housing_material": "A new housing material: transmittance, thickness, what each source brings behind it",
    "which_source": "Which source: a bench folder to the comparison and what to test first",
}
"""Notebooks to start from, by the names of their files, and what each is for."""

_FOLDER = Path(__file__).parents[1] / "notebook_templates"


def start_bench(folder: str | PathLike[str]) -> Path:
    """Start a bench in a new or empty folder: a manifest that explains itself, and a place for raw files.

    Parameters
    ----------
    folder : str or path
        Where to; made if it does not exist.

    Returns
    -------
    pathlib.Path
        The folder, with ``bench.toml`` and an empty ``raw/``.

    Raises
    ------
    BenchError
        If the folder is not empty or cannot be written; then it is as it was.

    Notes
    -----
    Every value of the manifest is a placeholder and says so. `spectralbench.open_bench` lists the raw
    files that are missing.

    Examples
    --------
    >>> import tempfile
    >>> folder = start_bench(Path(tempfile.mkdtemp()) / "bench")
    >>> sorted(path.name for path in folder.iterdir())
    ['bench.toml', 'raw']
    """
    target = Path(folder)
    made: list[Path] = []
    try:
        taken = target.is_symlink() or (target.exists() and (not target.is_dir() or any(target.iterdir())))
        if not taken:
            made = _make(target)
            _fill(target)
    except (OSError, ValueError) as error:  # a name with a null byte is a ValueError
        _take_back(made)
        raise BenchError(target, [_unwritable(error)]) from error
    if taken:
        expected = "a new or an empty folder"
        raise BenchError(target, [Fault("something there already", expected, "Name a new folder.")])
    return target


def start_notebook(template: str, folder: str | PathLike[str]) -> Path:
    """Put a notebook to start from into a folder, under a name that is free.

    Parameters
    ----------
    template : {"bench_spectra", "housing_material", "which_source"}
        Which one.
    folder : str or path
        Where to; made if it does not exist.

    Returns
    -------
    pathlib.Path
        The notebook.

    Raises
    ------
    RangeError
        If there is no such template.
    BenchError
        If the folder cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.mkdtemp()
    >>> [start_notebook("which_source", folder).name for _ in range(2)]
    ['which_source.ipynb', 'which_source_2.ipynb']
    """
    if template not in TEMPLATES:
        raise RangeError(f"there is no notebook {quote(template)} to start from, only {', '.join(TEMPLATES)}")
    target = Path(folder)
    made: list[Path] = []
    try:
        text = (_FOLDER / f"{template}.ipynb").read_bytes()
        made = _make(target)
        for number in count(1):
            path = target / f"{template}{'' if number == 1 else f'_{number}'}.ipynb"
            try:
                file = path.open("xb")
            except FileExistsError:
                continue
            try:
                with file:
                    file.write(text)
            except OSError:
                path.unlink()
                raise
            break
    except (OSError, ValueError) as error:
        _take_back(made)
        raise BenchError(target, [_unwritable(error)]) from error
    return path


def _make(target: Path) -> list[Path]:
    """Make a folder and those above it that are missing; which were made, innermost first."""
    missing = [place for place in (target, *target.parents) if not place.exists()]
    target.mkdir(parents=True, exist_ok=True)
    return missing


def _fill(target: Path) -> None:
    """Write beside, inside the folder, then rename: at no time is there half a manifest."""
    with tempfile.TemporaryDirectory(prefix=".", dir=target) as beside:
        (manifest := Path(beside) / MANIFEST).write_text(FIRST_MANIFEST, encoding="utf-8", newline="\n")
        (target / "raw").mkdir()
        try:
            manifest.rename(target / MANIFEST)
        except OSError:
            (target / "raw").rmdir()
            raise


def _take_back(made: list[Path]) -> None:
    for place in made:
        if place.is_dir() and not any(place.iterdir()):
            place.rmdir()


def _unwritable(error: Exception) -> Fault:
    found = getattr(error, "strerror", None) or str(error)
    return Fault(found, "a folder that can be written", "Name another folder.")
