"""A zip from a stranger: all that could do harm is refused, with a reason, and nothing is left behind."""

from __future__ import annotations

import os
import stat
import struct
import sys
import tempfile
import zipfile
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.benches.reproduction import zip_members
from spectralbench.benches.reproduction.zip_members import clash, look_at, name_fault, write_members
from spectralbench.errors import ReadError

GOOD = {"bench.toml": b'title = "x"', "raw/led.csv": b"385,12345\n" * 30}


def zipped(path, files=GOOD, change=lambda entries: None):
    """A zip whose directory says what `change` makes of its entries, whatever was written."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in files.items():
            made.writestr(name, data)
        change(made.filelist)
    return path


def patched(path, old, new):
    data = path.read_bytes()
    assert old in data
    path.write_bytes(data.replace(old, new))
    return path


@pytest.fixture
def refused(tmp_path):
    """What is said of a zip; by then it has written nothing outside of its folder."""

    def of(path):
        (folder := tmp_path / "within" / "folder").mkdir(parents=True)
        before = {place for place in tmp_path.rglob("*") if folder not in place.parents}
        with pytest.raises(ReadError) as caught:
            write_members(path, folder)
        after = {place for place in tmp_path.rglob("*") if folder not in place.parents}
        assert after == before
        (fault,) = caught.value.faults
        assert fault.expected
        assert fault.advice
        return str(fault)

    return of


def test_a_plain_zip_is_written_as_it_is(tmp_path):
    path = zipped(tmp_path / "a.zip", {**GOOD, "empty.txt": b"", "notes/": b""})
    assert look_at(path) == [*GOOD, "empty.txt"]
    (folder := tmp_path / "a").mkdir()
    assert write_members(path, folder) == [*GOOD, "empty.txt"]
    found = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert found == {**GOOD, "empty.txt": b""}


def by_hand(name, second):
    """A zip of one file whose entry gives it a second name (APPNOTE 6.3.10, 4.6.9: 0x7075)."""
    crc, further = zlib.crc32(b"x"), struct.pack("<BL", 1, zlib.crc32(name)) + second
    further = struct.pack("<HH", 0x7075, len(further)) + further
    sizes = struct.pack("<4HLLLH", 0, 0, 0, 33, crc, 1, 1, len(name))
    local = b"PK\x03\x04" + struct.pack("<H", 20) + sizes + b"\0\0" + name + b"x"
    entry = b"PK\x01\x02" + struct.pack("<HH", 20, 20) + sizes + struct.pack("<4HLL", len(further), *[0] * 5)
    entry += name + further
    return local + entry + b"PK\x05\x06" + struct.pack("<4H2LH", 0, 0, 1, 1, len(entry), len(local), 0)


def test_a_second_name_is_never_written_to(tmp_path):
    """Python 3.12 and later take it for the name; 3.11 passes it over."""
    (tmp_path / "a.zip").write_bytes(by_hand(b"raw/a.csv", b"../../escaped.csv"))
    (folder := tmp_path / "within" / "folder").mkdir(parents=True)
    if sys.version_info >= (3, 12):
        words = r'found "raw/a\.csv", which has a second name: "\.\./\.\./escaped\.csv"; expected a plain zip'
        with pytest.raises(ReadError, match=words):
            write_members(tmp_path / "a.zip", folder)
    else:
        assert write_members(tmp_path / "a.zip", folder) == ["raw/a.csv"]
    assert {path.name for path in tmp_path.iterdir()} == {"a.zip", "within"}
    assert [path.name for path in (tmp_path / "within").iterdir()] == ["folder"]


def test_a_second_name_that_the_library_took(tmp_path, refused):
    path = zipped(tmp_path / "a.zip")
    real = zipfile.ZipFile.infolist
    with pytest.MonkeyPatch.context() as patch:

        def infolist(opened):
            infos = real(opened)
            infos[1].filename = "../escaped.csv"
            return infos

        patch.setattr(zipfile.ZipFile, "infolist", infolist)
        assert 'found "raw/led.csv", which has a second name: "../escaped.csv"' in refused(path)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("/etc/passwd", "begins at the root of a disk"),
        ("//server/share", "begins at the root of a disk"),
        ("../led.csv", "leads out of its folder"),
        ("raw/../../led.csv", "leads out of its folder"),
        ("..", "leads out of its folder"),
        ("raw\\led.csv", "holds \\, which is no part of a name on every system"),
        ("..\\led.csv", "holds \\, which"),
        ("C:/led.csv", "holds :, which"),
        ("led.csv:stream", "holds :, which"),
        ("what?.csv", "holds ?, which"),
        ("two\nlines.csv", "holds a sign that cannot be printed"),
        ("\u202egpj.exe", "holds a sign that cannot be printed"),
        ("", "has an empty part"),
        ("raw//led.csv", "has an empty part"),
        ("./led.csv", "has an empty part"),
        ("raw/led.csv.", "ends in a dot or a blank"),
        ("raw /led.csv", "ends in a dot or a blank"),
        ("raw/NUL", "is that of a device on some systems"),
        ("com1.csv", "is that of a device on some systems"),
        ("x" * 201, "is longer than 200 bytes or deeper than 20 folders"),
        ("é" * 101, "is longer than 200 bytes"),
        ("a/" * 20 + "a", "deeper than 20 folders"),
    ],
)
def test_names_that_do_harm_somewhere(tmp_path, refused, name, words):
    assert words in name_fault(name)
    path = zipped(tmp_path / "a.zip", {"placeholder": b"x", **GOOD})
    with zipfile.ZipFile(path) as made:
        infos = made.infolist()
    infos[0].orig_filename = infos[0].filename = name
    with zipfile.ZipFile(path, "w") as made:  # as a program would that means harm
        for info in infos:
            made.writestr(info, b"x")
    assert f"which {name_fault(name)}" in refused(path)


def test_a_null_character_is_no_end_of_a_name(tmp_path, refused):
    path = patched(zipped(tmp_path / "a.zip"), b"raw/led.csv", b"raw/led\0csv")
    assert 'found the name "raw/led\\x00csv", which holds a null character' in refused(path)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("raw/led.csv", "raw/LED.csv"),
        ("raw/straße.csv", "raw/STRASSE.csv"),
        ("raw/caf\u00e9.csv", "raw/cafe\u0301.csv"),
        ("raw/\ufb01lm.csv", "raw/film.csv"),
        ("raw", "raw/led.csv"),
        ("raw/led.csv", "raw"),
        ("raw/a.csv", "Raw/b.csv"),
    ],
)
def test_names_that_are_one_on_some_system(tmp_path, refused, one, other):
    assert clash([one, other]) is not None
    path = zipped(tmp_path / "a.zip", {one: b"1", other: b"2"})
    said = refused(path)
    assert said.startswith('found the names "')
    assert "which are one on some systems; expected names apart" in said


def test_the_same_name_twice(tmp_path, refused):
    path = patched(
        zipped(tmp_path / "a.zip", {"raw/a.csv": b"1", "raw/b.csv": b"2"}), b"raw/b.csv", b"raw/a.csv"
    )
    assert 'found the names "raw/a.csv" and "raw/a.csv", which are one' in refused(path)


def test_names_apart_are_apart():
    assert clash(["raw/a.csv", "raw/b.csv", "raw.csv", "raws/a.csv"]) is None


@pytest.mark.parametrize(
    "kind", [stat.S_IFLNK, stat.S_IFCHR, stat.S_IFBLK, stat.S_IFIFO, stat.S_IFSOCK, stat.S_IFDIR]
)
def test_links_and_devices(tmp_path, refused, kind):
    def change(entries):
        entries[1].external_attr = (kind | 0o777) << 16

    path = zipped(tmp_path / "a.zip", {"a": b"x", "raw/led.csv": b"../../target"}, change)
    assert 'found "raw/led.csv", a link or a device; expected ordinary files only' in refused(path)


@pytest.mark.parametrize("flag", [0x1, 0x40, 0x2000])
def test_encrypted_files(tmp_path, refused, flag):
    def change(entries):
        entries[1].flag_bits |= flag

    path = zipped(tmp_path / "a.zip", change=change)
    assert 'found "raw/led.csv", which is encrypted' in refused(path)


@pytest.mark.parametrize("method", [1, 6, 9, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA, 99])
def test_other_compressions(tmp_path, refused, method):
    def change(entries):
        entries[1].compress_type = method

    path = zipped(tmp_path / "a.zip", change=change)
    assert f'found "raw/led.csv", compressed by method {method}; expected files stored' in refused(path)


def test_a_folder_with_bytes_of_its_own(tmp_path, refused):
    def change(entries):
        entries[0].filename = entries[0].orig_filename = "raw/"

    path = zipped(tmp_path / "a.zip", {"led": b"x"}, change)
    assert 'found the folder "raw/" with bytes of its own' in refused(path)


def test_files_that_overlap(tmp_path, refused):
    """A few bytes, told as many files: the way of a bomb that needs no ratio."""
    data = os.urandom(5000)

    def both(entries):
        for entry in entries:
            entry.header_offset, entry.compress_size, entry.file_size = 0, 5000, 5000

    path = zipped(tmp_path / "a.zip", {"a": data, "b": b""}, both)
    assert "found files that overlap in the zip" in refused(path)


def test_a_file_longer_than_it_says(tmp_path, refused):
    """The library alone reads ten bytes, finds their checksum right, and says nothing of the rest."""

    def change(entries):
        entries[0].file_size, entries[0].CRC = 10, zlib.crc32(b"x" * 10)

    path = zipped(tmp_path / "a.zip", {"a.csv": b"x" * 5000}, change)
    with zipfile.ZipFile(path) as opened:
        assert opened.read("a.csv") == b"x" * 10
    assert 'found "a.csv", which is not what its entry says: Bad CRC-32' in refused(path)


def test_a_file_longer_than_it_says_with_a_checksum_to_fit(tmp_path, refused):
    def change(entries):
        entries[0].file_size, entries[0].CRC = 10, zlib.crc32(b"x" * 11)

    path = zipped(tmp_path / "a.zip", {"a.csv": b"x" * 5000}, change)
    assert 'found "a.csv", which is longer than its entry says' in refused(path)


def test_a_file_shorter_than_it_says(tmp_path, refused):
    def change(entries):
        entries[0].file_size = 6000

    path = zipped(tmp_path / "a.zip", {"a.csv": b"x" * 5000}, change)
    assert 'found "a.csv", which is shorter than its entry says' in refused(path)


def test_a_bomb_by_its_ratio(tmp_path, refused, monkeypatch):
    monkeypatch.setattr(zip_members, "ROOM", 1024)
    path = zipped(tmp_path / "a.zip", {"a.csv": b"0" * 300_000})
    size = path.stat().st_size
    assert 1024 + 100 * size < 300_000
    assert f"found 300000 bytes in a zip of {size}; expected at most {1024 + 100 * size}: " in refused(path)


def test_too_much_in_sum(tmp_path, refused, monkeypatch):
    monkeypatch.setattr(zip_members, "LARGEST", 9000)
    files = {f"{i}.csv": b"0123456789" * 100 for i in range(10)}
    assert "found 10000 bytes in a zip of" in refused(zipped(tmp_path / "a.zip", files))


def test_a_zip_too_large_is_not_opened(tmp_path, refused):
    path = tmp_path / "a.zip"
    with path.open("wb") as file:
        file.truncate(zip_members.LARGEST + 1)  # takes no room on the disk
    assert f"found {zip_members.LARGEST + 1} bytes; expected at most {zip_members.LARGEST}" in refused(path)


def test_too_many_files_are_not_opened(tmp_path, refused, monkeypatch):
    monkeypatch.setattr(zip_members, "MOST", 3)
    path = zipped(tmp_path / "a.zip", {str(i): b"" for i in range(4)})
    assert "found 4 files and a directory of" in refused(path)


def test_too_many_files_under_a_smaller_count(tmp_path, refused, monkeypatch):
    monkeypatch.setattr(zip_members, "MOST", 3)
    path = zipped(tmp_path / "a.zip", {str(i): b"" for i in range(4)})
    data = bytearray(path.read_bytes())
    struct.pack_into("<2H", data, len(data) - 14, 1, 1)
    path.write_bytes(data)
    assert "found 4 files; expected at most 3 files" in refused(path)


def test_a_zip_in_the_form_for_large_files(tmp_path, refused):
    path = zipped(tmp_path / "a.zip")
    data = path.read_bytes()
    path.write_bytes(data[:-22] + b"PK\x06\x07" + bytes(16) + data[-22:])
    assert "found a zip of the form for very large files, or in several parts" in refused(path)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda data: b"", "found a file that does not begin as a zip"),
        (lambda data: b"wavelength,counts\n", "found a file that does not begin as a zip"),
        (lambda data: b"MZ" + data, "found a file that does not begin as a zip"),
        (lambda data: data[:-1], "found no end of a zip where it should be"),
        (lambda data: data[:200], "found no end of a zip where it should be"),
        (lambda data: data + b"x", "found no end of a zip where it should be"),
        (lambda data: data[:-2] + b"\1\0x", "found no end of a zip where it should be"),
        (
            lambda data: data.replace(b"raw/led.csv", b"raw/LED.csv", 1),
            'found "raw/led.csv", which is not what its entry says: File name in',
        ),
        (lambda data: data.replace(b"PK\x01\x02", b"PK\x01\x03", 1), "found a damaged zip: Bad magic number"),
    ],
)
def test_what_is_no_zip_or_damaged(tmp_path, refused, change, words):
    path = zipped(tmp_path / "a.zip")
    path.write_bytes(change(path.read_bytes()))
    assert words in refused(path)


def test_a_flipped_bit_is_found(tmp_path, refused):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("raw/led.csv", b"385,12345")
    patched(path, b"385,12345", b"385,12344")
    assert 'found "raw/led.csv", which is not what its entry says: Bad CRC-32' in refused(path)


def test_a_place_before_the_beginning(tmp_path, refused):
    """The directory said to lie 50 bytes farther on: then the first file begins before the zip does."""
    path = zipped(tmp_path / "a.zip")
    data = bytearray(path.read_bytes())
    (offset,) = struct.unpack_from("<L", data, len(data) - 6)
    struct.pack_into("<L", data, len(data) - 6, offset + 50)
    path.write_bytes(data)
    assert "found a damaged zip: Invalid argument" in refused(path)


def test_a_zip_within_stays_closed(tmp_path):
    inner = zipped(tmp_path / "inner.zip", {"../out.csv": b"x"}).read_bytes()
    (folder := tmp_path / "a").mkdir()
    write_members(zipped(tmp_path / "a.zip", {"raw/inner.zip": inner}), folder)
    assert [p.name for p in folder.rglob("*") if p.is_file()] == ["inner.zip"]
    assert (folder / "raw" / "inner.zip").read_bytes() == inner


def test_folders_pipes_and_nothing(tmp_path, refused):
    os.mkfifo(tmp_path / "pipe.zip")
    assert "found no ordinary file" in refused(tmp_path / "pipe.zip")
    with pytest.raises(ReadError, match="found no ordinary file; expected a plain zip"):
        look_at(tmp_path)
    with pytest.raises(ReadError, match="found no such file; expected a plain zip"):
        look_at(tmp_path / "nowhere.zip")
    with pytest.raises(ReadError, match=r"found embedded null byte; expected a plain zip"):
        look_at("a\0.zip")


@pytest.fixture(scope="module")
def small_zip(tmp_path_factory):
    return zipped(tmp_path_factory.mktemp("zips") / "a.zip", {"a.csv": b"1", "raw/b.csv": b"22" * 20})


@settings(max_examples=60)
@given(changes=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), min_size=1, max_size=4))
def test_whatever_the_bytes_are_nothing_stands_outside(small_zip, changes):
    """What is no error of ours fails the test as well."""
    whole = bytearray(small_zip.read_bytes())
    for where, byte in changes:
        whole[where % len(whole)] = byte
    with tempfile.TemporaryDirectory() as beside:
        place = Path(beside)
        (place / "a.zip").write_bytes(whole)
        (place / "in").mkdir()
        try:
            names = write_members(place / "a.zip", place / "in")
        except ReadError:
            names = []
        assert {path.name for path in place.iterdir()} == {"a.zip", "in"}
        assert all((place / "in" / name).is_file() for name in names)
