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
    if hasattr(stream, "reconfigure"):
        codecs.register_error(PLAIN, _instead)
        stream.reconfigure(errors=PLAIN)
