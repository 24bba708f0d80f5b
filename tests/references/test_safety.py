"""Exposure limits and distances against closed forms and quadrature outside the project."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from scipy.special import erf

from spectralbench.beam import spot
from spectralbench.safety import at_distance, exposure_limits

DERIVED = (
    "derived outside the project: Gaussian line, exact band edges, S of EN 62471 straight in its logarithm, "
    "B straight"
)


def led(centre, irradiance, width=10.0, step=0.002):
    """A Gaussian line [W m-2]; the step leaves less than the last digit printed below."""
    sigma = width / np.sqrt(8 * np.log(2))
    grid = np.round(np.arange(200, 700 + step / 2, step), 3)
    values = irradiance / (sigma * np.sqrt(2 * np.pi)) * np.exp(-(((grid - centre) / sigma) ** 2) / 2)
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


@pytest.mark.parametrize(
    ("centre", "actinic", "near_ultraviolet", "blue_light"),
    [(365, "1.113118e-3", "10.000000", "0.1000013"), (385, "5.367614e-4", "9.997940", "0.1691620")],
)
def test_effective_irradiances_of_leds(centre, actinic, near_ultraviolet, blue_light, agrees):
    found = exposure_limits(led(centre, 10))
    what = f"LED of {centre} nm, 1 mW/cm²"
    agrees(f"actinic, {what}", found.actinic_irradiance, actinic, DERIVED)
    agrees(f"315–400 nm, {what}", found.near_ultraviolet_irradiance, near_ultraviolet, DERIVED)
    agrees(f"blue light, {what}", found.blue_light_irradiance, blue_light, DERIVED)


def test_one_watt_per_square_centimetre_of_365_nm(agrees):
    """A thousand times the LED above: near ultraviolet 1.0 s, actinic 26.95 s; the shorter one counts."""
    found = exposure_limits(led(365, 1e4))
    agrees("near ultraviolet, 365 nm, 1 W/cm² [s]", found.near_ultraviolet_time, "1.0", DERIVED)
    agrees("actinic, 365 nm, 1 W/cm² [s]", found.actinic_time, "26.9513", DERIVED)
    agrees("blue light, 365 nm, 1 W/cm² [s]", found.blue_light_time, 100 / 100.0013, DERIVED, 6)
    assert found.permitted_time.item() == found.blue_light_time.item()  # by a hair: 0.99999 s


def test_the_times_of_385_nm(agrees):
    found = exposure_limits(led(385, 1e4))
    agrees("actinic, 385 nm, 1 W/cm² [s]", found.actinic_time, "55.8908", DERIVED)
    agrees("near ultraviolet, 385 nm, 1 W/cm² [s]", found.near_ultraviolet_time, "1.0002", DERIVED)


@pytest.mark.parametrize(("centre", "width"), [(385.0, 10.0), (395.0, 12.0), (405.0, 15.0)])
def test_the_edge_at_400_nm(centre, width, agrees):
    """On a grid of repeated steps of 0.1 nm, 400 nm is stored as 400.00000000…: nothing may be lost there."""
    grid = np.cumsum(np.r_[200.0, np.full(5000, 0.1)])
    assert 0 < grid[2000] - 400 < 1e-6
    scale = 2 * np.sqrt(np.log(2)) / width
    values = 10 * scale / np.sqrt(np.pi) * np.exp(-((scale * (grid - centre)) ** 2))
    line = xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})
    expected = 5 * (1 + erf(scale * (400 - centre)))
    source = "closed form, error function (scipy)"
    agrees(
        f"315–400 nm of a line at {centre:g} nm",
        exposure_limits(line).near_ultraviolet_irradiance,
        expected,
        source,
        4,
    )


@pytest.mark.parametrize(
    ("near", "far", "diameter"), [(25, 50, 0), (10, 300, 0), (10, 300, 8), (25, 500, 40)]
)
def test_a_lambertian_disc_on_its_axis(near, far, diameter, agrees):
    """E = π L R²/(R² + d²); for a small disc the inverse square: 25 to 50 mm is a quarter."""
    light = xr.DataArray([8.0], {"wavelength": [365.0]}, "wavelength")
    found = at_distance(light, near, far, diameter)
    square = (diameter / 2) ** 2
    expected = 8 * (square + near**2) / (square + far**2)
    source = "closed form E = π L R²/(R² + d²)"
    agrees(f"disc of {diameter} mm, {near} to {far} mm", found.item(), expected, source, 14)


@pytest.mark.parametrize(("diameters", "most"), [(1, 1.25), (2, 1.0625), (5, 1.01)])
def test_how_far_the_inverse_square_understates(diameters, most):
    """The notes' figures: measured at so many diameters, a disc gives at most so much more far away."""
    light = xr.DataArray([8.0], {"wavelength": [365.0]}, "wavelength")
    point, disc = (at_distance(light, 10 * diameters, 1e7, width) for width in (0, 10))
    assert (disc / point).item() == pytest.approx(most, rel=1e-9)


def disc_seen(radius, distance, across):
    """Irradiance of a disc across its axis by Lambert's law, E = L d² ∫ dA/(d² + ρ²)², by quadrature."""
    along, weights = np.polynomial.legendre.leggauss(60)
    r, angle = radius * (along + 1) / 2, np.pi * (along + 1)
    area = np.outer(weights * r * radius / 2, weights * np.pi)
    x, y = np.outer(r, np.cos(angle)), np.outer(r, np.sin(angle))
    apart = (x[..., None] - across) ** 2 + y[..., None] ** 2
    return (area[..., None] * distance**2 / (distance**2 + apart) ** 2).sum((0, 1))


@pytest.mark.parametrize("distance", [8.0, 12.0, 30.0])
def test_the_spot_of_a_disc_is_on_the_safe_side_of_its_exit(distance, agrees):
    """Light that spreads from its exit: the spot is wider, and taken as the exit it gives more, not less."""
    radius, axis = 5.0, np.linspace(-60, 60, 601)
    at = {"position": ("position", axis, {"units": "mm"})}
    profile = disc_seen(radius, distance, axis)
    middle, far = profile[300], disc_seen(radius, 500.0, np.zeros(1))[0]
    source = "closed form E = π L R²/(R² + d²)"
    agrees(f"disc at {distance:g} mm", middle, np.pi * radius**2 / (radius**2 + distance**2), source, 9)
    width = spot(xr.DataArray(profile, at, "position"))["size"].item()
    light = xr.DataArray([middle], {"wavelength": [365.0]}, "wavelength")
    assert width > 2 * radius
    assert at_distance(light, distance, 500, width).item() > far
    assert at_distance(light, distance, 500, 2 * radius).item() == pytest.approx(far, rel=1e-9)


def test_a_spot_that_lenses_make_is_on_the_unsafe_side(agrees):
    """The notes' figure: a spot of 6 mm as the exit, of light that thins out as from a disc of 22 mm."""
    light = xr.DataArray([8.0], {"wavelength": [365.0]}, "wavelength")
    small, whole = (at_distance(light, "12 mm", "500 mm", width).item() for width in ("6 mm", "22 mm"))
    expected = (11**2 + 12**2) / (11**2 + 500**2) / ((3**2 + 12**2) / (3**2 + 500**2))
    agrees("how much too long", whole / small, expected, "closed form E = π L R²/(R² + d²)", 12)
    assert expected == pytest.approx(1.73, abs=0.005)


def test_light_that_does_not_thin_out():
    light = xr.DataArray([8.0], {"wavelength": [365.0]}, "wavelength")
    assert at_distance(light, "12 mm", "500 mm", np.inf).item() == 8.0
