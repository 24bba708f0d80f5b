"""Many files of one kind, read side by side."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from os import PathLike, fsdecode
from typing import Any

import xarray as xr

from spectralbench.errors import RangeError, ReadError, printable, quote
from spectralbench.readers.alike import Pattern, pattern_of, read_alike
from spectralbench.readers.choices import Choices, checked
from spectralbench.readers.content import Content, as_text
from spectralbench.readers.cores import cores, shared_out
from spectralbench.readers.delimited import put_together, take_apart
from spectralbench.readers.on_disk import stored
from spectralbench.readers.reading import from_content, is_delimited, only_dataset
from spectralbench.readers.rows import Rows
from spectralbench.readers.stack import Part, part_of, stacked

_TURN = 4000  # files that are shared out at a time
_PAYS = 100  # files for each core: starting a process takes as long as reading some dozens
_PAYS_ALIKE = 150  # files written alike take a tenth of the time, and their numbers have to be sent
_REMEMBERED = 4  # ways of writing that take turns in one list of files


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
            f"{printable(fsdecode(paths))} is one path; expected a list of paths. One file is for read"
        )
    given: list[Any] = list(paths)
    if strange := [path for path in given if not isinstance(path, str | os.PathLike)]:
        raise RangeError(f"{quote(strange[0])} among the paths is no path but a {type(strange[0]).__name__}")
    names = [fsdecode(path) for path in given]
    if not names:
        raise RangeError("there is no file to read: the list of paths is empty")
    chosen = checked(Choices(**choices))
    with _watched(progress, len(names)) as report:
        series = _Series(names, chosen)
        results = _all(series, report)
    if bad := [result for result in results if isinstance(result, ReadError)]:
        raise _together(bad, len(names))
    return stacked([result for result in results if isinstance(result, Part)], series.rows)


def _all(series: _Series, report: Callable[[int], object]) -> list[Part | ReadError]:
    """Read every file, in turns, each of them shared out over the cores."""
    results = [series.first()]  # shows how the others may be written
    report(1)
    count = len(series.names)
    while len(results) < count:
        done = len(results)
        turn = range(done, min(done + _TURN, count))
        pays = _PAYS_ALIKE if series.patterns else _PAYS
        results += shared_out(series.read, turn, lambda more: report(done + more), pays)  # noqa: B023
    return results


class _Series:
    """Reads file after file, and remembers how the last ones were written."""

    def __init__(self, names: Sequence[str], choices: Choices) -> None:
        self.names = names
        self.choices = choices
        self.patterns: list[Pattern] = []
        self.rows: Rows | None = None

    def first(self) -> Part | ReadError:
        """Read the first file, and make room for the numbers of all if they may be like it."""
        result = self.read(0)
        if isinstance(result, Part) and self.patterns and len(result.values) == 1:
            count = len(self.names)
            with suppress(OSError):  # no such memory: then numbers are sent and stacked
                self.rows = Rows(count, *result.values.values(), shared=cores(count // _PAYS_ALIKE) > 1)
            result = result._replace(values=dict(result.values))  # the pattern keeps its own
            self._into_its_row(0, result)
        return result

    def read(self, place: int) -> Part | ReadError:
        try:
            file = stored(self.names[place])
            for pattern in self.patterns:
                part = read_alike(file, pattern, self.choices)
                if part is not None:
                    self._into_its_row(place, part)
                    return part
            return self._carefully(as_text(file, self.choices.encoding))
        except ReadError as error:
            return error

    def _into_its_row(self, place: int, part: Part) -> None:
        """Take the numbers out of a part, if there is room for them where those of all files stand."""
        if self.rows is not None and len(part.values) == 1 and self.rows.put(place, *part.values.values()):
            part.values.clear()

    def _carefully(self, content: Content) -> Part:
        if is_delimited(content):
            parts = take_apart(content, self.choices)
            dataset = put_together(parts, content)
            pattern = pattern_of(parts, dataset, content)
            if pattern is None:
                return part_of(content.path, dataset)
            self.patterns = [pattern, *self.patterns][:_REMEMBERED]
            return pattern.like
        result = from_content(content, self.choices)
        return part_of(content.path, only_dataset(result, content.path, "Read this file by itself"))


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
