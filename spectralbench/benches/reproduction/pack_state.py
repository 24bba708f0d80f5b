"""What a pack says of itself, held against what is in it and against this computer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from spectralbench.archives import load
from spectralbench.benches.reproduction.packing_list import (
    LIST,
    PackingList,
    key_figures,
    platform_here,
    versions_here,
)
from spectralbench.benches.reproduction.saved_results import Saved
from spectralbench.benches.reproduction.unpacking import unlike
from spectralbench.errors import printable

_SHOWN = 12  # files or figures told one by one; JSON has all
_CLOSE = 1e-6  # a mean over draws may change its last digits with a version


@dataclass(frozen=True)
class PackState:
    """A pack as it is, held against its list.

    Parameters
    ----------
    packed : str
        When, in UTC (ISO 8601).
    files : dict
        By name, each file that is not as packed: ``"has changed"``, ``"is missing"`` or ``"is not listed"``.
    figures : tuple of str
        Figures in ``pack.json`` that are not those of the saved results, in words.
    versions : dict
        By name, versions then and here, where they differ; None where there is none.
    platform : tuple of str or None
        System, processor and kind of Python then and here, if they differ.
    said : tuple of str
        All this in words, a headline first.
    """

    packed: str
    files: dict[str, str] = field(default_factory=dict)
    figures: tuple[str, ...] = ()
    versions: dict[str, tuple[str | None, str | None]] = field(default_factory=dict)
    platform: tuple[str, str] | None = None
    said: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether it is as it was packed; another version or computer is no fault."""
        return not (self.files or self.figures)


def state_of(name: str, folder: Path, packing: PackingList, saved: list[Saved]) -> PackState:
    """Hold a pack against its list.

    Parameters
    ----------
    name : str
        Of the pack.
    folder : pathlib.Path
        Where it is unpacked.
    packing : PackingList
        Its list.
    saved : list of Saved
        Its saved results that can be read.

    Returns
    -------
    PackState
        What differs, in words too.

    Examples
    --------
    >>> packing = PackingList("A bench", "2026-03-01T08:00:00Z", versions_here(), platform_here(), (), {}, ())
    >>> state_of("a.zip", Path("/nowhere"), packing, []).said  # doctest: +ELLIPSIS
    ('a.zip, packed 2026-03-01T08:00:00Z with spectralbench ...: all 0 files are as they were packed.',)
    """
    here = versions_here()
    state = PackState(
        packing.packed,
        unlike(folder, packing),
        tuple(_other_figures(packing, saved)),
        {
            one: (packing.versions.get(one), here.get(one))
            for one in {**packing.versions, **here}
            if packing.versions.get(one) != here.get(one)
        },
        None if packing.platform == platform_here() else (packing.platform, platform_here()),
    )
    return replace(state, said=tuple(_in_words(printable(name), state, packing)))


def _other_figures(packing: PackingList, saved: list[Saved]) -> Iterator[str]:
    """Numbers and verdicts in the list that are not those of the saved comparison."""
    for one in saved:
        if one.kind != "comparison" or one.name not in packing.figures:
            continue
        listed = dict(_flat(packing.figures[one.name], ()))
        try:
            figures = key_figures(load(one.path))
        except (KeyError, TypeError, ValueError, IndexError):  # it comes from anybody
            yield f"{printable(one.name)} has no figures of a comparison"
            continue
        for key, value in _flat(figures, ()):
            if key[-1] in ("value", "low", "high", "verdict", "place") and not _same(listed.get(key), value):
                yield f"{', '.join(key[1:])}: {printable(str(listed.get(key)))[:40]} there, {value} here"


def _flat(value: Any, key: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    if isinstance(value, dict) and len(key) < 5:
        for name, inner in value.items():
            yield from _flat(inner, (*key, str(name)))
    else:
        yield key, value


def _same(listed: Any, value: Any) -> bool:
    if isinstance(value, float) and isinstance(listed, int | float):
        return bool(np.isclose(listed, value, rtol=_CLOSE, atol=0))
    return type(listed) is type(value) and bool(listed == value)


def _in_words(name: str, state: PackState, packing: PackingList) -> Iterator[str]:
    count = len(packing.files)
    if state.files:
        known = sum(one != "is not listed" for one in state.files.values())
        are = "is not as it was packed" if known == 1 else "are not as they were packed"
        how = f"{known} of {count} files {are}" if known else "files were added"
    else:
        how = f"all {count} files are as they were packed"
    by = packing.versions.get("spectralbench", "of no version")
    yield f"{name}, packed {printable(f'{state.packed} with spectralbench {by}')}: {how}."
    words = {
        "has changed": "Changed",
        "is missing": "Missing",
        "is not listed": f"Not in {LIST}, and not packed so",
    }
    for word, text in words.items():
        if names := [printable(file) for file, its in state.files.items() if its == word]:
            more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
            yield f"{text}: {', '.join(names[:_SHOWN])}{more}."
    for figure in state.figures[:_SHOWN]:
        yield f"{LIST} gives another figure than the saved result. {figure}."
    if len(state.figures) > _SHOWN:
        yield f"And {len(state.figures) - _SHOWN} figures more in {LIST}, which JSON lists."
    if state.versions:
        shown = list(state.versions.items())[:_SHOWN]
        then = ", ".join(f"{one} {was or 'none'}" for one, (was, _) in shown)
        now = ", ".join(f"{one} {version or 'none'}" for one, (_, version) in shown)
        yield f"Packed with {printable(then)}; here {now}."
    if state.platform:
        yield f"Packed on {printable(state.platform[0])}; here {state.platform[1]}."
