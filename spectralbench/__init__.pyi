from spectralbench.ageing import fit_ageing, hours_until, output_at
from spectralbench.archives import load, save
from spectralbench.benches import compare, open_bench, reduce_bench
from spectralbench.corrections import (
    average_scans,
    dark_at,
    irradiance_from_signal,
    lamp_irradiance,
    mask_saturated,
    responsivity_from_lamp,
    signal_from_counts,
    subtract_dark,
)
from spectralbench.cure import absorbed_light, absorbed_photons, initiator_absorbance
from spectralbench.draws import draw, summarize
from spectralbench.errors import (
    BenchError,
    Fault,
    GridError,
    RangeError,
    ReadError,
    SpectralBenchError,
    UnitsError,
)
from spectralbench.model import spectrum
from spectralbench.optics import (
    absorbance,
    internal_transmittance,
    scale_thickness,
    slab_transmittance,
    through,
    transmittance,
)
from spectralbench.readers import read, read_many, write_spectra, write_tm27
from spectralbench.reduction import (
    band_irradiance,
    centre_wavelength,
    centroid_wavelength,
    fwhm,
    peak_wavelength,
    photon_irradiance,
    weighted_irradiance,
)
from spectralbench.virtual import write_demo_bench

__version__: str

__all__ = [
    "BenchError",
    "Fault",
    "GridError",
    "RangeError",
    "ReadError",
    "SpectralBenchError",
    "UnitsError",
    "__version__",
    "absorbance",
    "absorbed_light",
    "absorbed_photons",
    "average_scans",
    "band_irradiance",
    "centre_wavelength",
    "centroid_wavelength",
    "compare",
    "dark_at",
    "draw",
    "fit_ageing",
    "fwhm",
    "hours_until",
    "initiator_absorbance",
    "internal_transmittance",
    "irradiance_from_signal",
    "lamp_irradiance",
    "load",
    "mask_saturated",
    "open_bench",
    "output_at",
    "peak_wavelength",
    "photon_irradiance",
    "read",
    "read_many",
    "reduce_bench",
    "responsivity_from_lamp",
    "save",
    "scale_thickness",
    "signal_from_counts",
    "slab_transmittance",
    "spectrum",
    "subtract_dark",
    "summarize",
    "through",
    "transmittance",
    "weighted_irradiance",
    "write_demo_bench",
    "write_spectra",
    "write_tm27",
]
