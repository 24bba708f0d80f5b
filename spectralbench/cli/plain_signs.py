"""Signs for an output in which not every letter can be written, such as a pipe in an older encoding."""

from __future__ import annotations

import codecs
from typing import Any

PLAIN = "spectralbench.plain"
_INSTEAD = {
    "✓": "+",
    "✗": "x",
    "–": "-",
    "—": "-",
    "…": "...",
    "→": "->",
    "≥": ">=",
    "≤": "<=",
    "±": "+/-",
    "×": "x",
    "·": "*",
    "µ": "u",
    "²": "^2",
    "³": "^3",
    "°": "deg ",
}


def _instead(error: UnicodeError) -> tuple[str, int]:
    """What stands for letters that cannot be written."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    letters = error.object[error.start : error.end]
    plain = (_INSTEAD.get(one) or one.encode("ascii", "backslashreplace").decode() for one in letters)
    return "".join(plain), error.end


def writes_all(stream: Any) -> bool:
    """Whether every letter can be written to a stream.

    Examples
    --------
    >>> import io
    >>> writes_all(io.TextIOWrapper(io.BytesIO(), "latin-1"))
    False
    """
    return (getattr(stream, "encoding", None) or "utf-8").lower().replace("-", "").startswith("utf")


def made_plain(stream: Any) -> None:
    r"""Have a stream write other signs for letters that it has not, instead of failing.

    Examples
    --------
    >>> import io
    >>> kept = io.BytesIO()
    >>> stream = io.TextIOWrapper(kept, "ascii")
    >>> made_plain(stream)
    >>> print("✓ 5–6 mW/cm²", file=stream, flush=True)
    >>> kept.getvalue()
    b'+ 5-6 mW/cm^2\n'
    """
    if not writes_all(stream) and hasattr(stream, "reconfigure"):
        codecs.register_error(PLAIN, _instead)
        stream.reconfigure(errors=PLAIN)
