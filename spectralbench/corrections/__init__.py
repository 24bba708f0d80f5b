"""From spectrum to spectrum: one module per correction.

They are applied in this order, and the history of every result names those that were:

1. saturation is marked on raw counts, scan by scan (`mask_saturated`), and scans are averaged
   (`average_scans`);
2. the dark of the same integration time and temperature is subtracted (`dark_at`,
   `subtract_dark`);
3. counts are corrected for non-linearity (`correct_linearity`);
4. counts become counts per second (`signal_from_counts`), or several exposures become one
   signal (`merge_exposures`);
5. stray light is taken out (`correct_stray_light`);
6. the bandpass is corrected (`correct_bandpass`), on the grid of the pixels;
7. the responsivity turns signal into spectral irradiance (`irradiance_from_signal`);
8. only then may the grid change (`interpolate`).

The signal of the standard lamp goes the same way up to the responsivity. The units hold to
the order: non-linearity takes counts, stray light counts or signal. The steps are those of
CIE 233:2019, in an order that is common practice, no source.
"""

from spectralbench.corrections.bandpass import correct_bandpass
from spectralbench.corrections.dark import dark_at, dark_weights, subtract_dark
from spectralbench.corrections.frame_checks import check_frame
from spectralbench.corrections.interpolation import interpolate
from spectralbench.corrections.line_finding import find_lines
from spectralbench.corrections.line_matching import match_lines
from spectralbench.corrections.linearity import correct_linearity, fit_linearity
from spectralbench.corrections.merging import merge_exposures
from spectralbench.corrections.noise import NoiseModel, fit_noise, flicker, uncertainty_of_mean
from spectralbench.corrections.responsivity import (
    clear_signal,
    irradiance_from_signal,
    lamp_irradiance,
    responsivity_from_lamp,
    running_median,
    signal_from_counts,
)
from spectralbench.corrections.saturation import looks_saturated, mask_saturated
from spectralbench.corrections.scans import average_scans, leave_out
from spectralbench.corrections.stray_light import correct_stray_light, stray_light_matrix
from spectralbench.corrections.temperature import fit_dark, modelled_dark, sensor_temperature
from spectralbench.corrections.wavelength_scale import fit_wavelength_scale, wavelength_at

__all__ = [
    "NoiseModel",
    "average_scans",
    "check_frame",
    "clear_signal",
    "correct_bandpass",
    "correct_linearity",
    "correct_stray_light",
    "dark_at",
    "dark_weights",
    "find_lines",
    "fit_dark",
    "fit_linearity",
    "fit_noise",
    "fit_wavelength_scale",
    "flicker",
    "interpolate",
    "irradiance_from_signal",
    "lamp_irradiance",
    "leave_out",
    "looks_saturated",
    "mask_saturated",
    "match_lines",
    "merge_exposures",
    "modelled_dark",
    "responsivity_from_lamp",
    "running_median",
    "sensor_temperature",
    "signal_from_counts",
    "stray_light_matrix",
    "subtract_dark",
    "uncertainty_of_mean",
    "wavelength_at",
]
