"""One spectrum is the same in every form of JCAMP-DX, and read fast in each."""

import contextlib
import io
import itertools
from time import perf_counter

import jcamp
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectralbench.errors import ReadError
from spectralbench.readers.choices import Choices
from spectralbench.readers.content import Content, load
from spectralbench.readers.jcamp import read_jcamp

FORMS = ("AFFN", "PAC", "SQZ", "DIF", "DIFDUP", "SQZDUP")


def squeezed(value, positive="@ABCDEFGHI", negative="@abcdefghi"):
    digits = str(abs(value))
    return (negative if value < 0 else positive)[int(digits[0])] + digits[1:]


def difference(value):
    return squeezed(value, "%JKLMNOPQR", "%jklmnopqr")


def counted(tokens):
    """Replace what stands several times in a row by a count of repeats."""
    result = []
    for token in tokens:
        if result and result[-1][0] == token:
            result[-1][1] += 1
        else:
            result.append([token, 1])
    counts = {1: "S", 2: "T", 3: "U", 4: "V", 5: "W", 6: "X", 7: "Y", 8: "Z", 9: "s"}
    return [token + (counts[int(str(n)[0])] + str(n)[1:] if n > 1 else "") for token, n in result]


def encoded(values, form, length, first=300, step=1):
    """Rows of a table (X++(Y..Y)) with up to `length` ordinates each; None is a missing one."""
    rows, begin = [], 0
    while begin < len(values):
        part = values[begin : begin + length]
        if form in ("AFFN", "PAC"):
            sign = "+" if form == "PAC" else " "
            tokens = [" ?" if v is None else f"{v:+d}" if form == "PAC" else f"{sign}{v}" for v in part]
            ends_in_difference = False
        else:
            tokens, before, ends_in_difference = [], None, False
            for v in part:
                ends_in_difference = form.startswith("DIF") and None not in (v, before)
                tokens.append(
                    "?" if v is None else difference(v - before) if ends_in_difference else squeezed(v)
                )
                before = v
            tokens = counted(tokens) if form.endswith("DUP") else tokens
        rows.append(f"{first + begin * step}" + "".join(tokens))
        begin += len(part)
        if ends_in_difference:
            begin -= 1  # the last ordinate stands again, as a check
            if begin + 1 == len(values):
                rows.append(f"{first + begin * step}{squeezed(values[begin])}")
                break
    return "\n".join(rows)


def content(values, table, form="(X++(Y..Y))", step=1):
    text = f"""##TITLE= invented
##JCAMP-DX= 4.24
##DATA TYPE= UV/VIS SPECTRUM
##XUNITS= NANOMETERS
##YUNITS= COUNTS
##FIRSTX= 300
##LASTX= {300 + (len(values) - 1) * step}
##NPOINTS= {len(values)}
##XFACTOR= 1
##YFACTOR= 0.25
##XYDATA= {form}
{table}
##END=
"""
    return Content("a.jdx", "a.jdx", "", text.encode(), text, "UTF-8", False)


runs = st.lists(
    st.tuples(st.one_of(st.none(), st.integers(-(10**6), 10**6), st.integers(-3, 3)), st.integers(1, 120)),
    min_size=1,
    max_size=40,
)


@given(runs=runs, length=st.integers(2, 60), falling=st.booleans())
def test_a_spectrum_is_the_same_in_every_form(runs, length, falling):
    values = [value for value, count in runs for _ in range(count)]
    values = values if len(values) > 1 else values * 2
    step = -0.125 if falling else 1
    expected = np.array([np.nan if v is None else v * 0.25 for v in values])
    grid = np.linspace(300, 300 + (len(values) - 1) * step, len(values))
    order = slice(None, None, -1 if falling else 1)
    for form in FORMS:
        table = encoded(values, form, length, step=step)
        dataset = read_jcamp(content(values, table, step=step), Choices())
        np.testing.assert_array_equal(dataset.counts, expected[order], err_msg=form)
        np.testing.assert_array_equal(dataset.wavelength, grid[order], err_msg=form)
    pairs = "; ".join(f"{300 + i * step}, {'?' if v is None else v}" for i, v in enumerate(values))
    dataset = read_jcamp(content(values, pairs, "(XY..XY)", step), Choices())
    np.testing.assert_array_equal(dataset.counts, expected[order])
    np.testing.assert_array_equal(dataset.wavelength, grid[order])


@given(
    values=st.lists(st.integers(-999, 999), min_size=20, max_size=60, unique=True),
    form=st.sampled_from(("AFFN", "PAC", "SQZ", "DIF")),
    data=st.data(),
)
def test_a_lost_row_is_always_noticed(values, form, data):
    rows = encoded(values, form, 6).split("\n")
    del rows[data.draw(st.integers(0, len(rows) - 2))]
    with pytest.raises(ReadError):
        read_jcamp(content(values, "\n".join(rows)), Choices())


@given(text=st.text("0123456789+-.?eE%@AJZsST,; \n$#N", max_size=80))
def test_any_table_is_read_or_refused(text):
    with contextlib.suppress(ReadError):
        read_jcamp(content([0] * 5, text), Choices())


@given(
    values=st.lists(st.integers(-999, 999), min_size=2, max_size=40),
    length=st.integers(1, 9),
    signs=st.lists(st.sampled_from([" ", ",", ", ", " , ", ";", "; ", "\t"]), min_size=1, max_size=5),
)
def test_whatever_parts_the_numbers_they_are_the_same(values, length, signs):
    """The number of points is stated, as the standard requires it."""
    sign = itertools.cycle(signs)
    rows = [
        "".join([str(300 + i), *(f"{next(sign)}{v}" for v in values[i : i + length])])
        for i in range(0, len(values), length)
    ]
    pairs = "\n".join(f"{300 + i}{next(sign)}{v}" for i, v in enumerate(values))
    for made in (content(values, "\n".join(rows)), content(values, pairs, "(XY..XY)")):
        np.testing.assert_array_equal(read_jcamp(made, Choices()).counts, np.array(values) * 0.25)


@given(
    values=st.lists(st.integers(-99999, 99999), min_size=3, max_size=40),
    length=st.integers(1, 9),
    stated=st.booleans(),
    pairs=st.booleans(),
)
def test_decimal_commas_are_never_read_as_two_numbers(values, length, stated, pairs):
    texts = [f"{v / 10:.1f}".replace(".", ",") for v in values]
    length = 1 if pairs else length
    rows = [f"{300 + i} " + " ".join(texts[i : i + length]) for i in range(0, len(values), length)]
    made = content(values, "\n".join(rows), "(XY..XY)" if pairs else "(X++(Y..Y))")
    if not stated:
        made = made._replace(text=made.text.replace("##NPOINTS=", "##$NPOINTS="))
    with pytest.raises(ReadError) as caught:
        read_jcamp(made, Choices())
    (fault,) = caught.value.faults
    assert fault.found == f'a comma inside "{texts[0]}"'
    assert fault.column == 2


written = st.from_regex(r"-?[1-9]([0-9]{0,14}|[0-9]{0,6}\.[0-9]{0,6})", fullmatch=True)


@given(texts=st.lists(written, min_size=2, max_size=30))
def test_squeezed_digits_are_the_number_that_python_reads(texts):
    letters = [
        "@abcdefghi"[int(t[1])] + t[2:] if t[0] == "-" else "@ABCDEFGHI"[int(t[0])] + t[1:] for t in texts
    ]
    dataset = read_jcamp(content(texts, "300" + "".join(letters)), Choices())
    np.testing.assert_array_equal(dataset.counts, [float(text) * 0.25 for text in texts])


@pytest.mark.parametrize(("form", "times"), [("AFFN", 5), ("PAC", 5), ("SQZ", 4), ("DIF", 6), ("pairs", 14)])
def test_it_takes_a_fraction_of_the_time_of_another_program(form, times, tmp_path):
    """Same values. Measured in the same run, best of many, on a busy machine with two cores.

    AFFN 10 to 12, PAC 10 to 11, SQZ 9 to 10, DIF 13 to 15, pairs 29 to 30; the bounds are half of it.
    With 4,000 points it is but 4 to 5 (pairs 19 to 21): a millisecond goes into the file's header and
    the dataset, however few the points.
    """
    noise = np.random.default_rng(7).integers(-30, 30, 40_000)
    values = (20_000 + 9_000 * np.sin(np.arange(40_000) / 900) + noise).astype(int).tolist()
    if form == "pairs":
        table = "\n".join(f"{300 + i}, {v}" for i, v in enumerate(values))
        made = content(values, table, "(XY..XY)")
    else:
        made = content(values, encoded(values, form, 16))
    path = tmp_path / "a.jdx"
    path.write_bytes(made.data)
    ours, theirs = [], []
    for _ in range(4):  # in turn, so that a busy machine slows both
        start = perf_counter()
        with contextlib.redirect_stdout(io.StringIO()):
            other = jcamp.readfile(path)
        between = perf_counter()
        dataset = read_jcamp(load(path), Choices())
        theirs.append(between - start)
        ours.append(perf_counter() - between)
    np.testing.assert_array_equal(dataset.counts, other["y"])
    np.testing.assert_array_equal(dataset.wavelength, other["x"])
    assert min(ours) * times < min(theirs), f"{min(ours):.4f} s, the other {min(theirs):.4f} s"
