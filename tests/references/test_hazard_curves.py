"""Hazard functions: values of the published tables, closed forms, and weighted LED lines.

S(λ) and B(λ): EN 62471:2008 (IEC 62471:2006), tables 4.1 and 4.2. Closed form of S(λ): ICNIRP,
Health Physics 87 (2004) 171, equations 2a to 2c. Erythema: ISO/CIE 17166:2019 (CIE S 007).
"""

from itertools import pairwise

import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad
from scipy.special import erf

from spectralbench.curves import load
from spectralbench.reduction import band_irradiance, weighted_irradiance
from spectralbench.weightings import Curve

# EN 62471:2008, table 4.1, as printed
ACTINIC = """
200 .030   205 .051   210 .075   215 .095   220 .120   225 .150   230 .190   235 .240   240 .300   245 .360
250 .430   254 .500   255 .520   260 .650   265 .810   270 1.000  275 .960   280 .880   285 .770   290 .640
295 .540   297 .460   300 .300   303 .120   305 .060   308 .026   310 .015   313 .006   315 .003   316 .0024
317 .0020  318 .0016  319 .0012  320 .0010  322 .00067 323 .00054 325 .00050 328 .00044 330 .00041 333 .00037
335 .00034 340 .00028 345 .00024 350 .00020 355 .00016 360 .00013 365 .00011 370 .000093 375 .000077
380 .000064 385 .000053 390 .000044 395 .000036 400 .000030
"""

# EN 62471:2008, table 4.2, as printed up to 500 nm
BLUE_LIGHT = """
300 .01 305 .01 310 .01 315 .01 320 .01 325 .01 330 .01 335 .01 340 .01 345 .01 350 .01 355 .01 360 .01
365 .01 370 .01 375 .01 380 .01 385 .013 390 .025 395 .05 400 .10 405 .20 410 .40 415 .80 420 .90 425 .95
430 .98 435 1.00 440 1.00 445 .97 450 .94 455 .90 460 .80 465 .70 470 .62 475 .55 480 .45 485 .40 490 .22
495 .16
"""


def pairs(text):
    return np.array(text.split(), dtype=float).reshape(-1, 2).T


def test_the_actinic_table():
    curve = load("actinic")
    wavelength, values = pairs(ACTINIC)
    assert curve.wavelength.values.tolist() == wavelength.tolist()
    assert curve.values.tolist() == values.tolist()
    assert curve.attrs["interpolation"] == "logarithmic"


@pytest.mark.parametrize(
    "text", ["254 .500", "270 1.000", "297 .460", "313 .006", "325 .00050", "365 .00011", "400 .000030"]
)
def test_actinic_values(text, agrees):
    wavelength, printed_value = text.split()
    assert text in " ".join(ACTINIC.split())
    found = Curve.of(load("actinic"))(float(wavelength))
    digits = len(printed_value.strip("0.").lstrip("0"))
    agrees(f"S({wavelength} nm)", found, float(printed_value), "EN 62471:2008, table 4.1", digits)


@pytest.mark.parametrize("text", ["385 .013", "405 .20", "435 1.00", "455 .90", "490 .22"])
def test_blue_light_values(text, agrees):
    wavelength, printed_value = text.split()
    assert text in " ".join(BLUE_LIGHT.split())
    found = Curve.of(load("blue_light"))(float(wavelength))
    agrees(f"B({wavelength} nm)", found, float(printed_value), "EN 62471:2008, table 4.2", 2)


@pytest.mark.parametrize(
    ("wavelength", "value"),
    [
        (300, "0.648634434"),
        (310, "0.0744731974"),
        (340, "1e-3"),
        (365, "4.21696503e-4"),
        (400, "1.25892541e-4"),
    ],
)
def test_erythema_values(wavelength, value, agrees):
    found = Curve.of(load("erythema"))(float(wavelength))
    agrees(f"erythema at {wavelength} nm", found, value, "closed form of ISO/CIE 17166:2019", None)


def test_the_actinic_table_against_the_closed_form():
    """Written apart from the table, the formula catches a slipped digit, a factor of 2 or more."""
    curve = load("actinic").sel(wavelength=slice(210, 400))
    x = curve.wavelength.values
    formula = np.select(
        [x <= 270, x <= 300],
        [0.959 ** (270 - x), 1 - 0.36 * (np.maximum(x - 270, 0) / 20) ** 1.64],
        0.3 * 0.736 ** (x - 300) + 10 ** (2 - 0.0163 * x),
    )
    ratio = formula / curve.values
    assert (ratio > 1 / 2).all()
    assert (ratio < 2).all()
    assert ratio[x == 270].item() == 1.0


def test_the_blue_light_table():
    wavelength, values = pairs(BLUE_LIGHT)
    np.testing.assert_allclose(Curve.of(load("blue_light"))(wavelength), values, rtol=1e-14)


def test_blue_light_beyond_500_nm_is_the_formula():
    """EN 62471, table 4.2: 10^((450 − λ)/50) from 500 to 600 nm, 0.001 from 600 to 700 nm."""
    curve = Curve.of(load("blue_light"))
    x = np.linspace(500, 600, 1001)
    # straight lines over 1 nm lie above by up to (ln 10/50)²/8 = 2.7e-4; the points carry six digits
    np.testing.assert_allclose(curve(x), 10 ** ((450 - x) / 50), rtol=2.7e-4 + 5e-6)
    assert curve([600.0, 650.0, 700.0]).tolist() == [0.001, 0.001, 0.001]
    assert curve([299.9, 700.1]).tolist() == [0.0, 0.0]


def erythema(x):
    """ISO/CIE 17166:2019: three branches, 250 to 400 nm."""
    if x <= 298:
        return 1.0
    return 10 ** (0.094 * (298 - x)) if x <= 328 else 10 ** (0.015 * (140 - x))


@pytest.mark.parametrize("wavelength", [250, 270, 298, 300, 310, 320, 328, 340, 365, 385, 400, 312.34])
def test_erythema_is_the_formula(wavelength):
    # the file carries 12 digits of the branch points
    assert float(Curve.of(load("erythema"))(wavelength)) == pytest.approx(erythema(wavelength), rel=1e-11)


def test_erythema_is_zero_outside_its_range():
    assert Curve.of(load("erythema"))([249.9, 400.1]).tolist() == [0.0, 0.0]


def led(centre, width, step=0.1):
    """A Gaussian LED line of 10 W m-2 (1 mW/cm²)."""
    sigma = width / np.sqrt(8 * np.log(2))
    grid = np.round(np.arange(200, 700 + step / 2, step), 3)
    values = 10 / (sigma * np.sqrt(2 * np.pi)) * np.exp(-(((grid - centre) / sigma) ** 2) / 2)
    return xr.DataArray(values, {"wavelength": grid}, "wavelength", attrs={"units": "W m-2 nm-1"})


@pytest.mark.parametrize(
    ("centre", "actinic", "near_ultraviolet", "blue"),
    [(365, "1.113118e-3", "10.000000", "0.1000013"), (385, "5.367614e-4", "9.997940", "0.1691620")],
)
def test_weighted_led_lines(centre, actinic, near_ultraviolet, blue, printed):
    """Computed outside this project: exact edges, S straight in its logarithm, B straight, FWHM 10 nm."""
    line = led(centre, 10, step=0.002)  # where trapezoids leave less than the last digit printed
    assert weighted_irradiance(line, "actinic") == printed(actinic)
    assert weighted_irradiance(line, "blue_light") == printed(blue)
    assert band_irradiance(line, 315, 400) == printed(near_ultraviolet)


@pytest.mark.parametrize("centre", [365, 385, 405])
@pytest.mark.parametrize("name", ["actinic", "blue_light"])
def test_weighted_led_lines_by_quadrature(centre, name):
    """The product of line and table, integrated by scipy piece by piece."""
    x, values = pairs(ACTINIC) if name == "actinic" else pairs(BLUE_LIGHT + " 500 .1")
    sigma = 10 / np.sqrt(8 * np.log(2))
    scale = 10 / (sigma * np.sqrt(2 * np.pi))

    def product(at):
        weight = np.exp(np.interp(at, x, np.log(values))) if name == "actinic" else np.interp(at, x, values)
        return weight * scale * np.exp(-(((at - centre) / sigma) ** 2) / 2)

    expected = sum(quad(product, a, b)[0] for a, b in pairwise(x))
    # trapezoids of 0.1 nm: step²/12 × curvature over value, at most (2/sigma)² for what counts of a line
    assert weighted_irradiance(led(centre, 10), name) == pytest.approx(
        expected, rel=0.1**2 / 12 * 4 / sigma**2
    )


@pytest.mark.parametrize("centre", [385, 395, 405])
def test_near_ultraviolet_of_led_lines_by_the_error_function(centre):
    expected = 10 * (erf(2 * np.sqrt(np.log(2)) * (400 - centre) / 10) + 1) / 2
    # step²/12 × the highest slope of the line, 0.61 × 0.94/sigma² per 10 W m-2 of it
    assert band_irradiance(led(centre, 10), 315, 400) == pytest.approx(expected, abs=0.1**2 / 12 * 10 * 0.02)


@pytest.mark.parametrize("step", [150.0, 50.0, 5.0])
def test_erythema_of_constant_light_whatever_its_grid(step):
    """Constant light of 1 W m-2 nm-1: the integral of the formula, 48 + ... by hand, on any grid."""
    steep, slow = 0.094 * np.log(10), 0.015 * np.log(10)
    join = 10**-2.82
    exact = 48 + (1 - join) / steep + join * (1 - 10 ** (-0.015 * 72)) / slow
    grid = np.arange(250, 400.1, step)
    light = xr.DataArray(np.ones(grid.size), {"wavelength": grid}, "wavelength")
    assert weighted_irradiance(light, "erythema") == pytest.approx(exact, rel=1e-3)
