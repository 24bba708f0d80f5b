"""Output against hours: the closed form that IES TM-21 uses for the life of LEDs, L70 = ln(B/0.7)/α."""

from __future__ import annotations

import numpy as np
import scipy
from scipy.optimize import least_squares

import spectralbench as sb
from spectralbench.ageing import fit_two_stage

CLOSED_FORM = "closed form ln(B/fraction)/α, as in IES TM-21"
HOURS = np.array([0.0, 250, 500, 1000, 2000, 3000, 4000, 5000])  # invented
OUTPUT = np.array([1.000, 0.942, 0.908, 0.889, 0.861, 0.842, 0.815, 0.799])


def test_life_of_a_closed_form(agrees):
    """α = 2e-5 per hour and B = 1: 70 % after ln(1/0.7)/α hours, half after ln(2)/α."""
    hours = np.arange(0.0, 10_001, 1000)
    fit = sb.fit_ageing(hours, np.exp(-2e-5 * hours))
    agrees("hours to 70 %", sb.hours_until(fit, 0.7), np.log(1 / 0.7) / 2e-5, CLOSED_FORM, 11)
    agrees("hours to a half", sb.hours_until(fit, 0.5), np.log(2) / 2e-5, CLOSED_FORM, 11)


def test_a_log_with_scatter_against_a_general_least_squares(agrees):
    """numpy.polyfit on the logarithm is the judge."""
    judge = f"numpy.polyfit {np.__version__} of the logarithms (invented hours)"
    hours = np.arange(0.0, 6001, 1000)
    output = np.array([1, 0.985, 0.97, 0.956, 0.942, 0.927, 0.914])
    slope, start = np.polyfit(hours, np.log(output), 1)
    fit = sb.fit_ageing(hours, output)
    life = np.log(np.exp(start) / 0.7) / -slope
    agrees("rate of ageing [1/h]", fit["rate"], -slope, judge, 10, "package")
    agrees("output at the start", fit["initial"], np.exp(start), judge, 10, "package")
    agrees("hours to 70 % of a fitted log", sb.hours_until(fit, 0.7), life, judge, 10, "package")


def test_the_same_log_by_hand(agrees):
    """Closed form, worked out beforehand: slope Σ(t - t̄) ln y / Σ(t - t̄)²."""
    hours = np.arange(0.0, 6001, 1000)
    fit = sb.fit_ageing(hours, [1, 0.985, 0.97, 0.956, 0.942, 0.927, 0.914])
    worked_out = "closed form of a straight line through ln y (invented hours)"
    agrees("rate of ageing [1/h], by hand", fit["rate"], "1.5015753e-5", worked_out)
    agrees("output at the start, by hand", fit["initial"], "0.9998977", worked_out)
    agrees("hours to 70 %, by hand", sb.hours_until(fit, 0.7), "23746.57", worked_out)


def test_two_stages_against_a_general_search_for_breaks(agrees):
    """Values by a package of others: its iteration finds break and slopes of ln y over thousands of hours."""
    judge = "piecewise-regression 1.5.0 (Pilgrim, J. Open Source Softw. 6 (2021) 3859), tolerance 1e-12"
    fit = fit_two_stage(HOURS, OUTPUT)
    agrees(
        "end of the early stage [1000 h]",
        fit["early_until"] / 1000,
        0.41704981756907816,
        judge,
        11,
        "package",
    )
    agrees("early rate [1/1000 h]", 1000 * fit["early_rate"], 0.239000017623097, judge, 11, "package")
    agrees("late rate [1/1000 h]", 1000 * fit["late_rate"], 0.028213989300067882, judge, 11, "package")
    squares = (np.log1p(fit["residual"]) ** 2).sum()
    agrees("squares that two stages leave", squares, 9.68121573042167e-05, judge, 11, "package")


def test_two_stages_against_scipy(agrees):
    """A general search by SciPy over all four numbers, from a start close by."""
    hours = HOURS / 1000

    def apart(found):
        early, late, start, until = found
        return start - early * np.minimum(hours, until) - late * np.maximum(hours - until, 0) - np.log(OUTPUT)

    judge = f"scipy.optimize.least_squares {scipy.__version__} (invented hours)"
    found = least_squares(apart, [0.2, 0.03, 0.0, 0.4], xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    fit = fit_two_stage(HOURS, OUTPUT)
    agrees("end of the early stage [1000 h], again", fit["early_until"] / 1000, found[3], judge, 8, "package")
    agrees("late rate [1/1000 h], again", 1000 * fit["late_rate"], found[1], judge, 8, "package")


def test_an_arc_that_loses_what_arcs_lose():
    """Common practice, no source: an arc lamp has lost 40–50 % after about 3,000 h."""
    hours = np.array([0.0, 500, 1000, 1500, 2000])
    fit = sb.fit_ageing(hours, 0.55 ** (hours / 3000))
    assert 0.5 <= float(sb.output_at(fit, 3000)) <= 0.6


def test_what_does_not_fall_lasts_for_ever():
    assert np.isinf(float(sb.hours_until(sb.fit_ageing([0, 1, 2], [1.0, 1.0, 1.0]), 0.7)))
