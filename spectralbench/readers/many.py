"""Many files of one kind, read side by side."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from os import PathLike, fsdecode
from typing import Any

import xarray as xr

from spectralbench.errors import Fault, RangeError, ReadError, printable, quote
from spectralbench.readers.choices import Choices, checked
from spectralbench.readers.content import load
from spectralbench.readers.reading import from_content
from spectralbench.readers.stack import Part, part_of, stacked

_WORKERS = 2  # while one waits for a disk or makes a hash, the other takes numbers apart


def read_many(
    paths: Iterable[str | PathLike[str]],
    *,
    progress: bool | Callable[[int, int], object] | None = None,
    **choices: Any,
) -> xr.Dataset:
    """Read many files of one kind, and stack them along ``spectrum`` in the order given.

    Parameters
    ----------
    paths : iterable of str or path-like
        The files; each holds one spectrum or several, all of them on the same wavelengths.
    progress : bool or callable, optional
        Whether to show a bar, by default on a terminal only; or a function that is called with
        the number of files read and that of all files.
    **choices : str or int
        As for `spectralbench.read`, the same for all files.

    Returns
    -------
    xarray.Dataset (spectrum, wavelength)
        One variable for each quantity. Along ``spectrum`` stand the labels, the ``file``, its
        ``sha256``, and whatever single numbers, times and texts the files state, such as
        ``integration_time`` [s]. ``attrs`` keep what the files share, and what they do not by
        file (``headers``).

    Raises
    ------
    ReadError
        With the faults of all files together.
    GridError
        If a file has other wavelengths than most files have; by any difference, however small.
    RangeError
        If there is no file, if files hold different quantities, or if a choice is none.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from spectralbench import spectrum, write_spectra
    >>> folder = Path(tempfile.mkdtemp())
    >>> for k in (1, 2):
    ...     write_spectra(folder / f"scan {k}.csv", spectrum([k, 2 * k], [365.0, 366.0], "counts"))
    >>> read_many(sorted(folder.iterdir())).counts.values.tolist()
    [[1.0, 2.0], [2.0, 4.0]]
    """
    if isinstance(paths, str | os.PathLike):
        raise RangeError(
            f"{quote(fsdecode(paths), 80)} is one path; expected a list of paths. One file is for read"
        )
    names = [fsdecode(path) for path in paths]
    if not names:
        raise RangeError("there is no file to read: the list of paths is empty")
    chosen = checked(Choices(**choices))
    parts: list[Part] = []
    bad: list[ReadError] = []
    with _watched(progress, len(names)) as report, ThreadPoolExecutor(_WORKERS) as pool:
        for done, result in enumerate(pool.map(lambda name: _read(name, chosen), names), 1):
            (parts if isinstance(result, Part) else bad).append(result)  # type: ignore[arg-type]
            report(done)
    if bad:
        raise _together(bad, len(names))
    return stacked(parts)


def _read(name: str, choices: Choices) -> Part | ReadError:
    try:
        dataset = from_content(load(name, choices.encoding), choices)
    except ReadError as error:
        return error
    if isinstance(dataset, xr.DataTree):
        found = f"{len(dataset.children)} blocks that hold unlike spectra"
        return ReadError(name, [Fault(found, "spectra of one kind", "Read this file by itself")])
    return part_of(name, dataset)


def _together(bad: Sequence[ReadError], count: int) -> ReadError:
    """The errors of several files as one."""
    if len(bad) == 1:
        return bad[0]
    faults = [replace(fault, file=printable(error.path)) for error in bad for fault in error.faults]
    return ReadError(f"{len(bad)} of {count} files", faults)


@contextmanager
def _watched(
    progress: bool | Callable[[int, int], object] | None, count: int
) -> Iterator[Callable[[int], object]]:
    """Something to tell how many files are done."""
    if callable(progress):
        yield lambda done: progress(done, count)
    elif progress or (progress is None and sys.stderr.isatty()):
        from rich.console import Console
        from rich.progress import MofNCompleteColumn, Progress, TimeRemainingColumn

        console = Console(stderr=True)
        columns = (*Progress.get_default_columns()[:2], MofNCompleteColumn(), TimeRemainingColumn())
        with Progress(*columns, console=console, transient=console.is_terminal) as bar:
            task = bar.add_task("reading files", total=count)
            yield lambda done: bar.update(task, completed=done)
    else:
        yield lambda done: None
