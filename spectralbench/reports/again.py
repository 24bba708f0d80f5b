"""How to make every number again: which files, which versions, which commands."""

from __future__ import annotations

import json
import shlex
from typing import Any

from spectralbench.benches.adjustments import UNITS
from spectralbench.benches.folder import Role, roles_of
from spectralbench.benches.manifest import MANIFEST
from spectralbench.benches.schema import Manifest
from spectralbench.reports.figures import Record

_PACKAGE = "spectralbench"


def uses_of(manifest: Manifest, files: dict[str, str]) -> list[tuple[str, list[str], str]]:
    """What each file of a bench is for.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of itself.
    files : dict
        SHA-256 of each file, by its name.

    Returns
    -------
    list of (str, list of str, str)
        Of each file its name, what it is used as, and its hash.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> uses_of(manifest_of(reduced), {"raw/led_405.csv": "0"})
    [('raw/led_405.csv', ['frame of LED 405'], '0')]
    """
    uses: dict[str, dict[str, list[str]]] = {name: {} for name in files}
    for role in roles_of(manifest):
        what, of = _use(role, manifest)
        uses.setdefault(role.file, {}).setdefault(what, []).extend([of] if of else [])
    said = {
        name: [f"{what} of {'; '.join(of)}" if of else what for what, of in known.items()]
        for name, known in uses.items()
    }
    said[MANIFEST] = ["what was measured, and what is required"]
    return [(name, said[name], sha) for name, sha in files.items()]


def _use(role: Role, manifest: Manifest) -> tuple[str, str]:
    """What a raw file is, and of what; the latter is empty where there is one of it, or no name."""
    kind, name, *rest = role.node.strip("/").split("/")
    what = " ".join(rest).replace("_", " ")
    if kind in _NAMELESS:
        return _NAMELESS[kind], ""
    if kind == "standard_lamp":
        return name, "the standard lamp"
    if kind == "radiometer":
        return what or "readings", manifest.radiometer[int(name) - 1].name
    return what or _ALONE.get(kind, kind), name


_NAMELESS = {"dark": "dark frame", "line_spread": "frame of a line, for stray light"}
_ALONE = {"adhesive": "absorption curve", "ageing": "ageing log"}


def files_of(source: str, manifest: Manifest) -> list[tuple[str, str]]:
    """Raw files of one source, with those of its logs.

    Parameters
    ----------
    source : str
        Its name; of several that shine together there are none of their own.
    manifest : Manifest
        What the bench says of itself.

    Returns
    -------
    list of (str, str)
        What each is, and its name.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> files_of("LED 405", manifest_of(reduced))[0]
    ('frame', 'raw/led_405.csv')
    """
    own = (role for role in roles_of(manifest) if role.node.startswith(f"/source/{source}/"))
    found = [(_use(role, manifest)[0], role.file) for role in own]
    found += [("ageing log", log.file) for log in manifest.ageing if log.source == source]
    found += [(f"readings of {log.name}", log.file) for log in manifest.radiometer if log.source == source]
    return found


def commands_of(provenance: Record) -> dict[str, Any]:
    """What to type to make the numbers again.

    Parameters
    ----------
    provenance : dict
        Of a comparison.

    Returns
    -------
    dict
        ``python``, its version; ``install``, ``compare`` and ``verify`` for a terminal; ``adjusted``,
        for Python, where the bench was taken to be otherwise, and else empty.

    Examples
    --------
    >>> versions = {"python": "3.12.1", "spectralbench": "1.0"}
    >>> commands_of({"settings": {"draws": 200, "seed": 1}, "versions": versions})["compare"]
    'spectralbench compare FOLDER --draws 200 --seed 1 --report again.html'
    """
    versions, settings = dict(provenance["versions"]), provenance["settings"]
    python, own = versions.pop("python"), versions.pop(_PACKAGE)
    wheel = f"{_PACKAGE}-{own}-py3-none-any.whl"
    held = [shlex.quote(f"{name}=={version}") for name, version in versions.items()]
    draws, seed = settings["draws"] or 0, settings["seed"]
    drawn = f" --seed {seed}" if draws else ""
    return {
        "python": python,
        "wheel": wheel,
        "install": " ".join(["python -m pip install", shlex.quote(wheel), *held]),
        "compare": f"{_PACKAGE} compare FOLDER --draws {draws}{drawn} --report again.html",
        "verify": f"{_PACKAGE} verify FOLDER",
        "adjusted": _in_python(settings.get("adjusted") or {}, draws, seed),
    }


def _in_python(adjusted: dict[str, dict[str, float]], draws: int, seed: int | None) -> str:
    """The same in Python, of a bench that was taken to be otherwise."""
    if not any(adjusted.values()):
        return ""
    given = []
    for control, values in adjusted.items():
        unit = UNITS[control].replace("1", "")
        said = {name: f"{value!r} {unit}" if unit else value for name, value in values.items()}
        whole: object = said.get("", said)
        given.append(f"{control}={json.dumps(whole, ensure_ascii=False)}")
    drawn = f", draws={draws}, seed={seed}" if draws else ""
    return "\n".join(
        [
            "import spectralbench as sb",
            "from spectralbench.reports.page import write_report",
            "",
            f'bench = sb.adjust(sb.reduce_bench("FOLDER"{drawn}), {", ".join(given)})',
            'write_report("again.html", bench, sb.compare(bench))',
        ]
    )
