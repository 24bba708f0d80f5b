"""What the wheel carries for JupyterLab: the built extension, and the settings that switch it on.

Nothing is built here: `make wheel` builds the extension first. An editable installation goes without it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NAME = "spectralbench"


class WheelHook(BuildHookInterface):
    """Puts the built extension where JupyterLab looks for it."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Add the files; of a wheel for others, they have to be there."""
        root = Path(self.root)
        switch = "etc/jupyter/jupyter_server_config.d"
        shared = {str(root / "extension" / "server.json"): f"{switch}/{NAME}.json"}
        built, widgets = (root / "spectralbench" / place for place in ("labextension", "widgets/static"))
        if version == "standard":
            scripts = (widgets / f"{name}.js" for name in ("light_path", "frame_check", "transmission"))
            for file in (built / "package.json", *scripts):
                if not file.is_file():
                    raise FileNotFoundError(f"{file} is not built: make wheel does that first")
            home = f"share/jupyter/labextensions/{NAME}"
            shared |= {
                str(file): f"{home}/{file.relative_to(built)}" for file in built.rglob("*") if file.is_file()
            }
            shared[str(root / "extension" / "install.json")] = f"{home}/install.json"
        build_data["shared_data"].update(shared)
