"""Where in the bond line photons are absorbed: against the law of Lambert and Beer, worked in closed form."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from spectralbench.comparison import FIGURES, Requirement, by_depth, figures_at_bond_line
from spectralbench.errors import GridError, UnitsError

GRID = np.array([364.0, 365.0, 366.0])
JOULE = 1e-9 / (6.62607015e-34 * 299792458 * 6.02214076e23) * 1e6  # µmol of photons in a joule, by nm
THICKNESS = 1.5e-4


def rows(values, dimension, names, units="1"):
    along = {dimension: names, "wavelength": GRID}
    return xr.DataArray(np.asarray(values, float), along, (dimension, "wavelength"), attrs={"units": units})


LIGHT = rows([[0.0, 10.0, 0.0]], "source", ["near 365"], "W m-2 nm-1")  # 10 W m-2 in a triangle
COVER = rows([[0.5] * 3], "part", ["cover"])
FILM = rows([[0.7] * 3, [0.3] * 3], "initiator", ["a", "b"])
RESIN = xr.DataArray([0.5] * 3, {"wavelength": GRID}, "wavelength")


def found(light=LIGHT, part=COVER, film=FILM, **others):
    return by_depth(light, part, film, THICKNESS, **others).isel(source=0, drop=True)


@pytest.mark.parametrize(("resin", "whole"), [(None, 1.0), (RESIN, 1.5)])
def test_the_rate_falls_with_depth(resin, whole):
    """E λ (ln 10 A_i / l) 10^(-A z/l), where A_i is of the initiators and A of all that absorbs."""
    profile = found(background=resin).absorbed_by_depth
    depth = profile.coords["depth"].values
    assert (depth[0], depth[-1]) == (0.0, THICKNESS)
    expected = 5 * 365 * JOULE * np.log(10) / THICKNESS * 10 ** (-whole * depth / THICKNESS)
    assert profile.values == pytest.approx(expected)
    assert profile.attrs["units"] == "umol m-3 s-1"


@pytest.mark.parametrize(("resin", "expected"), [(None, 0.1), (RESIN, 10**-1.5)])
def test_the_back_against_the_front(resin, expected):
    ratio = found(background=resin).back_by_front
    assert ratio.item() == pytest.approx(expected)
    assert ratio.attrs["units"] == FIGURES["back_by_front"].units


def test_over_the_whole_depth_it_is_what_the_initiators_absorb():
    """The trapezoid of an exponential over 40 steps is too high by (A ln 10 / 40)² / 12."""
    needed = Requirement(364, 366, 4.0, 40.0)
    absorbed = figures_at_bond_line(LIGHT, COVER, FILM, needed, background=RESIN).absorbed_photons.item()
    whole = found(background=RESIN).absorbed_by_depth.integrate("depth").item()
    too_high = (1.5 * np.log(10) / 40) ** 2 / 12
    assert whole == pytest.approx(absorbed * (1 + too_high), rel=1e-5)


def test_its_ends_are_those_that_oxygen_is_held_against():
    needed = Requirement(364, 366, 4.0, 40.0, data_sheet_wavelength=365.0, oxygen_threshold=0.1)
    figures = figures_at_bond_line(LIGHT, COVER, FILM, needed, background=RESIN, thickness=THICKNESS)
    last = found(background=RESIN).absorbed_by_depth.isel(depth=-1).item()
    assert last == pytest.approx(figures.photons_at_back.item())


def test_several_parts_multiply():
    twice = xr.concat([COVER, COVER.assign_coords(part=["window"])], "part")
    one, two = found().absorbed_by_depth, found(part=twice).absorbed_by_depth
    assert two.values == pytest.approx(0.5 * one.values)


def test_draws_are_looked_at_by_their_means():
    draw = xr.DataArray([0.5, 1.5], dims="draw")
    film, resin = (FILM * draw).transpose("draw", ...), (RESIN * draw).transpose("draw", ...)
    light = (LIGHT * draw).transpose("draw", ...).assign_attrs(LIGHT.attrs)
    drawn = found(light, film=film, background=resin)
    assert "draw" not in drawn.dims
    xr.testing.assert_allclose(drawn, found(background=RESIN))


def test_where_nothing_is_absorbed_nothing_is_nothing():
    ratio = found(film=FILM * 0.0, background=RESIN)
    assert (ratio.absorbed_by_depth == 0).all()
    assert ratio.back_by_front.item() == 0.0


@pytest.mark.parametrize(
    ("others", "error", "said"),
    [
        ({"background": RESIN.assign_coords(wavelength=GRID + 1)}, GridError, "nm apart"),
        ({"background": RESIN.assign_attrs(units="mm")}, UnitsError, 'background: "mm" cannot be converted'),
    ],
)
def test_what_does_not_fit_is_refused(others, error, said):
    with pytest.raises(error, match=said):
        found(**others)
