"""Two exponentials, one after the other, through a log: steep early loss, then slow."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from spectralbench.ageing.broken_line import BrokenLine, broken_line, straight_line
from spectralbench.ageing.log import Log, taken
from spectralbench.units import declares

Vector = NDArray[np.float64]

STAGES = ("initial", "early_rate", "late_rate", "early_until")
"""What a fit of two stages finds."""

PARAMETERS = len(STAGES)

FEWEST = PARAMETERS + 2
"""Different hours: those more than parameters say how well these are known."""

SIGNIFICANT = 0.05
"""Chance below which the second stage is believed."""

_TRIALS = 999  # logs of one stage that the statistic is held against
_ROUNDING = 1e-12  # residuals of a logarithm that are nothing but rounding


@declares(since="h")
def fit_two_stage(hours: ArrayLike, output: ArrayLike, since: float | str = 0.0) -> xr.Dataset:
    """Fit a decay in two stages to a log, and say whether one stage explains it as well.

    Parameters
    ----------
    hours : array_like (n,)
        Hours of use [h].
    output : array_like (..., n)
        Output [any unit], all above 0. An array with a dimension ``hours`` keeps its others.
    since : float or str
        Hour before which points are left out [h].

    Returns
    -------
    xarray.Dataset
        ``initial`` (...) in the unit of `output`; ``early_rate`` and ``late_rate`` (...) [h-1];
        ``early_until`` (...) [h], where the one gives way to the other; ``chance`` (...) [1], of
        so much gain by a second stage in a log of one; ``better`` (...), the number of stages to
        believe: 2 if that chance is below 0.05, otherwise 1, and then `fit_ageing` says more.
        ``residual``, ``output`` and ``longest`` are as in `fit_ageing`.

    Raises
    ------
    RangeError
        If there are fewer than six different hours, or a value is not positive.

    Notes
    -----
    The logarithm of the output follows two straight lines that meet, with two different hours or
    more in the early stage and three in the late one. The sum of two exponentials has as many
    parameters, but with the 6–12 points of a usual log their rates and shares cannot be told
    apart. Here each rate rests on the points of its own stage. If the loss slows down gradually,
    the late stage comes out a little too steep, on the side of caution.

    ``chance`` is that of the F statistic. As nobody knows beforehand where the break is, it does
    not follow the F distribution (Hinkley, J. Am. Stat. Assoc. 66 (1971) 736); it is held against
    999 logs of one stage at the same hours, always the same. That is exact for normal scatter of
    the logarithm, because level, rate and scatter cancel (Barnard, J. R. Stat. Soc. B 25 (1963) 294).

    Examples
    --------
    >>> hours = [0, 250, 500, 1000, 2000, 3000, 4000, 5000]
    >>> output = [1.000, 0.942, 0.908, 0.889, 0.861, 0.842, 0.815, 0.799]
    >>> fit = fit_two_stage(hours, output)
    >>> round(float(fit["early_until"])), int(fit["better"])
    (417, 2)
    """
    log = taken(hours, output, float(since), FEWEST)
    order = np.argsort(log.hours, kind="stable")
    at = log.hours[order]
    rows = np.log(log.output[..., order]).reshape(-1, at.size)
    found = broken_line(at, rows)
    chance = _chance(at, rows, found)
    shape = log.output.shape[:-1]
    line = found.at(log.hours).reshape(log.output.shape)
    words = {
        "chance": {"units": "1", "long_name": "chance of so much gain by a second stage in a log of one"},
        "better": {"units": "1", "long_name": "number of stages to believe"},
    }
    return xr.Dataset(
        {
            **_parameters(found, shape, log),
            "chance": (log.leading, chance.reshape(shape), words["chance"]),
            "better": (log.leading, np.where(chance < SIGNIFICANT, 2, 1).reshape(shape), words["better"]),
            **log.variables(np.exp(line)),
        },
        log.coordinates,
    )


def _parameters(found: BrokenLine, shape: tuple[int, ...], log: Log) -> dict[str, object]:
    values = (np.exp(found.start), -found.early, -found.late, found.bend)
    attributes = (
        {"long_name": "output of the fit at 0 h"},
        {"units": "h-1", "long_name": "rate of decay in the early stage"},
        {"units": "h-1", "long_name": "rate of decay in the late stage"},
        {"units": "h", "long_name": "end of the early stage"},
    )
    return {
        name: (log.leading, array.reshape(shape), attrs)
        for name, array, attrs in zip(STAGES, values, attributes, strict=True)
    }


def _chance(at: Vector, rows: Vector, found: BrokenLine) -> Vector:
    """Share of logs with one stage that gain as much by a second one."""
    trials = np.random.default_rng(0).standard_normal((_TRIALS, at.size))
    by_chance = np.sort(_gain(at, trials, broken_line(at, trials)))
    as_much = _TRIALS - np.searchsorted(by_chance, _gain(at, rows, found), side="left")
    return np.asarray((1 + as_much) / (1 + _TRIALS))


def _gain(at: Vector, rows: Vector, found: BrokenLine) -> Vector:
    """Ratio of the squares that a straight line and a broken one leave, which rises with F."""
    start, slope = straight_line(at, rows)
    one = ((rows - start[:, None] - slope[:, None] * at) ** 2).sum(axis=-1)
    rounding = at.size * _ROUNDING**2
    return np.asarray((one + rounding) / (found.squares + rounding))
