"""Where in the bond line the light is absorbed: by depth, from its front to its back."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench import cure, optics
from spectralbench.comparison.figure_names import FIGURES
from spectralbench.units import declares

_DEPTHS = 41  # of a profile


@declares(spectrum="W m-2 nm-1", transmittance="1", absorbance="1", thickness="m", background="1")
def by_depth(
    spectrum: xr.DataArray,
    transmittance: xr.DataArray,
    absorbance: xr.DataArray,
    thickness: float | str,
    background: xr.DataArray | None = None,
) -> xr.Dataset:
    """Where in the bond line the photons are absorbed, from its front to its back.

    Parameters
    ----------
    spectrum : xarray.DataArray (source, ..., wavelength)
        Spectral irradiance at the part [W m-2 nm-1].
    transmittance : xarray.DataArray (part, ..., wavelength)
        Transmittance of each part [1].
    absorbance : xarray.DataArray (initiator, ..., wavelength)
        Decadic absorbance of each initiator in the bond line [1].
    thickness : float or str
        Of the bond line [m].
    background : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of resin and pigment in it [1].

    Returns
    -------
    xarray.Dataset
        From the means of the draws: ``absorbed_by_depth`` (source, depth) [µmol m-3 s-1], and
        ``back_by_front`` (source) [1], its last value against its first.

    Raises
    ------
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Notes
    -----
    See `spectralbench.absorbed_profile` for the law and what it leaves out.

    Examples
    --------
    >>> grid = {"wavelength": [364.0, 365.0, 366.0]}
    >>> light = xr.DataArray([[10.0, 10.0, 10.0]], grid, ("source", "wavelength"))
    >>> film = xr.DataArray([[1.0, 1.0, 1.0]], grid, ("initiator", "wavelength"))
    >>> found = by_depth(light, film.rename(initiator="part") * 0.5, film, "100 um")
    >>> round(found.back_by_front.item(), 9)
    0.1
    """
    light, parts, films = (
        array.mean("draw", keep_attrs=True) if "draw" in array.dims else array
        for array in (spectrum, transmittance, absorbance)
    )
    initiators = whole = films.sum("initiator", skipna=False)
    if background is not None:
        whole = whole + (background.mean("draw") if "draw" in background.dims else background)
    depths = np.linspace(0.0, float(thickness), _DEPTHS)
    profile = cure.absorbed_profile(
        optics.through(light, *(parts.isel(part=i, drop=True) for i in range(parts.sizes["part"]))),
        whole,
        float(thickness),
        depths,
        initiators,
    )
    front = profile.isel(depth=0, drop=True)
    ratio = profile.isel(depth=-1, drop=True) / front.where(front != 0, 1.0)
    return xr.Dataset(
        {
            "absorbed_by_depth": profile.transpose("source", "depth"),
            "back_by_front": ratio.drop_attrs(deep=False).assign_attrs(FIGURES["back_by_front"]._asdict()),
        }
    )
