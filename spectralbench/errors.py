"""What can go wrong, said so that somebody can act on it.

A fault names what was found, where, what was expected and what to do. An error carries all
faults of one file or one call together, so that nobody repairs a file one line at a time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from os import PathLike, fspath

_SHOWN = 12  # faults printed in full; the rest are counted


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with a file.

    Parameters
    ----------
    found : str
        What is there, quoted from the file where that is possible.
    expected : str
        What should be there.
    advice : str
        What to do about it.
    line, column : int, optional
        Where it stands in the file. Both count from 1; the column counts fields of a table.
    key : str
        The key of a manifest, as a dotted path.
    file : str
        The file, where one error speaks of several.
    """

    found: str
    expected: str
    advice: str = ""
    line: int | None = None
    column: int | None = None
    key: str = ""
    file: str = ""

    def within(self, file: str, key: str, key_line: int | None) -> Fault:
        """Say also where the manifest names the file.

        Parameters
        ----------
        file : str
            The file in which the fault was found.
        key : str
            The key of the manifest that names it.
        key_line : int or None
            The line of that key.

        Returns
        -------
        Fault
            The same fault with its place in both files.

        Examples
        --------
        >>> str(Fault('"abc"', "a number", line=7).within("raw/led.csv", "source.1.frame", 30))
        'raw/led.csv (source.1.frame, line 30), line 7: found "abc"; expected a number'
        """
        named = key if key_line is None else f"{key}, line {key_line}"
        return replace(self, file=f"{printable(file)} ({named})")

    def __str__(self) -> str:
        place = [self.file] if self.file else []
        if self.line is not None:
            place.append(f"line {self.line}")
        if self.column is not None:
            place.append(f"column {self.column}")
        if self.key:
            place.append(self.key)
        where = ", ".join(place)
        text = f"found {self.found}; expected {self.expected}"
        if self.advice:
            text += f". {self.advice}"
        return f"{where}: {text}" if where else text


class SpectralBenchError(Exception):
    """Parent of every error that the package raises on purpose."""


class _FileError(SpectralBenchError):
    """Faults of one file, all together."""

    saying = "cannot be used"

    def __init__(self, path: str | PathLike[str], faults: Iterable[Fault]) -> None:
        self.path = fspath(path)
        self.faults: Sequence[Fault] = tuple(faults)
        super().__init__(self.path, self.faults)

    def __str__(self) -> str:
        count = len(self.faults)
        name = printable(self.path)
        if count == 1:
            return f"{name} {self.saying}: {self.faults[0]}"
        lines = [f"{name} {self.saying}, {count} faults:"]
        lines += [f"  {fault}" for fault in self.faults[:_SHOWN]]
        if count > _SHOWN:
            lines.append(f"  and {count - _SHOWN} more")
        return "\n".join(lines)


class ReadError(_FileError, ValueError):
    """A data file that cannot be read."""

    saying = "cannot be read"


class BenchError(_FileError, ValueError):
    """A bench folder, its manifest or a place for results that cannot be used."""

    saying = "cannot be used as it is"


class UnitsError(SpectralBenchError, ValueError):
    """A value in a unit that cannot be converted to the declared one."""


class GridError(SpectralBenchError, ValueError):
    """Wavelength grids that are unordered, or that should be equal and are not."""


class RangeError(SpectralBenchError, ValueError):
    """A value outside the range in which the answer means something."""


def quote(text: object, length: int = 40) -> str:
    """Quote a piece of a file in a message, cut to a readable length.

    Parameters
    ----------
    text : object
        The piece; anything that is no text is shown by its ``str``.
    length : int
        Characters shown before the cut.

    Returns
    -------
    str
        The piece in double quotes, with control characters escaped.

    Examples
    --------
    >>> quote("twelve")
    '"twelve"'
    """
    shown = printable(str(text))
    if len(shown) > length:
        shown = shown[: length - 1] + "…"
    return f'"{shown}"'


def printable(text: str) -> str:
    r"""Escape what would break a line or hide in it.

    Parameters
    ----------
    text : str
        Any text, such as a file name with a line break in it.

    Returns
    -------
    str
        The text on one line.

    Examples
    --------
    >>> printable("two\nlines")
    'two\\nlines'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
