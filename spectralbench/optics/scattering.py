"""Parts that scatter: how much, and between which limits light reaches the bond line."""

from __future__ import annotations

import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.units import declares


@declares("1", total="1", regular="1", allowance="1")
def haze(total: xr.DataArray, regular: xr.DataArray, allowance: float | str = 0.01) -> xr.DataArray:
    """Share of the transmitted light that is scattered.

    Parameters
    ----------
    total : xarray.DataArray (...)
        Total transmittance [1], by an integrating sphere behind the part.
    regular : xarray.DataArray (...)
        Regular transmittance [1]: what goes straight on, by a detector far behind.
    allowance : float or str
        By how much noise may carry the regular above the total transmittance [1]; the default
        is common practice, no source.

    Returns
    -------
    xarray.DataArray (...)
        Scattered share [1], slightly negative by noise for a clear part; NaN where nothing
        passes.

    Raises
    ------
    RangeError
        If the regular transmittance lies above the total one by more than the allowance. With
        a dimension ``draw``, the means count.
    GridError, UnitsError
        If arrays do not fit together, or a unit is of another kind.

    Notes
    -----
    One minus regular over total, wavelength by wavelength. The haze of ASTM D1003 is another
    number: weighted with the eye's sensitivity under a visible illuminant, and only what is
    scattered beyond 2.5°. It says nothing about the ultraviolet, where most parts scatter
    more (common practice, no source).

    Examples
    --------
    >>> round(float(haze(xr.DataArray(0.8), xr.DataArray(0.6))), 9)
    0.25
    """
    whole, straight = xr.DataArray(total), xr.DataArray(regular)
    _require_order(whole, straight, float(allowance))
    result: xr.DataArray = 1 - straight / whole.where(whole > 0)
    result = result.rename("haze")
    result.attrs = {"long_name": "scattered share of the transmitted light"}
    return result


@declares(total="1", regular="1", allowance="1")
def transmittance_limits(
    total: xr.DataArray | None = None,
    regular: xr.DataArray | None = None,
    allowance: float | str = 0.01,
) -> xr.Dataset:
    """Limits between which a part that scatters passes light on to the bond line.

    Parameters
    ----------
    total, regular : xarray.DataArray (...), optional
        Total and regular transmittance [1], as in `haze`; one of them may be unknown.
    allowance : float or str
        By how much noise may carry the regular above the total transmittance [1].

    Returns
    -------
    xarray.Dataset (...)
        ``low``, the regular transmittance: what arrives at a bond line far behind the part, or
        of a narrow beam. ``high``, the total one: what arrives close behind it, of a wide
        field. What is unknown is NaN, and ``attrs["comment"]`` says what follows.

    Raises
    ------
    RangeError
        If neither is known, or the regular one is too high, as in `haze`.
    GridError, UnitsError
        If arrays do not fit together, or a unit is of another kind.

    Notes
    -----
    Both as measured in air. Light that is scattered inside a part so steeply that its back
    face keeps it in air does enter adhesive that wets that face, so that a bonded part may
    pass somewhat more than ``high``.

    Examples
    --------
    >>> limits = transmittance_limits(total=xr.DataArray(0.8), regular=xr.DataArray(0.6))
    >>> float(limits.low), float(limits.high)
    (0.6, 0.8)
    """
    if total is None and regular is None:
        raise RangeError("say the total transmittance, the regular one, or better both")
    if total is None or regular is None:
        known = xr.DataArray(total if regular is None else regular)
        unknown = xr.full_like(known, float("nan"), dtype=float)
        low, high = (unknown, known) if regular is None else (known, unknown)
        comment = _ONLY_TOTAL if regular is None else _ONLY_REGULAR
    else:
        low, high = xr.align(xr.DataArray(regular), xr.DataArray(total), join="exact")
        _require_order(high, low, float(allowance))
        high = high.where(~(high < low), low)  # they differ by noise: the part is clear
        comment = _BOTH
    named = {
        "low": (low, "lower limit of the transmittance"),
        "high": (high, "upper limit of the transmittance"),
    }
    return xr.Dataset(
        {
            name: array.drop_attrs(deep=False).assign_attrs(units="1", long_name=long_name)
            for name, (array, long_name) in named.items()
        },
        attrs={"comment": comment},
    )


_BOTH = (
    "regular to total transmittance: the more the light spreads and the closer the bond line lies behind the "
    "part, the nearer to the upper limit"
)
_ONLY_TOTAL = (
    "the regular transmittance is not known: if the part scatters, less than the total one reaches a bond "
    "line that lies farther behind, or that a narrow beam has to reach; for a clear part both are the same"
)
_ONLY_REGULAR = (
    "the total transmittance is not known: if the part scatters, more than the regular one reaches a bond "
    "line close behind it; for a clear part both are the same"
)


def _require_order(total: xr.DataArray, regular: xr.DataArray, allowance: float) -> None:
    if not allowance >= 0:
        raise RangeError(f"an allowance for noise is not negative, not {allowance:g}")
    above = regular - total
    if "draw" in above.dims:
        above = above.mean("draw")
    highest = float(above.max())
    if highest > allowance:
        where = ""
        if "wavelength" in above.dims:
            others = [name for name in above.dims if name != "wavelength"]
            where = f" at {float(above.max(others).idxmax('wavelength')):g} nm"
        raise RangeError(
            f"the regular transmittance lies {highest:.3g} above the total one{where}, more than noise of "
            f"{allowance:g}: it is a part of the total. Were the two swapped, or measured without the sphere?"
        )
