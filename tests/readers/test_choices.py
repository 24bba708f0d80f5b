"""What the caller says stands above what the file says; what the file contradicts is refused."""

import json

import pytest

from spectralbench.errors import ReadError
from spectralbench.readers import read


def decisions(dataset):
    return "\n".join(json.loads(dataset.attrs["decisions"]))


@pytest.mark.parametrize(
    ("text", "choices", "wavelengths", "counts", "decision"),
    [
        ("365;5\n366;6\n", {"delimiter": ";"}, [365, 366], [5, 6], "delimiter: semicolon (as chosen)"),
        ("365 5\n366 6\n", {"delimiter": "blanks"}, [365, 366], [5, 6], "delimiter: blanks (as chosen)"),
        # 365.5 nm and 366.5 nm, though every field is a whole number
        (
            "365,5,12,0\n366,5,13,5\n",
            {"decimal": ","},
            [365.5, 366.5],
            [12, 13.5],
            "decimal sign: comma (as chosen)",
        ),
        (
            "365,0,12,5\n366,0,13,5\n367,0,14,5\n",
            {"delimiter": ",", "decimal": ","},
            [365, 366, 367],
            [12.5, 13.5, 14.5],
            "delimiter: comma, which is the decimal sign as well (as chosen)",
        ),
        (
            "365;998\n366;1,203\n367;12,204\n",
            {"decimal": ","},
            [365, 366, 367],
            [998, 1.203, 12.204],
            "decimal sign: comma (as chosen)",
        ),
        (
            "wavelength [nm],counts\n400,1\n500,2\nrun two\nwavelength [nm],counts\n365,5\n366,6\n",
            {"first_row": 6},
            [365, 366],
            [5, 6],
            "header: 5 lines before the table, as chosen",
        ),
        (
            "x [nm];y [counts]\n365;5\n366;6\n",
            {"heading": 1},
            [365, 366],
            [5, 6],
            "column names: line 1 (as chosen)",
        ),
        (
            "wavelength [µm];transmittance\nin nm;in counts\n365;5\n366;6\n",
            {"heading": 0, "first_row": 3},
            [365, 366],
            [5, 6],
            "column names: none (none, as chosen)",
        ),
        (
            "0,365,5\n1,366,6\n2,367,7\n",
            {"axis_column": 2},
            [365, 366, 367],
            [5, 6, 7],
            "wavelength: column 2 (as chosen)",
        ),
        (
            "a,b,365,5\nc,d,366,6\n",
            {"axis_column": 3, "axis": "wavelength", "heading": 0},
            [365, 366],
            [5, 6],
            "wavelength: column 3 (as chosen)",
        ),
        (
            "nominal wavelength,wavelength,counts\n1,365,5\n2,366,6\n",
            {"axis_column": 2},
            [365, 366],
            None,
            "wavelength: column 2 (as chosen)",
        ),
        ("0.365 5\n0.366 6\n", {"axis_units": "µm"}, [365, 366], [5, 6], 'unit "µm" as chosen'),
        (
            "wavelength [nm],counts\n0.365,5\n0.366,6\n",
            {"axis_units": "um"},
            [365, 366],
            [5, 6],
            'wavelength: column 1 (by its heading), unit "um" as chosen',
        ),
        (
            "wavelength [nm],signal\n365,1\n366,2\n",
            {"scale": "log10"},
            [365, 366],
            [10, 100],
            "from its decadic logarithm, as chosen",
        ),
        (
            "wavelength [nm],log10(counts)\n365,5\n366,6\n",
            {"scale": "linear"},
            [365, 366],
            [5, 6],
            "linear scale, as chosen",
        ),
    ],
)
def test_a_choice_stands_above_every_guess(file, text, choices, wavelengths, counts, decision):
    dataset = read(file(text), quantity="counts", **choices)
    assert dataset.wavelength.values.tolist() == wavelengths
    assert decision in decisions(dataset)
    if counts is not None:
        assert dataset.counts.values.tolist() == counts


def test_an_axis_by_choice(file):
    path = file("x,irradiance [W/m²]\n0,1\n1,2\n")
    log = read(path, axis="time", axis_units="min")
    assert log.time.values.tolist() == [0, 60]
    assert 'time: column 1 (as chosen), unit "min" as chosen' in decisions(log)
    assert 'column 1 is named "x" and was read as time' in log.attrs["warnings"].replace("\\", "")
    assert read(path, axis="hours").irradiance.dims == ("hours",)


def test_one_of_several_axes_by_choice(file):
    path = file("time [s],position [mm],irradiance [W/m²]\n0,0,1\n1,1,2\n")
    scan = read(path, axis="position")
    assert scan.irradiance.dims == ("position",)
    assert scan.position.values.tolist() == [0, 1e-3]


def test_a_channel_first_by_choice(file):
    log = read(file("A,0,1\nB,1,2\n"), axis="time", axis_column=2, axis_units="s", quantity="irradiance")
    assert log.time.values.tolist() == [0, 1]
    assert log.irradiance.values.tolist() == [1, 2]


@pytest.mark.parametrize(
    ("text", "choices", "line", "found", "expected"),
    [
        ("365,5\n366,6\n", {"delimiter": ";"}, 1, '"365,5"', "a semicolon between the columns, as chosen"),
        ("365;5\n366;6\n", {"delimiter": "blanks"}, 1, '"365;5"', "blanks between the columns, as chosen"),
        ("365.5;5\n366.5;6\n", {"decimal": ","}, 1, '"365.5;5"', "a decimal comma, as chosen"),
        ("365,5;5\n366,5;6\n", {"decimal": "."}, 1, '"365,5;5"', "a decimal point, as chosen"),
        ("365,5\n366,6\n", {"heading": 9}, None, "3 lines", "a line 9, the heading as chosen"),
        ("365,5\n366,6\n", {"first_row": 9}, None, "3 lines", "a line 9, the first_row as chosen"),
        ("\n365,5\n366,6\n", {"heading": 1}, 1, '"", an empty line', "names of columns, as chosen"),
        (
            "wl,counts\n365,5\n366,6\n",
            {"heading": 2, "first_row": 2},
            2,
            "first_row 2 and heading 2",
            "a heading above the first row",
        ),
        (
            "wl,counts\n365,5\n366,6\n",
            {"first_row": 1},
            1,
            '"wl,counts"',
            "the first row of the table, as chosen",
        ),
        (
            "wl;counts\n365;5;7\n366;6;7\n",
            {"heading": 1},
            1,
            "2 column names above rows of 3",
            "as many names",
        ),
        ("365,5\n366,6\n", {"axis_column": 3}, 1, '"365,5"', "a number in column 3, as chosen"),
        ("a,365\nb,366\n", {"axis_column": 1}, 1, '"a,365"', "a number in column 1, as chosen"),
        ("wl [nm],counts\n365,5\n366,6\n", {"axis_units": "s"}, 1, 'the unit "s"', "nm, µm or Å"),
        ("wl [nm],counts\n365,5\n366,6\n", {"axis": "time"}, 1, 'the unit "nm"', "s, min or h"),
        (
            "wl [nm],counts\n365,5\n366,400\n",
            {"scale": "log10"},
            1,
            "a logarithm of 400",
            "at most that of 1e308",
        ),
        (
            "365,5,1,7\n366.5,6,1,7\n",
            {"decimal": ",", "delimiter": ","},
            1,
            '"365,5,1,7"',
            "pairs of whole numbers",
        ),
    ],
)
def test_a_choice_that_the_file_contradicts(file, text, choices, line, found, expected):
    with pytest.raises(ReadError) as caught:
        read(file(text), **choices)
    (fault,) = caught.value.faults
    assert fault.line == line
    assert found in fault.found
    assert expected in fault.expected
    assert fault.advice
