"""One small file for each way in which people and instruments save a table."""

import json
from pathlib import Path

import numpy as np
import pytest

from spectralbench.errors import RangeError, UnitsError
from spectralbench.model import check
from spectralbench.readers import read

SAMPLES = Path(__file__).parents[1] / "samples"
WAVELENGTHS = [365.5, 366.5, 405.0]
VALUES = [12.0, 13.5, 1500.0]

# All of them say the same: 12, 13.5 and 1500 counts at 365.5, 366.5 and 405 nm.
LAYOUTS = {
    "own": "# lamp: invented\nwavelength [nm],counts [1]\n365.5,12\n366.5,13.5\n405,1500\n",
    "semicolon": "wavelength [nm];counts\n365.5;12\n366.5;13.5\n405;1500\n",
    "tab": "wavelength [nm]\tcounts\n365.5\t12\n366.5\t13.5\n405\t1500\n",
    "blanks": "  365.5      12\n  366.5      13.5\n  405.0    1500\n",
    "blanks and tabs": "365.5 \t 12\n366.5\t13.5\n405.0  1500\n",
    "comma and blank": "wavelength [nm], counts\n365.5, 12\n366.5, 13.5\n405, 1500\n",
    "decimal comma, semicolon": "Wellenlänge [nm];counts\n365,5;12\n366,5;13,5\n405;1500\n",
    "decimal comma, tab": "wavelength (nm)\tcounts\n365,5\t12\n366,5\t13,5\n405,0\t1500\n",
    "decimal comma, blanks": "365,5 12\n366,5 13,5\n405 1500\n",
    "decimal comma, quoted": '"wavelength","counts"\n"365,5","12"\n"366,5","13,5"\n"405","1500"\n',
    "comma twice, named": "wavelength,counts\n365,5,12,0\n366,5,13,5\n405,0,1500,0\n",
    "exponents": "365.5 1.2E1\n3.665e2 +1.35e+01\n4.05E+2 1.5e3\n",
    "bare point": "365.5 12.\n366.5 13.5\n405. +1500.\n",
    "trailing delimiter": "wavelength [nm],counts,\n365.5,12,\n366.5,13.5,\n405,1500,\n",
    "padded rows": "lamp,invented,,\nwavelength [nm],counts,,\n365.5,12,,\n366.5,13.5,,\n405,1500,,\n,,,\n",
    "quoted heading": '"wavelength [nm]";"counts"\n365.5;12\n366.5;13.5\n405;1500\n',
    "heading behind a sign": "# by hand\n# wavelength [nm], counts [1]\n365.5 12\n366.5 13.5\n405 1500\n",
    "heading in two rows": "Wavelength;Counts\nnm;1\n365.5;12\n366.5;13.5\n405;1500\n",
    "heading in two rows, µm": "Wavelength;Signal\n[µm];[counts]\n0.3655;12\n0.3665;13.5\n0.405;1500\n",
    "µm after a slash": "λ / µm,counts\n0.3655,12\n0.3665,13.5\n0.405,1500\n",
    "um": "wl (um)\tcounts\n.3655\t12\n.3665\t13.5\n.405\t1500\n",
    "ångström": "Wavelength [Å];counts\n3655;12\n3665;13.5\n4050;1500\n",
    "unit not stated, µm": "0.3655 12\n0.3665 13.5\n0.405 1500\n",
    "descending": "wavelength [nm],counts\n405,1500\n366.5,13.5\n365.5,12\n",
    "blank lines": "\n\nwavelength [nm],counts\n\n365.5,12\n\n366.5,13.5\n405,1500\n\n\n",
    "French heading": "longueur d'onde (nm);counts\n365,5;12\n366,5;13,5\n405;1500\n",
    "signs of all kinds": "% a\n; b\n// c\n! d\n* e\n' f\n$ g\n-- h\n365.5 12\n366.5 13.5\n405 1500\n",
    "numbers in the header": "run\t7\nscans: 3\n2 lamps\nwl\tcounts\n365.5\t12\n366.5\t13.5\n405\t1500\n",
    "units below, names split": "Wave;Raw\nlength (nm);counts\n365.5;12\n366.5;13.5\n405;1500\n",
    "unit after a comma": "Wavelength, nm;Counts\n365,5;12\n366,5;13,5\n405;1500\n",
    "unit after an underscore": "wavelength_nm,counts\n365.5,12\n366.5,13.5\n405,1500\n",
    "unit in words": "Wellenlänge (Nanometer)\tcounts\n365,5\t12\n366,5\t13,5\n405\t1500\n",
    "a row that says unit": "no;wavelength;counts\nunit;nm;1\n1;365.5;12\n2;366.5;13.5\n3;405;1500\n",
    "rules": "wavelength  counts\n----------  ------\n365.5  12\n366.5  13.5\n405  1500\n====\n",
    "names that break": '"Wavelength\n[nm]";"Raw\ncounts"\n365,5;12\n366,5;13,5\n405;1500\n',
    "pixel first": "pixel,wavelength [nm],counts\n0,365.5,12\n1,366.5,13.5\n2,405,1500\n",
    "index without a name": ",wavelength [nm],counts\n0,365.5,12\n1,366.5,13.5\n2,405,1500\n",
    "channel number first": "Channel\tnm\tcounts\n7\t365.5\t12\n8\t366.5\t13.5\n9\t405\t1500\n",
    "wavelength last": "counts;Wellenlänge [nm]\n12;365,5\n13,5;366,5\n1500;405\n",
    "wavenumber first": "wavenumber [cm-1],wavelength [nm],counts\n1,365.5,12\n2,366.5,13.5\n3,405,1500\n",
    "pixel first, blanks": "pixel  wavelength  counts\n 0  365.5  12\n 1  366.5  13.5\n 2  405  1500\n",
    "exponents with D": "wavelength counts\n3.655D+02 1.2D1\n3.665d2 1.35D+01\n4.05D+2 1500\n",
    "exponents with D, commas": "wl,counts\n3.655D+02,1.2D1\n3.665d2,1.35D+01\n4.05D+2,1500\n",
    "footer": "wavelength,counts\n365.5,12\n366.5,13.5\n405,1500\n>>>>End\n",
    "duplicate rows": "wavelength,counts\n365.5,12\n366.5,13.5\n366.5,13.5\n405,1500\n365.5,12\n",
    "decadic logarithm": "nm,lg(counts)\n365.5,1.079181246048\n366.5,1.130333768495\n405,3.176091259056\n",
    "Spanish heading": "Longitud de onda (nm);Cuentas\n365,5;12\n366,5;13,5\n405;1500\n",
    "Italian heading": "Lunghezza d’onda (nm);Conteggi\n365,5;12\n366,5;13,5\n405;1500\n",
    "Portuguese heading": "Comprimento de onda (nm);Contagens\n365,5;12\n366,5;13,5\n405;1500\n",
    "Dutch heading": "Golflengte (nm);Tellingen\n365,5;12\n366,5;13,5\n405;1500\n",
    "Polish heading": "Długość fali (nm);Zliczenia\n365,5;12\n366,5;13,5\n405;1500\n",
    "Swedish heading": "Våglängd (nm);counts\n365,5;12\n366,5;13,5\n405;1500\n",
    "German counts": "Wellenlänge (nm);Zählimpulse\n365,5;12\n366,5;13,5\n405;1500\n",
    "comment inside": "wavelength,counts\n365.5,12\n# 366,99\n366.5,13.5\n405,1500\n# end\n",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_says_the_same(file, layout):
    dataset = read(file(LAYOUTS[layout]), quantity="counts")
    assert dataset.counts.dims == ("wavelength",)
    assert dataset.wavelength.values.tolist() == WAVELENGTHS
    np.testing.assert_allclose(dataset.counts.values, VALUES, rtol=1e-12 if "logarithm" in layout else 0)
    assert dataset.wavelength.dtype == dataset.counts.dtype == np.float64
    assert (dataset.wavelength.units, dataset.counts.units) == ("nm", "1")
    check(dataset)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-32", "latin-1"])
def test_encodings_and_line_ends(file, encoding, ends):
    text = LAYOUTS["heading in two rows, µm"].replace("\n", ends)
    dataset = read(file(text, encoding))
    assert dataset.wavelength.values.tolist() == WAVELENGTHS
    assert dataset.counts.values.tolist() == VALUES
    assert ("Latin-1" in dataset.attrs["warnings"]) == (encoding == "latin-1")


@pytest.mark.parametrize("first", ["\n", "\r\n", "\r", "\r\r\n"])
def test_mixed_line_ends(file, first):
    dataset = read(file(f"wavelength [nm],counts{first}365.5,12\n366.5,13.5{first}405,1500\r\n"))
    assert dataset.counts.values.tolist() == VALUES


def test_old_ångström_sign_in_latin_1(file):
    dataset = read(file("Wavelength [Å];Transmission [%]\n3655;91\n4050;92,5\n", "latin-1"))
    assert dataset.wavelength.values.tolist() == [365.5, 405.0]
    np.testing.assert_allclose(dataset.transmittance, [0.91, 0.925], rtol=1e-15)


def test_comma_twice_is_told_by_the_order_of_the_wavelengths(file):
    dataset = read(file("365,0,12,5\n365,5,13,5\n366,0,14,5\n"), quantity="counts")
    assert dataset.wavelength.values.tolist() == [365.0, 365.5, 366.0]
    assert dataset.counts.values.tolist() == [12.5, 13.5, 14.5]


def test_whole_numbers_on_an_even_grid_are_scans(file):
    dataset = read(file("365,1203,1188,1190\n366,1210,1201,1188\n367,1190,1195,1188\n"), quantity="counts")
    assert dataset.counts.sizes == {"spectrum": 3, "wavelength": 3}


def test_scans_get_the_names_that_set_them_apart(file):
    text = "wavelength [nm],counts dark [1],counts lamp [1]\n365,1,2\n366,3,4\n"
    dataset = read(file(text))
    assert dataset.counts.dims == ("spectrum", "wavelength")
    assert dataset.spectrum.values.tolist() == ["dark", "lamp"]
    assert dataset.counts.sel(spectrum="lamp").values.tolist() == [2, 4]


@pytest.mark.parametrize("names", ["counts,counts", "counts 1,counts 2"])
def test_scans_without_names_are_numbered(file, names):
    assert read(file(f"wavelength,{names}\n365,1,2\n366,3,4\n")).spectrum.values.tolist() == [1, 2]


def test_columns_of_different_quantities(file):
    dataset = read(file("Wavelength [nm];Absorbance;T [%]\n365;1;10\n366;2;1\n"))
    assert dataset.absorbance.values.tolist() == [1, 2]
    np.testing.assert_allclose(dataset.transmittance, [0.1, 0.01], rtol=1e-15)


@pytest.mark.parametrize(
    ("head", "quantity", "factor"),
    [
        ("Spectral irradiance (mW/m²/nm)", "spectral_irradiance", 1e-3),
        ("spectral_irradiance [µW/cm²/nm]", "spectral_irradiance", 1e-2),
        ("E / (W m-2 nm-1)", "spectral_irradiance", 1),
        ("Irradiance [W/m^2/nm]", "spectral_irradiance", 1),
        ("irradiance [mW/cm²]", "irradiance", 10),
        ("Dose (mJ/cm2)", "radiant_exposure", 10),
        ("%T", "transmittance", 0.01),
        ("Transmissionsgrad / %", "transmittance", 0.01),
        ("Extinktion", "absorbance", 1),
        ("counts/s", "signal", 1),
        ("Signal [counts]", "counts", 1),
        ("Lamp A [ADU]", "counts", 1),
        ("epsilon [L mol-1 cm-1]", "molar_absorption_coefficient", 1),
        ("Reflexionsgrad [1]", "reflectance", 1),
    ],
)
def test_quantity_and_unit_come_from_the_heading(file, head, quantity, factor):
    dataset = read(file(f"wavelength [nm]\t{head}\n365\t1\n366\t2\n"))
    assert list(dataset.data_vars) == [quantity]
    np.testing.assert_allclose(dataset[quantity], [factor, 2 * factor], rtol=1e-14)
    check(dataset)


def test_quantity_from_the_header(file):
    dataset = read(file("# quantity: spectral irradiance\n# unit: mW/m^2/nm\n365 1\n366 2\n"))
    np.testing.assert_allclose(dataset.spectral_irradiance, [1e-3, 2e-3], rtol=1e-15)


def test_the_caller_stands_above_the_file(file):
    path = file("wavelength [nm],reflectance [%]\n365,50\n366,60\n")
    dataset = read(path, quantity="transmittance", units="1")
    assert dataset.transmittance.values.tolist() == [50, 60]
    assert "was read as transmittance" in dataset.attrs["warnings"]


def test_the_caller_does_not_rename_other_columns(file):
    path = file("wavelength [nm],counts,absorbance\n365,50,1\n366,60,2\n")
    assert set(read(path, quantity="counts").data_vars) == {"counts", "absorbance"}


def test_a_unit_can_tell_the_quantity(file):
    dataset = read(file("365 1\n366 2\n"), units="mW/m^2/nm")
    np.testing.assert_allclose(dataset.spectral_irradiance, [1e-3, 2e-3], rtol=1e-15)


def test_arguments_that_mean_nothing(file):
    path = file("365 1\n366 2\n")
    with pytest.raises(RangeError, match='"brightness" is no known quantity'):
        read(path, quantity="brightness")
    with pytest.raises(UnitsError, match='"bananas" is not a unit'):
        read(path, units="bananas")


def test_what_is_not_said_is_not_guessed(file):
    dataset = read(file("x,y\n365,1\n366,2\n"))
    warnings = json.loads(dataset.attrs["warnings"])
    assert dataset.unlabelled.units == "1"
    assert 'column 1 is named "x" and was taken as wavelength' in warnings
    assert 'the file does not say what "y" holds: it is kept as unlabelled' in warnings


@pytest.mark.parametrize(
    ("wavelengths", "expected"),
    [((0.3, 0.4), 300), ((300, 400), 300), ((3000, 4400), 300), ((1700, 4400), 1700), ((2000, 4000), 2000)],
)
def test_unit_of_wavelengths_that_state_none(file, wavelengths, expected):
    dataset = read(file("".join(f"{w} 1\n" for w in wavelengths)))
    assert dataset.wavelength[0] == expected
    assert "the unit of the wavelength is not stated" in dataset.attrs["warnings"]


def test_a_column_without_any_entry_is_left_out(file):
    dataset = read(file("wavelength [nm],counts,remark\n365,1,\n366,2,\n"))
    assert list(dataset.data_vars) == ["counts"]
    assert "empty fields at the end of each row, left out: 1" in json.loads(dataset.attrs["decisions"])


def test_an_axis_is_known_even_if_the_other_names_cannot_be_told_apart(file):
    dataset = read(file("time [min] UV A meter one meter two\n0 1 2\n1 2 3\n"), quantity="irradiance")
    assert dataset.time.values.tolist() == [0, 60]
    assert dataset.irradiance.dims == ("channel", "time")


def test_radiometer_log_in_minutes(file):
    dataset = read(file("time [min],irradiance [mW/cm^2]\n0,120\n1,119\n2,119\n"))
    assert dataset.irradiance.dims == ("time",)
    assert dataset.time.values.tolist() == [0, 60, 120]
    assert (dataset.time.units, dataset.irradiance.units) == ("s", "W m-2")
    np.testing.assert_allclose(dataset.irradiance, [1200, 1190, 1190], rtol=1e-15)


def test_radiometer_log_with_dates_and_other_readings(file):
    text = (
        "time;irradiance [mW/cm²];temperature [°C];supply [V]\n"
        "2026-03-02T10:30:00Z;120;20,5;24\n2026-03-02T11:30:01+01:00;119,5;20,6;24\n"
    )
    dataset = read(file(text))
    assert dataset.time.values.astype(str).tolist() == [
        "2026-03-02T10:30:00.000000000",
        "2026-03-02T10:30:01.000000000",
    ]
    assert [dataset[name].units for name in dataset.data_vars] == ["W m-2", "°C", "V"]


def test_ageing_log(file):
    dataset = read(file("hours;relative output [%]\n0;100\n500;94,5\n500;94\n1000;90\n"))
    assert dataset.relative_output.dims == ("hours",)
    assert dataset.hours.values.tolist() == [0, 500, 500, 1000]
    assert dataset.hours.units == "h"
    np.testing.assert_allclose(dataset.relative_output, [1, 0.945, 0.94, 0.9], rtol=1e-15)


@pytest.mark.parametrize(
    "line",
    [
        "# integration time: 20 ms",
        "Integration time [ms],20",
        "integration time = 0.02 s",
        "Integration_Time (ms): 20",
        "% Integrationszeit:\t20000 µs",
        "# integration time: 20 ms ± 1 %",
        "Exposure (s)\t0.02",
        "Exposure time [s],0.02",
        "exposure: 20 ms",
        "Belichtungszeit (ms): 20",
        "Belichtung: 20 ms",
        "Int. time (s): 0.02",
        "Integration (ms): 20",
        "temps de pose: 20 ms",
        "Durée d'intégration (ms): 20",
        "tiempo de exposición [ms]: 20",
        "tempo di esposizione: 20 ms",
        "tempo de exposição (ms): 20",
        "belichtingstijd: 20 ms",
        "czas ekspozycji [ms]: 20",
        "exponeringstid: 20 ms",
        "exposure: 3 J/cm2\nintegration time: 20 ms",
        "exposure time: 30 s\nintegration time: 20 ms",
    ],
)
def test_integration_time(file, line):
    dataset = read(file(f"{line}\nwavelength [nm],counts\n365,1\n366,2\n"))
    assert dataset.integration_time.item() == pytest.approx(0.02, rel=1e-15)
    assert dataset.integration_time.units == "s"


@pytest.mark.parametrize(
    "line", ["exposure: 3 J/cm2", "exposure time: 30", "Integration: trapezoid", "dwell: 3 s"]
)
def test_an_exposure_without_a_unit_of_time_is_no_integration_time(file, line):
    assert "integration_time" not in read(file(f"{line}\nwavelength [nm],counts\n365,1\n366,2\n")).coords


def test_an_exposure_above_a_log_is_none_of_an_instrument(file):
    dataset = read(file("exposure: 30 s\ntime [s],irradiance [W/m²]\n0,1\n1,2\n"))
    assert "integration_time" not in dataset.coords


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ("# time: 2026-03-02T10:30:00.123456789", "2026-03-02T10:30:00.123456789"),
        ("# time: 2026-03-02 10:30:00+05:30", "2026-03-02T05:00:00.000000000"),
        ("# date: 2026-03-02\n# time: 10:30", "2026-03-02T10:30:00.000000000"),
        ("Date,2026-03-02", "2026-03-02T00:00:00.000000000"),
    ],
)
def test_time_of_the_measurement(file, lines, expected):
    dataset = read(file(f"{lines}\nwavelength [nm],counts\n365,1\n366,2\n"))
    assert str(dataset.time.values) == expected


def test_a_time_in_local_habit_stays_text(file):
    dataset = read(file("# time: 03/02/2026 10:30\nwavelength [nm],counts\n365,1\n366,2\n"))
    assert "time" not in dataset.coords
    assert json.loads(dataset.attrs["header"]) == {"time": "03/02/2026 10:30"}
    assert "not written after ISO 8601" in dataset.attrs["warnings"]


def test_attributes(file):
    import hashlib

    path = file("# lamp: invented\n# sample: no 3\nwavelength [µm],counts [1]\n0.366,2\n0.365,1\n")
    dataset = read(path)
    attributes = dataset.attrs
    assert all(isinstance(value, str) for value in attributes.values())
    assert attributes["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert attributes["source"] == "file.txt"
    assert json.loads(attributes["header"]) == {"lamp": "invented", "sample": "no 3"}
    assert attributes["history"].splitlines()[1:] == [
        "converted the wavelength from µm to nm",
        "sorted by ascending wavelength",
    ]
    assert dataset.counts.attrs["history"] == attributes["history"]
    assert json.loads(attributes["decisions"]) == [
        "encoding: UTF-8",
        "delimiter: comma (2 fields in 2 of 3 lines looked at)",
        "decimal sign: point (in 2 of 2 rows looked at)",
        "comment sign: # (opens 2 of 3 lines)",
        "header: 3 lines before the table; column names: line 3 (it names an axis)",
        'wavelength: column 1 (by its heading), unit "µm" from the header',
        'column 2 "counts [1]": counts, unit "1"',
        "order: descending, turned round",
    ]


@pytest.mark.parametrize(
    ("layout", "expected"), [("own", "spectralbench plain text"), ("semicolon", "delimited text")]
)
def test_format(file, layout, expected):
    assert read(file(LAYOUTS[layout])).attrs["format"] == expected


def test_one_grid_whatever_the_unit(file):
    """0.4055 µm, 4055 Å and 405.5 nm are the same number of nanometres, to the last bit."""
    grid = np.round(np.linspace(200, 1100, 901) + 0.01, 2)
    read_as = {}
    for unit, places in (("nm", 0), ("µm", -3), ("Å", 1)):
        rows = "".join(f"{w!r}e{places} 1\n" for w in grid.tolist())
        read_as[unit] = read(file(f"# wavelength [{unit}] counts\n{rows}")).wavelength.values
    assert all(np.array_equal(values, grid) for values in read_as.values())


def test_same_numbers_as_an_independent_reader(file):
    """numpy.loadtxt, which knows nothing of this package, reads the same block."""
    rng = np.random.default_rng(20260302)
    table = np.column_stack([np.sort(rng.uniform(200, 1100, 500)), rng.normal(size=(500, 5)) * 1e4])
    path = file("\n".join(",".join(map(repr, row)) for row in table.tolist()))
    dataset = read(path, quantity="counts")
    independent = np.loadtxt(path, delimiter=",")
    assert np.array_equal(dataset.wavelength, independent[:, 0])
    assert np.array_equal(dataset.counts, independent[:, 1:].T)


def test_sample_with_two_rows_of_names_and_one_of_units():
    dataset = read(SAMPLES / "two_row_header.csv")
    assert dataset.spectrum.values.tolist() == ["cover new", "cover aged"]
    np.testing.assert_allclose(
        dataset.transmittance, [[0.881, 0.889, 0.896], [0.859, 0.867, 0.875]], rtol=1e-14
    )


def test_sample_from_a_spreadsheet_with_decimal_commas():
    dataset = read(SAMPLES / "german_decimal_comma.txt")
    assert dataset.wavelength.values.tolist() == [360, 365, 370]
    np.testing.assert_allclose(dataset.transmittance, [0.881, 0.889, 0.896], rtol=1e-14)
    assert dataset.integration_time.item() == pytest.approx(0.02)
    assert 'column 1 "Pixel": left out, it numbers the rows' in json.loads(dataset.attrs["decisions"])
    assert "what stands behind the table was left out: line 8" in json.loads(dataset.attrs["warnings"])


def test_sample_on_a_logarithmic_scale():
    dataset = read(SAMPLES / "log_scale.csv")
    assert dataset.counts.values.tolist() == [100, 1000, 10]
    said = 'column 2 "log10(counts)": counts, unit "1", from its decadic logarithm'
    assert said in json.loads(dataset.attrs["decisions"])
    assert 'raised 10 to the power of column 2 "log10(counts)"' in dataset.attrs["history"]


def test_sample_with_standard_uncertainties():
    dataset = read(SAMPLES / "standard_uncertainty.csv")
    np.testing.assert_allclose(dataset.spectral_irradiance, [0.25, 0.5, 0.25], rtol=1e-14)
    uncertainty = dataset.spectral_irradiance_standard_uncertainty
    np.testing.assert_allclose(uncertainty, [0.005, 0.008, 0.005], rtol=1e-14)
    assert uncertainty.units == "W m-2 nm-1"
    assert uncertainty.dims == ("wavelength",)


def test_sample_with_wavelengths_before_each_column():
    dataset = read(SAMPLES / "side_by_side.csv")
    assert dataset.spectrum.values.tolist() == ["lamp 1", "lamp 2"]
    assert dataset.counts.values.tolist() == [[25, 50, 25], [250, 500, 251]]


@pytest.mark.parametrize(
    ("text", "warning"),
    [
        ("wavelength [nm],T [%]\n365,0.91\n366,0.92\n", "never passes 0.92 %: if it holds parts"),
        ("wavelength [nm],T [1]\n365,91\n366,92\n", "goes up to 92: if that is per cent"),
        ("wavelength [nm],counts\n365,1\n366,2\n366,2\n", "left out: line 4 (as line 3)"),
        ("wavelength [nm],counts\n365,1\n366,2\n>>>>End\n", "behind the table was left out: line 4"),
    ],
)
def test_warnings(file, text, warning):
    assert warning in "\n".join(json.loads(read(file(text)).attrs["warnings"]))


UNITS_OF_ARBITRARY_SIZE = ["a.u.", "arbitrary units", "willkürliche Einheiten", "unités arbitraires"]
UNITS_OF_ARBITRARY_SIZE += ["unidades arbitrarias", "unità arbitrarie", "unidades arbitrárias"]
UNITS_OF_ARBITRARY_SIZE += ["willekeurige eenheden", "jednostki umowne", "godtyckliga enheter"]


@pytest.mark.parametrize("unit", UNITS_OF_ARBITRARY_SIZE)
def test_arbitrary_units(file, unit):
    dataset = read(file(f"wavelength [nm]\tsignal ({unit})\n365\t1\n366\t2\n"), quantity="counts")
    assert dataset.counts.units == "1"


@pytest.mark.parametrize(
    "head",
    [
        *("transmission [Prozent]", "Transmissionsgrad / Prozent", "transmission (pour cent)"),
        *(
            "Transmitancia (por ciento)",
            "Trasmittanza [per cento]",
            "transmitância, %",
            "transmissie (procent)",
        ),
        *("transmitancja [%]", "transmittans (procent)", "sample 1 transmittance [%]", "Transmittance_%"),
    ],
)
def test_transmittance_in_several_languages(file, head):
    dataset = read(file(f"wavelength [nm]\t{head}\n365\t50\n366\t60\n"))
    np.testing.assert_allclose(dataset.transmittance, [0.5, 0.6], rtol=1e-15)


def test_ten_thousand_comments(file):
    comments = "".join(f"# note {i}\n" for i in range(10_000))
    dataset = read(file(comments + LAYOUTS["own"]))
    assert dataset.counts.values.tolist() == VALUES
    assert "comment sign: # (opens 10001 of 10002 lines)" in json.loads(dataset.attrs["decisions"])


def test_columns_of_text_beside_a_spectrum(file):
    dataset = read(file('wavelength [nm],counts,remark\n365,5,\n366,6,"saturated, I think"\n'))
    assert dataset.counts.values.tolist() == [5, 6]
    assert dataset.remark.values.tolist() == ["", "saturated, I think"]


@pytest.mark.parametrize(
    ("text", "quantity", "values"),
    [
        (
            "nm,spectral irradiance [mW m-2 nm-1],U (k=2)\n380,1000,2\n390,2000,3\n",
            "spectral_irradiance",
            [1, 2],
        ),
        ("Wellenlänge [Å];Transmission Probe: Glas [%]\n3800;90\n3900;91\n", "transmittance", [0.9, 0.91]),
        ("wavelength [nm],counts (gain=2)\n380,1\n390,2\n", "counts", [1, 2]),
        ("# wavelength counts (gain=2)\n380 1\n390 2\n", "counts", [1, 2]),
        ("Wellenlänge [Å];Zählwerte t=20ms\n3800;1\n3900;2\n", "counts", [1, 2]),
    ],
)
def test_a_heading_with_a_colon_or_an_equals_sign(file, text, quantity, values):
    dataset = read(file(text))
    assert list(dataset.data_vars) == [quantity]
    assert dataset.wavelength.values.tolist() == [380, 390]
    np.testing.assert_allclose(dataset[quantity], values, rtol=1e-15)


@pytest.mark.parametrize(
    "line",
    [
        "# wavelength range: long",
        "# wavelength range=long",
        "wavelength: 365 nm, a",
        "# time = x",
        "Time:,now",
    ],
)
def test_a_key_and_a_value_are_no_heading(file, line):
    dataset = read(file(f"{line}\n380,1\n390,2\n"))
    assert list(dataset.data_vars) == ["unlabelled"]
    assert "no header row names the columns" in dataset.attrs["warnings"]


@pytest.mark.parametrize(
    ("head", "rows", "warning"),
    [
        ("wavelength [nm],counts", "0.38,1\n0.39,2\n", "from 0.38 to 0.39 nm: check its unit"),
        ("wavelength [nm],counts", "3800,1\n39000,2\n", "from 3800 to 39000 nm: check its unit"),
        ("wavelength in vacuum [nm],counts", "380,1\n390,2\n", "air, which are 0.03 % shorter"),
        ("wavelength [nm],irradiance [W m-2]", "380,1\n390,2\n", "irradiance in a unit without per nm"),
    ],
)
def test_what_is_unlikely_is_kept_with_a_warning(file, head, rows, warning):
    (told,) = json.loads(read(file(f"{head}\n{rows}")).attrs["warnings"])
    assert warning in told


@pytest.mark.parametrize(
    ("rows", "shown"),
    [
        ("365,31200\n366,31203\n367,312", '"312"'),
        ("365,5.100E-02\n366,5.200E-02\n367,5.3", '"5.3"'),
        ("365,31200\n366,31203\n367,312\n", ""),
        ("365,31200\n366,31203\n367,31201", ""),
        ("365,0.1\n366,0.25\n367,0.3", ""),
        ("365,103.1\n366,102.4\n367,99.9", ""),
        ("365,1003\n366,1001\n367,998", ""),
    ],
)
def test_a_file_that_ends_inside_a_number_is_told(file, rows, shown):
    """A number that was cut off is still a number: only its length and the missing line end tell."""
    dataset = read(file(f"wavelength [nm],counts\n{rows}"))
    told = [line for line in json.loads(dataset.attrs["warnings"]) if "was the file cut off there?" in line]
    assert [line.partition(" and ")[2].partition(" ")[0] for line in told] == [shown] * bool(shown)
