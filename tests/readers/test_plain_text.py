import json
import os

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import BenchError, GridError, RangeError
from spectralbench.model import QUANTITIES, labelled, spectrum
from spectralbench.readers import read, write_spectra
from spectralbench.readers.headings import heading


@pytest.fixture
def path(tmp_path):
    return tmp_path / "frame.csv"


@pytest.fixture
def frames():
    frames = labelled([[5, 6], [7, 8]], "counts", ("spectrum", "wavelength"), {"wavelength": [365.0, 366.5]})
    return frames.assign_coords(integration_time=0.02, time=np.datetime64("2026-03-02T10:30:00", "ns"))


def test_it_can_be_read_by_eye(path, frames):
    write_spectra(path, frames.assign_coords(spectrum=["scan 1", "scan 2"]), {"lamp": "invented"})
    assert path.read_bytes().decode() == (
        "# lamp: invented\n"
        "# integration time: 0.02 s\n"
        "# time: 2026-03-02T10:30:00\n"
        "wavelength [nm],counts scan 1 [1],counts scan 2 [1]\n"
        "365,5,7\n"
        "366.5,6,8\n"
    )


def test_it_reads_back(path, frames):
    write_spectra(path, frames, {"lamp": "invented"})
    dataset = read(path)
    assert dataset.attrs["format"] == "spectralbench plain text"
    assert json.loads(dataset.attrs["warnings"]) == []
    assert json.loads(dataset.attrs["header"])["lamp"] == "invented"
    xr.testing.assert_equal(dataset.counts, frames.assign_coords(spectrum=[1, 2]).astype(float))


def test_a_dataset_that_was_read_can_be_written_again(path, frames):
    write_spectra(path, frames, {"lamp": "invented"})
    first, text = read(path), path.read_bytes()
    write_spectra(path, first, json.loads(first.attrs["header"]))
    assert path.read_bytes() == text


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_reads_back(path, quantity):
    written = spectrum([0.25, 0.5], [365.0, 366.0], quantity)
    write_spectra(path, written)
    dataset = read(path)
    assert list(dataset.data_vars) == [quantity]
    xr.testing.assert_equal(dataset[quantity], written)
    assert dataset[quantity].units == QUANTITIES[quantity].units


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_headings_know_every_quantity_by_its_name(quantity):
    assert heading(f"{quantity} [{QUANTITIES[quantity].units}]").quantity == quantity


def test_several_quantities_and_descending_wavelengths(path):
    grid = [366.0, 365.0]
    write_spectra(
        path,
        xr.merge([spectrum([1.0, 2.0], grid, "transmittance"), spectrum([3.0, 4.0], grid, "absorbance")]),
    )
    dataset = read(path)
    assert dataset.transmittance.sel(wavelength=365).item() == 2
    assert dataset.absorbance.sel(wavelength=366).item() == 3


def _counts(values=(1.0, 2.0), grid=(365.0, 366.0)):
    return spectrum(list(values), list(grid), "counts")


@pytest.mark.parametrize(
    ("array", "header", "message"),
    [
        (_counts((1.0, np.inf)), {}, "no finite numbers"),
        (_counts((1, 2**60)), {}, "beyond 2\\^53"),
        (_counts().rename("brightness"), {}, '"brightness" is no quantity'),
        (_counts().rename(None), {}, "has no name"),
        (_counts().expand_dims(draw=2), {}, "has the dimensions"),
        (_counts().assign_attrs(units="V"), {}, 'is in "V"'),
        (_counts((1.0,), (365.0,)), {}, "two wavelengths or more"),
        (_counts(grid=(-1.0, 366.0)), {}, "above 0 nm"),
        (_counts(), {"a,b": "c"}, "would not read back"),
        (_counts(), {"a": "two\nlines"}, "would not read back"),
        (_counts(), {"a": ""}, "would not read back"),
        (_counts(), {"a": "ends with a comma,"}, "would not read back"),
        (_counts(), {"a": "bell \x07"}, "cannot be printed"),
        (_counts().assign_coords(integration_time=-1.0), {}, "must be one positive number"),
        (_counts().assign_coords(time=0.0), {}, "must be one date and time"),
        (_counts().expand_dims(spectrum=["per second", "b"]), {}, "would not read back"),
        (_counts().expand_dims(spectrum=['"a"', "b"]), {}, "quotation mark"),
        (_counts().expand_dims(spectrum=["a", "a"]), {}, "the same label"),
        (xr.Dataset(), {}, "no spectrum to write"),
    ],
)
def test_what_would_not_read_back_is_refused(path, array, header, message):
    with pytest.raises(RangeError, match=message):
        write_spectra(path, array, header)
    assert not list(path.parent.iterdir())


def test_a_repeated_wavelength_is_refused(path):
    with pytest.raises(GridError, match="out of order"):
        write_spectra(path, _counts(grid=(365.0, 365.0)))


def test_a_failure_leaves_the_old_file_whole(path, monkeypatch):
    write_spectra(path, _counts())
    before = path.read_bytes()

    def fail(descriptor):
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(BenchError, match="found no space left; expected a place that can be written"):
        write_spectra(path, _counts((3.0, 4.0)))
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (
            "no/x.csv",
            r"x\.csv cannot be used as it is: found no folder .*no\"; expected a folder that is there",
        ),
        ("taken", "found a folder of that name; expected a free name, or a file to replace"),
        ("file/x.csv", "found no folder"),
        ("pipe", "found a named pipe of that name"),
        ("a\0b", "expected a place that can be written"),
        ("a" * 300, "found File name too long"),
    ],
)
def test_a_place_that_cannot_be_written(tmp_path, place, words):
    (tmp_path / "taken").mkdir()
    (tmp_path / "file").write_text("mine")
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(BenchError, match=words) as caught:
        write_spectra(tmp_path / place, _counts())
    assert ".part" not in str(caught.value)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "pipe", "taken"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (np.ones(3), r"the spectra are a ndarray; expected an xarray\.DataArray .* spectralbench\.spectrum"),
        (xr.DataTree(), r"the spectra are a DataTree; expected .*Write each of its nodes"),
        ([1.0, 2.0], r"the spectra are a list; expected an xarray\.DataArray or an xarray\.Dataset$"),
    ],
)
def test_what_is_no_spectrum(path, given, words):
    with pytest.raises(RangeError, match=words):
        write_spectra(path, given)


def test_a_zero_keeps_its_sign(tmp_path):
    """Found by a property: JSON, through which rows are parsed, knows no whole number -0."""
    path = tmp_path / "zero.csv"
    write_spectra(path, spectrum([-0.0, 0.0], [365.0, 366.0], "signal"))
    assert np.signbit(read(path).signal).values.tolist() == [True, False]
