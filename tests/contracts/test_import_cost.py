"""What starting costs: importing the package, and asking the command line for help.

Ratios of processor time, of the best of several runs taken in turns: a busy machine makes a start wait,
and the longer of two starts waits more.
"""

from __future__ import annotations

import resource
import subprocess
import sys

_FEWEST, _MOST = 5, 40  # rounds; a busy machine only ever makes a start look dearer
IMPORT = ("-c", "import spectralbench")
USE = ("-c", "import spectralbench; spectralbench.band_irradiance")
HELP = ("-m", "spectralbench", "--help")


def seconds(arguments: tuple[str, ...]) -> float:
    start = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
    end = resource.getrusage(resource.RUSAGE_CHILDREN)
    return end.ru_utime - start.ru_utime + end.ru_stime - start.ru_stime


def best_ratios(peer: tuple[str, ...], limits: dict[tuple[str, ...], float]) -> dict[tuple[str, ...], float]:
    """Ratios of the quickest runs, taken in turns until all are below their limits or there is no doubt."""
    best = dict.fromkeys([peer, *limits], float("inf"))
    for number in range(_MOST):
        if number >= _FEWEST and all(best[each] <= limit * best[peer] for each, limit in limits.items()):
            break
        best = {each: min(least, seconds(each)) for each, least in best.items()}
    return {each: best[each] / best[peer] for each in limits}


def test_import_costs_at_most_1_15_of_xarray_and_first_use_twice():
    """Lazy names must not hide a heavy start: the first figure needs no more than this."""
    limits = {IMPORT: 1.15, USE: 2.0}
    found = best_ratios(("-c", "import xarray"), limits)
    assert all(found[each] <= limit for each, limit in limits.items()), found


def test_help_costs_less_than_three_times_bare_python():
    found = best_ratios(("-c", "pass"), {HELP: 3.0})
    assert found[HELP] < 3, found


def test_import_and_a_figure_load_nothing_heavy_and_set_nothing():
    code = (
        "import sys, warnings, xarray as xr; before = list(warnings.filters)\n"
        "import spectralbench as sb\n"
        "assert warnings.filters == before, warnings.filters\n"
        "sb.band_irradiance, sb.compare, sb.read, sb.pictures.spectra\n"
        "heavy = {'matplotlib', 'colour', 'scipy.signal', 'pint', 'IPython', 'rich'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
        "e = xr.DataArray([1., 1.], {'wavelength': [300., 400.]}, 'wavelength')\n"
        "sb.band_irradiance(e.assign_attrs(units='W m-2 nm-1'), 315, 400)\n"
        "assert sb.units.conversion._registry.cache_info().currsize == 0  # xarray looks for pint itself\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
