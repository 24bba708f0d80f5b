"""The quantity of the ordinates: from the words of the file to the package's own units."""

from __future__ import annotations

import functools
import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from spectralbench.errors import Fault, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.choices import Choices
from spectralbench.readers.columns import UNLABELLED
from spectralbench.readers.headings import clean, heading, is_unit
from spectralbench.units import convert

_LOGARITHM = "decadic logarithm"
_WORDS: dict[str, tuple[str, str | None]] = {  # without blanks and brackets
    **dict.fromkeys(
        ("A", "ABS", "ABSORBANCE", "ABSORBANCEUNITS", "OD", "OPTICALDENSITY"), ("absorbance", "1")
    ),
    **dict.fromkeys(("T", "TRANSMITTANCE", "TRANSMISSION"), ("transmittance", None)),
    **dict.fromkeys(("R", "REFLECTANCE", "REFLECTION"), ("reflectance", None)),
    **dict.fromkeys(
        (
            *("%T", "T%", "%TRANSMITTANCE", "TRANSMITTANCE%", "PERCENTTRANSMITTANCE", "TRANSMITTANCEPERCENT"),
            *("%TRANSMISSION", "TRANSMISSION%", "PERCENTTRANSMISSION", "TRANSMITTANCEINPERCENT", "PERCENTT"),
        ),
        ("transmittance", "%"),
    ),
    **dict.fromkeys(
        (
            *("%R", "R%", "%REFLECTANCE", "REFLECTANCE%", "PERCENTREFLECTANCE", "REFLECTANCEPERCENT"),
            *("%REFLECTION", "REFLECTION%", "PERCENTREFLECTION", "REFLECTANCEINPERCENT"),
        ),
        ("reflectance", "%"),
    ),
    **dict.fromkeys(
        (
            *("LOGARITHMEPSILON", "LOGEPSILON", "LGEPSILON", "LOG10EPSILON", "LOGΕ", "LGΕ"),
            *("LOGARITHMOFEPSILON", "LOGARITHMICEPSILON", "LOGMOLARABSORPTIVITY"),
        ),
        ("molar_absorption_coefficient", _LOGARITHM),
    ),
    **dict.fromkeys(("COUNT", "COUNTS", "RAWCOUNTS", "DETECTORCOUNTS", "INTENSITYCOUNTS"), ("counts", "1")),
    **dict.fromkeys(("COUNTS/S", "COUNTS/SEC", "COUNTSPERSECOND", "CPS"), ("signal", "s-1")),
}
_NAPIERIAN = re.compile(r"NAPIER|NEPER|NATURAL|\bBASE\s*E\b|\bE-BASED\b|\bLN\b|LOG_?E\b", re.IGNORECASE)
_ARBITRARY = ("ARBITRARY", "RELATIVE", "ARBUNITS", "AU", "INTENSITY", "NORMALIZED", "NORMALISED")
_DECADIC = ("absorbance", "molar_absorption_coefficient")
_FRACTIONS = ("transmittance", "reflectance")
_LARGEST_FRACTION = 2.0  # noise may pass 1, but hardly 2
_TOLD_FRACTION = 1.05  # beyond, parts are taken with a warning: so little may be percent as well
_SHARE = 0.25  # of the ordinates above 2: they are no spikes, and the file is in percent
_MEGA = re.compile(r"\bMW\b")
_UPPER = re.compile(r"[A-Z]+")
_PREFIXES = {"MW": "mW", "UW": "µW", "W": "W", "NM": "nm", "UM": "µm", "CM": "cm", "MM": "mm", "M": "m"}


class Ordinates(NamedTuple):
    """Ordinates in the package's own unit."""

    values: NDArray[np.float64]  # (points,)
    name: str
    units: str
    long_name: str
    decision: str
    warnings: list[str]
    steps: list[str]


@functools.lru_cache(maxsize=256)
def quantity_of(text: str) -> tuple[str, str | None]:
    """The quantity that a text names (empty if none), and its unit (None if it names none).

    Examples
    --------
    >>> quantity_of("TRANSMITTANCE"), quantity_of("W/M2/NM")
    (('transmittance', None), ('spectral_irradiance', 'W/m2/nm'))
    """
    plain = re.sub(r"[\s()\[\]._]", "", text).upper()
    if plain in _WORDS:
        return _WORDS[plain]
    if plain.startswith(_ARBITRARY):
        return "", None
    if plain in ("IRRADIANCE", "SPECTRALIRRADIANCE"):
        return "spectral_irradiance", None  # along wavelengths it is spectral
    units = _spelled(text)
    for told in (heading(units), heading(f"[{units}]")):
        if told.quantity and not (_NAPIERIAN.search(text) and told.quantity in _DECADIC):
            return told.quantity, told.units
    return "", units if units and is_unit(units) else None


def _spelled(text: str) -> str:
    """A text with units of power and length as they are written, where the file has capitals alone."""
    text = " ".join(text.split())
    if text != text.upper():
        return text
    return _UPPER.sub(lambda match: _PREFIXES.get(match[0], match[0].lower()), text)


def ordinates(
    y: NDArray[np.float64], text: str, line: int | None, choices: Choices, faults: list[Fault]
) -> Ordinates:
    """Convert ordinates to the unit of their quantity.

    Parameters
    ----------
    y : numpy.ndarray (points,)
        Ordinates, factor applied.
    text : str
        What the file says they are.
    line : int, optional
        Where it says so.
    choices : Choices
        What the caller says, which stands above the file.
    faults : list of Fault
        What is wrong is added here.

    Returns
    -------
    Ordinates
        The values with their quantity and unit.

    Examples
    --------
    >>> ordinates(np.array([2.0, 4.0]), "LOGARITHM EPSILON", 7, Choices(), []).values.tolist()
    [100.0, 10000.0]
    """
    name, units = quantity_of(text)
    logarithm = units == _LOGARITHM
    warnings: list[str] = []
    steps: list[str] = []
    if choices.quantity is not None and choices.quantity != name:
        if name:
            warnings.append(f"the ordinates are named {quote(text)} and were read as {choices.quantity}")
        name, units, logarithm = choices.quantity, units if not logarithm else None, False
    elif logarithm:
        with np.errstate(over="ignore"):  # refused below
            y = np.asarray(10.0**y)
        units = "L mol-1 cm-1"
        steps.append("took ten to the power of the decadic logarithm in the file")
        warnings.append(
            f"{quote(text)} was read as the decadic logarithm of the molar absorption coefficient in "
            "L mol-1 cm-1, as data collections give it: the file does not state this unit"
        )
    if choices.units is not None and not logarithm:
        units = choices.units
        name = name or heading(f"[{units}]").quantity
    elif _MEGA.search(text) and text == text.upper():
        warnings.append(f"MW in {quote(text)} was read as milliwatt, since the file has capitals alone")
    if not name:
        return _unlabelled(y, text, units, warnings, steps)
    own = QUANTITIES[name].units
    if units is None:
        units = _unstated(y, name, text, line, faults, warnings, chosen=choices.quantity == name)
    values = _converted(y, name, units, line, faults)
    if clean(units) != own:
        steps.append(f"converted {name.replace('_', ' ')} from {units} to {own}")
    decision = f"ordinates {_named(text)}: {name}, unit {quote(units)}"
    return Ordinates(values, name, own, QUANTITIES[name].long_name, decision, warnings, steps)


def _named(text: str) -> str:
    return quote(text) if text else "without ##YUNITS="


def _unlabelled(
    y: NDArray[np.float64], text: str, units: str | None, warnings: list[str], steps: list[str]
) -> Ordinates:
    why = f"{quote(text)} names no quantity that is known here" if text else "is not stated"
    if _NAPIERIAN.search(text):
        why = f"{quote(text)} is to the base e, ln 10 = 2.303 times the decadic quantity that is known here"
    warnings.append(f"##YUNITS= {why}: the ordinates are kept as {UNLABELLED}")
    units = "1" if units is None else clean(units)
    if units == "%":
        y, units = y / 100, "1"
        steps.append("converted from % to 1")
    long_name = quote(text).strip('"') if text else UNLABELLED
    return Ordinates(
        y,
        UNLABELLED,
        units,
        long_name,
        f"ordinates {_named(text)}: {UNLABELLED}, unit {quote(units)}",
        warnings,
        steps,
    )


def _unstated(
    y: NDArray[np.float64],
    name: str,
    text: str,
    line: int | None,
    faults: list[Fault],
    warnings: list[str],
    *,
    chosen: bool,
) -> str:
    """The unit of a quantity that is named without one."""
    own, readable = QUANTITIES[name].units, name.replace("_", " ")
    if name in _FRACTIONS:
        valid = y[~np.isnan(y)]
        largest = float(valid.max(initial=0.0))
        says = f"##YUNITS= {quote(text)} does not say" if text else "no ##YUNITS= says"
        anew = f"##YUNITS= PERCENT {readable.upper()} in the header"
        if largest <= _LARGEST_FRACTION and valid.min(initial=0.0) >= -_LARGEST_FRACTION:
            if largest > _TOLD_FRACTION:
                warnings.append(
                    f"{says} whether parts or percent: taken as parts, so that the ordinates reach "
                    f'{100 * largest:.4g} %. If they are percent, give the unit on reading (units="%"), or '
                    f"write {anew}"
                )
            return own
        if np.mean(valid > _LARGEST_FRACTION) >= _SHARE:
            warnings.append(
                f"{says} whether parts or percent: taken as percent, because "
                f"the ordinates reach {largest:g} and many of them are above {_LARGEST_FRACTION:g}"
            )
            return "%"
        found = f"{readable} from {valid.min():g} to {valid.max():g} without a unit"
        advice = f"Write {anew}, or give the unit on reading"
        faults.append(Fault(found, "a unit: parts or percent", advice, line))
    elif own != "1" and not chosen:
        advice = f"Write the unit into the header, such as ##YUNITS= {own}, or give it on reading"
        faults.append(Fault(f"##YUNITS= {quote(text)}", f"the unit of {readable}", advice, line))
    elif own != "1":
        warnings.append(f"the unit of the ordinates is not stated: taken as {own}")
    return own


def _converted(
    y: NDArray[np.float64], name: str, units: str, line: int | None, faults: list[Fault]
) -> NDArray[np.float64]:
    own = QUANTITIES[name].units
    spelled = clean(units)
    if spelled == own:
        return y
    if spelled == "%" and own == "1":
        return y / 100
    try:
        with np.errstate(over="ignore"):  # refused by the caller
            return np.asarray(convert(y, spelled, own))
    except UnitsError as error:
        found = f"the unit {quote(units)} for {name.replace('_', ' ')}"
        faults.append(Fault(found, f"a unit such as {quote(own)}", str(error), line))
        return y
