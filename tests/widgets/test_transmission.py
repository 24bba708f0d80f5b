"""What parts pass, in a notebook without a browser: figures are those of the reduction, gaps stay gaps."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.passing import bonded
from spectralbench.errors import RangeError, UnitsError
from spectralbench.payload import unpack
from spectralbench.widgets.transmission import Transmission

GRID = np.linspace(350.0, 450.0, 101)


@pytest.fixture(scope="module")
def drawn(demo):
    return Transmission(demo, draws=100, seed=3)


@pytest.fixture
def parts(drawn):
    """One that tests may turn, if it is turned back."""
    yield drawn
    drawn.thickness = {"cover": 2.0}
    drawn.wavelengths = [365.0, 385.0, 405.0, 436.0]


@pytest.fixture
def light():
    """Internal transmittance by Lambert's law between two faces of index 1.5; below 370 nm, nothing."""
    internal = xr.DataArray(np.where(GRID < 370, 0.0, 0.8), {"wavelength": GRID}, "wavelength")
    return sb.slab_transmittance(internal, 1.5)


def cell(parts, row, column):
    return parts.figures["rows"][row]["cells"][column]


def test_it_begins_as_the_bench_is(parts, reduced):
    assert parts.thickness == {"cover": 2.0}
    value = parts.result["value"].sel(part="cover", state="measured")
    plain = reduced["parts/transmittance"].sel(part="cover")
    spread = (parts.result["high"] - parts.result["low"]).sel(part="cover", state="measured")
    assert float(np.abs(value - plain).max()) < float(spread.max())  # a mean of draws beside the estimate
    assert parts.figures["columns"][0] == {"label": "cover, as measured", "told": "2 mm"}
    assert [row["told"] for row in parts.figures["rows"]] == ["365 nm", "385 nm", "405 nm", "436 nm"]
    assert parts.state == ""


def test_another_thickness_is_what_the_bench_predicts(demo, reduced):
    plain = Transmission(demo, draws=0)
    plain.thickness = {"cover": "1.2 mm"}
    assert plain.thickness == {"cover": 1.2}
    measured = reduced["parts/transmittance"].isel(part=0, drop=True)
    expected, cautions = bonded(measured, manifest_of(reduced), 0, 1.2)
    found = plain.result["value"].sel(part="cover", state="bonded", drop=True)
    known = found.notnull()
    np.testing.assert_allclose(found.where(known, 0.0), expected, rtol=1e-6, atol=1e-9)
    assert (expected.where(~known, 0.0) == 0).all()  # what is not valid counts as passing nothing
    assert plain.figures["cautions"] == cautions
    assert np.isnan(plain.result["low"]).all()
    assert plain.figures["limits"][-1] == "No intervals: there are no draws."


def test_intervals_are_those_of_the_draws(parts, demo):
    parts.thickness = {"cover": 1.2}
    tree = sb.adjust(sb.reduce_bench(demo, 100, 3), thickness={"cover": 1.2})
    said = sb.summarize(tree["parts/bonded_transmittance"].astype(float)).isel(part=0)
    found = parts.result.sel(state="bonded", part="cover")
    inside = found["value"].notnull()
    for end in ("value", "low", "high"):
        np.testing.assert_allclose(found[end].values[inside], said[end].values[inside], rtol=1e-6)
    assert cell(parts, 2, 2)["interval"] == "–".join(
        f"{100 * float(found[f'quoted_{end}'].sel(quoted_wavelength=405)):.3g}" for end in ("low", "high")
    )


def test_what_lies_below_the_floor_is_a_gap_with_words(parts):
    assert unpack(parts.curves)[0]["gaps"] == []
    parts.thickness = {"cover": 1.0}
    parts.wavelengths = [340, 405]
    header, arrays = unpack(parts.curves)
    (first, last), *_ = header["gaps"]
    curve = next(one for one in header["curves"] if one["role"] == "bonded")
    grid = parts.result.wavelength.values
    assert np.isnan(arrays[curve["y"]][(grid >= first) & (grid <= last)]).all()
    assert "not valid at" in parts.figures["cautions"][0]
    assert cell(parts, 0, 0)["text"] != "not known"  # it was measured
    assert cell(parts, 0, 1)["text"] == cell(parts, 0, 2)["text"] == "not known"
    assert cell(parts, 1, 1)["text"].endswith(" %")


def test_a_browser_turns_and_python_sees_it(parts):
    seen = []
    parts.observe(lambda change: seen.append(change["new"]), "result")
    parts.set_state({"thickness": {"cover": 1.5}})
    parts.set_state({"wavelengths": [410, 365]})
    parts.unobserve_all("result")
    assert parts.wavelengths == [365, 410]
    assert seen[-1] is parts.result
    assert parts.result.sizes["quoted_wavelength"] == 2
    parts.wavelengths = []
    assert parts.figures["rows"] == []


@pytest.mark.parametrize(
    ("name", "value", "error", "words"),
    [
        ("thickness", {"lid": 1}, RangeError, 'there is no part "lid"; there are "cover"'),
        ("thickness", {"cover": 0}, RangeError, "a thickness is more than 0 mm, not 0 mm"),
        ("thickness", {"cover": "1 s"}, UnitsError, "mm"),
        ("wavelengths", [200], RangeError, "200 nm lies outside of what was measured, 254.0–752.0 nm"),
        ("wavelengths", ["3 s"], RangeError, "nm"),
        ("wavelengths", list(range(400, 413)), RangeError, "room for 12 wavelengths, not 13"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(parts, name, value, error, words):
    before, result = getattr(parts, name), parts.result
    with pytest.raises(error, match=words):
        setattr(parts, name, value)
    assert getattr(parts, name) == before
    assert parts.result is result


def test_a_browser_hears_why(parts):
    parts.set_state({"wavelengths": [200]})
    assert parts.state.startswith("refused: 200 nm lies outside")
    parts.set_state({"wavelengths": [400]})
    assert parts.state == ""


class TestOnePartAlone:
    def test_lambert_and_two_faces(self, light):
        """Closed form: internal 0.8 of 2 mm is 0.8^½ of 1 mm; faces of index 1.5 reflect 4 %."""
        alone = Transmission(light, [365, 405], thickness="2 mm", index=1.5, floor=0.01)
        alone.thickness = {"part": 1.0}
        inside, face = 0.8**0.5, 0.04
        slab = (1 - face) ** 2 * inside / (1 - (face * inside) ** 2)
        assert alone.result["quoted"].sel(state="dry", quoted_wavelength=405).item() == pytest.approx(slab)
        assert np.isnan(alone.result["quoted"].sel(state="dry", quoted_wavelength=365).item())
        assert alone.figures["cautions"][0].startswith("part: not valid at 350–369 nm")
        assert [column["label"] for column in alone.figures["columns"]] == [
            "part, as measured",
            "part, in air",
        ]

    def test_an_adhesive_behind_it(self, light):
        """Closed form: a face that adhesive of the same index wets reflects nothing."""
        alone = Transmission(light, [405], thickness=2, index=1.5, adhesive_index=1.5)
        assert alone.result["quoted"].sel(state="bonded").item() == pytest.approx(0.96 * 0.8)

    def test_with_draws(self, light):
        noisy = light + sb.draw(0.0, 0.01, draws=500, seed=1)
        alone = Transmission(noisy, [405], thickness=2, index=1.5)
        low, high = (alone.result[end].sel(state="measured").item() for end in ("quoted_low", "quoted_high"))
        assert high - low == pytest.approx(2 * 1.96 * 0.01, rel=0.15)

    def test_without_its_index_it_has_no_other_thickness(self, light):
        alone = Transmission(light, [405], thickness=2)
        words = r"another thickness of part takes its refractive index \(index=…\)"
        assert alone.controls[0]["fixed"].startswith("another thickness of part takes its refractive index")
        with pytest.raises(RangeError, match=words):
            alone.thickness = {"part": 1}

    def test_what_is_no_transmittance_is_refused(self, light):
        with pytest.raises(RangeError, match="has a dimension wavelength, and may have draw, not spectrum"):
            Transmission(light.expand_dims("spectrum"))
        with pytest.raises(RangeError, match="a thickness is more than 0 mm, not -1 mm"):
            Transmission(light, thickness=-1)

    def test_usual_wavelengths_that_were_not_measured_are_left_out(self, light):
        assert Transmission(light.sel(wavelength=slice(400, 450))).wavelengths == [405.0, 436.0]


def test_all_parts_together_are_their_product(demo, tmp_path):
    folder = shutil.copytree(demo, tmp_path / "bench")
    manifest = folder / "bench.toml"
    text = manifest.read_text(encoding="utf-8")
    start = text.index("[[part]]")
    end = text.index("[adhesive]")
    block = text[start:end]
    again = block.replace('"cover"', '"lid"')
    for name in ("cover", "reference_before", "reference_after"):  # a frame has one role
        shutil.copy(folder / "raw" / f"{name}.csv", folder / "raw" / f"{name}_again.csv")
        again = again.replace(f"raw/{name}.csv", f"raw/{name}_again.csv")
    manifest.write_text(text.replace(block, block + again), encoding="utf-8")
    parts = Transmission(folder, draws=0)
    labels = [column["label"] for column in parts.figures["columns"]]
    assert labels[-1] == "all parts, as bonded"
    assert "cover, as bonded" not in labels  # adhesive wets the last one alone
    value = parts.result["value"].sel(state="bonded")
    np.testing.assert_allclose(
        value.sel(part="all parts"), value.sel(part="cover") * value.sel(part="lid"), rtol=1e-6
    )


def test_pages_without_a_kernel_get_a_picture_and_the_figures(parts):
    data, _ = parts._repr_mimebundle_()
    assert data["image/svg+xml"].startswith("<svg")
    assert "405 nm: cover, as measured 2 mm 80" in data["text/plain"]
    assert data["application/vnd.spectralbench.view+json"]["widget"] == "transmission"
