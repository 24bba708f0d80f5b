"""Where the uncertainty of the figures comes from: each cause alone, against all of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
import xarray as xr

from spectralbench.benches.at_bond import courses_of, light_at_bond
from spectralbench.benches.budget import Budget, causes
from spectralbench.benches.frames import Frames
from spectralbench.benches.reducing import reduced_with
from spectralbench.benches.schema import Manifest
from spectralbench.benches.steps import Steps
from spectralbench.comparison import lasting
from spectralbench.readers.cores import beside

BUDGETED = (
    "irradiance_at_part",
    "kept_share",
    "band_irradiance",
    "absorbed_photons",
    "exposure_time",
    "end_of_life_irradiance",
)
"""Figures of which a comparison says where their uncertainty comes from."""

_DRAWS_OF_ONE = 200  # of one cause alone: enough for a share of the variance to a few per cent


@contextmanager
def variance_shares(
    tree: xr.DataTree, manifest: Manifest, frames: Frames, budget: Budget
) -> Iterator[Callable[[], xr.DataArray | None]]:
    """What each cause alone does to the variance of the figures, as a share of all of them.

    It is found out while the process goes on with something else, if there is a core for it.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.
    frames : Frames
        Its frames.
    budget : Budget
        How many draws, and from which seed.

    Yields
    ------
    callable
        Waits for an array (figure, source, cause) of shares [1] that add up to 1, with the ``origin``
        (cause) of each in words; NaN where a figure is not known or has no variance. It gives None if
        nothing is uncertain.

    Notes
    -----
    One cause is drawn while all others keep their best estimate (JCGM 101:2008, annex B). Of each,
    only the steps are worked out that it reaches.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> from spectralbench.benches.frames import best_estimates
    >>> tree = open_bench(demo)
    >>> manifest = manifest_of(tree)
    >>> frames, budget = best_estimates(tree, manifest), Budget(manifest, 20, 1)
    >>> with variance_shares(tree, manifest, frames, budget) as found:
    ...     shares = found()
    >>> bool((abs(shares.sel(source="LED 405").sum("cause") - 1) < 1e-9).all())
    True
    """
    best = Steps(Budget(manifest))
    reduced_with(tree, manifest, frames, best)

    def variances(cause: str) -> xr.DataArray:
        alone = Budget(manifest, min(budget.draws, _DRAWS_OF_ONE), budget.seed, only=cause)
        found = reduced_with(tree, manifest, frames, Steps(alone, best))
        figures = lasting(light_at_bond(found, manifest), courses_of(found, manifest))
        each = [
            _variance(figures[name]) if "draw" in figures[name].dims else xr.zeros_like(figures[name], float)
            for name in BUDGETED
        ]
        return xr.concat(each, xr.DataArray(list(BUDGETED), dims="figure", name="figure"))

    met = list(best.budget.met)
    with beside(variances, met) as found:
        yield lambda: _as_shares(found(), met, manifest) if met else None


def _as_shares(variances: list[xr.DataArray], met: list[str], manifest: Manifest) -> xr.DataArray:
    """Variances of each cause, as shares of their sum."""
    variance = xr.concat(variances, xr.DataArray(met, dims="cause", name="cause"))
    total = variance.sum("cause", skipna=False)
    result = (variance / total.where(total > 0)).transpose("figure", "source", "cause")
    origin = [causes(manifest)[cause] for cause in met]
    result = result.rename("variance_share").assign_coords(origin=("cause", origin))
    return result.drop_attrs(deep=False).assign_attrs(units="1", long_name="share of the variance")


def _variance(figure: xr.DataArray) -> xr.DataArray:
    """Variance over the draws; NaN where some are infinite."""
    with np.errstate(invalid="ignore"):
        return figure.var("draw")
