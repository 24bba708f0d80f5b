"""The door: nothing shrinks, wraps round or is paired by position in silence."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.errors import GridError, RangeError

GRID = {"wavelength": [364.0, 366.0]}


def frame(values, **coordinates):
    return xr.DataArray(values, {**GRID, **coordinates}, "wavelength")


def stack(size, first=0, dimension="draw"):
    labels = np.arange(first, first + size)
    return xr.DataArray(np.ones((size, 2)), {dimension: labels, **GRID}, (dimension, "wavelength"))


@pytest.mark.parametrize("other", [stack(500), stack(1000, first=500)])
def test_draws_that_differ_are_refused(other):
    """An inner join would keep what the two share, without a word."""
    with pytest.raises(GridError, match=r"through\(\): the arguments do not fit together: .*draw"):
        sb.through(stack(1000), other)


def test_sources_in_another_order_are_refused():
    light, dark = (
        xr.DataArray([[100.0, 100], [200, 200]], {"source": names, **GRID}, ("source", "wavelength"))
        for names in (["a", "b"], ["b", "a"])
    )
    with pytest.raises(GridError, match="do not fit together"):
        sb.subtract_dark(light, dark)


def test_unsigned_counts_do_not_wrap_round():
    counts = [np.array(values, dtype="u2") for values in ([100, 200], [101, 100])]
    assert sb.subtract_dark(frame(counts[0]), frame(counts[1])).values.tolist() == [-1.0, 100.0]
    reference = xr.DataArray(
        np.array([[1000, 1000], [900, 900]], dtype="u2"),
        {"time": [0.0, 10.0], **GRID},
        ("time", "wavelength"),
    )
    sample = frame(np.array([475, 475], dtype="u2"), time=5.0)
    assert sb.transmittance(sample, reference).values.tolist() == [0.5, 0.5]


def test_scans_of_different_times_are_not_averaged():
    scans = xr.DataArray(
        [[100.0, 100], [200, 200]],
        {**GRID, "integration_time": ("spectrum", [0.01, 0.02])},
        ("spectrum", "wavelength"),
    )
    with pytest.raises(RangeError, match="scans of different integration times"):
        sb.average_scans(scans)


def test_darks_on_two_grids_or_without_a_time_are_refused():
    one = frame([100.0, 100.0], integration_time=0.01)
    other = one.assign_coords(wavelength=[464.0, 466.0], integration_time=0.03)
    with pytest.raises(GridError, match="the darks are not on one wavelength grid"):
        sb.dark_at([one, other], "20 ms")
    with pytest.raises(RangeError, match="has no coordinate integration_time"):
        sb.dark_at([frame([1.0, 1.0])], 0.01)


def test_an_ageing_log_brings_its_units_and_dimensions():
    hours = xr.DataArray([0.0, 60_000, 120_000], dims="hours", attrs={"units": "min"})
    output = xr.DataArray([[100.0, 90, 81]] * 4, dims=("draw", "hours"), attrs={"units": "%"})
    fit = sb.fit_ageing(hours, output.transpose())
    assert fit["initial"].dims == ("draw",)
    np.testing.assert_allclose(sb.hours_until(fit, "50 %"), np.log(0.5) / np.log(0.9) * 1000, rtol=1e-12)
    assert "units" not in sb.output_at(fit, 3000).attrs


def test_figures_of_a_grid_in_micrometres():
    from spectralbench.reduction import figures

    along = ("wavelength", [0.364, 0.365, 0.366], {"units": "µm"})
    assert float(figures(xr.DataArray([0.0, 4.0, 0.0], {"wavelength": along})).peak_wavelength) == 365
