"""The list of files beside the charts, from which the tests take one."""

from __future__ import annotations

import re
from typing import Any


def item(page: Any, name: str) -> Any:
    """A file in the list, which shows what other tests have left: else a row moves under the hand."""
    page.evaluate("window.jupyterapp.commands.execute('filebrowser:refresh')")
    return page.locator(".jp-DirListing-item", has_text=re.compile(rf"^\s*{re.escape(name)}"))


def drop(page: Any, name: str, view: Any) -> None:
    """Drag a file from the list onto a chart."""
    box = view.get_by_role("application").bounding_box()
    row = item(page, name)
    row.hover(position={"x": 40, "y": 8})  # once the list stands still
    start = row.bounding_box()
    page.mouse.down()
    page.mouse.move(start["x"] + 80, start["y"] + 30, steps=4)
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=6)
    page.mouse.up()
