"""The steps of a reduction, so that what a cause of uncertainty does not reach is worked out once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from spectralbench.benches.budget import Budget

T = TypeVar("T")


class Steps:
    """Results of the steps of one reduction, and the causes that each of them asked for.

    Parameters
    ----------
    budget : Budget
        Draws of the inputs; perhaps of one cause alone.
    best : Steps, optional
        The steps with best estimates of all inputs, whose results are taken where the one cause of
        the budget is not asked for.

    Examples
    --------
    >>> from spectralbench.benches.manifest import read_manifest
    >>> manifest = read_manifest(demo)[0]
    >>> best = Steps(Budget(manifest))
    >>> best("film", lambda: float(best.budget.scalar("bond line", "", manifest.adhesive.bond_line)))
    0.15
    >>> alone = Steps(Budget(manifest, 20, only="noise"), best)
    >>> alone("film", lambda: 0.0)  # which noise does not reach
    0.15
    """

    def __init__(self, budget: Budget, best: Steps | None = None) -> None:
        self.budget = budget
        self.best = best
        self.results: dict[str, object] = {}
        self.causes: dict[str, set[str]] = {}

    def __call__(self, name: str, work: Callable[[], T], *after: str) -> T:
        """The result of a step.

        Parameters
        ----------
        name : str
            The step.
        work : callable
            Works it out.
        *after : str
            The steps whose results it uses.

        Returns
        -------
        object
            What `work` gives, or gave with best estimates if the one cause does not reach it.
        """
        if self.best is not None and self.budget.only not in self.best.causes[name]:
            return cast(T, self.best.results[name])
        asked = self.budget.met
        self.budget.met = {}
        result = work()
        self.causes[name] = set(self.budget.met).union(*(self.causes.get(step, ()) for step in after))
        self.budget.met = asked | self.budget.met
        self.results[name] = result
        return result
