"""Heat of the reaction itself: its amount, its rate over an exposure, and its upper bound."""

from __future__ import annotations

import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.heat.materials import Layer, Material, properties
from spectralbench.model import noted
from spectralbench.units import declares

Amount = xr.DataArray | float | str


@declares("J kg-1", enthalpy="J mol-1", content="mol kg-1", conversion="1")
def reaction_heat(enthalpy: Amount, content: Amount, conversion: Amount = 1.0) -> xr.DataArray:
    """Heat that a reaction sets free.

    Parameters
    ----------
    enthalpy : float, str or xarray.DataArray (...)
        Heat of one mole of reacting groups [J mol-1].
    content : float, str or xarray.DataArray (...)
        Groups in the adhesive [mol kg-1].
    conversion : float, str or xarray.DataArray (...)
        Share of them that reacts [1]; all, if nothing else is known.

    Returns
    -------
    xarray.DataArray (...)
        Heat by mass [J kg-1].

    Raises
    ------
    RangeError
        If one is negative, or the conversion exceeds 1.

    Examples
    --------
    >>> round(reaction_heat("86 kJ/mol", "5 mol/kg", 0.8).item(), 6)
    344000.0
    """
    heat, groups, share = xr.DataArray(enthalpy), xr.DataArray(content), xr.DataArray(conversion)
    if (heat < 0).any() or (groups < 0).any():
        raise RangeError(
            "heat and content of reacting groups are 0 or more, not "
            f"{float(heat.min()):g} J/mol and {float(groups.min()):g} mol/kg"
        )
    if not ((share >= 0) & (share <= 1) | share.isnull()).all():
        raise RangeError(f"a conversion lies in 0–1, not at {float(share.min()):g} to {float(share.max()):g}")
    result = xr.DataArray(heat * groups * share).rename("reaction_heat").drop_attrs(deep=False)
    return result.assign_attrs(long_name="heat of the reaction by mass")


@declares("K", heat="J kg-1")
def adiabatic_rise(heat: Amount, material: Material | str) -> xr.DataArray:
    """Temperature rise of an adhesive that keeps all the heat of its reaction.

    Parameters
    ----------
    heat : float, str or xarray.DataArray (...)
        Heat by mass [J kg-1], such as `reaction_heat` gives.
    material : Material or str
        The adhesive, or the name of a reference material.

    Returns
    -------
    xarray.DataArray (...)
        Temperature rise [K]: an upper bound of what the reaction adds, reached only if it is over
        before any warmth gets away.

    Raises
    ------
    RangeError
        If the heat is negative.

    Examples
    --------
    >>> heat = reaction_heat("86 kJ/mol", "5 mol/kg", 0.8)
    >>> round(adiabatic_rise(heat, Material(0.19, 1100, 1800)).item(), 1)
    191.1
    """
    amount = _not_negative(heat)
    result: xr.DataArray = amount / float(properties(material).heat_capacity)
    result = result.rename("temperature_rise").assign_attrs(long_name="adiabatic temperature rise")
    return noted(result, "temperature rise of a reaction that keeps its heat", amount)


@declares("W m-2", heat="J kg-1", duration="s")
def reaction_flux(heat: Amount, layer: Layer, duration: Amount) -> xr.DataArray:
    """Heat of a reaction by area and time, as if it ran evenly over a time.

    Parameters
    ----------
    heat : float, str or xarray.DataArray (...)
        Heat by mass [J kg-1].
    layer : Layer
        The bond line.
    duration : float, str or xarray.DataArray (...)
        How long the reaction runs [s]. Over the whole exposure, its heat simply adds to that of
        the light in this layer. Reactions are faster at first: a shorter time, with a
        `thermal_response` of its own, shows how much that matters, and `adiabatic_rise` bounds it.

    Returns
    -------
    xarray.DataArray (...)
        Heat set free in the layer [W m-2].

    Raises
    ------
    RangeError
        If the heat is negative, or the duration not positive.

    Examples
    --------
    >>> bond = Layer("bond line", "100 um", Material(0.19, 1100, 1800))
    >>> round(reaction_flux(344000.0, bond, "10 s").item(), 6)
    3784.0
    """
    amount, time = _not_negative(heat), xr.DataArray(duration).drop_attrs(deep=False)
    if not ((time > 0) | time.isnull()).all():
        raise RangeError(f"a reaction takes more than 0 s, not {float(time.min()):g} s")
    mass = float(properties(layer.material).density) * float(layer.thickness)
    result: xr.DataArray = amount * mass / time
    result = result.rename("absorbed_irradiance").assign_attrs(
        long_name="heat of the reaction by area and time"
    )
    return noted(result, "heat of the reaction, evenly over its time", amount)


def _not_negative(heat: Amount) -> xr.DataArray:
    amount = xr.DataArray(heat)
    if (amount < 0).any():
        raise RangeError(f"the heat of a reaction is 0 J/kg or more, not {float(amount.min()):g} J/kg")
    return amount
