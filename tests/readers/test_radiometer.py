"""Readings of radiometers, scans through a beam and logs of output: ordinary delimited text."""

import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import ReadError
from spectralbench.model import check
from spectralbench.readers import read, write_spectra

SAMPLES = Path(__file__).parents[1] / "samples"


@pytest.fixture
def file(tmp_path):
    def write(text):
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def warnings(dataset):
    return json.loads(dataset.attrs["warnings"])


def decisions(dataset):
    return json.loads(dataset.attrs["decisions"])


def test_readings_with_all_that_belongs_to_them():
    log = read(SAMPLES / "radiometer_log.csv")
    assert log.irradiance.dims == ("time",)
    np.testing.assert_allclose(log.irradiance, [1204, 982, 1201, 980], rtol=1e-15)
    assert log.irradiance.units == "W m-2"
    assert log.time.values.astype("datetime64[s]").astype(str).tolist() == [
        "2026-03-02T10:30:00",
        "2026-03-02T10:30:00",
        "2026-03-02T10:30:10",
        "2026-03-02T10:30:10",
    ]
    assert log.channel.dims == log.remark.dims == ("time",)
    assert log.channel.values.tolist() == ["A", "B", "A", "B"]
    assert log.remark.values.tolist() == ["", "", "door opened, closed again", ""]
    assert (log["head"].item(), log.response_curve.item()) == ("7", "head_7_response.csv")
    assert log.calibration_date.values == np.datetime64("2025-11-03")
    assert (log.band_low.item(), log.band_high.item(), log.band_low.units) == (320, 390, "nm")
    assert json.loads(log.attrs["header"])["serial number"] == "A-0113"
    assert warnings(log) == []
    check(log)


def test_a_scan_with_time_keeps_the_position_along_it():
    scan = read(SAMPLES / "beam_scan.csv")
    assert scan.irradiance.dims == scan.position.dims == ("time",)
    np.testing.assert_allclose(scan.position, [-2e-3, -1e-3, 0, 1e-3, 2e-3, 1e-3, 0], rtol=1e-15)
    assert (scan.position.units, scan.time.units) == ("m", "s")
    assert scan.band.item() == "near ultraviolet"
    assert "band_low" not in scan.coords
    assert warnings(scan) == [
        'the band is labelled "near ultraviolet" without limits: the label stays text, and is not trusted'
    ]
    check(scan)


def test_a_log_of_hours_with_dates_and_two_lamps():
    log = read(SAMPLES / "hours_log.csv")
    assert log.relative_output.dims == ("channel", "hours")
    assert log.channel.values.tolist() == ["lamp 1", "lamp 2"]
    np.testing.assert_allclose(log.relative_output, [[1, 0.974, 0.949], [1, 0.981, 0.96]], rtol=1e-15)
    assert log.hours.values.tolist() == [0, 250, 500]
    assert log.time.dims == ("hours",)
    assert log.time.values.astype("datetime64[D]").astype(str).tolist() == [
        "2026-01-05",
        "2026-02-02",
        "2026-03-02",
    ]
    check(log)


def test_a_scan_by_position_alone(file):
    scan = read(file("position [mm],irradiance [mW/cm²]\n-1,1\n0,5\n1,2\n"))
    assert scan.irradiance.dims == ("position",)
    assert scan.position.values.tolist() == [-1e-3, 0, 1e-3]
    assert scan.position.units == "m"


@pytest.mark.parametrize("sample", ["radiometer_log.csv", "beam_scan.csv", "hours_log.csv"])
def test_a_log_reads_back_from_our_own_text(sample, tmp_path):
    log = read(SAMPLES / sample)
    write_spectra(tmp_path / "log.csv", log, json.loads(log.attrs["header"]))
    again = read(tmp_path / "log.csv")
    xr.testing.assert_equal(again, log)
    assert again.attrs["format"] == "spectralbench plain text"


# Each of them says the same: 10 and 20 W m-2 at 0 and 1 s in channel A, 15 and 25 in channel B.
WIDE = {
    "labels behind the quantity": "time [s];irradiance A [mW/cm²];irradiance B [mW/cm²]\n0;1;1,5\n1;2;2,5\n",
    "labels before it": "time [s],A irradiance [mW/cm²],B irradiance [mW/cm²]\n0,1,1.5\n1,2,2.5\n",
    "labels above": ",A,B\ntime [s],irradiance [W/m²],irradiance [W/m²]\n0,10,15\n1,20,25\n",
    "labels below": "Zeit\tirradiance\tirradiance\ns\tW/m²\tW/m²\n\tA\tB\n0\t10\t15\n1\t20\t25\n",
}


@pytest.mark.parametrize("layout", WIDE)
def test_one_column_for_each_channel(file, layout):
    log = read(file(WIDE[layout]))
    assert log.irradiance.dims == ("channel", "time")
    assert log.channel.values.tolist() == ["A", "B"]
    assert log.time.values.tolist() == [0, 1]
    np.testing.assert_allclose(log.irradiance, [[10, 20], [15, 25]], rtol=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "channel,time [s],irradiance [W/m²]\nA,0,10\nB,0,15\nA,1,20\n",
        "Kanal;Zeit [s];Bestrahlungsstärke [W/m²]\nA;0;10\nB;0;15\nA;1;20\n",
        "channel time[s] irradiance[W/m²]\nA 0 10\nB 0 15\nA 1 20\n",
        "time [s]\tirradiance [W/m²]\tchannel\n0\t10\tA\n0\t15\tB\n1\t20\tA\n",
        "# 3 rows\n2026-03-02, log 4\nchannel,time [ms],irradiance [W/m²]\nA,0,10\nB,0,15\nA,1000,20\n",
    ],
)
def test_one_row_for_each_reading(file, text):
    log = read(file(text))
    assert log.channel.values.tolist() == ["A", "B", "A"]
    np.testing.assert_allclose(log.time, [0, 0, 1], rtol=1e-15)
    np.testing.assert_allclose(log.irradiance, [10, 15, 20], rtol=1e-15)


def test_channels_by_number_are_text_too(file):
    log = read(file("channel,time [s],irradiance [W/m²]\n1,0,10\n2,0,15\n"))
    assert log.channel.values.tolist() == ["1", "2"]


def test_prose_before_a_log_is_no_row(file):
    log = read(
        file("lamp 3, seen at 10\nclean, 2 times\nchannel,time [s],irradiance [W/m²]\nA,0,10\nB,1,15\n")
    )
    assert log.irradiance.values.tolist() == [10, 15]


def test_limits_in_the_headings_of_channels(file):
    log = read(file("time [s],irradiance 320-390 nm [W/m²],irradiance visible [W/m²]\n0,1,2\n1,3,4\n"))
    assert log.channel.values.tolist() == ["320-390 nm", "visible"]
    np.testing.assert_array_equal(log.band_low, [320, np.nan])
    np.testing.assert_array_equal(log.band_high, [390, np.nan])


def test_limits_and_labels_in_a_column(file):
    log = read(file("time [s],band,irradiance [W/m²]\n0,320-390 nm,1\n1,near,2\n2,0.4 to 0.45 µm,2\n"))
    np.testing.assert_array_equal(log.band_low, [320, np.nan, 400])
    np.testing.assert_array_equal(log.band_high, [390, np.nan, 450])
    assert log.band.values.tolist() == ["", "near", ""]
    assert 'the band is labelled "near" without limits' in warnings(log)[0]


@pytest.mark.parametrize("value", ["A", "UV", "320", "320-390", "390-320 nm", "0-390 nm", "320-390 mm"])
def test_a_label_never_becomes_limits(file, value):
    log = read(file(f"band: {value}\ntime [s],irradiance [W/m²]\n0,1\n1,2\n"))
    assert log.band.item() == value
    assert "band_low" not in log.coords
    assert "not trusted" in warnings(log)[0]


@pytest.mark.parametrize(
    "line",
    [
        "band limits: 320-390 nm",
        "Band limits [nm]: 320 – 390",
        "band\t320 nm to 390 nm",
        "spectral range: 0.32-0.39 µm",
        "band low: 320 nm\nband high: 390 nm",
        "Bandgrenzen: 320 bis 390 nm",
    ],
)
def test_limits_of_a_band(file, line):
    log = read(file(f"{line}\ntime [s]\tirradiance [W/m²]\n0\t1\n1\t2\n"))
    assert (log.band_low.item(), log.band_high.item()) == (320, 390)
    assert "band" not in log.coords


def test_a_calibration_date_in_local_habit_stays_text(file):
    log = read(file("calibration date: 03/11/2025\ntime [s],irradiance [W/m²]\n0,1\n1,2\n"))
    assert log.calibration_date.item() == "03/11/2025"
    assert "not written after ISO 8601" in warnings(log)[0]


def test_a_spectrum_takes_no_coordinates_of_a_log(file):
    frame = read(file("head: 7\nband: near\nwavelength [nm],counts\n365,1\n366,2\n"))
    assert set(frame.coords) == {"wavelength"}
    assert json.loads(frame.attrs["header"]) == {"head": "7", "band": "near"}


def test_a_column_counts_more_than_the_header(file):
    log = read(file("head: 7\ntime [s],head,irradiance [W/m²]\n0,8,1\n1,9,2\n"))
    assert log["head"].values.tolist() == ["8", "9"]
    assert 'line 1 states "head", and so does a column, which counts' in warnings(log)


def test_a_header_that_says_two_things(file):
    log = read(file("head: 7\nhead: 8\ntime [s],irradiance [W/m²]\n0,1\n1,2\n"))
    assert log["head"].item() == "7"
    assert 'line 2 states "head" again, as "8"' in warnings(log)


def test_one_channel_in_the_header_beside_several_in_the_table(file):
    log = read(file("channel: A\ntime [s],irradiance 1 [W/m²],irradiance 2 [W/m²]\n0,1,2\n1,3,4\n"))
    assert log.channel.values.tolist() == [1, 2]
    assert "the header states one channel, and the table has several, which count" in warnings(log)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("date;time;irradiance [W/m²]\n2026-03-02;10:30:00;1\n2026-03-02;10:30:01,5;2\n", "10:30:01.500"),
        ("# date: 2026-03-02\ntime,irradiance [W/m²]\n10:30,1\n10:31,2\n", "10:31:00.000"),
        ("date time irradiance [W/m²]\n2026-03-02 10:30:00 1\n2026-03-02 10:31:00 2\n", "10:31:00.000"),
        ("data;ora;irradianza [W/m²]\n2026-03-02;10:30:00;1\n2026-03-02;10:31:00;2\n", "10:31:00.000"),
        (
            "elapsed [s],date,irradiance [W/m²]\n0,2026-03-02 10:30:00,1\n60,2026-03-02 10:31:00,2\n",
            "10:31:00.000",
        ),
    ],
)
def test_dates_and_times_of_day(file, text, expected):
    log = read(file(text))
    assert str(log.time.values[-1].astype("datetime64[ms]")) == f"2026-03-02T{expected}"
    assert log.irradiance.values.tolist() == [1, 2]


@pytest.mark.parametrize(
    ("unit", "quantity", "factor"),
    [
        ("W/m²", "irradiance", 1),
        ("mW/cm²", "irradiance", 10),
        ("µW/cm²", "irradiance", 0.01),
        ("J/cm²", "radiant_exposure", 1e4),
        ("mJ/cm^2", "radiant_exposure", 10),
    ],
)
def test_units_of_readings(file, unit, quantity, factor):
    log = read(file(f"time [s],reading [{unit}]\n0,1\n1,2\n"))
    np.testing.assert_allclose(log[quantity], [factor, 2 * factor], rtol=1e-14)


def test_other_readings_stay_beside(file):
    log = read(file("time [s],irradiance [W/m²],temperature [°C],status\n0,1,20,ok\n1,2,21,lamp off\n"))
    assert log.unlabelled.units == "°C"
    assert log.status.values.tolist() == ["ok", "lamp off"]
    assert 'column 4 "status": text, kept as coordinate status' in decisions(log)


@pytest.mark.parametrize(
    ("text", "line", "column", "found", "advice"),
    [
        (
            "position [mm],irradiance [W/m²]\n-1,1\n0,2\n1,3\n0,2\n-1,1\n",
            4,
            1,
            "position that turns round in line 4 and runs down again",
            "Add a column of time, or save the ways there and back",
        ),
        (
            "position,irradiance [W/m²]\n0,1\n1,2\n",
            1,
            1,
            "positions in numbers without a unit",
            "position [mm]",
        ),
        ("time [s],irradiance [W/m²]\n0,1\n1,OL\n", 3, 2, '"OL"', "A value is missing here"),
        ("time [s],irradiance [W/m²]\n0,1\n1,----\n", 3, 2, '"----"', "A value is missing here"),
        ("time [s],irradiance [W/m²]\n0,1\n2,1\n1,2\n3,1\n", 4, 1, "1 after 2 (line 3)", "Sort the rows"),
        (
            "time,irradiance [W/m²]\n02.03.2026 10:30,1\n02.03.2026 10:31,2\n",
            2,
            1,
            '"02.03.2026 10:30"',
            "ISO",
        ),
        (
            "time,irradiance [W/m²]\n3/2/2026 1:30 PM,1\n3/2/2026 1:31 PM,2\n",
            2,
            1,
            '"3/2/2026 1:30 PM"',
            "ISO",
        ),
        (
            "time,irradiance [W/m²]\n10:30:00,1\n10:30:01,2\n",
            2,
            1,
            "times of day without a date in column 1",
            'header as "date: 2026-03-02"',
        ),
        (
            "date: 2026-03-02\ntime,irradiance [W/m²]\n10:30:00,1\n10:61:01,2\n",
            4,
            1,
            '"10:61:01"',
            "ISO",
        ),
        (
            "channel,time [s],irradiance 1 [W/m²],irradiance 2 [W/m²]\nA,0,1,2\nB,1,1,2\n",
            1,
            None,
            "a column of channels, and 2 columns of irradiance",
            "one for each channel",
        ),
        (
            "time [s],remark,Bemerkung,irradiance [W/m²]\n0,a,b,1\n1,a,b,1\n",
            1,
            3,
            '"Bemerkung"',
            "a name of its own",
        ),
        ("band low: soon\ntime [s],irradiance [W/m²]\n0,1\n1,2\n", 1, None, '"soon"', "not a number"),
        (
            "time [s],band low,irradiance [W/m²]\n0,320,1\n1,320,2\n",
            1,
            2,
            '"band low" without a unit',
            "band low [nm]",
        ),
        ("hours,time [m],lamp [%]\n0,0,1\n1,1,2\n", 1, 2, 'the unit "m"', "cannot be converted"),
        ("time [s],remark\n0,a\n1,b\n", 1, None, "no column of values", "Save the values"),
        (
            "wavelength,irradiance [W/m²]\n2026-03-02,1\n2026-03-03,2\n",
            1,
            1,
            'dates in the column "wavelength"',
            "Name the column time",
        ),
    ],
)
def test_a_fault_of_a_log(file, text, line, column, found, advice):
    with pytest.raises(ReadError) as caught:
        read(file(text))
    fault = caught.value.faults[0]
    assert (fault.line, fault.column) == (line, column)
    assert found in fault.found
    assert advice in fault.advice


def test_what_cannot_be_placed_is_left_out_with_a_word(file):
    log = read(file("hours,time,position,irradiance [W/m²]\n0,1,2,1\n1,2,3,2\n"))
    assert set(log.coords) == {"hours"}
    assert 'column 2 "time" was left out: its unit is not stated' in warnings(log)
    log = read(file("hours,time,irradiance [W/m²]\n0,10:30,1\n1,10:31,2\n"))
    assert 'column 2 "time" was left out: a time of day without a date' in warnings(log)


def test_a_single_reading_is_a_log(file, tmp_path):
    log = read(file("time [s],irradiance [mW/cm^2]\n0,120.4\n"))
    assert log.irradiance.sizes == {"time": 1}
    np.testing.assert_allclose(log.irradiance, [1204.0], rtol=1e-15)
    written = tmp_path / "written.csv"
    write_spectra(written, log)
    np.testing.assert_array_equal(read(written).irradiance, log.irradiance)


@pytest.mark.parametrize("axis", ["wavelength [nm]", "position [mm]", "hours [h]"])
def test_a_single_row_of_anything_else_is_a_part_of_it(file, axis):
    with pytest.raises(ReadError, match="found 1 row of numbers; expected two rows or more"):
        read(file(f"{axis},irradiance [mW/cm^2]\n365,120.4\n"))
