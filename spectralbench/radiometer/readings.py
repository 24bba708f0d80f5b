"""Readings of heads: corrected for the source, and only then compared."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from typing import cast

import xarray as xr

from spectralbench.errors import RangeError, UnitsError, quote
from spectralbench.model import noted
from spectralbench.radiometer.heads import Head
from spectralbench.radiometer.mismatch import factor_between
from spectralbench.radiometer.responses import Target, described, target_curve
from spectralbench.units import declares, in_unit, measured, same_kind

_UNITS = ("W m-2", "J m-2")
_ADVICE = (
    "Take the response curve and the calibration source from the certificate of the head, and measure the "
    "spectrum of the source at the head"
)


@dataclass(frozen=True, eq=False)
class Reading:
    """What a head showed, and under which source.

    Parameters
    ----------
    value : float, str or xarray.DataArray (...)
        The reading: irradiance [W m-2], or radiant exposure if its unit says so.
    head : Head
        The head.
    source : str
        Name of the source.
    spectrum : xarray.DataArray (..., wavelength), optional
        Spectrum of the source at the head [spectral irradiance, or relative].

    Examples
    --------
    >>> str(Reading(1200.0, Head("A-0113"), "LED"))
    'the reading of head "A-0113" under "LED"'
    """

    value: xr.DataArray | float | str
    head: Head
    source: str = ""
    spectrum: xr.DataArray | None = None

    def __str__(self) -> str:
        return (
            f"the reading of {self.head} under {quote(self.source) if self.source else 'an unnamed source'}"
        )

    @property
    def array(self) -> xr.DataArray:
        """The value with its unit (...)."""
        if isinstance(self.value, str):
            for own in _UNITS:
                with suppress(UnitsError):
                    return xr.DataArray(measured(self.value, own).value, attrs={"units": own})
            raise UnitsError(f"{self} is {quote(self.value)}; expected irradiance or radiant exposure")
        value = xr.DataArray(self.value)
        units = str(value.attrs.get("units") or _UNITS[0])
        for own in _UNITS:
            if same_kind(units, own):
                return in_unit(value, own, str(self)).assign_attrs(units=own)
        raise UnitsError(f"{self} is in {quote(units)}; expected irradiance or radiant exposure")


def read_before(calibrated: str, readings: xr.DataArray) -> str:
    """Say so if readings were taken before the calibration that should explain them.

    Parameters
    ----------
    calibrated : str
        Date of the calibration; one that is not written after ISO 8601 says nothing.
    readings : xarray.DataArray (...)
        Readings; without dates along ``time`` nothing is known.

    Returns
    -------
    str
        The words, or nothing.

    Examples
    --------
    >>> import numpy as np
    >>> log = xr.DataArray([1.0], {"time": [np.datetime64("2026-03-02T10:30", "ns")]}, "time")
    >>> read_before("2026-03-02", log), read_before("2026-05-04", log)
    ('', 'it was read on 2026-03-02, before its calibration of 2026-05-04: state the one that held then')
    """
    time = readings.coords.get("time")
    if time is None or time.dtype.kind != "M" or time.size == 0:
        return ""
    try:
        day = date.fromisoformat(calibrated)
    except ValueError:
        return ""
    first = time.values.min().astype("datetime64[D]").item()
    if first is None or first >= day:
        return ""
    return f"it was read on {first}, before its calibration of {day}: state the one that held then"


def corrected_reading(reading: Reading, target: Target = None) -> xr.DataArray:
    """Correct a reading for the spectrum of the source.

    Parameters
    ----------
    reading : Reading
        The reading, with a head whose response and calibration source are known, and with the
        spectrum of the source.
    target : tuple of two floats or str, or xarray.DataArray (wavelength,), optional
        What is wanted: the irradiance in a band [nm], or weighted with a curve. By default,
        what the reading states.

    Returns
    -------
    xarray.DataArray (...)
        Irradiance [W m-2] or radiant exposure [J m-2]. Draws of the reading, of the gain, of
        the response and of both spectra are kept. ``attrs["comment"]`` says what it hangs on.

    Raises
    ------
    RangeError
        If response, calibration source or spectrum are not known, the head was calibrated later,
        or it gives no signal of one of the sources.
    GridError, UnitsError
        If curves, spectra or draws do not fit together, or the reading is no irradiance and no
        radiant exposure.

    Notes
    -----
    Reading times gain times the factor of `mismatch_factor`. A response from limits and a shape
    is an assumption; the comment says so.

    Examples
    --------
    >>> arc = xr.DataArray([1.0, 1.0], {"wavelength": [300.0, 400.0]}, "wavelength")
    >>> led = xr.DataArray([0.0, 1.0, 0.0], {"wavelength": [380.0, 390.0, 400.0]}, "wavelength")
    >>> head = Head("A-0113", band=(320, 390), shape="flat", calibration=arc, target=(320, 390))
    >>> float(corrected_reading(Reading(500.0, head, "LED", led), (320, 400)))
    1000.0
    """
    if missing := _missing(reading):
        raise RangeError(f"{reading} cannot be corrected: {'; '.join(missing)}. {_ADVICE}")
    head, value = reading.head, reading.array
    wanted = head.target if target is None else target
    curve, calibration, spectrum = (
        cast(xr.DataArray, a) for a in (head.curve, head.calibration, reading.spectrum)
    )
    factor = factor_between(curve, calibration, spectrum, head.target, wanted)
    result = _times(value, head.gain, factor)
    result.attrs = {**value.attrs, "long_name": f"{_quantity(value)}, {described(wanted)}"}
    remarks = [
        value.attrs.get("comment"),
        factor.attrs.get("comment"),
        _assumed(head),
        _left_out(head, result),
    ]
    if comment := "; ".join(filter(None, remarks)):
        result.attrs["comment"] = comment
    return noted(
        result.rename(None),
        f"corrected {reading}: spectral mismatch from {described(head.target)} to "
        f"{described(wanted)}, factor {float(factor.mean()):.4g}"
        + (" in the mean" if factor.size > 1 else ""),
    )


def comparable(first: Reading, second: Reading, target: Target = None) -> xr.Dataset:
    """Two readings side by side, if they can be compared.

    One head under one source is compared as it was read. Readings of two heads, or under two
    sources, are corrected first; where that is not possible, they are refused.

    Parameters
    ----------
    first, second : Reading
        The readings.
    target : tuple of two floats or str, or xarray.DataArray (wavelength,), optional
        What both should state: the irradiance in a band [nm], or weighted with a curve. Needed
        if the two heads state different things.

    Returns
    -------
    xarray.Dataset
        ``first`` and ``second`` [W m-2 or J m-2], and ``ratio`` of the first to the second [1].

    Raises
    ------
    RangeError
        If one of the two would have to be corrected and cannot be, or they state different
        things and no target is given.
    GridError, UnitsError
        If one is irradiance and the other radiant exposure, or draws do not fit together.

    Examples
    --------
    >>> head = Head("A-0113", "2025-11-03", label="UV")
    >>> float(comparable(Reading(500.0, head, "LED"), Reading(400.0, head, "LED")).ratio)
    1.25
    """
    units = [reading.array.attrs["units"] for reading in (first, second)]
    if units[0] != units[1]:
        raise UnitsError(f"{first} is in {quote(units[0])}, and {second} is in {quote(units[1])}")
    differ = _differences(first, second)
    if not differ and target is None:
        return _side_by_side(first.array, second.array, "one head under one source, compared as read")
    missing = [line for reading in (first, second) for line in _missing(reading)]
    why = " and ".join(differ) or "another target"
    if missing:
        raise RangeError(
            f"{first} and {second} cannot be compared as read ({why}), nor be corrected: "
            f"{'; '.join(dict.fromkeys(missing))}. {_ADVICE}. Uncorrected, a head calibrated near 365 nm can "
            "show a tenth or less of an LED near 400 nm"
        )
    stated = [reading.head.target for reading in (first, second)]
    if target is None and not _same_target(*stated):
        raise RangeError(
            f"{first.head} states {described(stated[0])}, and {second.head} {described(stated[1])}: "
            "these are different quantities. Say which band both should state, as in target=(315, 400)"
        )
    one, other = corrected_reading(first, target), corrected_reading(second, target)
    return _side_by_side(one, other, f"compared after correction ({why})")


def _differences(first: Reading, second: Reading) -> list[str]:
    """What keeps two readings from being compared as they are."""
    same_source = (
        first.source == second.source if first.source else first.spectrum is second.spectrum is not None
    )
    return [
        *([] if first.head.same_as(second.head) else ["two heads"]),
        *([] if same_source else ["two sources"]),
    ]


def _missing(reading: Reading) -> list[str]:
    """What a correction would need and is not known."""
    head, missing = reading.head, []
    if head.curve is None:
        line = f"there is no response curve of {head}"
        if head.band is not None:
            line += " (limits alone do not say what it is between and beyond them: state its shape)"
        elif head.label:
            line += f" (the label {quote(head.label)} says neither limits nor shape)"
        missing.append(line)
    if head.calibration is None:
        missing.append(f"there is no spectrum of the source that {head} was calibrated with")
    if reading.spectrum is None:
        missing.append(f"there is no spectrum of {quote(reading.source) if reading.source else 'its source'}")
    if early := read_before(head.calibrated, reading.array):
        missing.append(early)
    return missing


def _assumed(head: Head) -> str:
    if head.response is not None:
        return ""
    return f"the response of {head} is assumed: {head.shape}, from the limits {described(head.band)}"


def _left_out(head: Head, result: xr.DataArray) -> str:
    uncertainty = measured(head.standard_uncertainty, "1").value
    drawn = isinstance(head.gain, xr.DataArray) and "draw" in head.gain.dims
    if not uncertainty or drawn or "draw" not in result.dims:
        return ""
    return (
        f"the draws leave out the calibration of {head}, {uncertainty:.2g} relative: give a gain with draws"
    )


def _quantity(array: xr.DataArray) -> str:
    return "irradiance" if array.attrs.get("units") == "W m-2" else "radiant exposure"


def _same_target(first: Target, second: Target) -> bool:
    if first is None or second is None:
        return first is second
    one, other = target_curve(first), target_curve(second)
    return all(
        a.shape == b.shape and bool((a == b).all())
        for a, b in ((one.wavelength, other.wavelength), (one.values, other.values))
    )


@declares(value="*", gain="1", factor="1")
def _times(value: xr.DataArray, gain: xr.DataArray | float, factor: xr.DataArray) -> xr.DataArray:
    result: xr.DataArray = value * gain * factor
    return result.assign_attrs(units=value.attrs["units"])


@declares(first="*", second="*")
def _side_by_side(first: xr.DataArray, second: xr.DataArray, how: str) -> xr.Dataset:
    ratio = (first / second).rename(None)
    ratio.attrs = {"units": "1", "long_name": "ratio of the first reading to the second"}
    return xr.Dataset({"first": first, "second": second, "ratio": ratio}, attrs={"comment": how})
