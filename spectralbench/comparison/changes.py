"""The nearest change that would make a source meet a criterion: setting, distance, less light for longer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from spectralbench.beam import distance_for, irradiance_at
from spectralbench.comparison.heating import OF_LIGHT, Stack, heating
from spectralbench.comparison.needed import exposure_with, times_the_light
from spectralbench.comparison.words import SURE, three_digits

_NEARER = 2.0  # times; from there on, the inverse square law says nothing of a lamp
_FIRST = (2, 14, 100)  # per cent of the light that are tried; weaker is no proposal


class Means(NamedTuple):
    """What can be changed about a source."""

    distance: float = np.nan  # where it stands [mm]
    setting: float = 1.0  # in force
    beam: xr.DataArray | None = None  # irradiance by distance, as measured


def sure_factor(figures: xr.Dataset, name: str, limit: xr.DataArray | float) -> float | None:
    """How many times the light of one source keeps to a criterion in 95 % of the draws.

    Parameters
    ----------
    figures : xarray.Dataset (source,)
        Of one source, perhaps with draws.
    name : str
        The criterion.
    limit : float or xarray.DataArray ([source], [draw])
        Its limit.

    Returns
    -------
    float or None
        Factor [1]; None for a criterion that does not go with the light alone.

    Examples
    --------
    >>> light = xr.Dataset({"band_irradiance": ("source", [50.0])}, {"source": ["arc"]})
    >>> sure_factor(light, "irradiance", 75.0)
    1.5
    """
    if isinstance(limit, xr.DataArray) and "source" in limit.dims:
        limit = limit.sel(source=figures.coords["source"])
    factor = times_the_light(figures, name, limit)
    if factor is None:
        return None
    if "draw" in factor.dims:
        if name == "upper limit":
            factor = factor.quantile(1 - SURE, "draw", method="lower", skipna=False)
        else:
            factor = factor.quantile(SURE, "draw", method="higher", skipna=False)
    return float(factor.item())


def more_light(factor: float, means: Means) -> str:
    """How to get more light, in words.

    Parameters
    ----------
    factor : float
        How many times the light is needed [1], above 1.
    means : Means
        What can be changed.

    Returns
    -------
    str
        What would do, or why nothing measured does.

    Examples
    --------
    >>> more_light(1.5, Means(distance=12.0, setting=0.6))
    'at a setting of 90 % instead of 60 %'
    >>> more_light(4.0, Means(distance=12.0))[:48]
    'at about 6 mm instead of 12 mm if the inverse sq'
    """
    if not np.isfinite(factor):
        return "none that is sure: of the light of this source, none may get there"
    setting = np.ceil(100 * means.setting * factor - 1e-9) / 100
    if setting <= 1:
        return f"at a setting of {setting:.0%} instead of {means.setting:.0%}".replace("%", " %")
    rest = factor * means.setting
    raised = " at full setting" if means.setting < 1 else ""
    if np.isnan(means.distance):
        return f"with {three_digits(rest)} times the light{raised}"
    if means.beam is None and rest > _NEARER**2:
        return (
            f"none that can be told: it takes {three_digits(rest)} times the light{raised}, and nobody "
            f"measured how much there is nearer than {three_digits(means.distance / _NEARER)} mm: measure "
            "its beam"
        )
    if means.beam is None:
        return (
            f"at about {three_digits(means.distance / np.sqrt(rest))} mm instead of "
            f"{three_digits(means.distance)} mm{raised} if the inverse square law held, which near a source "
            "promises too much: measure its beam"
        )
    wanted = float(irradiance_at(means.beam, means.distance)) * rest
    nearest, farthest = (float(means.beam.coords["distance"][i]) for i in (0, -1))
    distance = float(distance_for(means.beam, wanted))
    if not np.isfinite(distance):
        return (
            f"none that was measured: it takes {three_digits(rest)} times the light{raised}, more than there "
            f"is at {three_digits(nearest)}–{three_digits(farthest)} mm"
        )
    found = np.floor(distance * 10) / 10
    return f"at {three_digits(found)} mm instead of {three_digits(means.distance)} mm{raised}"


def less_light(factor: float, means: Means) -> str:
    """How to get less light, in words.

    Parameters
    ----------
    factor : float
        What share of the light is allowed [1], below 1.
    means : Means
        What can be changed.

    Returns
    -------
    str
        What would do.

    Examples
    --------
    >>> less_light(0.5, Means(distance=12.0, setting=0.9))
    'at a setting of 45 % instead of 90 %'
    """
    setting = np.floor(100 * means.setting * factor + 1e-9) / 100
    if setting < 0.01:
        return f"with {three_digits(100 * factor)} % of the light, which no setting gives: farther away"
    return f"at a setting of {setting:.0%} instead of {means.setting:.0%}".replace("%", " %")


def weaker_and_longer(figures: xr.Dataset, stack: Stack, limit: float, speed: float = np.nan) -> str:
    """How much weaker the light has to be, for the longer, to stay below a temperature, in words.

    Parameters
    ----------
    figures : xarray.Dataset (source,)
        Of one source, perhaps with draws.
    stack : Stack
        What the light warms.
    limit : float
        What is allowed [K].
    speed : float
        Of a part that travels [mm s-1], which then is slower instead.

    Returns
    -------
    str
        What would do, or why nothing of the kind does.
    """
    tried = {at: warmest(figures, stack, at / 100) for at in _FIRST}
    if tried[_FIRST[0]] > limit:
        return "none by weaker light for longer: the dose itself warms it, so let it cool between exposures"
    low, high = _around(tried, limit)
    while high - low > 1:
        middle = int(np.clip(_between(tried, limit, stack.ambient), low + 1, high - 1))
        tried[middle] = warmest(figures, stack, middle / 100)
        low, high = _around(tried, limit)
    share = low / 100
    weaker = f"with {100 * share:.0f} % of the light"
    if "needed_irradiance" in figures:
        needed = figures["needed_irradiance"] / figures["band_irradiance"]  # infinite where nothing does
        least = needed.quantile(SURE, method="higher", skipna=False).item()
        if share < least:
            rest = "more than there is" if least > 1 else f"{three_digits(100 * least)} %"
            return f"none by weaker light for longer: {weaker} it would stay cool, and the job takes {rest}"
    if np.isfinite(speed):
        return f"{weaker}, at {three_digits(speed * share)} mm/s"
    return f"{weaker}, for {three_digits(float(exposure_with(figures, share).mean()))} s"


def _around(tried: Mapping[int, float], limit: float) -> tuple[int, int]:
    """The most light that was cool enough, and the next that was tried, which was not [%]."""
    low = max(at for at, temperature in tried.items() if temperature <= limit and at < 100)
    return low, min(at for at in tried if at > low)


def _between(tried: Mapping[int, float], limit: float, ambient: float) -> float:
    """How much light should just be cool enough, by all that was tried, as both go by powers [%]."""
    from scipy.interpolate import PchipInterpolator

    shares = sorted(tried)
    rises = np.array([tried[at] - ambient for at in shares])
    if not (rises[0] > 0 and (np.diff(rises) > 0).all()):
        return sum(_around(tried, limit)) / 2
    return float(np.exp(PchipInterpolator(np.log(rises), np.log(shares))(np.log(limit - ambient))))


def warmest(figures: xr.Dataset, stack: Stack, share: float) -> float:
    """Highest temperature of one source with a share of its light, for as long as the job then takes.

    Parameters
    ----------
    figures : xarray.Dataset (source,)
        Of one source, perhaps with draws.
    stack : Stack
        What the light warms.
    share : float
        Share of the light [1].

    Returns
    -------
    float
        Temperature [K] that 95 % of the draws do not pass.
    """
    light = {name: figures[name] * share for name in OF_LIGHT if name in figures}
    times = {"exposure_time": exposure_with(figures, share)}
    if "lit_time" in figures:
        times["lit_time"] = figures["lit_time"] / share
    scaled = xr.Dataset(light | times)  # no more than is needed: this is done many times
    return float(heating(scaled, stack)["peak_temperature"].quantile(SURE, skipna=False))


def _slower(figures: xr.Dataset, wanted: float) -> str:
    """At which speed a part that travels gets enough."""
    speed = _rounded_down(_least(figures["fastest_speed"]))
    return f"at {three_digits(speed)} mm/s instead of {three_digits(wanted)} mm/s" if speed > 0 else ""


def _renewed(figures: xr.Dataset, wanted: float) -> str:
    """Whether a new lamp would last as long as is wanted."""
    if "hours_of_new" not in figures:
        return ""
    lasts = _least(figures["hours_of_new"])
    return f"with a new one now, which would last {three_digits(lasts)} h" if lasts >= wanted else ""


def _least(figure: xr.DataArray) -> float:
    """What 95 % of the draws of one source reach; without draws, the figure."""
    return float(figure.quantile(1 - SURE, method="lower", skipna=False))


def _rounded_down(number: float) -> float:
    """A number above 0 to three digits, and not beyond it."""
    if not (number > 0 and np.isfinite(number)):
        return number
    step = 10.0 ** (np.floor(np.log10(number)) - 2)
    return float(np.floor(number / step + 1e-9) * step)


def _replaced_sooner(figures: xr.Dataset, wanted: float) -> str:
    """Until when a source does the job, if it does not until its end."""
    lasts = _rounded_down(_least(figures["hours_left"])) if "hours_left" in figures else 0.0
    return f"if it is replaced within {three_digits(lasts)} h from today" if lasts > 0 else ""


OTHER_MEANS: dict[str, Callable[[xr.Dataset, float], str]] = {
    "travel": _slower,
    "life": _renewed,
    "end of life": _replaced_sooner,
}
"""What would meet a criterion and is nearer than other light."""
