"""Work shared out over the cores of the machine, where that is safe and pays."""

from __future__ import annotations

import os
import struct
import sys
import threading
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from itertools import chain
from multiprocessing import current_process, get_context
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

_NUMBER = struct.Struct("i")
_AT_ONCE = 1000  # numbers; the smallest pipe holds 4,096 bytes
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
    with _begun(work, items, cores(len(items) // pays) - 1, report) as results:
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
    with _begun(work, items, cores(len(items) + 1) - 1, lambda done: None) as results:
        yield results


@contextmanager
def _begun(
    work: Callable[[Item], Result], items: Sequence[Item], copies: int, report: Callable[[int], object]
) -> Iterator[Callable[[], list[Result]]]:
    """Begin work in copies of this process; what is yielded helps them, and gives all results in order."""
    if not copies:
        yield lambda: _alone(work, items, report)
        return
    shared = len(items) - len(items) // _LEFT  # this process does the rest while a copy sends its results
    with _places(shared) as taken, ExitStack() as stack:

        def done_of(places: Iterable[int], told: Callable[[int], object]) -> dict[int, Result]:
            done: dict[int, Result] = {}
            for place in places:
                done[place] = work(items[place])
                told(max(place + 1 - copies, len(done)))
            return done

        others = [
            stack.enter_context(_copy(lambda: done_of(taken(), lambda done: None))) for _ in range(copies)
        ]

        def results() -> list[Result]:
            found = done_of(chain(taken(), range(shared, len(items))), report)
            for theirs in others:
                found |= theirs() or {}
            every = [found[i] if i in found else work(item) for i, item in enumerate(items)]
            report(len(every))
            return every

        yield results


@contextmanager
def _places(count: int) -> Iterator[Callable[[], Iterator[int]]]:
    """Places that several processes take, a few at a time; nobody waits for one that was stopped."""
    few = max(1, -(-count // _AT_ONCE))
    here, there = os.pipe()

    def taken() -> Iterator[int]:
        while number := os.read(here, _NUMBER.size):
            (first,) = _NUMBER.unpack(number)
            yield from range(first, min(first + few, count))

    try:
        os.write(there, b"".join(map(_NUMBER.pack, range(0, count, few))))
    finally:
        os.close(there)
    try:
        yield taken
    finally:
        os.close(here)


def _alone(
    work: Callable[[Item], Result], items: Sequence[Item], report: Callable[[int], object]
) -> list[Result]:
    results = []
    for item in items:
        results.append(work(item))
        report(len(results))
    return results


def cores(pay: int) -> int:
    """How many cores pay; 1 where a copy of this process could hang, as one of several threads may.

    Examples
    --------
    >>> cores(1)
    1
    """
    if sys.platform != "linux" or threading.active_count() > 1 or current_process().daemon:
        return 1
    return max(1, min(len(os.sched_getaffinity(0)), pay, _MOST))


@contextmanager
def _copy(work: Callable[[], Result]) -> Iterator[Callable[[], Result | None]]:
    """Begin work in a copy of this process; what is yielded waits for its result.

    There is none if it could not be copied, if the work failed there, or if it was stopped from outside.
    """
    context = get_context("fork")
    here, there = context.Pipe(duplex=False)

    def send() -> None:
        with suppress(Exception):  # the work is done again, and fails where somebody hears of it
            there.send(work())

    def result() -> Result | None:
        try:
            received: Result = here.recv()
        except (EOFError, OSError):
            return None
        return received

    process = context.Process(target=send, daemon=True)
    with warnings.catch_warnings(), suppress(OSError):  # too many processes, or too little memory
        # of threads that libraries of numbers started, which do no harm
        warnings.filterwarnings("ignore", ".*use of fork", DeprecationWarning)
        process.start()
    there.close()
    try:
        yield result
    finally:
        here.close()
        if process.pid is not None:
            process.kill()
            process.join()
