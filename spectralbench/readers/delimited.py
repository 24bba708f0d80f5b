"""Delimited text, as people and instruments save it, as a dataset."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from spectralbench.errors import Fault, ReadError
from spectralbench.model import COORDINATES, QUANTITIES
from spectralbench.readers import header, plain_text
from spectralbench.readers.axis import Axis, read_axis, stated_against
from spectralbench.readers.choices import Choices
from spectralbench.readers.column_names import sign, starts_row
from spectralbench.readers.columns import UNCERTAINTY, Columns, read_columns
from spectralbench.readers.content import Content
from spectralbench.readers.description import described
from spectralbench.readers.dialect import blank, thousands, unbroken
from spectralbench.readers.headings import Heading, heading, normal
from spectralbench.readers.last_number import cut_short
from spectralbench.readers.layout import Layout, lay_out
from spectralbench.readers.order import across, beginnings, several_tables, without_repeats
from spectralbench.readers.readings import Readings, band_limits, readings
from spectralbench.readers.roles import LOGS, Roles, heading_of, roles
from spectralbench.readers.table import Table, parse

FORMAT = "delimited text"
_OPENING = 20  # characters of a line in which the sign is sought that opens it


class Parts(NamedTuple):
    """What was found in a file, part by part."""

    lines: Sequence[str]
    layout: Layout
    table: Table
    found: Sequence[header.Entry]
    roles: Roles
    axis: Axis
    headings: dict[int, Heading]
    columns: Columns
    readings: Readings
    scalars: dict[str, Any]
    warnings: list[str]


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
    parts = take_apart(content, choices)
    return put_together(parts, content)


def take_apart(content: Content, choices: Choices) -> Parts:
    """Find out what a file of delimited text holds.

    Parameters
    ----------
    content, choices
        As for `read_delimited`.

    Returns
    -------
    Parts
        What was found.

    Raises
    ------
    ReadError
        With all faults of the file.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> take_apart(load("reference_curves/actinic.csv"), Choices()).axis.name
    'wavelength'
    """
    lines = content.text.split("\n")
    if '"' in content.text:
        lines = unbroken(lines)
    layout = lay_out(lines, content.path, choices=choices)
    table = parse(lines, layout)
    if table.faults:
        other = lay_out(lines, content.path, choices=choices, thorough=True)
        if other._replace(how=layout.how) != layout:
            layout, table = other, parse(lines, other)
    if table.faults:
        _require_one_table(content.path, lines, layout, table)
    purposes = roles(layout, table, choices)
    free = not (choices.axis or choices.axis_column or choices.heading)
    if free and purposes.kind in ("", "wavelength") and (turned := across(lines, layout, table)):
        raise ReadError(content.path, turned)
    notes: list[str] = []
    if purposes.kind in ("", "wavelength") and purposes.column not in table.times:
        table, notes = without_repeats(table, purposes.column)
    found = header.entries(lines, layout)
    time, remarks = header.time(found)
    axis = read_axis(table, layout, purposes, choices, time)
    headings = _headings(layout, purposes, found)
    line = None if layout.heading is None else layout.heading + 1
    columns = read_columns(table.values, headings, choices, line)
    beside = readings(found, layout, table, purposes, axis.name)
    integration_time, faults = header.integration_time(found, layout.dialect.decimal, axis.name)
    scalars = {**header.stated(integration_time, None), **beside.scalars}
    warnings = [*purposes.warnings, *axis.warnings, *columns.warnings, *beside.warnings, *notes]
    warnings += cut_short(lines, layout)
    if axis.name == "wavelength" and "irradiance" in columns.values:
        warnings.append(
            "irradiance in a unit without per nm stands against wavelength: if it is spectral, "
            "correct its unit, such as W m-2 nm-1"
        )
    if axis.name != "time" and "time" not in beside.along:
        warnings += remarks
        scalars |= header.stated(None, time)
    parts = Parts(lines, layout, table, found, purposes, axis, headings, columns, beside, scalars, warnings)
    faults = [
        *table.faults,
        *purposes.faults,
        *axis.faults,
        *([] if purposes.kind or choices.axis_units else stated_against(found)),
        *columns.faults,
        *beside.faults,
        *faults,
        *_shape_faults(parts),
        *([] if table.faults else doubtful(lines, layout.rows, layout, headings, choices)),
    ]
    if faults:
        raise ReadError(content.path, sorted(faults, key=lambda fault: fault.line or 0))
    return parts


def doubtful(
    lines: Sequence[str],
    rows: Sequence[int],
    layout: Layout,
    headings: dict[int, Heading],
    choices: Choices,
) -> list[Fault]:
    """The fault of numbers whose decimal sign may separate thousands, unless the caller chose it.

    Examples
    --------
    >>> lines = ["wavelength;counts", "365;1.203", "366;1.190"]
    >>> layout, headings = lay_out(lines, "example.csv"), {1: heading("counts")}
    >>> doubtful(lines, layout.rows, layout, headings, Choices())[0].found
    '"1.203", in which the point may separate thousands'
    """
    if choices.decimal or layout.comma_twice:
        return []
    counts = [j for j, head in headings.items() if "counts" in (choices.quantity, head.quantity)]
    return thousands(lines, rows, layout.dialect, list(headings), layout.column, counts)


def _require_one_table(path: str, lines: Sequence[str], layout: Layout, table: Table) -> None:
    further = beginnings(lines, layout)
    if not further:
        return
    end = further[0] - 1  # what stands between the two tables is no fault of the first
    while end > layout.first and not starts_row(lines[end - 1], layout.dialect, layout.column):
        end -= 1
    first = layout.first + 1 if layout.heading is None else layout.heading + 1
    faults = [fault for fault in table.faults if (fault.line or 0) <= end]
    raise ReadError(path, [*faults, several_tables(first, further, len(further) + 1)])


def _headings(layout: Layout, purposes: Roles, found: Sequence[header.Entry]) -> dict[int, Heading]:
    """What the file says of each value column: in the heading, or else in the header."""
    keys = {normal(entry.key): entry.value for entry in found}
    general = heading(keys.get("quantity", "")).quantity
    headings = {}
    for j in purposes.values:
        head = heading(heading_of(layout, j))._replace(text=layout.names[j] if layout.names else "")
        if not (head.quantity or head.uncertainty or head.changed) and general:
            head = head._replace(quantity=general, units=head.units or keys.get("unit", keys.get("units")))
        if layout.labels and layout.labels[j]:
            head = head._replace(label=f"{layout.labels[j]} {head.label}".strip())
        headings[j] = head
    return headings


def _shape_faults(parts: Parts) -> list[Fault]:
    faults = []
    layout, table, columns = parts.layout, parts.table, parts.columns
    count = len(table.lines)
    if count < 2 and not (count == 1 and parts.axis.name == "time"):  # a hand-held meter gives one reading
        found = f"{count} row{'s' * (count != 1)} of numbers"
        faults.append(Fault(found, "two rows or more", "Was the measurement saved whole?"))
    several = {name: len(array) for name, array in columns.values.items() if len(array) > 1}
    if len(set(several.values())) > 1:
        found = " and ".join(f"{count} columns of {name}" for name, count in several.items())
        faults.append(Fault(found, "as many of each", "Split the file into one for each quantity"))
    if several and parts.axis.name in LOGS and "channel" in parts.readings.along:
        found = f"a column of channels, and {next(iter(several.values()))} columns of {next(iter(several))}"
        advice = "Keep one column of readings, or one for each channel"
        line = None if layout.heading is None else layout.heading + 1
        faults.append(Fault(found, "one or the other", advice, line))
    along = table.values[:, parts.roles.column]
    for j in parts.roles.pairs:
        differ = np.flatnonzero(along != table.values[:, j])
        if differ.size and not table.faults:
            i = int(differ[0])
            found = f"{table.values[i, j]:.12g} beside {along[i]:.12g}: two grids of wavelengths in one table"
            advice = "Save each pair of columns as a file of its own"
            faults.append(Fault(found, "one grid for all columns", advice, table.lines[i], j + 1))
    if parts.roles.pairs and table.faults:
        found = f"{len(parts.roles.pairs) + 1} pairs of columns, not all of the same length"
        advice = "Save each pair of columns as a file of its own"
        faults.append(Fault(found, "one grid for all columns", advice, table.faults[0].line))
    return faults


def _dataset(parts: Parts) -> xr.Dataset:
    axis, columns = parts.axis, parts.columns
    step = slice(None, None, -1 if axis.descending else 1)
    several = [name for name, array in columns.values.items() if len(array) > 1]
    stacked = "channel" if axis.name in LOGS else "spectrum"
    variables = {}
    for name, array in columns.values.items():
        values = np.ascontiguousarray(array[:, step])
        dimensions = (stacked, axis.name) if name in several else (axis.name,)
        attributes = {"units": columns.units[name], "long_name": _long_name(name, columns.labels[name][0])}
        variables[name] = (dimensions, values if name in several else values[0], attributes)
    coordinates = dict(parts.scalars)
    if several:
        if stacked in coordinates:
            del coordinates[stacked]
            parts.warnings.append(f"the header states one {stacked}, and the table has several, which count")
        labels = _labels([columns.labels[name] for name in several])
        coordinates[stacked] = (stacked, labels, {})
        if stacked == "channel":
            coordinates.update(_bands_of_channels(labels))
    along: list[tuple[str, np.ndarray]] = [*parts.readings.along.items(), (axis.name, axis.values)]
    for name, beside in along:
        attributes = {}
        if name in COORDINATES:
            attributes = COORDINATES[name]._asdict()
            if beside.dtype.kind == "M":
                del attributes["units"]
        coordinates[name] = (axis.name, np.ascontiguousarray(beside[step]), attributes)
    return xr.Dataset(variables, coordinates)


def _long_name(name: str, label: str) -> str:
    quantity = name.removesuffix(UNCERTAINTY)
    if quantity not in QUANTITIES:
        return label
    of = "standard uncertainty of " if quantity != name else ""
    return of + QUANTITIES[quantity].long_name


def _bands_of_channels(labels: Sequence[str] | Sequence[int]) -> dict[str, Any]:
    """The limits of bands, where labels of channels state them."""
    limits = [band_limits(str(label)) for label in labels]
    if not any(limits):
        return {}
    return {
        name: (
            "channel",
            [np.nan if pair is None else pair[side] for pair in limits],
            COORDINATES[name]._asdict(),
        )
        for side, name in enumerate(("band_low", "band_high"))
    }


def _labels(by_quantity: Sequence[Sequence[str]]) -> list[str] | list[int]:
    """Labels of the spectra: as named in the file if that tells them apart, otherwise 1, 2, 3."""
    labels = list(by_quantity[0])
    if any(list(other) != labels for other in by_quantity) or len({*labels, ""}) <= len(labels):
        return list(range(1, len(labels) + 1))
    if all(label.isascii() and label.isdigit() and str(int(label[:18])) == label for label in labels):
        return [int(label) for label in labels]
    return labels


def put_together(parts: Parts, content: Content) -> xr.Dataset:
    """What was found in a file, as a dataset.

    Parameters
    ----------
    parts : Parts
        From `take_apart`.
    content : Content
        The same file.

    Returns
    -------
    xarray.Dataset
        As from `read_delimited`.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> content = load("reference_curves/actinic.csv")
    >>> put_together(take_apart(content, Choices()), content).attrs["source"]
    'actinic.csv'
    """
    dataset = _dataset(parts)
    lines, layout, axis, columns = parts.lines, parts.layout, parts.axis, parts.columns
    warnings = parts.warnings
    if content.guessed and not content.text.isascii():
        warnings.append("the file is not in UTF-8: letters beyond ASCII were read as Latin-1")
    if layout.left_out:
        shown = ", ".join(str(i + 1) for i in layout.left_out)
        warnings.append(f"comments inside the table were left out: line {shown}")
    if layout.footer:
        shown = ", ".join(str(i + 1) for i in layout.footer)
        warnings.append(f"what stands behind the table was left out: line {shown}")
    for name, samples in columns.values.items():
        if count := int(np.isnan(samples).sum()):
            warnings.append(f"{count} values of {name} are marked invalid: what depends on them is not known")
    if sum(map(len, columns.values.values())) > max(len(layout.rows), 3):
        warnings.append("there are more columns than rows: is the table turned?")
    padding = layout.dialect.padding
    header_lines = [
        lines[i] for i in range(layout.first) if i not in layout.heading_rows and not blank(lines[i])
    ]
    if layout.heading is not None:
        header_lines.append(lines[layout.heading])
    signs = Counter(sign(line[:_OPENING]) for line in header_lines)
    signs.pop("", None)
    opening = ", ".join(
        f"{one} (opens {count} of {len(header_lines)} lines)" for one, count in signs.most_common(5)
    )
    names = layout.how["column names"]
    above = f"{layout.first} line{'s' * (layout.first != 1)}"
    decisions = [
        f"encoding: {content.encoding}",
        f"delimiter: {layout.how['delimiter']}",
        *([f"empty fields at the end of each row, left out: {padding}"] if padding else []),
        f"decimal sign: {layout.how['decimal sign']}",
        f"comment sign: {opening or 'none'}",
        f"header: {above} before the table{layout.how['first row']}; column names: {names}",
        axis.decision,
        *parts.roles.decisions,
        *columns.decisions,
        *parts.readings.decisions,
        f"order: {'descending, turned round' if axis.descending else 'ascending'}",
    ]
    own = plain_text.is_plain_text(lines, layout) and not content.guessed
    steps = [*axis.history, *columns.history]
    if axis.descending:
        steps.append(f"sorted by ascending {axis.name}")
    return described(
        dataset,
        content,
        layout=plain_text.FORMAT if own else FORMAT,
        header=[(entry.key, entry.value) for entry in parts.found],
        decisions=decisions,
        warnings=warnings,
        steps=steps,
    )
