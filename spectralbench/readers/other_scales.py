"""What a first column may hold instead of wavelengths, and what to do about it."""

from __future__ import annotations

import re

from spectralbench.errors import UnitsError
from spectralbench.readers.headings import clean, normal, split_units
from spectralbench.readers.vocabulary import AGAINST_WAVELENGTH, NUMBERED, NUMBERING
from spectralbench.units import convert, same_kind

_ADVICE = {
    "wavenumber": "A wavenumber is no wavelength: write wavelength [nm] = 1e7 / wavenumber [cm-1], "
    "or save the spectrum as JCAMP-DX, which may run over wavenumbers",
    "frequency": "A frequency is no wavelength: write wavelength [nm] = {} / frequency [Hz]",
    "energy": "A photon energy is no wavelength: write wavelength [nm] = {} / energy [eV]",
    "difference": "A shift is no wavelength: add it to the wavelength that it counts from, in nm",
    "position": "If this is a position across a beam, say axis=position on reading; "
    "if it is a wavelength, name the column wavelength",
    "time": "If this is a time, name the column such as time [s] or [min]",
    "number": "Add the wavelength as a column, in nm, µm or Å, and name it",
    "other": "This reads spectra, which run over wavelengths, and logs, which run over time, hours or "
    "position: if it is one of them, choose the axis on reading",
}
_KIND_OF_UNIT = {  # an example, and how much of it a unit of light may be
    "wavenumber": ("cm-1", 1e8),
    "energy": ("eV", 1e6),
    "frequency": ("Hz", 1e16),
}
_TIMES = ("s", "sec", "ms", "min", "h", "hr")  # units that stand for a name
_BARE = re.compile(
    r"1/cm|cm(?:\^|\*\*)?-1|cm⁻¹|[mk]?eV|[kMGTP]?Hz|mm", re.IGNORECASE
)  # units that stand for a name
_POSITION = 1e5  # nm in the unit of a length, from which on it is none of a wavelength of light


def against(heading: str) -> str:
    """What to do about a first column whose word or unit speaks against wavelengths; empty if none does.

    Examples
    --------
    >>> against("intensity"), against("Raman shift")[:25], against("cm-1")[:30]
    ('', 'A shift is no wavelength:', 'A wavenumber is no wavelength:')
    """
    kind = scale_of(heading)
    return advice(kind) if kind else ""


def scale_of(heading: str) -> str:
    """The scale of a first column whose word or unit speaks against wavelengths; empty if none does.

    Examples
    --------
    >>> scale_of("Wellenzahl"), scale_of("eV"), scale_of("Item no."), scale_of("wavelength [nm]")
    ('wavenumber', 'energy', 'number', '')
    """
    written, units = split_units(heading)
    words = set(re.findall(r"[^\W_]+", name := normal(written)))
    first, _, rest = name.partition(" ")
    if name in NUMBERING or (first in NUMBERED and (not rest or rest in NUMBERING)):
        return "number"
    for kind, spoken in AGAINST_WAVELENGTH.items():
        if any(word in words or (not word.isalnum() and word in name) for word in spoken):
            return kind
    if units is None and name in _TIMES:
        return "time"
    if units is None:
        return scale_of_unit(written) if _BARE.fullmatch(written.strip()) else ""
    return scale_of_unit(units)


def scale_of_unit(units: str) -> str:
    """The scale that is measured in a unit; empty if it is one of wavelengths of light.

    Examples
    --------
    >>> scale_of_unit("THz"), scale_of_unit("mJ"), scale_of_unit("nm"), scale_of_unit("cps")
    ('frequency', '', '', '')
    """
    try:
        for kind, (example, largest) in _KIND_OF_UNIT.items():
            if same_kind(clean(units), example) and float(convert(1.0, clean(units), example)) <= largest:
                return kind if kind != "frequency" or "hz" in units.casefold() else ""
        if same_kind(clean(units), "nm") and float(convert(1.0, clean(units), "nm")) >= _POSITION:
            return "position"
    except UnitsError:
        pass  # the unit is refused as one that is not known
    return ""


def advice(kind: str) -> str:
    """What to do about a column that is no wavelength.

    Examples
    --------
    >>> advice("energy")
    'A photon energy is no wavelength: write wavelength [nm] = 1239.842 / energy [eV]'
    """
    if kind not in ("frequency", "energy"):
        return _ADVICE[kind]
    from spectralbench import constants  # loads scipy, for a fault alone

    length = {
        "frequency": f"{constants.FREQUENCY_LENGTH:.8e}".replace("e+", "e"),
        "energy": f"{constants.ELECTRONVOLT_NANOMETRES:.3f}",
    }
    return _ADVICE[kind].format(length[kind])
