"""Packing a bench, unpacking it elsewhere, and what a pack says of itself."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import zipfile
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

import pytest

import spectralbench as sb
from spectralbench.benches.reproduction import packing, packing_list
from spectralbench.benches.reproduction.packing_list import key_figures, read_list
from spectralbench.benches.reproduction.unpacking import opened_pack
from spectralbench.errors import BenchError, RangeError, ReadError


@pytest.fixture(scope="module")
def compared_with_draws(three):
    return sb.compare(three, draws=20, seed=3)


@pytest.fixture(scope="module")
def folder(three, compared_with_draws, tmp_path_factory):
    """A bench with a saved comparison, and with what nobody has to see; nothing may change it."""
    place = shutil.copytree(three, tmp_path_factory.mktemp("packing") / "bench")
    (place / "results").mkdir()
    sb.save(compared_with_draws, place / "results" / "comparison.nc")
    (place / "notes.md").write_text("The cover had been wiped.", encoding="utf-8")
    (place / "quotation.txt").write_text("secret", encoding="utf-8")
    (place / ".hidden").write_text("secret", encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def made(folder, tmp_path_factory):
    return sb.pack(folder, tmp_path_factory.mktemp("packs") / "bench.zip", also=["notes.md"])


@pytest.fixture
def copy(folder, tmp_path):
    """A bench of which tests may spoil the files."""
    return shutil.copytree(folder, tmp_path / "bench", symlinks=True)


def refused(*arguments, **settings):
    with pytest.raises(BenchError) as caught:
        sb.pack(*arguments, **settings)
    (fault,) = caught.value.faults
    return str(fault)


def test_a_pack_holds_what_the_bench_uses_and_no_more(folder, made):
    used = json.loads(sb.open_bench(folder).attrs["provenance"])["files"]
    with zipfile.ZipFile(made.path) as opened:
        held = {name: opened.read(name) for name in opened.namelist()}
        assert {entry.external_attr >> 16 for entry in opened.infolist()} == {0o100644}
    assert set(held) == {*used, "results/comparison.nc", "notes.md", "pack.json"}
    assert set(made.files) == set(held) - {"pack.json"}
    for name, data in held.items():
        if name != "pack.json":
            assert data == (folder / name).read_bytes()
    raw = {f"raw/{path.name}" for path in (folder / "raw").iterdir()}
    assert set(made.left_out) == {"quotation.txt", *raw - set(used)}
    assert "raw/led_365.csv" in made.left_out
    assert made.made == ""
    assert repr(made).splitlines()[0] == f"packed {len(used) + 2} files into {made.path} (0.1 MB)"
    assert (
        repr(made)
        .splitlines()[1]
        .startswith("left out, for the bench does not use them: quotation.txt, raw/")
    )
    assert made.size == Path(made).stat().st_size


def test_the_list_says_sizes_hashes_versions_and_figures(folder, made, compared_with_draws):
    with zipfile.ZipFile(made.path) as opened:
        document = json.loads(opened.read("pack.json"))
        assert document["form"] == 1
        assert document["results"] == ["results/comparison.nc"]
        for one in document["files"]:
            data = opened.read(one["name"])
            assert (one["bytes"], one["sha256"]) == (len(data), sha256(data).hexdigest())
    for name in ("spectralbench", "numpy", "scipy", "xarray", "pint", "pydantic", "h5py"):
        assert document["versions"][name] == version(name)
    assert os.uname().nodename not in json.dumps(
        {key: document[key] for key in ("platform", "versions", "about")}
    )
    figures = document["figures"]["results/comparison.nc"]
    assert figures["advice"] == compared_with_draws.attrs["advice"]
    assert next(iter(figures["sources"])) == compared_with_draws.sortby("place").source.values[0]
    for source, of in figures["sources"].items():
        one = compared_with_draws.sel(source=source)
        assert of["place"] == one["place"]
        assert set(of) - {"place"} == set(one.criterion.values)
        assert of["time"]["verdict"] == one.verdict.sel(criterion="time")
        time = one["exposure_time"]
        if of["time"]["value"] is not None:
            assert of["time"]["value"] == pytest.approx(float(time.mean()), rel=1e-12)
            assert of["time"]["low"] <= of["time"]["value"] <= of["time"]["high"]
            assert time.min() <= of["time"]["low"] < of["time"]["high"] <= time.max()
        assert (of["time"]["units"], of["time"]["at most"]) == ("s", 30.0)
        assert of["irradiance"]["at least"] == 600.0


def test_what_is_not_known_is_null(compared_with_draws):
    unknown = compared_with_draws.assign(exposure_time=compared_with_draws["exposure_time"] * float("nan"))
    time = key_figures(unknown)["sources"]["arc"]["time"]
    assert (time["value"], time["low"], time["high"]) == (None, None, None)


def test_the_same_folder_gives_the_same_bytes(folder, made, tmp_path, monkeypatch):
    """But for the time, which SOURCE_DATE_EPOCH holds: 2026-03-01 08:00 UTC is 1772352000 (closed form)."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772352000")
    packs = [sb.pack(folder, tmp_path / name, also="notes.md").path for name in ("a.zip", "b.zip")]
    assert packs[0].read_bytes() == packs[1].read_bytes()
    with opened_pack(packs[0]) as (_, kept):
        assert kept.packed == "2026-03-01T08:00:00Z"
    with zipfile.ZipFile(packs[0]) as one, zipfile.ZipFile(made.path) as other:
        assert one.namelist() == other.namelist()
        assert [n for n in one.namelist() if one.read(n) != other.read(n)] == ["pack.json"]
        then, now = (json.loads(opened.read("pack.json")) for opened in (one, other))
    assert then | {"packed": ""} == now | {"packed": ""}


def test_a_bench_without_results_gets_a_comparison(three, tmp_path, hashes):
    before = hashes(three)
    made = sb.pack(three, tmp_path / "a.zip", draws=20, seed=9)
    assert made.made == "results/comparison.nc, a comparison with 20 draws, seed 9"
    assert hashes(three) == before
    folder = sb.unpack(made, tmp_path / "a")
    provenance = json.loads(sb.load(folder / "results" / "comparison.nc").attrs["provenance"])
    assert provenance["settings"] == {"draws": 20, "seed": 9}
    assert set(made.left_out) == set(hashes(three)) - set(made.files)


def test_a_reduction_alone_and_a_zarr_folder(three, tmp_path):
    folder = shutil.copytree(three, tmp_path / "bench")
    (folder / "results").mkdir()
    sb.save(sb.reduce_bench(three), folder / "results" / "comparison.zarr")
    made = sb.pack(folder, draws=0)
    assert made.path == tmp_path / "bench.zip"
    assert made.made == "results/comparison.nc, a comparison with no draws"
    (entry,) = (found := sb.verify(made, "results/comparison.zarr")).results
    assert found.ok
    assert (entry.file, entry.kind) == ("results/comparison.zarr", "reduction")
    with opened_pack(made) as (_, kept):
        assert kept.results == ("results/comparison.zarr", "results/comparison.nc")


def test_unpacked_elsewhere_it_is_the_same_bench(folder, made, tmp_path, hashes):
    place = sb.unpack(made.path, tmp_path / "elsewhere")
    before = hashes(folder)
    after = hashes(place)
    assert after.pop("pack.json")
    assert after == {name: before[name] for name in made.files}
    again = sb.pack(place, tmp_path / "again.zip", also=["notes.md"])
    assert (again.files, again.left_out) == (made.files, ())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["again.zip", "elsewhere"]
    (tmp_path / "empty").mkdir()
    assert hashes(sb.unpack(made.path, tmp_path / "empty")) == hashes(place)


def test_a_folder_that_is_taken_is_left_alone(made, tmp_path):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for target in (tmp_path, tmp_path / "file"):
        with pytest.raises(
            BenchError, match="found something there already; expected a new or an empty folder"
        ):
            sb.unpack(made, target)
    with pytest.raises(BenchError, match="found no such folder; expected a folder that is there"):
        sb.unpack(made, tmp_path / "a" / "b")
    with pytest.raises(BenchError, match="embedded null byte; expected a folder that can be written"):
        sb.unpack(made, f"{tmp_path}/a\0b")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_the_folder_that_one_is_in_is_not_replaced(made, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BenchError, match="found the folder of this very process; expected another folder"):
        sb.unpack(made, ".")
    assert list(tmp_path.iterdir()) == []


def test_no_room_leaves_nothing_and_says_so(made, tmp_path, monkeypatch):
    real = Path.open

    def full(path, mode="r", *rest, **more):
        if mode == "xb":
            raise OSError(28, "No space left on device", str(path))
        return real(path, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", full)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    words = r"bench\.zip cannot be read: found No space left on device while it was unpacked; expected a"
    jobs = {
        "the folder beside": lambda: sb.unpack(made, tmp_path / "a"),
        "the temporary folder": lambda: sb.verify(made),
    }
    for where, job in jobs.items():
        with pytest.raises(ReadError, match=f"{words} place to unpack it, in {where}. Make room") as caught:
            job()
        assert "spectralbench-" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def rezipped(path, target, change, more=()):
    """A pack, zipped anew after `change(name, data)`; None leaves a file out."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if (data := change(name, old.read(name))) is not None:
                new.writestr(name, data)
        for name in more:
            new.writestr(name, b"more")
    return target


@pytest.mark.parametrize(
    ("change", "more", "words"),
    [
        (
            lambda n, d: d + b"#" * (n == "bench.toml"),
            (),
            "bench.toml: found a file that has changed; expected the",
        ),
        (
            lambda n, d: None if n == "raw/arc.csv" else d,
            (),
            "raw/arc.csv: found a file that is missing; expected",
        ),
        (
            lambda n, d: d,
            ["x.csv"],
            "x.csv: found a file that is not listed; expected the files that were packed. Get the pack again",
        ),
        (
            lambda n, d: None if n == "pack.json" else d,
            (),
            "found a zip without pack.json; expected a pack from .* If it was zipped by hand, zip what is in",
        ),
        (
            lambda n, d: None if n == "bench.toml" else d,
            (),
            "found a zip without bench.toml; expected a pack from",
        ),
    ],
)
def test_what_is_not_as_packed_is_not_unpacked(made, tmp_path, change, more, words):
    path = rezipped(made.path, tmp_path / "changed.zip", change, more)
    with pytest.raises(ReadError, match=words):
        sb.unpack(path, tmp_path / "bench")
    assert [one.name for one in tmp_path.iterdir()] == ["changed.zip"]


LISTED = {"title": "", "packed": "", "versions": {}, "platform": "", "results": ["a.nc"], "figures": {}}
FILE = {"bytes": 0, "sha256": "", "lines": ""}
FILES = [{"name": "bench.toml", **FILE}, {"name": "a.nc", **FILE}]


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ("no JSON", "found a pack.json that is no JSON; expected a pack from spectralbench pack"),
        ("[" * 100_000, "found a pack.json that is no JSON"),
        ("[]", "found a pack.json that lists nothing"),
        ({**LISTED}, "found a pack.json that lists nothing"),
        ({**LISTED, "form": 1, "files": 3}, "found a pack.json that lists nothing"),
        (
            {**LISTED, "form": 1, "files": [{**FILE, "name": "a", "bytes": "1"}]},
            "found a pack.json that lists nothing",
        ),
        ({**LISTED, "form": 1, "files": [{**FILE, "name": 1}]}, "found a pack.json that lists nothing"),
        ({**LISTED, "form": 1, "packed": "x" * 101, "files": FILES}, "found a pack.json that lists nothing"),
        (
            {"form": 2, "versions": {"spectralbench": "9.1"}},
            'found a pack of form 2, written by spectralbench "9.1"; .* Unpack it with that version',
        ),
        (
            {**LISTED, "form": 1, "files": FILES[1:]},
            "without results, or with files that cannot be in a pack",
        ),
        (
            {**LISTED, "form": 1, "files": FILES[:1]},
            "without results, or with files that cannot be in a pack",
        ),
        (
            {**LISTED, "form": 1, "files": FILES * 2},
            "without results, or with files that cannot be in a pack",
        ),
        (
            {**LISTED, "form": 1, "results": [], "files": FILES},
            "without results, or with files that cannot be in",
        ),
        (
            {**LISTED, "form": 1, "files": [*FILES, {"name": "../a", **FILE}]},
            "without results, or with files that cannot be in a pack",
        ),
    ],
)
def test_a_list_may_come_from_anybody(document, words):
    data = (document if isinstance(document, str) else json.dumps(document)).encode()
    with pytest.raises(ReadError, match=words):
        read_list("a.zip", data)


def test_a_whole_list_is_read():
    whole = read_list("a.zip", json.dumps({**LISTED, "form": 1, "files": FILES}).encode())
    assert [one.name for one in whole.files] == ["bench.toml", "a.nc"]
    assert whole.results == ("a.nc",)


def test_a_bench_that_does_not_open_is_not_packed(copy, tmp_path):
    (copy / "raw" / "arc.csv").unlink()
    with pytest.raises(BenchError, match=r"raw/arc\.csv \(source\.1\.frame, line"):
        sb.pack(copy)
    with pytest.raises(BenchError, match=r"found no bench\.toml in it"):
        sb.pack(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["bench"]


def test_results_of_other_files_are_not_packed(copy):
    path = copy / "raw" / "arc.csv"
    path.write_bytes(path.read_bytes() + b"\n")
    said = refused(copy)
    assert said.startswith(
        'found results/comparison.nc, which was made from another "raw/arc.csv"; expected results'
    )
    (copy / "bench.toml").write_bytes((copy / "bench.toml").read_bytes() + b"\n")
    assert 'made from another "bench.toml" and 1 file more; expected results of the files' in refused(copy)
    there = copy / "results" / "comparison.nc"
    assert f"Save over it (spectralbench compare {copy} --save {there}), or move it away" in said


def test_results_that_cannot_be_read_are_not_packed(copy):
    (copy / "results" / "b.nc").write_bytes(b"x")
    assert refused(copy).startswith(
        "results/b.nc: found a file that is no NetCDF 4 file; expected an archive"
    )


def test_files_outside_are_not_packed(copy, tmp_path):
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    (copy / "link.txt").symlink_to(tmp_path / "secret.txt")
    for name in ("../secret.txt", "link.txt", str(tmp_path / "secret.txt")):
        said = refused(copy, also=[name])
        assert (
            "which leads out of the folder; expected files inside the bench folder. Copy the file into it."
            in said
        )
    assert 'found "nowhere.txt": No such file' in refused(copy, also=[str(copy / "nowhere.txt")])
    assert 'results", which is no ordinary file' in refused(copy, also=["results"])
    assert 'found "nowhere.txt": No such file' in refused(copy, also=["nowhere.txt"])
    for name in ("pack.json", str(copy / "pack.json"), "Pack.JSON"):
        said = refused(copy, also=[name])
        assert '.json"; expected files that the pack does not write itself' in said.casefold()
    (copy / "raw" / "arc.csv").rename(tmp_path / "arc.csv")
    (copy / "raw" / "arc.csv").symlink_to(tmp_path / "arc.csv")
    with pytest.raises(BenchError, match="a link that leads out of the folder"):
        sb.pack(copy)


def test_a_saved_result_outside_is_not_packed(copy, tmp_path):
    (copy / "results" / "comparison.nc").rename(tmp_path / "comparison.nc")
    (copy / "results" / "comparison.nc").symlink_to(tmp_path / "comparison.nc")
    assert "which leads out of the folder; expected files inside" in refused(copy)


def test_a_link_within_is_packed_as_the_file(copy):
    (copy / "raw" / "arc.csv").rename(copy / "arc_measured.csv")
    (copy / "raw" / "arc.csv").symlink_to(copy / "arc_measured.csv")
    with zipfile.ZipFile(sb.pack(copy)) as opened:
        assert opened.read("raw/arc.csv") == (copy / "arc_measured.csv").read_bytes()
        assert opened.getinfo("raw/arc.csv").external_attr >> 16 == 0o100644


def test_names_that_another_system_cannot_write(copy):
    (copy / "what?.md").write_text("x", encoding="utf-8")
    assert 'found the name "what?.md", which holds ?, which' in refused(copy, also=["what?.md"])
    (copy / "Bench.TOML").write_text("x", encoding="utf-8")
    said = refused(copy, also=["Bench.TOML"])
    assert 'found the names "bench.toml" and "Bench.TOML", which are one on some systems' in said


def test_places_for_a_pack(copy, made, tmp_path):
    for odd in ("/", f"{tmp_path}/a\0.zip"):
        with pytest.raises(BenchError):
            sb.pack(*([odd] if odd == "/" else [copy, odd]))
    with pytest.raises(RangeError, match=r'"bench\.tar" does not end in \.zip, as the name of a pack does'):
        sb.pack(copy, tmp_path / "bench.tar")
    assert "found no such folder; expected a folder that is there" in refused(copy, tmp_path / "a" / "a.zip")
    (tmp_path / "mine.zip").write_bytes(b"mine")
    (tmp_path / "folder.zip").mkdir()
    shutil.copy(made.path, tmp_path / "old.zip")
    (tmp_path / "link.zip").symlink_to(tmp_path / "old.zip")
    for name in ("mine.zip", "folder.zip", "link.zip"):
        said = refused(copy, tmp_path / name)
        assert (
            "found something of that name that is no pack; expected a free name, or a pack to replace" in said
        )
    assert (tmp_path / "mine.zip").read_bytes() == b"mine"
    inside = sb.pack(copy, copy / "old.zip")
    assert sb.pack(copy, copy / "old.zip").left_out == inside.left_out
    assert "old.zip" not in inside.left_out


def test_half_a_pack_is_never_there(copy, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "found No space left on device; expected a place that can be written" in refused(copy)
    assert [path.name for path in tmp_path.iterdir()] == ["bench"]


def test_files_that_change_meanwhile(copy, monkeypatch):
    real = packing.open_bench

    def late(folder):
        tree = real(folder)
        (folder / "raw" / "arc.csv").write_bytes(b"")
        return tree

    monkeypatch.setattr(packing, "open_bench", late)
    assert 'found "raw/arc.csv", which changed while it was packed; expected files that stay' in refused(copy)


def test_too_much_for_a_pack(copy, monkeypatch):
    monkeypatch.setattr(packing, "MOST", 5)
    said = refused(copy)
    assert (
        " files of 0.0 GiB; expected fewer than 5 files of at most 2 GiB. Take results out of results/"
        in said
    )


def test_a_list_that_is_too_long_is_not_parsed(monkeypatch):
    monkeypatch.setattr(packing_list, "_LARGEST", 1)
    with pytest.raises(ReadError, match=r"found a pack\.json of 2 bytes; expected a pack from"):
        read_list("a.zip", b"{}")


def test_a_folder_is_named_by_its_own_name(copy, monkeypatch):
    monkeypatch.chdir(copy)
    assert sb.pack(".").path == copy.parent / "bench.zip"
