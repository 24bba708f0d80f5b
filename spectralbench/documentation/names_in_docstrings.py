"""What stands in single backticks in a docstring: a public name becomes a link, everything else code."""

from __future__ import annotations

import re
from typing import Any

from sphinx.application import Sphinx

import spectralbench as sb

_QUOTED = re.compile(r"(?<![`:\w])`([^`\n]+)`(?![`_])")


def _written(match: re.Match[str]) -> str:
    name = match[1].removeprefix("spectralbench.")
    return f":py:obj:`{name} <spectralbench.{name}>`" if name in sb.__all__ else f"``{match[1]}``"


def linked(line: str) -> str:
    """A line of a docstring, with its names as links."""
    return _QUOTED.sub(_written, line)


def links(app: Sphinx, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    """Write the lines of a docstring anew, in place."""
    prose = lines.index("Examples") if "Examples" in lines else len(lines)
    bars = [line.replace("|", r"\|") for line in lines[:prose]]  # |x| is a magnitude and no substitution
    lines[:] = [linked(line) for line in bars] + lines[prose:]


def setup(app: Sphinx) -> dict[str, bool]:
    """Listen to autodoc, before napoleon does."""
    app.connect("autodoc-process-docstring", links, priority=100)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
