"""Non-linearity: a worked example, and a general least-squares solver as the judge of the fit."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from scipy.optimize import least_squares

from spectralbench.corrections import correct_linearity, fit_linearity

TIMES = np.array([0.05, 0.1, 0.2, 0.4, 0.8])
RATES = np.array([2e4, 5e4, 1.2e4, 6e4])


def counts(values):
    return xr.DataArray(
        values, {"wavelength": 360.0 + np.arange(values.shape[-1])}, ("spectrum", "wavelength")
    )


@pytest.mark.parametrize(("measured", "true"), [(40000.0, 43478.2609), (10000.0, 10204.0816)])
def test_worked_example(measured, true, agrees):
    """S / (1 − 2·10⁻⁶ S)."""
    found = correct_linearity(xr.DataArray([measured], {"wavelength": [365.0]}, "wavelength"), [1.0, -2e-6])
    agrees(f"{measured:g} counts made linear", found[0], true, "closed form: S / (1 - 2e-6 S)", 9)


@pytest.mark.parametrize("degree", [1, 2])
def test_the_fit_is_that_of_a_general_solver(degree, agrees):
    """All rates and coefficients at once, by Levenberg and Marquardt's method; shot noise of a known seed."""
    light = TIMES[:, None] * RATES
    noisy = np.random.default_rng(8).normal(light / (1 + 2e-6 * light), np.sqrt(light))
    weights = np.sqrt(TIMES[:, None] / (noisy.sum(axis=0) / TIMES.sum()))

    def residuals(unknown):
        ratio = 1 + sum(b * (noisy / 5e4) ** k for k, b in enumerate(unknown[:degree], 1))
        return (weights * (noisy / TIMES[:, None] - unknown[degree:] * ratio)).ravel()

    start = np.concatenate([np.zeros(degree), RATES])
    judge = least_squares(
        residuals, start, method="lm", x_scale=np.maximum(start, 1), xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    scale = 5e4 ** -np.arange(1.0, degree + 1)
    variance = 2 * judge.cost / (noisy.size - start.size)
    spread = np.sqrt(np.diag(np.linalg.inv(judge.jac.T @ judge.jac))[:degree] * variance) * scale
    fit = fit_linearity(counts(noisy), TIMES, degree)
    uncertainty = np.sqrt(np.diag(fit.covariance))[1:]
    for k in range(degree):
        name, source = f"coefficient {k + 1} of degree {degree}", "scipy.optimize.least_squares, method lm"
        agrees(name, fit.coefficients[k + 1], judge.x[k] * scale[k], source, 5, "package")
        agrees(f"standard uncertainty of {name}", uncertainty[k], spread[k], source, 3, "package")
