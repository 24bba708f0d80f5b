"""Draws held against the memory that is free."""

from __future__ import annotations

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


def test_a_system_that_does_not_tell_refuses_nothing(machine):
    machine(None)
    memory.within_memory(10**9, 2048, 9)


def test_a_limit_of_the_process_counts():
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_AS)
    limit = int(memory._held(0) + GIGABYTE)
    try:
        resource.setrlimit(resource.RLIMIT_AS, (limit, before[1]))
        assert 0 < memory.free_memory() <= 1.01 * GIGABYTE
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


def test_a_limit_of_a_control_group_counts(monkeypatch, tmp_path):
    (tmp_path / "memory.max").write_text(f"{10**9 + int(memory._held(1))}\n")
    monkeypatch.setattr(memory, "_CONTROLLED", (str(tmp_path / "none"), str(tmp_path / "memory.max")))
    assert memory.free_memory() <= 1.01 * GIGABYTE
    (tmp_path / "memory.max").write_text("max\n")
    assert memory._of_group() is None
