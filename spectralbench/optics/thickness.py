"""The same material in another thickness."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.model import noted
from spectralbench.optics.slabs import internal_transmittance, limited, slab_transmittance
from spectralbench.optics.surfaces import Spectral
from spectralbench.units import declares

_NAMED = 4  # stretches of wavelengths that a comment names; the rest are counted


@declares("1", internal="1", thickness="mm", new_thickness="mm")
def scale_thickness(
    internal: Spectral, thickness: float | str | xr.DataArray, new_thickness: float | str | xr.DataArray
) -> xr.DataArray:
    """Internal transmittance of the same material in another thickness.

    Parameters
    ----------
    internal : xarray.DataArray (...) or float
        Internal transmittance [1], never the transmittance with its surfaces.
    thickness, new_thickness : float, str or xarray.DataArray (...)
        The thickness it belongs to, and the one that is wanted [mm].

    Returns
    -------
    xarray.DataArray (...)
        Internal transmittance [1].

    Raises
    ------
    RangeError
        If a thickness is not positive (the new one may be 0), or the transmittance negative.

    Notes
    -----
    Lambert's law: the logarithm grows with the thickness (IUPAC Gold Book, B00626).

    Examples
    --------
    >>> round(float(scale_thickness(0.9, "3 mm", "1 mm")), 7)
    0.9654894
    """
    bulk, old, new = xr.DataArray(internal), xr.DataArray(thickness), xr.DataArray(new_thickness)
    if not ((old > 0).all() and (new >= 0).all()):
        raise RangeError(
            f"a thickness is more than 0 mm (the new one may be 0), not {float(old.min()):g} "
            f"and {float(new.min()):g} mm"
        )
    if (bulk < 0).any():
        raise RangeError(f"an internal transmittance is not negative; this one reaches {float(bulk.min()):g}")
    result: xr.DataArray = bulk ** (new / old)
    return result.rename("internal_transmittance").assign_attrs(long_name="internal transmittance")


@declares("1", transmittance="1", index="1", thickness="mm", new_thickness="mm", floor="1")
def predict_thickness(
    transmittance: Spectral,
    index: Spectral,
    thickness: float | str | xr.DataArray,
    new_thickness: float | str | xr.DataArray,
    floor: Spectral,
) -> xr.DataArray:
    """Transmittance that a part of another thickness would have, with its surfaces, in air.

    Parameters
    ----------
    transmittance : xarray.DataArray (...) or float
        Transmittance of the part with its surfaces [1], measured in air.
    index : xarray.DataArray (...) or float
        Refractive index of the material [1].
    thickness, new_thickness : xarray.DataArray (...), float or str
        Of the part that was measured, and of the one that is wanted [mm].
    floor : xarray.DataArray (...) or float
        What the bench reads as transmittance where nothing passes [1]: its noise and stray
        light.

    Returns
    -------
    xarray.DataArray (...)
        Transmittance of the other part [1]. NaN where the measured one lies at or below the
        floor, because any thickness could follow from it; ``attrs["comment"]`` names those
        wavelengths. With a dimension ``draw``, the mean of the draws decides.

    Raises
    ------
    RangeError
        If everything lies at or below the floor, the floor is negative, a thickness is not
        positive (the new one may be 0), or an index is not positive.
    GridError
        If arrays do not fit together.

    Notes
    -----
    Without its surfaces, scaled by Lambert's law (`scale_thickness`), and with them again. The
    same resin and colour are assumed: grades and batches differ more than this arithmetic.
    A thinner part multiplies doubt where little passes: the relative uncertainty goes by the
    ratio of the thicknesses, but the transmittance itself grows, so that from 3 mm to 1 mm
    0.001 ± 0.001 becomes 0.1 ± 0.03, thirty times as far off. A thicker part multiplies the
    relative one. An internal transmittance above 1 counts as 1, as in `wetted`, and a draw
    below 0 as 0.

    Examples
    --------
    >>> measured = slab_transmittance(xr.DataArray([0.9, 0.0]), 1.5)
    >>> predict_thickness(measured, 1.5, "3 mm", "1 mm", floor=0.001).values.round(4).tolist()
    [0.8911, nan]
    """
    passed, dark = xr.DataArray(transmittance), xr.DataArray(floor)
    if (dark < 0).any():
        raise RangeError(f"a noise floor is not negative; this one reaches {float(dark.min()):g}")
    judged = passed.mean("draw") if "draw" in passed.dims else passed
    known, lost = judged > dark, judged <= dark
    if lost.any() and not known.any():
        raise RangeError(
            f"the measured transmittance, up to {float(judged.max()):.3g}, nowhere rises above the floor of "
            f"{float(dark.max()):.3g}: nothing follows for another thickness; measure a thinner part"
        )
    bulk, comment = limited(internal_transmittance(passed, index).where(known).clip(min=0))
    result = slab_transmittance(scale_thickness(bulk, thickness, new_thickness), index)
    comments = [comment] if comment else []
    if lost.any():
        comments.insert(0, f"not valid{_where(lost)}: the measured transmittance lies at or below the floor")
    result.attrs["long_name"] = "transmittance predicted for another thickness"
    if comments:
        result.attrs["comment"] = "; ".join(comments)
    step = f"predicted for a thickness of {_mean(new_thickness)} from one of {_mean(thickness)}"
    return noted(result, f"{step}, above a floor of {_mean(dark, '')}", passed)


def _where(lost: xr.DataArray) -> str:
    """The stretches of wavelengths of which something is lost, for a sentence."""
    if "wavelength" not in lost.dims:
        return ""
    anywhere = lost.any([name for name in lost.dims if name != "wavelength"]).values
    grid = lost.coords["wavelength"].values
    edges = np.flatnonzero(np.diff(anywhere, prepend=False, append=False))
    stretches = [
        f"{grid[first]:g} nm" if last == first + 1 else f"{grid[first]:g}–{grid[last - 1]:g} nm"
        for first, last in edges.reshape(-1, 2)
    ]
    more = f" and {len(stretches) - _NAMED} more stretches" if len(stretches) > _NAMED else ""
    return f" at {', '.join(stretches[:_NAMED])}{more}"


def _mean(value: float | str | xr.DataArray, unit: str = " mm") -> str:
    return f"{float(np.mean(np.asarray(value, dtype=float))):.4g}{unit}"
