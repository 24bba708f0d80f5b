"""Competition for the light: initiators, resin and pigment share what the bond line absorbs."""

from __future__ import annotations

import xarray as xr

from spectralbench.cure.absorption import absorbed_photons, absorbed_share
from spectralbench.cure.ranges import require_not_negative
from spectralbench.errors import GridError
from spectralbench.units import declares


@declares("1", absorbances="1")
def shares_by_absorber(absorbances: xr.DataArray) -> xr.DataArray:
    """Share of the light that each absorber in a bond line takes.

    Parameters
    ----------
    absorbances : xarray.DataArray (absorber, ..., wavelength)
        Decadic absorbance of every absorber over the whole bond line: initiators, resin,
        pigment [1]. The dimension may be called ``initiator`` if there are no others.

    Returns
    -------
    xarray.DataArray (absorber, ..., wavelength)
        Share of the incoming light [1]. They add up to what the bond line absorbs.

    Raises
    ------
    GridError
        If there is neither a dimension ``absorber`` nor ``initiator``.
    RangeError
        If an absorbance is negative.

    Notes
    -----
    At every depth each absorber takes light in proportion to its absorption coefficient, and
    all are evenly mixed: so they share the absorbed light by their absorbances (Beer-Lambert
    law for a mixture, IUPAC Gold Book, B00626). Light that resin or pigment takes starts
    nothing, and turns to heat.

    Examples
    --------
    >>> film = xr.DataArray([[0.5], [1.5]], {"absorber": ["initiator", "pigment"],
    ...                                      "wavelength": [365.0]}, ("absorber", "wavelength"))
    >>> shares_by_absorber(film).values.ravel().round(12).tolist()
    [0.2475, 0.7425]
    """
    along = _absorbers(absorbances)
    require_not_negative("an absorbance", absorbances)
    whole = absorbances.sum(along, skipna=False)
    share = absorbed_share(whole, absorbances).transpose(along, ..., "wavelength")
    return share.rename("share").assign_attrs(long_name="share of the light that each absorber takes")


@declares("umol m-2 s-1", spectrum="W m-2 nm-1", absorbances="1", background="1")
def photons_by_initiator(
    spectrum: xr.DataArray, absorbances: xr.DataArray, background: xr.DataArray | None = None
) -> xr.DataArray:
    """Photons that each initiator absorbs: which one works under which source.

    Parameters
    ----------
    spectrum : xarray.DataArray (..., wavelength)
        Spectral irradiance at the bond line [W m-2 nm-1].
    absorbances : xarray.DataArray (initiator, ..., wavelength)
        Decadic absorbance of each initiator over the whole bond line [1].
    background : xarray.DataArray (..., wavelength), optional
        Decadic absorbance of all that starts nothing, resin and pigment together [1]. It takes
        its share of the light, and that share is in no initiator's figure.

    Returns
    -------
    xarray.DataArray (initiator, ...)
        Absorbed photon irradiance [µmol m-2 s-1].

    Raises
    ------
    GridError
        If there is no dimension ``initiator`` or ``absorber``, or grids differ.
    RangeError
        If an absorbance is negative.

    Notes
    -----
    See `shares_by_absorber`. A photon absorbed is not yet a radical: initiators differ in
    quantum yield, and none is assumed here.

    Examples
    --------
    An initiator that ends before 400 nm, and one that goes on, under two narrow sources:

    >>> import numpy as np
    >>> grid = {"wavelength": [360.0, 370.0, 400.0, 410.0]}
    >>> light = xr.DataArray([[100.0, 100, 0, 0], [0, 0, 100.0, 100]], grid, ("source", "wavelength"))
    >>> films = xr.DataArray([[0.3, 0.3, 0, 0], [0.1, 0.1, 0.2, 0.2]], grid, ("initiator", "wavelength"))
    >>> photons_by_initiator(light, films).values.round().tolist()
    [[3472.0, 0.0], [1157.0, 3100.0]]
    """
    along = _absorbers(absorbances)
    require_not_negative("an absorbance", absorbances)
    whole = absorbances.sum(along, skipna=False)
    if background is not None:
        require_not_negative("the absorbance of the background", background)
        whole = whole + background
    photons = absorbed_photons(spectrum, whole, absorbances).transpose(along, ...)
    return photons.assign_attrs(long_name="photons absorbed by each initiator")


def _absorbers(absorbances: xr.DataArray) -> str:
    """The dimension along which absorbers stand."""
    for name in ("absorber", "initiator"):
        if name in absorbances.dims:
            return name
    raise GridError(
        f"the absorbances have the dimensions {', '.join(map(str, absorbances.dims))}; expected absorber or "
        "initiator among them: stack the absorbers along it"
    )
