"""Payloads on disk, which the tests of the extension read: they are what the package packs now.

`WRITE_PAYLOADS=1 pytest tests/payloads` writes them anew. Beside the payloads lies what they must say
(`facts.json`), taken from the datasets and not from the payloads.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spectralbench.model import spectrum
from spectralbench.payload import of_spectra, unpack
from spectralbench.readers import read
from spectralbench.units import for_people

HERE = Path(__file__).parent
SAMPLES = HERE.parent / "samples"
WRITE = bool(os.environ.get("WRITE_PAYLOADS"))
FILES = (
    "side_by_side.csv",
    "hours_log.csv",
    "radiometer_log.csv",
    "jcamp_blckpac1.jdx",
    "jcamp_ntuples.jdx",
    "tm27_led.spdx",
)


def broken() -> xr.Dataset:
    """An invented curve with a sample that is not valid, on a grid too coarse for small steps."""
    return spectrum([1.0, np.nan, 3.0, 2.0], [200.0, 300.0, 400.0, 500.0], "transmittance").to_dataset()


def unlike() -> xr.DataTree:
    """Two invented blocks that share neither grid nor quantity."""
    return xr.DataTree.from_dict(
        {
            "/block_1": spectrum([1.0, 3.0, 2.0], [364.0, 365.0, 366.0], "counts").to_dataset(),
            "/block_2": spectrum([0.5, 0.25], [300.0, 400.0], "absorbance").to_dataset(),
        }
    )


CASES = {name.replace(".", "_"): (name, lambda name=name: read(SAMPLES / name)) for name in FILES} | {
    "broken": ("broken.csv", broken),
    "unlike": ("unlike.jdx", unlike),
}


def facts(data: xr.Dataset | xr.DataTree) -> Iterator[dict[str, Any]]:
    """Of every curve its quantity, its places and its values, straight from xarray."""
    datasets = [data] if isinstance(data, xr.Dataset) else [node.to_dataset() for node in data.leaves]
    for dataset in datasets:
        for name, array in dataset.data_vars.items():
            if "channel" in array.coords and array.coords["channel"].dims == array.dims:
                for _, one in array.groupby("channel"):  # readings of several heads
                    yield from curves(str(name), one)
            else:
                yield from curves(str(name), array)


def curves(name: str, array: xr.DataArray) -> Iterator[dict[str, Any]]:
    """Of every curve of a quantity its places and its values."""
    along = next(axis for axis in ("wavelength", "hours", "time") if axis in array.coords)
    places = array.coords[along].values
    if places.dtype.kind == "M":
        places = (places - places[0]) / np.timedelta64(1, "s")
    units, factor = for_people(array.attrs["units"])
    (dimension,) = array.coords[along].dims
    others = [one for one in array.dims if one != dimension]
    for row in array.transpose(*others, dimension).values.reshape(-1, places.size):
        values = [None if np.isnan(value) else value * factor for value in row.tolist()]
        yield {"quantity": name, "units": units, "axis": along, "x": places.tolist(), "y": values}


def same(found: Any, expected: Any, where: str) -> None:
    """Alike in all that is text, and in numbers to what rounding may do on another machine."""
    if isinstance(expected, dict):
        assert found.keys() == expected.keys(), where
        for key in expected:
            same(found[key], expected[key], f"{where}.{key}")
    elif isinstance(expected, list):
        assert len(found) == len(expected), where
        for i, (one, other) in enumerate(zip(found, expected, strict=True)):
            same(one, other, f"{where}[{i}]")
    elif isinstance(expected, float):
        assert found == pytest.approx(expected, rel=1e-12), where
    else:
        assert found == expected, where


@pytest.mark.parametrize("case", CASES)
def test_payload_on_disk_is_what_is_packed_now(case):
    name, make = CASES[case]
    packed = of_spectra(name, make())
    path = HERE / f"{case}.bin"
    if WRITE:
        path.write_bytes(packed)
    header, arrays = unpack(path.read_bytes())
    header_now, arrays_now = unpack(packed)
    same(header_now, header, case)
    assert arrays_now.keys() == arrays.keys()
    for key, array in arrays.items():
        np.testing.assert_array_equal(arrays_now[key], array, err_msg=key)


def test_facts_beside_the_payloads_are_those_of_the_datasets():
    now = {case: list(facts(make())) for case, (_, make) in CASES.items()}
    path = HERE / "facts.json"
    if WRITE:
        path.write_text(json.dumps(now, ensure_ascii=False) + "\n", encoding="utf-8")
    same(now, json.loads(path.read_text(encoding="utf-8")), "facts")


def test_no_payload_is_left_without_its_case():
    assert {path.stem for path in HERE.glob("*.bin")} == set(CASES)
