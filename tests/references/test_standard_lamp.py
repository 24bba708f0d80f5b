"""A lamp certificate between its points: Planck's law as the lamp, astropy as the judge of it."""

from __future__ import annotations

import astropy
import astropy.units as u
import numpy as np
import pytest
from astropy.modeling.models import BlackBody

import spectralbench as sb

FINE = np.arange(250.0, 800.5, 0.5)


def planck(kelvin, wavelength):
    radiance = BlackBody(kelvin * u.K, scale=1.0 * u.W / (u.m**2 * u.nm * u.sr))(wavelength * u.nm)
    return 1e-4 * np.pi * radiance.value


@pytest.mark.parametrize("kelvin", [2856.0, 3050.0, 3200.0])
def test_a_black_body_is_found_between_certified_points(kelvin, agrees):
    """Steps of 10 nm in the ultraviolet and 50 nm above, as certificates are printed."""
    points = np.concatenate([np.arange(250.0, 400.0, 10.0), np.arange(400.0, 801.0, 50.0)])
    certificate = sb.spectrum(planck(kelvin, points), points, "spectral_irradiance")
    found = sb.lamp_irradiance(certificate, FINE)
    np.testing.assert_allclose(found, planck(kelvin, FINE), rtol=2e-6)
    for wavelength in (254.5, 365.5, 435.5, 546.0, 775.0):
        agrees(
            f"lamp of {kelvin:g} K at {wavelength} nm [W m-2 nm-1]",
            found.sel(wavelength=wavelength),
            planck(kelvin, wavelength).item(),
            f"astropy BlackBody {astropy.__version__}",
            5,
            "package",
        )


def test_straight_lines_between_the_points_would_not_do():
    """What the rule is for: on the same certificate, linear interpolation is wrong by per cents."""
    points = np.arange(250.0, 801.0, 50.0)
    linear = np.interp(FINE, points, planck(3050.0, points))
    assert np.max(np.abs(linear / planck(3050.0, FINE) - 1)) > 0.2
    certificate = sb.spectrum(planck(3050.0, points), points, "spectral_irradiance")
    np.testing.assert_allclose(sb.lamp_irradiance(certificate, FINE), planck(3050.0, FINE), rtol=1e-5)


def test_inverse_square_law(agrees):
    """From 25 to 50 mm a quarter is left (ISO 80000-7: irradiance of a point source)."""
    certificate = sb.spectrum([1.0, 2.0, 3.0, 4.0], [300.0, 400, 500, 600], "spectral_irradiance")
    far = sb.lamp_irradiance(certificate, [400.0], distance="50 mm", certified_distance="25 mm")
    agrees("2 W m-2 nm-1 at twice the distance", far[0], 0.5, "closed form, inverse square", 13)
