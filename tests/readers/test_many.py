"""Many files at once: in order, on one grid, and all faults together."""

import gzip
import json
import os
import re
import warnings

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, ReadError
from spectralbench.readers import read
from spectralbench.readers.many import read_many
from spectralbench.readers.rows import Rows

ROWS = [(365, 5), (365.5, 6), (366, 7)]


def write(folder, name, rows=ROWS, header="", columns="wavelength [nm],counts [1]"):
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"{header}{columns}\n" + "".join(",".join(map(str, row)) + "\n" for row in rows))
    return path


@pytest.fixture
def frames(tmp_path):
    return [
        write(
            tmp_path,
            f"frame {k}.csv",
            [(w, c + k) for w, c in ROWS],
            f"# integration time: {k} ms\n# lamp: a\n",
        )
        for k in range(1, 31)
    ]


def test_the_order_given_is_kept(frames):
    backwards = frames[::-1]
    dataset = read_many(backwards)
    assert dataset.counts.dims == ("spectrum", "wavelength")
    assert dataset.spectrum.values.tolist() == [path.stem for path in backwards]
    np.testing.assert_array_equal(dataset.counts, [read(path).counts for path in backwards])
    np.testing.assert_array_equal(dataset.wavelength, [365, 365.5, 366])
    assert dataset.wavelength.attrs["units"] == "nm"
    assert dataset.counts.attrs["units"] == "1"


def test_what_files_state_stands_along_the_spectra(frames):
    dataset = read_many(frames)
    np.testing.assert_allclose(dataset.integration_time, np.arange(1, 31) / 1000)
    assert dataset.integration_time.attrs["units"] == "s"
    assert dataset.file.values.tolist() == [str(path) for path in frames]
    assert dataset.sha256.values.tolist() == [read(path).attrs["sha256"] for path in frames]
    assert json.loads(dataset.attrs["header"]) == {"lamp": "a"}
    assert json.loads(dataset.attrs["headers"])[str(frames[4])] == {"integration time": "5 ms"}


def test_what_only_some_files_state(tmp_path):
    first = write(tmp_path, "a.csv", header="# integration time: 5 ms\n# time: 2026-05-04T09:30:00\n")
    dataset = read_many([first, write(tmp_path, "b.csv")])
    np.testing.assert_array_equal(dataset.integration_time, [0.005, np.nan])
    np.testing.assert_array_equal(
        dataset.time, np.array(["2026-05-04T09:30:00", "NaT"], dtype="datetime64[ns]")
    )


def test_files_with_several_scans(tmp_path):
    columns = "wavelength [nm],counts a [1],counts b [1]"
    first = write(tmp_path, "one.csv", [(365, 1, 2), (366, 3, 4)], columns=columns)
    second = write(tmp_path, "two.csv", [(365, 5), (366, 6)])
    dataset = read_many([first, second])
    assert dataset.spectrum.values.tolist() == ["one a", "one b", "two"]
    np.testing.assert_array_equal(dataset.counts, [[1, 3], [2, 4], [5, 6]])
    assert dataset.file.values.tolist() == [str(first), str(first), str(second)]
    third = write(tmp_path, "three.csv", [(365, 7, 8), (366, 9, 10)], columns=columns)
    again = read_many([second, first, third])
    np.testing.assert_array_equal(again.counts, [[5, 6], [1, 3], [2, 4], [7, 9], [8, 10]])


def test_the_same_name_in_two_folders(tmp_path):
    paths = [write(tmp_path / folder, "dark.csv") for folder in ("a", "b")]
    assert read_many(paths).spectrum.values.tolist() == [str(path) for path in paths]


def test_the_odd_grid_is_named(frames, tmp_path):
    odd = write(tmp_path, "odd.csv", [(365, 5), (365.500001, 6), (366, 7)])
    short = write(tmp_path, "short.csv", [(365, 5), (365.5, 6)])
    with pytest.raises(GridError) as caught:
        read_many([odd, *frames, short])
    message = str(caught.value)
    assert message.startswith("2 of 32 files have another wavelength grid than the others")
    assert re.search(r'odd.csv" has 365.500001 in place 2, where the others have 365.5;', message)
    assert re.search(r'short.csv" has 2 values from 365.0 to 365.5, the others 3 values', message)
    assert "nothing is interpolated" in message


def test_the_odd_quantity_is_named(frames, tmp_path):
    odd = write(tmp_path, "odd.csv", columns="wavelength [nm],transmittance [%]")
    with pytest.raises(
        RangeError, match=r'1 of 31 files hold something else than counts \[1\] along wavelength: ".*odd.csv"'
    ):
        read_many([odd, *frames])


def test_the_faults_of_all_files_together(frames, tmp_path):
    bad = write(tmp_path, "bad.csv", [(365, 5), (366, "x"), (367, "y")])
    missing = tmp_path / "missing.csv"
    with pytest.raises(ReadError, match="2 of 32 files cannot be read, 3 faults") as caught:
        read_many([bad, *frames, missing])
    assert [fault.file for fault in caught.value.faults] == [str(bad), str(bad), str(missing)]
    assert str(caught.value.faults[0]).startswith(f'{bad}, line 3, column 2: found "x"')


def test_one_bad_file_alone_keeps_its_own_error(frames, tmp_path):
    bad = write(tmp_path, "bad.csv", [(365, 5), (366, "x")])
    with pytest.raises(ReadError) as caught:
        read_many([*frames, bad])
    assert caught.value.path == str(bad)


def test_the_choices_hold_for_all(tmp_path):
    paths = [write(tmp_path, f"{k}.txt", [(365, 50), (366, 60)], columns="nm,part") for k in "ab"]
    dataset = read_many(paths, quantity="transmittance", units="%")
    np.testing.assert_allclose(dataset.transmittance, [[0.5, 0.6], [0.5, 0.6]])


def test_what_is_no_list_of_files(tmp_path):
    with pytest.raises(RangeError, match="the list of paths is empty"):
        read_many([])
    with pytest.raises(RangeError, match="is one path; expected a list of paths"):
        read_many(write(tmp_path, "a.csv"))
    with pytest.raises(RangeError, match='"None" among the paths is no path but a NoneType'):
        read_many([tmp_path / "a.csv", None])
    with pytest.raises(RangeError, match="no known quantity"):
        read_many([tmp_path / "a.csv"], quantity="intensity")


def test_a_function_hears_of_the_progress(frames):
    heard = []
    read_many(frames, progress=lambda done, count: heard.append((done, count)))
    assert heard == [(k, 30) for k in range(1, 31)]


def test_a_bar_on_a_terminal(frames, capsys):
    read_many(frames, progress=True)
    assert "reading files" in capsys.readouterr().err
    read_many(frames)
    assert capsys.readouterr().err == ""


def test_warnings_count_their_files(frames, tmp_path):
    odd = write(tmp_path, "odd.csv", columns="wavelength,counts [1]")
    warnings = json.loads(read_many([*frames, odd]).attrs["warnings"])
    assert any("the unit of the wavelength is not stated" in text for text in warnings)
    assert warnings[0] == f'1 of 31 files state no integration time: "{odd}"'
    assert all(text.endswith("(in 1 of 31 files)") for text in warnings[1:])


def test_the_stack_is_what_reading_one_by_one_gives(frames):
    whole = read_many(frames)
    by_hand = xr.concat([read(path).counts for path in frames], dim="spectrum", combine_attrs="drop")
    np.testing.assert_array_equal(whole.counts, by_hand)
    assert whole.counts.dtype == by_hand.dtype


def test_another_unit_is_something_else(tmp_path):
    paths = [write(tmp_path, f"{k}.csv", columns="wavelength [nm],voltage [V]") for k in "ab"]
    odd = write(tmp_path, "odd.csv", columns="wavelength [nm],voltage [mV]")
    with pytest.raises(
        RangeError, match=r'than unlabelled \[V\] along wavelength: ".*odd.csv" holds unlabelled \[mV\]'
    ):
        read_many([*paths, odd])


def test_logs_with_channels_side_by_side(tmp_path):
    columns = "time [s],irradiance A [mW/cm²],irradiance B [mW/cm²]"
    paths = [write(tmp_path, f"{k}.csv", [(0, 1, 2), (1, 3, 4)], columns=columns) for k in "xy"]
    dataset = read_many(paths)
    assert dataset.irradiance.dims == ("spectrum", "time")
    assert dataset.spectrum.values.tolist() == ["x A", "x B", "y A", "y B"]


def test_what_stands_along_the_axis_has_to_be_the_same(tmp_path):
    columns = "time [s],channel,irradiance [mW/cm²]"
    rows = [(0, "A", 1), (1, "B", 2)]
    paths = [write(tmp_path, f"{k}.csv", rows, columns=columns) for k in "ab"]
    assert read_many(paths).channel.values.tolist() == ["A", "B"]
    odd = write(tmp_path, "odd.csv", [(0, "A", 1), (1, "C", 2)], columns=columns)
    with pytest.raises(GridError, match=r'odd.csv" has channel C in place 2, where the others have B'):
        read_many([*paths, odd])
    bare = write(tmp_path, "bare.csv", [(0, 1), (1, 2)], columns="time [s],irradiance [mW/cm²]")
    with pytest.raises(GridError, match=r'bare.csv" lacks channel along it'):
        read_many([*paths, bare])
    with pytest.raises(GridError, match=r'a.csv" has channel along it'):
        read_many(
            [
                bare,
                write(tmp_path, "b2.csv", [(0, 1), (1, 2)], columns="time [s],irradiance [mW/cm²]"),
                paths[0],
            ]
        )


def test_a_file_that_comes_twice_is_told(frames):
    warnings = json.loads(read_many([*frames, frames[3]]).attrs["warnings"])
    assert warnings == [f'"{frames[3]}" holds the same bytes as "{frames[3]}"']


WAYS = {
    "as it is": lambda text: text.encode(),
    "with a mark of UTF-8": lambda text: text.encode("utf-8-sig"),
    "in UTF-16": lambda text: text.encode("utf-16"),
    "with carriage returns": lambda text: text.replace("\n", "\r\n").encode(),
    "packed": lambda text: gzip.compress(text.encode(), mtime=0),
    "with semicolons": lambda text: text.replace(",", ";").encode(),
    "with the end of an old block": lambda text: text.encode() + b"\x1a\0\0",
    "in a code page": lambda text: text.replace("lamp: a", "lamp: é").encode("latin-1"),
    "in another notation": lambda text: text.replace("366,", "366.0,").encode(),
}


def test_files_stored_in_different_ways_stand_in_their_places(frames):
    for path, change in zip(frames[1:], [*WAYS.values(), *WAYS.values()], strict=False):
        path.write_bytes(change(path.read_text()))
    dataset = read_many(frames)
    for i, path in enumerate(frames):
        alone, stacked = read(path), dataset.isel(spectrum=i)
        np.testing.assert_array_equal(stacked.counts, alone.counts)
        assert stacked.integration_time == alone.integration_time
        assert stacked.sha256 == alone.attrs["sha256"]
        own = json.loads(dataset.attrs["headers"])[str(path)] | json.loads(dataset.attrs["header"])
        assert own == json.loads(alone.attrs["header"])


GRID = "wavelength [nm],counts [1]\n365.5,{k}\n366,6\n"
PAIRS = {  # two files, of which the second could be taken for one like the first
    "a value that is missing": [f"# lamp: {lamp}\n{GRID}" for lamp in ("a", "")],
    "what is no text": [f"# lamp: {lamp}\n{GRID}" for lamp in ("a", "\x01" * 9)],
    "marks of inches": [f"lamp: {a}\nlens: {b}\n{GRID}" for a, b in (("a", "b"), ('5" wide', '2" long'))],
    "another time": [f"# integration time: {k} ms\n{GRID}" for k in (5, 6)],
    "another day": [f"# time: 2026-05-0{k}\n{GRID}" for k in (4, 5)],
    "a day in words": [f"# time: {day}\n{GRID}" for day in ("2026-05-04", "the day after")],
    "a letter of a code page": [f"# lamp: {lamp}\r\n{GRID}" for lamp in ("a", "é")],
    "another key": [f"# {key}: a\n{GRID}" for key in ("lamp", "lens")],
    "a line more": [f"# lamp: a\n{more}{GRID}" for more in ("", "# lens: b\n")],
    "another unit": [
        f"# quantity: irradiance\n# unit: {unit}\nwavelength [nm],value\n365.5,1\n366,2\n"
        for unit in ("W m-2", "mW cm-2")
    ],
    "a key that says what the values are": [
        f"# quantity: counts\n# {entry}\nwavelength [nm],value\n365.5,1\n366,2\n"
        for entry in ("lamp: a", "quantity: signal")
    ],
    "a value that is a heading": [
        f"lamp,{lamp}\nnm,counts\n365.5,5\n366,6\n" for lamp in ("a", "wavelength")
    ],
    "a value that makes a table": [f"# lamp,{lamp}\nx,y\n365.5,5\n366,6\n" for lamp in ("a", "counts")],
    "whole numbers under a comma": [
        f"integration time: 20,5 ms\nwavelength [nm];counts [1]\n{rows}"
        for rows in ("365;5,5\n366;6,5\n", "365;5\n366;6\n")
    ],
    "thousands behind a power": [
        f"wavelength [nm];counts [1]\n{rows}"
        for rows in ("365.5;12.25\n366.5;11.5\n", "3655e-1;1.203\n3665e-1;1.190\n")
    ],
    "tabs instead of blanks": [
        f"wavelength[nm] counts\n{rows}" for rows in ("365 5\n366 6\n", "365\t5\n366\t6\n")
    ],
    "another sign before a key": [f"{sign} JCAMP-DX= 4.24\n{GRID}" for sign in ("#", "##")],
    "a comma among semicolons": [
        f"nm;counts\n{rows}" for rows in ("365;3165\n366;5951\n", "365;521,5\n366;107\n")
    ],
}


@pytest.mark.parametrize("name", PAIRS)
def test_what_is_almost_alike_is_read_as_it_is_alone(name, tmp_path, monkeypatch):
    paths = []
    for k, text in enumerate(PAIRS[name]):
        paths.append(tmp_path / f"{k}.csv")
        paths[-1].write_bytes(text.replace("{k}", str(k)).encode("latin-1"))
    result = outcome(paths)
    monkeypatch.setattr("spectralbench.readers.many.read_alike", lambda *_: None)
    expected = outcome(paths)
    assert str(result) == str(expected)
    assert read(paths[0])
    assert isinstance(result, Exception) or result.identical(expected)


def outcome(paths):
    try:
        return read_many(paths)
    except (ReadError, RangeError) as error:
        return error


def in_a_copy(work):
    """Do something in a copy of this process, which ends with it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of threads of the test runner
        copy = os.fork()
    if not copy:
        try:
            work()
            os._exit(0)
        finally:
            os._exit(1)
    assert os.waitpid(copy, 0)[1] == 0


def refused(done):
    assert not done


def test_numbers_of_many_files_belong_to_this_process_alone():
    """A copy of this process fills its rows; later on, neither changes what the other holds."""
    rows = Rows(2, np.zeros((1, 3)), shared=True)
    in_a_copy(lambda: rows.put(1, np.ones((1, 3))))
    assert rows.put(0, np.full((1, 3), 5.0))
    assert not rows.put(0, np.ones((1, 2)))
    alone = Rows(2, np.zeros((2, 3)), shared=False)
    assert not alone.put(0, np.ones(3))
    in_a_copy(lambda: refused(alone.put(0, np.ones((2, 3)))))
    values = rows.own
    np.testing.assert_array_equal(values, [[5, 5, 5], [1, 1, 1]])
    values[0] = 7
    in_a_copy(lambda: values.fill(9))
    np.testing.assert_array_equal(values, [[7, 7, 7], [1, 1, 1]])
    np.testing.assert_array_equal(rows.at(0), [[7, 7, 7]])


@pytest.mark.parametrize("which", [0, 1])
def test_a_file_that_was_cut_off_is_told_among_many(tmp_path, which):
    """The quick way leaves it to the careful one; and the first one does not pass it on to those like it."""
    paths = [write(tmp_path, f"{k}.csv", [(w, 31_200 + k) for w, _ in ROWS]) for k in range(3)]
    paths[which].write_text(paths[which].read_text()[:-3])
    told = json.loads(read_many(paths).attrs["warnings"])
    assert [line[line.index("was the") :] for line in told] == [
        "was the file cut off there? (in 1 of 3 files)"
    ]
