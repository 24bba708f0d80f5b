import pickle

import pytest

from spectralbench.errors import (
    BenchError,
    Fault,
    GridError,
    RangeError,
    ReadError,
    SpectralBenchError,
    UnitsError,
    printable,
    quote,
)


def test_a_fault_says_where_what_was_found_what_was_expected_and_what_to_do():
    fault = Fault('"twelve"', "a number", "Correct the field", line=7, column=2)
    assert str(fault) == 'line 7, column 2: found "twelve"; expected a number. Correct the field'


def test_a_fault_of_a_manifest_names_its_key():
    assert str(Fault("nothing", "a length", key="part.thickness")) == (
        "part.thickness: found nothing; expected a length"
    )


def test_a_fault_without_a_place_starts_with_what_was_found():
    assert str(Fault("an empty file", "a header")) == "found an empty file; expected a header"


def test_one_fault_stands_on_one_line():
    error = ReadError("lamp.csv", [Fault('"x"', "a number", line=3)])
    assert str(error) == 'lamp.csv cannot be read: line 3: found "x"; expected a number'


def test_all_faults_of_a_file_come_together():
    error = BenchError("bench.toml", [Fault("a", "b", line=1), Fault("c", "d", line=2)])
    assert str(error).splitlines() == [
        "bench.toml cannot be used as it is, 2 faults:",
        "  line 1: found a; expected b",
        "  line 2: found c; expected d",
    ]


def test_a_long_list_of_faults_is_cut_and_the_rest_counted():
    lines = str(ReadError("a.csv", [Fault("a", "b", line=n) for n in range(1, 101)])).splitlines()
    shown = [line for line in lines if line.startswith("  line ")]
    assert lines[0] == "a.csv cannot be read, 100 faults:"
    assert lines[-1] == f"  and {100 - len(shown)} more"
    assert 0 < len(shown) < 100


def test_the_error_keeps_every_fault_and_the_path_for_a_program():
    faults = [Fault("a", "b", line=n) for n in range(30)]
    error = ReadError("a.csv", iter(faults))
    assert error.path == "a.csv"
    assert list(error.faults) == faults


def test_an_error_survives_the_way_back_from_another_process():
    error = ReadError("a.csv", [Fault("a", "b", line=4)])
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is ReadError
    assert str(again) == str(error)
    assert list(again.faults) == list(error.faults)


@pytest.mark.parametrize("error", [ReadError, BenchError, UnitsError, GridError, RangeError])
def test_every_error_is_caught_as_the_packages_own_and_as_a_value_error(error):
    assert issubclass(error, SpectralBenchError)
    assert issubclass(error, ValueError)


def test_a_quote_is_cut_to_its_length():
    assert quote("a" * 41) == '"' + "a" * 39 + '…"'
    assert quote("a" * 40) == '"' + "a" * 40 + '"'


def test_a_quote_shows_what_is_no_text():
    assert quote(5) == '"5"'


@pytest.mark.parametrize(
    ("text", "shown"),
    [("a\tb", r"a\tb"), ("a\x1b[31mb", r"a\x1b[31mb"), ("a\u202eb", r"a\u202eb"), ("µm – ×", "µm – ×")],
)
def test_what_would_hide_in_a_message_is_escaped(text, shown):
    assert printable(text) == shown


def test_a_path_with_a_line_break_cannot_fake_a_second_message():
    assert "\n" not in str(ReadError("a\nb.csv", [Fault("a", "b")]))
