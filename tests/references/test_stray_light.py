"""Stray light: a small instrument by hand, and the matrix against an ordinary solver."""

from __future__ import annotations

import numpy as np
import scipy.linalg
import xarray as xr

from spectralbench.corrections import correct_stray_light, stray_light_matrix

GRID = np.array([364.0, 365.0, 366.0])
SPREAD = np.array([[0, 0.001, 0.002], [0.001, 0, 0.001], [0.002, 0.001, 0]])  # D: pixel, column
TRUE = np.array([10.0, 1000.0, 100.0])
SOURCE = "closed form: measured = (I + D) true, after Zong et al., Appl. Opt. 45 (2006) 1111"


def matrix_of(spread):
    lines = xr.DataArray(
        (spread + np.eye(len(spread))).T,  # one line after the other, each a column
        {"excitation": GRID, "wavelength": GRID},
        ("excitation", "wavelength"),
    )
    return stray_light_matrix(lines * 250.0, in_band=0)


def signal(values):
    return xr.DataArray(values, {"wavelength": GRID}, "wavelength")


def test_three_pixels_by_hand(agrees):
    """10 + 1 + 0.2, 1000 + 0.01 + 0.1, 100 + 0.02 + 1."""
    measured = np.array([11.2, 1000.11, 101.02])
    np.testing.assert_allclose((np.eye(3) + SPREAD) @ TRUE, measured, rtol=1e-15)
    found = correct_stray_light(signal(measured), matrix_of(SPREAD))
    for at, one, other in zip(GRID, found.values, TRUE, strict=True):
        agrees(f"signal at {at:g} nm without stray light", one, other, SOURCE, 12)


def test_an_unsymmetric_instrument_against_a_solver(agrees):
    """Which index is the line and which the pixel shows only where the two differ."""
    spread = np.array([[0, 0.02, 0.0], [0.001, 0, 0.003], [0.01, 0.0, 0]])
    measured = np.array([5.0, 700.0, 60.0])
    judge = scipy.linalg.solve(np.eye(3) + spread, measured)
    found = correct_stray_light(signal(measured), matrix_of(spread))
    for at, one, other in zip(GRID, found.values, judge, strict=True):
        agrees(
            f"unsymmetric stray light taken out at {at:g} nm", one, other, "scipy.linalg.solve", 11, "package"
        )
