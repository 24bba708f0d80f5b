"""The list of the values from outside is honest; tests/documentation holds that there are enough of them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

TESTS = """
import pytest

def test_rows(agrees):
    agrees("as printed", 3.14159, "3.1416", "somebody, 1900, table 1")
    agrees("a tie", 2.5, "3", "somebody, 1900, table 1")
    agrees("a zero", 0.004, 0, "somebody, 1900, table 2", 2)
    agrees("by a library", 1.0 + 1e-9, 1.0, "a library 1.0", 8, "package")
    agrees("by hand", 2.0, 2, "closed form 1 + 1", 15)

@pytest.mark.parametrize("found", [3.1422, 3.1410, float("nan"), float("inf"), -3.1416])
def test_a_row_that_does_not_hold(agrees, found):
    message = r"^pi: found \\S+, but 3\\.1416 is expected \\(somebody\\): they agree to [0-4] digits"
    with pytest.raises(AssertionError, match=message):
        agrees("pi", found, "3.1416", "somebody")

def test_what_proves_nothing(agrees):
    with pytest.raises(ValueError, match="pi: a value from memory proves nothing; find who published it"):
        agrees("pi", 3.0, 3.0, "From memory", 1)
    with pytest.raises(ValueError, match="pi: say to how many digits, or give the number as its"):
        agrees("pi", 3.0, 3.0, "somebody")
    with pytest.raises(ValueError, match="is one of published, package, closed form; found 'rumour'"):
        agrees("pi", 3.0, 3.0, "somebody", 1, "rumour")
"""


def test_the_list_counts_what_others_said_and_tells_what_does_not_hold(tmp_path):
    shutil.copy(ROOT / "tests/references/conftest.py", tmp_path)
    (tmp_path / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    (tmp_path / "test_rows.py").write_text(TESTS, encoding="utf-8")
    result = subprocess.run(
        [sys.executable, "-m", "pytest", "--references", "-q", "-p", "no:cacheprovider", "."],
        cwd=tmp_path,
        env=os.environ | {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
        capture_output=True,
        text=True,
    )
    assert result.stdout.count("DISAGREES") == 5, result.stdout
    assert (
        "9 independent values, 4 sources, 5 disagree: 8 published, 1 by packages; beside them 1 closed forms"
        in result.stdout
    )
    assert re.search(r"^    as printed +3\.1416 +3\.14159 +5 +5$", result.stdout, re.MULTILINE)
    assert re.search(r"^    a tie +3 +2\.5 +1 +1$", result.stdout, re.MULTILINE)
    assert re.search(r"^    a zero +0 +0\.004 +2 +2$", result.stdout, re.MULTILINE)
    assert re.search(r"^    pi +3\.1416 +3\.1422 +5 +3  DISAGREES$", result.stdout, re.MULTILINE)
    assert re.search(r"^    pi +3\.1416 +nan +5 +0  DISAGREES$", result.stdout, re.MULTILINE)
