import math
import re

import pytest

from spectralbench.curves import FromMemoryWarning
from spectralbench.errors import RangeError, UnitsError
from spectralbench.heat import Layer, Material, cycles

PLATE = Material(0.20, 1200, 1200)


def test_units_are_converted_at_the_door():
    one = Material("0.2 W/m/K", "1.2 g/cm^3", "1.2 kJ/kg/K")
    found = (one.conductivity, one.density, one.heat_capacity)
    assert found == pytest.approx((0.2, 1200.0, 1200.0), rel=1e-14)
    layer = Layer("bond line", "50 um", one, "10 cm-1")
    assert (layer.thickness, layer.attenuation) == pytest.approx((5e-5, 1000.0), rel=1e-14)
    assert Layer("metal", 1e-3, one, math.inf).attenuation == math.inf


def test_what_follows_from_them():
    # by hand: 1200 · 1200 = 1.44e6; 0.2 / 1.44e6; √(0.2 · 1.44e6)
    assert PLATE.capacity == 1.44e6
    assert PLATE.diffusivity == pytest.approx(1.38888889e-7, rel=1e-8)
    assert PLATE.effusivity == pytest.approx(536.6563146, rel=1e-9)


def test_a_named_material_warns_wherever_it_is_taken():
    with pytest.warns(FromMemoryWarning, match="thermal properties of soda-lime glass"):
        layer = Layer("cover", "1 mm", "soda-lime glass")
    assert layer.material.density == 2500.0
    assert layer.material.caution.startswith("soda-lime glass, from memory")
    with pytest.warns(FromMemoryWarning, match="thermal properties of PC"):
        assert Material.named("pc").caution.startswith("PC, from memory")
    with pytest.raises(RangeError, match='there is no material "wood"'):
        Layer("part", "1 mm", "wood")


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: Material(0, 1200, 1200), "the conductivity of a material is above 0 W m-1 K-1, not 0"),
        (lambda: Material(1, -1, 1200), "the density of a material is above 0 kg m-3, not -1"),
        (lambda: Material(1, 1, 0), "the heat capacity of a material is above 0 J kg-1 K-1, not 0"),
        (lambda: Layer(" ", 1, PLATE), "a layer has a name that tells it from the others, such as bond line"),
        (lambda: Layer("film", 0, PLATE), 'the thickness of "film" is above 0 m, not 0'),
        (
            lambda: Layer("film", 1, PLATE, -5),
            'the attenuation of "film" is 0 m-1 or more, not -5: list layers in the order in which the light',
        ),
        (
            lambda: cycles(0, 1, 1),
            "a light is on for more than 0 s, off for 0 s or more, and at least once, not",
        ),
        (lambda: cycles("1 s", "-1 s", 2), "not 1 s on, -1 s off, 2 times"),
        (lambda: cycles(1, 1, 0), "not 1 s on, 1 s off, 0 times"),
    ],
)
def test_what_makes_no_sense_is_refused(build, message):
    with pytest.raises(RangeError, match=re.escape(message)):
        build()


def test_a_unit_of_another_kind_is_refused():
    with pytest.raises(UnitsError, match='"s" cannot be converted to "m"'):
        Layer("film", "1 s", PLATE)
