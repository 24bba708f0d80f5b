"""The readers as an engine of xarray: ``xr.open_dataset(path, engine="spectralbench")``."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any, ClassVar

import xarray as xr
from xarray.backends import BackendEntrypoint

from spectralbench.errors import Fault, ReadError
from spectralbench.readers import looks_readable, read
from spectralbench.readers.choices import Choices
from spectralbench.readers.reading import only_dataset


class SpectraBackend(BackendEntrypoint):
    """Open files of spectra, and logs, with xarray's own functions.

    The keywords are those of `spectralbench.read`. A file is guessed to be one of ours by its
    content, whatever its name.

    Examples
    --------
    >>> dataset = xr.open_dataset("reference_curves/actinic.csv", engine="spectralbench")
    >>> dataset.wavelength.units
    'nm'
    """

    description = "Open spectra and logs in open text layouts, with spectralbench"
    open_dataset_parameters: ClassVar[tuple[str, ...]] = (
        "filename_or_obj",
        "drop_variables",
        *Choices._fields,
    )
    supports_groups = True

    def open_dataset(
        self, filename_or_obj: Any, *, drop_variables: str | Iterable[str] | None = None, **choices: Any
    ) -> xr.Dataset:
        """Open a file as a dataset.

        Parameters
        ----------
        filename_or_obj : str or path-like
            The file.
        drop_variables : str or iterable of str, optional
            Variables that are left out; those that the file does not have are ignored.
        **choices
            As for `spectralbench.read`.

        Returns
        -------
        xarray.Dataset
            As from `spectralbench.read`.

        Raises
        ------
        ReadError
            With all faults of the file; also if it holds unlike spectra, which only a tree can.

        Examples
        --------
        >>> SpectraBackend().open_dataset("reference_curves/actinic.csv").attrs["format"]
        'spectralbench plain text'
        """
        result = read(_path(filename_or_obj), **choices)
        advice = "Open it with xarray.open_datatree or spectralbench.read"
        result = only_dataset(result, filename_or_obj, advice)
        return _without(result, drop_variables)

    def open_datatree(
        self, filename_or_obj: Any, *, drop_variables: str | Iterable[str] | None = None, **choices: Any
    ) -> xr.DataTree:
        """Open a file as a tree; that of a file with one kind of spectra is a root alone.

        Parameters
        ----------
        filename_or_obj, drop_variables, **choices
            As for `open_dataset`.

        Returns
        -------
        xarray.DataTree
            A child for each block.

        Raises
        ------
        ReadError
            With all faults of the file.

        Examples
        --------
        >>> SpectraBackend().open_datatree("reference_curves/actinic.csv").dataset.sizes["wavelength"] > 1
        True
        """
        result = read(_path(filename_or_obj), **choices)
        if isinstance(result, xr.Dataset):
            return xr.DataTree(_without(result, drop_variables))
        dropped = {
            node.path: _without(node.to_dataset(inherit=False), drop_variables) for node in result.subtree
        }
        return xr.DataTree.from_dict(dropped)

    def open_groups_as_dict(
        self, filename_or_obj: Any, *, drop_variables: str | Iterable[str] | None = None, **choices: Any
    ) -> dict[str, xr.Dataset]:
        """Open a file as datasets by the path of their group.

        Parameters
        ----------
        filename_or_obj, drop_variables, **choices
            As for `open_dataset`.

        Returns
        -------
        dict of str to xarray.Dataset
            The root, and each block.

        Examples
        --------
        >>> list(SpectraBackend().open_groups_as_dict("reference_curves/actinic.csv"))
        ['/']
        """
        tree = self.open_datatree(filename_or_obj, drop_variables=drop_variables, **choices)
        return {node.path: node.to_dataset(inherit=False) for node in tree.subtree}

    def guess_can_open(self, filename_or_obj: Any) -> bool:
        """Tell by the first bytes of a file whether it is for this engine.

        Parameters
        ----------
        filename_or_obj : object
            A path, or whatever else xarray was given.

        Returns
        -------
        bool
            Whether it is a file that begins like one of our layouts.

        Examples
        --------
        >>> SpectraBackend().guess_can_open("reference_curves/actinic.csv")
        True
        >>> SpectraBackend().guess_can_open("pyproject.toml")
        False
        """
        if not isinstance(filename_or_obj, str | os.PathLike):
            return False
        return looks_readable(filename_or_obj)


def _path(filename_or_obj: Any) -> str | os.PathLike[str]:
    if isinstance(filename_or_obj, str | os.PathLike):
        return filename_or_obj
    kind = type(filename_or_obj).__name__
    fault = Fault(f"an object of type {kind}", "the path of a file", "Save it as a file, and name that")
    raise ReadError(kind, [fault])


def _without(dataset: xr.Dataset, names: str | Iterable[str] | None) -> xr.Dataset:
    if names is None:
        return dataset
    return dataset.drop_vars([names] if isinstance(names, str) else names, errors="ignore")
