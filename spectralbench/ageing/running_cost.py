"""What it costs to run a source: energy, lamps, disposal. Every price is the user's own."""

from __future__ import annotations

import xarray as xr

from spectralbench.ageing.relamping import checked_hours
from spectralbench.errors import RangeError, printable, quote
from spectralbench.units import convert, declares

_CAUTION = (
    "lamps with mercury are commonly hazardous waste, hot ones may burst, and their vapour is poisonous: "
    "local codes say how to handle, ship and dispose of them"
)


@declares(electrical_power="W", hours_per_year="h", lamp_hours="h", years="year", mercury="mg")
def running_cost(
    electrical_power: xr.DataArray | float | str,
    hours_per_year: xr.DataArray | float | str,
    energy_price: xr.DataArray | float,
    lamp_price: xr.DataArray | float,
    lamp_hours: xr.DataArray | float | str,
    disposal_price: xr.DataArray | float = 0.0,
    years: float | str = 1.0,
    mercury: xr.DataArray | float | str | None = None,
    currency: str = "",
) -> xr.Dataset:
    """Add up what running a source costs; along ``source``, arcs and LEDs stand side by side.

    Parameters
    ----------
    electrical_power : xarray.DataArray (...), float or str
        Electrical power while it is on [W].
    hours_per_year : xarray.DataArray (...), float or str
        Hours that it is on in a year [h]. An arc burns between exposures too; an LED need not.
    energy_price : xarray.DataArray (...) or float
        Price of a kilowatt-hour [currency].
    lamp_price : xarray.DataArray (...) or float
        Price of a lamp or an LED head, with the work of changing it [currency].
    lamp_hours : xarray.DataArray (...), float or str
        Hours that one lasts [h]; may be infinite.
    disposal_price : xarray.DataArray (...) or float
        Price of disposing of one [currency].
    years : float or str
        Time over which it is added up [year].
    mercury : xarray.DataArray (...), float or str, optional
        Mercury in one lamp [mg]; 0 for an LED.
    currency : str
        What prices are in; a label and nothing more.

    Returns
    -------
    xarray.Dataset
        ``energy`` (...) [J]; ``lamps`` (...) [1] that are used up; ``energy_cost``, ``lamp_cost``,
        ``disposal_cost`` and ``total`` (...) in the currency; ``mercury`` (...) [mg] in the lamps
        that are used up.

    Raises
    ------
    RangeError
        If a value is negative, a lamp does not last, or a year has too many hours.

    Notes
    -----
    Lamps count by the share of their life that is used up: what two sources cost does not hang on
    whether the last change falls before or after the end. `relamp_plan` counts whole ones.
    Nothing is discounted, and no price rises.

    Examples
    --------
    >>> arc_and_led = lambda *values: xr.DataArray(list(values), {"source": ["arc", "LED"]}, "source")
    >>> cost = running_cost(arc_and_led(300.0, 60.0), "2000 h", 0.25, arc_and_led(400.0, 1500.0),
    ...                     arc_and_led(3000.0, 20000.0), currency="EUR")  # invented prices
    >>> cost["energy_cost"].values.tolist(), cost["total"].values.round(2).tolist()
    ([150.0, 30.0], [416.67, 180.0])
    """
    given = {
        "electrical power": (electrical_power, "W"),
        "price of a kilowatt-hour": (energy_price, currency),
        "price of a lamp": (lamp_price, currency),
        "price of a disposal": (disposal_price, currency),
        "amount of mercury": (0.0 if mercury is None else mercury, "mg"),
        "number of years": (float(years), ""),
    }
    arrays = {name: _at_least_0(name, value, units) for name, (value, units) in given.items()}
    power, energy_each, lamp_each, disposal_each, mercury_each, time = arrays.values()
    lasting = xr.DataArray(lamp_hours).drop_attrs(deep=False)
    if (lasting <= 0).any():
        raise RangeError(f"a lamp lasts for more than 0 h, not {float(lasting.min()):g} h")
    hours = checked_hours(xr.DataArray(hours_per_year)).drop_attrs(deep=False) * time
    energy = power * hours * float(convert(1.0, "h", "s"))
    lamps = hours / lasting
    costs = {
        "energy_cost": (energy / float(convert(1.0, "kWh", "J")) * energy_each, "cost of energy"),
        "lamp_cost": (lamps * lamp_each, "cost of lamps"),
        "disposal_cost": (lamps * disposal_each, "cost of disposal"),
    }
    total = costs["energy_cost"][0] + costs["lamp_cost"][0] + costs["disposal_cost"][0]
    costs["total"] = (total, "cost of energy, lamps and disposal")
    variables = {
        "energy": energy.assign_attrs(units="J", long_name="electrical energy"),
        "lamps": lamps.assign_attrs(units="1", long_name="lamps used up, shares counted"),
    }
    for name, (array, words) in costs.items():
        variables[name] = array.assign_attrs(currency=printable(currency), long_name=words)
    result = xr.Dataset(attrs={"years": float(years), "currency": printable(currency)})
    if mercury is not None:
        amount = lamps * mercury_each
        variables["mercury"] = amount.assign_attrs(units="mg", long_name="mercury in the lamps used up")
        result.attrs["comment"] = _CAUTION
    return result.assign(variables)


def _at_least_0(name: str, value: xr.DataArray | float | str, units: str) -> xr.DataArray:
    """A value without its attributes, and not negative."""
    array = xr.DataArray(value).drop_attrs(deep=False)
    if array.dtype.kind not in "fiu":
        raise RangeError(f"the {name} is a number, not {quote(value)}")
    if (array < 0).any():
        raise RangeError(f"the {name} is at least 0, not {f'{float(array.min()):g} {units}'.strip()}")
    return array
