"""Labelled data records: what a JCAMP-DX file is made of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

_INDENT = 200  # characters that may stand before the sign
_COMMENT = re.compile(r"\$\$[^\n]*")
_LEFT_OUT = str.maketrans("", "", " \t-_/")
_CONTROL = "".join(map(chr, [*range(33), 127]))
_USUAL = {  # labels are compared without these signs, but shown as the standard writes them
    name.translate(_LEFT_OUT): name
    for name in (
        *("JCAMP-DX", "JCAMP-CS", "DATA TYPE", "DATA CLASS", "PEAK TABLE", "PEAK ASSIGNMENTS", "DATA TABLE"),
        *("SPECTROMETER/DATA SYSTEM", "INSTRUMENT PARAMETERS", "INSTRUMENTAL PARAMETERS", "DATA PROCESSING"),
        *("SAMPLE DESCRIPTION", "SAMPLING PROCEDURE", "CAS REGISTRY NO", "CAS NAME", "SOURCE REFERENCE"),
        *("CROSS REFERENCE", "BLOCK_ID", "PATHLENGTH", "LONGDATE", "END NTUPLES"),
        *("VAR_NAME", "VAR_TYPE", "VAR_FORM", "VAR_DIM"),
    )
}
TABLES = frozenset(
    ("XYDATA", "XYPOINTS", "PEAKTABLE", "PEAKASSIGNMENTS", "RADATA", "ASSIGNMENTS", "DATATABLE")
)


class Record(NamedTuple):
    """One labelled data record: ``##LABEL= value``, up to the next one."""

    label: str  # for comparison
    name: str  # for people
    line: int
    value: str  # without comments, lines stripped; of a table its form alone
    body: str = ""  # the lines of a table, as they stand
    complete: bool = True  # whether it has an equals sign


def without_comments(text: str) -> str:
    r"""The text with every comment cut off, line by line.

    Examples
    --------
    >>> without_comments("400 1 2 $$ first\n402 3 4")
    '400 1 2 \n402 3 4'
    """
    return _COMMENT.sub("", text) if "$$" in text else text


def comparable(name: str) -> str:
    """A label as labels are compared: without case, blanks, dashes, underscores and slashes.

    Examples
    --------
    >>> comparable(" Data_Type "), comparable("Spectrometer/Data System")
    ('DATATYPE', 'SPECTROMETERDATASYSTEM')
    """
    return name.translate(_LEFT_OUT).upper()


def records(text: str) -> Iterator[Record]:
    r"""Take a file apart into its records.

    Parameters
    ----------
    text : str
        The file, with line feeds only.

    Yields
    ------
    Record
        In the order of the file. What stands above the first one is no part of any.

    Examples
    --------
    >>> [(record.name, record.value, record.line) for record in records("##TITLE= a\n##data_type= b\n")]
    [('TITLE', 'a', 1), ('DATA TYPE', 'b', 2)]
    """
    begin = _next(text, 0)
    line, counted = 1, 0
    while begin < len(text):
        end = _next(text, begin + 2)
        line += text.count("\n", counted, begin)
        counted = begin
        yield _record(text, begin + 2, end, line)
        begin = end


def _next(text: str, begin: int) -> int:
    """Where the next record begins; the end of the text if there is none."""
    at = text.find("##", begin)
    while at >= 0 and not _begins_line(text, at):
        at = text.find("##", at + 2)
    return len(text) if at < 0 else at


def _record(text: str, begin: int, end: int, line: int) -> Record:
    line_end = text.find("\n", begin, end)
    line_end = end if line_end < 0 else line_end
    equals = text.find("=", begin, line_end)
    if equals < 0:
        name, rest = without_comments(text[begin:line_end]), line_end
    else:
        name, rest = text[begin:equals], equals + 1
    name = name.strip(_CONTROL)
    label = comparable(name)
    if label in TABLES:
        form = without_comments(text[rest:line_end]).strip(_CONTROL)
        return Record(label, _USUAL.get(label, name), line, form, text[line_end + 1 : end])
    value = without_comments(text[rest:end]).strip(_CONTROL)
    if "\n" in value:
        value = "\n".join([part.strip() for part in value.split("\n")])
    return Record(label, _USUAL.get(label, name), line, value, "", equals >= 0)


def _begins_line(text: str, at: int) -> bool:
    if not at or text[at - 1] == "\n":
        return True
    before = text[max(at - _INDENT, 0) : at].rstrip(" \t")
    return not before or before[-1] == "\n"
