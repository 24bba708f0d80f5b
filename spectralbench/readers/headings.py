"""The heading of a column: what it holds, in which unit and on which scale, and what sets it apart."""

from __future__ import annotations

import functools
import re
from typing import NamedTuple

from spectralbench.errors import UnitsError
from spectralbench.model import QUANTITIES
from spectralbench.readers import vocabulary
from spectralbench.units import same_kind

AXES = vocabulary.AXES
_IMPLIED = {"nm": "nm", "%t": "%", "% t": "%", "t%": "%", "%r": "%", "% r": "%", "counts/s": "s-1"}
_IMPLIED |= {"counts per second": "s-1", "cps": "s-1", "count rate": "s-1"}
_QUANTITY_OF = {alias: name for name, aliases in vocabulary.QUANTITIES.items() for alias in aliases}
_AXIS_OF = {alias: name for name, aliases in AXES.items() for alias in aliases}
_LONGEST_FIRST = sorted((alias for alias in _QUANTITY_OF if len(alias) > 1), key=len, reverse=True)
_ALIASES = "(" + "|".join(re.escape(a).replace(r"\ ", r"[\s_]+") for a in _LONGEST_FIRST) + ")"
_ALIAS = re.compile(_ALIASES + r"(?:\.?(\d+)|[\s_]*\((\d+)\)|[\s_:,-]+(.*))?", re.IGNORECASE)
_ALIAS_LAST = re.compile(r"(.*?)[\s_:,-]+" + _ALIASES, re.IGNORECASE)
_TOLD_BY_UNIT = (
    *("spectral_irradiance", "irradiance", "radiant_exposure", "photon_irradiance"),
    *("molar_absorption_coefficient", "responsivity"),
)
_WORDS = vocabulary.UNITS
_COUNTING = frozenset(vocabulary.COUNTING)
_BRACKETS = (re.compile(r"(.*)\[([^\[\]]*)\]\s*"), re.compile(r"(.*?)\[([^\[\]]*)\](.*)"))
_ROUND = (re.compile(r"(.*)\(([^()]*)\)\s*"), re.compile(r"([^(]*)\((.*)\)\s*"))
_GAPS = re.compile(r"\s*,\s*|[\s_]+")
_LONGEST = 80  # characters of a heading in which a unit is sought at the end
_U_OF = re.compile(r"([uU])\s*(\(.*)")
_OF = re.compile(r"^(?:of|von|de|di|for)\s+")
_UNCERTAIN = [
    (re.compile(rf"{word}(?![^\W_])(.*)|(.*)[\s_]{word}", re.IGNORECASE), kind)
    for word, kind in sorted(
        (
            (re.escape(word).replace(r"\ ", r"[\s_]+"), kind)
            for kind, words in vocabulary.UNCERTAINTIES.items()
            for word in words
        ),
        key=lambda pair: -len(pair[0]),
    )
]
_LOGARITHM = re.compile(
    r"(?P<minus>[-−–]\s*)?(?P<of>log\s?_?10|log₁₀|lg|log_?e|log|ln)"
    r"(?P<rest>[\s_]*[(\[].*|[\s_]+\S.*)",
    re.IGNORECASE,
)
_CHANGING = re.compile(  # "5 min" behind a name is a time
    r"(?<![^\W_])(?<!\d )("
    + "|".join(re.escape(word).replace(r"\ ", r"[\s_-]+") for word in vocabulary.CHANGING)
    + r")(?![^\W_])",
    re.IGNORECASE,
)
_SYMBOLS = {"T": "transmittance", "R": "reflectance", "ε": "molar_absorption_coefficient"}
_DECIBELS = frozenset(("db", "dbm", "dbmw", "dbw", "dbµw", "dbv", "decibel"))


class Heading(NamedTuple):
    """What the heading of a column says; empty where it says nothing."""

    text: str
    quantity: str = ""
    units: str | None = None
    label: str = ""
    scale: str = ""  # log10, log (base not stated), ln, minus or dB, where it is none of the thing itself
    uncertainty: str = ""  # standard, deviation or unclear, if it is one of the quantity
    changed: str = ""  # the word that makes another quantity of a known one, which is then none here


@functools.lru_cache(maxsize=2048)
def normal(name: str) -> str:
    """A name without case, underscores and double blanks, for comparison.

    Examples
    --------
    >>> normal(" Spectral_Irradiance ")
    'spectral irradiance'
    """
    return " ".join(name.replace("_", " ").replace("’", "'").split()).strip(" :'\"").casefold()


@functools.lru_cache(maxsize=1024)
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


@functools.lru_cache(maxsize=1024)
def heading(text: str) -> Heading:
    """Take the heading of a value column apart.

    Parameters
    ----------
    text : str
        Such as ``"Spectral irradiance [W m-2 nm-1]"``, ``"T (%)"``, ``"counts scan 1 [1]"``,
        ``"log10(counts)"`` or ``"u(irradiance) [W m-2]"``.

    Returns
    -------
    Heading
        Quantity, unit and label; the label is the whole name where no quantity is recognised.

    Examples
    --------
    >>> heading("counts scan 1 [1]")[1:4]
    ('counts', '1', 'scan 1')
    >>> heading("log10(counts)").scale, heading("u(counts)").uncertainty
    ('log10', 'standard')
    """
    text = text.strip()
    return _uncertainty(text) or _logarithm(text) or _plain(text)


def _plain(text: str) -> Heading:
    name, units = split_units(text)
    if units is None:
        units = _IMPLIED.get(normal(name))
    quantity, label = "", name
    if match := _ALIAS.fullmatch(name):
        quantity, label = (
            _QUANTITY_OF[normal(match[1])],
            next((part for part in match.groups()[1:] if part), ""),
        )
        units = _IMPLIED.get(normal(match[1])) if units is None else units
    elif len(name) == 1 and units is not None and clean(units) in ("1", "%"):
        quantity = _QUANTITY_OF.get(name.casefold(), "")  # T is a temperature too: its unit tells
    elif match := _ALIAS_LAST.fullmatch(name):
        last = _QUANTITY_OF[normal(match[2])]
        if units is None or measures(units, last):
            quantity, label = last, match[1]
            units = _IMPLIED.get(normal(match[2])) if units is None else units
    if units is not None and quantity in ("", "irradiance"):
        quantity = _by_unit(units) or quantity
    if quantity in ("", "signal") and units is not None and units.strip().casefold() in _COUNTING:
        quantity = "counts"
    if units is not None and units.strip().casefold() in _DECIBELS:
        return Heading(text, quantity, units, label, "dB")
    if units is not None and (match := _LOGARITHM.fullmatch(units)):  # T [log10(%)]
        inside, scale = _without_brackets(match["rest"]), _scale(match["of"])
        return _plain(f"{name} [{inside}]")._replace(text=text, scale="minus" if match["minus"] else scale)
    if match := _CHANGING.search(label) if quantity else None:
        return Heading(text, "", units, name, changed=match[1])
    if quantity == "absorbance" and clean(units or "") == "%":
        return Heading(text, "", units, name, changed="%")
    return Heading(text, quantity, units, label)


def _logarithm(text: str) -> Heading | None:
    match = _LOGARITHM.fullmatch(text)
    if match is None:
        return None
    rest = match["rest"].strip(" _")
    inside = _without_brackets(rest)
    if inside.replace(" ", "").casefold() == "1/t":  # the definition of the decadic absorbance
        known = _scale(match["of"]) != "ln" and not match["minus"]
        return Heading(text, "absorbance", "1", "", "" if known else "minus")
    told = _plain(inside)
    symbol = told.label if told.label in _SYMBOLS else ""
    quantity = told.quantity or _SYMBOLS.get(symbol, "")
    if match["minus"]:
        if quantity == "transmittance" and _scale(match["of"]) != "ln":
            return Heading(text, "absorbance", "1", "" if symbol else told.label)
        return Heading(text, quantity, told.units, told.label, "minus")
    loose = not quantity and rest == inside and not match["of"].casefold().startswith("log10")
    if loose and (len(inside) > 1 or inside.isdigit()):  # "log 3" may be the third log
        return None
    label = "" if symbol else told.label
    return Heading(text, quantity, told.units, label, _scale(match["of"]), changed=told.changed)


def _scale(word: str) -> str:
    word = word.casefold().replace("_", "").replace(" ", "")
    return "ln" if word in ("ln", "loge") else "log" if word == "log" else "log10"


def _without_brackets(text: str) -> str:
    """``(counts) [1]`` as ``counts [1]``: the argument of a function, and what stands behind it."""
    text = text.strip()
    if not text.startswith("("):
        return text[1:-1].strip() if text.startswith("[") and text.endswith("]") else text
    depth = 0
    for i, sign in enumerate(text):
        depth += (sign == "(") - (sign == ")")
        if depth == 0:
            return f"{text[1:i].strip()} {text[i + 1 :].strip()}".strip()
    return text


def _uncertainty(text: str) -> Heading | None:
    """What an uncertainty is of; its kind is standard only if the heading says so."""
    if match := _U_OF.fullmatch(text):
        told = _plain(_without_brackets(match[2]))
        kind = "standard" if match[1] == "u" else "unclear"
        return Heading(text, told.quantity, told.units, told.label, "", kind)
    name, units = split_units(text)
    for pattern, kind in _UNCERTAIN:
        match = pattern.fullmatch(name)
        if match is None:
            continue
        inside = _OF.sub("", match[1].lstrip(" _,:-")) if match[2] is None else match[2].rstrip(" _,:-")
        inside = _without_brackets(inside)
        told = _plain(inside)
        if not inside or told.quantity:  # "error code" and "std lamp" are none
            return Heading(text, told.quantity, units, told.label if told.quantity else "", "", kind)
    return None


@functools.lru_cache(maxsize=2048)
def split_units(text: str) -> tuple[str, str | None]:
    """Name and unit of a heading: the unit in brackets, after a slash or at the end.

    Examples
    --------
    >>> split_units("λ / nm"), split_units("counts (scan 1)"), split_units("counts/s")
    (('λ', 'nm'), ('counts (scan 1)', None), ('counts/s', None))
    >>> split_units("Wavelength, nm"), split_units("wavelength_nm"), split_units("counts 1")
    (('Wavelength', 'nm'), ('wavelength', 'nm'), ('counts 1', None))
    """
    text = text.strip()
    if match := _BRACKETS[0].fullmatch(text) or _BRACKETS[1].fullmatch(text):
        rest = match[3] if match.re is _BRACKETS[1] else ""
        return " ".join(part.strip() for part in (match[1], rest) if part.strip()), match[2].strip()
    for pattern in _ROUND:
        if (match := pattern.fullmatch(text)) and is_unit(match[2]):
            return match[1].rstrip(" /"), match[2].strip()
    name, slash, units = text.partition("/")
    if slash and normal(text).replace(" ", "") not in _QUANTITY_OF:
        units = units.strip()
        bare = units[1:-1] if units.startswith("(") and units.endswith(")") else units
        known = normal(name) in _QUANTITY_OF or normal(name) in _AXIS_OF
        if is_unit(bare) and (known or _by_unit(bare)):
            return name.strip(), bare.strip()
    return _unit_at_the_end(text)


def _unit_at_the_end(text: str) -> tuple[str, str | None]:
    if len(text) > _LONGEST or normal(text) in _AXIS_OF or normal(text) in _QUANTITY_OF:
        return text, None
    for gap in _GAPS.finditer(text):
        name, units = text[: gap.start()], text[gap.end() :].removeprefix("in ")
        folded = normal(name)
        if folded in _AXIS_OF and is_unit(units) and not units.isdigit():
            return name, units
        quantity = _QUANTITY_OF.get(folded, "")
        if not quantity or (QUANTITIES[quantity].units == "1" and clean(units) != "%"):
            continue  # "counts B" is no number of bytes
        if measures(units, quantity) or (quantity == "irradiance" and _by_unit(units)):
            return name, units
    return text, None


def clean(units: str) -> str:
    """A unit as the package writes it, where the file uses a word or an abbreviation for it.

    Examples
    --------
    >>> clean("Å"), clean("counts"), clean("mW/cm²")
    ('angstrom', '1', 'mW/cm²')
    """
    units = units.strip().replace("\u03bc", "µ").replace("\u212b", "Å")  # one code each for micro, ångström
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


@functools.lru_cache(maxsize=256)
def measures(units: str, quantity: str) -> bool:
    """Tell whether a quantity can be given in a unit.

    Examples
    --------
    >>> measures("mW/cm²", "irradiance"), measures("A", "irradiance")
    (True, False)
    """
    try:
        return same_kind(clean(units), QUANTITIES[quantity].units)
    except UnitsError:
        return False


def _by_unit(units: str) -> str:
    """The quantity that is measured in a unit, where that leaves no choice."""
    units = clean(units)
    if units in ("1", "%", "s-1"):
        return ""
    return next(
        (name for name in _TOLD_BY_UNIT if units == QUANTITIES[name].units or measures(units, name)), ""
    )
