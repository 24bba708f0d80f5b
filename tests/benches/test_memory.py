"""Draws held against the memory that is free."""

from __future__ import annotations

from types import SimpleNamespace

import psutil
import pytest

from spectralbench.benches import memory
from spectralbench.errors import RangeError

GIGABYTE = 1e9


@pytest.fixture
def machine(monkeypatch):
    """A machine with so much free memory [byte]."""
    return lambda free: monkeypatch.setattr(memory, "free_memory", lambda: free)


def test_what_fits_is_let_through_and_what_does_not_is_refused_with_a_number_that_fits(machine):
    machine(8 * GIGABYTE)
    memory.within_memory(0, 2048, 9)
    memory.within_memory(20_000, 2048, 9)
    words = r"^100000 draws of 2048 pixels in 9 frames take about 26\.1 GB of memory, and 8\.0 GB are free: "
    with pytest.raises(RangeError, match=words + "ask for at most 26000 draws, or free some$"):
        memory.within_memory(100_000, 2048, 9)
    memory.within_memory(26_000, 2048, 9)
    with pytest.raises(RangeError, match="ask for at most 26000 draws"):
        memory.within_memory(27_000, 2048, 9)


def test_a_machine_without_any_takes_no_draws(machine):
    machine(0.0)
    with pytest.raises(RangeError, match="at most 0 draws"):
        memory.within_memory(20, 2048, 9)


def test_it_is_at_most_what_the_machine_has(monkeypatch):
    plenty = SimpleNamespace(available=int(GIGABYTE))
    monkeypatch.setattr(psutil, "virtual_memory", lambda: plenty)
    assert memory.free_memory() <= GIGABYTE


def test_a_limit_of_the_process_counts():
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_AS)
    limit = int(psutil.Process().memory_info().vms + GIGABYTE)
    try:
        resource.setrlimit(resource.RLIMIT_AS, (limit, before[1]))
        assert 0 < memory.free_memory() <= 1.01 * GIGABYTE
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


@pytest.mark.parametrize("group", memory._GROUPS.values(), ids=lambda group: group.limit)
def test_a_limit_of_a_control_group_counts(monkeypatch, tmp_path, group):
    """By hand: of 4 GB, 3.5 are in use, of which the system holds half a GB for files that it can drop."""
    (tmp_path / group.limit).write_text("4000000000\n")
    (tmp_path / group.used).write_text("3500000000\n")
    (tmp_path / "memory.stat").write_text(f"anon 2900000000\n{group.given_back} 500000000\n")
    monkeypatch.setattr(memory, "_GROUPS", {str(tmp_path / "none"): group, str(tmp_path): group})
    assert memory.free_memory() <= GIGABYTE
    assert memory._of_group() == GIGABYTE
    (tmp_path / group.limit).write_text("max\n")
    assert memory._of_group() is None
