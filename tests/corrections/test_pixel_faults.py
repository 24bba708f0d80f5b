"""Clipped pixels, by how likely it is that noise leaves so many of them alike."""

from __future__ import annotations

import numpy as np
import pytest

from spectralbench.corrections.noise import NoiseModel
from spectralbench.corrections.pixel_faults import clipped


@pytest.mark.parametrize(
    ("width", "scans", "deviation", "found"),
    [(3, 2, 50.0, 3), (2, 6, 50.0, 0), (3, 1, 50.0, 3), (3, 1, 2.0, 0), (3, 6, 2.0, 3)],
)
def test_a_flat_top_counts_where_chance_does_not_explain_it(width, scans, deviation, found):
    """Of 20 pixels, 20 p^(n w - 1) below 0.01, with p = 1/(σ√2π), the mode of a normal distribution."""
    counts = np.tile(np.arange(20.0), (scans, 1))
    counts[:, 5 : 5 + width] = 1000.0
    assert clipped(counts, NoiseModel(deviation**2, 0.0)).sum() == found


def test_a_pixel_that_one_scan_moves_is_none():
    counts = np.full((4, 9), 1000.0)
    counts[2, 4] = 999.0
    assert np.flatnonzero(~clipped(counts, NoiseModel(2500.0, 0.0))).tolist() == [4]
    assert not clipped(np.full((2, 5), np.nan), NoiseModel(2500.0, 0.0)).any()
