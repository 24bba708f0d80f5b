"""A comparison with the reduction behind it, as one document that JSON can hold."""

from __future__ import annotations

import xarray as xr

from spectralbench.reports.figures import Record
from spectralbench.reports.forms import form
from spectralbench.reports.records import of_comparison, of_reduction


def document_of(tree: xr.DataTree, result: xr.Dataset) -> Record:
    """Put a comparison into the form of ``spectralbench compare --json``.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.
    result : xarray.Dataset
        From `spectralbench.benches.compare`.

    Returns
    -------
    dict
        For `json.dumps`, in SI units and nm; `spectralbench.reports.forms.schema` describes it.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> document = document_of(reduced, compare(reduced))
    >>> document["form"], document["sources"][0]["source"]
    ('urn:spectralbench:compare:1', 'LED 405')
    """
    return {"form": form("compare"), **of_comparison(result), "reduction": of_reduction(tree)}
