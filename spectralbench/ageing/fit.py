"""One exponential through a log of output against hours."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.ageing.log import taken
from spectralbench.straight_lines import line_through
from spectralbench.units import declares


@declares(since="h")
def fit_ageing(hours: ArrayLike, output: ArrayLike, since: float | str = 0.0) -> xr.Dataset:
    """Fit an exponential decay to a log of output against hours.

    Parameters
    ----------
    hours : array_like (n,)
        Hours of use [h].
    output : array_like (..., n)
        Output [any unit], all above 0. An array with a dimension ``hours`` keeps its others.
    since : float or str
        Hour before which points are left out [h]. For LEDs it is a habit to leave out the first
        1,000 h (common practice, no source).

    Returns
    -------
    xarray.Dataset
        ``initial`` (...) in the unit of `output`; ``rate`` (...) [h-1], negative if the output
        grows; ``residual`` (..., hours), relative [1]; ``output`` (..., hours), the log itself;
        ``longest`` [h], the last hour of the log.

    Raises
    ------
    RangeError
        If there are fewer than three points, all at one time, or a value is not positive.

    Notes
    -----
    A straight line through the logarithm of the output by least squares, the form that
    IES TM-21 uses for the light of LEDs.

    Examples
    --------
    >>> fit = fit_ageing([0, 1000, 2000], [1.0, 0.9, 0.81])
    >>> round(float(fit["rate"]), 9)
    0.000105361
    """
    log = taken(hours, output, float(since))
    points = xr.DataArray(np.log(log.output), dims=[*log.leading, "hours"])
    line = line_through(xr.DataArray(log.hours, dims="hours"), points, "hours")
    return xr.Dataset(
        {
            "initial": (log.leading, np.exp(line.start.values), {"long_name": "output of the fit at 0 h"}),
            "rate": (log.leading, -line.slope.values, {"units": "h-1", "long_name": "rate of decay"}),
            **log.variables(np.exp((points - line.residual).values)),
        },
        log.coordinates,
    )
