"""Formulas as MathML, which every browser draws by itself: no script and no font has to be fetched."""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.utils.math.latex2mathml import tex2mathml
from sphinx.application import Sphinx


def inline(visitor: Any, node: Any) -> None:
    """Write a formula within a line."""
    visitor.body.append(tex2mathml(node.astext(), as_block=False))
    raise nodes.SkipNode


def block(visitor: Any, node: Any) -> None:
    """Write a formula that stands by itself."""
    visitor.body.append(f'<div class="formula">{tex2mathml(node.astext(), as_block=True)}</div>')
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the renderer `mathml`."""
    app.add_html_math_renderer("mathml", (inline, None), (block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
