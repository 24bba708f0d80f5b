"""The door: nothing shrinks, wraps round or is paired by position in silence."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.errors import GridError, RangeError, UnitsError
from spectralbench.units import declares

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


@declares(spectrum="*", low="nm", others="1")
def example(
    spectrum: xr.DataArray,
    *others: xr.DataArray | float,
    low: float | str,
    times: int = 1,
    at: float | None = None,
) -> tuple[xr.DataArray, float, int, float | None]:
    return spectrum, low, times, at


def test_a_number_stands_for_an_array_without_dimensions_and_whole_is_whole():
    spectrum, low, times, at = example(1, low=xr.DataArray(0.365, attrs={"units": "µm"}), times=1e3)
    assert spectrum.identical(xr.DataArray(1.0))
    assert (low, times, at) == (365.0, 1000, None)
    assert isinstance(times, int)


@pytest.mark.parametrize(
    ("arguments", "error", "said"),
    [
        ({"spectrum": None}, RangeError, "spectrum is missing: it is None"),
        ({"low": None}, RangeError, "low is missing: it is None"),
        (
            {"spectrum": np.ones(2)},
            GridError,
            r"spectrum is an xarray\.DataArray, not a ndarray; .*spectrum\(values",
        ),
        ({"spectrum": "led.csv"}, GridError, r"spectrum is an xarray\.DataArray, not a str; "),
        (
            {"spectrum": xr.Dataset({"a": 1.0, "b": 2.0})},
            GridError,
            r"spectrum is an xarray\.DataArray, not a Dataset; take one of its variables: a, b",
        ),
        (
            {"low": stack(3)[:, 0]},
            RangeError,
            "low is one number, not an array along draw: take one value of it",
        ),
        ({"low": [1.0]}, RangeError, r'low is one number, not "\[1.0\]"'),
        ({"times": 1.5}, RangeError, "times is a whole number, not 1.5"),
        ({"times": np.nan}, RangeError, "times is a whole number, not nan"),
        ({"times": "many"}, RangeError, 'times is one number, not "many"'),
        ({"low": "365 florins"}, UnitsError, 'low: "florins" is not a unit of measurement'),
    ],
)
def test_what_an_annotation_promises_is_asked_for(arguments, error, said):
    with pytest.raises(error, match=rf"example\(\): {said}"):
        example(**{"spectrum": frame([1.0, 2.0]), "low": 365.0, **arguments})


def test_one_of_several_arguments_is_missing():
    with pytest.raises(RangeError, match=r"through\(\): layers is missing: it is None"):
        sb.through(frame([1.0, 2.0]), 0.5, None)


def test_a_text_where_no_unit_is_declared_keeps_its_own():
    @declares(value="*")
    def kept(value: xr.DataArray | float | str) -> xr.DataArray | float | str:
        return value

    for text, number, units in (("12 mm", 12.0, "mm"), ("1.2e1 mW/cm²", 12.0, "mW/cm²"), ("12", 12.0, "1")):
        assert kept(text).identical(xr.DataArray(number, attrs={"units": units}))
    for text, said in (
        ("twelve", '"twelve" is not a number with a unit, such as "2 mm"'),
        ("12 florins", '"florins" is not a unit of measurement'),
        ("12 mm ± 1 mm", '"mm ± 1 mm" is not a unit of measurement'),
    ):
        with pytest.raises(UnitsError, match=said):
            kept(text)


def test_texts_in_a_list_are_converted_one_by_one():
    true = xr.DataArray(
        np.outer([0.1, 0.2, 0.4], [1e5, 5e4]), {"wavelength": GRID["wavelength"]}, ("spectrum", "wavelength")
    )
    counts = true / (1 + 2e-6 * true)
    milliseconds = xr.DataArray([100.0, 200, 400], dims="spectrum", attrs={"units": "ms"})
    expected = sb.fit_linearity(counts, [0.1, 0.2, 0.4], degree=1)["coefficients"].values
    for times in (["100 ms", "200 ms", "0.4 s"], ["100 ms", 0.2, 0.4], milliseconds):
        found = sb.fit_linearity(counts, times, degree=1)["coefficients"].values
        np.testing.assert_allclose(found, expected, rtol=1e-9)
    with pytest.raises(
        UnitsError, match=r'fit_linearity\(\): integration_time: "mm" cannot be converted to "s"'
    ):
        sb.fit_linearity(counts, ["100 mm", "200 ms", "400 ms"], degree=1)
