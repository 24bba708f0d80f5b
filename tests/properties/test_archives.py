"""Law: what is saved comes back identical, whatever its names, types, values and attributes."""

import shutil

import numpy as np
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from spectralbench.archives import load, save
from spectralbench.archives.record import name_fault

names = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=8).filter(
    lambda text: name_fault(text, "") is None and len(text.encode()) < 100
)
texts = st.text(max_size=12)
numbers = st.one_of(st.integers(-(2**63), 2**63 - 1), st.floats(), st.booleans())
attributes = st.dictionaries(
    st.one_of(
        texts, st.sampled_from(["units", "dtype", "calendar", "_FillValue", "coordinates", "bounds", "NAME"])
    ),
    st.one_of(texts, numbers, st.lists(numbers, max_size=4), st.lists(texts, max_size=3)),
    max_size=4,
)
whole = [f"{kind}{size}" for kind in "iu" for size in (1, 2, 4, 8)]
times = [f"{kind}8[{unit}]" for kind in "Mm" for unit in ("s", "ms", "us", "ns")]
dtypes = st.sampled_from(["?", "f2", "f4", "f8", ">f8", ">i4", *whole, *times])
stored = texts.filter(lambda text: "\0" not in text and not any(0xD800 <= ord(c) < 0xE000 for c in text))


@st.composite
def values(draw, shape):
    if draw(st.booleans()):
        return draw(arrays.arrays(draw(dtypes), shape))
    wanted = draw(arrays.arrays(object, shape, elements=stored, fill=st.just("")))
    return wanted.astype(str) if draw(st.booleans()) and wanted.size else wanted


@st.composite
def datasets(draw):
    sizes = draw(st.dictionaries(names, st.integers(0, 3), max_size=3))
    variables, coordinates = {}, {}
    for name in draw(st.lists(names, max_size=4, unique=True)):
        if name in sizes:
            continue
        dimensions = draw(st.lists(st.sampled_from(sorted(sizes)), max_size=2, unique=True)) if sizes else []
        array = draw(values(tuple(sizes[along] for along in dimensions)))
        kind = coordinates if draw(st.booleans()) else variables
        kind[name] = (dimensions, array, draw(attributes))
    for name in sizes:
        if draw(st.booleans()):
            grid = np.arange(sizes[name], dtype=draw(st.sampled_from(["f8", "i8"])))
            coordinates[name] = (name, grid, draw(attributes))
    return xr.Dataset(variables, coordinates, draw(attributes))


def types(dataset):
    return {name: variable.dtype for name, variable in dataset.variables.items()}


@pytest.fixture(params=["nc", "zarr"])
def path(request, tmp_path):
    return tmp_path / f"result.{request.param}"


every = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])


def there_and_back(result, path):
    shutil.rmtree(path, ignore_errors=True)
    save(result, path)
    return load(path)


@every
@given(dataset=datasets())
def test_a_dataset_comes_back(path, dataset):
    came_back = there_and_back(dataset, path)
    xr.testing.assert_identical(came_back, dataset)
    assert types(came_back) == types(dataset)


@every
@given(dataset=datasets(), name=st.one_of(st.none(), texts))
def test_an_array_comes_back(path, dataset, name):
    array = (dataset[next(iter(dataset.data_vars))] if dataset.data_vars else xr.DataArray(1.0)).rename(name)
    came_back = there_and_back(array, path)
    xr.testing.assert_identical(came_back, array)
    assert came_back.dtype == array.dtype


@settings(every, max_examples=20)
@given(children=st.dictionaries(names, datasets(), max_size=3), name=st.one_of(st.none(), names))
def test_a_tree_comes_back(path, children, name):
    grid = xr.Dataset(coords={"\N{GREEK SMALL LETTER LAMDA}": [365.0, 366.0]}, attrs={"title": "root"})
    tree = xr.DataTree.from_dict(
        {"/": grid, **{f"/{key}/leaf": child for key, child in children.items()}}, name=name
    )
    came_back = there_and_back(tree, path)
    xr.testing.assert_identical(came_back, tree)
    for place, node in tree.subtree_with_keys:
        assert types(came_back[place].to_dataset()) == types(node.to_dataset())
