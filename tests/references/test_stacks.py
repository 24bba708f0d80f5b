"""Stacks, tilted slabs and wetted parts against an outside judge and closed forms.

The judge is the package ``tmm`` (S. Byrnes, multilayer optics, PyPI), whose incoherent mode carries energies
from layer to layer by matrices, for one polarisation at a time.
"""

from __future__ import annotations

from importlib.metadata import version

import numpy as np
import pytest
import tmm
import xarray as xr

from spectralbench.optics import predict_thickness, scale_thickness, slab_transmittance, stack, wetted

TMM = f"tmm.inc_tmm {version('tmm')}, incoherent layers, mean of both polarisations"
THICKNESS, WAVELENGTH = (
    3e8,
    365.0,
)  # nm; so thick that the extinction tmm needs does not bend its Fresnel terms


def layers(values):
    return xr.DataArray(np.asarray(values, float), dims="layer")


def judged(bulks, indices, before, after, tilt):
    """Reflected, absorbed in each layer, passed: the mean of s and p."""
    extinction = -np.log(bulks) * WAVELENGTH / (4 * np.pi * THICKNESS)
    media = [before, *(np.asarray(indices) + 1j * extinction), after]
    thick = [np.inf, *([THICKNESS] * len(bulks)), np.inf]
    both = []
    for polarisation in "sp":
        data = tmm.inc_tmm(polarisation, media, thick, ["i"] * len(media), np.deg2rad(tilt), WAVELENGTH)
        both.append([np.real(value) for value in tmm.inc_absorp_in_each_layer(data)])
    reflected, *absorbed, passed = np.mean(both, axis=0)
    return reflected, absorbed, passed


@pytest.mark.parametrize("tilt", [0.0, 25.0, 60.0])
@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_random_stacks_agree_with_tmm(count, tilt, agrees):
    random = np.random.default_rng([count, int(tilt)])
    bulks, indices = random.uniform(0.1, 1, count), random.uniform(1.3, 2.0, count)
    before, after = random.uniform(1.0, 1.2), random.uniform(1.3, 1.6)
    found = stack(layers(bulks), layers(indices), before, after, tilt)
    reflected, absorbed, passed = judged(bulks, indices, before, after, tilt)
    np.testing.assert_allclose(found.absorbed, absorbed, rtol=1e-8)
    what = f"{count} layers at {tilt:g}°"
    agrees(f"passed by {what}", found.transmittance, passed, TMM, 9, "package")
    agrees(f"reflected by {what}", found.reflectance, reflected, TMM, 9, "package")
    agrees(f"absorbed in the last of {what}", found.absorbed[-1], absorbed[-1], TMM, 9, "package")


@pytest.mark.parametrize(("before", "after", "tilt"), [(1.0, 1.0, 45.0), (1.0, 1.5, 70.0), (1.5, 1.0, 40.0)])
def test_tilted_slabs_agree_with_tmm(before, after, tilt, agrees):
    expected = judged([0.8], [1.585], before, after, tilt)[2]
    found = slab_transmittance(0.8, 1.585, before, after, tilt)
    agrees(
        f"slab of 0.8 inside between {before} and {after} at {tilt:g}°", found, expected, TMM, 9, "package"
    )


@pytest.mark.parametrize("index", [1.33, 1.5, 1.7])
def test_a_clear_plate_at_brewsters_angle(index, agrees):
    """At tan θ = n nothing of p is reflected; of s, R = ((n² − 1)/(n² + 1))² at each face.

    Born & Wolf, Principles of Optics, 7th ed., 1.5.3.
    """
    along = ((index**2 - 1) / (index**2 + 1)) ** 2
    expected = (1 + (1 - along) / (1 + along)) / 2
    found = slab_transmittance(1.0, index, tilt=np.rad2deg(np.arctan(index)))
    source = "closed form (1 + (1 − R)/(1 + R))/2 at Brewster's angle, Born & Wolf, 7th ed., 1.5.3"
    agrees(f"clear plate of index {index}", found, expected, source, 14)


@pytest.mark.parametrize("plates", [1, 2, 5])
def test_a_pile_of_clear_plates(plates, agrees):
    """2m surfaces of reflectance R pass (1 − R)/(1 + (2m − 1)R) of each polarisation, at 45° here."""
    inside = np.sqrt(1 - 0.5 / 1.5**2)
    outside = np.sqrt(0.5)
    surfaces = np.array(
        [
            (outside - 1.5 * inside) / (outside + 1.5 * inside),
            (1.5 * outside - inside) / (1.5 * outside + inside),
        ]
    )
    expected = np.mean((1 - surfaces**2) / (1 + (2 * plates - 1) * surfaces**2))
    index = layers(([1.5, 1.0] * plates)[:-1])
    found = stack(xr.ones_like(index), index, tilt=45.0).transmittance
    source = "closed form (1 − R)/(1 + (2m − 1)R) for each polarisation, a pile of m plates"
    agrees(f"{plates} clear plates at 45°", found, expected, source, 14)


def test_a_clear_slab_passes_12_of_13_and_reflects_the_rest(agrees):
    source = "closed form (1 − R)/(1 + R), Born & Wolf, 7th ed., 1.5.3"
    found = stack(layers([1.0]), 1.5)
    agrees("stack of one clear slab of index 1.5", found.transmittance, 12 / 13, source, 15)
    agrees("what it reflects", found.reflectance, 1 / 13, source, 14)


@pytest.mark.parametrize(
    ("index", "internal", "passed", "reflected", "absorbed"),
    [
        (1.491, 0.95, "0.8788120738", "0.0712887791", "0.0498991471"),
        (1.58476, 0.90, "0.8119533612", "0.0885831706", "0.0994634683"),
        (1.6217, 0.534, "0.4760604334", "0.0705290733", "0.4534104934"),
    ],
)
def test_slabs_of_plastics(index, internal, passed, reflected, absorbed, agrees):
    source = "closed form T = (1 − R)²τ/(1 − R²τ²), R + R(1 − R)²τ²/(1 − R²τ²), computed apart"
    found = stack(layers([internal]), index)
    agrees(f"passed, n = {index}, τ = {internal}", found.transmittance, passed, source)
    agrees(f"reflected, n = {index}, τ = {internal}", found.reflectance, reflected, source)
    agrees(f"absorbed, n = {index}, τ = {internal}", found.absorbed[0], absorbed, source)


def test_a_wetted_part(agrees):
    """Index 1.585 on adhesive of 1.50: the back face reflects 0.000759 instead of 5.1 %."""
    front, back = (0.585 / 2.585) ** 2, (0.085 / 3.085) ** 2
    assert back == pytest.approx(0.000759, abs=5e-7)
    expected = (1 - front) * (1 - back) * 0.9 / (1 - front * back * 0.9**2)
    in_air = (1 - front) ** 2 * 0.9 / (1 - front**2 * 0.9**2)
    source = "closed form (1 − R₁)(1 − R₂)τ/(1 − R₁R₂τ²)"
    found = wetted(in_air, 1.585, 1.5)
    agrees("part of index 1.585 and 0.9 inside, on adhesive of 1.50", found, expected, source, 13)
    agrees("the same by tmm", found, judged([0.9], [1.585], 1.0, 1.5, 0.0)[2], TMM, 9, "package")
    assert in_air / float(found) == pytest.approx(1 - front, abs=3e-3)


@pytest.mark.parametrize(("new", "inside"), [(1, "0.9654894"), (2, "0.9321698"), (5, "0.8389528")])
def test_other_thicknesses(new, inside, agrees):
    """0.9 inside 3 mm; with surfaces of index 1.5 around it, 0.96² τ/(1 − 0.0016 τ²)."""
    source = "closed form τ^(d₂/d₁), Lambert's law, IUPAC Gold Book B00626"
    agrees(f"0.9 inside 3 mm, inside {new} mm", scale_thickness(0.9, 3, new), inside, source)
    bulk = 0.9 ** (new / 3)
    measured = 0.96**2 * 0.9 / (1 - 0.0016 * 0.81)
    found = predict_thickness(measured, 1.5, 3, new, 0.001)
    expected = 0.96**2 * bulk / (1 - 0.0016 * bulk**2)
    agrees(
        f"the same with surfaces, {new} mm", found, expected, source + ", between surfaces of R = 0.04", 13
    )
