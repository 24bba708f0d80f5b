"""What a bench is taken to be other than it is: thicknesses, distances, hours, levels, a time."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel

from spectralbench.benches.schema import Manifest, Part, Source
from spectralbench.errors import RangeError, quote
from spectralbench.units import Measured, measured

Values = Mapping[str, float | str] | float | str | None
Adjustments = dict[str, dict[str, float]]

UNITS = {"thickness": "mm", "distance": "mm", "hours": "h", "level": "1", "time": "s"}
"""What can be taken to be otherwise, and the unit in which it is kept."""

T = TypeVar("T", bound=BaseModel)

_ONE = ""  # the name of what there is one of: the exposure


def adjustments(manifest: Manifest, given: Mapping[str, Values]) -> Adjustments:
    """Read what is to be otherwise, and refuse what no bench can be.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench as it is.
    given : mapping
        By the name of a control, values by the name of a part or source, or one value for all.

    Returns
    -------
    dict
        By control and name, plain numbers in the units of `UNITS`.

    Raises
    ------
    RangeError
        If a name is not of this bench, or a value is none that it can have.
    UnitsError
        If a value has a unit of another kind.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> adjustments(read_manifest(demo)[0], {"distance": {"LED 405": "1.5 cm"}, "time": "6 s"})
    {'distance': {'LED 405': 15.0}, 'time': {'': 6.0}}
    """
    parts, sources = [part.name for part in manifest.part], [source.name for source in manifest.source]
    of = {"thickness": parts, "distance": sources, "hours": sources, "level": sources, "time": [_ONE]}
    found: Adjustments = {}
    for control, values in given.items():
        if values is None:
            continue
        each = values if isinstance(values, Mapping) else dict.fromkeys(of[control], values)
        for name, value in each.items():
            if name not in of[control]:
                if control == "time":
                    raise RangeError(
                        f'the time is one value for the bench, such as "3 s", not of {quote(name)}'
                    )
                known = ", ".join(map(quote, of[control]))
                raise RangeError(f"there is no {quote(name)} with a {control} in this bench; it has {known}")
            number = _number(control, name, value)
            _refuse(control, name, number)
            found.setdefault(control, {})[name] = number
    return found


def _number(control: str, name: str, value: object) -> float:
    """A plain number in the unit of a control."""
    of = f" of {name}" if name else ""
    if not isinstance(value, int | float | str) or isinstance(value, bool):
        raise RangeError(f"the {control}{of} is a number or a text with a unit, not {value!r}")
    number, uncertainty = measured(value, UNITS[control])
    if uncertainty > 0:
        raise RangeError(
            f"the {control}{of} is taken to be what it is, without a ± ({quote(str(value))}): write it into "
            "bench.toml, as working_thickness or working_distance, to have its ± counted"
        )
    return number


def _refuse(control: str, name: str, number: float) -> None:
    """Refuse a value that nothing can have."""
    of = f" of {name}" if name else ""
    if control == "level" and not 0 < number <= 1:
        hint = '; a plain number is a share, such as 0.4 for "40 %"' if number > 1 else ""
        raise RangeError(f"the level{of} lies above 0 and at 100 % or below, not at {100 * number:g} %{hint}")
    if control in ("thickness", "distance") and not number > 0:
        raise RangeError(f"the {control}{of} is above 0 mm, not {number:g} mm")
    if control in ("hours", "time") and not number >= 0:
        verb = "are" if control == "hours" else "is"
        raise RangeError(
            f"the {control}{of} {verb} 0 {UNITS[control]} or more, not {number:g} {UNITS[control]}"
        )


def adjusted(manifest: Manifest, changes: Adjustments) -> Manifest:
    """The manifest of the bench as it is taken to be.

    Parameters
    ----------
    manifest : Manifest
        As it is.
    changes : dict
        From `adjustments`.

    Returns
    -------
    Manifest
        As it would be, if somebody had measured it so.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> half = adjusted(read_manifest(demo)[0], {"level": {"LED 405": 0.5}}).source[-1]
    >>> half.setting.value, half.electrical_power.value
    (0.5, 23.0)
    """
    if not changes:
        return manifest
    changed: dict[str, Any] = {
        "part": [_part(part, changes) for part in manifest.part],
        "source": [_source(source, changes) for source in manifest.source],
    }
    if "time" in changes:
        longest = changes["time"][_ONE]
        at_most = Measured(longest) if longest > 0 else None
        changed["requirement"] = _with(manifest.requirement, maximum_time=at_most)
    return manifest.model_copy(update=changed)


def _part(part: Part, changes: Adjustments) -> Part:
    wanted = changes.get("thickness", {}).get(part.name)
    return part if wanted is None else _with(part, working_thickness=Measured(wanted))


def _source(source: Source, changes: Adjustments) -> Source:
    found = {
        control: changes[control][source.name]
        for control in _OF_SOURCES & set(changes)
        if source.name in changes[control]
    }
    update: dict[str, Any] = {}
    if "distance" in found:
        update["working_distance"] = Measured(found["distance"])
    if "hours" in found:
        update["hours"] = Measured(found["hours"])
    if "level" in found:
        update["setting"] = Measured(found["level"])
        power = source.electrical_power
        if power is not None and source.kind == "LED":  # an arc burns on, behind whatever dims it
            update["electrical_power"] = Measured(power.value * found["level"] / source.setting.value)
    return _with(source, **update)


_OF_SOURCES = {"distance", "hours", "level"}


def _with(table: T, **changes: Any) -> T:
    return table.model_copy(update=changes)


def in_words(manifest: Manifest, changes: Adjustments) -> list[str]:
    """What is taken to be otherwise than on the bench, one sentence for each.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench as it is.
    changes : dict
        From `adjustments`.

    Returns
    -------
    list of str
        Sentences.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> in_words(read_manifest(demo)[0], {"level": {"LED 405": 0.5}})
    ['taken otherwise than on the bench: level of LED 405 at 50 %, not 100 %']
    """
    as_it_is = bench_values(manifest)
    said = []
    for control, values in changes.items():
        for name, value in values.items():
            here = as_it_is[control].get(name)
            if here == value:
                continue  # set back
            before = "" if here is None else f", not {shown(control, here)}"
            of = f" of {name}" if name else ""
            what = "longest exposure" if control == "time" else control
            said.append(f"taken otherwise than on the bench: {what}{of} at {shown(control, value)}{before}")
    return said


def in_short(manifest: Manifest, changes: Adjustments) -> str:
    """What is taken to be otherwise, in one sentence that stands before any advice; or nothing.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench as it is.
    changes : dict
        From `adjustments`.

    Returns
    -------
    str
        The sentence.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> in_short(read_manifest(demo)[0], {"level": {"LED 405": 0.5}, "time": {"": 9.0}})
    'Not the bench as it is: level of LED 405 at 50 %, not 100 %; longest exposure at 9 s, not 30 s.'
    """
    said = [sentence.partition(": ")[2] for sentence in in_words(manifest, changes)]
    return f"Not the bench as it is: {'; '.join(said)}." if said else ""


def shown(control: str, value: float) -> str:
    """A value of a control, as people read it.

    Parameters
    ----------
    control : str
        A name from `UNITS`.
    value : float
        In that unit.

    Returns
    -------
    str
        The words.

    Examples
    --------
    >>> shown("level", 0.4), shown("thickness", 1.5)
    ('40 %', '1.5 mm')
    """
    if control == "level":
        return f"{100 * value:.4g} %"
    if control == "time" and value == 0:
        return "no limit"
    return f"{value:.6g} {UNITS[control]}"


def bench_values(manifest: Manifest) -> dict[str, dict[str, float | None]]:
    """What every control stands at on the bench as it is.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench as it is.

    Returns
    -------
    dict
        By control and name, numbers in the units of `UNITS`; None for hours that are not stated.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> bench_values(read_manifest(demo)[0])["thickness"]
    {'cover': 2.0}
    """
    longest = manifest.requirement.maximum_time
    return {
        "thickness": {part.name: (part.working_thickness or part.thickness).value for part in manifest.part},
        "distance": {one.name: (one.working_distance or one.distance).value for one in manifest.source},
        "hours": {one.name: None if one.hours is None else one.hours.value for one in manifest.source},
        "level": {one.name: one.setting.value for one in manifest.source},
        "time": {_ONE: 0.0 if longest is None else longest.value},
    }


def kept(text: object) -> Adjustments:
    """Read the changes that a tree carries in its attributes.

    Examples
    --------
    >>> kept('{"time": {"": 6.0}}'), kept(None)
    ({'time': {'': 6.0}}, {})
    """
    found: Adjustments = json.loads(str(text)) if text else {}
    return found
