"""The form of what ``--json`` prints: one description, from which JSON schemas are made.

A form has a number. It grows when a key comes, goes or means something else; names of figures,
sources, causes and files are no keys, and may be any.
"""

from __future__ import annotations

import json
from dataclasses import fields
from importlib.resources import files
from typing import Any, Literal, get_type_hints

from pydantic import BaseModel, ConfigDict, create_model

from spectralbench.benches.reproduction.differences import Difference
from spectralbench.benches.reproduction.pack_state import PackState
from spectralbench.benches.reproduction.verification import Verification, Verified

_DIALECT = "https://json-schema.org/draft/2020-12/schema"  # its name, which nothing fetches
Verdict = Literal["met", "not met", "not known", "no limit"]


class Document(BaseModel):
    """A table of names and values that is closed: it has no other keys."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)


class Figure(Document):
    """One figure, of one source or part or log."""

    value: float | None
    """In its unit, the mean of the draws; null if it is not known or has no end: then see `text`."""
    units: str
    """Its unit, in SI and nm, h, umol; a pure number has "1"."""
    text: str
    """Three digits in the unit that people use."""
    standard_uncertainty: float | None = None
    """In the same unit; only with draws, like `low`, `high` and `interval`."""
    low: float | None = None
    """Lower end of the interval that covers it with 95 %."""
    high: float | None = None
    """Upper end of that interval."""
    interval: str = ""
    """The interval in the unit that people use."""
    comment: str = ""
    """What has to be known beside it."""


class Grid(Document):
    """Wavelengths of a spectrum."""

    first: float
    last: float
    smallest_step: float
    largest_step: float
    units: Literal["nm"]


class Quantity(Document):
    """One quantity in a file."""

    quantity: str
    units: str
    shape: dict[str, int]
    """Length of each dimension."""
    lowest: float | None
    highest: float | None
    grid: Grid | None = None
    figures: dict[str, Figure] = {}
    """Peak, width and the like of a spectrum, by name."""


class Log(Document):
    """What a log runs along."""

    along: Literal["time", "hours", "position"]
    first: float | str | None
    last: float | str | None
    units: str


class File(Document):
    """One file, or one block of it."""

    file: str
    block: str | None
    """Name of the block; null for a whole file."""
    title: str = ""
    """Of the block."""
    format: str | None
    sha256: str | None
    header: dict[str, str]
    warnings: list[str]
    decisions: list[str]
    """How the layout was found."""
    history: list[str]
    quantities: list[Quantity]
    integration_time: float | str | None = None
    """In seconds."""
    time: float | str | None = None
    labels: dict[str, list[str]] = {}
    """Names of spectra or channels."""
    log: Log | None = None


class Settings(Document):
    """What a result was made with."""

    draws: int
    seed: int | None
    adjusted: dict[str, dict[str, float]] = {}
    """What was taken otherwise than on the bench, by control and by what it belongs to."""


class Provenance(Document):
    """What is needed to make every number again."""

    files: dict[str, str]
    """SHA-256 of each file, by its name from the bench's folder."""
    versions: dict[str, str]
    settings: Settings


class ReducedSource(Document):
    """One source as it was measured."""

    source: str
    kind: Literal["arc", "LED", "other"]
    filter: str
    distance: Figure
    invalid_pixels: int
    figures: dict[str, Figure]


class ReducedPart(Document):
    """One part, at the wavelengths that are quoted, which are the keys [nm]."""

    part: str
    drift: Figure
    transmittance_at: dict[str, float | None]
    transmittance_interval_at: dict[str, tuple[float | None, float | None]] = {}


class AgeingLog(Document):
    """One log of output against hours."""

    name: str
    figures: dict[str, Figure]


class RadiometerLog(Document):
    """What a radiometer read, and how that agrees with the spectrometer."""

    name: str
    number: str
    source: str
    target: str
    """Limits of the band in which it should show the irradiance [nm]; empty if not stated."""
    comparable: bool
    agree: bool | None
    """Null if that is not known."""
    verdict: str
    comment: str
    figures: dict[str, Figure]


class Reduction(Document):
    """A reduced bench."""

    title: str
    sources: list[ReducedSource]
    parts: list[ReducedPart]
    radiometer: list[RadiometerLog]
    ageing: list[AgeingLog]
    measured: dict[str, str] = {}
    """Date and time at which each raw file says that it was taken, by its name."""
    provenance: Provenance


class Judged(Document):
    """What one criterion says of one source."""

    verdict: Verdict
    limit: float | None
    """In the unit of the criterion's figure; null if nothing is required."""
    reason: str
    change: str
    """The nearest change with which it would be met; empty where there is none to tell."""
    share_met: float | None = None
    """Share of the draws that meet it; only with draws."""


class Compared(Document):
    """One source, in the order of the rule."""

    source: str
    place: int
    figures: dict[str, Figure]
    criteria: dict[str, Judged]
    share_ahead: dict[str, float | None] = {}
    """By each other source, the share of the draws in which this one needs a shorter exposure."""


class Criterion(Document):
    """What a criterion looks at."""

    figure: str
    what: str
    limit: float | None
    """Null if nothing is required, or of each source its own."""
    units: str
    required: str


class Depths(Document):
    """Depths below the front of the bond line."""

    units: Literal["m"]
    values: list[float]


class ByDepth(Document):
    """Where in the bond line photons are absorbed."""

    depth: Depths
    units: str
    sources: dict[str, list[float | None]]


class Shares(Document):
    """Where the uncertainty comes from."""

    causes: dict[str, str]
    """Where each cause stands in the manifest, largest first."""
    figures: dict[str, dict[str, dict[str, float | None]]]
    """By figure, source and cause: the share of the variance [1]."""


class Comparison(Document):
    """The sources of a bench at the bond line."""

    title: str
    advice: list[str]
    rule: str
    sources: list[Compared]
    criteria: dict[str, Criterion]
    required_photons: Figure
    absorbed_by_depth: ByDepth
    labels: dict[str, str]
    long_names: dict[str, str]
    variance_share: Shares | None = None
    not_measured: list[str]
    cautions: list[str]
    provenance: Provenance
    reduction: Reduction


def form(name: str) -> str:
    """Name and number of a form, as it stands in the document and as ``$id`` in its schema.

    Parameters
    ----------
    name : str
        Of the command that prints it.

    Returns
    -------
    str
        A name that is no address.

    Examples
    --------
    >>> form("compare")
    'urn:spectralbench:compare:1'
    """
    return f"urn:spectralbench:{name}:{NUMBERS[name]}"


def made_schema(name: str) -> dict[str, Any]:
    """Make the JSON schema of a form.

    Parameters
    ----------
    name : str
        Of the command.

    Returns
    -------
    dict
        The schema, as JSON Schema 2020-12.

    Examples
    --------
    >>> made_schema("demo")["required"]
    ['form', 'bench']
    """
    base, more = _FORMS[name]
    known: dict[str, Any] = {"form": (Literal[form(name)], ...), **more}
    model = create_model(f"{name.capitalize()}Document", __base__=base, **known)
    made = model.model_json_schema(mode="serialization")
    text = f"What spectralbench {name} --json prints."
    order = ["form", *(key for key in made["properties"] if key != "form")]
    made["properties"] = {key: made["properties"][key] for key in order}
    made["required"] = [key for key in order if key in made["required"]]
    return {
        "$schema": _DIALECT,
        "$id": form(name),
        **made,
        "title": f"spectralbench {name}",
        "description": text,
    }


def schema(name: str) -> dict[str, Any]:
    """The JSON schema of a form, as it is published with this version.

    Parameters
    ----------
    name : str
        Of the command: one of `NUMBERS`.

    Returns
    -------
    dict
        The schema, as JSON Schema 2020-12.

    Examples
    --------
    >>> schema("reduce")["$id"]
    'urn:spectralbench:reduce:1'
    """
    text = files(__package__).joinpath("schemas", f"{name}.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _closed(found: type, **more: Any) -> type[Document]:
    """A dataclass as a document, so that its fields are told once."""
    hints = get_type_hints(found)
    keys: dict[str, Any] = {field.name: (hints[field.name], ...) for field in fields(found)}
    made: type[Document] = create_model(found.__name__, __base__=Document, **(keys | more))
    made.__doc__ = (found.__doc__ or "").splitlines()[0]
    return made


_DIFFERENCE = _closed(Difference)
_DIFFERENCES: dict[str, Any] = dict.fromkeys(
    ("differences", "texts"),
    (list[_DIFFERENCE], ...),  # type: ignore[valid-type]
)
_VERIFIED = _closed(Verified, ok=(bool, ...), **_DIFFERENCES)
_PACK = _closed(PackState, ok=(bool, ...))
_RESULTS: dict[str, Any] = {
    "results": (list[_VERIFIED], ...),  # type: ignore[valid-type]
    "pack": (_PACK | None, ...),
}
_VERIFICATION = _closed(Verification, ok=(bool, ...), **_RESULTS)

_FORMS: dict[str, tuple[type[Document], dict[str, Any]]] = {
    "demo": (Document, {"bench": (str, ...)}),
    "new": (Document, {"bench": (str, ""), "notebook": (str, "")}),
    "inspect": (Document, {"files": (list[File], ...)}),
    "reduce": (Reduction, {"written": (list[str], ...)}),
    "compare": (
        Comparison,
        {"report": (str | None, None), "csv": (str | None, None), "saved": (list[str], [])},
    ),
    "pack": (
        Document,
        {
            "pack": (str, ...),
            "size": (int, ...),
            "files": (list[str], ...),
            "left_out": (list[str], ...),
            "made": (str, ...),
        },
    ),
    "unpack": (Document, {"bench": (str, ...)}),
    "verify": (_VERIFICATION, {}),
}

NUMBERS = dict.fromkeys(_FORMS, 1)
"""Number of each form, by its command."""
