"""Cure: absorbed photons by depth, the working curve, bleaching and reciprocity, held against others."""

from __future__ import annotations

import astropy
import astropy.constants
import astropy.units as u
import numpy as np
import pytest
import scipy
import xarray as xr

from spectralbench.cure import (
    absorbed_photons,
    bleaching_by_depth,
    carried_over_time,
    cure_depth,
    exposure_for_depth,
    fit_reciprocity,
    fit_working_curve,
    front_and_back,
    initiator_absorbance,
    photobleaching,
)

ASTROPY = f"astropy.units and astropy.constants {astropy.__version__}"
BEER = "closed form: Beer-Lambert law (IUPAC Gold Book, B00626)"
BLEACHING = "closed form of Terrones and Pearlstein, Macromolecules 34 (2001) 3195"
JACOBS = "closed form D_p ln(E/E_c), Jacobs 1992"
POWER = "closed form: equal rate^p × time"

# NIST/ITL Statistical Reference Datasets, linear regression, Norris (calibration of ozone monitors):
# y, x, and what is certified. The line's x is stretched here to the logarithm of an exposure.
NORRIS_Y = np.fromstring(
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 "
    "557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2",
    sep=" ",
)
NORRIS_X = np.fromstring(
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 "
    "556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5",
    sep=" ",
)
NIST = "NIST/ITL StRD Norris, certified"


def at_365(value):
    """A value on a band of 1 nm around 365 nm, whose photons count as those of 365 nm."""
    grid = [364.5, 365.5]
    return xr.DataArray([value, value], {"wavelength": grid}, "wavelength")


class TestDepth:
    """An initiator of 300 L/mol/cm, 20 mmol/L, in 100 µm, under 100 mW/cm² at 365 nm."""

    film = initiator_absorbance(at_365(300.0), "20 mmol/L", "100 um")
    light = at_365(1000.0)  # W m-2 nm-1

    def test_against_the_units_of_astropy(self, agrees):
        alpha = np.log(10) * 300 * u.L / u.mol / u.cm * 0.02 * u.mol / u.L
        energy = (365 * u.nm).to(u.J, equivalencies=u.spectral()) * astropy.constants.N_A
        front = alpha * 100 * u.mW / u.cm**2 / energy
        back = front * np.exp(-(alpha * 100 * u.um).to_value(u.one))
        faces = front_and_back(self.light, self.film, "100 um")
        for name, expected in {"front": front, "back": back}.items():
            what = f"photons absorbed at the {name} [µmol m-3 s-1]"
            agrees(what, faces[name], expected.to_value("umol / (m3 s)"), ASTROPY, 12, "package")

    def test_closed_forms(self, agrees):
        faces = front_and_back(self.light, self.film, "100 um")
        agrees("photons absorbed at the front [mol/L/s]", faces["front"] * 1e-9, "4.215336e-3", BEER)
        agrees("photons absorbed at the back [mol/L/s]", faces["back"] * 1e-9, "3.671404e-3", BEER)
        come = absorbed_photons(self.light, at_365(1e3))
        share = absorbed_photons(self.light, self.film) / come
        agrees("absorbed share of A = 0.06", share, "0.1290364100", BEER)

    @pytest.mark.parametrize(
        ("film", "expected"),
        [(0.1, "0.893221"), (1 / np.log(10), "0.632121"), (1.0, "0.390865"), (2.0, "0.214976")],
    )
    def test_average_by_front(self, film, expected, agrees):
        """(1 − 10^−A)/(A ln 10)."""
        faces = front_and_back(self.light, at_365(film), "100 um")
        agrees(f"average by front at A = {film:.4g}", faces["average_by_front"], expected, BEER)
        agrees(f"front by back at A = {film:.4g}", 1 / faces["back_by_front"], 10**film, BEER, 10)

    def test_the_back_gets_most_at_one_napierian_absorbance(self, agrees):
        """A 10^−A is largest at A = 1/ln 10 = 0.4342945: SciPy looks for it."""
        from scipy.optimize import minimize_scalar

        found = minimize_scalar(
            lambda film: -float(front_and_back(self.light, at_365(film), "100 um")["back"]),
            bounds=(0.01, 3), method="bounded", options={"xatol": 1e-9},
        )  # fmt: skip
        agrees("absorbance that gives the back the most", found.x, "0.4342945", BEER)


class TestWorkingCurve:
    def test_closed_forms(self, agrees):
        depth = cure_depth("50 mJ/cm^2", "10 mJ/cm^2", "100 um")
        agrees("depth at five times E_c, D_p = 100 µm", depth, "160.943791", JACOBS)
        exposure = exposure_for_depth("200 um", "10 mJ/cm^2", "100 um") / 10  # J m-2 → mJ cm-2
        agrees("exposure for a depth of 2 D_p [mJ/cm²]", exposure, "73.890561", JACOBS)

    def test_certified_regression(self, agrees):
        fit = fit_working_curve(np.exp(NORRIS_X / 100), NORRIS_Y)
        slope, uncertain = fit["penetration_depth"] / 100, fit["penetration_depth_uncertainty"] / 100
        agrees("slope", slope, "1.00211681802045", NIST, 13)
        agrees("its standard deviation", uncertain, "0.429796848199937e-3", NIST, 12)
        intercept = -float(fit["penetration_depth"]) * np.log(fit["critical_exposure"])
        agrees("intercept", intercept, "-0.262323073774029", NIST, 11)
        scatter = np.sqrt((fit["residual"] ** 2).sum() / 34)
        agrees("residual standard deviation", scatter, "0.884796396144373", NIST, 12)

    def test_uncertainty_of_the_critical_exposure(self, agrees):
        """SciPy fits the curve in its own two constants (invented depths)."""
        from scipy.optimize import curve_fit

        doses, depths = np.array([200.0, 400, 800, 1600]), np.array([72.0, 136, 213, 274])
        best, covariance = curve_fit(
            lambda x, length, start: length * (np.log(x) - np.log(start)), doses, depths, [90.0, 90.0],
            xtol=1e-14, ftol=1e-14,
        )  # fmt: skip
        judge = f"scipy.optimize.curve_fit {scipy.__version__} (invented depths)"
        fit = fit_working_curve(doses, depths)
        for i, name in enumerate(("penetration_depth", "critical_exposure")):
            agrees(name, fit[name], best[i], judge, 6, "package")
            found = fit[f"{name}_uncertainty"]
            agrees(f"{name}_uncertainty", found, np.sqrt(covariance[i, i]), judge, 6, "package")


class TestBleaching:
    @pytest.mark.parametrize(
        ("depth", "dose", "name", "expected"),
        [
            (1, 0, "light_left", "0.3678794"),
            (1, 1, "light_left", "0.6126998368"),
            (1, 1, "initiator_left", "0.6126998368"),
            (1, 5, "light_left", "0.9885548"),
            (1, 5, "initiator_left", "0.0181060"),
        ],
    )
    def test_closed_forms(self, depth, dose, name, expected, agrees):
        found = photobleaching(float(depth), float(dose))[name]
        agrees(f"{name} at γ = {depth}, β = {dose}", found, expected, BLEACHING)

    @pytest.mark.parametrize(
        ("dose", "most", "where"),
        [(1.0, "0.3954942", 0.5413), (5.0, "0.2516959", 4.993), (10.0, "0.2500114", 10.0)],
    )
    def test_the_highest_local_rate(self, dose, most, where, agrees):
        depths = np.linspace(0, 20, 200_001)
        left = photobleaching(depths, dose)
        rate = left["light_left"] * left["initiator_left"]
        agrees(f"highest rate by the first at the front, β = {dose:g}", rate.max(), most, BLEACHING)
        assert depths[int(rate.values.argmax())] == pytest.approx(where, abs=1e-3)

    def test_a_quarter_of_the_first_rate_at_high_attenuation(self, agrees):
        left = photobleaching(np.linspace(0, 100, 100_001), 50.0)
        source = "Terrones and Pearlstein, Macromolecules 34 (2001) 3195, abstract"
        agrees("highest rate, far in", (left["light_left"] * left["initiator_left"]).max(), 0.25, source, 8)

    def test_against_the_equations_themselves(self, agrees):
        """SciPy steps dc/dt = −Φ ε I c in 400 layers, light falling by Beer and Lambert between them."""
        from scipy.integrate import cumulative_trapezoid, solve_ivp

        photons, seconds, share, epsilon, amount = 3051.16e-6, 20.0, 0.5, 300.0, 0.02  # mol m-2 s-1, L, mol
        z = np.linspace(0, 2e-4, 401)
        cross = np.log(10) * epsilon * 0.1  # m2 mol-1

        def light(left):
            return np.exp(-cumulative_trapezoid(cross * 1e3 * amount * left, z, initial=0))

        solved = solve_ivp(
            lambda _, left: -share * cross * photons * light(left) * left, (0, seconds), np.ones(z.size),
            rtol=1e-9, atol=1e-12,
        )  # fmt: skip
        left = solved.y[:, -1]
        found = bleaching_by_depth(photons * 1e6, seconds, share, epsilon, amount, z)
        judge = f"scipy.integrate.solve_ivp {scipy.__version__}, 400 layers (invented initiator)"
        for k in (100, 400):
            depth = f"{z[k] * 1e6:g} µm"
            agrees(f"initiator left at {depth}", found["initiator_left"][k], left[k], judge, 5, "package")
            agrees(f"light left at {depth}", found["light_left"][k], light(left)[k], judge, 5, "package")


class TestReciprocity:
    @pytest.mark.parametrize(
        ("exponent", "time", "dose"), [(0.5, "0.3162", "3.1623"), (0.8, "0.1585", "1.5849")]
    )
    def test_ten_times_the_irradiance(self, exponent, time, dose, agrees):
        found = carried_over_time(1.0, 1.0, 10.0, exponent)
        agrees(f"time, p = {exponent}", found, time, POWER)
        agrees(f"dose, p = {exponent}", 10 * found, dose, POWER)

    def test_the_classical_steady_state(self, agrees):
        """X = 1 − exp(−k √I t), k = 0.05: X(10, 20 s) = 0.9576707804, reached at I = 40 in 10 s."""
        time = carried_over_time(10.0, 20.0, 40.0, 0.5)
        agrees("conversion after the time that was carried over", 1 - np.exp(-0.05 * 40**0.5 * time),
               "0.9576707804", "closed form X = 1 − exp(−k I^½ t)")  # fmt: skip

    def test_fit_against_another_regression(self, agrees):
        from scipy.stats import linregress, t

        light, times = np.array([1.0, 2, 4, 8, 16]), np.array([100.0, 61, 34, 20, 12])
        judge = linregress(np.log(light), np.log(times))
        name = f"scipy.stats.linregress and t {scipy.__version__} (invented pairs)"
        fit = fit_reciprocity(light, times)
        agrees("reciprocity exponent", fit["exponent"], -judge.slope, name, 12, "package")
        agrees("its uncertainty", fit["exponent_uncertainty"], judge.stderr, name, 11, "package")
        reach = t.ppf(0.975, 3) * judge.stderr
        agrees("its 95 % interval, lower end", fit["low"], -judge.slope - reach, name, 11, "package")
        agrees("its 95 % interval, upper end", fit["high"], -judge.slope + reach, name, 11, "package")
