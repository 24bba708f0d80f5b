"""Results as plain records: what JSON prints, and what tables and pages are made from.

Figures stay in the package's own units; what is not known is ``None``.
"""

from __future__ import annotations

import json

import numpy as np
import xarray as xr

from spectralbench import reduction
from spectralbench.comparison import FIGURES, in_words
from spectralbench.corrections import average_scans, looks_saturated
from spectralbench.reports.figures import Record, figure_of, figures_of, plain, three_digits
from spectralbench.reports.moments import moments_of

_PLAIN_NUMBERS = {"mismatch_factor", "normalised_error", "ratio"}  # which nobody says in per cent
_STATED = ("stated_end_output",)  # by a maker, not found by the reduction


def of_file(name: str, data: xr.Dataset) -> Record:
    """What is in a file.

    Parameters
    ----------
    name : str
        Name of the file, as it was asked for.
    data : xarray.Dataset
        From `spectralbench.readers.read`.

    Returns
    -------
    dict
        Format, header, decisions, warnings, labels, the ends of a log, and for each quantity its
        range and figures.

    Examples
    --------
    >>> from spectralbench.model import spectrum
    >>> lit = spectrum([1.0, 3.0, 1.0], [364.0, 365.0, 366.0], "counts")
    >>> of_file("led.csv", lit.to_dataset())["quantities"][0]["figures"]["peak_wavelength"]
    {'value': 365.0, 'units': 'nm', 'text': '365.00 nm'}
    """
    quantities = [_quantity(str(label), array) for label, array in data.data_vars.items()]
    record: Record = {
        "file": name,
        "block": None,
        "format": data.attrs.get("format"),
        "sha256": data.attrs.get("sha256"),
    }
    for key in ("header", "warnings", "decisions"):
        record[key] = json.loads(data.attrs.get(key, "{}" if key == "header" else "[]"))
    if (
        "counts" in data
        and "wavelength" in data["counts"].dims
        and (words := looks_saturated(data["counts"]))
    ):
        record["warnings"].append(words)
    record["history"] = data.attrs.get("history", "").splitlines()
    record["quantities"] = quantities
    for scalar in ("integration_time", "time"):
        if scalar in data.coords and data.coords[scalar].ndim == 0:
            record[scalar] = _moment(data.coords[scalar])
    for dimension in ("spectrum", "channel"):
        if dimension in data.coords and data.coords[dimension].dtype.kind in "UOT":
            record.setdefault("labels", {})[dimension] = list(
                dict.fromkeys(map(str, data.coords[dimension].values))  # along a log they repeat
            )
    for along in ("time", "hours", "position"):
        if along in data.dims and along in data.coords:
            ends = data.coords[along]
            first, last = (_moment(ends.isel({along: i})) for i in (0, -1))
            units = "" if ends.dtype.kind == "M" else ends.attrs.get("units", "1")
            record["log"] = {"along": along, "first": first, "last": last, "units": units}
    return record


def of_blocks(name: str, tree: xr.DataTree) -> list[Record]:
    """What is in a file of unlike blocks.

    Parameters
    ----------
    name : str
        Name of the file, as it was asked for.
    tree : xarray.DataTree
        From `spectralbench.readers.read`.

    Returns
    -------
    list of dict
        As from `of_file`: first what holds for the whole file, then each block by its name
        (``block``) and its ``title``, without what was told of the whole.

    Examples
    --------
    >>> tree = xr.DataTree.from_dict({"/block_1": xr.Dataset(), "/block_2": xr.Dataset()})
    >>> [record["block"] for record in of_blocks("lamps.jdx", tree)]
    [None, 'block_1', 'block_2']
    """
    whole = of_file(name, tree.to_dataset())
    result = [whole]
    for node in tree.leaves:
        record = of_file(name, node.to_dataset())
        record["block"] = node.path.strip("/")
        record["title"] = " ".join(record["header"].get("TITLE", "").split())
        for key in ("decisions", "history"):
            record[key] = [text for text in record[key] if text not in whole[key]]
        result.append(record)
    return result


def _moment(value: xr.DataArray) -> float | str | None:
    """A date as text, without the zeros behind its seconds; any other number as it is."""
    if value.dtype.kind in "fiu":
        return plain(value)
    text = str(value.values)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _quantity(label: str, array: xr.DataArray) -> Record:
    values = np.asarray(array.values)
    numeric = values.dtype.kind in "fiu"
    record: Record = {
        "quantity": label,
        "units": array.attrs.get("units", "1"),
        "shape": {str(d): int(n) for d, n in array.sizes.items()},
        "lowest": plain(values.min()) if numeric else None,
        "highest": plain(values.max()) if numeric else None,
    }
    if "wavelength" not in array.dims:
        return record
    grid = array.coords["wavelength"].values
    steps = np.diff(grid)
    record["grid"] = {
        "first": float(grid[0]),
        "last": float(grid[-1]),
        "smallest_step": float(steps.min()),
        "largest_step": float(steps.max()),
        "units": "nm",
    }
    if grid.size >= 3:
        mean, _ = average_scans(array)
        record["figures"] = {
            str(key): figure_of(figure)
            for key, figure in reduction.figures(mean.assign_attrs(array.attrs)).items()
        }
    return record


def of_reduction(tree: xr.DataTree) -> Record:
    """What a reduction found.

    Parameters
    ----------
    tree : xarray.DataTree
        From `spectralbench.benches.reduce_bench`.

    Returns
    -------
    dict
        Title, sources with their figures, parts, readings, ageing fits, when files were taken, provenance.

    Examples
    --------
    >>> of_reduction(reduced)["parts"][0]["part"]
    'cover'
    """
    sources = tree["sources"].to_dataset()
    parts = tree["parts"].to_dataset()
    figures = [
        str(name)
        for name, array in sources.data_vars.items()
        if array.dtype.kind == "f" and set(array.dims) <= {"source", "draw"} and name not in _STATED
    ]
    record: Record = {
        "title": tree.attrs["title"],
        "sources": [],
        "parts": [],
        "radiometer": [],
        "ageing": [],
    }
    said = {key: figures_of(sources[key], "source") for key in figures}
    for i, name in enumerate(sources.coords["source"].values):
        one = sources.isel(source=i)
        light = one["spectral_irradiance"]
        invalid = int(light.isnull().any([d for d in light.dims if d != "wavelength"]).sum())
        record["sources"].append(
            {
                "source": str(name),
                "kind": str(one.coords["kind"].values),
                "filter": str(one.coords["filter"].values),
                "distance": figure_of(one.coords["distance"]),
                "invalid_pixels": invalid,
                "figures": {key: said[key][i] for key in figures},
            }
        )
    for i, name in enumerate(parts.coords["part"].values):
        one = parts.isel(part=i)
        at = [f"{wavelength:g}" for wavelength in one["quoted_wavelength"].values.tolist()]
        quoted = dict(zip(at, figures_of(one["quoted"], "quoted_wavelength"), strict=True))
        found: Record = {"part": str(name), "drift": figure_of(one["drift"])}
        found["transmittance_at"] = {at: figure["value"] for at, figure in quoted.items()}
        if any("interval" in figure for figure in quoted.values()):
            found["transmittance_interval_at"] = {
                at: [figure["low"], figure["high"]] for at, figure in quoted.items()
            }
        record["parts"].append(found)
    for kind, recorded in (("radiometer", _radiometer), ("ageing", _log)):
        if kind in tree.children:
            record[kind] = [recorded(name, node.to_dataset()) for name, node in tree[kind].children.items()]
    record |= {"measured": moments_of(tree), "provenance": json.loads(tree.attrs["provenance"])}
    return record


def _log(name: str, data: xr.Dataset) -> Record:
    return {"name": str(name), "figures": _scalars(data)}


def _scalars(data: xr.Dataset) -> Record:
    return {
        str(key): figure_of(array)
        for key, array in data.data_vars.items()
        if set(array.dims) <= {"draw"} and array.dtype.kind == "f"
    }


def _radiometer(name: str, data: xr.Dataset) -> Record:
    """What a radiometer read, what that comes to, and how it agrees with the spectrometer."""
    figures = {"mean_irradiance": figure_of(data["mean_irradiance"])} | _scalars(data)
    beside = {
        "mean_irradiance": {"standard_uncertainty": "mean_standard_uncertainty"},
        "difference": {"standard_uncertainty": "standard_uncertainty"},
        "ratio": {"low": "ratio_low", "high": "ratio_high"},
    }
    for key, others in beside.items():
        for name_there, other in others.items():
            if other in figures:
                figures[key][name_there] = figures.pop(other)["value"]
    for key in _PLAIN_NUMBERS & figures.keys():
        value, low, high = (three_digits(figures[key].get(end)) for end in ("value", "low", "high"))
        figures[key] |= {"text": value} | ({"interval": f"{low}–{high}"} if "low" in figures[key] else {})
    count = int(data["irradiance"].size)
    figures["readings"] = {"value": count, "units": "1", "text": str(count)}
    comment = figures.get("corrected_irradiance", {}).get("comment", "")
    judged = figures.get("normalised_error", {}).get("value") is not None
    return {
        "name": data.attrs["name"],
        "number": str(name),
        "source": data.attrs["source"],
        "target": data.attrs["target"],
        "comparable": "corrected_irradiance" in data,
        "agree": bool(data["agree"]) if judged else None,
        "verdict": str(data["verdict"].item()),
        "comment": comment,
        "figures": figures,
    }


def of_comparison(result: xr.Dataset) -> Record:
    """What a comparison says.

    Parameters
    ----------
    result : xarray.Dataset
        From `spectralbench.benches.compare`.

    Returns
    -------
    dict
        Sources in the order of the rule, each with figures and criteria; of each criterion, its
        figure and limit; where in the bond line light is absorbed; advice, rule, what was not
        measured, cautions, provenance.

    Examples
    --------
    >>> from spectralbench.benches import compare
    >>> record = of_comparison(compare(reduced))
    >>> record["sources"][0]["source"], record["criteria"]["time"]["required"]
    ('LED 405', '≤ 30 s')
    """
    shown = [name for name in FIGURES if name in result]
    ordered = result.isel(source=np.argsort(result["place"].values))
    names = [str(name) for name in ordered.coords["source"].values]
    said = {key: figures_of(ordered[key], "source") for key in shown}
    judged = _judged(ordered)
    sources: list[Record] = [
        {
            "source": name,
            "place": int(ordered["place"].values[i]),
            "figures": {key: said[key][i] for key in shown},
            "criteria": judged[i],
        }
        for i, name in enumerate(names)
    ]
    if "share_ahead" in result:
        ahead = ordered["share_ahead"].transpose("source", "other")
        others = [str(other) for other in ahead.coords["other"].values]
        for source, row in zip(sources, ahead.values, strict=True):
            shares = zip(others, map(plain, row), strict=True)
            source["share_ahead"] = {other: share for other, share in shares if other != source["source"]}
    record: Record = {
        "title": result.attrs.get("title", ""),
        "advice": result.attrs["advice"].splitlines(),
        "rule": result.attrs["rule"],
        "sources": sources,
        "criteria": _criteria(result),
        "required_photons": figure_of(result["required_photons"]),
        "absorbed_by_depth": _by_depth(ordered["absorbed_by_depth"]),
        "labels": {key: result[key].attrs["label"] for key in shown},
        "long_names": {key: FIGURES[key].long_name for key in shown},
    }
    if "variance_share" in result:
        record["variance_share"] = _variance(result["variance_share"])
    for key in ("not_measured", "cautions", "provenance"):
        record[key] = json.loads(result.attrs.get(key, "[]"))
    return record


def _judged(ordered: xr.Dataset) -> list[Record]:
    """Verdict, limit, reason and nearest change of each criterion, source by source."""
    criteria = [str(name) for name in ordered.coords["criterion"].values]
    columns: Record = {
        name: ordered[name].transpose("source", "criterion").values
        for name in ("verdict", "limit", "reason", "change", "share_met")
        if name in ordered
    }
    return [
        {
            criterion: {
                name: plain(values[i, j]) if values.dtype.kind == "f" else str(values[i, j])
                for name, values in columns.items()
            }
            for j, criterion in enumerate(criteria)
        }
        for i in range(ordered.sizes["source"])
    ]


def _criteria(result: xr.Dataset) -> Record:
    """Which figure each criterion looks at, and what is required of it; a limit if it is that of all."""
    found: Record = {}
    for name in result.coords["criterion"].values:
        one = result.sel(criterion=name)
        figure, limits = str(one["judged_by"].item()), np.unique(one["limit"].values)
        units, known = result[figure].attrs["units"], limits[np.isfinite(limits)]
        ends = [in_words(end, units) for end in (known.min(), known.max())] if known.size else []
        least = " to ".join(dict.fromkeys(ends)) + ", each its own" * (len(limits) > 1)
        found[str(name)] = {
            "figure": figure,
            "what": str(one["what"].item()),
            "limit": plain(limits[0]) if limits.size == 1 else None,
            "units": units,
            "required": f"{'≤' if one['at_most'] else '≥'} {least}" if ends else "",
        }
    return found


def _by_depth(profile: xr.DataArray) -> Record:
    """Where in the bond line each source's photons are absorbed."""
    rows = profile.transpose("source", "depth").values
    depths = {"units": "m", "values": profile.coords["depth"].values.tolist()}
    names = [str(name) for name in profile.coords["source"].values]
    sources = {name: [plain(value) for value in row] for name, row in zip(names, rows, strict=True)}
    return {"depth": depths, "units": profile.attrs["units"], "sources": sources}


def _variance(share: xr.DataArray) -> Record:
    """What each cause contributes, largest first, with its place in the manifest."""
    largest = share.max(("figure", "source")).fillna(0.0)
    ordered = share.isel(cause=np.argsort(-largest.values, kind="stable"))
    return {
        "causes": dict(zip(map(str, ordered.cause.values), map(str, ordered.origin.values), strict=True)),
        "figures": {
            str(figure): {
                str(source): dict(
                    zip(
                        map(str, ordered.cause.values),
                        map(plain, ordered.sel(figure=figure, source=source).values),
                        strict=True,
                    )
                )
                for source in ordered.source.values
            }
            for figure in ordered.figure.values
        },
    }
