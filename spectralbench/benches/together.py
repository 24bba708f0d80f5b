"""Several sources that shine on the part at once, as candidates beside each source alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from spectralbench.beam import irradiance_together
from spectralbench.benches.schema import Manifest


def candidates(manifest: Manifest) -> list[str]:
    """Names of all candidates: each source, and those that shine together.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    list of str
        In the order of the manifest.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> candidates(read_manifest(demo)[0])[-1]
    'LED 405'
    """
    return [*(source.name for source in manifest.source), *(group.name for group in manifest.together)]


def with_heads(light: xr.DataArray, manifest: Manifest) -> xr.DataArray:
    """Add the light of sources that shine together to that of each alone.

    Parameters
    ----------
    light : xarray.DataArray (source, ...)
        Irradiance of each source alone, at the setting of its measurement, spectral or not.
    manifest : Manifest
        The manifest of the bench.

    Returns
    -------
    xarray.DataArray (source, ...)
        The same, with a row more for each group of heads.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> from spectralbench.benches.schema import Head, Together
    >>> heads = [Head(source="LED 365"), Head(source="LED 405", setting="50 %")]
    >>> both = Together(name="both", heads=heads)
    >>> manifest = read_manifest(demo)[0].model_copy(update={"together": [both]})
    >>> light = xr.DataArray([1.0, 1.0, 2.0, 3.0, 4.0], {"source": candidates(manifest)[:5]}, "source")
    >>> with_heads(light, manifest).sel(source="both").item()
    4.0
    """
    settings = {source.name: source.setting.value for source in manifest.source}
    rows = [light]
    for group in manifest.together:
        names = [head.source for head in group.heads]
        along = {"source": names}
        full = light.sel(source=names) / xr.DataArray([settings[name] for name in names], along, "source")
        levels = xr.DataArray([head.setting.value for head in group.heads], along, "source")
        both = irradiance_together(full.assign_attrs(light.attrs), levels)
        rows.append(both.astype(light.dtype).expand_dims(source=[group.name]))
    return _joined(rows, light)


def of_candidates(
    numbers: xr.DataArray, manifest: Manifest, of_heads: Callable[[np.ndarray], float]
) -> xr.DataArray:
    """Add what holds for sources that shine together to one number for each alone.

    Parameters
    ----------
    numbers : xarray.DataArray (source,)
        One for each source alone.
    manifest : Manifest
        The manifest of the bench.
    of_heads : callable
        What the numbers of several heads make together, such as `numpy.sum`.

    Returns
    -------
    xarray.DataArray (source,)
        The same, with a row more for each group of heads.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> one = xr.DataArray([1.0], {"source": ["arc"]}, "source")
    >>> of_candidates(one, read_manifest(demo)[0], np.sum).values.tolist()
    [1.0]
    """
    rows = [numbers]
    for group in manifest.together:
        each = numbers.sel(source=[head.source for head in group.heads]).values
        rows.append(xr.DataArray([of_heads(each)], {"source": [group.name]}, "source"))
    return _joined(rows, numbers)


def _joined(rows: list[xr.DataArray], alone: xr.DataArray) -> xr.DataArray:
    """All rows in one array; without groups, what was there."""
    if len(rows) == 1:
        return alone
    plain = [row.reset_coords(drop=True) for row in rows]
    joined = xr.concat(plain, "source", combine_attrs="override")
    return joined.transpose("source", ...).assign_attrs(alone.attrs)
