"""Rows that were deleted from the middle of a spectrum are named; grids that are honestly uneven are not."""

from __future__ import annotations

import json
from pathlib import Path

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

import spectralbench as sb
from spectralbench.readers.gaps import gaps, missing

PIXELS = np.round(np.linspace(300.0, 500.0, 801), 2)
CERTIFICATE = [  # the steps of a common lamp certificate, in round numbers: common practice, no source
    *range(250, 401, 10),
    *(
        450,
        500,
        555,
        600,
        654.6,
        700,
        800,
        900,
        1050,
        1150,
        1200,
        1300,
        1540,
        1600,
        1700,
        2000,
        2100,
        2300,
        2400,
    ),
]


@pytest.fixture
def file(tmp_path):
    def write(grid, name="file.csv"):
        path = tmp_path / name
        rows = "".join(f"{at:.9g},{i}\n" for i, at in enumerate(grid))
        path.write_text(f"wavelength [nm],counts\n{rows}", encoding="utf-8")
        return path

    return write


def told(dataset):
    return [text for text in json.loads(dataset.attrs["warnings"]) if "no values" in text]


def test_rows_that_were_deleted_are_named_with_their_place(file):
    (text,) = told(sb.read(file(PIXELS[(PIXELS < 400) | (PIXELS > 410)])))
    assert text == (
        "no values between 399.75 and 410.25 nm, a step of 10.5 nm where the steps beside it are 0.25 nm, "
        "bridged by a straight line: were rows deleted there?"
    )


def test_a_spectrum_that_runs_downwards_is_looked_at_too(file):
    assert told(sb.read(file(PIXELS[(PIXELS < 400) | (PIXELS > 410)][::-1])))


def test_many_files_with_one_gap_say_so_once(file):
    grid = PIXELS[(PIXELS < 400) | (PIXELS > 410)]
    stack = sb.read_many([file(grid, f"{name}.csv") for name in "abc"])
    assert len(told(stack)) == 1


def test_many_gaps_are_counted(file):
    (text,) = told(sb.read(file([at for at in range(300, 500) if at % 20 > 4])))
    assert text.count("a step of") == 3
    assert "; and 6 more, bridged" in text


@pytest.mark.parametrize(
    "grid",
    {
        "even": PIXELS,
        "rounded to a tenth": np.unique(np.round(np.arange(300.0, 330.0, 0.11), 1)),
        "a prism": 1e3 / np.linspace(4.0, 1.2, 300) ** 1.7,
        "even in wavenumber": 1e7 / np.linspace(50_000, 10_000, 200),
        "a lamp certificate": CERTIFICATE,
        "steps that change once": [*range(250, 400, 5), *range(400, 1001, 50)],
        "steps that change twice": [*range(250, 300, 20), *range(300, 400, 5), *range(400, 801, 100)],
        "dense near a peak": [*range(300, 360, 10), *range(360, 375), *range(375, 500, 10)],
        "dense near two peaks": [*range(300, 320), *range(320, 361, 10), *range(361, 380)],
        "a curve of few points": [298, 299, 328, 329, 400],
        "an end far out": [200, *range(300, 400)],
    }.items(),
    ids=lambda one: one[0],
)
def test_an_honest_grid_has_no_gap(file, grid):
    assert not missing(grid[1])
    assert not told(sb.read(file(grid[1])))


def test_reference_curves_have_no_gap():
    paths = [*Path("reference_curves").glob("*.csv"), *Path("reference_curves/initiators").glob("*.csv")]
    assert len(paths) > 5
    for path in paths:
        assert not told(sb.read(path)), path


def test_time_and_hours_may_stand_still(tmp_path):
    path = tmp_path / "log.csv"
    hours = [*range(10), *range(500, 510)]
    path.write_text("hours,relative output\n" + "".join(f"{at},1\n" for at in hours), encoding="utf-8")
    assert not told(sb.read(path))


@given(
    first=st.integers(1, 380),
    lost=st.integers(3, 100),
    step=st.floats(0.05, 5.0),
    bend=st.floats(-0.4, 0.4),
)
def test_three_lost_rows_or_more_are_always_found(first, lost, step, bend):
    """In a grid whose steps change by a few times from end to end, wherever two rows stand on either side."""
    place = np.arange(500.0)
    grid = 200 + step * (place + bend * place**2 / 1000)
    last = min(first + lost, 498)
    kept = (place <= first) | (place > last)
    found = gaps(grid[kept])
    assert [(gap.first, gap.last) for gap in found] == [(grid[first], grid[last + 1])]
    assert not gaps(grid)
