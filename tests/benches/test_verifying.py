"""Verifying saved results: what is told when files, manifest, versions or archives are not what they were."""

from __future__ import annotations

import json
import re
import shutil

import numpy as np
import pytest
import xarray as xr

import spectralbench as sb
from spectralbench.benches import origins
from spectralbench.benches.comparing import reduced_and_compared
from spectralbench.benches.reproduction import verifying
from spectralbench.benches.reproduction.changed_files import settings_changed
from spectralbench.benches.reproduction.differences import agreement
from spectralbench.benches.reproduction.verification import DIFFERS, NOT_MADE, NOT_READ, SAME, SAME_BITS
from spectralbench.benches.reproduction.wording import reworded
from spectralbench.errors import BenchError, RangeError

DRAWS, SEED = 20, 3
SHARES = ["variance_share", "cause", "origin"]


@pytest.fixture(scope="module")
def original(three):
    return three


@pytest.fixture(scope="module")
def made(three):
    """A reduction of the small bench, and a comparison with the shares of each cause."""
    return reduced_and_compared(three, DRAWS, SEED)


@pytest.fixture(scope="module")
def archives(made, tmp_path_factory):
    """Both on a disk; the comparison without shares, so that it is quickly made again."""
    place = tmp_path_factory.mktemp("verifying")
    sb.save(made[0], place / "reduction.nc")
    sb.save(made[1].drop_vars(SHARES), place / "comparison.nc")
    return place


@pytest.fixture
def both(bench, archives):
    """A bench with its results beside the raw files."""
    shutil.copytree(archives, bench.folder / "results")
    return bench


@pytest.fixture
def kept(both):
    """A bench with its comparison only."""
    (both.folder / "results" / "reduction.nc").unlink()
    return both


@pytest.fixture(scope="module")
def in_a_tenth_of_the_time(three, archives, tmp_path_factory):
    """Both results held against a bench that allows 3 s and no longer 30."""
    folder = shutil.copytree(three, tmp_path_factory.mktemp("verifying") / "bench")
    shutil.copytree(archives, folder / "results")
    path = folder / "bench.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('maximum_time = "30 s"', 'maximum_time = "3 s"', 1), encoding="utf-8")
    return sb.verify(folder)


@pytest.fixture(scope="module")
def figures(made, tmp_path_factory):
    """Some figures of the comparison, and their archive: quickly saved, and quickly held again."""
    some = made[1][["verdict", "place", "reason", "exposure_time", "dose_time"]]
    path = tmp_path_factory.mktemp("verifying") / "comparison.nc"
    sb.save(some, path)
    return some, path


@pytest.fixture
def few(bench, figures):
    """A bench with an archive of these."""
    (bench.folder / "results").mkdir()
    shutil.copy(figures[1], bench.folder / "results")
    return bench


@pytest.fixture
def as_made(made, figures, monkeypatch):
    """Of a bench that is as it was, what is made again is what was made; the first test makes it."""
    monkeypatch.setattr(verifying, "_made_again", lambda *_: {"reduction": made[0], "comparison": figures[0]})


def altered(kept, change):
    """Save the comparison anew after changing it."""
    path = kept.folder / "results" / "comparison.nc"
    sb.save(change(sb.load(path)), path)
    return kept


def verified(kept, **settings):
    (entry,) = sb.verify(kept.folder, **settings).results
    return entry


def told(found, words):
    (text,) = [text for text in found.said if words in text]
    return text


def edit_provenance(**changes):
    def change(result):
        provenance = json.loads(result.attrs["provenance"])
        for key, value in changes.items():
            provenance[key] = provenance[key] | value
        return result.assign_attrs(provenance=json.dumps(provenance))

    return change


def test_an_unchanged_bench_gives_the_same_bits(both, hashes):
    before = hashes(both.folder)
    found = sb.verify(both.folder)
    assert found.ok
    assert [entry.file for entry in found.results] == ["results/comparison.nc", "results/reduction.nc"]
    assert [entry.kind for entry in found.results] == ["comparison", "reduction"]
    for entry in found.results:
        assert entry.status == SAME_BITS
        assert entry.same_bits == entry.figures > 20
        assert (entry.files, entry.manifest, entry.versions) == ({}, {}, {})
        assert (entry.differences, entry.texts) == ((), ())
        (headline,) = entry.said
        assert headline.endswith(f": all {entry.figures} figures are the same, bit for bit.")
        assert f"with {DRAWS} draws, seed {SEED}" in headline
    assert str(found).splitlines()[0] == f"✓ {found.results[0].said[0]}"
    assert hashes(both.folder) == before


def test_every_figure_is_held_against_the_new_one(made):
    """All variables and coordinates of both results, by source: nothing is left out in silence but grids."""
    reduced, compared = made

    def expected(node):
        items = ("source", "part", "initiator")
        arrays = {
            **node.data_vars,
            **{name: node.coords[name] for name in node.coords if name not in node.dims},
        }
        return sum(
            array.sizes.get(next((name for name in items if name in array.dims), ""), 1)
            for name, array in arrays.items()
            if array.dtype.kind in "biuf" or name == "verdict"
        )

    assert agreement(compared, compared, 0.0) == (expected(compared), expected(compared), ())
    count = sum(map(expected, reduced.subtree))
    assert agreement(reduced, reduced, 0.0) == (count, count, ())
    moved = reduced.copy()
    moved["sources"] = reduced["sources"].to_dataset().assign_coords(hours=("source", [1.0, 2.0, 3.0]))
    assert {one.figure for one in agreement(moved, reduced, 0.0).differences} == {"sources/hours"}


def test_a_comparison_with_shares_of_each_cause_is_made_again(bench, made):
    sb.save(made[1], bench.folder / "with_shares.nc")
    found = sb.verify(bench.folder, bench.folder / "with_shares.nc")
    (entry,) = found.results
    assert (entry.file, entry.status) == ("with_shares.nc", SAME_BITS)
    changed = made[1].assign(variance_share=made[1]["variance_share"] * 1.5)
    figures = {one.figure for one in agreement(changed, made[1], 1e-9).differences}
    assert figures == {"variance_share"}


def test_a_changed_count_is_told_with_the_figures_that_it_changes(both):
    both("raw/led_385.csv", r"^(38\d\.\d+,)\d+", r"\g<1>12345")
    found = sb.verify(both.folder)
    assert not found.ok
    for entry in found.results:
        assert entry.status == DIFFERS
        assert entry.files == {"raw/led_385.csv": "changed"}
        assert "Changed since it was saved: raw/led_385.csv." in entry.said
        shifts = {one.of: [] for one in entry.differences}
        for one in entry.differences:
            shifts[one.of].append(one.standard_uncertainties or 0.0)
        assert max(shifts.pop("LED 385")) > 0.5
        assert max(map(max, shifts.values())) < 0.02  # noise and flicker are told from all frames together
        assert (
            f"And {len(entry.differences) - 12} more, which JSON lists: those above change most."
            in entry.said
        )
        assert re.search(r"\d+ of \d+ figures differ from those that the raw files give now", entry.said[0])
        assert told(entry, "What to do").startswith("What to do: bring the files back as they were")
    figures = {(one.figure, one.of): one for one in found.results[0].differences}
    photons = figures["absorbed_photons", "LED 385"]
    assert photons.units == "umol m-2 s-1"
    assert photons.standard_uncertainties > 0
    assert "times its standard uncertainty; its standard uncertainty " in photons.text
    assert photons.text.startswith("LED 385, photons absorbed: ")
    assert "sources/spectral_irradiance" in {one.figure for one in found.results[1].differences}
    spectral = next(
        one for one in found.results[1].differences if one.figure == "sources/spectral_irradiance"
    )
    assert re.fullmatch(r"38\d\.?\d* nm", spectral.where)


def test_a_change_is_told_in_standard_uncertainties_of_the_saved_figure(made):
    """Closed form: a shift of all draws by one standard deviation is 1 standard uncertainty."""
    compared = made[1]
    spread = compared["exposure_time"].std("draw", ddof=1)
    moved = compared.assign(
        exposure_time=compared["exposure_time"].copy(data=compared["exposure_time"] + spread)
    )
    differences = agreement(compared, moved, 1e-9).differences
    assert {one.figure for one in differences} == {"exposure_time"}
    for one in differences:
        assert one.standard_uncertainties == pytest.approx(1)
        assert one.now - one.saved == pytest.approx(float(spread.sel(source=one.of)))
        assert "; 1 times its standard uncertainty" in one.text


def test_a_comment_is_told_and_changes_no_figure(kept):
    kept("raw/led_385.csv", r"^# title: .*$", "# title: looked at again")
    kept("bench.toml", r"\Z", "# looked at again\n")
    entry = verified(kept)
    assert not entry.ok
    assert entry.status == SAME_BITS
    assert entry.files == {"raw/led_385.csv": "changed", "bench.toml": "changed"}
    assert entry.manifest == {}
    assert entry.said[1:] == (
        "Changed since it was saved: raw/led_385.csv, bench.toml.",
        "In bench.toml only comments or the layout changed.",
        "What to do: no figure changed by that; save the result anew (--save), so that it names the files as "
        "they are.",
    )


def test_a_changed_value_of_the_manifest_is_told_by_its_key(in_a_tenth_of_the_time):
    compared, _ = in_a_tenth_of_the_time.results
    assert compared.manifest == {"requirement.maximum_time": ('"30 s"', '"3 s"')}
    assert 'bench.toml, requirement.maximum_time: "30 s" then, "3 s" now.' in compared.said
    verdict, *_ = compared.differences
    assert (verdict.figure, verdict.where, verdict.saved, verdict.now) == (
        "verdict",
        "time",
        "met",
        "not met",
    )
    assert f"{verdict.of}, verdict, time: met → not met." in compared.said
    assert compared.status == DIFFERS


@pytest.mark.parametrize("quotes", ['"', ""])
def test_a_long_value_is_cut_to_where_it_changed(tmp_path, quotes):
    """Not before it is held against the other: a change far behind is one."""
    long = "1" * 100
    then, now = (f"a = {quotes}{long}{end}{quotes}\n" for end in ("2", "3"))
    (tmp_path / "bench.toml").write_text(now, encoding="utf-8")
    before, after = settings_changed(tmp_path, then)["a"]
    assert (before, after) == (f"…{'1' * 20}2{quotes}", f"…{'1' * 20}3{quotes}")
    (tmp_path / "bench.toml").write_text(then.replace("2", "2" * 200), encoding="utf-8")
    assert [len(text) for text in settings_changed(tmp_path, then)["a"]][1] == 62


def test_a_source_of_another_name_is_another_source(made):
    names = [f"{name}b" if name == "LED 405" else name for name in made[1].source.values]
    differences = agreement(made[1], made[1].assign_coords(source=names), 1e-9).differences
    texts = [one.text for one in differences]
    assert "LED 405, place: no longer made" in texts
    assert "LED 405b, place: not in the saved result" in texts
    first = [one.figure for one in differences]
    assert set(first[: first.index("peak_wavelength")]) == {"verdict", "place"}


def test_a_source_more_and_its_file_are_told(kept):
    shutil.copy(kept.folder / "raw" / "led_405.csv", kept.folder / "raw" / "led_new.csv")
    new = '[[source]]\nname = "LED new"\nkind = "LED"\nframe = "raw/led_new.csv"\ndistance = "12 mm"'
    kept.manifest("[[part]]", f"{new}\n\n[[part]]")
    entry = verified(kept)
    assert entry.files == {"bench.toml": "changed", "raw/led_new.csv": "new"}
    assert "Named in the manifest only since: raw/led_new.csv." in entry.said
    assert 'bench.toml, source.4.name: nothing then, "LED new" now.' in entry.said
    assert any(one.text == "LED new, exposure: not in the saved result" for one in entry.differences)


def test_a_file_that_is_no_longer_named_is_told(both):
    both("bench.toml", r'\[\[ageing\]\]\nsource = "arc"\nfile = "raw/arc_ageing.csv"\n', "")
    (entry,) = sb.verify(both.folder, both.folder / "results" / "reduction.nc").results
    assert entry.files["raw/arc_ageing.csv"] == "not used"
    assert "There as before, but no longer named in the manifest: raw/arc_ageing.csv." in entry.said
    assert "ageing, arc, rate: no longer made" in {one.text for one in entry.differences}


def test_a_missing_file_is_told_and_nothing_is_made_again(few):
    (few.folder / "raw" / "led_385.csv").unlink()
    found = sb.verify(few.folder)
    assert not found.ok
    for entry in found.results:
        assert (entry.status, entry.figures) == (NOT_MADE, 0)
        assert entry.files == {"raw/led_385.csv": "missing"}
        assert entry.said[0].endswith(": not verified.")
        assert "No longer there: raw/led_385.csv." in entry.said
        assert "raw/led_385.csv (source.2.frame" in told(entry, "It could not be made again")
        assert told(entry, "What to do")


def test_a_manifest_that_cannot_be_read_is_told_with_what_it_says(few):
    few.manifest("pixels = 128", "pixels = ")
    entry = verified(few)
    assert (entry.status, entry.files) == (NOT_MADE, {"bench.toml": "changed"})
    assert 'found "pixels ="' in told(entry, "It could not be made again")


def test_a_bench_that_opens_but_does_not_reduce_is_told(few):
    few("bench.toml", r'\[\[dark\]\]\nframe = "raw/dark_2ms.csv"\n', "")
    few("bench.toml", r'\[\[dark\]\]\nframe = "raw/dark_5ms.csv"\n', "")
    few("bench.toml", r'\[\[dark\]\]\nframe = "raw/dark_20ms.csv"\n', "")
    entry = verified(few)
    assert entry.status == NOT_MADE
    assert "dark" in told(entry, "It could not be made again")


def test_another_seed_in_the_provenance_gives_other_draws(kept):
    altered(kept, edit_provenance(settings={"seed": SEED + 1}))
    changed = verified(kept)
    assert changed.status == DIFFERS
    assert changed.provenance["settings"]["seed"] == SEED + 1
    assert "neither files nor versions have changed" in told(changed, "What to do")


@pytest.mark.usefixtures("as_made")
def test_a_figure_that_was_changed_in_the_archive_is_told(few):
    def change(result):
        return result.assign(exposure_time=result["exposure_time"] * 0.9)

    altered(few, change)
    entry = verified(few)
    assert {one.figure for one in entry.differences} == {"exposure_time"}
    assert entry.differences[0].relative == pytest.approx(1 / 0.9 - 1, rel=1e-6)
    assert " or 11 % more; " in entry.differences[0].text
    assert "neither files nor versions have changed" in told(entry, "What to do")


@pytest.mark.parametrize(
    ("off", "settings", "status"),
    [(1e-12, {}, SAME), (1e-6, {}, DIFFERS), (1e-6, {"tolerance": 1e-5}, SAME)],
)
@pytest.mark.usefixtures("as_made")
def test_tolerance(few, off, settings, status):
    altered(few, lambda result: result.assign(dose_time=result["dose_time"] * (1 + off)))
    found = sb.verify(few.folder, **settings)
    (entry,) = found.results
    assert (entry.status, found.ok) == (status, status == SAME)
    assert found.tolerance == settings.get("tolerance", 1e-9)
    if status == SAME:
        assert f"figures agree within {found.tolerance:g} of their value" in entry.said[0]
        assert entry.figures - 5 <= entry.same_bits < entry.figures


@pytest.mark.parametrize("tolerance", [-1e-9, 1.0, np.nan])
def test_a_tolerance_that_is_none(three, tolerance):
    with pytest.raises(RangeError, match="a tolerance lies between 0 and 1, not at"):
        sb.verify(three, tolerance=tolerance)


@pytest.mark.usefixtures("as_made")
def test_other_versions_are_told(few, monkeypatch):
    real = origins.version
    monkeypatch.setattr(origins, "version", lambda name: "9.9.9" if name == "numpy" else real(name))
    numpy = real("numpy")
    altered(few, lambda result: result.assign(dose_time=result["dose_time"] * 2))
    entry = verified(few)
    assert entry.versions == {"numpy": (numpy, "9.9.9")}
    assert f"Saved with spectralbench {sb.__version__}, numpy {numpy}; now numpy 9.9.9." in entry.said
    assert "no file has changed, so the difference comes from the software" in told(entry, "What to do")


@pytest.mark.usefixtures("as_made")
def test_a_result_of_another_bench_is_told(few, made):
    """It has files of the same names, and a title of its own; what it gives is invented."""
    for path in (few.folder / "raw").iterdir():
        path.write_bytes(path.read_bytes() + b"\n")
    few("bench.toml", r"^title = .*$", 'title = "another"')
    altered(few, lambda result: result.assign(dose_time=result["dose_time"] * 2))
    found = sb.verify(few.folder)
    assert not found.ok
    title = made[0].attrs["title"]
    (entry,) = found.results
    assert entry.status == DIFFERS
    assert title[:30] in told(entry, "perhaps it belongs to another")


@pytest.mark.usefixtures("as_made")
def test_damaged_and_foreign_files_are_named_beside_the_others(few, archives):
    results = few.folder / "results"
    shutil.copy(archives / "reduction.nc", results)
    whole = (results / "reduction.nc").read_bytes()
    (results / "damaged.nc").write_bytes(whole[: len(whole) // 2])
    (results / "text.nc").write_text("no archive")
    xr.Dataset({"a": ("x", [1.0])}).to_netcdf(results / "foreign.nc", engine="h5netcdf")
    sb.save(xr.DataArray([1.0], dims="x"), results / "array.nc")
    found = sb.verify(few.folder)
    assert not found.ok
    by_file = {entry.file: entry for entry in found.results}
    assert {name: by_file.pop(f"results/{name}.nc").status for name in ("comparison", "reduction")} == {
        "comparison": SAME_BITS,
        "reduction": SAME_BITS,
    }
    assert {(entry.status, entry.kind, entry.ok) for entry in by_file.values()} == {(NOT_READ, "", False)}
    said = {name: " ".join(entry.said) for name, entry in by_file.items()}
    assert "results/damaged.nc: found an archive that is damaged" in said["results/damaged.nc"]
    ours = "expected an archive written by spectralbench"
    assert f"results/foreign.nc: found an archive of another program; {ours}" in said["results/foreign.nc"]
    assert f"results/text.nc: found a file that is no NetCDF 4 file; {ours}" in said["results/text.nc"]
    assert said["results/array.nc"].startswith(
        "results/array.nc: found an archive without the provenance of a reduction or comparison; expected a "
        "saved result of a bench. Save one: spectralbench compare BENCH --save "
    )
    assert {entry["status"] for entry in json.loads(found.to_json())["results"]} == {SAME_BITS, NOT_READ}


NO_PROVENANCE = [
    "no JSON",
    "[]",
    '{"files": {}, "versions": {}}',
    '{"files": {"a": 1}, "versions": {}, "settings": {"draws": 20, "seed": 1}}',
    '{"files": {}, "versions": {}, "settings": {"draws": "20", "seed": 1}}',
    '{"files": {}, "versions": {}, "settings": {"draws": 20, "seed": null}}',
    '{"files": [], "versions": {}, "settings": {"draws": 20, "seed": 1}}',
    f'{{"files": {{}}, "versions": {{}}, "settings": {{"draws": 20, "seed": {2**128}}}}}',
    '{"files": {}, "versions": {}, "settings": {"draws": 20, "seed": 1, "adjusted": {"x": {"a": 1}}}}',
    "[" * 100_000,
]


def test_a_provenance_that_is_none(few, tmp_path):
    result = xr.Dataset({"verdict": ("source", ["met"])})
    paths = [tmp_path / f"{number}.nc" for number in range(len(NO_PROVENANCE))]
    for path, provenance in zip(paths, NO_PROVENANCE, strict=True):
        sb.save(result.assign_attrs(provenance=provenance), path)
    found = sb.verify(few.folder, paths).results
    assert [entry.file for entry in found] == [str(path) for path in paths]
    for entry in found:
        assert "found an archive without the provenance of a reduction or comparison" in entry.said[0]


def test_draws_that_the_figures_do_not_have(few):
    altered(few, edit_provenance(settings={"draws": 10**9}))
    entry = verified(few)
    assert entry.status == NOT_READ
    assert "found 1000000000 draws in the provenance; expected 20, as in the figures" in entry.said[0]


@pytest.mark.usefixtures("as_made")
def test_a_name_in_the_provenance_that_leads_out_of_the_folder(few, tmp_path):
    (tmp_path / "outside.txt").write_text("outside")
    altered(few, edit_provenance(files={"../outside.txt": "0" * 64, "a\0b": "0" * 64}))
    entry = verified(few)
    assert entry.files == {"../outside.txt": "missing", "a\0b": "missing"}


def test_no_bench_and_no_result(tmp_path, three):
    with pytest.raises(BenchError, match=r"found no bench\.toml in it"):
        sb.verify(tmp_path)
    save = "Save one: spectralbench compare BENCH --save BENCH/results/comparison.nc"
    with pytest.raises(BenchError, match=f"found no archive in its folder results; .*{save}"):
        sb.verify(three)
    with pytest.raises(BenchError, match="found no archive named"):
        sb.verify(three, [])
    (entry,) = sb.verify(three, tmp_path / "nowhere.nc").results
    assert f"{tmp_path / 'nowhere.nc'}: found no such file or folder; expected an archive" in entry.said[0]


def test_json_is_strict_and_holds_the_provenance(in_a_tenth_of_the_time, made):
    found = in_a_tenth_of_the_time
    document = json.loads(found.to_json(), parse_constant=pytest.fail)
    assert (document["ok"], document["tolerance"]) == (False, 1e-9)
    first, second = document["results"]
    assert first["provenance"] == json.loads(made[1].attrs["provenance"])
    assert second["provenance"] == json.loads(made[0].attrs["provenance"])
    assert first["manifest"] == {"requirement.maximum_time": ['"30 s"', '"3 s"']}
    assert first["differences"][0]["figure"] == "verdict"
    assert first["said"] == list(found.results[0].said)


def test_provenance_outlives_the_archive(archives, made, three):
    """Hashes, manifest, versions, draws and seed are there, and readable, before and after."""
    for before, name in zip(made, ("reduction.nc", "comparison.nc"), strict=True):
        after = sb.load(archives / name)
        provenance = json.loads(after.attrs["provenance"])
        assert provenance == json.loads(before.attrs["provenance"])
        assert provenance["settings"] == {"draws": DRAWS, "seed": SEED}
        assert set(provenance["versions"]) == {"python", "spectralbench", "numpy", "scipy", "xarray"}
        assert "bench.toml" in provenance["files"]
        assert after.attrs["manifest"] == (three / "bench.toml").read_text(encoding="utf-8")


def figure(values, units="s", dims=("source",), **coordinates):
    array = xr.DataArray(values, dims=dims, attrs={"units": units})
    return array.assign_coords({"source": ["LED"], **coordinates}).to_dataset(name="exposure_time")


@pytest.mark.parametrize(
    ("saved", "now", "text"),
    [
        (figure([5.0]), figure([4.0]), "LED, exposure: 5 s → 4 s (1 s or 20 % less)"),
        (figure([np.nan]), figure([5.0]), "LED, exposure: not known → 5 s"),
        (figure([5.0]), figure([np.inf]), "LED, exposure: 5 s → never"),
        (figure([0.0]), figure([5.0]), "LED, exposure: 0 s → 5 s (5 s more)"),
        (figure([5.0]), figure([5000.0], "ms"), "LED, exposure: in s then, in ms now"),
        (
            figure([[5.0, 5.0]], dims=("source", "hours"), hours=[0.0, 9.0]),
            figure([[5.0, 5.0]], dims=("source", "hours"), hours=[0.0, 8.0]),
            "LED, exposure: on another grid of hours",
        ),
        (
            figure([[5.0, 5.0]], dims=("source", "hours"), hours=[0.0, 9.0]),
            figure([[5.0]], dims=("source", "hours"), hours=[0.0]),
            "LED, exposure: 2 along hours then, 1 along hours now",
        ),
        (
            figure([[4.0, 6.0]], dims=("source", "draw")),
            figure([5.0]),
            "LED, exposure: 5 s → 5 s (draws in only one of them)",
        ),
        (
            figure([5.0]),
            figure([[6.0, 8.0]], dims=("source", "draw")),
            "LED, exposure: 5 s → 7 s (2 s or 40 % more; draws in only one of them)",
        ),
        (
            figure([[4.0, 6.0]], dims=("source", "draw")),
            figure([[6.0, 4.0]], dims=("source", "draw")),
            "LED, exposure: 5 s as before (single draws differ by up to 40 %)",
        ),
        (
            figure([[4.0, 6.0]], dims=("source", "draw")),
            figure([[3.0, 7.0]], dims=("source", "draw")),
            "LED, exposure: 5 s as before (its standard uncertainty 28 % → 57 %)",
        ),
        (
            figure([[4.0, 6.0]], "K", ("source", "draw")),
            figure([[3.0, 7.0]], "K", ("source", "draw")),
            "LED, exposure: -268 °C as before (its standard uncertainty 1.4 K → 2.8 K)",
        ),
        (
            figure([300.0], "K"),
            figure([303.0], "K"),
            "LED, exposure: 26.9 °C → 29.9 °C (3 K more)",
        ),
        (
            figure([[4.0, 6.0]], dims=("source", "draw")),
            figure([[np.nan, 6.0]], dims=("source", "draw")),
            "LED, exposure: 5 s → not known",
        ),
        (
            figure([[5.0, 5.0, 5.0]], dims=("source", "hours"), hours=[0.0, 9.0, 12.0]),
            figure([[5.0, 6.0, 8.0]], dims=("source", "hours"), hours=[0.0, 9.0, 12.0]),
            "LED, exposure, 12: 5 s → 8 s (3 s or 60 % more)",
        ),
        (figure([5.0]), figure([305.0]), "LED, exposure: 5 s → 305 s (300 s more, 61 times)"),
        (figure([5.0]), figure([0.02]), "LED, exposure: 5 s → 0.02 s (5 s less, a share of 0.004)"),
        (
            figure([9000.0], "W m-2"),
            figure([9000.1], "W m-2"),
            "LED, exposure: 900 mW/cm² → 900.01 mW/cm² (0.01 mW/cm² or 0.0011 % more)",
        ),
    ],
)
def test_differences_in_words(saved, now, text):
    found = agreement(saved, now, 1e-9)
    assert [one.text for one in found.differences] == [text]
    assert (found.figures, found.same_bits) == (1, 0)


def test_draws_far_out_hide_no_change_of_the_others():
    """Closed form: of 1, 1, 1 and 1e12, one draw that becomes 1.5 is half of the median."""
    saved = figure([[1.0, 1.0, 1.0, 1e12]], dims=("source", "draw"))
    now = figure([[1.0, 1.0, 1.5, 1e12]], dims=("source", "draw"))
    (one,) = agreement(saved, now, 1e-9).differences
    assert one.relative == pytest.approx(0.5)


@pytest.mark.usefixtures("as_made")
def test_a_spread_that_changes_around_the_same_mean_is_told(few, made):
    """Closed form: what lies 1.3 times as far from its mean has 1.3 times the standard uncertainty."""

    def change(result):
        exposure = result["exposure_time"]
        mean = exposure.mean("draw")
        return result.assign(exposure_time=(mean + 1.3 * (exposure - mean)).assign_attrs(exposure.attrs))

    altered(few, change)
    entry = verified(few)
    assert entry.status == DIFFERS
    assert {one.figure for one in entry.differences} == {"exposure_time"}
    for one in entry.differences:
        assert one.saved_uncertainty == pytest.approx(1.3 * one.uncertainty_now)
        share = [100 * u / one.saved for u in (one.saved_uncertainty, one.uncertainty_now)]
        assert f" as before (its standard uncertainty {share[0]:.2g} % → {share[1]:.2g} %)" in one.text
        assert f"{one.text}." in entry.said


@pytest.mark.usefixtures("as_made")
def test_advice_that_was_changed_in_the_archive_is_told(few):
    altered(few, lambda result: result.assign_attrs(advice="Test first: arc. It cures best."))
    (entry,) = (found := sb.verify(few.folder)).results
    assert not entry.ok
    assert (entry.status, entry.differences) == (DIFFERS, ())
    (text,) = entry.texts
    assert (text.figure, text.saved) == ("advice", "Test first: arc. It cures best.")
    assert text.now.startswith("Test first: LED 4")
    assert entry.said[0].endswith(
        f": 1 text differs from those that the raw files give now, and all {entry.figures} figures agree."
    )
    assert told(entry, 'advice: "Test first: arc. It cures best." → "Test first: LED 4')
    assert "neither files nor versions have changed" in told(entry, "What to do")
    assert json.loads(found.to_json())["results"][0]["texts"][0]["figure"] == "advice"


@pytest.mark.parametrize(
    ("change", "figure"),
    [
        (lambda result: result.assign_attrs(rule="By price."), "rule"),
        (lambda result: result.assign_attrs(cautions="[]"), "cautions"),
        (lambda result: result.assign_attrs(not_measured="[]"), "not_measured"),
        (lambda result: result.assign_attrs(manifest=result.attrs["manifest"] + "#"), "manifest"),
        (lambda result: result.assign(reason=result["reason"].where(result["place"] > 1, "fine")), "reason"),
        (
            lambda result: result.assign(dose_time=result["dose_time"].assign_attrs(comment="sure")),
            "dose_time",
        ),
    ],
)
def test_any_text_that_was_changed_in_the_archive_is_told(made, change, figure):
    compared = made[1]
    changed = reworded(change(compared), compared)
    assert {one.figure for one in changed} == {figure}
    assert reworded(compared, compared) == ()


def test_history_of_a_reduction_is_held_but_for_hashes(made):
    """What changed in a raw file is told by its hash, once."""
    reduced = made[0].copy()
    history = reduced["parts/transmittance"].attrs["history"]
    reduced["parts/transmittance"].attrs["history"] = history.replace("(sha256 ", "(sha256 00")
    assert reworded(reduced, made[0]) == ()
    reduced["parts/transmittance"].attrs["history"] = history.replace("cover.csv", "other.csv", 1)
    (one,) = reworded(reduced, made[0])
    assert (one.figure, one.where) == ("parts/transmittance", "history")
    assert one.text.startswith('parts, transmittance, history: "cover: read from other.csv')


@pytest.mark.usefixtures("as_made")
def test_words_of_another_version_are_told_and_fail_nothing(few, monkeypatch):
    real = origins.version
    monkeypatch.setattr(origins, "version", lambda name: "9.9.9" if name == "spectralbench" else real(name))
    altered(few, lambda result: result.assign_attrs(rule="As it was worded then."))
    entry = verified(few)
    assert (entry.ok, entry.status) == (True, SAME_BITS)
    assert "This version words otherwise, and no figure changes by it: rule." in entry.said
    assert [one.figure for one in entry.texts] == ["rule"]


def test_texts_that_change_with_a_file_are_named_only(in_a_tenth_of_the_time):
    entry, _ = in_a_tenth_of_the_time.results
    assert told(entry, "Texts that differ with that: ").startswith(
        "Texts that differ with that: advice, reason"
    )


@pytest.mark.parametrize(
    ("then", "now", "count"),
    [("4.82 s", "4.83 s", 0), ("4.82 s", "4.84 s", 1), ("4.82 s", "4.82 h", 1), ("1000 s", "1001 s", 0)],
)
def test_last_digits_of_a_text_may_follow_those_of_figures(then, now, count):
    saved, present = (xr.Dataset(attrs={"advice": text}) for text in (then, now))
    assert len(reworded(saved, present, 1e-9)) == count
    assert len(reworded(saved, present)) == 1
