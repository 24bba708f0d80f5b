"""What of a widget stays in a saved notebook: a picture, words, and all that the browser needs to show it."""

from __future__ import annotations

import base64
from typing import Any

import anywidget

MIME = "application/vnd.spectralbench.view+json"
"""Our own kind of output, which the JupyterLab extension shows without a kernel."""

VERSION = 1


def kept(widget: anywidget.AnyWidget, kind: str, picture: str, words: str, data: Any) -> dict[str, Any]:
    """A widget's output with what is seen of it where there is no kernel.

    Parameters
    ----------
    widget : anywidget.AnyWidget
        The widget.
    kind : str
        Which of ours it is: the name of its bundle.
    picture : str
        SVG, for pages that show nothing else.
    words : str
        Its figures in plain text.
    data : dict or None
        What anywidget says of it.

    Returns
    -------
    dict
        By kind of output.

    Examples
    --------
    >>> found = kept(anywidget.AnyWidget(), "light_path", "<svg/>", "Test first: LED 405.", {})
    >>> list(found), found[MIME]["widget"]
    (['application/vnd.spectralbench.view+json', 'image/svg+xml', 'text/plain'], 'light_path')
    """
    state = {
        name: _in_json(value)
        for name, value in widget.get_state().items()
        if not name.startswith("_") and name not in _OF_ANY
    }
    saved = {"widget": kind, "version": VERSION, "state": state}
    return {**(data or {}), MIME: saved, "image/svg+xml": picture, "text/plain": words}


_OF_ANY = ("layout", "tabbable", "tooltip")  # traits that every widget has


def _in_json(value: Any) -> Any:
    if isinstance(value, bytes | memoryview):
        return {"base64": base64.b64encode(value).decode("ascii")}
    return value
