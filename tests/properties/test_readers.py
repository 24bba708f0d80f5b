"""Law: whatever the bytes, reading gives a dataset that holds together, or a fault in words."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spectralbench.errors import ReadError
from spectralbench.model import check
from spectralbench.readers import read

FILES = [
    b"# integration time: 20 ms\n# time: 2026-03-02T10:30:00\nwavelength [nm],counts [1]\n365,1\n366,2\n",
    "Wellenlänge [µm];Transmission [%]\r\n0,365;91,5\r\n0,366;92\r\n0,367;92,5\r\n".encode("latin-1"),
    "wavelength\tcounts a\tcounts b\n365\t1\t2\n366\t3\t4\n".encode("utf-16"),
    b"% lamp\n  365.5  1.5E-3  2\n  366.5  +.5     3\n",
    b"time;irradiance [mW/cm2]\n2026-03-02T10:30:00;120\n2026-03-02T10:30:01;119\n",
    b'"wavelength","counts"\n"365,5","1"\n"366,5","2"\n',
    b"365,0,12,5\n365,5,13,5\n366,0,14,5\n",
    b"hours,relative output [%]\n0,100\n500,94.5\n",
]
PIECES = [
    *(
        b",",
        b";",
        b"\t",
        b" ",
        b"\n",
        b"\r",
        b"#",
        b'"',
        b"'",
        b"[",
        b"]",
        b"(",
        b")",
        b"%",
        b"/",
        b"-",
        b".",
    ),
    *(b"nan", b"1e", b"1e999", b"\xb5", b"\xc3", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"2026-01-01"),
    *(b"wavelength", b"[nm]", b"time", b"# integration time: ", b"nm;1\n", b"9" * 30, b"counts"),
]
changes = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 4), st.one_of(st.sampled_from(PIECES), st.binary(max_size=3))),
    min_size=1,
    max_size=5,
)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("changed") / "file.txt"


@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(FILES), changes)
def test_changed_bytes_give_a_dataset_or_faults(path, content, changes):
    for where, removed, inserted in changes:
        at = int(where * len(content))
        content = content[:at] + inserted + content[at + removed :]
    path.write_bytes(content)
    try:
        dataset = read(path)
    except ReadError as error:
        faults = error.faults
    else:
        check(dataset)
        for array in dataset.data_vars.values():
            assert array.size > (0 if "time" in array.dims else 1)
            assert np.isfinite(array.values).all()
        return
    assert faults
    assert all(fault.found and fault.expected for fault in faults)
