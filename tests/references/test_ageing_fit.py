"""Output against hours: the closed form that IES TM-21 uses for the life of LEDs, L70 = ln(B/0.7)/α."""

from __future__ import annotations

import numpy as np

import spectralbench as sb

CLOSED_FORM = "closed form ln(B/fraction)/α, as in IES TM-21"


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


def test_an_arc_that_loses_what_arcs_lose():
    """Common practice, no source: an arc lamp has lost 40–50 % after about 3,000 h."""
    hours = np.array([0.0, 500, 1000, 1500, 2000])
    fit = sb.fit_ageing(hours, 0.55 ** (hours / 3000))
    assert 0.5 <= float(sb.output_at(fit, 3000)) <= 0.6


def test_what_does_not_fall_lasts_for_ever():
    assert np.isinf(float(sb.hours_until(sb.fit_ageing([0, 1, 2], [1.0, 1.0, 1.0]), 0.7)))
