"""A JCAMP-DX file as a dataset, or as a tree of them."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from spectralbench.errors import Fault, ReadError, quote
from spectralbench.readers.choices import Choices
from spectralbench.readers.content import Content
from spectralbench.readers.description import described
from spectralbench.readers.jcamp.blocks import blocks
from spectralbench.readers.jcamp.data_types import refused
from spectralbench.readers.jcamp.ntuples import pages
from spectralbench.readers.jcamp.records import records
from spectralbench.readers.jcamp.spectrum import Spectrum, read_spectrum, version_warning

FORMAT = "JCAMP-DX"
_VERSION = re.compile(r"^[^\S\n]*##[ _/-]*JCAMP[ _/-]*(?:DX|CS)[ _/-]*=", re.I | re.M)
_TITLE = re.compile(r"(?:[^\S\n]*(?:\$\$[^\n]*)?\n)*[^\S\n]*##[ _/-]*TITLE[ _/-]*=", re.I)
_OTHERS = re.compile(
    r"^[^\S\n]*##[ _/-]*(?:DATA[ _/-]*TYPE|XUNITS|XYDATA|XYPOINTS|PEAK[ _/-]*TABLE|BLOCKS|ORIGIN|OWNER)"
    r"[ _/-]*=",
    re.I | re.M,
)
_BEGINNING = 2**16
_LISTED = 200
_MOST_UNLIKE = 200  # blocks of a tree


def recognises(content: Content) -> bool:
    r"""Tell by its records whether a file is JCAMP-DX.

    Parameters
    ----------
    content : Content
        The file, or its beginning.

    Returns
    -------
    bool
        Whether it begins with a title, or states a version.

    Examples
    --------
    >>> file = Content("a.txt", "a.txt", "", b"", "##TITLE= lamp\n##JCAMP-DX= 4.24\n", "UTF-8", False)
    >>> recognises(file), recognises(file._replace(text="# title: lamp\n365,1\n"))
    (True, False)
    """
    text = content.text[:_BEGINNING]
    if "##" not in text:
        return False
    if _VERSION.search(text):
        return True
    return _TITLE.match(text) is not None and _OTHERS.search(text) is not None


def read_jcamp(content: Content, choices: Choices) -> xr.Dataset | xr.DataTree:
    r"""Read a JCAMP-DX file.

    Parameters
    ----------
    content : Content
        The file as it was loaded.
    choices : Choices
        What the caller says of its ordinates: ``quantity`` and ``units``.

    Returns
    -------
    xarray.Dataset (wavelength,) or (spectrum, wavelength), or xarray.DataTree
        A dataset if all blocks hold the same quantity on the same wavelengths; otherwise a tree
        with the children ``block_1``, ``block_2`` and so on, in the order of the file.

    Raises
    ------
    ReadError
        With all faults of the file.

    Notes
    -----
    IUPAC: R. S. McDonald and P. A. Wilks, Appl. Spectrosc. 42:151 (1988), version 4.24;
    P. Lampen et al., Pure Appl. Chem. 71:1549 (1999), version 5.01.

    Examples
    --------
    >>> text = '''##TITLE= lamp
    ... ##JCAMP-DX= 4.24
    ... ##DATA TYPE= UV/VIS SPECTRUM
    ... ##XUNITS= NANOMETERS
    ... ##YUNITS= W/M2/NM
    ... ##FIRSTX= 400
    ... ##LASTX= 406
    ... ##NPOINTS= 7
    ... ##XFACTOR= 1
    ... ##YFACTOR= 0.001
    ... ##XYDATA= (X++(Y..Y))
    ... 400A000J000JJ
    ... 403B002J%%
    ... ##END=
    ... '''
    >>> dataset = read_jcamp(Content("lamp.dx", "lamp.dx", "", b"", text, "UTF-8", False), Choices())
    >>> dataset.spectral_irradiance.values.round(6).tolist()
    [1.0, 2.0, 2.001, 2.002, 2.003, 2.003, 2.003]
    """
    outermost, faults, warnings = blocks(records(content.text))
    leaves = [page for block in outermost for leaf in block.leaves() for page in pages(leaf, faults)]
    reasons = [refused(leaf) for leaf in leaves]
    if not leaves and not faults:
        faults.append(Fault("no block", "records from ##TITLE= to ##END=", "Is the file whole?", 1))
    if any(reason is None for reason in reasons):
        warnings += [
            f"left out: {reason.found}, line {reason.line}" for reason in reasons if reason is not None
        ]
    else:
        faults += [reason for reason in reasons if reason is not None]
    spectra: list[Spectrum] = []
    for leaf, reason in zip(leaves, reasons, strict=True):
        if reason is None and len(faults) < _LISTED:
            spectrum = read_spectrum(leaf, choices, faults)
            spectra += [] if spectrum is None else [spectrum]
    if outermost and not faults:
        warnings = version_warning(outermost[0] if outermost[0].value("JCAMPDX") else leaves[0]) + warnings
    if content.guessed and not content.text.isascii():
        warnings.append("the file is not in UTF-8: letters beyond ASCII were read as Latin-1")
    alike = all(spectrum.like(spectra[0]) for spectrum in spectra[1:])
    if not alike and len(spectra) > _MOST_UNLIKE:
        found = f"{len(spectra)} blocks that hold unlike spectra"
        faults.append(Fault(found, f"at most {_MOST_UNLIKE} of them", "Split the file"))
    if faults:
        raise ReadError(content.path, sorted(faults, key=lambda fault: fault.line or 0)[:_LISTED])
    if len(spectra) == 1 and not outermost[0].children:
        return _described(_dataset(spectra), content, spectra[0].header, spectra, warnings)
    links = outermost[0] if len(outermost) == 1 and outermost[0].children else None
    own = {} if links is None else {name: "; ".join(texts) for name, texts in links.header.items()}
    if alike:
        return _stacked(content, own, spectra, warnings)
    return _tree(content, own, spectra, warnings)


def _dataset(spectra: Sequence[Spectrum]) -> xr.Dataset:
    first = spectra[0]
    name = first.ordinate.name
    dimensions: tuple[str, ...] = ("wavelength",)
    values = first.ordinate.values
    coordinates: dict[str, Any] = {}
    times = [spectrum.time for spectrum in spectra]
    if len(spectra) > 1:
        dimensions = ("spectrum", "wavelength")
        values = np.stack([spectrum.ordinate.values for spectrum in spectra])
        titles = [spectrum.title for spectrum in spectra]
        distinct = len({*titles, ""}) > len(titles)
        coordinates["spectrum"] = titles if distinct else list(range(1, len(titles) + 1))
        if any(time is not None for time in times):
            filled = [np.datetime64("NaT", "ns") if time is None else time for time in times]
            coordinates["time"] = ("spectrum", np.array(filled, "datetime64[ns]"))
    elif times[0] is not None:
        coordinates["time"] = times[0]
    along = {"units": "nm", "long_name": first.abscissa.long_name}
    attributes = {"units": first.ordinate.units, "long_name": first.ordinate.long_name}
    variables = {
        "wavelength": xr.Variable("wavelength", first.abscissa.values, along),
        name: xr.Variable(dimensions, values, attributes),
    }
    return xr.Dataset(variables, coordinates)


def _described(
    dataset: xr.Dataset,
    content: Content,
    header: dict[str, str],
    spectra: Sequence[Spectrum],
    warnings: Sequence[str],
) -> xr.Dataset:
    parts = [(spectrum.decisions, spectrum.warnings) for spectrum in spectra]
    return described(
        dataset,
        content,
        layout=FORMAT,
        header=header,
        decisions=_once([f"encoding: {content.encoding}"], [decisions for decisions, _ in parts]),
        warnings=_once(warnings, [own for _, own in parts]),
        steps=list(dict.fromkeys(step for spectrum in spectra for step in spectrum.steps)),
    )


def _once(common: Sequence[str], by_block: Sequence[Sequence[str]]) -> list[str]:
    """Texts of several blocks, each once, with the blocks that it is true of where it is not all."""
    where: dict[str, list[int]] = {}
    for number, texts in enumerate(by_block, 1):
        for text in dict.fromkeys(texts):
            where.setdefault(text, []).append(number)
    result = list(common[:_LISTED])
    if len(common) > _LISTED:
        result.append(f"and {len(common) - _LISTED} more remarks like these")
    for text, numbers in where.items():
        if len(numbers) == len(by_block):
            result.append(text)
        else:
            shown = ", ".join(map(str, numbers[:20])) + (" and more" if len(numbers) > 20 else "")
            result.append(f"block {shown}: {text}")
    return result


def _stacked(
    content: Content, own: dict[str, str], spectra: Sequence[Spectrum], warnings: Sequence[str]
) -> xr.Dataset:
    """Spectra of one kind along ``spectrum``; what their headers share is kept once."""
    dataset = _dataset(spectra)
    shared = {
        name: text
        for name, text in spectra[0].header.items()
        if all(spectrum.header.get(name) == text for spectrum in spectra)
    }
    result = _described(dataset, content, shared | own, spectra, warnings)
    if len(spectra) > 1:
        labels = [str(label) for label in dataset.coords["spectrum"].values.tolist()]
        headers = {
            label: {name: text for name, text in spectrum.header.items() if name not in shared}
            for label, spectrum in zip(labels, spectra, strict=True)
        }
        result.attrs["headers"] = json.dumps(headers, ensure_ascii=False)
    return result


def _tree(
    content: Content, own: dict[str, str], spectra: Sequence[Spectrum], warnings: Sequence[str]
) -> xr.DataTree:
    """Unlike spectra as children of one root."""
    titles = ", ".join(f"block_{i} {quote(spectrum.title)}" for i, spectrum in enumerate(spectra[:20], 1))
    root = described(
        xr.Dataset(),
        content,
        layout=FORMAT,
        header=own,
        decisions=[f"encoding: {content.encoding}", f"{len(spectra)} unlike blocks: {titles}"],
        warnings=_once(warnings, []),
        steps=[],
    )
    children = {
        f"/block_{i}": _described(_dataset([spectrum]), content, spectrum.header, [spectrum], [])
        for i, spectrum in enumerate(spectra, 1)
    }
    return xr.DataTree.from_dict({"/": root, **children})
