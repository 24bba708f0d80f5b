"""Units as text, and the conversion between them.

This is the only module that uses pint, and it does so late: as long as values arrive in the
declared unit, no registry of units is built.
"""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING, Any, NamedTuple

from spectralbench.errors import UnitsError, quote

if TYPE_CHECKING:
    import pint

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_PLUS_MINUS = r"(?:±|\+/-|\+-)"
_MEASURED = re.compile(
    rf"\s*(?P<value>{_NUMBER})\s*(?P<unit>[^±+\d\s][^±+]*?)?\s*"
    rf"(?:{_PLUS_MINUS}\s*(?P<u>{_NUMBER})\s*(?P<u_unit>[^±+]*?))?\s*"
)
# A name is taken whole (*+), or trying all the ways to cut up a long one would never end.
_NAME = r"[A-Za-zµμΩ][A-Za-z_µμΩ]*+(?:\*\*-?\d{1,2})?+"
_UNIT = re.compile(rf"(?:1(?![A-Za-zµμΩ])|{_NAME}|[\s()*/])*")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_UNIT_LENGTH = 60  # no unit of measurement is longer, however it is spelled
_LONGEST = 120  # characters of a value with its unit and its uncertainty

_FOR_PEOPLE = {
    "W m-2": ("mW/cm²", 0.1),
    "m": ("mm", 1e3),
    "K": ("°C", 1.0),  # less where degrees count from
    "J m-2": ("J/cm²", 1e-4),
    "W m-2 nm-1": ("mW/cm²/nm", 0.1),
    "h-1": ("1/h", 1.0),
    "umol m-2 s-1": ("µmol/m²/s", 1.0),
    "umol m-3 s-1": ("mmol/L/s", 1e-6),
    "mm s-1": ("mm/s", 1.0),
    "year": ("years", 1.0),
    "year-1": ("1/year", 1.0),
    "1": ("", 1.0),
}


class Measured(NamedTuple):
    """A value and its standard uncertainty, in one unit."""

    value: float
    standard_uncertainty: float = 0.0


@functools.cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(cache_folder=None, on_redefinition="ignore")
    registry.define("steradian = [solid_angle] = sr")  # radiance is no irradiance, intensity is no flux
    return registry


def _spelled_for_pint(units: str) -> str | None:
    """A unit as pint spells it, or None if the text is none.

    Only names, products, quotients, brackets and exponents of one or two digits get through:
    pint would work out any arithmetic, however long that takes.
    """
    text = units.strip().replace("%", "percent").translate(_SUPERSCRIPTS).replace("^", "**")
    text = text.replace("Å", "angstrom").replace("°C", "degC").replace("°", "degree")
    text = re.sub(r"[·.]", " ", text)
    text = re.sub(r"(?<=[A-Za-zµμΩ)])\s*(?=-?\d)", "**", text)  # W m-2, W m −2
    text = re.sub(r"\*\*\s*", "**", text)
    if len(text) > _UNIT_LENGTH or not _UNIT.fullmatch(text):
        return None
    return re.sub(r"(?<=[A-Za-z0-9µμΩ)])\s+(?=[A-Za-zµμΩ(])", " * ", text)


@functools.lru_cache(maxsize=256)
def _parsed(units: str) -> Any:
    """The pint unit behind a text such as ``W m-2 nm-1``, ``mW/cm²`` or ``%``."""
    text = _spelled_for_pint(units)
    try:
        if text is not None:
            return _registry().Unit(text if text not in ("", "1") else "dimensionless")
        reason: Exception | None = None
    except Exception as error:  # pint's own, and those of the tokenizer of Python that it uses
        reason = error
    raise UnitsError(f"{quote(units)} is not a unit of measurement") from reason


def same_kind(units: str, other: str) -> bool:
    """Tell whether values in one unit can be converted to the other.

    Parameters
    ----------
    units, other : str
        Units as text.

    Returns
    -------
    bool
        Whether both measure the same kind of quantity.

    Raises
    ------
    UnitsError
        If one of the texts is no unit.

    Examples
    --------
    >>> same_kind("mW/cm^2", "W m-2"), same_kind("mJ/cm^2", "W m-2")
    (True, False)
    """
    return bool(_parsed(units).is_compatible_with(_parsed(other)))


def convert(values: Any, units: str, to: str) -> Any:
    """Convert plain values from one unit to another.

    Parameters
    ----------
    values : float or numpy.ndarray (...)
        Values in `units`.
    units, to : str
        Units as text: ``"W m-2 nm-1"``, ``"mW/cm^2"``, ``"µm"``, ``"%"``.

    Returns
    -------
    float or numpy.ndarray (...)
        The values in `to`.

    Raises
    ------
    UnitsError
        If a text is no unit, or the two measure different things.

    Examples
    --------
    >>> round(convert(120.0, "mW/cm^2", "W m-2"), 9)
    1200.0
    """
    if units == to:
        return values
    factor = _factor(units, to)
    return _converted(values, units, to) if factor is None else values * factor


@functools.lru_cache(maxsize=256)
def _factor(units: str, to: str) -> float | None:
    """What a value in one unit is multiplied with; None where zero is not zero in the other."""
    if not same_kind(units, to):
        raise UnitsError(f"{quote(units)} cannot be converted to {quote(to)}")
    return None if _converted(0.0, units, to) != 0 else float(_converted(1.0, units, to))


def _converted(values: Any, units: str, to: str) -> Any:
    return _registry().Quantity(values, _parsed(units)).to(_parsed(to)).magnitude


@functools.lru_cache(maxsize=256, typed=True)
def measured(text: str | float, units: str) -> Measured:
    """Read a value with its unit, and its standard uncertainty where one is given.

    Parameters
    ----------
    text : str or float
        ``"500 mm"``, ``"500 mm ± 0.5 mm"``, ``"500 ± 0.5 mm"`` or ``"20 ms ± 1 %"``; ``+-`` and
        ``+/-`` stand for ±. A plain number is taken in `units`. The unit after ± is one of the
        value, so that ``"50 % ± 10 %"`` runs from 40 % to 60 %; only where the value is not in
        per cent, a per cent after ± is a share of it: ``"0.5 ± 10 %"`` runs from 0.45 to 0.55.
    units : str
        The unit of the result.

    Returns
    -------
    Measured
        The value and its standard uncertainty [`units`].

    Raises
    ------
    UnitsError
        If the text is no number with a unit that converts to `units`.

    Examples
    --------
    >>> measured("50 cm ± 1 %", "mm")
    Measured(value=500.0, standard_uncertainty=5.0)
    """
    if not isinstance(text, str):
        try:
            value = float(text)
        except OverflowError as error:
            raise UnitsError(f"{quote(text)} is too large a number") from error
        if not math.isfinite(value):
            raise UnitsError(f"{text} is not a finite number")
        return Measured(value)
    match = _MEASURED.fullmatch(text) if len(text) <= _LONGEST else None
    if match is None:
        raise UnitsError(f"{quote(text)} is not a number with a unit, such as {quote(f'2 {units}')}")
    value, unit = float(match["value"]), (match["unit"] or "").strip()
    u, u_unit = float(match["u"] or 0.0), (match["u_unit"] or "").strip()
    if not unit:
        unit, u_unit = (u_unit, "") if u_unit != "%" else ("", "%")
    if not unit and units != "1":
        raise UnitsError(f"{quote(text)} has no unit; write it as {quote(f'{value:g} {units}')}")
    converted = float(convert(value, unit or "1", units))
    if not u_unit:
        u_unit = unit or "1"
    if u_unit == "%" and unit != "%":
        if convert(0.0, unit or "1", units) != 0:
            raise UnitsError(f"{quote(text)}: per cent of a temperature on a scale says nothing; write K")
        spread = abs(converted) * u / 100
    else:
        spread = u * float(convert(1.0, u_unit, units) - convert(0.0, u_unit, units))
    if not (math.isfinite(converted) and math.isfinite(spread)) or spread < 0:
        raise UnitsError(f"{quote(text)} is not a finite number with a positive uncertainty")
    return Measured(converted, spread)


def for_people(units: str) -> tuple[str, float]:
    """The unit that a table shows, and the factor to it.

    Parameters
    ----------
    units : str
        A unit of the package's own.

    Returns
    -------
    tuple of str and float
        The label (empty for a pure number) and what to multiply by.

    Examples
    --------
    >>> for_people("W m-2")
    ('mW/cm²', 0.1)
    """
    return _FOR_PEOPLE.get(units, (units, 1.0))
