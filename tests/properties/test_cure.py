"""Laws of the bond line: light is shared out and never made, and what is inverted comes back."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.cure import (
    absorbed_photons,
    absorbed_profile,
    absorbed_share,
    carried_over_time,
    cure_depth,
    exposure_for_depth,
    fit_working_curve,
    front_and_back,
    inhibition_time,
    photobleaching,
    photons_by_initiator,
    shares_by_absorber,
)

GRID = np.array([345.0, 365.0, 385.0, 405.0])
lights = arrays(float, GRID.size, elements=st.floats(0, 1e4))
films = arrays(float, GRID.size, elements=st.floats(0, 3))
few = settings(max_examples=40)


def along(values, *dims):
    return xr.DataArray(values, {"wavelength": GRID}, (*dims, "wavelength"))


@given(arrays(float, (3, GRID.size), elements=st.floats(0, 3)))
@few
def test_shares_add_up_to_the_whole_and_none_exceeds_it(values):
    shares = shares_by_absorber(along(values, "absorber"))
    whole = absorbed_share(along(values.sum(axis=0)))
    np.testing.assert_allclose(shares.sum("absorber"), whole, rtol=1e-12, atol=1e-300)
    assert (shares >= 0).all()
    assert (shares <= whole * (1 + 1e-12)).all()


@given(lights, arrays(float, (2, GRID.size), elements=st.floats(0, 3)), films)
@few
def test_initiators_and_background_share_all_photons(light, both, pigment):
    photons = photons_by_initiator(along(light), along(both, "initiator"), along(pigment))
    whole = along(both.sum(axis=0) + pigment)
    rest = absorbed_photons(along(light), whole, along(pigment))
    total = absorbed_photons(along(light), whole)
    assert float(photons.sum() + rest) == pytest.approx(float(total), rel=1e-9, abs=1e-9)


@given(lights, films, films, st.floats(1e-5, 1e-2))
@few
def test_the_profile_adds_up_to_what_is_absorbed(light, film, rest, thickness):
    """Gauss and Legendre with 24 points integrate it over the depth."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    depths = (nodes + 1) / 2 * thickness
    profile = absorbed_profile(along(light), along(film + rest), thickness, depths, along(film))
    total = float(absorbed_photons(along(light), along(film + rest), along(film)))
    assert float(profile @ xr.DataArray(weights / 2 * thickness, dims="depth")) == pytest.approx(
        total, rel=1e-9, abs=1e-12
    )
    assert (np.diff(profile) <= 1e-9 * float(profile.max())).all()  # deeper is darker
    faces = front_and_back(along(light), along(film + rest), thickness, along(film))
    least = 1e-290  # below, numbers run out of digits
    assert float(faces["back"]) <= float(faces["average"]) * (1 + 1e-9) + least
    assert float(faces["average"]) <= float(faces["front"]) * (1 + 1e-9) + least


@given(lights.filter(lambda light: light.max() > 1), st.floats(1e-9, 5))
@few
def test_a_film_alike_for_all_wavelengths(light, film):
    faces = front_and_back(along(light), along(np.full(GRID.size, film)), 1e-4)
    assert float(faces["back_by_front"]) == pytest.approx(10**-film, rel=1e-9)
    average = (1 - 10**-film) / (np.log(10) * film)
    assert float(faces["average_by_front"]) == pytest.approx(average, rel=1e-6)  # 1 − 10^−A loses digits


@given(st.floats(0.01, 20), st.floats(1, 1e4), st.floats(1e-6, 1e-2))
def test_exposure_and_depth_are_inverse(depths, critical, length):
    exposure = exposure_for_depth(depths * length, critical, length)
    assert float(cure_depth(exposure, critical, length)) == pytest.approx(depths * length, rel=1e-9)


@given(st.floats(10, 500), st.floats(1, 1e4), st.integers(3, 9))
@few
def test_a_curve_without_scatter_is_found_again(length, critical, count):
    doses = critical * np.geomspace(1.5, 40, count)
    fit = fit_working_curve(doses, cure_depth(xr.DataArray(doses, dims="trial"), critical, length))
    assert float(fit["penetration_depth"]) == pytest.approx(length, rel=1e-9)
    assert float(fit["critical_exposure"]) == pytest.approx(critical, rel=1e-8)


@given(st.floats(0.01, 15), st.floats(0.01, 15))
def test_bleaching_obeys_its_equations(depth, dose):
    """∂I/∂γ = ∂c/∂β = −c I, by central differences."""
    step = 1e-4
    light = photobleaching([depth - step, depth, depth + step], dose)["light_left"].values
    initiator = photobleaching(depth, [dose - step, dose, dose + step])["initiator_left"].values
    expected = -light[1] * initiator[1]
    assert (light[2] - light[0]) / (2 * step) == pytest.approx(expected, rel=1e-5, abs=1e-10)
    assert (initiator[2] - initiator[0]) / (2 * step) == pytest.approx(expected, rel=1e-5, abs=1e-10)


@given(st.floats(0, 1e5), st.floats(0, 1e5))
def test_bleaching_stays_between_nothing_and_all(depth, dose):
    left = photobleaching(depth, dose)
    for name in ("initiator_left", "light_left"):
        assert 0 <= float(left[name]) <= 1 + 1e-12


@given(st.floats(1, 1e5), st.floats(0.1, 1e4), st.floats(1, 1e5), st.floats(0.1, 1.5))
def test_carried_over_and_back_is_where_it_was(known, seconds, rate, exponent):
    there = carried_over_time(known, seconds, rate, exponent)
    assert float(carried_over_time(rate, there, known, exponent)) == pytest.approx(seconds, rel=1e-9)
    alike = known**exponent * seconds
    assert rate**exponent * float(there) == pytest.approx(alike, rel=1e-9)


def test_draws_together_are_draws_one_by_one():
    """Every figure of a bond line, with draws of all that has an uncertainty."""
    random = np.random.default_rng(5)

    def drawn(value, spread):
        return xr.DataArray(random.normal(value, spread, 12), dims="draw")

    light = along(random.uniform(10, 100, GRID.size)) * drawn(1, 0.05)
    film, rest = along([0.5, 0.3, 0.1, 0.02]) * drawn(1, 0.1), along([0.3, 0.2, 0.1, 0.1])
    thickness, time, exponent = drawn(1e-4, 5e-6), drawn(10, 0.2), drawn(0.8, 0.05)

    def chain(light, film, thickness, time, exponent):
        photons = absorbed_photons(light, film + rest, film)
        profile = absorbed_profile(light, film + rest, thickness, [0.0, 5e-5], film)
        return {
            "profile": profile,
            "back": front_and_back(light, film + rest, thickness, film)["back"],
            "time": carried_over_time(500.0, time, photons, exponent),
            "inhibited": inhibition_time("1.2 mmol/L", profile, 0.5),
            "depth": cure_depth(20 * time, "50 J/m^2", thickness),
        }

    inputs = (light, film, thickness, time, exponent)
    together = chain(*inputs)
    for i in range(12):
        alone = chain(*(x.isel(draw=i) for x in inputs))
        for name, array in together.items():
            np.testing.assert_allclose(array.isel(draw=i), alone[name], rtol=1e-12)
