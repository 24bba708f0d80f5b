import re

import numpy as np
import pytest

from spectralbench.curves import load, names
from spectralbench.errors import RangeError
from spectralbench.units import ascending

STANDINGS = {"published", "from memory", "derived", "invented"}


def test_the_curves_of_the_design_are_there():
    assert {"actinic", "blue_light", "erythema"} <= set(names())
    assert list(names()) == sorted(set(names()))


@pytest.mark.parametrize("name", names())
def test_a_curve_says_where_it_comes_from(name):
    attrs = load(name).attrs
    for key in ("title", "source", "standing", "licence", "date", "digits"):
        assert attrs[key].strip(), key
    assert attrs["standing"] in STANDINGS
    assert attrs["interpolation"] in ("linear", "logarithmic")
    assert attrs["units"]


@pytest.mark.parametrize("name", names())
def test_a_curve_is_usable(name):
    curve = load(name)
    assert curve.name == name
    assert curve.dims == ("wavelength",)
    assert curve.wavelength.attrs["units"] == "nm"
    assert ascending(curve) is curve
    assert np.isfinite(curve).all()
    assert (curve >= 0).all()


@pytest.mark.parametrize("name", ["actinic", "blue_light", "erythema"])
def test_a_hazard_function_has_its_maximum_at_1(name):
    assert load(name).max() == 1.0


def test_a_loaded_curve_belongs_to_the_caller():
    mine = load("actinic")
    mine[:] = -1.0
    mine.attrs["title"] = "spoilt"
    mine.coords["wavelength"].attrs["units"] = "spoilt"
    again = load("actinic")
    assert (again >= 0).all()
    assert again.attrs["title"] != "spoilt"
    assert again.wavelength.attrs["units"] == "nm"


@pytest.mark.parametrize("name", ["tan", "", "../reference_curves/actinic", "actinic.csv"])
def test_an_unknown_curve_is_quoted_and_the_known_ones_are_named(name):
    message = f'there is no reference curve "{name}"; there are {", ".join(names())}'
    with pytest.raises(RangeError, match=re.escape(message)):
        load(name)
