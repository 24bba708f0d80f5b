"""Radiometers of a bench: corrected and held against the spectrometer, or refused with a reason."""

from __future__ import annotations

import io
import json
import re

import numpy as np
import pytest
from rich.console import Console

import spectralbench as sb
from spectralbench.benches.budget import Budget
from spectralbench.benches.comparing import reduced_and_compared
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.frames import best_estimates
from spectralbench.benches.reconciling import reconciled
from spectralbench.benches.reducing import reduced_with
from spectralbench.benches.steps import Steps
from spectralbench.reports.page import as_html
from spectralbench.reports.records import of_reduction
from spectralbench.reports.tables import print_reduction
from spectralbench.virtual import truth

DRAWS = 200
ARC = truth.sources()[1]
IN_TARGET = (truth.HEAD_TARGET[0] <= truth.FINE) & (truth.HEAD_TARGET[1] >= truth.FINE)
TRUE = float(np.trapezoid(ARC.spectrum * IN_TARGET, truth.FINE))  # W m-2
CURVE = 'response = "raw/head_response.csv"  # of its head, from the certificate\n'
LAMP = 'calibration_source = "raw/head_calibration.csv"\n'
SOURCE = 'source = "arc, filtered"\nresponse'


@pytest.fixture(scope="module")
def original(small, without, tmp_path_factory):
    """The small bench with both arcs, at one of which the radiometers looked, and without the LEDs."""
    return without(small, tmp_path_factory.mktemp("reconciling") / "small", 'name = "LED', "[heat")


@pytest.fixture(scope="module")
def opened(demo, without, tmp_path_factory):
    """The same with all pixels."""
    return sb.open_bench(
        without(demo, tmp_path_factory.mktemp("reconciling") / "demo", 'name = "LED', "[heat")
    )


@pytest.fixture(scope="module")
def reduced(opened):
    return sb.reduce_bench(opened)


@pytest.fixture(scope="module")
def drawn(opened):
    return sb.reduce_bench(opened, draws=DRAWS, seed=1)


def of(tree, number=1):
    return tree[f"radiometer/{number}"].to_dataset()


def verdict(bench, **settings):
    return of(sb.reduce_bench(bench.folder, **settings))["verdict"].item()


def test_the_reading_looks_wrong_and_its_correction_agrees_with_spectrometer_and_truth(drawn):
    found = of(drawn)
    assert found["mean_irradiance"] < 0.6 * found["spectrometer_irradiance"].mean()
    assert found["agree"].item()
    assert found["verdict"].item() == "they agree within their intervals"
    for name in ("corrected_irradiance", "spectrometer_irradiance"):
        said = sb.summarize(found[name])
        assert said.low < TRUE < said.high, name
        assert found[name].attrs["units"] == "W m-2"


def test_the_factor_is_that_of_the_truth(drawn):
    """What the invented head shows, by integrals over invented spectra and curves, without any reduction."""
    expected = truth._HEAD_GAIN * TRUE / truth.head_reading(ARC)
    factor = sb.summarize(of(drawn)["mismatch_factor"])
    assert factor.value.item() == pytest.approx(expected, abs=3 * factor.standard_uncertainty.item())
    assert factor.standard_uncertainty < 0.01 * expected


def test_the_mean_has_the_scatter_of_its_readings(drawn):
    """Standard deviation over the root of the count (JCGM 100:2008, 4.2.3)."""
    found = of(drawn)
    readings = found["irradiance"].values
    expected = np.sqrt(((readings - readings.mean()) ** 2).sum() / (readings.size * (readings.size - 1)))
    assert found["mean_irradiance"].item() == pytest.approx(readings.mean(), rel=1e-12)
    assert found["mean_standard_uncertainty"].item() == pytest.approx(expected, rel=1e-9)


def test_the_uncertainty_of_a_corrected_reading_is_made_of_its_parts(drawn):
    """Calibration, placement (by the inverse square law, twice the relative one), scatter and factor."""
    found = of(drawn)
    factor, corrected = (found[name] for name in ("mismatch_factor", "corrected_irradiance"))
    scatter = found["mean_standard_uncertainty"] / found["mean_irradiance"]
    parts = [0.03, 2 * 0.3 / 18, float(scatter), float(factor.std("draw") / factor.mean())]
    relative = float(corrected.std("draw") / corrected.mean())
    # with 200 draws a standard deviation is known to 1/√(2·200) = 5 %
    assert relative == pytest.approx(np.hypot.reduce(parts), rel=0.15)


def test_a_bare_label_is_refused_with_its_reason(drawn):
    found = of(drawn, 2)
    assert set(found.data_vars) == {
        *("irradiance", "mean_irradiance", "mean_standard_uncertainty", "verdict"),
    }
    assert found["verdict"].item() == (
        "not comparable: there is no response curve of its head (response, or limits with a shape); "
        "there is no spectrum of what it was calibrated with (calibration_source); "
        "nothing says of which band it should show the irradiance (calibration_target)"
    )


def scaled(text, factor):
    return re.sub(r"^(\d+),(.*)$", lambda row: f"{row[1]},{float(row[2]) * factor}", text, flags=re.MULTILINE)


def test_a_wrong_calibration_does_not_agree(bench):
    path = bench.folder / "raw/head_readings.csv"
    path.write_text(scaled(path.read_text(encoding="utf-8"), 1.5), encoding="utf-8")
    tree = sb.reduce_bench(bench.folder, draws=DRAWS, seed=1)
    found = of(tree)
    assert not found["agree"].item()
    assert found["normalised_error"] > 1
    assert found["ratio"].item() == pytest.approx(1.5, rel=0.1)
    assert re.match(
        r"they do not: the radiometer shows 1\.[45]\d? times what the spectrometer shows \(1\.\d+–1\.\d+\), "
        "and E_n is .* Look first at band limits, calibration source, distance, saturation",
        found["verdict"].item(),
    )
    assert of_reduction(tree)["radiometer"][0]["agree"] is False


def test_without_draws_the_uncertainties_are_said_to_be_missing(reduced, opened):
    expected = "not known without uncertainties; ask for 20 draws or more"
    few = sb.reduce_bench(opened, draws=5, seed=1)
    for found in (of(reduced), of(few)):
        assert found["verdict"].item() == expected
        assert {"agree", "normalised_error"}.isdisjoint(found)
        assert found["ratio"].item() == pytest.approx(1, abs=0.1)
    assert of(reduced)["difference"] == (
        of(reduced)["corrected_irradiance"] - of(reduced)["spectrometer_irradiance"]
    )
    assert "as exact" not in of(reduced)["corrected_irradiance"].attrs["comment"]


def test_the_comment_says_what_the_interval_rests_on(drawn, bench):
    comment = of(drawn)["corrected_irradiance"].attrs["comment"]
    assert "taken to stand where the spectrometer stood, 18 mm from the source" in comment
    assert "takes its response curve, and the spectrum of its calibration, as exact" in comment
    bench.manifest('calibration_uncertainty = "3 %"\n', 'distance = "18 mm"\n')
    comment = of(sb.reduce_bench(bench.folder, 20, 1))["corrected_irradiance"].attrs["comment"]
    assert "stated to stand where" in comment
    assert "no uncertainty of its calibration is stated, and none counts" in comment


REFUSED = {
    "another distance": (
        *(SOURCE, f'distance = "50 mm"\n{SOURCE}'),
        "it stood at 50 mm and the spectrometer at 18 mm, and no model of the beam",
    ),
    "no source": (SOURCE, "response", r"nothing says which source it looked at \(source\)"),
    "no calibration source": (LAMP, "", "no spectrum of what it was calibrated with"),
    "no target": (
        'calibration_target = ["320 nm", "430 nm"]',
        "",
        "nothing says of which band it should show the irradiance",
    ),
    "a head that sees nothing": (
        CURVE,
        'limits = ["200 nm", "210 nm"]\nshape = "flat"\n',
        "the head gives no signal of the calibration source",
    ),
    "a target where the lamp gave nothing": (
        '["320 nm", "430 nm"]   #',
        '["600 nm", "700 nm"]   #',
        "600–700 nm",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_compared_says_why(bench, case):
    old, new, reason = REFUSED[case]
    said = verdict(bench.manifest(old, new))
    assert said.startswith("not comparable: ")
    assert re.search(reason, said)


def test_a_log_of_several_channels_is_refused(bench):
    bench("raw/head_readings.csv", r"^time.*", "time [s],irradiance A [mW/cm^2],irradiance B [mW/cm^2]")
    bench("raw/head_readings.csv", r"^(\d+),(.*)$", r"\1,\2,\2")
    tree = sb.reduce_bench(bench.folder)
    assert "several channels, and a response belongs to one" in of(tree)["verdict"].item()
    assert of_reduction(tree)["radiometer"][0]["figures"]["mean_irradiance"]["text"] == "334 mW/cm²"


def test_a_single_reading_of_a_hand_held_meter(bench):
    path = bench.folder / "raw/head_readings.csv"
    first = re.search(r"\A.*?^0,.*?$", path.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    path.write_text(first[0] + "\n", encoding="utf-8")
    found = of(sb.reduce_bench(bench.folder, draws=20, seed=1))
    assert found["mean_irradiance"].item() == found["irradiance"].item()
    assert found["mean_standard_uncertainty"].item() == 0
    assert found["verdict"].item() == "they agree within their intervals"


@pytest.mark.parametrize("stated", ["manifest", "log"])
def test_a_reading_before_its_calibration_is_refused(bench, stated):
    bench("raw/head_readings.csv", r"^time \[s\]", "time")
    bench("raw/head_readings.csv", r"^\d+,", "2025-11-02T10:00:00,")
    if stated == "log":
        bench.manifest('calibrated = "2025-11-03"\n', "")
        bench("raw/head_readings.csv", r"^time,", "# calibration date: 2025-11-03\ntime,")
    said = (
        "not comparable: it was read on 2025-11-02, before its calibration of 2025-11-03: state the one that"
    )
    assert verdict(bench).startswith(said)


def test_limits_and_a_shape_stand_for_a_response(bench):
    bench.manifest(CURVE, 'limits = ["320 nm", "390 nm"]\nshape = "gaussian"\n')
    found = of(sb.reduce_bench(bench.folder))["corrected_irradiance"]
    assert "is assumed: gaussian, from the limits 320–390 nm" in found.attrs["comment"]


def test_a_saturated_source_leaves_nothing_known(bench):
    bench.manifest(SOURCE, 'source = "arc"\nresponse')
    bench("raw/arc.csv", r"^(36[4-8][\d.]*),.*$", r"\1" + ",65535" * 8)
    tree = sb.reduce_bench(bench.folder, draws=20, seed=1)
    assert of(tree)["verdict"].item() == "not known: a value is not valid"
    assert of_reduction(tree)["radiometer"][0]["agree"] is None


FAULTS = {
    "limits without a shape": (
        *(CURVE, 'limits = ["320 nm", "390 nm"]\n', "radiometer.1.limits"),
        'limits and shape together, such as shape = "flat", or neither',
    ),
    "a shape without limits": (CURVE, 'shape = "flat"\n', "radiometer.1.shape", "limits and shape together"),
    "response and limits": (
        *(CURVE, f'{CURVE}limits = ["320 nm", "390 nm"]\nshape = "flat"\n', "radiometer.1.limits"),
        "response or limits, not both",
    ),
    "an unknown shape": (
        *(CURVE, 'limits = ["320 nm", "390 nm"]\nshape = "round"\n', "radiometer.1.shape"),
        "'flat' or 'gaussian'",
    ),
    "an unknown source": (
        SOURCE,
        'source = "sun"\nresponse',
        "radiometer.1.source",
        "the name of a source: ",
    ),
    "no date": ('"2025-11-03"', '"last autumn"', "radiometer.1.calibrated", 'a date such as "2025-11-03"'),
    "a target that runs back": (
        '["320 nm", "430 nm"]   #',
        '["430 nm", "320 nm"]   #',
        "radiometer.1.calibration_target",
        "a band that runs from a shorter to a longer wavelength",
    ),
    "too uncertain": (
        *('calibration_uncertainty = "3 %"', 'calibration_uncertainty = "300 %"'),
        *("radiometer.1.calibration_uncertainty", "at most 1"),
    ),
    "one file for two curves": (
        *('"raw/head_calibration.csv"', '"raw/head_response.csv"', "radiometer.1.calibration_source"),
        "each raw file in one role",
    ),
}


@pytest.mark.parametrize("case", FAULTS)
def test_a_fault_of_the_manifest(bench, case):
    old, new, key, expected = FAULTS[case]
    fault = bench.manifest(old, new).fault()
    assert fault.key == key
    assert expected in fault.expected


CURVE_FAULTS = {
    "against time": (
        "head_response",
        r"wavelength \[nm\]",
        "time [s]",
        "response",
        "relative_response along",
    ),
    "something else": (
        *("head_response", "relative response", "transmittance", "response"),
        r'relative_response along wavelength.*"wavelength \[…\],relative_response \[1\]"',
    ),
    "a gap": ("head_response", r"^(300),.*", r"\1,invalid", "response", "nowhere negative"),
    "negative": ("head_response", r"^(300),.*", r"\1,-0.1", "response", "nowhere negative"),
    "nothing": ("head_calibration", r"^(\d+),.*", r"\1,0", "calibration_source", "somewhere above 0"),
    "two columns": (
        *("head_calibration", r"^(\d+,|wavelength.*,)(.*)$", r"\1\2,\2", "calibration_source", "one"),
    ),
}


@pytest.mark.parametrize("case", CURVE_FAULTS)
def test_a_fault_of_a_curve_names_file_key_and_line(bench, case):
    name, old, new, key, expected = CURVE_FAULTS[case]
    fault = bench(f"raw/{name}.csv", old, new).fault(sb.reduce_bench)
    assert f"radiometer.1.{key}" in str(fault)
    assert f"line {bench.line_of(f'raw/{name}.csv')}" in str(fault)
    assert re.search(expected, f"{fault.expected}{fault.advice}")


def test_curves_with_units_do_as_well(bench):
    expected = of(sb.reduce_bench(bench.folder))["mismatch_factor"]
    bench("raw/head_response.csv", r"relative response \[1\]", "responsivity [m2 nm W-1 s-1]")
    bench(
        "raw/head_calibration.csv", r"relative spectral irradiance \[1\]", "spectral irradiance [W m-2 nm-1]"
    )
    found = of(sb.reduce_bench(bench.folder))["mismatch_factor"]
    assert found.item() == pytest.approx(expected.item(), rel=1e-12)


@pytest.fixture(scope="module")
def alone(original):
    """What the radiometer says if one cause is drawn, and all others keep their best estimate."""
    tree = sb.open_bench(original)
    manifest = manifest_of(tree)
    frames = best_estimates(tree, manifest)

    def with_cause(cause, source=None):
        budget = Budget(manifest, DRAWS, 1, only=cause)
        sources = reduced_with(tree, manifest, frames, Steps(budget))["sources"].to_dataset()
        found = reconciled(tree, manifest, sources, budget)["/radiometer/1"]
        return (found, sources["spectral_irradiance"].sel(source=source)) if source else found

    return with_cause


def spread(array):
    return float(array.std("draw") / array.mean()) if "draw" in array.dims else 0.0


def test_a_common_factor_of_the_spectrum_does_not_reach_the_corrected_reading(alone):
    """The scale of a spectrum cancels in the factor (CIE 220:2016); between the two it does not."""
    found = alone("lamp calibration")
    assert spread(found["mismatch_factor"]) < 1e-6  # draws along the wavelength are in single precision
    assert spread(found["corrected_irradiance"]) < 1e-6
    assert spread(found["spectrometer_irradiance"]) == pytest.approx(0.012, rel=0.2)
    assert found["standard_uncertainty"].item() == pytest.approx(
        float(found["spectrometer_irradiance"].std("draw", ddof=1)), rel=1e-6
    )


def test_what_the_target_counts_cancels_between_the_two(alone, original):
    """Closed form: reading · (∫E t · ∫C s) / (∫C t · ∫E s) over ∫E t leaves of the spectrum only 1 / ∫E s."""
    found, spectrum = alone("noise", "arc, filtered")
    points, response = np.loadtxt(
        original / "raw/head_response.csv", delimiter=",", skiprows=3, unpack=True, encoding="utf-8"
    )
    grid = spectrum.wavelength.values
    both = np.union1d(points, grid[(grid > points[0]) & (grid < points[-1])])
    light = np.array([np.interp(both, grid, draw) for draw in spectrum.transpose("draw", ...).values])
    signal = np.trapezoid(light * np.interp(both, points, response), both)
    ratio = found["corrected_irradiance"] / found["spectrometer_irradiance"]
    assert spread(ratio) > 1e-4
    assert spread(ratio * signal) < 1e-9
    assert found["ratio_high"] - found["ratio_low"] < 5 * spread(ratio)  # and not of independent parts


def test_the_calibration_of_the_head_reaches_nothing_but_its_reading(alone):
    found = alone("radiometer calibration")
    assert spread(found["corrected_irradiance"]) == pytest.approx(0.03, rel=0.2)
    assert "draw" not in found["spectrometer_irradiance"].dims
    assert "draw" not in found["mismatch_factor"].dims


@pytest.fixture(scope="module")
def with_draws(original):
    return reduced_and_compared(original, draws=20, seed=1)


def test_the_radiometer_is_no_cause_of_the_figures_of_the_sources(with_draws, bench):
    tree, result = with_draws
    assert not [cause for cause in result.cause.values if "radiometer" in cause]
    path = bench.folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    start, end = text.index("[[radiometer]]"), text.index("[[ageing]]")
    path.write_text(text[:start] + text[end:], encoding="utf-8")
    without = sb.reduce_bench(bench.folder, draws=20, seed=1)
    assert "radiometer" not in without.children
    assert tree["sources"].to_dataset().identical(without["sources"].to_dataset())


def test_logs_of_one_head_share_the_error_of_its_calibration(bench):
    (bench.folder / "raw/again.csv").write_bytes((bench.folder / "raw/head_readings.csv").read_bytes())
    path = bench.folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    block = text[text.index("[[radiometer]]") : text.index('[[radiometer]]\nname = "hand-held')]
    path.write_text(text + "\n" + block.replace("head_readings", "again"), encoding="utf-8")
    tree = sb.reduce_bench(bench.folder, draws=DRAWS, seed=1)
    one, other = (of(tree, number)["corrected_irradiance"].values for number in (1, 3))
    # variances: 0.03² of the calibration in both, 0.033² of the placement in each of its own
    assert np.corrcoef(one, other)[0, 1] == pytest.approx(0.03**2 / (0.03**2 + 0.0333**2), abs=0.2)
    assert not np.array_equal(one, other)


def test_the_seed_gives_the_same_draws(drawn, opened):
    again = of(sb.reduce_bench(opened, draws=DRAWS, seed=1))
    assert again.identical(of(drawn))


def printed(tree):
    text = io.StringIO()
    print_reduction(Console(file=text, width=200), of_reduction(tree))
    return text.getvalue()


def test_the_terminal_shows_reading_factor_correction_spectrometer_and_agreement(drawn, reduced):
    text = printed(drawn)
    for row in (
        *(
            r"irradiance stated in +│ +320–430 nm",
            r"mean of its readings +│ +334 mW/cm²",
            r"corrected reading +│ +6\d\d",
        ),
        *(
            r"factor for this source +│ +1\.9\d",
            r"spectrometer +│ +6\d\d mW/cm²",
            r"do the two agree\? +│ +yes",
        ),
    ):
        assert re.search(row, text), row
    assert "mean of 13 readings 334 mW/cm²: they agree within their intervals" in text
    assert (
        "hand-held radiometer (invented), mean of 13 readings 427 mW/cm²: not comparable: there is no" in text
    )
    assert re.search(r"do the two agree\? +│ +not known", printed(reduced))


def test_records_hold_all_of_it_as_json(drawn, reduced):
    first, second = json.loads(json.dumps(of_reduction(drawn)["radiometer"]))
    assert (first["source"], first["target"], first["comparable"], first["agree"]) == (
        *("arc, filtered", "320–430"),
        *(True, True),
    )
    assert first["figures"]["mismatch_factor"]["text"].startswith("1.9")
    assert first["figures"]["ratio"]["low"] < 1 < first["figures"]["ratio"]["high"]
    assert first["figures"]["difference"]["standard_uncertainty"] > 0
    assert (second["comparable"], second["agree"]) == (False, None)
    assert second["figures"].keys() == {"mean_irradiance", "readings"}
    assert of_reduction(reduced)["radiometer"][0]["agree"] is None


def test_the_page_shows_the_same(with_draws):
    page = as_html(*with_draws)
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page[page.index("What the radiometer read") :]))
    assert re.search(
        r"bench radiometer \(invented\) .* 320–430 nm .* 334 mW/cm² .* 1\.\d\d .* 6\d\d mW/cm² .* yes: ", text
    )
    assert re.search(
        r"hand-held radiometer \(invented\) .* 427 mW/cm² do the two agree\? not comparable", text
    )
    assert "they agree within their intervals." in text
    assert "nothing says of which band it should show the irradiance (calibration_target)." in text
