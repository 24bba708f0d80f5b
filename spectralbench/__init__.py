"""From raw spectrometer and radiometer files to a reasoned short list of light sources.

In the examples of docstrings, ``np`` and ``xr`` are NumPy and xarray, ``demo`` is the folder of a demo bench
(from `write_demo_bench`), and ``reduced`` is what `reduce_bench` gives of it.

Names are loaded when they are first used, so that importing the package costs next to
nothing and the command line answers at once. ``__init__.pyi`` says the same to type checkers.
"""

TYPE_CHECKING = False  # type checkers take it for true; importing typing would cost more than all else
if TYPE_CHECKING:
    from typing import Any

_HOMES = {
    "archives": ("load", "save"),
    "benches": (
        "adjust",
        "compare",
        "open_bench",
        "pack",
        "provenance",
        "reduce_bench",
        "start_bench",
        "sweep",
        "unpack",
        "verify",
    ),
    "ageing": (
        "extrapolation",
        "fit_ageing",
        "fit_two_stage",
        "headroom",
        "hours_held",
        "hours_until",
        "level_plan",
        "output_at",
        "relamp_plan",
        "running_cost",
        "setting_for",
        "split_at_relamps",
        "updated",
    ),
    "beam": (
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
    ),
    "corrections": (
        "average_scans",
        "check_frame",
        "correct_bandpass",
        "correct_linearity",
        "correct_stray_light",
        "dark_at",
        "find_lines",
        "fit_linearity",
        "fit_wavelength_scale",
        "interpolate",
        "irradiance_from_signal",
        "lamp_irradiance",
        "leave_out",
        "mask_saturated",
        "match_lines",
        "merge_exposures",
        "responsivity_from_lamp",
        "signal_from_counts",
        "stray_light_matrix",
        "subtract_dark",
    ),
    "cure": (
        "absorbed_light",
        "absorbed_photons",
        "absorbed_profile",
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
    ),
    "draws": ("draw", "summarize"),
    "errors": (
        "BenchError",
        "Fault",
        "GridError",
        "RangeError",
        "ReadError",
        "SpectralBenchError",
        "UnitsError",
    ),
    "heat": (
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
    ),
    "model": ("spectrum",),
    "optics": (
        "absorbance",
        "haze",
        "ideal_filter",
        "internal_transmittance",
        "predict_thickness",
        "scale_thickness",
        "slab_transmittance",
        "stack",
        "through",
        "transmittance",
        "transmittance_limits",
        "wetted",
    ),
    "radiometer": (
        "Head",
        "Reading",
        "comparable",
        "corrected_reading",
        "mismatch_factor",
        "out_of_band_share",
        "reconcile",
        "spectral_match_index",
    ),
    "readers": ("read", "read_many", "write_spectra", "write_tm27"),
    "reports.page": ("write_report",),
    "reports.verdicts": ("write_verdicts",),
    "reduction": (
        "band_irradiance",
        "centre_wavelength",
        "centroid_wavelength",
        "fwhm",
        "peak_wavelength",
        "photon_irradiance",
        "weighted_irradiance",
    ),
    "safety": ("at_distance", "exposure_limits"),
    "units": ("in_unit",),
    "virtual": ("write_demo_bench",),
}
_MODULES = ("pictures",)  # whole ones, whose functions are called by their module's name, too
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = ["__version__", *_HOME_OF, *_MODULES]


def __getattr__(name: str) -> "Any":
    if name == "__version__":
        from importlib.metadata import version

        return version("spectralbench")
    if name in _HOME_OF:
        import importlib

        value = getattr(importlib.import_module(f"spectralbench.{_HOME_OF[name]}"), name)
        globals()[name] = value
        return value
    if name in _MODULES:
        import importlib

        return importlib.import_module(f"spectralbench.{name}")
    raise AttributeError(f"module 'spectralbench' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
