"""What every test stands on: no network, and laws that are tried without a clock."""

from __future__ import annotations

import ipaddress
import os
import re
import shutil
import socket
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import hypothesis
import pytest

from spectralbench.conftest import demo, reduced  # noqa: F401 - fixtures for every test

hypothesis.settings.register_profile("spectralbench", deadline=None, derandomize=bool(os.environ.get("CI")))
hypothesis.settings.load_profile("spectralbench")


def _is_local(family: int, address: Any) -> bool:
    if family not in (socket.AF_INET, socket.AF_INET6):
        return family == getattr(socket, "AF_UNIX", None)
    host = str(address[0]).partition("%")[0]
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@pytest.fixture(autouse=True)
def _offline(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fail a test that connects to anything but this machine, even if it swallows the error."""
    attempts: list[str] = []

    def guarded(connect: Callable[..., Any]) -> Callable[..., Any]:
        def refuse_or_connect(self: socket.socket, address: Any) -> Any:
            if _is_local(self.family, address):
                return connect(self, address)
            attempts.append(repr(address))
            raise PermissionError(f"tests run without a network; refused to connect to {address!r}")

        return refuse_or_connect

    for name in ("connect", "connect_ex"):
        monkeypatch.setattr(socket.socket, name, guarded(getattr(socket.socket, name)))
    yield
    if attempts:
        pytest.fail(f"the test tried to connect to {', '.join(attempts)}", pytrace=False)


def _thinned(whole: Path, to: Path) -> Path:
    folder = shutil.copytree(whole, to)
    for path in (folder / "raw").glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        first = next(i for i, line in enumerate(lines) if line[0].isdigit())
        if "counts" in lines[first - 1]:
            path.write_text("".join(lines[:first] + lines[first::16]), encoding="utf-8")
    text = (folder / "bench.toml").read_text(encoding="utf-8").replace("pixels = 2048", "pixels = 128")
    (folder / "bench.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def small(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:  # noqa: F811 - the fixture
    """The demo bench with every sixteenth pixel."""
    return _thinned(demo, tmp_path_factory.mktemp("benches") / "small")


@pytest.fixture(scope="session")
def without() -> Callable[..., Path]:
    """Copies a bench and leaves out the tables of its manifest that hold one of these words."""

    def copied(folder: Path, to: Path, *words: str) -> Path:
        shutil.copytree(folder, to)
        text = (to / "bench.toml").read_text(encoding="utf-8")
        tables = re.split(r"^(?=\[)", text, flags=re.MULTILINE)
        for each in words:
            kept = [table for table in tables if each not in table]
            assert len(kept) < len(tables), f"no table of {folder} holds {each}"
            tables = kept
        (to / "bench.toml").write_text("".join(tables), encoding="utf-8")
        return to

    return copied


@pytest.fixture(scope="session")
def with_three_sources(without: Callable[..., Path]) -> Callable[[Path, Path], Path]:
    """Copies a bench and keeps three of its five sources, and no radiometer: the same words in less time."""
    left_out = ('name = "arc, filtered"', 'name = "LED 365"', "[[radiometer]]")
    return lambda folder, to: without(folder, to, *left_out)


@pytest.fixture(scope="session")
def three(
    small: Path,
    with_three_sources: Callable[[Path, Path], Path],
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    """Folder of the small bench with three sources; nothing may change it."""
    return with_three_sources(small, tmp_path_factory.mktemp("benches") / "three")


@pytest.fixture(scope="session")
def printed() -> Callable[[str], Any]:
    """Compare with a number as its source prints it: within half a unit of the last digit.

    A relative 1e-12 covers the order of summation where a source prints all that a double holds.
    """

    def as_printed(text: str) -> Any:
        number = Decimal(text)
        half_a_unit = float(Decimal(5).scaleb(int(number.as_tuple().exponent) - 1))
        value = float(number)
        return pytest.approx(value, rel=0, abs=half_a_unit + 1e-12 * abs(value))

    return as_printed
