"""Two sources, a part and a film whose figures can be worked out by hand, for all tests of the comparison."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.comparison import Requirement

GRID = np.array([360.0, 370.0, 400.0, 410.0])
NAMES = ["near 365", "near 405"]
MANY = np.linspace(0.9, 1.1, 1000)


def rows(values, dimension, names):
    return xr.DataArray(
        np.asarray(values, float), {dimension: names, "wavelength": GRID}, (dimension, "wavelength")
    )


# trapezoids: 250 W m-2 of either source, of which 25 and 200 get through the part
LIGHT = rows([[10, 10, 0, 0], [0, 0, 10, 10]], "source", NAMES).assign_attrs(units="W m-2 nm-1")
PART = rows([[0.1, 0.1, 0.8, 0.8]], "part", ["cover"])
FILM = rows([[1.0, 1.0, 0.5, 0.5], [0.0, 0.0, 0.5, 0.5]], "initiator", ["a", "b"])


def needed(**changes):
    """The same requirement in all tests, but for what they change."""
    return Requirement(**{"low": 360, "high": 410, "minimum_irradiance": 50.0, "dose": 500.0} | changes)


def drawn(factors, light=LIGHT):
    """The light of both sources in draws."""
    return (light * xr.DataArray(np.asarray(factors, float), dims="draw")).assign_attrs(light.attrs)
