"""The ± of each quantity of a manifest: drawn, refused, or named as not used; never dropped in silence."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple, TypeVar

from pydantic import BaseModel

from spectralbench.benches.schema import Manifest
from spectralbench.units import Measured

T = TypeVar("T")

_LIMIT = "a plain value: a limit is set, and has no uncertainty"
_BAND = "a plain value: the limits of a band are agreed, and have no uncertainty"
_PLAIN = {
    r"requirement\..*": _LIMIT,
    r"adhesive\.(maximum_irradiance|oxygen_threshold)": _LIMIT,
    r"adhesive\.bond_width": "a plain value: what has to be lit is agreed, and has no uncertainty",
    r"instrument\.saturation": _LIMIT,
    r"instrument\.full_scale": "a plain value: the highest count that there is",
    r".*integration_times?(\.\d+)?": "a plain value: frames and darks are matched by it",
    r"radiometer\.\d+\.(limits|calibration_target)\.\d+": _BAND,
    r"radiometer\.\d+\.calibration_uncertainty": "a plain value: an uncertainty has none of its own",
}
"""Keys of which a ± is refused, and why."""

_DRAWN = {
    r"standard_lamp\.(certified_)?distance": 0.0,
    r"(source|radiometer)\.\d+\.distance": 0.0,
    r"source\.\d+\.stated_end_output": 0.0,
    r"source\.\d+\.working_distance": 0.0,
    r"adhesive\.(bond_line|reciprocity)": 0.0,
    r"adhesive\.initiator\.\d+\.concentration": 0.0,
    r"adhesive\.absorber\.\d+\.layer": 0.0,
    r"part\.\d+\.(working_)?thickness": 0.0,
    r"(part\.\d+|adhesive)\.index": 1.0,
}
"""Keys of which `Budget.scalar` draws the ±, and what no value of theirs lies below."""

_WIDEST = 4  # standard uncertainties that the value has to lie above its least: a normal one reaches so far


class Stated(NamedTuple):
    """A quantity of a manifest that carries a ±."""

    key: str
    owner: str  # the name of what it belongs to
    value: Measured


def stated(manifest: Manifest) -> Iterator[Stated]:
    """Every quantity of a manifest that carries a ±.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Yields
    ------
    Stated
        In the order of the schema.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> key, owner, value = next(stated(read_manifest(demo)[0]))
    >>> key, owner, value.standard_uncertainty
    ('instrument.bandwidth', 'virtual array spectrometer', 0.1)
    """
    yield from _within(manifest, "", "")


def _within(item: object, key: str, owner: str) -> Iterator[Stated]:
    if isinstance(item, Measured):
        if item.standard_uncertainty:
            yield Stated(key, owner, item)
    elif isinstance(item, BaseModel):
        owner = getattr(item, "name", None) or getattr(item, "file", None) or owner
        for name in type(item).model_fields:
            yield from _within(getattr(item, name), f"{key}.{name}".lstrip("."), owner)
    elif isinstance(item, list):
        for number, inner in enumerate(item, 1):
            yield from _within(inner, f"{key}.{number}", owner)


def refused(manifest: Manifest) -> Iterator[tuple[str, str, str]]:
    """Every ± that makes no sense: of a plain value, or so large that the value could be below its least.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Yields
    ------
    tuple of str
        Its key, what is expected there, and what to do.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> list(refused(read_manifest(demo)[0]))
    []
    """
    for key, _, (value, spread) in stated(manifest):
        if reason := _found(_PLAIN, key):
            yield key, reason, "Leave the ± out."
            continue
        least = _found(_DRAWN, key)
        if least is not None and spread > (value - least) / _WIDEST:
            above = f"its distance from {least:g}, below which it cannot be" if least else "the value"
            yield (
                key,
                f"a ± of at most a quarter of {above}",
                "A ± is a standard uncertainty: of a tolerance ±a write a/√3. What is known no better is to "
                "be measured, or compared once for each of its ends.",
            )


def unused(manifest: Manifest) -> list[str]:
    """What a reader should know of every ± that no figure takes into account.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        One sentence, or none if every ± counts.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> for sentence in unused(read_manifest(demo)[0]):
    ...     print(sentence)
    the ± of bandwidth (virtual array spectrometer), thickness (cover) is stated and not used
    """
    last = f"part.{len(manifest.part)}.index"
    counting = {f"part.{i}.thickness" for i, part in enumerate(manifest.part, 1) if part.working_thickness}
    if manifest.part[-1].index is not None and manifest.adhesive.index is not None:
        counting |= {last, "adhesive.index"}
    names = [
        f"{key.rpartition('.')[2].replace('_', ' ')} ({owner})" if owner else key
        for key, owner, _ in stated(manifest)
        if _found(_DRAWN, key) is None or (key.endswith((".index", ".thickness")) and key not in counting)
    ]
    return [f"the ± of {', '.join(names)} is stated and not used"] if names else []


def _found(table: Mapping[str, T], key: str) -> T | None:
    """What a table says of the first pattern that a key matches."""
    return next((said for pattern, said in table.items() if re.fullmatch(pattern, key)), None)
