"""Bad files: what was found, where, what was expected, what to do."""

import gzip
import os
import re

import pytest

from spectralbench.errors import ReadError
from spectralbench.readers import read


@pytest.fixture
def refused(tmp_path):
    def refuse(content, **arguments):
        path = tmp_path / "file.txt"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        with pytest.raises(ReadError) as caught:
            read(path, **arguments)
        assert str(path) in str(caught.value)
        for fault in caught.value.faults:
            assert fault.found
            assert fault.expected
        return caught.value

    return refuse


HEAD = "wavelength [nm],counts\n"


@pytest.mark.parametrize(
    ("rows", "line", "column", "found", "advice"),
    [
        ("365,1\n366,2;3\n367,3\n", 3, 2, '"2;3"', "if the sample is known not to be valid, write invalid"),
        ("365,1\n366\n367,3\n", 3, None, '1 field ("366")', "Save the file anew: a row with too few"),
        ("365,1\n366,2,3\n367,3\n", 3, None, '3 fields ("366,2,3")', "save with semicolons"),
        ("365,1\n366,2\n367\n", 4, None, '1 field ("367")', "cut off here"),
        ("365,1\n366,abc\n367,3\n", 3, 2, '"abc"', ""),
        ("365,abc\n366,2\n367,3\n", 2, 2, '"abc"', ""),
        ("x365,1\n366,2\n367,3\n", 2, 1, '"x365"', ""),
        ("365,1\n366,\n367,3\n", 3, 2, "an empty field", "never filled silently: save the file anew"),
        ("365,1\n,2\n367,3\n", 3, 1, "an empty field", "never filled silently"),
        ("365,1\n366,2\nend of data\n", 4, None, '"end of data"', "begin it with #"),
        ("365,1\n366,1 000\n367,3\n", 3, 2, '"1 000"', "without separators between thousands"),
        ("365,1\n366,1_000\n367,3\n", 3, 2, '"1_000"', ""),
        ("365,1\n366,٣\n367,3\n", 3, 2, '"٣"', ""),
        ("365,1\n366,0x10\n367,3\n", 3, 2, '"0x10"', ""),
        ("365,1\n366,1e999\n367,3\n", 3, 2, '"1e999"', "exponent"),
        ("365,1\n366,1.5-103\n367,3\n", 3, 2, '"1.5-103"', "with its letter: 1.5E-103"),
        ("365,1\n366,91%\n367,3\n", 3, 2, '"91%"', 'unit "%" once, in the heading'),
        ("365,1\n366,\u22125\n367,3\n", 3, 2, '"\u22125"', "hyphen of the keyboard"),
        *(
            (f"365,1\n366,{word}\n367,3\n", 3, 2, f'"{word}"', "or write invalid there in a copy of the")
            for word in (
                "nan",
                "NaN",
                "inf",
                "-Infinity",
                "####",
                "OVER",
                "OVERLOAD",
                "---",
                "N/A",
                "1.#IND",
                "*****",
            )
        ),
        (
            "365,1\n366,2\n366,3\n",
            4,
            1,
            "366 nm a second time; it stands in line 3 already",
            "scans go side by side",
        ),
        ("365,1\n367,2\n366,3\n368,4\n", 4, 1, "366 after 367 (line 3)", "Sort the rows"),
        ("368,1\n366,2\n367,3\n365,4\n", 4, 1, "367 after 366 (line 3)", "Sort the rows"),
        ("-1,1\n366,2\n", 2, 1, "wavelength -1 nm", "unit"),
        ("0,1\n366,2\n", 2, 1, "wavelength 0 nm", "unit"),
        ("365,1\n2e6,2\n", 3, 1, "wavelength 2e+06 nm", "unit"),
    ],
)
def test_a_fault_in_the_table(refused, rows, line, column, found, advice):
    (fault,) = refused(HEAD + rows).faults
    assert (fault.line, fault.column) == (line, column)
    assert found in fault.found
    assert advice in fault.advice


def test_all_faults_come_together(refused):
    error = refused(
        "# integration time: 20\nwavelength [nm];counts\n365;1\n366;\n367\n366;4\n368;OVER\n", units="nm"
    )
    assert [(fault.line, fault.column) for fault in error.faults] == [
        (1, None),
        (2, 2),
        (4, 2),
        (5, None),
        (6, 1),
        (7, 2),
    ]
    assert re.search(r"file\.txt cannot be read, 6 faults:\n  line 1: ", str(error))


def test_a_column_without_any_number(refused):
    error = refused("wavelength,counts,transmittance\n365,1,nan\n366,2,nan\n")
    assert [(fault.line, fault.column) for fault in error.faults] == [(2, 3), (3, 3)]


def test_faults_are_listed_up_to_a_limit(refused):
    error = refused(HEAD + "".join(f"{i},x\n" for i in range(1, 5000)))
    assert 500 < len(error.faults) < 510


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("", "an empty file"),
        (" \r\n\n", "an empty file"),
        (b"\xff\xfe", "an empty file"),
        ("# lamp: invented\nwavelength [nm],counts\n", 'without a row of numbers (it begins with "# lamp'),
        ("365\n366\n", 'one column only ("365")'),
        ("wavelength\n365\n366\n", 'one column only ("365")'),
        (HEAD + "365,1\n", "1 row of numbers"),
        (b"PK\x03\x04....", "ZIP archive"),
        (gzip.compress(gzip.compress(b"365,1", mtime=0), mtime=0), "gzip twice"),
        (b"\x89PNG\r\n\x1a\n....", "PNG"),
        (b"%PDF-1.7\n", "PDF"),
        (b"\x89HDF\r\n\x1a\n...", "HDF5"),
        (b"365,1\n366,\x00\n", "binary data"),
        (bytes(range(1, 32)) * 10, "binary data"),
        (bytes(range(128, 256)) * 10, "binary data"),
        ("365,1\n366,2\n".encode("utf-16-le"), "UTF-16 without a byte order mark"),
        (b"\xff\xfe" + b"3\x00\n", "no UTF-16"),
        (HEAD.replace("counts", "counts,counts") + "365,1\n366,2\n", "3 column names above rows of 2"),
        ("365,0,12,5\n366,0,13,5\n367,0,14,5\n", "comma may be delimiter, or delimiter and decimal sign"),
        ("pixel,counts\n0,1\n1,2\n", '"pixel"'),
        ("wavelength [s],counts\n365,1\n366,2\n", 'the unit "s"'),
        ("wavelength [nm],transmittance [mm]\n365,1\n366,1\n", 'the unit "mm" for transmittance'),
        ("wavelength [nm],spectral irradiance [mW/cm²]\n365,1\n366,1\n", 'the unit "mW/cm²"'),
        ("wavelength [nm],spectral irradiance\n365,1\n366,1\n", '"spectral irradiance" without a unit'),
        ("wavelength [nm],transmittance\n365,91\n366,92\n", "transmittance up to 92 without a unit"),
        ("time,irradiance [mW/cm²]\n0,1\n1,1\n", "times in numbers without a unit"),
        ("time,irradiance [mW/cm²]\n2026-03-02T10:00,1\n2026-13-02T10:00,1\n", '"2026-13-02T10:00"'),
        ("wavelength,counts,wavelength\n365,1,365\n366,1,366\n", '"wavelength"'),
        (
            "wavelength,counts,counts,counts,signal [1/s],signal [1/s]\n365,1,1,1,1,1\n366,1,1,1,1,1\n",
            "3 columns of counts and 2 columns of signal",
        ),
        ("# integration time: -20 ms\n365 1\n366 2\n", '"-20 ms"'),
        ("# integration time: soon\n365 1\n366 2\n", '"soon"'),
        ("wavelength [µm],counts\n1e300,1\n1e308,2\n", "wavelength"),
        ("time [h],counts\n-1e308,1\n1e308,2\n", "time"),
        ("wavelength,irradiance [mW/cm²]\n365,1e308\n366,2\n", "irradiance beyond 1e308 W m-2"),
        ("time,counts\n2026-03-02T10:30:00Z,1\n2026-03-02T10:30:01,2\n", '"2026-03-02T10:30:01"'),
        ("a: b\n" * 20_001 + "365 1\n366 2\n", "20001 lines of header"),
        (
            HEAD + "365,1\n366,2\n\nlamp B\n" + HEAD + "365,1\n366,x\n",
            "2 tables, which begin in lines 1 and 6",
        ),
        (HEAD + "365,1\n366,2\n367,3\n365,1\n366,2\n367,3\n", "2 tables, which begin in lines 2 and 5"),
        (HEAD + "365,1\n366,2\n365,1\n366,2\n365,1\n366,2\n", "3 tables, which begin in lines 2, 4 and 6"),
        (HEAD + "365,1\n366,2\n\n365,1,2\n366,2,3\n", "2 tables, which begin in lines 1 and 5"),
        (HEAD + "365,1\n366,2\n367,3\n366,2\n365,2\n", "wavelength that turns round in line 4 and runs down"),
        (HEAD + "0,1\n1,2\n2,3\n".replace("0,", "0,365,"), "3 fields"),
        ("0,365\n1,366\n2,367\n", "0, 1, 2 … in column 1, which numbers the rows"),
        ("wavelength [nm];counts\n365;998\n366;1,203\n", '"1,203" beside "998", in which the comma may'),
        ("wavelength [nm];counts\n365;998\n366;1.203\n", '"1.203" beside "998", in which the point may'),
        (
            'wavelength,counts\n365,"1,203"\n366,"12,204"\n',
            '"1,203" beside whole numbers, in which the comma',
        ),
        ("wavelength,counts x1000\n365,1\n366,2\n", 'a factor in "counts x1000"'),
        ("wavelength,365,366,367,368\ncounts,1,2,3,4\n", "a table that runs across"),
        ("date: 2026-03-02\ntime,counts\n23:59:59,1\n00:00:01,2\n", "a time of day before that in line 3"),
        ("wavelength,T [dB]\n365,-1\n366,-2\n", '"T [dB]"'),
        ("wavelength,-log(counts)\n365,-1\n366,-2\n", '"-log(counts)"'),
        ("wavelength,lg(counts)\n365,1\n366,400\n", 'a logarithm of 400 in column 2 "lg(counts)"'),
        ("wavelength,A,wavelength,B\n365,1,365,2\n366,3,366.5,4\n", "366.5 beside 366: two grids"),
        ("wl,A,wl,B\n365,1,365,2\n366,3,366,4\n367,3,,\n", "2 pairs of columns, not all of the same length"),
        ("hours,relative output\n0,100\n500,95\n", "relative output up to 100 without a unit"),
    ],
)
def test_a_file_that_is_no_table(refused, content, found):
    error = refused(content)
    assert any(found in fault.found for fault in error.faults), str(error)


def test_no_such_file(tmp_path):
    with pytest.raises(ReadError, match="no such file"):
        read(tmp_path / "absent.csv")


@pytest.mark.parametrize("name", ["with\0zero", "long" * 1000])
def test_a_name_that_no_file_has(tmp_path, name):
    with pytest.raises(ReadError, match="cannot be read"):
        read(f"{tmp_path}/{name}")


def test_a_folder(tmp_path):
    with pytest.raises(ReadError, match="a folder"):
        read(tmp_path)


def test_a_pipe_does_not_wait(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ReadError, match="a named pipe"):
        read(tmp_path / "pipe")


def test_a_device():
    with pytest.raises(ReadError, match="a device"):
        read(os.devnull)


def test_a_file_beyond_the_limit(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(512 * 2**20 + 1)  # sparse: it takes no room on the disk
    with pytest.raises(ReadError, match="at most 512 MB"):
        read(path)


@pytest.mark.parametrize(
    ("name", "advice"),
    [
        ("x [cm-1]", "wavelength [nm] = 1e7 / wavenumber [cm-1]"),
        ("x (1/cm)", "JCAMP-DX"),
        ("wavenumber", "JCAMP-DX"),
        ("wavelength [cm-1]", "JCAMP-DX"),
        ("x [mm]", "say axis=position"),
        ("depth (m)", "say axis=position"),
        ("E [eV]", "1239.842 / energy [eV]"),  # h c / e from the exact constants of the SI, 2019
        ("f [Hz]", "2.99792458e17 / frequency [Hz]"),  # c from the same
        ("frequency", "2.99792458e17 / frequency [Hz]"),
        ("Raman shift", "A shift is no wavelength"),
        ("offset [nm]", "A shift is no wavelength"),
        *((word, "Add the wavelength as a column") for word in ("sample", "no", "scan", "point", "scan no.")),
    ],
)
def test_a_first_column_that_is_no_wavelength(refused, name, advice):
    (fault,) = refused(f"{name},counts\n365,1\n366.5,2\n").faults
    assert (fault.line, fault.column) == (1, 1)
    assert advice in fault.advice


@pytest.mark.parametrize(
    ("stated", "row", "found", "advice"),
    [
        (
            "integration time: 1.500 ms",
            "365,5;1",
            'the point in "1.500 ms", in a file with a decimal comma',
            "",
        ),
        ("integration time: 1.500,5 ms", "365,5;1", 'the point in "1.500,5 ms"', "without separators"),
        ("integration time: 1,500 ms", "365.5;1", 'the comma in "1,500 ms", in a file with a decimal p', ""),
        ("integration time (s): 20 ms", "365.5;1", '"20 ms" behind a key that states the unit "s"', "once"),
        ("integration time: 20", "365.5;1", '"20"', "Save the file anew with the unit, such as"),
        ("Exposure (s): 20 ms", "365.5;1", '"20 ms" behind a key that states the unit "s"', "once"),
    ],
)
def test_an_integration_time_that_is_not_clear(refused, stated, row, found, advice):
    (fault,) = refused(f"{stated}\nwavelength [nm];counts\n{row}\n400;2\n").faults
    assert fault.line == 1
    assert found in fault.found
    assert advice in fault.advice


def test_two_integration_times(refused):
    head = "integration time: 20 ms\nIntegrationszeit: 0.03 s\n"
    (fault,) = refused(f"{head}wavelength [nm],counts\n365,1\n366,2\n").faults
    assert fault.line == 2
    assert fault.found == 'the integration time "0.03 s", and "20 ms" in line 1'


@pytest.mark.parametrize("sign", [",", "."])
def test_counts_that_all_have_three_figures_behind_a_sign(refused, sign):
    rows = f"380;1{sign}203\n381;1{sign}211\n382;12{sign}250\n"
    (fault,) = refused(f"wavelength [nm];counts\n{rows}").faults
    assert (fault.line, fault.column) == (2, 2)
    assert "may separate thousands" in fault.found


@pytest.mark.parametrize("blank", [" ", "\u2009", "\u202f", "\u00a0"])
@pytest.mark.parametrize("head", ["", "wavelength;sample\n"])
def test_blanks_between_thousands(refused, blank, head):
    fault = refused(f"{head}380,0;1{blank}203\n381,0;1{blank}211\n382,0;12{blank}250\n").faults[0]
    assert (fault.line, fault.column) == (1 + bool(head), 2)
    assert "203" in fault.found
    assert "without separators between thousands" in fault.advice


@pytest.mark.parametrize(
    "content",
    [
        "365,1\n366,\n367,3\n",
        "365,1\n366,-\n367,3\n",
        "365,1\n366,2;3\n367,3\n",
        "365,1\n366\n367,3\n",
        "365,1\nnote\n366,3\n",
        "365,1\n366,2\n366,3\n",
    ],
)
def test_no_advice_is_to_change_a_raw_file(refused, content):
    """Raw files are never changed: a row that is deleted becomes a straight line between its neighbours."""
    for fault in refused(HEAD + content).faults:
        assert not re.search("delete|fill it in|take the row", fault.advice, re.IGNORECASE)
        assert re.search("copy of|file anew", fault.advice)
