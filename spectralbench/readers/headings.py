"""The heading of a column: what it holds, in which unit, and which label sets it apart."""

from __future__ import annotations

import functools
import re
from typing import NamedTuple

from spectralbench.errors import UnitsError
from spectralbench.model import QUANTITIES
from spectralbench.units import same_kind

AXES = {
    "wavelength": (
        *("wavelength", "wavelengths", "wave length", "lambda", "λ", "wl", "wlen", "nm"),
        *("wellenlänge", "wellenlaenge", "longueur d'onde", "longueur d onde", "longitud de onda"),
        *("lunghezza d'onda", "comprimento de onda", "golflengte", "våglängd"),
    ),
    "time": (
        *("time", "elapsed time", "date time", "datetime", "date", "timestamp", "time stamp"),
        *("zeit", "temps", "tiempo", "tempo"),
    ),
    "hours": ("hours", "hour", "operating hours", "burning hours", "hours of use", "betriebsstunden"),
}
_IMPLIED = {"nm": "nm", "%t": "%", "% t": "%", "t%": "%", "%r": "%", "% r": "%", "counts/s": "s-1"}
_IMPLIED |= {"counts per second": "s-1", "cps": "s-1", "count rate": "s-1"}
_NAMES = {
    "counts": ("counts", "count", "raw counts", "raw signal", "adu", "dn"),
    "signal": ("signal", "counts per second", "counts/s", "count rate", "cps"),
    "spectral_irradiance": ("spectral irradiance", "spektrale bestrahlungsstärke", "e λ", "eλ", "e lambda"),
    "transmittance": (
        *("transmittance", "transmission", "transmissionsgrad", "t", "%t", "% t", "t%"),
        "spectral transmittance",
    ),
    "absorbance": ("absorbance", "decadic absorbance", "optical density", "extinktion", "absorbanz"),
    "reflectance": ("reflectance", "reflection", "reflexionsgrad", "r", "%r", "% r"),
    "responsivity": ("responsivity",),
    "molar_absorption_coefficient": (
        *("molar absorption coefficient", "molar extinction coefficient", "molar absorptivity"),
        *("ε", "epsilon"),
    ),
    "irradiance": ("irradiance", "bestrahlungsstärke", "éclairement énergétique"),
    "radiant_exposure": ("radiant exposure", "dose", "bestrahlung", "energy density"),
    "photon_irradiance": ("photon irradiance", "photon flux density"),
    "relative_output": ("relative output", "output relative to new"),
}
_QUANTITY_OF = {alias: name for name, aliases in _NAMES.items() for alias in aliases}
_AXIS_OF = {alias: name for name, aliases in AXES.items() for alias in aliases}
_LONGEST_FIRST = sorted((alias for alias in _QUANTITY_OF if len(alias) > 1), key=len, reverse=True)
_ALIAS = re.compile(
    "(" + "|".join(re.escape(a).replace(r"\ ", r"[\s_]+") for a in _LONGEST_FIRST) + r")(?:[\s_:,-]+(.*))?",
    re.IGNORECASE,
)
_TOLD_BY_UNIT = (
    *("spectral_irradiance", "irradiance", "radiant_exposure", "photon_irradiance"),
    *("molar_absorption_coefficient", "responsivity"),
)
_WORDS = {
    **dict.fromkeys(("", "-", "–", "1", "a.u.", "au", "arb. units", "arb.units", "rel.", "relative"), "1"),
    **dict.fromkeys(("counts", "count", "cts", "adu", "dn", "lsb", "digits"), "1"),
    **dict.fromkeys(("nm", "nanometer", "nanometers", "nanometre", "nanometres"), "nm"),
    **dict.fromkeys(("counts/s", "cps", "1/s", "s-1"), "s-1"),
    **dict.fromkeys(("å", "a", "ang", "ang.", "angstrom", "angstroms", "ångström"), "angstrom"),
    **dict.fromkeys(("micron", "microns", "micrometer", "micrometre"), "µm"),
    **dict.fromkeys(("s", "sec", "sec.", "seconds"), "s"),
    **dict.fromkeys(("h", "hr", "hrs", "hours"), "h"),
    **dict.fromkeys(("percent", "%", "pct"), "%"),
}
_COUNTING = frozenset(("counts", "count", "cts", "adu", "dn", "lsb", "digits"))
_BRACKETS = (re.compile(r"(.*)\[([^\[\]]*)\]\s*"), re.compile(r"(.*?)\[([^\[\]]*)\](.*)"))
_ROUND = (re.compile(r"(.*)\(([^()]*)\)\s*"), re.compile(r"([^(]*)\((.*)\)\s*"))


class Heading(NamedTuple):
    """What the heading of a column says; empty where it says nothing."""

    text: str
    quantity: str = ""
    units: str | None = None
    label: str = ""


def normal(name: str) -> str:
    """A name without case, underscores and double blanks, for comparison.

    Examples
    --------
    >>> normal(" Spectral_Irradiance ")
    'spectral irradiance'
    """
    return " ".join(name.replace("_", " ").replace("’", "'").split()).strip(" :'\"").casefold()


def axis(text: str) -> tuple[str, str | None]:
    """The axis that a heading names (empty if none), and its unit as written (None if none).

    Examples
    --------
    >>> axis("Wavelength (nm)"), axis("counts [1]")
    (('wavelength', 'nm'), ('', '1'))
    """
    name, units = split_units(text)
    name = normal(name)
    return _AXIS_OF.get(name, ""), units if units is not None else _IMPLIED.get(name)


def heading(text: str) -> Heading:
    """Take the heading of a value column apart.

    Parameters
    ----------
    text : str
        Such as ``"Spectral irradiance [W m-2 nm-1]"``, ``"T (%)"`` or ``"counts scan 1 [1]"``.

    Returns
    -------
    Heading
        Quantity, unit and label; the label is the whole name where no quantity is recognised.

    Examples
    --------
    >>> heading("counts scan 1 [1]")
    Heading(text='counts scan 1 [1]', quantity='counts', units='1', label='scan 1')
    """
    text = text.strip()
    name, units = split_units(text)
    if units is None:
        units = _IMPLIED.get(normal(name))
    quantity, label = "", name
    if match := _ALIAS.fullmatch(name):
        quantity, label = _QUANTITY_OF[normal(match[1])], match[2] or ""
    elif len(name) == 1 and units is not None and clean(units) in ("1", "%"):
        quantity = _QUANTITY_OF.get(name.casefold(), "")  # T is a temperature too: its unit tells
    if units is not None and quantity in ("", "irradiance"):
        quantity = _by_unit(units) or quantity
    if quantity in ("", "signal") and units is not None and units.strip().casefold() in _COUNTING:
        quantity = "counts"
    return Heading(text, quantity, units, label)


def split_units(text: str) -> tuple[str, str | None]:
    """Name and unit of a heading: the unit in brackets, or after a slash.

    Examples
    --------
    >>> split_units("λ / nm"), split_units("counts (scan 1)"), split_units("counts/s")
    (('λ', 'nm'), ('counts (scan 1)', None), ('counts/s', None))
    """
    text = text.strip()
    if match := _BRACKETS[0].fullmatch(text) or _BRACKETS[1].fullmatch(text):
        rest = match[3] if match.re is _BRACKETS[1] else ""
        return " ".join(part.strip() for part in (match[1], rest) if part.strip()), match[2].strip()
    for pattern in _ROUND:
        if (match := pattern.fullmatch(text)) and is_unit(match[2]):
            return match[1].strip(), match[2].strip()
    name, slash, units = text.partition("/")
    if slash and normal(text).replace(" ", "") not in _QUANTITY_OF:
        units = units.strip()
        bare = units[1:-1] if units.startswith("(") and units.endswith(")") else units
        known = normal(name) in _QUANTITY_OF or normal(name) in _AXIS_OF
        if is_unit(bare) and (known or _by_unit(bare)):
            return name.strip(), bare.strip()
    return text, None


def clean(units: str) -> str:
    """A unit as the package writes it, where the file uses a word or an abbreviation for it.

    Examples
    --------
    >>> clean("Å"), clean("counts"), clean("mW/cm²")
    ('angstrom', '1', 'mW/cm²')
    """
    units = units.strip().replace("μ", "µ").replace("Å", "Å")  # one code each for micro and ångström
    return _WORDS.get(units.casefold(), units)


@functools.lru_cache(maxsize=256)
def is_unit(text: str) -> bool:
    """Tell whether a text is a unit of measurement.

    Examples
    --------
    >>> is_unit("%"), is_unit("scan 1")
    (True, False)
    """
    cleaned = clean(text)
    if cleaned != text.strip() or cleaned in _WORDS or cleaned in (q.units for q in QUANTITIES.values()):
        return True
    try:
        return same_kind(cleaned, cleaned)
    except UnitsError:
        return False


def _by_unit(units: str) -> str:
    """The quantity that is measured in a unit, where that leaves no choice."""
    units = clean(units)
    if units in ("1", "%", "s-1"):
        return ""
    for name in _TOLD_BY_UNIT:
        try:
            if units == QUANTITIES[name].units or same_kind(units, QUANTITIES[name].units):
                return name
        except UnitsError:
            return ""
    return ""
