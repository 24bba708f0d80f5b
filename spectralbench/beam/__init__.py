"""The beam on the part: distance, spot, a part that travels, several heads together.

Everything here starts from what was measured across a beam or along its axis. Whoever measures
there stands near light that injures eyes and skin before it is felt: shield the beam, wear
protection that is rated for its wavelengths, and follow the local rules.

A light guide or a lens is a curve of transmittance like that of any other layer, and goes with
the part's own into `spectralbench.optics.through`: ``through(light, guide, lens, part)``.
"""

from spectralbench.beam.bonds import share_on_disc, share_on_strip, uniformity
from spectralbench.beam.distances import distance_for, irradiance_at
from spectralbench.beam.heads import exposure_together, irradiance_together
from spectralbench.beam.spots import beam_profile, spot
from spectralbench.beam.travel import speed_for_exposure, time_above, travelling_exposure

__all__ = [
    "beam_profile",
    "distance_for",
    "exposure_together",
    "irradiance_at",
    "irradiance_together",
    "share_on_disc",
    "share_on_strip",
    "speed_for_exposure",
    "spot",
    "time_above",
    "travelling_exposure",
    "uniformity",
]
