"""What a bench leaves open, and what follows from it, in words."""

from __future__ import annotations

import xarray as xr

from spectralbench import optics
from spectralbench.benches.first_manifest import PLACEHOLDERS
from spectralbench.benches.folder import roles_of
from spectralbench.benches.schema import Manifest
from spectralbench.benches.spots import scanned_in_place
from spectralbench.comparison.words import by_source


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
        None if every spot was held against the width of the bond.

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
    never = [source.name for source in manifest.source if source.profile is None]
    elsewhere = [s.name for s in manifest.source if s.profile is not None and not scanned_in_place(s)]
    said = (
        (never, "was not scanned (profile), so that the figures are those of its middle"),
        (
            elsewhere,
            "was scanned at another distance than it will have (profile_distance): its size there is not "
            "known, and nearer it is less even than the figures say",
        ),
    )
    return [f"evenness: the spot of {'; '.join(names)} {why}" for names, why in said if names]


def set_aside(manifest: Manifest) -> list[str]:
    """What is stated and has no say: a longest exposure, for a part that travels.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        One sentence, or none.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> set_aside(read_manifest(demo)[0])
    []
    """
    if manifest.requirement.speed is None or manifest.requirement.maximum_time is None:
        return []
    return [
        "maximum_time has no say beside speed: a part that travels is lit for as long as it takes to pass"
    ]


def left_out(manifest: Manifest) -> list[str]:
    """Which scans somebody left out, and why.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        One sentence for each frame of which scans are left out.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> left_out(read_manifest(demo)[0])
    []
    """
    frames = [role.frame for role in roles_of(manifest) if role.frame is not None]
    return [
        f"left out of {frame.file}: scan{'s' * (len(frame.left_out) > 1)} "
        f"{', '.join(map(str, frame.left_out))}, because {frame.because}"
        for frame in frames
        if frame.left_out
    ]


def placeholders(text: str) -> list[str]:
    """Whether a manifest still says that its values are placeholders.

    Parameters
    ----------
    text : str
        The manifest as written.

    Returns
    -------
    list of str
        One sentence, or none.

    Examples
    --------
    >>> from spectralbench.benches.first_manifest import FIRST_MANIFEST
    >>> len(placeholders(FIRST_MANIFEST)), placeholders('title = "A bench"')
    (1, [])
    """
    if PLACEHOLDERS in text:
        return [
            "Nothing here is worth a trial yet: bench.toml still says that every value in it is a "
            "placeholder. Put your own in, then take that line away."
        ]
    lines = [line for line in text.splitlines() if "(placeholder)" in line.partition("#")[0]]
    if not lines:
        return []
    return [
        f"Nothing here is worth a trial yet: bench.toml still calls {len(lines)} of its names a placeholder, "
        f"such as {lines[0].strip()}. Put your own names and values in."
    ]


def added(manifest: Manifest) -> list[str]:
    """What is to be asked of resin and pigment: whether the data sheet speaks of an adhesive with them.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        One sentence, or none if it is stated of each.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> added(read_manifest(demo)[0])
    []
    """
    names = [one.name for one in manifest.adhesive.absorber if one.in_data_sheet is None]
    if not names or manifest.requirement.data_sheet_wavelength is None:
        return []
    return [
        f"{'; '.join(names)}: did the adhesive of the data sheet hold it too (in_data_sheet)? It is taken to "
        "have held it; with a pigment of one's own the photons that count would be too few"
    ]


def reciprocity_taken(manifest: Manifest, leaning: str) -> list[str]:
    """What the times of the photons lean on, where nobody measured it.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.
    leaning : str
        What `spectralbench.carried_over_time` says of times that lean on the exponent; empty if none does.

    Returns
    -------
    list of str
        One sentence, or none if the exponent has a ± or no time leans on it.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> reciprocity_taken(read_manifest(demo)[0], "it matters")[0][-49:]
    'fit_reciprocity tells it from trials): it matters'
    """
    exponent = manifest.adhesive.reciprocity
    if exponent.standard_uncertainty or not leaning:
        return []
    return [
        f"reciprocity: more light is taken to do the same in less time (exponent {exponent.value:g}, with "
        f"no ±, so that no interval holds it; fit_reciprocity tells it from trials): {leaning}"
    ]


def dark_backs(back_by_front: xr.DataArray) -> list[str]:
    """Which sources hardly reach the back of the bond line.

    Parameters
    ----------
    back_by_front : xarray.DataArray (source, [draw])
        Photons absorbed at the back of the bond line against those at its front [1].

    Returns
    -------
    list of str
        One sentence, or none.

    Examples
    --------
    >>> shares = xr.DataArray([0.9, 0.1], {"source": ["LED 405", "LED 365"]}, "source")
    >>> dark_backs(shares)[0][:64]
    'back of the bond line: it absorbs less than 30 % of what the fro'
    """
    names = [
        f"{name} ({100 * share:.2g} %)"
        for name, share in zip(back_by_front.coords["source"].values, by_source(back_by_front), strict=True)
        if share < _DARK
    ]
    if not names:
        return []
    return [
        f"back of the bond line: it absorbs less than {_DARK:.0%} of what the front does under "
        f"{'; '.join(names)}. Photons over the whole bond line do not say that it sets there: look at the "
        "back in the trial".replace("%", " %", 1)
    ]


_DARK = 0.3  # of the front; from there the mean over the bond line hides its back (a choice of our own)
