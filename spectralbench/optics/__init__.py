"""Light through matter: transmittance, slabs, stacks, other thicknesses, filters, haze.

Layers are incoherent: reflections inside add as energies, not as waves. That holds for every
part thicker than a few hundredths of a millimetre under an ordinary lamp.
"""

from spectralbench.optics.filters import ideal_filter, taken, through
from spectralbench.optics.measured import absorbance, transmittance
from spectralbench.optics.scattering import haze, transmittance_limits
from spectralbench.optics.slabs import internal_transmittance, slab_transmittance, wetted
from spectralbench.optics.stacks import stack
from spectralbench.optics.thickness import predict_thickness, scale_thickness

__all__ = [
    "absorbance",
    "haze",
    "ideal_filter",
    "internal_transmittance",
    "predict_thickness",
    "scale_thickness",
    "slab_transmittance",
    "stack",
    "taken",
    "through",
    "transmittance",
    "transmittance_limits",
    "wetted",
]
