"""What changed in the files of a bench since a result was saved: which, where, which keys of the manifest."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator
from functools import cache, partial
from itertools import zip_longest
from pathlib import Path
from typing import Any

from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.reproduction.fingerprints import first_difference
from spectralbench.benches.reproduction.packing_list import LIST, read_list
from spectralbench.errors import ReadError, printable, quote

_MOST_BESIDE = 500  # files beside a missing one that are looked at
_LONGEST = 60  # letters of a line, or of a value, that are shown


def files_changed(folder: Path, recorded: dict[str, str], now: dict[str, str] | None) -> dict[str, str]:
    """Files that are not as recorded.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.
    recorded : dict
        By name, the SHA-256 in a saved result.
    now : dict or None
        The same of the bench as it opens now; None if it does not.

    Returns
    -------
    dict
        By name: ``"changed"``, ``"missing"``, ``"not used"`` or ``"new"``.

    Examples
    --------
    >>> files_changed(Path("/nowhere"), {"raw/a.csv": "0"}, None)
    {'raw/a.csv': 'missing'}
    """
    states = {}
    for name, digest in recorded.items():
        current = (now or {}).get(name) or _digest(folder, name)
        if current is None:
            states[name] = "missing"
        elif current != digest:
            states[name] = "changed"
        elif now is not None and name not in now:
            states[name] = "not used"
    return states | {name: "new" for name in now or {} if name not in recorded}


def places_changed(folder: Path, recorded: dict[str, str], states: dict[str, str]) -> dict[str, str]:
    """Where files that changed do so first, if the bench was packed once.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder; a list ``pack.json`` in it knows the lines of each file.
    recorded : dict
        By name, the SHA-256 in a saved result; a list of other files is not asked.
    states : dict
        From `files_changed`; the manifest is told key by key.

    Returns
    -------
    dict
        By name, the place in words; a file of which nothing can be told is left out.

    Examples
    --------
    >>> places_changed(demo, {}, {})
    {}
    """
    changed = [name for name, state in states.items() if state == "changed" and name != MANIFEST]
    found = _elsewhere(folder, {name: recorded[name] for name, its in states.items() if its == "missing"})
    try:
        if not changed or (folder / LIST).is_symlink():
            return found
        kept = {one.name: one for one in read_list(LIST, (folder / LIST).read_bytes()).files}
    except (OSError, ReadError):
        return found
    for name in changed:
        one = kept.get(name)
        if one is None or one.sha256 != recorded[name] or (data := _bytes(folder, name)) is None:
            continue
        place = first_difference(data, one.lines, one.sha256)
        if place is None:
            continue
        if place.column is not None:
            found[name] = (
                f"line {place.line}, column {place.column}: {place.before} then, {place.now} now, "
                "and nothing else in it changed"
            )
        else:
            more = "" if place.lines == 1 else f"; {place.lines} lines differ"
            found[name] = (
                f"line {place.line} says {quote(place.now, _LONGEST)}, and said something else{more}"
            )
    return found


def _elsewhere(folder: Path, missing: dict[str, str]) -> dict[str, str]:
    """Of missing files, which have the contents of one that lies beside their place under another name."""
    held = cache(partial(_digest, folder))  # each file is read once, however many are missing
    found = {}
    for name, digest in missing.items():
        try:
            beside = sorted((folder / name).parent.iterdir())[:_MOST_BESIDE]
        except (OSError, ValueError):
            continue
        for path in beside:
            other = f"{name.rpartition('/')[0]}/{path.name}".lstrip("/")
            if path.suffix == Path(name).suffix and held(other) == digest:
                found[name] = f"of the same contents as {printable(other)}: it was renamed"
                break
    return found


def settings_changed(folder: Path, before: str) -> dict[str, tuple[str | None, str | None]]:
    """What the manifest said and says, where that is not the same.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.
    before : str
        The manifest as a saved result keeps it.

    Returns
    -------
    dict
        By dotted key, both in words; None where a manifest says nothing.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> text = read_manifest(demo)[1].replace('bond_line = "0.15 mm', 'bond_line = "0.2 mm')
    >>> settings_changed(demo, text)
    {'adhesive.bond_line': ('"0.2 mm ± 0.02 mm"', '"0.15 mm ± 0.02 mm"')}
    """
    try:
        now = (folder / MANIFEST).read_bytes().decode("utf-8-sig")
        then, present = (dict(_keys(tomllib.loads(text), "")) for text in (before, now))
    except (OSError, ValueError, RecursionError):
        return {}
    return {
        key: _cut(then.get(key), present.get(key))
        for key in {**then, **present}
        if then.get(key) != present.get(key)
    }


def _keys(value: Any, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _keys(inner, f"{key}.{name}".lstrip("."))
    elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for number, item in enumerate(value, 1):
            yield from _keys(item, f"{key}.{number}")
    else:
        text = printable(str(value))
        yield key, f'"{text}"' if isinstance(value, str) else text


def _cut(then: str | None, now: str | None) -> tuple[str | None, str | None]:
    """Two texts that differ, each cut to where they do."""
    one, other = then or "", now or ""
    alike = next(i for i, (a, b) in enumerate(zip_longest(one, other)) if a != b)
    first = alike - 20 if alike > _LONGEST - 20 else 0
    return _from(then, first), _from(now, first)


def _from(text: str | None, first: int) -> str | None:
    if text is None:
        return None
    piece = text[first : first + _LONGEST]
    return "…" * (first > 0) + piece + "…" * (first + len(piece) < len(text))


def _digest(folder: Path, name: str) -> str | None:
    data = _bytes(folder, name)
    return None if data is None else hashlib.sha256(data).hexdigest()


def _bytes(folder: Path, name: str) -> bytes | None:
    """A file inside the folder; the name comes from an archive and may say anything."""
    try:
        path = (folder / name).resolve()
        if not (path.is_relative_to(folder.resolve()) and path.is_file()):
            return None
        return path.read_bytes()
    except (OSError, ValueError, RuntimeError):
        return None
