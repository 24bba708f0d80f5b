"""`{notebooks}`: every example notebook with its title and its first paragraph, in the order of the work."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

FOLDER = Path(__file__).parents[2] / "example_notebooks"
FIRST = ("first_hour", "check_the_bench", "reduce_a_bench", "which_source", "housing_material")


def in_order() -> list[Path]:
    """The notebooks as somebody meets them; one that nobody placed comes last."""
    place = {name: number for number, name in enumerate(FIRST)}
    return sorted(FOLDER.glob("*.ipynb"), key=lambda path: (place.get(path.stem, len(FIRST)), path.stem))


def opening(cells: list[dict[str, Any]]) -> tuple[str, str]:
    """The title, and the paragraph below it."""
    text = "".join(cells[0]["source"])
    title, _, rest = text.partition("\n")
    return title.lstrip("# "), rest.strip().partition("\n\n")[0]


class Notebooks(SphinxDirective):
    """A list of definitions; each name is a link to the notebook."""

    def run(self) -> list[nodes.Node]:
        """Title, paragraph and file of each."""
        lines = []
        for path in in_order():
            self.env.note_dependency(str(path))
            title, paragraph = opening(json.loads(path.read_text(encoding="utf-8"))["cells"])
            said = " ".join(paragraph.split())
            lines += [
                f"{title}",
                f": {said}",
                f": {{download}}`{path.name} </../../example_notebooks/{path.name}>`",
                "",
            ]
        return self.parse_text_to_nodes("\n".join(lines))


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directive."""
    app.add_directive("notebooks", Notebooks)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
