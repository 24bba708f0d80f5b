"""Candidates against requirements: figures at the bond line, verdicts, reasons, an order.

Each criterion is met, not met or not known, with the figure that decides, in words. There is
no blended score. Nothing here claims a cure: the result is a list of what to test first.
"""

from __future__ import annotations

import xarray as xr

from spectralbench.comparison.cautions import CAUTIONS
from spectralbench.comparison.figures import FIGURES, figures_at_bond_line
from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.verdicts import MET, NOT_KNOWN, NOT_MET, RULE, in_words, judge
from spectralbench.units import declares

__all__ = [
    "CAUTIONS",
    "FIGURES",
    "MET",
    "NOT_KNOWN",
    "NOT_MET",
    "RULE",
    "Requirement",
    "compare_sources",
    "figures_at_bond_line",
    "in_words",
    "judge",
]


@declares(
    spectrum="W m-2 nm-1",
    transmittance="1",
    absorbance="1",
    end_of_life="1",
    electrical_power="W",
)
def compare_sources(
    spectrum: xr.DataArray,
    transmittance: xr.DataArray,
    absorbance: xr.DataArray,
    requirement: Requirement,
    end_of_life: xr.DataArray | None = None,
    electrical_power: xr.DataArray | None = None,
) -> xr.Dataset:
    """Compare light sources at the bond line.

    Parameters
    ----------
    spectrum : xarray.DataArray (source, ..., wavelength)
        Spectral irradiance at the part [W m-2 nm-1].
    transmittance : xarray.DataArray (part, wavelength)
        Transmittance of each part that the light passes [1].
    absorbance : xarray.DataArray (initiator, wavelength)
        Decadic absorbance of each initiator in the bond line [1].
    requirement : Requirement
        What the light has to do.
    end_of_life : xarray.DataArray (source,), optional
        Output at the end of life, relative to that of today [1]; NaN where it is not known.
    electrical_power : xarray.DataArray (source,), optional
        Electrical power while the source is on [W]; NaN where it is not known.

    Returns
    -------
    xarray.Dataset
        By ``source``, in the order of `spectrum`: the figures of `figures_at_bond_line` with
        the verdicts, reasons and places of `judge`.

    Raises
    ------
    RangeError
        If the requirement's band or the data sheet's wavelength lies outside the spectra.
    GridError, UnitsError
        If grids differ, or a unit is of another kind.

    Examples
    --------
    >>> grid = {"wavelength": [360.0, 370.0, 400.0, 410.0]}
    >>> light = xr.DataArray([[10.0, 10, 0, 0], [0, 0, 10, 10]], dims=("source", "wavelength"),
    ...                      coords={"source": ["near 365", "near 405"], **grid})
    >>> part = xr.DataArray([[0.1, 0.1, 0.8, 0.8]], grid, ("part", "wavelength"))
    >>> film = xr.DataArray([[0.1, 0.1, 0.1, 0.1]], grid, ("initiator", "wavelength"))
    >>> result = compare_sources(light, part, film, Requirement(360, 410, 100.0, 500.0))
    >>> result.verdict.sel(criterion="irradiance").values.tolist()
    ['not met', 'met']
    >>> result.place.values.tolist()
    [2, 1]
    """
    figures = figures_at_bond_line(
        spectrum, transmittance, absorbance, requirement, end_of_life, electrical_power
    )
    return judge(figures, requirement)
