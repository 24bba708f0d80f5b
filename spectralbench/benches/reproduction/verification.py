"""What verifying saved results found, as a record and in words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.reproduction.differences import Difference
from spectralbench.benches.reproduction.pack_state import PackState
from spectralbench.errors import printable, quote

SAME_BITS, SAME, DIFFERS = "same bits", "same within the tolerance", "differs"
NOT_MADE, NOT_READ = "not made again", "not read"

_SHOWN = 12  # differences told one by one; JSON has all


@dataclass(frozen=True)
class Verified:
    """One saved result, held against the bench as it is now.

    Parameters
    ----------
    file : str
        The archive; inside the bench, from there.
    kind : str
        ``"reduction"`` or ``"comparison"``; empty if it cannot be read.
    status : str
        `SAME_BITS`, `SAME`, `DIFFERS`, `NOT_MADE` or `NOT_READ`.
    figures, same_bits : int
        How many figures it has, and how many came out the same to the bit.
    differences : tuple of Difference
        Figures that do not agree: verdicts and places first, then the largest change.
    texts : tuple of Difference
        Texts that are not what is made now: advice and reasons first.
    files : dict
        By name, each file that is not as recorded: ``"changed"``, ``"missing"``, ``"not used"`` or ``"new"``.
    manifest : dict
        By dotted key, what the manifest said then and says now; None where it says nothing.
    versions : dict
        By name, versions then and now, where they differ.
    places : dict
        By name, where a changed file differs first, if the bench was packed once and so can tell.
    causes : tuple of str
        Why figures differ, in words, as far as that can be told apart.
    said : tuple of str
        All this in words: a headline, what differs and why, what to do.
    provenance : dict
        What the archive says of itself: hashes, versions, draws and seed.
    """

    file: str
    kind: str = ""
    status: str = NOT_READ
    figures: int = 0
    same_bits: int = 0
    differences: tuple[Difference, ...] = ()
    texts: tuple[Difference, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    manifest: dict[str, tuple[str | None, str | None]] = field(default_factory=dict)
    versions: dict[str, tuple[str | None, str]] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    causes: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    provenance: dict[str, Any] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        """Whether figures, texts and files are those of the saved result."""
        return self.status in (SAME_BITS, SAME) and not self.files


@dataclass(frozen=True)
class Verification:
    """What `verify` found.

    Parameters
    ----------
    folder : str
        The bench, or the pack.
    tolerance : float
        Relative difference up to which figures agree [1].
    results : tuple of Verified
        One for each saved result.
    pack : PackState, optional
        Of a pack: what in it is not as it was packed.
    """

    folder: str
    tolerance: float
    results: tuple[Verified, ...]
    pack: PackState | None = None

    @property
    def ok(self) -> bool:
        """Whether every saved result agrees with the bench, and a pack is as it was packed."""
        return (self.pack is None or self.pack.ok) and all(result.ok for result in self.results)

    def to_dict(self) -> dict[str, Any]:
        """All of it, as JSON can hold it.

        Examples
        --------
        >>> Verification("my-bench", 1e-9, ()).to_dict()
        {'ok': True, 'folder': 'my-bench', 'tolerance': 1e-09, 'results': [], 'pack': None}
        """
        results = [{"ok": result.ok} | asdict(result) for result in self.results]
        return {
            "ok": self.ok,
            "folder": self.folder,
            "tolerance": self.tolerance,
            "results": results,
            "pack": self.pack and {"ok": self.pack.ok} | asdict(self.pack),
        }

    def to_json(self) -> str:
        """All of it, as JSON.

        Examples
        --------
        >>> Verification("my-bench", 1e-9, ()).to_json()
        '{"ok": true, "folder": "my-bench", "tolerance": 1e-09, "results": [], "pack": null}'
        """
        return json.dumps(self.to_dict(), ensure_ascii=False, allow_nan=False)

    def __str__(self) -> str:
        lines = []
        told: list[PackState | Verified] = [*self.results]
        for result in [self.pack, *told] if self.pack else told:
            headline, *rest = result.said
            lines += [f"{'✓' if result.ok else '✗'} {headline}", *(f"    {text}" for text in rest)]
        return "\n".join(lines)


def in_words(entry: Verified, title: str, failed: str, tolerance: float) -> Iterator[str]:
    """A verified result in words.

    Parameters
    ----------
    entry : Verified
        What was found.
    title : str
        Of the bench that the result was saved for.
    failed : str
        Why it could not be read or made again; empty if it was.
    tolerance : float
        Relative difference up to which figures agree [1].

    Yields
    ------
    str
        A headline; what differs, and why; what to do.

    Examples
    --------
    >>> made = {"settings": {"draws": 0, "seed": None}, "files": {}, "versions": {}}
    >>> entry = Verified("a.nc", "reduction", SAME_BITS, 9, 9, provenance=made)
    >>> list(in_words(entry, "", "", 1e-9))
    ['a.nc, a reduction without draws: all 9 figures are the same, bit for bit.']
    """
    if entry.status == NOT_READ:
        yield f"{printable(entry.file)}: {failed}"
        return
    settings = entry.provenance["settings"]
    drawn = (
        f"with {settings['draws']} draws, seed {settings['seed']}" if settings["draws"] else "without draws"
    )
    yield f"{printable(entry.file)}, a {entry.kind} {drawn}: {_headline(entry, tolerance)}"
    yield from _files_in_words(entry, title)
    for name, place in entry.places.items():
        yield f"{printable(name)}, {place}."
    if entry.versions:
        then = {"spectralbench": entry.provenance["versions"].get("spectralbench")}
        then |= {name: before for name, (before, _) in entry.versions.items()}
        now = ", ".join(f"{name} {version}" for name, (_, version) in entry.versions.items())
        was = ", ".join(f"{name} {version or 'not recorded'}" for name, version in then.items())
        yield f"Saved with {printable(was)}; now {now}."
    if entry.status == NOT_MADE:
        yield f"It could not be made again: {failed}"
    if entry.kind == "comparison" and entry.differences and not _decides(entry):
        yield "Order and verdicts are the same."
    for difference in entry.differences[:_SHOWN]:
        yield f"{difference.text}."
    if len(entry.differences) > _SHOWN:
        yield f"And {len(entry.differences) - _SHOWN} more, which JSON lists: those above change most."
    yield from _texts_in_words(entry)
    yield from entry.causes
    if advice := _advice(entry):
        yield f"What to do: {advice}"


def _decides(entry: Verified) -> bool:
    """Whether a difference touches what a reader decides by."""
    return any(one.figure in ("verdict", "place") for one in entry.differences)


def _headline(entry: Verified, tolerance: float) -> str:
    if entry.status == SAME_BITS:
        return f"all {entry.figures} figures are the same, bit for bit."
    if entry.status == SAME:
        return (
            f"all {entry.figures} figures agree within {tolerance:g} of their value, "
            f"{entry.same_bits} of them bit for bit."
        )
    if entry.status == NOT_MADE:
        return "not verified."
    now = "from those that the raw files give now"
    if not entry.differences:
        count = f"{len(entry.texts)} text{'s differ' if len(entry.texts) > 1 else ' differs'}"
        return f"{count} {now}, and all {entry.figures} figures agree."
    different = len({(one.figure, one.of) for one in entry.differences})
    return f"{different} of {entry.figures} figures differ {now}."


def _texts_in_words(entry: Verified) -> Iterator[str]:
    """Texts one by one where nothing else explains them, and otherwise by their names."""
    if not entry.texts:
        return
    if entry.status == DIFFERS and not entry.differences:
        yield from (f"{one.text}." for one in entry.texts[:_SHOWN])
        if len(entry.texts) > _SHOWN:
            yield f"And {len(entry.texts) - _SHOWN} texts more, which JSON lists."
        return
    names = dict.fromkeys(one.where if one.where == "comment" else one.figure for one in entry.texts)
    listed = ", ".join(printable(name).replace("/", ", ").replace("_", " ") for name in list(names)[:_SHOWN])
    more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    if entry.differences or entry.files:
        yield f"Texts that differ with that: {listed}{more}."
    else:
        yield f"This version words otherwise, and no figure changes by it: {listed}{more}."


def _files_in_words(entry: Verified, title: str) -> Iterator[str]:
    words = {
        "changed": "Changed since it was saved",
        "missing": "No longer there",
        "not used": "There as before, but no longer named in the manifest",
        "new": "Named in the manifest only since",
    }
    for state, text in words.items():
        if names := [printable(name) for name, its in entry.files.items() if its == state]:
            more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
            yield f"{text}: {', '.join(names[:_SHOWN])}{more}."
    for number, (key, (then, now)) in enumerate(entry.manifest.items()):
        if number == _SHOWN:
            yield f"And {len(entry.manifest) - _SHOWN} more keys of {MANIFEST}."
            break
        yield f"{MANIFEST}, {printable(key)}: {then or 'nothing'} then, {now or 'nothing'} now."
    if MANIFEST in entry.files and not entry.manifest and entry.status != NOT_MADE:
        yield f"In {MANIFEST} only comments or the layout changed."
    recorded = entry.provenance["files"]
    if 2 * sum(entry.files.get(name) in ("changed", "missing") for name in recorded) > len(recorded):
        yield f"Most of its files are not those of this bench: perhaps it belongs to another, {quote(title)}."


def _advice(entry: Verified) -> str:
    anew = "save the result anew (--save)"
    if entry.files:
        if entry.status in (SAME, SAME_BITS):
            return f"no figure changed by that; {anew}, so that it names the files as they are."
        return (
            "bring the files back as they were (the result keeps the hash of each), or, if the change is "
            f"meant, {anew}, and decide by the new figures."
        )
    if entry.status == NOT_MADE:
        return "put the bench right as the message says, and verify again."
    if entry.status != DIFFERS:
        return ""
    if entry.versions:
        return (
            "no file has changed, so the difference comes from the software. Read its changelog between the "
            f"two versions; with the old ones the old figures come back. If the new figures hold, {anew}."
        )
    return (
        "neither files nor versions have changed. Either the archive was changed after it was saved, or this "
        f"computer calculates otherwise. Do not rely on it: {anew}, and hold the two against each other."
    )
