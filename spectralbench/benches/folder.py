"""Opening a bench folder: its manifest and every raw file, checked against each other."""

from __future__ import annotations

import json
import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from os import PathLike
from pathlib import Path
from typing import NamedTuple, cast

import numpy as np
import xarray as xr

from spectralbench import curves
from spectralbench.benches.adjustments import adjusted, kept
from spectralbench.benches.lines import Lines
from spectralbench.benches.manifest import MANIFEST, parse_manifest, read_manifest
from spectralbench.benches.mismatches import SAME_TIME, mismatches
from spectralbench.benches.origins import hashes_and_versions, moments
from spectralbench.benches.quantities import KeyedError
from spectralbench.benches.schema import Frame, Manifest
from spectralbench.errors import BenchError, Fault, GridError, RangeError, ReadError, UnitsError, quote
from spectralbench.model import COORDINATES, QUANTITIES, check
from spectralbench.readers import read
from spectralbench.readers.reading import only_dataset

_log = logging.getLogger(__name__)


class Role(NamedTuple):
    """One raw file: where it belongs, and what it has to hold."""

    key: str  # in the manifest
    node: str  # in the tree
    file: str
    quantity: str
    along: str
    frame: Frame | None = None
    relative: str = ""  # name of what may stand there instead, without a unit


HEAD_CURVES = (
    ("response", "responsivity", "relative_response"),
    ("calibration_source", "spectral_irradiance", "relative_spectral_irradiance"),
)
"""What a certificate holds of a radiometer's head: its key, its quantity, and the same without a unit."""


def open_bench(folder: str | PathLike[str]) -> xr.DataTree:
    """Open a bench folder: its manifest and all raw files that it names.

    Parameters
    ----------
    folder : str or path
        A folder with ``bench.toml`` in it.

    Returns
    -------
    xarray.DataTree
        ``/dark/…``, ``/standard_lamp/…``, ``/source/…``, ``/part/…``, ``/adhesive/…``,
        ``/radiometer/…`` and ``/ageing/…`` with the data of each file in the package's own
        units: counts (spectrum, wavelength) [1], and so on. ``attrs`` keep the title, the
        folder, the manifest as written, when each file was taken as far as it says that, and the
        provenance (JSON).

    Raises
    ------
    BenchError
        If the manifest or any file is wrong; with all faults, each with file, key and line.

    Examples
    --------
    With ``demo``, the folder that `spectralbench.write_demo_bench` wrote:

    >>> bench = open_bench(demo)
    >>> bench["source/LED 405/frame"]["counts"].sizes["spectrum"]
    8
    """
    place = Path(folder)
    manifest, text = read_manifest(place)
    line_of = Lines(text)
    faults: list[Fault] = []
    nodes: dict[str, xr.Dataset] = {}
    roles = list(roles_of(manifest))
    _log.info("reading %d files of %s", len({role.file for role in roles}), place.name or place)
    for number, role in enumerate(roles, 1):
        _log.debug("reading %d of %d: %s", number, len(roles), role.file)
        try:
            nodes[role.node] = _load(place, role)
        except ReadError as error:
            faults += [fault.within(role.file, role.key, line_of(role.key)) for fault in error.faults]
        except UnitsError as error:
            expected = f"{role.quantity} [{QUANTITIES[role.quantity].units}]"
            faults.append(Fault(str(error), expected).within(role.file, role.key, line_of(role.key)))
    for i, initiator in enumerate(manifest.adhesive.initiator, 1):
        if initiator.reference is not None:
            try:
                nodes[f"/adhesive/{initiator.name}"] = _reference_curve(initiator.reference)
            except RangeError as error:
                key = f"adhesive.initiator.{i}.reference"
                expected = f"one of {', '.join(curves.names('initiators'))}"
                faults.append(Fault(str(error), expected, "", line_of(key), None, key))
    frames = [role for role in roles if role.frame is not None and role.node in nodes]
    faults += mismatches(manifest, frames, nodes, line_of)
    if faults:
        raise BenchError(place / MANIFEST, faults)
    read = {role.file: nodes[role.node] for role in roles}
    tree = xr.DataTree.from_dict(dict(nodes), name="bench")
    tree.attrs = {
        "title": manifest.title,
        "folder": str(place),
        "manifest": text,
        "measured": json.dumps(moments(read)),
        "provenance": json.dumps(hashes_and_versions(place, read)),
    }
    return tree


def manifest_of(bench: xr.DataTree, *, as_it_is: bool = False) -> Manifest:
    """The manifest that a tree was made from.

    Parameters
    ----------
    bench : xarray.DataTree
        From `open_bench` or from a reduction.
    as_it_is : bool
        Whether to leave out what `adjust` took to be otherwise.

    Returns
    -------
    Manifest
        The manifest, in the package's own units.

    Raises
    ------
    BenchError
        If the tree carries none.

    Examples
    --------
    >>> manifest_of(open_bench(demo)).instrument.pixels
    2048
    """
    text = bench.attrs.get("manifest")
    if text is None:
        found = "a tree without a manifest"
        raise BenchError("this bench", [Fault(found, "one from open_bench", "Open the folder again.")])
    manifest = parse_manifest(str(text), Path(str(bench.attrs.get("folder", ""))) / MANIFEST)
    return manifest if as_it_is else adjusted(manifest, kept(bench.attrs.get("adjusted")))


def array_of(tree: xr.DataTree, node: str, name: str) -> xr.DataArray:
    """One variable of one node of a tree.

    Parameters
    ----------
    tree : xarray.DataTree
        A bench, opened or reduced.
    node : str
        Path of the node.
    name : str
        Name of the variable.

    Returns
    -------
    xarray.DataArray (...)
        The variable, with its coordinates.

    Examples
    --------
    >>> tree = xr.DataTree.from_dict({"/dark/1": xr.Dataset({"counts": 1.0})})
    >>> array_of(tree, "/dark/1", "counts").item()
    1.0
    """
    return cast(xr.DataTree, tree[node]).to_dataset()[name]


@contextmanager
def blamed(tree: xr.DataTree, key: str, expected: str) -> Iterator[None]:
    """Say which key of the manifest led to an error.

    Parameters
    ----------
    tree : xarray.DataTree
        A bench, opened or reduced.
    key : str
        Dotted key of the manifest, unless the error knows a better one.
    expected : str
        What should stand there.

    Raises
    ------
    BenchError
        Instead of any other error of the package.

    Examples
    --------
    >>> with blamed(reduced, "requirement.band", "a band of light"):  # doctest: +ELLIPSIS
    ...     raise RangeError("no band")
    Traceback (most recent call last):
    spectralbench.errors.BenchError: ... found no band; expected a band of light
    """
    try:
        yield
    except (GridError, RangeError, UnitsError) as error:
        if isinstance(error, KeyedError):
            key, expected = error.key, error.expected or expected
        fault = Fault(str(error), expected, "", Lines(tree.attrs["manifest"])(key), None, key)
        raise BenchError(Path(tree.attrs["folder"]) / MANIFEST, [fault]) from error


def roles_of(manifest: Manifest) -> Iterator[Role]:
    """Every raw file of a bench, with its place in manifest and tree.

    Parameters
    ----------
    manifest : Manifest
        What the bench says of itself.

    Yields
    ------
    Role
        One for each file, in the order of the manifest.

    Examples
    --------
    >>> [role.node for role in roles_of(manifest_of(open_bench(demo)))][:2]
    ['/dark/1', '/dark/2']
    """

    def frame(key: str, node: str, taken: Frame) -> Role:
        return Role(key, node, taken.file, "counts", "wavelength", taken)

    for i, dark in enumerate(manifest.dark, 1):
        yield frame(f"dark.{i}.frame", f"/dark/{i}", dark.frame)
    for i, line in enumerate(manifest.line_spread, 1):
        yield frame(f"line_spread.{i}.frame", f"/line_spread/{i}", line.frame)
    lamp = manifest.standard_lamp
    yield frame("standard_lamp.frame", "/standard_lamp/frame", lamp.frame)
    yield Role(
        "standard_lamp.certificate",
        "/standard_lamp/certificate",
        lamp.certificate,
        "spectral_irradiance",
        "wavelength",
    )
    for i, source in enumerate(manifest.source, 1):
        yield frame(f"source.{i}.frame", f"/source/{source.name}/frame", source.frame)
        for j, exposure in enumerate(source.exposures, 1):
            yield frame(f"source.{i}.exposures.{j}", f"/source/{source.name}/exposure_{j}", exposure)
        if source.attenuator:
            node = f"/source/{source.name}/attenuator"
            yield Role(f"source.{i}.attenuator", node, source.attenuator, "transmittance", "wavelength")
        if source.profile:
            key, node = f"source.{i}.profile", f"/source/{source.name}/profile"
            yield Role(key, node, source.profile, "irradiance", "position", None, "relative_output")
    for i, part in enumerate(manifest.part, 1):
        yield frame(f"part.{i}.sample", f"/part/{part.name}/sample", part.sample)
        for j, reference in enumerate(part.references, 1):
            yield frame(f"part.{i}.references.{j}", f"/part/{part.name}/reference_{j}", reference)
        if part.regular is not None:
            key, node = f"part.{i}.regular", f"/part/{part.name}/regular"
            yield frame(f"{key}.sample", f"{node}/sample", part.regular.sample)
            for j, reference in enumerate(part.regular.references, 1):
                yield frame(f"{key}.references.{j}", f"{node}/reference_{j}", reference)
    for i, initiator in enumerate(manifest.adhesive.initiator, 1):
        if initiator.curve is None:
            continue  # one that comes with us
        key, node = f"adhesive.initiator.{i}.curve", f"/adhesive/{initiator.name}"
        yield Role(key, node, initiator.curve, "molar_absorption_coefficient", "wavelength")
    for i, absorber in enumerate(manifest.adhesive.absorber, 1):
        key, node = f"adhesive.absorber.{i}.curve", f"/adhesive/{absorber.name}"
        yield Role(key, node, absorber.curve, "absorbance", "wavelength")
    for i, log in enumerate(manifest.radiometer, 1):
        key, node = f"radiometer.{i}", f"/radiometer/{i}"
        yield Role(f"{key}.file", node, log.file, "irradiance", "time")
        for name, quantity, relative in HEAD_CURVES:
            if file := getattr(log, name):
                yield Role(f"{key}.{name}", f"{node}/{name}", file, quantity, "wavelength", None, relative)
    for i, ageing in enumerate(manifest.ageing, 1):
        yield Role(f"ageing.{i}.file", f"/ageing/{ageing.source}", ageing.file, "relative_output", "hours")


def _reference_curve(name: str) -> xr.Dataset:
    """The curve of an initiator that comes with us; the comparison repeats its caution."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", curves.FromMemoryWarning)
        return curves.initiator(name).to_dataset(name="molar_absorption_coefficient")


def _load(folder: Path, role: Role) -> xr.Dataset:
    """Read one raw file and hold it against its role."""
    path = folder / role.file
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError) as error:  # links that lead in a circle
        raise ReadError(path, [Fault(str(error), "a file that can be read")]) from error
    if not inside:
        found = f"{quote(role.file)}, a link that leads out of the folder"
        raise ReadError(path, [Fault(found, "a file inside the bench folder", "Copy the file into it.")])
    data = only_dataset(read(path), path, "Keep the block that counts, in a file of its own.")
    quantity, units = role.quantity, QUANTITIES[role.quantity].units
    if quantity in data and "unlabelled" in data:
        odd = data["unlabelled"].attrs["long_name"]
        found = f"a column {quote(odd)} beside {quantity}" if odd else f"an unnamed column beside {quantity}"
        advice = "Save the file anew without it, or with a name that says what it is."
        raise ReadError(path, [Fault(found, f"columns of {quantity} only", advice)])
    if "unlabelled" in data and data["unlabelled"].attrs["units"] == units == "1":
        data = data.rename(unlabelled=quantity)  # the role says what the file leaves open
        data[quantity].attrs.update(QUANTITIES[quantity]._asdict())
    if role.relative and quantity not in data:
        quantity, units = role.relative, "1"
        if "unlabelled" in data and data["unlabelled"].attrs["units"] == units:
            data = data.rename(unlabelled=quantity)
    if quantity not in data or role.along not in data[quantity].coords:
        has = ", ".join(
            f"{name} [{array.attrs.get('units')}] along {' and '.join(map(str, array.dims))}"
            for name, array in data.data_vars.items()
        )
        advice = f'Name the columns in the header row, as "{role.along} […],{quantity} [{units}]".'
        raise ReadError(path, [Fault(has, f"{quantity} along {role.along}", advice)])
    several = [size for name, size in data[quantity].sizes.items() if name in ("spectrum", "channel")]
    if several and role.frame is None and role.along != "time":
        found = f"{several[0]} columns of {quantity}"
        raise ReadError(path, [Fault(found, "one", "Keep the one that counts.")])
    return _with_time(check(data), role, path)


def _with_time(data: xr.Dataset, role: Role, path: Path) -> xr.Dataset:
    """Add temperature and integration time that the manifest states, unless the file states another."""
    if role.frame is not None and role.frame.temperature is not None:
        attributes = COORDINATES["temperature"]._asdict()
        data = data.assign_coords(temperature=((), role.frame.temperature.value, attributes))
    if role.frame is None or role.frame.integration_time is None:
        return data
    stated = role.frame.integration_time.value
    if "integration_time" in data.coords:
        taken = float(data.coords["integration_time"])
        if not np.isclose(taken, stated, rtol=SAME_TIME, atol=0):
            found = f"an integration time of {taken * 1e3:g} ms"
            expected = f"{stated * 1e3:g} ms, as the manifest states"
            raise ReadError(path, [Fault(found, expected, "Correct the one that is wrong.")])
        return data
    attributes = COORDINATES["integration_time"]._asdict()
    return data.assign_coords(integration_time=((), stated, attributes))
