"""Ranges of what goes in: refused by name where the answer would mean nothing."""

from __future__ import annotations

from typing import Any

import numpy as np

from spectralbench.errors import RangeError


def require_not_negative(name: str, value: Any, units: str = "") -> None:
    """Refuse a negative value; what is not valid (NaN) is let through.

    Parameters
    ----------
    name : str
        What the message calls it.
    value : array_like (...)
        Values in `units`.
    units : str
        Their unit, for the message.

    Raises
    ------
    RangeError
        If a value is negative.

    Examples
    --------
    >>> require_not_negative("time", [0.0, 1.0], "s")
    """
    values = np.asarray(value)
    if (values < 0).any():
        raise RangeError(f"{name} is 0 or more, not {np.nanmin(values):g} {units}".rstrip())


def require_positive(name: str, value: Any, units: str = "") -> None:
    """Refuse a value that is not above 0; what is not valid (NaN) is let through.

    Parameters
    ----------
    name : str
        What the message calls it.
    value : array_like (...)
        Values in `units`.
    units : str
        Their unit, for the message.

    Raises
    ------
    RangeError
        If a value is 0 or less.

    Examples
    --------
    >>> require_positive("thickness", 1e-4, "m")
    """
    values = np.asarray(value)
    if (values <= 0).any():
        raise RangeError(f"{name} is above 0, not {np.nanmin(values):g} {units}".rstrip())
