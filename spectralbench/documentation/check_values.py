"""`{check-values}`: every value from outside that the tests hold the project against, from a run of them.

`make docs` runs `tests/references` and keeps what they record in the file that the environment names in
`CHECK_VALUES`. Without it the page says that no tests were run; no value is typed in here.
"""

from __future__ import annotations

import ast
import os
import xml.etree.ElementTree as ElementTree
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective


class Value(NamedTuple):
    """A row, in the order in which `tests/references/conftest.py` records it."""

    what: str
    source: str
    standing: str
    expected: str
    found: float
    digits: int
    reached: int


def recorded(file: Path) -> dict[str, list[Value]]:
    """The rows by the file of their test."""
    rows: dict[str, list[Value]] = {}
    for case in ElementTree.parse(file).iter("testcase"):
        for found in case.iter("property"):
            if found.get("name") == "agrees":
                parts = case.get("classname", "").split(".")
                name = next(part for part in parts if part.startswith("test_"))  # not of a class in it
                rows.setdefault(name, []).append(Value(*ast.literal_eval(found.get("value", ""))))
    return dict(sorted(rows.items()))


def counted(values: list[Value]) -> str:
    """How many there are of each standing, and how many do not agree."""
    of = {name: sum(value.standing == name for value in values) for name in ("published", "package")}
    wrong = sum(value.reached < value.digits for value in values)
    sources = len({value.source for value in values if value.standing in of})
    independent = of["published"] + of["package"]
    return (
        f"{independent} independent values from {sources} sources: {of['published']} published, "
        f"{of['package']} by packages of others; beside them {len(values) - independent} closed forms. "
        f"{f'{wrong} do not agree' if wrong else 'All agree'}."
    )


class CheckValues(SphinxDirective):
    """A table for each file of tests, and in it the values of each source."""

    def run(self) -> list[nodes.Node]:
        """What the environment names, or a sentence that says that no tests were run."""
        file = os.environ.get("CHECK_VALUES", "")
        if not file:
            return [
                nodes.paragraph(text="This build ran no tests: `make docs` runs them and lists the values.")
            ]
        self.env.note_dependency(file)
        rows = recorded(Path(file))
        found: list[nodes.Node] = [
            nodes.paragraph(text=counted([v for values in rows.values() for v in values]))
        ]
        for name, values in rows.items():
            title = name.removeprefix("test_").replace("_", " ")
            section = nodes.section(ids=[f"values-{title.replace(' ', '-')}"], names=[f"values {title}"])
            section += nodes.title(text=title[0].upper() + title[1:])
            section += table(values)
            found.append(section)
        return found


def _by_source(value: Value) -> tuple[str, str]:
    return value.source, value.standing


def table(values: list[Value]) -> nodes.table:
    """Under each source what it gives, what was found, the digits that count and those that agree."""
    group = nodes.tgroup(cols=5)
    group += [nodes.colspec(colwidth=width) for width in (46, 18, 20, 7, 9)]
    head, body = nodes.thead(), nodes.tbody()
    head += _row(("what", "expected", "found", "digits", "agree to"))
    for (source, standing), same in groupby(sorted(values, key=_by_source), key=_by_source):
        said = nodes.paragraph("", "", nodes.strong(text=standing), nodes.Text(f": {source}"))
        body += nodes.row("", nodes.entry("", said, morecols=4, classes=["source"]))
        for value in same:
            found = f"{value.found:.{min(value.digits + 2, 16)}g}"
            body += _row((value.what, value.expected, found, str(value.digits), str(value.reached)))
    group += [head, body]
    return nodes.table("", group, classes=["values"])


def _row(texts: tuple[str, ...]) -> nodes.row:
    return nodes.row("", *(nodes.entry("", nodes.paragraph(text=text)) for text in texts))


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directive."""
    app.add_directive("check-values", CheckValues)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
