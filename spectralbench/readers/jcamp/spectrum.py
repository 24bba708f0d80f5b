"""One block as a spectrum."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote
from spectralbench.readers.choices import Choices
from spectralbench.readers.jcamp.abscissa import Wavelengths, wavelengths
from spectralbench.readers.jcamp.blocks import Block
from spectralbench.readers.jcamp.data_types import is_light, said_type
from spectralbench.readers.jcamp.moments import measured_at
from spectralbench.readers.jcamp.ordinate_units import Ordinates, ordinates
from spectralbench.readers.jcamp.stated import disagreements, stated
from spectralbench.readers.jcamp.table import read_table

_VERSIONS = ("4.24", "5", "5.0", "5.00", "5.01", "4.2", "4.20", "4.10", "4.1")


class Spectrum(NamedTuple):
    """A spectrum as read, wavelengths ascending."""

    title: str
    line: int
    abscissa: Wavelengths
    ordinate: Ordinates
    time: np.datetime64 | None
    header: dict[str, str]
    decisions: list[str]
    warnings: list[str]
    steps: list[str]

    def like(self, other: Spectrum) -> bool:
        """Whether both hold the same quantity on the same grid."""
        mine, its = self.ordinate, other.ordinate
        return (mine.name, mine.units, mine.long_name) == (its.name, its.units, its.long_name) and (
            np.array_equal(self.abscissa.values, other.abscissa.values)
        )


def read_spectrum(block: Block, choices: Choices, faults: list[Fault]) -> Spectrum | None:
    r"""Read a block that holds a spectrum of light.

    Parameters
    ----------
    block : Block
        The block.
    choices : Choices
        What the caller says of its ordinates.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    Spectrum or None
        None if there are faults.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.blocks import blocks
    >>> from spectralbench.readers.jcamp.records import records
    >>> text = "##TITLE= a\n##XUNITS= NM\n##YUNITS= A\n##XYDATA= (XY..XY)\n402 1\n400 2\n##END=\n"
    >>> block = blocks(records(text))[0][0]
    >>> read_spectrum(block, Choices(), []).ordinate.values.tolist()
    [2.0, 1.0]
    """
    before = len(faults)
    warnings: list[str] = []
    said, _ = said_type(block)
    if not said:
        warnings.append("##DATA TYPE= is not stated: taken as a spectrum of light by ##XUNITS=")
    elif not is_light(said):
        warnings.append(f"##DATA TYPE= {quote(said)} is taken as a spectrum of light by ##XUNITS=")
    if len(block.tables) > 1:
        first, second = block.tables[:2]
        found = f"##{second.name}= after ##{first.name}= in line {first.line}"
        advice = "Put each table into a block of its own, from ##TITLE= to ##END="
        faults.append(Fault(found, "one table in a block", advice, second.line))
    told = stated(block, faults, warnings)
    if told.points is None and "NPOINTS" not in block.fields:
        warnings.append("##NPOINTS= is not stated: the number of points could not be checked")
    table = read_table(block.tables[0], told, ended=block.ended, faults=faults, warnings=warnings)
    if table is None or len(faults) > before:
        return None
    record = block.tables[0]
    abscissa = wavelengths(table.x, block.value("XUNITS"), table.lines, record.line, faults)
    units = block.fields.get("YUNITS")
    ordinate = ordinates(
        table.y, block.value("YUNITS"), None if units is None else units.line, choices, faults
    )
    if np.isinf(ordinate.values).any():
        found = f"{ordinate.name.replace('_', ' ')} beyond 1e308 {ordinate.units}"
        faults.append(Fault(found, "smaller numbers", "Check ##YFACTOR= and the unit", record.line))
    if len(faults) > before:
        return None
    time, remarks = measured_at(block)
    missing = int(np.isnan(ordinate.values).sum())
    if missing:
        warnings.append(f"{missing} values of {ordinate.name} are missing: what depends on them is not known")
    warnings += [*disagreements(told, table.x, table.y, regular=table.regular)]
    warnings += [*abscissa.warnings, *ordinate.warnings, *remarks]
    values = abscissa.values
    falling = len(values) > 1 and bool(values[0] > values[-1])
    steps = [*abscissa.steps, *ordinate.steps]
    if falling:
        abscissa = abscissa._replace(values=_turned(values))
        ordinate = ordinate._replace(values=_turned(ordinate.values))
        steps.append("sorted by ascending wavelength")
    decisions = [
        f"##{record.name}=: {record.value}",
        abscissa.decision,
        ordinate.decision,
        f"order: {'descending, turned round' if falling else 'ascending'}",
    ]
    header = {name: "; ".join(texts) for name, texts in block.header.items()}
    return Spectrum(block.title, block.line, abscissa, ordinate, time, header, decisions, warnings, steps)


def _turned(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.ascontiguousarray(values[::-1])


def version_warning(block: Block) -> list[str]:
    """What a person should know about the version of the layout.

    Examples
    --------
    >>> version_warning(Block(1))
    ['##JCAMP-DX= is not stated: read after versions 4.24 and 5.01']
    """
    text = block.value("JCAMPDX")
    if not text:
        return ["##JCAMP-DX= is not stated: read after versions 4.24 and 5.01"]
    if text.split()[0] not in _VERSIONS:
        return [f"##JCAMP-DX= {quote(text)} was read after versions 4.24 and 5.01"]
    return []
