"""Light beyond what the standard lamp calibrates: no figure may stand as if it were whole."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.frames import Light
from spectralbench.benches.uncalibrated import Range, marked, seen_outside
from spectralbench.errors import BenchError

GRID = np.arange(300.0, 500.0)
LAMP = Range(400.0, 499.0, (250.0, 800.0))


def light(counts, scatter=1.0):
    along = {"wavelength": GRID, "integration_time": ((), 1.0, {"units": "s"})}
    array = xr.DataArray(np.asarray(counts, dtype=float), along, "wavelength", attrs={"units": "1"})
    return Light(array, xr.full_like(array, scatter), xr.full_like(array, scatter), 0.0)


def line(at, height, width=3.0):
    return height * np.exp(-0.5 * ((GRID - at) / width) ** 2)


PEAK = line(450.0, 10_000.0)
LEDS = ["LED 385", "LED 405"]  # the arc of the demo has saturated pixels as well
HOT = np.where(GRID == 350, 5_000.0, 0.0)


@pytest.mark.parametrize(
    ("counts", "scatter", "seen"),
    {
        "nothing": (PEAK, 1.0, None),
        "a line": (PEAK + line(350.0, 500.0), 1.0, (344, 356)),
        "a line that one scan shows": (PEAK + line(350.0, 500.0), np.nan, (344, 356)),
        "a line within its scatter": (PEAK + line(350.0, 500.0), 60.0, None),
        "as weak as stray light": (PEAK + 90.0, 1.0, None),
        "a hot pixel": (PEAK + HOT, 1.0, None),
        "a saturated line": (np.where(abs(GRID - 350) < 4, np.nan, PEAK), 1.0, (347, 353)),
        "its own end": (line(398.0, 10_000.0, 5.0), 1.0, (384, 399)),
    }.values(),
)
def test_what_counts_as_light_that_is_seen(counts, scatter, seen):
    frame = light(counts, scatter)
    found = GRID[seen_outside(sb.signal_from_counts(frame.counts), frame, LAMP)]
    if seen is None:
        assert not found.size
    else:
        assert found[[0, -1]] == pytest.approx(seen, abs=2)


@pytest.mark.parametrize(
    ("lamp", "lit", "ends", "words"),
    [
        (
            LAMP,
            350,
            [400],
            "light at 34.–35. nm; the standard lamp is clear of its scatter only at 400.0–499.0",
        ),
        (Range(400, 499, (400, 800)), 350, [400], "light at 34.–35. nm; .* is certified only for 400–800 nm"),
        (Range(300, 400, (250, 800)), 450, [400], "light at 44.–45. nm; the standard lamp is clear of its"),
    ],
)
def test_the_end_beyond_which_there_is_light_is_not_valid(lamp, lit, ends, words):
    frame = light(line(lit, 1_000.0) + line(395 if lamp.first == 300 else 405, 9_000.0, 0.5))
    signal = sb.signal_from_counts(frame.counts)
    whole = signal.sel(wavelength=slice(lamp.first, lamp.last))
    found, reason = marked(whole, signal, frame, lamp)
    assert found.wavelength[found.isnull().values].values.tolist() == ends
    assert re.match(words, reason.words)
    assert f"marked {ends[0]:.1f} nm as not valid" in found.attrs["history"]
    xr.testing.assert_equal(found.dropna("wavelength"), whole.where(found.notnull()).dropna("wavelength"))


@pytest.fixture(scope="module")
def original(three):
    return three


def weak(folder, below, sheet="405 nm"):
    """A bench whose standard lamp gives nothing but noise below a wavelength."""
    opened = sb.open_bench(folder)
    tree = opened.copy()
    data = opened["standard_lamp/frame"].to_dataset()
    time = float(data.integration_time)
    dark = next(
        one["counts"]
        for one in opened["dark"].children.values()
        if abs(float(one["integration_time"]) - time) < 1e-9
    )
    noise = np.resize([-30.0, 30.0], data.sizes["spectrum"])[:, None]
    dull = dark.mean("spectrum").values + noise
    counts = data["counts"].copy(data=np.where(data.wavelength.values < below, dull, data["counts"].values))
    tree["standard_lamp/frame"] = xr.DataTree(data.assign(counts=counts))
    tree.attrs = dict(opened.attrs)
    tree.attrs["manifest"] = tree.attrs["manifest"].replace(
        'data_sheet_wavelength = "365 nm"', f'data_sheet_wavelength = "{sheet}"'
    )
    return tree


@pytest.fixture(scope="module")
def weakened(three):
    return sb.reduce_bench(weak(three, 400.0))


def test_a_lamp_that_is_too_weak_leaves_no_figure_as_if_whole(weakened, three):
    sources, whole = weakened["sources"], sb.reduce_bench(three)["sources"]
    spectrum = sources["spectral_irradiance"]
    first = float(spectrum.wavelength[0])
    assert 396 < first < 410
    assert spectrum.isel(wavelength=0).isnull().all()
    assert spectrum.sel(source=LEDS).isel(wavelength=slice(1, None)).notnull().all()
    for name in ("irradiance", "band_irradiance", "centroid_wavelength"):
        assert sources[name].isnull().all(), name
    inside, before = (
        sb.band_irradiance(light.sel(source=LEDS), first + 5, 450)
        for light in (spectrum, whole["spectral_irradiance"])
    )
    np.testing.assert_allclose(inside, before, rtol=1e-9)


def test_the_reason_names_the_lamp(weakened):
    sources = weakened["sources"].to_dataset()
    outside = json.loads(sources["spectral_irradiance"].attrs["uncalibrated"])
    assert list(outside) == ["arc", "LED 385", "LED 405"]
    for words in outside.values():
        assert "the standard lamp is clear of its scatter only at 40" in words
    cautions = json.loads(sources.attrs["cautions"])
    assert cautions[2].startswith("LED 405: light at 3")
    assert cautions[2].endswith(
        "take more scans of the lamp, longer ones, or one that gives more light there"
    )
    assert "LED 405: marked 40" in sources["spectral_irradiance"].attrs["history"]


def test_what_may_not_be_exceeded_is_not_met_by_light_that_was_cut_off(weakened):
    result = sb.compare(weakened)
    verdicts, reason = result.verdict, result.reason.sel(source="LED 405", criterion="upper limit").item()
    assert "the spectrum goes on where the standard lamp does not calibrate (light at 3" in reason
    assert "saturated" not in reason
    assert "LED 405: light at 3" in result.attrs["not_measured"]
    at_most = [name for name in ("upper limit", "temperature") if name in verdicts.criterion.values]
    assert "upper limit" in at_most
    assert (verdicts.sel(criterion=at_most) == "not known").all()


def test_what_has_to_arrive_is_at_least_what_was_calibrated(weakened, three):
    """A lower bound, by the light from the first calibrated wavelength on; the whole would be more."""
    result = sb.compare(weakened).sel(source=LEDS)
    spectrum = weakened["sources/spectral_irradiance"].sel(source=LEDS).isel(wavelength=slice(1, None))
    tree = sb.reduce_bench(three)
    whole = sb.compare(tree).sel(source=LEDS)
    cover = tree["parts/bonded_transmittance"].sel(part="cover", drop=True)
    first, share = float(spectrum.wavelength[0]), tree["sources/least_lit"].sel(source=LEDS)
    behind = sb.through(spectrum, cover.sel(wavelength=spectrum.wavelength))
    least = sb.band_irradiance(behind, first, 430) * share
    edge = behind.isel(wavelength=0) * (first - float(weakened["sources"].wavelength[0])) / 2  # from nothing
    expected = least + edge * share
    np.testing.assert_allclose(result.band_irradiance, expected.transpose("source"), rtol=1e-3)
    assert (result.band_irradiance < whole.band_irradiance).all()
    assert (result.absorbed_photons < whole.absorbed_photons).all()
    assert (result.exposure_time > whole.exposure_time).all()
    assert (
        f"(measured only over {float(weakened['sources'].wavelength[0]):.6g}"
        in result.reason.sel(source="LED 405", criterion="irradiance").item()
    )


def test_heads_together_are_as_little_known_as_the_head_that_goes_on(three):
    tree = weak(three, 400.0)
    heads = '[{ source = "LED 385", setting = "50 %" }, { source = "LED 405", setting = "50 %" }]'
    group = f'[[together]]\nname = "both"\nheads = {heads}\n\n[[part]]\n'
    tree.attrs["manifest"] = tree.attrs["manifest"].replace("[[part]]\n", group, 1)
    result = sb.compare(sb.reduce_bench(tree)).sel(source="both")
    assert result.verdict.sel(criterion="upper limit") == "not known"
    reason = result.reason.sel(criterion="upper limit").item()
    assert "does not calibrate (LED 385: light at 3" in reason
    assert "; LED 405: light at 3" in reason
    assert result.band_irradiance > 0


def test_sources_without_light_there_stay_as_they_are(three):
    sources = sb.reduce_bench(weak(three, 300.0))["sources"].to_dataset()
    spectrum = sources["spectral_irradiance"]
    assert 296 < float(spectrum.wavelength[0]) < 310
    dark = [str(name) for name in spectrum.source.values if str(name).startswith("LED")]
    assert spectrum.sel(source=dark).notnull().all()
    assert not set(json.loads(spectrum.attrs.get("uncalibrated", "{}"))) & set(dark)


def test_a_bench_that_is_calibrated_throughout_says_nothing(reduced):
    assert "cautions" not in reduced["sources"].attrs
    assert "uncalibrated" not in reduced["sources/spectral_irradiance"].attrs


def test_it_is_not_valid_in_any_draw(three):
    spectrum = sb.reduce_bench(weak(three, 400.0), draws=20, seed=1)["sources/spectral_irradiance"]
    assert spectrum.isel(wavelength=0).isnull().all()
    assert spectrum.sel(source=LEDS).isel(wavelength=slice(1, None)).notnull().all()


@pytest.mark.parametrize(
    ("certified", "key", "why", "remedy"),
    [
        (
            *(250.0, "standard_lamp.frame", "the standard lamp is clear of its scatter only at 40"),
            "take more scans of the lamp",
        ),
        (
            *(380.0, "standard_lamp.certificate", "the standard lamp is certified only for 380–760 nm"),
            "take a lamp that is certified there",
        ),
    ],
)
def test_a_data_sheet_wavelength_that_is_not_calibrated_blames_the_lamp(three, certified, key, why, remedy):
    tree = weak(three, 400.0, sheet="365 nm")
    data = tree["standard_lamp/certificate"].to_dataset()
    tree["standard_lamp/certificate"] = xr.DataTree(data.sel(wavelength=slice(certified, None)))
    with pytest.raises(BenchError) as caught:
        sb.reduce_bench(tree)
    (fault,) = caught.value.faults
    assert fault.key == key
    assert fault.found.startswith(f"365 nm, the data sheet's wavelength, without calibration: {why}")
    assert fault.expected.startswith(f"a lamp that calibrates it: {remedy}")


def too_long(folder, saturated, sheet=None):
    """A bench whose standard lamp stands at full scale at some wavelengths."""
    opened = sb.open_bench(folder)
    tree = opened.copy()
    data = opened["standard_lamp/frame"].to_dataset()
    counts = data["counts"].where(~saturated(data.wavelength), 65535.0)
    tree["standard_lamp/frame"] = xr.DataTree(data.assign(counts=counts))
    tree.attrs = dict(opened.attrs)
    if sheet is not None:
        tree.attrs["manifest"] = tree.attrs["manifest"].replace(
            'data_sheet_wavelength = "365 nm"', f'data_sheet_wavelength = "{sheet}"'
        )
    return tree


def test_a_saturated_lamp_is_not_called_a_weak_one(three):
    """The remedy is the opposite: a shorter exposure, not a longer one."""
    sources = sb.reduce_bench(too_long(three, lambda at: at > 400))["sources"].to_dataset()
    outside = json.loads(sources["spectral_irradiance"].attrs["uncalibrated"])
    assert list(outside) == ["arc", "LED 385", "LED 405"]
    for words, caution in zip(outside.values(), json.loads(sources.attrs["cautions"]), strict=True):
        assert "the frame of the standard lamp is saturated: " in words
        assert "of raw/standard_lamp.csv" in words
        assert "clear of its scatter" not in words
        assert caution.endswith("is not known: take a shorter exposure of the lamp")
        assert "longer" not in caution


def test_a_weak_end_and_a_saturated_one_are_told_apart(three):
    """Weak below 330 nm, saturated above 400 nm: what lies below keeps the remedy for a weak lamp."""
    tree = weak(three, 330.0, sheet="365 nm")
    data = tree["standard_lamp/frame"].to_dataset()
    counts = data["counts"].where(data.wavelength <= 400, 65535.0)
    tree["standard_lamp/frame"] = xr.DataTree(data.assign(counts=counts))
    cautions = json.loads(sb.reduce_bench(tree)["sources"].attrs["cautions"])
    arc = next(text for text in cautions if text.startswith("arc: "))
    assert "clear of its scatter only at" in arc
    assert "saturated: " in arc
    assert "more scans of the lamp" in arc
    assert arc.endswith("take a shorter exposure of the lamp")
    led = next(text for text in cautions if text.startswith("LED 405: "))
    assert "more scans" not in led


@pytest.mark.parametrize(
    ("saturated", "sheet", "found"),
    [
        (lambda at: at > 0, None, r"128 pixels at .* of raw/standard_lamp.csv saturated, and no others"),
        (lambda at: at > 400, "405 nm", "405 nm, the data sheet's wavelength.*lamp is saturated: "),
    ],
)
def test_a_saturated_lamp_that_leaves_too_little_is_refused(three, saturated, sheet, found):
    with pytest.raises(BenchError) as caught:
        sb.reduce_bench(too_long(three, saturated, sheet))
    (fault,) = caught.value.faults
    assert fault.key == "standard_lamp.frame"
    assert re.match(found, fault.found)
    assert fault.expected.endswith("take a shorter exposure of the lamp")


def test_gaps_in_the_certificate_and_in_an_attenuator_are_said(bench):
    bench("raw/lamp_certificate.csv", r"^(?:4[4-9]|5[0-4])\d,.*\n", "")
    bench("raw/attenuator.csv", r"^5[0-4]\d,.*\n", "")
    cautions = json.loads(sb.reduce_bench(bench.folder)["sources"].attrs["cautions"])
    assert [text.partition(", a step")[0] for text in cautions] == [
        "raw/lamp_certificate.csv: no values between 420 and 560 nm",
        "raw/attenuator.csv: no values between 495 and 550 nm",
    ]
