"""Curves of a widget as a payload."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from spectralbench.payload import FINEST, VERSION, in_steps, pack


class Curves:
    """Curves that share axes, gathered for one payload.

    Parameters
    ----------
    kind : str
        What the payload is.

    Examples
    --------
    >>> from spectralbench.payload import unpack
    >>> curves = Curves("strip")
    >>> curves.add("LED", "mW/cm²/nm", ("wavelength", "nm"), [365.0, 366.0], [1.0, 2.0])
    >>> header, arrays = unpack(curves.packed(band=[320, 430]))
    >>> header["curves"][0]["label"], header["band"], arrays["y0"].tolist()
    ('LED', [320, 430], [1.0, 2.0])
    """

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._curves: list[dict[str, Any]] = []
        self._arrays: dict[str, NDArray[Any]] = {}
        self._axes: dict[bytes, str] = {}

    def add(self, label: str, units: str, axis: tuple[str, str], x: Any, y: Any, **more: Any) -> None:
        """Add a curve.

        Parameters
        ----------
        label, units : str
            What it is, and the unit of its values, which are in the one that people use.
        axis : tuple of str
            Name and unit of what it lies along.
        x, y : array-like (n,)
            Places and values.
        **more
            What else is said of it; with ``low`` and ``high`` (n,), the ends of its interval.
        """
        along, number = np.asarray(x, dtype=float), len(self._curves)
        steps = in_steps(along)
        key = along.tobytes()
        if key not in self._axes:
            self._axes[key] = f"x{len(self._axes)}"
            self._arrays[self._axes[key]] = along if steps is None else steps
        told = {"name": axis[0], "units": axis[1]}
        fine = {} if steps is None else {"first": float(along[0]), "steps": FINEST}
        curve = {"label": label, "quantity": "", "block": None, "units": units, "axis": told | fine}
        curve |= {"x": self._axes[key], "y": f"y{number}"}
        self._arrays[f"y{number}"] = np.asarray(y, np.float32)
        for end in ("low", "high"):
            if end in more:
                self._arrays[f"{end}{number}"] = np.asarray(more[end], np.float32)
                more[end] = f"{end}{number}"
        self._curves.append(curve | more)

    def packed(self, **header: Any) -> bytes:
        """Bytes of all curves, with what else the header says."""
        return pack({"version": VERSION, "kind": self._kind, **header, "curves": self._curves}, self._arrays)
