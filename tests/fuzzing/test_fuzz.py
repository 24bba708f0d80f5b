"""A bounded run of the fuzzer for each reader, and every input that ever broke one."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from spectralbench.errors import ReadError
from spectralbench.readers import read

HERE = Path(__file__).parent
FOUND = sorted((HERE / "found").glob("*"))
RUNS = 600  # inputs tried for each reader in the suite; `make fuzz` tries more


def test_damaged_files_give_a_result_or_a_read_error(tmp_path):
    pytest.importorskip("atheris", reason="the fuzzer is built for Linux only", exc_type=ImportError)
    done = subprocess.run(
        [sys.executable, str(HERE / "fuzz.py"), "delimited", "jcamp", "tm27", f"--runs={RUNS}", "--seed=7"],
        cwd=tmp_path,
        env=os.environ | {"TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4000:]
    tried = [int(runs) for runs in re.findall(r"number_of_executed_units: (\d+)", done.stderr)]
    assert len(tried) == 3
    assert min(tried) >= RUNS


@pytest.mark.parametrize("path", FOUND, ids=[path.name for path in FOUND])
def test_what_fuzzing_found_stays_mended(path):
    try:
        read(path)
    except ReadError as error:
        message = str(error)
    else:
        message = ""
    assert all(line.isprintable() for line in message.split("\n"))
