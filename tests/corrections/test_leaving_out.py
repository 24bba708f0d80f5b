"""Scans that somebody leaves out: which, why, and that nothing else changes."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.errors import RangeError

SCANS = xr.DataArray(
    np.arange(12.0).reshape(4, 3),
    {"wavelength": [364.0, 365.0, 366.0], "integration_time": 0.01},
    ("spectrum", "wavelength"),
    attrs={"units": "1", "history": "read from led.csv"},
)


def test_the_others_stay_as_they_are():
    kept = sb.leave_out(SCANS, [4, 2, 2], because="lamp flickered")
    assert np.array_equal(kept.values, SCANS.values[[0, 2]])
    assert kept.attrs["history"] == "read from led.csv\nleft out scans 2, 4 of 4: lamp flickered"
    assert kept.attrs["units"] == "1"
    assert float(kept.integration_time) == 0.01


def test_one_may_be_named_alone():
    assert sb.leave_out(SCANS, 2, because="x").identical(sb.leave_out(SCANS, [2], because="x"))


def test_none_left_out_is_the_frame_itself():
    assert sb.leave_out(SCANS, [], because="").identical(SCANS)


@pytest.mark.parametrize(
    ("numbers", "because", "words"),
    [
        ([0], "x", "there is no scan 0 in this frame: they count from 1 to 4"),
        ([5], "x", "there is no scan 5 in this frame: they count from 1 to 4"),
        ([1, 2, 3, 4], "x", "all 4 scans of this frame are left out; measure it again"),
        ([1.5], "x", "a scan is named by its whole number, counted from 1, not 1.5"),
        (["3"], "x", "a scan is named by its whole number, counted from 1, not '3'"),
        ([3], "  ", 'scan 3 is left out without a reason: write what was seen, not "  "'),
    ],
)
def test_what_cannot_be_left_out_is_refused(numbers, because, words):
    with pytest.raises(RangeError, match=words):
        sb.leave_out(SCANS, numbers, because)


def test_one_scan_alone_cannot_be_left_out():
    with pytest.raises(RangeError, match="there is one scan in this frame, and none would be left"):
        sb.leave_out(SCANS.isel(spectrum=0), [1], "x")
