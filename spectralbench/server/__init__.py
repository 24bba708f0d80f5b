"""What JupyterLab asks for: a file as a payload, read by the package's own readers.

A Jupyter Server extension. It answers whom the server knows and allows to read files, and reads
only what lies below the server's root.
"""

from __future__ import annotations

from typing import Any

from spectralbench.server.handlers import FiguresHandler, SpectraHandler

__all__: list[str] = []


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    """Tell the server which module to load."""
    return [{"module": "spectralbench.server"}]


def _load_jupyter_server_extension(app: Any) -> None:
    """Add our addresses to the server's."""
    base = app.web_app.settings["base_url"].rstrip("/")
    handlers = (("spectra", SpectraHandler), ("figures", FiguresHandler))
    app.web_app.add_handlers(".*$", [(f"{base}/spectralbench/{name}", handler) for name, handler in handlers])
