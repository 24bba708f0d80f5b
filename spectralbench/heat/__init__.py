"""Light that becomes heat: where it is absorbed, and how warm parts and bond line get.

Absorbed light that no initiator uses heats the layer that absorbs it; the reaction adds its own
heat. Conduction is linear in heat, so a stack of layers is solved once, for 1 W m-2 in each of
them (`thermal_response`), and any number of sources and draws is a product with it.

Heat runs along one direction only, through layers in perfect contact, with properties that do not
change with temperature; losses are proportional to the rise. A spot smaller than the stack is
thick stays cooler than this says; a gap with air in it makes what lies in front of it hotter.

A computed temperature is a reason to measure one, never a leave to touch. Parts, fixtures and
guards get hot, and stay hot after the light is off; what protects people there, and against the
light itself, is laid down by the rules of the place and by those responsible for them.
"""

from spectralbench.heat.absorption import heat_by_layer
from spectralbench.heat.conduction import thermal_response
from spectralbench.heat.exposures import cycles
from spectralbench.heat.half_space import surface_temperature_rise
from spectralbench.heat.materials import Layer, Material
from spectralbench.heat.peaks import peak_temperature, temperature_rise
from spectralbench.heat.reaction import adiabatic_rise, reaction_flux, reaction_heat

__all__ = [
    "Layer",
    "Material",
    "adiabatic_rise",
    "cycles",
    "heat_by_layer",
    "peak_temperature",
    "reaction_flux",
    "reaction_heat",
    "surface_temperature_rise",
    "temperature_rise",
    "thermal_response",
]
