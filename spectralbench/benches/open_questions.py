"""What a bench leaves open, and what follows from it, in words."""

from __future__ import annotations

import xarray as xr

from spectralbench import optics
from spectralbench.benches.schema import Manifest


def collected(manifest: Manifest) -> list[str]:
    """What is to be asked of parts that may scatter.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        A sentence for each part that was not measured both ways.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> print(collected(read_manifest(demo)[0])[0][:60])
    haze of cover: was the light behind it collected in a sphere
    """
    one = xr.DataArray(1.0)
    said = {
        "total": str(optics.transmittance_limits(total=one).attrs["comment"]),
        "regular": str(optics.transmittance_limits(regular=one).attrs["comment"]),
        None: "was the light behind it collected in a sphere, or only what goes straight on (collected)? If "
        "the part scatters, they differ, and the bond line gets something between the two",
    }
    return [f"haze of {part.name}: {said[part.collected]}" for part in manifest.part if part.regular is None]


def unscanned(manifest: Manifest) -> list[str]:
    """What nobody knows of spots that were not scanned.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        One sentence, or none if every spot was held against the width of the bond.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> manifest = read_manifest(demo)[0]
    >>> bond = manifest.adhesive.model_copy(update={"bond_width": None})
    >>> unscanned(manifest.model_copy(update={"adhesive": bond}))[0][:32]
    'evenness: nobody says how wide t'
    """
    if manifest.adhesive.bond_width is None:
        return [
            "evenness: nobody says how wide the bond is (bond_width), so that the figures are those of the "
            "middle of each spot"
        ]
    if manifest.requirement.speed is not None:
        return ["evenness: scans lie along the travel, so that nobody knows how the bond is lit across it"]
    names = [source.name for source in manifest.source if source.profile is None]
    if not names:
        return []
    return [
        f"evenness: the spot of {'; '.join(names)} was not scanned (profile), so that the figures are those "
        "of its middle"
    ]
