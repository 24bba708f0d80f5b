"""What a frame is held against, and how what was found is told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

GOOD, CARE, NOT = "may be used", "with care", "not"
"""Verdicts on a frame or a scan."""

_PRACTICE = "common practice, no source"


class Finding(NamedTuple):
    """A verdict, and why."""

    verdict: str
    reason: str  # empty where there is nothing to say


class Limit(NamedTuple):
    """What something is held against, and where that comes from."""

    title: str
    value: float
    kind: Literal["share", "number", "times"]
    at_most: bool
    standing: str

    def words(self, value: float) -> str:
        """A value that was found, as a person reads it.

        Examples
        --------
        >>> LIMITS["scatter"].words(0.0123), LIMITS["noise"].words(float("nan"))
        ('1.2 %', 'not known')
        """
        if not np.isfinite(value):
            return "not known"
        if self.kind == "share":
            return per_cent(value)
        return f"{value:.0f}" if self.kind == "number" else f"{value:.2g} times"

    def in_words(self) -> str:
        """The limit itself.

        Examples
        --------
        >>> LIMITS["highest"].in_words(), LIMITS["saturated"].in_words()
        ('10 % or more', 'none')
        """
        if self.at_most and self.value == 0:
            return "none"
        return f"{self.words(self.value)} or {'less' if self.at_most else 'more'}"


LIMITS = {
    "saturated": Limit(
        "saturated pixels", 0, "number", True, f"{_PRACTICE}: from a share of the full scale on, not linear"
    ),
    "highest": Limit("highest count, of full scale", 0.10, "share", False, _PRACTICE),
    "light": Limit("light, of full scale", 0.005, "share", False, _PRACTICE),
    "level": Limit(
        "a scan against the median",
        0.005,
        "share",
        True,
        "common practice, no source; odd from 3.5 robust deviations on (Iglewicz and Hoaglin, 1993)",
    ),
    "dark level": Limit(
        "a scan against the median, of full scale",
        0.002,
        "share",
        True,
        "common practice, no source; odd from 3.5 robust deviations on (Iglewicz and Hoaglin, 1993)",
    ),
    "scans": Limit("scans", 3, "number", False, f"{_PRACTICE}; their scatter: JCGM 100:2008, 4.2.3"),
    "scatter": Limit("scatter from scan to scan", 0.01, "share", True, _PRACTICE),
    "drift": Limit(
        "drift over the series",
        0.01,
        "share",
        True,
        "common practice, no source; beyond its 95 % interval (JCGM 100:2008, H.3)",
    ),
    "noise": Limit("scatter of pixels against noise", 1.5, "times", True, _PRACTICE),
    "pixels": Limit("dead or stuck pixels", 0, "number", True, f"{_PRACTICE}: a pixel that does not answer"),
}
"""By a word of ours; ``title`` is what people read."""


def per_cent(share: float) -> str:
    """A share in two digits.

    Examples
    --------
    >>> per_cent(0.0421), per_cent(0.99), per_cent(0.00069)
    ('4.2 %', '99 %', '0.069 %')
    """
    percents = 100 * share
    text = f"{percents:.0f} %" if abs(percents) >= 10 else f"{percents:.2g} %"
    return text.replace("-", "−")


def sentence(verdict: str, reasons: Sequence[str]) -> str:
    """A verdict with its reasons.

    Examples
    --------
    >>> sentence(CARE, ["one scan", "hardly any light"]), sentence(GOOD, [])
    ('with care: one scan; hardly any light', 'may be used')
    """
    return f"{verdict}: {'; '.join(reasons)}" if reasons else verdict
