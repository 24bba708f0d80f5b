"""One demo bench for the examples in docstrings, and for all tests; not part of the wheel.

In an example, ``demo`` is the folder of a demo bench and ``reduced`` is what its reduction gives.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import xarray as xr

import spectralbench as sb


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a demo bench; nothing may change it."""
    return sb.write_demo_bench(tmp_path_factory.mktemp("demo") / "bench")


@pytest.fixture(scope="session")
def reduced(demo: Path) -> xr.DataTree:
    """The demo bench, reduced; nothing may change it."""
    return sb.reduce_bench(demo)


@pytest.fixture(autouse=True)
def names_in_examples(request: pytest.FixtureRequest, doctest_namespace: dict[str, object]) -> None:
    """Give an example the names that it uses, and make nothing for one that uses none."""
    if isinstance(request.node, pytest.DoctestItem):
        text = "".join(example.source for example in request.node.dtest.examples)
        for name in ("demo", "reduced"):
            if name in text:
                doctest_namespace[name] = request.getfixturevalue(name)
