"""`{commands}`: a section for each command, with what it prints with `--help`, as it stands in the code."""

from __future__ import annotations

import argparse

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from spectralbench.cli import parser


def commands() -> dict[str, argparse.ArgumentParser]:
    """Every command with its parser."""
    (group,) = [action for action in parser()._actions if isinstance(action, argparse._SubParsersAction)]
    return dict(group.choices)


class Commands(SphinxDirective):
    """All of them, in their order."""

    def run(self) -> list[nodes.Node]:
        """A section with the help of each."""
        found: list[nodes.Node] = []
        for name, words in commands().items():
            section = nodes.section(ids=[f"spectralbench-{name}"], names=[f"spectralbench {name}"])
            section += nodes.title(text=f"spectralbench {name}")
            text = words.format_help()
            section += nodes.literal_block(text, text, language="none")
            found.append(section)
        return found


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directive."""
    app.add_directive("commands", Commands)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
