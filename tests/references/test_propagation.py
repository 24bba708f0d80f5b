"""Draws against the law of propagation, on the same budgets.

Judges: the worked examples of JCGM 100:2008 (GUM) and of JCGM 101:2008, and GTC 1.5.1 of the Measurement
Standards Laboratory of New Zealand, which differentiates a budget and does not draw. What is claimed of a
draw stays within four of its own standard deviations: 1/√(2 draws) of a standard uncertainty.
"""

from __future__ import annotations

from importlib.metadata import version

import GTC
import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad
from scipy.optimize import brentq

import spectralbench as sb

BY_GTC = f"GTC {version('GTC')}, law of propagation"
DRAWS = 400_000


def spread(x):
    return sb.summarize(x)["standard_uncertainty"]


# JCGM 100:2008, table H.1: estimate, standard uncertainty, distribution; lengths in nm
END_GAUGE = {
    "standard": (50_000_623.0, 25.0, "normal"),
    "repeated observations": (215.0, 5.8, "normal"),
    "random effects of the comparator": (0.0, 3.9, "normal"),
    "systematic effects of the comparator": (0.0, 6.7, "normal"),
    "difference of expansion": (0.0, 1e-6 / np.sqrt(3), "rectangular"),
    "difference of temperature": (0.0, 0.05 / np.sqrt(3), "rectangular"),
    "mean temperature": (-0.1, 0.2, "normal"),
    "cycle of the temperature": (0.0, 0.5 / np.sqrt(2), "arcsine"),
    "expansion of the standard": (11.5e-6, 2e-6 / np.sqrt(3), "rectangular"),
}


def end_gauge(standard, a, b, c, expansion, temperature, mean, cycle, expansion_of_standard):
    """Length at 20 °C: eq. H.3."""
    shorter = expansion * (mean + cycle) + expansion_of_standard * temperature
    return standard + a + b + c - standard * shorter


@pytest.fixture(scope="module")
def drawn():
    return {
        name: sb.draw(estimate, uncertainty, distribution, draws=DRAWS, seed=number)
        for number, (name, (estimate, uncertainty, distribution)) in enumerate(END_GAUGE.items())
    }


def test_end_gauge(drawn, agrees):
    """JCGM 100:2008, H.1. Draws bring the second-order terms with them, without being asked."""
    length = end_gauge(*drawn.values())
    agrees("end gauge [mm]", length.mean() / 1e6, "50.000838", "JCGM 100:2008, H.1")
    agrees("end gauge, with second order [nm]", spread(length), "34", "JCGM 100:2008, H.1.7")
    # the terms of second order, eq. of 5.1.2, note: l² u²(δα) u²(θ) + l² u²(αs) u²(δθ)
    first = sum(component**2 for component in judged_components().values())
    second = (50e6 * 1e-6 / np.sqrt(3)) ** 2 * (0.2**2 + 0.5**2 / 2)
    second += (50e6 * 2e-6 / np.sqrt(3) * 0.05 / np.sqrt(3)) ** 2
    source = "closed form, JCGM 100:2008, 5.1.2, note"
    agrees("end gauge, with second order [nm]", spread(length), np.sqrt(first + second), source, 2)


def judged_components():
    inputs = [GTC.ureal(estimate, uncertainty) for estimate, uncertainty, _ in END_GAUGE.values()]
    length = end_gauge(*inputs)
    return {name: GTC.component(length, one) for name, one in zip(END_GAUGE, inputs, strict=True)}


def test_end_gauge_to_first_order(drawn, agrees):
    """Without the products of two errors, as in table H.1: θ and αs stay at their estimates."""
    held = ("mean temperature", "cycle of the temperature", "expansion of the standard")
    inputs = {name: END_GAUGE[name][0] if name in held else draws for name, draws in drawn.items()}
    found = spread(end_gauge(*inputs.values()))
    agrees("end gauge, first order [nm]", found, "32", "JCGM 100:2008, H.1")
    expected = np.hypot.reduce([*judged_components().values()])
    agrees("end gauge, first order [nm]", found, expected, BY_GTC, 2, "package")


@pytest.mark.parametrize("name", [name for name in END_GAUGE if name not in list(END_GAUGE)[-3:]])
def test_each_component_of_the_end_gauge(drawn, agrees, name):
    inputs = {other: estimate for other, (estimate, _, _) in END_GAUGE.items()} | {name: drawn[name]}
    found = spread(end_gauge(*inputs.values()))
    agrees(f"end gauge, {name} [nm]", found, judged_components()[name], BY_GTC, 2, "package")


# JCGM 100:2008, table H.2: five simultaneous observations
VOLTAGE = [5.007, 4.994, 5.005, 4.990, 4.999]  # V
CURRENT = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]  # A
PHASE = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]  # rad
PAIRS = ("R, X", "R, Z", "X, Z")


def impedance(voltage, current, phase, cos=np.cos, sin=np.sin):
    """Resistance, reactance and modulus: eq. H.7."""
    return voltage / current * cos(phase), voltage / current * sin(phase), voltage / current


def drawn_impedance(estimates, covariance):
    """Normal inputs that belong together, made of three that do not."""
    apart = [sb.draw(0.0, 1.0, draws=DRAWS, seed=number) for number in (11, 12, 13)]
    factor = np.linalg.cholesky(covariance)
    inputs = [
        estimate + sum(weight * deviate for weight, deviate in zip(row, apart, strict=True))
        for estimate, row in zip(estimates, factor, strict=True)
    ]
    return [x.values for x in impedance(*inputs)]


def correlations(resistance, reactance, modulus):
    table = np.corrcoef([resistance, reactance, modulus])
    return table[0, 1], table[0, 2], table[1, 2]


def test_resistance_reactance_and_impedance_as_published(agrees):
    """JCGM 100:2008, H.2: what the five observations of table H.2 come to."""
    observed = np.array([VOLTAGE, CURRENT, PHASE])
    found = drawn_impedance(observed.mean(axis=1), np.cov(observed) / 5)
    source = "JCGM 100:2008, H.2"
    published = {"R": (127.732, 0.071), "X": (219.847, 0.295), "Z": (254.260, 0.236)}
    for (name, (estimate, uncertainty)), x in zip(published.items(), found, strict=True):
        agrees(f"{name} [Ω]", x.mean(), estimate, source, 5)
        agrees(f"u({name}) [Ω]", x.std(ddof=1), uncertainty, source, 2)
    for name, r, expected in zip(PAIRS, correlations(*found), (-0.588, -0.485, 0.993), strict=True):
        agrees(f"r({name})", r, expected, source, 2)


def test_resistance_reactance_and_impedance_as_gtc_has_them(agrees):
    """The same from the rounded estimates of table H.2, for which GTC gives more digits."""
    estimates, uncertainties = (4.999, 19.661e-3, 1.04446), np.array([0.0032, 0.0095e-3, 0.00075])
    pairs = {(0, 1): -0.36, (0, 2): 0.86, (1, 2): -0.65}
    inputs = GTC.multiple_ureal(estimates, uncertainties, np.inf)
    together = np.eye(3)
    for (i, j), r in pairs.items():
        GTC.set_correlation(r, inputs[i], inputs[j])
        together[i, j] = together[j, i] = r
    judged = impedance(*inputs, GTC.cos, GTC.sin)
    found = drawn_impedance(estimates, together * np.outer(uncertainties, uncertainties))
    for name, x, expected in zip("RXZ", found, judged, strict=True):
        agrees(f"u({name}) of rounded estimates [Ω]", x.std(ddof=1), expected.u, BY_GTC, 2, "package")
    expected = [GTC.get_correlation(judged[i], judged[j]) for i, j in pairs]
    for name, r, theirs in zip(PAIRS, correlations(*found), expected, strict=True):
        agrees(f"r({name}) of rounded estimates", r, theirs, BY_GTC, 2, "package")


def sum_of_four(distribution, uncertainties=(1.0, 1.0, 1.0, 1.0)):
    """JCGM 101:2008, 9.2: Y = X1 + X2 + X3 + X4."""
    inputs = [
        sb.draw(0.0, uncertainty, distribution, draws=1_000_000, seed=number)
        for number, uncertainty in enumerate(uncertainties, 21)
    ]
    return sb.summarize(sum(inputs))


def test_four_normal_inputs(agrees):
    found = sum_of_four("normal")
    source = "closed form 2 × 1.95996, JCGM 101:2008, 9.2.2"
    agrees("four normal inputs, half the interval", (found.high - found.low) / 2, 3.91993, source, 2)
    assert (found.high - found.low) / 2 == pytest.approx(3.91993, abs=0.02)


def test_four_rectangular_inputs(agrees):
    """The sum ends before a normal one: ±3.88 instead of ±3.92, and the draws tell them apart."""
    found = sum_of_four("rectangular")
    agrees("four rectangular inputs, u", found.standard_uncertainty, "2.00", "JCGM 101:2008, table 3")
    half = (found.high - found.low) / 2
    agrees("four rectangular inputs, half the interval", half, 3.88, "JCGM 101:2008, table 3", 2)
    # closed form of JCGM 101:2008, 9.2.3.3; four standard deviations of what is drawn
    assert half == pytest.approx(2 * np.sqrt(3) * (2 - (3 / 5) ** 0.25), abs=0.02)


def test_four_rectangular_inputs_of_which_one_is_wide(agrees):
    """X4 is ten times as uncertain: nearly a trapezoid, far from normal (JCGM 101:2008, 9.2.4)."""
    found = sum_of_four("rectangular", (1.0, 1.0, 1.0, 10.0))
    source = "closed form, JCGM 101:2008, 9.2.4"
    agrees("one wide rectangular input, u", found.standard_uncertainty, np.sqrt(103), source, 3)
    wide, narrow = 10 * np.sqrt(3), np.sqrt(3)

    def density(x):
        """Of the sum of the three narrow ones, by the formula of Irwin and Hall."""
        s = (x / narrow + 3) / 2
        return sum((-1) ** k * w * max(s - k, 0) ** 2 for k, w in enumerate((1, 3, 3, 1))) / (4 * narrow)

    def beyond(y):
        left = y - wide  # where the sum of the narrow ones starts to reach y
        return quad(lambda x: (x - left) / (2 * wide) * density(x), left, 3 * narrow)[0]

    expected = brentq(lambda y: beyond(y) - 0.025, 15, 19)
    half = (found.high - found.low) / 2
    agrees("one wide rectangular input, half the interval", half, expected, source, 3)


def line(step):
    """An invented LED line at 365 nm, 10 nm wide."""
    grid = np.arange(315.0, 400.5, step)
    sigma = 10 / np.sqrt(8 * np.log(2))
    values = np.exp(-(((grid - 365) / sigma) ** 2) / 2)
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


def relative(light, correlation, draws=80_000):
    spectra = sb.draw(light, 0.02 * light, draws=draws, seed=31, correlation=correlation)
    said = sb.summarize(sb.band_irradiance(spectra, 315, 400))
    return float(said.standard_uncertainty / sb.band_irradiance(light, 315, 400))


@pytest.mark.parametrize(
    ("correlation", "length"), [("none", 0.0), (5.0, 5.0), (20.0, 20.0), ("full", np.inf)]
)
def test_a_band_of_correlated_irradiances(correlation, length, agrees):
    """u²(I) = Σi Σj wi wj u(Ei) u(Ej) rij, with r = exp(−|Δλ|/L): 0.515 %, 1.378 %, 1.789 % and 2 %."""
    light = line(1.0)
    apart = np.abs(np.subtract.outer(light.wavelength.values, light.wavelength.values))
    with np.errstate(divide="ignore", invalid="ignore"):
        together = np.where(apart == 0, 1.0, np.exp(-apart / length))
    parts = 0.02 * light.values * np.gradient(light.wavelength.values)
    parts[[0, -1]] /= 2
    expected = np.sqrt(parts @ together @ parts) / np.trapezoid(light.values, light.wavelength.values)
    what = f"u of 315–400 nm, correlation {correlation}"
    agrees(what, relative(light, correlation), expected, "closed form, JCGM 100:2008, eq. 13", 2)


@pytest.mark.parametrize("correlation", ["none", 5.0, 20.0, "full"])
def test_a_band_of_correlated_irradiances_as_gtc_has_it(correlation, agrees):
    light = line(5.0).sel(wavelength=slice(345, 385))
    grid = light.wavelength.values
    inputs = GTC.multiple_ureal(light.values, 0.02 * light.values, np.inf)
    for i, one in enumerate(inputs):
        for j, other in enumerate(inputs[:i]):
            if correlation != "none":
                r = 1.0 if correlation == "full" else float(np.exp(-(grid[i] - grid[j]) / correlation))
                GTC.set_correlation(r, one, other)
    band = 5.0 * (sum(inputs) - (inputs[0] + inputs[-1]) / 2)
    what = f"u of 345–385 nm every 5 nm, correlation {correlation}"
    agrees(what, relative(light, correlation), band.u / band.x, BY_GTC, 2, "package")


def test_the_absorbance_of_a_part(agrees):
    measured = sb.draw(0.5, 0.01, draws=DRAWS, seed=41)
    expected = -GTC.log10(GTC.ureal(0.5, 0.01))
    found = sb.summarize(sb.absorbance(measured))
    agrees("absorbance of 0.50(1)", found.value, expected.x, BY_GTC, 3, "package")
    agrees("u of the absorbance of 0.50(1)", found.standard_uncertainty, expected.u, BY_GTC, 2, "package")


def test_the_internal_transmittance_of_a_part(agrees):
    """From a measured 0.80(1) and an index of 1.585(5): the reflection at both faces takes its part."""
    transmittance, index = GTC.ureal(0.8, 0.01), GTC.ureal(1.585, 0.005)
    reflected = ((index - 1) / (index + 1)) ** 2
    passed = (1 - reflected) ** 2
    expected = (GTC.sqrt(passed**2 + (2 * transmittance * reflected) ** 2) - passed) / (
        2 * transmittance * reflected**2
    )
    found = sb.summarize(
        sb.internal_transmittance(
            sb.draw(0.8, 0.01, draws=DRAWS, seed=42), sb.draw(1.585, 0.005, draws=DRAWS, seed=43)
        )
    )
    agrees("internal transmittance behind 0.80(1)", found.value, expected.x, BY_GTC, 3, "package")
    agrees("u of the internal transmittance", found.standard_uncertainty, expected.u, BY_GTC, 2, "package")


def test_the_irradiance_of_a_lamp_at_a_distance(agrees):
    """500(1) mm instead of 500 mm: 0.2 % in distance is 0.4 % in irradiance."""
    certificate = sb.spectrum([1.0, 1.0, 1.0, 1.0], [300.0, 400, 500, 600], "spectral_irradiance")
    distances = sb.draw(500.0, 1.0, draws=DRAWS, seed=44)
    found = spread(certificate.sel(wavelength=400.0) * (500.0 / distances) ** 2)
    expected = (500.0 / GTC.ureal(500.0, 1.0)) ** 2
    agrees("u of the irradiance at 500(1) mm", found, expected.u, BY_GTC, 2, "package")
