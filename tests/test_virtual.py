"""The virtual bench: its truth is known, and the reduction has to find it again within the noise.

How far a pixel may be off follows from the invented instrument: the variance of one reading is that of the
read-out, of rounding to whole counts (1/12) and of the shot noise. Means over scans, the dark and the
standard lamp add theirs as independent contributions (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

import spectralbench as sb
from spectralbench.ageing import output_at
from spectralbench.errors import BenchError, Fault
from spectralbench.virtual import beams, truth
from spectralbench.virtual import bench as virtual_bench
from spectralbench.virtual.instrument import VirtualInstrument
from spectralbench.virtual.manifest_text import file_of

INSTRUMENT = VirtualInstrument()
GRID = INSTRUMENT.wavelength
DARKS = np.array([0.002, 0.005, 0.02, 0.5])  # s
SCANS, MORE_SCANS = virtual_bench._SCANS, 12  # of a frame; of darks and of the standard lamp
LAMP = INSTRUMENT.seen(truth.lamp() * (500 / 520) ** 2)
SLIT = INSTRUMENT.bandwidth**2 / 6  # variance of a triangle [nm²]
SATURATED = 0.95 * INSTRUMENT.full_scale


def variance(light, time, scans):
    """Of the mean count of some scans."""
    shot = (light + INSTRUMENT.dark_current * time) / INSTRUMENT.electrons_per_count
    return (INSTRUMENT.read_noise**2 + 1 / 12 + shot) / scans


def dark_variance(time):
    """Of the dark taken at that time, or of the straight line through all."""
    variances = variance(0.0, DARKS, MORE_SCANS)
    if time in DARKS:
        return variances[time == DARKS][0]
    centred = DARKS - DARKS.mean()
    shares = 1 / DARKS.size + (time - DARKS.mean()) * centred / (centred**2).sum()
    return (shares**2 * variances).sum()


def lamp_uncertainty():
    """Relative standard uncertainty of the responsivity (wavelength,)."""
    counts = LAMP * INSTRUMENT.responsivity() * 0.5
    return np.sqrt(variance(counts, 0.5, MORE_SCANS) + dark_variance(0.5)) / counts


def uncertainty(source):
    """Standard uncertainty of the spectral irradiance of a source (wavelength,)."""
    attenuator = np.interp(GRID, truth.FINE, truth.attenuator())
    factor = attenuator * INSTRUMENT.responsivity() * source.integration_time
    light = INSTRUMENT.seen(source.spectrum) * factor
    frame = np.sqrt(variance(light, source.integration_time, SCANS) + dark_variance(source.integration_time))
    return np.hypot(frame / factor, INSTRUMENT.seen(source.spectrum) * lamp_uncertainty())


SOURCES = {source.name: source for source in truth.sources()}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return sb.write_demo_bench(tmp_path_factory.mktemp("virtual") / "demo")


@pytest.fixture(scope="module")
def reduced(demo):
    return sb.reduce_bench(demo)


@pytest.fixture(scope="module")
def kept(reduced):
    """Which pixels of the instrument are calibrated."""
    used = np.isin(GRID, reduced["instrument"].wavelength.values)
    assert used.sum() > 0.97 * GRID.size
    return used


def test_the_responsivity_is_found(reduced, kept):
    found = reduced["instrument/responsivity"].values
    off = (found / INSTRUMENT.responsivity()[kept] - 1) / lamp_uncertainty()[kept]
    # The lamp is seen through the slit, and its certificate is not: half the slit's variance times the
    # curvature is below 1e-3 of the lamp, and less than a standard uncertainty.
    assert np.sqrt(np.mean(off**2)) == pytest.approx(1.0, abs=0.1)
    assert np.abs(off).max() < 5.5  # a chance of 1 in 10,000 for 2,000 pixels


@pytest.mark.parametrize("name", SOURCES)
def test_the_spectral_irradiance_is_found(reduced, kept, name):
    found = reduced["sources/spectral_irradiance"].sel(source=name).values
    expected = INSTRUMENT.seen(SOURCES[name].spectrum)[kept]
    off = (found - expected) / uncertainty(SOURCES[name])[kept]
    assert np.isfinite(off).mean() > 0.99
    assert np.sqrt(np.nanmean(off**2)) == pytest.approx(1.0, abs=0.1)
    assert np.nanmax(np.abs(off)) < 5.5
    # the test can fail: the lamp 2 mm off its place would show
    shifted = (found * (522 / 520) ** 2 - expected) / uncertainty(SOURCES[name])[kept]
    assert np.sqrt(np.nanmean(shifted[expected > expected.max() / 2] ** 2)) > 1.5


@pytest.mark.parametrize("name", SOURCES)
def test_the_scatter_is_that_of_the_noise(reduced, kept, name):
    source = SOURCES[name]
    factor = np.interp(GRID, truth.FINE, truth.attenuator()) * INSTRUMENT.responsivity()
    factor *= source.integration_time
    light = INSTRUMENT.seen(source.spectrum) * factor
    expected = (np.sqrt(variance(light, source.integration_time, SCANS)) / factor)[kept]
    found = reduced["sources/scatter"].sel(source=name).values
    # the variance of a variance from n scans is 2/(n - 1) of its square, and there are 2,000 pixels
    doubt = np.sqrt(2 / (SCANS - 1) / kept.sum())
    assert np.nanmean((found / expected) ** 2) == pytest.approx(1.0, abs=5 * doubt)


@pytest.mark.parametrize("name", SOURCES)
def test_the_band_irradiance_is_the_integral_of_the_truth(reduced, name):
    inside = (truth.FINE >= 320) & (truth.FINE <= 430)
    expected = np.trapezoid(SOURCES[name].spectrum[inside], truth.FINE[inside])
    found = reduced["sources/band_irradiance"].sel(source=name).item()
    steps = np.gradient(GRID) * ((GRID >= 320) & (GRID <= 430))
    spread = np.sqrt((steps**2 * uncertainty(SOURCES[name]) ** 2).sum())
    # the slit moves light over the edges of the band, where there is next to none
    assert found == pytest.approx(expected, abs=5 * spread, rel=2e-4)
    assert 5 * spread < 5e-3 * expected


def transmittance_uncertainty():
    lamp = INSTRUMENT.seen(truth.transmission_lamp()) * INSTRUMENT.responsivity() * 0.02
    passed = np.interp(GRID, truth.FINE, truth.cover())
    sample = variance(lamp * passed, 0.02, SCANS) + dark_variance(0.02)
    reference = variance(lamp, 0.02, SCANS) / 2 + dark_variance(0.02)
    return np.sqrt(sample + passed**2 * reference) / lamp


def test_the_transmittance_is_found_though_the_lamp_drifts(reduced, kept):
    found = reduced["parts/transmittance"].sel(part="cover").values
    lamp = truth.transmission_lamp()
    seen = (INSTRUMENT.seen(lamp * truth.cover()) / INSTRUMENT.seen(lamp))[kept]
    off = (found - seen) / transmittance_uncertainty()[kept]
    assert np.sqrt(np.mean(off**2)) == pytest.approx(1.0, abs=0.1)
    assert np.abs(off).max() < 5.5
    # and against the cover itself, which the slit rounds off where it is bent
    bend = np.gradient(np.gradient(truth.cover(), truth.FINE), truth.FINE)
    rounding = 0.5 * SLIT * np.abs(bend).max()
    exact = np.interp(GRID[kept], truth.FINE, truth.cover())
    assert (np.abs(found - exact) < 5.5 * transmittance_uncertainty()[kept] + 2 * rounding).all()
    assert reduced["parts/drift"].item() == pytest.approx(virtual_bench._DRIFT, rel=0.05)


def test_the_wetted_back_face_is_found_from_the_dry_one(reduced, kept):
    """Slab theory on the invented bulk, once between air and air, once between air and adhesive."""
    bulk, index, adhesive = truth.cover_internal(), truth.COVER_INDEX, 1.50
    front, back = ((1 - index) / (1 + index)) ** 2, ((index - adhesive) / (index + adhesive)) ** 2
    wet = (1 - front) * (1 - back) * bulk / (1 - front * back * bulk**2)
    more = np.interp(GRID[kept], truth.FINE, wet / truth.cover())
    dry, found = (
        reduced[f"parts/{name}"].sel(part="cover").values
        for name in ("transmittance", "bonded_transmittance")
    )
    clear = (dry > 0.05) & (GRID[kept] < 600)  # beyond, noise carries a clear part above 1
    assert found[clear] == pytest.approx(dry[clear] * more[clear], rel=1e-3)
    assert 1.03 < (found / dry)[clear].min() < (found / dry)[clear].max() < 1.05


def test_without_the_second_reference_the_drift_would_show(demo, kept, tmp_path):
    folder = shutil.copytree(demo, tmp_path / "bench")
    text = (folder / "bench.toml").read_text(encoding="utf-8")
    assert ', "raw/reference_after.csv"]' in text
    text = text.replace(', "raw/reference_after.csv"]', "]")
    (folder / "bench.toml").write_text(text, encoding="utf-8")
    found = sb.reduce_bench(folder)["parts/transmittance"].sel(part="cover").values
    exact = np.interp(GRID[kept], truth.FINE, truth.cover())
    off = (found - exact) / transmittance_uncertainty()[kept]
    assert np.sqrt(np.mean(off[GRID[kept] > 420] ** 2)) > 3
    assert np.mean(off[GRID[kept] > 420]) < -3


def dilated(mask):
    wide = mask.copy()
    wide[1:] |= mask[:-1]
    wide[:-1] |= mask[1:]
    return wide


def test_saturated_pixels_are_those_where_the_truth_is(reduced, kept):
    arc = SOURCES["arc"]
    light = INSTRUMENT.seen(arc.spectrum * truth.attenuator()) * INSTRUMENT.responsivity()
    light *= arc.integration_time
    counts = light + INSTRUMENT.offset + INSTRUMENT.dark_current * arc.integration_time
    doubt = 5 * np.sqrt(variance(light, arc.integration_time, 1)) + 25  # and the ripple of the offset
    flagged = np.isnan(reduced["sources/spectral_irradiance"].sel(source="arc").values)
    surely = dilated(counts > SATURATED + doubt)[kept]
    perhaps = dilated(counts > SATURATED - doubt)[kept]
    assert surely.any()
    assert (flagged >= surely).all()
    assert (flagged <= perhaps).all()
    assert perhaps.sum() - surely.sum() <= 4
    others = reduced["sources/spectral_irradiance"].drop_sel(source="arc")
    assert not others.isnull().any()


def test_the_ageing_log_gives_back_the_loss(reduced):
    fit = reduced["ageing/arc"].to_dataset()
    hours = fit["hours"].values
    # readings scatter by 0.4 % and are written to 0.1 of 100: relative variance of one
    one = 0.004**2 + (0.1 / 85) ** 2 / 12
    slope = np.sqrt(one / ((hours - hours.mean()) ** 2).sum())
    loss = 1 - output_at(fit, 3000.0).item() / fit["initial"].item()
    assert loss == pytest.approx(0.44, abs=3 * 0.56 * 3000 * slope)
    assert fit["initial"].item() == pytest.approx(1.0, abs=3 * np.sqrt(one * 0.4))
    assert 3 * 0.56 * 3000 * slope < 0.03


def test_the_film_absorbs_as_the_truth_says(reduced, kept):
    for name, concentration in (("initiator A", 0.02), ("initiator B", 0.03)):
        points = np.arange(240, 430.5, 1.0)  # as in the file: straight lines between its rows
        rows = np.interp(points, truth.FINE, truth.initiators()[name])
        exact = np.interp(GRID[kept], points, rows, right=0)
        found = reduced["adhesive/absorbance"].sel(initiator=name).values
        np.testing.assert_allclose(found, exact * concentration * 0.015, rtol=1e-5, atol=1e-12)


@pytest.mark.parametrize("source", truth.sources(), ids=lambda source: source.name)
def test_a_scan_shows_the_spot_that_the_manifest_states(demo, source):
    """0.2 % of noise and steps of 0.5 mm leave the width within 0.05 mm."""
    scan = sb.read(demo / f"raw/{file_of(source.name)}_scan.csv")["irradiance"]
    found = sb.spot(sb.beam_profile(scan))
    assert float(found["size"]) == pytest.approx(float(source.spot.removesuffix(" mm")), abs=0.05)
    assert float(found["centre"]) == pytest.approx(beams.BEAM_CENTRE, abs=0.03)
    assert float(found["highest"]) == pytest.approx(np.trapezoid(source.spectrum, truth.FINE), rel=0.02)
    assert not any("comment" in variable.attrs for variable in found.variables.values())  # it is whole


@pytest.mark.parametrize("source", truth.sources(), ids=lambda source: source.name)
def test_the_bond_is_lit_as_unevenly_as_the_truth(demo, source):
    """0.2 % of noise on the middle and 0.14 % on a place between two readings, there and back."""
    scan = sb.read(demo / f"raw/{file_of(source.name)}_scan.csv")["irradiance"]
    ends = beams.BEAM_CENTRE + np.array([-1.5, 1.5])  # 3 mm of bond, in the middle of the beam
    found = sb.uniformity(sb.beam_profile(scan), *ends)["lowest_by_highest"].item()
    expected = beams.beam(source, ends).min()
    assert found == pytest.approx(expected, abs=0.01)
    low, high = (0.80, 0.90) if source.kind == "arc" else (0.85, 0.95)
    assert low < expected < high


def test_the_resin_reads_back(demo):
    found = sb.read(demo / "raw/resin.csv")["absorbance"]
    exact = np.interp(found.wavelength, truth.FINE, truth.resin())
    np.testing.assert_allclose(found, exact, rtol=1e-5)
    assert found.interp(wavelength=[320.0, 365.0, 405.0]).values == pytest.approx(
        [0.5, 0.02, 0.002], rel=0.05
    )
    assert np.isin([240.0, 765.0], found.wavelength).all()  # no pixel is left without its absorbance


def test_the_resin_in_the_bond_line_is_that_of_its_layer(reduced, kept):
    points = np.arange(240, 766, 5.0)
    exact = np.interp(GRID[kept], points, np.interp(points, truth.FINE, truth.resin()))
    found = reduced["adhesive/background"].values
    inside = GRID[kept] <= 765
    np.testing.assert_allclose(found[inside], exact[inside] * 0.15, rtol=1e-5)  # 0.15 mm of 1 mm


def test_the_manifest_says_what_running_each_source_takes(demo):
    stated = {row["name"]: row for row in tomllib.loads((demo / "bench.toml").read_text("utf-8"))["source"]}
    for name, source in SOURCES.items():
        assert stated[name].get("mercury", "") == source.mercury
        assert stated[name]["lamp_price"] == source.lamp_price > stated[name]["disposal_price"] > 0
        assert (source.kind == "arc") == bool(source.mercury)


def contents(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_seed_gives_the_same_bench_bit_for_bit(demo, tmp_path):
    again = sb.write_demo_bench(tmp_path / "again")
    assert contents(again) == contents(demo)
    other = contents(sb.write_demo_bench(tmp_path / "other", seed=1))
    assert other.keys() == contents(demo).keys()
    changed = {name for name, data in contents(demo).items() if data != other[name]}
    names = (
        "attenuator",
        "lamp_certificate",
        "initiator_a",
        "initiator_b",
        "head_response",
        "head_calibration",
        "resin",
    )
    certain = {f"raw/{name}.csv" for name in names}
    assert changed == other.keys() - certain - {"bench.toml"}


def test_every_file_says_that_it_is_invented(demo):
    for name, data in contents(demo).items():
        assert "invented" in data.decode().lower(), name
    header = json.loads(sb.read(demo / "raw/arc.csv").attrs["header"])
    assert header["note"] == "invented data from a virtual instrument; no real product was measured"


@pytest.mark.parametrize("kind", ["a folder with a file in it", "a file"])
def test_what_is_there_is_never_overwritten(tmp_path, kind):
    target = tmp_path / "bench"
    if kind == "a file":
        target.write_text("mine")
    else:
        target.mkdir()
        (target / ".hidden").write_text("mine")
    before = contents(tmp_path)
    with pytest.raises(BenchError, match="something there already; expected a new or an empty folder"):
        sb.write_demo_bench(target)
    assert contents(tmp_path) == before


def test_an_empty_folder_may_be_the_target(tmp_path, monkeypatch):
    (tmp_path / "empty").mkdir()
    (tmp_path / "link").symlink_to("empty")
    for target in (tmp_path / "link", "."):
        monkeypatch.chdir(tmp_path / "empty")
        folder = sb.write_demo_bench(target)
        assert (tmp_path / "empty" / "bench.toml").is_file()
        assert sorted(path.name for path in Path(folder).iterdir()) == ["bench.toml", "raw"]
        for path in sorted((tmp_path / "empty").rglob("*"), reverse=True):
            path.rmdir() if path.is_dir() else path.unlink()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["empty", "link"]


@pytest.mark.parametrize("target", ["file/bench", "dangling", "a\0b"])
def test_a_target_that_cannot_be_written(tmp_path, target):
    (tmp_path / "file").write_text("mine")
    (tmp_path / "dangling").symlink_to("nothing")
    with pytest.raises(BenchError, match="Name a new folder"):
        sb.write_demo_bench(tmp_path / target)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["dangling", "file"]


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_nothing_behind(tmp_path, monkeypatch, error):
    def fail(*_):
        raise error

    monkeypatch.setattr(virtual_bench, "_write_logs", fail)
    with pytest.raises((BenchError, KeyboardInterrupt)):
        sb.write_demo_bench(tmp_path / "bench")
    assert not contents(tmp_path)
    monkeypatch.undo()
    sb.write_demo_bench(tmp_path / "bench")  # nothing is in the way of a second attempt


def test_a_full_disk_leaves_no_folder_behind(tmp_path, monkeypatch):
    def full(path, text):
        raise BenchError(path, [Fault("No space left on device", "a place that can be written")])

    monkeypatch.setattr("spectralbench.readers.plain_text.write_whole", full)
    target = tmp_path / "bench"
    with pytest.raises(BenchError, match=r"bench cannot be used as it is: found No space left on device"):
        sb.write_demo_bench(target)
    assert not target.exists()
