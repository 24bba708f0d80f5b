import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.model import COORDINATES, DIMENSIONS, QUANTITIES, check, labelled, noted, spectrum
from spectralbench.units import convert


def test_every_unit_of_the_table_is_a_unit():
    for quantity in (*QUANTITIES.values(), *COORDINATES.values()):
        assert convert(1.0, f"{quantity.units} ", quantity.units) == 1.0


# Design of the data model, section 4: everything is SI per nanometre.
@pytest.mark.parametrize(
    ("name", "units"),
    [
        ("counts", "1"),
        ("signal", "s-1"),
        ("spectral_irradiance", "W m-2 nm-1"),
        ("transmittance", "1"),
        ("absorbance", "1"),
        ("reflectance", "1"),
        ("irradiance", "W m-2"),
        ("radiant_exposure", "J m-2"),
    ],
)
def test_a_spectrum_carries_the_unit_of_its_quantity(name, units):
    array = spectrum([1.0, 2.0], [365.0, 366.0], name)
    assert array.name == name
    assert array.attrs["units"] == units
    assert array.attrs["long_name"]
    assert array.wavelength.attrs == {"units": "nm", "long_name": "wavelength in air"}
    assert array.values.tolist() == [1.0, 2.0]


def test_signal_is_responsivity_times_spectral_irradiance():
    units = f"({QUANTITIES['responsivity'].units}) * ({QUANTITIES['spectral_irradiance'].units})"
    assert convert(1.0, units, QUANTITIES["signal"].units) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "name", ["wavelength", "spectrum", "source", "part", "layer", "time", "position", "depth", "draw"]
)
def test_the_dimensions_of_the_design_are_there(name):
    assert DIMENSIONS[name]


def test_labelled_takes_several_dimensions_and_scalars():
    array = labelled(
        np.zeros((2, 3)),
        "counts",
        ("spectrum", "wavelength"),
        {"wavelength": [1.0, 2.0, 3.0], "integration_time": 0.02},
    )
    assert array.sizes == {"spectrum": 2, "wavelength": 3}
    assert array.integration_time.item() == 0.02
    assert array.integration_time.attrs["units"] == "s"


def test_labelled_keeps_the_type_of_raw_counts():
    assert spectrum(np.array([1, 2], "uint16"), [1.0, 2.0], "counts").dtype == np.uint16


def test_labelled_says_which_quantities_there_are():
    with pytest.raises(RangeError, match=r'"brightness".*spectral_irradiance'):
        spectrum([1.0], [365.0], "brightness")


def test_a_good_dataset_is_returned_itself():
    dataset = spectrum([1.0, 2.0], [365.0, 366.0], "counts").to_dataset()
    dataset["note"] = ("time", ["of no quantity"])
    assert check(dataset) is dataset


def test_a_quantity_without_a_unit_is_refused():
    with pytest.raises(UnitsError, match=re.escape('signal carries no unit; expected "s-1"')):
        check(xr.Dataset({"signal": ("time", [1.0])}))


def test_a_quantity_in_another_unit_of_its_kind_is_refused():
    message = 'irradiance is in "mW/cm^2"; expected "W m-2"'
    with pytest.raises(UnitsError, match=re.escape(message)):
        check(xr.Dataset({"irradiance": ("time", [1.0], {"units": "mW/cm^2"})}))


def test_a_quantity_in_a_unit_of_another_kind_is_refused_by_name():
    with pytest.raises(UnitsError, match=r'irradiance.*"J m-2".*"W m-2"'):
        check(xr.Dataset({"irradiance": ("time", [1.0], {"units": "J m-2"})}))


def test_all_faults_of_a_dataset_come_together():
    dataset = xr.Dataset({"counts": ("time", [1.0]), "signal": ("time", [1.0])})
    with pytest.raises(UnitsError, match=r"(?s)counts.*signal"):
        check(dataset)


def test_a_coordinate_in_another_unit_is_refused():
    dataset = xr.Dataset(
        {"counts": ("time", [1.0], {"units": "1"})},
        {"integration_time": ("time", [20.0], {"units": "ms"})},
    )
    with pytest.raises(UnitsError, match='integration_time is in "ms"; expected "s"'):
        check(dataset)


@pytest.mark.parametrize(
    ("grid", "units", "message"),
    [
        ([366.0, 365.0], "nm", "counts has wavelengths that run downwards or are not in nm"),
        ([0.365, 0.366], "µm", "counts has wavelengths that run downwards or are not in nm"),
        ([365.0, 365.0], "nm", "counts has wavelengths out of order: 365 nm is followed by 365 nm"),
        ([365.0, np.nan], "nm", "counts has wavelengths that are no finite numbers"),
    ],
)
def test_a_grid_that_is_not_ascending_nanometres_is_refused(grid, units, message):
    dataset = xr.Dataset(
        {"counts": ("wavelength", [1.0, 2.0], {"units": "1"})},
        {"wavelength": ("wavelength", grid, {"units": units})},
    )
    with pytest.raises(GridError, match=re.escape(message)):
        check(dataset)


def test_a_missing_grid_is_refused():
    with pytest.raises(GridError, match="counts has a dimension wavelength without a coordinate"):
        check(xr.Dataset({"counts": ("wavelength", [1.0, 2.0], {"units": "1"})}))


def test_history_grows_by_a_line():
    raw = noted(xr.DataArray(1.0), "read lamp.csv")
    assert noted(raw, "subtracted the dark").attrs["history"] == "read lamp.csv\nsubtracted the dark"


def test_history_goes_on_from_another_array_and_leaves_it_alone():
    raw = noted(xr.DataArray(1.0), "read lamp.csv")
    result = noted(xr.DataArray(2.0), "subtracted the dark", raw)
    assert result.attrs["history"] == "read lamp.csv\nsubtracted the dark"
    assert raw.attrs["history"] == "read lamp.csv"
