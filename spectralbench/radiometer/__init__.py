"""Band-limited truth: what a broadband radiometer says, and of which light.

A head weighs light with its own response and states it in terms of the source that it was
calibrated with. Under another source its reading is a number without a meaning, until it is
corrected with the head's response and both spectra.
"""

from spectralbench.radiometer.agreement import reconcile
from spectralbench.radiometer.heads import Head
from spectralbench.radiometer.mismatch import mismatch_factor, out_of_band_share, spectral_match_index
from spectralbench.radiometer.readings import Reading, comparable, corrected_reading

__all__ = [
    "Head",
    "Reading",
    "comparable",
    "corrected_reading",
    "mismatch_factor",
    "out_of_band_share",
    "reconcile",
    "spectral_match_index",
]
