"""Rows of numbers in one go give what Python makes of them cell by cell, or nothing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectralbench.readers.dialect import Dialect
from spectralbench.readers.numbers import regular

numbers = st.one_of(
    st.integers(-70_000, 70_000).map(str),
    st.floats(-1e9, 1e9).map(repr),
    st.floats(1e-9, 1e9).map("{:.4e}".format),
    st.floats(-1e9, 1e9).map("{:.18e}".format),
    st.sampled_from(["+5", ".5", "7.", "007", "-0.0", "1e22", "12345678901234567890"]),
)
strange = st.sampled_from(
    ["", " ", "x", "[1]", "[]", "null", "NaN", '"1"', "1_0", "1 2", "\t3", "1e999", "-", "1,5", "2;3"]
)
between = st.sampled_from([",", ";", "\t"])
columns = st.integers(2, 4)


def cell_by_cell(text, delimiter, count):
    """The numbers of a table as Python reads them; none if it is no table of that width."""
    rows = [row.split(delimiter) for row in text.split("\n")]
    if any(len(row) != count for row in rows):
        return None
    try:
        values = np.array([[float(cell) for cell in row] for row in rows])
    except ValueError:
        return None
    return values if np.isfinite(values).all() else None


@given(st.data(), between, columns)
def test_a_table_is_read_as_it_stands(data, delimiter, count):
    rows = data.draw(st.lists(st.lists(numbers, min_size=count, max_size=count), min_size=1, max_size=8))
    text = "\n".join(delimiter.join(row) for row in rows)
    values = regular(text.encode(), Dialect(delimiter, ".", count, 0))
    np.testing.assert_array_equal(values, cell_by_cell(text, delimiter, count))


@given(st.data(), between, columns)
@settings(max_examples=500)
def test_what_is_no_such_table_is_left_alone(data, delimiter, count):
    """Any signs between any cells: rows that are too short or too long must not make up for each other."""
    cells = data.draw(st.lists(st.one_of(numbers, numbers, strange), min_size=2, max_size=12))
    signs = st.sampled_from([delimiter, "\n"])
    text = cells[0] + "".join(data.draw(signs) + cell for cell in cells[1:])
    values = regular(text.encode(), Dialect(delimiter, ".", count, 0))
    expected = cell_by_cell(text, delimiter, count)
    if expected is None:
        assert values is None
    elif values is not None:
        np.testing.assert_array_equal(values, expected)


@given(st.data(), between, columns, st.integers(1, 2))
@settings(max_examples=500)
def test_padding_is_empty(data, delimiter, count, padding):
    """Fields that are said to be empty, and are not in some row, must not make up for others."""
    cell = st.one_of(numbers, numbers, numbers, st.just(""))
    signs = st.sampled_from(
        [delimiter, delimiter, delimiter * (padding + 1), delimiter * padding + "\n", "\n"]
    )
    text = data.draw(cell) + "".join(
        data.draw(signs) + data.draw(cell) for _ in range(data.draw(st.integers(1, 12)))
    )
    if data.draw(st.booleans()):
        rows = data.draw(st.lists(st.lists(numbers, min_size=count, max_size=count), min_size=1, max_size=6))
        text = "\n".join(delimiter.join(row) + delimiter * padding for row in rows)
    values = regular(text.encode(), Dialect(delimiter, ".", count, padding))
    rows = text.split("\n")
    if not all(row.endswith(delimiter * padding) for row in rows):
        assert values is None
        return
    expected = cell_by_cell("\n".join(row[:-padding] for row in rows), delimiter, count)
    assert (values is None) == (expected is None)
    if values is not None:
        np.testing.assert_array_equal(values, expected)


@pytest.mark.parametrize(
    "text",
    [
        "200,1,\n202,5,203\n204,300,7\n400,2,\n401,3,\n402,4,",
        "200,1,\n202,5,3\n204,300,\n206,5,2\n400,2,\n",
    ],
)
def test_padding_that_is_filled(text):
    assert regular(text.encode(), Dialect(",", ".", 2, 1)) is None


@pytest.mark.parametrize("text", ["1,2;3,4", "200;5.5\n201,6;202,7\n203;8.5", "365;521,5\n366;107"])
def test_commas_between_other_signs(text):
    assert regular(text.encode(), Dialect(";", ".", 2, 0)) is None


@given(st.lists(st.sampled_from(",\n"), min_size=1, max_size=9))
@settings(max_examples=500)
def test_only_pairs_are_pairs(signs):
    text = "1" + "".join(f"{sign}{i}" for i, sign in enumerate(signs, 2))
    values = regular(text.encode(), Dialect(",", ".", 2, 0))
    are_pairs = signs == [",", "\n"] * (len(signs) // 2) + [","]
    assert (values is not None) == are_pairs
    assert values is None or values.ravel().tolist() == list(range(1, len(signs) + 2))


@pytest.mark.parametrize(
    "cell", [b"[12]", b"[]", b"\t12", b"{}", b"true", b"false", b"null", b"12 # a", b"1,2", b"\n12"]
)
def test_what_json_would_take_as_well(cell):
    assert regular(b"365,%b\n366,13" % cell, Dialect(",", ".", 2, 0)) is None
    many_digits = b"3.650000000000000000e+02"
    assert regular(b"%b,%b\n366,13" % (many_digits, cell), Dialect(",", ".", 2, 0)) is None


@pytest.mark.parametrize("delimiter", [",", ";", "\t", " "])
@pytest.mark.parametrize("data", [b"", b"\n", b" ", b",", b";\n;", b"\t\n"])
def test_what_holds_no_number(delimiter, data):
    assert regular(data, Dialect(delimiter, ".", 2, 0)) is None


@given(st.lists(st.lists(numbers, min_size=2, max_size=4), min_size=1, max_size=6), st.data())
def test_blanks_and_tabs_in_any_number_are_one(rows, data):
    gap = st.text(" \t", min_size=1, max_size=9)
    edge = st.text(" \t", max_size=3)
    lines = [
        data.draw(edge) + "".join(cell + data.draw(gap) for cell in row[:-1]) + row[-1] + data.draw(edge)
        for row in rows
    ]
    values = regular("\n".join(lines).encode(), Dialect(" ", ".", len(rows[0]), 0))
    if any(len(row) != len(rows[0]) for row in rows):
        assert values is None
    else:
        np.testing.assert_array_equal(values, np.array(rows, dtype=float))


@given(st.lists(st.tuples(numbers, numbers), min_size=1, max_size=8))
def test_a_decimal_comma_is_a_point(rows):
    text = "\n".join(";".join(row) for row in rows)
    pointed = regular(text.encode(), Dialect(";", ".", 2, 0))
    comma = regular(text.replace(".", ",").encode(), Dialect(";", ",", 2, 0))
    np.testing.assert_array_equal(comma, pointed)
