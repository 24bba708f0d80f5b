"""Kinds of data: which of them are spectra of light."""

from __future__ import annotations

import re

from spectralbench.errors import Fault, quote
from spectralbench.readers.jcamp.abscissa import unit_of
from spectralbench.readers.jcamp.blocks import Block

_NONE = re.compile(
    r"\b(?:MASS|M/Z|NMR|NUCLEAR|MAGNETIC|ESR|EPR|FID|IMS|MOBILITY|NEUTRON|XRD|XPS|EELS|DSC|TGA|SAXS"
    r"|RAMAN|CHROMATO\w*|INTERFEROGRAM\w*|X-?RAY|DIFFRACTION|DIFFRACTOGRAM|TITRATION\w*|VOLTAMM\w*"
    r"|THERMO\w*|STRUCTURE\w*|ASSIGNMENTS?|ISOTHERM\w*|SIMPLE GRAPH|M[OÖ]SSBAUER)\b",
    re.IGNORECASE,
)
_LIGHT = re.compile(
    r"(?:\b(?:UV|VIS|IR|NIR|MIR|FIR|FTIR|FT-IR|LED)\b|ULTRA-?VIOLET|VISIBLE|INFRA-?RED|FLUORESC|LUMINESC"
    r"|PHOSPHORESC|EMISSION|EXCITATION|ABSOR|TRANSMI|REFLECT|IRRADIANCE|RADIANCE|OPTICAL|LIGHT|LAMP)",
    re.IGNORECASE,
)
_LENGTH = 200  # characters of it that are looked at
_EXPECTED = "a spectrum of light, such as UV/VIS SPECTRUM or INFRARED SPECTRUM"


def refused(block: Block) -> Fault | None:
    """Why a block is no spectrum of light; None if it is one.

    Parameters
    ----------
    block : Block
        A block without others inside.

    Returns
    -------
    Fault or None
        With the kind of data as the file names it.

    Examples
    --------
    >>> from spectralbench.readers.jcamp.records import Record
    >>> block = Block(1)
    >>> block.add(Record("DATATYPE", "DATA TYPE", 2, "MASS SPECTRUM"))
    >>> refused(block).found
    '##DATA TYPE= "MASS SPECTRUM"'
    """
    said, line = said_type(block)
    advice = "This tool reads spectra of light: read the file with a program for that kind of data"
    if _NONE.search(said):
        if re.search(r"\bRAMAN\b", said, re.IGNORECASE):
            advice = "A Raman shift is no wavelength. Convert it with the wavelength of the laser first"
        return Fault(f"##DATA TYPE= {quote(said)}", _EXPECTED, advice, line)
    if block.structure:
        return Fault(f"##{block.structure}=, a chemical structure", _EXPECTED, advice, block.line)
    for label in ("PEAKASSIGNMENTS", "ASSIGNMENTS", "RADATA"):
        if label in block.fields:
            record = block.fields[label]
            return Fault(f"##{record.name}=", _EXPECTED, advice, record.line)
    if "LINK" in said.upper().split():
        advice = "Blocks are missing: was the file cut off?"
        return Fault("##DATA TYPE= LINK without blocks in it", "one block or more", advice, line)
    if not block.tables:
        advice = "Was the file cut off here?"
        return Fault(f"a block {quote(block.title)} without data", "a table", advice, block.line)
    units = block.fields.get("XUNITS")
    text = block.value("XUNITS")
    if unit_of(text):
        return None
    named = f" of ##DATA TYPE= {quote(said)}" if said else ""
    expected = "a unit of wavelength or wavenumber, such as NANOMETERS, MICROMETERS or 1/CM"
    if units is None or not text:
        advice = (
            "Write the unit in which the abscissas were saved into the header, such as ##XUNITS= NANOMETERS "
            "or ##XUNITS= 1/CM; the wrong one gives wrong wavelengths"
        )
        advice += "" if is_light(said) else f". {_advice(said)}"
        return Fault(f"no ##XUNITS= in a block{named}", expected, advice, block.line)
    return Fault(f"##XUNITS= {quote(text)}{named}", expected, _advice(said), units.line)


def said_type(block: Block) -> tuple[str, int]:
    """The kind of data that a block names in one line, and where.

    Examples
    --------
    >>> said_type(Block(7))
    ('', 7)
    """
    for label in ("DATATYPE", "NTUPLES"):
        if label in block.fields:
            text = block.value(label)
            if text:
                return " ".join(text[:_LENGTH].split()), block.fields[label].line
    return "", block.line


def is_light(said: str) -> bool:
    """Whether a kind of data is named after light.

    Examples
    --------
    >>> is_light("UV/VIS SPECTRUM"), is_light("Simulation")
    (True, False)
    """
    return _LIGHT.search(said) is not None


def _advice(said: str) -> str:
    if is_light(said):
        return "Convert the abscissa to one of these"
    return "If this is no spectrum of light, read it with a program for that kind of data"
