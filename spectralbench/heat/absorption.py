"""Where light becomes heat."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench import weightings
from spectralbench.errors import GridError, RangeError
from spectralbench.model import noted
from spectralbench.optics import taken
from spectralbench.units import declares

_ROUNDING = 1e-9  # by which shares that are worked out may pass 1


@declares("W m-2", spectrum="W m-2 nm-1", absorbed="1", used="1")
def heat_by_layer(
    spectrum: xr.DataArray, absorbed: xr.DataArray, used: xr.DataArray | float | str = 0.0
) -> xr.DataArray:
    """Light that becomes heat in each layer.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance in front of the first layer [W m-2 nm-1].
    absorbed : xarray.DataArray (layer, ..., wavelength)
        Share of it that each layer absorbs [1], on the same grid.
    used : float, str or xarray.DataArray ([layer,] ...)
        Share of the absorbed light that never becomes heat [1]: stored in bonds, or leaving as
        fluorescence. 0, the default, takes all of it as heat, which is never too little.

    Returns
    -------
    xarray.DataArray (layer, ...)
        Absorbed irradiance that becomes heat [W m-2].

    Raises
    ------
    RangeError
        If a share lies outside 0–1, or the layers absorb more than there is.
    GridError
        If there is no dimension ``layer``, or grids differ.

    Examples
    --------
    >>> grid = {"wavelength": [364.5, 365.5]}
    >>> light = xr.DataArray([100.0, 100.0], grid, "wavelength")
    >>> shares = xr.DataArray([[0.2, 0.2], [0.5, 0.5]], grid, ("layer", "wavelength"))
    >>> heat_by_layer(light, shares).values.tolist()
    [20.0, 50.0]
    """
    if "layer" not in absorbed.dims:
        raise GridError(f"absorbed shares have a dimension layer, not only {absorbed.dims}")
    share = xr.DataArray(used)
    if (absorbed < -_ROUNDING).any():
        raise RangeError(f"a layer absorbs 0 or more, not {float(absorbed.min()):g} of the light")
    together = absorbed.sum("layer")
    if (together > 1 + _ROUNDING).any():
        raise RangeError(
            f"the layers absorb up to {float(together.max()):g} of the light, which is more than all"
        )
    if not ((share >= 0) & (share <= 1) | share.isnull()).all():
        raise RangeError(
            "the share of light that is used lies in 0–1, not at "
            f"{float(share.min()):g} to {float(share.max()):g}"
        )
    grid = np.asarray(absorbed.coords["wavelength"].values, dtype=float)
    whole = weightings.weights(grid)
    if set(absorbed.dims) == {"layer", "wavelength"}:
        vectors = whole[:, None] * absorbed.transpose("wavelength", "layer").values
        heat = weightings.integrate(spectrum, vectors).rename(weighting="layer")
        heat = heat.assign_coords(absorbed.isel(wavelength=0, drop=True).coords)
    else:
        each = [taken(spectrum, absorbed.isel(layer=i)) for i in range(absorbed.sizes["layer"])]
        heat = xr.concat(
            [weightings.integrate(one, whole) for one in each], absorbed.coords.get("layer", "layer")
        )
    result = (heat * (1 - share)).transpose("layer", ...).rename("absorbed_irradiance")
    result.attrs = {"long_name": "absorbed irradiance that becomes heat"}
    said = "all of it" if not share.any() else "less the share that is used"
    return noted(result, f"light absorbed by layer became heat, {said}", spectrum)
