"""What the sources of a bench take to be kept running, as the manifest states it."""

from __future__ import annotations

import numpy as np

from spectralbench.benches.schema import Manifest, Source
from spectralbench.comparison import Keeping
from spectralbench.units import Measured


def keepings(manifest: Manifest) -> dict[str, Keeping]:
    """What each source takes to be kept running.

    Parameters
    ----------
    manifest : Manifest
        The manifest of a bench.

    Returns
    -------
    dict
        By the name of the candidate; of sources that shine together only the mercury. An arc burns between
        exposures too (common practice, no source); an LED holds no mercury.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> kept = keepings(read_manifest(demo)[0])
    >>> kept["arc"].burns_on, kept["LED 405"].mercury
    (True, 0.0)
    """
    alone = {source.name: _keeping(source, manifest) for source in manifest.source}
    for group in manifest.together:
        alone[group.name] = Keeping(mercury=sum(alone[head.source].mercury for head in group.heads))
    return alone


def _keeping(source: Source, manifest: Manifest) -> Keeping:
    mercury = 0.0 if source.kind == "LED" else _plain(source.mercury)
    keeping = Keeping(source.kind == "arc", _plain(source.end_of_life), mercury=mercury)
    if (stated := manifest.running) is None:
        return keeping
    return keeping._replace(
        hours_per_year=stated.hours_per_year.value,
        exposures_per_year=_plain(stated.exposures_per_year),
        energy_price=stated.energy_price,
        lamp_price=np.nan if source.lamp_price is None else source.lamp_price,
        disposal_price=source.disposal_price,
        currency=stated.currency,
    )


def _plain(stated: Measured | None) -> float:
    return np.nan if stated is None else stated.value
