"""Work shared out over the cores of the machine, where that is safe and pays."""

from __future__ import annotations

import os
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

_LEFT = 40  # of as many items, one is left to the process that takes the results in
_MOST = 8  # cores; beyond them the results come in faster than one process takes them


def shared_out(
    work: Callable[[Item], Result], items: Sequence[Item], report: Callable[[int], object], pays: int
) -> list[Result]:
    """Do work on every item, in order, on as many cores as pay.

    Parameters
    ----------
    work : callable
        Called with each item, some of them in copies of this process: what it changes there is
        not seen here.
    items : sequence
        The items.
    report : callable
        Called with the number of results that are there.
    pays : int
        The items for each core from which a second process pays.

    Returns
    -------
    list
        The results in the order of the items.

    Examples
    --------
    >>> shared_out(abs, [-1, -2], report=print, pays=100)
    1
    2
    [1, 2]
    """
    with _begun(work, items, _cores(len(items) // pays) - 1, report) as results:
        return results()


@contextmanager
def beside(work: Callable[[Item], Result], items: Sequence[Item]) -> Iterator[Callable[[], list[Result]]]:
    """Do work on every item while this process goes on with something else, if there is a core for it.

    Parameters
    ----------
    work : callable
        Called with each item, as for `shared_out`.
    items : sequence
        The items.

    Yields
    ------
    callable
        Waits for the results, and gives them in the order of the items; without another core it
        does the work itself.

    Examples
    --------
    >>> with beside(abs, [-1, -2]) as results:
    ...     results()
    [1, 2]
    """
    with _begun(work, items, _cores(len(items) + 1) - 1, lambda done: None) as results:
        yield results


@contextmanager
def _begun(
    work: Callable[[Item], Result], items: Sequence[Item], copies: int, report: Callable[[int], object]
) -> Iterator[Callable[[], list[Result]]]:
    """Begin work in copies of this process; what is yielded helps them, and gives all results in order."""
    if not copies:
        yield lambda: _alone(work, items, report)
        return
    first = get_context("fork").Value("i", 0)  # of the items that nobody has taken
    last = len(items) - len(items) // _LEFT  # which this process does while a copy sends its results

    def taken(end: int, told: Callable[[int], object]) -> dict[int, Result]:
        done: dict[int, Result] = {}
        while True:
            with first.get_lock():
                place = first.value
                if place >= end:
                    return done
                first.value += 1
            done[place] = work(items[place])
            told(max(place + 1 - copies, len(done)))

    with ExitStack() as stack:
        others = [stack.enter_context(_copy(lambda: taken(last, lambda done: None))) for _ in range(copies)]

        def results() -> list[Result]:
            found = taken(len(items), report)
            for theirs in others:
                found |= theirs() or {}
            every = [found[i] if i in found else work(item) for i, item in enumerate(items)]
            report(len(every))
            return every

        yield results


def _alone(
    work: Callable[[Item], Result], items: Sequence[Item], report: Callable[[int], object]
) -> list[Result]:
    results = []
    for item in items:
        results.append(work(item))
        report(len(results))
    return results


def _cores(pay: int) -> int:
    """How many cores pay; 1 where a copy of this process could hang, as one of several threads may."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return 1
    return max(1, min(len(os.sched_getaffinity(0)), pay, _MOST))


@contextmanager
def _copy(work: Callable[[], Result]) -> Iterator[Callable[[], Result | None]]:
    """Begin work in a copy of this process; what is yielded waits for its result.

    There is none if the copy was stopped from outside.
    """
    context = get_context("fork")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=lambda: there.send(work()), daemon=True)
    with warnings.catch_warnings():  # of threads that libraries of numbers started, which do no harm
        warnings.filterwarnings("ignore", ".*use of fork", DeprecationWarning)
        process.start()
    there.close()

    def result() -> Result | None:
        try:
            received: Result = here.recv()
        except EOFError:
            return None
        return received

    try:
        yield result
    finally:
        here.close()
        process.kill()  # its end is not waited for: Python takes note of it when the next one begins
