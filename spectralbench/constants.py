"""Physical constants, taken from ``scipy.constants`` (CODATA); none is retyped here."""

from scipy.constants import N_A, Planck, elementary_charge, speed_of_light, zero_Celsius

PHOTON_ENERGY_LENGTH: float = Planck * speed_of_light
"""Energy of one photon times its wavelength [J m]."""

MOLAR_PHOTON_ENERGY_LENGTH: float = N_A * PHOTON_ENERGY_LENGTH
"""Energy of one mole of photons times their wavelength [J m mol-1]."""

MICROMOLES_PER_JOULE_NANOMETRE: float = 1e6 * 1e-9 / MOLAR_PHOTON_ENERGY_LENGTH
"""Photons in a joule of light, per nanometre of its wavelength [µmol J-1 nm-1]."""

FREQUENCY_LENGTH: float = 1e9 * speed_of_light
"""Frequency of light times its wavelength in vacuum [Hz nm]."""

ELECTRONVOLT_NANOMETRES: float = 1e9 * PHOTON_ENERGY_LENGTH / elementary_charge
"""Energy of one photon times its wavelength in vacuum [eV nm]."""

ZERO_CELSIUS: float = zero_Celsius
"""Where degrees Celsius count from [K]."""
