"""What running a source costs. All prices are invented."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.ageing import running_cost
from spectralbench.errors import RangeError, UnitsError


def arc_and_led(arc, led):
    return xr.DataArray([arc, led], {"source": ["arc", "LED"]}, "source")


BOTH = running_cost(
    arc_and_led(300.0, 60.0),
    "2000 h",
    0.25,
    arc_and_led(400.0, 1500.0),
    arc_and_led(3000.0, 20_000.0),
    arc_and_led(12.0, 0.0),
    "5 years",
    mercury=arc_and_led(30.0, 0.0),
    currency="EUR",
)


def test_arc_and_led_side_by_side():
    """By hand: 300 W for 10,000 h are 3,000 kWh; 10,000 h are 3 1/3 lamps of 3,000 h."""
    assert BOTH["energy"].values == pytest.approx([3000 * 3.6e6, 600 * 3.6e6])
    assert BOTH["energy"].attrs["units"] == "J"
    assert BOTH["lamps"].values == pytest.approx([10 / 3, 0.5])
    assert BOTH["energy_cost"].values == pytest.approx([750.0, 150.0])
    assert BOTH["lamp_cost"].values == pytest.approx([4000 / 3, 750.0])
    assert BOTH["disposal_cost"].values == pytest.approx([40.0, 0.0])
    assert BOTH["total"].values == pytest.approx([750 + 4000 / 3 + 40, 900.0])
    assert BOTH["mercury"].values == pytest.approx([100.0, 0.0])
    assert BOTH["source"].values.tolist() == ["arc", "LED"]


def test_an_led_that_draws_80_per_cent_less_costs_a_fifth_of_the_energy():
    """Common practice, no source: an LED system draws about 80 % less power."""
    assert float(BOTH["energy_cost"][1] / BOTH["energy_cost"][0]) == pytest.approx(0.2)


def test_the_currency_is_a_label():
    assert BOTH["total"].attrs == {
        "currency": "EUR",
        "long_name": "cost of energy, lamps and disposal",
    }
    assert BOTH.attrs["currency"] == "EUR"
    assert running_cost(1, 1, 1, 1, 1, currency="sea\nshells").attrs["currency"] == "sea\\nshells"


def test_mercury_is_left_to_local_codes():
    assert "local codes say how to handle, ship and dispose of them" in BOTH.attrs["comment"]
    without = running_cost(60, 2000, 0.25, 1500, 20_000)
    assert "mercury" not in without
    assert "comment" not in without.attrs


def test_hours_with_a_unit_lend_it_to_no_price():
    hours, lasts = (
        xr.DataArray(value, attrs={"units": "h", "comment": "by a counter"}) for value in (2e3, 3e3)
    )
    cost = running_cost(300, hours, 0.25, 400, lasts, currency="EUR", mercury=30)
    plain = running_cost(300, 2e3, 0.25, 400, 3e3, currency="EUR", mercury=30)
    xr.testing.assert_identical(cost, plain)


def test_draws_and_units_go_through():
    price = xr.DataArray(np.linspace(0.2, 0.4, 1000), dims="draw")
    power = arc_and_led(0.3, 0.06).assign_attrs(units="kW")
    lasts = xr.DataArray(np.linspace(2000, 4000, 1000), dims="draw")
    cost = running_cost(power, 2000.0, price, 400.0, lasts, mercury="0.03 g")
    assert cost["total"].sizes == {"source": 2, "draw": 1000}
    assert cost["energy_cost"].values[0] == pytest.approx(600 * price.values)
    assert cost["mercury"].values == pytest.approx(30 * 2000 / lasts.values)


def test_what_lasts_for_ever_is_never_bought():
    cost = running_cost(60, 2000, 0.25, 1500, np.inf, 10)
    assert cost["lamp_cost"].item() == cost["disposal_cost"].item() == 0.0


def test_what_is_not_known_spoils_only_what_hangs_on_it():
    cost = running_cost(60, 2000, 0.25, arc_and_led(400.0, np.nan), 3000)
    assert np.isnan(cost["total"].values).tolist() == [False, True]
    assert not np.isnan(cost["energy_cost"].values).any()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"electrical_power": -5}, "the electrical power is at least 0, not -5 W"),
        ({"energy_price": -0.1}, "the price of a kilowatt-hour is at least 0, not -0.1 EUR"),
        ({"energy_price": "0.3 EUR"}, 'the price of a kilowatt-hour is a number, not "0.3 EUR"'),
        ({"lamp_price": -1}, "the price of a lamp is at least 0, not -1 EUR"),
        ({"disposal_price": -1}, "the price of a disposal is at least 0, not -1 EUR"),
        ({"mercury": -1}, "the amount of mercury is at least 0, not -1 mg"),
        ({"years": -1}, "the number of years is at least 0, not -1"),
        ({"lamp_hours": 0}, "a lamp lasts for more than 0 h, not 0 h"),
        ({"hours_per_year": 9000}, "a year has 0 to 8784 hours of use, not 9000"),
    ],
)
def test_values_that_make_no_sense(changed, said):
    given = {"electrical_power": 60, "hours_per_year": 2000, "energy_price": 0.3, "lamp_price": 9}
    with pytest.raises(RangeError, match=said):
        running_cost(**{**given, "lamp_hours": 3000, "currency": "EUR", **changed})


def test_power_in_joules():
    with pytest.raises(UnitsError, match=r"running_cost\(\): electrical_power: "):
        running_cost("60 J", 2000, 0.3, 9, 3000)
