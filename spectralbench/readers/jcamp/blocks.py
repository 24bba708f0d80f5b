"""Blocks: the records from one title to its end, and blocks within them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.records import TABLES, Record

_DEEPEST = 10
_MOST = 1000
_TOLD = 50  # lines left out that are told one by one
_STRUCTURE = ("JCAMPCS", "ATOMLIST", "BONDLIST", "XYRASTER", "MOLFILE")
_ONCE = frozenset(  # what the numbers depend on
    (
        *("JCAMPDX", "DATATYPE", "XUNITS", "YUNITS", "XFACTOR", "YFACTOR", "FIRSTX", "LASTX", "NPOINTS"),
        *("BLOCKS", "DELTAX", "FIRSTY", "MAXX", "MINX", "MAXY", "MINY"),
    )
)


@dataclass(slots=True)
class Block:
    """The records of one block; those of blocks inside it are in `children`."""

    line: int
    fields: dict[str, Record] = field(default_factory=dict)
    header: dict[str, list[str]] = field(default_factory=dict)
    tables: list[Record] = field(default_factory=list)
    pages: list[Record] = field(default_factory=list)  # the records of NTUPLES, in order
    children: list[Block] = field(default_factory=list)
    ended: bool = False

    def add(self, record: Record) -> Fault | None:
        """Take a record in; a fault if it contradicts one that is there.

        Examples
        --------
        >>> block = Block(1)
        >>> block.add(Record("NPOINTS", "NPOINTS", 2, "3"))
        >>> block.add(Record("NPOINTS", "NPOINTS", 3, "4")).found
        '##NPOINTS= "4" after "3" in line 2'
        """
        if self.pages or record.label == "NTUPLES":
            self.pages.append(record)
        fault = None
        value = record.value
        if record.label == "NTUPLES" or (record.label in TABLES and record.label != "DATATABLE"):
            self.tables.append(record)
        elif record.label in self.fields and record.label in _ONCE and not self.pages:
            before = self.fields[record.label]
            if before.value != value:
                found = f"##{record.name}= {quote(value)} after {quote(before.value)} in line {before.line}"
                advice = "Delete the one that is wrong"
                fault = Fault(found, f"one ##{record.name}= in a block", advice, record.line)
        self.fields.setdefault(record.label, record)
        if not (self.pages and record.label in ("PAGE", "DATATABLE", "ENDNTUPLES")):
            values = self.header.setdefault(record.name, [])
            if value not in values[-1:]:
                values.append(value)
        return fault

    def value(self, label: str) -> str:
        """The value of a record, empty if there is none.

        Examples
        --------
        >>> Block(1).value("XUNITS")
        ''
        """
        record = self.fields.get(label)
        return "" if record is None else record.value

    @property
    def title(self) -> str:
        """The title in one line, empty if there is none.

        Examples
        --------
        >>> Block(1).title
        ''
        """
        return " ".join(self.value("TITLE").split())

    @property
    def links(self) -> bool:
        """Whether it says of itself that other blocks stand in it.

        Examples
        --------
        >>> Block(1).links
        False
        """
        return self.value("DATATYPE").upper().startswith("LINK") or "BLOCKS" in self.fields

    @property
    def structure(self) -> str:
        """The record that shows it to be a chemical structure, empty if there is none.

        Examples
        --------
        >>> Block(1).structure
        ''
        """
        return next((self.fields[label].name for label in _STRUCTURE if label in self.fields), "")

    def leaves(self) -> Iterator[Block]:
        """The blocks that hold data, in the order of the file.

        Examples
        --------
        >>> len(list(Block(1).leaves()))
        1
        """
        if self.tables or not self.children:
            yield self
        for child in self.children:
            yield from child.leaves()


def blocks(records: Iterable[Record]) -> tuple[list[Block], list[Fault], list[str]]:
    r"""Sort records into blocks.

    Parameters
    ----------
    records : iterable of Record
        All records of a file.

    Returns
    -------
    tuple of list of Block, list of Fault and list of str
        The outermost blocks, what is wrong with their order, and what a person should know.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.records import records
    >>> text = "##TITLE= both\n##DATA TYPE= LINK\n##BLOCKS= 1\n##TITLE= one\n##END=\n##END=\n"
    >>> outermost, faults, warnings = blocks(records(text))
    >>> [leaf.title for leaf in outermost[0].leaves()]
    ['one']
    """
    outermost: list[Block] = []
    open_blocks: list[Block] = []
    faults: list[Fault] = []
    warnings: list[str] = []
    count = 0
    for record in records:
        if record.label == "TITLE":
            if open_blocks and "TITLE" not in open_blocks[-1].fields and not open_blocks[-1].tables:
                open_blocks[-1].add(record)
                continue
            if open_blocks and not open_blocks[-1].links:
                open_blocks.pop()  # it lacks its end, which is said below
            count += 1
            if count > _MOST or len(open_blocks) == _DEEPEST:
                deep = count <= _MOST
                found = f"{'a block inside' if deep else 'more than'} {_DEEPEST if deep else _MOST} blocks"
                expected = f"at most {_MOST} blocks, {_DEEPEST} deep"
                faults.append(Fault(found, expected, "Split the file", record.line))
                break
            block = Block(record.line)
            (open_blocks[-1].children if open_blocks else outermost).append(block)
            open_blocks.append(block)
            block.add(record)
        elif record.label == "END" or (record.label.startswith("END") and not record.complete):
            if open_blocks:
                open_blocks.pop().ended = True
        elif not record.complete:
            if len(warnings) < _TOLD:
                shown = quote(f"##{record.name}")
                warnings.append(f"line {record.line} {shown} has no equals sign: left out")
        else:
            if not open_blocks:
                if outermost:  # records between blocks
                    if len(warnings) < _TOLD:
                        found = f"##{record.name}= in line {record.line}"
                        warnings.append(f"{found} stands in no block: left out")
                    continue
                open_blocks.append(Block(record.line))
                outermost.append(open_blocks[-1])
            fault = open_blocks[-1].add(record)
            faults += [fault] if fault is not None else []
    for block in outermost:
        _counted(block, faults, warnings)
    return outermost, faults, warnings


def _counted(block: Block, faults: list[Fault], warnings: list[str]) -> None:
    """Compare the number of blocks with the one stated, and see that each has its end."""
    if not block.ended:
        warnings.append(f"the block that begins in line {block.line} has no ##END=: is the file whole?")
    stated = block.fields.get("BLOCKS")
    if stated is not None:
        count = len(block.children)
        text = stated.value
        if not (text.isascii() and text.isdigit()):
            advice = "Write the number of blocks"
            faults.append(Fault(f"##BLOCKS= {quote(text)}", "a whole number", advice, stated.line))
        elif int(text[:9]) > count:
            found = f"{count} block{'s' * (count != 1)} where ##BLOCKS= says {text[:9]}"
            advice = "Blocks are missing: was the file cut off? If none is, correct the number"
            faults.append(Fault(found, f"{text[:9]} blocks", advice, stated.line))
        elif int(text[:9]) < count:
            warnings.append(f"##BLOCKS= in line {stated.line} says {text[:9]}, but there are {count}")
    for child in block.children:
        _counted(child, faults, warnings)
