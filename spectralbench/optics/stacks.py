"""A stack of layers: what it passes, what it reflects, and where the rest stays."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.errors import RangeError
from spectralbench.optics.surfaces import (
    Spectral,
    Values,
    require_indices,
    require_shares,
    require_tilt,
    shares,
)
from spectralbench.units import declares


@declares(internal="1", index="1", before="1", after="1", tilt="deg")
def stack(
    internal: xr.DataArray,
    index: Spectral,
    before: Spectral = 1.0,
    after: Spectral = 1.0,
    tilt: float | str | xr.DataArray = 0.0,
) -> xr.Dataset:
    """Light through a stack of layers, all reflections at all surfaces included.

    Parameters
    ----------
    internal : xarray.DataArray (layer, ...)
        Internal transmittance of each layer at normal incidence [1], in the order in which
        the light meets them. A gap of air is a layer too: it passes 1 and has index 1.
    index : xarray.DataArray (layer, ...) or float
        Refractive index of each layer [1]; without the dimension ``layer``, of all.
    before, after : xarray.DataArray (...) or float
        Refractive index of what lies in front and behind [1]; air by default.
    tilt : xarray.DataArray (...), float or str
        Angle between the light and the normal, in the medium before [deg].

    Returns
    -------
    xarray.Dataset
        ``transmittance`` and ``reflectance`` (...), and ``absorbed`` (layer, ...): shares of
        the light that falls on the first surface [1]. They add up to 1.

    Raises
    ------
    RangeError
        If there is no layer, `before`, `after` or `tilt` has the dimension ``layer``, an index
        is not above 0, an internal transmittance lies outside 0–1, or a tilt outside 0–90°.
    GridError
        If the arrays do not fit together.

    Notes
    -----
    Each surface reflects after Fresnel (Born & Wolf, Principles of Optics, 7th ed., 1.5.2),
    each layer absorbs after Lambert, along a way that a tilt lengthens by one over its cosine
    in the layer. Energies add, not waves. Unpolarised light is the mean of its two
    polarisations, each carried through the whole stack. Light that a surface reflects totally
    does not pass it, however thin what lies behind. That a layer absorbs does not change what
    its surfaces reflect: true as long as it takes many wavelengths to absorb.

    Examples
    --------
    >>> cover_and_window = xr.DataArray([0.9, 1.0], dims="layer")
    >>> found = stack(cover_and_window, xr.DataArray([1.585, 1.474], dims="layer"), after=1.5)
    >>> round(float(found.transmittance), 4), found.absorbed.values.round(4).tolist()
    (0.8528, [0.095, 0.0])
    """
    bulk, indices = xr.DataArray(internal), xr.DataArray(index)
    if not bulk.sizes.get("layer"):
        raise RangeError(
            "internal has the dimension layer, one entry for each layer in the order in which the light "
            f"meets them; this one has the dimensions {bulk.dims} and sizes {bulk.shape}"
        )
    for name, value in {"before": before, "after": after, "tilt": tilt}.items():
        if "layer" in getattr(value, "dims", ()):
            raise RangeError(f"{name} belongs to the whole stack: it has no dimension layer")
    require_shares(bulk)
    require_indices(indices, before, after)
    require_tilt(tilt)  # type: ignore[arg-type]
    if "layer" not in indices.dims:
        indices = indices.expand_dims(layer=bulk.sizes["layer"])
    passed, reflected, absorbed = xr.apply_ufunc(
        _through_layers,
        *(bulk, indices, xr.DataArray(before), xr.DataArray(after), xr.DataArray(tilt)),
        input_core_dims=[["layer"], ["layer"], [], [], []],
        output_core_dims=[[], [], ["layer"]],
        join="exact",
        keep_attrs=False,
    )
    named = {
        "transmittance": (passed, "transmittance of a stack"),
        "reflectance": (reflected, "reflectance of a stack"),
        "absorbed": (absorbed.transpose("layer", ...), "share absorbed in a layer"),
    }
    return xr.Dataset(
        {
            name: array.assign_attrs(units="1", long_name=long_name)
            for name, (array, long_name) in named.items()
        }
    )


def _through_layers(
    bulk: Values, index: Values, before: Values, after: Values, tilt: Values
) -> tuple[Values, Values, Values]:
    count = bulk.shape[-1]
    media = [before, *(index[..., i] for i in range(count)), after]
    passed, reflected, absorbed = shares([bulk[..., i] for i in range(count)], media, tilt)
    shape = np.broadcast_shapes(*(np.shape(a) for a in (passed, reflected, *absorbed)))
    layers = np.stack([np.broadcast_to(array, shape) for array in absorbed], axis=-1)
    return np.broadcast_to(passed, shape), np.broadcast_to(reflected, shape), layers
