"""From spectrum to spectrum: one module per correction.

They are applied in this order: saturation is marked on raw counts, scan by scan; scans are
averaged; the dark is subtracted; counts become counts per second; the responsivity turns
them into spectral irradiance.
"""

from spectralbench.corrections.dark import dark_at, subtract_dark
from spectralbench.corrections.responsivity import (
    clear_signal,
    irradiance_from_signal,
    lamp_irradiance,
    responsivity_from_lamp,
    running_median,
    signal_from_counts,
)
from spectralbench.corrections.saturation import looks_saturated, mask_saturated
from spectralbench.corrections.scans import average_scans

__all__ = [
    "average_scans",
    "clear_signal",
    "dark_at",
    "irradiance_from_signal",
    "lamp_irradiance",
    "looks_saturated",
    "mask_saturated",
    "responsivity_from_lamp",
    "running_median",
    "signal_from_counts",
    "subtract_dark",
]
