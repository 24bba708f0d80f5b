"""What every test stands on: no network, and laws that are tried without a clock."""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Callable, Iterator
from decimal import Decimal
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
