"""What the light does in the bond line, and how far an exposure can be carried over.

Nothing here says that an adhesive is cured. Light is counted where it is absorbed; a depth is
the depth of gel in somebody's own test; a time is the one that makes two exposures alike under
a rule that is named. The rest is for a trial.
"""

from spectralbench.cure.absorption import (
    absorbed_light,
    absorbed_photons,
    absorbed_share,
    initiator_absorbance,
)
from spectralbench.cure.bleaching import bleaching_by_depth, photobleaching
from spectralbench.cure.competition import photons_by_initiator, shares_by_absorber
from spectralbench.cure.depth import absorbed_profile, front_and_back
from spectralbench.cure.inhibition import inhibition_time, threshold_irradiance, wasted
from spectralbench.cure.reciprocity import carried_over_time, fit_reciprocity
from spectralbench.cure.working_curve import cure_depth, exposure_for_depth, fit_working_curve

__all__ = [
    "absorbed_light",
    "absorbed_photons",
    "absorbed_profile",
    "absorbed_share",
    "bleaching_by_depth",
    "carried_over_time",
    "cure_depth",
    "exposure_for_depth",
    "fit_reciprocity",
    "fit_working_curve",
    "front_and_back",
    "inhibition_time",
    "initiator_absorbance",
    "photobleaching",
    "photons_by_initiator",
    "shares_by_absorber",
    "threshold_irradiance",
    "wasted",
]
