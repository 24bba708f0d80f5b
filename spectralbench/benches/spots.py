"""How the spot of each source lies on the bond: from the scan across its beam, or as it was stated."""

from __future__ import annotations

from math import isclose

import numpy as np
import xarray as xr

from spectralbench.beam import beam_profile, share_on_disc, spot, travelling_exposure, uniformity
from spectralbench.benches.folder import array_of, blamed
from spectralbench.benches.placing import stands_at
from spectralbench.benches.schema import Manifest, Source
from spectralbench.errors import RangeError

_SAID = {
    "spot_size": ("mm", "width of the spot at half of its highest irradiance"),
    "least_lit": ("1", "irradiance at the least lit place of the bond, against the middle of the spot"),
    "share_on_bond": ("1", "share of the light that falls on a round bond as wide as stated"),
    "lit_length": ("mm", "length of an even beam that gives a travelling part the same exposure"),
    "lit_length_of_photons": ("mm", "the same, for an adhesive that is not reciprocal"),
}

IN_PLACE = tuple(name for name in _SAID if name != "least_lit")
"""What a scan says only of the distance at which it was taken."""


def spots(tree: xr.DataTree, manifest: Manifest) -> xr.Dataset:
    """Put figures on the spot of each source.

    Parameters
    ----------
    tree : xarray.DataTree
        From `open_bench`.
    manifest : Manifest
        Its manifest.

    Returns
    -------
    xarray.Dataset
        By ``source``: ``spot_size`` [mm], from its scan or else as stated; ``least_lit`` [1], the
        lowest irradiance over the width of the bond against that in the middle of the spot;
        ``share_on_bond`` [1] of all light, as if spot and bond were round; ``lit_length`` and
        ``lit_length_of_photons`` [mm], the integral of the scan, and of its power to the reciprocity
        exponent, against its middle. NaN where there is no scan, or no width of the bond is stated. Of a scan
        from another distance than that at which the source will stand, only ``least_lit`` is kept.

    Raises
    ------
    BenchError
        If a scan does not cover the bond, or shows no spot.

    Notes
    -----
    The spectrometer is taken to have stood in the middle of the spot, and the bond to lie there. Where
    the part travels, the scan lies along its way and says nothing of the width of the bond.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of, open_bench
    >>> tree = open_bench(demo)
    >>> bool((spots(tree, manifest_of(tree)).spot_size > 4).all())
    True
    """
    each = []
    for number, source in enumerate(manifest.source, 1):
        with blamed(tree, f"source.{number}.profile", _EXPECTED):
            each.append(_spot(tree, manifest, source))
    names = [source.name for source in manifest.source]
    found = {
        name: ("source", [one.get(name, np.nan) for one in each], {"units": units, "long_name": words})
        for name, (units, words) in _SAID.items()
    }
    return xr.Dataset(found, {"source": names})


_EXPECTED = "a scan across the whole spot and the whole bond, as wide as adhesive.bond_width says"


def _spot(tree: xr.DataTree, manifest: Manifest, source: Source) -> dict[str, float]:
    """Figures of one source, as far as they are known."""
    stated = np.nan if source.spot is None else source.spot.value
    if source.profile is None:
        return {"spot_size": stated}
    node = f"/source/{source.name}/profile"
    reading = "irradiance" if "irradiance" in tree[node] else "relative_output"
    profile = beam_profile(array_of(tree, node, reading))
    if not float(profile.max(skipna=False)) > 0:
        raise RangeError("a scan without light, or with readings that are not valid")
    profile = (profile / profile.max()).assign_attrs(units="W m-2")
    size = spot(profile)
    if not np.isfinite(float(size["size"])):
        raise RangeError("a scan that does not fall to half of its highest reading on both sides")
    middle = float(size["centre"])
    here = float(profile.interp(position=middle / 1e3))  # the scan is in metres
    found = {"spot_size": float(size["size"]), "lit_length": _length(profile, here)}
    exponent = manifest.adhesive.reciprocity.value
    powered = (profile.clip(min=0) ** exponent).assign_attrs(profile.attrs)
    found["lit_length_of_photons"] = _length(powered, here**exponent)
    if manifest.adhesive.bond_width is not None and manifest.requirement.speed is None:
        half = manifest.adhesive.bond_width.value / 2
        found["least_lit"] = float(uniformity(profile, middle - half, middle + half)["lowest"]) / here
        found["share_on_bond"] = float(share_on_disc(profile, 2 * half, middle))
    if not scanned_in_place(source):  # the spot is another one there; how even it is, at least a guess
        return {name: value for name, value in found.items() if name not in IN_PLACE}
    return found


def scanned_in_place(source: Source) -> bool:
    """Whether the beam of a source was scanned at the distance at which it will stand.

    Parameters
    ----------
    source : Source
        A source of the manifest.

    Returns
    -------
    bool
        A scan is taken to be from the distance of the frame, unless ``profile_distance`` says another.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> scanned_in_place(read_manifest(demo)[0].source[0])
    True
    """
    if source.profile is None:
        return False
    return isclose((source.profile_distance or source.distance).value, stands_at(source), rel_tol=1e-3)


def _length(profile: xr.DataArray, here: float) -> float:
    """Integral of a scan over its positions, against its middle [mm]."""
    return float(travelling_exposure(profile, 1.0)) / here
