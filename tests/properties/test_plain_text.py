"""Law: what is written reads back the same."""

import string

import numpy as np
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.model import QUANTITIES, labelled
from spectralbench.readers import read, write_spectra

sample = st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.just(float("nan")))
# A transmittance or reflectance is written with its unit, so it may have any value here.
quantities = st.sampled_from(sorted(QUANTITIES))
# The writer refuses a value that ends with a comma, because spreadsheets pad lines with commas.
values = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20).filter(
    lambda text: text == text.strip(" ,\t") and text[0] != '"'
)
keys = st.text(string.ascii_letters, min_size=1, max_size=10).filter(
    lambda key: key.casefold() not in ("time", "date", "datetime", "timestamp", "quantity", "unit", "units")
)
# Lead with a letter that begins no name of a quantity, so that the name stays a label.
labels = st.text(string.ascii_letters + string.digits + " -+.[]()äµ", max_size=8).map(
    lambda text: "x" + " ".join(text.split())
)


@st.composite
def frames(draw):
    grid = sorted(draw(st.sets(st.floats(1e-6, 1e6), min_size=2, max_size=12)))
    count = draw(st.integers(1, 3))
    shape = (count, len(grid)) if count > 1 else (len(grid),)
    dimensions = ("spectrum", "wavelength")[-len(shape) :]
    table = np.reshape(draw(st.lists(sample, min_size=count * len(grid), max_size=count * len(grid))), shape)
    coordinates = {"wavelength": grid}
    if count > 1:
        names = st.lists(labels, min_size=count, max_size=count, unique=True)
        coordinates["spectrum"] = draw(st.one_of(st.just(list(range(1, count + 1))), names))
    array = labelled(table, draw(quantities), dimensions, coordinates)
    if draw(st.booleans()):
        array = array.assign_coords(integration_time=draw(st.floats(1e-9, 1e9)))
    if draw(st.booleans()):
        moment = draw(st.integers(-9 * 10**18, 9 * 10**18))
        array = array.assign_coords(time=np.datetime64(moment, "ns"))
    return array


@settings(max_examples=150, deadline=None)
@given(frames(), st.dictionaries(keys, values, max_size=3))
def test_written_frames_read_back(tmp_path_factory, array, header):
    path = tmp_path_factory.mktemp("frame") / "frame.csv"
    write_spectra(path, array, header)
    dataset = read(path)
    xr.testing.assert_equal(dataset[array.name], array)
    assert dataset.attrs["format"] == "spectralbench plain text"
