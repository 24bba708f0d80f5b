"""One figure along one control, as a payload."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from spectralbench import constants
from spectralbench.benches.crossing import crossings, follow, steps_of
from spectralbench.comparison import FIGURES, in_words
from spectralbench.errors import RangeError, quote
from spectralbench.payload import Curves
from spectralbench.units import for_people
from spectralbench.widgets.controls import SHOWN

FOLLOWED = ("thickness", "distance", "hours", "level")
"""Controls along which a figure is followed."""

_BELOW, _ABOVE = "falls below", "rises above"


def followed(tree: xr.DataTree, sweep: Mapping[str, Any], bench: Mapping[str, Any]) -> bytes:
    """One figure of all sources along one control.

    Parameters
    ----------
    tree : xarray.DataTree
        The reduced bench as it stands.
    sweep : mapping
        ``criterion``, ``control`` and ``of``.
    bench : mapping
        What can be turned, by control.

    Returns
    -------
    bytes
        A payload, of which the header also holds ``across`` and ``up``, the labels of the axes, ``limit``
        with ``limit_text``, ``crossings`` in words, and ``notes``.

    Raises
    ------
    RangeError
        If nothing can be turned so.

    Examples
    --------
    >>> from spectralbench.payload import unpack
    >>> asked = {"criterion": "irradiance", "control": "thickness", "of": "cover"}
    >>> header, _ = unpack(followed(reduced, asked, {"thickness": {"cover": 2.0}}))
    >>> header["crossings"][0]["text"]
    'LED 365 falls below 60 mW/cm² at 1.42 mm'
    """
    criterion, control, of = (str(sweep.get(key, "")) for key in ("criterion", "control", "of"))
    turned = [name for name in FOLLOWED if name in bench]
    if control not in turned or (control == "thickness" and of not in bench[control]):
        whose = f" of {of}" if of else ""
        raise RangeError(
            f"{quote(control + whose)} cannot be followed on this bench; it has {', '.join(turned)}"
        )
    of = of if control == "thickness" else ""  # all sources together
    found = follow(tree, criterion, control, steps_of(tree, control, of), of)
    units, factor = for_people(found.attrs["units"])
    zero = 0.0
    if found.attrs["units"] == "K":
        units, factor, zero = "°C", 1.0, constants.ZERO_CELSIUS

    def shown(values: Any) -> Any:
        return (values - zero) * factor

    scale = 100.0 if control == "level" else 1.0
    curves, steps = Curves("sweep"), found.coords["step"].values * scale
    for name in found.coords["source"].values:
        one = found.sel(source=name)
        if np.isfinite(one["value"]).any():
            ends = {end: shown(one[end].values) for end in ("low", "high") if end in one}
            said_of = {"label": str(name), "units": units}
            axis = {"name": control, "units": SHOWN[control]}
            curves.add(said_of, axis, steps, shown(one["value"].values), **ends)
    limit = float(found["limit"])
    limit_text = in_words(limit, found.attrs["units"])
    said = [
        {
            "source": one.source,
            "at": one.at * scale,
            "text": f"{one.source} {_ABOVE if one.rising else _BELOW} {limit_text} at "
            f"{one.at * scale:.3g} {SHOWN[control]}",
        }
        for one in (crossings(found) if np.isfinite(limit) else [])
    ]
    name = FIGURES[found.attrs["figure"]].label
    whose = f" of {of}" if control == "thickness" else ""
    return curves.packed(
        control=control,
        of=of,
        criterion=criterion,
        across=f"{control}{whose} [{SHOWN[control]}]",
        up=f"{name} [{units}]",
        limit=shown(limit) if np.isfinite(limit) else None,
        limit_text=f"{'≤' if found['at_most'] else '≥'} {limit_text}" if np.isfinite(limit) else "",
        at_most=bool(found["at_most"]),
        crossings=said,
        notes=_notes(found, said),
    )


def _notes(found: xr.Dataset, said: list[dict[str, Any]]) -> list[str]:
    """What is to be said of the curves."""
    known = found["value"].notnull().any("step")
    unknown = [str(name) for name in found.coords["source"].values[~known.values]]
    notes = [f"nothing is known of {', '.join(unknown)} along this control"] if unknown else []
    if said:
        return [*notes, "crossings are interpolated, and worked out once more where they lie"]
    return [*notes, "no curve crosses the limit"] if np.isfinite(float(found["limit"])) else notes
