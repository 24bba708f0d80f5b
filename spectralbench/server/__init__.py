"""What JupyterLab asks for: a file as a payload, something new to start from, a function looked up.

A Jupyter Server extension. It answers whom the server knows and allows to read files, or to write them,
and reads and writes only what lies below the server's root.
"""

from __future__ import annotations

from typing import Any

from spectralbench.server.handlers import FiguresHandler, SpectraHandler
from spectralbench.server.names import NamesHandler
from spectralbench.server.promptness import prompt
from spectralbench.server.starting import NewHandler

__all__: list[str] = []


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    """Tell the server which module to load."""
    return [{"module": "spectralbench.server"}]


def _load_jupyter_server_extension(app: Any) -> None:
    """Add our addresses to the server's, and let kernels answer without delay."""
    base = app.web_app.settings["base_url"].rstrip("/")
    handlers = (
        ("spectra", SpectraHandler),
        ("figures", FiguresHandler),
        ("new", NewHandler),
        ("names", NamesHandler),
    )
    app.web_app.add_handlers(".*$", [(f"{base}/spectralbench/{name}", handler) for name, handler in handlers])
    connection = app.web_app.settings.get("kernel_websocket_connection_class")
    if isinstance(connection, type):
        app.web_app.settings["kernel_websocket_connection_class"] = prompt(connection)
