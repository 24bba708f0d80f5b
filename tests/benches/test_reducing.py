"""Reducing and comparing a bench: what comes out, and what only shows on the way."""

from __future__ import annotations

import json
import re
import shutil

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.errors import BenchError, RangeError, SpectralBenchError


@pytest.fixture(scope="module")
def original(three):
    return three


def test_the_reduced_tree_is_laid_out_as_documented(reduced, datasets):
    assert [path for path, _ in datasets(reduced)] == [
        *("/instrument", "/sources", "/parts", "/adhesive", "/ageing/arc", "/radiometer/1", "/radiometer/2")
    ]
    dimensions = {
        "instrument/responsivity": ("wavelength",),
        "sources/spectral_irradiance": ("source", "wavelength"),
        "sources/scatter": ("source", "wavelength"),
        "sources/band_irradiance": ("source",),
        "parts/transmittance": ("part", "wavelength"),
        "parts/quoted": ("part", "quoted_wavelength"),
        "parts/drift": ("part",),
        "adhesive/absorbance": ("initiator", "wavelength"),
    }
    for name, expected in dimensions.items():
        assert reduced[name].dims == expected
    grids = [reduced[name].wavelength.values for name, d in dimensions.items() if "wavelength" in d]
    assert all(np.array_equal(grid, grids[0]) for grid in grids)
    assert reduced["parts/quoted"].quoted_wavelength.values.tolist() == [365.0, 385.0, 405.0, 436.0]


def test_one_result_by_three_doors(demo, opened, compared):
    xr.testing.assert_identical(sb.compare(opened), compared)
    xr.testing.assert_identical(sb.compare(str(demo)), compared)


def without_darks(bench, *names):
    for name in names:
        bench.manifest(f'[[dark]]\nframe = "raw/dark_{name}.csv"\n', "")
    return bench


def test_a_dark_is_missing_and_one_other_is_not_enough(bench):
    faults = without_darks(bench, "2ms", "5ms", "20ms").faults(sb.reduce_bench)
    assert [re.search(r"\((\S+), line", fault.file)[1] for fault in faults] == [
        *(f"source.{i}.frame" for i in range(1, 4)),
        *("part.1.sample", "part.1.references.1", "part.1.references.2"),
    ]
    assert "there is no dark at 20 ms (there is 500 ms)" in faults[3].found
    assert "darks at two other integration times" in faults[3].found


def test_a_missing_dark_is_modelled_from_two_others(bench, three):
    exact = sb.reduce_bench(three)["parts/transmittance"]
    modelled = sb.reduce_bench(without_darks(bench, "20ms").folder)["parts/transmittance"]
    assert float(abs(modelled - exact).max()) < 0.01
    assert not modelled.equals(exact)
    assert "modelled the dark at 20 ms from 2 ms, 5 ms, 500 ms" in modelled.attrs["history"]


def test_the_history_of_a_source_says_what_was_done(reduced):
    history = reduced["sources/spectral_irradiance"].attrs["history"]
    for step in ("arc.csv", "led_405.csv", "saturated pixels", "subtracted the dark", "responsivity"):
        assert step in history


REDUCTION_FAULTS = {
    "the sample before its references": (
        *("cover", "T10:15", "T09:15", "part.1.sample", "taken at 2026-03-02T09:15", "between"),
    ),
    "the sample after its references": (
        "cover",
        "T10:15",
        "T10:31",
        "part.1.sample",
        "outside its references",
        "between its references in time$",
    ),
    "references without time": (
        "reference_after",
        "^# time.*\n",
        "",
        "part.1.references.2",
        "no time",
        "when it was taken",
    ),
    "a sample without time": (
        "cover",
        "^# time.*\n",
        "",
        "part.1.sample",
        "no time",
        "when it was taken",
    ),
    "an attenuator that does not cover": (
        *(
            "attenuator",
            r"^7[0-9]\d,.*\n",
            "",
            "source.1.attenuator",
            "240–695 nm",
            "all calibrated wavelengths",
        ),
    ),
    "a certificate that does not cover": (
        *("lamp_certificate", r"^[2-7]\d\d,", lambda m: f"{int(m[0][:-1]) + 1000},"),
        *(
            "standard_lamp.certificate",
            "1245–1760 nm",
            "where the lamp lights the detector",
        ),
    ),
    "a certificate with a gap": (
        *("lamp_certificate", r"^(300,).*", r"\1invalid", "standard_lamp.certificate", "certificate", ""),
    ),
    "a certificate of three points": (
        *(
            "lamp_certificate",
            r"^(?!250|500|740|wave|#).*\n",
            "",
            "standard_lamp.certificate",
            "at least 4",
            "",
        ),
    ),
    "a lamp that was off": (
        "standard_lamp",
        r"^(\d\S*?),.*",
        r"\1" + ",1300" * 12,
        "standard_lamp.frame",
        "off",
        "lights",
    ),
    "an ageing log of two points": (
        "arc_ageing",
        r"^[2-9].*\n",
        "",
        "ageing.1.file",
        "3 different hours",
        "",
    ),
    "an ageing log that ends at nothing": (
        "arc_ageing",
        "^900;.*",
        "900;0,0",
        "ageing.1.file",
        "above 0, not 0",
        "",
    ),
    "an initiator with a gap": (
        *("initiator_a", r"^(365,).*", r"\1invalid", "adhesive.initiator.1.curve", "", ""),
    ),
}


@pytest.mark.parametrize("case", REDUCTION_FAULTS)
def test_what_only_shows_while_reducing(bench, case):
    name, old, new, key, found, expected = REDUCTION_FAULTS[case]
    fault = bench(f"raw/{name}.csv", old, new).fault(sb.reduce_bench)
    assert fault.key == key or key in fault.file
    assert re.search(found, fault.found)
    assert re.search(expected, fault.expected)
    assert f"line {bench.line_of(f'raw/{name}.csv')}" in str(fault)


def test_references_without_light(bench):
    dark = (bench.folder / "raw/dark_20ms.csv").read_text(encoding="utf-8")
    for name, clock in (("before", "10:00"), ("after", "10:30")):
        text = re.sub(r"T\d\d:\d\d", f"T{clock}", dark)
        (bench.folder / f"raw/reference_{name}.csv").write_text(text, encoding="utf-8")
    faults = bench.faults(sb.reduce_bench)
    for fault, name in zip(faults, ("references.1", "references.2"), strict=True):
        assert f"(part.1.{name}, line " in fault.file
        assert fault.found == "a reference without light"
        assert fault.expected == "references with light in them"


def test_references_may_have_two_integration_times(bench):
    """Told that the second took half the time, its signal is twice as strong, and the drift shows it."""
    part = sb.reduce_bench(bench("raw/reference_after.csv", "0.02 s", "0.01 s").folder)["parts"]
    # the dark of 10 ms is that of 20 ms but for a few counts among some ten thousand
    assert part["drift"].item() == pytest.approx(2 * (1 - 0.034) - 1, abs=2e-3)


def test_a_single_reference_needs_no_time(bench, three):
    bench.manifest(', "raw/reference_after.csv"]', "]")("raw/cover.csv", "^# time.*\n", "")
    part = sb.reduce_bench(bench.folder)["parts"]
    assert np.isnan(part["drift"].item())
    ratio = part["transmittance"] / sb.reduce_bench(three)["parts/transmittance"]
    # the demo drifts by 3.4 % from one reference to the next, and its sample stands in the middle
    assert ratio.sel(wavelength=slice(420, 600)).mean().item() == pytest.approx(1 - 0.034 / 2, abs=1e-3)


def test_order_of_rows_and_encoding_make_no_difference(bench, three):
    for path in (bench.folder / "raw").glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines()
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        text = "\r\n".join(lines[:first] + lines[first:][::-1]) + "\r\n"
        path.write_bytes(text.encode("utf-16"))
    expected, result = (sb.compare(folder).drop_attrs() for folder in (three, bench.folder))
    xr.testing.assert_identical(result, expected)


def test_draws_are_asked_of_an_opened_bench(opened, reduced):
    with pytest.raises(RangeError, match="reduced already: open it again to reduce it with draws"):
        sb.reduce_bench(reduced, draws=100, seed=1)
    with pytest.raises(RangeError, match="draws are 0 or more, not -1"):
        sb.reduce_bench(opened, draws=-1)
    with pytest.raises(RangeError, match="a seed is a whole number of at least 0, not -1"):
        sb.reduce_bench(opened, draws=20, seed=-1)
    with pytest.raises(RangeError, match="a comparison takes 0 or at least 20 draws, not 5"):
        sb.compare(opened, draws=5)


def test_a_tree_without_manifest_is_refused():
    with pytest.raises(SpectralBenchError, match="a tree without a manifest"):
        sb.compare(xr.DataTree())


def test_an_initiator_that_was_not_measured_there_is_not_taken_for_none(bench):
    """A curve cut off above the data sheet's wavelength would make any source look good."""
    path = bench.folder / "raw" / "initiator_a.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[0].isdigit() or float(line.split(",")[0]) >= 390]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    with pytest.raises(BenchError, match=r"adhesive.initiator.1.curve: .*390–430 nm, without 320 nm"):
        sb.reduce_bench(bench.folder)


def test_a_reduced_bench_is_reduced_once(reduced):
    assert sb.reduce_bench(reduced) is reduced


def test_a_source_past_its_end_of_life_has_no_output_left_to_tell(bench):
    """LED 405 has 500 h of use."""
    bench("bench.toml", r'^(hours = "500 h"\nend_of_life = )"20000 h"', r'\1"400 h"')
    result = sb.compare(bench.folder).sel(source="LED 405")
    assert result.verdict.sel(criterion="end of life") == "not met"
    reason = result.reason.sel(criterion="end of life").item()
    assert reason == "its end of life, 400 h, has passed: replace it"
    assert result.verdict.sel(criterion="life") == "not met"
    assert result.hours_left == 0


def test_a_sample_swapped_with_its_reference_is_refused(bench):
    manifest = bench.folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8").replace('sample = "raw/cover.csv"', 'sample = "raw/x.csv"')
    text = text.replace('["raw/reference_before.csv", "raw/reference_after.csv"]', '["raw/cover.csv"]')
    manifest.write_text(text.replace("raw/x.csv", "raw/reference_before.csv"), encoding="utf-8")
    with pytest.raises(BenchError, match=r"part.1: found a transmittance of \d+% .*: swapped files"):
        sb.reduce_bench(bench.folder)


def test_an_initiator_from_memory_is_said_loudly(bench):
    name = "diphenyl(2,4,6-trimethylbenzoyl)phosphine oxide"
    bench.manifest('curve = "raw/initiator_b.csv"', f'reference = "{name}"')
    first = json.loads(sb.compare(bench.folder).attrs["not_measured"])[0]
    assert first.startswith("absorption of initiator B: from memory")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('reference = "phlogiston"', "phlogiston"),
        (
            'reference = "camphorquinone"',
            "a curve over 365–469 nm, without 320 nm; what is not known is not 0",
        ),
        ('reference = "camphorquinone"\ncurve = "raw/initiator_b.csv"', "either curve, a file, or reference"),
        ("", "either curve, a file, or reference"),
    ],
)
def test_an_initiator_has_one_curve_that_reaches(bench, line, said):
    bench.manifest('curve = "raw/initiator_b.csv"', line)
    with pytest.raises(BenchError, match=re.escape(said)):
        sb.reduce_bench(bench.folder)


def test_a_scan_is_left_out_with_its_reason(bench):
    """By hand: the mean of the others, and the reason where somebody reads the comparison."""
    whole = sb.reduce_bench(bench.folder)
    name = 'frame = "raw/led_405.csv"'
    bench.manifest(
        name, 'frame = { file = "raw/led_405.csv", left_out = [2], because = "the shutter stuck" }'
    )
    shorter = sb.reduce_bench(bench.folder)
    scans = sb.read(bench.folder / "raw" / "led_405.csv")["counts"]
    grid = shorter["sources"].wavelength
    kept = scans.sel(wavelength=grid).isel(spectrum=[i for i in range(scans.sizes["spectrum"]) if i != 1])
    more = kept.mean("spectrum") - scans.sel(wavelength=grid).mean("spectrum")
    seen = shorter["sources/spectral_irradiance"] - whole["sources/spectral_irradiance"]
    led = seen.sel(source="LED 405")
    lit = np.abs(more) > 1
    assert lit.any()
    time = float(scans.integration_time)
    before = sb.read(bench.folder / "raw" / "attenuator.csv")["transmittance"]
    passed = sb.interpolate(before, grid.values).values
    expected = more / time / shorter["instrument/responsivity"] / passed
    assert np.allclose(led.values[lit], expected.values[lit], rtol=1e-6)
    assert (seen.sel(source="LED 385") == 0).all()
    assert "left out scan 2 of " in shorter["sources/spectral_irradiance"].attrs["history"]
    said = json.loads(sb.compare(shorter).attrs["not_measured"])
    assert "left out of raw/led_405.csv: scan 2, because the shutter stuck" in said


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ("left_out = [2]", "because beside it: what was seen"),
        ('because = "no"', "left_out beside it"),
        ('left_out = [99], because = "no"', None),
        ('left_out = [0], because = "no"', None),
    ],
)
def test_a_scan_that_cannot_be_left_out_is_a_fault_of_the_manifest(bench, keys, expected):
    bench.manifest('frame = "raw/led_405.csv"', f'frame = {{ file = "raw/led_405.csv", {keys} }}')
    (fault,) = bench.faults(sb.reduce_bench)
    if expected:
        assert expected in fault.expected
    line = bench.line_of("raw/led_405.csv")
    if "99" in keys:
        assert fault.found.startswith("there is no scan 99 in this frame: they count from 1 to ")
        assert fault.file == f"raw/led_405.csv (source.3.frame, line {line})"
    else:
        assert fault.line == line


def test_without_draws_a_miss_below_the_floor_is_none(demo, tmp_path):
    """LED 365 through a quarter of the cover: what passes below 5 % is not known, with draws or without."""
    folder = shutil.copytree(demo, tmp_path / "thin")
    text = (folder / "bench.toml").read_text(encoding="utf-8")
    line = 'thickness = "2.0 mm ± 0.02 mm"\n'
    assert line in text
    thin = text.replace(line, f'{line}working_thickness = "0.5 mm"\nfloor = "5 %"\n', 1)
    (folder / "bench.toml").write_text(thin, encoding="utf-8")
    result = sb.compare(folder).sel(source="LED 365", criterion="irradiance")
    assert result.verdict == "not known"
    assert "more may arrive: what may pass below the floor of a part is not in it" in result.reason.item()
    assert result.change.item() == ""
    drawn = sb.compare(folder, draws=20, seed=1, contributions=True)
    share = drawn.variance_share.sel(figure="band_irradiance", cause="below the floor")
    assert share.sel(source="LED 365") > 0.5
    assert share.sel(source="LED 405") < 0.01
