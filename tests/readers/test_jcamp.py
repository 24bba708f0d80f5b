"""JCAMP-DX: what is read, what is told, and what is refused."""

import contextlib
import json
import re
from pathlib import Path
from time import process_time

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import ReadError
from spectralbench.model import check
from spectralbench.readers.choices import Choices
from spectralbench.readers.content import Content, load
from spectralbench.readers.jcamp import read_jcamp, recognises

SAMPLES = Path(__file__).parent.parent / "samples"
ROWS = "400 10 20\n402 30 40\n404 50"


def content(text):
    return Content("a.jdx", "a.jdx", "", text.encode(), text, "UTF-8", False)


def block(rows=ROWS, form="XYDATA= (X++(Y..Y))", end="##END=", **changed):
    """A block with five points; records change by name (``_`` for a blank), None leaves one out."""
    records = {
        "TITLE": "invented",
        "JCAMP-DX": "4.24",
        "DATA TYPE": "UV/VIS SPECTRUM",
        "XUNITS": "NANOMETERS",
        "YUNITS": "COUNTS",
        "FIRSTX": "400",
        "LASTX": "404",
        "NPOINTS": "5",
        "XFACTOR": "1",
        "YFACTOR": "1",
    }
    records |= {name.replace("_", " "): value for name, value in changed.items()}
    lines = [f"##{name}= {value}" for name, value in records.items() if value is not None]
    return "\n".join([*lines, f"##{form}", rows, end, ""])


def read(text, **choices):
    return read_jcamp(content(text), Choices(**choices))


def faults(text, **choices):
    with pytest.raises(ReadError) as caught:
        read(text, **choices)
    return caught.value.faults


def told(result):
    return json.loads(result.attrs["warnings"])


# What is read


def test_a_plain_spectrum():
    dataset = read(block())
    assert check(dataset).counts.values.tolist() == [10, 20, 30, 40, 50]
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404]
    assert dataset.wavelength.attrs == {"units": "nm", "long_name": "wavelength in air"}
    assert dataset.counts.attrs["units"] == "1"
    assert dataset.attrs["format"] == "JCAMP-DX"
    assert told(dataset) == []
    assert json.loads(dataset.attrs["decisions"]) == [
        "encoding: UTF-8",
        "##XYDATA=: (X++(Y..Y))",
        'wavelength: ##XUNITS= "NANOMETERS"',
        'ordinates "COUNTS": counts, unit "1"',
        "order: ascending",
    ]


def test_a_falling_axis_is_turned_with_its_values():
    dataset = read(block("404 10 20\n402 30 40\n400 50", FIRSTX="404", LASTX="400"))
    assert dataset.counts.values.tolist() == [50, 40, 30, 20, 10]
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404]
    assert "sorted by ascending wavelength" in dataset.attrs["history"]


@pytest.mark.parametrize(
    ("units", "first", "last", "wavelengths"),
    [
        ("nm", 400, 404, [400, 401, 402, 403, 404]),
        ("Wavelength (nm)", 400, 404, [400, 401, 402, 403, 404]),
        ("MICROMETERS", 0.4, 0.404, [400, 401, 402, 403, 404]),
        ("µm", 0.4, 0.404, [400, 401, 402, 403, 404]),
        ("ANGSTROMS", 4000, 4040, [400, 401, 402, 403, 404]),
        ("1/CM", 20000, 28000, [1e7 / x for x in (28000, 26000, 24000, 22000, 20000)]),
        ("cm^-1", 28000, 20000, [1e7 / x for x in (28000, 26000, 24000, 22000, 20000)]),
        ("Wavenumbers (cm-1)", 28000, 20000, [1e7 / x for x in (28000, 26000, 24000, 22000, 20000)]),
    ],
)
def test_units_of_the_abscissa(units, first, last, wavelengths):
    dataset = read(block(f"{first} 1 2 3 4 5", XUNITS=units, FIRSTX=first, LASTX=last))
    assert dataset.wavelength.values.tolist() == wavelengths
    rising = first < last if "m-1" not in units and "-1" not in units and "/" not in units else first > last
    assert dataset.counts.values.tolist() == ([1, 2, 3, 4, 5] if rising else [5, 4, 3, 2, 1])


def test_a_wavenumber_counts_in_vacuum():
    dataset = read(block("25000 1 2 3 4 5", XUNITS="1/CM", FIRSTX="25000", LASTX="24000"))
    assert "the wavelengths are those in vacuum, and about 0.03 % longer than in air" in told(dataset)[0]
    assert dataset.wavelength.attrs["long_name"] == "wavelength in vacuum"


@pytest.mark.parametrize(
    ("units", "name", "own", "factor"),
    [
        ("ABSORBANCE", "absorbance", "1", 1),
        ("A", "absorbance", "1", 1),
        ("TRANSMITTANCE (%)", "transmittance", "1", 0.01),
        ("PERCENT TRANSMITTANCE", "transmittance", "1", 0.01),
        ("% T", "transmittance", "1", 0.01),
        ("%R", "reflectance", "1", 0.01),
        ("COUNTS", "counts", "1", 1),
        ("COUNTS/S", "signal", "s-1", 1),
        ("W/M2/NM", "spectral_irradiance", "W m-2 nm-1", 1),
        ("W m-2 nm-1", "spectral_irradiance", "W m-2 nm-1", 1),
        ("SPECTRAL IRRADIANCE (UW/CM2/NM)", "spectral_irradiance", "W m-2 nm-1", 0.01),
        ("mW/cm²/nm", "spectral_irradiance", "W m-2 nm-1", 10),
        ("L/(MOL CM)", "molar_absorption_coefficient", "L mol-1 cm-1", 1),
    ],
)
def test_units_of_the_ordinates(units, name, own, factor):
    dataset = read(block(YUNITS=units))
    assert dataset[name].attrs["units"] == own
    np.testing.assert_allclose(dataset[name], np.array([10, 20, 30, 40, 50]) * factor, rtol=1e-14)


def test_a_capital_m_is_told():
    dataset = read(block(YUNITS="MW/CM2/NM"))
    np.testing.assert_allclose(dataset.spectral_irradiance[0], 100)
    assert told(dataset) == ['MW in "MW/CM2/NM" was read as milliwatt, since the file has capitals alone']


def test_a_logarithm_of_the_molar_coefficient():
    dataset = read(block("400 1 2 3 4 5", YUNITS="Logarithm epsilon"))
    assert dataset.molar_absorption_coefficient.values.tolist() == [10, 100, 1000, 10000, 100000]
    assert "decadic logarithm of the molar absorption coefficient in L mol-1 cm-1" in told(dataset)[0]


def test_transmittance_in_parts():
    dataset = read(block(YUNITS="TRANSMITTANCE", YFACTOR="0.01"))
    assert dataset.transmittance.values.tolist() == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert told(dataset) == []


@pytest.mark.parametrize(("quantity", "percent"), [("TRANSMITTANCE", "%T"), ("REFLECTANCE", "%R")])
def test_parts_that_may_be_little_percent_are_told(quantity, percent):
    """A part that blocks, saved in percent: 0.1 % to 1.6 %, or 10 % to 160 %."""
    rows, name = "400 0.1 0.2 1.4 1.5 1.6", quantity.lower()
    dataset = read(block(rows, YUNITS=quantity))
    assert dataset[name].values.tolist() == [0.1, 0.2, 1.4, 1.5, 1.6]
    (warning,) = told(dataset)
    assert "taken as parts, so that the ordinates reach 160 %" in warning
    assert f'units="%"), or write ##YUNITS= PERCENT {quantity} in the header' in warning
    for sure in (read(block(rows, YUNITS=percent)), read(block(rows, YUNITS=quantity), units="%")):
        np.testing.assert_allclose(sure[name], [0.001, 0.002, 0.014, 0.015, 0.016])
        assert told(sure) == []
    assert told(read(block("400 0.1 0.2 1 1.04 -0.1", YUNITS=quantity))) == []  # noise
    (warning,) = told(read(block(rows, YUNITS=None), quantity=name))
    assert warning.startswith("no ##YUNITS= says whether parts or percent")


def test_transmittance_that_can_only_be_percent():
    dataset = read(block(YUNITS="TRANSMITTANCE"))
    assert dataset.transmittance.values.tolist() == [0.1, 0.2, 0.3, 0.4, 0.5]
    (warning,) = told(dataset)
    assert (
        "does not say whether parts or percent: taken as percent, because the ordinates reach 50" in warning
    )


def test_transmittance_that_may_be_either():
    rows = "400 0.1 0.2 0.3 0.4 35"
    (fault,) = faults(block(rows, YUNITS="TRANSMITTANCE"))
    assert fault.found == "transmittance from 0.1 to 35 without a unit"
    assert "PERCENT TRANSMITTANCE" in fault.advice
    assert read(block(rows, YUNITS="TRANSMITTANCE"), units="%").transmittance[-1] == 0.35


def test_units_that_name_no_quantity():
    dataset = read(block(YUNITS="ARBITRARY UNITS"))
    assert dataset.unlabelled.attrs["long_name"] == "ARBITRARY UNITS"
    assert told(dataset) == [
        '##YUNITS= "ARBITRARY UNITS" names no quantity that is known here: the ordinates are kept as '
        "unlabelled"
    ]
    assert list(read(block(YUNITS="ARBITRARY UNITS"), quantity="counts")) == ["counts"]
    for nothing in (None, ""):
        dataset = read(block(YUNITS=nothing))
        assert told(dataset) == ["##YUNITS= is not stated: the ordinates are kept as unlabelled"]
        assert 'ordinates without ##YUNITS=: unlabelled, unit "1"' in json.loads(dataset.attrs["decisions"])


def test_what_the_caller_says_stands_above_the_file():
    dataset = read(block(YUNITS="ABSORBANCE"), quantity="transmittance", units="%")
    assert dataset.transmittance.values.tolist() == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert told(dataset) == ['the ordinates are named "ABSORBANCE" and were read as transmittance']


def test_an_irradiance_without_its_unit():
    (fault,) = faults(block(YUNITS="IRRADIANCE"))
    assert fault.expected == "the unit of spectral irradiance"
    assert read(block(YUNITS="IRRADIANCE"), units="mW/m2/nm").spectral_irradiance[0] == 0.01


def test_factors():
    dataset = read(block("800 10 20\n804 30 40\n808 50", XFACTOR="0.5", YFACTOR="2E-1"))
    assert dataset.counts.values.tolist() == [2, 4, 6, 8, 10]
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404]


def test_factors_that_are_not_stated():
    assert told(read(block(XFACTOR=None, YFACTOR=None))) == [
        "##XFACTOR= is not stated: taken as 1",
        "##YFACTOR= is not stated: taken as 1",
    ]


def test_labels_comments_and_control_characters():
    text = (
        "$$ made by hand\n##Title = a $$ comment\n## jcamp_dx=4.24 $$ 1\n##DataType=uv-vis spectrum\n"
        "##ORIGIN=here\n##= a comment of its own\n##$My Number= 7\n##.OBSERVE THING= x\n"
        "##x-units=nm\n##Y UNITS=counts\n##SAMPLE_DESCRIPTION= first\n   second line\n $$ hidden\nthird\n"
        "##first x=400\n##LASTX=404\n##N/POINTS=5\n##xfactor=1\n##yfactor=1\n"
        "##XY-DATA= ( x++ ( Y..Y ) ) $$ form\n400 10 20 $$ row\n$$ 401 7\n\n402 30 40\n404 50\n"
        "##end=\n\x1a\x00"
    )
    assert recognises(content(text))
    dataset = read(text)
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    header = json.loads(dataset.attrs["header"])
    assert header["Title"] == "a"
    assert header["$My Number"] == "7"
    assert header[".OBSERVE THING"] == "x"
    assert header["SAMPLE DESCRIPTION"] == "first\nsecond line\n\nthird"
    assert header["DATA TYPE"] == "uv-vis spectrum"
    assert "10 20" not in dataset.attrs["header"]


def test_a_line_without_an_equals_sign():
    dataset = read(block().replace("##XUNITS", "##NOTE to all\nmore\n##XUNITS"))
    assert told(dataset) == ['line 4 "##NOTE to all" has no equals sign: left out']


def test_a_missing_ordinate():
    dataset = read(block("400 10 ?\n402 ? 40\n404 50"))
    np.testing.assert_array_equal(dataset.counts, [10, np.nan, np.nan, 40, 50])
    assert told(dataset) == ["2 values of counts are missing: what depends on them is not known"]


def test_exponents_and_packed_digits_with_the_letter_e():
    assert read(block("400 1E1 2e+1 30 4.0E1 5E+01")).counts.values.tolist() == [10, 20, 30, 40, 50]
    assert read(block("400E1E2E3E4E5")).counts.values.tolist() == [51, 52, 53, 54, 55]
    assert read(block("4.00E+02A0B0C0D0E0")).counts.values.tolist() == [10, 20, 30, 40, 50]


def test_forms_may_be_mixed():
    assert read(block("400 10T\n402C0J0\n403D0+50")).counts.values.tolist() == [10, 10, 30, 40, 50]


@pytest.mark.parametrize("form", ["XYDATA= (XY..XY)", "XYPOINTS=(XY..XY)", "XYPOINTS= (X Y .. X Y"])
@pytest.mark.parametrize(
    "rows",
    [
        "400 10\n401 20\n403 30\n404 40\n409 50",
        "400, 10; 401, 20; 403, 30;\n404, 40; 409, 50;",
        "400,10 401,20\n\n403,30\t404,40\n409,5E1",
    ],
)
def test_pairs(form, rows):
    dataset = read(block(rows, form, LASTX="409"))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert dataset.wavelength.values.tolist() == [400, 401, 403, 404, 409]
    assert told(dataset) == []


def test_a_table_of_peaks():
    dataset = read(block("404,50 400,10\n402,30", "PEAK TABLE= (XY..XY)", NPOINTS="3"))
    assert dataset.counts.values.tolist() == [10, 30, 50]
    assert told(dataset) == ["this is a table of peaks: between them nothing is known, so no integral holds"]


def test_pairs_that_stand_twice():
    dataset = read(block("400 10\n401 20\n401 20\n403 30\n404 40", "XYPOINTS= (XY..XY)"))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40]
    assert told(dataset) == ["1 pair stands twice, word for word (first in line 14): kept once"]


@pytest.mark.parametrize(
    ("changed", "warning"),
    [
        ({"FIRSTY": "11"}, "##FIRSTY= says 11, the table 10: the table counts"),
        ({"FIRSTY": "abc"}, '##FIRSTY= "abc" is no number that can be read: nothing was checked by it'),
        ({"MAXX": "?"}, '##MAXX= "?" is no number that can be read: nothing was checked by it'),
        (
            {"LASTX": "420", "DELTAX": "1"},
            "##LASTX= says 420, ##FIRSTX=, ##DELTAX= and ##NPOINTS= 404: the latter count, "
            "with which the rows agree",
        ),
        ({"MAXY": "60"}, "##MAXY= says 60, the table 50: the table counts"),
        ({"MINY": "1"}, "##MINY= says 1, the table 10: the table counts"),
        ({"MAXX": "500"}, "##MAXX= says 500, the table 404: the table counts"),
        ({"MINX": "300"}, "##MINX= says 300, the table 400: the table counts"),
        ({"DELTAX": "2"}, "##DELTAX= says 2, the table 1: the table counts"),
        (
            {"FIRSTX": "395"},
            "##FIRSTX= says 395, the first row 400: the rows count, with which ##LASTX= agrees",
        ),
        ({"FIRSTX": None}, "##FIRSTX= is not stated: taken as 400 from the first row"),
        ({"LASTX": None}, "##LASTX= is not stated: taken as 404 from the abscissas of the rows"),
        (
            {"LASTX": None, "DELTAX": "1"},
            "##LASTX= is not stated: taken as 404 from ##DELTAX= and the points",
        ),
        ({"NPOINTS": None}, "##NPOINTS= is not stated: the number of points could not be checked"),
        ({"JCAMP-DX": None}, "##JCAMP-DX= is not stated: read after versions 4.24 and 5.01"),
        ({"JCAMP-DX": "6.00"}, '##JCAMP-DX= "6.00" was read after versions 4.24 and 5.01'),
        ({"DATA TYPE": None}, "##DATA TYPE= is not stated: taken as a spectrum of light by ##XUNITS="),
        ({"DATA TYPE": "my data"}, '##DATA TYPE= "my data" is taken as a spectrum of light by ##XUNITS='),
        ({"FIRSTX": "400,0"}, '##FIRSTX= "400,0" was read with a decimal comma'),
        ({"end": ""}, "the block that begins in line 1 has no ##END=: is the file whole?"),
        ({"DATE": "26/03/02"}, 'the date "26/03/02" is not written as YYYY/MM/DD hh:mm:ss and stays text'),
    ],
)
def test_what_disagrees_or_is_missing_is_told(changed, warning):
    dataset = read(block(**changed))
    assert told(dataset) == [warning]
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404]


@pytest.mark.parametrize(
    "changed",
    [
        {"LASTX": "420"},  # nothing says that the step is right
        {"LASTX": "420", "DELTAX": "1", "NPOINTS": None},  # as if the end were cut off
        {"LASTX": "420", "DELTAX": "2"},  # the rows have another step
        {"LASTX": "420", "DELTAX": "0"},
    ],
)
def test_a_wrong_end_that_nothing_contradicts_is_a_fault(changed):
    (fault,) = faults(block(**changed))
    assert (fault.found, fault.expected) == ("the last abscissa 404, in steps of 1", "##LASTX= 420")
    assert ("Was the file cut off" in fault.advice) is ("NPOINTS" in changed)
    assert "orrect ##LASTX=" in fault.advice


@pytest.mark.parametrize(
    "units",
    [
        *("NAPIERIAN ABSORBANCE", "Neperian absorbance", "ABSORBANCE (BASE E)", "Absorbance (natural log)"),
        "ln absorbance",
    ],
)
def test_absorbance_to_the_base_e_is_not_taken_as_decadic(units):
    """IUPAC Gold Book, "absorbance" and "Napierian absorbance": the one is a logarithm to the base 10,
    the other a natural one."""
    dataset = read(block(YUNITS=units))
    assert list(dataset.data_vars) == ["unlabelled"]
    assert dataset.unlabelled.values.tolist() == [10, 20, 30, 40, 50]
    (warning,) = told(dataset)
    assert "is to the base e, ln 10 = 2.303 times the decadic quantity" in warning
    assert list(read(block(YUNITS=units), quantity="absorbance").data_vars) == ["absorbance"]
    assert list(read(block(YUNITS="DECADIC ABSORBANCE (BASE 10)")).data_vars) == ["absorbance"]


def test_a_radiance_is_no_irradiance():
    dataset = read(block(YUNITS="W/m2/sr/nm"))
    assert dataset.unlabelled.attrs["units"] == "W/m2/sr/nm"
    assert "names no quantity that is known here" in told(dataset)[0]


@pytest.mark.parametrize("form", ["PEAK TABLE", "XYDATA", "XYPOINTS"])
def test_peaks_with_widths_are_refused_as_such(form):
    (fault,) = faults(block("400,1,2\n402,3,4", f"{form}= (XYW..XYW)", NPOINTS="2"))
    assert fault.advice.startswith("Tables of peaks with widths are not read")


def test_rows_one_step_beside_the_course_are_told():
    """As in a public collection of infrared spectra, where all rows but the first are so."""
    rows = "\n".join(f"{400 + 2 * i - (i > 0)} 1 2" for i in range(12))
    dataset = read(block(rows, LASTX="423", NPOINTS="24"))
    (warning,) = told(dataset)
    assert "from line 13 on, the abscissas of the rows lie up to one step (1) beside the course" in warning


DIFFERENCES = "400A0J0J0\n403C0J0J0"  # the second row begins with 30 at 402 once more


def test_few_rows_beside_the_course_are_told_where_their_ordinates_check_them():
    dataset = read(block(DIFFERENCES))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert dataset.wavelength.values.tolist() == [400, 401, 402, 403, 404]
    (warning,) = told(dataset)
    assert "from line 13 on, the abscissas of the rows lie up to one step (1) beside the course" in warning


@pytest.mark.parametrize(
    ("rows", "changed"),
    [
        (DIFFERENCES, {"NPOINTS": None}),  # a point may be lost
        (DIFFERENCES.replace("403", "404"), {}),
        (DIFFERENCES.replace("403", "401"), {}),  # not the abscissa of the next point
        ("400 10 20\n403 30 40 50", {}),  # nothing checks the ordinates
        ("400A0J0\n402C0J0J0\n404E0", {"NPOINTS": "6", "LASTX": "405"}),
    ],
)
def test_few_rows_beside_the_course_are_a_fault_otherwise(rows, changed):
    assert faults(block(rows, **changed))


def test_a_last_row_of_zero_checks_nothing():
    """As in a public test file of a program that ends its table so."""
    dataset = read(block("400A0J0J0\n402C0J0J0\n404@"))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert "the last row (line 14) repeats 0 and not 50" in told(dataset)[0]


@pytest.mark.parametrize(
    ("changed", "time"),
    [
        ({"LONGDATE": "2026/03/02"}, "2026-03-02T00:00"),
        ({"LONGDATE": "2026/03/02 10:30:15"}, "2026-03-02T10:30:15"),
        ({"LONG DATE": "2026/03/02 10:30:15.25 +0130"}, "2026-03-02T09:00:15.25"),
        ({"LONGDATE": "2026/03/02", "TIME": "10:30"}, "2026-03-02T10:30"),
        ({"DATE": "2026/3/2", "TIME": "9:30:15"}, "2026-03-02T09:30:15"),
        ({"DATE": "2026-03-02"}, "2026-03-02T00:00"),
    ],
)
def test_the_time_of_the_measurement(changed, time):
    dataset = read(block(**changed))
    assert dataset.time.dims == ()
    assert dataset.time.values == np.datetime64(time, "ns")
    assert told(dataset) == []


@pytest.mark.parametrize("day", ["2/3/2026", "26/03/02", "2026/13/02", "1964", "02 Mar 2026"])
def test_a_date_that_may_be_read_in_two_ways_stays_text(day):
    dataset = read(block(DATE=day, TIME="10:30"))
    assert "time" not in dataset.coords
    assert f'the date "{day} 10:30"' in told(dataset)[0]
    assert json.loads(dataset.attrs["header"])["DATE"] == day


# Commas, which part numbers in the standard

IN_POINTS = "400 1.5 2.5 3.5\n403 4.5 5.5"
IN_PAIRS = "400 1.5\n401 2.5\n402 3.5\n403 4.5\n404 5.5"
PAIRS = "XYPOINTS= (XY..XY)"


@pytest.mark.parametrize("points", ["5", None])
@pytest.mark.parametrize(("form", "rows"), [("XYDATA= (X++(Y..Y))", IN_POINTS), (PAIRS, IN_PAIRS)])
@pytest.mark.parametrize("header", ["400,0", "400"])
@pytest.mark.parametrize("abscissas", [".0", ""])
@pytest.mark.parametrize("between", [" ", "; ", ";", ", ", "\t"])
def test_a_decimal_comma_is_one_fault(points, form, rows, header, abscissas, between):
    """The same with points is read; and so it is not with commas, whatever else the header states."""
    rows = re.sub(r"^(\d+)", rf"\1{abscissas}", rows, flags=re.MULTILINE)
    changed = {"form": form, "NPOINTS": points, "FIRSTX": header}
    rows = rows.replace(" ", between)
    assert read(block(rows, **changed)).counts.values.tolist() == [1.5, 2.5, 3.5, 4.5, 5.5]
    (fault,) = faults(block(rows.replace(".", ","), **changed))
    assert fault.line == (11 if points is None else 12)
    assert fault.column == (1 if abscissas else 2)
    assert ('"400,0"' if abscissas else '"1,5"') in fault.found
    assert ("header has a decimal comma" in fault.found) is ("," in header)
    assert fault.expected == "numbers with a decimal point"
    assert "In this layout a comma parts two numbers" in fault.advice


@pytest.mark.parametrize("label", ["LASTX", "XFACTOR", "YFACTOR", "DELTAX", "MAXY"])
def test_a_decimal_comma_of_the_header_is_named(label):
    value = {"LASTX": "404,0", "MAXY": "50,0"}.get(label, "1,0")
    (fault,) = faults(block("400,10,20,30,40,50", **{label: value}))
    assert f'decimal comma (##{label}= "{value}" in line' in fault.found
    rows = "400, 10, 20, 30, 40, 50"  # with blanks behind, these part numbers for certain
    assert read(block(rows, **{label: value})).counts.values.tolist() == [10, 20, 30, 40, 50]


def test_a_comma_behind_a_number_of_the_header_is_no_decimal_sign():
    dataset = read(block("400,10,20,30,40,50", YFACTOR="1, not 1,5"))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert told(dataset) == []


def test_packed_digits_with_a_decimal_comma():
    (fault,) = faults(block("400A,5B,5\n402C,5", YFACTOR="1,0", NPOINTS=None))
    assert (fault.line, fault.column) == (11, 1)
    assert '"400A,5B,5"' in fault.found


def test_a_decimal_comma_in_a_table_that_was_cut_off():
    (fault,) = faults(block("400 1,5 2,5 3,5\n403 4,5 5,", NPOINTS=None))
    assert fault.found == 'a comma inside "1,5"'


@pytest.mark.parametrize(
    "rows",
    [
        *(
            "400,10,20\n402,30,40\n404,50",
            "400, 10, 20\n402, 30, 40\n404, 50",
            "400,10 20\n402,30 40\n404,50",
        ),
        *("400 10,20\n402 30,40\n404 50", "400;10,20\n402;30,40\n404;50", "400,10,20,\n402,30,40,\n404,50,"),
    ],
)
def test_commas_that_part_numbers(rows):
    dataset = read(block(rows))
    assert dataset.counts.values.tolist() == [10, 20, 30, 40, 50]
    assert told(dataset) == []


def test_commas_that_part_numbers_and_a_lost_row():
    """Decimal signs would be no better: what is said is what is wrong by the standard."""
    (fault, *_) = faults(block("400 10,20\n404 50,60"))
    assert fault.found == "4 points where ##NPOINTS= says 5"
    pairs = "\n".join(f"{400 + 2 * i},10 {401 + 2 * i},20" for i in range(8)).replace("403,", "409,")
    (fault,) = faults(block(pairs, PAIRS, NPOINTS=None, LASTX="415"))
    assert (fault.line, fault.column, fault.found) == (13, 1, "404 after 409 (line 12)")


# Several blocks


def link(*blocks, count=None, title="several"):
    count = len(blocks) if count is None else count
    return f"##TITLE= {title}\n##JCAMP-DX= 4.24\n##DATA TYPE= LINK\n##BLOCKS= {count}\n##OWNER= we\n" + (
        "".join(blocks) + "##END=\n"
    )


def test_blocks_of_one_kind_are_stacked():
    dataset = read(link(block(TITLE="one", LONGDATE="2026/03/02"), block("400E1E2E3E4E5", TITLE="two")))
    assert dataset.counts.dims == ("spectrum", "wavelength")
    assert dataset.spectrum.values.tolist() == ["one", "two"]
    assert dataset.counts.values.tolist() == [[10, 20, 30, 40, 50], [51, 52, 53, 54, 55]]
    assert dataset.time.dims == ("spectrum",)
    assert np.isnat(dataset.time.values).tolist() == [False, True]
    header = json.loads(dataset.attrs["header"])
    assert (header["TITLE"], header["OWNER"], header["NPOINTS"]) == ("several", "we", "5")
    assert json.loads(dataset.attrs["headers"])["two"] == {"TITLE": "two"}


def test_titles_that_do_not_tell_apart_are_numbered():
    assert read(link(block(), block())).spectrum.values.tolist() == [1, 2]


def test_warnings_of_blocks_say_which_block():
    warnings = told(read(link(block(MAXY="60"), block())))
    assert warnings == ["block 1: ##MAXY= says 60, the table 50: the table counts"]


def test_unlike_blocks_are_a_tree():
    tree = read(
        link(
            block(TITLE="one"),
            block(TITLE="two", YUNITS="ABSORBANCE"),
            block(LASTX="408", rows="400 1 2 3 4 5"),
        )
    )
    assert isinstance(tree, xr.DataTree)
    assert list(tree.children) == ["block_1", "block_2", "block_3"]
    assert list(tree["block_2"].dataset) == ["absorbance"]
    assert json.loads(tree["block_2"].attrs["header"])["TITLE"] == "two"
    assert tree.attrs["format"] == tree["block_1"].attrs["format"] == "JCAMP-DX"
    assert json.loads(tree.attrs["header"])["TITLE"] == "several"
    blocks = '3 unlike blocks: block_1 "one", block_2 "two", block_3 "invented"'
    assert json.loads(tree.attrs["decisions"]) == ["encoding: UTF-8", blocks]


def test_blocks_inside_blocks():
    inner = link(block(TITLE="b"), block(TITLE="c"), title="inner")
    assert read(link(block(TITLE="a"), inner)).spectrum.values.tolist() == ["a", "b", "c"]


def test_a_block_of_another_kind_is_left_out_and_told():
    structure = "##TITLE= structure\n##JCAMP-CS= 3.7\n##ATOMLIST= \n1 C\n##END=\n"
    dataset = read(link(structure, block(TITLE="one")))
    assert dataset.counts.dims == ("wavelength",)
    assert told(dataset) == ["left out: ##JCAMP-CS=, a chemical structure, line 6"]


def test_blocks_without_a_link_and_without_ends():
    dataset = read(block(TITLE="one", end="") + block(TITLE="two"))
    assert dataset.spectrum.values.tolist() == ["one", "two"]
    assert told(dataset) == ["the block that begins in line 1 has no ##END=: is the file whole?"]


def test_blocks_are_counted():
    (fault,) = faults(link(block(), count=2))
    assert (fault.line, fault.found) == (4, "1 block where ##BLOCKS= says 2")
    assert told(read(link(block(), block(), count=1)))[0] == "##BLOCKS= in line 4 says 1, but there are 2"
    (fault,) = faults(link(block(), count="two"))
    assert fault.found == '##BLOCKS= "two"'


def test_pages_of_several_variables():
    dataset = read_jcamp(load(SAMPLES / "jcamp_ntuples.jdx"), Choices())
    assert dataset.absorbance.dims == ("spectrum", "wavelength")
    assert dataset.wavelength.values.tolist() == [360, 365, 370, 375, 380]
    np.testing.assert_allclose(dataset.absorbance[0], [0.5, 0.6, 0.7, 0.8, 0.9])
    np.testing.assert_allclose(dataset.absorbance[1], [0.25, 0.3, 0.35, 0.4, 0.45])
    assert [label.rpartition(" (")[2] for label in dataset.spectrum.values.tolist()] == ["T= 0)", "T= 60)"]


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        (
            "(X++(Y..Y)), PROFILE   $$",
            "(X++(R..R)), PROFILE   $$",
            '##DATA TABLE= "(X++(R..R)), PROFILE" of the symbols',
        ),
        ("##DATA TABLE", "##DATA TABEL", "no tables in ##NTUPLES="),
    ],
)
def test_pages_that_cannot_be_read(old, new, found):
    text = (SAMPLES / "jcamp_ntuples.jdx").read_text().replace(old, new)
    assert faults(text)[0].found.startswith(found)


# What is refused


@pytest.mark.parametrize(
    "kind",
    [
        *("MASS SPECTRUM", "NMR SPECTRUM", "NMR FID", "GAS CHROMATOGRAM", "ION MOBILITY SPECTRUM"),
        *("INFRARED INTERFEROGRAM", "RAMAN SPECTRUM", "EPR SPECTRUM", "INELASTIC NEUTRON SCATTERING"),
        "X-RAY DIFFRACTION",
    ],
)
def test_other_kinds_of_data_are_refused_by_name(kind):
    (fault,) = faults(block(DATA_TYPE=kind))
    assert fault.found == f'##DATA TYPE= "{kind}"'
    assert fault.line == 3
    assert (
        "Raman shift is no wavelength" if kind.startswith("RAMAN") else "program for that kind"
    ) in fault.advice


@pytest.mark.parametrize(
    ("changed", "line", "found", "expected"),
    [
        ({"XUNITS": "HZ"}, 4, '##XUNITS= "HZ" of ##DATA TYPE= "UV/VIS SPECTRUM"', "NANOMETERS, MICROMETERS"),
        ({"XUNITS": None}, 1, "no ##XUNITS= in a block of", "NANOMETERS"),
        ({"rows": "400 10 20\n402 30 40"}, 8, "4 points where ##NPOINTS= says 5", "5 points"),
        ({"rows": "400 10 20\n402 30 40\n404 50 60"}, 8, "6 points where ##NPOINTS= says 5", "5 points"),
        ({"NPOINTS": "many"}, 8, '##NPOINTS= "many"', "a number"),
        ({"NPOINTS": "5.5"}, 8, '##NPOINTS= "5.5"', "a whole number of points"),
        ({"NPOINTS": "1E300"}, 8, '##NPOINTS= "1E300"', "a whole number of points"),
        ({"FIRSTX": "four"}, 6, '##FIRSTX= "four"', "a number"),
        ({"XFACTOR": "0"}, 9, "##XFACTOR= 0", "other than 0"),
        ({"YFACTOR": "1E999"}, 10, '##YFACTOR= "1E999"', "a number"),
        ({"rows": "400 10 20\n405 30 40\n404 50"}, 13, "the abscissa 405", "about 402 at point 3"),
        ({"rows": "800 10 20\n807 30 40\n808 50", "XFACTOR": "0.5"}, 13, "807, which is 403.5", "804"),
        ({"rows": "400A0J0\n401B1J0\n402C0J0J0"}, 13, "the ordinate 21 at the", "20 again, the last"),
        ({"rows": "400 10 20\n402 3#0 40\n404 50"}, 13, '"3#0"', "numbers, plain or packed"),
        ({"rows": "400 10 20\n402 NaN 40\n404 50"}, 13, '"NaN"', "numbers, plain or packed"),
        ({"rows": "400 10 20\n402 1.2.3 40\n404 50"}, 13, '"1.2.3"', "a number below 1e308"),
        ({"rows": "400 10 20\n402 1E999 40\n404 50"}, 13, '"1E999"', "a number below 1e308"),
        ({"rows": "400 10 20\n402\n402 30 40\n404 50"}, 13, '"402"', "ordinates behind it"),
        ({"rows": "400A0B0\n402\n402C0D0E0"}, 13, '"402"', "ordinates behind it"),
        ({"rows": "? 10 20\n402 30 40\n404 50"}, 12, '"? 10 20"', "an abscissa"),
        ({"rows": "400A0B0\nC0D0E0"}, 13, '"C0"', "a row that begins with its abscissa"),
        ({"rows": "400A0B0\n402J0D0E0"}, 13, '"J0"', "an ordinate at the beginning of the row"),
        ({"rows": "400A0B0\n402C0TTE0"}, 13, '"T"', "one count"),
        ({"rows": "400A0B0\n402C0?J"}, 13, '"J"', "an ordinate in full behind a missing one"),
        ({"rows": "400A0B0\n402C0+D0E0"}, 13, '"+"', "a digit behind the sign"),
        ({"rows": f"400A0B0\n402C0D{'0' * 15}E0"}, 13, '"D00', "at most 15 digits"),
        ({"rows": f"4{'0' * 500}A0B0C0D0E0"}, 12, '"400', "a shorter abscissa"),
        ({"rows": "400A0B0\n402C0D.0.E0"}, 13, '"D.0."', "one decimal point"),
        ({"rows": "400A0B0\n402C0T.0E0"}, 13, '"T.0"', "one decimal point"),
        ({"rows": "400A0B0\n402C0DE+5"}, 13, '"E+" among packed', "numbers without exponents"),
        ({"rows": "400A0Z9999999"}, 12, "89999999", "at most 1000"),
        ({"rows": "400A0Z99999999999"}, 12, '"Z99999999999"', "a smaller count"),
        ({"rows": "400A0" + "R99999999999999" * 6000}, 12, "differences", "smaller"),
        ({"rows": "400" + " 1" * 70_000}, 12, "a row of 140004 characters", "at most 131072"),
        ({"rows": ""}, 11, "no rows of numbers", "a table"),
        ({"form": "XYDATA= (R++(A..A))"}, 11, 'the form "(R++(A..A))"', "(X++(Y..Y)) or (XY..XY)"),
        ({"form": "PEAK TABLE= (XYW..XYW)"}, 11, 'the form "(XYW..XYW)"', "(X++(Y..Y)) or (XY..XY)"),
        ({"LASTX": "400"}, 12, "abscissas from 400 to 400", "a range"),
        ({"LASTX": None, "rows": "400 1 2 3 4 5"}, 11, "no ##LASTX= and a single row", "the last abscissa"),
        ({"rows": "400 1", "NPOINTS": "1"}, 11, "1 ordinate", "two or more"),
        ({"YUNITS": "MOLAR ABSORPTIVITY"}, 5, '##YUNITS= "MOLAR ABSORPTIVITY"', "the unit of molar"),
        ({"YUNITS": "ABSORBANCE (nm)"}, 5, 'the unit "nm" for absorbance', '"1"'),
        ({"YFACTOR": "1E307"}, 11, "counts beyond 1e308", "smaller numbers"),
        ({"YUNITS": "W/cm2/nm", "YFACTOR": "1E304"}, 11, "spectral irradiance beyond 1e308", "smaller"),
        ({"XUNITS": "1/CM", "FIRSTX": "0", "LASTX": "4", "rows": "0 1 2 3 4 5"}, 11, "0 1/CM", "above 0"),
        ({"FIRSTX": "-2", "LASTX": "2", "rows": "-2 1 2 3 4 5"}, 11, "the abscissa -2 NANOMETERS", "above 0"),
    ],
)  # fmt: skip
def test_a_fault(changed, line, found, expected):
    first, *_ = faults(block(**changed))
    assert first.line == line
    assert found in first.found
    assert expected in first.expected


@pytest.mark.parametrize(
    ("rows", "line", "found", "expected"),
    [
        ("400 1\n401 2\n401 3\n403 4\n404 5", 14, "3 at 401, where line 13 has 2", "one ordinate"),
        (
            "400 1\n402 2\n401 3\n403 4\n404 5",
            14,
            "401 after 402 (line 13)",
            "ascending as in the other pairs",
        ),
        ("404 1\n403 2\n402 3\n403.5 4\n400 5", 15, "403.5 after 402 (line 14)", "descending"),
        ("400 1\n401\n402 3\n403 4\n404 5", 13, "1 number in the row", "pairs of abscissa and ordinate"),
        ("400 1\n401 2", 8, "2 points where ##NPOINTS= says 5", "5 points"),
        ("400 1\n? 2\n402 3\n403 4\n404 5", 13, "the abscissa nan", "a number"),
        ("400 1\n401 A\n402 3\n403 4\n404 5", 13, '"A"', "numbers, plain or packed"),
        ("400 1\n401 1-\n402 3\n403 4\n404 5", 13, "3 numbers in the row", "pairs"),
        ("", 11, "no pairs of numbers", "a table"),
    ],
)
def test_a_fault_among_pairs(rows, line, found, expected):
    all_faults = faults(block(rows, "XYPOINTS= (XY..XY)"))
    fault = next(fault for fault in all_faults if found in fault.found)
    assert fault.line == line
    assert expected in fault.expected


@pytest.mark.parametrize(
    ("rows", "form", "line", "column"),
    [
        ("400 10 20\n402 1.2.3 40\n404 50", "", 13, 2),
        ("400 10 20\n402 30 NaN\n404 50", "", 13, 3),
        ("400A0B0\n402C0D0 3#0E0", "", 13, None),  # behind packed digits it is not known
        ("400 10 20\n402\n402 30 40\n404 50", "", 13, 1),
        ("400 10 20\n405 30 40\n404 50", "", 13, 1),
        ("400A0J0\n401B1J0\n402C0J0J0", "", 13, 2),
        ("400A0B0\n\n402C0?J", "", 14, 4),
        ("400A0B0\n402C0DE+5", "", 13, 4),
        ("400A0B0\n402C0Z9999999", "", 13, 3),
        ("400 1\n401 2 401 3\n403 4\n404 5", PAIRS, 13, 4),
        ("400 1 402 2 401 3\n403 4\n404 5", PAIRS, 12, 5),
        ("400 1 ? 2\n402 3\n403 4\n404 5", PAIRS, 12, 3),
        ("400 1 401 A\n402 3\n403 4\n404 5", PAIRS, 12, 4),
        ("404,50 400,10\n402,30 400,20", "PEAK TABLE= (XY..XY)", 13, None),
    ],
)
def test_where_in_its_row_a_fault_stands(rows, form, line, column):
    all_faults = faults(block(rows, form or "XYDATA= (X++(Y..Y))"))
    assert [fault.column for fault in all_faults if fault.line == line] == [column]


def test_waves_too_long_to_be_light():
    (fault,) = faults(block("1 1 2 3 4 5", XUNITS="1/CM", FIRSTX="1", LASTX="5"))
    assert fault.found == "the abscissa 1 1/CM, a wavelength of 1e+07 nm"
    assert "no light: leave those points out" in fault.advice


def test_an_abscissa_without_a_unit_is_not_guessed():
    (fault,) = faults(block(XUNITS=None))
    assert "##XUNITS= NANOMETERS or ##XUNITS= 1/CM; the wrong one gives wrong wavelengths" in fault.advice
    assert "Convert" not in fault.advice
    assert "If this is no spectrum of light" in faults(block(XUNITS=None, DATA_TYPE="my data"))[0].advice


def test_a_single_pair():
    (fault,) = faults(block("400 1", "XYPOINTS= (XY..XY)", NPOINTS="1"))
    assert fault.found == "1 point"


def test_rows_that_were_cut_off():
    """Of each row alone nothing is wrong: what is missing is said once."""
    rows = "\n".join(f"{400 + 4 * i} 1 2 3 4 5 6 7 8" for i in range(30))
    (fault,) = faults(block(rows, LASTX="600", NPOINTS=None))
    assert (fault.line, fault.column) == (40, 1)
    assert (fault.found, fault.expected) == ("the last abscissa 519.5, in steps of 0.5", "##LASTX= 600")
    assert fault.advice.startswith("Was the file cut off")


def test_a_lost_row_is_named_without_the_number_of_points():
    rows = [f"{400 + 4 * i} 1 2 3 4 5 6 7 8" for i in range(30)]
    del rows[11]
    (fault,) = faults(block("\n".join(rows), LASTX="519.5", NPOINTS=None))
    assert (fault.line, fault.column, fault.found) == (22, 1, "the abscissa 448")
    assert fault.expected == "about 444 at point 89 (##FIRSTX= 400, step 0.5)"


@pytest.mark.parametrize("turned", [False, True])
def test_pairs_whose_end_is_stated_elsewhere(turned):
    """A few steps may be an error of the header; a quarter of the spectrum may not."""
    x = [600 - 0.5 * i if turned else 400 + 0.5 * i for i in range(300)]
    rows = "\n".join(f"{one} 1" for one in x)
    ends = {"FIRSTX": str(x[0]), "NPOINTS": None, "form": "XYPOINTS= (XY..XY)"}
    far, near, behind = ("400.0", "449.0", "600") if turned else ("600.0", "551.0", "400")
    (fault,) = faults(block(rows, LASTX=far, **ends))
    assert (fault.line, fault.found) == (310, f"the last abscissa {x[-1]:.12g}")
    assert fault.expected == f"##LASTX= {float(far):g}"
    assert "or correct ##LASTX= if the table is whole" in fault.advice
    for last in (near, behind):  # nothing is missing where the header turns its limits round
        assert any("##LASTX= says" in text for text in told(read(block(rows, LASTX=last, **ends))))
    assert read(block(rows, LASTX=far, **ends | {"NPOINTS": "300"})).sizes["wavelength"] == 300


def test_pairs_that_were_cut_off():
    rows, form = "400 1\n401 2\n402 3", "XYPOINTS= (XY..XY)"
    (fault,) = faults(block(rows, form, NPOINTS=None, end=""))
    assert (fault.found, fault.expected) == ("the last abscissa 402, and no ##END=", "##LASTX= 404")
    warnings = told(read(block(rows, form, NPOINTS=None, LASTX=None, end="")))
    assert "neither ##NPOINTS= nor ##LASTX= nor ##END= says whether the table is whole" in warnings


def test_records_that_contradict():
    (fault,) = faults(block().replace("##XFACTOR", "##NPOINTS= 6\n##XFACTOR"))
    assert (fault.line, fault.found) == (9, '##NPOINTS= "6" after "5" in line 8')
    assert read(block().replace("##XFACTOR", "##NPOINTS= 5\n##XFACTOR")).sizes["wavelength"] == 5


def test_two_tables_in_a_block():
    (fault,) = faults(block(end="##PEAK TABLE= (XY..XY)\n400 1\n##END="))
    assert (fault.line, fault.found) == (15, "##PEAK TABLE= after ##XYDATA= in line 11")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("##TITLE= a\n##JCAMP-CS= 3.7\n##ATOMLIST=\n1 C\n##END=\n", "##JCAMP-CS=, a chemical structure"),
        (
            "##TITLE= a\n##JCAMP-DX= 5\n##PEAK ASSIGNMENTS= (XYA)\n(1, 2, <a>)\n##END=\n",
            "##PEAK ASSIGNMENTS=",
        ),
        ("##TITLE= a\n##JCAMP-DX= 5\n##DATA TYPE= LINK\n##END=\n", "##DATA TYPE= LINK without blocks in it"),
        ("##TITLE= a\n##JCAMP-DX= 5\n##END=\n", 'a block "a" without data'),
        ("$$ ##JCAMP-DX= 5\n", "no block"),
        (block().replace("##XYDATA= (X++(Y..Y))\n" + ROWS, ""), 'a block "invented" without data'),
    ],
)
def test_a_file_without_a_spectrum(text, found):
    assert faults(text)[0].found == found


def test_all_faults_come_together():
    rows = "400 10 2#0\n402 3x0 40\n404 50"
    found = [fault.line for fault in faults(link(block(rows, YFACTOR="0"), block("400 1 2 3")))]
    assert found == [15, 17, 18, 28]


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("##TITLE= a\n##XUNITS= nm\n", True),
        ("\n$$ by hand\n  ## title= a\n##DATA TYPE= x\n", True),
        ("exported\n##JCAMP-DX= 4.24\n", True),
        ("##JCAMP-CS= 3\n", True),
        ("## title: a\n365,1\n", False),
        ("##TITLE= a\n365,1\n366,2\n", False),
        ("# a\n365,1\n", False),
        ("", False),
    ],
)
def test_what_is_recognised(text, known):
    assert recognises(content(text)) is known


def test_letters_that_were_guessed_are_told():
    latin = content(block(TITLE="Prüfling"))._replace(encoding="Latin-1", guessed=True)
    assert "letters beyond ASCII were read as Latin-1" in told(read_jcamp(latin, Choices()))[0]


# However bad, it is quick

LONG = 300_000


@pytest.mark.parametrize(
    "text",
    [
        "##TITLE= a\n##JCAMP-DX= 5\n" + "##A= b\n" * (LONG // 7),
        "##TITLE= a\n##JCAMP-DX= 5\n" + "##A\n" * (LONG // 4),
        "##TITLE= a\n##JCAMP-DX= 5\n" + "$$" * LONG,
        "##TITLE= a\n##JCAMP-DX= 5\n" + "##" * LONG,
        "##TITLE= a\n##JCAMP-DX= 5\n" + " " * LONG + "##",
        "##TITLE= a\n##JCAMP-DX= 5\n##DATA TYPE= LINK\n" * (LONG // 40),
        "##TITLE= a\n##JCAMP-DX= 5\n##XUNITS= NM\n" + "##XYDATA= (X++(Y..Y))\n" * (LONG // 20),
        "\n" * LONG + "##TITLE",
        "$$\n" * LONG + "##TITLE",
        block("400" + "%" * LONG),
        block("400A0" + "%" * LONG),
        block("400A0" + "S" * LONG),
        block("400A0" + "Z9999" * (LONG // 5)),
        block("400 " + "?" * LONG),
        block("4" * LONG),
        block("400" + "-" * LONG),
        block("400E+" * (LONG // 5)),
        block("1e5,\n" * (LONG // 5)),
        block("." * LONG),
        block("400A" + ".1" * (LONG // 2)),
        block("400 1\n" * (LONG // 6)),
        block("400 1\n" * (LONG // 6), "XYPOINTS= (XY..XY)"),
        block("400 1 401\n" * (LONG // 10), "XYPOINTS= (XY..XY)"),
        block("400 #\n" * (LONG // 6)),
        block("400 nan\n" * (LONG // 8)),
        block("400 1" + ", " * LONG + "2", "XYPOINTS= (XY..XY)"),
        block(NPOINTS="9" * LONG),
        block(FIRSTX="1e" + "9" * LONG),
        block(DATA_TYPE="A " * LONG),
        block(YUNITS="(" * LONG),
        block(XUNITS="N" * LONG),
        block(DATE="2026/" * LONG),
        link(*[block()] * 1200),
        link(*[block(YUNITS=f"U{i}") for i in range(300)]),
    ],
    ids=range(34),
)  # fmt: skip
def test_nothing_hangs(text):
    start = process_time()  # the machine may be busy elsewhere
    recognises(content(text))
    with contextlib.suppress(ReadError):
        read(text)
    assert process_time() - start < 1.5
