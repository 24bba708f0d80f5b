"""`{functions} modules`: what they make public, first as a table with what each does, then with docstrings.

A function that is new in one of them is in the reference without anybody's doing.
"""

from __future__ import annotations

import importlib
import inspect

from docutils import nodes
from names_in_docstrings import linked
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

import spectralbench as sb


def public(module: str) -> list[str]:
    """Names as a user calls them behind `sb.`: at the top, or in a module that is public as a whole."""
    if module in sb._HOMES:
        return list(sb._HOMES[module])
    names = importlib.import_module(f"spectralbench.{module}").__all__
    return [f"{module}.{name}" for name in names]


def _found(name: str) -> object:
    found: object = sb
    for part in name.split("."):
        found = getattr(found, part)
    return found


def _kind(thing: object) -> str:
    if not inspect.isclass(thing):
        return "function"
    return "exception" if issubclass(thing, Exception) else "class"


class Functions(SphinxDirective):
    """The modules that are named."""

    required_arguments = 1
    final_argument_whitespace = True

    def run(self) -> list[nodes.Node]:
        """A table, and autodoc for each."""
        names = [name for module in self.arguments[0].split() for name in public(module)]
        rows, texts = (
            [".. list-table::", "   :widths: 30 70", ""],
            [".. py:currentmodule:: spectralbench", ""],
        )
        for name in names:
            thing = _found(name)
            first = (inspect.getdoc(thing) or "").partition("\n")[0]
            rows += [f"   * - :py:obj:`{name} <spectralbench.{name}>`", f"     - {linked(first)}"]
            texts += [f".. auto{_kind(thing)}:: spectralbench.{name}", ""]
        return self.parse_text_to_nodes("\n".join(["````{eval-rst}", *rows, "", *texts, "````"]))


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directive."""
    app.add_directive("functions", Functions)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
