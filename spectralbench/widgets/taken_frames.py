"""One frame of a bench as it was taken: its scans, its dark, its references, its line in the manifest."""

from __future__ import annotations

import json
from os import PathLike
from pathlib import PurePosixPath
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.benches.folder import Role, array_of, manifest_of, open_bench, roles_of
from spectralbench.benches.frames import counts_of, noise_model
from spectralbench.benches.reducing import is_reduced
from spectralbench.benches.referencing import drift
from spectralbench.benches.schema import Manifest
from spectralbench.corrections import (
    NoiseModel,
    average_scans,
    dark_at,
    mask_saturated,
    sensor_temperature,
    subtract_dark,
)
from spectralbench.corrections.frame_words import CARE, GOOD, NOT, Finding, per_cent
from spectralbench.errors import RangeError, SpectralBenchError, quote

_DRIFT = 0.01  # between references (common practice, no source)
_PRACTICE = "common practice, no source"


class Criterion(NamedTuple):
    """Something that a frame is held against."""

    title: str
    found: str
    limit: str
    standing: str
    finding: Finding


class TakenFrame(NamedTuple):
    """A frame, and what is needed to judge it."""

    title: str
    counts: xr.DataArray
    full_scale: float | str
    level: float | str
    dark: xr.DataArray | None = None
    noise: NoiseModel | None = None
    criteria: tuple[Criterion, ...] = ()  # beyond those of the frame itself
    role: Role | None = None


def taken_in(bench: xr.DataTree | str | PathLike[str], frame: str | None) -> TakenFrame:
    """Find a frame of a bench.

    Parameters
    ----------
    bench : xarray.DataTree, str or path
        From `spectralbench.open_bench` or `spectralbench.reduce_bench`, or the folder itself.
    frame : str
        Its file, its key in the manifest, or the name of a source.

    Returns
    -------
    TakenFrame
        With every scan, also those that the manifest leaves out.

    Raises
    ------
    BenchError
        If the bench cannot be opened.
    RangeError
        If there is no such frame.

    Examples
    --------
    >>> taken = taken_in(demo, "raw/cover.csv")
    >>> [criterion.title for criterion in taken.criteria], taken.criteria[1].found
    (['dark', 'references before and after'], '3.5 %')
    """
    tree = bench if isinstance(bench, xr.DataTree) else open_bench(bench)
    if is_reduced(tree):
        tree = open_bench(str(tree.attrs["folder"]))
    manifest = manifest_of(tree, as_it_is=True)
    role = _role(manifest, frame)
    counts = array_of(tree, role.node, "counts")
    instrument = manifest.instrument
    noise = None if instrument.read_noise is None else noise_model(manifest, [counts])
    full_scale, level = instrument.full_scale.value, instrument.saturation.value
    taken = TakenFrame(role.file, counts, full_scale, level, None, noise, (), role)
    if role.node.startswith("/dark/"):
        return taken
    dark, criterion = _dark(tree, manifest, counts)
    criteria = [criterion, *_references(tree, manifest, role)]
    return taken._replace(dark=dark, criteria=tuple(criteria))


def as_manifest(role: Role | None, left_out: dict[int, str]) -> str:
    """What the manifest has to say of a frame.

    Parameters
    ----------
    role : Role or None
        Its place in the bench, if it has one.
    left_out : dict
        Scans that are left out, with their reasons.

    Returns
    -------
    str
        A line of TOML.

    Examples
    --------
    >>> role = next(roles_of(manifest_of(reduced)))
    >>> as_manifest(role, {3: "lamp flickered"})
    'frame = { file = "raw/dark_2ms.csv", left_out = [3], because = "lamp flickered" }'
    """
    entries = []
    name = "frame"
    if role is not None and role.frame is not None:
        name = role.key.split(".")[-1]
        entries.append(("file", _quoted(role.file)))
        for key in ("integration_time", "temperature"):
            stated = getattr(role.frame, key)
            if stated is not None:
                entries.append((key, _quoted(f"{stated.value:g} {'s' if key[0] == 'i' else 'K'}")))
    if left_out:
        entries.append(("left_out", str(sorted(left_out))))
        entries.append(("because", _quoted(because(left_out))))
    if role is None:
        return "\n".join(f"{key} = {value}" for key, value in entries)
    table = "{ " + ", ".join(f"{key} = {value}" for key, value in entries) + " }"
    if len(entries) == 1:
        table = entries[0][1]
    return f"{table}," if name.isdigit() else f"{name} = {table}"


def because(left_out: dict[int, str]) -> str:
    """The reasons of all scans that are left out, in one line.

    Examples
    --------
    >>> because({3: "shutter", 5: "shutter"}), because({3: "shutter", 5: "lamp"})
    ('shutter', 'shutter (3); lamp (5)')
    """
    reasons: dict[str, list[int]] = {}
    for number in sorted(left_out):
        reasons.setdefault(left_out[number], []).append(number)
    if len(reasons) < 2:
        return "".join(reasons)
    return "; ".join(f"{reason} ({', '.join(map(str, numbers))})" for reason, numbers in reasons.items())


def _quoted(text: str) -> str:
    """A basic string of TOML, which is one of JSON."""
    return json.dumps(text, ensure_ascii=False)


def _role(manifest: Manifest, frame: str | None) -> Role:
    roles = [role for role in roles_of(manifest) if role.frame is not None]
    named = {f"source.{i}.frame": source.name for i, source in enumerate(manifest.source, 1)}
    for role in roles:
        names = (role.file, role.key, role.node, PurePosixPath(role.file).name, named.get(role.key))
        if frame is not None and frame in names:
            return role
    known = ", ".join(quote(role.file) for role in roles)
    if frame is None:
        raise RangeError(f"say which frame of this bench is to be checked: {known}")
    raise RangeError(f"there is no frame {quote(frame)} in this bench; there are {known}")


def _dark(
    tree: xr.DataTree, manifest: Manifest, counts: xr.DataArray
) -> tuple[xr.DataArray | None, Criterion]:
    """The dark of a frame, and whether it was taken as the frame was."""
    time, kelvin = float(counts.coords["integration_time"]), sensor_temperature(counts)
    at = f"{time * 1e3:g} ms" + ("" if kelvin is None else f" and {kelvin:g} K")
    darks = [array_of(tree, f"/dark/{i}", "counts") for i in range(1, len(manifest.dark) + 1)]

    def criterion(found: str, verdict: str, reason: str = "") -> Criterion:
        finding = Finding(verdict, reason)
        return Criterion("dark", found, f"at {at}, as this frame", _PRACTICE, finding)

    try:
        dark = dark_at(darks, time, kelvin)
    except SpectralBenchError as error:
        return None, criterion("none", NOT, str(error))
    history = dark.attrs.get("history", "").splitlines()
    modelled = [line for line in history if line.startswith("modelled the dark")]
    if modelled:
        return dark, criterion(
            "modelled", CARE, modelled[-1].replace("modelled the dark", "the dark is modelled")
        )
    return dark, criterion(f"taken at {at}", GOOD)


def _references(tree: xr.DataTree, manifest: Manifest, role: Role) -> list[Criterion]:
    """How far the references before and after a sample differ, if the frame is one of these."""
    inside = role.node.rpartition("/")[0]
    if not inside.startswith("/part/"):
        return []
    references = [
        other
        for other in roles_of(manifest)
        if other.node.rpartition("/")[0] == inside and "/reference_" in other.node
    ]
    title, limit = "references before and after", f"{per_cent(_DRIFT)} or less"
    if len(references) < 2:
        few = Finding(CARE, "one reference: whether the lamp drifted is not known; take one after the sample")
        return [Criterion(title, "one", limit, _PRACTICE, few)]
    try:
        differ = drift([_signal(tree, manifest, other) for other in references])
    except SpectralBenchError as error:
        return [Criterion(title, "not known", limit, _PRACTICE, Finding(CARE, str(error)))]
    finding = Finding(GOOD, "")
    if differ > _DRIFT:
        words = f"the references differ by {per_cent(differ)}; the sample is held against a line between them"
        finding = Finding(CARE, words)
    return [Criterion(title, per_cent(differ), limit, _PRACTICE, finding)]


def _signal(tree: xr.DataTree, manifest: Manifest, role: Role) -> np.ndarray:
    """Counts of a frame without its dark, a second (wavelength,)."""
    instrument = manifest.instrument
    counts = counts_of(tree, role)
    valid = mask_saturated(counts, instrument.full_scale.value, instrument.saturation.value)
    dark, criterion = _dark(tree, manifest, counts)
    if dark is None:
        raise RangeError(criterion.finding.reason)
    mean, _ = average_scans(valid)
    return np.asarray(subtract_dark(mean, dark).values / float(counts.coords["integration_time"]))
