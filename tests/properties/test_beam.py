"""Laws of the beam: there and back, parts that add up, positions that shift, many at once."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from spectralbench.beam import (
    distance_for,
    irradiance_at,
    share_on_disc,
    share_on_strip,
    speed_for_exposure,
    spot,
    time_above,
    travelling_exposure,
    uniformity,
)

FEW = settings(max_examples=40)
LEVELS = st.integers(0, 1000).map(float)


@st.composite
def grids(draw, smallest=3):
    steps = draw(st.lists(st.integers(1, 40), min_size=smallest - 1, max_size=12))
    return draw(st.integers(-40, 40)) / 4 + np.concatenate(([0], np.cumsum(steps))) / 4


@st.composite
def scans(draw, rows=()):
    grid = draw(grids())
    values = draw(arrays(float, (*rows, grid.size), elements=LEVELS))
    at = {"position": ("position", grid, {"units": "mm"})}
    return xr.DataArray(values, at, (*"ab"[: len(rows)], "position"), attrs={"units": "W m-2"})


@st.composite
def falling(draw):
    """Irradiance that falls by a tenth of a per cent or more from each distance to the next."""
    factors = draw(st.lists(st.floats(1.01, 3), min_size=2, max_size=8))
    falls = draw(arrays(float, len(factors), elements=st.floats(1.001, 20)))
    at = {"distance": ("distance", 5 * np.cumprod(factors), {"units": "mm"})}
    return xr.DataArray(1e6 / np.cumprod(falls), at, "distance", attrs={"units": "W m-2"})


@given(falling(), st.floats(0.05, 20), st.sampled_from(["slope", "inverse_square"]))
@FEW
def test_the_distance_for_what_arrives_at_a_distance_is_that_distance(curve, where, beyond):
    at = where * float(curve.distance[0])
    there = irradiance_at(curve, at, beyond)
    assume(1e-200 < there.item() < 1e200)
    assert distance_for(curve, there, beyond).item() == pytest.approx(at, rel=1e-9)


@given(falling(), st.floats(0, 1))
@FEW
def test_between_two_distances_lies_what_is_between_their_values(curve, way):
    grid = curve.distance.values
    at = min(max(grid[0] * (grid[1] / grid[0]) ** way, grid[0]), grid[1])
    low, high = curve.values[1] * (1 - 1e-12), curve.values[0] * (1 + 1e-12)
    assert low <= irradiance_at(curve, at).item() <= high


@given(scans(), st.lists(st.floats(0, 1), min_size=1, max_size=4))
@FEW
def test_strips_add_up(scan, ways):
    assume(scan.values[:-1].sum() + scan.values[1:].sum() > 0)
    first, last = scan.position.values[[0, -1]]
    limits = np.unique([first, *(first + (last - first) * np.array(ways)), last])
    shares = [share_on_strip(scan, low, high).item() for low, high in pairwise(limits)]
    assert sum(shares) == pytest.approx(1, abs=1e-9)


@given(scans(), st.floats(0, 1), st.floats(0, 1))
@FEW
def test_areas_are_those_of_the_trapezoidal_rule_between_the_points_of_both(scan, one, other):
    """Against NumPy's trapezoidal rule, exact for a line, with the limits as points of their own."""
    grid, values = scan.position.values, scan.values
    low, high = np.sort(grid[0] + (grid[-1] - grid[0]) * np.array([one, other]))
    assume(high - low > 1e-3)
    points = np.unique([low, high, *grid[(grid > low) & (grid < high)]])
    line = np.interp(points, grid, values)
    found = uniformity(scan, low, high)
    assert found["mean"].item() == pytest.approx(np.trapezoid(line, points) / (high - low), abs=1e-7)
    assert found["lowest"].item() == pytest.approx(line.min(), abs=1e-7)
    assert found["highest"].item() == pytest.approx(line.max(), abs=1e-7)
    assert travelling_exposure(scan, 2.0).item() == pytest.approx(np.trapezoid(values, grid) / 2, rel=1e-12)


@given(scans(), st.floats(0.1, 0.9), st.floats(0.1, 20))
@FEW
def test_a_disc_against_simpsons_rule(scan, way, diameter):
    """Exact for straight lines times a radius, between the points of the scan, the centre and the limits."""
    grid, values = scan.position.values, scan.values
    centre = grid[0] + (grid[-1] - grid[0]) * way
    limits = np.clip([centre - diameter / 2, centre, centre + diameter / 2], grid[0], grid[-1])
    ends = np.unique([*grid, *limits])
    points = np.stack([ends[:-1], (ends[:-1] + ends[1:]) / 2, ends[1:]])
    rings = np.interp(points, grid, values) * np.abs(points - centre)
    powers = np.diff(ends) / 6 * (rings[0] + 4 * rings[1] + rings[2])
    assume(powers.sum() > 1e-3)
    expected = powers[np.abs(points[1] - centre) < diameter / 2].sum() / powers.sum()
    assert share_on_disc(scan, diameter, centre).item() == pytest.approx(expected, abs=1e-8)


@given(scans(), st.integers(-400, 400))
@FEW
def test_a_shift_moves_centres_and_changes_nothing_else(scan, shift):
    moved = scan.assign_coords(position=("position", scan.position.values + shift / 4, {"units": "mm"}))
    before, after = spot(scan), spot(moved)
    for name in ("size", "size_at_tenth", "highest"):
        np.testing.assert_allclose(after[name], before[name], atol=1e-9)
    for name in ("centre", "centroid"):
        np.testing.assert_allclose(after[name], before[name] + shift / 4, atol=1e-7)
    np.testing.assert_allclose(share_on_disc(moved, 1.0), share_on_disc(scan, 1.0), atol=1e-7)
    assert time_above(moved, 300.0, 2.0).item() == pytest.approx(time_above(scan, 300.0, 2.0).item())


@given(scans(), st.floats(0, 1000), st.floats(0, 1000))
@FEW
def test_a_higher_threshold_is_passed_for_a_shorter_time(scan, one, other):
    low, high = sorted([one, other])
    whole = np.ptp(scan.position.values) / 2
    assert 0 <= time_above(scan, high, 2.0).item() <= time_above(scan, low, 2.0).item() <= whole + 1e-12


@given(scans(), st.floats(1, 1e6), st.integers(1, 5))
@FEW
def test_the_speed_for_an_exposure_gives_it(scan, wanted, passes):
    assume(scan.values.sum() > 0)
    speed = speed_for_exposure(scan, wanted, passes)
    assert travelling_exposure(scan, speed, passes).item() == pytest.approx(wanted, rel=1e-12)


@given(scans(rows=(2, 2)), st.data())
@settings(max_examples=12)
def test_many_at_once_are_as_one_by_one_and_a_missing_sample_spoils_one(block, data):
    block = block.copy(deep=True)
    block[0, 1, data.draw(st.integers(0, block.sizes["position"] - 1))] = np.nan
    first, last = block.position.values[[0, -1]]
    turned = block.transpose(*data.draw(st.permutations(["a", "b", "position"])))
    for figure in (
        lambda s: spot(s)["centroid"],
        lambda s: spot(s)["size_at_tenth"],
        lambda s: uniformity(s, first, last)["lowest_by_mean"],
        lambda s: share_on_strip(s, first, last),
        lambda s: share_on_disc(s, 2.0),
        lambda s: time_above(s, 300.0, 1.0),
        lambda s: travelling_exposure(s, 1.0),
    ):
        found = figure(turned).transpose("a", "b")
        assert np.isnan(found[0, 1])
        for a in range(2):
            for b in range(2):
                np.testing.assert_allclose(found[a, b], figure(block[a, b]), rtol=1e-12)
