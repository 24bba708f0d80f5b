"""From counts to spectral irradiance, by way of a standard lamp."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike

from spectralbench.errors import RangeError
from spectralbench.model import QUANTITIES, labelled, noted
from spectralbench.units import declares

_SIGNAL, _IRRADIANCE, _RESPONSIVITY = (
    QUANTITIES[name].units for name in ("signal", "spectral_irradiance", "responsivity")
)


@declares(_SIGNAL, counts="1")
def signal_from_counts(counts: xr.DataArray) -> xr.DataArray:
    """Divide counts by their integration time.

    Parameters
    ----------
    counts : xarray.DataArray (..., wavelength)
        Counts without the dark [1], with a coordinate ``integration_time`` [s].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Signal: counts per second [s-1].

    Raises
    ------
    RangeError
        If the integration time is missing or not positive.

    Examples
    --------
    >>> counts = xr.DataArray([100.0], {"wavelength": [365.0], "integration_time": 0.02}, "wavelength")
    >>> signal_from_counts(counts).item()
    5000.0
    """
    if "integration_time" not in counts.coords:
        raise RangeError("counts have no coordinate integration_time [s]: say how long a scan took")
    times = counts.coords["integration_time"]
    if not (times > 0).all():
        raise RangeError(f"an integration time is longer than 0 s, not {float(times.min()):g} s")
    result = (counts / times.astype(counts.dtype)).rename("signal")  # single precision stays so
    result.attrs.update(counts.attrs, long_name=QUANTITIES["signal"].long_name)
    return noted(result, "divided by the integration time")


@declares(_IRRADIANCE, certificate=_IRRADIANCE, distance="mm", certified_distance="mm")
def lamp_irradiance(
    certificate: xr.DataArray,
    wavelength: ArrayLike,
    distance: xr.DataArray | float | str | None = None,
    certified_distance: xr.DataArray | float | str | None = None,
) -> xr.DataArray:
    """Spectral irradiance of a standard lamp on another grid, and at another distance.

    Parameters
    ----------
    certificate : xarray.DataArray (..., wavelength)
        Certified spectral irradiance [W m-2 nm-1].
    wavelength : array_like (wavelength,)
        Where it is wanted [nm]; inside the range of the certificate.
    distance, certified_distance : xarray.DataArray (...), float or str, optional
        Distance of the lamp now, and that of the certificate [mm].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1].

    Raises
    ------
    RangeError
        If a wavelength lies outside the certificate, a value is not positive, there are fewer
        than four, or only one distance is given.

    Notes
    -----
    A filament lamp is nearly a black body, so the logarithm of spectral irradiance times the
    fifth power of the wavelength is nearly straight over the reciprocal wavelength (Wien; it
    is the form that NIST SP 250-89 fits). A cubic spline in these two runs through every
    certified value. The inverse square law carries it to another distance.

    Examples
    --------
    >>> table = xr.DataArray([1.0, 2.0, 4.0, 8.0], {"wavelength": [350.0, 400, 450, 500]}, "wavelength")
    >>> round(lamp_irradiance(table, [400.0], distance="1 m", certified_distance="500 mm").item(), 9)
    0.5
    """
    from scipy.interpolate import CubicSpline

    certificate = certificate.transpose(..., "wavelength")
    known, values = certificate.coords["wavelength"].values.astype(float), certificate.values
    wanted = np.atleast_1d(np.asarray(wavelength, dtype=float))
    if known.size < 4 or not (values > 0).all():
        raise RangeError(
            f"a lamp certificate has at least 4 values, all above 0; this one has {known.size}, "
            f"the smallest {values.min():g} W m-2 nm-1"
        )
    if wanted.size == 0 or not np.isfinite(wanted).all():
        raise RangeError("the wavelengths wanted are one finite number or more")
    if wanted.min() < known[0] or wanted.max() > known[-1]:
        raise RangeError(
            f"the lamp certificate covers {known[0]:g}–{known[-1]:g} nm, "
            f"not {wanted.min():g}–{wanted.max():g} nm"
        )
    wien = CubicSpline(1 / known[::-1], np.log(values * known**5)[..., ::-1], axis=-1)
    along = {"wavelength": wanted}
    result = noted(
        labelled(
            np.exp(wien(1 / wanted)) / wanted**5,
            "spectral_irradiance",
            tuple(map(str, certificate.dims)),
            along,
        ),
        "interpolated the lamp certificate: cubic spline of the logarithm of irradiance times "
        "wavelength^5 over reciprocal wavelength",
        certificate,
    )
    if (distance is None) != (certified_distance is None):
        raise RangeError("to change the distance of a lamp, give both distance and certified_distance")
    if distance is not None and certified_distance is not None:
        now, then = xr.DataArray(distance), xr.DataArray(certified_distance)
        least = [float(length.min()) for length in (now, then)]
        if not min(least) > 0:
            raise RangeError(f"distances are longer than 0 mm, not {least[0]:g} and {least[1]:g} mm")
        result = noted(
            (result * (then / now) ** 2).transpose(..., "wavelength"),
            f"inverse square law from {float(then.mean()):g} mm to {float(now.mean()):g} mm",
            result,
        )
    return result


@declares(signal="*", scatter="*")
def clear_signal(signal: xr.DataArray, scatter: xr.DataArray, times: float = 10.0) -> xr.DataArray:
    """Find where a signal stands clear of its own scatter.

    A standard lamp gives little light in the ultraviolet. Where its signal drowns in noise, a
    responsivity would be noise too.

    Parameters
    ----------
    signal : xarray.DataArray (wavelength,)
        Counts [1] or signal [s-1] without the dark.
    scatter : xarray.DataArray (wavelength,)
        Standard uncertainty of it from repeated scans, in the same unit; NaN if there was one
        scan, and then the signal need only be positive.
    times : float
        How many times its scatter a signal has to be.

    Returns
    -------
    xarray.DataArray (wavelength,)
        True on the stretch around the strongest signal on which every pixel is clear, judged
        by medians over 15 pixels.

    Raises
    ------
    RangeError
        If it is clear nowhere.
    GridError
        If the grids differ.

    Examples
    --------
    >>> grid = {"wavelength": np.arange(300.0, 340.0)}
    >>> strength = xr.DataArray(np.arange(40.0), grid, "wavelength")
    >>> int(clear_signal(strength, xr.ones_like(strength)).sum())
    30
    """
    level, noise = running_median(signal.values), running_median(scatter.values)
    clear = np.where(np.isnan(noise), level > 0, level >= times * noise)
    best = int(np.nanargmax(np.where(clear, level, -np.inf)))
    if not clear[best]:
        raise RangeError(f"the signal is nowhere {times:g} times its scatter; the lamp may have been off")
    dull = np.flatnonzero(~clear)
    first = dull[dull < best].max(initial=-1) + 1
    last = dull[dull > best].min(initial=clear.size)
    position = np.arange(clear.size)
    return signal.copy(data=(position >= first) & (position < last)).drop_attrs(deep=False)


def running_median(values: np.ndarray, width: int = 15) -> np.ndarray:
    """Median over neighbours, to judge a noisy signal by its level.

    Parameters
    ----------
    values : numpy.ndarray (n,)
        Any values.
    width : int
        Odd number of neighbours.

    Returns
    -------
    numpy.ndarray (n,)
        Medians; at the ends the first and last value are repeated.

    Examples
    --------
    >>> running_median(np.array([1.0, 9.0, 2.0, 3.0]), 3).tolist()
    [1.0, 2.0, 3.0, 3.0]
    """
    padded = np.pad(values, width // 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=-1))


@declares(_RESPONSIVITY, signal=_SIGNAL, lamp_irradiance=_IRRADIANCE)
def responsivity_from_lamp(signal: xr.DataArray, lamp_irradiance: xr.DataArray) -> xr.DataArray:
    """Responsivity of the instrument, from a standard lamp.

    Parameters
    ----------
    signal : xarray.DataArray (..., wavelength)
        Signal under the lamp [s-1].
    lamp_irradiance : xarray.DataArray (..., wavelength)
        Spectral irradiance of the lamp on the same grid, at the same distance [W m-2 nm-1].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Responsivity [m2 nm W-1 s-1].

    Raises
    ------
    RangeError
        If the lamp's irradiance is not positive somewhere.
    GridError, UnitsError
        If the grids differ, or a unit is of another kind.

    Examples
    --------
    >>> grid = {"wavelength": [365.0]}
    >>> lamp = xr.DataArray([0.01], grid, "wavelength")
    >>> responsivity_from_lamp(xr.DataArray([500.0], grid, "wavelength"), lamp).item()
    50000.0
    """
    if not (lamp_irradiance > 0).all():
        raise RangeError("the irradiance of a standard lamp is above 0 at every wavelength")
    result = (signal / lamp_irradiance).rename("responsivity")
    result.attrs = {"long_name": QUANTITIES["responsivity"].long_name}
    return noted(result, "responsivity from the standard lamp", signal)


@declares(_IRRADIANCE, signal=_SIGNAL, responsivity=_RESPONSIVITY)
def irradiance_from_signal(signal: xr.DataArray, responsivity: xr.DataArray) -> xr.DataArray:
    """Spectral irradiance behind a signal.

    Parameters
    ----------
    signal : xarray.DataArray (..., wavelength)
        Signal [s-1].
    responsivity : xarray.DataArray (..., wavelength)
        Responsivity on the same grid [m2 nm W-1 s-1].

    Returns
    -------
    xarray.DataArray (..., wavelength)
        Spectral irradiance [W m-2 nm-1]; NaN where the responsivity is not positive.

    Raises
    ------
    GridError, UnitsError
        If the grids differ, or a unit is of another kind.

    Examples
    --------
    >>> grid = {"wavelength": [365.0]}
    >>> response = xr.DataArray([50000.0], grid, "wavelength")
    >>> irradiance_from_signal(xr.DataArray([500.0], grid, "wavelength"), response).item()
    0.01
    """
    positive = responsivity > 0
    known = responsivity if positive.all() else responsivity.where(positive)
    result = (signal / known).rename("spectral_irradiance")
    result.attrs = {"long_name": QUANTITIES["spectral_irradiance"].long_name}
    return noted(result, "divided by the responsivity", signal)
