"""Archives: what comes back is what went in, and a bad one is refused in words."""

import json
import os
import shutil

import h5py
import numpy as np
import pytest
import xarray as xr
import zarr

import spectralbench as sb
from spectralbench import archives
from spectralbench.archives import containers, load, save
from spectralbench.errors import BenchError, RangeError, ReadError
from spectralbench.model import spectrum

SUFFIXES = ("nc", "zarr")
ENGINES = {"nc": "h5netcdf", "zarr": "zarr"}


@pytest.fixture(params=SUFFIXES)
def suffix(request):
    return request.param


@pytest.fixture
def path(tmp_path, suffix):
    return tmp_path / f"result.{suffix}"


def datasets(result):
    if isinstance(result, xr.DataTree):
        return [node.to_dataset(inherit=False) for _, node in result.subtree_with_keys]
    return [
        result if isinstance(result, xr.Dataset) else result.rename("an array").to_dataset(promote_attrs=True)
    ]


def same(came_back, went_in):
    """Identical, in the same order, and of the same types of numbers."""
    assert type(came_back) is type(went_in)
    xr.testing.assert_identical(came_back, went_in)
    for one, other in zip(datasets(came_back), datasets(went_in), strict=True):
        assert list(one.data_vars) == list(other.data_vars)
        assert {n: v.dtype for n, v in one.variables.items()} == {
            n: v.dtype for n, v in other.variables.items()
        }


@pytest.fixture
def back_again(path):
    def there_and_back(result):
        save(result, path)
        return load(path)

    return there_and_back


@pytest.fixture(scope="module")
def results(demo, reduced, three):
    frame = sb.read(demo / "raw" / "arc.csv")
    log = sb.read(demo / "raw" / "arc_ageing.csv")
    return {
        "open_bench": sb.open_bench(three),
        "reduce_bench": reduced,
        "compare": sb.compare(reduced),
        "fit_ageing": sb.fit_ageing(log.hours, log.relative_output),
        "read": frame,
        "one variable": frame["counts"],
        "a coordinate": frame["wavelength"],
        "a figure": sb.band_irradiance(reduced["sources"]["spectral_irradiance"], 320, 430),
        "a branch": reduced["sources"],
    }


RESULTS = (
    *("open_bench", "reduce_bench", "compare", "fit_ageing", "read"),
    *("one variable", "a coordinate", "a figure", "a branch"),
)


@pytest.fixture(scope="module")
def saved(results, tmp_path_factory):
    """The archive of a result; nothing may change it."""
    folder = tmp_path_factory.mktemp("saved")

    def once(name, suffix):
        path = folder / f"{name}.{suffix}"
        if not path.exists():
            save(results[name], path)
        return path

    return once


@pytest.mark.parametrize("name", RESULTS)
def test_every_result_comes_back(results, saved, name, suffix):
    same(load(saved(name, suffix)), results[name])


@pytest.mark.parametrize("name", RESULTS)
def test_other_programs_open_it(results, saved, name, suffix):
    result, path = results[name], saved(name, suffix)
    with (
        xr.open_datatree(path, engine=ENGINES[suffix]) as tree,
        xr.open_dataset(path, engine=ENGINES[suffix]) as root,
    ):
        assert root.attrs["Conventions"] == "CF-1.11"
        assert {"title", "history", "source"} <= set(root.attrs)
        if isinstance(result, xr.Dataset):
            xr.testing.assert_equal(root, result)
            assert all(
                root[name].attrs[key] == value
                for name, variable in result.variables.items()
                for key, value in variable.attrs.items()
            )
        elif isinstance(result, xr.DataTree):
            for place, node in result.subtree_with_keys:
                xr.testing.assert_equal(tree[place].to_dataset(), node.to_dataset())


@pytest.mark.parametrize("name", RESULTS)
def test_xarray_writes_it_without_us(results, name, tmp_path):
    """No result carries an attribute that NetCDF cannot hold."""
    results[name].to_netcdf(tmp_path / "plain.nc", engine="h5netcdf")


WHOLE = ("i1", "u1", "i2", "u2", "i4", "u4", "i8", "u8")


def everything():
    text = {
        "empty": "",
        "letters": "µW/cm² — Größe 測",
        "json": '{"a": [1, 2]}',
        "zero": "a\0b",
        "half": "\udcff",
    }
    numbers = {
        "whole": 5,
        "large": 2**63 - 1,
        "small": 0.1,
        "not a number": float("nan"),
        "infinite": float("-inf"),
    }
    lists = {
        "bounds": [320, 430.5],
        "one": [1.0],
        "none": [],
        "texts": ["a", "ä", ""],
        "mixed": [True, "a", 2.5],
    }
    lists |= {"single": np.float32(0.1), "array": np.array([1, 2], np.int16), "yes": True, "no": np.False_}
    taken = {"units": "mine", "calendar": "mine", "dtype": "mine", "_FillValue": 3.0, "coordinates": "mine"}
    taken |= {"scale_factor": 2.0, "flag_values": "mine", "NAME": "mine", "a/b": "mine", "": "mine"}
    attributes = {**text, **numbers, **lists}
    moments = np.array(
        ["2026-03-02T10:30:00.123456789", "NaT", "1677-09-21T00:12:43.145224193"], "datetime64[ns]"
    )
    return xr.Dataset(
        {
            "truth": ("x", [True, False, True], taken),
            "moment": ("x", moments, taken),
            "second": ("x", moments.astype("datetime64[s]")),
            "span": ("x", np.array([1, 2**62, "NaT"], "timedelta64[ns]"), {"long_name": "wait"}),
            "text": ("x", np.array(["", "ä", "trailing "]), taken),
            "object": ("x", np.array(["a", "bb", ""], dtype=object)),
            "variable text": ("x", np.array(["a", "bb", ""], dtype=np.dtypes.StringDType())),
            "half": ("x", np.array([1.5, np.nan, -0.0], np.float16)),
            "single": ("x", np.array([0.1, np.nan, np.inf], np.float32), taken),
            "double": ("x", [5e-324, 1.7976931348623157e308, -0.0]),
            "big-endian": ("x", np.array([1.0, 2.0, 3.0], ">f8")),
            **{kind: ("x", np.array([0, 1, 100], kind)) for kind in WHOLE},
            "largest": ("x", np.array([0, 1, 2**64 - 1], np.uint64)),
            "nothing": (("none", "x"), np.zeros((0, 3))),
            "number": ((), 5.0, attributes),
            "name": ((), "ä"),
        },
        {"x": ("x", [365.0, 385.0, 405.0], {"units": "nm"}), "side": ("x", list("lrl")), "at": moments[0]},
        {**attributes, **taken},
    )  # fmt: skip


def test_every_type_comes_back(back_again):
    went_in = everything()
    came_back = back_again(went_in)
    same(came_back, went_in)
    assert np.signbit(came_back["double"].values[2])
    assert came_back["number"].attrs["yes"] is True
    assert came_back["moment"].values[0] == np.datetime64("2026-03-02T10:30:00.123456789")


def test_what_other_programs_see_of_every_type(path, suffix):
    went_in = everything()
    save(went_in, path)
    with xr.open_dataset(path, engine=ENGINES[suffix]) as seen:
        for name in went_in.variables:
            if went_in[name].dtype.kind == "m" or name == "half":
                continue
            xr.testing.assert_equal(seen[name].variable, went_in[name].variable)
        assert seen["truth"].dtype == bool
        assert seen["moment"].encoding["units"] == "nanoseconds since 1970-01-01"
        assert seen.attrs["letters"] == "µW/cm² — Größe 測"
        assert seen.attrs["zero"] == "a\\x00b"


def test_attributes_of_lists_come_back_as_lists(back_again):
    went_in = xr.Dataset(attrs={"tuple": (1, 2), "array": np.array([0.5, 1.5])})
    came_back = back_again(went_in)
    assert came_back.attrs == {"tuple": [1, 2], "array": [0.5, 1.5]}
    xr.testing.assert_identical(came_back, went_in)


@pytest.mark.parametrize("name", ["counts", "wavelength", "x", None, "a/b", ""])
def test_a_name_of_an_array_comes_back(back_again, name):
    array = spectrum([1.0, 2.0], [365.0, 366.0], "counts").expand_dims(x=2).rename(name)
    same(back_again(array), array)


def test_a_tree_with_inherited_coordinates(back_again):
    grid = ("wavelength", [365.0, 366.0], {"units": "nm"})
    tree = xr.DataTree.from_dict(
        {
            "/": xr.Dataset({"dark": ("wavelength", [1, 2])}, {"wavelength": grid}, {"title": "root"}),
            "/source": xr.Dataset(attrs={"empty": "yes"}),
            "/source/LED 365": xr.Dataset({"counts": ("wavelength", [3.0, np.nan])}, attrs={"source": "a"}),
            "/source/arc, filtered": xr.Dataset(coords={"time": np.datetime64(1, "ns")}),
            "/ä": xr.Dataset(),
        },
        name="bench",
    )
    came_back = back_again(tree)
    same(came_back, tree)
    assert "wavelength" not in came_back["source/LED 365"].to_dataset(inherit=False).coords
    branch = back_again(tree["source"])
    assert branch.name == "source"  # what it inherits from above is its own now
    for place, node in tree["source"].subtree_with_keys:
        xr.testing.assert_identical(branch[place].to_dataset(), node.to_dataset())


def test_conventions(results, path, suffix):
    """CF conventions 1.11: section 2.6 (global attributes), 3.3 (standard names), 3.5 (flags), 4.4 (time).

    ``radiation_wavelength`` stands in the CF standard name table, with the canonical unit m.
    """
    dataset = results["read"].assign(valid=("wavelength", np.isfinite(results["read"].wavelength.values)))
    save(dataset, path)
    with xr.open_dataset(path, engine=ENGINES[suffix], decode_cf=False) as seen:
        assert seen.wavelength.attrs["standard_name"] == "radiation_wavelength"
        assert seen.wavelength.attrs["units"] == "nm"
        assert "_FillValue" not in seen.wavelength.attrs
        assert seen.time.attrs["standard_name"] == "time"
        assert seen.time.attrs["units"].startswith("nanoseconds since")
        assert list(seen.valid.attrs["flag_values"]) == [0, 1]
        assert seen.valid.attrs["flag_meanings"] == "false true"
        assert seen.attrs["source"] == "arc.csv"  # our own stand above what is added
        assert seen.attrs["history"].startswith("read from arc.csv")
    assert "standard_name" not in load(path).wavelength.attrs


def test_the_archive_says_who_wrote_it_and_no_time(tmp_path, results):
    for name in ("a.nc", "b.nc"):
        save(results["compare"], tmp_path / name)
    assert (tmp_path / "a.nc").read_bytes() == (tmp_path / "b.nc").read_bytes()
    with h5py.File(tmp_path / "a.nc") as file:
        record = json.loads(file.attrs["spectralbench_record"])
    assert record["written_by"] == f"spectralbench {sb.__version__}"


def test_a_text_longer_than_64_kb(back_again):
    """An attribute of HDF5 that is kept in its header ends at 64 KB; manifests are longer."""
    went_in = xr.Dataset(attrs={"manifest": "zeile ä\n" * 20_000})
    xr.testing.assert_identical(back_again(went_in), went_in)


@pytest.mark.parametrize(
    ("result", "found"),
    [
        (xr.Dataset(attrs={"none": None}), 'the attribute "none" of the result is "None"; take it out'),
        (xr.Dataset(attrs={"map": {"a": 1}}), 'the attribute "map" of the result is'),
        (xr.Dataset(attrs={"bytes": b"a"}), 'the attribute "bytes" of the result is'),
        (xr.Dataset(attrs={"complex": 1j}), 'the attribute "complex" of the result is'),
        (xr.Dataset(attrs={"date": np.datetime64("2026-01-01")}), 'the attribute "date" of the result is'),
        (xr.Dataset(attrs={"huge": 2**63}), 'the attribute "huge" of the result is'),
        (xr.Dataset(attrs={"table": [[1, 2]]}), 'the attribute "table" of the result is'),
        (xr.Dataset(attrs={"table": np.eye(2)}), 'the attribute "table" of the result is'),
        (xr.Dataset(attrs={5: "a"}), 'an attribute of the result is named "5", which is no text'),
        (xr.DataArray(1.0, name="a", attrs={"none": None}), 'the attribute "none" of "a" is "None"'),
        (xr.DataArray([1j], dims="x", name="a"), '"a": values of the type complex128; turn them'),
        (xr.DataArray([b"a"], dims="x", name="a"), '"a": values of the type |S1; turn them'),
        (xr.DataArray(np.array(["a", None], object), dims="x", name="a"), '"a": "nan" among its values'),
        (xr.DataArray(["a\0b"], dims="x", name="a"), '"a": "a\\x00b" among its values'),
        (xr.DataArray(1.0, name=5), 'the name "5" of the result, which is no text'),
        (xr.Dataset({5: 1.0}), 'the variable "5": a name that is no text'),
        (xr.Dataset({"a/b": 1.0}), 'the variable "a/b": a name with a slash'),
        (xr.Dataset({"a\\b": 1.0}), 'the variable "a\\b": a name with a slash'),
        (xr.Dataset({"..": 1.0}), 'the variable "..": a name that stands for something else'),
        (xr.Dataset({"__a": 1.0}), 'the variable "__a": a name that stands for something else'),
        (xr.Dataset({"a": ("b\n", [1.0])}), 'the dimension "b\\n": a name with a slash, a control'),
        (xr.DataTree(children={"__a": xr.DataTree()}), 'the group "__a": a name that stands for something'),
        (xr.DataTree.from_dict({"/a": xr.Dataset({"v": 1j})}), '"v" in group "/a": values of the type'),
        (
            xr.DataTree.from_dict({"/a": xr.Dataset(attrs={"n": None})}),
            'of the result in group "/a" is "None"',
        ),
    ],
)
def test_what_cannot_be_saved_is_named_before_anything_is_written(result, found, path):
    with pytest.raises(RangeError) as caught:
        save(result, path)
    assert "the result cannot be saved: " in str(caught.value)
    assert found in str(caught.value)
    assert not list(path.parent.iterdir())


def test_a_multi_index_is_named(path):
    result = xr.DataArray([1.0, 2.0], {"a": ("x", [1, 2]), "b": ("x", [3, 4])}, "x", "v").set_index(
        x=["a", "b"]
    )
    with pytest.raises(RangeError, match=r'"x": "\(1, 3\)" among its values; it must be text'):
        save(result, path)


def test_categories_are_named(path):
    pandas = pytest.importorskip("pandas")
    result = xr.Dataset({"a": ("x", pandas.Categorical(["b", "c"]))})
    with pytest.raises(RangeError, match='"a": values of the type category; turn them into numbers or text'):
        save(result, path)


def test_all_that_cannot_be_saved_comes_together(path):
    result = xr.Dataset({"a": ("x", [1j], {"none": None})}, attrs={"map": {}})
    with pytest.raises(RangeError, match=r'"map".*"a": values.*"none"'):
        save(result, path)


@pytest.mark.parametrize("name", ["result", "result.csv", "result.h5", ".nc"])
def test_an_ending_that_is_neither(tmp_path, name):
    with pytest.raises(RangeError, match=r"ends in neither \.nc \(NetCDF\) nor \.zarr \(Zarr\)"):
        save(xr.Dataset(), tmp_path / name)


def test_an_archive_is_replaced_and_leaves_nothing_beside(path, tmp_path):
    save(xr.Dataset({"a": 1.0, "b": 2.0}), path)
    save(xr.Dataset({"a": 3.0}), path)
    xr.testing.assert_identical(load(path), xr.Dataset({"a": 3.0}))
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("failing", ["_write_netcdf", "_write_zarr"])
def test_an_archive_stays_if_writing_fails(tmp_path, monkeypatch, failing):
    target = tmp_path / ("a.nc" if "netcdf" in failing else "a.zarr")
    save(xr.Dataset({"a": 1.0}), target)
    written = getattr(archives, failing)

    def fail(tree, place):
        written(tree, place)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(archives, failing, fail)
    with pytest.raises(BenchError, match="No space left on device; expected a place that can be written"):
        save(xr.Dataset({"a": 2.0}), target)
    assert load(target)["a"] == 1.0
    assert list(tmp_path.iterdir()) == [target]


def test_an_archive_is_put_back_if_the_swap_fails(tmp_path, monkeypatch):
    target = tmp_path / "a.zarr"
    save(xr.Dataset({"a": 1.0}), target)
    rename = type(target).rename

    def fail(self, other):
        if self.parent.name.endswith(".part") and self.name == "a.zarr":
            raise OSError(5, "Input/output error")
        return rename(self, other)

    monkeypatch.setattr(type(target), "rename", fail)
    with pytest.raises(BenchError, match="Input/output error"):
        save(xr.Dataset({"a": 2.0}), target)
    assert load(target)["a"] == 1.0
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("result", [np.ones(3), "a.nc", None])
def test_what_is_no_result(path, result):
    with pytest.raises(RangeError, match=rf"the result is a {type(result).__name__}; expected an xarray\."):
        save(result, path)
    assert not list(path.parent.iterdir())


def test_a_place_that_is_not_there(suffix, tmp_path):
    with pytest.raises(BenchError, match="found no such folder; expected a folder that is there"):
        save(xr.Dataset(), tmp_path / "nowhere" / f"a.{suffix}")


def test_a_place_that_is_taken(tmp_path):
    (tmp_path / "a.nc").mkdir()
    (tmp_path / "a.zarr").write_text("mine")
    (tmp_path / "b.zarr").mkdir()
    (tmp_path / "b.zarr" / "mine.txt").write_text("mine")
    for name, found in {
        "a.nc": "found a folder of that name",
        "a.zarr": "found a file of that name",
        "b.zarr": "found a folder that is no Zarr folder",
    }.items():
        with pytest.raises(BenchError, match=found):
            save(xr.Dataset(), tmp_path / name)
    assert (tmp_path / "b.zarr" / "mine.txt").read_text() == "mine"


@pytest.fixture
def refused():
    def refuse(path, found):
        with pytest.raises(ReadError) as caught:
            load(path)
        (fault,) = caught.value.faults
        assert found in fault.found
        assert fault.expected == "an archive written by spectralbench"
        assert fault.advice

    return refuse


def test_what_is_no_archive(tmp_path, refused):
    (tmp_path / "a.nc").write_text("wavelength [nm],counts [1]\n365,1\n")
    (tmp_path / "empty.nc").touch()
    (tmp_path / "folder.zarr").mkdir()
    os.mkfifo(tmp_path / "pipe.nc")
    refused(tmp_path / "missing.nc", "no such file or folder")
    refused(tmp_path / "a.nc", "a file that is no NetCDF 4 file")
    refused(tmp_path / "empty.nc", "a file that is no NetCDF 4 file")
    refused(tmp_path / "folder.zarr", "a folder that is no Zarr folder")
    refused(tmp_path / "pipe.nc", "a device or a pipe")
    refused("a\0b.nc", "null byte")
    refused("a" * 5000, "name too long")


def test_an_archive_of_another_program(tmp_path, refused):
    xr.Dataset({"a": 1.0}).to_netcdf(tmp_path / "a.nc", engine="h5netcdf")
    xr.Dataset({"a": 1.0}).to_zarr(
        tmp_path / "a.zarr", consolidated=False, encoding={"a": {"compressors": None}}
    )
    for name in ("a.nc", "a.zarr"):
        refused(tmp_path / name, "an archive of another program")


def test_a_netcdf_file_cut_anywhere(tmp_path, refused):
    whole, cut = tmp_path / "whole.nc", tmp_path / "cut.nc"
    save(xr.Dataset({"a": ("x", np.arange(50.0)), "b": "text"}, {"x": np.arange(50.0)}), whole)
    data = whole.read_bytes()
    for end in range(8, len(data), 97):
        cut.write_bytes(data[:end])
        refused(cut, "an archive that is damaged: its content cannot be read")


def test_a_zarr_folder_with_parts_missing_or_spoilt(tmp_path, refused):
    whole, spoilt = tmp_path / "whole.zarr", tmp_path / "spoilt.zarr"
    tree = {"/": xr.Dataset({"a": ("x", np.zeros(5))}), "/b": xr.Dataset({"c": ("y", ["ä", ""])})}
    save(xr.DataTree.from_dict(tree), whole)
    files = [file.relative_to(whole) for file in whole.rglob("*") if file.is_file()]
    assert len(files) == 6
    for file in files:
        for content in (None, b"", b"{}", b"[]", b"spoilt", (whole / file).read_bytes()[:-3]):
            shutil.rmtree(spoilt, ignore_errors=True)
            shutil.copytree(whole, spoilt)
            (spoilt / file).unlink()
            if content is not None:
                (spoilt / file).write_bytes(content)
            refused(spoilt, "" if content is None else "an ar")


@pytest.mark.parametrize("missing", ["b", "b/c", "a"])
def test_a_zarr_folder_without_one_of_its_own(tmp_path, refused, missing):
    tree = {"/": xr.Dataset({"a": ("x", np.zeros(5))}), "/b": xr.Dataset({"c": ("y", ["ä", ""])})}
    save(xr.DataTree.from_dict(tree), tmp_path / "a.zarr")
    shutil.rmtree(tmp_path / "a.zarr" / missing)
    refused(tmp_path / "a.zarr", f'no {"group" if missing == "b" else "variable"} "{missing[-1]}"')


def test_more_texts_than_there_are(tmp_path, refused):
    save(xr.Dataset({"a": ("x", ["ä", ""])}), tmp_path / "a.zarr")
    part = tmp_path / "a.zarr" / "a" / "c" / "0"
    part.write_bytes(b"\xff\xff\xff\x7f" + part.read_bytes()[4:])
    refused(tmp_path / "a.zarr", "an array of 2 texts that says it has 2147483647")


def test_a_missing_part_is_not_filled_in_silence(tmp_path, refused):
    save(xr.Dataset({"a": ("x", np.zeros(5))}), tmp_path / "a.zarr")
    (tmp_path / "a.zarr" / "a" / "c" / "0").unlink()
    refused(tmp_path / "a.zarr", "an array of which parts are missing")


def test_a_packing_that_could_run_code(tmp_path, refused):
    save(xr.Dataset({"a": ("x", np.zeros(5))}), tmp_path / "a.zarr")
    described = tmp_path / "a.zarr" / "a" / "zarr.json"
    metadata = json.loads(described.read_text())
    metadata["codecs"].append({"name": "numcodecs.pickle", "configuration": {}})
    described.write_text(json.dumps(metadata))
    refused(tmp_path / "a.zarr", 'an array that is packed as "numcodecs.pickle"')


def test_a_damaged_record(tmp_path, refused):
    for record in ("", "{", "[]", "{}", "5", "[" * 100_000, '{"layout": 1, "groups": {"/": {}}}'):
        save(xr.Dataset({"a": 1.0}), tmp_path / "a.nc")
        with h5py.File(tmp_path / "a.nc", "r+") as file:
            file.attrs["spectralbench_record"] = record
        refused(tmp_path / "a.nc", "an archive that is damaged: its content cannot be read")


def test_a_later_layout(tmp_path, refused):
    save(xr.Dataset({"a": 1.0}), tmp_path / "a.nc")
    with h5py.File(tmp_path / "a.nc", "r+") as file:
        record = json.loads(file.attrs["spectralbench_record"])
        file.attrs["spectralbench_record"] = json.dumps({**record, "layout": 2})
    refused(tmp_path / "a.nc", "an archive of a later layout, written by")


def test_what_leads_out_of_the_file(tmp_path, refused):
    secret = tmp_path / "secret.txt"
    secret.write_text("secret!!")
    other = tmp_path / "other.h5"
    with h5py.File(other, "w") as file:
        file["a"] = [1.0]

    def spoilt(change):
        save(xr.Dataset({"a": ("x", [1.0])}), tmp_path / "a.nc")
        with h5py.File(tmp_path / "a.nc", "r+") as file:
            change(file)
        return tmp_path / "a.nc"

    def external(file):
        file.create_dataset("b", (8,), "u1", external=[(str(secret), 0, 8)])

    def virtual(file):
        layout = h5py.VirtualLayout((1,), "f8")
        layout[:] = h5py.VirtualSource(str(other), "a", (1,))
        file.create_virtual_dataset("b", layout)

    def linked(file):
        file["b"] = h5py.ExternalLink(str(other), "a")

    def circle(file):
        file["b"] = file["/"]

    def huge(file):
        file.create_dataset("b", (10**12,), "f8", chunks=(1000,))

    refused(spoilt(external), "an array that is kept in another file")
    refused(spoilt(virtual), "an array that is kept in another file")
    refused(spoilt(linked), "a link in place of an array")
    refused(spoilt(circle), "groups more than 40 deep")
    refused(spoilt(huge), "arrays that are far larger than the archive")


def test_more_groups_than_any_result_has(path, refused, monkeypatch):
    monkeypatch.setattr(containers, "_OBJECTS", 20)
    save(xr.DataTree.from_dict({f"/{number}": xr.Dataset() for number in range(21)}), path)
    refused(path, "more than 20 groups and arrays")


def test_a_zarr_array_far_larger_than_its_folder(tmp_path, refused):
    save(xr.Dataset({"a": ("x", np.zeros(5))}), tmp_path / "a.zarr")
    group = zarr.open_group(tmp_path / "a.zarr")
    group.create_array("b", shape=(10**12,), chunks=(1000,), dtype="f8", compressors=None)
    refused(tmp_path / "a.zarr", "arrays that are far larger than the archive")


def test_loading_leaves_the_archive_free(path):
    save(xr.Dataset({"a": ("x", np.arange(5.0))}), path)
    came_back = load(path)
    shutil.rmtree(path) if path.is_dir() else path.unlink()
    assert came_back["a"].sum() == 10


def test_lazy_arrays_are_computed(back_again):
    pytest.importorskip("dask")
    went_in = xr.Dataset({"a": ("x", np.arange(6.0))})
    xr.testing.assert_identical(back_again(went_in.chunk(x=2)), went_in)
