"""Resin and pigment in the bond line: scaled from a measured layer, and their share by Beer-Lambert."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.bond_line import absorbances
from spectralbench.benches.budget import Budget
from spectralbench.benches.folder import manifest_of
from spectralbench.constants import MICROMOLES_PER_JOULE_NANOMETRE

NAMED = "[[adhesive.initiator]]\n"
RESIN = '[[adhesive.absorber]]\nname = "{name}"\ncurve = "raw/{file}"\nlayer = "{layer}"\n\n'


def curve(values, first=240.0, last=800.0, what="absorbance [1]"):
    """A curve in steps of 10 nm; one number stands for all wavelengths."""
    along = np.arange(first, last + 1, 10.0)
    rows = zip(along, np.broadcast_to(values, along.shape), strict=True)
    return f"wavelength [nm],{what}\n" + "".join(f"{at:g},{value:g}\n" for at, value in rows)


@pytest.fixture(scope="module")
def original(lean):
    return lean


@pytest.fixture
def absorbing(bench):
    """A bench whose adhesive holds one absorber more."""

    def add(content, name="resin", layer="1 mm", file="resin.csv"):
        (bench.folder / "raw" / file).write_text(content, encoding="utf-8")
        bench("bench.toml", r"\A([\s\S]*?)\[\[adhesive\.initiator\]\]\n", "\\1__HERE__" + NAMED)
        bench.manifest("__HERE__", RESIN.format(name=name, layer=layer, file=file))
        return bench

    return add


GRID = xr.DataArray(np.arange(320.0, 440.0, 20.0), dims="wavelength", name="wavelength")


def adhesive(folder, draws=0):
    """What absorbs in the bond line of a bench, without the rest of its reduction."""
    tree = sb.open_bench(folder)
    return absorbances(tree, manifest_of(tree), GRID, Budget(manifest_of(tree), draws, seed=1))


@pytest.mark.parametrize(("layer", "expected"), [("1 mm", 0.03), ("0.15 mm", 0.2), ("10 um", 3.0)])
def test_an_absorbance_goes_with_the_thickness(absorbing, layer, expected):
    """The bond line of the demo is 0.15 mm."""
    found = adhesive(absorbing(curve(0.2), layer=layer).folder).background
    assert found.dims == ("wavelength",)
    assert found.values == pytest.approx(expected)


def test_resin_and_pigment_add_up(absorbing):
    absorbing(curve(0.2))
    found = adhesive(absorbing(curve(1.0), name="pigment", layer="0.3 mm", file="pigment.csv").folder)
    assert found.background.values == pytest.approx(0.2 * 0.15 + 1.0 * 0.5)


def test_without_them_there_is_no_background(bench):
    assert "background" not in adhesive(bench.folder)


def test_an_initiator_takes_its_share_of_what_is_absorbed(absorbing):
    """Of 1 - 10^-A it takes A_i/A, wavelength by wavelength: IUPAC Gold Book, B00626, and additivity."""
    tree = sb.reduce_bench(absorbing(curve(0.4), layer="0.15 mm").folder)
    result = sb.compare(tree)
    parts = tree["parts"].to_dataset()
    light = tree["sources/spectral_irradiance"].sel(source="LED 405")
    arriving = light * parts.bonded_transmittance.sel(part="cover")
    one = tree["adhesive/absorbance"].sel(initiator="initiator A")
    whole = tree["adhesive/absorbance"].sum("initiator") + 0.4
    at_bond = arriving.integrate("wavelength").item()
    taken = arriving * (1 - 10**-whole) / whole
    near = result.sel(source="LED 405")
    photons = (taken * one * arriving.wavelength).integrate("wavelength") * MICROMOLES_PER_JOULE_NANOMETRE
    assert near.photons_by_initiator.sel(initiator="initiator A").item() == pytest.approx(photons.item())
    lost = (taken * 0.4).integrate("wavelength").item()
    assert near.lost_irradiance.item() == pytest.approx(lost)
    used = (taken * (whole - 0.4)).integrate("wavelength").item()
    assert near.unused_irradiance.item() == pytest.approx(at_bond - used)
    assert near.spectrum_match.item() == pytest.approx(used / at_bond)
    assert "raw/resin.csv" in json.loads(result.attrs["provenance"])["files"]


def test_what_starts_nothing_is_drawn_with_the_bond_line_and_its_layer(absorbing):
    """By the demo 13.3 % of the bond line and 5 % of a curve; 10 % of the layer (GUM, 5.1.6)."""
    found = adhesive(absorbing(curve(0.2), layer="1 mm ± 0.1 mm").folder, draws=1000)
    assert found.background.dims == ("draw", "wavelength")
    one = found.background.isel(wavelength=5).astype(float)
    by_layer = one / found.bond_line
    assert float(by_layer.std() / by_layer.mean()) == pytest.approx(np.hypot(0.10, 0.05), rel=0.1)
    expected = np.sqrt(0.1**2 + 0.05**2 + (0.02 / 0.15) ** 2)
    assert float(one.std() / one.mean()) == pytest.approx(expected, rel=0.1)


def test_a_base_line_that_drifts_below_zero_absorbs_nothing(absorbing):
    assert (adhesive(absorbing(curve(-0.019)).folder).background == 0).all()


def test_what_is_clearly_negative_is_refused(absorbing):
    fault = absorbing(curve(-0.021)).fault(adhesive)
    assert fault.key == "adhesive.absorber.1.curve"
    assert fault.found == "an absorbance of -0.021"
    assert fault.expected == "a curve over band and data sheet wavelength, nowhere negative"


@pytest.mark.parametrize(
    ("first", "last", "missing"), [(330, 800, "320 nm"), (240, 420, "430 nm"), (240, 310, "320 nm")]
)
def test_what_does_not_cover_the_band_is_refused(absorbing, first, last, missing):
    """What is not known is not 0."""
    fault = absorbing(curve(0.2, first, last)).fault(adhesive)
    assert fault.key == "adhesive.absorber.1.curve"
    assert fault.found == f"a curve over {first}–{last} nm, without {missing}; what is not known is not 0"


def test_it_has_to_reach_the_data_sheet_too(absorbing):
    bench = absorbing(curve(0.2, 330, 800))
    bench.manifest('band = ["320 nm", "430 nm"]         # where', 'band = ["340 nm", "430 nm"]  # where')
    bench.manifest('data_sheet_wavelength = "365 nm"', 'data_sheet_wavelength = "325 nm"')
    assert "without 325 nm" in bench.fault(adhesive).found


def test_a_curve_with_a_gap_is_refused(absorbing):
    bench = absorbing(curve(0.2).replace("370,0.2\n", "370,\n"))
    assert bench.fault(adhesive).found == "an empty field"


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("initiator A", 'the name "initiator A" of an initiator'),
        ("resin", 'the name "resin" of number 1 again'),
    ],
)
def test_each_name_stands_once(absorbing, name, found):
    absorbing(curve(0.2))
    fault = absorbing(curve(0.2), name=name, file="other.csv").fault()
    assert fault.key == "adhesive.absorber.2.name"
    assert fault.found == found
    assert fault.expected == "each name once"


def test_a_curve_of_another_kind_is_refused(absorbing):
    fault = absorbing(curve(0.2, what="molar absorption coefficient [L/mol/cm]")).fault()
    assert "molar_absorption_coefficient [L mol-1 cm-1]" in fault.found
    assert fault.expected == "absorbance along wavelength"


@pytest.mark.parametrize("line", ["name", "curve", "layer"])
def test_an_absorber_says_all_three(absorbing, line):
    bench = absorbing(curve(0.2))
    bench("bench.toml", rf'(\[\[adhesive\.absorber\]\]\n(?:.*\n)*?){line} = ".*"\n', r"\1")
    fault = bench.fault()
    assert fault.key == f"adhesive.absorber.1.{line}"
    assert fault.found == "no such key"


@pytest.mark.parametrize(("layer", "expected"), [("0 mm", "above 0 mm"), ("1 s", "a number with a unit")])
def test_a_layer_is_a_length(absorbing, layer, expected):
    fault = absorbing(curve(0.2), layer=layer).fault()
    assert fault.key == "adhesive.absorber.1.layer"
    assert expected in fault.expected


def test_a_line_of_the_budget_may_name_an_absorber(absorbing):
    bench = absorbing(curve(0.2), layer="0.15 mm")
    text = (bench.folder / "bench.toml").read_text(encoding="utf-8")
    line = re.search(r'name = "(?:resin curve|initiator curves)"\ninput = "\w[^"]*"\n', text)[0]
    bench.manifest(line, 'name = "x"\ninput = "absorbance"\nof = ["resin"]\nrelative = true\n')
    bench.manifest('bond_line = "0.15 mm ± 0.02 mm"', 'bond_line = "0.15 mm"')
    found = adhesive(bench.folder, draws=400)
    assert found.background.isel(wavelength=5).std().item() == pytest.approx(0.2 * 0.05, rel=0.15)
    bench.manifest('of = ["resin"]', 'of = ["rosin"]')
    fault = bench.fault()
    assert re.search(r"uncertainty\.\d\.of", fault.key)
    assert '"resin"' in fault.expected


def test_an_uncertainty_of_coefficients_is_none_of_an_absorbance(absorbing):
    """20 L/mol/cm at 0.02 mol/L and 0.015 cm is 0.006 of absorbance; to resin it says nothing."""
    bench = absorbing(curve(0.2), layer="0.15 mm")
    bench.manifest('size = "5 %"\ncorrelation = "30 nm"', 'size = "20 L/mol/cm"\ncorrelation = "full"')
    found = adhesive(bench.folder, draws=50)
    assert found.background.mean().item() == pytest.approx(0.2, rel=0.3)


def test_a_pigment_of_ones_own_is_none_of_the_data_sheet(absorbing):
    """What the data sheet's condition gives is worked out without it, and what arrives with it."""
    bench = absorbing(curve(0.2))
    without = sb.compare(bench.folder)
    absorbing(curve(1.0), name="pigment", layer="0.3 mm", file="pigment.csv")
    taken = sb.compare(bench.folder)
    bench.manifest('name = "pigment"\n', 'name = "pigment"\nin_data_sheet = false\n')
    own = sb.compare(bench.folder)
    assert own.required_photons.item() == pytest.approx(without.required_photons.item(), rel=1e-9)
    assert taken.required_photons.item() < 0.9 * own.required_photons.item()
    assert own.absorbed_photons.values == pytest.approx(taken.absorbed_photons.values, rel=1e-12)
    assert (own.photon_time > taken.photon_time).all()
    asked = "pigment: did the adhesive of the data sheet hold it too (in_data_sheet)?"
    assert any(asked in text for text in json.loads(taken.attrs["not_measured"]))
    assert not any("pigment: did" in text for text in json.loads(own.attrs["not_measured"]))


def test_one_of_ones_own_alone_leaves_the_initiators_of_the_data_sheet(absorbing):
    bench = absorbing(curve(0.2))
    bench.manifest('name = "resin"\n', 'name = "resin"\nin_data_sheet = false\n')
    found = adhesive(bench.folder)
    assert (found.data_sheet_background == 0).all()
    assert found.background.values == pytest.approx(0.03)


def test_a_back_that_is_left_in_the_dark_is_named(absorbing):
    """A decade of absorbance leaves the back a tenth of what the front takes, and less."""
    bench = absorbing(curve(1.0, what="absorbance [1]"), layer="0.15 mm")
    (said,) = (t for t in json.loads(sb.compare(bench.folder).attrs["not_measured"]) if t.startswith("back"))
    assert said.startswith(
        "back of the bond line: it absorbs less than 30 % of what the front does under arc ("
    )
    assert "LED 405 (" in said


def test_an_adhesive_in_which_nothing_absorbs_is_refused(bench):
    """It had been told to be done in the time for the dose, with its photons not known."""
    bench("bench.toml", r'concentration = "[^"]*"', 'concentration = "0 mol/L"')
    with pytest.raises(
        sb.BenchError, match="with no absorption over 320–430 nm: check curve and conc"
    ) as told:
        adhesive(bench.folder)
    assert "adhesive.initiator" in str(told.value)
