"""Slabs against closed forms, an outside judge and published refractive indices.

The judge is the package ``tmm`` (S. Byrnes, multilayer optics, PyPI), whose incoherent mode adds energies
as a slab does.
"""

from __future__ import annotations

from importlib.metadata import version

import numpy as np
import pytest
import tmm

import spectralbench as sb

TMM = f"tmm.inc_tmm {version('tmm')}, incoherent slab at normal incidence"


def test_a_clear_slab_of_index_one_and_a_half_passes_12_of_13(agrees):
    """Born & Wolf, Principles of Optics, 7th ed., 1.5.3: R = 0.04 at each face; T = (1 − R)/(1 + R)."""
    source = "closed form (1 − R)/(1 + R), Born & Wolf, 7th ed., 1.5.3"
    agrees("clear slab of index 1.5", sb.slab_transmittance(1.0, 1.5), 12 / 13, source, 15)


def judged(internal, index, before, after, wavelength=365.0, thickness=3e6):
    extinction = -np.log(internal) * wavelength / (4 * np.pi * thickness)
    layers = [before, index + 1j * extinction, after]
    return tmm.inc_tmm("s", layers, [np.inf, thickness, np.inf], ["i", "i", "i"], 0, wavelength)["T"]


@pytest.mark.parametrize("internal", [1.0, 0.95, 0.9, 0.534, 0.05])
@pytest.mark.parametrize(
    ("index", "before", "after"), [(1.491, 1.0, 1.0), (1.58476, 1.0, 1.5), (1.6217, 1.33, 1.0)]
)
def test_slabs_agree_with_tmm(internal, index, before, after, agrees):
    """The extinction that tmm needs bends its Fresnel terms by less than 1e-9 at these values."""
    found = float(sb.slab_transmittance(internal, index, before, after))
    what = f"slab of {internal} inside, indices {before} {index} {after}"
    expected = judged(internal, index, before, after)
    assert found == pytest.approx(expected, rel=1e-9)
    agrees(what, found, expected, TMM, 9, "package")


def malitson(wavelength):
    """Fused silica at 20 °C: Malitson, J. Opt. Soc. Am. 55 (1965) 1205, eq. 1; wavelength in µm."""
    square = wavelength**2
    return np.sqrt(
        1
        + 0.6961663 * square / (square - 0.0684043**2)
        + 0.4079426 * square / (square - 0.1162414**2)
        + 0.8974794 * square / (square - 9.896161**2)
    )


def test_two_surfaces_of_fused_silica(agrees):
    """At 587.6 nm Malitson tabulates n = 1.45846; two clear surfaces then pass 2n/(n² + 1)."""
    index = malitson(0.5875618)
    assert index == pytest.approx(1.45846, abs=5e-6)
    source = "closed form 2n/(n² + 1), with n of Malitson, J. Opt. Soc. Am. 55 (1965) 1205"
    expected = 2 * index / (index**2 + 1)
    agrees("fused silica at 587.6 nm", sb.slab_transmittance(1.0, index), expected, source, 15)


def test_a_part_measured_in_air_understates_what_a_bonded_face_passes():
    """With adhesive of index 1.50 behind, the back face of index 1.585 reflects 0.08 % instead of 5.1 %."""
    in_air = float(sb.slab_transmittance(0.9, 1.585))
    bonded = float(sb.slab_transmittance(0.9, 1.585, after=1.5))
    reflected = ((1.585 - 1) / (1.585 + 1)) ** 2
    assert in_air / bonded == pytest.approx(1 - reflected, abs=3e-3)


def test_film_of_a_worked_example(agrees):
    """ε = 300 L/(mol cm), 0.02 mol/L, 100 µm: A = 0.06, so 1 − 10^−0.06 of the light is absorbed.

    Beer–Lambert law, IUPAC Gold Book B00626; decadic.
    """
    coefficient = sb.spectrum([300.0, 300.0], [364.0, 366.0], "molar_absorption_coefficient")
    film = sb.initiator_absorbance(coefficient, "0.02 mol/L", "100 µm")
    light = sb.spectrum([1.0, 1.0], [364.0, 366.0], "spectral_irradiance")
    share = float(sb.absorbed_photons(light, film) / sb.photon_irradiance(light, 364, 366))
    source = "closed form 1 − 10^−A, Beer–Lambert law, IUPAC Gold Book B00626"
    agrees("share absorbed by a film of A = 0.06", share, 1 - np.exp(-np.log(10) * 0.06), source, 13)


def test_fifty_and_eighty_per_cent():
    """Common practice, no source: 50 % at 365 nm and 80 % at 400 nm give 60 % more light at 400."""
    cover = sb.spectrum([0.5, 0.5, 0.8, 0.8], [360.0, 370.0, 395.0, 405.0], "transmittance")
    light = cover * 0 + 1.0
    light.attrs["units"] = "W m-2 nm-1"
    behind = sb.through(light, cover)
    gain = float(sb.band_irradiance(behind, 395, 405) / sb.band_irradiance(behind, 360, 370))
    assert gain == pytest.approx(1.6, rel=1e-12)
