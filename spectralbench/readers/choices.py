"""What a caller says of a file, which stands above what the file says and above every guess."""

from __future__ import annotations

import codecs
from collections.abc import Collection
from numbers import Integral
from typing import Any, Literal, NamedTuple

from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import QUANTITIES
from spectralbench.readers.headings import AXES, is_unit

Scale = Literal["linear", "log10"]

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "blanks": " "}
DECIMALS = {"point": ".", "comma": ","}
_LEAST = {"heading": 0, "first_row": 1, "axis_column": 1}


class Choices(NamedTuple):
    """What was chosen on reading; None wherever the file is to decide.

    The first three hold for every layout, the others for delimited text alone.
    """

    quantity: str | None = None
    units: str | None = None
    encoding: str | None = None
    delimiter: str | None = None  # the sign itself
    decimal: str | None = None  # the sign itself
    heading: int | None = None  # line of the column names, from 1; 0 if there is none
    first_row: int | None = None  # line at which the table begins, from 1
    axis: str | None = None
    axis_column: int | None = None  # from 1
    axis_units: str | None = None
    scale: Scale | None = None

    def of_delimited_text(self) -> list[str]:
        """Names of the choices made that only delimited text knows.

        Examples
        --------
        >>> Choices(units="%", delimiter=";").of_delimited_text()
        ['delimiter']
        """
        return [name for name in self._fields[3:] if getattr(self, name) is not None]


def checked(choices: Choices) -> Choices:
    """The same choices, once each is known to make sense.

    Parameters
    ----------
    choices : Choices
        As given by the caller; delimiter and decimal sign as a sign or as its name.

    Returns
    -------
    Choices
        With signs instead of names.

    Raises
    ------
    RangeError
        If a choice is none of those that there are.
    UnitsError
        If a unit is none.

    Examples
    --------
    >>> checked(Choices(delimiter="semicolon")).delimiter
    ';'
    """
    choices = _of_type(choices)
    _one_of("quantity", choices.quantity, QUANTITIES)
    _one_of("axis", choices.axis, AXES)
    _one_of("scale", choices.scale, ("linear", "log10"))
    for units in (choices.units, choices.axis_units):
        if units is not None and not is_unit(units):
            raise UnitsError(f"{quote(units)} is not a unit of measurement")
    for name, least in _LEAST.items():
        number = getattr(choices, name)
        if number is not None and number < least:
            raise RangeError(f"{name} {number} is below {least}; lines and columns count from 1")
    if choices.encoding is not None:
        try:
            codecs.lookup(choices.encoding)
        except (LookupError, ValueError):
            raise RangeError(f"{quote(choices.encoding)} is no encoding, such as utf-8 or cp1252") from None
    return choices._replace(
        delimiter=_sign("delimiter", choices.delimiter, DELIMITERS),
        decimal=_sign("decimal", choices.decimal, DECIMALS),
    )


def _of_type(choices: Choices) -> Choices:
    """The same choices, once each is a text or a whole number as it should be."""
    whole: dict[str, Any] = {}
    for name, value in choices._asdict().items():
        counts = name in _LEAST
        if value is None or (isinstance(value, str) and not counts):
            continue
        if not counts or not isinstance(value, Integral) or isinstance(value, bool):
            expected = f"a whole number from {_LEAST[name]}" if counts else "a text"
            raise RangeError(f"{name} is {quote(value)} ({type(value).__name__}); expected {expected}")
        whole[name] = int(value)
    return choices._replace(**whole)


def _one_of(name: str, value: str | None, known: Collection[str]) -> None:
    if value is not None and value not in known:
        raise RangeError(f"{quote(value)} is no known {name}; there are {', '.join(known)}")


def _sign(name: str, value: str | None, signs: dict[str, str]) -> str | None:
    if value is None or value in signs.values():
        return value
    _one_of(name, value, tuple(signs))
    return signs[value]
