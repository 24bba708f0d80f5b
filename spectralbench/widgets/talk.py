"""What all our widgets do alike: hear a browser, refuse in words, and leave a picture in a saved notebook."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from spectralbench.errors import RangeError
from spectralbench.widgets.saving import kept

TURNED = {"sync": True, "echo_update": False}
"""Of a trait that a browser sets: `Talk` says itself what stands then, after what follows from it."""

REFUSED = "refused: "
"""How the state of a widget begins that has refused something; the reason follows."""


class Talk(anywidget.AnyWidget):
    """A widget that draws as soon as it is turned.

    Attributes
    ----------
    state : str
        Empty, or what the widget is at, or why something was refused.
    """

    state = traitlets.Unicode().tag(sync=True)

    kind = ""
    """The name of its bundle."""

    def set_state(self, sync_data: dict[str, Any]) -> None:
        """Take over what the browser has turned.

        ipywidgets would repeat the values to all browsers before anything else; the picture of who turns
        is sooner there if they come after it.
        """
        if self.state.startswith(REFUSED):
            self.state = ""
        try:
            super().set_state(sync_data)
        except RangeError as error:
            self.state = f"{REFUSED}{error}"
        stands = self.get_state([name for name in sync_data if name in self.keys])
        self._send({"method": "echo_update", "state": stands, "buffer_paths": []})

    def still(self) -> tuple[str, str]:
        """What a page without a kernel shows: a picture as SVG, and its figures in plain text."""
        raise NotImplementedError

    def _repr_mimebundle_(self, **options: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        found = super()._repr_mimebundle_(**options)
        data, about = found if isinstance(found, tuple) else ({}, {})
        return kept(self, self.kind, *self.still(), data), about
