"""The abscissa: from the unit of the file to wavelengths in nm."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, quote

_DECIMALS = 9  # of a converted wavelength [nm], as in the other readers
_LONGEST = 1e6  # nm; beyond is no light
_WAVENUMBERS = "cm-1"
_UNITS = {
    "nm": ("NM", "NANOMETER", "NANOMETERS", "NANOMETRE", "NANOMETRES", "WAVELENGTHNM", "NANOMETERSNM"),
    "µm": (
        *("UM", "MUM", "MICRON", "MICRONS", "MICROMETER", "MICROMETERS", "MICROMETRE", "MICROMETRES"),
        *("WAVELENGTHUM", "WAVELENGTHMICRON", "WAVELENGTHMICRONS", "MICROMETERSUM"),
    ),
    "Å": ("Å", "ANGSTROM", "ANGSTROMS", "ÅNGSTRÖM", "ANGSTROEM", "WAVELENGTHÅ", "WAVELENGTHANGSTROM"),
    _WAVENUMBERS: (
        *("1/CM", "CM-1", "CM^-1", "CM^-^1", "CM**-1", "/CM", "CM-", "RECIPROCALCENTIMETERS", "INVERSECM"),
        *("WAVENUMBER", "WAVENUMBERS", "WAVENUMBERCM-1", "WAVENUMBER1/CM", "WAVENUMBERSCM-1", "KAYSER"),
        *("WAVENUMBERS1/CM", "WAVENUMBERCM^-1"),
    ),
}
_UNIT_OF = {spelling: unit for unit, spellings in _UNITS.items() for spelling in spellings}
_FACTORS = {"nm": 1.0, "µm": 1e3, "Å": 0.1}
_BY_HAND = str.maketrans({"µ": "U", "μ": "U", "⁻": "-", "¹": "1", "−": "-", "\u212b": "Å"})
IN_VACUUM = (
    "wavenumbers count in vacuum: the wavelengths are those in vacuum, and about 0.03 % longer than in air"
)


class Wavelengths(NamedTuple):
    """Wavelengths in the order of the file."""

    values: NDArray[np.float64]  # (points,) [nm]
    long_name: str
    decision: str
    warnings: list[str]
    steps: list[str]


def unit_of(text: str) -> str:
    """The unit of an abscissa of light; empty if it is none.

    Examples
    --------
    >>> unit_of("Wavelength (nm)"), unit_of("CM^-1"), unit_of("MICROMETERS"), unit_of("HZ")
    ('nm', 'cm-1', 'µm', '')
    """
    plain = re.sub(r"[\s_()\[\]{},.:;]", "", text.translate(_BY_HAND)).upper()
    return _UNIT_OF.get(plain, "")


def wavelengths(
    x: NDArray[np.float64], units: str, lines: NDArray[np.int64] | None, line: int, faults: list[Fault]
) -> Wavelengths:
    """Convert abscissas to wavelengths.

    Parameters
    ----------
    x : numpy.ndarray (points,)
        Abscissas in the order of the file.
    units : str
        Their unit, as the file writes it.
    lines : numpy.ndarray (points,), optional
        The line of each.
    line : int
        The line of the table, where `lines` is not given.
    faults : list of Fault
        What is no wavelength is added here.

    Returns
    -------
    Wavelengths
        Values [nm], each beside its ordinate as before.

    Notes
    -----
    A wavenumber is a property of the light in vacuum: λ = 1/ν. In standard air the wavelength is
    shorter by the refractivity of air, 0.027 % to 0.032 % between 2500 nm and 200 nm after Peck and
    Reeder, J. Opt. Soc. Am. 62:958 (1972). Nothing is converted from vacuum to air.

    Examples
    --------
    >>> wavelengths(np.array([4000.0, 400.0]), "1/CM", None, 1, []).values.tolist()
    [2500.0, 25000.0]
    """
    unit = unit_of(units)
    warnings, steps = [], []
    reciprocal = unit == _WAVENUMBERS
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        if reciprocal:
            values = 1e7 / x
            warnings.append(IN_VACUUM)
        elif unit == "nm":
            values = x
        else:
            values = np.round(x * _FACTORS[unit], _DECIMALS)
    if unit != "nm":
        steps.append(f"converted the {'wavenumber' if reciprocal else 'wavelength'} from {units} to nm")
    if not (values.min() > 0 and values.max() <= _LONGEST):
        at = int(np.flatnonzero(~((values > 0) & (values <= _LONGEST)))[0])
        found = f"the abscissa {x[at]:.12g} {units}"
        expected = f"a wavelength above 0 and up to {_LONGEST:g} nm"
        where = line if lines is None else int(lines[at])
        advice = "Check the unit and the factor of the abscissa"
        if values[at] > _LONGEST:
            found += f", a wavelength of {values[at]:.6g} nm"
            advice = f"What lies beyond is no light: leave those points out. If none does, {advice.lower()}"
        faults.append(Fault(found, expected, advice, where))
    kind = "wavenumber" if reciprocal else "wavelength"
    long_name = "wavelength in vacuum" if reciprocal else "wavelength in air"
    return Wavelengths(values, long_name, f"{kind}: ##XUNITS= {quote(units)}", warnings, steps)
