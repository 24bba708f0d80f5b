"""What our widgets keep: results that are told apart by what they are, and why a value is refused."""

from __future__ import annotations

from typing import Any

import traitlets
import xarray as xr

from spectralbench.errors import RangeError


class Refused(RangeError, traitlets.TraitError):  # noqa: N818 - as everybody reads it
    """A value that a bench does not answer for; what was set before stays."""


class Whole(traitlets.Instance[xr.Dataset]):
    """A dataset that is another one whenever it is another object: two of them are not compared."""

    def set(self, obj: Any, value: Any) -> None:
        """Keep a dataset, and tell those who observe it."""
        new, old = self._validate(obj, value), obj._trait_values.get(self.name)
        obj._trait_values[self.name] = new
        if new is not old:
            obj._notify_trait(self.name, old, new)
