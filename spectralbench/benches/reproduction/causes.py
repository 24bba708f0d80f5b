"""Why figures moved: what can be told apart of files, manifest and versions, and what cannot."""

from __future__ import annotations

from collections.abc import Iterator

from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.reproduction.verification import Verified
from spectralbench.errors import printable


def worth_telling_apart(entry: Verified) -> bool:
    """Whether making a result once more, with the manifest as it was, tells causes apart.

    Parameters
    ----------
    entry : Verified
        A result whose figures differ.

    Returns
    -------
    bool
        True if the manifest and something else changed.

    Examples
    --------
    >>> worth_telling_apart(Verified("a.nc", manifest={"title": ("a", "b")}))
    False
    """
    return bool(entry.differences and entry.manifest and (_raw(entry) or entry.versions))


def causes_of(entry: Verified, remaining: set[tuple[str, str]] | str | None = None) -> Iterator[str]:
    """Why figures differ, in words.

    Parameters
    ----------
    entry : Verified
        What was found.
    remaining : set of tuple of str, or str, optional
        Figures, each with what it belongs to, that still differ with the manifest as it was; or why that
        could not be made.

    Yields
    ------
    str
        What follows from what, and what cannot be told apart.

    Examples
    --------
    >>> from spectralbench.benches.reproduction.differences import Difference
    >>> moved = (Difference("exposure_time", "LED 405"),)
    >>> list(causes_of(Verified("a.nc", differences=moved, files={"raw/led.csv": "changed"})))
    ['Why: nothing else differs, so raw/led.csv moved the figures.']
    """
    if not entry.differences:
        return
    files, keys, versions = _raw(entry), list(entry.manifest), list(entry.versions)
    kinds = [kind for kind in (files, keys, versions) if kind]
    if not kinds:
        return
    if len(kinds) == 1:
        of = f"{MANIFEST}, " if keys else ""
        yield f"Why: nothing else differs, so {of}{_and(kinds[0])} moved the figures{_apart(kinds[0])}."
        return
    others = _and([*files, *versions])
    if keys:
        moved = {(one.figure, one.of) for one in entry.differences}
        if not isinstance(remaining, set):
            because = f": with the manifest as it was, {remaining}" if remaining else ""
            yield f"Why: {MANIFEST} and {others} cannot be told apart{because}."
        elif not remaining:
            yield f"Why: with {MANIFEST} as it was, all figures are as saved: it moved them, not {others}."
        else:
            by_keys = len(moved - remaining)
            yield (
                f"Why: with {MANIFEST} as it was, {_figures(len(remaining))}, moved by {others}; "
                f"the other {by_keys} of {len(moved)} moved by {MANIFEST} alone."
            )
    if files and versions:
        yield (
            f"{_and(files)} and {_and(versions)} cannot be told apart here: that takes the file as it was, "
            "or the versions that it was saved with."
        )


def _raw(entry: Verified) -> list[str]:
    """Raw files that figures can have moved by; the manifest is told key by key."""
    return [
        printable(name) for name, state in entry.files.items() if name != MANIFEST and state != "not used"
    ]


def _and(names: list[str]) -> str:
    shown = [printable(name) for name in names[:6]]
    if len(names) > len(shown):
        shown.append(f"{len(names) - len(shown)} more")
    return " and ".join(filter(None, (", ".join(shown[:-1]), shown[-1])))


def _figures(count: int) -> str:
    return "1 figure still differs" if count == 1 else f"{count} figures still differ"


def _apart(names: list[str]) -> str:
    if len(names) == 1:
        return ""
    return "; which of them moved which, one change at a time would tell"
