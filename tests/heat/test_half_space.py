import re

import numpy as np
import pytest
import xarray as xr

from spectralbench.curves import FromMemoryWarning
from spectralbench.errors import RangeError, UnitsError
from spectralbench.heat import Material, surface_temperature_rise

PLATE = Material(0.20, 1200, 1200)


def test_all_arguments_broadcast():
    flux = xr.DataArray([1.0, 2.0], {"source": ["arc", "led"]}, "source", attrs={"units": "mW/cm^2"})
    depth = xr.DataArray([0.0, 1.0], {"depth": [0.0, 1.0]}, "depth", attrs={"units": "mm"})
    found = surface_temperature_rise(flux, [0.0, 5.0, 10.0], PLATE, depth)
    assert found.sizes == {"source": 2, "time": 3, "depth": 2}
    assert found.name == "temperature_rise"
    assert found.attrs["units"] == "K"
    alone = surface_temperature_rise("2 mW/cm^2", "10 s", PLATE, "1 mm")
    assert found.isel(source=1, time=2, depth=1).item() == pytest.approx(alone.item(), rel=1e-14)
    assert (found.isel(time=0) == 0).all()


def test_what_is_unknown_stays_unknown_and_nothing_else_does():
    found = surface_temperature_rise(xr.DataArray([np.nan, 1.0], dims="draw"), "1 s", PLATE)
    assert np.isnan(found.values).tolist() == [True, False]
    found = surface_temperature_rise(1.0, [np.nan, 1.0], PLATE)
    assert np.isnan(found.values).tolist() == [True, False]
    found = surface_temperature_rise(1.0, 0.0, PLATE, xr.DataArray([np.nan, 1.0], dims="draw"))
    assert np.isnan(found.values).tolist() == [True, False]


def test_the_history_goes_on_from_that_of_the_heat():
    attrs = {"units": "W m-2", "history": "absorbed"}
    time = xr.DataArray(
        [1.0], dims="time", attrs={"units": "s", "history": "counted", "comment": "by a clock"}
    )
    found = surface_temperature_rise(xr.DataArray(1.0, attrs=attrs), time, PLATE)
    assert found.attrs["history"].startswith("absorbed\ntemperature rise of a half-space")
    assert "by a clock" not in found.attrs.values()


def test_history_says_what_was_left_out():
    assert surface_temperature_rise(1.0, 1.0, PLATE).attrs["history"] == (
        "temperature rise of a half-space, absorbed at the surface, without losses"
    )
    assert (
        "face of two half-spaces" in surface_temperature_rise(1.0, 1.0, PLATE, backing=PLATE).attrs["history"]
    )


def test_a_material_from_memory_warns_and_leaves_its_caution():
    with pytest.warns(FromMemoryWarning, match="thermal properties of PMMA: these numbers are FROM MEMORY"):
        found = surface_temperature_rise(1.0, 1.0, "PMMA", backing=PLATE)
    assert found.attrs["caution"].startswith("PMMA, from memory")
    assert "caution" not in surface_temperature_rise(1.0, 1.0, PLATE).attrs


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"time": [1.0, -2.0]}, "a time is 0 s or more, not -2 s"),
        ({"depth": -1e-3}, "a depth is 0 m or more, not -0.001 m"),
        ({"exposure": []}, "an exposure has at least one interval: give start and stop [s], or leave it out"),
        ({"exposure": "0 s"}, "an exposure is on from 0 s to 0 s, after 0 s: each interval starts at 0 s or"),
        ({"exposure": [(0, 2), (1, 3)]}, "an exposure is on from 1 s to 3 s, after 2 s: each interval"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        surface_temperature_rise(**{"flux": 1.0, "time": 1.0, "material": PLATE, **arguments})


def test_a_dose_is_no_flux():
    with pytest.raises(UnitsError, match=r'flux: "J/cm\^2" cannot be converted to "W m-2"'):
        surface_temperature_rise("1 J/cm^2", "1 s", PLATE)
