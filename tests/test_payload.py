"""Files as payloads: what went in comes out, in few bytes, and nothing else passes for one."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import spectralbench as sb
from spectralbench.errors import RangeError
from spectralbench.model import spectrum
from spectralbench.payload import MOST, of_spectra, pack, unpack

SAMPLES = Path(__file__).parent / "samples"


def axis_of(header, found, curve):
    """The axis as a browser builds it from differences."""
    said = header["curves"][curve]
    x = found[said["x"]].astype(float)
    return said["axis"]["first"] + said["axis"]["steps"] * np.cumsum(x) if "steps" in said["axis"] else x


@settings(max_examples=30)
@given(
    st.dictionaries(st.text(max_size=8), st.integers() | st.text() | st.none(), max_size=4),
    st.lists(arrays(st.sampled_from([np.float32, np.float64, np.uint16]), st.integers(0, 40)), max_size=5),
)
def test_what_is_packed_is_what_is_unpacked(header, parts):
    header.pop("arrays", None)
    given_arrays = {f"a{i}": part for i, part in enumerate(parts)}
    data = pack(header, given_arrays)
    assert len(data) % 8 == 0
    found, unpacked = unpack(data)
    assert found == header
    for name, part in given_arrays.items():
        assert unpacked[name].dtype == part.dtype
        assert unpacked[name].tobytes() == part.tobytes()


@pytest.mark.parametrize("cut", [3, 7, 20, -7, -9])
def test_half_a_payload_is_none(cut):
    data = pack({"title": "a lamp"}, {"x": np.arange(4.0), "y": np.arange(3, dtype=np.uint16)})
    with pytest.raises((RangeError, ValueError)):
        unpack(data[:cut])


def test_other_bytes_are_none():
    with pytest.raises(RangeError, match="a payload begins with b'SBP1', not b'wave'"):
        unpack(b"wavelength [nm],counts\n")


def test_an_array_of_another_type_is_refused():
    with pytest.raises(RangeError, match="arrays of float32, float64, uint16, and x is of int64"):
        pack({}, {"x": np.arange(3)})


def test_four_spectra_of_2048_pixels_take_less_than_40_kilobytes():
    grid = np.linspace(200, 800, 2048) + 0.3 * np.sin(np.linspace(0, 9, 2048))  # no even grid
    four = xr.DataArray(
        np.random.default_rng(1).random((4, 2048)),
        {"wavelength": ("wavelength", grid, {"units": "nm"}), "spectrum": [1, 2, 3, 4]},
        ("spectrum", "wavelength"),
        name="counts",
        attrs={"units": "1"},
    )
    data = of_spectra("four.csv", four.to_dataset())
    assert len(data) < 40_000
    header, found = unpack(data)
    assert np.abs(axis_of(header, found, 3) - grid).max() <= 0.5e-4 + 1e-9
    assert np.array_equal(found["y3"], four.values[3].astype(np.float32))
    assert {curve["x"] for curve in header["curves"]} == {"x0"}  # once for all


def test_a_coarse_or_even_backward_axis_comes_as_it_is():
    coarse = spectrum([1.0, 2.0, 1.0], [300.0, 400.0, 500.0], "counts").to_dataset()
    header, found = unpack(of_spectra("coarse.csv", coarse))
    assert "steps" not in header["curves"][0]["axis"]
    assert axis_of(header, found, 0).tolist() == [300.0, 400.0, 500.0]


def test_values_come_in_the_unit_that_people_use():
    light = spectrum([1.0, 2.0, 1.0], [400.0, 401.0, 402.0], "spectral_irradiance")
    header, found = unpack(of_spectra("light.csv", light.to_dataset()))
    assert header["curves"][0]["units"] == "mW/cm²/nm"
    assert found["y0"].tolist() == pytest.approx([0.1, 0.2, 0.1])


@pytest.mark.parametrize(
    ("name", "axis", "units", "labels"),
    [
        ("beam_scan.csv", "position", "mm", ["irradiance"]),
        ("hours_log.csv", "hours", "h", ["lamp 1", "lamp 2"]),
        ("radiometer_log.csv", "time", "s", ["A", "B"]),
        ("two_row_header.csv", "wavelength", "nm", ["cover new", "cover aged"]),
    ],
)
def test_every_layout_has_its_axis_and_names(name, axis, units, labels):
    header, _ = unpack(of_spectra(name, sb.read(SAMPLES / name)))
    assert [curve["label"] for curve in header["curves"]] == labels
    assert {(curve["axis"]["name"], curve["axis"]["units"]) for curve in header["curves"]} == {(axis, units)}


def test_moments_count_in_seconds_from_the_first():
    read = sb.read(SAMPLES / "radiometer_log.csv")
    header, found = unpack(of_spectra("log.csv", read))
    curve = header["curves"][0]
    assert curve["axis"]["since"] == str(read.time.values[0])[:19]
    of_a = read.time.values[read.channel.values == "A"]
    assert axis_of(header, found, 0) == pytest.approx((of_a - of_a[0]) / np.timedelta64(1, "s"))
    assert found["y1"].tolist() == pytest.approx([98.2, 98.0])  # channel B, in mW/cm²


def test_blocks_are_told_apart():
    tree = xr.DataTree.from_dict(
        {
            "/first": spectrum([1.0, 2.0], [300.0, 301.0], "counts").to_dataset(),
            "/second": spectrum([0.1, 0.2], [400.0, 401.0], "transmittance").to_dataset(),
        }
    )
    header, _ = unpack(of_spectra("two.jdx", tree))
    assert [(curve["block"], curve["quantity"]) for curve in header["curves"]] == [
        ("first", "counts"),
        ("second", "transmittance"),
    ]
    assert [record["block"] for record in header["records"]] == [None, "first", "second"]


def test_more_curves_than_anybody_can_tell_apart_are_counted():
    many = xr.DataArray(
        np.ones((MOST + 5, 3)), {"wavelength": [1.0, 2.0, 3.0]}, ("spectrum", "wavelength"), name="counts"
    )
    header, found = unpack(of_spectra("many.csv", many.to_dataset()))
    assert (len(header["curves"]), header["left_out"]) == (MOST, 5)
    assert sum(name.startswith("y") for name in found) == MOST


def test_samples_that_are_not_valid_stay_so():
    gap = spectrum([1.0, np.nan, 1.0], [400.0, 401.0, 402.0], "counts")
    header, found = unpack(of_spectra("gap.csv", gap.to_dataset()))
    assert np.isnan(found["y0"][1])
    json.dumps(header, allow_nan=False)
