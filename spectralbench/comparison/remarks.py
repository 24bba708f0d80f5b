"""What is said of a figure beside its number: where on the bond, by which initiator, in which layer."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spectralbench.comparison.requirement import Requirement
from spectralbench.comparison.words import by_source, in_words

_NOTICED = 1e-3  # share of the photons from which an initiator is worth a number
_NO_MEANING = 573.15  # K, from which no adhesive stays what it is (from memory)


def where_lit(figures: xr.Dataset) -> list[str]:
    """Where on the bond the irradiance counts, for each source whose spot was scanned."""
    if "least_lit" not in figures:
        return []
    return [
        f"where the bond is lit least, {in_words(share, '1')} of the middle" if np.isfinite(share) else ""
        for share in by_source(figures["least_lit"])
    ]


def needed_for(figures: xr.Dataset, requirement: Requirement) -> str:
    """What a source has to hold its light for, in words."""
    parts = ["irradiance"]
    if figures["required_photons"].notnull().any():
        parts.append("photons")
    if "photons_at_back" in figures and figures["required_at_back"].notnull().any():
        parts.append("oxygen")
    if requirement.speed is not None:
        parts.append("speed")
    elif requirement.maximum_time is not None:
        parts.append("time")
    together = " together" if len(parts) > 1 else ""
    return "needed for " + ", ".join(parts[:-1]) + " and " * (len(parts) > 1) + parts[-1] + together


def at_the_end(figures: xr.Dataset) -> list[str]:
    """How long each source then takes, and what that rests on."""
    exposures, bases = by_source(figures["end_of_life_exposure"]), figures["end_of_life_basis"].values
    if "fastest_speed" in figures:  # a part that travels has no time
        return [str(basis) for basis in bases]
    return [
        "; ".join(filter(None, (f"an exposure of {in_words(exposure, 's')} then", str(basis))))
        if np.isfinite(exposure)
        else str(basis)
        for exposure, basis in zip(exposures, bases, strict=True)
    ]


def shares_on_bond(figures: xr.Dataset) -> list[str]:
    """How much of the light of each source falls on the bond."""
    if "share_on_bond" not in figures:
        return []
    return [
        f"{in_words(share, '1')} of its light falls on the bond, if that is round"
        if np.isfinite(share)
        else ""
        for share in by_source(figures["share_on_bond"])
    ]


def by_initiator(figures: xr.Dataset) -> list[str]:
    """Which initiator takes the photons of each source, if there are several."""
    photons = figures["photons_by_initiator"]
    photons = photons.mean([name for name in photons.dims if name not in ("source", "initiator")])
    shares = (photons / photons.sum("initiator")).transpose("source", "initiator").values
    if shares.shape[1] < 2:
        return [""] * len(shares)
    names = [str(name) for name in photons.coords["initiator"].values]
    return [
        ", ".join(
            f"{name} takes {in_words(share, '1') if share >= _NOTICED else 'next to none'}"
            for name, share in zip(names, row, strict=True)
        )
        if np.isfinite(row).all()
        else ""
        for row in shares
    ]


def hottest(figures: xr.Dataset) -> list[str]:
    """Where it gets hottest under each source, and whether the number means anything."""
    temperatures = by_source(figures["peak_temperature"])
    return [
        f"hottest in {layer}; computed, not measured"
        + "; so far up it only means that the material does not bear it" * bool(temperature > _NO_MEANING)
        if layer
        else ""
        for layer, temperature in zip(figures["hottest"].values.tolist(), temperatures, strict=True)
    ]
