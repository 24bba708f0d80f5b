"""An invented array spectrometer: bandwidth, dark, noise, quantisation, saturation."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import xarray as xr

from spectralbench.model import labelled
from spectralbench.virtual.truth import FINE, Vector

_NEAR = 120.0  # pixels in which stray light near a line falls to 37 %


def _pixels() -> Vector:
    position = np.linspace(-1, 1, 2048)
    return np.round(500.0 + 252.0 * position - 6.5 * (position**2 - 1), 4)


@dataclass(frozen=True)
class VirtualInstrument:
    """An array spectrometer with a triangular slit function.

    Parameters
    ----------
    wavelength : numpy.ndarray (wavelength,)
        Wavelengths of the pixels [nm].
    bandwidth : float
        Full width of the slit function [nm].
    full_scale : int
        Highest count of the converter.
    offset : float
        Mean count without light and time.
    dark_current : float
        Mean dark count [s-1].
    read_noise : float
        Standard deviation of one reading [counts].
    electrons_per_count : float
        For the shot noise.
    loss : float
        Of a detector that bends: counts due, times this, are the share by which they outnumber the
        counts seen.
    stray : float
        Share of all light that strays, half of it near where it belongs.
    stated : numpy.ndarray (wavelength,), optional
        Wavelengths that its files state, if these are others [nm].
    """

    wavelength: Vector = field(default_factory=_pixels)
    bandwidth: float = 2.0
    full_scale: int = 65535
    offset: float = 1200.0
    dark_current: float = 240.0
    read_noise: float = 11.0
    electrons_per_count: float = 1.6
    loss: float = 0.0
    stray: float = 0.0
    stated: Vector | None = None

    def responsivity(self) -> Vector:
        """Counts per second and spectral irradiance.

        Returns
        -------
        numpy.ndarray (wavelength,)
            Responsivity [m2 nm W-1 s-1].

        Examples
        --------
        >>> bool((VirtualInstrument().responsivity() > 0).all())
        True
        """
        grid = self.wavelength
        bell = np.exp(-0.5 * ((grid - 440) / 140) ** 2)
        return 5.6e5 * (0.05 + bell) * (1 + 0.015 * np.sin(grid / 9.0))

    def seen(self, spectrum: Vector) -> Vector:
        """A spectrum through the slit, at the pixels: what a perfect reduction finds.

        Parameters
        ----------
        spectrum : numpy.ndarray (FINE,)
            The truth.

        Returns
        -------
        numpy.ndarray (wavelength,)
            The same quantity, widened by the slit function.

        Examples
        --------
        >>> flat = VirtualInstrument().seen(np.ones(FINE.size))
        >>> bool(np.allclose(flat, 1))
        True
        """
        step = FINE[1] - FINE[0]
        reach = int(np.ceil(self.bandwidth / step))
        slit = np.clip(1 - np.abs(np.arange(-reach, reach + 1) * step) / self.bandwidth, 0, None)
        padded = np.pad(spectrum, reach, mode="edge")
        widened = np.convolve(padded, slit / slit.sum(), mode="valid")
        return np.interp(self.wavelength, FINE, widened)

    def frame(
        self,
        spectrum: Vector | None,
        integration_time: float,
        scans: int,
        random: np.random.Generator,
        time: str | None = None,
    ) -> xr.DataArray:
        """Raw counts of several scans.

        Parameters
        ----------
        spectrum : numpy.ndarray (FINE,) or None
            Spectral irradiance at the entrance [W m-2 nm-1]; None for a dark.
        integration_time : float
            Of one scan [s].
        scans : int
            How many.
        random : numpy.random.Generator
            Where the noise comes from.
        time : str, optional
            When it was taken, as ISO 8601.

        Returns
        -------
        xarray.DataArray (spectrum, wavelength)
            Whole counts [1], cut off at the full scale.

        Examples
        --------
        >>> dark = VirtualInstrument().frame(None, 0.002, 2, np.random.default_rng(1))
        >>> dark.sizes["spectrum"]
        2
        """
        pixel = np.arange(self.wavelength.size)
        dark = self.offset + 25 * np.sin(pixel / 61.0) + self.dark_current * integration_time
        light = np.zeros(pixel.size)
        if spectrum is not None:
            light = self._strayed(self.seen(spectrum) * self.responsivity()) * integration_time
            light = light / (1 + self.loss * light)
        shot = np.sqrt((light + self.dark_current * integration_time) / self.electrons_per_count)
        noise = random.standard_normal((scans, pixel.size)) * np.hypot(self.read_noise, shot)
        counts = np.clip(np.round(dark + light + noise), 0, self.full_scale).astype(np.int64)
        axis = self.wavelength if self.stated is None else self.stated
        coordinates = {"wavelength": axis, "integration_time": integration_time}
        if time is not None:
            coordinates["time"] = np.datetime64(time, "ns")
        return labelled(counts, "counts", ("spectrum", "wavelength"), coordinates)

    def _strayed(self, rates: Vector) -> Vector:
        """Counts per second after some of the light has gone astray inside."""
        if not self.stray:
            return rates
        away = np.abs(np.arange(1 - rates.size, rates.size))
        near = np.exp(-away / _NEAR)
        thrown = self.stray * (near / near.sum() + 1 / away.size) / 2
        return rates * (1 - self.stray) + np.convolve(thrown, rates, mode="valid")
