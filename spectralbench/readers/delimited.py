"""Delimited text, as people and instruments save it, as a dataset."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.errors import Fault, ReadError
from spectralbench.model import COORDINATES, QUANTITIES
from spectralbench.readers import header, plain_text
from spectralbench.readers.axis import OWN_UNITS, Axis, read_axis
from spectralbench.readers.choices import Choices
from spectralbench.readers.columns import Columns, read_columns
from spectralbench.readers.content import Content
from spectralbench.readers.description import described
from spectralbench.readers.dialect import DELIMITERS, blank
from spectralbench.readers.headings import Heading, heading, normal
from spectralbench.readers.layout import Layout, lay_out, sign
from spectralbench.readers.table import Table, parse

FORMAT = "delimited text"


def read_delimited(content: Content, choices: Choices) -> xr.Dataset:
    """Read delimited text.

    Parameters
    ----------
    content : Content
        The file as it was loaded.
    choices : Choices
        What the caller says of the file.

    Returns
    -------
    xarray.Dataset
        Values by quantity; ``attrs`` say how the file was read.

    Raises
    ------
    ReadError
        With all faults of the file.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> read_delimited(load("reference_curves/actinic.csv"), Choices()).attrs["format"]
    'spectralbench plain text'
    """
    lines = content.text.split("\n")
    layout = lay_out(lines, content.path)
    table = parse(lines, layout)
    if table.faults:
        other = lay_out(lines, content.path, thorough=True)
        if other != layout:
            layout, table = other, parse(lines, other)
    line = None if layout.heading is None else layout.heading + 1
    found = header.entries(lines, layout)
    headings = _headings(layout, found)
    axis = read_axis(
        table,
        layout.names[0] if layout.names else "",
        layout.units[0] if layout.units else None,
        line,
    )
    columns = read_columns(table.values, headings, choices.quantity, choices.units, line)
    integration_time, faults = header.integration_time(found, layout.dialect.decimal)
    faults = [*table.faults, *axis.faults, *columns.faults, *faults, *_shape_faults(table, columns)]
    if faults:
        raise ReadError(content.path, sorted(faults, key=lambda fault: fault.line or 0))
    warnings = [*axis.warnings, *columns.warnings]
    scalars: dict[str, Any] = {}
    if integration_time is not None:
        scalars["integration_time"] = ((), integration_time, COORDINATES["integration_time"]._asdict())
    if axis.name != "time":
        time, remarks = header.time(found)
        warnings += remarks
        if time is not None:
            scalars["time"] = time
    dataset = _dataset(axis, columns, scalars)
    return _described(dataset, content, lines, layout, found, axis, columns, warnings)


def _headings(layout: Layout, found: Sequence[header.Entry]) -> list[Heading]:
    """What the file says of each value column: in the heading, or else in the header."""
    keys = {normal(entry.key): entry.value for entry in found}
    general = heading(keys.get("quantity", "")).quantity
    names = layout.names or ("",) * layout.dialect.columns
    headings = []
    for number in range(1, layout.dialect.columns):
        head = heading(names[number])
        if layout.units and head.units is None:
            told = heading(f"{names[number]} [{layout.units[number]}]")
            head = told._replace(text=head.text)
        if not head.quantity and general:
            head = head._replace(quantity=general, units=head.units or keys.get("unit", keys.get("units")))
        headings.append(head)
    return headings


def _shape_faults(table: Table, columns: Columns) -> list[Fault]:
    faults = []
    if len(table.lines) < 2:
        found = f"{len(table.lines)} row{'s' * (len(table.lines) != 1)} of numbers"
        faults.append(Fault(found, "two rows or more", "Was the measurement saved whole?"))
    several = {name: len(array) for name, array in columns.values.items() if len(array) > 1}
    if len(set(several.values())) > 1:
        found = " and ".join(f"{count} columns of {name}" for name, count in several.items())
        faults.append(Fault(found, "as many of each", "Split the file into one for each quantity"))
    return faults


def _dataset(axis: Axis, columns: Columns, scalars: dict[str, Any]) -> xr.Dataset:
    step = slice(None, None, -1 if axis.descending else 1)
    several = [name for name, array in columns.values.items() if len(array) > 1]
    variables = {}
    for name, array in columns.values.items():
        values = np.ascontiguousarray(array[:, step])
        dimensions = ("spectrum", axis.name) if name in several else (axis.name,)
        long_name = QUANTITIES[name].long_name if name in QUANTITIES else columns.labels[name][0]
        attributes = {"units": columns.units[name], "long_name": long_name}
        variables[name] = (dimensions, values if name in several else values[0], attributes)
    attributes = {} if axis.values.dtype.kind == "M" else {"units": OWN_UNITS[axis.name]}
    if axis.name in COORDINATES:
        attributes["long_name"] = COORDINATES[axis.name].long_name
    along = (axis.name, np.ascontiguousarray(axis.values[step]), attributes)
    coordinates: dict[str, Any] = {**scalars, axis.name: along}
    if several:
        coordinates["spectrum"] = ("spectrum", _labels([columns.labels[name] for name in several]), {})
    return xr.Dataset(variables, coordinates)


def _labels(by_quantity: Sequence[Sequence[str]]) -> list[str] | list[int]:
    """Labels of the spectra: as named in the file if that tells them apart, otherwise 1, 2, 3."""
    labels = list(by_quantity[0])
    if any(list(other) != labels for other in by_quantity) or len({*labels, ""}) <= len(labels):
        return list(range(1, len(labels) + 1))
    if all(label.isascii() and label.isdigit() and str(int(label[:18])) == label for label in labels):
        return [int(label) for label in labels]
    return labels


def _described(
    dataset: xr.Dataset,
    content: Content,
    lines: Sequence[str],
    layout: Layout,
    found: Sequence[header.Entry],
    axis: Axis,
    columns: Columns,
    warnings: list[str],
) -> xr.Dataset:
    own = plain_text.is_plain_text(lines, layout) and not content.guessed
    if content.guessed and not content.text.isascii():
        warnings.append("the file is not in UTF-8: letters beyond ASCII were read as Latin-1")
    rows = layout.rows if isinstance(layout.rows, range) else set(layout.rows)
    left_out = [str(i + 1) for i in range(layout.first, len(lines)) if i not in rows and not blank(lines[i])]
    if left_out:
        warnings.append(f"comments inside the table were left out: line {', '.join(left_out)}")
    for name, samples in columns.values.items():
        if count := int(np.isnan(samples).sum()):
            warnings.append(f"{count} values of {name} are marked invalid: what depends on them is not known")
    if len(columns.decisions) > max(len(rows), 3):
        warnings.append("there are more columns than rows: is the table turned?")
    delimiter = DELIMITERS[layout.dialect.delimiter]
    if layout.comma_twice:
        delimiter = "comma, which is the decimal sign as well"
    padding = layout.dialect.padding
    signs = {sign(line) for line in lines[: layout.first]}
    heading_line = "none" if layout.heading is None else f"line {layout.heading + 1}"
    order = "descending, turned round" if axis.descending else "ascending"
    decisions = [
        f"encoding: {content.encoding}",
        f"delimiter: {delimiter}",
        *([f"empty fields at the end of each row, left out: {padding}"] if padding else []),
        f"decimal sign: {'comma' if layout.dialect.decimal == ',' else 'point'}",
        f"comment sign: {' '.join(sorted(signs - {''})) or 'none'}",
        f"header: {layout.first} lines before the table; column names: {heading_line}",
        axis.decision,
        *columns.decisions,
        f"order: {order}",
    ]
    steps = [*axis.history, *columns.history]
    if axis.descending:
        steps.append(f"sorted by ascending {axis.name}")
    return described(
        dataset,
        content,
        layout=plain_text.FORMAT if own else FORMAT,
        header=[(entry.key, entry.value) for entry in found],
        decisions=decisions,
        warnings=warnings,
        steps=steps,
    )
