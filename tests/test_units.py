import re
import subprocess
import sys
import time

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, UnitsError
from spectralbench.units import (
    Measured,
    ascending,
    convert,
    declares,
    for_people,
    measured,
    same_kind,
)


def curve(wavelength, values=None, **attrs):
    values = np.arange(len(wavelength), dtype=float) if values is None else values
    return xr.DataArray(values, {"wavelength": wavelength}, "wavelength", attrs=attrs)


# The factors are those of the SI prefixes and of the percent: SI Brochure, 9th edition (2019), table 7.
@pytest.mark.parametrize(
    ("value", "units", "to", "expected"),
    [
        (1.0, "mW/cm^2", "W m-2", 10.0),
        (1.0, "mW cm-2", "W m-2", 10.0),
        (1.0, "mW/cm²", "W m-2", 10.0),
        (1.0, "mW·cm⁻²", "W m-2", 10.0),
        (1.0, "mW*cm^-2", "W m-2", 10.0),
        (1.0, "mW cm**-2", "W m-2", 10.0),
        (1.0, "J/cm^2", "J m-2", 1e4),
        (1.0, "mW/cm^2/nm", "W m-2 nm-1", 10.0),
        (1.0, "µW/(cm² nm)", "W m-2 nm-1", 0.01),
        (1.0, "\u03bcW/cm^2/nm", "W m-2 nm-1", 0.01),
        (1.0, "uW cm-2 nm-1", "W m-2 nm-1", 0.01),
        (1.0, "W m-2 µm-1", "W m-2 nm-1", 1e-3),
        (1.0, "W/m^3", "W m-2 nm-1", 1e-9),
        (0.365, "µm", "nm", 365.0),
        (3650.0, "Å", "nm", 365.0),
        (50.0, "%", "1", 0.5),
        (0.5, "1", "%", 50.0),
        (2.0, "ms", "s", 2e-3),
        (20.0, "°C", "K", 293.15),
        (1.0, "L mol-1 cm-1", "m2 mol-1", 0.1),
        (1.0, "counts/s", "s-1", 1.0),
        (1.0, "µmol m-2 s-1", "umol m-2 s-1", 1.0),
    ],
)
def test_convert(value, units, to, expected):
    assert convert(value, units, to) == pytest.approx(expected, rel=1e-14)


def test_convert_leaves_the_values_alone_when_nothing_changes():
    values = np.array([1.0, 2.0])
    assert convert(values, "nm", "nm") is values


def test_convert_does_not_truncate_integers():
    assert convert(np.array([1, 3]), "mm", "cm").tolist() == pytest.approx([0.1, 0.3])


def test_convert_leaves_its_input_unchanged():
    values = np.array([1.0, 2.0])
    convert(values, "mm", "nm")
    assert values.tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    "text",
    [
        "florins",
        "W/0",
        "1/0",
        "m**m",
        "W m- 2",
        "Wm-2nm-1",
        "10 W",
        "__import__('os')",
        "nm; nm",
        "nm\n#",
        "((((m",
        "µ" * 70,
    ],
)
def test_what_is_no_unit_is_quoted(text):
    shown = text if len(text) <= 40 else text[:39] + "…"
    shown = shown.replace("\n", "\\n")
    with pytest.raises(UnitsError, match=re.escape(f'"{shown}" is not a unit of measurement')):
        convert(1.0, text, "nm")


@pytest.mark.parametrize(
    ("units", "to"), [("mJ/cm^2", "W m-2"), ("s", "nm"), ("W/m2 nm", "W m-2 nm-1"), ("", "nm"), ("%", "nm")]
)
def test_units_of_two_kinds_are_both_quoted(units, to):
    with pytest.raises(UnitsError, match=re.escape(f'"{units}" cannot be converted to "{to}"')):
        convert(1.0, units, to)


def test_same_kind():
    assert same_kind("W m-2", "mW/cm^2")
    assert not same_kind("W m-2", "W m-2 nm-1")
    with pytest.raises(UnitsError, match='"florins" is not a unit of measurement'):
        same_kind("W m-2", "florins")


def test_nothing_from_a_file_can_stop_the_program():
    units, number = ["9**9**9**9", "10**99999999 m", "m**(9**9**9)"], "1 nm" + " " * 5000 + "!"
    code = (
        "import pytest; from spectralbench.errors import UnitsError\n"
        "from spectralbench.units import measured, same_kind\n"
        f"for text in {units}:\n"
        "    with pytest.raises(UnitsError): same_kind(text, 'nm')\n"
        f"with pytest.raises(UnitsError): measured({number!r}, 'nm')\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=15)


@pytest.mark.parametrize(
    ("text", "units", "value", "uncertainty"),
    [
        ("500 mm", "mm", 500.0, 0.0),
        ("50 cm", "mm", 500.0, 0.0),
        ("500mm", "mm", 500.0, 0.0),
        ("5\u00a0mm", "mm", 5.0, 0.0),
        ("-5 mm", "mm", -5.0, 0.0),
        (".5 mm", "mm", 0.5, 0.0),
        ("5. mm", "mm", 5.0, 0.0),
        ("5e-1 mm", "mm", 0.5, 0.0),
        ("5E+1mm", "mm", 50.0, 0.0),
        ("500 mm ± 0.5 mm", "mm", 500.0, 0.5),
        ("500 mm ± 0.5", "mm", 500.0, 0.5),
        ("500 ± 0.5 mm", "mm", 500.0, 0.5),
        ("500 mm +- 0.5 mm", "mm", 500.0, 0.5),
        ("500 mm +/- 0.5 mm", "mm", 500.0, 0.5),
        ("500 mm±0.5 mm", "mm", 500.0, 0.5),
        ("50 cm ± 1 mm", "mm", 500.0, 1.0),
        ("20 ms ± 1 %", "s", 0.02, 2e-4),
        ("-20 ms ± 1 %", "s", -0.02, 2e-4),
        ("92 % ± 1 %", "1", 0.92, 0.01),
        ("0.92 ± 0.01", "1", 0.92, 0.01),
        ("0.92 ± 1 %", "1", 0.92, 0.0092),
        ("0.92", "1", 0.92, 0.0),
        ("20 °C ± 1 K", "K", 293.15, 1.0),
        ("20 °C ± 1 °C", "K", 293.15, 1.0),
        ("120 mW/cm^2 ± 5 mW/cm^2", "W m-2", 1200.0, 50.0),
        ("0.3 s-1 ± 0.1 s-1", "s-1", 0.3, 0.1),
    ],
)
def test_measured(text, units, value, uncertainty):
    assert measured(text, units) == pytest.approx(Measured(value, uncertainty), rel=1e-12)


def test_a_plain_number_is_taken_in_the_stated_unit():
    assert measured(12, "mm") == Measured(12.0, 0.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", '"" is not a number with a unit, such as "2 mm"'),
        ("wide", '"wide" is not a number with a unit, such as "2 mm"'),
        ("5 mm ± 1 mm ± 2 mm", '"5 mm ± 1 mm ± 2 mm" is not a number with a unit'),
        ("nan mm", '"nan mm" is not a number with a unit'),
        ("inf mm", '"inf mm" is not a number with a unit'),
        ("5", '"5" has no unit; write it as "5 mm"'),
        ("5 ± 1", '"5 ± 1" has no unit; write it as "5 mm"'),
        ("5 ± 1 %", '"5 ± 1 %" has no unit; write it as "5 mm"'),
        ("5 s", '"s" cannot be converted to "mm"'),
        ("5 mm ± 1 s", '"s" cannot be converted to "mm"'),
        ("1,5 mm", "is not a unit of measurement"),
        ("1e400 mm", '"1e400 mm" is not a finite number with a positive uncertainty'),
        ("5 mm ± -1 mm", '"5 mm ± -1 mm" is not a finite number with a positive uncertainty'),
        ("5 mm ± -1 %", '"5 mm ± -1 %" is not a finite number with a positive uncertainty'),
    ],
)
def test_what_is_no_measured_value_is_quoted(text, message):
    with pytest.raises(UnitsError, match=re.escape(message)):
        measured(text, "mm")


@pytest.mark.parametrize(
    ("units", "other"), [("W m-2", "mW/cm²"), ("J m-2", "J/cm²"), ("W m-2 nm-1", "mW/cm²/nm")]
)
def test_the_factor_for_people_is_the_one_between_the_units(units, other):
    label, factor = for_people(units)
    assert label == other
    assert factor == pytest.approx(convert(1.0, units, label), rel=1e-14)


def test_a_unit_without_a_form_for_people_stays():
    assert for_people("nm") == ("nm", 1.0)
    assert for_people("1") == ("", 1.0)


def test_an_ascending_grid_is_passed_on_as_it_is():
    array = curve([300.0, 310.0])
    assert ascending(array) is array


def test_an_array_without_wavelengths_is_passed_on_as_it_is():
    array = xr.DataArray([1.0], dims="time")
    assert ascending(array) is array


def test_a_descending_grid_is_turned_with_its_values():
    turned = ascending(curve([400.0, 350.0, 300.0], [1.0, 2.0, 3.0]))
    assert turned.wavelength.values.tolist() == [300.0, 350.0, 400.0]
    assert turned.values.tolist() == [3.0, 2.0, 1.0]


def test_wavelengths_in_another_unit_become_nanometres_and_the_input_stays():
    array = curve(("wavelength", [0.3, 0.4], {"units": "µm"}), [1.0, 2.0])
    turned = ascending(array)
    assert turned.wavelength.values.tolist() == pytest.approx([300.0, 400.0], rel=1e-15)
    assert turned.wavelength.attrs["units"] == "nm"
    assert array.wavelength.values.tolist() == [0.3, 0.4]
    assert array.wavelength.attrs["units"] == "µm"


@pytest.mark.parametrize("dtype", ["int16", "int64", "float32", "float64"])
def test_a_grid_of_any_number_type_is_turned(dtype):
    turned = ascending(curve(np.array([400, 300, 200], dtype), [1.0, 2.0, 3.0]))
    assert turned.wavelength.values.tolist() == [200, 300, 400]


@pytest.mark.parametrize("dtype", ["uint16", "uint64"])
def test_a_grid_of_unsigned_integers_is_turned(dtype):
    turned = ascending(curve(np.array([400, 300, 200], dtype), [1.0, 2.0, 3.0]))
    assert turned.wavelength.values.tolist() == [200, 300, 400]


def test_an_unordered_grid_of_unsigned_integers_is_refused():
    with pytest.raises(GridError, match="300 nm is followed by 200 nm"):
        ascending(curve(np.array([300, 200, 400], "uint16")))


@pytest.mark.parametrize(
    ("grid", "message"),
    [
        ([300.0, 320.0, 310.0], "lamp has wavelengths out of order: 320 nm is followed by 310 nm"),
        ([300.0, 310.0, 310.0], "310 nm is followed by 310 nm (each may stand only once)"),
        ([300.0, np.nan, 320.0], "lamp has wavelengths that are no finite numbers"),
        ([300.0, 310.0, np.inf], "lamp has wavelengths that are no finite numbers"),
        (["300", "310", "320"], "lamp has wavelengths that are no finite numbers"),
    ],
)
def test_a_disordered_grid_is_refused_with_the_place(grid, message):
    with pytest.raises(GridError, match=re.escape(message)):
        ascending(curve(grid), "lamp")


def test_a_slip_in_a_grid_that_runs_downwards_is_found_where_it_is():
    grid = [500.0, 499.0, 498.0, 497.0, 497.5, 496.0]
    with pytest.raises(GridError, match=re.escape("497 nm is followed by 497.5 nm")):
        ascending(curve(grid))


def test_a_dimension_without_coordinate_is_refused():
    with pytest.raises(
        GridError, match="lamp has a dimension wavelength without a coordinate: give it values in nm"
    ):
        ascending(xr.DataArray([1.0, 2.0], dims="wavelength"), "lamp")


def test_a_coordinate_that_is_no_length_is_refused():
    with pytest.raises(UnitsError, match='"s" cannot be converted to "nm"'):
        ascending(curve(("wavelength", [1.0, 2.0], {"units": "s"}), [1.0, 2.0]))


def test_one_grid_written_in_two_units_is_one_grid():
    nanometres = np.arange(300.0, 401.0)
    micrometres = ("wavelength", np.round(nanometres / 1000, 3), {"units": "µm"})
    turned = ascending(curve(micrometres, np.ones(101)))
    assert turned.wavelength.values.tolist() == nanometres.tolist()


@declares("W m-2", first="W m-2 nm-1", second="1", width="nm")
def example(first, second=None, width=1.0):
    return first * width if second is None else first * second * width


@declares("1", own_grid=("weighting",), spectrum="*", weighting="1")
def shapes(spectrum, weighting):
    return xr.DataArray([spectrum.sizes["wavelength"], weighting.sizes["wavelength"]])


@declares("1", spectrum="1", layers="1")
def product(spectrum, *layers):
    for layer in layers:
        spectrum = spectrum * layer
    return spectrum


def test_arguments_are_converted_and_the_result_is_stamped():
    given = curve([300.0, 400.0], [1.0, 2.0], units="mW/cm^2/nm")
    result = example(given, width="0.002 µm")
    assert result.values.tolist() == pytest.approx([20.0, 40.0])
    assert result.attrs["units"] == "W m-2"
    assert given.values.tolist() == [1.0, 2.0]
    assert given.attrs == {"units": "mW/cm^2/nm"}


def test_an_array_without_a_unit_is_taken_as_declared():
    assert example(curve([300.0, 400.0], [1.0, 2.0])).values.tolist() == [1.0, 2.0]


def test_a_default_is_not_looked_at():
    assert example(curve([300.0, 400.0], [1.0, 2.0]), None).values.tolist() == [1.0, 2.0]


def test_the_faults_of_all_arguments_come_together():
    message = (
        'example(): first: "J m-2" cannot be converted to "W m-2 nm-1"; '
        'width: "5" has no unit; write it as "5 nm"'
    )
    with pytest.raises(UnitsError, match=re.escape(message)):
        example(curve([300.0, 400.0], units="J m-2"), width="5")


def test_a_star_takes_any_unit():
    array = curve([300.0, 400.0], units="furlong")
    assert shapes(array, curve([1.0, 2.0, 3.0])).values.tolist() == [2, 3]


def test_grids_that_differ_in_length_are_refused():
    message = "first has 2 wavelengths and second has 3: interpolate one of them to the other's grid first"
    with pytest.raises(GridError, match=re.escape(message)):
        example(curve([300.0, 400.0]), curve([300.0, 350.0, 400.0]))


def test_grids_that_differ_by_a_hair_are_refused():
    message = "first and second have wavelengths up to 1e-06 nm apart (near 400 nm): they are not one grid"
    with pytest.raises(GridError, match=re.escape(message)):
        example(curve([300.0, 400.0]), curve([300.0, 400.000001]))


def test_a_grid_that_runs_downwards_joins_one_that_runs_upwards():
    result = example(curve([300.0, 400.0], [1.0, 2.0]), curve([400.0, 300.0], [10.0, 100.0]))
    assert result.sortby("wavelength").values.tolist() == [100.0, 20.0]


def test_a_list_of_arguments_is_checked_one_by_one():
    one = curve([300.0, 400.0], [0.5, 0.5])
    percent = curve([300.0, 400.0], [50.0, 50.0], units="%")
    assert product(one, percent, percent).values.tolist() == pytest.approx([0.125, 0.125])
    with pytest.raises(UnitsError, match=re.escape('product(): layers 2: "s" cannot be converted to "1"')):
        product(one, percent, curve([300.0, 400.0], units="s"))
    with pytest.raises(GridError, match="spectrum has 2 wavelengths and layers 1 has 3"):
        product(one, curve([300.0, 350.0, 400.0]))


def test_the_declaration_can_be_read_by_a_program():
    assert example.declared_units == {"first": "W m-2 nm-1", "second": "1", "width": "nm", "return": "W m-2"}


def test_the_decorated_function_keeps_its_name_and_signature():
    assert example.__name__ == "example"
    with pytest.raises(TypeError, match="first"):
        example()


@pytest.mark.parametrize("text", ["transmittance" * 4 + "!", "a" * 59 + "?", "a_" * 29 + "é"])
def test_a_long_word_is_refused_at_once(text):
    """Found by fuzzing: trying all the ways to cut up a word into names took for ever."""
    begin = time.process_time()
    with pytest.raises(UnitsError, match="is not a unit of measurement"):
        convert(1.0, text, "nm")
    assert time.process_time() - begin < 5  # the units themselves may be loaded here


@pytest.mark.parametrize(
    ("units", "other"), [("W/m2/sr", "W/m2"), ("W m-2 sr-1 nm-1", "W m-2 nm-1"), ("W/sr", "W")]
)
def test_a_solid_angle_counts(units, other):
    """ISO 80000-7: radiance is in W sr-1 m-2, irradiance in W m-2, radiant intensity in W sr-1."""
    assert not same_kind(units, other)
    assert same_kind(units, units)
    with pytest.raises(UnitsError):
        convert(1.0, units, other)
