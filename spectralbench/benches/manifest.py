"""Reading the manifest of a bench, and saying where it is wrong."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from spectralbench.benches.lines import Lines
from spectralbench.benches.plus_minus import refused
from spectralbench.benches.quantities import KeyedError
from spectralbench.benches.schema import Manifest
from spectralbench.benches.uncertainty import OF_THEMSELVES
from spectralbench.errors import BenchError, Fault, quote

MANIFEST = "bench.toml"
_LARGEST = 100_000  # bytes; a manifest is written by hand
_LONGEST = 2_000  # characters of a line
_START = 'Start one: "spectralbench new FOLDER"; "spectralbench demo FOLDER" writes an example.'


def read_manifest(folder: Path) -> tuple[Manifest, str]:
    """Read and check the manifest of a bench folder.

    Parameters
    ----------
    folder : pathlib.Path
        The bench folder.

    Returns
    -------
    manifest : Manifest
        What it says, in the package's own units.
    text : str
        The manifest as written.

    Raises
    ------
    BenchError
        If the manifest is missing, no TOML, or says something wrong; with all faults.

    Examples
    --------
    >>> manifest, text = read_manifest(demo)
    >>> manifest.adhesive.bond_line.value
    0.15
    """
    path = folder / MANIFEST
    if not path.is_file():
        found = f"a {MANIFEST} that is no file" if path.exists() else f"no {MANIFEST} in it"
        raise BenchError(folder, [Fault(found, "a manifest of that name", _START)])
    try:
        data = path.read_bytes() if path.stat().st_size <= _LARGEST else b""
    except OSError as error:
        raise BenchError(path, [Fault(error.strerror or str(error), "a file that can be read")]) from error
    if path.stat().st_size > _LARGEST:
        raise BenchError(path, [Fault(f"{path.stat().st_size} bytes", f"at most {_LARGEST} bytes of TOML")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"byte 0x{error.object[error.start]:02x} at position {error.start}"
        raise BenchError(path, [Fault(found, "text in UTF-8", "Save the file as UTF-8.")]) from error
    return parse_manifest(text, path), text


def parse_manifest(text: str, path: Path) -> Manifest:
    """Check the text of a manifest.

    Parameters
    ----------
    text : str
        TOML.
    path : pathlib.Path
        Where it came from, for messages.

    Returns
    -------
    Manifest
        What it says, in the package's own units.

    Raises
    ------
    BenchError
        If it is no TOML, or says something wrong; with all faults.

    Examples
    --------
    >>> parse_manifest((demo / "bench.toml").read_text(encoding="utf-8"), demo).instrument.pixels
    2048
    """
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > _LONGEST:
            found = f"a line of {len(line)} characters"
            raise BenchError(path, [Fault(found, f"at most {_LONGEST} characters", "", number)])
    try:
        written = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of 5,000 digits is a ValueError, too
        raise BenchError(path, [_toml_fault(text, str(error))]) from error
    line_of = Lines(text)
    try:
        manifest = Manifest.model_validate(written)
    except ValidationError as error:
        raise BenchError(path, _faults(error, line_of)) from error
    if faults := _contradictions(manifest, written, line_of):
        raise BenchError(path, faults)
    return manifest


def _toml_fault(text: str, message: str) -> Fault:
    match = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.split("\n")
    line = int(match[1]) if match else len(lines)
    found = quote(lines[min(line, len(lines)) - 1].strip())
    reason = message.split(" (at ")[0]
    return Fault(found, "TOML", f"The TOML reader says: {reason}.", line, int(match[2]) if match else None)


def _faults(error: ValidationError, line_of: Lines) -> list[Fault]:
    faults = []
    for item in error.errors(include_url=False):
        places = [str(p + 1) if isinstance(p, int) else p for p in item["loc"]]
        given = item["input"]
        if isinstance(misplaced := item.get("ctx", {}).get("error"), KeyedError):
            places.append(misplaced.key)
            given = given[misplaced.key] if isinstance(given, dict) else given
        key = ".".join(places)
        found = _shown(given)
        expected = _EXPECTED.get(item["type"], item["msg"].removeprefix("Value error, "))
        advice = ""
        if item["type"] == "missing":
            found, expected = "no such key", f"{places[-1]} to be given"
            if len(places) > 1:
                advice = f"Add it to [{'.'.join(places[:-1])}]."
            elif places[-1] in _TABLES:
                advice = f"Add a table {_TABLES[places[-1]]}."
        elif item["type"] == "extra_forbidden":
            found, expected = "an unknown key", "only the keys that `spectralbench new` writes"
            advice = _nearest(places[-1], _keys_beside(item["loc"]))
        elif item["type"] == "too_short":
            expected = f"{item['ctx']['min_length']} or more of them"
        elif key in _TABLES and _TABLES[key].startswith("[["):
            advice = f"Write {_TABLES[key]}, once for each."
        faults.append(
            Fault(found, expected.removeprefix("Input should be "), advice, line_of(key), None, key)
        )
    return faults


def _keys_beside(places: Sequence[int | str]) -> list[str]:
    """The keys of the table in which a key stands."""
    table: type[BaseModel] = Manifest
    for place in places[:-1]:
        if isinstance(place, str):
            table = next(_tables_in(table.model_fields[place].annotation))
    return list(table.model_fields)


def _tables_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The table that an annotation holds, in a list or not."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _tables_in(part)


def _nearest(key: str, known: list[str]) -> str:
    """What somebody may have meant by a key."""
    if near := get_close_matches(key, known, 1):
        return f"Is it {near[0]}?"
    return f"This table takes {', '.join(known)}."


def _shown(given: object) -> str:
    """What stands in the manifest, quoted where it is plain; a table may be of any depth."""
    if isinstance(given, dict):
        return "a table"
    if not isinstance(given, list):
        return quote(given)
    plain = all(isinstance(item, str | int | float) for item in given)
    return quote(json.dumps(given, ensure_ascii=False)) if plain else "a list of tables"


_EXPECTED = {
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "list_type": "a list, in square brackets",
    "string_type": "a text, in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false, without quotes",
    "too_long": "two wavelengths",
}
_TABLES = {name: f"[{name}]" for name in ("instrument", "standard_lamp", "adhesive", "requirement")}
_TABLES |= {
    name: f"[[{name}]]"
    for name in ("dark", "source", "part", "radiometer", "ageing", "line_spread", "uncertainty")
}
_TABLES["adhesive.initiator"] = "[[adhesive.initiator]]"


def _contradictions(manifest: Manifest, written: dict[str, object], line_of: Lines) -> list[Fault]:
    """What no single table can know: names used twice, sources that do not exist."""
    faults = []

    def fault(key: str, found: str, expected: str, advice: str = "") -> None:
        faults.append(Fault(found, expected, advice, line_of(key), None, key))

    adhesive = manifest.adhesive
    named: dict[str, list[str]] = {
        "source": [item.name for item in manifest.source],
        "part": [item.name for item in manifest.part],
        "adhesive.initiator": [item.name for item in adhesive.initiator],
        "adhesive.absorber": [item.name for item in adhesive.absorber],
    }
    for number, group in enumerate(manifest.together, 1):
        if group.name in [*named["source"], *(other.name for other in manifest.together[: number - 1])]:
            found = f"the name {quote(group.name)} again"
            fault(f"together.{number}.name", found, "each name once", "Rename one of them.")
        for place, head in enumerate(group.heads, 1):
            if head.source not in named["source"]:
                known = ", ".join(map(quote, named["source"]))
                key = f"together.{number}.heads.{place}.source"
                fault(key, quote(head.source), f"the name of a source: {known}")
    for number, name in enumerate(named["adhesive.absorber"], 1):
        if name in named["adhesive.initiator"]:
            found = f"the name {quote(name)} of an initiator"
            fault(f"adhesive.absorber.{number}.name", found, "each name once", "Rename one of them.")
    if adhesive.oxygen_threshold is not None and manifest.requirement.data_sheet_wavelength is None:
        expected = "requirement.data_sheet_wavelength beside it: the wavelength for which it holds"
        fault("adhesive.oxygen_threshold", _shown(_at(written, "adhesive.oxygen_threshold")), expected)
    for table, names in named.items():
        for number, name in enumerate(names, 1):
            first = names.index(name) + 1
            if first < number:
                found = f"the name {quote(name)} of number {first} again"
                fault(f"{table}.{number}.name", found, "each name once", "Rename one of them.")
    of_input = {
        "attenuator": named["source"],
        "spectral irradiance": named["source"],
        "transmittance": named["part"],
        "absorption coefficient": named["adhesive.initiator"],
        "absorbance": named["adhesive.absorber"],
    }
    for number, line in enumerate(manifest.uncertainty, 1):
        key, known_names = f"uncertainty.{number}", of_input.get(line.input, [])
        if line.of is not None and not known_names:
            fault(f"{key}.of", quote(line.of[0]), "no names here", f"There is but one {line.input}.")
        for name in line.of or []:
            if known_names and name not in known_names:
                expected = ", ".join(map(quote, known_names))
                fault(f"{key}.of", quote(name), f"names of what the {line.input} belongs to: {expected}")
        if line.name in [other.name for other in manifest.uncertainty[: number - 1]]:
            fault(
                f"{key}.name", f"the name {quote(line.name)} again", "each name once", "Rename one of them."
            )
        if line.name in OF_THEMSELVES:
            fault(f"{key}.name", quote(line.name), "a name that the budget does not use itself")
        if line.input == "wavelength" and line.correlation != "full":
            fault(
                f"{key}.correlation", quote(line.correlation), '"full": the whole scale is off by one amount'
            )
    for key, expected, advice in refused(manifest):
        fault(key, _shown(_at(written, key)), expected, advice)
    instrument = manifest.instrument
    in_band, read_noise = instrument.in_band, instrument.read_noise
    if manifest.line_spread and in_band is None:
        expected = "in_band, the pixels on either side of a line that count as the line"
        fault("instrument", "no such key", expected, "Frames of lines need it to become a correction.")
    elif in_band is not None and not manifest.line_spread:
        expected = "a table [[line_spread]], for it is the lines that in_band belongs to"
        fault("instrument.in_band", quote(in_band), expected, "Add frames of lines, or leave in_band out.")
    elif in_band is not None and 2 * in_band + 1 > instrument.pixels / 2:
        expected = f"at most {(instrument.pixels - 2) // 4}"
        advice = "A line as wide as half of the detector leaves no stray light beside it."
        fault("instrument.in_band", quote(in_band), expected, advice)
    if read_noise is not None and read_noise.value > (most := _NOISIEST * instrument.full_scale.value):
        expected = f"at most {most:.0f} counts, {100 * _NOISIEST:g} % of the full scale"
        fault(
            "instrument.read_noise", quote(f"{read_noise.value:g}"), expected, "It is in counts, of one scan."
        )
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
    places: dict[str, str] = {}  # of each file, the key that names it first
    for key, file in manifest.files().items():
        before = places.setdefault(file, key)
        role, role_before = (re.sub(r"\.\d+", "", place) for place in (key, before))
        if role != role_before:
            fault(key, f"{quote(file)}, which is {before} already", "each raw file in one role")
        elif before != key and role not in _SHARED:
            fault(key, f"{quote(file)} of {before} again", "each frame and each log once", "Correct one.")
    return faults


def _at(written: object, key: str) -> object:
    """What stands in a manifest under a dotted key."""
    for part in key.split("."):
        written = written[int(part) - 1] if isinstance(written, list) else written[part]  # type: ignore[index]
    return written


_NOISIEST = 0.02  # of the full scale; no detector of a spectrometer is so noisy (common practice, no source)

_SHARED = (  # one file may serve several of these
    *("source.attenuator", "source.profile", "adhesive.initiator.curve"),
    *("radiometer.response", "radiometer.calibration_source"),
)
