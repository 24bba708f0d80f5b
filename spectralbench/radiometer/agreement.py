"""Agreement of a radiometer and a spectrometer that look at the same source."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.draws import summarize
from spectralbench.errors import RangeError
from spectralbench.units import declares

_COVERAGE_FACTOR = 2.0  # of expanded uncertainties (ISO 13528, E_n scores)
_LARGE = 5.0  # from this factor on, either way, a unit comes to mind first; common practice, no source
_LOOK_AT = "band limits, calibration source, distance, saturation, ageing of the filter"


Uncertainty = xr.DataArray | float | None


@declares(
    radiometer_irradiance="W m-2",
    spectrometer_irradiance="W m-2",
    radiometer_uncertainty="W m-2",
    spectrometer_uncertainty="W m-2",
)
def reconcile(
    radiometer_irradiance: xr.DataArray | float,
    spectrometer_irradiance: xr.DataArray | float,
    radiometer_uncertainty: Uncertainty = None,
    spectrometer_uncertainty: Uncertainty = None,
) -> xr.Dataset:
    """Say whether a radiometer and a spectrometer that see the same source agree.

    Parameters
    ----------
    radiometer_irradiance : float or xarray.DataArray (...)
        What the radiometer says after `corrected_reading` [W m-2], with draws or with a
        standard uncertainty beside it.
    spectrometer_irradiance : float or xarray.DataArray (...)
        What the spectrometer says of the same band, place and time [W m-2], likewise.
    radiometer_uncertainty, spectrometer_uncertainty : float or xarray.DataArray (...), optional
        Standard uncertainty of what has no draws [W m-2].

    Returns
    -------
    xarray.Dataset (...)
        ``difference``, radiometer less spectrometer, and its ``standard_uncertainty`` [W m-2];
        ``normalised_error`` E_n [1]; ``ratio`` with the limits ``ratio_low`` and ``ratio_high``
        of its 95 % interval [1]; ``agree``, whether E_n lies within ±1; ``verdict`` in words.

    Raises
    ------
    RangeError
        If there are neither draws nor an uncertainty, or both, for one of the two; if an
        uncertainty is negative, or nothing is uncertain; or if the spectrometer's irradiance is
        not above 0.
    GridError, UnitsError
        If dimensions do not fit together, or a unit is not of irradiance.

    Notes
    -----
    E_n is the difference over its expanded uncertainty, which is twice the standard uncertainty
    (E_n scores of ISO 13528 and ISO/IEC 17043). If both have draws, difference and ratio are
    taken draw by draw, so that an error which the two share cancels; the interval of the ratio
    holds the middle 95 % of its draws (JCGM 101:2008, 7.7). Otherwise the two are taken as
    independent, and the interval is twice the standard uncertainty either way (JCGM 100:2008,
    5.1.2).

    Examples
    --------
    >>> said = reconcile("1000 W/m^2", "1100 W/m^2", 30.0, 40.0)
    >>> float(said.normalised_error), str(said.verdict.values)
    (-1.0, 'they agree within their intervals')
    """
    first, second = (xr.DataArray(value) for value in (radiometer_irradiance, spectrometer_irradiance))
    spreads = (
        _spread(first, radiometer_uncertainty, "the radiometer"),
        _spread(second, spectrometer_uncertainty, "the spectrometer"),
    )
    if (second <= 0).any():
        raise RangeError(f"the irradiance of the spectrometer is above 0, not {float(second.min()):g} W m-2")
    if "draw" in first.dims and "draw" in second.dims:
        apart, ratio = summarize(first - second), summarize(first / second)
        difference, uncertainty = apart["value"], apart["standard_uncertainty"]
        share, low, high = ratio["value"], ratio["low"], ratio["high"]
        how = "difference and ratio draw by draw: what the two share cancels"
    else:
        first, second = (a.mean("draw", skipna=False) if "draw" in a.dims else a for a in (first, second))
        difference, share = first - second, first / second
        uncertainty = xr.DataArray(np.hypot(*spreads))
        reach = _COVERAGE_FACTOR * np.hypot(spreads[0], share * spreads[1]) / second
        low, high = share - reach, share + reach
        how = "the two are taken as independent"
    if (uncertainty == 0).any():
        raise RangeError(
            "nothing is uncertain here: give the standard uncertainty of one of the two at least"
        )
    error = difference / (_COVERAGE_FACTOR * uncertainty)
    agree = abs(error) <= 1
    found = {
        "difference": (difference, "W m-2", "radiometer less spectrometer"),
        "standard_uncertainty": (uncertainty, "W m-2", "standard uncertainty of the difference"),
        "normalised_error": (error, "1", "normalised error E_n"),
        "ratio": (share, "1", "radiometer over spectrometer"),
        "ratio_low": (low, "1", "lower end of the 95 % interval of the ratio"),
        "ratio_high": (high, "1", "upper end of the 95 % interval of the ratio"),
    }
    variables = {name: _stamped(*figure) for name, figure in found.items()}
    variables["agree"] = _stamped(agree, "1", "E_n lies within ±1")
    words = np.array(
        [
            _words(*row)
            for row in zip(*(np.ravel(a) for a in xr.broadcast(error, share, low, high)), strict=True)
        ]
    )
    variables["verdict"] = error.copy(data=words.reshape(error.shape))
    variables["verdict"].attrs = {"long_name": "do the two agree"}
    return xr.Dataset(variables, attrs={"comment": how})


def _spread(irradiance: xr.DataArray, uncertainty: Uncertainty, name: str) -> xr.DataArray:
    """Standard uncertainty of an irradiance, from its draws or as given."""
    if "draw" in irradiance.dims:
        if uncertainty is not None:
            raise RangeError(f"{name} has draws and a standard uncertainty: give one of the two")
        return irradiance.std("draw", ddof=1, skipna=False)
    if uncertainty is None:
        raise RangeError(
            f"{name} has no uncertainty, and without one nobody can say whether it agrees: give draws or a "
            "standard uncertainty (0 if it is in the other's)"
        )
    spread = xr.DataArray(uncertainty)
    if (spread < 0).any():
        raise RangeError(
            f"a standard uncertainty is not negative; that of {name} is {float(spread.min()):g} W m-2"
        )
    return spread


def _stamped(array: xr.DataArray, units: str, long_name: str) -> xr.DataArray:
    array = array.rename(None)
    array.attrs = {"units": units, "long_name": long_name}
    return array


def _words(error: float, ratio: float, low: float, high: float) -> str:
    if np.isnan(error):
        return "not known: a value is not valid"
    if abs(error) <= 1:
        return "they agree within their intervals"
    far = not 1 / _LARGE <= ratio <= _LARGE
    return (
        f"they do not: the radiometer shows {ratio:.3g} times what the spectrometer shows "
        f"({low:.3g}–{high:.3g}), and E_n is {error:.2g}. Look first at "
        f"{'the units of the readings, ' * far}{_LOOK_AT}"
    )
