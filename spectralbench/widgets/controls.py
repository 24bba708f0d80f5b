"""The controls of a bench: what can be turned, from where to where, and why something cannot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.benches.adjustments import UNITS, Adjustments, bench_values
from spectralbench.benches.crossing import span_of
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.reaches import fixed_distance, fixed_hours, fixed_thickness
from spectralbench.errors import RangeError, quote
from spectralbench.units import measured

CONTROLS = ("thickness", "distance", "hours", "level", "time")
"""What can be turned."""

SHOWN = UNITS | {"level": "%"}
"""The unit in which each is shown."""

_STEPS = 200  # from one end to the other, or somewhat more
_LONGEST = 60.0  # s; an exposure that a slider reaches at least


def controls_of(tree: xr.DataTree) -> list[dict[str, Any]]:
    """Describe what can be turned on a bench.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench, as it is.

    Returns
    -------
    list of dict
        Of each its ``control`` and what it is ``of``, a ``label``, ``units``, the ends ``low`` and
        ``high``, a ``step``, the value on the ``bench``, and why it is ``fixed``, if it is.

    Examples
    --------
    >>> found = controls_of(reduced)
    >>> found[0]["label"], found[0]["high"], found[1]["fixed"][:35]
    ('thickness of cover', 6.0, 'another distance of arc takes its b')
    """
    manifest, here = manifest_of(tree), bench_values(manifest_of(tree))
    found = [
        _control(tree, "thickness", part.name, here["thickness"][part.name], fixed_thickness(part))
        for part in manifest.part
    ]
    for source in manifest.source:
        reasons = {"distance": fixed_distance(source), "hours": fixed_hours(tree, source), "level": ""}
        found += [
            _control(tree, control, source.name, here[control][source.name], reason)
            for control, reason in reasons.items()
        ]
    return [*found, _control(tree, "time", "", here["time"][""], "")]


def _control(tree: xr.DataTree, control: str, of: str, bench: float | None, fixed: str) -> dict[str, Any]:
    if control == "time":
        low, high = 0.0, max(_LONGEST, 3 * (bench or 0.0))
    else:
        low, high = (0.0, 0.0) if fixed else span_of(tree, control, of)
    scale = 100.0 if control == "level" else 1.0
    low, high = low * scale, high * scale
    return {
        "control": control,
        "of": of,
        "label": "longest exposure" if control == "time" else f"{control} of {of}",
        "units": SHOWN[control],
        "low": low,
        "high": high,
        "step": 1.0 if control == "level" else _round_step(high - low),
        "bench": None if bench is None else bench * scale,
        "fixed": fixed,
    }


def _round_step(width: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, of which some hundreds make the width."""
    if not width > 0:
        return 1.0
    finest = width / _STEPS
    power = 10.0 ** np.floor(np.log10(finest))
    steps = [float(one * power) for one in (1, 2, 5) if one * power <= finest * (1 + 1e-9)]
    return float(f"{steps[-1]:.6g}")


def plain(control: str, values: Mapping[str, object]) -> dict[str, float]:
    """Values of a control as numbers in the unit that is shown; texts may have another unit.

    Parameters
    ----------
    control : str
        One of `CONTROLS`.
    values : mapping
        By the name of a part or source.

    Returns
    -------
    dict
        Plain numbers.

    Raises
    ------
    RangeError
        If a value is no number, has a ±, or is a level below 1 %.
    UnitsError
        If a value has a unit of another kind.

    Examples
    --------
    >>> plain("level", {"arc": "50 %", "LED 365": 80}), plain("distance", {"arc": "2 cm"})
    ({'arc': 50.0, 'LED 365': 80.0}, {'arc': 20.0})
    """
    return {str(name): _number(control, value) for name, value in values.items()}


def _number(control: str, value: object) -> float:
    if not isinstance(value, int | float | str) or isinstance(value, bool):
        raise RangeError(f"{control} of a thing is a number or a text with a unit, not {value!r}")
    if control != "level":
        return _certain(value, SHOWN[control])
    number = 100 * _certain(value, "1") if isinstance(value, str) else _certain(value, "1")
    if 0 < number < 1:
        raise RangeError(
            f'a level is given in % here, 1 to 100 or as a text such as "40 %", not as {value!r}'
        )
    return number


def _certain(value: float | str, units: str) -> float:
    number, uncertainty = measured(value, units)
    if uncertainty > 0:
        raise RangeError(f"a control stands at a value without a ±, not at {quote(str(value))}")
    return number


def changes_of(
    controls: Mapping[str, Mapping[str, float]], bench: Mapping[str, Mapping[str, Any]]
) -> Adjustments:
    """What is otherwise than on the bench, in the units of the package.

    Parameters
    ----------
    controls : mapping
        By control and name, numbers in the units shown.
    bench : mapping
        The same, as on the bench.

    Returns
    -------
    dict
        For `spectralbench.benches.adjusting.with_adjustments`.

    Examples
    --------
    >>> changes_of({"level": {"arc": 50.0, "LED": 100.0}}, {"level": {"arc": 100.0, "LED": 100.0}})
    {'level': {'arc': 0.5}}
    """
    found: Adjustments = {}
    for control, values in controls.items():
        scale = 100.0 if control == "level" else 1.0
        for name, value in values.items():
            if value != bench.get(control, {}).get(name):
                found.setdefault(control, {})[name] = value / scale
    return found
