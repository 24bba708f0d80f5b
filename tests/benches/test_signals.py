"""Corrections that a manifest states, in the chain of a bench: each undoes what an instrument does."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.corrections import average_scans, dark_at
from spectralbench.errors import BenchError

BENT = 2e-6  # of the counts; a detector that loses 8 % at 40,000


def with_frames(opened, change, manifest=""):
    """The demo bench as an instrument with a fault would have recorded it."""
    darks = [opened[f"dark/{i}"]["counts"] for i in range(1, 5)]
    nodes = {}
    for node in opened.subtree:
        data = node.to_dataset()
        if "counts" in data and not node.path.startswith("/dark"):
            dark = dark_at(darks, float(data["counts"].integration_time)).values
            seen = np.minimum(dark + change(data["counts"].values - dark), 65535.0)
            data = data.assign(counts=data["counts"].copy(data=seen))
        nodes[node.path] = data
    tree = xr.DataTree.from_dict(nodes)
    tree.attrs = opened.attrs | {"manifest": opened.attrs["manifest"].replace("[instrument]", manifest)}
    return tree


def in_band(tree):
    return sb.reduce_bench(tree)["sources"]["band_irradiance"]


def test_a_bent_detector_is_straightened(opened):
    def bend(light):
        return light / (1 + BENT * light)

    bent = with_frames(opened, bend, "[instrument]")
    straightened = with_frames(opened, bend, f"[instrument]\nlinearity = [1.0, {-BENT}]")
    truth = in_band(opened)
    assert (abs(in_band(bent) / truth - 1) > 0.005).sum() >= 3
    found = sb.reduce_bench(straightened)["sources"]
    np.testing.assert_allclose(found["band_irradiance"], truth, rtol=2e-5)  # the darks of scans average
    history = found["spectral_irradiance"].attrs["history"]
    order = [history.index(step) for step in ("subtracted the dark", "linear", "integration time")]
    assert order == sorted(order)


def test_stray_light_is_taken_out(small):
    opened = sb.open_bench(small)
    pixels = opened["standard_lamp/frame"].sizes["wavelength"]
    grid = opened["standard_lamp/frame"]["wavelength"].values
    scattered = np.full((pixels, pixels), 3e-5)  # the same from every pixel to every other
    reach = 2
    distance = np.abs(np.subtract.outer(np.arange(pixels), np.arange(pixels)))
    scattered[distance <= reach] = 0.0
    mixing = np.eye(pixels) + scattered

    def scatter(light):
        return light @ mixing.T

    strayed = with_frames(opened, scatter, "[instrument]")
    lines = f"[instrument]\nin_band = {reach}"
    corrected = with_frames(opened, scatter, lines)
    manifest = corrected.attrs["manifest"]
    for number, pixel in enumerate((20, 60, 105), 1):
        frame = average_scans(opened["dark/1"]["counts"])[0].values + 40_000 * mixing[:, pixel]
        data = opened["dark/1"].to_dataset().isel(spectrum=[0]).copy(deep=True)
        data["counts"] = data["counts"].astype(float).copy(data=frame[None])
        corrected[f"line_spread/{number}"] = xr.DataTree(data)
        manifest += f'\n[[line_spread]]\nwavelength = "{grid[pixel]} nm"\nframe = "line {number}"\n'
    corrected.attrs["manifest"] = manifest

    def dark_side(sources):
        """What a source near 405 nm seems to give where it gives nothing."""
        light = sources["spectral_irradiance"].sel(source="LED 405")
        return float(sb.band_irradiance(light, 500, 600))

    found = [sb.reduce_bench(tree)["sources"] for tree in (opened, strayed, corrected)]
    truth, wrong, right = map(dark_side, found)
    assert abs(wrong - truth) > 20 * abs(right - truth)
    truth, _, right = (sources["band_irradiance"] for sources in found)
    np.testing.assert_allclose(right[2:], truth[2:], rtol=1e-3)
    assert np.isnan(right[0])  # a saturated pixel throws nobody knows how much light


def test_the_bandpass_is_corrected_where_it_is_stated(opened):
    """Variances add (closed form): an LED of 13 nm looks 0.03 nm wider through 2 nm; its band stays."""
    narrowed = with_frames(opened, lambda light: light, '[instrument]\nbandpass = "triangle"')
    before, after = (sb.reduce_bench(tree)["sources"] for tree in (opened, narrowed))
    wider = (before["fwhm"] - after["fwhm"]).sel(source="LED 385")
    assert 0.0 < float(wider) < 0.3
    np.testing.assert_allclose(after["band_irradiance"][2:], before["band_irradiance"][2:], rtol=2e-3)
    assert "bandpass" in after["spectral_irradiance"].attrs["history"]


def test_lines_need_their_band_and_a_correction_that_refuses_is_blamed(opened):
    line = '\n[[line_spread]]\nwavelength = "405 nm"\nframe = "line"\n'
    tree = with_frames(opened, lambda light: light, "[instrument]")
    tree.attrs["manifest"] += line
    with pytest.raises(BenchError, match="expected in_band, the pixels on either side of a line"):
        sb.reduce_bench(tree)
    steep = with_frames(opened, lambda light: light, "[instrument]\nlinearity = [1.0, -1e-4]")
    with pytest.raises(
        BenchError, match=r"instrument\.linearity: found .*; expected a polynomial that holds"
    ):
        sb.reduce_bench(steep)


@pytest.mark.parametrize("in_band", [512, 2048])
def test_a_band_that_leaves_no_stray_light(opened, in_band):
    line = '\n[[line_spread]]\nwavelength = "405 nm"\nframe = "line"\n'
    tree = with_frames(opened, lambda light: light, f"[instrument]\nin_band = {in_band}")
    tree.attrs["manifest"] += line
    with pytest.raises(BenchError) as caught:
        sb.reduce_bench(tree)
    (fault,) = caught.value.faults
    assert (fault.key, fault.found, fault.expected) == ("instrument.in_band", f'"{in_band}"', "at most 511")
    assert fault.advice == "A line as wide as half of the detector leaves no stray light beside it."


def test_a_band_without_lines(opened):
    tree = with_frames(opened, lambda light: light, "[instrument]\nin_band = 5")
    with pytest.raises(
        BenchError, match=r'instrument.in_band: found "5"; expected a table \[\[line_spread\]\]'
    ):
        sb.reduce_bench(tree)


def test_each_correction_is_blamed_by_its_own_key(opened):
    """A bandwidth of half the range, a line beside its wavelength, and a line that is saturated."""
    wide = with_frames(opened, lambda light: light, '[instrument]\nbandpass = "gaussian"')
    wide.attrs["manifest"] = wide.attrs["manifest"].replace('"2.0 nm ± 0.1 nm"', '"500 nm"')
    with pytest.raises(
        BenchError, match=r"instrument.bandpass: found .*; expected a bandwidth far below the"
    ):
        sb.reduce_bench(wide)
    tree = with_frames(opened, lambda light: light, "[instrument]\nin_band = 5")
    tree.attrs["manifest"] += '\n[[line_spread]]\nwavelength = "405 nm"\nframe = "line"\n'
    data = opened["dark/1"].to_dataset().astype(float)
    pixel = int(np.abs(data.wavelength.values - 405).argmin())
    for off, level, message in (
        (
            40,
            9000.0,
            r"line_spread: found the line at 405 nm has its maximum .*; expected frames of single lines",
        ),
        (
            0,
            65535.0,
            r"line_spread.1.frame: found a line with saturated pixels; expected .* shorter integration",
        ),
    ):
        counts = data["counts"].copy(deep=True)
        counts[{"wavelength": pixel + off}] += level - float(counts[{"wavelength": pixel + off}].max())
        tree["line_spread/1"] = xr.DataTree(data.assign(counts=counts))
        with pytest.raises(BenchError, match=message) as caught:
            sb.reduce_bench(tree)
        line = caught.value.faults[0].line
        assert "line_spread" in tree.attrs["manifest"].splitlines()[line - 1] or "frame" in message


def test_a_dark_that_does_not_say_how_warm_it_was(opened):
    tree = opened.copy()
    for node in ("dark/2", "source/LED 405/frame"):
        tree[node] = xr.DataTree(tree[node].to_dataset().assign_coords(temperature=283.0))
    tree.attrs = opened.attrs
    with pytest.raises(BenchError) as caught:
        sb.reduce_bench(tree)
    missing = [fault for fault in caught.value.faults if fault.found == "no temperature of the sensor"]
    assert [re.search(r"dark\.\d", fault.file)[0] for fault in missing] == ["dark.1", "dark.3", "dark.4"]
    assert missing[0].expected == "one, as in raw/led_405.csv, or none in any frame"
    stated = '{ file = "raw/dark_2ms.csv", temperature = "10 °C" }'
    assert missing[0].advice == f"State it in the manifest, as frame = {stated}."


def test_a_dark_of_another_temperature_is_not_taken(opened):
    manifest = opened.attrs["manifest"]
    tree = opened.copy()
    for node, kelvin in (("dark/1", 263.0), ("dark/2", 263.0), ("source/LED 405/frame", 283.0)):
        tree[node] = xr.DataTree(tree[node].to_dataset().assign_coords(temperature=kelvin))
    tree.attrs["manifest"] = manifest
    with pytest.raises(BenchError, match="temperature"):
        sb.reduce_bench(tree)


def test_a_shorter_exposure_fills_in_what_was_saturated(opened):
    """The arc of the demo is saturated at 436 nm; half the time shows the line."""
    frame = opened["source/arc/frame"].to_dataset()
    clipped = frame["counts"] >= 0.95 * 65535
    dark = dark_at([opened[f"dark/{i}"]["counts"] for i in range(1, 5)], 0.005)
    shorter = (frame["counts"].astype(float) - 1200) * 0.5 + dark
    shorter = shorter.assign_coords(integration_time=frame.integration_time * 0.5)
    tree = opened.copy()
    tree["source/arc/exposure_1"] = xr.DataTree(frame.assign(counts=shorter).assign_coords(shorter.coords))
    manifest = opened.attrs["manifest"].replace(
        'frame = "raw/arc.csv"', 'frame = "raw/arc.csv"\nexposures = ["raw/arc 5 ms.csv"]'
    )
    tree.attrs = opened.attrs | {"manifest": manifest}
    alone, merged = (sb.reduce_bench(bench)["sources"].sel(source="arc") for bench in (opened, tree))
    assert clipped.any()
    assert np.isnan(alone["fwhm"])
    assert float(merged["peak_wavelength"]) == pytest.approx(435.8, abs=0.5)
    assert float(merged["band_irradiance"]) > 0
    assert "merged exposures of 5 ms, 10 ms" in merged["spectral_irradiance"].attrs["history"]
    drawn = sb.reduce_bench(tree, draws=20, seed=1)["sources"]["fwhm"].sel(source="arc")
    assert drawn.notnull().all()


def test_exposures_need_a_noise_to_be_weighed_by(opened):
    tree = with_frames(opened, lambda light: light, "[instrument]")
    for node in [node.path for node in tree.subtree if "counts" in node]:
        tree[node] = xr.DataTree(tree[node].to_dataset().isel(spectrum=[0]))
    tree["source/arc/exposure_1"] = xr.DataTree(tree["source/arc/frame"].to_dataset())
    tree.attrs["manifest"] = tree.attrs["manifest"].replace(
        'frame = "raw/arc.csv"', 'frame = "raw/arc.csv"\nexposures = ["raw/arc 5 ms.csv"]'
    )
    with pytest.raises(BenchError, match="exposures without a noise model to weigh them by"):
        sb.reduce_bench(tree)
