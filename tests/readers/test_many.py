"""Many files at once: in order, on one grid, and all faults together."""

import json
import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, ReadError
from spectralbench.readers import read
from spectralbench.readers.many import read_many

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
