"""What a TM-27 file can say of its spectrum: fields, in the order in which they are written."""

from __future__ import annotations

ROOT = "IESTM2714"
VERSION = "1.0"
NAMESPACES = ("http://www.ies.org/iestm2714", "iestm2714")  # the first is written
WAVELENGTH, ROW = "wavelength", "SpectralData"

HEADER = (
    *("Manufacturer", "CatalogNumber", "Description", "DocumentCreator", "UniqueIdentifier"),
    *("MeasurementEquipment", "Laboratory", "ReportNumber", "ReportDate", "DocumentCreationDate", "Comments"),
)
DISTRIBUTION = (
    *("SpectralQuantity", "BandwidthFWHM", "BandwidthCorrected", "ReflectionGeometry"),
    "TransmissionGeometry",
)
REQUIRED = ("Description", "DocumentCreator", "DocumentCreationDate", "SpectralQuantity")

QUANTITIES = {  # of the package, by the word for them; the other words have none
    "irradiance": "spectral_irradiance",
    "transmittance": "transmittance",
    "reflectance": "reflectance",
}
WORDS = {
    "SpectralQuantity": (
        *("flux", "absorptance", "transmittance", "reflectance", "intensity", "irradiance", "radiance"),
        *("exitance", "R-Factor", "T-Factor", "relative", "other"),
    ),
    "ReflectionGeometry": (
        *("di:8", "de:8", "8:di", "8:de", "d:d", "d:0", "45a:0", "45c:0", "0:45a", "45x:0", "0:45x", "other"),
    ),
    "TransmissionGeometry": ("0:0", "di:0", "de:0", "0:di", "0:de", "d:d", "other"),
    "BandwidthCorrected": ("true", "false"),
}
ABSENT = "None"  # what some programs write for a field that they do not have
