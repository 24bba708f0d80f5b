"""Tables of several variables (version 5.01), each page as a block of its own."""

from __future__ import annotations

import re
from typing import NamedTuple

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.blocks import Block
from spectralbench.readers.jcamp.data_types import is_light, said_type
from spectralbench.readers.jcamp.records import Record

_FORM = re.compile(
    r"\(\s*([A-Z]\d?)\s*(\+\+\s*\(\s*)?([A-Z]\d?)\s*\.\.\s*(?:\1\s*)?\3\s*\)*\s*,?\s*\w*", re.I
)
_OF_X = {"UNITS": "XUNITS", "FACTOR": "XFACTOR", "FIRST": "FIRSTX", "LAST": "LASTX"}
_OF_Y = {"UNITS": "YUNITS", "FACTOR": "YFACTOR", "VARDIM": "NPOINTS"}
_ONE_PAGE = {"FIRST": "FIRSTY", "MAX": "MAXY", "MIN": "MINY"}
_LISTS = ("SYMBOL", *_OF_X, *_OF_Y, *_ONE_PAGE)
_MOST = 1000


class _Page(NamedTuple):
    """The records of one page."""

    own: dict[str, Record]
    table: Record


def pages(block: Block, faults: list[Fault]) -> list[Block]:
    r"""Take a block apart into its pages, if it has any.

    Parameters
    ----------
    block : Block
        A block without others inside.
    faults : list of Fault
        What is wrong with the variables is added here.

    Returns
    -------
    list of Block
        One for each page, with the records that a block of a single table has; the block itself
        if its table is an ordinary one, or if it holds no spectrum of light.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.blocks import blocks
    >>> from spectralbench.readers.jcamp.records import records
    >>> text = '''##TITLE= kinetics
    ... ##NTUPLES= UV/VIS SPECTRUM
    ... ##SYMBOL= X, Y, T
    ... ##UNITS= NANOMETERS, ABSORBANCE, SECONDS
    ... ##PAGE= T=10
    ... ##DATA TABLE= (XY..XY), PEAKS
    ... 400 1 402 2
    ... ##END NTUPLES= UV/VIS SPECTRUM
    ... ##END=
    ... '''
    >>> page, = pages(blocks(records(text))[0][0], [])
    >>> page.title, page.value("YUNITS")
    ('kinetics (T=10)', 'ABSORBANCE')
    """
    if not block.pages or not is_light(said_type(block)[0]):
        return [block]
    lists: dict[str, list[str]] = {}
    page: dict[str, Record] = {}
    found: list[_Page] = []
    for record in block.pages[1:]:
        if record.label == "ENDNTUPLES":
            break
        if record.label == "PAGE":
            page = {"PAGE": record}
        elif record.label == "DATATABLE":
            found.append(_Page(page, record))
        elif page:
            page[record.label] = record
        elif record.label in _LISTS:
            lists[record.label] = [part.strip() for part in record.value.split(",")]
    if not found or len(found) > _MOST:
        text = f"{len(found) or 'no'} tables in ##NTUPLES="
        advice = "Is the file whole?" if not found else "Split the file"
        faults.append(Fault(text, f"1 to {_MOST}, each as ##DATA TABLE=", advice, block.pages[0].line))
        return []
    result = []
    for one in found:
        fault, made = _block(block, one, lists, alone=len(found) == 1)
        faults += [] if fault is None else [fault]
        result += [] if made is None else [made]
    return result


def _block(
    block: Block, page: _Page, lists: dict[str, list[str]], *, alone: bool
) -> tuple[Fault | None, Block | None]:
    """One page as a block with a table of X and Y."""
    table = page.table
    form = table.value
    match = _FORM.fullmatch(form)
    symbols = [symbol.upper() for symbol in lists.get("SYMBOL", [])]
    if match is None or not {match[1].upper(), match[3].upper()} <= set(symbols):
        found = f"##DATA TABLE= {quote(form)} of the symbols {quote(', '.join(symbols))}"
        expected = "(X++(Y..Y)) or (XY..XY) of two symbols from ##SYMBOL="
        return Fault(found, expected, "Save each spectrum in a block of its own", table.line), None
    made = Block(table.line, ended=block.ended)
    made.fields = {
        label: record for label, record in block.fields.items() if label not in (*_LISTS, "NPOINTS", "PAGE")
    }
    made.header = {name: list(texts) for name, texts in block.header.items()}
    for symbol, labels in ((match[1], _OF_X), (match[3], _OF_Y | _ONE_PAGE if alone else _OF_Y)):
        at = symbols.index(symbol.upper())
        for label, usual in labels.items():
            own = page.own.get(label)
            texts = lists.get(label, []) if own is None else own.value.split(",")
            if at < len(texts) and texts[at].strip():
                line = block.fields[label].line if own is None else own.line
                made.fields[usual] = Record(usual, usual, line, texts[at])
    if "NPOINTS" in page.own:
        made.fields["NPOINTS"] = page.own["NPOINTS"]
    usual = "(X++(Y..Y))" if match[2] else "(XY..XY)"
    made.tables = [table._replace(value=usual)]
    if "PAGE" in page.own:
        label = page.own["PAGE"].value
        made.header["PAGE"] = [label]
        title = f"{block.title} ({label})"
        made.fields["TITLE"] = Record("TITLE", "TITLE", block.line, title)
    return None, made
