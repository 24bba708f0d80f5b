"""The light of a bench at its bond line, what is required of it there, and how it lasts."""

from __future__ import annotations

import json
from typing import cast

import numpy as np
import xarray as xr

from spectralbench.ageing import FARTHEST
from spectralbench.benches.folder import array_of, blamed
from spectralbench.benches.schema import Manifest, Source
from spectralbench.benches.together import of_candidates, with_heads
from spectralbench.comparison import Course, Requirement, figures_at_bond_line


def light_in_use(tree: xr.DataTree, manifest: Manifest) -> xr.DataArray:
    """The light of each candidate at the part, where its sources will stand.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    manifest : Manifest
        Its manifest.

    Returns
    -------
    xarray.DataArray (source, ..., wavelength)
        Spectral irradiance [W m-2 nm-1].

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> light_in_use(reduced, manifest_of(reduced)).dims
    ('source', 'wavelength')
    """
    sources = tree["sources"].to_dataset().reset_coords(drop=True)  # each of them slows every step
    spectrum = sources["spectral_irradiance"]
    if "working_share" in sources:
        share = sources["working_share"].astype(spectrum.dtype)
        spectrum = (spectrum * share).transpose("source", ..., "wavelength").assign_attrs(spectrum.attrs)
    light = with_heads(spectrum, manifest)
    if outside := json.loads(light.attrs.get("uncalibrated", "{}")):
        for group in manifest.together:
            if words := [f"{h.source}: {outside[h.source]}" for h in group.heads if h.source in outside]:
                outside[group.name] = "; ".join(words)
        light.attrs["uncalibrated"] = json.dumps(outside, ensure_ascii=False)
    return light


def light_at_bond(
    tree: xr.DataTree, manifest: Manifest, transmittance: xr.DataArray | None = None, *, whole: bool = False
) -> xr.Dataset:
    """What reaches the bond line through parts, and what it does there.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    manifest : Manifest
        Its manifest.
    transmittance : xarray.DataArray (part, ..., wavelength), optional
        Of each part as it is bonded [1], if it is another than that of the bench.
    whole : bool
        Whether to look also at the parts as they were measured, dry and straight on.

    Returns
    -------
    xarray.Dataset
        As `spectralbench.comparison.figures_at_bond_line` gives it.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> round(float(light_at_bond(reduced, manifest_of(reduced)).kept_share.sel(source="LED 365")), 2)
    0.97
    """
    parts = tree["parts"].to_dataset()
    dry, bonded = parts["transmittance"], parts.get("bonded_transmittance")
    if transmittance is not None:
        dry, bonded = transmittance, None
    elif not whole and bonded is not None:
        dry, bonded = bonded, None
    found = _through(tree, manifest, dry, bonded, parts.get("regular_transmittance") if whole else None)
    if transmittance is None and "highest_transmittance" in parts:
        most = _through(tree, manifest, parts["highest_transmittance"])
        found["invalid"].attrs["at_least"] = _known_by_bound(found, most)
    return found


_APART = 1.25  # times, from which two bounds of the light are no figure


def apart(least: xr.Dataset, most: xr.Dataset) -> dict[str, xr.DataArray]:
    """Of which sources a figure may be much more than it is at least.

    Parameters
    ----------
    least, most : xarray.Dataset
        As `light_at_bond` gives them, by ``source``, through the least and the most that parts may pass.

    Returns
    -------
    dict of xarray.DataArray (source,)
        By the name of the figure; with draws, by most of them.

    Examples
    --------
    >>> light = xr.Dataset({"band_irradiance": 10.0, "absorbed_photons": 2.0}).expand_dims(source=["LED"])
    >>> {name: is_apart.values.tolist() for name, is_apart in apart(light, 1.2 * light).items()}
    {'band_irradiance': [False], 'absorbed_photons': [False]}
    """
    found = {name: most[name] > _APART * least[name] for name in ("band_irradiance", "absorbed_photons")}
    return {name: one.mean("draw") > 0.5 if "draw" in one.dims else one for name, one in found.items()}


def _known_by_bound(least: xr.Dataset, most: xr.Dataset) -> str:
    """Which figures of which sources may be more, by what passes below the floor of a part; in JSON."""
    found = json.loads(least["invalid"].attrs.get("at_least", "{}"))
    for name, is_apart in apart(least, most).items():
        for source in map(str, is_apart["source"].values[is_apart.values]):
            one = found.setdefault(source, {"what": "what may pass below the floor of a part", "figures": []})
            one["figures"].append(name)
    return json.dumps(found, ensure_ascii=False)


def _through(
    tree: xr.DataTree,
    manifest: Manifest,
    dry: xr.DataArray,
    bonded: xr.DataArray | None = None,
    regular: xr.DataArray | None = None,
) -> xr.Dataset:
    """The figures of the light in use through parts of these transmittances."""
    adhesive = tree["adhesive"].to_dataset()
    with blamed(tree, "requirement.data_sheet_wavelength", "a wavelength that the spectra cover"):
        return figures_at_bond_line(
            light_in_use(tree, manifest),
            dry,
            adhesive["absorbance"],
            requirement_of(manifest),
            bonded=bonded,
            electrical_power=_power(manifest),
            exponent=adhesive["reciprocity"],
            background=adhesive.get("background"),
            least_lit=least_lit(tree, manifest),
            regular=regular,
            thickness=adhesive["bond_line"],
            data_sheet_background=adhesive.get("data_sheet_background"),
        )


def _of_a_log(fit: xr.Dataset, end: float, source: Source) -> str:
    """What a log and its fit are, in words."""
    longest = float(fit["longest"])
    words = [f"from a log that ends at {longest:g} h"]
    if source.stated_end_output is not None:
        words.append(f"not from the {100 * source.stated_end_output.value:.3g} % that its maker states")
    if "early_until" in fit:
        words.append(f"in two stages that part at {float(fit['early_until'].mean()):.3g} h")
    if end > longest:
        words.append(f"extrapolated to {end:g} h")
    return ", ".join(words)


def least_lit(tree: xr.DataTree, manifest: Manifest) -> xr.DataArray:
    """Irradiance of each candidate where the bond is lit least, against the middle of its spot.

    Parameters
    ----------
    tree : xarray.DataTree
        A reduced bench.
    manifest : Manifest
        Its manifest.

    Returns
    -------
    xarray.DataArray (source,)
        Share [1]; of heads together that of the least even one, NaN where nobody scanned.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> bool((least_lit(reduced, manifest_of(reduced)) < 1).all())
    True
    """
    alone = array_of(tree, "/sources", "least_lit").reset_coords(drop=True)
    return of_candidates(alone, manifest, np.min)


def _power(manifest: Manifest) -> xr.DataArray:
    """Electrical power of each candidate while it is on [W]; NaN where it is not stated.

    Of an LED among several heads it goes with its setting; an arc burns on, behind whatever dims it.
    """
    sources = {source.name: source for source in manifest.source}
    stated = {name: source.electrical_power for name, source in sources.items()}
    power = {name: np.nan if value is None else value.value for name, value in stated.items()}
    for group in manifest.together:
        power[group.name] = 0.0
        for head in group.heads:
            source = sources[head.source]
            level = head.setting.value / source.setting.value if source.kind == "LED" else 1.0
            power[group.name] += level * power[head.source]
    return xr.DataArray(list(power.values()), {"source": list(power)}, "source", attrs={"units": "W"})


def requirement_of(manifest: Manifest) -> Requirement:
    """The requirement of a bench, as plain values.

    Parameters
    ----------
    manifest : Manifest
        The manifest of the bench.

    Returns
    -------
    Requirement
        In the package's own units.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> needed = requirement_of(manifest_of(reduced))
    >>> needed.low, needed.high, needed.minimum_irradiance
    (320.0, 430.0, 600.0)
    """
    needed, adhesive = manifest.requirement, manifest.adhesive
    low, high = needed.band
    optional = (
        *("data_sheet_wavelength", "maximum_time", "maximum_temperature", "minimum_match"),
        *("minimum_life", "maximum_power", "maximum_mercury", "speed"),
    )
    stated = {name: getattr(needed, name) for name in optional}
    stated |= {
        name: getattr(adhesive, name) for name in ("maximum_irradiance", "bond_width", "oxygen_threshold")
    }
    return Requirement(
        low.value,
        high.value,
        needed.minimum_irradiance.value,
        needed.dose.value,
        passes=needed.passes,
        **{name: None if value is None else value.value for name, value in stated.items()},
    )


def courses_of(tree: xr.DataTree, manifest: Manifest) -> dict[str, Course]:
    """Each candidate over its hours; of those that shine together, that of each head."""
    courses = {source.name: course_of(tree, source) for source in manifest.source}
    for group in manifest.together:
        highest = max(head.setting.value for head in group.heads)
        heads = tuple(courses[head.source] for head in group.heads)
        courses[group.name] = Course(basis=_EACH_AGES, setting=highest, heads=heads)
    return courses


_EACH_AGES = "each head ages by itself: see them alone"


def course_of(tree: xr.DataTree, source: Source) -> Course:
    """A source over its hours: from its log, as far as that goes, otherwise from what its maker states.

    A stated output is one of a new source; it is taken to fall exponentially, so that what is
    left depends on the hours already used.

    Examples
    --------
    >>> from spectralbench.benches.folder import manifest_of
    >>> course_of(reduced, manifest_of(reduced).source[0]).basis
    'from a log that ends at 900 h, extrapolated to 3000 h'
    """
    setting = source.setting.value
    logged = "ageing" in tree.children and source.name in tree["ageing"].children
    if source.hours is None or source.end_of_life is None:
        return Course(basis=_unstated(source, logged), setting=setting)
    now, end = source.hours.value, source.end_of_life.value
    if logged:
        fit = cast(xr.DataTree, tree[f"/ageing/{source.name}"]).to_dataset()
        if end <= FARTHEST * float(fit["longest"]) or source.stated_end_output is None:
            return Course(fit, now, end, _of_a_log(fit, end, source), setting)
    if source.stated_end_output is None:
        return Course(None, now, end, _unstated(source, logged), setting)
    stated = array_of(tree, "/sources", "stated_end_output").sel(source=source.name).reset_coords(drop=True)
    at = end if source.stated_at is None else source.stated_at.value
    fit = xr.Dataset({"initial": 1.0, "rate": -np.log(stated) / at, "longest": np.inf})
    return Course(fit, now, end, "as its maker states, not measured", setting)


_OUTPUT = "its output over these hours, logged or as its maker states it ([[ageing]] or stated_end_output)"


def _unstated(source: Source, logged: bool) -> str:
    """What would have to be stated of a source to know its output over its hours."""
    missing = {
        "its hours of use so far (hours)": source.hours is None,
        "the hours at which it is replaced (end_of_life)": source.end_of_life is None,
        _OUTPUT: not (logged or source.stated_end_output),
    }
    return f"not stated: {'; '.join(what for what, is_missing in missing.items() if is_missing)}"
