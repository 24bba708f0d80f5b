"""The last number of a file: one that was cut off is still a number, and only its length tells."""

from __future__ import annotations

from collections.abc import Sequence

from spectralbench.errors import quote
from spectralbench.readers.dialect import row_fields
from spectralbench.readers.layout import Layout


def cut_short(lines: Sequence[str], layout: Layout) -> list[str]:
    """What to know of a file that ends inside its last row.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file.
    layout : Layout
        How it is laid out.

    Returns
    -------
    list of str
        A warning, or none.

    Examples
    --------
    >>> from spectralbench.readers.layout import lay_out
    >>> lines = ["wavelength [nm],counts", "365,31200", "366,31203", "367,312"]
    >>> cut_short(lines, lay_out(lines, "example.csv"))[0][:51]
    'line 4 ends without a line end, and "312" has fewer'
    >>> cut_short([*lines, ""], lay_out(lines, "example.csv"))
    []
    """
    delimiter, decimal, _, padding = layout.dialect
    few = len(layout.rows) < 3 or layout.rows[-1] != len(lines) - 1
    if few or padding or layout.kinds[-1] != "n":
        return []
    *others, last = (row_fields(lines[i], delimiter)[0][-1] for i in layout.rows)
    if not all(is_shorter(last, other, decimal) for other in others):
        return []
    return [
        f"line {len(lines)} ends without a line end, and {quote(last)} has fewer digits than what stands "
        "above it in every row: was the file cut off there?"
    ]


def is_shorter(last: str, other: str, decimal: str) -> bool:
    """Whether a number has fewer decimals than another one, or is a whole one of fewer digits, and much less.

    Examples
    --------
    >>> [is_shorter(last, "31200", ".") for last in ("312", "9980", "31199")]
    [True, True, False]
    >>> is_shorter("5.2", "5.20e-2", "."), is_shorter("99.9", "103.1", ".")
    (True, False)
    """
    (own, power), (others, far) = _digits(last, decimal), _digits(other, decimal)
    if power or far or own or others:
        return (len(power), len(own)) < (len(far), len(others))
    short = len(last.lstrip("+-")) < len(other.lstrip("+-"))
    return short and 2 * abs(_whole(last)) < abs(_whole(other))


def _digits(number: str, decimal: str) -> tuple[str, str]:
    """What stands behind the decimal sign of a number, and its exponent."""
    mantissa, _, exponent = number.lower().replace("d", "e").partition("e")
    return mantissa.partition(decimal)[2], exponent


def _whole(number: str) -> int:
    return int(number) if number.lstrip("+-").isdigit() else 0
