"""A file as a dataset, by the layout that its content shows."""

from __future__ import annotations

from collections.abc import Callable
from os import PathLike
from typing import NamedTuple

import xarray as xr

from spectralbench.errors import ReadError
from spectralbench.readers import jcamp, tm27
from spectralbench.readers.choices import Choices, Scale, checked
from spectralbench.readers.content import Content, beginning, load
from spectralbench.readers.delimited import read_delimited
from spectralbench.readers.layout import lay_out
from spectralbench.readers.on_disk import refusal
from spectralbench.readers.table import parse


class _Layout(NamedTuple):
    """A layout that says of itself what it is."""

    name: str
    recognises: Callable[[Content], bool]
    read: Callable[[Content, Choices], xr.Dataset | xr.DataTree]


_LAYOUTS = (
    _Layout("JCAMP-DX", jcamp.recognises, jcamp.read_jcamp),
    _Layout("XML", tm27.recognises, tm27.read_tm27),
)  # what none of them recognises is delimited text


def read(
    path: str | PathLike[str],
    *,
    quantity: str | None = None,
    units: str | None = None,
    encoding: str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    heading: int | None = None,
    first_row: int | None = None,
    axis: str | None = None,
    axis_column: int | None = None,
    axis_units: str | None = None,
    scale: Scale | None = None,
) -> xr.Dataset | xr.DataTree:
    """Read a file of spectra, or a log.

    The layout is found by content, never by the name of the file. Every decision can be seen in
    ``attrs["decisions"]``, and made by the caller instead.

    Parameters
    ----------
    path : str or path-like
        A text file, which may be compressed with gzip: JCAMP-DX, IES TM-27, or delimited text
        with one axis (wavelength, time, hours or position) and one or more columns of values.
    quantity : str, optional
        Name from `spectralbench.model.QUANTITIES` of what the values are, where the file does
        not say it or says it wrongly.
    units : str, optional
        Unit of the values in the file, where the file does not say it or says it wrongly.
    encoding : str, optional
        How the letters of the file are written, such as ``"cp1252"``.
    delimiter : {",", ";", "tab", "blanks"}, optional
        What stands between the columns of delimited text: the sign, or its name.
    decimal : {".", ","}, optional
        The decimal sign.
    heading : int, optional
        The line that names the columns, counted from 1; 0 if none does.
    first_row : int, optional
        The line at which the table begins, counted from 1.
    axis : str, optional
        What the axis of the table is, such as ``"wavelength"``.
    axis_column : int, optional
        The column that holds it, counted from 1.
    axis_units : str, optional
        Its unit.
    scale : {"linear", "log10"}, optional
        Whether the values are themselves or their decadic logarithm.

    Returns
    -------
    xarray.Dataset (wavelength,) or (spectrum, wavelength), or xarray.DataTree
        One variable for each quantity, in the package's own units; wavelengths [nm] ascending.
        ``attrs`` keep the file's header, the hash of its bytes, how it was read (``decisions``)
        and what a person should know (``warnings``), as texts; lists are JSON. A tree comes back
        only from a file that holds unlike spectra, with a node for each.

    Raises
    ------
    ReadError
        With all faults of the file: what was found, where, what was expected, what to do.
    RangeError
        If a choice is none that the package knows, or the path is none.
    UnitsError
        If a unit is none.

    Examples
    --------
    >>> dataset = read("reference_curves/actinic.csv")
    >>> dataset.wavelength.units
    'nm'
    """
    choices = checked(
        Choices(
            quantity,
            units,
            encoding,
            delimiter,
            decimal,
            heading,
            first_row,
            axis,
            axis_column,
            axis_units,
            scale,
        )
    )
    return from_content(load(path, choices.encoding), choices)


def from_content(content: Content, choices: Choices) -> xr.Dataset | xr.DataTree:
    """Read a file that was loaded, by the layout that its content shows.

    Parameters
    ----------
    content : Content
        The file.
    choices : Choices
        What the caller says of it, checked.

    Returns
    -------
    xarray.Dataset or xarray.DataTree
        As from `read`.

    Raises
    ------
    ReadError
        With all faults of the file.

    Examples
    --------
    >>> from_content(load("reference_curves/actinic.csv"), Choices()).sizes["wavelength"] > 1
    True
    """
    layout = next((layout for layout in _LAYOUTS if layout.recognises(content)), None)
    if layout is None:
        return read_delimited(content, choices)
    if others := choices.of_delimited_text():
        found = f"{layout.name}, and the choice of {' and '.join(others)}"
        raise refusal(content.path, found, "choices that its layout leaves open", "Leave them out")
    return layout.read(content, choices)


def only_dataset(result: xr.Dataset | xr.DataTree, path: str | PathLike[str], advice: str) -> xr.Dataset:
    """What came of a file, where a tree of unlike spectra is of no use.

    Parameters
    ----------
    result : xarray.Dataset or xarray.DataTree
        From `read`.
    path : str or path-like
        The file.
    advice : str
        What to do about a tree.

    Returns
    -------
    xarray.Dataset
        The same dataset.

    Raises
    ------
    ReadError
        If it is a tree.

    Examples
    --------
    >>> only_dataset(xr.DataTree.from_dict({"/block_1": xr.Dataset()}), "a.jdx", "Read on")
    Traceback (most recent call last):
    spectralbench.errors.ReadError: a.jdx cannot be read: found 1 blocks that hold unlike spectra; ...
    """
    if isinstance(result, xr.Dataset):
        return result
    found = f"{len(result.children)} blocks that hold unlike spectra"
    raise refusal(path, found, "spectra of one kind", advice)


def is_delimited(content: Content) -> bool:
    """Tell whether a file would be read as delimited text, since nothing else claims it.

    Parameters
    ----------
    content : Content
        The file.

    Returns
    -------
    bool
        Whether no layout recognises it.

    Examples
    --------
    >>> is_delimited(load("reference_curves/actinic.csv"))
    True
    """
    return not any(layout.recognises(content) for layout in _LAYOUTS)


def looks_readable(path: str | PathLike[str]) -> bool:
    """Tell by its first lines whether a file has one of the layouts that `read` knows.

    Parameters
    ----------
    path : str or path-like
        Anything that may be the name of a file.

    Returns
    -------
    bool
        Whether it begins like such a file; there may be faults further down.

    Examples
    --------
    >>> looks_readable("reference_curves/actinic.csv"), looks_readable("pyproject.toml")
    (True, False)
    """
    content = beginning(path)
    return content is not None and (not is_delimited(content) or _has_table(content))


def _has_table(content: Content) -> bool:
    lines = content.text.split("\n")
    try:
        layout = lay_out(lines, content.path)
    except ReadError:
        return False
    table = parse(lines, layout)
    return not table.faults and len(table.lines) >= 2
