"""The way of the light, wavelength by wavelength: sent, passed, absorbed."""

from __future__ import annotations

import xarray as xr

from spectralbench import cure, optics
from spectralbench.benches.at_bond import light_in_use
from spectralbench.benches.folder import manifest_of
from spectralbench.benches.stacking import estimate


def strips_of(tree: xr.DataTree) -> xr.Dataset:
    """What each source sends, each part passes and each initiator takes, as it counts in a comparison.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench` or `adjust`; of draws, their means.

    Returns
    -------
    xarray.Dataset
        ``sent`` (source, wavelength) [W m-2 nm-1] where each source will stand, with those that shine
        together; ``passed`` (part, wavelength) [1], the last one as it is bonded; ``taken``
        (initiator, wavelength) [1], the share of the light at the bond line that each initiator takes
        beside the others, resin and pigment; ``absorbed`` (source, wavelength) [W m-2 nm-1], what the
        initiators take of each source.

    Examples
    --------
    >>> found = strips_of(reduced)
    >>> led = found.sel(source="LED 405")
    >>> round(float((led.absorbed / led.sent).sel(wavelength=405, method="nearest")), 2)
    0.08
    """
    parts, adhesive = tree["parts"].to_dataset(), tree["adhesive"].to_dataset()
    sent = estimate(light_in_use(tree, manifest_of(tree)))
    passed = estimate(parts.get("bonded_transmittance", parts["transmittance"]))
    initiators = estimate(adhesive["absorbance"])
    whole = initiators.sum("initiator", skipna=False)
    film = whole + estimate(adhesive["background"]) if "background" in adhesive else whole
    at_bond = optics.through(sent, *(passed.isel(part=i, drop=True) for i in range(passed.sizes["part"])))
    absorbed = optics.taken(at_bond, cure.absorbed_share(film, whole)).assign_attrs(units="W m-2 nm-1")
    taken = cure.absorbed_share(film, initiators)
    return xr.Dataset({"sent": sent, "passed": passed, "taken": taken, "absorbed": absorbed})
