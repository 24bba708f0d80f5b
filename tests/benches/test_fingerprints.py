"""Where a file differs from what it was: found by its lines, and proved by its hash."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectralbench.benches.reproduction.fingerprints import Place, fingerprints, first_difference


def told(then, now):
    return first_difference(now, fingerprints(then), hashlib.sha256(then).hexdigest())


ROWS = b"# integration time: 20 ms\nwavelength [nm],counts,counts\n385.1,12345,907\n385.6,12346,0908\n"


def test_two_bytes_a_line_of_the_published_checksum():
    """CRC-32 of "123456789" is CBF43926 (ITU-T V.42, the check value of its catalogues): its end is 39 26."""
    assert fingerprints(b"123456789") == "OSY="  # 0x3926


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        (b"12345", b"12346", Place(3, 1, "12346", 2, "12345")),
        (b"12345", b"12344", Place(3, 1, "12344", 2, "12345")),
        (b"907", b"60907", Place(3, 1, "60907", 3, "907")),
        (b"0908", b"0909", Place(4, 1, "0909", 3, "0908")),
        (b"385.6", b"385.7", Place(4, 1, "385.7", 1, "385.6")),
        (b"20 ms", b"25 ms", Place(1, 1, "25", 4, "20")),
    ],
)
def test_one_number_is_told_with_what_it_was(old, new, place):
    """A line of words has columns between blanks."""
    assert told(ROWS, ROWS.replace(old, new)) == place


@pytest.mark.parametrize("delimiter", [b";", b"\t", b" "])
def test_columns_count_by_their_delimiter(delimiter):
    rows = b"385,1;12345;907\n".replace(b";", delimiter)
    found = told(rows, rows.replace(b"907", b"908"))
    assert (found.column, found.before, found.now) == (3, "907", "908")


@pytest.mark.parametrize(
    ("now", "line", "lines"),
    [
        (ROWS.replace(b"12345,907", b"12346,908"), 3, 1),
        (ROWS.replace(b"wavelength", b"wave"), 2, 1),
        (ROWS.replace(b"12345", b"-12345"), 3, 1),
        (ROWS.replace(b"123", b"124"), 3, 2),
        (ROWS.replace(b"\n", b"\r\n"), 1, 4),
        (ROWS + b"386,1,2\n", 5, 1),
        (b"\n".join(ROWS.splitlines()[:-1]) + b"\n", 4, 1),
        (b"", 1, 4),
    ],
)
def test_what_is_more_than_one_number_is_told_by_its_line(now, line, lines):
    found = told(ROWS, now)
    assert (found.line, found.lines, found.column, found.before) == (line, lines, None, "")


def test_what_cannot_be_told():
    assert told(ROWS, ROWS) is None
    assert fingerprints(b"\x89HDF\r\n\x1a\n\0") == ""
    assert told(b"\0", b"\0\0") is None
    assert first_difference(ROWS, "no base 64", "") is None
    assert first_difference(ROWS, "AAA=AAA=", "") is None
    assert first_difference(ROWS + b"\0", fingerprints(ROWS), "") is None
    assert fingerprints(b"\n" * 200_001) == ""


def test_a_number_is_told_only_if_the_hash_proves_it():
    changed = ROWS.replace(b"12345", b"12346")
    place = first_difference(changed, fingerprints(ROWS), hashlib.sha256(b"another file").hexdigest())
    assert place == Place(3, 1, "385.1,12346,907")


@given(
    row=st.integers(0, 49),
    column=st.integers(1, 3),
    step=st.sampled_from([-1, 1]),
    numbers=st.randoms(use_true_random=False),
)
def test_one_count_changed_by_one_anywhere_is_found(row, column, step, numbers):
    start = numbers.randrange(1, 60_000)
    table = [[400 + i, *(start + 97 * i + j for j in range(3))] for i in range(50)]
    then = "".join(",".join(map(str, line)) + "\n" for line in table).encode()
    before = table[row][column]
    table[row][column] += step
    now = "".join(",".join(map(str, line)) + "\n" for line in table).encode()
    assert told(then, now) == Place(row + 1, 1, str(before + step), column + 1, str(before))


def test_a_file_in_one_line_takes_no_hours():
    """A line of 20,000 numbers is placed, and no number in it is tried: that would be 3 billion hashes."""
    line = b",".join(b"%d" % number for number in range(20_000))
    assert told(line, line.replace(b",4711,", b",4712,"))[:2] == (1, 1)
    short = b",".join(b"%d" % number for number in range(700))
    assert told(short, short.replace(b",77,", b",78,")).before == "77"
