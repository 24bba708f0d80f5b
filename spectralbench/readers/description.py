"""What a dataset says of the file that it was read from, the same for every layout."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

import xarray as xr

from spectralbench.errors import printable
from spectralbench.readers.content import Content
from spectralbench.readers.gaps import missing


def described(
    dataset: xr.Dataset,
    content: Content,
    *,
    layout: str,
    header: Iterable[tuple[str, str]] | Mapping[str, str],
    decisions: Sequence[str],
    warnings: Sequence[str],
    steps: Sequence[str],
) -> xr.Dataset:
    """Keep with a dataset where it comes from and how it was read.

    Parameters
    ----------
    dataset : xarray.Dataset
        What was read.
    content : Content
        The file.
    layout : str
        Name of its layout, kept as ``format``.
    header : iterable of (str, str) or mapping of str to str
        Keys and values of the file's header; values of one key are joined by semicolons.
    decisions : sequence of str
        How the file was read, choice by choice.
    warnings : sequence of str
        What a person should know about it; gaps in its wavelengths are added.
    steps : sequence of str
        What was done to the numbers, such as a conversion.

    Returns
    -------
    xarray.Dataset
        The dataset with the attributes ``format``, ``source``, ``sha256``, ``header``,
        ``warnings``, ``decisions`` and ``history``; lists are JSON. Its variables carry the
        history too.

    Examples
    --------
    >>> from spectralbench.readers.content import load
    >>> content = load("reference_curves/actinic.csv")
    >>> told = dict(layout="text", header={}, decisions=[], warnings=["a"], steps=[])
    >>> described(xr.Dataset(), content, **told).attrs["warnings"]
    '["a"]'
    """
    name = printable(content.name)  # a name in no known encoding could not be stored
    history = "\n".join([f"read from {name} (sha256 {content.sha256})", *steps])
    texts = joined(header.items() if isinstance(header, Mapping) else header)
    gaps = missing(dataset.coords["wavelength"].values) if "wavelength" in dataset.coords else []
    result = dataset.copy()
    for array in result.data_vars.values():
        array.attrs["history"] = history
    result.attrs = {
        "format": layout,
        "source": name,
        "sha256": content.sha256,
        "header": json.dumps(texts, ensure_ascii=False),
        "warnings": json.dumps([*warnings, *gaps], ensure_ascii=False),
        "decisions": json.dumps(list(decisions), ensure_ascii=False),
        "history": history,
    }
    return result


def joined(entries: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Keys and values of a header, those of one key together.

    Examples
    --------
    >>> joined([("note", "a"), ("lamp", "b"), ("note", "c")])
    {'note': 'a; c', 'lamp': 'b'}
    """
    texts: dict[str, str] = {}
    for key, value in entries:
        texts[key] = f"{texts[key]}; {value}" if key in texts else value
    return texts
