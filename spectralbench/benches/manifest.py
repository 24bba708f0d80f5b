"""Reading the manifest of a bench, and saying where it is wrong."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from spectralbench.benches.lines import Lines
from spectralbench.benches.schema import Manifest
from spectralbench.errors import BenchError, Fault, quote

MANIFEST = "bench.toml"
_LARGEST = 1_000_000  # bytes; a manifest is written by hand
_START = 'Start from an example: "spectralbench demo FOLDER" writes one.'


def read_manifest(folder: Path) -> tuple[Manifest, dict[str, Any], Callable[[str], int | None]]:
    """Read and check the manifest of a bench folder.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.

    Returns
    -------
    manifest : Manifest
        What it says, in the package's own units.
    written : dict
        What it says as written.
    line_of : callable
        Tells the line on which a dotted key stands.

    Raises
    ------
    BenchError
        If the manifest is missing, no TOML, or says something wrong; with all faults.

    Examples
    --------
    >>> manifest, written, line_of = read_manifest(demo)
    >>> manifest.adhesive.bond_line.value, written["adhesive"]["bond_line"]
    (0.15, '0.15 mm ± 0.02 mm')
    >>> (demo / "bench.toml").read_text().splitlines()[line_of("adhesive.bond_line") - 1]
    'bond_line = "0.15 mm ± 0.02 mm"'
    """
    path = folder / MANIFEST
    if not path.is_file():
        raise BenchError(folder, [Fault("no bench.toml in it", "a manifest of that name", _START)])
    size = path.stat().st_size
    if size > _LARGEST:
        raise BenchError(path, [Fault(f"{size} bytes", f"at most {_LARGEST} bytes of TOML")])
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"byte 0x{error.object[error.start]:02x} at position {error.start}"
        raise BenchError(path, [Fault(found, "text in UTF-8", "Save the file as UTF-8.")]) from error
    try:
        written = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BenchError(path, [_toml_fault(text, str(error))]) from error
    line_of = Lines(text)
    try:
        manifest = Manifest.model_validate(written)
    except ValidationError as error:
        raise BenchError(path, _faults(error, line_of)) from error
    if faults := _contradictions(manifest, line_of):
        raise BenchError(path, faults)
    return manifest, written, line_of


def _toml_fault(text: str, message: str) -> Fault:
    match = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line = int(match[1]) if match else text.count("\n") + 1
    lines = text.splitlines() or [""]
    found = quote(lines[min(line, len(lines)) - 1].strip())
    reason = message.split(" (at ")[0]
    return Fault(found, "TOML", f"The TOML reader says: {reason}.", line, int(match[2]) if match else None)


def _faults(error: ValidationError, line_of: Callable[[str], int | None]) -> list[Fault]:
    faults = []
    for item in error.errors(include_url=False):
        places = [str(p + 1) if isinstance(p, int) else p for p in item["loc"]]
        key = ".".join(places)
        expected = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
        advice = ""
        if item["type"] == "missing":
            found, expected = "no such key", f"{places[-1]} to be given"
            table = ".".join(places[:-1])
            advice = f"Add it to [{table}]." if table else f"Add it as [{places[-1]}] or {places[-1]} = …."
        elif item["type"] == "extra_forbidden":
            found, expected = "an unknown key", "only the keys that the README lists"
            advice = "Look for a typing error."
        else:
            found = quote(item["input"])
        faults.append(Fault(found, expected, advice, line_of(key), None, key))
    return faults


def _contradictions(manifest: Manifest, line_of: Callable[[str], int | None]) -> list[Fault]:
    """What no single table can know: names used twice, sources that do not exist."""
    faults = []

    def fault(key: str, found: str, expected: str, advice: str = "") -> None:
        faults.append(Fault(found, expected, advice, line_of(key), None, key))

    adhesive = manifest.adhesive
    named: dict[str, list[str]] = {
        "source": [item.name for item in manifest.source],
        "part": [item.name for item in manifest.part],
        "adhesive.initiator": [item.name for item in adhesive.initiator],
    }
    for table, names in named.items():
        for number, name in enumerate(names, 1):
            first = names.index(name) + 1
            if first < number:
                found = f"the name {quote(name)} of number {first} again"
                fault(f"{table}.{number}.name", found, "each name once", "Rename one of them.")
    logs: dict[str, list[str | None]] = {
        "ageing": [log.source for log in manifest.ageing],
        "radiometer": [log.source for log in manifest.radiometer],
    }
    for table, sources in logs.items():
        for number, source in enumerate(sources, 1):
            key = f"{table}.{number}.source"
            if source is not None and source not in named["source"]:
                known = ", ".join(quote(name) for name in named["source"])
                fault(key, quote(source), f"the name of a source: {known}")
            elif table == "ageing" and source in sources[: number - 1]:
                fault(key, f"a second log for {quote(source)}", "one log for each source", "Join the two.")
    used: dict[str, str] = {}
    for key, file in manifest.files().items():
        role = re.sub(r"\.\d+", "", key)
        if used.setdefault(file, role) != role:
            fault(key, f"{quote(file)}, which is {used[file]} already", "each raw file in one role")
    return faults
