"""Work on several cores: whatever happens to a copy of the process, nothing is lost and nobody waits."""

import multiprocessing
import os
import signal
import time
from pathlib import Path

import pytest

from spectralbench.readers import cores
from spectralbench.readers.many import read_many


@pytest.fixture(autouse=True)
def two_cores(monkeypatch):
    """As on a machine with two cores, in a process with one thread."""
    monkeypatch.setattr(cores, "cores", lambda pay: 2)


ITEMS = list(range(200))


def squares(work):
    return cores.shared_out(work, ITEMS, lambda done: None, pays=1)


@pytest.mark.parametrize("count", [1, 2, 39, 40, 41, 999, 1000, 1001, 4000, 50_000])
def test_any_number_of_items(count):
    """50,000 places would not fit into a pipe one by one."""
    assert cores.shared_out(abs, range(count), lambda done: None, pays=1) == list(range(count))


def test_a_copy_does_some_of_the_work():
    def work(item):
        time.sleep(1e-3)
        return os.getpid()

    workers = squares(work)
    assert len(set(workers)) == 2
    assert set(workers[-len(ITEMS) // 40 :]) == {os.getpid()}


@pytest.mark.parametrize("place", [0, 1, 100, 194])
def test_a_copy_that_is_killed_in_the_middle(place):
    this = os.getpid()

    def work(item):
        if item >= place and os.getpid() != this:
            os.kill(os.getpid(), signal.SIGKILL)
        return item * item

    assert squares(work) == [item * item for item in ITEMS]


def test_a_copy_that_is_killed_at_any_moment():
    """Also between two items, and while it takes one or sends its results."""
    this = os.getpid()
    for delay in range(40):
        warned = []

        def work(item, delay=delay, warned=warned):
            if os.getpid() != this and not warned:
                warned.append(item)
                signal.setitimer(signal.ITIMER_REAL, 1e-4 * (delay + 1))  # ends what does not heed it
            return item

        assert squares(work) == ITEMS


def test_work_that_fails_in_a_copy_is_done_here(capfd):
    this = os.getpid()

    def work(item):
        if os.getpid() != this:
            raise ValueError("only there")
        return item

    assert squares(work) == ITEMS
    assert capfd.readouterr().err == ""


def test_work_that_fails_everywhere_fails_here():
    def work(item):
        raise ValueError("everywhere")

    with pytest.raises(ValueError, match="everywhere"):
        squares(work)


def test_without_a_copy(monkeypatch):
    def start(self):
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(multiprocessing.get_context("fork").Process, "start", start)
    assert squares(abs) == ITEMS


def test_nothing_is_left_of_a_copy():
    before = sorted(Path("/proc/self/fd").iterdir())
    for _ in range(5):
        squares(abs)
    assert sorted(Path("/proc/self/fd").iterdir()) == before
    assert not multiprocessing.active_children()


def test_a_helper_of_somebody_else_makes_no_copy(monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr("spectralbench.readers.cores.threading.active_count", lambda: 1)
    monkeypatch.setitem(multiprocessing.current_process()._config, "daemon", True)
    assert cores.cores(8) == 1


def test_without_memory_to_share_numbers_are_sent(tmp_path, monkeypatch):
    def refuse(name):
        raise OSError("no such call")

    paths = []
    for k in range(30):
        paths.append(tmp_path / f"{k}.csv")
        paths[-1].write_text(f"wavelength [nm],counts [1]\n365,{k}\n366,{k * k}\n")
    monkeypatch.setattr("spectralbench.readers.many.cores", lambda pay: 2)
    with_memory = read_many(paths)
    monkeypatch.setattr(os, "memfd_create", refuse)
    assert read_many(paths).identical(with_memory)
    assert with_memory.counts.values.tolist() == [[k, k * k] for k in range(30)]
