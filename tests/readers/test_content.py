"""From bytes to text: compression, encodings that the caller chooses, and what old systems leave behind."""

import gzip
import hashlib
import os
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spectralbench.errors import RangeError, ReadError
from spectralbench.readers import looks_readable, read
from spectralbench.readers.content import load

TEXT = b"wavelength [nm],counts [1]\n365,5\n366,6\n"


def write(folder: Path, data: bytes, name: str = "frame.csv") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def test_gzip_is_read_as_the_file_inside(tmp_path):
    stored = gzip.compress(TEXT, mtime=0)
    packed = read(write(tmp_path, stored, "frame.csv.gz"))
    plain = read(write(tmp_path, TEXT))
    xr.testing.assert_equal(packed, plain)
    assert packed.attrs["format"] == plain.attrs["format"]
    assert packed.attrs["sha256"] == hashlib.sha256(stored).hexdigest()


def test_gzip_in_several_members(tmp_path):
    """RFC 1952, clause 2.2: a file is a series of members, which simply appear one after another."""
    stored = gzip.compress(TEXT[:20], mtime=0) + gzip.compress(TEXT[20:], mtime=0) + b"\0\0"
    assert load(write(tmp_path, stored)).data == TEXT


@pytest.mark.parametrize(
    ("stored", "found"),
    [
        (gzip.compress(TEXT, mtime=0)[:-3], "cut off"),
        (gzip.compress(TEXT, mtime=0)[:-8] + bytes(8), "damaged"),
        (gzip.compress(TEXT, mtime=0) + b"more", "further bytes"),
        (b"\x1f\x8b", "cut off"),
    ],
)
def test_gzip_that_is_no_measurement(tmp_path, stored, found):
    with pytest.raises(ReadError, match=found) as caught:
        read(write(tmp_path, stored))
    assert "gzip" in str(caught.value)


def test_a_bomb_is_not_unpacked_before_it_is_refused(tmp_path):
    bomb = zlib.compressobj(9, wbits=31)
    stored = b"".join([*(bomb.compress(bytes(2**24)) for _ in range(8)), bomb.flush()])  # 128 MB of zeros
    path = write(tmp_path, stored)
    tracemalloc.start()
    try:
        with pytest.raises(ReadError, match=r"unpack to more than \d+ MB"):
            read(path)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 2**25


@pytest.mark.parametrize("end", [b"\x1a", b"\x1a" * 90, b"\0" * 100, b"\x1a\0\0"])
def test_control_characters_at_the_end(tmp_path, end):
    assert read(write(tmp_path, TEXT + end)).counts.values.tolist() == [5, 6]


def test_an_encoding_that_is_chosen(tmp_path):
    data = "# operator: Łukasz\nwavelength [nm],counts [1]\n365,5\n366,6\n".encode("cp1250")
    dataset = read(write(tmp_path, data), encoding="cp1250")
    assert "Łukasz" in dataset.attrs["header"]
    assert "encoding: cp1250, as chosen" in dataset.attrs["decisions"]
    with pytest.raises(ReadError, match="bytes that are no ascii"):
        read(write(tmp_path, data), encoding="ascii")


@pytest.mark.parametrize("data", [b" \n", b"\xef\xbb\xbf\n"])
def test_an_empty_file_in_an_encoding_that_is_chosen(tmp_path, data):
    with pytest.raises(ReadError, match="an empty file"):
        read(write(tmp_path, data), encoding="utf-8")


def test_a_sparse_file_of_two_gigabytes(tmp_path):
    path = tmp_path / "sparse.csv"
    with path.open("wb") as file:
        os.truncate(file.fileno(), 2 * 2**30)
    with pytest.raises(ReadError, match="found 2048 MB; expected at most 512 MB"):
        read(path)


@pytest.mark.parametrize(
    "page",
    [
        "<!DOCTYPE html>\n<html><body>365,1</body></html>",
        "\ufeff\n  <!doctype HTML>\n<p>",
        "<html lang='en'>\n365,5\n366,6\n",
        "<!-- saved -->\n<HTML>\n",
        '<?xml version="1.0"?>\n<!DOCTYPE html PUBLIC "a" "b">\n<html/>',
    ],
)
@pytest.mark.parametrize("chosen", [None, "utf-8"])
def test_a_web_page_is_named_as_one(tmp_path, page, chosen):
    path = write(tmp_path, page.encode())
    with pytest.raises(ReadError, match=r"found a web page \(HTML\).*Download the file itself"):
        read(path, encoding=chosen)
    assert not looks_readable(path)


def test_a_table_that_speaks_of_web_pages_is_read(tmp_path):
    path = write(tmp_path, b"# <html>\n" + TEXT)
    assert read(path).counts.values.tolist() == [5, 6]


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        ({"heading": "1"}, r'heading is "1" \(str\); expected a whole number from 0'),
        ({"first_row": True}, r'first_row is "True" \(bool\); expected a whole number from 1'),
        ({"axis_column": "1"}, r'axis_column is "1" \(str\); expected a whole number from 1'),
        ({"axis_column": 1.0}, r'axis_column is "1.0" \(float\); expected a whole number'),
        ({"units": 1}, r'units is "1" \(int\); expected a text'),
        ({"axis_units": 1}, r'axis_units is "1" \(int\); expected a text'),
        ({"quantity": ["a"]}, r"quantity is .* \(list\); expected a text"),
        ({"encoding": b"utf-8"}, r"encoding is .* \(bytes\); expected a text"),
        ({"delimiter": 9}, r'delimiter is "9" \(int\); expected a text'),
    ],
)
def test_a_choice_of_another_type(tmp_path, choice, words):
    with pytest.raises(RangeError, match=words):
        read(write(tmp_path, TEXT), **choice)


def test_a_whole_number_of_any_kind_is_a_choice(tmp_path):
    assert read(write(tmp_path, TEXT), heading=np.int64(1)).counts.values.tolist() == [5, 6]


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (None, r'"None" \(NoneType\) is no path; expected the name of one file$'),
        (["a.csv"], r"\(list\) is no path; expected the name of one file. Several files are for read_many"),
        (3, r'"3" \(int\) is no path'),
    ],
)
def test_what_is_no_path(path, words):
    with pytest.raises(RangeError, match=words):
        read(path)
