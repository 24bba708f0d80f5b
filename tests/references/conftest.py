"""Every value from outside that a test holds the project against, and how far it agrees.

A test calls `agrees(what, found, expected, source, digits)`. It fails unless `found` lies within half a unit
of the last of `digits` significant digits of `expected`. A number given as text counts with the digits that
its source prints; beside an expected zero, `digits` are decimal places. `make references` prints the rows.

Each row has a standing:

- *published*: somebody printed the number, and the source says who, when and where;
- *package*: a library of others computed it, now or with the version that the source names, from its own
  tables or by its own method;
- *closed form*: derived in the test. It is told by those words, or by "derived", in the source.

The honest count is that of the first two: a closed form shows that a formula was followed, by one who may
have misread it. A value from memory proves nothing and is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from decimal import Decimal
from itertools import groupby
from typing import Any, NamedTuple

import pytest

STANDINGS = ("published", "package", "closed form")
MOST_DIGITS = 16  # more than a double holds


class Row(NamedTuple):
    """One value from outside beside what the project found."""

    what: str
    source: str
    standing: str
    expected: str
    found: float
    digits: int
    reached: int

    @property
    def holds(self) -> bool:
        return self.reached >= self.digits


def digits_reached(found: float, expected: float) -> int:
    """Significant digits of `expected` (decimal places of a zero) that `found` agrees to, rounded."""
    apart = abs(found - expected)
    if not math.isfinite(apart):
        return 0
    places = Decimal(repr(expected)).adjusted() + 1 if expected else 0
    if apart == 0:
        return MOST_DIGITS
    tie = 1e-9  # half a unit is near enough, whichever way the source rounded it
    return max(0, min(MOST_DIGITS, math.floor(places - math.log10(2 * apart) + tie)))


def row_of(
    what: str, found: Any, expected: float | str, source: str, digits: int | None, standing: str | None
) -> Row:
    if "from memory" in source.lower():
        raise ValueError(f"{what}: a value from memory proves nothing; find who published it")
    if standing is None:
        derived = any(words in source.lower() for words in ("closed form", "derived"))
        standing = "closed form" if derived else "published"
    if standing not in STANDINGS:
        raise ValueError(f"{what}: the standing is one of {', '.join(STANDINGS)}; found {standing!r}")
    if digits is None:
        if not isinstance(expected, str):
            raise ValueError(f"{what}: say to how many digits, or give the number as its source prints it")
        digits = len(Decimal(expected).as_tuple().digits)
    value, result = float(expected), float(found)
    text = expected if isinstance(expected, str) else f"{value:.{min(digits + 2, MOST_DIGITS)}g}"
    return Row(what, source, standing, text, result, digits, digits_reached(result, value))


@pytest.fixture
def agrees(record_property: Callable[[str, object], None]) -> Callable[..., None]:
    """`agrees(what, found, expected, source, digits, standing)`: assert, and record the row."""

    def agrees(
        what: str,
        found: Any,
        expected: float | str,
        source: str,
        digits: int | None = None,
        standing: str | None = None,
    ) -> None:
        row = row_of(what, found, expected, source, digits, standing)
        record_property("agrees", tuple(row))  # goes with the report, from a worker too
        if not row.holds:
            raise AssertionError(
                f"{what}: found {row.found!r}, but {expected} is expected ({source}): "
                f"they agree to {row.reached} digits, not to {row.digits}"
            )

    return agrees


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--references", action="store_true", help="print every value from outside")


def lines(rows: dict[str, list[Row]]) -> Iterator[str]:
    """The table: under each file its sources, under each source its values."""
    wide = max((len(row.what) for found in rows.values() for row in found), default=0)
    heads = f"    {'what':<{wide}}{'value':>20}{'found':>22}{'digits':>8}{'agrees to':>11}"
    for file, found in sorted(rows.items()):
        yield f"\n{file}"
        for (source, standing), same in groupby(
            sorted(found, key=lambda row: (row.source, row.standing)), lambda row: (row.source, row.standing)
        ):
            yield f"\n  {source} [{standing}]"
            yield heads
            for row in same:
                result = f"{row.found:.{min(row.digits + 2, MOST_DIGITS)}g}"
                agreement = f"{row.reached:>11}{'' if row.holds else '  DISAGREES'}"
                yield f"    {row.what:<{wide}}{row.expected:>20}{result:>22}{row.digits:>8}{agreement}"


def total(rows: list[Row]) -> str:
    independent = [row for row in rows if row.standing != "closed form"]
    published = sum(row.standing == "published" for row in rows)
    wrong = sum(not row.holds for row in rows)
    agreement = f"{wrong} disagree" if wrong else "all agree"
    sources = len({row.source for row in independent})
    return (
        f"{len(independent)} independent values, {sources} sources, {agreement}: "
        f"{published} published, {len(independent) - published} by packages; "
        f"beside them {len(rows) - len(independent)} closed forms"
    )


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    if not config.getoption("--references", default=False):
        return
    rows: dict[str, list[Row]] = {}
    for report in terminalreporter.getreports("passed") + terminalreporter.getreports("failed"):
        if getattr(report, "when", None) == "call":
            file = report.nodeid.partition("::")[0]
            rows.setdefault(file, []).extend(
                Row(*value) for name, value in report.user_properties if name == "agrees"
            )
    for line in lines({file: found for file, found in rows.items() if found}):
        terminalreporter.write_line(line)
    terminalreporter.write_line("\n" + total([row for found in rows.values() for row in found]))
