"""What starting costs: importing the package, and asking the command line for help.

Ratios of the best of several runs, taken in turns, so that a busy machine slows both alike.
"""

from __future__ import annotations

import subprocess
import sys
import time

_FEWEST, _MOST = 5, 40  # pairs of runs; a busy machine only ever makes a start look dearer


def seconds(*arguments: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
    return time.perf_counter() - start


def best_ratio(one: tuple[str, ...], other: tuple[str, ...], limit: float) -> float:
    """Ratio of the quickest runs, taken in turns until it is below the limit or there is no doubt."""
    first, second = [], []
    while len(first) < _FEWEST or (min(first) / min(second) > limit and len(first) < _MOST):
        first.append(seconds(*one))
        second.append(seconds(*other))
    return min(first) / min(second)


def test_import_costs_at_most_1_15_of_xarray():
    assert best_ratio(("-c", "import spectralbench"), ("-c", "import xarray"), 1.15) <= 1.15


def test_first_use_costs_at_most_twice_xarray():
    """Lazy names must not hide a heavy start: the first figure needs no more than this."""
    use = "import spectralbench; spectralbench.band_irradiance"
    assert best_ratio(("-c", use), ("-c", "import xarray"), 2) <= 2


def test_help_costs_less_than_three_times_bare_python():
    assert best_ratio(("-m", "spectralbench", "--help"), ("-c", "pass"), 3) < 3


def test_import_loads_nothing_heavy_and_sets_nothing():
    code = (
        "import sys, warnings; before = list(warnings.filters)\n"
        "import spectralbench as sb\n"
        "sb.band_irradiance, sb.compare, sb.read, sb.pictures.spectra\n"
        "heavy = {'matplotlib', 'colour', 'scipy.signal', 'pint', 'IPython', 'rich'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
